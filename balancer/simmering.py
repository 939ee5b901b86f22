"""A pan on the stove: boiled down by mass, by degrees Brix or by time; sugar inverted.

A batch here is the vector of all its components, ``grams @ composition / 100`` in the unit of each
component, so every step is a function from batch to batch and steps follow one another. Masses are
conserved: what leaves is named.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from balancer.chemical_constants import MOLAR_MASS
from balancer.composition import INDEX, MASSES, FloatArray
from balancer.cooking import kept_fraction
from balancer.errors import BadInput
from balancer.kitchen_constants import (
    ALPHA_ACETIC,
    ALPHA_ETHANOL,
    GAS_CONSTANT,
    INVERSION_ENERGY,
    INVERSION_RATE,
    INVERSION_RATE_KELVIN,
    ZERO_CELSIUS_K,
)
from balancer.titration import degrees_brix

_WATER, _ACETIC, _ETHANOL = INDEX["water"], INDEX["acetic"], INDEX["ethanol"]
_VOLATILE = [_ACETIC, _ETHANOL]
_MASSES = np.array([INDEX[m] for m in MASSES])
_HEXOSES_PER_SUCROSE = (MOLAR_MASS["glucose"].value + MOLAR_MASS["fructose"].value) / MOLAR_MASS[
    "sucrose"
].value


def batch(composition: FloatArray, grams: FloatArray) -> FloatArray:
    """Sum of the ingredients.

    Parameters
    ----------
    composition : array, shape (n_ingredients, n_components)
        Amounts per 100 g, without NaN.
    grams : array, shape (n_ingredients,)
        Edible grams [g].

    Returns
    -------
    array, shape (n_components,)
        What the batch holds [g, mg, meq or uL].
    """
    return np.asarray(grams @ composition / 100.0)


def boiled(total: FloatArray, water_lost_g: float) -> FloatArray:
    """Batch after water has boiled away, acetic acid and ethanol leaving with the steam.

    Parameters
    ----------
    total : array, shape (n_components,)
        The batch [g, mg, meq or uL].
    water_lost_g : float
        Water lost as steam [g].

    Returns
    -------
    array, shape (n_components,)
        The batch afterwards. Acetic acid is less volatile than water, so vinegar grows stronger
        in an open pan. Acid held as salt does not boil off: in sauces over pH 4.5 the loss is
        overstated. Ethanol follows the same relation; for stews the table in
        :func:`balancer.cooking.alcohol_kept` is the better guide.

    Raises
    ------
    BadInput
        If the loss is negative or more than the water in the batch.
    """
    water = float(total[_WATER])
    if not 0.0 <= water_lost_g <= water * (1 + 1e-12):
        raise BadInput(
            f"The water lost is {water_lost_g:g} g, but the batch holds {water:.4g} g of water."
            " Give a loss between zero and that."
        )
    out = total.copy()
    left = max(0.0, 1.0 - water_lost_g / water) if water > 0 else 1.0
    out[_WATER] = water - water_lost_g
    out[_ACETIC] *= kept_fraction(left, ALPHA_ACETIC.value)
    out[_ETHANOL] *= kept_fraction(left, ALPHA_ETHANOL.value)
    return out


def lost_g(before: FloatArray, after: FloatArray) -> float:
    """Mass that left the batch between two states: water, acetic acid, ethanol [g]."""
    return float((before - after)[_MASSES].sum())


def water_lost_to_mass(total: FloatArray, start_g: float, finish_g: float) -> float:
    """Water to boil away until the pot weighs a given mass.

    Parameters
    ----------
    total : array, shape (n_components,)
        The batch [g, mg, meq or uL].
    start_g, finish_g : float
        Mass at the start, and wanted [g].

    Returns
    -------
    float
        Water lost; acetic acid and ethanol make up the rest of the difference [g].

    Raises
    ------
    BadInput
        If the wanted mass is above the start, or below what stays when the water is gone.
    """
    need = start_g - finish_g
    most = lost_g(total, boiled(total, float(total[_WATER])))
    if need < 0 or need > most:
        raise BadInput(
            f"Simmering {start_g:.4g} g cannot give {finish_g:.4g} g: it can lose from 0 to"
            f" {most:.4g} g. Ask for {start_g - most:.4g} to {start_g:.4g} g, or add water."
        )
    return _bisect(lambda w: lost_g(total, boiled(total, w)) - need, float(total[_WATER]))


def share_left(
    composition: FloatArray, grams: FloatArray, when: Sequence[str], scale_loss_g: float
) -> float:
    """Share of the water that is left when the scale has lost what it shall lose.

    Acid and alcohol of what goes in at the start are part of that loss; what goes in later keeps
    its own, and its water counts as if it had been there.

    Parameters
    ----------
    composition : array, shape (n_ingredients, n_components)
        Amounts per 100 g, without NaN.
    grams : array, shape (n_ingredients,)
        Edible grams before loss [g].
    when : sequence of str
        When each ingredient goes in: start, late or raw.
    scale_loss_g : float
        What the scale loses; more than can be lost leaves none [g].

    Returns
    -------
    float
        Share left, 1 where there is no water [1].
    """
    total = batch(composition, grams)
    start = np.array([w == "start" for w in when])
    total[_VOLATILE] = batch(composition[start], grams[start])[_VOLATILE]
    water = float(total[_WATER])
    if water <= 0:
        return 1.0
    lost = min(scale_loss_g, lost_g(total, boiled(total, water)))
    return max(0.0, 1.0 - water_lost_to_mass(total, lost, 0.0) / water)


def water_lost_to_brix(total: FloatArray, brix: float) -> float:
    """Water to boil away until the liquid reads given degrees Brix.

    Parameters
    ----------
    total : array, shape (n_components,)
        The batch [g, mg, meq or uL].
    brix : float
        Wanted reading of a refractometer, no acid correction [degrees Brix].

    Returns
    -------
    float
        Water lost [g]. Where nothing else is volatile the mass of the liquid follows
        ``M1 = M0 B0 / B1``.

    Raises
    ------
    BadInput
        If the batch reads more already, or if no boiling reaches the reading.

    Examples
    --------
    >>> pan = np.zeros(len(INDEX)); pan[INDEX["water"]], pan[INDEX["sucrose"]] = 880, 120
    >>> round(water_lost_to_brix(pan, 30.0), 6)
    600.0
    """
    most = float(total[_WATER])
    now, top = _reading(total), _reading(boiled(total, most))
    if not now <= brix <= top:
        raise BadInput(
            f"Simmering cannot bring the batch to {brix:g} degrees Brix: it reads {now:.3g} now and"
            f" {top:.3g} with all water gone. Ask for a figure between, or change the sugar."
        )
    return _bisect(lambda w: _reading(boiled(total, w)) - brix, most)


def _reading(total: FloatArray) -> float:
    return float(degrees_brix(total, corrected=False))


def _bisect(rising: Callable[[float], float], top: float) -> float:
    low, high = 0.0, top
    for _ in range(200):
        middle = (low + high) / 2.0
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
        if high - low <= 1e-12 * max(1.0, top):
            break
    return (low + high) / 2.0


def inversion_rate(ph: float, celsius: float) -> float:
    """First-order rate at which sucrose splits into glucose and fructose.

    Parameters
    ----------
    ph : float
        pH [1].
    celsius : float
        Temperature, 0 to 125 [degrees Celsius].

    Returns
    -------
    float
        Rate [1/min]; within about 20 % of factory practice from pH 3 to 5.

    Raises
    ------
    BadInput
        If the temperature is outside 0 to 125.

    References
    ----------
    1. Proc R Soc, kinetic salt effects in the inversion of sucrose (rate at 24.7 C).
    2. Vukov K. Kinetic aspects of sucrose hydrolysis. Int Sugar J 1965;67:172 (independent).

    Examples
    --------
    >>> round(float(np.log(2)) / inversion_rate(3.0, 100.0), 1)
    15.0
    """
    if not 0.0 <= celsius <= 125.0:
        raise BadInput(f"The temperature is {celsius:g} degrees Celsius. Give one from 0 to 125.")
    inverse = 1.0 / INVERSION_RATE_KELVIN.value - 1.0 / (celsius + ZERO_CELSIUS_K)
    warm = np.exp(INVERSION_ENERGY.value / GAS_CONSTANT.value * inverse)
    return float(INVERSION_RATE.value * 10.0**-ph * warm)


def inverted(total: FloatArray, ph: float, celsius: float, minutes: float) -> FloatArray:
    """Batch after some of its sucrose has become glucose and fructose.

    Parameters
    ----------
    total : array, shape (n_components,)
        The batch [g, mg, meq or uL].
    ph : float
        pH while it is hot [1].
    celsius : float
        Temperature [degrees Celsius].
    minutes : float
        Time, zero or more [min].

    Returns
    -------
    array, shape (n_components,)
        The batch afterwards; mass is conserved, the water that is bound leaves the water.

    Raises
    ------
    BadInput
        If the time is negative or the temperature outside 0 to 125.
    """
    if minutes < 0:
        raise BadInput(f"The time is {minutes:g} min. Give zero or more.")
    out = total.copy()
    gone = float(total[INDEX["sucrose"]]) * -np.expm1(-inversion_rate(ph, celsius) * minutes)
    moles = gone / MOLAR_MASS["sucrose"].value
    out[INDEX["sucrose"]] -= gone
    out[INDEX["glucose"]] += moles * MOLAR_MASS["glucose"].value
    out[INDEX["fructose"]] += moles * MOLAR_MASS["fructose"].value
    out[_WATER] -= gone * (_HEXOSES_PER_SUCROSE - 1.0)
    return out
