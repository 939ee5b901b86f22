"""What goes into a pot, in which order and parts, and where it leads."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from balancer.composition import Blend, FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.problem import Problem
from balancer.requirements import aim_ends
from balancer.solve import Solution, Status, deviation, solve
from balancer.taste import levels as axis_levels
from balancer.thinning import Thinned
from balancer.weighing import Weighed, on_scale

#: Axes on which too much cannot be taken back by cooking or waiting.
STAGED_AXES = ("salt", "sour", "heat")
#: An addition that raises one of them by this much is given in two parts [JND].
STAGED_FROM_JND = 0.5
#: ... if it holds at least this many times as much of it as the finished sauce.
POTENT_FROM = 3.0
#: The part that goes in before tasting (common practice, no source).
FIRST_PART = 2.0 / 3.0
#: Misses over the tolerance by less than this are none [JND].
HAIR_JND = 1e-4


@dataclass(frozen=True, eq=False)
class Addition:
    """One thing that goes into the pot.

    Parameters
    ----------
    label : str
        The cook's name of it.
    exact_g : float
        What the program asks for, undiluted, as it is weighed [g].
    weigh_g : float
        What the scale shows, of the ingredient or of it thinned; about, for a pinch [g].
    thinned : Thinned or None
        It thinned, where the ingredient alone is too little to weigh.
    first_g, rest_g : float
        Parts before and after tasting; the second is zero where all goes in at once [g].
    raises : tuple of str
        Axes that it raises and that cannot be lowered again.
    pinch : bool
        Whether it is too little for the scale, and cannot be thinned.
    passes : float
        Share of what is weighed that stays in the pot, where a part is taken out again [1].
    """

    label: str
    exact_g: float
    weigh_g: float
    thinned: Thinned | None
    first_g: float
    rest_g: float
    raises: tuple[str, ...]
    pinch: bool = False
    passes: float = 1.0

    @property
    def what(self) -> str:
        """What goes in, thinned or as it is."""
        return self.label if self.thinned is None else self.thinned.words

    def sentence(self) -> str:
        """What to do, in one sentence."""
        what = self.what
        if self.pinch:
            return (
                f"{what}: a pinch, about {self.weigh_g:.2g} g, too little for this scale; stir,"
                " taste, and add no more before you have."
            )
        stays = (
            f" Of it about {self.weigh_g * self.passes:.2g} g stays in the pot; take out the rest."
            if self.passes < 1.0
            else ""
        )
        if self.rest_g <= 0:
            return f"{what}: {self.weigh_g:g} g.{stays}"
        return (
            f"{what}: {self.first_g:g} g first; stir, taste, then up to {self.rest_g:g} g more"
            f" ({' and '.join(self.raises)} cannot be taken back).{stays}"
        )


@dataclass(frozen=True)
class AxisState:
    """One axis before and after.

    Parameters
    ----------
    axis : str
    before, after : float
        Levels [axis unit per 100 g].
    low, high : float
        What is wanted, equal for a single level [axis unit per 100 g].
    miss_before_jnd, miss_after_jnd : float
        Signed distance from what is wanted [JND].
    within : bool
        Whether it ends within the tolerance.
    """

    axis: str
    before: float
    after: float
    low: float
    high: float
    miss_before_jnd: float
    miss_after_jnd: float
    within: bool


@dataclass(frozen=True, eq=False)
class Plan:
    """Additions to one pot and where they lead.

    Parameters
    ----------
    start_g, finish_g : float
        Mass of the sauce before and after [g].
    additions : tuple of Addition
        In the cook's order.
    states : tuple of AxisState
        One for each aim.
    exact_within, within : bool
        Whether every axis ends within the tolerance, with exact quantities and with weighed ones.
    solution : Solution
        The exact answer.
    weighed : Weighed
        The same on the scale.
    """

    start_g: float
    finish_g: float
    additions: tuple[Addition, ...]
    states: tuple[AxisState, ...]
    exact_within: bool
    within: bool
    solution: Solution
    weighed: Weighed

    @property
    def growth(self) -> float:
        """Growth of the batch as a fraction of its mass [1]."""
        return self.finish_g / self.start_g - 1.0

    def steps(self, step: float) -> list[str]:
        """What to do: what has to be thinned first, then what goes in.

        Parameters
        ----------
        step : float
            Step of the scale [g].
        """
        made = [a.thinned.making(a.weigh_g, step) for a in self.additions if a.thinned is not None]
        return made + [a.sentence() for a in self.additions]


def planned(problem: Problem, step: float) -> Plan | None:
    """The least addition to a pot, exact and on the scale.

    Parameters
    ----------
    problem : Problem
        With a pot; its dead band is the tolerance.
    step : float
        Step of the scale [g].

    Returns
    -------
    Plan or None
        None where the limits contradict each other.
    """
    assert problem.pot is not None
    solution = solve(problem)
    if not solution.has_quantities:
        return None
    in_pot = np.asarray(problem.pot.grams)
    added = np.maximum(solution.grams - in_pot, 0.0)
    weighed = on_scale(problem, added, step)
    before = axis_levels(Blend(problem.composition(), in_pot, problem.water_lost_g).per_100g())
    blend = Blend(weighed.problem.composition(), weighed.grams, problem.water_lost_g)
    after = axis_levels(blend.per_100g())
    states = _states(problem, before, after)
    start = float(in_pot.sum()) - problem.water_lost_g
    return Plan(
        start,
        blend.mass_g,
        tuple(_additions(weighed, added, step)),
        states,
        solution.status is Status.ON_TARGET,
        all(s.within for s in states),
        solution,
        weighed,
    )


def _states(problem: Problem, before: FloatArray, after: FloatArray) -> tuple[AxisState, ...]:
    found = []
    for aim in problem.aims:
        at = AXIS_NAMES.index(aim.axis)
        was, now = float(before[at]), float(after[at])
        low, high, jnd_low, jnd_high = aim_ends(aim, problem.dead_band_jnd)
        beyond = max((low - now) / jnd_low, (now - high) / jnd_high)
        found.append(
            AxisState(
                aim.axis, was, now, aim.low, aim.high,
                deviation(was, aim.axis, aim.low, aim.high),
                deviation(now, aim.axis, aim.low, aim.high),
                beyond <= HAIR_JND,
            )
        )  # fmt: skip
    return tuple(found)


def _additions(weighed: Weighed, exact: FloatArray, step: float) -> list[Addition]:
    """What goes in, with what cannot be taken back given in two parts."""
    problem, grams = weighed.problem, weighed.grams
    composition = problem.composition()
    after = axis_levels(Blend(composition, grams, problem.water_lost_g).per_100g())
    found = []
    for i in np.flatnonzero(weighed.added_g > 0):
        passes = problem.uses[i].passes
        without = grams.copy()
        without[i] -= weighed.added_g[i]
        weigh = round(float(weighed.added_g[i]) / passes, 6)
        left = axis_levels(Blend(composition, without, problem.water_lost_g).per_100g())
        own = axis_levels(composition[i]) / (
            1.0 if (thinned := weighed.thinned[i]) is None else thinned.strength
        )
        raises = tuple(
            name
            for name in STAGED_AXES
            if _steps_between(left, after, name) >= STAGED_FROM_JND - HAIR_JND
            and own[AXIS_NAMES.index(name)] >= POTENT_FROM * after[AXIS_NAMES.index(name)]
        )
        first = math.floor(FIRST_PART * weigh / step + 1e-9) * step if raises else weigh
        pinch = int(i) in weighed.pinches
        first = weigh if pinch else round(first, 9) or weigh
        of = weighed.of[i]
        found.append(
            (
                of,
                Addition(
                    problem.uses[of].label, float(exact[of]) / passes, weigh, thinned,
                    first, round(weigh - first, 9), raises if first < weigh else (), pinch, passes,
                ),
            )
        )  # fmt: skip
    return [addition for _, addition in sorted(found, key=lambda pair: pair[0])]


def _steps_between(left: FloatArray, after: FloatArray, name: str) -> float:
    at, axis = AXIS_NAMES.index(name), AXIS[name]
    return float((after[at] - left[at]) / (axis.floor + axis.weber * after[at]))


def plan_sentences(plan: Plan, step: float, cap_words: str) -> list[str]:
    """The plan in the order in which a cook works: thinning, additions, growth, levels."""
    lines = plan.steps(step)
    if plan.additions:
        lines.append(
            f"The pot grows from {plan.start_g:.5g} g to {plan.finish_g:.5g} g, by"
            f" {100 * plan.growth:.3g} % ({cap_words})."
        )
    elif plan.exact_within:
        lines.append("Nothing needs to go in: every axis is within its tolerance.")
    if plan.exact_within and not plan.within:
        missed = ", ".join(f"{s.axis} {s.miss_after_jnd:+.2f} JND" for s in plan.states
                           if not s.within)  # fmt: skip
        lines.append(
            f"In steps of {step:g} g the scale cannot meet every tolerance: {missed}. A finer scale"
            " or a larger pot can."
        )
    for s in plan.states:
        wanted = f"{s.low:.3g}" if s.low == s.high else f"{s.low:.3g} to {s.high:.3g}"
        lines.append(
            f"{s.axis}: {s.before:.3g} before, {s.after:.3g} after, wanted {wanted}"
            f" {AXIS[s.axis].unit_per_100g} ({s.miss_after_jnd:+.1f} JND)."
        )
    return lines
