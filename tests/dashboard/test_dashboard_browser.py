"""The dashboard in a real browser: from first open to a recipe in the hand.

Skips, with its reason, where there is no Chromium; with the environment variable CI it fails.
"""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from balancer.cli.serve import command
from balancer.dashboard.page import PAGES, SELDOM

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LOOPBACK = ("127.0.0.1", "localhost")
MOST_INTERACTIONS = 6
LEAST_TOUCH_PX = 44
WAIT_MS = 30_000


def _missing(what: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and CI asks for the browser tests")
    pytest.skip(f"{what} is missing; install it to run the browser tests")


@pytest.fixture(scope="module")
def chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        _missing("chromium")
    return str(found)


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A dashboard that serves a kitchen book of its own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    home = tmp_path_factory.mktemp("kitchen")
    server = subprocess.Popen(
        command(port),
        env={**os.environ, "BALANCER_HOME": str(home)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    url = f"http://127.0.0.1:{port}/"
    try:
        until = time.monotonic() + 60
        while True:
            try:
                with urllib.request.urlopen(f"{url}_stcore/health", timeout=5) as answer:
                    assert answer.status == 200
                break
            except (urllib.error.URLError, OSError):
                assert server.poll() is None, "the server ended before it answered"
                assert time.monotonic() < until, "the server did not answer within a minute"
                time.sleep(0.2)
        yield url
    finally:
        server.terminate()
        server.wait(timeout=20)


@pytest.fixture
def browser(chromium: str, tmp_path: Path) -> Iterator[Any]:
    """A browser with a new, empty profile; every request it makes is on its list."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing("playwright")
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            str(tmp_path / "profile"),
            executable_path=chromium,
            args=FLAGS,
            viewport={"width": 390, "height": 844},
            accept_downloads=True,
        )
        context.set_default_timeout(WAIT_MS)
        hosts: set[str] = set()
        context.on("request", lambda request: hosts.add(urlsplit(request.url).hostname or ""))
        yield context
        context.close()
        assert hosts - {""}, "no request was recorded, so nothing was watched"
        away = {host for host in hosts if host and host not in LOOPBACK}
        assert not away, f"requests left the machine, to {away}"


def _page(browser: Any, url: str, width: int = 390) -> Any:
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(url)
    page.get_by_role("heading", level=1).wait_for()
    return page


def _settled(page: Any) -> None:
    page.wait_for_timeout(300)
    page.wait_for_function("!document.querySelector('[data-test-script-state=running]')")
    page.wait_for_timeout(200)


def _press(page: Any, name: str) -> None:
    """Press a button by its words; a seldom page's stands behind "Other work"."""
    if name in ("Another sauce", *(PAGES[seldom][0] for seldom in SELDOM)):
        page.get_by_role("button", name="Other work").click()
    page.get_by_role("button", name=name, exact=True).click()


def _grams(page: Any) -> list[str]:
    """Every quantity of the bowl, as it is shown."""
    return [str(t) for t in page.locator('[class*="st-key-row_"] .b-grams').all_inner_texts()]


def _fits(page: Any) -> None:
    """No scrolling to the side, and nothing to press that a thumb would miss."""
    inside, wide = page.evaluate(
        "[document.querySelector('[data-testid=stMain]').scrollWidth, window.innerWidth]"
    )
    assert inside <= wide, f"the page is {inside} px wide in a window of {wide} px"
    small = page.evaluate(
        f"""[...document.querySelectorAll('button')]
        .filter(b => b.offsetParent && Math.min(b.offsetWidth, b.offsetHeight) < {LEAST_TOUCH_PX})
        .map(b => `${{b.innerText}} ${{b.offsetWidth}}x${{b.offsetHeight}}`)"""
    )
    assert not small, f"buttons under {LEAST_TOUCH_PX} px: {small}"


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_from_first_open_to_an_exported_recipe(browser: Any, address: str, width: int) -> None:
    page = _page(browser, address, width)
    _fits(page)
    pressed = 0
    _press(page, "plum and ginger dip")
    pressed += 1
    page.get_by_role("heading", name="The bowl").wait_for()
    _settled(page)
    before = _grams(page)
    assert len(before) == 11
    assert all(re.fullmatch(r"[\d.]+ g", g) for g in before)
    _press(page, "less sour")
    pressed += 1
    page.get_by_text("What moved:").wait_for()
    _settled(page)
    after = _grams(page)
    assert after != before
    name = f"dip at {width}"
    page.get_by_label("Name", exact=True).fill(name)
    pressed += 1
    _press(page, "Save the sauce")
    pressed += 1
    page.get_by_text(f"Saved as '{name}', revision 1.").wait_for()
    with page.expect_download() as waiting:
        _press(page, "Recipe to read (.md)")
    pressed += 1
    recipe = Path(waiting.value.path()).read_text(encoding="utf-8")
    assert recipe.startswith(f"# {name}\n")
    for shown in after[:10]:
        assert f"| {shown} |" in recipe
    with page.expect_download() as waiting:
        _press(page, "Table of grams (.csv)")
    rows = list(csv.reader(io.StringIO(Path(waiting.value.path()).read_text(encoding="utf-8"))))
    assert any("plums" in cell for row in rows for cell in row)
    assert pressed <= MOST_INTERACTIONS
    _fits(page)
    _press(page, "Kitchen book")
    page.get_by_text(name, exact=True).wait_for()
    _fits(page)


def test_two_tastings_to_an_exported_recipe_on_a_phone(browser: Any, address: str) -> None:
    """From first open, through two rounds that are kept, to the recipe in the hand."""
    page = _page(browser, address)
    _press(page, "plum and ginger dip")
    _settled(page)
    name = page.get_by_label("Name", exact=True)
    name.fill("dip of two rounds")
    name.press("Enter")
    _settled(page)
    _press(page, "too sour")
    _settled(page)
    _press(page, "Save the sauce and keep this round")
    page.get_by_role("heading", name="Round 1: what was learned").wait_for()
    page.get_by_text("You are within 1 JND on sour").wait_for()
    _settled(page)
    _fits(page)
    _press(page, "Go on with the next batch")
    page.get_by_text("saved, revision 2").wait_for()
    _settled(page)
    words = page.get_by_label("In your own words")
    words.fill("a touch more salt, sour is right, the rest is right")
    words.press("Enter")
    page.get_by_role("button", name="✓ sour: right").wait_for()
    _settled(page)
    _press(page, "Keep this round")
    page.get_by_role("heading", name="Round 2: what was learned").wait_for()
    _settled(page)
    _press(page, "Go on with the next batch")
    page.get_by_text("saved, revision 3").wait_for()
    _settled(page)
    page.get_by_text("Two rounds, sauces or profiles side by side").click()
    _settled(page)
    page.get_by_text("Sour against sweet, as a map").click()
    page.get_by_text("● the sauce: sweet").wait_for()
    _settled(page)
    _fits(page)
    shown = _grams(page)
    with page.expect_download() as waiting:
        _press(page, "Recipe to read (.md)")
    recipe = Path(waiting.value.path()).read_text(encoding="utf-8")
    assert recipe.startswith("# dip of two rounds\n")
    assert sum(f"| {grams} |" in recipe for grams in shown[:10]) == 10
    page.reload()
    page.get_by_text("saved, revision 3").wait_for()
    page.get_by_text("revision 2: sour is right, a touch more salt, the rest is right").wait_for()
    _settled(page)
    assert _grams(page) == shown
    for way in ("Pot by readings", "Is it the same?", "Kitchen book"):
        _press(page, way)
        page.get_by_role("heading", name=way, level=1).wait_for()
        _settled(page)
        _fits(page)


def test_a_tasting_and_a_reload_keep_everything(browser: Any, address: str) -> None:
    page = _page(browser, address)
    _press(page, "plum and ginger dip")
    page.get_by_role("button", name="too sour", exact=True).click()
    page.get_by_role("heading", name="Add to this pot").wait_for()
    page.get_by_role("heading", name="Next batch").wait_for()
    _settled(page)
    _fits(page)
    _press(page, "I added this")
    page.get_by_text("Rounds so far").wait_for()
    _settled(page)
    before = _grams(page)
    page.reload()
    page.get_by_text("Rounds so far").wait_for()
    _settled(page)
    assert _grams(page) == before
    assert page.get_by_text("round 2").count() == 1


def test_the_way_back_of_the_browser_brings_the_earlier_draft(browser: Any, address: str) -> None:
    page = _page(browser, address)
    _press(page, "plum and ginger dip")
    _settled(page)
    first = _grams(page)
    _press(page, "more salt")
    page.get_by_text("What moved:").wait_for()
    _settled(page)
    assert _grams(page) != first
    page.go_back()
    page.wait_for_function(
        """shown => JSON.stringify(
            [...document.querySelectorAll('[class*="st-key-row_"] .b-grams')].map(e => e.innerText)
        ) === JSON.stringify(shown)""",
        arg=first,
    )
    _press(page, "Another sauce")
    _press(page, "Leave this one")
    page.get_by_role("heading", name="Which sauce is it?").wait_for()
    _settled(page)
    page.go_back()
    page.get_by_role("heading", name="The bowl").wait_for()
    _settled(page)
    assert _grams(page) == first


def test_two_windows_on_one_sauce_never_cover_each_other(browser: Any, address: str) -> None:
    one = _page(browser, address)
    _press(one, "roasted red pepper and walnut sauce")
    _settled(one)
    _press(one, "Save the sauce")
    one.get_by_text("revision 1.").wait_for()
    _settled(one)  # the address follows the page
    two = _page(browser, one.url)
    _press(two, "more salt")
    _settled(two)
    _press(two, "Save the sauce")
    two.get_by_text("revision 2.").wait_for()
    _press(one, "more sour")
    _settled(one)
    _press(one, "Save the sauce")
    one.get_by_text("was saved meanwhile").wait_for()
    _press(one, "Save as its next revision")
    one.get_by_text("revision 3.").wait_for()


def test_a_slip_is_said_beside_its_field(browser: Any, address: str) -> None:
    page = _page(browser, address)
    _press(page, "plum and ginger dip")
    _settled(page)
    before = _grams(page)
    _press(page, "garlic")
    field = page.get_by_label("garlic: at least (g)")
    field.fill("50")
    field.press("Enter")
    page.get_by_text("garlic: the minimum").wait_for()
    _settled(page)
    assert _grams(page) == before
    page.get_by_label("In your own words").fill("less blue")
    page.get_by_label("In your own words").press("Enter")
    page.get_by_text("names nothing that can be turned").wait_for()
