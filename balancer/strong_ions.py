"""The strong ions behind a food, and how far pH may lie to either side.

What a food table prints of minerals does not fix pH: chloride, nitrate and sulphate are missing
from most. So a food with a published pH is anchored: its effective strong-ion charge is the one
with which the model gives that pH, and being conserved on mixing it carries the pH into blends.
Where no pH is published, the charge is estimated by a rule fitted once on the anchored foods from
potassium, calcium with magnesium, protein and acid, sodium going wholly with chloride. The rule
is rough: its error stands in the band.

A pH has a band. Acid total and published pH are moved together to their ends and the food is
anchored anew at each corner, since the spread of the acids matters more than that of the pH. The
charge of a blend at a pH is a sum over ingredients, so the worst corner can be chosen for each by
itself and the band is exact: the highest pH that any choice of corners gives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from balancer.chemical_constants import (
    CHARGE_RULE,
    ION_CHARGE,
    MILD_PH,
    MOLAR_MASS,
    TITRATABLE_PROTONS,
    TYPICAL_IONIC_STRENGTH,
)
from balancer.chemistry import acidity, anchor, excess_charge_weights
from balancer.composition import ACIDS, INDEX, NAMES, FloatArray, filled
from balancer.constants import MG_PER_G
from balancer.errors import BadInput

_CHARGE, _WATER = INDEX["strong_ion_charge"], INDEX["water"]
_ACIDS = np.array([INDEX[a] for a in ACIDS])


@dataclass(frozen=True)
class Band:
    """A pH with its ends.

    Parameters
    ----------
    value, low, high : float
        Middle and ends [1]; NaN without a water phase.
    ionic_strength : float
        Ionic strength of the middle, held at 0.5 [mol/kg water].
    capped : bool
        Whether the true ionic strength is beyond the model.
    """

    value: float
    low: float
    high: float
    ionic_strength: float
    capped: bool


def charge_features() -> FloatArray:
    """What the rule sees of a composition, shape (n_components, 4).

    Returns
    -------
    array
        ``composition @ charge_features()`` are the charge of potassium and of calcium with
        magnesium [meq], protein [g] and protons of the organic acids [meq], per 100 g.
    """
    out = np.zeros((len(NAMES), 4))
    for ion, column in (("potassium", 0), ("calcium", 1), ("magnesium", 1)):
        out[INDEX[ion], column] = ION_CHARGE[ion] / MOLAR_MASS[ion].value
    out[INDEX["protein"], 2] = 1.0
    for acid in ACIDS:
        out[INDEX[acid], 3] = TITRATABLE_PROTONS[acid] / MOLAR_MASS[acid].value * MG_PER_G
    return out


def estimated_charge(composition: FloatArray) -> FloatArray:
    """Strong-ion charge of foods without a published pH.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g; what is unknown counts zero, the strong-ion charge in it is not read.

    Returns
    -------
    array, shape (...)
        Strong-ion charge, held where the pH comes out from 2 to 7 [meq per 100 g].

    References
    ----------
    1. Sinclair WB, Eny DM. The organic acids of lemon fruits. Bot Gaz 1945;107:231 (ash alkalinity
       equals acid held as salts).
    """
    known = filled(composition)
    known[..., _CHARGE] = 0.0
    rule = CHARGE_RULE
    weights = [c.value for c in (rule.potassium, rule.divalent, rule.protein, rule.acid)]
    found = known @ charge_features() @ np.array(weights)
    low, high = (
        -(known @ excess_charge_weights(end.value, TYPICAL_IONIC_STRENGTH.value))
        for end in (rule.ph_low, rule.ph_high)
    )
    return np.asarray(np.clip(found, low, high))


def with_charge(composition: FloatArray, ph: ArrayLike = np.nan) -> FloatArray:
    """Composition with its strong-ion charge filled in, ready to be mixed.

    A charge that is given stays. Otherwise the published pH decides, and without one the rule.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, NaN where unknown.
    ph : array-like, shape (...)
        Published pH, the middle of its range; NaN where there is none [1].

    Returns
    -------
    array, shape (..., n_components)
        The same amounts, what is unknown at its lower bound, strong-ion charge filled in.
    """
    out = filled(composition)
    at = np.broadcast_to(np.asarray(ph, dtype=float), out.shape[:-1])
    published = np.where(np.isnan(at), np.nan, anchor(out, np.where(np.isnan(at), 4.0, at)))
    charge = np.where(np.isnan(published), estimated_charge(out), published)
    given = composition[..., _CHARGE]
    out[..., _CHARGE] = np.where(np.isnan(given), charge, given)
    return out


def corners(
    composition: FloatArray, low: FloatArray, high: FloatArray, ph: ArrayLike = np.nan
) -> FloatArray:
    """The four extreme views of each food: acids at either end, with pH at either end.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, NaN where unknown; a strong-ion charge that is a number is held.
    low, high : array, shape (..., n_components)
        Ends of the published range, same units; NaN where none is known.
    ph : array-like, shape (..., 2)
        Ends of the published pH; NaN takes the pH of the rule and its error to both sides [1].

    Returns
    -------
    array, shape (..., 4, n_components)
        Composition at each corner, without NaN. A food without a water phase has no pH of its
        own: its acids move, its charge stays.
    """
    middle = filled(composition)
    given = ~np.isnan(composition[..., _CHARGE])
    middle[..., _CHARGE] = np.where(given, middle[..., _CHARGE], estimated_charge(middle))
    ends = []
    for end in (low, high):
        moved = middle.copy()
        moved[..., _ACIDS] = np.where(
            np.isnan(end[..., _ACIDS]), middle[..., _ACIDS], end[..., _ACIDS]
        )
        ends.append(moved)
    out = np.stack([ends[0], ends[0], ends[1], ends[1]], axis=-2)
    own = acidity(middle).ph
    error = np.where(
        own < MILD_PH.value, CHARGE_RULE.error_sour.value, CHARGE_RULE.error_mild.value
    )
    guess = np.stack([own - error, own + error], axis=-1)
    published = np.broadcast_to(np.asarray(ph, dtype=float), guess.shape)
    spread = np.where(np.isnan(published), guess, published)
    at = spread[..., [0, 1, 0, 1]]
    held = given | np.isnan(own)
    anchored = anchor(out, np.where(held[..., None], 4.0, at))
    out[..., _CHARGE] = np.where(held[..., None], middle[..., None, _CHARGE], anchored)
    return out


def worst_charge(corner: FloatArray, ph: float, ionic_strength: float, side: int = 1) -> FloatArray:
    """Largest charge of each ingredient over its corners: the row of a safe pH ceiling.

    ``grams @ worst_charge(...) <= 0`` holds exactly where no choice of corners lifts the pH of the
    blend over ``ph`` (at that ionic strength; water that is lost is subtracted by the caller).

    Parameters
    ----------
    corner : array, shape (n_ingredients, n_corners, n_components)
        Corners of each ingredient.
    ph : float
        Ceiling [1].
    ionic_strength : float
        Ionic strength of the blend [mol/kg water].
    side : int
        1 for the high end of pH, -1 for the low end.

    Returns
    -------
    array, shape (n_ingredients,)
        Charge [meq per 100 g of ingredient].
    """
    return np.asarray(side * (side * (corner @ excess_charge_weights(ph, ionic_strength))).max(1))


def band(
    middle: FloatArray, corner: FloatArray, grams: FloatArray, lost: FloatArray | None = None
) -> Band:
    """PH of a blend with its ends.

    Parameters
    ----------
    middle : array, shape (n_ingredients, n_components)
        Amounts per 100 g of each ingredient, without NaN, strong-ion charge filled in.
    corner : array, shape (n_ingredients, n_corners, n_components)
        Corners of each ingredient.
    grams : array, shape (n_ingredients,)
        Edible grams [g].
    lost : array, shape (n_components,), or None
        What cooking took from the whole batch [unit of each component].

    Returns
    -------
    Band

    Raises
    ------
    BadInput
        If nothing is left.
    """
    gone = np.zeros(middle.shape[1]) if lost is None else lost
    mass = float(grams.sum()) - float(gone[_WATER])
    if mass <= 0:
        raise BadInput(f"The batch weighs {mass:g} g. Put something in it.")

    def mixed(parts: FloatArray) -> FloatArray:
        return np.asarray((grams @ parts / 100.0 - gone) * 100.0 / mass)

    centre = acidity(mixed(middle))
    value, strength = float(centre.ph), float(centre.ionic_strength)
    ends = []
    for side in (-1, 1):
        at, chosen = value, np.full(len(grams), -1)
        for _ in range(50):
            if np.isnan(at):
                break
            charge = side * (corner @ excess_charge_weights(float(np.clip(at, 0, 14)), strength))
            best = np.argmax(charge, axis=1)
            if bool((best == chosen).all()):
                break
            chosen = best
            found = acidity(mixed(corner[np.arange(len(grams)), chosen]))
            at, strength = float(found.ph), float(found.ionic_strength)
        ends.append(at)
        strength = float(centre.ionic_strength)
    return Band(
        value,
        min(value, ends[0]),
        max(value, ends[1]),
        float(centre.ionic_strength),
        bool(centre.capped),
    )
