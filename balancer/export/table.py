"""A recipe as comma-separated values: one table that spreadsheets and programs read alike.

References
----------
.. [1] RFC 4180, "Common Format and MIME Type for Comma-Separated Values (CSV) Files", 2005.
.. [2] OWASP, "CSV Injection": cells that begin with = + - @, tab or carriage return are run as
   formulas by spreadsheets (recalled).
"""

from __future__ import annotations

import csv as csv_module
import io
import re

from balancer.export.sheet import (
    about_text,
    allergen_text,
    caution_pairs,
    nutrition_table,
    reading_rows,
    servings_text,
    stage_text,
)
from balancer.export.text import deviation_text, doubt_text, level_text, one_line, target_text
from balancer.measures import weight_text
from balancer.recipe import LEAST_G, Line, Recipe

COLUMNS = ("section", "item", "amount", "unit", "measure", "note")
# A reader that splits at semicolons instead would see what follows one as a cell of its own.
_FORMULA = re.compile(r"(^|;)(\s*)(?=[=+\-@\uff1d\uff0b\uff0d\uff20])")


def csv(recipe: Recipe) -> str:
    """Write a recipe as CSV.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    str
        A table with the columns of :data:`COLUMNS` and a header; ``section`` is recipe,
        ingredient, total, balance, doubt, reading, nutrition (per 100 g in ``note``, per serving
        in ``measure``), allergen, method, check, caution, note or name. Amounts are numbers in
        ``unit``; a text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    shown = [weight_text(g) for g in recipe.shown_g]
    rows: list[tuple[str, ...]] = [
        ("recipe", recipe.name, weight_text(recipe.yield_g), "g", "", about_text(recipe))
    ]
    rows += [
        ("ingredient", line.name, grams, "g", line.measure, _line_note(recipe, line))
        for grams, line in zip(shown, recipe.lines, strict=True)
    ]
    rows.append(("total", "weighed in", weight_text(recipe.batch_g), "g", "", ""))
    if recipe.water_lost_g:
        lost = weight_text(recipe.water_lost_g)
        rows.append(("total", "water that leaves in cooking", lost, "g", "", ""))
    if recipe.taken_out_g >= LEAST_G:
        rows.append(("total", "taken out again", weight_text(recipe.taken_out_g), "g", "", ""))
    if recipe.serving_g is not None:
        serving = weight_text(recipe.serving_g)
        rows.append(("total", "serving", serving, "g", "", servings_text(recipe)))
    for row in recipe.profile:
        aim = ", ".join(t for t in (target_text(row), deviation_text(row)) if t)
        note = f"target {aim}" if aim else ""
        rows.append(("balance", row.axis, level_text(row.reached), row.unit, "", note))
    rows += [("doubt", text, "", "", "", "") for text in map(doubt_text, recipe.profile) if text]
    rows += [("reading", what, "", "", "", value) for what, value in reading_rows(recipe)]
    for panel in recipe.nutrition:
        for name, per_100g, *per_serving in nutrition_table(recipe, panel)[1]:
            form = f"{name}, {panel.order.upper()}" if len(recipe.nutrition) > 1 else name
            rows.append(("nutrition", form, "", "", "".join(per_serving), per_100g))
    rows += [("nutrition", text, "", "", "", "") for text in recipe.nutrition_notes]
    rows.append(("allergen", allergen_text(recipe), "", "", "", ""))
    rows += [("method", step, "", "", "", "") for step in recipe.method]
    rows += [("check", text, "", "", "", "") for text in recipe.checks]
    rows += [("caution", text, "", "", "", source) for text, source in caution_pairs(recipe)]
    rows.append(("caution", recipe.storage, "", "", "", ""))
    rows += [("note", text, "", "", "", "") for text in recipe.notes]
    rows += [("name", text, "", "", "", "") for text in recipe.resolved]
    out = io.StringIO()
    writer = csv_module.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows([[harmless(cell) for cell in row] for row in rows])
    return out.getvalue()


def harmless(cell: str) -> str:
    """Return a cell on one line that no spreadsheet runs.

    >>> harmless("=1+1"), harmless("plum dip")
    ("'=1+1", 'plum dip')
    """
    return _FORMULA.sub(r"\1\2'", one_line(cell))


def _line_note(recipe: Recipe, line: Line) -> str:
    stage = stage_text(recipe, line)
    return f"{stage}; contains {', '.join(line.allergens)}" if line.allergens else stage
