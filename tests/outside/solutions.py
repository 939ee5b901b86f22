"""Laboratory solutions as compositions, for the checks against published values."""

import csv
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from balancer.chemical_constants import MOLAR_MASS
from balancer.composition import COMPONENTS, INDEX, NAMES

HERE = Path(__file__).parent


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def vector(**amounts: float) -> np.ndarray:
    """Amounts per 100 g; what is not named is nil."""
    out = np.zeros(len(NAMES))
    for name, amount in amounts.items():
        out[INDEX[name]] = amount
    return out


def solution(acids: Mapping[str, float], charge: float = 0.0, salt: float = 0.0) -> np.ndarray:
    """Acids [mol/kg water], strong-ion charge as potassium [eq/kg], sodium chloride [mol/kg]."""
    out = vector(water=100.0, strong_ion_charge=100.0 * charge)
    for name, molality in acids.items():
        at = INDEX["phosphorus" if name == "phosphoric" else name]
        grams = molality * MOLAR_MASS[NAMES[at]].value / 10.0
        out[at] = grams * (1000.0 if COMPONENTS[at].unit == "mg" else 1.0)
    out[INDEX["potassium"]] += max(charge, 0.0) * MOLAR_MASS["potassium"].value * 100.0
    out[INDEX["sodium"]] += salt * MOLAR_MASS["sodium"].value * 100.0
    return out
