"""Textbook linear programs and Stigler's diet against their published optima.

Sources, case by case:

- catfood2, catfood6: the blending case study in the manual of the COIN-OR PuLP library.
- alloy_plan: the PLAN example that comes with GNU GLPK; optimum also in the manual of R's Rglpk.
- feed_corn_soy: Taha, Operations Research: An Introduction, chapter 2.
- dinners: Fourer, Gay and Kernighan, AMPL, chapter 2.
- petfeed3: the Blending data of the R packages LIM and limSolve (Soetaert and others).
- feed_limestone: a textbook feed mix; two of its limits were put together from memory.
- castings: Bradley, Hax and Magnanti, Applied Mathematical Programming, ch. 1; data from memory.
- chebyshev_demo: our own construction with an exact optimum, t = 2/17.
- stigler_diet.csv: Stigler G. The Cost of Subsistence. J Farm Econ 1945;27:303, as in GLPK's
  stigler.mod; the program's optimum is 39.66 dollars in a year of 365 days.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from balancer.linear import LinearProgram
from balancer.solve import solve_linear

HERE = Path(__file__).parent


def _rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


EXAMPLES = _rows("lp_examples.csv")
CASES = sorted({r["problem"] for r in EXAMPLES})
#: Optimum is one point only, so that quantities can be compared as well as the objective.
UNIQUE = set(CASES) - {"dinners"}


def _program(case: str) -> tuple[LinearProgram, float, dict[str, float]]:
    rows = [r for r in EXAMPLES if r["problem"] == case]

    def of(kind: str) -> list[dict[str, str]]:
        return [r for r in rows if r["kind"] == kind]

    assert [r["sense_or_note"] for r in of("direction")] == ["min"]
    mentioned = of("objective") + of("coef")
    columns = tuple(dict.fromkeys(r["variable"] for r in mentioned))
    labels = tuple(r["row"] for r in of("rhs"))
    cost = np.zeros(len(columns))
    matrix = np.zeros((len(labels), len(columns)))
    for r in of("objective"):
        cost[columns.index(r["variable"])] = float(r["value"])
    for r in of("coef"):
        matrix[labels.index(r["row"]), columns.index(r["variable"])] = float(r["value"])
    lower, upper = np.zeros(len(columns)), np.full(len(columns), math.inf)
    for kind, ends in (("bound_lo", lower), ("bound_hi", upper)):
        for r in of(kind):
            ends[columns.index(r["variable"])] = float(r["value"])
    low = [-math.inf if r["sense_or_note"] == "<=" else float(r["value"]) for r in of("rhs")]
    high = [math.inf if r["sense_or_note"] == ">=" else float(r["value"]) for r in of("rhs")]
    lp = LinearProgram(columns, labels, matrix, cost, lower, upper, np.array(low), np.array(high))
    expected = {r["variable"]: float(r["value"]) for r in of("expected_x")}
    return lp, float(of("expected_objective")[0]["value"]), expected


@pytest.mark.parametrize("case", CASES)
def test_textbook(case: str) -> None:
    lp, objective, expected = _program(case)
    optimum = solve_linear(lp)
    assert optimum is not None
    assert optimum.value == pytest.approx(objective, rel=1e-6, abs=1e-9)
    inside = lp.matrix @ optimum.y
    assert (inside >= lp.row_lower - 1e-6).all()
    assert (inside <= lp.row_upper + 1e-6).all()
    if case in UNIQUE:
        for column, value in zip(lp.columns, optimum.y, strict=True):
            assert value == pytest.approx(expected.get(column, 0.0), abs=2e-3)


def test_there_are_nine() -> None:
    assert len(CASES) == 9


def test_stigler() -> None:
    """Dollars per day, the five foods that are bought, and the price of each nutrient."""
    rows = _rows("stigler_diet.csv")
    nutrients = list(rows[0])[5:]
    daily, foods = rows[0], rows[1:]
    assert len(foods) == 77
    assert len(nutrients) == 9
    matrix = np.array([[float(f[n]) for f in foods] for n in nutrients])
    lp = LinearProgram(
        tuple(f["key"] for f in foods),
        tuple(nutrients),
        matrix,
        np.ones(77),
        np.zeros(77),
        np.full(77, math.inf),
        np.array([float(daily[n]) for n in nutrients]),
        np.full(9, math.inf),
    )
    optimum = solve_linear(lp)
    assert optimum is not None
    assert optimum.value == pytest.approx(0.108662278, rel=1e-7)
    assert 365 * optimum.value == pytest.approx(39.66, abs=0.005)
    bought = {c: 365 * v for c, v in zip(lp.columns, optimum.y, strict=True) if v > 1e-9}
    yearly = sorted(bought.values())
    np.testing.assert_allclose(yearly, [0.691, 1.828, 4.093, 10.774, 22.275], atol=1e-3)
    assert bought["flour"] == pytest.approx(10.774, abs=1e-3)
    duals = {n: d for n, d in zip(nutrients, optimum.duals, strict=True) if abs(d) > 1e-9}
    expected = {
        "calories_kcal_thousands": 0.008765,
        "calcium_g": 0.031738,
        "vitamin_a_kIU": 0.000400,
        "riboflavin_mg": 0.016358,
        "ascorbic_acid_mg": 0.000144,
    }
    assert duals.keys() == expected.keys()
    for nutrient, price in expected.items():
        assert duals[nutrient] == pytest.approx(price, abs=1e-6)
