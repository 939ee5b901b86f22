"""Practical measures: the lists, the joint choice, and what it may not break."""

from __future__ import annotations

import csv
import itertools
import math
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sauces import ingredient, random_problem

from balancer.catalogue import Catalogue
from balancer.choices import Choice, Style, by_weight, item_weights, preferred, spoon_g
from balancer.composition import INDEX, Ingredient
from balancer.constants import AXES, DEAD_BAND_JND
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.measures import Measure
from balancer.problem import Problem
from balancer.request import problem_from
from balancer.rounding import FINE_JND, round_alone, round_jointly, rounded
from balancer.rounding_rows import FLOAT, TOLERANCE
from balancer.settle import PH_TOLERANCE, settle
from balancer.solve import solve
from balancer.units import VOLUME_ML
from balancer.water_phase import phase_of, water_phase
from balancer.wishes import Limit, Ratio, Use

DATA = Path(__file__).parent.parent / "data"


def known(catalogue: Catalogue, key: str) -> list[Measure]:
    return list(catalogue.measures(key))


def sweet_and_sour(*extra: Use) -> tuple[Problem, np.ndarray]:
    uses = (
        Use(ingredient("a", name="juice", citric=5.0, glucose=3.0)),
        Use(ingredient("b", name="sugar", sucrose=100.0)),
        Use(ingredient("c", name="salt", water=0.0, ash=100.0, sodium=38758.0)),
        Use(ingredient("d", name="water")),
        *extra,
    )
    grams = np.array([31.7, 44.4, 3.46, 70.0, *[7.3] * len(extra)])
    return Problem(uses=uses, yield_g=float(grams.sum())), grams


def test_spoons_weigh_what_the_food_table_says(catalogue: Catalogue) -> None:
    """USDA SR28, file WEIGHT: every plain spoon and cup of a pantry food, as printed there."""
    with (DATA / "household_measures.csv").open(encoding="utf-8", newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["measure"] in ("tsp", "tbsp", "cup")]
    printed: dict[tuple[str, str], float] = {}
    for row in rows:
        key = (row["ndb"], row["measure"])
        printed.setdefault(key, float(row["grams"]) / float(row["amount"]))
    foods = {f.key for f in catalogue.pantry}
    checked = 0
    for (key, unit), one_g in printed.items():
        if key in foods:
            assert spoon_g(unit, known(catalogue, key)) == pytest.approx(one_g, abs=1e-12)
            checked += 1
    assert checked >= 40


@pytest.mark.parametrize(
    ("name", "item", "grams"),
    [("garlic", "clove", 3.0), ("limes", "whole", 67.0), ("plums", "whole", 66.0),
     ("lemons", "whole", 58.0), ("eggs", "large", 50.0), ("red bell pepper", "medium", 119.0)],
)  # fmt: skip
def test_items_weigh_what_the_food_table_says(
    catalogue: Catalogue, pantry: Mapping[str, Ingredient], name: str, item: str, grams: float
) -> None:
    """USDA SR28, file WEIGHT, read from the printed rows."""
    assert dict(item_weights(known(catalogue, pantry[name].key)))[item] == grams


def test_volumes_of_spoons() -> None:
    """NIST Handbook 44, Appendix C: 1 cup is 16 tablespoons is 48 teaspoons, 231/16 cubic inch."""
    assert VOLUME_ML["cup"] == pytest.approx(231 / 16 * 2.54**3, rel=1e-12)
    water = [Measure(1, "cup", VOLUME_ML["cup"])]
    assert spoon_g("tbsp", water) == pytest.approx(VOLUME_ML["cup"] / 16, rel=1e-12)
    assert spoon_g("tsp", water) == pytest.approx(VOLUME_ML["cup"] / 48, rel=1e-12)
    assert spoon_g("metric tsp", water) == pytest.approx(5.0, rel=1e-12)


@given(
    grams=st.floats(0.01, 5000.0),
    style=st.sampled_from(Style),
    scale_g=st.sampled_from((1.0, 0.5, 0.1)),
)
@settings(max_examples=60, deadline=None)
def test_every_weight_has_a_measure_near_it(grams: float, style: Style, scale_g: float) -> None:
    for measures in ([], [Measure(1, "tsp", 6.0)], [Measure(1, "clove", 3.0)]):
        choices = preferred(grams, measures, style, scale_g)
        masses = [c.grams for c in choices]
        assert masses == sorted(masses)
        assert masses[0] > 0
        assert len({c.text for c in choices}) == len(choices)
        step = 0.1 * 28.35 if style is Style.US and grams > 28 else scale_g
        assert min(abs(m - grams) for m in masses) <= max(0.6 * grams, 0.51 * step)


