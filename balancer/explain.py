"""Why a target is out of reach, what holds it back, and the least that would have to give.

A marginal of stage 1 says at which rate a limit costs; what loosening it brings is then solved
for exactly, because a rate holds only as far as the next corner. The least set of requirements to
relax is a mixed-integer program with one switch per requirement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from balancer.constants import AXIS, AXIS_NAMES
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import Program, volume_row
from balancer.requirements import Requirement
from balancer.solve import Solution, Status, deviation, solve, solve_linear

#: A marginal below this is none [JND per unit of a share or of a row].
LEAST_RATE = 1e-6
#: Loosening is shown for this share of the batch, or this share of another limit.
STEP_SHARE = 0.01
#: An answer touches a limit when it is within this share of it.
TOUCH = 1e-5
#: A gain on one axis below this is not worth naming [JND].
LEAST_GAIN = 0.25
#: A requirement counts as broken by more than this share of its size.
LEAST_SLACK = 1e-6
#: In the least set, giving up a level of an axis counts this much more than giving up a limit.
AIM_COST = 1.01
SEARCH_SECONDS = 5.0


@dataclass(frozen=True)
class Binding:
    """A limit that the answer touches.

    Parameters
    ----------
    label : str
        The requirement, in the cook's words.
    loosen_by : float
        Step for which the gain is shown [unit].
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


@dataclass(frozen=True)
class Relaxation:
    """One requirement of the least set that has to give, and how far.

    Parameters
    ----------
    label : str
        The requirement, in the cook's words.
    kind : str
        minimum, maximum, lock, share, ratio, limit or aim.
    to : float
        Where it has to move [unit]; NaN for a requirement that has to go altogether.
    unit : str
    sentence : str
    """

    label: str
    kind: str
    to: float
    unit: str
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
        if requirement.kind == "aim":
            continue
        value = float(requirement.values @ x[requirement.places]) + requirement.per_s * s
        size = max(1e-3, abs(requirement.per_s), *(abs(e) for e in _ends(requirement)))
        touches = any(abs(value - end) <= TOUCH * size for end in _ends(requirement))
        if touches:
            found.append(_binding(solution, requirement, _rate(solution, requirement, row)))
    found.sort(key=lambda b: (-b.gain_jnd, b.label))
    return tuple(found)


def _ends(requirement: Requirement) -> list[float]:
    return [end for end in (requirement.low, requirement.high) if math.isfinite(end)]


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
    step = _step(solution, requirement)
    shown = step * requirement.per_row
    gain = 0.0
    if abs(rate) > LEAST_RATE:
        eased = _loosened(solution.program, requirement, step)
        optimum = solve_linear(eased)
        if optimum is not None and solution.first_stage is not None:
            gain = max(0.0, solution.first_stage.value - optimum.value)
    if gain > LEAST_RATE:
        sentence = (
            f"{requirement.label}: loosening it by {shown:.3g} {requirement.unit} brings the sauce"
            f" {gain:.2g} JND nearer."
        )
    else:
        sentence = (
            f"{requirement.label}: the answer touches this limit; loosening it brings nothing."
        )
        gain = 0.0
    return Binding(requirement.label, shown, requirement.unit, gain, sentence)


def _step(solution: Solution, requirement: Requirement) -> float:
    """A step that a cook can picture, in units of the row."""
    if requirement.kind in ("minimum", "maximum", "lock"):
        grams = STEP_SHARE * solution.blend.mass_g
        return 10.0 ** round(math.log10(grams)) / requirement.per_row
    if requirement.kind == "share":
        return STEP_SHARE
    return max(STEP_SHARE * max((abs(e) for e in _ends(requirement)), default=1.0), 1e-3)


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


def relaxations(problem: Problem, program: Program, status: Status) -> tuple[Relaxation, ...]:
    """The fewest requirements that would have to give for everything else to hold.

    With contradicting limits (``infeasible``) the aims are set aside and the least set of limits
    is sought. With a target out of reach (``nearest``) limits and aims are weighed together, a
    limit before an aim. Where several sets are equally small, the one that moves least is named.

    Parameters
    ----------
    problem : Problem
    program : Program
    status : Status

    Returns
    -------
    tuple of Relaxation
        Empty when nothing has to give.
    """
    if status not in (Status.NEAREST, Status.INFEASIBLE):
        return ()
    requirements = [r for r in program.requirements if r.kind != "aim" or status is Status.NEAREST]
    if problem.pot is not None:
        requirements = [r for r in requirements if "in the pot" not in r.label]
    optimum = solve_linear(_elastic(problem, program, requirements, None), seconds=SEARCH_SECONDS)
    if optimum is None:
        return ()
    count = len(requirements)
    n = len(program.order)
    switches = optimum.y[n + 1 + count :] > 0.5
    # the same set again, now with the least movement, each in its own unit of size
    least = solve_linear(_elastic(problem, program, requirements, switches), seconds=SEARCH_SECONDS)
    y = least.y if least is not None else optimum.y
    found = []
    for k, requirement in enumerate(requirements):
        if switches[k] and y[n + 1 + k] > LEAST_SLACK:
            value = float(
                requirement.values @ y[:n][requirement.places]
            ) + requirement.per_s * float(y[n])
            if requirement.kind == "ratio":
                value = float(y[requirement.places[0]] / max(y[requirement.places[1]], LEAST_SLACK))
            found.append(_relaxation(requirement, value, float(y[n])))
    return tuple(found)


