"""Exports are read back by independent readers, whatever the names hold."""

from __future__ import annotations

import csv as csv_module
import io
import json
import re
import time
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pandas as pd
import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from balancer.errors import BadInput
from balancer.export import (
    FORMATS,
    Foreign,
    Options,
    export,
    html,
    label,
    markdown,
    pdf,
    read_jsonld,
    read_record,
    record,
    safe_filename,
)
from balancer.export.jsonld import linked
from balancer.export.markdown import escaped
from balancer.export.sheet import allergen_text, sources_text
from balancer.export.table import COLUMNS, csv, harmless
from balancer.export.text import deviation_text, level_text, one_line, target_text
from balancer.recipe import (
    CODES_SENTENCE,
    Line,
    NutritionRow,
    Order,
    Panel,
    ProfileRow,
    Recipe,
    Waters,
    from_document,
)
from balancer.safety import Allergen
from balancer.safety_constants import CITATIONS

HOSTILE = [
    "Plum & ginger dip",
    "a|b",
    "`rm -rf`",
    "**bold** _it_ ~~no~~",
    "[click](javascript:alert(1))",
    "![x](https://example.org/x.png)",
    "<script>alert(1)</script>",
    "</td></table>",
    "&lt;b&gt; &#65;",
    "# head",
    "- item",
    "+ item",
    "1. item",
    "1) item",
    "---",
    "===",
    "> quote",
    "=1+1",
    "@SUM(1)",
    "-2+3",
    "\t=1",
    " =1",
    "a;=1+1",
    "two\nlines\r\nthree",
    "back\\slash \\| pipe",
    "https://example.org www.example.org",
    "$x^2$",
    "'quoted' \"twice\"",
    "nul\x00 turned\u202eround",
    "lone \ud800 half",
    "辣椒酱",
]


def recipe(**changes: Any) -> Recipe:
    fields: dict[str, Any] = {
        "name": "Plum and ginger dip",
        "lines": (
            Line("plums", "09279", 380.4, "about 6 whole", "start"),
            Line("rice vinegar", "02053", 62.4, "1/4 cup", "start", ("sulphites",)),
            Line("salt", "02047", 5.2, "about 1 tsp", "late"),
        ),
        "yield_g": 400.0,
        "profile": (
            ProfileRow("sweet", 9.87, 10.0, "g sucrose eq. per 100 g", -0.06, (), ("plums",)),
            ProfileRow("heat", 64.0, (20.0, 60.0), "SHU", 0.3, ("rice vinegar",), ()),
            ProfileRow("fat", 0.2, None, "g per 100 g", None),
        ),
        "cautions": ("Contains nothing to keep it.",),
        "method": ("Weigh everything in.", "Simmer to 400 g."),
        "resolved": ("plums: Plums, raw (09279)",),
        "date": "2031-05-02",
        "revision": 2,
        "caution_sources": ("common practice, no source [CHOSEN]",),
        "checks": ("Scale: the finished sauce weighs 400 g.",),
        "waters": Waters((3.6, 3.1, 4.0), 4.2, 26.14, 1.139, 0.963),
        "allergens": (Allergen("sulphites", False, True, ("rice vinegar",)),),
        "yield_ml": 380.0,
        "serving_g": 25.0,
        "nutrition": (
            Panel(
                Order.US,
                (
                    NutritionRow("Calories", "98 kcal", "25 kcal", "at least", "calories"),
                    NutritionRow("Sodium", "500 mg", "125 mg", "", "sodiumContent"),
                ),
                ("It is no label.",),
            ),
        ),
        "notes": ("It is salty.",),
        "prep_min": 15.0,
        "cook_min": 50.0,
        "tasted": "round 3",
    }
    return Recipe(**(fields | changes))


