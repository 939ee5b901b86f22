"""The staged solve: properties that hold for every sauce, and another open solver beside it."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from importlib.resources import files
from itertools import combinations, pairwise
from typing import Any

import highspy
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sauces import ingredient, random_problem
from scipy.optimize import linprog

from balancer.catalogue import Catalogue
from balancer.composition import INDEX, Blend, FloatArray, specific_volume
from balancer.constants import AXIS, AXIS_NAMES, STAGE_SLACK
from balancer.errors import BadInput, NoSolution
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.program import Program, build
from balancer.requirements import aim_ends
from balancer.solve import (
    ZERO_JND,
    Model,
    Solution,
    Status,
    broken_requirements,
    deviation,
    solve,
    solve_linear,
)
from balancer.wishes import Aim, Limit, Pot, Ratio, Use

SEEDS = st.integers(min_value=0, max_value=10**6)
QUICK = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)

SUGAR = ingredient("1", name="sugar", sucrose=100.0)
ACID = ingredient("2", name="citric acid", citric=100.0)
SALT = ingredient("3", name="salt", ash=100.0, sodium=39337.0)
WATER = ingredient("4", name="water", water=100.0)
OIL = ingredient("5", name="oil", fat=100.0)


def _levels(problem: Problem, grams: FloatArray) -> dict[str, float]:
    """Levels by arithmetic of this test's own: definition times grams over the finished mass."""
    mass = grams.sum() - problem.water_lost_g
    found = {}
    for name, axis in AXIS.items():
        total = 0.0
        for use, g in zip(problem.uses, grams, strict=True):
            for component, weight in axis.weights.items():
                amount = use.ingredient[component]
                total += 0.0 if math.isnan(amount) else weight * amount * g
        found[name] = total / mass
    return found


def _sum_jnd(problem: Problem, grams: FloatArray) -> float:
    levels = _levels(problem, grams)
    total = 0.0
    for aim in problem.aims:
        low, high, jnd_low, jnd_high = aim_ends(aim, problem.dead_band_jnd)
        level = levels[aim.axis]
        total += aim.weight * max((low - level) / jnd_low, (level - high) / jnd_high, 0.0)
    return total


def _assert_kept(problem: Problem, solution: Solution) -> None:
    """Every limit of the cook, in grams, by arithmetic of this test's own."""
    grams = solution.grams
    assert problem.yield_g is not None
    batch = problem.yield_g + problem.water_lost_g
    near = 1e-5 * batch
    assert grams.sum() == pytest.approx(batch, rel=1e-6)
    assert (grams >= 0).all()
    for use, g in zip(problem.uses, grams, strict=True):
        assert use.min_g - near <= g <= use.max_g + near
        assert use.share_min * batch - near <= g <= use.share_max * batch + near
        if use.locked_g is not None:
            assert g == pytest.approx(use.locked_g, abs=1e-6 * batch)
    for r in problem.ratios:
        assert r.low * grams[r.to] - near <= grams[r.of] <= r.high * grams[r.to] + near
    for limit in problem.limits:
        amount = float(grams @ problem.composition() @ limit.vector()) / problem.yield_g
        assert limit.low * (1 - 1e-5) <= amount <= limit.high * (1 + 1e-5)


# --- properties -----------------------------------------------------------------------------------
@given(seed=SEEDS)
@QUICK
def test_mass_is_conserved_and_limits_are_kept(catalogue: Catalogue, seed: int) -> None:
    problem = random_problem(seed, catalogue.pantry)
    solution = solve(problem)
    _assert_kept(problem, solution)
    blend = solution.blend
    assert blend.mass_g == pytest.approx(problem.yield_g, rel=1e-6)
    # what goes in comes out: each component, the lost water aside
    went_in = solution.grams @ problem.composition() / 100.0
    came_out = blend.per_100g() * blend.mass_g / 100.0
    went_in[INDEX["water"]] -= problem.water_lost_g
    np.testing.assert_allclose(came_out, went_in, rtol=1e-9, atol=1e-9)
    for name, level in _levels(problem, solution.grams).items():
        assert solution.levels[AXIS_NAMES.index(name)] == pytest.approx(level, rel=1e-9, abs=1e-9)
    assert solution.sum_jnd == pytest.approx(_sum_jnd(problem, solution.grams), abs=1e-7)


@given(seed=SEEDS)
@QUICK
def test_order_of_naming_does_not_matter(catalogue: Catalogue, seed: int) -> None:
    problem = random_problem(seed, catalogue.pantry)
    order = np.random.default_rng(seed).permutation(len(problem.uses))
    place = {int(old): new for new, old in enumerate(order)}
    turned = replace(
        problem,
        uses=tuple(problem.uses[i] for i in order),
        ratios=tuple(Ratio(place[r.of], place[r.to], r.low, r.high) for r in problem.ratios),
        aims=problem.aims[::-1],
    )
    np.testing.assert_array_equal(solve(problem).grams[order], solve(turned).grams)


