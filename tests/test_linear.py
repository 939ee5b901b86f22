"""A labelled program checks itself and prints as algebra."""

from __future__ import annotations

import math

import numpy as np
import pytest

from balancer.errors import BadInput
from balancer.linear import LinearProgram


def _program(**changes: object) -> LinearProgram:
    parts: dict[str, object] = {
        "columns": ("sugar", "water"),
        "rows": ("batch", "sweet"),
        "matrix": np.array([[1.0, 1.0], [2.0, -0.5]]),
        "cost": np.array([0.0, 1.5]),
        "lower": np.array([0.0, -math.inf]),
        "upper": np.array([1.0, math.inf]),
        "row_lower": np.array([1.0, -math.inf]),
        "row_upper": np.array([1.0, 3.0]),
    }
    return LinearProgram(**(parts | changes))  # type: ignore[arg-type]


def test_algebra() -> None:
    assert _program().algebra() == "\n".join(
        [
            "minimise 1.5 [water]",
            "subject to",
            "  batch: 1 [sugar] + 1 [water] = 1",
            "  sweet: 2 [sugar] - 0.5 [water] <= 3",
            "bounds",
            "  0 <= [sugar] <= 1",
            "  [water] free",
        ]
    )


def test_algebra_of_nothing_and_of_whole_columns() -> None:
    text = _program(
        cost=np.zeros(2), matrix=np.zeros((2, 2)), integer=np.array([True, False])
    ).algebra()
    assert text.startswith("minimise 0\n")
    assert "batch: 0 = 1" in text
    assert "0 <= [sugar] <= 1, whole" in text


@pytest.mark.parametrize("part", ["matrix", "cost", "lower", "upper", "row_lower", "row_upper"])
def test_not_a_number_is_refused(part: str) -> None:
    array = np.array(getattr(_program(), part))
    array.flat[0] = math.nan
    with pytest.raises(BadInput, match="Check the"):
        _program(**{part: array})


def test_a_small_coefficient_keeps_its_sign() -> None:
    text = _program(matrix=np.array([[0.25, -0.5], [-3.0, 0.125]])).algebra()
    assert "batch: 0.25 [sugar] - 0.5 [water] = 1" in text
    assert "sweet: - 3 [sugar] + 0.125 [water] <= 3" in text


def test_what_is_wrong_is_named() -> None:
    with pytest.raises(BadInput, match="The column 'x' stands twice"):
        _program(columns=("a", "x", "x"))
    with pytest.raises(BadInput, match="The row 'x' stands twice"):
        _program(rows=("a", "x", "x"))
    with pytest.raises(BadInput, match="bounds of 'water' run from 2 to 1"):
        _program(lower=np.array([1.0, 2.0]), upper=np.array([1.0, 1.0]))


@pytest.mark.parametrize("what", ["columns", "rows"])
def test_a_label_stands_once(what: str) -> None:
    with pytest.raises(BadInput, match="'x' stands twice"):
        _program(**{what: ("x", "x")})


def test_a_lower_bound_over_its_upper_is_refused() -> None:
    with pytest.raises(BadInput):
        _program(lower=np.array([2.0, 0.0]), upper=np.array([1.0, 1.0]))
