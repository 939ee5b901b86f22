"""Charge balance: composition to pH, to the strong ions behind a published pH, and to the exact
linear form of a pH ceiling.

At a given pH and ionic strength the charge of a sauce is linear in its composition, and it falls
as pH rises. So three questions have one function: pH is where the charge is nil; the strong-ion
charge of a food with a published pH is what makes it nil there; and ``pH <= P`` holds exactly where
the charge at P is not above nil. Concentrations are per kilogram of water, at 25 degrees Celsius,
with Davies activity coefficients. Buffer standards come out within 0.02 pH; for foods the error of
the tables rules: take 0.3 pH unless the food is anchored to a published pH.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from balancer.chemical_constants import (
    ION_CHARGE,
    IONIC_STRENGTH_MAX,
    MOLAR_MASS,
    WATER_PHASE_MIN_G,
)
from balancer.composition import INDEX, NAMES, FloatArray
from balancer.constants import MG_PER_G
from balancer.errors import BadInput
from balancer.ionisation import (
    MILLIMOLES,
    ORGANIC,
    ROWS,
    SMALL,
    activity_term,
    charge_moments,
    free_ions,
    protonated_share,
)

BoolArray: TypeAlias = NDArray[np.bool_]

_WATER, _CHARGE = INDEX["water"], INDEX["strong_ion_charge"]
_LN10 = np.log(10.0)
_PH_TOLERANCE, _STRENGTH_TOLERANCE = 1e-10, 1e-9
_PH_LOW, _PH_HIGH = -1.0, 15.0  # the bracket: charge is positive at one end, negative at the other

_STRONG = np.array([INDEX[ion] for ion in ION_CHARGE if ION_CHARGE[ion] > 0])
_STRONG_MMOL = np.array([1.0 / MOLAR_MASS[ion].value for ion in ION_CHARGE if ION_CHARGE[ion] > 0])
_STRONG_CHARGE = np.array([float(z) for z in ION_CHARGE.values() if z > 0])


@dataclass(frozen=True, eq=False)
class Acidity:
    """The water phase of one blend or of many.

    Parameters
    ----------
    ph : array, shape (...)
        Minus the logarithm of the hydrogen-ion activity [1]; NaN where ``no_water``.
    ionic_strength : array, shape (...)
        Ionic strength, held at 0.5 [mol/kg water].
    capped : array of bool, shape (...)
        Whether the true ionic strength is beyond Davies: brines, fish sauce, soy sauce.
    no_water : array of bool, shape (...)
        Whether there is too little water for a pH: oils, dry sugar, dry spices.
    """

    ph: FloatArray
    ionic_strength: FloatArray
    capped: BoolArray
    no_water: BoolArray


def excess_charge_weights(ph: float, ionic_strength: float) -> FloatArray:
    """Weights w with ``composition @ w = N``, the charge of 100 g held at a pH.

    Blends whose N is not above zero, and only those, have a pH not above this one (at that ionic
    strength). The same number with its sign turned is the alkali that takes them there.

    Parameters
    ----------
    ph : float
        pH of the ceiling [1].
    ionic_strength : float
        Ionic strength, at which activities are taken; above 0.5 it is held there [mol/kg water].

    Returns
    -------
    array, shape (n_components,)
        Weights [meq per unit of component].

    Raises
    ------
    BadInput
        If the pH is outside 0 to 14.

    Examples
    --------
    >>> vinegar = np.zeros(len(NAMES)); vinegar[INDEX["water"]], vinegar[INDEX["acetic"]] = 95, 5
    >>> bool(vinegar @ excess_charge_weights(4.0, 0.1) < 0)
    True
    """
    if not 0.0 <= ph <= 14.0:
        raise BadInput(f"The pH is {ph:g}. Give a pH from 0 to 14; sauces lie from 2.5 to 6.5.")
    at, f = np.asarray(float(ph)), activity_term(min(ionic_strength, IONIC_STRENGTH_MAX.value))
    out = np.zeros(len(NAMES))
    np.add.at(out, ROWS, charge_moments(at, f)[0] * MILLIMOLES)
    hydrogen, hydroxide = free_ions(at, f)
    out[_WATER] += float(hydrogen - hydroxide)
    out[_CHARGE] += 1.0
    return out


def _ionic_strength(
    composition: FloatArray, charge: FloatArray, ph: FloatArray, f: FloatArray
) -> FloatArray:
    """Ionic strength, not held [mol/kg water]; strong anions are what the cations leave over."""
    water = composition[..., _WATER]
    cations = composition[..., _STRONG] * _STRONG_MMOL
    net = cations @ _STRONG_CHARGE - charge
    anions = composition[..., ROWS] * MILLIMOLES * SMALL * charge_moments(ph, f)[1]
    hydrogen, hydroxide = free_ions(ph, f)
    doubled = (
        (cations @ _STRONG_CHARGE**2 + np.abs(net) + anions.sum(axis=-1)) / water
        + hydrogen
        + hydroxide
    )
    return np.asarray(doubled / 2.0)


def _excess(
    composition: FloatArray, charge: FloatArray, ph: FloatArray, f: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Charge of 100 g at a pH and its slope [meq, meq per pH]."""
    moles, water = composition[..., ROWS] * MILLIMOLES, composition[..., _WATER]
    mean, square = charge_moments(ph, f)
    hydrogen, hydroxide = free_ions(ph, f)
    value = charge + (moles * mean).sum(axis=-1) + (hydrogen - hydroxide) * water
    slope = -_LN10 * ((moles * (square - mean**2)).sum(axis=-1) + (hydrogen + hydroxide) * water)
    return np.asarray(value), np.asarray(slope)


