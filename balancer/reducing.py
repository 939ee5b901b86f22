"""Too thin: how much water to boil off, and the mass on the scale at which to stop."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from balancer.chemical_constants import TYPICAL_IONIC_STRENGTH
from balancer.composition import INDEX, NAMES, FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.errors import BadInput
from balancer.problem import Problem
from balancer.readings import POT_KEY, poured
from balancer.settle import with_rows
from balancer.simmering import batch, boiled, lost_g
from balancer.taste import axis_matrix
from balancer.water_phase import as_one, phase_of, water_phase
from balancer.wishes import LARGEST_LEVEL, Use

#: A level that rises by more than this is named [JND].
NAMED_RISE_JND = 1.0


@dataclass(frozen=True, eq=False)
class Reduction:
    """Boiling a pot down until one axis has its level.

    Parameters
    ----------
    axis : str
        The axis that sets the end.
    start_g, stop_g : float
        Mass of the sauce before, and on the scale when it is done [g].
    water_g : float
        Water boiled off [g]; acetic acid and alcohol that leave with it make up the rest.
    before, after : array, shape (n_axes,)
        Levels [axis unit per 100 g]; volatile afterwards is what would be left if no aroma left
        with the steam, an upper bound.
    problem : Problem
        The reduced pot, ready to be corrected.
    """

    axis: str
    start_g: float
    stop_g: float
    water_g: float
    before: FloatArray
    after: FloatArray
    problem: Problem

    def sentences(self) -> tuple[str, ...]:
        """What to do, and what else it changes."""
        at = AXIS_NAMES.index(self.axis)
        unit = AXIS[self.axis].unit_per_100g
        lines = [
            f"Boil off {self.water_g:.4g} g of water: stop when the sauce weighs {self.stop_g:.5g}"
            f" g, from {self.start_g:.5g} g (take the empty pot off the reading). {self.axis} goes"
            f" from {self.before[at]:.3g} to {self.after[at]:.3g} {unit}."
        ]
        risen = []
        for name, was, now in zip(AXIS_NAMES, self.before, self.after, strict=True):
            step = (now - was) / (AXIS[name].floor + AXIS[name].weber * was)
            if name not in (self.axis, "volatile") and step > NAMED_RISE_JND:
                risen.append(f"{name} +{step:.1f} JND")
        if risen:
            lines.append(f"Reducing concentrates the rest too: {', '.join(risen)}.")
        if self.before[AXIS_NAMES.index("volatile")] > 0:
            lines.append("Aroma leaves with the steam: taste, and add spices and herbs last.")
        return tuple(lines)


def reduced(problem: Problem, axis: str, level: float) -> Reduction:
    """Boil a pot down until an axis has a level.

    Only water, acetic acid and alcohol leave, so all else keeps its mass: an axis without them
    rises as ``L1 = L0 * M0 / M1``.

    Parameters
    ----------
    problem : Problem
        With a pot; water lost already is taken off.
    axis : str
        Which level sets the end.
    level : float
        Wanted [axis unit per 100 g].

    Returns
    -------
    Reduction

    Raises
    ------
    BadInput
        If the problem has no pot, the axis is unknown, the level is not above the present one, or
        no boiling reaches it.
    """
    if problem.pot is None:
        raise BadInput("There is no pot to reduce. Give what is in it.")
    if axis not in AXIS:
        raise BadInput(f"There is no axis {axis!r}. Use one of: {', '.join(AXIS_NAMES)}.")
    unit = AXIS[axis].unit_per_100g
    if not (math.isfinite(level) and 0 < level <= LARGEST_LEVEL[axis]):
        raise BadInput(
            f"The wanted {axis} is {level:g} {unit}. Give a level above zero, at most"
            f" {LARGEST_LEVEL[axis]:g}."
        )
    grams = np.asarray(problem.pot.grams)
    total = batch(problem.composition(), grams)
    total[INDEX["water"]] -= problem.water_lost_g
    start = float(grams.sum()) - problem.water_lost_g
    weights = axis_matrix()
    at = AXIS_NAMES.index(axis)

    def after(water: float) -> tuple[FloatArray, float]:
        left = boiled(total, water)
        return left, start - lost_g(total, left)

    def reading(water: float) -> float:
        left, mass = after(water)
        return 100.0 * float(left @ weights[:, at]) / mass if mass > 0 else math.inf

    most = max(0.0, float(total[INDEX["water"]]))
    now, top = reading(0.0), reading(most)
    if now >= level:
        raise BadInput(
            f"The pot has {axis} {now:.3g} {unit} already; boiling only raises it. Thin it with"
            " water instead."
        )
    if now <= 0 or top < level:
        raise BadInput(
            f"Boiling cannot bring {axis} to {level:g} {unit}: with all water gone it is {top:.3g}."
            f" Add something that carries {axis}."
        )
    low, high = 0.0, most
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if reading(middle) < level else (low, middle)
    left, mass = after(high)
    stays = np.divide(left, total, out=np.ones(len(NAMES)), where=total > 0)
    stays[INDEX["water"]] = 1.0  # what leaves as water is counted on the scale
    kept = stays if problem.kept is None else problem.kept * stays
    pot = as_one(
        [u.ingredient for u in problem.uses],
        grams,
        float(grams.sum()) - mass,
        np.broadcast_to(kept, (len(grams), len(NAMES))),
        key=POT_KEY,
        name="reduced pot",
    )
    additions = tuple(
        Use(
            u.ingredient,
            max_g=max(0.0, u.max_g - g),
            share_max=u.share_max,
            label=u.label,
            passes=u.passes,
        )
        for u, g in zip(problem.uses, grams, strict=True)
        if u.ingredient.key != POT_KEY
    )
    plain = tuple(x for x in problem.limits if not x.per_use)
    new = poured(pot, mass, additions, problem.aims, problem.pot.growth, plain)
    new = replace(new, water_limits=problem.water_limits, dead_band_jnd=problem.dead_band_jnd)
    return Reduction(
        axis,
        start,
        mass,
        high,
        100.0 * (total @ weights) / start,
        100.0 * (left @ weights) / mass,
        _with_water_rows(new, mass),
    )


def _with_water_rows(problem: Problem, mass_g: float) -> Problem:
    """The reduced pot with its limits on the water phase as rows of its own."""
    phase = phase_of([u.ingredient for u in problem.uses])
    in_pot = np.zeros(len(problem.uses))
    in_pot[0] = mass_g
    found = water_phase(phase, in_pot).ph
    strength = TYPICAL_IONIC_STRENGTH.value if found is None else found.ionic_strength
    return with_rows(problem, phase, None, strength, 0.0)
