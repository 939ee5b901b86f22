"""A recipe as Markdown.

References
----------
.. [1] CommonMark specification 0.31, section 2.4: a backslash before ASCII punctuation makes it
   plain; section 2.5: entities. The table is the extension that most readers share.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from balancer.export.sheet import (
    BALANCE_HEAD,
    about_text,
    allergen_parts,
    balance_rows,
    keeping_text,
    line_name,
    made_text,
    nutrition_table,
    reading_rows,
    sources_text,
    stage_text,
    times_text,
)
from balancer.export.text import doubt_text, one_line
from balancer.measures import weight_text
from balancer.recipe import Line, Recipe

# What begins a list, a rule or an underline at the head of a line.
_HEAD = re.compile(r"^(?:[-+=]|\d+(?=[.)]))")


def markdown(recipe: Recipe) -> str:
    """Write a recipe as a Markdown page; every text from a cook is shown as it was typed.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    str
        The page, with a newline at its end.
    """
    weighed = weight_text(recipe.batch_g)
    allergens = allergen_parts(recipe)
    parts = [f"# {escaped(recipe.name)}", _paragraph(made_text(recipe), times_text(recipe))]
    parts.append(escaped(about_text(recipe)))
    rows = [
        (
            f"{weight_text(g)} g",
            _name(line),
            escaped(line.measure),
            escaped(stage_text(recipe, line)),
        )
        for g, line in zip(recipe.shown_g, recipe.lines, strict=True)
    ]
    head = ("Weight", "Ingredient", "Measure", "Stage")
    parts.append(_table(head, [*rows, (f"{weighed} g", "in all", "", "")]))
    parts.append("".join(_bold(text) if bold else escaped_part(text) for text, bold in allergens))
    parts += ["## Method", _listed(recipe.method, numbered=True)]
    if recipe.checks:
        parts += ["## Checks", _listed(recipe.checks)]
    parts.append("## Keeping and cautions")
    parts.append(escaped(keeping_text(recipe)))
    if recipe.cautions:
        parts.append(_listed(recipe.cautions))
    if sources := sources_text(recipe):
        parts.append(escaped(sources))
    if recipe.profile:
        parts.append("## Balance of the finished sauce")
        parts.append(_escaped_table(BALANCE_HEAD, balance_rows(recipe)))
        doubts = [text for text in map(doubt_text, recipe.profile) if text]
        if doubts:
            parts += ["Less sure:", _listed(doubts)]
    if readings := reading_rows(recipe):
        parts += ["## Computed readings", _escaped_table(("Quantity", "Value"), readings)]
    for panel in recipe.nutrition:
        parts += [f"## {panel.title}", _escaped_table(*nutrition_table(recipe, panel))]
    if recipe.nutrition_notes:
        parts.append(_paragraph(*recipe.nutrition_notes))
    if recipe.notes:
        parts += ["## Worth knowing", _listed(recipe.notes)]
    if recipe.resolved:
        parts += ["## What each name was taken for", _listed(recipe.resolved)]
    return "\n\n".join(parts) + "\n"


def escaped(text: str) -> str:
    """Make a text that Markdown shows as it is, on one line.

    >>> escaped("a|b *c* <b>")
    'a\\\\|b \\\\*c\\\\* &lt;b&gt;'
    """
    plain = one_line(text)
    plain = plain.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    plain = re.sub(r"([\\`*_\[\]#~$|!^])", r"\\\1", plain)
    return re.sub(r":(?=//)|(?<=www)\.|@", lambda m: f"&#{ord(m[0])};", plain)


def escaped_part(text: str) -> str:
    """The same for a part of a line, whose spaces at the ends stay."""
    lead, tail = text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]
    return f"{lead and ' '}{escaped(text)}{tail and ' '}"


def _paragraph(*texts: str) -> str:
    return _HEAD.sub(_plain_head, escaped(" ".join(text for text in texts if text)))


def _bold(text: str) -> str:
    plain = escaped(text)
    return f"**{plain}**" if plain else ""


def _name(line: Line) -> str:
    return _bold(line_name(line)) if line.allergens else escaped(line.name)


def _escaped_table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    return _table(head, [tuple(map(escaped, row)) for row in rows])


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _listed(texts: Iterable[str], *, numbered: bool = False) -> str:
    return "\n".join(
        f"{f'{number}.' if numbered else '-'} {_HEAD.sub(_plain_head, escaped(text))}"
        for number, text in enumerate(texts, start=1)
    )


def _plain_head(match: re.Match[str]) -> str:
    mark = match[0]
    return f"{mark}\\" if mark[0].isdigit() else f"\\{mark}"
