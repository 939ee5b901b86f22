"""The balance of a sauce as numbers and a small picture, to lay beside another one.

A bar counts just-noticeable steps above nothing, on the same scale in every picture, so that two
sauces can be compared and unlike axes stand side by side.

References
----------
.. [1] W3C, Scalable Vector Graphics (SVG) 1.1, 2nd edition.
"""

from __future__ import annotations

import html
import math
from dataclasses import dataclass

from balancer.constants import AXIS_NAMES
from balancer.export.text import level_text, one_line
from balancer.recipe import ProfileRow, Recipe
from balancer.taste import to_z

#: Steps at which a bar is full [JND]; about as far as a sauce goes on any axis.
FULL_JND = 25.0
BARS_SENTENCE = (
    f"Bars: just-noticeable steps above nothing, full at {FULL_JND:g}. Outlined: the target."
)
#: Sizes [mm].
WIDTH_MM, _ROW_MM, _HEAD_MM, _FOOT_MM = 100.0, 5.0, 8.0, 5.0
_BAR_LEFT_MM, _BAR_MM, _NUMBER_MM = 16.0, 42.0, 60.0
_LONGEST_NAME, _LONGEST_AXIS, _LONGEST_UNIT = 52, 10, 34


def profile(recipe: Recipe, *, titled: bool = True) -> str:
    """Draw the balance of a recipe as SVG.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    titled : bool
        Whether the name stands above the bars.

    Returns
    -------
    str
        A whole SVG document of 100 mm width that asks for nothing from outside.
    """
    head_mm = _HEAD_MM if titled else 1.0
    height_mm = head_mm + _ROW_MM * len(recipe.profile) + _FOOT_MM
    name = one_line(recipe.name)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{height_mm:g}mm"'
        f' viewBox="0 0 {WIDTH_MM:g} {height_mm:g}" role="img"'
        ' font-family="Helvetica, Arial, sans-serif" font-size="2.8" fill="#222">',
        f"<title>{html.escape(name)}: balance</title>",
    ]
    if titled:
        parts.append(
            f'<text x="1" y="4.5" font-size="3.6" font-weight="bold">{_cut(name, _LONGEST_NAME)}'
            "</text>"
        )
    for i, row in enumerate(recipe.profile):
        parts += _row(row, head_mm + _ROW_MM * i)
    parts.append(
        f'<text x="1" y="{height_mm - 1.4:g}" font-size="2.2" fill="#555">{BARS_SENTENCE}</text>'
    )
    return "\n".join([*parts, "</svg>"]) + "\n"


def _row(row: ProfileRow, top_mm: float) -> list[str]:
    middle = top_mm + 3.2
    parts = [
        f'<text x="1" y="{middle:g}">{_cut(row.axis, _LONGEST_AXIS)}</text>',
        f'<rect x="{_BAR_LEFT_MM:g}" y="{top_mm + 1:g}" width="{_BAR_MM:g}" height="2.6"'
        ' fill="#eee"/>',
    ]
    if (bar := bar_of(row)) is not None:
        parts.append(
            f'<rect x="{_BAR_LEFT_MM:g}" y="{top_mm + 1:g}" width="{_BAR_MM * bar.reached:.4g}"'
            ' height="2.6" fill="#7a3b2e"/>'
        )
        if bar.asked is not None:
            low, high = (_BAR_MM * end for end in bar.asked)
            parts.append(
                f'<rect x="{_BAR_LEFT_MM + low - 0.3:.4g}" y="{top_mm + 0.6:g}"'
                f' width="{high - low + 0.6:.4g}" height="3.4" fill="none" stroke="#111"'
                ' stroke-width="0.35"/>'
            )
    text = f"{level_text(row.reached)} {row.unit}"
    parts.append(f'<text x="{_NUMBER_MM:g}" y="{middle:g}">{_cut(text, _LONGEST_UNIT)}</text>')
    return parts


@dataclass(frozen=True)
class Bar:
    """Where a level and its target lie along a bar, from 0 to 1."""

    reached: float
    asked: tuple[float, float] | None


def bar_of(row: ProfileRow) -> Bar | None:
    """The bar of an axis; None for one that the project does not know."""
    if row.axis not in AXIS_NAMES:
        return None
    if row.target is None:
        return Bar(_along(row.reached, row.axis), None)
    low, high = row.target if isinstance(row.target, tuple) else (row.target, row.target)
    ends = (_along(low, row.axis), 1.0 if math.isinf(high) else _along(high, row.axis))
    return Bar(_along(row.reached, row.axis), ends)


def _along(level: float, axis: str) -> float:
    return min(float(to_z(max(level, 0.0), axis)) / FULL_JND, 1.0)


def _cut(text: str, longest: int) -> str:
    plain = one_line(text)
    return html.escape(plain if len(plain) <= longest else f"{plain[: longest - 1]}…")
