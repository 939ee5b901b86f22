"""A label for the tub, as PDF of 62 mm width: a width that rolls of labels are sold in.

What a label has to say where food is sold is for the codes of the place; this one is for the
refrigerator of a kitchen (common practice, no source). Allergens stand in bold within the list of
ingredients, heaviest first, after Regulation (EU) No 1169/2011, Articles 18 and 21 (recalled).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from balancer.errors import BadInput
from balancer.export.options import USUAL, Options
from balancer.export.pdf import FONT, flow, new_paper, western
from balancer.export.sheet import STORE_COLD, Parts, allergen_parts, line_name
from balancer.recipe import Recipe

if TYPE_CHECKING:
    from fpdf import FPDF

#: Width, and the least and the largest height [mm].
WIDTH_MM, LEAST_MM, MOST_MM = 62.0, 40.0, 300.0
_MARGIN_MM = 3.0
#: A page to measure on; a PDF has no larger ones [mm].
_TALL_MM = 5000.0
_NAME_PT, _TEXT_PT, _SMALL_PT = 13.0, 8.5, 7.0
_LONGEST_NAME = 120
#: Height of a line per size of its letters [mm/pt].
_LINE = 0.42
_CODES = "Local codes decide what a label must say."


def label(recipe: Recipe, options: Options = USUAL) -> bytes:
    """Write a label for the tub.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    options : Options
        Its dates are read; a line to fill in stands where there is none.

    Returns
    -------
    bytes
        PDF of one page, 62 mm wide and as high as it needs. A list of ingredients that no label
        could hold is left out; allergens never are.

    Raises
    ------
    BadInput
        If the allergens alone do not fit.
    """
    for ingredients in (_ingredients(recipe), [("Ingredients: see the recipe.", False)]):
        tall = new_paper(recipe, (WIDTH_MM, _TALL_MM))
        high_mm = round(_draw(tall, recipe, options, ingredients) + _MARGIN_MM, 1)
        if high_mm <= MOST_MM:
            paper = new_paper(recipe, (WIDTH_MM, max(LEAST_MM, high_mm)))
            _draw(paper, recipe, options, ingredients)
            return bytes(paper.output())
    raise BadInput(
        f"The allergens of {recipe.name[:60]!r} take a label of {high_mm:.0f} mm, over"
        f" {MOST_MM:.0f} mm. Print the recipe instead and keep it with the tub."
    )


def _draw(paper: FPDF, recipe: Recipe, options: Options, ingredients: Parts) -> float:
    """Draw everything; returns where it ends [mm]."""
    paper.set_margin(_MARGIN_MM)
    paper.c_margin = 0.0
    paper.set_auto_page_break(False)
    paper.add_page()
    name = western(recipe.name)
    _text(paper, name if len(name) <= _LONGEST_NAME else f"{name[:_LONGEST_NAME]}...", _NAME_PT)
    paper.ln(1.0)
    _date(paper, "Made on", options.made_on)
    _date(paper, "Use by", options.use_by)
    paper.ln(1.0)
    _text(paper, f"{STORE_COLD}.", _TEXT_PT)
    paper.ln(1.0)
    flow(paper, ingredients, _TEXT_PT, _TEXT_PT * _LINE)
    paper.ln(0.6)
    flow(paper, allergen_parts(recipe), _TEXT_PT, _TEXT_PT * _LINE)
    paper.ln(0.6)
    _text(paper, f"Revision {recipe.revision}. {_CODES}", _SMALL_PT, "")
    return float(paper.get_y())


def _ingredients(recipe: Recipe) -> Parts:
    parts: Parts = [("Ingredients: ", False)]
    for i, line in enumerate(recipe.lines):
        parts.append((line_name(line), bool(line.allergens)))
        parts.append((", " if i < len(recipe.lines) - 1 else ".", False))
    return parts


def _date(paper: FPDF, what: str, date: str) -> None:
    height_mm = _TEXT_PT * _LINE + 1.2
    paper.set_font(FONT, "", _TEXT_PT)
    paper.cell(14.0, height_mm, what)
    paper.set_font(FONT, "B", _TEXT_PT)
    paper.cell(0, height_mm, western(date), border=0 if western(date) else "B")
    paper.ln(height_mm)


def _text(paper: FPDF, text: str, size_pt: float, style: str = "B") -> None:
    paper.set_font(FONT, style, size_pt)
    paper.multi_cell(0, size_pt * _LINE, text, align="L", new_x="LMARGIN", new_y="NEXT")