def _root(
    composition: FloatArray, charge: FloatArray, start: FloatArray, f: FloatArray
) -> FloatArray:
    """PH at fixed activities: Newton's steps, halved into the bracket where they leave it."""
    ph, low, high = start.copy(), np.full_like(start, _PH_LOW), np.full_like(start, _PH_HIGH)
    left = np.arange(len(ph))
    for _ in range(200):
        old = ph[left]
        value, slope = _excess(composition[left], charge[left], old, f[left])
        low[left] = np.where(value > 0, old, low[left])
        high[left] = np.where(value > 0, high[left], old)
        new = old - value / slope
        new = np.where((new > low[left]) & (new < high[left]), new, (low[left] + high[left]) / 2.0)
        ph[left] = new
        left = left[np.abs(new - old) > _PH_TOLERANCE]
        if not left.size:
            break
    return ph


def acidity(composition: FloatArray, *, ideal: bool = False) -> Acidity:
    """The pH and ionic strength of blends.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN, strong-ion charge filled in (``strong_ions``).
    ideal : bool
        True leaves activities out; only for comparison.

    Returns
    -------
    Acidity
        Arrays of shape (...). Without a water phase pH is NaN and ``no_water`` is true.

    Raises
    ------
    BadInput
        If an amount is unknown.

    References
    ----------
    1. Staples BR, Bates RG. Two new standards for the pH scale. J Res Natl Bur Stand 1969;73A:37.

    Examples
    --------
    >>> vinegar = np.zeros(len(NAMES)); vinegar[INDEX["water"]], vinegar[INDEX["acetic"]] = 95, 5
    >>> float(acidity(vinegar).ph.round(2))
    2.41
    """
    rows = composition.reshape(-1, composition.shape[-1])
    unknown = np.isnan(rows).any(axis=0)
    if unknown.any():
        raise BadInput(
            f"The pH of a sauce was asked for while its {NAMES[int(np.argmax(unknown))]} is"
            " unknown. Fill unknown amounts first, and mark the pH as assumed."
        )
    wet = rows[:, _WATER] >= WATER_PHASE_MIN_G.value
    ph, strength = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    capped = np.zeros(len(rows), dtype=bool)
    part = rows[wet]
    charge = part[:, _CHARGE]
    at, raw = np.full(len(part), 4.0), np.zeros(len(part))
    left = np.arange(len(part))
    for _ in range(60):
        f = activity_term(np.minimum(raw[left], 0.0 if ideal else IONIC_STRENGTH_MAX.value))
        at[left] = _root(part[left], charge[left], at[left], f)
        new = _ionic_strength(part[left], charge[left], at[left], f)
        moved = np.abs(new - raw[left])
        raw[left] = new
        left = left[moved > _STRENGTH_TOLERANCE]
        if ideal or not left.size:
            break
    ph[wet], strength[wet] = at, np.minimum(raw, IONIC_STRENGTH_MAX.value)
    capped[wet] = raw > IONIC_STRENGTH_MAX.value
    shape = composition.shape[:-1]
    return Acidity(
        ph.reshape(shape), strength.reshape(shape), capped.reshape(shape), ~wet.reshape(shape)
    )