@given(seed=SEEDS, factor=st.sampled_from([0.01, 0.5, 3.0, 200.0]))
@QUICK
def test_scaling_the_batch_scales_the_quantities(
    catalogue: Catalogue, seed: int, factor: float
) -> None:
    problem = random_problem(seed, catalogue.pantry)
    assert problem.yield_g is not None

    def times(g: float | None) -> float | None:
        return None if g is None else g * factor

    uses = tuple(
        replace(
            u,
            draft_g=times(u.draft_g),
            locked_g=times(u.locked_g),
            min_g=u.min_g * factor,
            max_g=u.max_g * factor,
        )
        for u in problem.uses
    )
    scaled = replace(
        problem,
        uses=uses,
        yield_g=problem.yield_g * factor,
        water_lost_g=problem.water_lost_g * factor,
    )
    one, other = solve(problem), solve(scaled)
    assert other.status is one.status
    assert other.sum_jnd == pytest.approx(one.sum_jnd, rel=1e-6, abs=1e-6)
    np.testing.assert_allclose(other.grams / factor, one.grams, atol=2e-5 * problem.yield_g)


@given(seed=SEEDS, share=st.floats(0.0, 1.0))
@QUICK
def test_a_tighter_limit_never_improves_the_optimum(
    catalogue: Catalogue, seed: int, share: float
) -> None:
    problem = random_problem(seed, catalogue.pantry, spread=0.6)
    free = solve(problem)
    i = seed % len(problem.uses)
    use = problem.uses[i]
    if use.locked_g is not None:
        use = replace(use, locked_g=None, min_g=use.locked_g, max_g=use.locked_g)
    tight = replace(use, max_g=use.min_g + share * max(0.0, float(free.grams[i]) - use.min_g))
    tighter = replace(problem, uses=(*problem.uses[:i], tight, *problem.uses[i + 1 :]))
    other = solve(tighter)
    if other.has_quantities:
        assert other.sum_jnd >= free.sum_jnd - 1e-5 * (1 + free.sum_jnd)


@given(seed=SEEDS)
@QUICK
def test_a_narrower_dead_band_never_brings_the_sum_down(catalogue: Catalogue, seed: int) -> None:
    problem = random_problem(seed, catalogue.pantry)
    sums = [solve(replace(problem, dead_band_jnd=d)).sum_jnd for d in (1.0, 0.5, 0.25, 0.0)]
    assert all(a <= b + 1e-5 * (1 + b) for a, b in pairwise(sums))


@given(seed=SEEDS)
@QUICK
def test_an_added_axis_never_brings_the_sum_down(catalogue: Catalogue, seed: int) -> None:
    problem = random_problem(seed, catalogue.pantry)
    fewer = replace(problem, aims=problem.aims[:-1])
    assert solve(fewer).sum_jnd <= solve(problem).sum_jnd + 1e-5 * (1 + solve(problem).sum_jnd)


@pytest.mark.parametrize("seed", range(30))
def test_yield_ml_gives_that_volume(catalogue: Catalogue, seed: int) -> None:
    """Volumes of the parts add up to what was asked, the lost water taken off."""
    problem = random_problem(seed, catalogue.pantry)
    rng = np.random.default_rng(seed)
    free = tuple(Use(u.ingredient, share_max=u.share_max, draft_g=u.draft_g) for u in problem.uses)
    volume_ml = float(rng.uniform(50, 3000))
    lost = 0.1 * volume_ml if any(u.ingredient["water"] > 80 for u in free) else 0.0
    wanted = replace(
        problem, uses=free, yield_g=None, yield_ml=volume_ml, water_lost_g=lost, limits=()
    )
    solution = solve(wanted)
    if solution.has_quantities:
        before = float(solution.grams @ specific_volume(wanted.composition())) / 100.0
        assert before - lost / 0.9957 == pytest.approx(volume_ml, rel=1e-6)
    else:
        assert problem.ratios or any(u.share_max < 1 for u in free)


def test_more_water_lost_than_a_sweet_answer_would_bring() -> None:
    """Sugar is capped by the water that has to be there to be cooked away."""
    problem = Problem(
        (Use(SUGAR), Use(WATER)), (Aim("sweet", 115.0, 115.0),), yield_g=100.0, water_lost_g=50.0
    )
    solution = solve(problem)
    assert solution.status is Status.NEAREST
    np.testing.assert_allclose(solution.grams, [100.0, 50.0], atol=1e-3)


def test_more_water_lost_than_there_can_be() -> None:
    problem = Problem((Use(SUGAR), Use(OIL)), (), yield_g=100.0, water_lost_g=50.0)
    assert solve(problem).status is Status.INFEASIBLE


@pytest.mark.parametrize(
    "contradiction",
    [
        {"share_min": 0.5, "max_g": 10.0},
        {"share_max": 0.1, "min_g": 50.0},
        {"share_max": 0.1, "locked_g": 50.0},
        {"share_min": 0.9, "locked_g": 50.0},
    ],
)
def test_limits_of_one_ingredient_that_contradict_each_other(
    contradiction: dict[str, float],
) -> None:
    """A result that names what to relax, not an exception."""
    problem = Problem((Use(SUGAR, **contradiction), Use(WATER)), yield_g=100.0)
    assert solve(problem).status is Status.INFEASIBLE


