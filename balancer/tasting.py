"""A cook's words after a tasting, and the levels they ask for.

Words count from the sauce as it was made and tasted, never from the last target. Steps are taken
on the z scale, where one just-noticeable difference is one unit everywhere, so that no step can
lead below nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, NUDGE_STEPS
from balancer.errors import BadInput
from balancer.numerals import number_text
from balancer.taste import from_z, to_z

#: Kitchen words to (axis, direction): "thin" means little body.
AXIS_WORDS: Mapping[str, tuple[str, int]] = MappingProxyType(
    {
        word: (axis, direction)
        for axis, direction, words in (
            ("sweet", 1, "sweet sugary sweetness sugar"),
            ("sour", 1, "sour sharp tart acid acidic tangy sourness acidity"),
            ("salt", 1, "salt salty saltiness"),
            ("volatile", 1, "volatile aromatic aroma spiced spice fragrant perfumed"),
            ("umami", 1, "umami savoury savory meaty"),
            ("heat", 1, "hot heat spicy fiery burn"),
            ("body", 1, "body thick thickness"),
            ("body", -1, "thin watery runny"),
            ("fat", 1, "fat fatty oily rich greasy oil"),
        )
        for word in words.split()
    }
)
_COMPARATIVES: Mapping[str, str] = MappingProxyType(
    {
        "sweeter": "sweet", "sourer": "sour", "sharper": "sharp", "tarter": "tart",
        "tangier": "tangy", "saltier": "salty", "hotter": "hot", "spicier": "spicy",
        "thicker": "thick", "thinner": "thin", "runnier": "runny", "richer": "rich",
        "fattier": "fatty", "oilier": "oily", "greasier": "greasy", "meatier": "meaty",
        "milder": "-hot", "savourier": "savoury",
    }
)  # fmt: skip
_TOUCH = re.compile(r"\b(a touch|touch|slightly|a little|little|a bit|a tad|a hair|barely)\b")
_MUCH = re.compile(r"\b(much|a lot|lots|far|way|very)\b")
_FINE = re.compile(r"\b(right|fine|good|keep|perfect|same)\b")
_NOT = re.compile(r"\bnot\b|n['\u2019]t\b")
_ENOUGH = re.compile(r"\benough\b|\bno more\b")
_TOO_LITTLE = re.compile(r"\b(lacks?|lacking|no|needs?|missing|wants?|more|add|enough)\b")
#: "sharper than I want" tells how the sauce is, not how it shall be.
_AS_IT_IS = re.compile(r"\bthan (i|we|it|you|they|wanted|needed)\b")
LONGEST_WORDS = 2000


def steps_from_words(text: str) -> dict[str, float]:
    """Read a tasting sentence as steps per axis.

    Parameters
    ----------
    text : str
        Clauses with commas, semicolons, full stops, "and" or "but" between them.

    Returns
    -------
    dict of str to float
        Axis to step [JND]; 0 where the cook said that it is right.

    Raises
    ------
    BadInput
        If a clause names no axis or no direction, or one axis is named twice.

    Examples
    --------
    >>> steps_from_words("too sharp, a touch sweeter, no body")
    {'sour': -2.0, 'sweet': 1.0, 'body': 2.0}
    """
    if len(text) > LONGEST_WORDS:
        raise BadInput(
            f"The tasting note has {len(text)} letters. Give at most {LONGEST_WORDS} for the words"
            " that move the balance."
        )
    steps: dict[str, float] = {}
    for clause in re.split(r"[,;.\n]|\band\b|\bbut\b", text.casefold()):
        if not clause.strip():
            continue
        axis, step = _step(clause)
        if axis in steps:
            raise BadInput(f"The words name {axis} twice. Say once what it needs.")
        steps[axis] = step
    if not steps:
        raise BadInput("The tasting note is empty. Say, for example, 'less sour, a touch sweeter'.")
    return steps


def _step(clause: str) -> tuple[str, float]:
    words = re.findall(r"[a-z]+", clause)
    comparative = next((w for w in words if w in _COMPARATIVES), None)
    word = _COMPARATIVES[comparative] if comparative else None
    if word is None:
        word = next((w for w in words if w in AXIS_WORDS), None)
    shown = clause.strip()[:60]
    if word is None:
        raise BadInput(
            f"{shown!r} names nothing that can be turned. Use words such as"
            " sweet, sour, salty, aromatic, savoury, hot, thick or fatty."
        )
    axis, direction = AXIS_WORDS[word.removeprefix("-")]
    direction = -direction if word.startswith("-") else direction
    if re.search(r"\btoo (little|few)\b", clause):
        return axis, direction * NUDGE_STEPS["plain"]
    if _ENOUGH.search(clause) and not _NOT.search(clause):
        return axis, 0.0
    if "less" in words or "too" in words or re.search(r"\bnot (so|as)\b", clause):
        sign = -direction
    elif comparative or _TOO_LITTLE.search(clause):
        sign = direction
    elif _FINE.search(clause):
        return axis, 0.0
    else:
        raise BadInput(
            f"{shown!r} does not say which way. Write 'more', 'less', 'too' or 'right' with it."
        )
    if _AS_IT_IS.search(clause):
        sign = -sign
    if _TOUCH.search(clause):
        return axis, sign * NUDGE_STEPS["a touch"]
    if _MUCH.search(clause):
        return axis, sign * NUDGE_STEPS["much"]
    return axis, sign * NUDGE_STEPS["plain"]


def nudged(levels: FloatArray, steps: Mapping[str, float]) -> FloatArray:
    """Levels that lie the given steps away from those tasted.

    Parameters
    ----------
    levels : array, shape (n_axes,)
        Levels as made [axis unit per 100 g].
    steps : mapping of str to float
        Axis to step [JND]; axes that are not named stay where they are.

    Returns
    -------
    array, shape (n_axes,)

    Raises
    ------
    BadInput
        If there is no axis of that name, or a step is not a number or over 50 JND.
    """
    move = np.zeros(len(AXIS_NAMES))
    for axis, step in steps.items():
        if axis not in AXIS_NAMES:
            raise BadInput(f"There is no axis {axis[:40]!r}. Use one of: {', '.join(AXIS_NAMES)}.")
        if not abs(step) <= 50:
            raise BadInput(
                f"The step of {axis} is {number_text(step)} JND. Give one from -50 to 50."
            )
        move[AXIS_NAMES.index(axis)] = step
    return np.asarray(np.where(move == 0, levels, from_z(to_z(levels) + move)))