def anchor(composition: FloatArray, ph: ArrayLike) -> FloatArray:
    """Strong-ion charge with which a food has a published pH.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN; the strong-ion charge in it is not read.
    ph : array-like, shape (...)
        Published pH [1].

    Returns
    -------
    array, shape (...)
        Effective strong-ion charge; it is conserved when foods mix [meq per 100 g]. NaN without a
        water phase.

    Examples
    --------
    >>> juice = np.zeros(len(NAMES)); juice[INDEX["water"]], juice[INDEX["citric"]] = 91, 5
    >>> juice[INDEX["strong_ion_charge"]] = anchor(juice, 2.3)
    >>> float(acidity(juice).ph.round(9))
    2.3
    """
    at = np.broadcast_to(np.asarray(ph, dtype=float), composition.shape[:-1]).copy()
    wet = composition[..., _WATER] >= WATER_PHASE_MIN_G.value
    safe = composition.copy()
    safe[..., _WATER] = np.where(wet, composition[..., _WATER], 100.0)
    nothing = np.zeros(at.shape)
    f, charge = np.zeros(at.shape), np.zeros(at.shape)
    for _ in range(200):
        charge = -_excess(safe, nothing, at, f)[0]
        strength = np.minimum(_ionic_strength(safe, charge, at, f), IONIC_STRENGTH_MAX.value)
        new = activity_term(strength)
        if float(np.abs(new - f).max(initial=0.0)) < 1e-13:
            break
        f = new
    return np.where(wet, charge, np.nan)


def protonated_mmol(composition: FloatArray) -> FloatArray:
    """Hydrogen ions plus organic acid that keeps a proton, for comparing sauces of like pH.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, as for :func:`acidity`.

    Returns
    -------
    array, shape (...)
        Index [mmol/kg water]; NaN without a water phase. It ranks sauces of like pH; do not weigh
        acetic against citric acid by it gram for gram.

    References
    ----------
    1. Da Conceicao Neta ER, Johanningsmeier SD, Drake MA, McFeeters RF. A chemical basis for sour
       taste perception of acid solutions and fresh-pack dill pickles. J Food Sci 2007;72:S352.
    """
    found = acidity(composition)
    f = activity_term(found.ionic_strength)
    keeps = protonated_share(found.ph, f) * ORGANIC
    moles = (composition[..., ROWS] * MILLIMOLES * keeps).sum(axis=-1)
    return np.asarray(MG_PER_G * (moles / composition[..., _WATER] + free_ions(found.ph, f)[0]))


def buffer_value(composition: FloatArray) -> FloatArray:
    """Alkali that moves the pH by one, at constant activities, per kilogram of water.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, as for :func:`acidity`.

    Returns
    -------
    array, shape (...)
        Buffer value [mol/kg water per pH].
    """
    found = acidity(composition)
    f = activity_term(found.ionic_strength)
    slope = _excess(composition, composition[..., _CHARGE], found.ph, f)[1]
    return np.asarray(-slope / composition[..., _WATER])
