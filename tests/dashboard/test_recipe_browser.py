"""The recipe page in a real browser: measures, another size, files out and back, print."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any

import pypdf
import pytest
from browsing import PICTURE_FOLDER, picture, pressed, settled, small_targets, too_wide

from balancer.export import FORMATS, read_jsonld, read_record

MOST_INTERACTIONS = 6
#: Presses that lead to the page: the sauce, and the recipe.
PRESSED = 2


def _recipe_page(browser: Any, address: str, width: int) -> Any:
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(address)
    pressed(page, "plum and ginger dip")
    page.get_by_role("heading", name="The bowl").wait_for()
    pressed(page, "The recipe")
    page.get_by_role("heading", name="The recipe: plum and ginger dip", level=1).wait_for()
    page.get_by_text("Measured like this").wait_for()
    settled(page)
    return page


def _file(page: Any, form: str) -> bytes:
    told = FORMATS[form]
    with page.expect_download() as waiting:
        page.get_by_role("button", name=f"{told.told} ({told.suffix.strip()})", exact=True).click()
    return Path(waiting.value.path()).read_bytes()


def _rows(page: Any) -> list[list[str]]:
    """Weight, ingredient, measure and stage of each line, as they are shown."""
    lines = page.locator(".b-recipe tbody tr").all()
    return [[str(c) for c in line.locator("td, th").all_inner_texts()] for line in lines]


@pytest.mark.parametrize("width", [390, 820, 1440])
def test_from_first_open_to_every_file(browser: Any, address: str, width: int) -> None:
    page = _recipe_page(browser, address, width)
    page.evaluate("window.presses = 0; addEventListener('click', () => window.presses++, true)")
    shown = _rows(page)
    assert len(shown) == 11
    markdown = _file(page, "markdown").decode()
    assert PRESSED + page.evaluate("window.presses") <= MOST_INTERACTIONS
    for row in shown[:-1]:
        assert f"| {row[0]} |" in markdown
        assert row[2] in markdown
    assert read_jsonld(_file(page, "html")).name == "plum and ginger dip"
    assert len(pypdf.PdfReader(io.BytesIO(_file(page, "pdf"))).pages) == 1
    assert len(pypdf.PdfReader(io.BytesIO(_file(page, "label"))).pages) == 1
    assert _file(page, "csv").decode().startswith("section,item,amount")
    assert _file(page, "profile").decode().startswith("<svg")
    assert json.loads(_file(page, "jsonld"))["@type"] == "Recipe"
    assert not small_targets(page)
    assert not too_wide(page)
    picture(page, "recipe_first")


def test_measures_size_and_shopping(browser: Any, address: str) -> None:
    page = _recipe_page(browser, address, 390)
    metric = _rows(page)
    page.get_by_text("spoons and cups, US", exact=True).click()
    settled(page)
    page.get_by_text("cup", exact=False).first.wait_for()
    assert _rows(page) != metric
    page.get_by_text("servings", exact=True).click()
    settled(page)
    for label, value in (("servings", "40"), ("one serving (g)", "30")):
        field = page.get_by_role("spinbutton", name=label, exact=True).first
        field.fill(value)
        field.press("Enter")
        settled(page)
    page.get_by_text("2.4 times, 1200 g in all.").wait_for()
    made = page.get_by_text(re.compile(r"^Makes 1[12]\d\d g")).inner_text()
    assert "servings of 30 g" in made
    page.get_by_text("Show the shopping list").click()
    settled(page)
    page.get_by_text(re.compile("as purchased, for .* in the pot")).first.wait_for()
    prices = page.get_by_label("Prices: a name, a price and the pack a line")
    prices.fill("plums 3.20 for 1000 g")
    prices.press("Tab")
    settled(page)
    page.get_by_text(re.compile("plum and ginger dip: .* a batch of 1200 g")).wait_for()
    with page.expect_download() as waiting:
        pressed(page, "Shopping list (.txt)")
    assert "plums" in Path(waiting.value.path()).read_text(encoding="utf-8")
    assert not too_wide(page)
    picture(page, "recipe_full")
    field = page.get_by_role("spinbutton", name="servings", exact=True)
    field.fill("0")
    field.press("Enter")
    page.get_by_text("The number of servings is 0. Give more than zero.").wait_for()
    settled(page)
    assert len(_rows(page)) == 11


def test_a_recipe_comes_back(browser: Any, address: str, tmp_path: Path) -> None:
    page = _recipe_page(browser, address, 820)
    written = _file(page, "json")
    assert read_record(written).name == "plum and ginger dip"
    kept = tmp_path / "dip.json"
    kept.write_bytes(written)
    chooser = page.locator("[data-testid=stFileUploader] input[type=file]")
    chooser.set_input_files(str(kept))
    settled(page)
    page.get_by_text("A full record, revision 1.").wait_for()
    pressed(page, "Keep it in the kitchen book")
    page.get_by_text("Kept as 'plum and ginger dip', revision 1.").wait_for()
    foreign = tmp_path / "page.html"
    foreign.write_text(
        '<html><script type="application/ld+json">'
        + json.dumps(
            {
                "@type": "Recipe",
                "name": "harbour sauce",
                "recipeIngredient": ["400 g plums", "3 tbsp rice vinegar", "5 dragon scales"],
            }
        )
        + "</script><script>document.title='run'</script></html>",
        encoding="utf-8",
    )
    chooser.set_input_files(str(foreign))
    settled(page)
    page.get_by_text("harbour sauce", exact=True).wait_for()
    page.get_by_text(re.compile("dragon scales.*is left out")).wait_for()
    assert page.title() != "run"
    picture(page, "recipe_brought")
    assert not too_wide(page)
    pressed(page, "Take it in hand")
    page.get_by_role("heading", name="The bowl").wait_for()
    settled(page)
    grams = page.locator('[class*="st-key-row_"] .b-grams').all_inner_texts()
    assert "400 g" in [str(g) for g in grams]


def _printed(page: Any, name: str) -> str:
    content = page.pdf(format="A4", print_background=True)
    if PICTURE_FOLDER:
        (Path(PICTURE_FOLDER) / f"print_{name}.pdf").write_bytes(content)
    pages = pypdf.PdfReader(io.BytesIO(content)).pages
    assert len(pages) == 1
    return " ".join(" ".join(p.extract_text() for p in pages).split())


def test_only_the_recipe_goes_on_paper(browser: Any, address: str) -> None:
    page = _recipe_page(browser, address, 1440)
    text = _printed(page, "recipe")
    for row in _rows(page)[:-1]:
        assert row[0] in text
        assert row[1].split(" (")[0] in text
    for part in ("Method", "How to tell that it is right", "Mind", "Simmer, stirring"):
        assert part in text
    for button in ("Back to the sauce", "Hand it over", "What to buy", "Bring a recipe back",
                   "Recipe to read", "Scale in steps of"):  # fmt: skip
        assert button not in text
    pressed(page, "Back to the sauce")
    page.get_by_role("heading", name="The bowl").wait_for()
    settled(page)
    names = [str(n) for n in page.locator('[class*="st-key-row_"] button').all_inner_texts()]
    text = _printed(page, "sauce")
    assert "plum and ginger dip" in text
    for grams in page.locator('[class*="st-key-row_"] .b-grams').all_inner_texts():
        assert str(grams) in text
    for name in names:
        if name.strip() and "batch" not in name:
            assert name.split(" (")[0].split(",")[0].strip() in text
    for button in ("Undo", "Save the sauce", "less sour", "Add an ingredient"):
        assert button not in text