@given(seed=SEEDS)
@QUICK
def test_sum_first_then_largest_then_draft(catalogue: Catalogue, seed: int) -> None:
    """No later stage spoils an earlier one, and a smaller largest deviation would cost the sum."""
    problem = random_problem(seed, catalogue.pantry)
    solution = solve(problem)
    assert solution.first_stage is not None
    first = solution.program.grams(solution.first_stage.y)
    assert solution.sum_jnd <= _sum_jnd(problem, first) * (1 + 2e-7) + 2e-6


@pytest.mark.parametrize("seed", range(50))
def test_stages_agree_with_another_front_to_linear_programs(
    catalogue: Catalogue, seed: int
) -> None:
    """scipy.optimize.linprog on the same rows, stage by stage, cold each time."""
    problem = random_problem(1000 + seed, catalogue.pantry)
    program = build(problem)
    lp, slack = program.lp, STAGE_SLACK.value
    high, upper = lp.row_upper.copy(), lp.upper.copy()
    keep, largest, near = program.stages
    first = _linprog(lp, keep.cost, high, upper)
    assert keep.keep_row is not None
    high[keep.keep_row] = max(first, 0.0) * (1 + slack) + slack
    second = _linprog(lp, largest.cost, high, upper) if first > ZERO_JND else 0.0
    upper[program.largest] = second * (1 + slack) + slack
    third = _linprog(lp, near.cost, high, upper)
    solution = solve(problem)
    assert solution.first_stage is not None
    assert solution.first_stage.value == pytest.approx(first, rel=1e-6, abs=1e-6)
    assert solution.sum_jnd >= first - 2e-6
    if second:
        assert _largest(program, solution) == pytest.approx(second, rel=1e-5, abs=2e-6)
    assert _away_from_draft(program, solution.grams) == pytest.approx(third, rel=1e-4, abs=1e-4)


def _linprog(lp: LinearProgram, cost: FloatArray, high: FloatArray, upper: FloatArray) -> float:
    has_high, has_low = np.isfinite(high), np.isfinite(lp.row_lower)
    found = linprog(
        cost,
        A_ub=np.vstack([lp.matrix[has_high], -lp.matrix[has_low]]),
        b_ub=np.concatenate([high[has_high], -lp.row_lower[has_low]]),
        bounds=list(zip(lp.lower, upper, strict=True)),
        method="highs-ds",
    )
    assert found.status == 0, found.message
    return float(found.fun)


def _largest(program: Program, solution: Solution) -> float:
    """Largest weighted miss over the axes that a chosen ingredient can still move."""
    problem, misses = solution.problem, []
    for aim in problem.aims:
        levels = program.levels[:, AXIS_NAMES.index(aim.axis)]
        if np.any(levels[program.columns.place[program.columns.upper > 0]] != 0):
            level = _levels(problem, solution.grams)[aim.axis]
            low, high, jnd_low, jnd_high = aim_ends(aim, problem.dead_band_jnd)
            misses.append(aim.weight * max((low - level) / jnd_low, (level - high) / jnd_high, 0))
    return max(misses, default=0.0)


def _away_from_draft(program: Program, grams: FloatArray) -> float:
    """Cost of stage 3 from the grams alone: fill each column in the order of its price."""
    c = program.columns
    shares = grams[program.order] / program.reference_g
    total = 0.0
    for j, moved in enumerate(shares - c.draft):
        left = abs(moved)
        for column in np.flatnonzero((c.place == j) & (c.sign == np.sign(moved))):
            step = min(left, c.upper[column])
            total += step * c.cost[column]
            left -= step
    return total


# --- statuses and small cases ---------------------------------------------------------------------
def test_on_target_nearest_infeasible_report() -> None:
    both = (Use(SUGAR), Use(WATER))
    reached = Problem(both, (Aim("sweet", 20.0, 20.0),), yield_g=100.0, dead_band_jnd=0.0)
    assert solve(reached).status is Status.ON_TARGET
    assert solve(reached).grams[0] == pytest.approx(20.0, abs=1e-4)
    assert solve(reached).deviation_jnd("sweet") == pytest.approx(0.0, abs=1e-5)

    short = replace(reached, uses=(Use(SUGAR, max_g=10.0), Use(WATER)))
    nearest = solve(short)
    assert nearest.status is Status.NEAREST
    assert nearest.grams[0] == pytest.approx(10.0, abs=1e-4)
    # by hand: 10 g below 20 g at a just-noticeable 0.4 + 0.17 * 20 = 3.8 g
    assert nearest.deviation_jnd("sweet") == pytest.approx(-10 / 3.8, abs=1e-4)
    assert nearest.sum_jnd == pytest.approx(10 / 3.8, abs=1e-4)

    against = replace(reached, uses=(Use(SUGAR, max_g=10.0), Use(WATER, max_g=10.0)))
    nothing = solve(against)
    assert nothing.status is Status.INFEASIBLE
    assert not nothing.has_quantities
    with pytest.raises(NoSolution, match="what to relax"):
        _ = nothing.grams

    report = Problem((Use(SUGAR, locked_g=20.0), Use(WATER, locked_g=80.0)), yield_g=100.0)
    assert solve(report).status is Status.REPORT
    np.testing.assert_array_equal(solve(report).grams, [20.0, 80.0])
    with pytest.raises(NoSolution, match="Nothing is asked of sour"):
        solve(report).deviation_jnd("sour")


