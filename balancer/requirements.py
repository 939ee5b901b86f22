"""Everything a cook asked for, as rows over the shares of the batch.

Shares are ``x = q / M`` and ``s = M_ref / M`` with M the finished mass; each row is linear in
both, so that the same rows serve a fixed mass, a fixed volume and a pot that grows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from balancer.composition import INDEX, VOLUME_WEIGHTS, FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.problem import Problem
from balancer.taste import axis_matrix
from balancer.wishes import Aim

#: Units of rows that hold a difference, not the figure itself: no distance can be read off them.
PH_UNIT, RATIO_UNIT = "pH", "g sucrose eq. per g citric acid"


@dataclass(frozen=True, eq=False)
class Requirement:
    """One thing the cook asked for, as a row over the shares and s.

    ``low <= x[places] @ values + per_s * s <= high``; an aim may miss it at a cost.

    Parameters
    ----------
    label : str
        In the cook's words.
    kind : str
        minimum, maximum, lock, share, loss, ratio, limit or aim.
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
    aim: Aim | None = None

    @property
    def is_bound(self) -> bool:
        """Whether it touches one ingredient only, with coefficient one."""
        return self.kind in ("minimum", "maximum", "lock", "share", "pot")

    @property
    def is_readable(self) -> bool:
        """Whether the row holds the figure that the cook limits, in its unit."""
        return self.unit not in (PH_UNIT, RATIO_UNIT)

    @property
    def ends(self) -> list[float]:
        """The finite ends of the row."""
        return [end for end in (self.low, self.high) if math.isfinite(end)]


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
    return (
        *_quantities(problem, order, reference_g),
        *_loss(problem, composition, reference_g),
        *_ratios(problem, order),
        *_limits(problem, order, composition, reference_g),
        *_aims(problem, composition),
    )


def _quantities(
    problem: Problem, order: NDArray[np.intp], reference_g: float
) -> Iterator[Requirement]:
    """Locks, minima, maxima and shares of single ingredients."""
    lost = problem.water_lost_g / reference_g
    for j, i in enumerate(order):
        use = problem.uses[i]
        in_pot = problem.pot.grams[i] if problem.pot else 0.0
        if use.locked_g is not None and problem.pot is None:
            yield _bound(use.label, j, reference_g, "lock", use.locked_g, "locked at", use.passes)
        else:
            if in_pot > 0 and in_pot >= use.min_g:
                yield _bound(use.label, j, reference_g, "pot", in_pot, "in the pot")
            elif use.min_g > 0:
                yield _bound(
                    use.label, j, reference_g, "minimum", use.min_g, "at least", use.passes
                )
            if math.isfinite(use.max_g):
                most = max(use.max_g, in_pot)
                yield _bound(use.label, j, reference_g, "maximum", most, "at most", use.passes)
        if use.share_min == 0.0 and use.share_max == 1.0:
            continue
        for share, words, low, high in (
            (use.share_min, "at least", use.share_min, math.inf),
            (use.share_max, "at most", -math.inf, use.share_max),
        ):
            if (words == "at least" and share > 0) or (words == "at most" and share < 1):
                label = f"{use.label} {words} {100 * share:g} % of the batch"
                yield Requirement(
                    label, "share", np.array([j]), np.ones(1), -share * lost, low, high,
                    unit="%", per_row=100.0,
                )  # fmt: skip


_ONE = np.ones(1)
_BOUND_ENDS: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "minimum": (0.0, math.inf),
        "pot": (0.0, math.inf),
        "maximum": (-math.inf, 0.0),
        "lock": (0.0, 0.0),
    }
)


def _bound(
    name: str, j: int, reference_g: float, kind: str, grams: float, words: str, passes: float = 1.0
) -> Requirement:
    """``x - grams / M_ref * s`` at least zero, at most zero, or zero; read in grams to weigh."""
    low, high = _BOUND_ENDS[kind]
    return Requirement(
        f"{name} {words} {grams / passes:.6g} g", kind, np.array([j]), _ONE, -grams / reference_g,
        low, high, unit="g", per_row=reference_g / passes,
    )  # fmt: skip


def _loss(problem: Problem, composition: FloatArray, reference_g: float) -> Iterator[Requirement]:
    """No more water can be cooked away than went in."""
    if problem.water_lost_g > 0:
        yield Requirement(
            f"water lost in cooking {problem.water_lost_g:g} g", "loss",
            np.arange(len(composition)), composition[:, INDEX["water"]] / 100.0,
            -problem.water_lost_g / reference_g, 0.0, math.inf, unit="g", per_row=reference_g,
        )  # fmt: skip


def _ratios(problem: Problem, order: NDArray[np.intp]) -> Iterator[Requirement]:
    place = {int(i): j for j, i in enumerate(order)}
    for ratio in problem.ratios:
        names = f"{problem.uses[ratio.of].label} per {problem.uses[ratio.to].label}"
        ends = (
            [("exactly", ratio.low, 0.0, 0.0)]
            if ratio.low == ratio.high
            else [("at least", ratio.low, 0.0, math.inf), ("at most", ratio.high, -math.inf, 0.0)]
        )
        for words, bound, low, high in ends:
            if (words == "at least" and bound <= 0) or math.isinf(bound):
                continue
            stays = problem.uses[ratio.of].passes / problem.uses[ratio.to].passes
            yield Requirement(
                f"{names} {words} {bound:g} g/g", "ratio",
                np.array([place[ratio.of], place[ratio.to]]), np.array([1.0, -bound * stays]),
                per_s=0.0, low=low, high=high, unit="g/g", per_row=1.0 / stays,
            )  # fmt: skip


def _limits(
    problem: Problem, order: NDArray[np.intp], composition: FloatArray, reference_g: float
) -> Iterator[Requirement]:
    lost = problem.water_lost_g / reference_g
    for limit in problem.limits:
        values = composition @ limit.vector()
        if limit.per_use:
            values = values + np.array(limit.per_use)[order]
        per_s = -lost * (100.0 * limit.weights.get("water", 0.0) + limit.per_lost_water)
        yield Requirement(
            limit.label, "limit", np.arange(len(composition)), values,
            per_s, limit.low, limit.high, limit.unit, per_row=1.0,
        )  # fmt: skip


def _aims(problem: Problem, composition: FloatArray) -> Iterator[Requirement]:
    levels = composition @ axis_matrix()
    for aim in sorted(problem.aims, key=lambda a: AXIS_NAMES.index(a.axis)):
        low, high, *_ = aim_ends(aim, problem.dead_band_jnd)
        unit = AXIS[aim.axis].unit_per_100g
        figure = f"{aim.low:.4g}" if aim.is_point else f"{aim.low:.4g} to {aim.high:.4g}"
        yield Requirement(
            f"{aim.axis} {figure} {unit}", "aim", np.arange(len(composition)),
            levels[:, AXIS_NAMES.index(aim.axis)], 0.0, low, high, unit, per_row=1.0, aim=aim,
        )  # fmt: skip
