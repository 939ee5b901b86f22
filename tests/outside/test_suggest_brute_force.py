"""The ranking against solving every food one by one, and other ways against all subsets.

The reference is scipy's linear programming over plain grams, stated here from the problem itself:
it knows no shares, no prices and no bounds. A food whose figures are assumed in part enters at the
worse end of each, which is stated here once more.

Short form: ``SUGGEST_SAUCES`` (4) sauces over ``SUGGEST_FOODS`` (80) foods, half of the pantry.
With ``SUGGEST_LONG=1``: 50 sauces over 500 foods, and 3 over the whole table.
"""

from __future__ import annotations

import itertools
import math
import os
import sys

import numpy as np
import pytest
from sauces import ingredient, random_problem
from scipy.optimize import linprog

from balancer.alternatives import DIFFERENT, ITEM_JND, WITHIN_JND, least_used, other_ways
from balancer.catalogue import default_catalogue
from balancer.composition import INDEX, FloatArray, Ingredient, matrix
from balancer.constants import AXIS, AXIS_NAMES, SWEETNESS
from balancer.gap import held
from balancer.pricing import LEAST_GAIN_JND, TIE_JND, Pricer
from balancer.problem import Problem
from balancer.settle import settle
from balancer.shelf import shelf_of
from balancer.solve import solve
from balancer.taste import axis_matrix
from balancer.wishes import Aim, Use

LONG = os.environ.get("SUGGEST_LONG") == "1"
SAUCES = int(os.environ.get("SUGGEST_SAUCES", "50" if LONG else "4"))
FOODS = int(os.environ.get("SUGGEST_FOODS", "500" if LONG else "80"))
#: Agreement of two solvers [JND, and share of the batch].
NEAR_JND, NEAR_SHARE = 1e-4, 1e-4


def ends(food: Ingredient) -> tuple[FloatArray, FloatArray]:
    """What 100 g surely bring, and may bring."""
    low = np.nan_to_num(food.values)
    high = low.copy()
    for j, kind in enumerate(food.evidence):
        if kind == "assumed":
            sure = 0.0
            if j == INDEX["other_sugars"]:
                sure = low[j] * SWEETNESS["lactose"] / SWEETNESS["other_sugars"]
            if not math.isnan(food.low[j]):
                sure = food.low[j]
            if not math.isnan(food.high[j]):
                high[j] = max(high[j], food.high[j])
            low[j] = min(low[j], sure)
    return low, high


