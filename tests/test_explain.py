"""What holds a sauce back: gains, trades and the least set that has to give, each solved again."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from sauces import ingredient, random_problem

from balancer.catalogue import Catalogue
from balancer.constants import AXIS, AXIS_NAMES
from balancer.errors import BadInput
from balancer.explain import bindings, trades, uncarried
from balancer.problem import Problem
from balancer.program import build
from balancer.relax import Relaxation, relaxations
from balancer.requirements import Requirement
from balancer.solve import Status, solve
from balancer.wishes import Aim, Limit, Pot, Ratio, Use

SUGAR = ingredient("1", name="sugar", sucrose=100.0)
ACID = ingredient("2", name="acid", citric=50.0)
WATER = ingredient("3", name="water", water=100.0)
BRINE = ingredient("4", name="brine", sodium=10000.0, ash=25.0)
SYRUP = ingredient("5", name="sour syrup", citric=4.0, sucrose=40.0)


def _changed(problem: Problem, label: str, kind: str, change: dict[str, float]) -> Problem:
    """The problem with one request moved: by ``to`` (set there), or by ``by`` (looser by that).

    An infinite ``by`` takes the request away altogether.
    """

    def least(bound: float) -> float:
        return max(0.0, change["to"] if "to" in change else bound - change["by"])

    def most(bound: float) -> float:
        return change["to"] if "to" in change else bound + change["by"]

    for i, use in enumerate(problem.uses):
        if not label.startswith(f"{use.label} "):
            continue
        new: Use | None = None
        if kind == "minimum" and label == f"{use.label} at least {use.min_g:g} g":
            new = replace(use, min_g=least(use.min_g))
        elif kind == "maximum" and label == f"{use.label} at most {use.max_g:g} g":
            new = replace(use, max_g=most(use.max_g))
        elif kind == "lock" and use.locked_g is not None:
            low, high = least(use.locked_g), most(use.locked_g)
            new = replace(use, locked_g=None, min_g=low, max_g=high)
        elif kind == "share" and "at least" in label:
            low = change["to"] if "to" in change else 100 * use.share_min - change["by"]
            new = replace(use, share_min=max(0.0, low) / 100)
        elif kind == "share":
            high = change["to"] if "to" in change else 100 * use.share_max + change["by"]
            new = replace(use, share_max=min(1.0, high / 100))
        if new is not None:
            return replace(problem, uses=(*problem.uses[:i], new, *problem.uses[i + 1 :]))
    if kind == "ratio":
        for k, r in enumerate(problem.ratios):
            names = f"{problem.uses[r.of].label} per {problem.uses[r.to].label}"
            assert label.startswith(names)
            low, high = r.low, r.high
            if "at most" not in label:
                low = least(r.low)
            if "at least" not in label:
                high = most(r.high)
            ratio = replace(r, low=low, high=high)
            return replace(problem, ratios=(*problem.ratios[:k], ratio, *problem.ratios[k + 1 :]))
    if kind == "limit":
        rest = tuple(x for x in problem.limits if x.label != label)
        if change.get("by") == math.inf:
            return replace(problem, limits=rest)
        limit = next(x for x in problem.limits if x.label == label)
        if math.isfinite(limit.high):
            limit = replace(limit, high=most(limit.high))
        else:
            limit = replace(limit, low=least(limit.low))
        return replace(problem, limits=(*rest, limit))
    if kind == "loss":
        return replace(problem, water_lost_g=change.get("to", 0.0))
    assert kind == "aim", (label, kind)
    aim = next(a for a in problem.aims if label.startswith(f"{a.axis} "))
    rest_of_aims = tuple(a for a in problem.aims if a is not aim)
    if change.get("by") == math.inf:
        return replace(problem, aims=rest_of_aims)
    return replace(problem, aims=(*rest_of_aims, replace(aim, low=change["to"], high=change["to"])))


# --- bindings -------------------------------------------------------------------------------------
def _check_gains(problem: Problem) -> tuple[int, int]:
    solution = solve(problem)
    requirements = {r.label: r for r in solution.program.requirements}
    shown = helped = 0
    for binding in bindings(solution):
        kind = requirements[binding.label].kind
        easier = solve(_changed(problem, binding.label, kind, {"by": binding.loosen_by}))
        gain = solution.sum_jnd - easier.sum_jnd
        assert binding.gain_jnd == pytest.approx(gain, rel=1e-4, abs=2e-5), binding
        assert binding.label in binding.sentence
        assert binding.unit in binding.sentence or binding.gain_jnd == 0
        shown += 1
        helped += binding.gain_jnd > 0
    return shown, helped


def test_gains_are_those_of_a_problem_with_the_limit_loosened(catalogue: Catalogue) -> None:
    counts = [
        _check_gains(random_problem(seed, catalogue.pantry, 4, 9, spread=0.8)) for seed in range(60)
    ]
    assert sum(shown for shown, _ in counts) >= 60
    assert sum(helped for _, helped in counts) >= 20


def test_gain_by_hand() -> None:
    """Ten grams more of sugar bring 20 g nearer by 10 g, at 0.4 + 0.17 * 40 = 7.2 g a JND."""
    problem = Problem(
        (Use(SUGAR, max_g=200.0), Use(WATER)), (Aim("sweet", 40.0, 40.0),), yield_g=1000.0
    )
    found = bindings(solve(problem))
    assert [b.label for b in found] == ["sugar at most 200 g"]
    assert found[0].loosen_by == pytest.approx(10.0)
    assert found[0].unit == "g"
    assert found[0].gain_jnd == pytest.approx(1.0 / 7.2, rel=1e-5)
    assert "10 g" in found[0].sentence


def test_gain_of_a_ratio() -> None:
    """The step of a ratio is a ratio: 0.2 g/g of sugar to water, loosened as it says."""
    problem = Problem(
        (Use(SUGAR), Use(WATER)),
        (Aim("sweet", 40.0, 40.0),),
        yield_g=1000.0,
        ratios=(Ratio(0, 1, 0.0, 0.2),),
    )
    assert _check_gains(problem) == (1, 1)


def test_gain_where_two_limits_hold_one_ingredient() -> None:
    """A maximum and a share that say the same: loosening one of them brings nothing."""
    problem = Problem(
        (Use(SUGAR, max_g=100.0, share_max=0.1), Use(WATER)),
        (Aim("sweet", 40.0, 40.0),),
        yield_g=1000.0,
    )
    assert _check_gains(problem) == (2, 0)


def test_gain_in_a_volume() -> None:
    """The mass of a volume moves with what is in it, and grams stay grams."""
    problem = Problem(
        (Use(SUGAR, max_g=200.0), Use(WATER)), (Aim("sweet", 40.0, 40.0),), yield_ml=1000.0
    )
    assert _check_gains(problem) == (1, 1)


def test_a_sauce_on_target_gains_nothing() -> None:
    problem = Problem(
        (Use(SUGAR, max_g=20.0), Use(WATER)), (Aim("sweet", 20.0, 20.0),), yield_g=100.0
    )
    found = bindings(solve(problem))
    assert all(b.gain_jnd == 0 for b in found)


# --- the least set that has to give ---------------------------------------------------------------
def _relaxed(problem: Problem) -> tuple[Status, tuple[Relaxation, ...]]:
    solution = solve(problem)
    return solution.status, relaxations(problem, solution.program, solution.status)


def _holds(problem: Problem, status: Status) -> bool:
    """Whether the problem is on target, or has quantities, as its trouble was."""
    try:
        new = solve(problem).status
    except BadInput:
        return False
    return new in (Status.ON_TARGET, Status.REPORT) or (
        status is Status.INFEASIBLE and new is Status.NEAREST
    )


def _eased(problem: Problem, relaxation: Relaxation) -> Problem:
    """The named request moved where the sentence says, by a hair more for rounding."""
    to = relaxation.to
    hair = 1e-6 * max(1.0, abs(to))
    if relaxation.kind in ("minimum", "loss") or "at least" in relaxation.label:
        to -= hair
    elif relaxation.kind in ("maximum", "share", "ratio", "limit"):
        to += hair
    return _changed(problem, relaxation.label, relaxation.kind, {"to": max(0.0, to)})


def _check_least(problem: Problem) -> int:
    status, found = _relaxed(problem)
    if status not in (Status.NEAREST, Status.INFEASIBLE):
        assert found == ()
        return 0
    assert found, "something has to give"
    moved = problem
    for relaxation in found:
        moved = _eased(moved, relaxation)
    assert _holds(moved, status), (problem, found)
    for relaxation in found:
        assert relaxation.label in relaxation.sentence
        assert relaxation.unit in relaxation.sentence
    requirements = build(problem).requirements
    for fewer in combinations(requirements, len(found) - 1):
        without = _without(problem, fewer)
        assert not _holds(without, status), [r.label for r in fewer]
    return len(found)


def _without(problem: Problem, requirements: tuple[Requirement, ...]) -> Problem:
    for r in requirements:
        problem = _changed(problem, r.label, r.kind, {"by": math.inf})
    return problem


def _small(seed: int) -> Problem:
    """Three or four plain ingredients with tight, often contradicting wishes."""
    rng = np.random.default_rng(seed)
    foods = [SUGAR, ACID, WATER, BRINE, SYRUP]
    chosen = [foods[i] for i in rng.choice(5, int(rng.integers(3, 5)), replace=False)]
    q = rng.dirichlet(np.ones(len(chosen))) * 100
    uses = []
    for food, g in zip(chosen, q, strict=True):
        kind = rng.integers(0, 5)
        g = float(g)
        limits: list[dict[str, float]] = [
            {},
            {"max_g": g * 0.9},
            {"min_g": g * 0.8},
            {"locked_g": g * 0.95},
            {"share_max": min(1.0, g / 100)},
        ]
        uses.append(Use(food, **limits[kind]))
    aims = []
    for axis in rng.choice(["sweet", "sour", "salt"], 2, replace=False):
        level = float(rng.uniform(0.2, 20.0))
        aims.append(Aim(str(axis), level, level))
    limits = (
        (Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=400.0),)
        if rng.random() < 0.4
        else ()
    )
    ratios = (Ratio(0, 1, 0.2, 0.5),) if rng.random() < 0.4 else ()
    return Problem(tuple(uses), tuple(aims), yield_g=100.0, limits=limits, ratios=ratios)


def test_the_set_is_enough_and_no_smaller_one_is() -> None:
    sizes, statuses = [], []
    for seed in range(120):
        try:
            problem = _small(seed)
        except BadInput:  # locks and minima over the batch are refused before
            continue
        statuses.append(solve(problem).status)
        sizes.append(_check_least(problem))
    assert statuses.count(Status.INFEASIBLE) >= 5
    assert statuses.count(Status.NEAREST) >= 20
    assert {1, 2} <= set(sizes)


def test_random_sauces_can_be_brought_on_target(catalogue: Catalogue) -> None:
    tried = 0
    for seed in range(40):
        problem = random_problem(seed, catalogue.pantry, 5, 8, spread=0.8)
        status, found = _relaxed(problem)
        if status is not Status.NEAREST:
            continue
        moved = problem
        for relaxation in found:
            moved = _eased(moved, relaxation)
        assert solve(moved).sum_jnd < 1e-3, (seed, found)
        tried += 1
    assert tried >= 10


def test_the_least_set_by_hand() -> None:
    """Sugar at most 10 g cannot give 20 g: one request has to give, the limit before the aim."""
    problem = Problem(
        (Use(SUGAR, max_g=10.0), Use(WATER)), (Aim("sweet", 20.0, 20.0),), yield_g=100.0
    )
    _, found = _relaxed(problem)
    assert [(r.label, r.kind, r.unit) for r in found] == [("sugar at most 10 g", "maximum", "g")]
    # on target is within a quarter of a JND of 3.8 g
    assert found[0].to == pytest.approx(20.0 - 0.25 * 3.8, abs=1e-4)


def test_contradicting_limits_by_hand() -> None:
    problem = Problem((Use(SUGAR, max_g=30.0), Use(WATER, max_g=40.0)), yield_g=100.0)
    status, found = _relaxed(problem)
    assert status is Status.INFEASIBLE
    assert len(found) == 1
    assert found[0].to == pytest.approx(70.0 if "water" in found[0].label else 60.0, abs=1e-4)


def test_one_ingredient_in_contradiction_with_itself() -> None:
    problem = Problem((Use(SUGAR, share_min=0.5, max_g=10.0), Use(WATER)), yield_g=100.0)
    status, found = _relaxed(problem)
    assert status is Status.INFEASIBLE
    assert len(found) == 1


def test_more_water_lost_than_went_in() -> None:
    problem = Problem((Use(SUGAR, min_g=120.0), Use(WATER)), yield_g=100.0, water_lost_g=50.0)
    status, found = _relaxed(problem)
    assert status is Status.INFEASIBLE
    assert len(found) == 1
    assert _holds(_eased(problem, found[0]), status)


def test_nothing_in_the_pot_is_asked_to_come_out() -> None:
    problem = Problem(
        (Use(SUGAR), Use(WATER)), (Aim("sweet", 20.0, 20.0),), pot=Pot((50.0, 50.0), 0.1)
    )
    solution = solve(problem)
    assert solution.status is Status.NEAREST
    found = relaxations(problem, solution.program, solution.status)
    assert [r.kind for r in found] == ["aim"]
    assert not [b for b in bindings(solution) if "in the pot" in b.label]


# --- uncarried axes and trades --------------------------------------------------------------------
def test_uncarried() -> None:
    problem = Problem(
        (Use(SUGAR), Use(WATER)), (Aim("sweet", 20.0, 20.0), Aim("heat", 50.0, 50.0)), yield_g=100.0
    )
    (sentence,) = uncarried(problem, build(problem))
    for part in ("heat", "50 SHU", "add one", "as if it had not been asked"):
        assert part in sentence


def test_nobody_misses_an_axis_that_shall_be_nothing() -> None:
    problem = Problem((Use(SUGAR), Use(WATER)), (Aim("heat", 0.0, 0.0),), yield_g=100.0)
    assert uncarried(problem, build(problem)) == ()
    assert solve(problem).status is Status.ON_TARGET


def test_trade_by_hand() -> None:
    """Only sour syrup brings acid, and it brings ten times the sugar with it."""
    problem = Problem(
        (Use(SYRUP), Use(WATER)),
        (Aim("sweet", 10.0, 10.0, 1.0), Aim("sour", 2.0, 2.0, 0.1)),
        yield_g=100.0,
        dead_band_jnd=0.0,
    )
    solution = solve(problem)
    before = solution.deviation_jnd("sour")
    assert solution.deviation_jnd("sweet") == pytest.approx(0.0, abs=1e-5)
    (sentence,) = trades(solution)
    # 50 g of syrup hit sour: sweet is then 20 g, ten over, at 0.4 + 1.7 = 2.1 g a JND
    assert sentence.startswith(f"sour +{-before:.1f} JND would cost sweet {10 / 2.1:.1f} JND")


def test_trades_are_what_solving_again_finds(catalogue: Catalogue) -> None:
    """Each sentence names an axis short of its aim and axes that something chosen carries."""
    said = 0
    for seed in range(60):
        problem = random_problem(seed, catalogue.pantry, 5, 10, spread=1.0)
        solution = solve(problem)
        for sentence in trades(solution):
            axis = sentence.split()[0]
            assert axis in AXIS
            assert abs(solution.deviation_jnd(axis)) > problem.dead_band_jnd
            levels = solution.program.levels[:, AXIS_NAMES.index(axis)]
            assert levels.any()
            assert "would cost" in sentence
            said += 1
    assert said >= 5
