"""Household measures: what a spoon, a cup or one fruit weighs, and how a weight is shown.

Grams are what counts; a measure stands beside them and never takes their place.

References
----------
.. [1] USDA National Nutrient Database for Standard Reference, Release 28, file WEIGHT: weights of
   household measures.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from balancer.errors import BadInput
from balancer.numerals import fraction_text, nearest, neighbours
from balancer.units import VOLUME_ML

#: A measure that comes this near is as good as exact [1]; spoons are not filled better.
CLOSE = 0.05
#: Less than this part of the smallest measure is not measured with it [1].
LEAST_FILL = 0.75
#: A spoon that comes no nearer than this is said as between two marks [1].
ROUGH = 0.15
#: Weight from which one item is worth halving [g].
WORTH_HALVING_G = 20.0
#: More whole items than this are not halved, and more than that are measured by the cup.
MOST_HALVED, MOST_ITEMS = 6, 24
#: Grams below which a step of the scale is enough: (below [g], step [g]); above the last, 1 g.
SCALE_STEPS = ((0.1, 0.001), (1.0, 0.01), (10.0, 0.1), (100.0, 0.5))

#: Spoon or cup to the fractions it comes in and the largest sensible number of it.
_UTENSILS: Mapping[str, tuple[tuple[float, ...], float]] = MappingProxyType(
    {
        "tsp": ((1 / 8, 1 / 4, 1 / 2, 3 / 4), 6.0),
        "tbsp": ((1 / 3, 1 / 2, 2 / 3), 8.0),
        "cup": ((1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4), math.inf),
    }
)
#: Ways to fill a utensil that leave no gaps to speak of, so that one utensil stands for another.
FINE = re.compile("|packed|unpacked|chopped.*|ground|grated|minced|crushed|shredded|mashed|puree")
_VOLUME = re.compile(
    r"(?P<unit>tsp|teaspoons?|tbsp|tablespoons?|cups?|fl oz)\b[\s,.]*(?P<how>.*)", re.IGNORECASE
)
_SAME_UNIT = MappingProxyType({"teaspoon": "tsp", "tablespoon": "tbsp"})
#: Words that say the measure is a helping or a pack, which says nothing about a kitchen.
_NOT_A_MEASURE = re.compile(r"\b(nlea|servings?|packets?|yields?|prepared)\b", re.IGNORECASE)
_ITEM_WORD = re.compile(
    "extra|small|medium|large|whole|fruit|clove|leaf|sprig|pepper|pod|stalk|head|bulb|root|leek"
    "|lime|lemon|orange|onion|shallot|scallion|tomato|plum|fig|date|olive|apricot"
    "|potato|carrot|beet|radish|mushroom|egg|yolk|fillet|anchovy|eggplant|ear|spear|pickle"
)
_PLURALS = MappingProxyType({"leaf": "leaves", "leaves": "leaf", "anchovy": "anchovies"})


@dataclass(frozen=True)
class Measure:
    """Weight of a household measure of one food.

    Parameters
    ----------
    amount : float
        How many of the unit were weighed [1].
    unit_text : str
        The unit as the table words it, such as ``tbsp`` or ``cup, chopped``.
    grams : float
        What they weigh [g].

    Raises
    ------
    BadInput
        If the amount or the weight is not above zero.
    """

    amount: float
    unit_text: str
    grams: float

    def __post_init__(self) -> None:
        for value, unit in ((self.amount, self.unit_text), (self.grams, "g")):
            if not (math.isfinite(value) and value > 0):
                raise BadInput(
                    f"The measure {self.unit_text!r} has {value:g} {unit}."
                    " Give an amount and a weight above zero."
                )

    @property
    def unit_g(self) -> float:
        """Weight of one of the unit [g]."""
        return self.grams / self.amount


@dataclass(frozen=True)
class _Choice:
    text: str
    error: float
    varies: bool = False


def volumes(measures: Sequence[Measure]) -> dict[str, dict[str, float]]:
    """Spoons and cups that were weighed: way of filling to unit to the weight of one [g].

    Examples
    --------
    >>> volumes([Measure(2, "tbsp, chopped", 6.0), Measure(1, "fruit", 60.0)])
    {'chopped': {'tbsp': 3.0}}
    """
    found: dict[str, dict[str, float]] = {}
    for measure in measures:
        text = re.sub(r"\bor \d+ packets?\b", "", _without_brackets(measure.unit_text)).strip()
        match = _VOLUME.fullmatch(text)
        if match is None or _NOT_A_MEASURE.search(match["how"]):
            continue
        unit = match["unit"].lower().removesuffix("s")
        weights = found.setdefault(match["how"].strip(" ,.").lower(), {})
        weights.setdefault(_SAME_UNIT.get(unit, unit), measure.unit_g)
    return found


def one_g(unit: str, weights: Mapping[str, float]) -> float:
    """Weight of one spoon or cup, from the measure nearest in size if it was not weighed [g]."""
    near = min(weights, key=lambda u: abs(math.log(VOLUME_ML[u] / VOLUME_ML[unit])))
    return weights[near] * VOLUME_ML[unit] / VOLUME_ML[near]


def item_words(unit_text: str) -> tuple[str, ...]:
    """A whole item in the words of the table, each in the singular; empty for what is none.

    Examples
    --------
    >>> item_words('cloves'), item_words('fruit (2-1/8" dia)'), item_words("cup, sliced")
    (('clove',), ('whole',), ())
    """
    words = [_singular(w) for w in _without_brackets(unit_text).lower().split()]
    if not all(_ITEM_WORD.fullmatch(word) for word in words):
        return ()
    return tuple("whole" if word == "fruit" else word for word in words)


def count_text(number: float, item: str) -> str:
    """Write a number of items as a cook does.

    >>> count_text(3, "clove"), count_text(1.5, "medium"), count_text(2, "leaf")
    ('3 cloves', '1 1/2 medium', '2 leaves')
    """
    last = item.split()[-1]
    if number > 1 and last not in ("small", "medium", "large", "whole"):
        plural = _PLURALS.get(last, last + ("es" if last.endswith(("o", "sh")) else "s"))
        item = item.removesuffix(last) + plural
    return f"{fraction_text(number)} {item}"


def kitchen_measure(grams: float, measures: Sequence[Measure]) -> str:
    """Say a weight in spoons, cups or whole items.

    Whole items come first where they fit, then spoons for little and cups for much. Within 5 % the
    measure stands as it is; else, and for whole items, which differ in size, it says "about".

    Parameters
    ----------
    grams : float
        Edible mass [g].
    measures : sequence of Measure
        The household measures of that food [1]_; other units than spoons, cups and items are
        passed over.

    Returns
    -------
    str
        For example ``2 1/2 tsp``; empty where no measure fits.

    Examples
    --------
    >>> salt = [Measure(1, "tsp", 6.0), Measure(1, "tbsp", 18.0), Measure(1, "cup", 292.0)]
    >>> kitchen_measure(15.0, salt)
    '2 1/2 tsp'
    >>> kitchen_measure(0.5, salt)
    'less than 1/8 tsp'
    >>> kitchen_measure(200.0, [Measure(1, 'fruit (2-1/8" dia)', 66.0)])
    'about 3 whole'
    """
    if not (math.isfinite(grams) and grams > 0):
        return ""
    choices = [*_items(grams, measures), *_volumes(grams, measures)]
    if not choices:
        return ""
    best = next((c for c in choices if c.error <= CLOSE), min(choices, key=lambda c: c.error))
    return best.text if best.error <= CLOSE and not best.varies else f"about {best.text}"


def scale_step(grams: float) -> float:
    """Return the step in which a weight is shown [g]: finer for less.

    >>> scale_step(0.5), scale_step(3.2), scale_step(35.0), scale_step(120.0)
    (0.01, 0.1, 0.5, 1.0)
    """
    return next((step for below, step in SCALE_STEPS if grams < below), 1.0)


def weight_text(grams: float) -> str:
    """Write a weight in the digits its size deserves, without its unit.

    >>> weight_text(0.456), weight_text(4.56), weight_text(45.6), weight_text(456.7)
    ('0.46', '4.6', '45.5', '457')
    """
    step = scale_step(grams)
    return f"{round(grams / step) * step:.{_decimals(step)}f}"


def shown_grams(grams: Sequence[float]) -> tuple[float, ...]:
    """Round weights to what a scale shows, so that they still add up.

    Each is rounded to its own :func:`scale_step`. Those of the coarsest step go up or down by less
    than that step, by the largest remainder, so that the sum of what is shown is the true sum to
    half that step, wherever such roundings can reach it. Small weights are never moved for the
    sake of the sum, and nothing that is there is shown as zero.

    Parameters
    ----------
    grams : sequence of float
        Edible masses [g], all above zero.

    Returns
    -------
    tuple of float
        Shown masses [g], same order.

    Examples
    --------
    >>> shown_grams([100.4, 200.4, 199.2])
    (101.0, 200.0, 199.0)
    """
    if not grams:
        return ()
    steps = [scale_step(g) for g in grams]
    counts = [max(round(g / s), 1) for g, s in zip(grams, steps, strict=True)]
    coarse = max(steps)
    movable = [i for i, s in enumerate(steps) if s == coarse]
    for i in movable:
        counts[i] = math.floor(grams[i] / coarse)
    missing = math.fsum(grams) - math.fsum(c * s for c, s in zip(counts, steps, strict=True))
    by_remainder = sorted(movable, key=lambda i: counts[i] - grams[i] / coarse)
    for i in by_remainder[: max(round(missing / coarse), 0)]:
        counts[i] += 1
    return tuple(round(max(c, 1) * s, _decimals(s)) for c, s in zip(counts, steps, strict=True))


def _decimals(step: float) -> int:
    return max(0, math.ceil(-math.log10(step) - 1e-9))


def _items(grams: float, measures: Sequence[Measure]) -> list[_Choice]:
    """Whole items that come near the weight; middle sizes first, then by nearness."""
    found = []
    for measure in measures:
        words = item_words(measure.unit_text)
        if not words:
            continue
        number = grams / measure.unit_g
        halves = measure.unit_g >= WORTH_HALVING_G and number < MOST_HALVED
        if number > MOST_ITEMS or number < (0.4 if halves else 0.7):
            continue
        whole = nearest(number, (1 / 2,) if halves else ())
        choice = _Choice(count_text(whole, " ".join(words)), abs(whole / number - 1.0), varies=True)
        found.append((bool({"extra", "small", "large"} & set(words)), choice))
    return [choice for _, choice in sorted(found, key=lambda pair: (pair[0], pair[1].error))]


def _volumes(grams: float, measures: Sequence[Measure]) -> list[_Choice]:
    """Spoons and cups, the most fitting utensil first."""
    found = volumes(measures)
    if not found:
        return []
    how = min(found, key=lambda h: (h != "", FINE.fullmatch(h) is None))
    weights = found[how]
    choices = []
    for unit in _utensils(grams, weights):
        if unit not in weights and not FINE.fullmatch(how):
            continue
        fractions, most = _UTENSILS[unit]
        number = grams / one_g(unit, weights)
        if unit == "tsp" and number < min(fractions) * LEAST_FILL:
            return [_Choice("less than 1/8 tsp", 0.0)]
        if number > most * (1.0 + CLOSE) or number < min(fractions) * LEAST_FILL:
            continue
        near = nearest(number, fractions)
        error = abs(near / number - 1.0)
        said = fraction_text(near)
        if error > ROUGH:
            said = " to ".join(fraction_text(n) for n in neighbours(number, fractions) if n > 0)
        text = f"{said} {unit}{'s' if unit == 'cup' and near > 1 else ''}"
        choices.append(_Choice(f"{text}, {how}" if how else text, error))
    return choices


def _utensils(grams: float, weights: Mapping[str, float]) -> tuple[str, ...]:
    """Order the utensils by how well they suit the volume: tablespoons up to a quarter cup."""
    least = 1.0 - CLOSE
    if grams < one_g("tbsp", weights) * least:
        return ("tsp", "cup")
    if grams < one_g("cup", weights) / 4 * least:
        return ("tbsp", "tsp", "cup")
    return ("cup", "tbsp", "tsp")


def _without_brackets(text: str) -> str:
    return re.sub(r"\([^)]*(\)|$)", "", text).strip()


def _singular(word: str) -> str:
    word = word.strip(",.")
    if word in _PLURALS:
        return _PLURALS[word] if word.endswith("s") else word
    return word[:-1] if word.endswith("s") and _ITEM_WORD.fullmatch(word[:-1]) else word
