"""Fit the rule for the strong-ion charge of foods without a published pH.

    python data/fit_strong_ions.py

Reads the foods marked ``fit`` in curated/anchors.csv, prints the coefficients of
``chemical_constants.CHARGE_RULE``, and how well the rule does on each food when it is left out of
the fit. Foods, mapping and exclusions were fixed before the first fit. Forms tried: with and
without protein, phosphorus, acid and a constant, for all foods together and by group; one rule for
all with potassium, calcium with magnesium, protein and acid did best on foods left out.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import least_squares

from balancer.catalogue import Catalogue
from balancer.chemistry import acidity, anchor
from balancer.composition import INDEX, filled
from balancer.strong_ions import charge_features

HERE = Path(__file__).resolve().parent
SOFTNESS_PH = 0.1
"""Misses beyond this weigh by their size, no longer by its square."""
PH_ENDS = (2.0, 7.0)


@dataclass(frozen=True)
class Anchored:
    """The foods of the fit, one row each."""

    names: list[str]
    groups: list[str]
    composition: np.ndarray
    low: np.ndarray
    high: np.ndarray

    @property
    def middle(self) -> np.ndarray:
        """Middle of the published pH."""
        return (self.low + self.high) / 2.0

    def ph(self, charge: np.ndarray) -> np.ndarray:
        """The pH with given strong-ion charges, held within the ends."""
        rows = self.composition.copy()
        ends = [anchor(rows, np.full(len(rows), end)) for end in PH_ENDS]
        rows[:, INDEX["strong_ion_charge"]] = np.clip(charge, *ends)
        return acidity(rows).ph

    def miss(self, ph: np.ndarray) -> np.ndarray:
        """How far a pH lies outside the published range, signed."""
        return np.clip(ph - self.high, 0.0, None) - np.clip(self.low - ph, 0.0, None)


def read_anchored() -> Anchored:
    """Foods with acid total, minerals and published pH."""
    catalogue = Catalogue()
    with (HERE / "curated" / "anchors.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["use"] == "fit"]
    return Anchored(
        [row["food"] for row in rows],
        [row["group"] for row in rows],
        np.array([filled(catalogue.by_key[row["key"]].values) for row in rows]),
        np.array([float(row["ph_low"]) for row in rows]),
        np.array([float(row["ph_high"]) for row in rows]),
    )


def fit(foods: Anchored, left_out: int | None = None) -> np.ndarray:
    """Coefficients that bring the foods into their published ranges, misses counted in pH."""
    use = np.arange(len(foods.names)) != (-1 if left_out is None else left_out)
    rows, middle = foods.composition[use], foods.middle[use]
    seen, wanted = rows @ charge_features(), anchor(rows, middle)
    per_ph = (anchor(rows, middle + 0.15) - anchor(rows, middle - 0.15)) / 0.3
    half = (anchor(rows, foods.high[use]) - anchor(rows, foods.low[use])) / 2.0 / per_ph

    def miss(coefficients: np.ndarray) -> np.ndarray:
        off = (seen @ coefficients - wanted) / per_ph
        return np.sign(off) * np.maximum(np.abs(off) - half, 0.0)

    start = np.full(seen.shape[1], 0.3)
    return least_squares(miss, start, loss="soft_l1", f_scale=SOFTNESS_PH).x


def left_out(foods: Anchored) -> np.ndarray:
    """The pH of each food by the rule fitted on all the others."""
    seen = foods.composition @ charge_features()
    return foods.ph(np.array([seen[i] @ fit(foods, i) for i in range(len(foods.names))]))


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