def test_weights_follow_the_scale() -> None:
    for scale_g in (1.0, 0.5, 0.1):
        for choice in by_weight(37.33, [], Style.METRIC, scale_g):
            assert choice.grams / scale_g == pytest.approx(round(choice.grams / scale_g), abs=1e-6)
            assert "finer" not in choice.text


def test_no_scale_of_that_step() -> None:
    problem, grams = sweet_and_sour()
    with pytest.raises(BadInput, match=r"0\.25 g"):
        rounded(problem, grams, [[]] * 4, scale_g=0.25)


def test_the_best_of_all_combinations() -> None:
    """Every combination tried one by one: none is better than the one that is chosen."""
    problem, grams = sweet_and_sour()
    coarse = [[Choice(float(m), f"{m} g", "weight") for m in ms] for ms in
              ((25, 30, 40), (40, 50), (2, 3, 5), (60, 66, 70, 80))]  # fmt: skip
    composition = problem.composition()
    weber = np.array([a.weber for a in AXES])
    floor = np.array([a.floor for a in AXES])

    def levels(q: np.ndarray) -> np.ndarray:
        from balancer.taste import levels as axis_levels

        return axis_levels(q @ composition / q.sum())

    wanted = levels(grams)
    best = math.inf
    for combination in itertools.product(*[[c.grams for c in one] for one in coarse]):
        q = np.array(combination)
        if abs(q.sum() / grams.sum() - 1) <= FLOAT:
            best = min(best, float(np.abs((levels(q) - wanted) / (floor + weber * wanted)).max()))
    found = round_jointly(problem, grams, coarse)
    assert not found.broken
    # the program's error is that of a batch that does not float
    assert found.largest_jnd <= best * (1 + 2 * FLOAT) + FINE_JND
    assert best > FINE_JND


def test_never_worse_even_without_time() -> None:
    problem, grams = sweet_and_sour()
    lists = [by_weight(float(g), [], Style.METRIC) for g in grams]
    alone = round_alone(problem, grams, lists)
    assert round_jointly(problem, grams, lists, seconds=1e-6).largest_jnd <= alone.largest_jnd


def test_order_of_naming_does_not_matter() -> None:
    problem, grams = sweet_and_sour()
    back = replace(problem, uses=problem.uses[::-1])
    one = rounded(problem, grams, [[]] * 4)
    other = rounded(back, grams[::-1].copy(), [[]] * 4)
    assert one.largest_jnd == pytest.approx(other.largest_jnd, abs=FINE_JND)


def test_locks_stay() -> None:
    problem, grams = sweet_and_sour(Use(ingredient("e", name="stock"), locked_g=7.3))
    found = rounded(problem, grams, [[]] * 5, Style.US)
    assert found.grams[4] == 7.3
    assert found.chosen[4] is not None
    assert found.chosen[4].kind == "locked"


def test_what_is_not_wanted_is_left_out() -> None:
    problem, grams = sweet_and_sour(Use(ingredient("e", name="pepper", oil_warm_spice=900.0)))
    grams[4] = 0.0
    cloves = [Measure(1, "clove", 3.0)]
    for style in Style:
        found = rounded(problem, grams, [[], [], [], [], cloves], style)
        assert found.chosen[4] is None
        assert found.grams[4] == 0.0
        assert not found.broken


def test_ratios_become_tolerances() -> None:
    problem, grams = sweet_and_sour()
    ratio = grams[1] / grams[0]
    held = replace(problem, ratios=(Ratio(1, 0, ratio, ratio),))
    found = rounded(held, grams, [[]] * 4)
    assert not found.broken
    assert found.grams[1] / found.grams[0] == pytest.approx(ratio, rel=TOLERANCE)


def test_limits_are_kept_exactly() -> None:
    """The most of sodium binds before rounding, so that rounding may only go down."""
    problem, grams = sweet_and_sour()
    sodium = float(grams @ problem.composition()[:, INDEX["sodium"]]) / grams.sum()
    limit = Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=sodium)
    salt = [Measure(1, "tsp", 6.0)]
    held = replace(problem, limits=(limit,))
    found = rounded(held, grams, [[], [], salt, []], Style.METRIC)
    assert not found.broken
    after = float(found.grams @ problem.composition()[:, INDEX["sodium"]]) / found.grams.sum()
    assert after <= sodium * (1 + 1e-5)


