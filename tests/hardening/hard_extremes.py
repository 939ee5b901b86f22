"""Ill-conditioned problems: they end as solved or as explained, never as a wrong number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from arithmetic import faults
from hard_numbers import AGREE, LEAST_JND
from sauces import ingredient, random_problem
from second_opinion import least_sum
from tally import Row, not_a_sentence

from balancer.answer import answer_from
from balancer.catalogue import Catalogue
from balancer.errors import BalancerError
from balancer.problem import Problem
from balancer.request import problem_from
from balancer.settle import settle
from balancer.solve import Status
from balancer.wishes import Aim, Limit, Ratio, Use

AXES = ("sweet", "sour", "salt", "volatile", "umami", "heat", "body", "fat")
SAUCE = ("plums", "sugar", "cider vinegar", "salt", "ginger", "water")
LEVELS = {"sweet": 18.0, "sour": 1.1, "salt": 1.4}


def _request(names: tuple[str, ...], target: dict[str, Any], **rest: Any) -> dict[str, Any]:
    entries = [{"name": n, **rest.get("of", {}).get(n, {})} for n in names]
    others = {k: v for k, v in rest.items() if k != "of"}
    return {"yield_g": 500.0, "ingredients": entries, "target": target, **others}


def requests() -> Iterator[tuple[str, dict[str, Any]]]:
    """Requests at the edge of what can be meant."""
    for spice in ("saffron", "cayenne pepper", "salt"):
        names = (*SAUCE, spice) if spice != "salt" else SAUCE
        one = {spice: {"locked_g": 1.0}}
        yield f"a gram of {spice} in a tonne", _request(names, LEVELS, yield_g=1e6, of=one)
        none = {"volatile": 1e-4, "heat": 1e-3, "salt": 1e-4}
        yield f"next to no {spice} in ten tonnes", _request(names, none, yield_g=1e7)
    for size in (1e-6, 1e-3, 1.0):
        yield f"a sauce of {size:g} g", _request(SAUCE, LEVELS, yield_g=size)
    for axis in AXES:
        for level in (0.0, 1e-12, 1e-6, 1e-3):
            yield f"{axis} near {level:g}", _request(SAUCE, {axis: level, "sweet": 5.0})
    for lost in (100.0, 5e3, 9e5):
        yield f"{lost:g} g cooked away of 500 g", _request(SAUCE, LEVELS, water_lost_g=lost)
    ratio = {"of": "sugar", "to": "plums"}
    for value in (1e-12, 1e-6, 1e-3, 1e3, 1e6, 1e12):
        yield (
            f"sugar to plums {value:g}",
            _request(SAUCE, LEVELS, ratios=[ratio | {"value": value}]),
        )
    ring = [
        {"of": a, "to": b, "value": v}
        for a, b, v in (("sugar", "plums", 2), ("plums", "water", 2), ("water", "sugar", 2))
    ]
    yield "ratios in a ring that only nothing keeps", _request(SAUCE, LEVELS, ratios=ring)
    yield (
        "ratios that only nothing keeps, of what must be there",
        _request(SAUCE, LEVELS, ratios=ring, of={"sugar": {"min_g": 1.0}}),
    )
    both = [ratio | {"value": 2.0}, {"of": "plums", "to": "sugar", "value": 2.0}]
    yield "two ratios against each other", _request(SAUCE, LEVELS, ratios=both)
    for gap in (1e-9, 1e-6):
        tight = {"sugar": {"min_g": 60.0, "max_g": 60.0 + gap}, "salt": {"locked_g": 6.0}}
        yield f"{gap:g} g between least and most", _request(SAUCE, LEVELS, of=tight)
    yield (
        "weights a million apart",
        _request(
            SAUCE,
            {
                "sweet": {"low": 18, "high": 18, "weight": 1000},
                "sour": {"low": 3, "high": 3, "weight": 0.001},
                "salt": 0.0,
            },
        ),
    )


def problems(catalogue: Catalogue) -> Iterator[tuple[str, Problem]]:
    """Problems that no request can state: twins, near twins, hundreds of foods."""
    twin = {"sucrose": 40.0, "citric": 2.0, "sodium": 500.0}
    aims = (Aim("sweet", 30.0, 30.0), Aim("sour", 1.0, 1.0), Aim("salt", 2.0, 2.0))
    for n in (2, 12, 60):
        uses = tuple(Use(ingredient(f"{i:03}", **twin)) for i in range(n))
        yield f"{n} ingredients, all equal", Problem(uses, aims, yield_g=500.0)
    near = tuple(
        Use(ingredient(f"{i:03}", **{k: v * (1 + 1e-9 * i) for k, v in twin.items()}))
        for i in range(12)
    )
    yield "12 ingredients a billionth apart", Problem(near, aims, yield_g=500.0)
    pure = Use(ingredient("900", capsaicinoids=100_000.0)), Use(ingredient("901", water=100.0))
    for level in (1.0, 1e-3):
        hot = (Aim("heat", level, level),)
        yield f"pure capsaicin for {level:g} SHU", Problem(pure, hot, yield_g=500.0)
    foods = [f for f in catalogue.table if len(f.name) <= 120]
    for seed in range(3):
        rng = np.random.default_rng(seed)
        chosen = [foods[i] for i in rng.choice(len(foods), 300, replace=False)]
        uses = tuple(Use(f, label=f.key) for f in chosen)
        limit = (Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=400.0),)
        yield (
            f"300 foods of the table, draw {seed}",
            Problem(uses, (*aims, Aim("fat", 5.0, 6.0)), yield_g=500.0, limits=limit),
        )
        ratios = tuple(Ratio(i, i + 1, 0.5, 2.0) for i in range(0, 40, 2))
        yield (
            f"300 foods with twenty ratios, draw {seed}",
            Problem(uses, aims, yield_g=500.0, ratios=ratios),
        )
    for seed in range(40):
        problem = random_problem(seed, catalogue.pantry)
        for scale in (1e-4, 1e3):
            yield f"random sauce {seed} at {scale:g} of its size", _scaled(problem, scale)


def _scaled(problem: Problem, by: float) -> Problem:
    """The same sauce at another size; grams of every kind follow."""

    def times(g: float | None) -> float | None:
        return None if g is None else min(g * by, 1e7) if g != float("inf") else g

    uses = tuple(
        replace(
            u,
            draft_g=times(u.draft_g),
            min_g=times(u.min_g) or 0.0,
            max_g=times(u.max_g) or 0.0,
            locked_g=times(u.locked_g),
        )
        for u in problem.uses
    )
    size = (problem.yield_g or 0.0) * by
    return replace(problem, uses=uses, yield_g=size, water_lost_g=problem.water_lost_g * by)


def extremes(catalogue: Catalogue, every: int = 1) -> Row:
    """Each case ends solved, and as well as another solver does, or with its reason in words."""
    lost: list[str] = []
    ends = {"solved": 0, "explained": 0, "refused": 0}
    worst = 0.0
    cases: list[tuple[str, Any]] = [*requests(), *problems(catalogue)]
    for what, case in cases[::every]:
        try:
            problem = case if isinstance(case, Problem) else problem_from(case, catalogue)
            settled = settle(problem)
            answer = answer_from(settled)
        except BalancerError as error:
            ends["refused"] += 1
            why = not_a_sentence(str(error), repr(case))
            lost += [f"{what}: {why}: {error}"] if why else []
            continue
        solution = settled.solution
        lost += [f"{what}: {text}" for text in faults(solution.problem, solution)[:3]]
        theirs = least_sum(solution.problem)
        if solution.status is Status.INFEASIBLE:
            ends["explained"] += 1
            if not answer["relax"]:
                lost.append(f"{what}: infeasible without a way out")
            if theirs is not None:
                lost.append(f"{what}: infeasible, yet another solver finds {theirs:.6g}")
            continue
        ends["solved"] += 1
        if theirs is None:
            lost.append(f"{what}: solved, yet another solver finds nothing")
            continue
        off = abs(solution.sum_jnd - theirs) / max(LEAST_JND, theirs)
        worst = max(worst, off)
        if off > 10 * AGREE:
            lost.append(f"{what}: {solution.sum_jnd:.8g} JND, another solver {theirs:.8g}")
    said = ", ".join(f"{n} {end}" for end, n in ends.items())
    return Row(
        "ill-conditioned problems: a gram in a tonne, near zero, twins, rings of ratios, 300 foods",
        f"{len(cases[::every])} cases",
        tuple(lost),
        f"{said}; farthest from CBC {worst:.1e} of the sum",
    )
