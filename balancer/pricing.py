"""The exact ranking of foods that are not in a sauce, by how near they bring it to its target.

One scalar ranks: the optimum of stage 1, the weighted sum of deviations beyond the dead band, with
one food added up to its largest sensible share. That optimum is convex in the amount added, and
any dual answer y of the program bounds it from below for every food at once:
``value(food, t) >= D(y) + d(food) t``, with d the reduced cost of its column. Foods are solved
exactly from the best bound down, every answer yields a further bound for all others, and the
search stops when no bound can beat the k-th best: the ranking is the one of solving them all.

Foods that come equally near are ranked by the least share that does so, with its own bound:
``t >= (D(y) - value) / -d(food)``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.errors import NoSolution
from balancer.first_stage import first_stage, reference_of
from balancer.problem import Problem
from balancer.program import s_range
from balancer.shelf import Shelf
from balancer.solve import Model, Optimum

#: Sums nearer to each other than this are equal [JND].
TIE_JND = 1e-5
#: A food that brings less than this is no suggestion [JND].
LEAST_GAIN_JND = 0.05
#: Room for rounding when a sum is held while the share is made least [JND].
HELD_JND = 1e-6
#: Shares equal to this many decimal places are equal.
SHARE_DIGITS = 7


@dataclass(frozen=True)
class Ranked:
    """One food of the ranking.

    Parameters
    ----------
    place : int
        Place in ``Shelf.foods``.
    sum_jnd : float
        Weighted deviations that are left with it, summed [JND].
    share : float
        Least share of the finished mass that does so [1].
    """

    place: int
    sum_jnd: float
    share: float


@dataclass(frozen=True)
class Certificate:
    """Why nothing outside the ranking can belong into it.

    Parameters
    ----------
    candidates : int
        Foods that were priced.
    exact_solves, share_solves : int
        Programs solved for the sum, and for the least share.
    kth_jnd : float
        The sum of the last food in the ranking [JND].
    bound_jnd : float
        No food that was not solved comes nearer than this [JND]; infinite if all were solved.
    """

    candidates: int
    exact_solves: int
    share_solves: int
    kth_jnd: float
    bound_jnd: float

    def sentence(self) -> str:
        """What was solved, and what the rest cannot do."""
        solved = (
            f"Of {self.candidates} foods {self.exact_solves} were solved exactly, and"
            f" {self.share_solves} again for the least amount"
        )
        if math.isinf(self.bound_jnd):
            return f"{solved}; no other brings the sauce nearer."
        return f"{solved}; no other can come nearer than {self.bound_jnd:.3g} JND."


@dataclass(frozen=True)
class Ranking:
    """The best foods, the sum without any, and the certificate."""

    base_jnd: float
    entries: tuple[Ranked, ...]
    certificate: Certificate


class Pricer:
    """Stage 1 of a problem, ready to take in one food at a time.

    Parameters
    ----------
    problem : Problem
    shelf : Shelf
        Candidates; none of them may stand in the problem already.
    extra : mapping of str to array, shape (n_foods,)
        For a limit with amounts per use, by its label, the amount of each food.

    Raises
    ------
    NoSolution
        If the limits of the problem contradict each other.
    """

    def __init__(
        self, problem: Problem, shelf: Shelf, extra: Mapping[str, FloatArray] | None = None
    ) -> None:
        self.problem, self.shelf = problem, shelf
        self.lp, self.prices, self.sum_row = first_stage(problem, shelf, extra or {})
        lost = problem.water_lost_g / reference_of(problem)
        s_high = s_range(problem)[1] if problem.yield_g is None else 1.0
        #: Largest value of each food's column.
        self.most = shelf.share * (1.0 + lost * s_high)
        self.model = Model(self.lp)
        base = self.model.optimum()
        if base is None:
            raise NoSolution(
                "The limits contradict each other, so no ingredient can be ranked."
                " Look at what to relax."
            )
        self.base = base
        self.cuts: list[tuple[float, FloatArray]] = []
        self.share_cuts: list[tuple[float, FloatArray]] = []
        self.lower = np.zeros(len(shelf.foods))
        self._bound(base.value, base)
        self.column: dict[int, int] = {}
        self.width = len(self.lp.columns)
        self.share_solves = 0

    def _bound(self, constant: float, found: Optimum) -> FloatArray:
        rate = -(self.prices @ found.duals)
        self.cuts.append((constant, rate))
        np.maximum(self.lower, constant + np.minimum(rate, 0.0) * self.most, out=self.lower)
        return rate

    def exact(self, place: int) -> float:
        """The optimum of stage 1 with one food added [JND]; every bound is sharpened by it."""
        if place not in self.column:
            self.column[place] = self.model.add_column(
                self.prices[place], 0.0, float(self.most[place])
            )
            self.width += 1
        column = self.column[place]
        self.model.set_column(column, 0.0, float(self.most[place]))
        found = self.model.optimum()
        self.model.set_column(column, 0.0, 0.0)
        if found is None:  # a point without the food is feasible, so one with it is
            raise NoSolution(
                f"{self.shelf.foods[place].name} could not be tried. Leave it out and rank again."
            )
        rate = float(-(self.prices[place] @ found.duals))
        self._bound(found.value - min(0.0, rate) * float(self.most[place]), found)
        return max(0.0, found.value)

    def least_share(self, place: int, held: float) -> float:
        """Least share of one food that brings the sum to a value, infinite if none does [1]."""
        self.share_solves += 1
        if place not in self.column:
            self.column[place] = self.model.add_column(self.prices[place], 0.0, 0.0)
            self.width += 1
        column, model = self.column[place], self.model
        cost = np.zeros(self.width)
        cost[column] = 1.0
        model.set_cost(cost)
        model.set_row(self.sum_row, -math.inf, held + HELD_JND)
        model.set_column(column, 0.0, float(self.most[place]))
        found = model.optimum()
        model.set_column(column, 0.0, 0.0)
        model.set_row(self.sum_row, -math.inf, math.inf)
        model.set_cost(np.concatenate([self.lp.cost, np.zeros(self.width - len(self.lp.cost))]))
        if found is None:
            return math.inf
        own = 1.0 - float(self.prices[place] @ found.duals)
        constant = found.value - min(0.0, own) * float(self.most[place])
        self.share_cuts.append((constant, -(self.prices @ found.duals)))
        return float(found.y[column])

    def _shares_needed(self, held: float, places: NDArray[np.intp]) -> FloatArray:
        """Lower bound on the share that brings some foods to a sum, in the order of places."""
        least = np.zeros(len(places))
        for constant, rate in self.cuts:
            _sharpen(least, constant - held - TIE_JND, rate[places])
        return least

    def rank(self, count: int, progress: Callable[[int], None] | None = None) -> Ranking:
        """The best foods, exactly.

        Parameters
        ----------
        count : int
            How many.
        progress : callable or None
            Told the number of exact solves after each.
        """
        ceiling = self.base.value - LEAST_GAIN_JND
        known: dict[int, float] = {}
        solved = np.zeros(len(self.shelf.foods), dtype=bool)

        def kth() -> float:
            good = sorted(v for v in known.values() if v <= ceiling)
            return good[count - 1] if len(good) >= count else math.inf

        while True:
            open_ = ~solved & (self.lower <= ceiling)
            if not open_.any() or count < 1:
                break
            best = float(self.lower[open_].min())
            if best >= kth() - TIE_JND:
                break
            level = np.flatnonzero(open_ & (self.lower <= best + TIE_JND))
            j = int(level[0])
            if len(level) > 1:  # the one that seems to need least
                j = int(level[np.argmin(self._shares_needed(best, level))])
            known[j] = self.exact(j)
            solved[j] = True
            if progress is not None:
                progress(len(known))
        entries = self._by_share(known, solved, count, kth(), ceiling)
        left = ~solved
        bound = float(self.lower[left].min()) if left.any() and count >= 1 else math.inf
        last = entries[-1].sum_jnd if entries else math.nan
        certificate = Certificate(len(self.shelf.foods), len(known), self.share_solves, last, bound)
        return Ranking(self.base.value, entries, certificate)

    def _by_share(
        self,
        known: dict[int, float],
        solved: NDArray[np.bool_],
        count: int,
        last: float,
        ceiling: float,
    ) -> tuple[Ranked, ...]:
        """Order equals by the least share, and find those that tie with the last one."""
        better = {j: v for j, v in known.items() if v <= ceiling and v < last - TIE_JND}
        entries = [Ranked(j, v, self.least_share(j, v)) for j, v in better.items()]
        self.share_cuts.clear()
        if math.isfinite(last):
            tied = [j for j, v in known.items() if abs(v - last) <= TIE_JND]
            held = max(known[j] for j in tied)
            shares = {j: self.least_share(j, held) for j in tied}
            need = count - len(better)
            rest = np.flatnonzero(~solved & (self.lower <= last + TIE_JND))
            bound = self._shares_needed(held, rest)
            used = 0
            while True:
                for constant, rate in self.share_cuts[used:]:
                    _sharpen(bound, constant, rate[rest])
                used = len(self.share_cuts)
                # bounds rise and the share that is to beat falls: what is out stays out
                may = bound <= np.minimum(sorted(shares.values())[need - 1], self.most[rest])
                rest, bound = rest[may], bound[may]
                if not len(rest):
                    break
                at = int(np.argmin(bound))
                j = int(rest[at])
                rest, bound = np.delete(rest, at), np.delete(bound, at)
                share = self.least_share(j, held)
                if math.isfinite(share):
                    shares[j] = share
            entries += [Ranked(j, last, share) for j, share in shares.items()]
        foods, curated = self.shelf.foods, self.shelf.curated
        ranked = sorted(
            entries,
            key=lambda e: (
                _level(e.sum_jnd, entries), round(e.share, SHARE_DIGITS), not curated[e.place],
                foods[e.place].key,
            ),
        )  # fmt: skip
        return tuple(ranked[:count])


def _sharpen(least: FloatArray, constant: float, rate: FloatArray) -> None:
    """Raise lower bounds on shares, in place, to those at which a falling line reaches zero."""
    if constant > 0:
        need = np.full(len(rate), math.inf)
        np.divide(constant, -rate, out=need, where=rate < 0)
        np.maximum(least, need, out=least)


def _level(value: float, entries: Sequence[Ranked]) -> float:
    """The lowest sum that a value is equal to."""
    return min(e.sum_jnd for e in entries if e.sum_jnd >= value - TIE_JND)