def test_a_broken_limit_is_told() -> None:
    problem, grams = sweet_and_sour()
    uses = (*problem.uses[:2], replace(problem.uses[2], min_g=3.45, max_g=3.47), problem.uses[3])
    found = rounded(replace(problem, uses=uses), grams, [[]] * 4)
    assert found.broken
    assert any("Not kept" in note and "salt" in note for note in found.notes())


@pytest.mark.parametrize("style", list(Style))
def test_the_ph_ceiling_is_kept(catalogue: Catalogue, style: Style) -> None:
    """The ceiling binds; after rounding the full model still finds the band under it."""
    request = {
        "yield_g": 400,
        "ingredients": [
            {"name": "plums", "draft_g": 250}, {"name": "sugar", "draft_g": 40},
            {"name": "lime juice", "draft_g": 10}, {"name": "carrots", "draft_g": 60},
            {"name": "garlic", "draft_g": 6}, {"name": "salt", "draft_g": 3},
            {"name": "water", "draft_g": 40},
        ],
        "target": {"sour": 0.7, "sweet": 14, "salt": 0.9},
    }  # fmt: skip
    free = settle(problem_from(request, catalogue)).water_phase
    assert free is not None
    assert free.ph is not None
    ceiling = round(free.ph.high - 0.15, 2)
    settled = settle(problem_from({**request, "limits": {"ph_max": ceiling}}, catalogue))
    problem, grams = settled.solution.problem, settled.solution.grams
    assert settled.water_phase is not None
    assert settled.water_phase.ph is not None
    row = next(x for x in problem.limits if x.label.startswith("pH"))
    parts = np.array(row.per_use) * grams
    assert abs(parts.sum()) < 1e-4 * np.abs(parts).sum(), "the ceiling does not bind"
    measures = [known(catalogue, u.ingredient.key) for u in problem.uses]
    found = rounded(problem, grams, measures, style)
    assert not found.broken
    assert found.ph_band is not None
    assert found.ph_band[1] <= ceiling + 2 * PH_TOLERANCE
    phase = phase_of([u.ingredient for u in problem.uses])
    direct = water_phase(phase, found.grams, 0.0, problem.kept).ph
    assert direct is not None
    assert direct.high == pytest.approx(found.ph_band[1])


@pytest.mark.parametrize("name", sorted(house_sauces()))
def test_demo_sauces(catalogue: Catalogue, name: str) -> None:
    solution = settle(problem_from(house_sauces()[name], catalogue)).solution
    measures = [known(catalogue, u.ingredient.key) for u in solution.problem.uses]
    for style in Style:
        found = rounded(solution.problem, solution.grams, measures, style)
        assert not found.broken
        assert found.largest_jnd <= 2 * DEAD_BAND_JND.value
        assert found.mass_g == pytest.approx(
            float(solution.grams.sum()) - solution.problem.water_lost_g, rel=FLOAT
        )


def test_what_is_steeped_is_measured_whole(catalogue: Catalogue) -> None:
    request = {
        "yield_g": 300,
        "ingredients": [
            {"name": "water", "locked_g": 299.0},
            {"name": "bay leaf", "taken_out": True},
        ],
        "target": {"volatile": 1.0},
    }
    solution = settle(problem_from(request, catalogue)).solution
    found = rounded(solution.problem, solution.grams, [[], []], scale_g=0.1)
    bay = solution.problem.uses[1]
    assert bay.passes < 0.5
    assert found.chosen[1] is not None
    assert found.grams[1] == pytest.approx(found.chosen[1].grams * bay.passes)


def test_random_problems_with_limits(catalogue: Catalogue) -> None:
    """Whatever the request: the joint choice breaks no more than rounding alone."""
    for seed in range(12):
        solution = solve(random_problem(seed, catalogue.pantry, 4, 10))
        problem, grams = solution.problem, solution.grams
        lists = [by_weight(max(float(g), 1e-3), [], Style.METRIC) for g in grams]
        alone = round_alone(problem, grams, lists)
        joint = round_jointly(problem, grams, lists, seconds=0.1)
        assert bool(joint.broken) <= bool(alone.broken), seed
        assert alone.broken or joint.largest_jnd <= alone.largest_jnd + 1e-12, seed
        assert all((c is None) == (g < 5e-4) for c, g in zip(joint.chosen, grams, strict=True))


def test_salt_by_the_spoon_is_warned_of() -> None:
    problem, grams = sweet_and_sour()
    found = rounded(problem, grams * 4, [[], [], [Measure(1, "tsp", 6.0)], []], Style.US)
    spoons = [c for c in found.chosen if c is not None and c.kind == "spoon"]
    warned = [n for n in found.notes() if "coarse crystals" in n]
    assert len(spoons) == len(warned) == 1
