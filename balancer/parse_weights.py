"""What an amount of an ingredient weighs: household weights first, volumes of the parts second.

Spoons, cups and items are looked up among the household weights of the food table; the measure
whose wording is nearest to the cook's line counts. Where the table has none, the volume is the sum
of the volumes of the parts, which is right for liquids and too heavy for what holds air. A knob and
a splash have no table: those are rough figures of common practice, and are marked so.

References
----------
.. [1] USDA National Nutrient Database for Standard Reference, Release 28, file WEIGHT.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from types import MappingProxyType

from balancer.catalogue import Catalogue
from balancer.composition import INDEX, SUGARS, Ingredient, filled, specific_volume
from balancer.measures import Measure
from balancer.parse_amounts import Quantity
from balancer.search import plain
from balancer.units import VOLUME_ML, Amount

#: How far a weight can be trusted, by how it was found [1]; chosen.
WEIGHED, MEASURED, NEAR_MEASURE, COUNTED, BY_PARTS, AIRY, ROUGH, NONE = (
    1.0, 0.9, 0.8, 0.75, 0.7, 0.4, 0.3, 0.0,
)  # fmt: skip
#: Taken off where the line itself says "about" [1]; chosen.
ABOUT = 0.9
#: No spoon is smaller; a volume of nothing is compared as this [mL].
LEAST_ML = 1e-9
#: Volumes of small doses [mL]: US spoons; a dessertspoon and a drop by common practice, no source.
_DOSES_ML: Mapping[str, float] = MappingProxyType(
    {
        "pinch": VOLUME_ML["tsp"] / 16,
        "dash": VOLUME_ML["tsp"] / 8,
        "smidgen": VOLUME_ML["tsp"] / 32,
        "dessertspoon": 10.0,
        "drop": 0.05,
        "splash": VOLUME_ML["tsp"],
        "drizzle": VOLUME_ML["tbsp"],
        "glug": VOLUME_ML["tbsp"] * 1.5,
    }
)
_LOOSE_DOSES = ("pinch", "dash", "smidgen", "drop", "splash", "drizzle", "glug")
#: Weight of one [g] where the table has no such measure; common practice, no source.
_ROUGH_G: Mapping[tuple[str, str], float] = MappingProxyType(
    {
        ("knob", "ginger"): 20.0,
        ("thumb", "ginger"): 20.0,
        ("piece", "ginger"): 20.0,
        ("inch", "ginger"): 12.0,
        ("cm", "ginger"): 5.0,
        ("knob", "butter"): 15.0,
        ("", "shallots"): 25.0,
        ("", "bay leaf"): 0.2,
        ("leaf", "bay leaf"): 0.2,
        ("", "cloves"): 0.1,
        ("", "star anise"): 1.5,
        ("", "cardamom"): 0.2,
        ("pod", "cardamom"): 0.2,
        ("stick", "cinnamon"): 4.0,
        ("inch", "cinnamon"): 1.3,
        ("head", "garlic"): 40.0,
        ("bulb", "garlic"): 40.0,
        ("stalk", "lemongrass"): 15.0,
        ("sprig", "thyme"): 0.8,
        ("sprig", "rosemary"): 1.5,
        ("bunch", ""): 50.0,
        ("handful", ""): 15.0,
    }
)
#: Weight of one pod [g]; from memory, no source. Pods differ severalfold, so a cook looks at it.
_POD_G: Mapping[str, float] = MappingProxyType(
    {"bird's eye chilli": 2.0, "habanero": 10.0, "scotch bonnet": 10.0}
)
#: Weight of a level teaspoon [g] where the table has none of this form; from memory, no source.
#: Chopped fresh leaves are taken as the table has them for thyme and rosemary.
_TSP_G: Mapping[str, float] = MappingProxyType(
    {
        "chilli flakes": 1.8,
        "gochugaru": 2.3,
        "yellow mustard seed": 3.3,
        "fresh marjoram": 0.8,
        "fresh oregano": 0.8,
        "fresh sage": 0.8,
        "fresh tarragon": 0.8,
    }
)
#: A syrup pours: at least so much water, and so much water and sugar together [g/100 g]; chosen.
SYRUP_WATER, SYRUP_IN_ALL = 15.0, 90.0
_VOLUME = re.compile(
    r"(?P<unit>tsp|teaspoons?|tbsp|tablespoons?|cups?|fl oz|ml)\b[\s,.]*(?P<how>.*)", re.IGNORECASE
)
_NOT_A_MEASURE = re.compile(r"\b(nlea|servings?|packets?|yields?|prepared|package)\b", re.I)
_FILLINGS = re.compile(r"|packed|ground|chopped|sliced|diced|chopped or \w+|whole|grated|chunks")
#: Size of one where no size is said, if not medium; common practice, no source.
_USUAL_SIZE: Mapping[str, str] = MappingProxyType({"eggs": "large"})
_ITEMS = frozenset({"fruit", "whole", "item", "each", "pepper", "root"})
_SIZES = ("medium", "", "large", "small", "extra")


@dataclass(frozen=True)
class Weight:
    """What an amount weighs.

    Parameters
    ----------
    low_g, high_g : float
        Ends of the range [g]; equal where the line gives one number. NaN where unknown.
    how : str
        What it rests on, in words.
    trust : float
        0 (none) to 1 (weighed); chosen by the way it was found.
    """

    low_g: float
    high_g: float
    how: str
    trust: float

    @property
    def grams(self) -> float:
        """The middle [g]."""
        return 0.5 * (self.low_g + self.high_g)


UNKNOWN = Weight(math.nan, math.nan, "", NONE)


@cache
def _factor(unit: str, into: str) -> float:
    return Amount(1.0, unit).in_unit(into)


def weigh(quantity: Quantity, ingredient: Ingredient, words: str, catalogue: Catalogue) -> Weight:
    """Turn an amount of an ingredient into grams.

    Parameters
    ----------
    quantity : Quantity
    ingredient : Ingredient
    words : str
        The whole line; "chopped" in it picks the weight of a chopped cup.
    catalogue : Catalogue
        Where household weights are looked up.

    Returns
    -------
    Weight
        Edible mass; NaN where nothing says what it weighs.
    """
    if quantity.is_mass:
        unit_g, how, trust = _factor(quantity.unit, "g"), "weighed", WEIGHED
    else:
        unit_g, how, trust = _of_one(quantity, ingredient, words, catalogue)
    if math.isnan(unit_g):
        return UNKNOWN
    trust *= 1.0 if quantity.sure else ABOUT
    return Weight(quantity.low * unit_g, quantity.high * unit_g, how, trust)


def _of_one(
    quantity: Quantity, ingredient: Ingredient, words: str, catalogue: Catalogue
) -> tuple[float, str, float]:
    """Weight of one of the unit [g], what it rests on, and how far it can be trusted."""
    unit = quantity.unit
    if unit == "dash" and (dash := _item(quantity, ingredient, words, catalogue)):
        return dash
    if unit in _DOSES_ML:
        unit_g, how, trust = _by_volume(_DOSES_ML[unit], quantity, ingredient, words, catalogue)
        return (
            unit_g,
            f"a {unit} of {_DOSES_ML[unit]:.2g} mL; {how}",
            (min(trust, ROUGH) if unit in _LOOSE_DOSES else trust),
        )
    if unit and unit in VOLUME_ML:
        return _by_volume(VOLUME_ML[unit], quantity, ingredient, words, catalogue)
    if unit in ("mL", "cL", "dL", "L", "pint", "quart", "gallon"):
        ml = _factor(unit, "mL")
        return _by_volume(ml, quantity, ingredient, words, catalogue)
    if found := _item(quantity, ingredient, words, catalogue):
        return found
    for name in (ingredient.name, ingredient.name.split()[-1], ""):
        if (unit, name) in _ROUGH_G:
            rough = _ROUGH_G[unit, name]
            said = f"{unit} of {ingredient.name}" if unit else ingredient.name
            return rough, f"one {said} taken as {rough:g} g, common practice", ROUGH
    if unit in ("", "pod", "whole", "piece") and ingredient.name in _POD_G:
        pod_g = _POD_G[ingredient.name]
        return pod_g, f"one {ingredient.name} taken as {pod_g:g} g, from memory", ROUGH
    return math.nan, "", NONE


@dataclass(frozen=True)
class _Volume:
    """A household measure by volume: its unit, how it is filled, and what it weighs."""

    unit: str
    unit_ml: float
    in_all_ml: float
    how: frozenset[str]
    plainly: bool
    grams: float
    said: str


@lru_cache(maxsize=4096)
def _volumes(catalogue: Catalogue, key: str) -> tuple[_Volume, ...]:
    """Measures by volume of a food."""
    found = []
    for row in catalogue.measures(key):
        text = re.sub(r"\bor \d+ packets?\b", "", _bare(row.unit_text)).strip()
        match = _VOLUME.fullmatch(text)
        if match is None or _NOT_A_MEASURE.search(match["how"]):
            continue
        unit = match["unit"].lower().removesuffix("s")
        unit = {"teaspoon": "tsp", "tablespoon": "tbsp", "ml": "mL"}.get(unit, unit)
        how = frozenset(w for w in plain(match["how"]).split() if not w[0].isdigit())
        plainly = _FILLINGS.fullmatch(plain(match["how"])) is not None
        ml = VOLUME_ML.get(unit, 1.0)
        found.append(_Volume(unit, ml, row.amount * ml, how, plainly, row.grams, _said(row)))
    return tuple(found)


def _by_volume(
    ml: float, quantity: Quantity, ingredient: Ingredient, words: str, catalogue: Catalogue
) -> tuple[float, str, float]:
    """Weight of one unit [g], by the measure nearest in wording, then in unit, then in size."""
    rows = _volumes(catalogue, ingredient.key)
    if not rows and ingredient.name in _TSP_G:
        tsp_g = _TSP_G[ingredient.name]
        how = f"1 tsp of {ingredient.name} taken as {tsp_g:g} g, from memory"
        return tsp_g * ml / VOLUME_ML["tsp"], how, ROUGH
    if not rows:
        return _by_parts(ml, ingredient)
    line = set(plain(words).split()) - set(plain(ingredient.name).split())
    in_all_ml = ml * 0.5 * (quantity.low + quantity.high)
    near_ml = ml if quantity.unit in VOLUME_ML or quantity.unit in _DOSES_ML else in_all_ml
    near_ml, in_all_ml = max(near_ml, LEAST_ML), max(in_all_ml, LEAST_ML)

    def rank(row: _Volume) -> tuple[int, bool, bool, float, float]:
        unit_off = abs(math.log(row.unit_ml / near_ml))
        size_off = abs(math.log(row.in_all_ml / in_all_ml))
        return -len(row.how & line), bool(row.how), not row.plainly, unit_off, size_off

    best = min(rows, key=rank)
    said_so = not best.how or bool(best.how & line)
    trust = MEASURED if best.unit == quantity.unit and said_so else NEAR_MEASURE
    how = f"household weight: {best.said}"
    return best.grams * ml / best.in_all_ml, how, trust if said_so else COUNTED


def _by_parts(ml: float, ingredient: Ingredient) -> tuple[float, str, float]:
    """Weight from the volumes of the parts [g]; trusted for what pours."""
    values = filled(ingredient.values)
    volume = float(specific_volume(values))
    if volume <= 0:
        return math.nan, "", NONE
    g_per_ml = 100.0 / volume
    liquid = values[INDEX["water"]] + values[INDEX["ethanol"]]
    sugars = sum(values[INDEX[name]] for name in SUGARS)
    syrup = liquid >= SYRUP_WATER and liquid + sugars >= SYRUP_IN_ALL
    pours = liquid > 60 or values[INDEX["fat"]] > 80 or syrup
    pours = pours and values[INDEX["fibre"]] < 1
    how = f"volumes of its parts: {g_per_ml:.3g} g/mL" + ("" if pours else ", no air counted")
    return ml * g_per_ml, how, BY_PARTS if pours else AIRY


def _item(
    quantity: Quantity, ingredient: Ingredient, words: str, catalogue: Catalogue
) -> tuple[float, str, float] | None:
    """One clove, one large onion, one lime: from measures that name an item."""
    line = set(plain(words).split()) | set(plain(ingredient.name).split())
    unit = plain(quantity.unit)
    found: list[tuple[tuple[int, int], Measure]] = []
    for row in catalogue.measures(ingredient.key):
        text = plain(re.split(r"[\"(]", row.unit_text)[0])
        said = ["leaf" if w == "leave" else w for w in text.split()]
        if not said or _VOLUME.match(row.unit_text) or _NOT_A_MEASURE.search(text):
            continue
        size = next((s for s in said if s in _SIZES), "")
        rest = [w for w in said if w not in _SIZES]
        if unit and unit not in rest:
            continue
        others = [w for w in rest if w != unit and w not in _ITEMS and w not in line]
        if others or (not unit and "slice" in rest) or (not unit and "wedge" in rest):
            continue
        wanted = quantity.size or next((s for s in _SIZES if s and s in line), "")
        wanted = wanted or _USUAL_SIZE.get(ingredient.name, "")
        place = 0 if wanted and size == wanted else 1 + _SIZES.index(size)
        if wanted and size and size != wanted:
            place += len(_SIZES)
        named = -sum(w in line for w in rest if w != unit)
        found.append(((place, named), row))
    if not found:
        return None
    (place, _), best = min(found, key=lambda pair: pair[0])
    sized = quantity.size and place != 0
    return (
        best.grams / best.amount,
        f"household weight: {_said(best)}",
        (COUNTED * ABOUT if sized else COUNTED),
    )


def yield_of(ingredient: Ingredient, catalogue: Catalogue) -> tuple[float, str] | None:
    """What one fruit yields of its juice [g], from "lime yields" and its like; None if unknown."""
    for row in catalogue.measures(ingredient.key):
        if re.fullmatch(r"(?:\w+ )?yields", row.unit_text) and "wedge" not in row.unit_text:
            return row.grams / row.amount, f"household weight: {_said(row)}"
    return None


def _said(row: Measure) -> str:
    return f"{row.amount:g} {row.unit_text} = {row.grams:g} g"


def _bare(text: str) -> str:
    return re.sub(r"\([^)]*(\)|$)", "", text).strip()