class Grams:
    """The problem over grams, with room for one more ingredient."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.composition = matrix([u.ingredient for u in problem.uses])
        self.mass = float(problem.yield_g or 0.0)
        self.batch = self.mass + problem.water_lost_g

    def solved(
        self,
        low: FloatArray,
        high: FloatArray,
        share: float,
        held_jnd: float | None = None,
        room: dict[str, float] | None = None,
        only: tuple[bool, ...] | None = None,
    ) -> tuple[float, float] | None:
        """Least sum of deviations, or least grams of the addition at a held sum."""
        p = self.problem
        n, k = len(p.uses), len(p.aims)
        width = n + 1 + 2 * k
        a_ub: list[FloatArray] = []
        b_ub: list[float] = []
        a_eq, b_eq = [np.r_[np.ones(n + 1), np.zeros(2 * k)]], [self.batch]

        def most(row: FloatArray, bound: float) -> None:
            if math.isfinite(bound):
                a_ub.append(row)
                b_ub.append(bound)

        def row_of(values: FloatArray, extra: float) -> FloatArray:
            return np.r_[values, extra, np.zeros(2 * k)]

        water = INDEX["water"]
        if p.water_lost_g > 0:
            most(-row_of(self.composition[:, water], low[water]), -100.0 * p.water_lost_g)
        for limit in p.limits:
            w = limit.vector()
            lost = 100.0 * p.water_lost_g * w[water]
            up = float(high @ np.maximum(w, 0) + low @ np.minimum(w, 0))
            down = float(low @ np.maximum(w, 0) + high @ np.minimum(w, 0))
            values = self.composition @ w
            most(row_of(values, up), limit.high * self.mass + lost)
            most(-row_of(values, down), -limit.low * self.mass - lost)
        for ratio in p.ratios:
            row = np.zeros(width)
            row[ratio.of], row[ratio.to] = 1.0, -ratio.high
            most(row, 0.0 if math.isfinite(ratio.high) else math.inf)
            row = np.zeros(width)
            row[ratio.of], row[ratio.to] = -1.0, ratio.low
            most(row, 0.0)
        cost = np.zeros(width)
        axes = axis_matrix()
        for i, aim in enumerate(p.aims):
            axis = AXIS[aim.axis]
            w = axes[:, AXIS_NAMES.index(aim.axis)]
            jnd = [axis.floor + axis.weber * x for x in (aim.low, aim.high)]
            band = p.dead_band_jnd if aim.low == aim.high else 0.0
            over, under = n + 1 + 2 * i, n + 2 + 2 * i
            row = row_of(self.composition @ w, float(high @ w)) / self.mass
            row[over] = -jnd[1]
            most(row, aim.high + band * jnd[1])
            row = -row_of(self.composition @ w, float(low @ w)) / self.mass
            row[under] = -jnd[0]
            most(row, -(aim.low - band * jnd[0]))
            cost[over] = cost[under] = aim.weight
        bounds: list[tuple[float, float | None]] = []
        for i, u in enumerate(p.uses):
            least = max(u.min_g, u.share_min * self.batch)
            top = min(u.max_g, u.share_max * self.batch)
            if u.locked_g is not None:
                least = top = u.locked_g
            if only is not None:
                least, top = (
                    (max(least, least_used(u.ingredient) * self.batch), top)
                    if only[i]
                    else (0.0, 0.0)
                )
            bounds.append((least, None if math.isinf(top) else top))
        bounds.append((0.0, share * self.batch))
        for aim in p.aims:
            bounds += [(0.0, None if room is None else room[aim.axis])] * 2
        if held_jnd is not None:
            most(cost, held_jnd)
            cost = np.zeros(width)
            cost[n] = 1.0
        if any(b[1] is not None and b[0] > b[1] + 1e-12 for b in bounds):
            return None
        size = np.maximum(np.abs(np.array(a_ub)).max(axis=1), 1e-12)
        found = linprog(
            cost, A_ub=np.array(a_ub) / size[:, None], b_ub=np.array(b_ub) / size,
            A_eq=np.array(a_eq), b_eq=b_eq, bounds=bounds, method="highs",
        )  # fmt: skip
        return (float(found.fun), float(found.x[n])) if found.status == 0 else None


def sauces(count: int) -> list[tuple[int, Problem]]:
    """Random sauces that miss their target, and that something in the pantry may help."""
    found = []
    for seed in itertools.count():
        problem = random_problem(seed, default_catalogue().pantry, spread=0.8)
        base = solve(problem).sum_jnd
        if base > 0.5:
            have = {u.ingredient.key for u in problem.uses}
            shelf = shelf_of([f for f in default_catalogue().pantry if f.key not in have])
            if (Pricer(problem, shelf).lower < base - 0.5).sum() > 20:
                found.append((seed, problem))
        if len(found) == count:
            return found
    raise AssertionError


def check_ranking(problem: Problem, foods: list[Ingredient], count: int = 10) -> str:
    have = {u.ingredient.key for u in problem.uses}
    shelf = shelf_of([f for f in foods if f.key not in have])
    ranking = Pricer(problem, shelf).rank(count)
    grams = Grams(problem)
    nothing = np.zeros_like(shelf.low[0])
    base = grams.solved(nothing, nothing, 0.0)
    assert base is not None
    assert ranking.base_jnd == pytest.approx(base[0], abs=NEAR_JND)
    pairs = [ends(f) for f in shelf.foods]
    sums = np.empty(len(shelf.foods))
    for j, (low, high) in enumerate(pairs):
        one = grams.solved(low, high, float(shelf.share[j]))
        assert one is not None
        sums[j] = one[0]
    good = np.sort(sums[sums <= base[0] - LEAST_GAIN_JND])
    clear = np.sort(sums[sums <= base[0] - LEAST_GAIN_JND - NEAR_JND])
    assert len(clear[:count]) <= len(ranking.entries) <= count
    got = [e.sum_jnd for e in ranking.entries]
    np.testing.assert_allclose(got, good[: len(got)], atol=NEAR_JND)
    for e in ranking.entries:
        assert sums[e.place] == pytest.approx(e.sum_jnd, abs=NEAR_JND)
    # among foods that come equally near, the least share: of all of them, solved one by one
    last = got[-1] if got else math.inf
    tied = np.flatnonzero(np.abs(sums - last) <= TIE_JND)
    shares = []
    for j in tied:
        one = grams.solved(*pairs[j], float(shelf.share[j]), held_jnd=last + TIE_JND)
        shares.append(math.inf if one is None else one[1] / problem.yield_g)
    mine = [e.share for e in ranking.entries if abs(e.sum_jnd - last) <= TIE_JND]
    if len(tied) >= len(mine) > 1:
        best = np.sort(shares)[: len(mine)]
        np.testing.assert_allclose(np.sort(mine), best, atol=NEAR_SHARE + 2e-3 * float(best[-1]))
    certificate = ranking.certificate
    assert certificate.candidates == len(shelf.foods)
    return certificate.sentence()


def told(seed: int, sentence: str) -> None:
    """Print the certificate (seen with ``pytest -s``)."""
    sys.stdout.write(f"\nsauce {seed}: {sentence}")


def test_ranking_is_that_of_solving_every_food() -> None:
    for seed, problem in sauces(SAUCES):
        rng = np.random.default_rng(seed)
        pantry = default_catalogue().pantry
        foods = [pantry[i] for i in rng.choice(len(pantry), FOODS // 2, replace=False)]
        table = default_catalogue().table
        foods += [table[i] for i in rng.choice(len(table), FOODS - FOODS // 2, replace=False)]
        told(seed, check_ranking(problem, foods))


@pytest.mark.skipif(not LONG, reason="the whole table, food by food: set SUGGEST_LONG=1")
def test_ranking_of_the_whole_table() -> None:
    for seed, problem in sauces(3):
        told(seed, check_ranking(problem, list(default_catalogue().everything)))


def test_the_solver_of_the_sauce_agrees_where_nothing_is_assumed() -> None:
    """The same sum as the project's own full solve with the food among the ingredients."""
    everything = default_catalogue().everything
    for seed, problem in sauces(3):
        rng = np.random.default_rng(seed)
        have = {u.ingredient.key for u in problem.uses}
        shelf = shelf_of(
            [
                everything[i]
                for i in rng.choice(len(everything), 40)
                if everything[i].key not in have
            ]
        )
        shelf = shelf.only((shelf.low == shelf.high).all(axis=1))
        pricer = Pricer(problem, shelf)
        for j, food in enumerate(shelf.foods):
            use = Use(food, share_max=float(shelf.share[j]), label="the addition")
            whole = Problem(
                (*problem.uses, use), problem.aims, problem.yield_g, None, problem.water_lost_g,
                problem.limits, problem.ratios, problem.dead_band_jnd,
            )  # fmt: skip
            assert pricer.exact(j) == pytest.approx(solve(whole).sum_jnd, abs=NEAR_JND)


