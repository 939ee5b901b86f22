"""Exports of the house sauces read back by readers of others.

References
----------
.. [1] Requirements that search engines publish for recipes, and the properties of schema.org types
   Recipe, HowToStep and NutritionInformation (recalled: the vocabulary is not shipped by the
   reader).
.. [2] ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: letter is 8.5 in by 11 in. 1 in is 25.4 mm
   and 72 points.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import extruct
import html5lib
import pypdf
import pytest

from balancer.catalogue import Catalogue
from balancer.demo import house_sauces
from balancer.export import Options, export, html, jsonld, label, pdf, profile, read_jsonld
from balancer.kitchen import Kitchen
from balancer.measures import weight_text
from balancer.nutrition import nutrition_of
from balancer.recipe import CODES_SENTENCE, Recipe, from_document

MM_PER_POINT = 25.4 / 72.0
HOSTILE = [
    "</script><script>alert(1)</script>",
    "<!-- <script>",
    "]]> & \"q\" 'a' <b onclick=x>",
    "辣椒酱 соус 🌶",
    "nul\x00 turned\u202eround \ud800",
]
#: Properties a recipe must or should have [1]_; there is no picture, so no image.
ASKED = {"name", "recipeYield", "recipeIngredient", "recipeInstructions", "keywords"}
ASKED |= {"description", "recipeCategory", "datePublished", "prepTime", "cookTime", "totalTime"}
ASKED |= {"nutrition"}


@pytest.fixture(scope="module")
def recipes(catalogue: Catalogue, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Recipe]:
    """The house sauces as another cook gets them, with servings, times and nutrition."""
    kitchen = Kitchen(catalogue, tmp_path_factory.mktemp("book") / "book.sqlite")
    found = {}
    for key, request in house_sauces().items():
        request = request | {"limits": request.get("limits", {}) | {"serving_g": 30}}
        outcome = kitchen.solve(request)
        document = {"request": request, "answer": outcome.answer, "times_min": {"prep": 20}}
        document["times_min"]["cook"] = 45
        keys = [r["key"] for r in outcome.answer["resolved"].values()]
        foods = {k: catalogue.food(k) for k in keys}
        measures = {k: catalogue.measures(k) for k in keys}
        made = from_document(
            request["name"], document, measures, foods=foods, date="2031-05-02", tasted="round 3"
        )
        solution = outcome.solution
        nutrition = nutrition_of(solution.problem, solution.grams)
        found[key] = Recipe(**(vars(made) | {"nutrition": nutrition.panels(30.0)}))
    return found


@pytest.fixture(params=["pineapple-mustard-chutney", "plum-ginger-dip", "red-pepper-walnut-sauce"])
def recipe(request: pytest.FixtureRequest, recipes: dict[str, Recipe]) -> Recipe:
    """Each house sauce in turn."""
    return recipes[request.param]


def renamed(recipe: Recipe, name: str) -> Recipe:
    return Recipe(**(vars(recipe) | {"name": name, "method": (name, *recipe.method)}))


# --- linked data --------------------------------------------------------------------------------
def extracted(page: str) -> dict[str, Any]:
    """The one recipe that an independent reader finds in a page."""
    found = extruct.extract(page, syntaxes=["json-ld"])["json-ld"]
    assert len(found) == 1
    return dict(found[0])


def test_linked_data_of_the_page_is_what_the_recipe_says(recipe: Recipe) -> None:
    found = extracted(html(recipe))
    assert found == json.loads(jsonld(recipe))
    assert set(found) >= ASKED
    assert found["@context"] == "https://schema.org"
    assert found["@type"] == "Recipe"
    assert found["name"] == recipe.name
    assert found["recipeYield"][-1] == f"{weight_text(recipe.yield_g)} g"
    assert (found["prepTime"], found["cookTime"], found["totalTime"]) == (
        "PT20M",
        "PT45M",
        "PT1H5M",
    )
    assert len(found["recipeIngredient"]) == len(recipe.lines)
    for text, line, grams in zip(
        found["recipeIngredient"], recipe.lines, recipe.shown_g, strict=True
    ):
        number, name = re.fullmatch(r"([\d.]+) g (.+?)(?: \(.*\))?", text).groups()  # type: ignore[union-attr]
        assert (float(number), name) == (grams, line.name)
    for place, (step, text) in enumerate(
        zip(found["recipeInstructions"], recipe.method, strict=True), start=1
    ):
        assert step == {"@type": "HowToStep", "position": place, "text": text}
    for time in ("prepTime", "cookTime", "totalTime"):
        assert re.fullmatch(r"PT(\d+H)?(\d+M)?", found[time])
    assert found["nutrition"]["@type"] == "NutritionInformation"
    assert re.fullmatch(r"\d+ kcal", found["nutrition"]["calories"])
    assert found["nutrition"]["servingSize"] == "30 g"


def test_our_own_reader_agrees(recipe: Recipe) -> None:
    for text in (html(recipe), jsonld(recipe), html(recipe).encode()):
        back = read_jsonld(text)
        assert back.name == recipe.name
        assert list(back.ingredients) == extracted(html(recipe))["recipeIngredient"]
        assert back.steps == recipe.method
        assert back.yield_text.endswith(f"{weight_text(recipe.yield_g)} g")
        assert (back.prep_min, back.cook_min, back.total_min) == (20.0, 45.0, 65.0)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_end_nothing(recipes: dict[str, Recipe], name: str) -> None:
    made = renamed(recipes["plum-ginger-dip"], name)
    page = html(made)
    found = extracted(page)
    assert found["recipeInstructions"][0]["text"] == found["name"]
    tree = strictly_read(page)
    assert len(tree.findall(".//script")) == 1
    assert tree.find(".//h1").text == found["name"]  # type: ignore[union-attr]
    assert not [e for e in tree.iter() for a in e.attrib if a.startswith("on")]
    ET.fromstring(profile(made))


# --- HTML and SVG -------------------------------------------------------------------------------
def strictly_read(page: str) -> ET.Element:
    """The page as a tree; any error of the parser that the standard describes fails."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    tree: ET.Element = parser.parse(page)
    return tree


