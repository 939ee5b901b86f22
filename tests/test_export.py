"""Exports are read back by independent readers, whatever the names hold."""

from __future__ import annotations

import csv as csv_module
import io
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from balancer.errors import BadInput
from balancer.export import FORMATS, export, markdown, safe_filename
from balancer.export.markdown import escaped
from balancer.export.table import COLUMNS, csv, harmless
from balancer.export.text import deviation_text, level_text, one_line, target_text
from balancer.recipe import CODES_SENTENCE, Line, ProfileRow, Recipe

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
            Line("plums", "09279", 380.4, "about 6 whole", "simmered"),
            Line("rice vinegar", "02053", 62.4, "1/4 cup", "simmered"),
            Line("salt", "02047", 5.2, "about 1 tsp", "simmered"),
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
    }
    return Recipe(**(fields | changes))


def hostile(text: str) -> Recipe:
    return recipe(
        name=text,
        lines=(Line(text, "1", 100.0, text, text), Line("salt", "02047", 5.0, "", "raw")),
        profile=(ProfileRow(text, 1.0, 2.0, text, -1.0, (text,), (text,)),),
        cautions=(text,),
        method=(text, "Stir."),
        resolved=(text,),
        date=text,
    )


# --- Markdown -----------------------------------------------------------------------------------
class Reader(HTMLParser):
    """Takes a rendered page apart into headings, table rows and list items."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.blocks: list[tuple[str, str]] = []
        self.open: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag in ("h1", "h2", "td", "th", "li", "p"):
            self.open = tag
            self.blocks.append((tag, ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == self.open:
            self.open = None

    def handle_data(self, data: str) -> None:
        if self.open:
            tag, text = self.blocks[-1]
            self.blocks[-1] = (tag, text + data)

    def texts(self, tag: str) -> list[str]:
        return [text.strip() for kind, text in self.blocks if kind == tag]


HARMLESS_TAGS = {"h1", "h2", "p", "table", "thead", "tbody", "tr", "th", "td", "ol", "ul", "li"}


def rendered(text: str) -> Reader:
    reader = Reader()
    reader.feed(MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(text))
    return reader


def test_markdown_is_a_page_with_every_part() -> None:
    page = rendered(markdown(recipe()))
    assert page.texts("h1") == ["Plum and ginger dip"]
    assert page.texts("h2") == [
        "Balance of the finished sauce",
        "Method",
        "Cautions",
        "What each name was taken for",
    ]
    cells = page.texts("td")
    assert cells[:12] == [
        *("380 g", "plums", "about 6 whole", "simmered"),
        *("62.5 g", "rice vinegar", "1/4 cup", "simmered"),
        *("5.2 g", "salt", "about 1 tsp", "simmered"),
    ]
    assert cells[12:14] == ["448 g", "in all"]
    assert cells[16:20] == [
        "sweet",
        "9.87 g sucrose eq. per 100 g",
        "10.0 g sucrose eq. per 100 g",
        "0.1 JND under",
    ]
    assert cells[20:24] == ["heat", "64.0 SHU", "20.0 to 60.0 SHU", "0.3 JND over"]
    assert page.texts("li") == [
        "sweet: assumed or from memory for plums",
        "heat: not known for rice vinegar, counted as none",
        "Weigh everything in.",
        "Simmer to 400 g.",
        "Contains nothing to keep it.",
        "plums: Plums, raw (09279)",
    ]
    assert page.texts("p")[0] == (
        "Makes 400 g (revision 2, saved 2031-05-02). In cooking, 48.0 g of water leaves."
    )
    assert CODES_SENTENCE in page.texts("p")


@pytest.mark.parametrize("text", HOSTILE)
def test_markdown_shows_hostile_text_as_it_is(text: str) -> None:
    page = rendered(markdown(hostile(text)))
    plain = one_line(text)
    assert page.texts("h1") == [plain]
    assert page.texts("td")[1:4] == [plain, plain, plain]
    assert plain in page.texts("li")
    assert set(page.tags) <= HARMLESS_TAGS
    assert page.tags.count("table") == 2
    assert page.tags.count("li") == 5


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
        *("recipe", "Plum and ginger dip", "400", "g", "", "revision 2, saved 2031-05-02")
    ]
    assert rows[2] == ["ingredient", "plums", "380", "g", "about 6 whole", "simmered"]
    assert rows[5] == ["total", "weighed in", "448", "g", "", ""]
    assert rows[6] == ["total", "water that leaves in cooking", "48.0", "g", "", ""]
    assert rows[8] == [
        *("balance", "heat", "64.0", "SHU", ""),
        "target 20.0 to 60.0 SHU, 0.3 JND over",
    ]
    assert ["caution", CODES_SENTENCE, "", "", "", ""] in rows


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
def test_every_format_writes_bytes_that_name_the_recipe() -> None:
    assert set(FORMATS) >= {"markdown", "csv"}
    for name, form in FORMATS.items():
        page = export(recipe(), name)
        assert page.content
        assert page.mime == form.mime
        assert page.file_name == f"Plum and ginger dip{form.suffix}"
    assert export(recipe(), "csv").content.decode() == csv(recipe())
    for text in HOSTILE:
        assert export(hostile(text), "markdown").content
    with pytest.raises(BadInput, match=r"'pdf'.*markdown, csv"):
        export(recipe(), "pdf")


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
