"""How acids, phosphate and protein divide among their states at a pH.

Every titratable group of the component axis as arrays, so that many blends are done at once. The
Davies term f acts on all constants together: ``log10(gamma) = -z ** 2 f`` at 25 degrees Celsius.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from balancer.chemical_constants import DAVIES, DEBYE, GROUPS, PK_WATER
from balancer.composition import ACIDS, INDEX, FloatArray

#: Place of each group on the component axis, and its moles [mmol per unit], shape (n_groups,).
ROWS = np.array([INDEX[g.component] for g in GROUPS])
MILLIMOLES: FloatArray = np.array([g.millimoles.value for g in GROUPS])
#: Groups that are small ions (protein is none), and organic acids; shape (n_groups,).
SMALL = np.array([g.component != "protein" for g in GROUPS])
ORGANIC = np.array([g.component in ACIDS for g in GROUPS])

_STEPS = np.arange(max(len(g.pka) for g in GROUPS) + 1)
_ONES = np.ones(len(_STEPS))
_LAST = np.array([len(g.pka) for g in GROUPS])
_CHARGES: FloatArray = np.array([[float(g.charge - k) for k in _STEPS] for g in GROUPS])
# Overall constant of each state; zero for states that a group does not have.
_BETA: FloatArray = np.array(
    [
        [
            10.0 ** -sum(p.value for p in g.pka[:k]) if k <= len(g.pka) else 0.0
            for k in range(len(_STEPS))
        ]
        for g in GROUPS
    ]
)
# Powers of the activity factor that occur, and which of them each state takes.
_POWERS, _POWER_OF_STATE = np.unique(_CHARGES**2 - _CHARGES[:, :1] ** 2, return_inverse=True)
_POWER_OF_STATE = _POWER_OF_STATE.reshape(_CHARGES.shape)


def activity_term(ionic_strength: ArrayLike) -> FloatArray:
    """Davies term f, with ``log10(gamma) = -z ** 2 f``.

    Parameters
    ----------
    ionic_strength : array-like
        Ionic strength, at most 0.5 [mol/kg water].

    Returns
    -------
    array
        f [1]. A conditional constant is ``pKa'_k = pKa_k - (2 k - 1) f``.

    References
    ----------
    1. Davies CW. Ion Association. Butterworths, 1962.

    Examples
    --------
    >>> float(activity_term(0.1).round(3))
    0.107
    """
    root = np.sqrt(np.asarray(ionic_strength, dtype=float))
    return np.asarray(DEBYE.value * (root / (1.0 + root) - DAVIES.value * root**2))


def _weights(ph: FloatArray, f: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Statistical weight of each state (..., n_groups, n_states), and their sum."""
    h = 10.0 ** (ph[..., None] * _STEPS)
    g = 10.0 ** (f[..., None] * _POWERS)
    share = _BETA * h[..., None, :] * g[..., _POWER_OF_STATE]
    return share, share @ _ONES


def charge_moments(ph: FloatArray, f: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean charge and mean squared charge of each group.

    Parameters
    ----------
    ph : array, shape (...)
        pH [1].
    f : array, shape (...)
        Davies term [1].

    Returns
    -------
    pair of array, shape (..., n_groups)
        Mean charge and mean of its square [1].
    """
    share, total = _weights(ph, f)
    mean = np.einsum("...gk,gk->...g", share, _CHARGES) / total
    square = np.einsum("...gk,gk->...g", share, _CHARGES**2) / total
    return mean, square


def protonated_share(ph: FloatArray, f: FloatArray) -> FloatArray:
    """Share of the molecules of each group that keep at least one proton, shape (..., n_groups)."""
    share, total = _weights(ph, f)
    last = np.broadcast_to(_LAST[:, None], (*total.shape, 1))
    return np.asarray(1.0 - np.take_along_axis(share, last, axis=-1)[..., 0] / total)


def free_ions(ph: FloatArray, f: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Concentrations of hydrogen and hydroxide ions [mol/kg water]."""
    g = 10.0**f
    return g * 10.0**-ph, g * 10.0 ** (ph - PK_WATER.value)


def mean_charges(ph: float, ionic_strength: float = 0.0) -> dict[str, float]:
    """Mean charge of each acid, phosphate and glutamate at a pH.

    Parameters
    ----------
    ph : float
        pH [1].
    ionic_strength : float
        Ionic strength [mol/kg water].

    Returns
    -------
    dict of str to float
        Component to charge, negative [1].

    Examples
    --------
    >>> round(mean_charges(4.0)["citric"], 3)
    -1.031
    """
    mean, _ = charge_moments(np.asarray(float(ph)), activity_term(ionic_strength))
    return {
        g.component: float(m) for g, m in zip(GROUPS, mean, strict=True) if g.component != "protein"
    }