def hostile(text: str) -> Recipe:
    return recipe(
        name=text,
        lines=(Line(text, "1", 100.0, text, text, (text,)), Line("salt", "02047", 5.0, "", "raw")),
        profile=(ProfileRow(text, 1.0, 2.0, text, -1.0, (text,), (text,)),),
        cautions=(text,),
        method=(text, "Stir."),
        resolved=(text,),
        date=text,
        caution_sources=(text,),
        checks=(text,),
        allergens=(Allergen(text, True, True, (text,)),),
        unread=(text,),
        nutrition=(Panel(Order.US, (NutritionRow(text, text, text, text, "calories"),), (text,)),),
        notes=(text,),
        tasted=text,
    )


# --- Markdown -----------------------------------------------------------------------------------
class Reader(HTMLParser):
    """Takes a rendered page apart into headings, table rows and list items."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.blocks: list[tuple[str, str]] = []
        self.open: str | None = None
        self.bold: list[str] = []
        self.in_bold = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag == "strong":
            self.in_bold = True
            self.bold.append("")
        if tag in ("h1", "h2", "td", "th", "li", "p"):
            self.open = tag
            self.blocks.append((tag, ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == self.open:
            self.open = None
        if tag == "strong":
            self.in_bold = False

    def handle_data(self, data: str) -> None:
        if self.in_bold:
            self.bold[-1] += data
        if self.open:
            tag, text = self.blocks[-1]
            self.blocks[-1] = (tag, text + data)

    def texts(self, tag: str) -> list[str]:
        return [text.strip() for kind, text in self.blocks if kind == tag]


HARMLESS_TAGS = {
    "strong",
    "h1",
    "h2",
    "p",
    "table",
    "thead",
    "tbody",
    "tr",
    "th",
    "td",
    "ol",
    "ul",
    "li",
}


def rendered(text: str) -> Reader:
    reader = Reader()
    reader.feed(MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(text))
    return reader


def test_markdown_is_a_page_with_every_part() -> None:
    page = rendered(markdown(recipe()))
    assert page.texts("h1") == ["Plum and ginger dip"]
    assert page.texts("h2") == [
        "Method",
        "Checks",
        "Keeping and cautions",
        "Balance of the finished sauce",
        "Computed readings",
        "Nutrition in the US form",
        "Worth knowing",
        "What each name was taken for",
    ]
    cells = page.texts("td")
    assert cells[:12] == [
        *("380 g", "plums", "about 6 whole", "simmered"),
        *("62.5 g", "rice vinegar (sulphites)", "1/4 cup", "simmered"),
        *("5.2 g", "salt", "about 1 tsp", "last minutes"),
    ]
    assert cells[12:14] == ["448 g", "in all"]
    assert cells[16:21] == ["sweet", "9.87", "10.0", "g sucrose eq. per 100 g", "0.1 JND under"]
    assert cells[21:26] == ["heat", "64.0", "20.0 to 60.0", "SHU", "0.3 JND over"]
    assert cells[31:39] == [
        *("pH", "3.60 (between 3.10 and 4.00)"),
        *("Dissolved solids", "26.1 °Bx"),
        *("Titratable acidity", "1.14 g citric acid per 100 g"),
        *("Water activity", "0.96"),
    ]
    assert cells[39:42] == ["Calories (at least)", "98 kcal", "25 kcal"]
    assert page.texts("li") == [
        "Weigh everything in.",
        "Simmer to 400 g.",
        "Scale: the finished sauce weighs 400 g.",
        "Contains nothing to keep it.",
        "sweet: assumed or from memory for plums",
        "heat: not known for rice vinegar, counted as none",
        "It is salty.",
        "plums: Plums, raw (09279)",
    ]
    assert page.texts("p")[:3] == [
        "Makes 400 g (380 mL), 16 servings of 25 g. In cooking, 48.0 g of water leaves. Takes 15"
        " min before the stove and 50 min at the stove.",
        "Revision 2, saved 2031-05-02. Last tasted: round 3.",
        "Contains: sulphites (rice vinegar).",
    ]
    assert page.bold == ["rice vinegar (sulphites)", "sulphites"]
    assert any(CODES_SENTENCE in text for text in page.texts("p"))
    assert "Sources: common practice, no source." in page.texts("p")


CAUTIONS = (
    "Keep this sauce at 4 °C or below, or freeze it.",
    "Wear gloves for red chili pepper.",
    "Allergens: wheat (soy sauce; US, EU).",
)
SOURCES = (
    "US FDA Food Code, Table B; cooking temperatures (the latter recalled) [FOOD_CODE];"
    " guard band of our own for the error of the model [SAFETY_GUARD]",
    "limit of our own: common practice, no source [CHOSEN]; textbook knowledge, recalled [RECALL]",
    "Regulation (EU) No 1169/2011, Annex II [EU1169]; Food Code",
)
SOURCES_LINE = (
    "Sources: US FDA Food Code, Table B; cooking temperatures; textbook knowledge; Regulation (EU)"
    " No 1169/2011, Annex II; Food Code; a margin for the error of what is computed; common"
    " practice, no source. Partly cited from memory."
)


def printed(told: Recipe) -> str:
    pages = pypdf.PdfReader(io.BytesIO(pdf(told))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_each_caution_stands_alone_and_the_sources_follow_once() -> None:
    """A temperature is told once, by the caution; nothing of a caution is left out."""
    told = recipe(cautions=CAUTIONS, caution_sources=SOURCES)
    page = rendered(markdown(told))
    assert set(CAUTIONS) <= set(page.texts("li"))
    assert SOURCES_LINE in page.texts("p")
    web = html(told)
    for caution in CAUTIONS:
        assert f"<li>{caution}</li>" in web
    assert f'<p class="small source">{SOURCES_LINE}</p>' in web
    sheet = printed(told)
    for text in (*CAUTIONS, SOURCES_LINE):
        assert text in sheet
    visible = re.sub(r"<script.*?</script>", "", web, flags=re.DOTALL)
    for written in (markdown(told), visible, sheet):
        assert written.count("4 °C") == 1
        assert "How long it keeps is not computed here." in written
        assert CODES_SENTENCE in written
        for footnote in ("recalled", "of our own", "FOOD_CODE"):
            assert footnote not in written


def test_without_a_caution_that_tells_it_the_temperature_is_told() -> None:
    for told in (recipe(), recipe(cautions=(), caution_sources=())):
        for written in (markdown(told), html(told), printed(told)):
            assert "Keep it at 4 °C or below, or freeze it" in written
    unsourced = recipe(caution_sources=())
    for written in (markdown(unsourced), html(unsourced), printed(unsourced)):
        assert "Sources" not in written
        assert unsourced.cautions[0] in written


@pytest.mark.parametrize("rule", CITATIONS)
def test_every_citation_is_told_without_our_footnotes(rule: str) -> None:
    line = sources_text(recipe(caution_sources=(f"{CITATIONS[rule]} [{rule}]",)))
    assert line.startswith("Sources: ")
    assert "recalled" not in line
    assert "our own" not in line
    assert f"[{rule}]" not in line
    assert ("from memory" in line) == ("recalled" in CITATIONS[rule])


@pytest.mark.parametrize("text", HOSTILE)
def test_markdown_shows_hostile_text_as_it_is(text: str) -> None:
    page = rendered(markdown(hostile(text)))
    plain = one_line(text)
    assert page.texts("h1") == [plain]
    assert page.texts("td")[1:4] == [one_line(f"{text} ({text})"), plain, plain]
    assert page.bold == [one_line(f"{text} ({text})"), *([plain] if plain else [])]
    assert plain in page.texts("li")
    assert set(page.tags) <= HARMLESS_TAGS
    assert page.tags.count("table") == 4
    assert page.tags.count("li") == 7


@given(st.text(max_size=60))
def test_any_text_survives_markdown(text: str) -> None:
    plain = one_line(text)
    page = rendered(f"| a |\n| --- |\n| x {escaped(text)} |\n")
    assert page.texts("td") == [f"x {plain}".strip()]
    assert set(page.tags) <= HARMLESS_TAGS


# --- CSV ----------------------------------------------------------------------------------------
def test_csv_is_one_rectangular_table() -> None:
    rows = list(csv_module.reader(io.StringIO(csv(recipe()), newline="")))
    assert tuple(rows[0]) == COLUMNS
    assert {len(row) for row in rows} == {len(COLUMNS)}
    assert rows[1] == [
        *("recipe", "Plum and ginger dip", "400", "g", ""),
        "Revision 2, saved 2031-05-02. Last tasted: round 3.",
    ]
    assert rows[2] == ["ingredient", "plums", "380", "g", "about 6 whole", "simmered"]
    assert rows[3][-1] == "simmered; contains sulphites"
    assert rows[5] == ["total", "weighed in", "448", "g", "", ""]
    assert rows[6] == ["total", "water that leaves in cooking", "48.0", "g", "", ""]
    assert rows[7] == ["total", "serving", "25.0", "g", "", "16 servings of 25 g"]
    assert rows[9] == [
        *("balance", "heat", "64.0", "SHU", ""),
        "target 20.0 to 60.0 SHU, 0.3 JND over",
    ]
    assert ["caution", recipe().storage, "", "", "", ""] in rows
    assert ["allergen", "Contains: sulphites (rice vinegar).", "", "", "", ""] in rows
    assert ["reading", "pH", "", "", "", "3.60 (between 3.10 and 4.00)"] in rows
    assert ["nutrition", "Calories (at least)", "", "", "25 kcal", "98 kcal"] in rows
    assert [
        "caution",
        "Contains nothing to keep it.",
        "",
        "",
        "",
        "common practice, no source",
    ] in (rows)


def test_csv_is_read_by_pandas_with_numbers() -> None:
    table = pd.read_csv(io.StringIO(csv(recipe())))
    amounts = table[table["section"] == "ingredient"].set_index("item")["amount"]
    assert amounts.to_dict() == {"plums": 380.0, "rice vinegar": 62.5, "salt": 5.2}
    assert table["amount"].dtype.kind == "f"
    has_amount = table["amount"].notna()
    assert table.loc[has_amount, "unit"].notna().all(), "no amount without its unit"


@pytest.mark.parametrize("text", HOSTILE)
def test_csv_cells_are_harmless(text: str) -> None:
    written = csv(hostile(text))
    rows = list(csv_module.reader(io.StringIO(written, newline=""), strict=True))
    assert {len(row) for row in rows} == {len(COLUMNS)}
    assert rows[2][1].replace("'", "") == one_line(text).replace("'", "")
    for row in rows:
        for cell in row:
            assert not re.match(r"\s*[=+\-@\t\r]", cell)
            assert "\n" not in cell
    for line in written.splitlines():
        for cell in line.split(";"):
            assert not re.match(r"\s*[=+\-@]", cell), "read with semicolons as separators"


@given(st.text(max_size=60))
def test_any_text_survives_csv(text: str) -> None:
    rows = list(csv_module.reader(io.StringIO(csv(recipe(name=text)), newline=""), strict=True))
    assert len(rows) == len(csv(recipe()).splitlines())
    cell = rows[1][1]
    assert not re.match(r"\s*[=+\-@\t\r]", cell)
    if not re.search(r"(^|;)\s*[=+\-@\uff1d\uff0b\uff0d\uff20]", one_line(text)):
        assert cell == one_line(text)


def test_harmless_marks_formulas_only() -> None:
    assert harmless("=A1") == "'=A1"
    assert harmless("\uff1dA1") == "'\uff1dA1"
    assert harmless("half-and-half + milk") == "half-and-half + milk"


# --- names of files -----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Plum & ginger dip", "Plum & ginger dip.md"),
        ("../../etc/passwd", "etc-passwd.md"),
        ("C:\\sauces\\dip", "C--sauces-dip.md"),
        ("CON", "recipe CON.md"),
        ("com1.tar", "recipe com1.tar.md"),
        ("lpt\u00b9", "recipe lpt\u00b9.md"),
        ("console", "console.md"),
        ('<>"?*', "recipe.md"),
        ("...", "recipe.md"),
        ("", "recipe.md"),
        (".hidden", "hidden.md"),
        ("-rf", "rf.md"),
        ("dip. .", "dip.md"),
        ("two\nlines", "two lines.md"),
        ("cafe\u0301", "caf\u00e9.md"),
    ],
)
def test_safe_filename(name: str, expected: str) -> None:
    assert safe_filename(name, ".md") == expected


@given(st.text(max_size=200) | st.sampled_from(HOSTILE))
def test_any_name_gives_a_file_name(name: str) -> None:
    file_name = safe_filename(name, ".csv")
    assert len(file_name.encode()) <= 120
    assert not re.search(r'[<>:"/\\|?*\x00-\x1f\x7f]', file_name)
    assert file_name.endswith(".csv")
    stem = file_name.removesuffix(".csv")
    assert stem == stem.strip(" .")
    assert stem
    assert not stem.startswith("-")
    assert not re.fullmatch(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\..*)?", stem)


@pytest.mark.parametrize("name", [*HOSTILE, "x" * 10_000, "\u8fa3" * 500])
def test_a_file_of_that_name_can_be_made(tmp_path: Path, name: str) -> None:
    path = tmp_path / safe_filename(name, ".md")
    path.write_text("sauce", encoding="utf-8")
    assert path.parent == tmp_path
    assert path.read_text(encoding="utf-8") == "sauce"


# --- formats ------------------------------------------------------------------------------------
WITHOUT_RECORD = sorted(set(FORMATS) - {"json"})


def test_every_format_writes_bytes_that_name_the_recipe() -> None:
    assert set(FORMATS) == {
        *("markdown", "csv", "json", "jsonld", "html", "pdf", "label", "profile")
    }
    for name in WITHOUT_RECORD:
        form = FORMATS[name]
        page = export(recipe(), name)
        assert page.mime == form.mime
        assert page.file_name == f"Plum and ginger dip{form.suffix}"
        assert page.content.startswith(b"%PDF") == form.binary
    assert export(recipe(), "csv").content.decode() == csv(recipe())
    with pytest.raises(BadInput, match=r"'docx'.*markdown, csv"):
        export(recipe(), "docx")
    with pytest.raises(BadInput, match="no saved request"):
        export(recipe(), "json")


@pytest.mark.parametrize("form", WITHOUT_RECORD)
@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_crashes_no_format(text: str, form: str) -> None:
    assert export(hostile(text), form).content == export(hostile(text), form).content


@given(st.text(max_size=60))
@settings(max_examples=10, deadline=None)
def test_any_text_can_be_printed(text: str) -> None:
    assert pdf(hostile(text)).startswith(b"%PDF")
    assert label(hostile(text)).startswith(b"%PDF")


def test_no_allergens_are_claimed_that_nobody_looked_up() -> None:
    lines = recipe().lines
    names = tuple(line.name for line in lines)
    assert allergen_text(recipe(allergens=(), unread=names)) == (
        "Allergens were not looked up: read every label."
    )
    assert allergen_text(recipe(unread=("salt",))) == (
        "Contains: sulphites (rice vinegar). Judged by name only, read the label: salt."
    )
    assert allergen_text(recipe(allergens=())) == (
        "No allergen was recognised; read the label of whatever was bought."
    )


def test_dates_and_paper_are_checked() -> None:
    with pytest.raises(BadInput, match=r"2031-05-01 lies before .* 2031-05-02"):
        Options("2031-05-02", "2031-05-01")
    with pytest.raises(BadInput, match=r"'use by' date .* 30 letters"):
        Options(use_by="x" * 30)
    with pytest.raises(BadInput, match=r"'A3'.*A4, letter"):
        Options(paper="A3")


def test_what_the_cook_decides_stands_on_the_recipe() -> None:
    both = (*recipe().nutrition, Panel(Order.EU, (NutritionRow("Salt", "1.2 g"),), ("EU only.",)))
    plain = recipe(tasted="2031-05-01, round 3", nutrition=both)
    chosen = Options(nutrition="eu", taster="  Cook on the late shift ", image="dip.jpg")
    for form in ("markdown", "html", "csv"):
        text = export(plain, form, chosen).content.decode()
        assert "Last tasted: 2031-05-01, round 3, by Cook on the late shift." in text
        assert "EU only." in text
        assert "It is no label." not in text
        assert "It is salty." in text
    assert linked(plain).keys() & {"image"} == set()
    found = json.loads(export(plain, "jsonld", chosen).content)
    assert found["image"] == "dip.jpg"
    untasted = export(recipe(tasted=""), "markdown", Options(taster="Cook")).content.decode()
    assert "Last tasted: by Cook." in untasted
    assert "Last tasted" not in export(recipe(tasted=""), "markdown").content.decode()


@pytest.mark.parametrize(
    ("form", "titles"),
    [("us", ["US"]), ("eu", ["EU"]), ("both", ["US", "EU"]), ("none", [])],
)
def test_panels_are_chosen(form: str, titles: list[str]) -> None:
    both = (*recipe().nutrition, Panel(Order.EU, (NutritionRow("Salt", "1.2 g"),)))
    options = Options(nutrition=form)
    page = rendered(export(recipe(nutrition=both), "markdown", options).content.decode())
    shown = [h.split()[3] for h in page.texts("h2") if h.startswith("Nutrition")]
    assert shown == titles
    told = pypdf.PdfReader(io.BytesIO(export(recipe(nutrition=both), "pdf", options).content))
    text = " ".join(p.extract_text() for p in told.pages)
    assert [o for o in ("US", "EU") if f"{o} form" in text] == titles
    assert "It is salty." in text
    rows = export(recipe(nutrition=both), "csv", options).content.decode()
    assert ("Salt, EU" in rows) == (form == "both")
    assert ("1.2 g" in rows) == ("EU" in titles)


@pytest.mark.parametrize(
    "image", ["javascript:alert(1)", "data:image/png;base64,AA", "file:///etc/passwd", "a picture"]
)
def test_what_is_no_picture_is_refused(image: str) -> None:
    with pytest.raises(BadInput, match=r"picture .* https://"):
        Options(image=image)
    with pytest.raises(BadInput, match=r"'uk'.*us, eu, both, none"):
        Options(nutrition="uk")
    with pytest.raises(BadInput, match="taster has 121 letters"):
        Options(taster="x" * 121)


def test_allergens_that_no_label_holds_are_refused_and_a_long_list_gives_way() -> None:
    many = tuple(Line(f"ingredient number {i}", "", 1.0, "") for i in range(300))
    assert label(recipe(lines=many)).startswith(b"%PDF")
    with pytest.raises(BadInput, match="allergens of 'Plum and ginger dip' take a label of"):
        label(recipe(lines=many, unread=tuple(line.name for line in many[1:])))


def test_times_are_written_only_where_they_are_known() -> None:
    times = {key: value for key, value in linked(recipe()).items() if key.endswith("Time")}
    assert times == {"prepTime": "PT15M", "cookTime": "PT50M", "totalTime": "PT1H5M"}
    assert "totalTime" not in linked(recipe(prep_min=None))
    plain = linked(recipe(prep_min=None, cook_min=None, date="yesterday", nutrition=()))
    assert not {"prepTime", "cookTime", "totalTime", "datePublished", "nutrition"} & set(plain)


def test_nutrition_is_of_a_serving_where_there_is_one() -> None:
    assert linked(recipe())["nutrition"] == {
        "@type": "NutritionInformation",
        "servingSize": "25 g",
        "calories": "25 kcal",
        "sodiumContent": "125 mg",
    }
    assert linked(recipe(serving_g=None))["nutrition"]["calories"] == "98 kcal"


# --- the full record ----------------------------------------------------------------------------
DOCUMENT: dict[str, Any] = {
    "request": {"ingredients": [{"name": "plums", "goes_in": "late"}], "name": "</script>"},
    "answer": {
        "quantities_g": {"plums": 100.0, "salt": 1.25},
        "final_mass_g": 90.0,
        "profile": {"sweet": {"reached": 9.0, "target": None, "unit": "g", "deviation_jnd": None}},
        "cautions": ["Hot."],
        "caution_sources": ["a handbook [KEY]"],
    },
    "method": ["Stir."],
    "times_min": {"cook": 10},
}


@pytest.mark.parametrize("name", ["plum dip", '"quoted" \\ back', "辣椒酱", "a\nb"])
def test_the_full_record_is_read_back_without_loss(name: str) -> None:
    made = from_document(name, DOCUMENT, {}, date="2031-05-02", revision=4, tasted="round 3")
    back = read_record(export(made, "json").content)
    assert (back.name, back.revision, back.date, back.tasted) == (name, 4, "2031-05-02", "round 3")
    assert back.document == DOCUMENT
    again = from_document(
        back.name, back.document, {}, date=back.date, revision=back.revision, tasted=back.tasted
    )
    assert again == made
    assert record(again) == record(made)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"format": "other"}, "not a full record"),
        ({"version": 2}, "of version 2; this program reads version 1"),
        ({"name": " "}, "has no name"),
        ({"name": 5}, "has no name"),
        ({"revision": 0}, "has 0 for its revision"),
        ({"revision": True}, "has True for its revision"),
        ({"answer": []}, "has no answer"),
    ],
)
def test_damaged_records(change: dict[str, Any], says: str) -> None:
    good = json.loads(record(from_document("dip", DOCUMENT, {})))
    with pytest.raises(BadInput, match=says):
        read_record(json.dumps(good | change))


@pytest.mark.parametrize("read", [read_record, read_jsonld])
def test_what_is_too_large_too_deep_or_no_json_is_refused(read: Callable[[str], Any]) -> None:
    with pytest.raises(BadInput, match=r"holds 50\.0 MB"):
        read("{" + " " * 50_000_000)
    for opening, closing in (('{"a":', "}"), ("[", "]")):
        with pytest.raises(BadInput, match="nested deeper than 100"):
            read(opening * 100_000)
        with pytest.raises(BadInput, match="nested deeper than 100"):
            read(opening * 200 + "1" + closing * 200)
    with pytest.raises(BadInput, match=r"is not JSON: .* at line 1, column 3"):
        read("{ x")
    with pytest.raises(BadInput, match="not finite"):
        read('{"a": NaN}')
    with pytest.raises(BadInput, match="thousands of digits"):
        read('{"a": ' + "9" * 5000 + "}")


def test_bytes_that_are_no_text_are_refused() -> None:
    with pytest.raises(BadInput, match=r"not text in UTF-8 \(byte 1\)"):
        read_record(b"{\xff")


# --- pages of others ----------------------------------------------------------------------------
FOREIGN = {
    "@context": "https://schema.org/",
    "@graph": [
        {"@type": "WebPage", "name": "no recipe"},
        {
            "@type": ["Recipe", "NewsArticle"],
            "name": "Tamarind &amp; date <b>chutney</b>",
            "recipeIngredient": ["120 g dates", " 2 &frac12; tbsp tamarind ", ""],
            "recipeYield": ["8", "8 servings", "8"],
            "prepTime": "PT1H30M",
            "cookTime": "P1DT0.5H",
            "totalTime": "soon",
            "recipeInstructions": [
                {
                    "@type": "HowToSection",
                    "name": "Base",
                    "itemListElement": [{"@type": "HowToStep", "text": "<p>Soak.</p>"}, "Sieve."],
                },
                {"@type": "HowToStep", "name": "Simmer."},
            ],
        },
    ],
}


def page_of(data: str, kind: str = '"application/ld+json"') -> str:
    return f"<html><SCRIPT class=x type={kind}>\n{data}\n</SCRIPT ><p>text"


@pytest.mark.parametrize("in_page", [False, True])
def test_a_page_of_another_program_is_read(in_page: bool) -> None:
    text = json.dumps(FOREIGN)
    assert read_jsonld(page_of(text) if in_page else text) == Foreign(
        "Tamarind & date chutney",
        ("120 g dates", "2 ½ tbsp tamarind"),
        "8, 8 servings",
        ("Soak.", "Sieve.", "Simmer."),
        90.0,
        1470.0,
        None,
    )


def test_loose_forms_that_pages_have() -> None:
    recipe_of = {
        "@type": "http://schema.org/Recipe",
        "name": "dip",
        "ingredients": "1 plum",
        "recipeYield": {"@type": "QuantitativeValue", "value": 4, "unitText": "jars"},
        "recipeInstructions": "Chop.\nStir.<br>Serve.",
    }
    broken = page_of("{not json") + page_of(json.dumps(recipe_of), "'application/ld+json'")
    found = read_jsonld(broken)
    assert (found.ingredients, found.yield_text) == (("1 plum",), "4 jars")
    assert found.steps == ("Chop.", "Stir.", "Serve.")
    assert read_jsonld(page_of(json.dumps(recipe_of).replace("1 plum", "1\nplum"))).ingredients == (
        *("1", "plum"),
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "holds no recipe as linked data"),
        ("<script type='application/ld+json'>{}", "holds no recipe"),
        (page_of('{"@type": "Recipe"}', '"text/javascript"'), "holds no recipe"),
        ('[{"@type": "Person"}, 5, null]', "holds no recipe"),
        ('{"@type": "Recipe", "name": "x"}', "has no ingredients"),
        ('{"@type": "Recipe", "recipeIngredient": ["x"]}', "has no name"),
        (json.dumps({"@type": "Recipe", "name": "x" * 3000}), "3000 letters, over 2000"),
        (
            json.dumps({"@type": "Recipe", "name": "x", "recipeIngredient": ["y"] * 501}),
            "501 ingredient lines, over 500",
        ),
    ],
)
def test_pages_without_a_recipe(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        read_jsonld(text)


def test_a_hostile_page_costs_little_time() -> None:
    for text in ("<script " * 200_000, "<script type=application/ld+json>" * 100_000, "<" * 10**6):
        begun = time.perf_counter()
        with pytest.raises(BadInput):
            read_jsonld(text)
        assert time.perf_counter() - begun < 2.0


def test_deep_data_in_a_page_is_refused() -> None:
    with pytest.raises(BadInput, match="nested deeper"):
        read_jsonld(page_of("[" * 100_000))


def test_levels_targets_and_deviations_in_words() -> None:
    assert [level_text(x) for x in (0.0, 1.234, 9.99, 12.34, 123.4)] == [
        *("0.00", "1.23", "9.99", "12.3", "123")
    ]
    inf = float("inf")
    row = ProfileRow("sour", 1.0, None, "g", None)
    assert target_text(row) == deviation_text(row) == ""
    for target, text in [
        (1.5, "1.50 g"),
        ((1.0, 1.5), "1.00 to 1.50 g"),
        ((-inf, 1.5), "at most 1.50 g"),
        ((1.0, inf), "at least 1.00 g"),
        ((-inf, inf), ""),
    ]:
        assert target_text(ProfileRow("sour", 1.0, target, "g", 0.0)) == text
    for off, text in [(0.04, "on target"), (-0.04, "on target"), (0.26, "0.3 JND over")]:
        assert deviation_text(ProfileRow("sour", 1.0, 1.0, "g", off)) == text
