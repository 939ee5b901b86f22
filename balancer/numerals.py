"""Numbers as they are read and written out: in a sentence, in the fractions of spoons and cups."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from balancer.errors import BadInput

#: Fractions that spoons and cups come in, and how they are written.
FRACTIONS: Mapping[float, str] = MappingProxyType(
    {1 / 8: "1/8", 1 / 4: "1/4", 1 / 3: "1/3", 1 / 2: "1/2", 2 / 3: "2/3", 3 / 4: "3/4"}
)

_THOUSANDS = re.compile(r"-?[1-9]\d{0,2},\d{3}")


def read_number(text: str) -> float:
    """Read a number as a cook types it, with a point or a comma before its decimals.

    Raises
    ------
    BadInput
        One sentence that names what was typed.

    Examples
    --------
    >>> read_number("1.5"), read_number("420,5")
    (1.5, 420.5)
    """
    typed = text.strip()
    shown = typed if len(typed) <= 40 else typed[:37] + "..."
    if _THOUSANDS.fullmatch(typed):
        whole, plain = typed.replace(",", ""), f"{float(typed.replace(',', '.')):g}"
        raise BadInput(f"{shown!r} can be read two ways. Write {whole} or {plain}.")
    try:
        return float(typed.replace(",", "."))
    except ValueError:
        raise BadInput(f"{shown!r} is no number. Write it as 1.5 or 1,5.") from None


def number_text(value: float) -> str:
    """Write a number in up to six digits; a whole one may be too large for a float.

    Examples
    --------
    >>> number_text(12.5), number_text(10**400)
    ('12.5', 'over 1e308')
    """
    try:
        return f"{value:g}"
    except OverflowError:
        return "over 1e308" if value > 0 else "under -1e308"


def fraction_text(value: float) -> str:
    """Write a number as a cook does: whole, or whole and one of the kitchen fractions.

    Parameters
    ----------
    value : float
        A number on the grid of whole numbers, quarters, thirds and eighths [1].

    Returns
    -------
    str
        For example ``2 1/2``; a number off the grid comes out in decimals.

    Examples
    --------
    >>> fraction_text(2.5), fraction_text(2 / 3), fraction_text(3)
    ('2 1/2', '2/3', '3')
    """
    whole = math.floor(value + 1e-6)
    rest = value - whole
    if abs(rest) < 1e-6:
        return f"{whole:d}"
    for fraction, text in FRACTIONS.items():
        if abs(rest - fraction) < 1e-6:
            return f"{whole} {text}" if whole else text
    return f"{value:.3g}"


def neighbours(value: float, fractions: Iterable[float]) -> tuple[float, float]:
    """Return the last mark not above a number and the first above it.

    Parameters
    ----------
    value : float
        The number [1].
    fractions : iterable of float
        Fractions that are marked between two whole numbers [1].

    Examples
    --------
    >>> neighbours(2.4, (1 / 4, 1 / 2, 3 / 4))
    (2.25, 2.5)
    """
    whole = math.floor(value)
    marks = sorted({0.0, 1.0, *fractions})
    below = max(m for m in marks if whole + m <= value)
    above = min(m for m in marks if whole + m > value)
    return whole + below, whole + above


def nearest(value: float, fractions: Iterable[float]) -> float:
    """Return the mark nearest to a number, zero aside; see :func:`neighbours`.

    >>> nearest(1.3, (1 / 3, 1 / 2)), nearest(0.01, (1 / 8,))
    (1.3333333333333333, 0.125)
    """
    below, above = neighbours(value, fractions)
    return above if below == 0 or above - value < value - below else below
