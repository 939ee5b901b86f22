"""From a problem to arrays: labels, scaling, drafts, and the print as algebra."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sauces import ingredient, random_problem

from balancer.catalogue import Catalogue
from balancer.composition import Blend, specific_volume
from balancer.constants import AXIS_NAMES, DRAFT_FLOOR, SOFT_MAXIMUM_COST, TIE_WEIGHT
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


# --- columns and rows by hand ---------------------------------------------------------------------
def _price(there: float, place: int) -> float:
    """What a change of a share costs: relative to what is there, the later food a hair more."""
    return (1 + TIE_WEIGHT.value * place) / max(there, DRAFT_FLOOR.value)


def test_columns_of_a_batch_by_hand() -> None:
    """Usual shares 0.3 and 0.1 fill the batch as 0.75 and 0.25; beyond 0.8 and 0.3 it is far."""
    columns = build(Problem((Use(SUGAR), Use(WATER)), yield_g=100.0)).columns
    assert columns.labels == (
        "water: more",
        "sugar: more",
        "water: far more",
        "sugar: far more",
        "water: less",
        "sugar: less",
    )
    np.testing.assert_allclose(columns.draft, [0.75, 0.25])
    np.testing.assert_array_equal(columns.place, [0, 1, 0, 1, 0, 1])
    np.testing.assert_array_equal(columns.sign, [1, 1, 1, 1, -1, -1])
    np.testing.assert_allclose(columns.upper, [0.05, 0.05, 0.2, 0.7, 0.75, 0.25])
    one = np.array([_price(0.75, 1), _price(0.25, 2)])
    far = SOFT_MAXIMUM_COST.value * one
    np.testing.assert_allclose(columns.cost, [*one, *far, *one], rtol=1e-12)
    assert columns.s is None
    assert not columns.contradiction


def test_columns_where_water_is_cooked_away_by_hand() -> None:
    """100 g weighed, 80 g left: shares of the finished mass add up to 1.25."""
    columns = build(Problem((Use(SUGAR), Use(WATER)), yield_g=80.0, water_lost_g=20.0)).columns
    np.testing.assert_allclose(columns.draft, [0.9375, 0.3125])
    np.testing.assert_allclose(columns.upper, [0.0625, 0.0625, 0.25, 0.875, 0.9375, 0.3125])


def test_columns_within_limits_by_hand() -> None:
    """A minimum and a maximum move the draft; drafts, locks and narrow limits know no far."""
    uses = (Use(SUGAR, min_g=5.0, max_g=20.0), Use(WATER))
    columns = build(Problem(uses, yield_g=100.0)).columns
    np.testing.assert_allclose(columns.draft, [0.75, 0.2])
    assert columns.labels == (
        "water: more",
        "sugar: more",
        "water: far more",
        "water: less",
        "sugar: less",
    )
    np.testing.assert_allclose(columns.upper, [0.05, 0.0, 0.2, 0.75, 0.15], atol=1e-12)
    for use in (Use(SUGAR, draft_g=10.0), Use(SUGAR, locked_g=10.0)):
        labels = build(Problem((use, Use(WATER)), yield_g=100.0)).columns.labels
        assert "sugar: far more" not in labels
    # a usual largest share of 0.3 below the draft of 0.75 is no reason to leave the draft
    alone = build(Problem((Use(SUGAR), Use(WATER, draft_g=25.0)), yield_g=100.0)).columns
    np.testing.assert_allclose(alone.draft, [0.25, 0.75])
    assert alone.upper[alone.labels.index("sugar: more")] == 0.0
    np.testing.assert_allclose(alone.upper[alone.labels.index("sugar: far more")], 0.25)


def test_limits_that_leave_no_room_are_noted() -> None:
    """5 g at least and 0.04 of 100 g at most; a hair of rounding is no contradiction."""
    for share_max, contradiction in ((0.04, True), (0.05, False), (0.05 - 1e-10, False)):
        uses = (Use(SUGAR, min_g=5.0, share_max=share_max), Use(WATER))
        columns = build(Problem(uses, yield_g=100.0)).columns
        assert columns.contradiction is contradiction
        assert (columns.upper >= 0).all()


def test_columns_of_a_pot_by_hand() -> None:
    """What is there, or the draft where that is more, is what an addition is measured against."""
    pot = Problem((Use(SUGAR, draft_g=20.0), Use(WATER)), pot=Pot((10.0, 90.0), 0.5))
    columns = build(pot).columns
    assert columns.labels == ("water: more", "sugar: more", "reference mass per finished mass")
    assert columns.s == 2
    np.testing.assert_array_equal(columns.draft, [0.0, 0.0])
    np.testing.assert_array_equal(columns.sign, [1.0, 1.0, 0.0])
    np.testing.assert_array_equal(columns.place, [0, 1, 0])
    np.testing.assert_array_equal(columns.upper, [np.inf, np.inf, 1.0])
    np.testing.assert_allclose(columns.cost, [_price(0.9, 1), _price(0.2, 2), 0.0], rtol=1e-12)


def test_a_volume_leaves_the_mass_free_within_a_hundredfold() -> None:
    program = build(Problem((Use(SUGAR), Use(WATER)), yield_ml=100.0))
    s = program.columns.s
    assert s == len(program.columns.labels) - 1
    assert (program.lp.lower[s], program.lp.upper[s]) == (0.01, 100.0)
    at = np.zeros(len(program.lp.columns))
    at[s] = 0.5
    assert program.mass_g(at) == pytest.approx(2 * program.reference_g)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("kind", ["mass", "volume", "pot"])
def test_rows_say_what_the_requirements_say(catalogue: Catalogue, kind: str, seed: int) -> None:
    """At any quantities a row lies as far from its ends as the requirement does, in its scale."""
    problem = random_problem(seed, catalogue.pantry, least=4, most=8)
    n = len(problem.uses)
    if kind == "volume":
        problem = replace(problem, yield_g=None, yield_ml=300.0)
    if kind == "pot":
        uses = tuple(replace(u, min_g=0.0, draft_g=None, locked_g=None) for u in problem.uses)
        held = tuple(float(10 + i) for i in range(n))
        problem = replace(problem, uses=uses, yield_g=None, water_lost_g=0.0, pot=Pot(held, 0.4))
    program = build(problem)
    lp, columns = program.lp, program.columns
    rng = np.random.default_rng(seed)
    y = np.zeros(len(lp.columns))
    y[: len(columns.labels)] = rng.uniform(0.0, 0.01, len(columns.labels))
    y[: len(columns.upper)] = np.minimum(y[: len(columns.upper)], columns.upper)
    if columns.s is not None:
        y[columns.s] = 0.8
    s = 1.0 if columns.s is None else 0.8
    x = columns.draft.copy()
    for j, place in enumerate(columns.place):
        x[place] += columns.sign[j] * y[j]
    np.testing.assert_allclose(program.shares(y), np.maximum(x, 0.0), atol=1e-12)
    seen = 0
    for requirement, row in zip(program.requirements, program.row_of, strict=True):
        if row is None:
            assert columns.s is None
            assert requirement.is_bound
            continue
        value = requirement.values @ x[requirement.places] + requirement.per_s * s
        at = float(lp.matrix[row] @ y)
        for end, of in (
            (lp.row_lower[row], requirement.low),
            (lp.row_upper[row], requirement.high),
        ):
            if np.isfinite(of):
                assert (at - end) * program.row_scale[row] == pytest.approx(value - of, abs=1e-8)
                seen += 1
        if requirement.aim is None and np.abs(requirement.values).max() < LARGEST_COEFFICIENT:
            assert program.row_scale[row] == 1.0, "a limit stands in its own unit"
    assert seen
    batch = lp.rows.index("batch")
    lost = problem.water_lost_g / program.reference_g
    assert float(lp.matrix[batch] @ y - lp.row_lower[batch]) * program.row_scale[batch] == (
        pytest.approx(x.sum() - lost * s - 1.0, abs=1e-9)
    )
    if kind == "volume":
        volume = lp.rows.index("volume")
        grams = x * program.reference_g / s
        blend = Blend(problem.composition()[program.order], grams, problem.water_lost_g)
        ml = float(specific_volume(blend.per_100g())) * blend.mass_g / 100.0
        off = float(lp.matrix[volume] @ y - lp.row_lower[volume]) * program.row_scale[volume]
        # the row is per gram of the finished sauce; its own mass closes by the row of the batch
        assert off * program.reference_g / s == pytest.approx(ml - 300.0, abs=1e-6)


def test_deviations_stand_in_the_rows_of_their_axes() -> None:
    """Over takes a JND at the high end off, under adds one at the low end; weights are costs."""
    aims = (Aim("sweet", 10.0, 20.0, weight=3.0), Aim("fat", 1.0, 1.0, weight=2.0))
    program = build(Problem((Use(SUGAR), Use(WATER)), aims, yield_g=100.0))
    lp = program.lp
    n_y = len(program.columns.labels)
    sweet = lp.rows.index("sweet 10 to 20 g sucrose eq. per 100 g")
    scale = program.row_scale[sweet]
    # JND of sweet: 0.4 + 0.17 * 10 = 2.1 and 0.4 + 0.17 * 20 = 3.8; the row is in their mean
    assert scale == pytest.approx(2.95)
    np.testing.assert_allclose(lp.matrix[sweet, n_y : n_y + 2] * scale, [-3.8, 2.1])
    # neither sugar nor water has fat: the axis costs nothing and is in no largest
    np.testing.assert_array_equal(lp.cost[n_y:], [3.0, 3.0, 0.0, 0.0, 0.0])
    assert program.largest == n_y + 4
    within = [r for r in lp.rows if r.endswith("within the largest")]
    assert within == ["sweet 10 to 20 g sucrose eq. per 100 g, within the largest"]
    row = lp.rows.index(within[0])
    expected = np.zeros(len(lp.columns))
    expected[n_y : n_y + 2], expected[program.largest] = -3.0, 1.0
    np.testing.assert_array_equal(lp.matrix[row], expected)
    assert (lp.row_lower[row], lp.row_upper[row]) == (0.0, np.inf)
    total = lp.rows.index("sum of deviations")
    np.testing.assert_array_equal(lp.matrix[total], lp.cost)
    assert (lp.row_lower[total], lp.row_upper[total]) == (-np.inf, np.inf)
    assert program.row_scale[total] == program.row_scale[row] == 1.0
    assert lp.columns[n_y:] == (
        "sweet 10 to 20 g sucrose eq. per 100 g: over",
        "sweet 10 to 20 g sucrose eq. per 100 g: under",
        "fat 1 g per 100 g: over",
        "fat 1 g per 100 g: under",
        "largest deviation",
    )
    assert (lp.lower == 0).all()
    assert np.isinf(lp.upper[n_y:]).all()
    first, second, last = program.stages
    assert (first.name, first.keep_row, first.keep_column) == ("sum of deviations", total, None)
    assert (second.keep_row, second.keep_column) == (None, program.largest)
    np.testing.assert_array_equal(second.cost, np.eye(len(lp.columns))[program.largest])
    assert (last.name, last.keep_row, last.keep_column) == ("near what there is", None, None)
    np.testing.assert_array_equal(last.cost[:n_y], program.columns.cost)
    assert (last.cost[n_y:] == 0).all()


def test_a_pot_is_kept_small_by_its_third_stage() -> None:
    program = build(Problem((Use(SUGAR), Use(WATER)), pot=Pot((10.0, 90.0), 0.5)))
    third = program.stages[2]
    assert (third.name, third.keep_row, third.keep_column) == ("least added", None, 2)
    np.testing.assert_array_equal(third.cost, -np.eye(len(program.lp.columns))[2])
    assert [stage.name for stage in program.stages] == [
        "sum of deviations",
        "largest deviation",
        "least added",
        "near what there is",
    ]
    # a free mass without a pot has nothing to add to
    free = build(Problem((Use(SUGAR), Use(WATER)), yield_ml=100.0))
    assert len(free.stages) == 3


def test_a_large_coefficient_is_scaled_down() -> None:
    """Pungent foods have 1e5 times the weight of others in a row: it is divided, not cut."""
    hot = ingredient("3", name="extract", capsaicinoids=4000.0, water=50.0)
    problem = Problem((Use(hot), Use(WATER)), (Aim("heat", 0.0, 0.0),), yield_g=100.0)
    program = build(problem)
    row = next(i for i, r in enumerate(program.lp.rows) if r.startswith("heat"))
    # 4,000 mg in 100 g are 640,000 SHU; a row in JND of 10 would hold 64,000
    assert np.abs(program.lp.matrix[row]).max() == pytest.approx(1e4)
    assert program.row_scale[row] == pytest.approx(64.0)
