"""Correcting the pot that is made: nothing comes out of it, so what goes in has to be right.

The least addition that brings every axis within its tolerance is one linear program in shares and
reciprocal mass (see ``program``). Around it stands what a cook needs: what to weigh on this scale,
what to hold back until it is tasted, and, where no addition within the cap helps, how far to
dilute, how much to set aside, or how much to boil off.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from balancer.additions import Plan, plan_sentences, planned
from balancer.composition import COMPONENTS
from balancer.constants import AXIS, AXIS_NAMES, POT_TOLERANCE_JND
from balancer.errors import BadInput
from balancer.explain import uncarried
from balancer.problem import Problem
from balancer.reducing import Reduction, reduced
from balancer.requirements import aim_ends
from balancer.solve import Status, solve
from balancer.weighing import TRACE, checked_readability
from balancer.wishes import Pot

#: Step of a common kitchen scale [g].
READABILITY_G = 1.0
#: Largest growth that is tried to learn what it would take [1].
FARTHEST_GROWTH = 100.0
#: A reduction is offered where it takes off this share of the misses.
REDUCTION_GAIN = 0.25
SEARCH_STEPS = 16


@dataclass(frozen=True, eq=False)
class SetAside:
    """Taking out a part, so that the rest can be corrected in the room there is.

    Parameters
    ----------
    set_aside_g, keep_g : float
        What is taken out, and what stays [g].
    plan : Plan
        For what stays.
    """

    set_aside_g: float
    keep_g: float
    plan: Plan

    def sentences(self) -> tuple[str, ...]:
        """What to do with both parts."""
        return (
            f"Set {self.set_aside_g:.4g} g aside and correct the remaining {self.keep_g:.4g} g,"
            f" which then make {self.plan.finish_g:.4g} g.",
            "What is set aside is a base, not waste: corrected in the same proportions it makes"
            f" {self.set_aside_g * self.plan.finish_g / self.keep_g:.4g} g more, or it seasons"
            " another batch a spoon at a time. Chill it quickly, label it with the date, and keep"
            " it only as long as your local food code allows for this sauce.",
        )


@dataclass(frozen=True, eq=False)
class Correction:
    """What can be done for a pot.

    Parameters
    ----------
    problem : Problem
        What was asked, tolerance included.
    readability_g : float
        Step of the scale [g].
    plan : Plan or None
        Additions within the cap, the nearest point where they do not suffice; None where the limits
        contradict each other within the cap.
    dilute : Plan or None
        Least growth beyond the cap that does suffice; None where it is not needed or none does.
    set_aside : SetAside or None
        The same with no more sauce than the cap allows.
    reduction : Reduction or None
        Boiling off water first, where that brings the pot nearer than adding alone.
    after_reduction : Plan or None
        What to add to the reduced pot.
    notes : tuple of str
        What the cook should know besides.
    """

    problem: Problem
    readability_g: float
    plan: Plan | None
    dilute: Plan | None
    set_aside: SetAside | None
    reduction: Reduction | None
    after_reduction: Plan | None
    notes: tuple[str, ...]

    @property
    def within(self) -> bool:
        """Whether weighed additions within the cap bring every axis within the tolerance."""
        return self.plan is not None and self.plan.within

    def sentences(self) -> tuple[str, ...]:
        """The whole answer, in the order in which a cook needs it."""
        assert self.problem.pot is not None
        cap = f"cap {100 * self.problem.pot.growth:.3g} %"
        lines = []
        if self.plan is None:
            lines.append("The limits contradict each other within the growth allowed.")
        else:
            if not self.plan.exact_within:
                lines.append("Adding cannot bring the pot there; this is the nearest it comes.")
            lines += plan_sentences(self.plan, self.readability_g, cap)
        if self.dilute is not None:
            lines.append(
                "To get there by adding alone, the pot has to grow to"
                f" {self.dilute.finish_g:.4g} g, by {100 * self.dilute.growth:.3g} % ({cap})."
            )
            lines += self.dilute.steps(self.readability_g)
        if self.set_aside is not None:
            lines += self.set_aside.sentences()
            lines += self.set_aside.plan.steps(self.readability_g)
        if self.reduction is not None and self.after_reduction is not None:
            lines += ["Or reduce it first.", *self.reduction.sentences()]
            lines += plan_sentences(self.after_reduction, self.readability_g, cap)
        return (*lines, *self.notes)


def correct(
    problem: Problem,
    *,
    readability_g: float = READABILITY_G,
    tolerance_jnd: float = POT_TOLERANCE_JND.value,
) -> Correction:
    """Find what to do for a pot.

    Parameters
    ----------
    problem : Problem
        With a pot and its cap on growth. A locked ingredient may not be topped up.
    readability_g : float
        Step of the cook's scale [g].
    tolerance_jnd : float
        A single level counts as reached within this [JND]; a band is taken as it is.

    Returns
    -------
    Correction

    Raises
    ------
    BadInput
        If there is no pot or no aim, or the scale's step is none.

    Examples
    --------
    >>> from balancer.catalogue import default_catalogue
    >>> from balancer.wishes import Aim, Pot, Use
    >>> food = default_catalogue().food
    >>> uses = (Use(food("11547"), label="passata"), Use(food("02047"), label="salt"))
    >>> pot = Pot((490.0, 12.0))
    >>> found = correct(Problem(uses, (Aim("salt", 2.0, 2.0),), pot=pot))
    >>> [a.sentence() for a in found.plan.additions]
    ['passata: 15 g.']
    """
    if problem.pot is None:
        raise BadInput("There is no pot to correct. Give the grams that are in it.")
    if not problem.aims:
        raise BadInput("Nothing is wanted of the pot. Name at least one axis and its level.")
    step = checked_readability(readability_g)
    asked = replace(
        problem,
        uses=tuple(
            u if u.locked_g is None else replace(u, locked_g=None, max_g=u.locked_g)
            for u in problem.uses
        ),
        dead_band_jnd=tolerance_jnd,
    )
    plan = planned(asked, step)
    dilute = aside = after = reduction = None
    if plan is None or not plan.exact_within:
        dilute = planned(_grown(asked, FARTHEST_GROWTH), step)
        if dilute is not None and not dilute.exact_within:
            dilute = None
        aside = _set_aside(asked, step, dilute)
        reduction, after = _reduce_first(asked, step, plan)
    return Correction(
        asked, step, plan, dilute, aside, reduction, after, tuple(_notes(asked, plan))
    )


def _grown(problem: Problem, growth: float) -> Problem:
    assert problem.pot is not None
    return replace(problem, pot=Pot(problem.pot.grams, growth))


def _scaled(problem: Problem, share: float) -> Problem:
    """The pot with a share of it kept, allowed to grow to what the whole was allowed."""
    assert problem.pot is not None
    room = (1.0 + problem.pot.growth) / share - 1.0
    return replace(
        problem,
        water_lost_g=problem.water_lost_g * share,
        pot=Pot(tuple(share * g for g in problem.pot.grams), room),
    )


def _set_aside(problem: Problem, step: float, dilute: Plan | None) -> SetAside | None:
    """The most that can stay in the pot, by what growth takes; searched where maxima hold."""
    assert problem.pot is not None
    most = 1.0 + problem.pot.growth
    needed = dilute.solution.blend.mass_g / dilute.start_g if dilute else FARTHEST_GROWTH
    low, high = most / needed * (1.0 - 1e-6), 1.0

    def helps(share: float) -> bool:
        return solve(_scaled(problem, share)).status is Status.ON_TARGET

    if not helps(low):
        return None
    if any(math.isfinite(u.max_g) for u in problem.uses):
        for _ in range(SEARCH_STEPS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if helps(middle) else (low, middle)
    whole = sum(problem.pot.grams) - problem.water_lost_g
    keep = math.floor(low * whole / step + 1e-6) * step
    if keep < step:
        return None
    plan = planned(_scaled(problem, keep / whole), step)
    return SetAside(whole - keep, keep, plan) if plan is not None else None


def _reduce_first(
    problem: Problem, step: float, plan: Plan | None
) -> tuple[Reduction | None, Plan | None]:
    """Boil down until the axis that is farthest short is within, if that helps more than adding."""
    if plan is None:
        return None, None
    short = [s for s in plan.states if s.miss_before_jnd < 0 and not s.within and s.before > 0]
    if not short:
        return None, None
    worst = min(short, key=lambda s: s.miss_after_jnd)
    try:
        aim = problem.aim(worst.axis)
        assert aim is not None
        found = reduced(problem, worst.axis, aim_ends(aim, problem.dead_band_jnd)[0])
    except BadInput:  # out of reach of boiling: not an offer
        return None, None
    after = planned(found.problem, step)
    miss = plan.solution.sum_jnd
    if after is None or after.solution.sum_jnd > (1.0 - REDUCTION_GAIN) * miss:
        return None, None
    return found, after


def _undiluted(problem: Problem, plan: Plan) -> list[str]:
    """Axes that end too high and that nothing which may go in can thin."""
    assert problem.pot is not None
    own = plan.solution.program.levels  # in program order
    order = plan.solution.program.order
    free = [problem.uses[i].max_g > problem.pot.grams[i] for i in order]
    return [
        f"Nothing that may go in has less {s.axis} than is wanted: allow something without it, such"
        " as water or an unseasoned base."
        for s in plan.states
        if s.miss_after_jnd > 0
        and not s.within
        and not any(own[free, AXIS_NAMES.index(s.axis)] < s.high)
    ]


def _notes(problem: Problem, plan: Plan | None) -> Sequence[str]:
    """Axes that nothing carries, figures that are lower bounds, and the caution on keeping."""
    assert problem.pot is not None
    notes = []
    if plan is not None and not plan.exact_within:
        notes += list(uncarried(problem, plan.solution.program))
        notes += _undiluted(problem, plan)
    whole = sum(problem.pot.grams)
    for aim in problem.aims:
        carried = [c for c in COMPONENTS if c.name in AXIS[aim.axis].weights]
        unknown = [
            u.label
            for u, g in zip(problem.uses, problem.pot.grams, strict=True)
            if g > TRACE * whole and all(math.isnan(u.ingredient[c.name]) for c in carried)
        ]
        if unknown:
            notes.append(
                f"{aim.axis} of {', '.join(unknown)} is not known and counted as none: taste before"
                " you trust that figure."
            )
    if plan is not None and plan.additions:
        notes.append(
            "If this sauce keeps by its acid or its salt, measure its pH again afterwards:"
            " additions thin both. Local food code decides."
        )
    return notes