def test_the_page_is_valid_and_asks_for_nothing_outside(recipe: Recipe) -> None:
    page = html(recipe)
    tree = strictly_read(page)
    loading = {"src", "href", "action", "data", "poster", "srcset", "background"}
    assert not [e.tag for e in tree.iter() for a in e.attrib if a.split("}")[-1] in loading]
    assert not re.search(r"url\(|@import", page)
    assert {e.tag for e in tree.iter()} & {"link", "img", "iframe", "object", "embed"} == set()
    assert [e.get("type") for e in tree.iter("script")] == ["application/ld+json"]
    text = " ".join("".join(tree.find("body").itertext()).split())  # type: ignore[union-attr]
    for part in (*recipe.method, *recipe.checks, *recipe.cautions, CODES_SENTENCE):
        assert " ".join(part.split()) in text
    assert "4 °C or below" in text
    bold = ["".join(e.itertext()) for e in tree.iter("b")]
    carriers = [f"{i.name} ({', '.join(i.allergens)})" for i in recipe.lines if i.allergens]
    assert bold == carriers + [allergen.name for allergen in recipe.allergens]
    assert carriers, "each house sauce has an allergen"


def test_the_picture_is_well_formed_and_counts_steps_alike_for_all(recipe: Recipe) -> None:
    tree = ET.fromstring(profile(recipe))
    svg = "{http://www.w3.org/2000/svg}"
    assert tree.tag == f"{svg}svg"
    assert tree.get("width") == "100mm"
    texts = ["".join(e.itertext()) for e in tree.iter(f"{svg}text")]
    for row in recipe.profile:
        assert row.axis in texts
    bars = [e for e in tree.iter(f"{svg}rect") if e.get("fill") == "#7a3b2e"]
    assert len(bars) == len(recipe.profile)
    assert all(0 <= float(bar.get("width", "nan")) <= 42.0 for bar in bars)


# --- PDF ----------------------------------------------------------------------------------------
def read_pdf(content: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(content), strict=True)


def size_mm(page: pypdf.PageObject) -> tuple[float, float]:
    box = page.mediabox
    return float(box.width) * MM_PER_POINT, float(box.height) * MM_PER_POINT


def words(content: bytes) -> str:
    return " ".join(" ".join(p.extract_text() for p in read_pdf(content).pages).split())


