"""A cook's words after a tasting, and the levels they ask for.

Words count from the sauce as it was made and tasted, never from the last target. Steps are taken
on the z scale, where one just-noticeable difference is one unit everywhere, so that no step can
lead below nothing. The words are those of the kitchen: common practice, no source.

References
----------
1. ASTM MNL63. Just-About-Right (JAR) Scales: Design, Usage, Benefits, and Risks. Rothman L,
   Parker MJ, editors. ASTM International, 2009.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, NUDGE_STEPS
from balancer.errors import BadInput
from balancer.kitchen_words import AXIS_WORDS, COMPARATIVES, FAULTS, VAGUE, meaning, nearest
from balancer.numerals import number_text
from balancer.taste import from_z, to_z

_TOUCH = re.compile(r"\b(a touch|touch|slightly|a little|little|a bit|a tad|a hair|barely)\b")
_MUCH = re.compile(r"\b(much|a lot|lots|far|way|very)\b")
_FINE = re.compile(r"\b(right|fine|good|keep|perfect|same|spot[ -]on)\b")
_REST = re.compile(
    r"\b(?:and\s+|but\s+)?(?:all\s+)?the\s+(?:rest|others?)\s+(?:is|are)\s+"
    r"(?:all\s+)?(?:right|fine|good|perfect|spot[ -]on)\b"
)
#: A whole clause that calls all right what no other clause names.
_ALL_RIGHT = re.compile(
    r"(?:(?:it|this|that|all|everything|the sauce)(?:['\u2019]s| is)? |otherwise )?"
    r"(?:all |just |quite )*(?:right|fine|good|perfect|spot[ -]on)"
)
_NOT = re.compile(
    r"\b(?:not|cannot|(?:is|does|do|are|was)nt)\b|n['\u2019]t\b|\bnever\b"
    r"|\bno need\b|\bneeds? no (?!more\b)|\bno \w+er\b"
)
#: What "not" goes with where it says one thing only: "not so sweet", "not sweet enough".
_NOT_SO = re.compile(r"\bnot (so|as)\b")
_TOO_MUCH = re.compile(r"\btoo (much|many)\b")
_TOO_FEW = re.compile(r"\btoo (little|few)\b")
_ENOUGH = re.compile(r"\benough\b|\bno more\b")
_TOO_LITTLE = re.compile(r"\b(lacks?|lacking|no|needs?|missing|wants?|more|add|enough)\b")
#: "sharper than I want" tells how the sauce is, not how it shall be.
_AS_IT_IS = re.compile(r"\bthan (i|we|it|you|they|wanted|needed)\b")
LONGEST_WORDS = 2000


@dataclass(frozen=True)
class Understood:
    """What a tasting sentence was taken to say.

    Parameters
    ----------
    steps : mapping of str to float
        Axis to step [JND]; 0 where the cook said that it is right.
    rest_right : bool
        Whether the cook said that all other axes are right.
    taken : mapping of str to str
        Each slip of the pen to the word that it was taken for, to be said back to the cook.
    """

    steps: Mapping[str, float]
    rest_right: bool
    taken: Mapping[str, str]


def steps_from_words(text: str) -> dict[str, float]:
    """Read a tasting sentence as steps per axis.

    Parameters
    ----------
    text : str
        As for :func:`understood`.

    Returns
    -------
    dict of str to float
        Axis to step [JND]; 0 where the cook said that it is right, on every axis where that is
        all the sentence says.

    Raises
    ------
    BadInput
        If the sentence cannot be read.

    Examples
    --------
    >>> steps_from_words("too sharp, a touch sweeter, no body")
    {'sour': -2.0, 'sweet': 1.0, 'body': 2.0}
    """
    return dict(understood(text).steps) or dict.fromkeys(AXIS_NAMES, 0.0)


def understood(text: str) -> Understood:
    """Read a tasting sentence.

    Parameters
    ----------
    text : str
        Clauses with commas, semicolons, full stops, "and" or "but" between them. A word that is
        not known is taken for the nearest that is, unless words of two meanings are as near.

    Returns
    -------
    Understood

    Raises
    ------
    BadInput
        If a clause names no axis or no direction, can be meant in two ways, or one axis is named
        twice.

    Examples
    --------
    >>> understood("too sower, the rest is perfect")
    Understood(steps={'sour': -2.0}, rest_right=True, taken={'sower': 'sour'})
    """
    if len(text) > LONGEST_WORDS:
        raise BadInput(
            f"The tasting note has {len(text)} letters. Give at most {LONGEST_WORDS} for the words"
            " that move the balance."
        )
    left, found = _REST.subn(",", text.casefold())
    rest_right = bool(found)
    steps: dict[str, float] = {}
    taken: dict[str, str] = {}
    for clause in re.split(r"[,;.!\n]|\band\b|\bbut\b", left):
        if not clause.strip():
            continue
        if _ALL_RIGHT.fullmatch(clause.strip()):
            rest_right = True
            continue
        axis, step, slips = _step(clause)
        taken |= slips
        if axis in steps:
            raise BadInput(f"The words name {axis} twice. Say once what it needs.")
        steps[axis] = step
    if not steps and not rest_right:
        raise BadInput("The tasting note is empty. Say, for example, 'less sour, a touch sweeter'.")
    return Understood(steps, rest_right, taken)


def _step(clause: str) -> tuple[str, float, Mapping[str, str]]:
    """Axis and step of one clause, and the slips of the pen in it."""
    shown = clause.strip()[:60]
    clause = _TOO_MUCH.sub("too", clause)
    words = re.findall(r"[a-z]+", clause)
    named, slips = _named(words)
    if not named:
        told = next((VAGUE[w] for w in words if w in VAGUE), "")
        raise BadInput(
            f"{shown!r} does not say what to turn. {told}."
            if told
            else f"{shown!r} names nothing that can be turned. Use words such as"
            " sweet, sour, salty, aromatic, savoury, hot, thick or fatty."
        )
    word = COMPARATIVES.get(named, named)
    axis, direction = meaning(named)
    if _NOT.search(clause) and (
        "too" in words or not (_NOT_SO.search(clause) or "enough" in words)
    ):
        raise BadInput(_both_ways(shown, word, clause))
    if _TOO_FEW.search(clause):
        return axis, direction * NUDGE_STEPS["plain"], slips
    if _ENOUGH.search(clause) and not _NOT.search(clause):
        return axis, 0.0, slips
    if "less" in words or "too" in words or _NOT_SO.search(clause):
        sign = -direction
    elif named in COMPARATIVES or _TOO_LITTLE.search(clause):
        sign = direction
    elif _FINE.search(clause):
        return axis, 0.0, slips
    elif named in FAULTS:
        sign = -direction
    else:
        guess = "".join(f" ({slip!r} taken for {known!r})" for slip, known in slips.items())
        raise BadInput(
            f"{shown!r} does not say which way{guess}. Write 'too {word}', 'more {word}',"
            f" 'less {word}' or '{word} is right'."
        )
    if _AS_IT_IS.search(clause):
        sign = -sign
    size = "a touch" if _TOUCH.search(clause) else "much" if _MUCH.search(clause) else "plain"
    return axis, sign * NUDGE_STEPS[size], slips


def _both_ways(shown: str, word: str, clause: str) -> str:
    """Ask what a denial means: "not too salty" may praise or wish."""
    ways: tuple[str, ...] = ("more", "less")
    if re.search(r"\btoo\b", clause):
        ways = ("more",) if _TOO_FEW.search(clause) else ("less",)
    said = " or ".join(f"'{way} {word}'" for way in ways)
    return (
        f"{shown!r} can be meant in two ways. Is it right, or should it be"
        f" {' or '.join(ways)} {word}? Say '{word} is right'"
        f" or {said}."
    )


def _named(words: Sequence[str]) -> tuple[str, Mapping[str, str]]:
    """The word of a clause that names its axis, with the slips that had to be guessed at.

    Empty where there is none, or where slips are nearest to words of two meanings.
    """
    for known in (COMPARATIVES, FAULTS, AXIS_WORDS):
        for word in words:
            if word in known:
                return word, {}
    if any(word in VAGUE for word in words):
        return "", {}
    slips = {word: near for word in dict.fromkeys(words) if (near := nearest(word))}
    if len(set(map(meaning, slips.values()))) != 1:
        return "", {}
    return next(iter(slips.values())), slips


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
