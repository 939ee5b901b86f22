"""A labelled linear program: arrays that check themselves and print as algebra."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.errors import BadInput


@dataclass(frozen=True, eq=False)
class LinearProgram:
    """Minimise ``cost @ y`` with ``row_lower <= matrix @ y <= row_upper`` and bounds on y.

    Parameters
    ----------
    columns, rows : tuple of str
        Labels, each used once.
    matrix : array, shape (n_rows, n_columns)
    cost, lower, upper : array, shape (n_columns,)
    row_lower, row_upper : array, shape (n_rows,)
    integer : array of bool, shape (n_columns,), or None
        Columns that must be whole.

    Raises
    ------
    BadInput
        If a number is NaN, a label is used twice, or a lower bound exceeds its upper.
    """

    columns: tuple[str, ...]
    rows: tuple[str, ...]
    matrix: FloatArray
    cost: FloatArray
    lower: FloatArray
    upper: FloatArray
    row_lower: FloatArray
    row_upper: FloatArray
    integer: NDArray[np.bool_] | None = None

    def __post_init__(self) -> None:
        for what, labels in (("column", self.columns), ("row", self.rows)):
            if len(set(labels)) != len(labels):
                double = next(x for x in labels if labels.count(x) > 1)
                raise BadInput(f"The {what} {double!r} stands twice in the program.")
        for array in (self.matrix, self.cost, self.lower, self.upper):
            if np.isnan(array).any():
                raise BadInput("The program holds a number that is not known. Check the tables.")
        if (self.lower > self.upper).any():
            j = int(np.argmax(self.lower > self.upper))
            raise BadInput(
                f"The bounds of {self.columns[j]!r} run from {self.lower[j]:g} to"
                f" {self.upper[j]:g}. Put the lower end first."
            )
        if np.isnan(self.row_lower).any() or np.isnan(self.row_upper).any():
            raise BadInput("A limit of the program is not a number. Check the request.")

    def algebra(self, digits: int = 4) -> str:
        """Print the program as readable algebra, one line per row and bound."""
        lines = [f"minimise {_terms(self.cost, self.columns, digits)}", "subject to"]
        for label, row, low, high in zip(
            self.rows, self.matrix, self.row_lower, self.row_upper, strict=True
        ):
            lines.append(f"  {label}: {_between(_terms(row, self.columns, digits), low, high)}")
        lines.append("bounds")
        whole = self.integer if self.integer is not None else np.zeros(len(self.columns), bool)
        for label, low, high, is_whole in zip(
            self.columns, self.lower, self.upper, whole, strict=True
        ):
            suffix = ", whole" if is_whole else ""
            lines.append(f"  {_between(f'[{label}]', low, high)}{suffix}")
        return "\n".join(lines)


def _terms(row: FloatArray, labels: tuple[str, ...], digits: int) -> str:
    parts = [
        f"{'-' if c < 0 else '+'} {abs(c):.{digits}g} [{label}]"
        for c, label in zip(row, labels, strict=True)
        if c != 0
    ]
    return " ".join(parts).removeprefix("+ ") or "0"


def _between(text: str, low: float, high: float) -> str:
    if low == high:
        return f"{text} = {low:.6g}"
    left = f"{low:.6g} <= " if math.isfinite(low) else ""
    right = f" <= {high:.6g}" if math.isfinite(high) else ""
    return f"{left}{text}{right}" if left or right else f"{text} free"