@pytest.mark.parametrize(
    ("paper", "size"), [("A4", (210.0, 297.0)), ("letter", (8.5 * 25.4, 11 * 25.4))]
)
def test_the_pdf_is_one_page_with_the_same_words(
    recipe: Recipe, paper: str, size: tuple[float, float]
) -> None:
    content = pdf(recipe, Options(paper=paper))
    pages = read_pdf(content).pages
    assert len(pages) == 1
    assert size_mm(pages[0]) == pytest.approx(size, abs=0.1)
    text = words(content)
    for part in (*recipe.method, *recipe.checks, *recipe.cautions, CODES_SENTENCE):
        assert " ".join(part.split()) in text
    assert "4 °C or below" in text
    for line, grams in zip(recipe.lines, recipe.shown_g, strict=True):
        assert f"{weight_text(grams)} g {line.name}" in text
    for row in recipe.profile:
        assert row.unit in text


@pytest.mark.parametrize("name", HOSTILE)
def test_a_pdf_is_made_of_any_name(recipes: dict[str, Recipe], name: str) -> None:
    made = renamed(recipes["plum-ginger-dip"], name)
    assert len(read_pdf(pdf(made)).pages) == 1
    if "辣" in name:
        assert "LaJiaoJiang sous" in words(pdf(made))
        assert "LaJiaoJiang sous" in words(label(made))


def test_the_same_recipe_is_the_same_file(recipe: Recipe) -> None:
    assert pdf(recipe) == pdf(recipe)
    assert label(recipe) == label(recipe)


def test_a_long_recipe_runs_over_pages_and_loses_nothing(recipes: dict[str, Recipe]) -> None:
    made = recipes["plum-ginger-dip"]
    steps = tuple(f"Step number {i} of many." for i in range(150))
    long = Recipe(**(vars(made) | {"method": steps, "lines": made.lines * 8}))
    content = pdf(long)
    assert len(read_pdf(content).pages) > 2
    text = words(content)
    assert all(step in text for step in steps)
    assert text.count("star anise") >= 8


# --- label --------------------------------------------------------------------------------------
def test_the_label_is_62_mm_wide_and_says_what_it_must(recipe: Recipe) -> None:
    content = label(recipe, Options("2031-05-02", "2031-05-09"))
    pages = read_pdf(content).pages
    assert len(pages) == 1
    width, height = size_mm(pages[0])
    assert width == pytest.approx(62.0, abs=0.05)
    assert 40.0 <= height <= 110.0
    text = words(content)
    for part in (recipe.name, "Made on 2031-05-02", "Use by 2031-05-09", "Keep refrigerated"):
        assert part in text
    for allergen in recipe.allergens:
        assert allergen.name in text
    bold = "".join(spans(pages[0], "Bold")).replace("\n", " ")
    for line in recipe.lines:
        name = f"{line.name} ({', '.join(line.allergens)})" if line.allergens else line.name
        assert name in text
        if line.allergens:
            assert name.replace(" ", "") in bold.replace(" ", "")
    blank = words(label(recipe))
    assert "2031" not in blank
    assert "Use by" in blank


def spans(page: pypdf.PageObject, style: str) -> list[str]:
    """Texts in a style of the font."""
    found: list[str] = []

    def visit(text: str, _cm: Any, _tm: Any, font: Any, _size: Any) -> None:
        if font is not None and style in str(font.get("/BaseFont")):
            found.append(text)

    page.extract_text(visitor_text=visit)
    return found


# --- printed by a browser -----------------------------------------------------------------------
BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")


@pytest.mark.skipif(BROWSER is None and not os.environ.get("CI"), reason="no browser to print with")
@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_a_usual_sauce_prints_on_one_page(
    recipes: dict[str, Recipe], tmp_path: Path, paper: str
) -> None:
    page = export(recipes["plum-ginger-dip"], "html").content.decode()
    source, printed = tmp_path / "dip.html", tmp_path / "dip.pdf"
    source.write_text(page.replace("<style>", f"<style>@page {{ size: {paper} }}"), "utf-8")
    subprocess.run(
        [
            *(str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu"),
            *("--no-pdf-header-footer", f"--user-data-dir={tmp_path / 'browser'}"),
            *(f"--print-to-pdf={printed}", source.as_uri()),
        ],
        check=True,
        capture_output=True,
        timeout=60,
    )
    pages = read_pdf(printed.read_bytes()).pages
    assert size_mm(pages[0])[0] == pytest.approx(210.0 if paper == "A4" else 215.9, abs=1.0)
    assert len(pages) == 1
