"""My ingredients in a real browser: from a pasted label to a sauce that uses it."""

from __future__ import annotations

from typing import Any

import pytest
from browsing import WAIT_MS, picture, pressed, settled, small_targets, too_wide

LABEL = "per 100 g: fat 0.2 g; carbohydrate 38 g, of which sugars 36 g; protein 0.4 g; salt 1.5 g"


def _typed(page: Any, label: str, text: str) -> None:
    field = page.get_by_label(label, exact=True)
    field.fill(text)
    field.press("Tab")
    settled(page)


def _holds(page: Any, label: str, text: str) -> None:
    """Wait until a field shows a text."""
    from playwright.sync_api import expect

    expect(page.get_by_label(label, exact=True)).to_have_value(text, timeout=WAIT_MS)


@pytest.mark.parametrize("width", [390, 1440])
def test_a_label_becomes_an_ingredient_of_a_sauce(browser: Any, address: str, width: int) -> None:
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(f"{address}?page=own")
    page.get_by_role("heading", name="My ingredients", level=1).wait_for()
    settled(page)
    name = f"plum sauce {width}"
    _typed(page, "What you call it", name)
    page.get_by_text("its text", exact=True).click()
    settled(page)
    _typed(page, "The label, as it is printed", LABEL)
    page.get_by_text("other sugars", exact=True).wait_for()
    _typed(page, "Allergens, as the packet lists them", "soya, wheat")
    page.get_by_text("Allergens: soybean; wheat.").wait_for()
    settled(page)
    assert not too_wide(page)
    assert not [t for t in small_targets(page) if t.startswith("BUTTON")]
    picture(page, "own_typed")
    page.reload()
    _holds(page, "What you call it", name)
    _holds(page, "The label, as it is printed", LABEL)
    settled(page)
    pressed(page, "Keep it")
    page.get_by_text(f"Kept '{name}'. Find it in any search.").wait_for()
    picture(page, "own_kept")
    assert not too_wide(page)
    pressed(page, "Begin a sauce")
    pressed(page, "plum and ginger dip")
    _typed(page, "Add an ingredient", name)
    pressed(page, f"+ {name}")
    page.get_by_role("button", name=name, exact=True).wait_for()


def test_mine_for_good_and_the_refusal(browser: Any, address: str) -> None:
    page = browser.new_page()
    page.set_viewport_size({"width": 390, "height": 900})
    page.goto(f"{address}?page=own")
    page.get_by_role("heading", name="My ingredients", level=1).wait_for()
    settled(page)
    _typed(page, "What you call it", "lemons of the quay")
    page.get_by_text("a lot of", exact=True).click()
    settled(page)
    _typed(page, "Which food?", "lemon jiuce")
    _typed(page, "pH, by strip or meter (pH)", "2.4")
    page.get_by_text("No ingredient is called 'lemon jiuce'.").wait_for()
    _typed(page, "Which food?", "lemon juice")
    page.get_by_text("Mine, for good").click()
    settled(page)
    picture(page, "own_for_good")
    pressed(page, "Keep it")
    page.get_by_text("Kept 'lemons of the quay' in place of lemon juice.").wait_for()
    page.get_by_text("in place of lemon juice, pH 2.4").wait_for()
