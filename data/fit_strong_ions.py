"""Fit the rule for the strong-ion charge of foods without a published pH.

    python data/fit_strong_ions.py

Reads the foods marked ``fit`` in pantry_ph.csv, prints the coefficients of
``chemical_constants.CHARGE_RULE``, and how well the rule does on each food when it is left out of
the fit. Foods, mapping and exclusions were fixed before the first fit. Forms tried: with and
without protein, phosphorus, acid and a constant, for all foods together and by group; one rule for
all with potassium, calcium with magnesium, protein and acid did best on foods left out.
"""

from __future__ import annotations

import numpy as np

from balancer.catalogue import default_catalogue
from balancer.report.charge_fit import Anchored, fit, left_out
from balancer.report.survey import read_fitted


def read_anchored() -> Anchored:
    """Foods with acid total, minerals and published pH."""
    return read_fitted(default_catalogue())


def report(foods: Anchored, ph: np.ndarray, worst: int = 10) -> str:
    """Share of foods near their published range, and those furthest from it."""
    miss, sour = np.abs(foods.miss(ph)), foods.middle < 5.0
    lines = []
    for label, which in (("under pH 5", sour), ("pH 5 and over", ~sour)):
        near = 100.0 * np.mean(miss[which] <= 0.3)
        lines.append(
            f"{label}: {which.sum()} foods, {near:.0f} % within 0.3 of the published range,"
            f" median miss {np.median(miss[which]):.3f}"
        )
    off = np.abs(ph - foods.middle)
    for label, which in (("under pH 5", ph < 5.0), ("pH 5 and over", ph >= 5.0)):
        lines.append(f"rule gives {label}: nine in ten within {np.quantile(off[which], 0.9):.2f}")
    lines += [
        f"  {foods.names[i]}: {ph[i]:.2f}, published {foods.low[i]:g} to {foods.high[i]:g}"
        for i in np.argsort(-miss)[:worst]
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    anchored = read_anchored()
    print("potassium, divalent, protein, acid:", np.round(fit(anchored), 3))
    print(report(anchored, left_out(anchored)))