@pytest.mark.parametrize(("sugar_g", "oil_g"), [(20.0, 0.0), (0.0, 20.0), (5.0, 15.0)])
def test_of_equal_sums_the_smaller_largest_miss_then_the_draft(
    sugar_g: float, oil_g: float
) -> None:
    """20 g for two axes that want 20 g and 16.5 g, at 3.8 g a JND both: 16.5 g are short.

    However the 20 g are shared out, the misses sum up to 16.5 / 3.8; the largest is least where
    both are 8.25 g short. A draft at one end must not win over that; of two waters, which do the
    same, each stays with its draft.
    """
    spring = ingredient("6", name="spring water", water=100.0)
    solids = Limit("solids", "g per 100 g", {"sucrose": 1.0, "fat": 1.0}, high=20.0)
    uses = (
        Use(SUGAR, draft_g=sugar_g),
        Use(OIL, draft_g=oil_g),
        Use(WATER, draft_g=10.0),
        Use(spring, draft_g=70.0),
    )
    aims = (Aim("sweet", 20.0, 20.0), Aim("fat", 16.5, 16.5))
    found = solve(Problem(uses, aims, yield_g=100.0, limits=(solids,), dead_band_jnd=0.0))
    np.testing.assert_allclose(found.grams, [11.75, 8.25, 10.0, 70.0], atol=2e-3)
    assert found.sum_jnd == pytest.approx(16.5 / 3.8, abs=1e-5)
    assert found.largest_jnd == pytest.approx(8.25 / 3.8, abs=1e-5)


@pytest.mark.parametrize(("one_g", "other_g"), [(2.0, 8.0), (8.0, 2.0)])
def test_a_pot_gets_more_of_what_is_in_it(one_g: float, other_g: float) -> None:
    """Two sugars sweeten alike, so the least that is added is the same: the larger part grows.

    By hand: (10 + a) / (100 + a) = 0.2 with a = 12.5.
    """
    twin = ingredient("7", name="other sugar", sucrose=100.0)
    problem = Problem(
        (Use(SUGAR), Use(twin), Use(WATER)),
        (Aim("sweet", 20.0, 20.0),),
        pot=Pot((one_g, other_g, 90.0), 0.5),
        dead_band_jnd=0.0,
    )
    added = solve(problem).grams - [one_g, other_g, 90.0]
    expected = [12.5, 0.0, 0.0] if one_g > other_g else [0.0, 12.5, 0.0]
    np.testing.assert_allclose(added, expected, atol=2e-3)


def test_dead_band_is_not_chased() -> None:
    """A draft within a quarter of a JND of the target stays as it is."""
    jnd = 0.4 + 0.17 * 20
    draft = 20 + 0.24 * jnd
    uses = (Use(SUGAR, draft_g=draft), Use(WATER, draft_g=100 - draft))
    solution = solve(Problem(uses, (Aim("sweet", 20.0, 20.0),), yield_g=100.0))
    assert solution.grams[0] == pytest.approx(draft, abs=1e-4)
    outside = 20 + 0.5 * jnd
    uses = (Use(SUGAR, draft_g=outside), Use(WATER, draft_g=100 - outside))
    solution = solve(Problem(uses, (Aim("sweet", 20.0, 20.0),), yield_g=100.0))
    assert solution.grams[0] == pytest.approx(20 + 0.25 * jnd, abs=1e-3)


def test_few_ingredients_move() -> None:
    """One axis is off, so two quantities move: the one that carries it and one that gives way."""
    uses = (
        Use(SUGAR, draft_g=15.0),
        Use(ACID, draft_g=1.0),
        Use(SALT, draft_g=1.5),
        Use(WATER, draft_g=82.5),
    )
    aims = (Aim("sweet", 20.0, 20.0), Aim("sour", 1.0, 1.0), Aim("salt", 1.5, 1.5))
    solution = solve(Problem(uses, aims, yield_g=100.0, dead_band_jnd=0.0))
    moved = solution.grams - [15.0, 1.0, 1.5, 82.5]
    np.testing.assert_allclose(moved, [5.0, 0.0, 0.0, -5.0], atol=1e-3)


def test_just_out_of_reach_still_stays_near_the_draft() -> None:
    """A target missed by less than counts as a miss must not lose the third stage."""
    jnd = 0.4 + 0.17 * 20
    for miss_jnd in (1e-6, 4e-6, 9e-6, 2e-5):
        sugar_max = 20.0 - miss_jnd * jnd
        uses = (
            Use(SUGAR, max_g=sugar_max),
            Use(WATER, draft_g=10.0),
            Use(OIL, draft_g=70.0),
        )
        problem = Problem(uses, (Aim("sweet", 20.0, 20.0),), yield_g=100.0, dead_band_jnd=0.0)
        grams = solve(problem).grams
        np.testing.assert_allclose(grams, [20.0, 10.0, 70.0], atol=1e-2)