def _elastic(
    problem: Problem,
    program: Program,
    requirements: list[Requirement],
    switches: np.ndarray | None,
) -> LinearProgram:
    """Every requirement may give by a slack; first the number of those that do is least."""
    n, count = len(program.order), len(requirements)
    batch = 1.0 + problem.water_lost_g / program.reference_g
    s_low, s_high = 1.0, 1.0
    if program.columns.s is not None:
        s_low = float(program.lp.lower[program.columns.s])
        s_high = float(program.lp.upper[program.columns.s])
    x_high = 1.0 + (batch - 1.0) * s_high
    width = n + 1 + 2 * count
    labels = [f"share {j}" for j in range(n)] + ["s"]
    labels += [f"slack {k}" for k in range(count)] + [f"gives {k}" for k in range(count)]
    rows, low, high, names = [], [], [], []

    def add(name: str, row: np.ndarray, lower: float, upper: float) -> None:
        names.append(name)
        rows.append(row)
        low.append(lower)
        high.append(upper)

    first = np.zeros(width)
    first[:n], first[n] = 1.0, -(batch - 1.0)
    add("batch", first, 1.0, 1.0)
    if problem.yield_ml is not None:
        composition = problem.composition()[program.order]
        values, per_s = volume_row(problem, composition, program.reference_g)
        row = np.zeros(width)
        row[:n], row[n] = values, per_s
        add("volume", row, 0.0, 0.0)
    if problem.pot is not None:
        for j, i in enumerate(program.order):
            row = np.zeros(width)
            row[j], row[n] = 1.0, -problem.pot.grams[i] / program.reference_g
            add(f"pot {j}", row, 0.0, math.inf)
    cost = np.zeros(width)
    for k, r in enumerate(requirements):
        values = np.zeros(n)
        values[r.places] = r.values
        size = max(float(np.abs(values).max(initial=0.0)), abs(r.per_s), 1e-9)
        reach = 2.0 * x_high + max((abs(e) for e in _ends(r)), default=0.0) / size
        row = np.zeros(width)
        row[:n], row[n] = values / size, r.per_s / size
        for sign, end, what in ((1.0, r.low, "low"), (-1.0, r.high, "high")):
            if math.isfinite(end):
                ended = row.copy()
                ended[n + 1 + k] = sign
                bounds = (end / size, math.inf) if sign > 0 else (-math.inf, end / size)
                add(f"{what} {k}", ended, *bounds)
        link = np.zeros(width)
        link[n + 1 + k], link[n + 1 + count + k] = 1.0, -reach
        add(f"switch {k}", link, -math.inf, 0.0)
        cost[n + 1 + count + k] = AIM_COST if r.kind == "aim" else 1.0
    upper = np.concatenate([np.full(n, x_high), [s_high], np.full(count, math.inf), np.ones(count)])
    lower = np.concatenate([np.zeros(n), [s_low], np.zeros(2 * count)])
    integer: np.ndarray | None = np.zeros(width, dtype=bool)
    assert integer is not None
    integer[n + 1 + count :] = True
    if switches is not None:
        upper[n + 1 + count :] = switches.astype(float)
        cost = np.zeros(width)
        cost[n + 1 : n + 1 + count] = 1.0
        integer = None
    return LinearProgram(
        tuple(labels), tuple(names), np.array(rows), cost, lower, upper,
        np.array(low), np.array(high), integer,
    )  # fmt: skip


def _relaxation(requirement: Requirement, value: float, s: float) -> Relaxation:
    """Say how far a requirement has to move; a lock or a bound moves to where its ingredient stands."""
    if requirement.kind in ("minimum", "maximum", "lock"):  # the row holds x less its bound
        to = (value - requirement.per_s * s) * requirement.per_row / s
        sentence = f"{requirement.label}: would have to be {to:.3g} {requirement.unit}."
    elif requirement.kind == "aim" and requirement.aim is not None:
        to = value
        aim = requirement.aim
        miss = deviation(to, aim.axis, aim.low, aim.high)
        sentence = (
            f"{requirement.label}: with everything else as asked, only {to:.3g} {requirement.unit}"
            f" can be had ({miss:+.1f} JND)."
        )
    else:
        to = value * requirement.per_row
        sentence = f"{requirement.label}: would have to be {to:.3g} {requirement.unit}."
    return Relaxation(requirement.label, requirement.kind, to, requirement.unit, sentence)


def uncarried(problem: Problem, program: Program) -> tuple[str, ...]:
    """Axes that are asked for and that no chosen ingredient carries, as sentences."""
    found = []
    for aim in problem.aims:
        column = program.levels[:, AXIS_NAMES.index(aim.axis)]
        if aim.low > 0 and not np.any(column > 0):
            found.append(
                f"No chosen ingredient carries {aim.axis}, so its target of {aim.low:g}"
                f" {AXIS[aim.axis].unit} per 100 g cannot be reached: add one that does."
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
