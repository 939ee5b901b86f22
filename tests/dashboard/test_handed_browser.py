"""The exported page in a real browser: one nutrition table on a phone, dark where it is wanted.

References
----------
.. [1] W3C, Web Content Accessibility Guidelines (WCAG) 2.2: relative luminance and contrast ratio;
   success criteria 1.4.3 (text, 4.5 to 1) and 1.4.11 (what is drawn, 3 to 1).
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from balancer.demo import house_sauces
from balancer.export import Options, export
from balancer.handover import measured
from balancer.kitchen import Kitchen

LEAST_TEXT, LEAST_DRAWN = 4.5, 3.0  # [1]_
PARTS = 3
#: For each table of a nutrition panel the left edges of its cells in a row, and the heads shown.
PANELS = """() => [...document.querySelectorAll('.three')].map(panel => ({
  edges: [...panel.querySelectorAll('tbody tr')].map(
    row => [...row.cells].map(cell => Math.round(cell.getBoundingClientRect().x)).join()),
  heads: [...panel.querySelectorAll('thead')].filter(
    head => head.getBoundingClientRect().height > 1).length,
  named: [...panel.querySelectorAll('th')].every(th => getComputedStyle(th).display !== 'none'),
  tops: [...panel.querySelectorAll('tbody tr')].map(row => row.getBoundingClientRect().y),
}))"""
#: The colours of all that is written, once each.
INKS = """() => [...new Set([...document.querySelectorAll('body *')]
  .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())
               && !['SCRIPT', 'STYLE', 'TITLE', 'title'].includes(e.tagName))
  .map(e => getComputedStyle(e)[e instanceof SVGElement ? 'fill' : 'color']))]"""
GROUND = "getComputedStyle(document.body).backgroundColor"


@pytest.fixture(scope="module")
def written() -> str:
    kitchen = Kitchen()
    outcome = kitchen.solve(house_sauces()["plum-ginger-dip"])
    recipe = kitchen.measured_recipe(
        "plum and ginger dip", outcome, measured(kitchen.catalogue, outcome), serving_g=30.0
    )
    return export(recipe, "html", Options(nutrition="both")).content.decode()


@pytest.fixture
def sheet(browser: Any, address: str, written: str) -> Any:
    page = browser.new_page()
    page.goto(address)
    page.set_content(written)
    return page


def luminance(colour: str) -> float:
    """Relative luminance [1]_ of a colour as a browser writes it."""
    parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio [1]_."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_black_on_white_has_the_contrast_of_the_guidelines() -> None:
    """WCAG 2.2: ratios run from 1 to 21."""
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21.0)
    assert contrast("rgb(9, 9, 9)", "rgb(9, 9, 9)") == pytest.approx(1.0)


@pytest.mark.parametrize("width", [320, 390, 599])
def test_on_a_phone_the_nutrition_is_one_table_that_lines_up(sheet: Any, width: int) -> None:
    sheet.set_viewport_size({"width": width, "height": 900})
    panels = sheet.evaluate(PANELS)
    assert len(panels) == len(("us", "eu"))
    for panel in panels:
        assert len(set(panel["edges"])) == 1, "the rows do not line up"
        assert panel["heads"] == 1
        assert panel["named"], "the heads of the other parts are there for a screen reader"
        assert panel["tops"] == sorted(set(panel["tops"])), "the rows stand one below the other"
    assert sheet.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("media", ["screen", "print"])
def test_on_a_desk_and_on_paper_it_stands_in_three_parts(sheet: Any, media: str) -> None:
    sheet.set_viewport_size({"width": 1440, "height": 900})
    sheet.emulate_media(media=media)
    for panel in sheet.evaluate(PANELS):
        assert len({edges.split(",")[0] for edges in panel["edges"]}) == PARTS
        assert panel["heads"] == PARTS


@pytest.mark.parametrize("width", [390, 1440])
def test_a_dark_screen_gets_a_dark_page_that_can_be_read(sheet: Any, width: int) -> None:
    sheet.set_viewport_size({"width": width, "height": 900})
    for scheme in ("light", "dark"):
        sheet.emulate_media(color_scheme=scheme, media="screen")
        ground = sheet.evaluate(GROUND)
        assert (luminance(ground) < 0.05) is (scheme == "dark")
        inks = sheet.evaluate(INKS)
        assert len(inks) > 2
        for ink in inks:
            assert contrast(ink, ground) >= LEAST_TEXT, f"{ink} on {ground}"
        fills = sheet.evaluate(
            "[...document.querySelectorAll('rect')].map(getComputedStyle)"
            ".map(s => [s.fill, s.stroke])"
        )
        track, level = fills[0][0], fills[1][0]
        assert contrast(level, track) >= LEAST_DRAWN
        strokes = {stroke for _, stroke in fills} - {"none"}
        assert strokes
        assert all(contrast(stroke, ground) >= LEAST_DRAWN for stroke in strokes)


def test_paper_stays_white_in_a_dark_scheme(sheet: Any) -> None:
    sheet.emulate_media(color_scheme="dark", media="print")
    ground = sheet.evaluate(GROUND)
    assert ground == "rgb(255, 255, 255)"
    assert all(contrast(ink, ground) >= LEAST_TEXT for ink in sheet.evaluate(INKS))
