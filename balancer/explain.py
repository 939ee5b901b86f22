"""What holds a sauce back from its target, and what one axis would cost the others.

A marginal of stage 1 says at which rate a limit costs; what loosening it brings is then solved
for exactly, because a rate holds only as far as the next corner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from balancer.constants import AXIS, AXIS_NAMES
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import Program
from balancer.requirements import Requirement
from balancer.solve import Solution, Status, solve, solve_linear

#: A marginal below this is none [JND per unit of a share or of a row].
LEAST_RATE = 1e-6
#: Loosening is shown for this share of the batch, or this share of another limit.
STEP_SHARE = 0.01
#: A row without a figure of its own is loosened altogether [unit of the row].
LARGE_STEP = 1e4
#: An answer touches a limit when it is within this share of it.
TOUCH = 1e-5
#: A gain on one axis below this is not worth naming [JND].
LEAST_GAIN = 0.25


@dataclass(frozen=True)
class Binding:
    """A limit that the answer touches.

    Parameters
    ----------
    label : str
        The requirement, in the cook's words.
    loosen_by : float
        Step for which the gain is shown [unit]; NaN where the limit is taken away altogether.
    unit : str
    gain_jnd : float
        Fall of the summed deviation when the limit is loosened by that step [JND]; 0 when the
        target is reached already.
    sentence : str
    """

    label: str
    loosen_by: float
    unit: str
    gain_jnd: float
    sentence: str


def bindings(solution: Solution) -> tuple[Binding, ...]:
    """Limits that hold the answer, with what loosening each would bring, largest gain first.

    Only limits of the cook are listed: that no quantity is negative, and that the shares make the
    batch, is not for the cook to change.
    """
    if not solution.has_quantities or solution.problem.all_locked:
        return ()
    program = solution.program
    mass_g = solution.blend.mass_g
    x, s = solution.grams[program.order] / mass_g, program.reference_g / mass_g
    found = []
    for requirement, row in zip(program.requirements, program.row_of, strict=True):
        if requirement.kind in ("aim", "loss"):
            continue
        value = float(requirement.values @ x[requirement.places]) + requirement.per_s * s
        size = max(1e-3, abs(requirement.per_s), *(abs(e) for e in requirement.ends))
        touches = any(abs(value - end) <= TOUCH * size for end in requirement.ends)
        if touches:
            found.append(_binding(solution, requirement, _rate(solution, requirement, row)))
    found.sort(key=lambda b: (-b.gain_jnd, b.label))
    return tuple(found)


def _rate(solution: Solution, requirement: Requirement, row: int | None) -> float:
    """Change of the summed deviation per unit of the requirement's row, signed."""
    first, program = solution.first_stage, solution.program
    if first is None or solution.status is not Status.NEAREST:
        return 0.0
    if row is not None:
        return float(first.duals[row]) / float(program.row_scale[row])
    j = int(requirement.places[0])
    column = int(np.flatnonzero(program.columns.place == j)[0])
    return -float(first.duals @ program.lp.matrix[:, column])


def _binding(solution: Solution, requirement: Requirement, rate: float) -> Binding:
    step = _step(solution, requirement) if requirement.is_readable else LARGE_STEP
    shown = step * requirement.per_row if requirement.is_readable else math.nan
    gain = 0.0
    if abs(rate) > LEAST_RATE:
        eased = _loosened(solution.program, requirement, step)
        optimum = solve_linear(eased)
        if optimum is not None and solution.first_stage is not None:
            gain = max(0.0, solution.first_stage.value - optimum.value)
    if gain <= LEAST_RATE:
        gain, said = 0.0, "the answer touches this limit; loosening it brings nothing."
    elif math.isnan(shown):
        said = f"without it the sauce would come {gain:.2g} JND nearer."
    else:
        unit = requirement.unit
        said = f"loosening it by {shown:.3g} {unit} brings the sauce {gain:.2g} JND nearer."
    sentence = f"{requirement.label}: {said}"
    return Binding(requirement.label, shown, requirement.unit, gain, sentence)