@pytest.mark.parametrize("weight", [1e-3, 1.0, 1e3])
def test_weights_decide_which_of_two_gives(weight: float) -> None:
    """Brine is salt and sugar in one; only one of two targets can be hit."""
    brine = ingredient("6", sucrose=50.0, sodium=10000.0)
    aims = (Aim("sweet", 20.0, 20.0, weight), Aim("salt", 3.0, 3.0))
    solution = solve(Problem((Use(brine), Use(WATER)), aims, yield_g=100.0, dead_band_jnd=0.0))
    # along the brine: 1 g moves sweet 0.5 g = 0.1316 JND, salt 0.254 g = 0.498 JND
    expected = 40.0 if weight == 1e3 else 3.0 / (0.1 * 2.54210)
    assert solution.grams[0] == pytest.approx(expected, abs=1e-2)


def test_an_unreachable_axis_leaves_the_others_alone(catalogue: Catalogue) -> None:
    """Nothing here is hot, so the wish for heat must not move one gram."""
    names = ["plums", "sugar", "cider vinegar", "salt", "ginger", "water"]
    by_name = {i.name: i for i in catalogue.pantry}
    uses = tuple(Use(by_name[n]) for n in names)
    aims = (Aim("sweet", 18.0, 18.0), Aim("sour", 1.1, 1.1), Aim("salt", 1.4, 1.4))
    plain = solve(Problem(uses, aims, yield_g=500.0))
    asked = solve(Problem(uses, (*aims, Aim("heat", 500.0, 500.0)), yield_g=500.0))
    np.testing.assert_allclose(asked.grams, plain.grams, atol=1e-3)
    assert asked.sum_jnd == pytest.approx(plain.sum_jnd + 500 / (10 + 0.2 * 500) - 0.25, abs=1e-5)


def test_deviation_counts_from_the_nearer_end() -> None:
    assert deviation(5.0, "sweet", 4.0, 6.0) == 0.0
    assert deviation(8.0, "sweet", 4.0, 6.0) == pytest.approx(2.0 / (0.4 + 0.17 * 6.0))
    assert deviation(3.0, "sweet", 4.0, 6.0) == pytest.approx(-1.0 / (0.4 + 0.17 * 4.0))


def test_reports_say_which_limits_locks_break() -> None:
    limit = Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=100.0)
    uses = (Use(SALT, locked_g=2.0), Use(WATER, locked_g=98.0))
    solution = solve(Problem(uses, yield_g=100.0, limits=(limit,)))
    assert [r.label for r in solution.broken] == ["sodium"]


def test_locked_quantities_must_make_the_volume_asked_for() -> None:
    uses = (Use(SUGAR, locked_g=20.0), Use(WATER, locked_g=80.0))
    with pytest.raises(BadInput, match=r"500 mL"):
        solve(Problem(uses, yield_ml=500.0))


def test_whole_columns() -> None:
    """Whole a and b, 2 a + b <= 7 and a + 2 b <= 7, most of 3 a + 2 b, by trying them all."""
    lp = LinearProgram(
        ("a", "b"),
        ("first", "second"),
        np.array([[2.0, 1.0], [1.0, 2.0]]),
        np.array([-3.0, -2.0]),
        np.zeros(2),
        np.full(2, math.inf),
        np.full(2, -math.inf),
        np.array([7.0, 7.0]),
        np.array([True, True]),
    )
    best = max(3 * a + 2 * b for a in range(8) for b in range(8) if 2 * a + b <= 7 >= a + 2 * b)
    optimum = solve_linear(lp)
    assert optimum is not None
    assert optimum.value == pytest.approx(-best)
    np.testing.assert_allclose(optimum.y, np.round(optimum.y), atol=1e-6)
    assert optimum.duals.tolist() == [0.0, 0.0], "whole columns have no marginals"


def test_a_model_stays_warm() -> None:
    lp = LinearProgram(
        ("a",), ("r",), np.array([[1.0]]), np.array([1.0]), np.zeros(1), np.array([9.0]),
        np.array([2.0]), np.array([math.inf]),
    )  # fmt: skip
    model = Model(lp)
    values = [model.optimum()]
    model.set_row(0, 4.0, math.inf)
    values.append(model.optimum())
    model.set_column(0, 5.0, 9.0)
    values.append(model.optimum())
    model.set_cost(np.array([-1.0]))
    values.append(model.optimum())
    assert [round(v.value, 9) for v in values if v] == [2.0, 4.0, 5.0, -9.0]
    model.set_row(0, 10.0, math.inf)
    assert model.optimum() is None


def _one_row(**changes: object) -> LinearProgram:
    """Least a with a >= 2 and a <= 9."""
    parts: dict[str, object] = {
        "columns": ("a",), "rows": ("r",), "matrix": np.array([[1.0]]), "cost": np.array([1.0]),
        "lower": np.zeros(1), "upper": np.array([9.0]), "row_lower": np.array([2.0]),
        "row_upper": np.array([math.inf]),
    }  # fmt: skip
    return LinearProgram(**(parts | changes))  # type: ignore[arg-type]


