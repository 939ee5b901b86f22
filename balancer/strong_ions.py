"""The strong ions behind a food, and how far pH may lie to either side.

What a food table prints of minerals does not fix pH: chloride, nitrate and sulphate are missing
from most. So a food with a published pH is anchored: its effective strong-ion charge is the one
with which the model gives that pH, and being conserved on mixing it carries the pH into blends.
Where no pH is published, the charge is estimated from potassium, calcium and magnesium, less the
chloride and other strong anions that foods of its group were found to hold, sodium going wholly
with chloride.

A pH has a band. Acid total and published pH are moved together to their ends and the food is
anchored anew at each corner, since the spread of the acids matters more than that of the pH. The
charge of a blend at a pH is a sum over ingredients, so the worst corner can be chosen for each by
itself and the band is exact: the highest pH that any choice of corners gives.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from balancer.chemical_constants import CHARGE_RULES, ION_CHARGE, MOLAR_MASS, ChargeRule
from balancer.chemistry import acidity, anchor, excess_charge_weights
from balancer.composition import ACIDS, INDEX, FloatArray, filled
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


def rule_of(group: str) -> ChargeRule:
    """Rule of a group of foods: fruit, vegetable, dairy, or anything else.

    Examples
    --------
    >>> rule_of("fruit").group, rule_of("gum").group
    ('fruit', 'other')
    """
    return next((r for r in CHARGE_RULES if r.group == group), CHARGE_RULES[-1])


def estimated_charge(composition: FloatArray, rule: ChargeRule) -> FloatArray:
    """Strong-ion charge from minerals.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g; an unknown mineral counts zero.
    rule : ChargeRule
        Share of each cation that is not paired with a strong anion.

    Returns
    -------
    array, shape (...)
        Strong-ion charge [meq per 100 g].

    References
    ----------
    1. Sinclair WB, Eny DM. The organic acids of lemon fruits. Bot Gaz 1945;107:231 (ash alkalinity
       equals acid held as salts).
    """
    known = filled(composition)
    parts = (
        known[..., INDEX[ion]] * ION_CHARGE[ion] / MOLAR_MASS[ion].value * share.value
        for ion, share in rule.shares.items()
    )
    return np.asarray(sum(parts, start=np.zeros(known.shape[:-1])))


def with_charge(composition: FloatArray, rule: ChargeRule, ph: float | None = None) -> FloatArray:
    """Composition with its strong-ion charge filled in.

    A charge that is given stays. Otherwise the published pH decides, and without one the minerals.

    Parameters
    ----------
    composition : array, shape (n_components,)
        Amounts per 100 g, NaN where unknown.
    rule : ChargeRule
        For foods without a published pH.
    ph : float or None
        Published pH, the middle of its range [1].

    Returns
    -------
    array, shape (n_components,)
        The same amounts; strong-ion charge is a number [meq per 100 g].
    """
    out = np.array(composition, dtype=float)
    if not np.isnan(out[_CHARGE]):
        return out
    charge = float("nan") if ph is None else float(anchor(filled(out), ph))
    out[_CHARGE] = float(estimated_charge(out, rule)) if np.isnan(charge) else charge
    return out


def corners(
    composition: FloatArray,
    low: FloatArray,
    high: FloatArray,
    rule: ChargeRule,
    ph: tuple[float, float] | None = None,
) -> FloatArray:
    """The four extreme views of one food: acids at either end, with pH or charge at either end.

    Parameters
    ----------
    composition : array, shape (n_components,)
        Amounts per 100 g, NaN where unknown; the strong-ion charge, if it is a number, is held.
    low, high : array, shape (n_components,)
        Ends of the published range, same units; NaN where none is known.
    rule : ChargeRule
        Its error stands in where there is no published pH.
    ph : tuple of float or None
        Ends of the published pH [1].

    Returns
    -------
    array, shape (4, n_components)
        Composition at each corner, without NaN.
    """
    middle = filled(composition)
    ends = []
    for end in (low, high):
        moved = middle.copy()
        known = ~np.isnan(end[_ACIDS])
        moved[_ACIDS[known]] = end[_ACIDS[known]]
        ends.append(moved)
    out = np.stack([ends[0], ends[0], ends[1], ends[1]])
    if not np.isnan(composition[_CHARGE]):
        return out
    if ph is not None and not np.isnan(anchor(middle, ph[0])):
        out[:, _CHARGE] = anchor(out, np.array([ph[0], ph[1], ph[0], ph[1]]))
    else:
        charge = float(estimated_charge(composition, rule))
        out[:, _CHARGE] = charge + charge * rule.error.value * np.array([-1.0, 1.0, -1.0, 1.0])
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
