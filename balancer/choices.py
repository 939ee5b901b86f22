"""Practical measures of one ingredient near a weight: what another cook can fill or count.

Each list holds measures of one kind, the kind a cook would reach for: a few whole items where the
food is counted, spoons and cups where it is measured, steps of the scale for the rest. Grams
are what counts; a measure is worth the grams that the food table says it weighs.

References
----------
.. [1] USDA National Nutrient Database for Standard Reference, Release 28, file WEIGHT: weights of
   household measures.
.. [2] NIST Handbook 44, Appendix C: US customary volumes, through :mod:`balancer.units`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from balancer.errors import BadInput
from balancer.measures import (
    FINE,
    LEAST_FILL,
    WORTH_HALVING_G,
    Measure,
    count_text,
    item_words,
    kitchen_measure,
    one_g,
    volumes,
)
from balancer.numerals import fraction_text
from balancer.units import VOLUME_ML, Amount

#: Steps that a kitchen scale comes with [g] (common practice, no source).
SCALES_G = (1.0, 0.5, 0.1)
#: An item stands for a weight when it comes this near [1], and when there are this few of it.
ITEM_CLOSE, MOST_ITEMS = 0.25, 12
#: Besides its two neighbours, measures are offered up to this far from the weight, as a share of
#: it: the axes do not know ginger from garlic, so that one must not stand in for the other [1].
REACH = 0.15
#: A neighbour further off than this is offered only where it is the nearest measure there is [1].
NEIGHBOUR_REACH = 0.35
#: Steps of the scale that are offered on each side of the weight.
STEPS_ASIDE = 3
#: Volume up to which a metric kitchen takes spoons [mL]; over it, the scale.
SPOONS_UP_TO_ML = 60.0
#: A weight of fewer steps than this is badly read from a scale, so a spoon may take its place.
BADLY_READ_STEPS = 5
#: Said where the cook's scale is too coarse.
FINER = " (finer scale)"
#: A pinch, as a share of a teaspoon (common practice, no source).
PINCH = 1 / 16
#: Step of a scale in ounces [oz] (common practice, no source).
OUNCE_STEP = 0.1

#: Style to the spoons that are used, largest volume first within their range [mL].
_US = (("tsp", 0.0), ("tbsp", 14.0), ("cup", 56.0))
_METRIC = (("metric tsp", 0.0), ("metric tbsp", 14.0))
_MARKS: Mapping[str, tuple[float, ...]] = MappingProxyType(
    {
        "tsp": (1 / 8, 1 / 4, 1 / 2, 3 / 4),
        "tbsp": (1 / 2,),
        "cup": (1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4),
    }
)
#: Crystals and powders whose spoonful depends on how fine they are.
_CRYSTALS = re.compile(r"\bsalt\b|baking (soda|powder)|bicarbonate|cream of tartar", re.IGNORECASE)


class Style(StrEnum):
    """How a cook measures: metric, US customary, or by weight first."""

    METRIC = "metric"
    US = "us"
    WEIGHT = "weight"


@dataclass(frozen=True)
class Choice:
    """One practical measure of an ingredient.

    Parameters
    ----------
    grams : float
        What it weighs [g].
    text : str
        As a cook reads it.
    kind : str
        item, spoon, weight or locked.
    """

    grams: float
    text: str
    kind: str


def checked_scale(scale_g: float) -> float:
    """Return the step of a kitchen scale [g].

    Raises
    ------
    BadInput
        If it is none of :data:`SCALES_G`.

    Examples
    --------
    >>> checked_scale(0.5)
    0.5
    """
    if scale_g not in SCALES_G:
        steps = ", ".join(f"{s:g}" for s in SCALES_G)
        raise BadInput(f"The scale reads in steps of {scale_g:g} g. Give one of {steps} g.")
    return scale_g


def preferred(
    grams: float, measures: Sequence[Measure], style: Style, scale_g: float = 1.0
) -> tuple[Choice, ...]:
    """Measures of the kind a cook would reach for first.

    Parameters
    ----------
    grams : float
        Edible mass that is wanted, above zero [g].
    measures : sequence of Measure
        Household weights of the food [1]_; may be empty.
    style : Style
    scale_g : float
        Step of the scale [g].

    Returns
    -------
    tuple of Choice
        At least one, by weight.

    Examples
    --------
    >>> garlic = [Measure(1, "clove", 3.0), Measure(1, "tsp", 2.8)]
    >>> [c.text for c in preferred(8.6, garlic, Style.METRIC)]
    ['3 cloves']
    >>> [c.text for c in preferred(7.0, [Measure(1, "tsp", 6.0)], Style.US)]
    ['1 tsp', '1 1/4 tsp']
    """
    spoons = _spoons(grams, measures, style)
    if style is Style.WEIGHT:
        if grams < BADLY_READ_STEPS * scale_g and spoons:
            return tuple(sorted((*spoons, *by_weight(grams, measures, style, scale_g)), key=_mass))
        return by_weight(grams, measures, style, scale_g)
    items = _items(grams, measures)
    if items:
        return items
    return spoons or by_weight(grams, measures, style, scale_g)


def by_weight(
    grams: float, measures: Sequence[Measure], style: Style, scale_g: float = 1.0
) -> tuple[Choice, ...]:
    """Steps of the scale around a weight; a finer scale where one step would be far too much.

    Examples
    --------
    >>> [c.text for c in by_weight(4.2, (), Style.METRIC)]
    ['4 g', '5 g']
    >>> [c.text for c in by_weight(0.2, (), Style.METRIC)][0]
    '0.2 g (finer scale)'
    """
    step = scale_g
    while step > 1e-6 and grams < LEAST_FILL * step:
        step /= 10.0
    in_ounces = style is Style.US and grams >= (ounce_g := Amount(1.0, "oz").in_unit("g"))
    if in_ounces:
        step = OUNCE_STEP * ounce_g
    below = math.floor(grams / step + 1e-9)
    aside = min(STEPS_ASIDE, max(1, int(REACH * grams / step)))
    found = []
    for count in range(max(1, below - aside + 1), below + aside + 1):
        mass = round(count * step, 9)
        if in_ounces:
            text = f"{count * OUNCE_STEP:.1f} oz"
        else:
            text = f"{mass:g} g"
            beside = kitchen_measure(mass, measures) if style is Style.WEIGHT else ""
            text += f" ({beside})" if beside else ""
            text += FINER if step < scale_g else ""
        found.append(Choice(mass, text, "weight"))
    return _near(grams, found)


def crystal_note(label: str, choice: Choice) -> str:
    """A warning where a spoonful depends on the size of the crystals; empty where it does not.

    Examples
    --------
    >>> crystal_note("sea salt", Choice(6.0, "1 tsp", "spoon"))[:48]
    'sea salt: a spoonful of coarse crystals holds le'
    """
    if choice.kind != "spoon" or not _CRYSTALS.search(label):
        return ""
    return (
        f"{label}: a spoonful of coarse crystals holds less than one of fine crystals, down to half"
        f" (common practice, no source). Weigh {choice.grams:.3g} g if you can."
    )


def spoon_g(unit: str, measures: Sequence[Measure]) -> float | None:
    """Weight of one spoon or cup of a food [g]; None where none was weighed.

    A measure that was not weighed follows from the nearest in size that was.

    Parameters
    ----------
    unit : str
        A key of :data:`balancer.units.VOLUME_ML`.
    measures : sequence of Measure

    Examples
    --------
    >>> round(spoon_g("metric tbsp", [Measure(1, "tbsp", 18.0)]), 2)
    18.26
    """
    found = _weighed(measures)
    if found is None:
        return None
    return one_g(unit, found[0])


def item_weights(measures: Sequence[Measure]) -> tuple[tuple[str, float], ...]:
    """Whole items of a food: words in the singular with the edible weight of one [g].

    Examples
    --------
    >>> item_weights([Measure(1, 'fruit (2-1/8" dia)', 66.0), Measure(1, "cup, sliced", 165.0)])
    (('whole', 66.0),)
    """
    found: dict[str, float] = {}
    for measure in measures:
        if words := item_words(measure.unit_text):
            found.setdefault(" ".join(words), measure.unit_g)
    return tuple(found.items())


def _mass(choice: Choice) -> float:
    return choice.grams


def _near(grams: float, choices: Sequence[Choice]) -> tuple[Choice, ...]:
    """Those that are not too far off, and the nearest in any case."""
    nearest = min(choices, key=lambda c: abs(c.grams - grams))
    near = NEIGHBOUR_REACH * grams
    return tuple(c for c in choices if c is nearest or abs(c.grams - grams) <= near)


def _items(grams: float, measures: Sequence[Measure]) -> tuple[Choice, ...]:
    """Whole items around a weight, of each size the table knows; empty where none is near."""
    found = []
    for item, item_g in item_weights(measures):
        number = grams / item_g
        if number > MOST_ITEMS:
            continue
        step = 0.5 if item_g >= WORTH_HALVING_G else 1.0
        below = math.floor(number / step) * step
        for count in (below, below + step):
            if count > 0 and abs(count / number - 1.0) <= ITEM_CLOSE + 1e-9:
                found.append(Choice(count * item_g, count_text(count, item), "item"))
    return tuple(sorted(found, key=_mass))


def _spoons(grams: float, measures: Sequence[Measure], style: Style) -> tuple[Choice, ...]:
    """Marks of spoons and cups around a weight."""
    found = _weighed(measures)
    if found is None:
        return ()
    how = f", {found[1]}" if found[1] else ""
    units = _US if style is Style.US else _METRIC
    teaspoon = spoon_g(units[0][0], measures)
    assert teaspoon is not None
    volume_ml = grams / teaspoon * VOLUME_ML[units[0][0]]
    if style is not Style.US and volume_ml > SPOONS_UP_TO_ML:
        return ()
    unit = max((u for u in units if u[1] <= volume_ml), key=lambda u: u[1])[0]
    short = unit.removeprefix("metric ")
    spoonful = spoon_g(unit, measures)
    assert spoonful is not None
    number = grams / spoonful
    whole = math.floor(number)
    wholes = range(max(0, whole - 1), whole + 3)
    # an eighth is marked on the smallest spoon only, so it is not read beside whole spoons
    possible = {w + m for w in wholes for m in (0.0, *_MARKS[short]) if m > 1 / 8 or not (w and m)}
    marks = sorted((possible | ({PINCH} if short == "tsp" else set())) - {0.0})
    aside = [m for m in marks if abs(m / number - 1.0) <= REACH]
    around = [*[m for m in marks if m <= number][-1:], *[m for m in marks if m > number][:1]]
    if number < LEAST_FILL * PINCH:
        return ()
    offered = sorted({*aside, *around})
    return _near(
        grams, [Choice(m * spoonful, _spoon_text(m, short) + how, "spoon") for m in offered]
    )


def _spoon_text(number: float, unit: str) -> str:
    if number == PINCH:
        return "1 pinch (1/16 tsp)"
    if unit == "tsp" and number % 3 == 0:
        number, unit = number / 3, "tbsp"
    return f"{fraction_text(number)} {unit}{'s' if unit == 'cup' and number > 1 else ''}"


def _weighed(measures: Sequence[Measure]) -> tuple[dict[str, float], str] | None:
    """Spoons and cups that were weighed, filled in one way, with that way."""
    ways = {how: weights for how, weights in volumes(measures).items() if FINE.fullmatch(how)}
    if not ways:
        return None
    how = min(ways, key=lambda h: h != "")
    return ways[how], how