def test_a_model_answers_the_same_every_time_and_says_nothing() -> None:
    """One thread, one seed, no log, whole columns to the end: read back from the solver."""

    def option(model: Model, name: str) -> object:
        return model.highs.getOptionValue(name)[1]

    plain = Model(_one_row())
    wanted = {"output_flag": False, "threads": 1, "random_seed": 0, "mip_rel_gap": 0.0}
    assert {name: option(plain, name) for name in wanted} == wanted
    assert (option(plain, "presolve"), option(plain, "solver")) == ("off", "simplex")
    assert option(plain, "time_limit") == 60.0
    assert option(Model(_one_row(), seconds=7.0), "time_limit") == 7.0
    whole = Model(_one_row(integer=np.array([True])))
    assert (option(whole, "presolve"), option(whole, "solver")) == ("choose", "choose")


def test_duals_are_what_a_row_costs() -> None:
    """By hand: least 3 a with a >= 2 costs 3 more for each unit that the row asks more."""
    found = solve_linear(_one_row(cost=np.array([3.0])))
    assert found is not None
    assert (found.value, found.y.tolist(), found.duals.tolist()) == (6.0, [2.0], [3.0])


def test_a_column_added_takes_over() -> None:
    model = Model(_one_row())
    assert model.add_column(np.array([1.0]), 0.5, 1.5) == 1
    found = model.optimum()
    assert found is not None
    assert found.y.tolist() == [0.5, 1.5]
    assert found.value == 0.5, "a column added costs nothing"
    two_rows = Model(_one_row(rows=("r", "q"), matrix=np.array([[1.0], [0.0]]),
                              row_lower=np.array([2.0, 3.0]),
                              row_upper=np.full(2, math.inf)))  # fmt: skip
    assert two_rows.add_column(np.array([0.0, 2.0]), 0.0, 9.0) == 1
    found = two_rows.optimum()
    assert found is not None
    assert found.y.tolist() == [2.0, 1.5]


class _Doubtful:
    """The real solver, which says once that it does not know; what it was told is noted."""

    def __init__(self, highs: Any, doubts: int) -> None:
        self.highs, self.doubts, self.told = highs, doubts, [""]

    def __getattr__(self, name: str) -> Any:
        if name in ("run", "clearSolver", "setOptionValue"):
            self.told.append(name)
        if name == "getModelStatus" and self.doubts:
            self.doubts -= 1
            return lambda: highspy.HighsModelStatus.kUnknown
        return getattr(self.highs, name)


def test_a_solver_in_doubt_starts_afresh_once() -> None:
    model = Model(_one_row())
    model.highs = doubtful = _Doubtful(model.highs, 1)
    found = model.optimum()
    assert found is not None
    assert found.y.tolist() == [2.0]
    assert doubtful.told[1:] == ["run", "clearSolver", "setOptionValue", "run"]
    assert model.highs.getOptionValue("presolve")[1] == "on"
    sure = Model(_one_row())
    sure.highs = certain = _Doubtful(sure.highs, 0)
    assert sure.optimum() is not None
    assert certain.told[1:] == ["run"]
    model.highs.doubts = 2
    with pytest.raises(NoSolution, match="stopped early"):
        model.optimum()


def test_the_words_of_a_status_are_those_of_the_schema() -> None:
    schema = json.loads(
        (files("balancer") / "schema" / "answer.schema.json").read_text(encoding="utf-8")
    )
    assert [s.value for s in Status] == schema["properties"]["status"]["enum"]


def test_numbers_that_no_solver_takes_are_refused() -> None:
    with pytest.raises(BadInput, match="The solver refuses the numbers"):
        Model(_one_row(matrix=np.array([[1e30]])))


def test_no_time_no_answer() -> None:
    """Forty whole columns in one narrow row cannot be settled in no time."""
    weights = np.arange(1000.0, 1040.0)
    lp = LinearProgram(
        tuple(map(str, range(40))), ("r",), weights[None, :] * math.pi, -(weights**1.1),
        np.zeros(40), np.ones(40), np.array([3e4]), np.array([3.00001e4]), np.full(40, True),
    )  # fmt: skip
    with pytest.raises(NoSolution, match="stopped early"):
        Model(lp, seconds=0.0).optimum()


def test_limits_are_checked_again_within_a_hundred_thousandth() -> None:
    """A share of 0.3 may be off by 3e-6, of 0.01 by 1e-6: a tenth of the coefficient at least."""

    def broken(grams: float, **limits: float) -> list[str]:
        program = build(Problem((Use(SUGAR, **limits), Use(WATER)), yield_g=100.0))  # type: ignore[arg-type]
        return [r.label for r in broken_requirements(program, np.array([grams, 100 - grams]))]

    assert broken(30.00029, max_g=30.0) == []
    assert broken(30.00031, max_g=30.0) == ["sugar at most 30 g"]
    assert broken(29.99971, min_g=30.0) == []
    assert broken(29.99969, min_g=30.0) == ["sugar at least 30 g"]
    assert broken(1.00009, max_g=1.0) == []
    assert broken(1.00011, max_g=1.0) == ["sugar at most 1 g"]
    assert broken(20.0, min_g=30.0, share_max=0.1) == [
        "sugar at least 30 g",
        "sugar at most 10 % of the batch",
    ]


