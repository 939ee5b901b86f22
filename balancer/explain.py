"""What holds a sauce back from its target, and what one axis would cost the others.

A marginal of stage 1 says at which rate a limit costs; what loosening it brings is then solved
for exactly, because a rate holds only as far as the next corner.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from balancer.constants import AXIS, AXIS_NAMES
from balancer.problem import Problem
from balancer.program import Program
from balancer.requirements import Requirement
from balancer.solve import Solution, Status, solve

#: A marginal below this is none [JND per unit of a share or of a row].
LEAST_RATE = 1e-6
#: A gain of no more than this is rounding [JND].
LEAST_SHOWN = 1e-5
#: Loosening is shown for this share of the batch, or this share of another limit.
STEP_SHARE = 0.01
#: And never for less than this of a ratio or another limit [unit].
LEAST_STEP = 1e-3
#: A row without a figure of its own is loosened altogether [unit of the row].
LARGE_STEP = 1e4
#: An answer touches a limit when it is within this share of it.
TOUCH = 1e-5
#: A gain on one axis below this is not worth naming [JND].
LEAST_GAIN = 0.25
#: A deviation over the dead band by less than this is not worth a sentence [JND].
LEAST_OFF_JND = 0.05


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
        if requirement.kind in ("aim", "loss", "pot"):
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
    shown = step if requirement.is_readable else math.nan
    gain = 0.0
    if abs(rate) > LEAST_RATE or (solution.status is Status.NEAREST and _idle(solution)):
        gain = solution.sum_jnd - solve(_loosened(solution, requirement, step)).sum_jnd
    if gain <= LEAST_SHOWN:
        gain, said = 0.0, "the answer touches this limit; loosening it brings nothing."
    elif math.isnan(shown):
        said = f"without it the sauce would come {gain:.2g} JND nearer."
    else:
        unit = requirement.unit
        said = f"loosening it by {shown:.3g} {unit} brings the sauce {gain:.2g} JND nearer."
    sentence = f"{requirement.label}: {said}"
    return Binding(requirement.label, shown, requirement.unit, gain, sentence)


def _idle(solution: Solution) -> bool:
    """Whether an axis is missed that nothing free to move carries: its limits have no rate."""
    first = solution.first_stage
    return first is not None and solution.sum_jnd > first.value + LEAST_SHOWN


def _step(solution: Solution, requirement: Requirement) -> float:
    """A step that a cook can picture [unit of the requirement]."""
    if requirement.kind in ("minimum", "maximum", "lock"):
        return float(10.0 ** round(math.log10(STEP_SHARE * solution.blend.mass_g)))
    if requirement.kind == "share":
        return 100.0 * STEP_SHARE
    sizes = [abs(e) for e in requirement.ends]
    if requirement.kind == "ratio":
        sizes = [abs(float(requirement.values[1]))]
    return max(STEP_SHARE * max(sizes, default=1.0), LEAST_STEP)


def _loosened(solution: Solution, requirement: Requirement, step: float) -> Problem:
    """The problem with one request loosened by a step [unit of the requirement]."""
    problem, kind = solution.problem, requirement.kind
    if kind == "limit":
        limits = list(problem.limits)
        k = next(i for i, x in enumerate(limits) if x.label == requirement.label)
        limits[k] = replace(limits[k], low=limits[k].low - step, high=limits[k].high + step)
        return replace(problem, limits=tuple(limits))
    places = [int(solution.program.order[j]) for j in requirement.places]
    if kind == "ratio":
        ratios = list(problem.ratios)
        k = next(i for i, r in enumerate(ratios) if [r.of, r.to] == places)
        low = step if math.isfinite(requirement.low) else 0.0
        high = step if math.isfinite(requirement.high) else 0.0
        ratios[k] = replace(
            ratios[k], low=max(0.0, ratios[k].low - low), high=ratios[k].high + high
        )
        return replace(problem, ratios=tuple(ratios))
    use = problem.uses[places[0]]
    if kind != "share":
        step *= use.passes
    if kind == "lock" and use.locked_g is not None:
        least, most = max(0.0, use.locked_g - step), use.locked_g + step
        use = replace(use, locked_g=None, min_g=least, max_g=most)
    elif kind == "minimum":
        use = replace(use, min_g=max(0.0, use.min_g - step))
    elif kind == "maximum":
        use = replace(use, max_g=use.max_g + step)
    elif math.isfinite(requirement.low):
        use = replace(use, share_min=max(0.0, use.share_min - step / 100.0))
    else:
        use = replace(use, share_max=min(1.0, use.share_max + step / 100.0))
    uses = (*problem.uses[: places[0]], use, *problem.uses[places[0] + 1 :])
    return replace(problem, uses=uses)


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
        if abs(before[aim.axis]) <= problem.dead_band_jnd + LEAST_OFF_JND:
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
