"""What is missing and the pasted draft in a real browser.

Skips, with its reason, where there is no Chromium; with the environment variable CI it fails.
"""

from __future__ import annotations

import os
import re
import subprocess
import time
from typing import Any

import pytest
from browsing import fits, page_at, pressed, settled

DRAFT = "Supper dip\n380 g plums, pitted\n75 g brown sugar\n4 tbsp rice vinegar\n20 g ginger"
#: A search on a busy machine may take this long [ms].
SEARCH_MS = 90_000


def on_the_page(browser: Any, url: str, width: int = 390) -> Any:
    """The dip in hand, on the page that asks what is missing."""
    page = page_at(browser, url, width)
    pressed(page, "plum and ginger dip")
    pressed(page, "What is missing?")
    page.get_by_role("heading", name="What is missing?", level=1).wait_for()
    settled(page)
    return page


def searches() -> list[int]:
    """Processes of this machine that run a search for a page."""
    found = subprocess.run(
        ["ps", "-eww", "-o", "pid=,args="], capture_output=True, text=True, check=True
    ).stdout
    lines = [line.split(None, 1) for line in found.splitlines()]
    return [int(pid) for pid, *args in lines if args and "dashboard.errand" in args[0]]


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_a_gap_is_said_found_tried_and_put_in(browser: Any, address: str, width: int) -> None:
    page = on_the_page(browser, address, width)
    fits(page)
    pressed(page, "more sour")
    pressed(page, "more sour")
    pressed(page, "more body")
    page.get_by_role("button", name="Look for it").click()
    first = page.locator(".st-key-offer_0 h4")
    first.wait_for(timeout=SEARCH_MS)
    settled(page)
    fits(page)
    rejected = first.inner_text()
    page.get_by_role("button", name="Tried, not it").first.click()
    page.get_by_role("button", name=f"↶ {rejected}").wait_for()
    settled(page)
    page.reload()
    page.get_by_role("button", name=f"↶ {rejected}").wait_for()
    settled(page)
    page.wait_for_function(
        "[...document.querySelectorAll('input')].some(i => i.value === 'sour +2, body +1')"
    )
    page.get_by_role("button", name="Look for it").click()
    first.wait_for(timeout=SEARCH_MS)
    settled(page)
    offered = page.locator("h4.b-offer").all_inner_texts()
    assert rejected not in offered
    chosen = first.inner_text()
    page.get_by_role("button", name="Put it in").first.click()
    page.get_by_role("heading", name="The bowl").wait_for()
    page.get_by_role("button", name=re.compile(f"^{re.escape(chosen)}")).first.wait_for()
    settled(page)
    pressed(page, "Undo")
    assert page.get_by_role("button", name=re.compile(f"^{re.escape(chosen)}")).count() == 0
    page.close()


def test_a_slow_search_shows_how_far_it_is_and_can_be_stopped(browser: Any, address: str) -> None:
    page = on_the_page(browser, address)
    words = page.get_by_label("In your own words")
    words.fill("sour +9, body +9, fat +9, umami +9")
    words.press("Enter")
    settled(page)
    page.get_by_text("Look through the whole food table").click()
    settled(page)
    before = set(searches())
    page.get_by_role("button", name="Look for it").click()
    page.get_by_role("button", name="Stop").wait_for()
    page.get_by_text(re.compile(r"Looking through the food table \.\.\.")).wait_for()
    started = set(searches()) - before
    assert started, "no process of its own was started"
    page.get_by_role("button", name="Stop").click()
    page.get_by_text("Stopped. The sauce is as it was.").wait_for()
    settled(page)
    until = time.monotonic() + 20
    while any(os.path.exists(f"/proc/{pid}") for pid in started):
        assert time.monotonic() < until, "the stopped search is still there"
        time.sleep(0.2)
    assert page.get_by_role("button", name="Put it in").count() == 0
    fits(page)


def test_ways_and_stand_ins_side_by_side(browser: Any, address: str) -> None:
    page = on_the_page(browser, address, 1440)
    page.get_by_role("button", name="Find other ways").click()
    page.get_by_role("button", name="Take this one").first.wait_for(timeout=SEARCH_MS)
    settled(page)
    fits(page)
    gone = page.get_by_label("What ran out?")
    gone.click()
    page.wait_for_timeout(500)
    page.keyboard.type("brown")
    page.wait_for_timeout(500)
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Find what stands in").click()
    page.get_by_role("button", name="Use it instead").first.click(timeout=SEARCH_MS)
    page.get_by_role("heading", name="The bowl").wait_for()
    settled(page)
    assert page.get_by_role("button", name=re.compile("^brown sugar")).count() == 0
    page.go_back()
    page.get_by_role("heading", name="What is missing?", level=1).wait_for()


def test_a_clean_draft_starts_with_one_press(browser: Any, address: str) -> None:
    page = page_at(browser, address)
    page.get_by_label("Your draft, one ingredient a line").fill(DRAFT)
    page.get_by_role("button", name="Start the sauce with these").click()
    page.get_by_role("heading", name="The bowl").wait_for()
    page.get_by_role("heading", name="Supper dip", level=1).wait_for()
    settled(page)
    assert page.get_by_role("button", name=re.compile("^rice vinegar")).count() == 1


def test_a_bad_line_is_mended_and_a_reload_keeps_what_was_typed(browser: Any, address: str) -> None:
    page = page_at(browser, address)
    field = page.get_by_label("Your draft, one ingredient a line")
    field.fill(f"{DRAFT}\n3 dragon scales\nsalt to taste")
    field.press("Control+Enter")
    page.get_by_label("Line 6 should read").wait_for()
    settled(page)
    fits(page)
    page.reload()
    page.get_by_label("Line 6 should read").wait_for()
    settled(page)
    assert field.input_value().endswith("3 dragon scales\nsalt to taste")
    pressed(page, "Start the sauce with these")
    page.get_by_text("Not understood yet: line 6.").wait_for()
    page.get_by_label("Line 6 should read").fill("5 g garlic")
    page.get_by_label("Line 6 should read").press("Enter")
    settled(page)
    page.reload()
    settled(page)
    page.get_by_text("5 g garlic").first.wait_for()
    page.get_by_role("button", name="Start the sauce with these").click()
    page.get_by_role("heading", name="The bowl").wait_for()
    settled(page)
    assert page.get_by_role("button", name=re.compile("^garlic")).count() == 1
    assert "paste=" not in page.url
