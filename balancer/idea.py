"""Suggestions, other formulas and stand-ins in words and numbers, and the next request from them.

Results hold plain values only, so that they can be kept beside a page or come from another process.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from balancer.errors import BadInput
from balancer.request import Document

#: Hypotheses that are kept with a recipe; the schema of a request says the same.
MOST_TRIED = 200
#: Quantities and levels are handed over with this many significant digits.
DIGITS = 6


@dataclass(frozen=True)
class Formula:
    """A whole sauce in grams, and how to write it as a request.

    Parameters
    ----------
    quantities_g : mapping of str to float
        As weighed, by label [g].
    added : mapping of str to str
        Label of each ingredient that is new, and the name that means it in a request.
    freed : tuple of str
        Labels whose lock had to be opened.
    target : mapping or None
        The target it was found for, as in a request; None leaves that of the request.
    """

    quantities_g: Mapping[str, float]
    added: Mapping[str, str] = field(default_factory=dict)
    freed: tuple[str, ...] = ()
    target: Mapping[str, Any] | None = None


@dataclass(frozen=True)
class Idea:
    """One ingredient, or two, that bring a sauce nearer.

    Parameters
    ----------
    names : tuple of str
        What is added, as a request names it.
    called : tuple of str
        The same as a cook reads it.
    grams : tuple of float
        How much of each [g].
    before_jnd, after_jnd : float
        Weighted deviations, summed, without it and with it [JND].
    changes_g : mapping of str to float
        What the rest gains or gives up [g].
    nearer, further, besides : mapping of str to float
        Axes that come nearer to their aim, go further from it, or move unasked [JND].
    brings : tuple of str
        Allergens that the sauce did not hold.
    evidence : tuple of str
        What its part in each axis rests on, as sentences.
    in_pantry, confirmed : bool
        Whether it is of the pantry; whether the full model confirms the ceilings.
    sentences : tuple of str
        All of it in words.
    formula : Formula
    """

    names: tuple[str, ...]
    called: tuple[str, ...]
    grams: tuple[float, ...]
    before_jnd: float
    after_jnd: float
    changes_g: Mapping[str, float]
    nearer: Mapping[str, float]
    further: Mapping[str, float]
    besides: Mapping[str, float]
    brings: tuple[str, ...]
    evidence: tuple[str, ...]
    in_pantry: bool
    confirmed: bool
    sentences: tuple[str, ...]
    formula: Formula


@dataclass(frozen=True)
class Lacking:
    """What may be missing in a sauce.

    Parameters
    ----------
    is_reached : bool
        Whether nothing is missing.
    base_jnd : float
        How far the sauce is off without any addition [JND].
    quantities_g : mapping of str to float
        The sauce without any addition [g].
    ideas, pairs : tuple of Idea
        Best first; pairs only where two do better than the best one.
    tried : tuple of str
        Names that were left out as tried and rejected.
    certificate : str
        Why nothing else can do better; empty where nothing is missing.
    breaks_limits : bool
        Whether the sauce cannot keep its limits on pH and acidity as it stands. The ideas are then
        acids with which it can, and the quantities and ``base_jnd`` leave those limits aside.
    """

    is_reached: bool
    base_jnd: float
    quantities_g: Mapping[str, float]
    ideas: tuple[Idea, ...]
    pairs: tuple[Idea, ...]
    tried: tuple[str, ...]
    certificate: str
    breaks_limits: bool = False


@dataclass(frozen=True)
class OtherWay:
    """Another formula with the same balance; ``off_jnd`` is its summed deviation [JND]."""

    formula: Formula
    off_jnd: float
    gains: tuple[str, ...]
    costs: tuple[str, ...]
    confirmed: bool


@dataclass(frozen=True)
class OtherWays:
    """The sauce as it is [g], how far it is off [JND], and other formulas beside it."""

    quantities_g: Mapping[str, float]
    off_jnd: float
    ways: tuple[OtherWay, ...]


@dataclass(frozen=True)
class StandIns:
    """What can take the place of an ingredient that ran out.

    Parameters
    ----------
    gone : str
    gone_g : float
        How much of it the sauce held [g].
    freed : tuple of str
        Labels whose lock had to be opened.
    found : Lacking
        The sauce without it, and the replacements.
    without : Formula
        The sauce without it and without a replacement.
    takes_two : bool
        Whether two together come nearer by enough to matter.
    """

    gone: str
    gone_g: float
    freed: tuple[str, ...]
    found: Lacking
    without: Formula
    takes_two: bool


def taken(document: Document, formula: Formula) -> dict[str, Any]:
    """The request with a formula as its draft.

    What the formula does not use goes, with the ratios that name it; every other wish stays.
    """
    grams = {k: float(f"{g:.{DIGITS}g}") for k, g in formula.quantities_g.items()}
    entries = []
    for entry in document["ingredients"]:
        label = entry["name"].strip()
        if label not in grams:
            continue
        if label in formula.freed:
            entry = {k: v for k, v in entry.items() if k != "locked_g"}
        held = "locked_g" in entry or "keep_share" in entry  # a share is kept of the draft given
        entries.append(entry if held else {**entry, "draft_g": grams[label]})
    late = {"goes_in": "raw"} if cooks(document) else {}  # off the heat, as it was reckoned
    entries += [{"name": n, "draft_g": grams[label], **late} for label, n in formula.added.items()]
    left = {**document, "ingredients": entries}
    if "ratios" in document:
        left["ratios"] = [
            r for r in document["ratios"] if {r["of"].strip(), r["to"].strip()} <= set(grams)
        ]
    return left if formula.target is None else {**left, "target": dict(formula.target)}


def cooks(document: Document) -> bool:
    """Whether a sauce loses water over the fire."""
    return float(document.get("water_lost_g", 0.0)) > 0 or "simmer" in document


def with_tried(document: Document, names: Iterable[str]) -> dict[str, Any]:
    """The request with further hypotheses marked as tried and rejected.

    Raises
    ------
    BadInput
        If there are too many.
    """
    kept = list(dict.fromkeys((*document.get("tried", ()), *(n.strip() for n in names))))
    if len(kept) > MOST_TRIED:
        raise BadInput(
            f"{len(kept)} names are marked as tried, over {MOST_TRIED}. Take some back first."
        )
    return {**document, "tried": kept} if kept else dict(document)


def without_tried(document: Document, name: str) -> dict[str, Any]:
    """The request with one hypothesis open again."""
    kept = [n for n in document.get("tried", ()) if n != name]
    rest = {k: v for k, v in document.items() if k != "tried"}
    return {**rest, "tried": kept} if kept else rest
