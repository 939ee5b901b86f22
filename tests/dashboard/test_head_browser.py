"""A page that the cook has just come to is shown from its head; a nudge leaves the place alone."""

from __future__ import annotations

from typing import Any

from browsing import page_at, pressed, settled

SCROLLED = "document.querySelector('[data-testid=stMain]').scrollTop"


def scrolled(page: Any) -> float:
    return float(page.evaluate(SCROLLED))


def test_turning_to_a_page_shows_its_head(browser: Any, address: str) -> None:
    page = page_at(browser, address)
    page.get_by_label("Your draft, one ingredient a line").fill("380 g plums\n75 g brown sugar")
    page.get_by_label("Your draft, one ingredient a line").press("Control+Enter")
    settled(page)
    page.get_by_role("button", name="Start the sauce with these").scroll_into_view_if_needed()
    assert scrolled(page) > 100
    pressed(page, "Start the sauce with these")
    page.get_by_role("heading", name="The bowl").wait_for()
    settled(page)
    assert scrolled(page) == 0
    page.evaluate(f"{SCROLLED} = 600")
    pressed(page, "too sweet")
    assert scrolled(page) > 300  # the same page: the cook stays where they are
    whole = "Measures, another size, shopping, nutrition, every form"
    pressed(page, whole)
    page.get_by_role("heading", level=1, name="The recipe").wait_for()
    settled(page)
    assert scrolled(page) == 0
    page.evaluate(f"{SCROLLED} = 500")
    pressed(page, "Back to the sauce")
    page.get_by_role("heading", name="The bowl").wait_for()
    settled(page)
    assert scrolled(page) == 0