def test_a_limit_in_small_figures_is_checked_in_them() -> None:
    """1 % of a thing with 0.01 in 100 g: 1e-4 at most, so 1.001e-4 is over by ten tolerances."""
    limit = Limit("trace", "g per 100 g", {"sucrose": 1e-4}, high=1e-4)
    program = build(Problem((Use(SUGAR), Use(WATER)), yield_g=100.0, limits=(limit,)))
    assert [r.label for r in broken_requirements(program, np.array([1.001, 98.999]))] == ["trace"]
    assert broken_requirements(program, np.array([1.00005, 98.99995])) == ()


def test_the_check_reads_the_finished_mass() -> None:
    """80 g are left of 100 g weighed: 20 g of sugar are a fourth of them, salt is counted there."""
    limit = Limit("sugars", "g per 100 g", {"sucrose": 1.0}, high=24.0)
    problem = Problem((Use(SUGAR), Use(WATER)), yield_g=80.0, water_lost_g=20.0, limits=(limit,))
    program = build(problem)
    assert [r.label for r in broken_requirements(program, np.array([20.0, 80.0]))] == ["sugars"]
    assert broken_requirements(program, np.array([19.0, 81.0])) == ()


def test_an_aim_is_no_limit_and_the_mass_must_be_right() -> None:
    program = build(Problem((Use(SUGAR), Use(WATER)), (Aim("sweet", 20.0, 20.0),), yield_g=100.0))
    assert broken_requirements(program, np.array([90.0, 10.0])) == ()
    assert broken_requirements(program, np.array([90.0, 10.005])) == ()
    for water in (10.0052, 9.9948, 11.0):
        with pytest.raises(NoSolution, match="instead of 100 g"):
            broken_requirements(program, np.array([90.0, water]))
    large = build(Problem((Use(SUGAR), Use(WATER)), yield_g=10_000.0))
    assert broken_requirements(large, np.array([1000.0, 9000.0149])) == ()
    with pytest.raises(NoSolution, match="instead of 10000 g"):
        broken_requirements(large, np.array([1000.0, 9000.0151]))


@pytest.mark.parametrize(
    ("miss_jnd", "aims", "status"),
    [
        (0.9e-5, ("sweet",), Status.ON_TARGET),
        (1.1e-5, ("sweet",), Status.NEAREST),
        (1.1e-5, ("sweet", "fat"), Status.ON_TARGET),
        (-1.1e-5, ("sweet",), Status.NEAREST),
        (2.2e-5, ("sweet", "fat"), Status.NEAREST),
    ],
)
def test_what_counts_as_no_miss(miss_jnd: float, aims: tuple[str, ...], status: Status) -> None:
    """1e-5 JND for each axis, here of 3.8 g at 20 g; locked quantities are taken as they are."""
    sugar = 20.0 - 3.8 * miss_jnd
    uses = (Use(SUGAR, locked_g=sugar), Use(WATER, locked_g=100.0 - sugar))
    asked = tuple(Aim(axis, 20.0 if axis == "sweet" else 0.0, 20.0) for axis in aims)
    found = solve(Problem(uses, asked, yield_g=100.0, dead_band_jnd=0.0))
    assert found.status is status
    assert found.sum_jnd == pytest.approx(abs(miss_jnd), rel=1e-3)
    assert found.largest_jnd == pytest.approx(abs(miss_jnd), rel=1e-3)
    assert found.first_stage is None
    assert found.has_quantities


def test_a_target_that_locks_reach_against_a_limit_is_no_target_reached() -> None:
    limit = Limit("sugars", "g per 100 g", {"sucrose": 1.0}, high=10.0)
    uses = (Use(SUGAR, locked_g=20.0), Use(WATER, locked_g=80.0))
    found = solve(Problem(uses, (Aim("sweet", 20.0, 20.0),), yield_g=100.0, limits=(limit,)))
    assert found.status is Status.NEAREST
    assert [r.label for r in found.broken] == ["sugars"]


def test_sum_and_largest_of_two_weighted_misses() -> None:
    """10 g under 20 at 3.8 g, weight 2; 8 g of fat over 0 at 0.5 g, by hand."""
    uses = (Use(SUGAR, locked_g=10.0), Use(OIL, locked_g=8.0), Use(WATER, locked_g=82.0))
    aims = (Aim("sweet", 20.0, 20.0, weight=2.0), Aim("fat", 0.0, 0.0))
    found = solve(Problem(uses, aims, yield_g=100.0, dead_band_jnd=0.0))
    assert found.sum_jnd == pytest.approx(20 / 3.8 + 8 / 0.5)
    assert found.largest_jnd == pytest.approx(16.0)
    assert found.deviation_jnd("fat") == pytest.approx(16.0)
    nothing = solve(Problem((Use(SUGAR, max_g=1.0), Use(WATER, max_g=1.0)), yield_g=100.0))
    assert nothing.status is Status.INFEASIBLE
    assert math.isnan(nothing.sum_jnd)
    assert math.isnan(nothing.largest_jnd)


