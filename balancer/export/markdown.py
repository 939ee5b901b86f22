"""A recipe as Markdown.

References
----------
.. [1] CommonMark specification 0.31, section 2.4: a backslash before ASCII punctuation makes it
   plain; section 2.5: entities. The table is the extension that most readers share.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from balancer.export.text import deviation_text, doubt_text, level_text, one_line, target_text
from balancer.measures import weight_text
from balancer.recipe import CODES_SENTENCE, Recipe

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
    parts = [f"# {escaped(recipe.name)}", _summary(recipe)]
    parts.append(
        _table(
            ("Weight", "Ingredient", "Measure", "Stage"),
            [
                *(
                    (f"{weight_text(g)} g", line.name, line.measure, line.stage)
                    for g, line in zip(recipe.shown_g, recipe.lines, strict=True)
                ),
                (f"{weighed} g", "in all", "", ""),
            ],
        )
    )
    if recipe.profile:
        parts.append("## Balance of the finished sauce")
        rows = [
            (
                row.axis,
                f"{level_text(row.reached)} {row.unit}",
                target_text(row),
                deviation_text(row),
            )
            for row in recipe.profile
        ]
        parts.append(_table(("Axis", "Reached", "Target", "Difference"), rows))
        doubts = [text for text in map(doubt_text, recipe.profile) if text]
        if doubts:
            parts += ["Less sure:", _listed(doubts)]
    parts += ["## Method", _listed(recipe.method, numbered=True)]
    parts.append("## Cautions")
    if recipe.cautions:
        parts.append(_listed(recipe.cautions))
    parts.append(escaped(CODES_SENTENCE))
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


def _summary(recipe: Recipe) -> str:
    saved = f"revision {recipe.revision}"
    if recipe.date:
        saved += f", saved {escaped(recipe.date)}"
    text = f"Makes {weight_text(recipe.yield_g)} g ({saved})."
    if recipe.water_lost_g:
        text += f" In cooking, {weight_text(recipe.water_lost_g)} g of water leaves."
    return text


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head)]
    lines += [tuple(escaped(cell) for cell in row) for row in rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _listed(texts: Iterable[str], *, numbered: bool = False) -> str:
    return "\n".join(
        f"{f'{number}.' if numbered else '-'} {_HEAD.sub(_plain_head, escaped(text))}"
        for number, text in enumerate(texts, start=1)
    )


def _plain_head(match: re.Match[str]) -> str:
    mark = match[0]
    return f"{mark}\\" if mark[0].isdigit() else f"\\{mark}"
