"""Water activity: Norrish for sugars and acids together, times that of the salt (Ross)."""

from __future__ import annotations

import numpy as np

from balancer.chemical_constants import MOLAR_MASS, NORRISH, OSMOTIC_NACL
from balancer.composition import COMPONENTS, INDEX, FloatArray
from balancer.constants import MG_PER_G

_WATER = INDEX["water"]
_SOLUTES = np.array([INDEX[name] for name in NORRISH])
_ROOT_K = np.sqrt([k.value for k in NORRISH.values()])
_MOLES: FloatArray = np.array(
    [
        1.0 / MOLAR_MASS[n].value / (1.0 if COMPONENTS[INDEX[n]].unit == "g" else MG_PER_G)
        for n in NORRISH
    ]
)


def salt_water_activity(molality: FloatArray) -> FloatArray:
    """Water activity of sodium chloride in water.

    Parameters
    ----------
    molality : array
        Sodium chloride [mol/kg water]; beyond saturation, 6.15, the brine stays saturated.

    Returns
    -------
    array
        Water activity [1], within 0.0005 of the tables.

    References
    ----------
    1. Robinson RA, Stokes RH. Electrolyte Solutions. 2nd ed. Butterworths, 1959 (recalled).

    Examples
    --------
    >>> float(salt_water_activity(np.array(6.0)).round(3))
    0.76
    """
    at, phi = np.array(OSMOTIC_NACL).T
    m = np.clip(molality, 0.0, at[-1])
    water_kg = MOLAR_MASS["water"].value / MG_PER_G
    return np.asarray(np.exp(-2.0 * np.interp(m, at, phi) * m * water_kg))


def water_activity(composition: FloatArray) -> FloatArray:
    """Water activity of blends at 25 degrees Celsius.

    Potassium counts as one more dissolved particle beside the acid it sits with; sodium as table
    salt. Proteins, pectin and starch are taken to bind no water.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN.

    Returns
    -------
    array, shape (...)
        Water activity [1]; NaN where there is no water. Error: 0.02 above 0.85, 0.05 below. It
        reads high, by 0.02 to 0.06 in concentrated honeys and by 0.01 to 0.03 in mixtures of much
        salt and sugar: a guard band must stand before any use for safety.

    References
    ----------
    1. Norrish RS. An equation for the activity coefficients and equilibrium relative humidities of
       water in confectionery syrups. J Food Technol 1966;1:25.
    2. Ross KD. Estimation of water activity in intermediate moisture foods. Food Technol
       1975;29(3):26.
    3. Baeza R, et al. Evaluation of Norrish's equation. Food Bioprocess Technol 2010;3:87.

    Examples
    --------
    >>> syrup = np.zeros(len(INDEX)); syrup[_WATER], syrup[INDEX["sucrose"]] = 35, 65
    >>> float(water_activity(syrup).round(3))
    0.865
    """
    water = composition[..., _WATER]
    wet = water > 0
    grams = np.where(wet, water, 1.0)
    moles = composition[..., _SOLUTES] * _MOLES
    total = grams / MOLAR_MASS["water"].value + moles.sum(axis=-1)
    share = grams / MOLAR_MASS["water"].value / total
    drawn = (moles * _ROOT_K).sum(axis=-1) / total
    salt = composition[..., INDEX["sodium"]] / MOLAR_MASS["sodium"].value / grams
    found = share * np.exp(-(drawn**2)) * salt_water_activity(salt)
    return np.where(wet, found, np.nan)
