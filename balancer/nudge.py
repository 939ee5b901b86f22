"""From a tasted batch to the pot that stands there, and to the next batch.

What is in the pot enters as one ingredient of its own, with the composition that cooking left;
what is added enters raw. So nothing comes out, and both stay linear.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, CARRIER_SHARE, POT_TOLERANCE_JND
from balancer.problem import Problem
from balancer.settle import Settled, settle
from balancer.taste import axis_matrix, from_z, to_z
from balancer.water_phase import as_one
from balancer.wishes import Aim, Pot, Use

POT_KEY, POT_NAME = "pot", "what is in the pot"


@dataclass(frozen=True, eq=False)
class Made:
    """A batch as it was weighed and cooked.

    Parameters
    ----------
    settled : Settled
        A report on it.
    grams : array, shape (n_uses,)
        Edible grams before loss that stay in the pot, in the order of the request [g].
    """

    settled: Settled
    grams: FloatArray

    @property
    def levels(self) -> FloatArray:
        """Level of every axis [axis unit per 100 g], shape (n_axes,)."""
        return self.settled.solution.levels

    @property
    def weighed_g(self) -> FloatArray:
        """What was weighed, parts that were taken out included [g]."""
        uses = self.settled.solution.problem.uses
        return np.asarray(self.grams / np.array([u.passes for u in uses]))

    @property
    def mass_g(self) -> float:
        """Finished mass [g]."""
        return self.settled.solution.blend.mass_g


def as_made(problem: Problem, grams: FloatArray) -> Made:
    """Look at a batch as it was weighed, whatever the plan said.

    Raises
    ------
    BadInput
        If more water was lost than went in, or nothing is in the pot.
    """
    uses = tuple(
        Use(u.ingredient, locked_g=float(g), label=u.label, goes_in=u.goes_in, passes=u.passes)
        for u, g in zip(problem.uses, grams, strict=True)
    )
    report = Problem(
        uses,
        yield_g=float(grams.sum()) - problem.water_lost_g,
        water_lost_g=problem.water_lost_g,
    )
    return Made(settle(report), grams)


def pot_problem(
    problem: Problem, made: Made, wanted: FloatArray, steps: Mapping[str, float], growth: float
) -> Problem:
    """The wish for the pot: the least that brings it where the words lead.

    An axis that the cook named has to come within the dead band of its level; one that was not
    mentioned may drift by the tolerance of a pot, so that little has to be added. A maximum or a
    lock counts what is in the pot; minima, shares and ratios of the recipe no longer bind.

    Parameters
    ----------
    problem : Problem
        The request that was made.
    made : Made
    wanted : array, shape (n_axes,)
        Levels to reach [axis unit per 100 g].
    steps : mapping of str to float
        What was asked for, per axis [JND].
    growth : float
        Largest growth of the mass in the pot [1].
    """
    cooked = made.settled.solution.problem
    pot = as_one(
        [u.ingredient for u in problem.uses],
        made.grams,
        cooked.water_lost_g,
        cooked.kept,
        key=POT_KEY,
        name=POT_NAME,
    )
    uses = [Use(pot, max_g=made.mass_g, label=POT_NAME)]
    for use, grams in zip(problem.uses, made.grams, strict=True):
        most = use.max_g if use.locked_g is None else use.locked_g
        room = max(0.0, most - float(grams))
        uses.append(
            Use(
                use.ingredient,
                draft_g=float(grams),
                max_g=room,
                label=use.label,
                passes=use.passes,
            )
        )
    named = np.array([steps.get(axis, 0.0) != 0 for axis in AXIS_NAMES])
    width = np.where(named, problem.dead_band_jnd, POT_TOLERANCE_JND.value)
    low, high = from_z(to_z(wanted) - width), from_z(to_z(wanted) + width)
    aims = tuple(
        Aim(axis, float(a), float(b)) for axis, a, b in zip(AXIS_NAMES, low, high, strict=True)
    )
    return replace(
        problem,
        uses=tuple(uses),
        aims=aims,
        yield_g=None,
        yield_ml=None,
        water_lost_g=0.0,
        ratios=(),
        pot=Pot((made.mass_g, *(0.0 for _ in problem.uses)), growth),
    )


def may_shrink(problem: Problem, made: Made, steps: Mapping[str, float]) -> NDArray[np.bool_]:
    """Which ingredients carry an axis that the cook wants less of, shape (n_uses,).

    The others keep at least a share of their quantity in the next batch: less sour should not
    take the ginger out of a ginger dip.
    """
    levels = made.settled.solution.problem.composition() @ axis_matrix()
    parts = made.grams[:, None] * levels
    total = parts.sum(axis=0)
    shares = np.divide(parts, total, out=np.zeros_like(parts), where=total > 0)
    less = np.array([steps.get(axis, 0.0) < 0 for axis in AXIS_NAMES])
    return np.asarray((shares[:, less] >= CARRIER_SHARE.value).any(axis=1))
