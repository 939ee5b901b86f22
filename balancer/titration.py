"""Titratable acidity, degrees Brix, sugar:acid ratio, BrimA, salt and moisture of a sauce.

What a laboratory would read off the finished sauce, each with its error.
"""

from __future__ import annotations

import numpy as np

from balancer.chemical_constants import (
    BRIMA_K,
    BRIX_CORRECTION,
    MOLAR_MASS,
    REFRACTION_ACID,
    REFRACTION_ASH,
    SOUR_END_PH,
    TITRATABLE_PROTONS,
    TITRATION_END_PH,
)
from balancer.chemistry import excess_charge_weights
from balancer.composition import ACIDS, INDEX, SUGARS, FloatArray
from balancer.constants import MG_PER_G, NACL_PER_NA
from balancer.errors import BadInput

_ACIDS = np.array([INDEX[a] for a in ACIDS])
_SUGARS = np.array([INDEX[s] for s in SUGARS])


def equivalent_weight_g(acid: str) -> float:
    """Grams of an acid that take one milliequivalent of alkali.

    Parameters
    ----------
    acid : str
        citric, citric monohydrate, malic, tartaric, lactic, acetic, oxalic, succinic, quinic or
        gluconic.

    Returns
    -------
    float
        Factor [g/meq].

    Raises
    ------
    BadInput
        If titratable acidity is not stated as this acid.

    References
    ----------
    1. AOAC Official Method 942.15, Acidity (titratable) of fruit products: the same factors,
       rounded.

    Examples
    --------
    >>> round(equivalent_weight_g("malic"), 3)
    0.067
    """
    if acid not in TITRATABLE_PROTONS:
        raise BadInput(
            f"Titratable acidity is not stated as {acid!r}. Use one of: "
            f"{', '.join(TITRATABLE_PROTONS)}."
        )
    return MOLAR_MASS[acid].value / TITRATABLE_PROTONS[acid] / MG_PER_G


def titratable_weights(
    acid: str = "citric", ionic_strength: float = 0.1, end_ph: float = TITRATION_END_PH.value
) -> FloatArray:
    """Weights w with ``composition @ w`` the titratable acidity: linear, so it fits a program.

    Parameters
    ----------
    acid : str
        Acid it is stated as.
    ionic_strength : float
        Ionic strength at the end point [mol/kg water].
    end_ph : float
        End point [1].

    Returns
    -------
    array, shape (n_components,)
        Grams of acid per 100 g, for each unit of component.
    """
    return -excess_charge_weights(end_ph, ionic_strength) * equivalent_weight_g(acid)


def titratable_acidity(
    composition: FloatArray, acid: str = "citric", end_ph: float = TITRATION_END_PH.value
) -> FloatArray:
    """Acid that a titration to the end point finds.

    Acid held as salt is not found; phosphate and protein are found in part, as in the laboratory.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN, strong-ion charge filled in.
    acid : str
        Acid it is stated as.
    end_ph : float
        End point [1].

    Returns
    -------
    array, shape (...)
        Titratable acidity [g per 100 g], zero where the sauce is beyond the end point. Error: that
        of the acid table, commonly 15 %; the model itself adds under 2 %.

    References
    ----------
    1. AOAC 942.15; ISO 750:1998 (end point pH 8.1).

    Examples
    --------
    >>> vinegar = np.zeros(len(INDEX)); vinegar[INDEX["water"]], vinegar[INDEX["acetic"]] = 95, 5
    >>> float(titratable_acidity(vinegar, "acetic").round(2))
    5.0
    """
    found = composition @ titratable_weights(acid, end_ph=end_ph)
    return np.asarray(np.maximum(found, 0.0))


def sour_level(composition: FloatArray) -> FloatArray:
    """Acid free to be sour: titrated up to pH 5.5, as citric acid.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, as for :func:`titratable_acidity`.

    Returns
    -------
    array, shape (...)
        Sourness [g citric eq. per 100 g]. It counts out what is held as salt, which the sour axis
        does not, and orders acids as handbook tables of equal sourness do (0.17 rms in the
        logarithm). Display only.

    References
    ----------
    1. Ganzevles PGJ, Kroeze JHA. The sour taste of acids. Chem Senses 1987;12:563 (alkali needed
       to reach a fixed pH ranks acids by sourness; details recalled).
    """
    weights = excess_charge_weights(SOUR_END_PH.value, 0.0)
    return np.asarray(np.maximum(composition @ weights / weights[INDEX["citric"]], 0.0))


