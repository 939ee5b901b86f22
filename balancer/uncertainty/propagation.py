"""From the spread of each lot to the axes of the sauce and to its pH, first order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from balancer.chemical_constants import CHARGE_RULE, MILD_PH
from balancer.chemistry import acidity, anchor
from balancer.composition import ACIDS, INDEX, NAMES, FloatArray, Ingredient
from balancer.constants import AXES
from balancer.cooking import cooked
from balancer.errors import BadInput
from balancer.strong_ions import with_charge
from balancer.taste import axis_matrix, levels
from balancer.uncertainty.coefficients import COVERAGE, EVEN_DIVISOR, PH_SD_MIN
from balancer.uncertainty.lots import Statistics, sides

_WATER, _CHARGE = INDEX["water"], INDEX["strong_ion_charge"]
_ACIDS = np.array([INDEX[a] for a in ACIDS])
_OTHERS = np.array([i for i in range(len(NAMES)) if i not in set(_ACIDS.tolist())])


@dataclass(frozen=True)
class PhSpread:
    """How sure a pH is.

    Parameters
    ----------
    value, sd, low, high : float
        pH of the model, its standard deviation, and the ends of the 90 % band [1].
    dominant : str
        Ingredient with the largest part of the variance; empty where nothing is in doubt.
    share : float
        Its part [1].
    by_acid : bool
        Whether its acid total counts for more than its own pH.
    """

    value: float
    sd: float
    low: float
    high: float
    dominant: str
    share: float
    by_acid: bool


@dataclass(frozen=True, eq=False)
class Spread:
    """How sure the levels of a sauce are; arrays and tuples in the order of ``AXES``.

    Parameters
    ----------
    levels : array, shape (n_axes,)
        Levels [axis unit per 100 g].
    sd : array, shape (n_axes,)
        Root mean square distance of one lot from the level, same unit.
    low, high : array, shape (n_axes,)
        Ends of the 90 % band, same unit.
    dominant : tuple of str, length n_axes
        Ingredient with the largest part of the variance; empty where nothing is in doubt.
    share : array, shape (n_axes,)
        Its part [1].
    unknown : tuple of (tuple of str), length n_axes
        Ingredients of which the tables do not say what the axis asks: counted as zero.
    ph : PhSpread or None
        The same for pH; None without a water phase, and where it was not asked for.
    """

    levels: FloatArray
    sd: FloatArray
    low: FloatArray
    high: FloatArray
    dominant: tuple[str, ...]
    share: FloatArray
    unknown: tuple[tuple[str, ...], ...]
    ph: PhSpread | None


def spread(
    ingredients: Sequence[Ingredient],
    grams: FloatArray,
    water_lost_g: float,
    statistics: Statistics,
    kept: FloatArray | None = None,
    *,
    with_ph: bool = True,
) -> Spread:
    """How sure the axes and the pH of a sauce are.

    Parameters
    ----------
    ingredients : sequence of Ingredient, length n
    grams : array, shape (n,)
        Edible grams before loss [g].
    water_lost_g : float
        What the scale loses in cooking [g].
    statistics : Statistics
        As :func:`read_statistics` gives them.
    kept : array, shape (n, n_components), or None
        Shares that cooking leaves [1].
    with_ph : bool
        Whether the pH is looked at too; it takes most of the time.

    Returns
    -------
    Spread
        First order: sides of the band add as the root of squares, each by itself. Held against a
        simulation of lots in the tests.

    Raises
    ------
    BadInput
        If a quantity is negative or nothing is left.
    """
    amounts = np.asarray(grams, dtype=float)
    mass = float(amounts.sum()) - water_lost_g
    if not (amounts >= 0).all() or not mass > 0:
        raise BadInput(
            f"The batch weighs {mass:g} g with a least quantity of {amounts.min(initial=0.0):g} g."
            " Give grams of zero or more, and less water lost than went in."
        )
    share = amounts / mass
    ranges = [sides(i, statistics) for i in ingredients]
    lots = np.array(ranges).reshape(len(ingredients), 2, len(NAMES))
    middle = _middle(ingredients)
    factor = np.ones_like(middle) if kept is None else kept
    finished = share @ cooked(middle, kept)
    finished[_WATER] -= 100.0 * water_lost_g / mass

    at = levels(finished)
    weights = axis_matrix()
    moved = lots * factor[:, None, :] * share[:, None, None]
    together = moved[..., _ACIDS] @ weights[_ACIDS]
    variance = together**2 + moved[..., _OTHERS] ** 2 @ weights[_OTHERS] ** 2
    sd, below, above, who, part = _summed(variance)
    names = tuple(i.name for i in ingredients)
    return Spread(
        at,
        sd,
        np.maximum(at - below, 0.0),
        at + above,
        tuple(names[w] if s > 0 else "" for w, s in zip(who, sd, strict=True)),
        part,
        _unknown(ingredients, amounts),
        _ph_spread(ingredients, lots, middle, share, finished, kept) if with_ph else None,
    )


def _summed(
    variance: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, tuple[int, ...], FloatArray]:
    """From variances by ingredient, side and axis: sd, band to either side, the largest part."""
    total = variance.sum(axis=0)
    below, above = COVERAGE.value * np.sqrt(total)
    each = variance.mean(axis=1)
    whole = each.sum(axis=0)
    who = tuple(int(i) for i in each.argmax(axis=0))
    part = np.divide(each.max(axis=0), whole, out=np.zeros_like(whole), where=whole > 0)
    return np.sqrt(whole), below, above, who, part


def _middle(ingredients: Sequence[Ingredient]) -> FloatArray:
    values = np.stack([i.values for i in ingredients])
    return with_charge(values, np.array([np.mean(i.ph) if i.ph else np.nan for i in ingredients]))


def _unknown(ingredients: Sequence[Ingredient], grams: FloatArray) -> tuple[tuple[str, ...], ...]:
    used = axis_matrix() != 0.0
    missing = np.stack([np.isnan(i.values) for i in ingredients]) & (grams > 0)[:, None]
    blind = missing @ used
    return tuple(
        tuple(i.name for i, b in zip(ingredients, blind[:, j], strict=True) if b)
        for j in range(len(AXES))
    )


def _ph_spread(
    ingredients: Sequence[Ingredient],
    lots: FloatArray,
    middle: FloatArray,
    share: FloatArray,
    finished: FloatArray,
    kept: FloatArray | None,
) -> PhSpread | None:
    """PH with each ingredient's acid total, and its own pH, moved to one standard deviation."""
    centre = float(acidity(finished).ph)
    if np.isnan(centre):
        return None
    own = acidity(middle).ph
    given = np.array([not np.isnan(i.values[_CHARGE]) for i in ingredients])
    held = given | np.isnan(own)
    width = np.array([i.ph[1] - i.ph[0] if i.ph else np.nan for i in ingredients])
    rule = np.where(own < MILD_PH.value, CHARGE_RULE.error_sour.value, CHARGE_RULE.error_mild.value)
    doubt = np.where(
        np.isnan(width),
        rule / COVERAGE.value,
        np.maximum(width / np.sqrt(EVEN_DIVISOR.value), PH_SD_MIN.value),
    )
    doubt, own = np.where(held, 0.0, doubt), np.where(held, 4.0, own)
    views = np.repeat(middle[:, None, :], 4, axis=1)  # less acid, more acid, lower pH, higher pH
    views[:, 0, _ACIDS] -= lots[:, 0, _ACIDS]
    views[:, 1, _ACIDS] += lots[:, 1, _ACIDS]
    own_ph = own[:, None] + doubt[:, None] * np.array([0.0, 0.0, -1.0, 1.0])
    charge = anchor(views, np.clip(own_ph, 0.0, 14.0))
    views[..., _CHARGE] = np.where(held[:, None], middle[:, None, _CHARGE], charge)
    shift = cooked(views, None if kept is None else kept[:, None, :])
    shift = (shift - cooked(middle, kept)[:, None, :]) * share[:, None, None]
    off = (acidity(finished + shift).ph - centre).reshape(-1, 2, 2)
    ends = np.stack([np.maximum(-off, 0.0).max(axis=2), np.maximum(off, 0.0).max(axis=2)], axis=2)
    variance = (ends**2).sum(axis=1)
    sd, below, above, who, part = _summed(variance[:, :, None])
    by = (ends[who[0]] ** 2).sum(axis=1)
    return PhSpread(
        centre,
        float(sd[0]),
        centre - float(below[0]),
        centre + float(above[0]),
        ingredients[who[0]].name if sd[0] > 0 else "",
        float(part[0]),
        bool(by[0] >= by[1]),
    )
