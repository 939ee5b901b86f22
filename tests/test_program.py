"""From a problem to arrays: labels, scaling, drafts, and the print as algebra."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sauces import ingredient, random_problem

from balancer.catalogue import Catalogue
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.problem import Problem
from balancer.program import LARGEST_COEFFICIENT, build
from balancer.requirements import aim_ends, draft_shares, ordered
from balancer.wishes import Aim, Limit, Pot, Ratio, Use

SUGAR = ingredient("2", name="sugar", sucrose=100.0, share=(0.01, 0.1, 0.3))
WATER = ingredient("1", name="water", water=100.0, share=(0.0, 0.3, 0.8))


@pytest.mark.parametrize("seed", range(40))
def test_coefficients_are_finite_and_moderate(catalogue: Catalogue, seed: int) -> None:
    program = build(random_problem(seed, catalogue.pantry))
    matrix = program.lp.matrix
    assert np.isfinite(matrix).all()
    assert np.abs(matrix).max() <= LARGEST_COEFFICIENT * (1 + 1e-9)
    assert len(set(program.lp.rows)) == len(program.lp.rows) == matrix.shape[0]
    assert len(set(program.lp.columns)) == len(program.lp.columns) == matrix.shape[1]
    assert (program.lp.lower <= program.lp.upper).all()


@pytest.mark.parametrize("seed", range(20))
def test_columns_stand_for_grams_and_back(catalogue: Catalogue, seed: int) -> None:
    """The point at which every column is zero is the draft, in the cook's order."""
    problem = random_problem(seed, catalogue.pantry)
    program = build(problem)
    grams = program.grams(np.zeros(len(program.lp.columns)))
    np.testing.assert_allclose(
        grams[program.order], program.columns.draft * program.reference_g, rtol=1e-12
    )
    keys = [problem.uses[i].ingredient.key for i in program.order]
    assert keys == sorted(keys)


def test_ordered_by_food_number() -> None:
    problem = Problem((Use(SUGAR), Use(WATER)), yield_g=100.0)
    np.testing.assert_array_equal(ordered(problem), [1, 0])


def test_draft_from_usual_shares() -> None:
    """Usual shares 0.3 and 0.1 stretch to fill the batch; a given draft takes its part first."""
    problem = Problem((Use(SUGAR), Use(WATER)), yield_g=100.0)
    order = ordered(problem)
    np.testing.assert_allclose(draft_shares(problem, order, 100.0), [0.75, 0.25])
    given = Problem((Use(SUGAR, draft_g=40.0), Use(WATER)), yield_g=100.0)
    np.testing.assert_allclose(draft_shares(given, order, 100.0), [0.6, 0.4])
    locked = Problem((Use(SUGAR, locked_g=10.0), Use(WATER)), yield_g=80.0, water_lost_g=20.0)
    np.testing.assert_allclose(draft_shares(locked, order, 80.0), [90 / 80, 10 / 80])


def test_dead_band_widens_a_level_and_leaves_a_band() -> None:
    # sweet at 20: JND 0.4 + 0.17 * 20 = 3.8
    assert aim_ends(Aim("sweet", 20, 20), 0.25) == pytest.approx((19.05, 20.95, 3.8, 3.8))
    assert aim_ends(Aim("sweet", 10, 20), 0.25) == pytest.approx((10, 20, 2.1, 3.8))


def test_rows_carry_the_words_of_the_cook() -> None:
    problem = Problem(
        (Use(SUGAR, min_g=5.0, label="castor"), Use(WATER, share_max=0.9)),
        (Aim("sweet", 20.0, 20.0), Aim("salt", 1.0, 2.0)),
        yield_ml=100.0,
        ratios=(Ratio(0, 1, 0.1, 0.5),),
        limits=(Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=900.0),),
    )
    rows = build(problem).lp.rows
    for label in (
        "batch",
        "castor at least 5 g",
        "water at most 90 % of the batch",
        "castor per water at least 0.1 g/g",
        "castor per water at most 0.5 g/g",
        "sodium",
        "sweet 20 g sucrose eq. per 100 g",
        "salt 1 to 2 g NaCl eq. per 100 g",
        "volume",
        "sum of deviations",
    ):
        assert label in rows


def test_algebra_of_a_small_program() -> None:
    problem = Problem(
        (Use(SUGAR, max_g=30.0, draft_g=10.0), Use(WATER, draft_g=90.0)),
        (Aim("sweet", 20.0, 20.0),),
        yield_g=100.0,
        dead_band_jnd=0.0,
    )
    text = build(problem).lp.algebra()
    lines = [line.strip() for line in text.splitlines()]
    assert lines[0] == (
        "minimise 1 [sweet 20 g sucrose eq. per 100 g: over]"
        " + 1 [sweet 20 g sucrose eq. per 100 g: under]"
    )
    batch = "1 [water: more] + 1 [sugar: more] - 1 [water: less] - 1 [sugar: less] = 0"
    assert f"batch: {batch}" in lines
    # shares: 100 g of sugar at 100 % sweetness, divided by a JND of 3.8; 10 g short of the target
    assert any(
        line.startswith("sweet 20 g sucrose eq. per 100 g: 26.32 [sugar: more] - 26.32 [sugar")
        and line.endswith("= 2.63158")
        for line in lines
    )
    assert "0 <= [sugar: more] <= 0.2" in lines


def test_pot_rows() -> None:
    problem = Problem(
        (Use(SUGAR), Use(WATER)), (Aim("sweet", 20.0, 20.0),), pot=Pot((10.0, 90.0), 0.5)
    )
    program = build(problem)
    assert program.columns.s is not None
    assert program.lp.lower[program.columns.s] == pytest.approx(1 / 1.5)
    assert program.lp.upper[program.columns.s] == pytest.approx(1.0)
    assert "sugar in the pot 10 g" in program.lp.rows
    assert program.stages[2].name == "least added"


def test_levels_are_those_of_each_food_alone(catalogue: Catalogue) -> None:
    problem = random_problem(3, catalogue.pantry)
    program = build(problem)
    first = problem.uses[program.order[0]].ingredient
    fat = program.levels[0, AXIS_NAMES.index("fat")]
    assert fat == pytest.approx(np.nan_to_num(first["fat"]))


def test_two_foods_of_one_name_are_told_apart() -> None:
    """One word for two foods would make two columns alike, so it is refused by name."""
    twin = replace(SUGAR, key="9")
    with pytest.raises(BadInput, match="sugar"):
        build(Problem((Use(SUGAR), Use(twin)), yield_g=100.0))


def test_a_share_of_nothing_is_a_limit() -> None:
    rows = build(Problem((Use(SUGAR, share_max=0.0), Use(WATER)), yield_g=100.0)).requirements
    assert "sugar at most 0 % of the batch" in [r.label for r in rows]
