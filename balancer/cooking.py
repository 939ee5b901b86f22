"""What the stove leaves of each ingredient: vinegar, alcohol and aroma.

Water is lost as steam, and acetic acid and alcohol leave with it; aroma is kept by when an
ingredient goes in. Sugars, salts, citric, malic, tartaric and lactic acid and capsaicin stay. What
becomes of a whole pan on the stove is worked out in ``simmering``.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from balancer.composition import INDEX, MASSES, NAMES, FloatArray
from balancer.constants import AROMA_FAMILIES
from balancer.errors import BadInput
from balancer.kitchen_constants import ALCOHOL_RETENTION, ALPHA_ACETIC, ALPHA_ETHANOL, OIL_KEPT

_WATER, _ACETIC, _ETHANOL = INDEX["water"], INDEX["acetic"], INDEX["ethanol"]
_MASSES = np.array([INDEX[m] for m in MASSES])
_AROMATIC = np.array([INDEX[c] for parts in AROMA_FAMILIES.values() for c in parts])


def kept_fraction(water_left: float, alpha: float) -> float:
    """Share of a volatile solute that stays in an open, well stirred pan (Rayleigh).

    Parameters
    ----------
    water_left : float
        Share of the water that is left, 0 to 1 [1].
    alpha : float
        Volatility beside water: its ratio in the steam over its ratio in the pan [1].

    Returns
    -------
    float
        Share kept, ``water_left ** alpha`` [1].

    References
    ----------
    1. Rayleigh. On the distillation of binary mixtures. Phil Mag 1902;4:521.

    Examples
    --------
    >>> round(kept_fraction(0.5, 0.7), 4)
    0.6156
    """
    if not 0.0 <= water_left <= 1.0:
        raise BadInput(f"The share of water left is {water_left:g}. Give a share from 0 to 1.")
    return float(water_left**alpha)


def kept_factors(when: Sequence[str], water_left: float) -> FloatArray:
    """Shares of each component that simmering leaves of each ingredient.

    Parameters
    ----------
    when : sequence of str
        When each ingredient goes in: start, late or raw.
    water_left : float
        Share of the water that is left after simmering, 0 to 1 [1].

    Returns
    -------
    array, shape (n_ingredients, n_components)
        Acetic acid and ethanol of what goes in at the start leave with the steam; volatile oil is
        kept as :func:`oil_kept` says. What goes in late or raw keeps its acid and alcohol.
    """
    out = np.stack([aroma_weights(w) for w in when])
    start = np.array([w == "start" for w in when])
    out[start, _ACETIC] = kept_fraction(water_left, ALPHA_ACETIC.value)
    out[start, _ETHANOL] = kept_fraction(water_left, ALPHA_ETHANOL.value)
    return out


def cooked(composition: FloatArray, kept: FloatArray | None) -> FloatArray:
    """What 100 g of each ingredient leave in the sauce, steam counted as if all of it were water.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN.
    kept : array, broadcastable to the same shape, or None
        Shares kept [1].

    Returns
    -------
    array, shape (..., n_components)
        The grams that left besides water are put back as water: the mass stays 100 g, and the
        loss that a scale shows is subtracted as water afterwards.
    """
    if kept is None:
        return composition
    out = composition * kept
    out[..., _WATER] += (composition - out)[..., _MASSES].sum(axis=-1)
    return np.asarray(out)


def alcohol_kept(treatment: str, minutes: float | None = None) -> float:
    """Share of alcohol left, from the table of retention factors.

    Parameters
    ----------
    treatment : str
        A treatment of ``ALCOHOL_RETENTION``.
    minutes : float or None
        Time, for those that name one; between rows it is interpolated, beyond the last held [min].

    Returns
    -------
    float
        Share kept [1]. Not all alcohol leaves: a guest who avoids it should be told.

    Raises
    ------
    BadInput
        If the treatment is not in the table, or its time is missing or negative.

    References
    ----------
    1. USDA Table of Nutrient Retention Factors, Release 6, 2007.

    Examples
    --------
    >>> alcohol_kept("simmered", 30), alcohol_kept("flamed")
    (0.35, 0.75)
    """
    rows = [r for r in ALCOHOL_RETENTION if r.treatment == treatment]
    if not rows:
        names = ", ".join(dict.fromkeys(r.treatment for r in ALCOHOL_RETENTION))
        raise BadInput(f"{treatment!r} is not in the table of alcohol kept. Use one of: {names}.")
    if len(rows) == 1:
        return rows[0].kept.value
    if minutes is None or minutes < 0:
        raise BadInput(f"Alcohol {treatment} needs its time. Give minutes of zero or more.")
    off_heat = next(r for r in ALCOHOL_RETENTION if r.minutes == 0)
    curve = [off_heat, *rows]
    at = [float(r.minutes or 0.0) for r in curve]
    return float(np.interp(minutes, at, [r.kept.value for r in curve]))


def oil_kept(when: str) -> float:
    """Share of volatile oil left at the table by when an ingredient goes in.

    Parameters
    ----------
    when : str
        start (a long simmer), late (the last minutes) or raw (off the heat).

    Returns
    -------
    float
        Share kept [1]; chosen, the literature spans 10 to 50 % for a long simmer.

    Raises
    ------
    BadInput
        If the word is none of the three.
    """
    if when not in OIL_KEPT:
        raise BadInput(f"{when!r} is no time to add. Use one of: {', '.join(OIL_KEPT)}.")
    return OIL_KEPT[when].value


def aroma_weights(when: str) -> FloatArray:
    """Factors, shape (n_components,), that turn an ingredient into what it leaves when cooked."""
    out = np.ones(len(NAMES))
    out[_AROMATIC] = oil_kept(when)
    return out
