"""The only caller of a solver: from a problem to grams, checked against what was asked.

HiGHS is kept warm between the stages of one problem: the model is passed once, then costs and
bounds change and the simplex method goes on from where it stood.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import highspy
import numpy as np

from balancer.composition import Blend, FloatArray
from balancer.constants import AXIS, AXIS_NAMES, STAGE_SLACK
from balancer.errors import BadInput, NoSolution
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import Program, build
from balancer.requirements import Requirement, aim_ends
from balancer.taste import levels as axis_levels

#: A limit counts as kept within this share of its size, or this much of its unit.
CHECK_TOLERANCE = 1e-5
#: ... and a row is never taken for smaller than this share of its largest coefficient.
LEAST_SIZE = 0.1
#: A deviation counts as none when it is less than this [JND].
ZERO_JND = 1e-5


class Status(StrEnum):
    """How a problem ended."""

    ON_TARGET = "on_target"
    NEAREST = "nearest"
    INFEASIBLE = "infeasible"
    REPORT = "report"


@dataclass(frozen=True, eq=False)
class Optimum:
    """What a solver says of one linear program.

    Parameters
    ----------
    value : float
        Objective.
    y : array, shape (n_columns,)
    duals : array, shape (n_rows,)
        Change of the objective per unit of each row's active end.
    """

    value: float
    y: FloatArray
    duals: FloatArray


@dataclass(frozen=True, eq=False)
class Solution:
    """What came of a problem, with the problem it belongs to.

    Parameters
    ----------
    problem : Problem
    status : Status
    sum_jnd, largest_jnd : float
        Weighted deviations beyond the dead band, summed and largest [JND]; NaN if infeasible.
    program : Program
    first_stage : Optimum or None
        Optimum of stage 1, for its marginals; None where nothing was optimised.
    broken : tuple of Requirement
        Limits that given quantities do not keep.
    """

    problem: Problem
    status: Status
    sum_jnd: float
    largest_jnd: float
    program: Program
    first_stage: Optimum | None
    broken: tuple[Requirement, ...]
    _grams: FloatArray | None

    @property
    def grams(self) -> FloatArray:
        """Edible grams before loss in the cook's order, shape (n,).

        Raises
        ------
        NoSolution
            If the problem is infeasible.
        """
        if self._grams is None:
            raise NoSolution(
                "The limits contradict each other, so there are no quantities to read."
                " Look at what to relax."
            )
        return self._grams

    @property
    def has_quantities(self) -> bool:
        """Whether there are quantities to read."""
        return self._grams is not None

    @property
    def blend(self) -> Blend:
        """The finished sauce."""
        return Blend(self.problem.composition(), self.grams, self.problem.water_lost_g)

    @property
    def levels(self) -> FloatArray:
        """Level reached on every axis [axis unit per 100 g], shape (n_axes,)."""
        return axis_levels(self.blend.per_100g())

    def deviation_jnd(self, axis: str) -> float:
        """Signed distance from the target, or from the nearer end of its band [JND]."""
        aim = self.problem.aim(axis)
        if aim is None:
            raise NoSolution(f"Nothing is asked of {axis}, so there is no deviation to read.")
        return deviation(float(self.levels[AXIS_NAMES.index(axis)]), aim.axis, aim.low, aim.high)


def deviation(level: float, axis: str, low: float, high: float) -> float:
    """Signed distance of a level from a band [JND], zero inside it."""
    a = AXIS[axis]
    if level > high:
        return (level - high) / (a.floor + a.weber * high)
    if level < low:
        return (level - low) / (a.floor + a.weber * low)
    return 0.0


class Model:
    """A linear program inside HiGHS, kept warm while costs and bounds change.

    Parameters
    ----------
    lp : LinearProgram

    Raises
    ------
    BadInput
        If the solver refuses the arrays.
    """

    def __init__(self, lp: LinearProgram, *, seconds: float = 60.0) -> None:
        self.lp = lp
        self.highs: Any = highspy.Highs()  # type: ignore[no-untyped-call]
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("random_seed", 0),
            ("time_limit", seconds),
            ("mip_rel_gap", 0.0),
        ):
            self.highs.setOptionValue(option, value)
        if lp.integer is None:
            # a warm simplex method needs no presolve, and small models gain nothing from it
            self.highs.setOptionValue("presolve", "off")
            self.highs.setOptionValue("solver", "simplex")
        if self.highs.passModel(_highs_lp(lp)) == highspy.HighsStatus.kError:
            raise BadInput("The solver refuses the numbers of this request. Check its amounts.")

    def set_cost(self, cost: FloatArray) -> None:
        """Replace the objective."""
        n = len(cost)
        self.highs.changeColsCost(n, np.arange(n, dtype=np.int32), np.ascontiguousarray(cost))

    def set_row(self, row: int, low: float, high: float) -> None:
        """Replace the ends of one row."""
        self.highs.changeRowBounds(row, low, high)

    def set_column(self, column: int, low: float, high: float) -> None:
        """Replace the bounds of one column."""
        self.highs.changeColBounds(column, low, high)

    def add_column(self, values: FloatArray, low: float, high: float) -> int:
        """Add a column without cost after the last one; returns its place."""
        rows = np.flatnonzero(values).astype(np.int32)
        self.highs.addCol(0.0, low, high, len(rows), rows, np.ascontiguousarray(values[rows]))
        return int(self.highs.getNumCol()) - 1

    def optimum(self) -> Optimum | None:
        """Solve; None when no point keeps all rows and bounds.

        Raises
        ------
        NoSolution
            If the solver stops for another reason, such as its time limit, with no answer.
        """
        self.highs.run()
        status = self.highs.getModelStatus()
        kinds = highspy.HighsModelStatus
        if status == kinds.kUnknown:  # start afresh once, with presolve
            self.highs.clearSolver()
            self.highs.setOptionValue("presolve", "on")
            self.highs.run()
            status = self.highs.getModelStatus()
        if status in (kinds.kInfeasible, kinds.kUnboundedOrInfeasible):
            return None
        found = self.highs.getSolution()
        if status == kinds.kOptimal or (status == kinds.kTimeLimit and found.value_valid):
            y = np.array(found.col_value)
            duals = np.array(found.row_dual) if found.dual_valid else np.zeros(len(self.lp.rows))
            return Optimum(float(self.highs.getInfo().objective_function_value), y, duals)
        raise NoSolution(
            f"The solver stopped early ({self.highs.modelStatusToString(status)})."
            " Try fewer ingredients or wider limits."
        )


def _highs_lp(lp: LinearProgram) -> highspy.HighsLp:
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(lp.columns), len(lp.rows)
    model.col_cost_ = lp.cost
    model.col_lower_, model.col_upper_ = lp.lower, lp.upper
    model.row_lower_, model.row_upper_ = lp.row_lower, lp.row_upper
    rows, columns = np.nonzero(lp.matrix)
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = np.searchsorted(rows, np.arange(len(lp.rows) + 1)).astype(np.int32)
    model.a_matrix_.index_ = columns.astype(np.int32)
    model.a_matrix_.value_ = lp.matrix[rows, columns]
    if lp.integer is not None:
        kinds = highspy.HighsVarType
        model.integrality_ = [
            kinds.kInteger if whole else kinds.kContinuous for whole in lp.integer
        ]
    return model


def solve_linear(lp: LinearProgram, *, seconds: float = 60.0) -> Optimum | None:
    """Solve one linear or mixed-integer program; None when it is infeasible."""
    return Model(lp, seconds=seconds).optimum()


def solve(problem: Problem) -> Solution:
    """Find the quantities for a problem, stage by stage.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Solution
        Out of reach is a result (``nearest``), contradiction too (``infeasible``).

    Raises
    ------
    NoSolution
        If the solver fails, or its answer does not pass the check against the requirement.
    """
    program = build(problem)
    if problem.pot is None and problem.all_locked:
        return evaluated(problem, np.array([u.locked_g for u in problem.uses], dtype=float))
    model = Model(program.lp)
    first = None if program.columns.contradiction else model.optimum()
    if first is None:
        nan = math.nan
        return Solution(problem, Status.INFEASIBLE, nan, nan, program, None, (), None)
    best = _later_stages(program, model, first)
    grams = program.grams(best.y)
    broken = broken_requirements(program, grams)
    if broken:
        raise NoSolution(
            f"The answer of the solver does not keep {broken[0].label!r}."
            " Widen that limit a little, or lock fewer quantities."
        )
    return _solution(program, grams, first, ())


def _later_stages(program: Program, model: Model, first: Optimum) -> Optimum:
    """Solve the stages after the first, each with the optima before it kept."""
    slack = STAGE_SLACK.value
    best = first
    for stage in program.stages:
        if stage.keep_column == program.largest and first.value <= ZERO_JND:
            # no deviation that counts, so none is largest
            model.set_column(program.largest, 0.0, max(first.value, 0.0) + slack)
            continue
        if stage is not program.stages[0]:
            model.set_cost(stage.cost)
            best = model.optimum() or best
        if stage.keep_row is not None:
            model.set_row(stage.keep_row, -math.inf, max(best.value, 0.0) * (1 + slack) + slack)
        elif stage.keep_column is not None:
            y, lp = float(best.y[stage.keep_column]), program.lp
            low, high = lp.lower[stage.keep_column], lp.upper[stage.keep_column]
            room = slack * (1.0 + abs(y))
            if stage.cost[stage.keep_column] > 0:
                model.set_column(stage.keep_column, low, max(low, y + room))
            else:
                model.set_column(stage.keep_column, max(low, y - room), high)
    return best


def evaluated(problem: Problem, grams: FloatArray) -> Solution:
    """Look at given quantities: where they lead, and which limits they do not keep.

    Parameters
    ----------
    problem : Problem
    grams : array, shape (n,)
        Edible grams before loss, in the cook's order.
    """
    program = build(problem)
    return _solution(program, grams, None, broken_requirements(program, grams))


def _solution(
    program: Program, grams: FloatArray, first: Optimum | None, broken: tuple[Requirement, ...]
) -> Solution:
    problem = program.problem
    blend = Blend(problem.composition(), grams, problem.water_lost_g)
    levels = axis_levels(blend.per_100g())
    misses = []
    for aim in problem.aims:
        low, high, jnd_low, jnd_high = aim_ends(aim, problem.dead_band_jnd)
        level = float(levels[AXIS_NAMES.index(aim.axis)])
        misses.append(aim.weight * max((low - level) / jnd_low, (level - high) / jnd_high, 0.0))
    total = float(sum(misses))
    if not problem.aims:
        status = Status.REPORT
    elif total <= ZERO_JND * max(1, len(misses)) and not broken:
        status = Status.ON_TARGET
    else:
        status = Status.NEAREST
    return Solution(problem, status, total, max(misses, default=0.0), program, first, broken, grams)


def broken_requirements(program: Program, grams: FloatArray) -> tuple[Requirement, ...]:
    """Limits that quantities do not keep, by arithmetic that knows nothing of the program's rows.

    Parameters
    ----------
    program : Program
        For the requirements.
    grams : array, shape (n,)
        Edible grams before loss, in the cook's order.
    """
    problem = program.problem
    mass = float(grams.sum()) - problem.water_lost_g
    ordered_grams = grams[program.order]
    broken = []
    for r in program.requirements:
        if r.kind == "aim":
            continue
        value = float(r.values @ ordered_grams[r.places]) / mass
        value += r.per_s * program.reference_g / mass
        # the solver keeps a row within a share of 1e-7, however little the row speaks of
        size = max(
            LEAST_SIZE * float(np.abs(r.values).max(initial=0.0)),
            float(np.abs(r.values) @ ordered_grams[r.places]) / mass,
        )
        if not r.low - CHECK_TOLERANCE * size <= value <= r.high + CHECK_TOLERANCE * size:
            broken.append(r)
    if problem.yield_g is not None and abs(mass - problem.yield_g) > 1e-6 * problem.yield_g + 5e-3:
        raise NoSolution(
            f"The quantities make {mass:g} g instead of {problem.yield_g:g} g. Report this request."
        )
    return tuple(broken)
