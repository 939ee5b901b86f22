"""The journey with the keyboard alone, the names a screen reader says, and every page at 820 px."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import (
    browsing,
    doors_at_first,
    pressed,
    served,
    settled,
    small_targets,
    too_wide,
)

from balancer.dashboard.page import PAGES

MOST_TABS = 150
MOST_INTERACTIONS = 6
NAME_OF_FOCUS = """() => {
  const e = document.activeElement;
  const named = e.getAttribute('aria-label') || e.innerText || '';
  return named.trim().split('\\n')[0];
}"""
#: Whether what has the focus looks different with it: an outline, a shadow or another border.
RING = """() => {
  const e = document.activeElement;
  const look = el => { const s = getComputedStyle(el);
    return [s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) > 0 ? s.outline : '',
            s.boxShadow, s.borderColor].join('|'); };
  const chain = [e, e.parentElement, e.parentElement?.parentElement].filter(Boolean);
  const on = chain.map(look).join();
  e.blur();
  const off = chain.map(look).join();
  e.focus({focusVisible: true, preventScroll: true});
  return on !== off;
}"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(tmp_path_factory.mktemp("kitchen")) as url:
        yield url


def tab_to(page: Any, name: str) -> None:
    """Press Tab until something of that name has the focus, and see that the focus shows."""
    passed = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        here = page.evaluate(NAME_OF_FOCUS)
        if here == name:
            page.wait_for_timeout(250)  # a ring that fades in
            assert page.evaluate(RING), f"{name!r} has the focus and nothing shows it"
            return
        passed.append(here)
    raise AssertionError(f"Tab never comes to {name!r}; it passed {passed}")


def chosen(page: Any, name: str) -> None:
    tab_to(page, name)
    page.keyboard.press("Enter")
    settled(page)


def test_from_first_open_to_a_recipe_with_the_keyboard_alone(address: str, tmp_path: Path) -> None:
    """WCAG 2.2: 2.1.1 keyboard, 2.4.3 focus order, 2.4.7 focus visible, 2.1.2 no trap."""
    with browsing(tmp_path / "profile", viewport={"width": 1440, "height": 900}) as browser:
        page = browser.new_page()
        page.goto(address)
        page.get_by_role("heading", level=1).wait_for()
        settled(page)
        interactions = 0
        chosen(page, "plum and ginger dip")
        page.get_by_role("heading", name="The bowl").wait_for()
        chosen(page, "less sour")
        page.get_by_text("What moved:").wait_for()
        assert page.evaluate(NAME_OF_FOCUS) == "less sour", "the focus was lost by the rerun"
        chosen(page, "Save the sauce")
        page.get_by_text("revision 1.").wait_for()
        interactions += 3
        with page.expect_download() as waiting:
            chosen(page, "Recipe to read (.md)")
        interactions += 1
        text = Path(waiting.value.path()).read_text(encoding="utf-8")
        assert text.startswith("# plum and ginger dip\n")
        assert interactions <= MOST_INTERACTIONS
        page.keyboard.press("Home")
        page.evaluate("document.activeElement.blur()")
        chosen(page, "too sour")
        page.get_by_role("button", name="✓ a touch too sour").wait_for()
        chosen(page, "Keep this round")
        page.get_by_role("heading", name="Round 1: what was learned").wait_for()


def test_buttons_have_names_of_their_own(address: str, tmp_path: Path) -> None:
    with browsing(tmp_path / "profile", viewport={"width": 390, "height": 844}) as browser:
        page = browser.new_page()
        page.goto(address)
        page.get_by_role("heading", level=1).wait_for()
        settled(page)
        pressed(page, "roasted red pepper and walnut sauce")
        buttons = page.get_by_role("button").all()
        names = [b.get_attribute("aria-label") or b.inner_text().strip() for b in buttons]
        assert "less sour" in names
        assert "more sour" in names
        twice = [name for name, n in Counter(names).items() if n > 1]
        assert not twice, f"two buttons have the same name: {twice}"
        assert all(names), "a button has no name"
        for rail in page.locator(".b-rail").all():
            said = str(rail.get_attribute("aria-label"))
            assert " reached" in said
            assert "nine lots in ten from" in said
        fields = page.locator("input:visible, textarea:visible").all()
        assert fields
        for field in fields:
            assert field.evaluate(
                "e => e.ariaLabel || e.labels?.length || e.getAttribute('aria-labelledby')"
            )


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_every_page_fits(address: str, tmp_path: Path, width: int) -> None:
    """No scrolling to the side and nothing too small to press, with and without a sauce."""
    with browsing(tmp_path / "profile", viewport={"width": width, "height": 1000}) as browser:
        page = browser.new_page()
        page.goto(address)
        page.get_by_role("heading", level=1).wait_for()
        settled(page)
        faults = []

        def look(where: str) -> None:
            faults.extend(f"{where}: {line}" for line in small_targets(page))
            faults.extend(f"{where}: {line}" for line in [too_wide(page)] if line)

        look("first use")
        for back in ("Begin a sauce", "Back to the sauce"):
            with_sauce = back == "Back to the sauce"
            for words in [w for w, _ in PAGES.values()] if with_sauce else doors_at_first():
                pressed(page, words)
                look(f"{words}, {back}")
                pressed(page, back)
            if back == "Begin a sauce":
                pressed(page, "plum and ginger dip")
                look("the sauce")
    assert not faults, "\n".join(faults)
