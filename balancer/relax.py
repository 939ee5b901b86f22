"""The fewest requests that would have to give for everything else to hold.

The solver names no conflicting set; so every request gets a slack with a switch, and a
mixed-integer program finds the fewest switches (then, among them, the least movement).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import Program, volume_row
from balancer.requirements import PH_UNIT, Requirement
from balancer.solve import Status, deviation, solve_linear
from balancer.water_phase import phase_of, water_phase

#: A requirement counts as broken by more than this share of its size.
LEAST_SLACK = 1e-6
#: In the least set, giving up a level of an axis counts this much more than giving up a limit.
AIM_COST = 1.01
SEARCH_SECONDS = 5.0
#: A ceiling of pH holds at the ionic strength of another sauce: so much room beside the figure [1].
PH_ROOM = 0.01


@dataclass(frozen=True)
class Relaxation:
    """One requirement of the least set that has to give, and how far.

    Parameters
    ----------
    label : str
        The requirement, in the cook's words.
    kind : str
        minimum, maximum, lock, share, loss, ratio, limit or aim.
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
    # that nothing comes out of a pot, and that lost water was there to lose, are facts
    requirements = [r for r in requirements if r.kind not in ("pot", "loss")]
    optimum = solve_linear(_elastic(problem, program, requirements, None), seconds=SEARCH_SECONDS)
    if optimum is None:
        return _less_lost(problem, program)
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
            elif requirement.unit == PH_UNIT:
                value = _high_ph(problem, program, y[:n], float(y[n]))
            found.append(_relaxation(requirement, value, float(y[n])))
    return tuple(found)


def _high_ph(problem: Problem, program: Program, shares: FloatArray, s: float) -> float:
    """High end of the pH of the sauce that moves least; NaN where it is no figure to give."""
    grams = np.zeros(len(problem.uses))
    grams[program.order] = np.maximum(shares, 0.0) * program.reference_g / s
    phase = phase_of([u.ingredient for u in problem.uses])
    found = water_phase(phase, grams, problem.water_lost_g, problem.kept).ph
    ceiling = problem.water_limits.ph_max
    # a row at the ionic strength of another sauce can be missed by a sauce that keeps the ceiling
    below = found is not None and ceiling is not None and found.high + PH_ROOM <= ceiling
    return math.nan if found is None or below else found.high


def _elastic(
    problem: Problem,
    program: Program,
    requirements: list[Requirement],
    switches: NDArray[np.bool_] | None,
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

    def add(name: str, row: FloatArray, lower: float, upper: float) -> None:
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
    for r in program.requirements:
        if r.kind == "loss":
            row = np.zeros(width)
            row[r.places], row[n] = r.values, r.per_s
            add(r.label, row, r.low, r.high)
    cost = np.zeros(width)
    for k, r in enumerate(requirements):
        values = np.zeros(n)
        values[r.places] = r.values
        size = max(float(np.abs(values).max(initial=0.0)), abs(r.per_s), 1e-9)
        reach = 2.0 * x_high + max((abs(e) for e in r.ends), default=0.0) / size
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
    integer: NDArray[np.bool_] | None = np.zeros(width, dtype=bool)
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


def _less_lost(problem: Problem, program: Program) -> tuple[Relaxation, ...]:
    """No choice of quantities brings the water that is to be lost: say how much could be."""
    loss = next((r for r in program.requirements if r.kind == "loss"), None)
    if loss is None or problem.yield_g is None:
        return ()
    wettest = float(loss.values.max())
    to = problem.yield_g * wettest / (1.0 - wettest) if wettest < 1.0 else problem.water_lost_g
    sentence = f"{loss.label}: would have to be {to:.3g} {loss.unit} or less."
    return (Relaxation(loss.label, loss.kind, to, loss.unit, sentence),)


def _relaxation(requirement: Requirement, value: float, s: float) -> Relaxation:
    """Say how far a requirement has to move: a bound moves to where its ingredient stands."""
    if requirement.unit == PH_UNIT:
        to = math.ceil(100.0 * (value + PH_ROOM)) / 100.0 if math.isfinite(value) else math.nan
        figure = "" if math.isnan(to) else f", about {to:.2f}"
        sentence = f"{requirement.label}: would have to be higher{figure}."
    elif not requirement.is_readable:
        to = math.nan
        sentence = f"{requirement.label}: would have to give."
    elif requirement.kind in ("minimum", "maximum", "lock"):  # the row holds x less its bound
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
