"""The spread of one lot of an ingredient: published ranges, standard errors, usual errors."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TypeAlias

import numpy as np

from balancer.composition import COMPONENTS, INDEX, NAMES, Evidence, FloatArray, Ingredient
from balancer.constants import MG_PER_G, NACL_PER_NA
from balancer.errors import DataProblem
from balancer.tables import data_directory, read_rows
from balancer.uncertainty.coefficients import (
    BORROWED_FACTOR,
    LABEL_ERROR,
    RELATIVE_ERROR,
    SAMPLES_MIN,
    TRIANGLE_DIVISOR,
)

#: Food number to component to (number of samples, standard error of the mean).
Statistics: TypeAlias = Mapping[str, Mapping[str, tuple[float, float]]]

_CHARGE = INDEX["strong_ion_charge"]
#: Grams that one unit of a component takes of 100 g; sodium brings its chloride.
_GRAMS = {c.name: {"g": 1.0, "mg": 1.0 / MG_PER_G}.get(c.unit, 0.0) for c in COMPONENTS} | {
    "sodium": NACL_PER_NA.value / MG_PER_G
}


def read_statistics(directory: Path | None = None) -> Statistics:
    """Numbers of samples and standard errors behind the food table.

    Parameters
    ----------
    directory : Path or None
        Directory of the tables; None takes the project's own.

    Raises
    ------
    DataProblem
        If the table is missing or damaged.
    """
    found: dict[str, dict[str, tuple[float, float]]] = {}
    for row in read_rows((directory or data_directory()) / "food_statistics.csv"):
        try:
            error = float(row["standard_error"] or "nan")
            found.setdefault(row["ndb"], {})[row["nutrient"]] = (float(row["samples"]), error)
        except (KeyError, TypeError, ValueError) as problem:
            raise DataProblem(
                f"food_statistics.csv is damaged near {dict(row)!r}. Rebuild it with"
                " data/rebuild.py."
            ) from problem
    return found


def sides(ingredient: Ingredient, statistics: Statistics) -> tuple[FloatArray, FloatArray]:
    """How far one lot may lie under and over the table.

    Parameters
    ----------
    ingredient : Ingredient
    statistics : Statistics
        As :func:`read_statistics` gives them; an empty mapping leaves the usual errors.

    Returns
    -------
    down, up : array, shape (n_components,)
        Standard deviation to either side [unit of each component]; 0 where nothing is known.

    References
    ----------
    1. JCGM 100:2008, Guide to the expression of uncertainty in measurement, 4.3.7 (even range),
       4.3.9 (triangle), table G.1 (90 % of a normal distribution).
    """
    down, up = np.zeros(len(NAMES)), np.zeros(len(NAMES))
    printed = statistics.get(ingredient.key[:5], {})
    for k, name in enumerate(NAMES):
        value = float(ingredient.values[k])
        if k == _CHARGE or np.isnan(value):
            continue
        label = ingredient.source[k] == "LABEL"
        usual = _usual(ingredient, k, value, printed.get(name, (0.0, np.nan)))
        down[k], up[k] = usual, usual
        low, high = float(ingredient.low[k]), float(ingredient.high[k])
        if not label and low != high:
            if not np.isnan(low):
                down[k] = max(0.0, value - low) / np.sqrt(TRIANGLE_DIVISOR.value)
            if not np.isnan(high):
                up[k] = max(0.0, high - value) / np.sqrt(TRIANGLE_DIVISOR.value)
    return down, up


def _usual(ingredient: Ingredient, k: int, value: float, printed: tuple[float, float]) -> float:
    """Standard deviation of one lot where no range is published."""
    if ingredient.source[k] == "LABEL":
        return LABEL_ERROR.value * value
    if value == 0.0 or ingredient.source[k] == "DEFINITION":
        return 0.0
    samples, error = printed
    of_the_table = ingredient.evidence[k] in (Evidence.MEASURED, Evidence.TABLE)
    if of_the_table and samples >= SAMPLES_MIN.value and error > 0.0:
        return float(error * np.sqrt(samples + 1.0))
    rest = max(0.0, 1.0 - value * _GRAMS[NAMES[k]] / 100.0)
    wider = BORROWED_FACTOR.value if ingredient.evidence[k] is Evidence.ASSUMED else 1.0
    return RELATIVE_ERROR[NAMES[k]].value * wider * value * rest
