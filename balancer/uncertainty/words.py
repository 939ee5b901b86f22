"""How sure, in sentences for a cook."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from balancer.constants import AXIS_NAMES
from balancer.taste import jnd
from balancer.uncertainty.propagation import Spread

#: What a cook can do about it.
_REMEDY: Mapping[str, str] = MappingProxyType(
    {
        "sweet": "read its degrees Brix or taste it first",
        "sour": "titrate it",
        "salt": "go by the salt on its label",
        "volatile": "smell it and add it in two goes",
        "umami": "taste it before it goes in",
        "heat": "try a crumb of it first",
        "body": "hold some back and look",
        "fat": "go by the fat on its label",
    }
)


#: How a sentence ends that calls for nothing.
SURE = "closer than a tongue can tell."
_NAMED = 3  # unknown ingredients that a sentence names


def _short(number: float) -> str:
    return f"{number:.0f}" if number >= 10 else f"{number:.2g}"


def _blame(name: str, share: float) -> str:
    return f"{100.0 * share:.0f} % of the doubt is {name}"


def _listed(names: tuple[str, ...]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(names[:_NAMED]) + more


def in_words(found: Spread) -> tuple[str, ...]:
    """One sentence for each axis that is there, and one for pH.

    Parameters
    ----------
    found : Spread

    Returns
    -------
    tuple of str
        As "sour 0.72 to 1.1: 86 % of the doubt is lime juice; titrate it." Where the band is
        narrower than a just-noticeable difference it says so; what the tables do not say of an
        ingredient is named behind.
    """
    out = []
    steps = jnd(found.levels)
    for j, axis in enumerate(AXIS_NAMES):
        low, high = float(found.low[j]), float(found.high[j])
        blind = f" Unknown, counted as none: {_listed(found.unknown[j])}." * bool(found.unknown[j])
        head = f"{axis} {_short(low)} to {_short(high)}"
        if high <= 0.0:
            line = f"{axis} none known." if blind else ""
        elif high - low <= steps[j]:
            line = f"{head}: {SURE}"
        else:
            line = f"{head}: {_blame(found.dominant[j], found.share[j])}; {_REMEDY[axis]}."
        if line:
            out.append(line + blind)
    if found.ph is not None and found.ph.dominant:
        remedy = "titrate it" if found.ph.by_acid else "measure its pH"
        head = f"pH {found.ph.low:.2f} to {found.ph.high:.2f}"
        out.append(f"{head}: {_blame(found.ph.dominant, found.ph.share)}; {remedy}.")
    return tuple(out)
