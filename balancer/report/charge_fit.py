"""The rule for strong-ion charge where no pH is published: its fit, and each food left out.

The rule is fitted on foods with acid total, minerals and published pH so that they come to lie in
their published ranges. A miss is counted from the end of the range and in pH; beyond a tenth of a
pH it weighs by its size and no longer by its square, so that one strange food moves little. The
sum of the weighted misses is convex in the coefficients: there is one best rule.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balancer.chemical_constants import CHARGE_RULE
from balancer.chemistry import acidity, anchor
from balancer.composition import INDEX, FloatArray
from balancer.strong_ions import charge_features

_CHARGE = INDEX["strong_ion_charge"]
_SOFTNESS_PH = 0.1  # misses beyond this weigh by their size
_HALF_STEP_PH = 0.15  # over which the charge per pH of a food is taken
_START = 0.3  # every coefficient, before the first step


@dataclass(frozen=True, eq=False)
class Anchored:
    """Foods with a published pH.

    Parameters
    ----------
    keys, names : tuple of str, length n_foods
        Key and name of each.
    composition : array, shape (n_foods, n_components)
        Amounts per 100 g, without NaN; the strong-ion charge in it is not read.
    low, high : array, shape (n_foods,)
        Ends of the published pH [1].
    """

    keys: tuple[str, ...]
    names: tuple[str, ...]
    composition: FloatArray
    low: FloatArray
    high: FloatArray

    @property
    def middle(self) -> FloatArray:
        """Middle of the published pH [1]."""
        return np.asarray((self.low + self.high) / 2.0)

    def ph(self, charge: FloatArray) -> FloatArray:
        """PH with given strong-ion charges [meq per 100 g], held within the ends of the rule."""
        rows = self.composition.copy()
        shape = rows.shape[:-1]
        low, high = (
            anchor(rows, np.full(shape, end.value))
            for end in (CHARGE_RULE.ph_low, CHARGE_RULE.ph_high)
        )
        rows[..., _CHARGE] = np.clip(charge, low, high)
        return acidity(rows).ph

    def miss(self, ph: FloatArray) -> FloatArray:
        """How far a pH lies outside the published range, signed [1]."""
        return np.asarray(np.clip(ph - self.high, 0.0, None) - np.clip(self.low - ph, 0.0, None))


def _targets(foods: Anchored) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What the fit works on: features and wanted charge, both per pH, and half-ranges [pH]."""
    rows, middle = foods.composition, foods.middle
    per_ph = (anchor(rows, middle + _HALF_STEP_PH) - anchor(rows, middle - _HALF_STEP_PH)) / (
        2.0 * _HALF_STEP_PH
    )
    half = (anchor(rows, foods.high) - anchor(rows, foods.low)) / 2.0 / per_ph
    seen = rows @ charge_features()
    return seen / per_ph[:, None], anchor(rows, middle) / per_ph, half


def _cost(
    coefficients: FloatArray, seen: FloatArray, wanted: FloatArray, half: FloatArray
) -> tuple[float, FloatArray, FloatArray]:
    """Sum of softened misses with its gradient and curvature."""
    off = seen @ coefficients - wanted
    miss = np.maximum(np.abs(off) - half, 0.0)
    root = np.sqrt(1.0 + (miss / _SOFTNESS_PH) ** 2)
    gradient = seen.T @ (np.sign(off) * miss / root)
    curvature = (seen * (np.where(miss > 0, root**-3.0, 0.0))[:, None]).T @ seen
    return float(_SOFTNESS_PH**2 * (root - 1.0).sum()), gradient, curvature


def _fitted(seen: FloatArray, wanted: FloatArray, half: FloatArray) -> FloatArray:
    """Damped Newton steps to the one minimum."""
    at = np.full(seen.shape[1], _START)
    cost, gradient, curvature = _cost(at, seen, wanted, half)
    damping = 1e-3
    for _ in range(500):
        scale = np.diag(np.diag(seen.T @ seen)) * damping / len(seen)
        step = -np.linalg.solve(curvature + scale, gradient)
        new = _cost(at + step, seen, wanted, half)
        if new[0] <= cost:
            at = at + step
            cost, gradient, curvature = new
            damping = max(damping / 4.0, 1e-12)
            if float(np.abs(step).max()) < 1e-9:
                break
        else:
            damping *= 8.0
            if damping > 1e9:
                break
    return at


def fit(foods: Anchored) -> FloatArray:
    """Coefficients of the rule.

    Parameters
    ----------
    foods : Anchored
        Foods to fit on.

    Returns
    -------
    array, shape (4,)
        Coefficients of :func:`balancer.strong_ions.charge_features`: potassium, calcium with
        magnesium, protein, acid.

    References
    ----------
    1. Charbonnier P, Blanc-Feraud L, Aubert G, Barlaud M. Deterministic edge-preserving
       regularization in computed imaging. IEEE Trans Image Process 1997;6:298 (the softened
       square; details recalled).
    """
    return _fitted(*_targets(foods))


def left_out(foods: Anchored) -> FloatArray:
    """The pH of each food by the rule fitted on all the others, shape (n_foods,) [1]."""
    seen, wanted, half = _targets(foods)
    every: NDArray[np.bool_] = np.ones(len(seen), dtype=bool)
    features = foods.composition @ charge_features()
    charge = np.zeros(len(seen))
    for i in range(len(seen)):
        use = every.copy()
        use[i] = False
        charge[i] = features[i] @ _fitted(seen[use], wanted[use], half[use])
    return foods.ph(charge)