def degrees_brix(composition: FloatArray, *, corrected: bool = True) -> FloatArray:
    """Soluble solids of the liquid of a sauce.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN.
    corrected : bool
        True adds the acid correction to what a refractometer would read.

    Returns
    -------
    array, shape (...)
        Degrees Brix, grams per 100 g of liquid (fat, fibre, starch and protein left out); NaN
        where there is no liquid. Error: 1 degree under 30, 3 above. Soluble solids that the tables
        do not name (pectin, peptides) make it read low in pulpy fruit, by about 1 degree.

    References
    ----------
    1. Acid correction table of the citrus juice industry, in the range of 0 to 30 % anhydrous
       citric acid.

    Examples
    --------
    >>> syrup = np.zeros(len(INDEX)); syrup[INDEX["water"]], syrup[INDEX["sucrose"]] = 40, 60
    >>> float(degrees_brix(syrup))
    60.0
    """
    sugars = composition[..., _SUGARS].sum(-1)
    acids = composition[..., _ACIDS].sum(-1)
    ash = composition[..., INDEX["ash"]]
    liquid = sugars + acids + ash + composition[..., INDEX["water"]]
    liquid = liquid + composition[..., INDEX["ethanol"]]
    with np.errstate(invalid="ignore", divide="ignore"):
        read = (sugars + REFRACTION_ACID.value * acids + REFRACTION_ASH.value * ash) * 100 / liquid
        acid_pct = acids * 100.0 / liquid
    return np.asarray(read + acid_correction(acid_pct) if corrected else read)


def acid_correction(citric_pct: FloatArray) -> FloatArray:
    """Degrees Brix to add to a refractometer's reading for its acid.

    Parameters
    ----------
    citric_pct : array
        Acid as anhydrous citric, 0 to 30 [g per 100 g].

    Returns
    -------
    array
        Correction [degrees Brix].

    Examples
    --------
    >>> float(acid_correction(np.array(5.0)))
    0.97
    """
    at, add = np.array(BRIX_CORRECTION).T
    return np.asarray(np.interp(citric_pct, at, add))


def sugar_acid_ratio(brix: FloatArray, acidity_pct: FloatArray) -> FloatArray:
    """Degrees Brix over titratable acidity, the maturity ratio of fruit; NaN without acid.

    Parameters
    ----------
    brix : array
        Soluble solids [degrees Brix].
    acidity_pct : array
        Titratable acidity as citric acid [g per 100 g].

    Returns
    -------
    array
        Ratio [1]. It does not add up in a mixture; :func:`brima` does.

    References
    ----------
    1. 7 CFR 51.1178, maturity of Florida oranges.

    Examples
    --------
    >>> float(sugar_acid_ratio(np.array(9.0), np.array(0.947)).round(1))
    9.5
    """
    acid = np.asarray(acidity_pct, dtype=float)
    none = np.full(np.broadcast(brix, acid).shape, np.nan)
    np.divide(brix, acid, out=none, where=acid > 0)
    return none


def brima(brix: FloatArray, acidity_pct: FloatArray, k: float = BRIMA_K.value) -> FloatArray:
    """Brix minus k times acid; linear, and nearer to liking than the ratio.

    Parameters
    ----------
    brix : array
        Soluble solids [degrees Brix].
    acidity_pct : array
        Titratable acidity [g per 100 g].
    k : float
        Weight of acid: 5 common, 4 grapes, 3 to 4 oranges [1].

    Returns
    -------
    array
        BrimA [degrees Brix].

    References
    ----------
    1. Jordan RB, Seelye RJ, McGlone VA. A sensory-based alternative to brix/acid ratio. Food
       Technol 2001;55(6):36.

    Examples
    --------
    >>> round(float(brima(np.array(12.0), np.array(0.8), 4.0)), 9)
    8.8
    """
    return np.asarray(brix - k * acidity_pct)


def salt_pct(composition: FloatArray) -> FloatArray:
    """Sodium counted as table salt [g per 100 g]; error that of the table, commonly 10 %."""
    return np.asarray(composition[..., INDEX["sodium"]] * NACL_PER_NA.value / MG_PER_G)


def moisture_pct(composition: FloatArray) -> FloatArray:
    """Water [g per 100 g]; error about 2 g, that of the table and of what the stove took."""
    return np.asarray(composition[..., INDEX["water"]])
