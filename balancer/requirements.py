"""Everything a cook asked for, as rows over the shares of the batch.

Shares are ``x = q / M`` and ``s = M_ref / M`` with M the finished mass; each row is linear in
both, so that the same rows serve a fixed mass, a fixed volume and a pot that grows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balancer.composition import VOLUME_WEIGHTS, FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.problem import Aim, Problem
from balancer.taste import axis_matrix


@dataclass(frozen=True, eq=False)
class Requirement:
    """One thing the cook asked for, as a row over the shares and s.

    ``low <= x[places] @ values + per_s * s <= high``; an aim may miss it at a cost.

    Parameters
    ----------
    label : str
        In the cook's words.
    kind : str
        minimum, maximum, lock, share, ratio, limit or aim.
    places : array of int
        Ingredients that the row touches, in program order.
    values : array
        Their coefficients.
    per_s : float
        Coefficient of s.
    low, high : float
        Ends of the row.
    unit : str
        Unit in which the cook reads the limit.
    per_row : float
        That unit per unit of the row.
    stated : float
        The figure the cook gave, in ``unit``; NaN for a band.
    aim : Aim or None
        The aim that the row states.
    """

    label: str
    kind: str
    places: NDArray[np.intp]
    values: FloatArray
    per_s: float
    low: float
    high: float
    unit: str
    per_row: float
    stated: float = math.nan
    aim: Aim | None = None

    @property
    def is_bound(self) -> bool:
        """Whether it touches one ingredient only, with coefficient one."""
        return self.kind in ("minimum", "maximum", "lock", "share")


def aim_ends(aim: Aim, dead_band: float) -> tuple[float, float, float, float]:
    """Ends of the zone without cost and the JND at each end, (low, high, jnd_low, jnd_high).

    A single level gets the dead band on both sides; a band that the cook gave is taken as it is.
    """
    axis = AXIS[aim.axis]
    jnd_low = axis.floor + axis.weber * aim.low
    jnd_high = axis.floor + axis.weber * aim.high
    band = dead_band if aim.is_point else 0.0
    return aim.low - band * jnd_low, aim.high + band * jnd_high, jnd_low, jnd_high


def ordered(problem: Problem) -> NDArray[np.intp]:
    """Places of the uses sorted by food number, so that naming order changes nothing."""
    keys = [u.ingredient.key for u in problem.uses]
    return np.array(sorted(range(len(keys)), key=keys.__getitem__), dtype=np.intp)


def reference_mass(problem: Problem, composition: FloatArray) -> float:
    """M_ref [g]: the yield, the mass in the pot, or a first guess from the volume.

    The guess for a volume takes the density of the usual shares mixed; the mass itself stays
    free, so the guess only sets the scale in which the draft is measured.
    """
    if problem.pot is not None:
        return sum(problem.pot.grams) - problem.water_lost_g
    if problem.yield_g is not None:
        return problem.yield_g
    assert problem.yield_ml is not None
    usual = [u.ingredient.share[1] if u.ingredient.share else 0.01 for u in problem.uses]
    weights = np.array(usual)[ordered(problem)]
    return (
        problem.yield_ml * 100.0 * float(weights.sum() / (weights @ composition @ VOLUME_WEIGHTS))
    )


def draft_shares(problem: Problem, order: NDArray[np.intp], reference_g: float) -> FloatArray:
    """Shares to stay near, in program order.

    A draft or a lock that the cook gave stands as it is; the usual shares of the rest are
    stretched together to fill what is left of the batch.
    """
    uses = [problem.uses[i] for i in order]
    batch = 1.0 + problem.water_lost_g / reference_g
    given = np.array(
        [math.nan if (g := _given(u.draft_g, u.locked_g)) is None else g for u in uses]
    )
    draft = given / reference_g
    usual = np.array([u.ingredient.share[1] if u.ingredient.share else 0.0 for u in uses])
    unknown = np.isnan(given)
    left = batch - float(np.nansum(draft))
    total = float(usual[unknown].sum())
    stretch = left / total if left > 0 and total > 0 else batch
    return np.where(unknown, usual * stretch, draft)


def _given(draft_g: float | None, locked_g: float | None) -> float | None:
    return locked_g if locked_g is not None else draft_g


def requirements_of(
    problem: Problem, order: NDArray[np.intp], composition: FloatArray, reference_g: float
) -> tuple[Requirement, ...]:
    """Everything the cook asked for, limits first, aims last, in a fixed order.

    Parameters
    ----------
    problem : Problem
    order : array of int
    composition : array, shape (n, n_components)
        In program order.
    reference_g : float
        M_ref [g].
    """
    found: list[Requirement] = []
    batch = problem.water_lost_g / reference_g

    def one(label: str, kind: str, j: int, low: float, high: float, stated: float) -> None:
        # low and high are grams over M_ref: x - bound * s >= 0 or <= 0
        row = (np.array([j]), np.ones(1))
        ends = {"lock": (0.0, 0.0), "minimum": (0.0, math.inf), "maximum": (-math.inf, 0.0)}[kind]
        bound = low if kind != "maximum" else high
        found.append(Requirement(label, kind, *row, -bound, *ends, "g", reference_g, stated))

    for j, i in enumerate(order):
        use = problem.uses[i]
        in_pot = problem.pot.grams[i] if problem.pot else 0.0
        if use.locked_g is not None and problem.pot is None:
            g = use.locked_g
            one(f"{use.label} locked at {g:g} g", "lock", j, g / reference_g, 0.0, g)
        else:
            least = max(use.min_g, in_pot)
            if least > 0:
                where = "in the pot" if in_pot >= use.min_g and in_pot > 0 else "at least"
                label = f"{use.label} {where} {least:g} g"
                one(label, "minimum", j, least / reference_g, math.inf, least)
            most = use.max_g if problem.pot is None else max(use.max_g, in_pot)
            if math.isfinite(most):
                label = f"{use.label} at most {most:g} g"
                one(label, "maximum", j, 0.0, most / reference_g, most)
        for share, kind, word in (
            (use.share_min, "least", "at least"),
            (use.share_max, "largest", "at most"),
        ):
            if (kind == "least" and share > 0) or (kind == "largest" and share < 1):
                low, high = (share, math.inf) if kind == "least" else (-math.inf, share)
                label = f"{use.label} {word} {100 * share:g} % of the batch"
                row = (np.array([j]), np.ones(1), -share * batch)
                found.append(Requirement(label, "share", *row, low, high, "%", 100.0, 100 * share))
    place = {int(i): j for j, i in enumerate(order)}
    for ratio in problem.ratios:
        found += _ratio_requirements(problem, place, ratio.of, ratio.to, ratio.low, ratio.high)
    everything = np.arange(len(order))
    for limit in problem.limits:
        values = composition @ limit.vector()
        stated = limit.high if math.isfinite(limit.high) else limit.low
        # water that is lost carries nothing, but water itself may be limited
        per_s = -100.0 * batch * limit.weights.get("water", 0.0)
        row = (everything, values, per_s, limit.low, limit.high)
        found.append(Requirement(limit.label, "limit", *row, limit.unit, 1.0, stated))
    levels = composition @ axis_matrix()
    for aim in sorted(problem.aims, key=lambda a: AXIS_NAMES.index(a.axis)):
        low, high, *_ = aim_ends(aim, problem.dead_band_jnd)
        axis = AXIS[aim.axis]
        figure = f"{aim.low:g}" if aim.is_point else f"{aim.low:g} to {aim.high:g}"
        label = f"{aim.axis} {figure} {axis.unit} per 100 g"
        row = (everything, levels[:, AXIS_NAMES.index(aim.axis)], 0.0, low, high)
        stated = aim.low if aim.is_point else math.nan
        found.append(Requirement(label, "aim", *row, axis.unit, 1.0, stated, aim))
    return tuple(found)


def _ratio_requirements(
    problem: Problem, place: dict[int, int], of: int, to: int, low: float, high: float
) -> Iterable[Requirement]:
    names = f"{problem.uses[of].label} per {problem.uses[to].label}"
    places = np.array([place[of], place[to]])
    ends = (
        [("exactly", low, 0.0, 0.0)]
        if low == high
        else [("at least", low, 0.0, math.inf), ("at most", high, -math.inf, 0.0)]
    )
    for word, bound, least, most in ends:
        if (word == "at least" and bound <= 0) or math.isinf(bound):
            continue
        label = f"{names} {word} {bound:g} g/g"
        values = np.array([1.0, -bound])
        yield Requirement(label, "ratio", places, values, 0.0, least, most, "g/g", 1.0, bound)
