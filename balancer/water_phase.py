"""The water phase of a sauce: its pH with a band, acidity, degrees Brix and water activity.

A pH is only as good as the acid figures and the published pH of what went in; so each ingredient
is carried with its four corners (acid low and high, pH low and high, the strong-ion charge found
anew in each), and the ends of the band are the worst mixtures of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from balancer.chemistry import excess_charge_weights
from balancer.composition import (
    ACIDS,
    INDEX,
    NAMES,
    Blend,
    Evidence,
    FloatArray,
    Ingredient,
    matrix,
)
from balancer.cooking import cooked
from balancer.strong_ions import Band, band, corners, with_charge, worst_charge
from balancer.titration import (
    degrees_brix,
    moisture_pct,
    titratable_acidity,
    titratable_weights,
)
from balancer.water_activity import water_activity

_WATER = INDEX["water"]


@dataclass(frozen=True, eq=False)
class Phase:
    """Ingredients as the water phase sees them, raw.

    Parameters
    ----------
    middle : array, shape (n, n_components)
        Amounts per 100 g, without NaN, strong-ion charge filled in.
    corner : array, shape (n, 4, n_components)
        The four extreme views of each.
    estimated : tuple of str
        Names of the ingredients whose strong-ion charge rests on the rule, because no pH of them
        is published.
    """

    middle: FloatArray
    corner: FloatArray
    estimated: tuple[str, ...]


@dataclass(frozen=True)
class WaterPhase:
    """What a pH meter, a burette, a refractometer and a hygrometer would read.

    Parameters
    ----------
    ph : Band or None
        pH with its ends; None without a water phase.
    brix : float
        Degrees Brix, corrected for acid [g/100 g]; about 1 low in pulpy sauces.
    acidity_pct_citric : float
        Titratable acidity as citric acid [g/100 g].
    moisture_pct : float
        Water [g/100 g].
    water_activity : float
        Water activity [1]; within 0.02 above 0.85, 0.05 below. NaN without a water phase.
    estimated : tuple of str
        Ingredients whose part in the pH rests on a rule.
    """

    ph: Band | None
    brix: float
    acidity_pct_citric: float
    moisture_pct: float
    water_activity: float
    estimated: tuple[str, ...]


@lru_cache(maxsize=4096)
def _one(ingredient: Ingredient) -> tuple[FloatArray, FloatArray, bool]:
    values = ingredient.values
    ph = np.array(ingredient.ph if ingredient.ph else (np.nan, np.nan))
    middle = with_charge(values, float(ph.mean()))
    given = not np.isnan(ingredient["strong_ion_charge"])
    wet = middle[_WATER] > 0
    return (
        middle,
        corners(values, ingredient.low, ingredient.high, ph),
        not given and ingredient.ph is None and bool(wet),
    )


def phase_of(ingredients: Sequence[Ingredient]) -> Phase:
    """Ingredients as the water phase sees them; each is worked out once."""
    parts = [_one(i) for i in ingredients]
    return Phase(
        np.stack([m for m, _, _ in parts]),
        np.stack([c for _, c, _ in parts]),
        tuple(i.name for i, (_, _, rule) in zip(ingredients, parts, strict=True) if rule),
    )


def water_phase(
    phase: Phase, grams: FloatArray, water_lost_g: float = 0.0, kept: FloatArray | None = None
) -> WaterPhase:
    """The water phase of a finished sauce.

    Parameters
    ----------
    phase : Phase
    grams : array, shape (n,)
        Edible grams before loss [g].
    water_lost_g : float
        What the scale loses in cooking [g].
    kept : array, shape (n, n_components), or None
        Shares that cooking leaves [1].
    """
    middle = cooked(phase.middle, kept)
    corner = phase.corner if kept is None else cooked(phase.corner, kept[:, None, :])
    lost = np.zeros(middle.shape[1])
    lost[_WATER] = water_lost_g
    found = band(middle, corner, grams, lost)
    total = grams @ middle / 100.0 - lost
    per_100g = total * (100.0 / (float(grams.sum()) - water_lost_g))
    dry = bool(np.isnan(found.value))
    return WaterPhase(
        None if dry else found,
        float(degrees_brix(per_100g)),
        float(titratable_acidity(per_100g)),
        float(moisture_pct(per_100g)),
        float("nan") if dry else float(water_activity(per_100g)),
        phase.estimated,
    )


def as_one(
    ingredients: Sequence[Ingredient],
    grams: FloatArray,
    water_lost_g: float = 0.0,
    kept: FloatArray | None = None,
    *,
    key: str,
    name: str,
) -> Ingredient:
    """A finished sauce as one ingredient; its pH and its acids keep their bands.

    Parameters
    ----------
    ingredients : sequence of Ingredient, length n
    grams : array, shape (n,)
        Edible grams before loss [g].
    water_lost_g : float
        What the scale loses in cooking [g].
    kept : array, shape (n, n_components), or None
        Shares that cooking leaves [1].
    key, name : str
        Of the ingredient that it becomes.
    """
    phase = phase_of(ingredients)
    blend = Blend(cooked(matrix(ingredients), kept), grams, water_lost_g)
    corner = phase.corner if kept is None else cooked(phase.corner, kept[:, None, :])
    ends = np.stack([corner.min(axis=1), corner.max(axis=1)])
    mixed = grams @ ends / blend.mass_g
    acids = np.isin(np.arange(len(NAMES)), [INDEX[a] for a in ACIDS])
    low, high = (np.where(acids, end, np.nan) for end in mixed)
    ph = water_phase(phase, grams, water_lost_g, kept).ph
    values = blend.per_100g()
    values[INDEX["strong_ion_charge"]] = 0.0 if ph is None else np.nan
    return Ingredient(
        key=key,
        name=name,
        values=values,
        low=low,
        high=high,
        evidence=tuple(Evidence.DERIVED for _ in NAMES),
        source=tuple("RULE" for _ in NAMES),
        allergens=tuple(sorted({a for i in ingredients for a in i.allergens})),
        ph=None if ph is None else (ph.low, ph.high),
    )


def ceiling_row(
    phase: Phase, kept: FloatArray | None, ph: float, ionic_strength: float
) -> tuple[FloatArray, float]:
    """The row of a pH ceiling: what 100 g of each ingredient, and of lost water, add to it.

    ``sum <= 0`` over 100 g of finished sauce holds exactly where no mixture of corners lifts the
    pH over the ceiling, at that ionic strength.

    Returns
    -------
    tuple of array, shape (n,), and float
        Charge at the ceiling [meq per 100 g].
    """
    corner = phase.corner if kept is None else cooked(phase.corner, kept[:, None, :])
    row = worst_charge(corner, ph, ionic_strength)
    return row, 100.0 * float(excess_charge_weights(ph, ionic_strength)[_WATER])


def acidity_row(phase: Phase, kept: FloatArray | None) -> tuple[FloatArray, float]:
    """Titratable acidity that 100 g of each ingredient, and of lost water, stand for.

    Returns
    -------
    tuple of array, shape (n,), and float
        Titratable acidity as citric acid [g per 100 g]; linear, so it fits a program.
    """
    weights = titratable_weights()
    return cooked(phase.middle, kept) @ weights, 100.0 * float(weights[_WATER])