def small_case(seed: int) -> tuple[Problem, list[Ingredient]]:
    """Four ingredients in the sauce, four offered, with three axes between them."""
    rng = np.random.default_rng(seed)
    foods = []
    for i in range(8):
        kind = i % 4
        foods.append(
            ingredient(
                f"f{i}",
                sucrose=float(rng.uniform(20, 90)) if kind in (0, 3) else 0.0,
                citric=float(rng.uniform(1, 8)) if kind in (1, 3) else 0.0,
                sodium=float(rng.uniform(500, 6000)) if kind == 2 else 0.0,
            )
        )
    water = ingredient("water")
    uses = (*(Use(f) for f in foods[:4]), Use(water))
    aims = (Aim("sweet", 12.0, 12.0), Aim("sour", 0.8, 0.8), Aim("salt", 0.9, 0.9))
    return Problem(uses, aims, yield_g=500.0), foods[4:]


@pytest.mark.parametrize("seed", range(3))
def test_other_ways_are_the_best_of_all_subsets(seed: int) -> None:
    problem, offered = small_case(seed)
    now, ways = other_ways(problem, offered, most=5, count=4)
    assert ways
    shelf = shelf_of(offered)
    more = tuple(Use(f, share_max=float(s)) for f, s in zip(shelf.foods, shelf.share, strict=True))
    wide = Problem((*problem.uses, *more), problem.aims, problem.yield_g)
    wide = held(wide, settle(problem).solution.levels)
    grams, n = Grams(wide), len(wide.uses)
    room = {a.axis: WITHIN_JND.value - problem.dead_band_jnd for a in wide.aims}
    nothing = np.zeros_like(shelf.low[0])
    cost: dict[frozenset[str], float] = {}
    for used in itertools.product((False, True), repeat=n):
        if 1 <= sum(used) <= 5:
            found = grams.solved(nothing, nothing, 0.0, room=room, only=used)
            if found is not None:
                keys = frozenset(
                    u.ingredient.key for u, there in zip(wide.uses, used, strict=True) if there
                )
                cost[keys] = found[0] + ITEM_JND.value * sum(used)
    known = [
        frozenset(
            u.ingredient.key
            for u, g in zip(problem.uses, now.solution.grams, strict=True)
            if g > 1e-6 * 500.0
        )
    ]
    for way in ways:
        left = [c for keys, c in cost.items() if all(len(keys ^ k) >= DIFFERENT for k in known)]
        assert way.cost == pytest.approx(min(left), abs=NEAR_JND)
        assert cost[way.used] == pytest.approx(way.cost, abs=NEAR_JND)
        known.append(way.used)
    if len(ways) < 4:
        assert not [k for k in cost if all(len(k ^ other) >= DIFFERENT for other in known)]
