"""A saved sauce at another size: what scales, what does not, and by which rule.

Taste goes by what is in 100 g, so every ingredient scales in proportion, spices too. What does not
scale is cooking: the same pan gives off the same steam a minute, and a larger pot of the same shape
has less surface for each gram.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from balancer.errors import BadInput
from balancer.kitchen_constants import SIMMER_RATE_G_MIN

#: Growth or shrinkage within which cooking is much the same [1].
MUCH_THE_SAME = 1.25
#: From this growth on, spices that simmer are held back in part (common practice, no source) [1].
HOLD_BACK_FROM, HOLD_BACK = 2.0, 0.25
#: A pan in which a sauce simmers is filled up to this share (common practice, no source) [1].
PAN_FILL = 2 / 3
#: Factors outside this range are taken for a slip [1].
SMALLEST, LARGEST = 1e-3, 1e4

#: Fields of a request that are grams of the batch.
_BATCH_FIELDS = ("yield_g", "yield_ml", "water_lost_g")
_USE_FIELDS = ("draft_g", "min_g", "max_g", "locked_g")


@dataclass(frozen=True)
class Scaled:
    """A sauce at another size.

    Parameters
    ----------
    factor : float
        New size over old [1].
    grams : mapping of str to float
        Edible quantities by the name in the request [g].
    yield_g, water_lost_g : float
        Finished mass, and the water to cook away [g].
    notes : tuple of str
        What does not scale, as sentences.
    """

    factor: float
    grams: Mapping[str, float]
    yield_g: float
    water_lost_g: float
    notes: tuple[str, ...]


def factor_to_yield(answer: Mapping[str, Any], yield_g: float) -> float:
    """Factor that makes a finished mass.

    Parameters
    ----------
    answer : mapping
        The saved answer.
    yield_g : float
        Finished mass that is wanted [g].

    Raises
    ------
    BadInput
        If the mass is not above zero, or the saved answer has no quantities.

    Examples
    --------
    >>> factor_to_yield({"final_mass_g": 250.0, "quantities_g": {"plums": 250.0}}, 1000.0)
    4.0
    """
    return _positive(yield_g, "The yield", "g") / _figure(answer, "final_mass_g")


def factor_to_servings(answer: Mapping[str, Any], servings: float, serving_g: float) -> float:
    """Factor that makes a number of servings of a size [g]; see :func:`factor_to_yield`."""
    total = _positive(servings, "The number of servings", "") * _positive(
        serving_g, "The serving", "g"
    )
    return factor_to_yield(answer, total)


def factor_to_jars(answer: Mapping[str, Any], jars: float, jar_ml: float) -> float:
    """Factor that fills a number of jars [mL each]; see :func:`factor_to_yield`."""
    total_ml = _positive(jars, "The number of jars", "") * _positive(jar_ml, "The jar", "mL")
    return total_ml / _figure(answer, "final_volume_ml")


def factor_to_pan(answer: Mapping[str, Any], pan_ml: float, lost_g: float = 0.0) -> float:
    """Largest factor that fits a pan, filled to :data:`PAN_FILL` before anything boils off.

    Parameters
    ----------
    answer : mapping
    pan_ml : float
        What the pan holds to the brim [mL].
    lost_g : float
        Water that is cooked away, see :func:`water_lost_g` [g].
    """
    start_ml = _figure(answer, "final_volume_ml") + lost_g
    return PAN_FILL * _positive(pan_ml, "The pan", "mL") / start_ml


def factor_to_use_up(
    answer: Mapping[str, Any], stock_g: Mapping[str, float]
) -> tuple[float, str, dict[str, float]]:
    """Factor that uses all there is of one ingredient.

    Parameters
    ----------
    answer : mapping
    stock_g : mapping of str to float
        Edible mass of what is there, by the name in the request [g].

    Returns
    -------
    factor : float
        Where several are given, the scarcest decides [1].
    name : str
        Which one that is.
    left_g : dict of str to float
        What is left of the others [g].

    Raises
    ------
    BadInput
        If a name is not in the sauce, or there is none of it in the sauce.

    Examples
    --------
    >>> saved = {"quantities_g": {"plums": 400.0, "sugar": 50.0}, "final_mass_g": 450.0}
    >>> factor_to_use_up(saved, {"plums": 820.0, "sugar": 500.0})
    (2.05, 'plums', {'sugar': 397.5})
    """
    if not stock_g:
        raise BadInput("Nothing is given to use up. Write it as 'plums=820'.")
    quantities = _quantities(answer)
    factors = {}
    for given, there in stock_g.items():
        name = matching(given, quantities)
        if quantities[name] <= 0:
            raise BadInput(f"There is no {name} in this sauce. Name an ingredient that is in it.")
        factors[name] = (_positive(there, f"The stock of {name}", "g") / quantities[name], there)
    scarce = min(factors, key=lambda n: factors[n][0])
    factor = factors[scarce][0]
    left = {n: there - factor * quantities[n] for n, (_, there) in factors.items() if n != scarce}
    return factor, scarce, left


def scaled(request: Mapping[str, Any], answer: Mapping[str, Any], factor: float) -> Scaled:
    """A saved sauce at another size, in the same proportions.

    Parameters
    ----------
    request, answer : mapping
        The saved request and its answer.
    factor : float
        New size over old [1].

    Raises
    ------
    BadInput
        If the factor is absurd, or the saved answer has no quantities.
    """
    checked_factor(factor)
    quantities, yield_g = _quantities(answer), _figure(answer, "final_mass_g")
    lost = water_lost_g(request, answer)
    return Scaled(
        factor,
        {name: grams * factor for name, grams in quantities.items()},
        yield_g * factor,
        lost * factor,
        tuple(_notes(request, factor, lost)),
    )


def scaled_request(
    request: Mapping[str, Any], answer: Mapping[str, Any], factor: float
) -> dict[str, Any]:
    """The request of a sauce at another size, which solves to the same proportions.

    Every mass in it scales and the saved quantities become the draft. Levels and limits are per
    100 g and stay; since the draft is the answer already, solving moves nothing.

    Parameters
    ----------
    request, answer, factor
        As for :func:`scaled`.

    Returns
    -------
    dict
        A request document; the saved one is left as it is.
    """
    checked_factor(factor)
    quantities = _quantities(answer)
    entries = []
    for entry in request["ingredients"]:
        new = {k: v for k, v in entry.items() if k != "keep_share"}
        if "keep_share" in entry:
            kept = float(entry["keep_share"]) * float(entry.get("draft_g", 0.0))
            kept = min(kept, float(entry.get("max_g", math.inf)))
            new["min_g"] = max(float(entry.get("min_g", 0.0)), kept)
        for field in _USE_FIELDS:
            if field in new:
                new[field] = float(new[field]) * factor
        if "locked_g" not in new:
            new["draft_g"] = quantities[entry["name"].strip()] * factor
        entries.append(new)
    document = {**request, "ingredients": entries}
    for field in _BATCH_FIELDS:
        if field in document:
            document[field] = float(document[field]) * factor
    simmer = document.get("simmer", {})
    if "minutes" in simmer:  # the same pan gives off the same steam a minute
        document["simmer"] = {**simmer, "minutes": float(simmer["minutes"]) * factor}
    return document


def water_lost_g(request: Mapping[str, Any], answer: Mapping[str, Any]) -> float:
    """Water that a saved sauce loses in cooking [g]; 0 where it is not cooked down.

    >>> water_lost_g({"water_lost_g": 120.0}, {"quantities_g": {"plums": 620.0}})
    120.0
    """
    if "water_lost_g" in request:
        return float(request["water_lost_g"])
    if "simmer" not in request:
        return 0.0
    return max(0.0, sum(_quantities(answer).values()) - _figure(answer, "final_mass_g"))


def checked_factor(factor: float) -> float:
    """Return a factor, or raise :class:`BadInput` if no kitchen scales by it."""
    if not SMALLEST <= factor <= LARGEST:
        raise BadInput(
            f"The new batch is {factor:.4g} times the old one. Give a size from {SMALLEST:g} to"
            f" {LARGEST:g} times."
        )
    return factor


def matching(given: str, names: Iterable[str]) -> str:
    """The name of the sauce that a cook's spelling means, capitals and spaces aside.

    Raises
    ------
    BadInput
        If there is none; the sentence lists what there is.
    """
    names = list(names)
    wanted = " ".join(given.split()).casefold()
    for name in names:
        if " ".join(name.split()).casefold() == wanted:
            return name
    shown = given if len(given) <= 40 else given[:37] + "..."
    raise BadInput(f"{shown!r} is not in this sauce. Use one of: {', '.join(names)}.")


def _notes(request: Mapping[str, Any], factor: float, lost: float) -> list[str]:
    """What does not scale."""
    notes = ["Everything scales in proportion, spices too: taste goes by what is in 100 g."]
    alike = 1 / MUCH_THE_SAME <= factor <= MUCH_THE_SAME
    if alike:
        return notes
    if lost > 0:
        minutes = lost * factor / float(SIMMER_RATE_G_MIN)
        notes.append(
            f"Cooking time is not proportional: {lost * factor:.4g} g of water has to leave. In the"
            f" same pan that takes about {factor:.2g} times as long, in a pan of the same shape and"
            f" {factor:.2g} times the volume about {factor ** (1 / 3):.2g} times; a 20 cm pan at a"
            f" gentle simmer needs about {minutes:.0f} min. Go by the weight of the pot, not by"
            " the clock."
        )
    stages = [e.get("goes_in", "start" if lost > 0 else "raw") for e in request["ingredients"]]
    if any(stage != "raw" for stage in stages) and factor >= HOLD_BACK_FROM:
        notes.append(
            "A larger pot keeps more aroma for each gram than a small one. Hold back"
            f" {100 * HOLD_BACK:.0f} % of the spices and herbs that simmer, taste, and add the rest"
            " late (common practice, no source)."
        )
    if factor > MUCH_THE_SAME:
        notes.append(
            "A larger batch cools more slowly. Divide it into shallow tubs before you chill it;"
            " local codes say how fast it has to be cold."
        )
    return notes


def _quantities(answer: Mapping[str, Any]) -> dict[str, float]:
    found = answer.get("quantities_g")
    if not found:
        raise BadInput("The sauce has no quantities. Solve it again and save the answer.")
    return {str(name): float(grams) for name, grams in found.items()}


def _figure(answer: Mapping[str, Any], field: str) -> float:
    value = answer.get(field)
    if not isinstance(value, int | float) or not value > 0:
        raise BadInput(f"The sauce has no {field}. Solve it again and save the answer.")
    return float(value)


def _positive(value: float, what: str, unit: str) -> float:
    if not (math.isfinite(value) and value > 0):
        shown = f"{value:g} {unit}".strip()
        raise BadInput(f"{what} is {shown}. Give more than zero.")
    return value
