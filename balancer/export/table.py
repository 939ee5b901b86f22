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

from balancer.export.text import deviation_text, doubt_text, level_text, one_line, target_text
from balancer.measures import weight_text
from balancer.recipe import CODES_SENTENCE, Recipe

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
        ingredient, total, balance, doubt, method, caution or name. Amounts are numbers in
        ``unit``; a text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    shown = [weight_text(g) for g in recipe.shown_g]
    rows: list[tuple[str, ...]] = [
        ("recipe", recipe.name, weight_text(recipe.yield_g), "g", "", _saved(recipe))
    ]
    rows += [
        ("ingredient", line.name, grams, "g", line.measure, line.stage)
        for grams, line in zip(shown, recipe.lines, strict=True)
    ]
    rows.append(("total", "weighed in", weight_text(recipe.batch_g), "g", "", ""))
    if recipe.water_lost_g:
        lost = weight_text(recipe.water_lost_g)
        rows.append(("total", "water that leaves in cooking", lost, "g", "", ""))
    for row in recipe.profile:
        aim = ", ".join(t for t in (target_text(row), deviation_text(row)) if t)
        note = f"target {aim}" if aim else ""
        rows.append(("balance", row.axis, level_text(row.reached), row.unit, "", note))
    rows += [("doubt", text, "", "", "", "") for text in map(doubt_text, recipe.profile) if text]
    rows += [("method", step, "", "", "", "") for step in recipe.method]
    rows += [("caution", text, "", "", "", "") for text in (*recipe.cautions, CODES_SENTENCE)]
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


def _saved(recipe: Recipe) -> str:
    return f"revision {recipe.revision}" + (f", saved {recipe.date}" if recipe.date else "")