def _step(solution: Solution, requirement: Requirement) -> float:
    """A step that a cook can picture, in units of the row."""
    if requirement.kind in ("minimum", "maximum", "lock"):
        grams = STEP_SHARE * solution.blend.mass_g
        return 10.0 ** round(math.log10(grams)) / requirement.per_row
    if requirement.kind == "share":
        return STEP_SHARE
    return max(STEP_SHARE * max((abs(e) for e in requirement.ends), default=1.0), 1e-3)


def _loosened(program: Program, requirement: Requirement, step: float) -> LinearProgram:
    """The stage-1 program with one requirement loosened on both sides by a step."""
    lp = program.lp
    row = program.row_of[program.requirements.index(requirement)]
    if row is not None:
        low, high = lp.row_lower.copy(), lp.row_upper.copy()
        low[row] -= step / program.row_scale[row]
        high[row] += step / program.row_scale[row]
        return replace(lp, row_lower=low, row_upper=high)
    j = int(requirement.places[0])
    columns = program.columns
    upper, lower = lp.upper.copy(), lp.lower.copy()
    mine = np.flatnonzero((columns.place == j) & (np.abs(columns.sign) > 0))
    if math.isfinite(requirement.high):  # more room above: the last column that adds
        upper[mine[columns.sign[mine] > 0][-1]] += step
    if math.isfinite(requirement.low):  # more room below, down to none at all
        least = columns.draft[j] - sum(upper[c] for c in mine if columns.sign[c] < 0)
        down = min(step, least)
        less = mine[columns.sign[mine] < 0]
        if len(less):
            upper[less[0]] += down
        else:
            lower[mine[0]] -= down
    return replace(lp, upper=upper, lower=lower)


def uncarried(problem: Problem, program: Program) -> tuple[str, ...]:
    """Axes that are asked for and that no chosen ingredient carries, as sentences."""
    found = []
    for aim in problem.aims:
        column = program.levels[:, AXIS_NAMES.index(aim.axis)]
        if aim.low > 0 and not np.any(column > 0):
            found.append(
                f"No chosen ingredient carries {aim.axis}, so its target of {aim.low:g}"
                f" {AXIS[aim.axis].unit_per_100g} cannot be reached: add one that does."
                " Every other axis is solved as if it had not been asked."
            )
    return tuple(found)


def trades(solution: Solution) -> tuple[str, ...]:
    """What a missed axis would cost elsewhere, by solving with that axis put first.

    For each axis that stays short of its aim though something chosen carries it: how much nearer
    it could come, and the summed deviation that this adds on the other axes.
    """
    problem = solution.problem
    if solution.status is not Status.NEAREST or problem.all_locked:
        return ()
    before = {a.axis: solution.deviation_jnd(a.axis) for a in problem.aims}
    sentences = []
    for aim in problem.aims:
        if abs(before[aim.axis]) <= problem.dead_band_jnd + 0.05:
            continue
        column = solution.program.levels[:, AXIS_NAMES.index(aim.axis)]
        if not np.any(column > 0):
            continue
        first = replace(aim, weight=1000.0)
        other = solve(replace(problem, aims=tuple(first if a is aim else a for a in problem.aims)))
        gained = abs(before[aim.axis]) - abs(other.deviation_jnd(aim.axis))
        if gained < LEAST_GAIN:
            continue
        costs = []
        for a in problem.aims:
            worse = abs(other.deviation_jnd(a.axis)) - abs(before[a.axis])
            if a is not aim and worse > 0.05:
                costs.append(f"{a.axis} {worse:.1f} JND")
        if costs:
            way = "+" if before[aim.axis] < 0 else "-"
            sentences.append(f"{aim.axis} {way}{gained:.1f} JND would cost {', '.join(costs)}.")
    return tuple(sentences)