# --- the pot --------------------------------------------------------------------------------------
def _random_pot(seed: int) -> Problem:
    """A pot of two or three plain ingredients, seasoned wrongly by one to six JND."""
    rng = np.random.default_rng(seed)
    foods = [
        ingredient("1", sucrose=float(rng.uniform(40, 100))),
        ingredient("2", citric=float(rng.uniform(3, 30)), sucrose=float(rng.uniform(0, 10))),
        ingredient("3", water=100.0),
    ][: int(rng.integers(2, 4))]
    grams = rng.uniform(20, 300, len(foods))
    grams[1] *= 0.3
    blend = Blend(np.stack([f.values for f in foods]), grams)
    axes = ["sweet", "sour"]
    sugars, citric = INDEX["sucrose"], INDEX["citric"]
    made = [float(blend.per_100g()[sugars]), float(blend.per_100g()[citric])]
    aims = tuple(
        Aim(axis, min(level, 99.0), min(level, 99.0))
        for axis, level in zip(axes, np.array(made) * np.exp(rng.normal(0, 0.5, 2)), strict=True)
    )
    growth = float(rng.choice([0.1, 0.3, 1.0]))
    return Problem(
        tuple(Use(f) for f in foods),
        aims,
        dead_band_jnd=1.0,
        pot=Pot(tuple(float(g) for g in grams), growth),
    )


def _vertices(problem: Problem) -> float | None:
    """Least total addition within one JND, by visiting every corner of the polytope of additions.

    In added grams a >= 0 each level condition reads sum (pot + a) (L - end) >= 0 or <= 0.
    """
    assert problem.pot is not None
    pot = np.array(problem.pot.grams)
    n = len(pot)
    rows, ends = [-np.eye(n)], [np.zeros(n)]
    rows.append(np.ones((1, n)))
    ends.append(np.array([problem.pot.growth * pot.sum()]))
    composition = problem.composition()
    for aim in problem.aims:
        axis = AXIS[aim.axis]
        level = sum(w * composition[:, INDEX[c]] for c, w in axis.weights.items())
        jnd = axis.floor + axis.weber * aim.low
        for sign, end in ((1.0, aim.low + jnd), (-1.0, aim.low - jnd)):
            gap = sign * (level - end)
            rows.append(gap[None, :])
            ends.append(np.array([-float(gap @ pot)]))
    a, b = np.vstack(rows), np.concatenate(ends)
    best: float | None = None
    for picked in combinations(range(len(b)), n):
        square = a[list(picked)]
        if abs(np.linalg.det(square)) < 1e-12:
            continue
        corner = np.linalg.solve(square, b[list(picked)])
        if (a @ corner <= b + 1e-7 * (1 + np.abs(b))).all():
            total = float(corner.sum())
            best = total if best is None else min(best, total)
    return best


@pytest.mark.parametrize("seed", range(60))
def test_pot_adds_least(seed: int) -> None:
    problem = _random_pot(seed)
    assert problem.pot is not None
    pot = np.array(problem.pot.grams)
    solution = solve(problem)
    added = solution.grams - pot
    assert (added >= -1e-6 * pot.sum()).all(), "something came out of the pot"
    assert added.sum() <= problem.pot.growth * pot.sum() * (1 + 1e-6)
    least = _vertices(problem)
    if least is None:
        assert solution.status is Status.NEAREST
        _no_addition_on_a_grid_is_nearer(problem, solution)
    else:
        assert solution.status is Status.ON_TARGET
        assert added.sum() == pytest.approx(least, rel=1e-4, abs=1e-4 * pot.sum())


def _no_addition_on_a_grid_is_nearer(problem: Problem, solution: Solution) -> None:
    assert problem.pot is not None
    pot = np.array(problem.pot.grams)
    room = problem.pot.growth * pot.sum()
    steps = np.linspace(0, room, 12)
    for point in np.stack(np.meshgrid(*[steps] * len(pot)), -1).reshape(-1, len(pot)):
        if point.sum() <= room:
            assert _sum_jnd(problem, pot + point) >= solution.sum_jnd - 1e-6


def test_pots_end_both_ways() -> None:
    """The random pots above hold both kinds: those that can be helped and those that cannot."""
    kinds = {_vertices(_random_pot(seed)) is None for seed in range(60)}
    assert kinds == {True, False}


def test_a_pot_that_is_right_gets_nothing() -> None:
    uses = (Use(SUGAR), Use(ACID), Use(WATER))
    aims = (Aim("sweet", 20.0, 20.0), Aim("sour", 1.0, 1.0))
    problem = Problem(uses, aims, pot=Pot((200.0, 10.0, 790.0)), dead_band_jnd=1.0)
    np.testing.assert_allclose(solve(problem).grams, [200.0, 10.0, 790.0], atol=1e-3)


def test_a_pot_that_boiled_down() -> None:
    """One litre lost 200 g of water: levels count on what is left; water brings them back."""
    uses = (Use(SUGAR), Use(WATER))
    aims = (Aim("sweet", 20.0, 20.0),)
    pot = Problem(uses, aims, pot=Pot((200.0, 800.0)), water_lost_g=200.0, dead_band_jnd=0.0)
    np.testing.assert_allclose(solve(pot).grams, [200.0, 1000.0], atol=1e-2)
