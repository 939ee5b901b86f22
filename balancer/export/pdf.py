"""A recipe as PDF, with what the page to print has.

The letters that every PDF reader has by itself are those of Western Europe; others are written in
Latin letters by their sound, so that any name can be printed. The page in HTML shows them as they
are.

References
----------
.. [1] ISO 32000-1:2008, section 9.6.2.2: the standard 14 fonts.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, cast

from balancer.export.options import USUAL, Options
from balancer.export.profile import BARS_SENTENCE, bar_of
from balancer.export.sheet import (
    BALANCE_HEAD,
    about_text,
    allergen_parts,
    balance_rows,
    keeping_text,
    line_name,
    made_text,
    nutrition_table,
    readings_sentence,
    small_print,
    sources_text,
    stage_text,
    times_text,
)
from balancer.export.text import one_line
from balancer.measures import weight_text
from balancer.recipe import ProfileRow, Recipe

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "Helvetica"
_MARGIN_MM = 10.0
_TEXT_PT, _SMALL_PT, _HEAD_PT, _NAME_PT = 8.6, 7.0, 10.0, 17.0
#: Height of a line per size of its letters [mm/pt].
_LINE = 0.4
#: Indent of a list, and space between columns [mm].
_HANG_MM, _GAP_MM = 5.0, 2.0
#: What tables take of the width [mm], and parts that a narrow one stands in.
_WIDE_MM, _PARTS = 184.0, 3
#: Columns of the balance, and the bar beside them [mm].
_BALANCE_MM, _BAR_MM = (18.0, 18.0, 28.0, 44.0, 26.0), 46.0
_INK = (122, 59, 46)
#: Written when a recipe has no date, so that the same recipe is always the same file.
_UNDATED = datetime(2000, 1, 1, tzinfo=UTC)


def pdf(recipe: Recipe, options: Options = USUAL) -> bytes:
    """Write a recipe as PDF.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    options : Options
        Its paper is read.

    Returns
    -------
    bytes
        The file; the same recipe gives the same bytes.
    """
    paper = new_paper(recipe, options.paper)
    paper.set_margin(_MARGIN_MM)
    paper.c_margin = 0.0
    paper.set_auto_page_break(True, margin=_MARGIN_MM)
    paper.add_page()
    sheet = _Sheet(paper)
    sheet.text(recipe.name, _NAME_PT, style="B")
    about = (made_text(recipe), times_text(recipe), about_text(recipe))
    sheet.text(" ".join(text for text in about if text))
    sheet.head("Ingredients")
    bold = {i for i, line in enumerate(recipe.lines) if line.allergens}
    rows = [
        (f"{weight_text(g)} g", line_name(line), line.measure, stage_text(recipe, line))
        for g, line in zip(recipe.shown_g, recipe.lines, strict=True)
    ]
    rows.append((f"{weight_text(recipe.batch_g)} g", "in all", "", ""))
    sheet.table((), rows, (20, 82, 54, 28), bold=bold)
    sheet.parts(allergen_parts(recipe))
    sheet.head("Method")
    sheet.listed(recipe.method, numbered=True)
    if recipe.checks:
        sheet.head("Checks")
        sheet.listed(recipe.checks)
    sheet.head("Keeping and cautions")
    sheet.text(keeping_text(recipe))
    sheet.listed(recipe.cautions)
    if sources := sources_text(recipe):
        sheet.text(sources, _SMALL_PT)
    if recipe.profile:
        sheet.head("Balance of the finished sauce")
        rows_of_balance = balance_rows(recipe)
        for row, cells in zip(recipe.profile, rows_of_balance, strict=True):
            head = BALANCE_HEAD if cells is rows_of_balance[0] else ()
            sheet.table(head, [cells], _BALANCE_MM)
            sheet.bar(row)
        sheet.text(f"{BARS_SENTENCE} {readings_sentence(recipe)}", _SMALL_PT)
    for panel in recipe.nutrition:
        if panel is recipe.nutrition[0]:
            sheet.head("Nutrition")
        titles, panel_rows = nutrition_table(recipe, panel)
        sheet.side_by_side((panel.form, *titles[1:]), panel_rows)
    if small := [*recipe.nutrition_notes, *recipe.notes, *small_print(recipe)]:
        sheet.text(" ".join(small), _SMALL_PT)
    return bytes(paper.output())


def new_paper(recipe: Recipe, size: str | tuple[float, float]) -> FPDF:
    """Return an empty document of a size, a name or width and height [mm]."""
    from fpdf import FPDF

    paper = FPDF(format=size)
    paper.set_title(western(recipe.name))
    paper.set_creation_date(_date(recipe.date))
    paper.set_font(FONT, size=_TEXT_PT)
    return paper


def western(text: str) -> str:
    """Write a text on one line in the letters that the standard fonts have.

    >>> western("Crème – 辣椒酱")
    'Crème - LaJiaoJiang'
    """
    from anyascii import anyascii

    return "".join(c if ord(c) < 256 else anyascii(c) or "?" for c in one_line(text))


def flow(paper: FPDF, parts: Sequence[tuple[str, bool]], size_pt: float, line_mm: float) -> None:
    """Write parts of a line, some in bold, and break it between words only."""
    right_mm = paper.w - paper.r_margin
    for text, bold in parts:
        paper.set_font(FONT, "B" if bold else "", size_pt)
        for i, word in enumerate(western(text).split(" ")):
            gap = " " if i or text[:1].isspace() else ""
            if paper.get_x() + paper.get_string_width(gap + word) > right_mm:
                gap = ""
                if paper.get_x() > paper.l_margin:
                    paper.ln(line_mm)
            paper.write(line_mm, gap + word)
        if text[-1:].isspace():
            paper.write(line_mm, " ")
    paper.ln(line_mm)


def _date(date: str) -> datetime:
    try:
        read = datetime.fromisoformat(date)
    except ValueError:
        return _UNDATED
    return read if read.tzinfo else read.replace(tzinfo=UTC)


class _Sheet:
    """Writes one thing below the other."""

    def __init__(self, paper: FPDF) -> None:
        self.paper = paper
        self.top = 0.0  # of the last row of a table

    def text(self, text: str, size_pt: float = _TEXT_PT, style: str = "") -> None:
        self.paper.set_font(FONT, style, size_pt)
        self.paper.multi_cell(
            0, size_pt * _LINE, western(text), align="L", new_x="LMARGIN", new_y="NEXT"
        )

    def head(self, text: str) -> None:
        self.paper.ln(0.9)
        if self.paper.will_page_break(16.0):
            self.paper.add_page()
        self.paper.set_text_color(*_INK)
        self.text(text, _HEAD_PT, style="B")
        self.paper.set_text_color(0)
        self.paper.ln(0.3)

    def parts(self, parts: Sequence[tuple[str, bool]]) -> None:
        self.paper.ln(1.0)
        flow(self.paper, parts, _TEXT_PT, _TEXT_PT * _LINE)

    def listed(self, items: Iterable[str], *, numbered: bool = False) -> None:
        for i, item in enumerate(items, start=1):
            self.paper.set_font(FONT, "", _TEXT_PT)
            self.paper.cell(_HANG_MM, _TEXT_PT * _LINE, f"{i}." if numbered else "-")
            self.paper.set_left_margin(_MARGIN_MM + _HANG_MM)
            self.text(item)
            self.paper.set_left_margin(_MARGIN_MM)
            self.paper.set_x(_MARGIN_MM)

    def table(
        self,
        head: Sequence[str],
        rows: Iterable[Sequence[str]],
        widths_mm: Sequence[float],
        bold: Container[int] = (),
        size_pt: float = _TEXT_PT,
    ) -> None:
        """Draw rows, the second cell of some in bold."""
        if head:
            self._row(head, widths_mm, ["B"] * len(head), size_pt)
        for i, cells in enumerate(rows):
            styles = ["", "B" if i in bold else "", *[""] * len(cells)]
            self._row(cells, widths_mm, styles, size_pt)

    def side_by_side(self, head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Draw a narrow table in three parts, small, so that it takes little of the page."""
        high = -(-len(rows) // _PARTS)
        empty = [""] * len(head)
        joined = [
            [
                cell
                for k in range(i, high * _PARTS, high)
                for cell in (rows[k : k + 1] or [empty])[0]
            ]
            for i in range(high)
        ]
        amount = 17.0
        widths = [_WIDE_MM / _PARTS - amount * (len(head) - 1), *[amount] * (len(head) - 1)]
        self.table([*head] * _PARTS, joined, widths * _PARTS, size_pt=_SMALL_PT)

    def _row(
        self,
        cells: Sequence[str],
        widths_mm: Sequence[float],
        styles: Sequence[str],
        size_pt: float,
    ) -> None:
        paper, high = self.paper, size_pt * _LINE
        texts = [western(cell) for cell in cells]
        lines = 1
        for text, width, style in zip(texts, widths_mm, styles, strict=False):
            paper.set_font(FONT, style, size_pt)
            if paper.get_string_width(text) > width - _GAP_MM:
                inner = width - _GAP_MM
                wrapped = paper.multi_cell(inner, high, text, dry_run=True, output="LINES")
                lines = max(lines, len(cast("list[str]", wrapped)))
        if paper.will_page_break(lines * high):
            paper.add_page()
        top, left = paper.get_y(), _MARGIN_MM
        for text, width, style in zip(texts, widths_mm, styles, strict=False):
            paper.set_font(FONT, style, size_pt)
            paper.set_xy(left, top)
            paper.multi_cell(width - _GAP_MM, high, text, align="L")
            left += width
        bottom = top + lines * high + 0.2
        paper.set_draw_color(200)
        paper.line(_MARGIN_MM, bottom, _MARGIN_MM + sum(widths_mm), bottom)
        paper.set_xy(_MARGIN_MM, bottom + 0.25)
        self.top = top

    def bar(self, row: ProfileRow) -> None:
        """Draw the picture of an axis beside the row that was drawn last."""
        bar = bar_of(row)
        if bar is None:
            return
        left = _MARGIN_MM + sum(_BALANCE_MM) + _GAP_MM
        self.paper.set_fill_color(238)
        self.paper.rect(left, self.top + 0.6, _BAR_MM, 2.6, style="F")
        self.paper.set_fill_color(*_INK)
        self.paper.rect(left, self.top + 0.6, _BAR_MM * bar.reached, 2.6, style="F")
        if bar.asked is not None:
            low, high = (_BAR_MM * end for end in bar.asked)
            self.paper.set_draw_color(20)
            self.paper.rect(left + low - 0.3, self.top + 0.2, high - low + 0.6, 3.4)
