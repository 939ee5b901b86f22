"""A page that the cook has just come to is shown from its head; a nudge leaves the place alone."""

from __future__ import annotations

from typing import Any

from browsing import LEAST_TOUCH_PX, page_at, pressed, settled

SCROLLED = "document.querySelector('[data-testid=stMain]').scrollTop"


def scrolled(page: Any) -> float:
    return float(page.evaluate(SCROLLED))


def test_turning_to_a_page_shows_its_head(browser: Any, address: str) -> None:
    page = page_at(browser, address)
    page.get_by_label("Your draft, one ingredient a line").fill("380 g plums\n75 g brown sugar")
    page.get_by_label("Your draft, one ingredient a line").press("Control+Enter")
    settled(page)
    page.evaluate(f"{SCROLLED} = 300")
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


def test_a_phone_has_a_way_past_the_rails_to_the_grams(browser: Any, address: str) -> None:
    page = page_at(browser, address)
    pressed(page, "plum and ginger dip")
    bowl = page.get_by_role("heading", name="The bowl")
    bowl.wait_for()
    window = page.viewport_size["height"]
    assert bowl.bounding_box()["y"] > window
    link = page.get_by_role("link", name="To the grams")
    assert link.bounding_box()["height"] >= LEAST_TOUCH_PX
    assert link.bounding_box()["y"] < window
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelector('#the-bowl').getBoundingClientRect().y < 200")
    settled(page)
    assert 0 <= bowl.bounding_box()["y"] < window / 4
    page.keyboard.press("Tab")  # the keyboard goes on from there
    here = page.evaluate("document.activeElement.innerText")
    assert here == "plums", "the first of the bowl"
    page.keyboard.press("Enter")
    page.get_by_role("spinbutton", name="plums: at least (g)").wait_for()
    settled(page)
    page.set_viewport_size({"width": 1440, "height": 900})
    assert not link.is_visible()
