"""What a cook asked for, as rows over the shares of the finished mass: each by hand arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pytest
from sauces import ingredient

from balancer.composition import INDEX, matrix
from balancer.problem import Problem
from balancer.requirements import (
    PH_UNIT,
    RATIO_UNIT,
    Requirement,
    aim_ends,
    draft_shares,
    ordered,
    reference_mass,
    requirements_of,
)
from balancer.wishes import Aim, Limit, Pot, Ratio, Use

SUGAR = ingredient("2", name="sugar", sucrose=100.0, share=(0.01, 0.1, 0.3))
WATER = ingredient("1", name="water", water=100.0, share=(0.0, 0.3, 0.8))
PLUM = ingredient("3", name="plums", fructose=10.0)
INF = math.inf


def _of(problem: Problem) -> list[Requirement]:
    order = ordered(problem)
    composition = problem.composition()[order]
    reference_g = reference_mass(problem, composition)
    return list(requirements_of(problem, order, composition, reference_g))


def _row(r: Requirement) -> tuple[object, ...]:
    return (
        r.label, r.kind, r.places.tolist(), r.values.round(12).tolist(), round(r.per_s, 12),
        r.low, r.high, r.unit, round(r.per_row, 9),
    )  # fmt: skip


def test_quantities_by_hand() -> None:
    """80 g left of 100 g: grams over the 80, shares of the 100 as 0.25 of a share more."""
    problem = Problem(
        (Use(SUGAR, min_g=5.0, max_g=30.0), Use(WATER, share_min=0.2, share_max=0.9)),
        yield_g=80.0,
        water_lost_g=20.0,
    )
    assert [_row(r) for r in _of(problem)] == [
        ("water at least 20 % of the batch", "share", [0], [1.0], -0.05, 0.2, INF, "%", 100.0),
        ("water at most 90 % of the batch", "share", [0], [1.0], -0.225, -INF, 0.9, "%", 100.0),
        ("sugar at least 5 g", "minimum", [1], [1.0], -0.0625, 0.0, INF, "g", 80.0),
        ("sugar at most 30 g", "maximum", [1], [1.0], -0.375, -INF, 0.0, "g", 80.0),
        ("water lost in cooking 20 g", "loss", [0, 1], [1.0, 0.0], -0.25, 0.0, INF, "g", 80.0),
    ]


def test_nothing_asked_is_no_row() -> None:
    assert _of(Problem((Use(SUGAR), Use(WATER, share_max=1.0)), yield_g=100.0)) == []


def test_a_share_without_its_other_end() -> None:
    uses = (Use(SUGAR, share_min=0.1), Use(WATER, share_max=0.9))
    assert [r.label for r in _of(Problem(uses, yield_g=100.0))] == [
        "water at most 90 % of the batch",
        "sugar at least 10 % of the batch",
    ]


def test_a_little_water_lost_must_have_been_there() -> None:
    found = _of(Problem((Use(SUGAR), Use(WATER)), yield_g=100.0, water_lost_g=0.5))
    assert [r.label for r in found] == ["water lost in cooking 0.5 g"]


def test_what_stays_is_told_as_what_is_weighed() -> None:
    """Half of the plums stays: 10 g in the pot are 20 g to weigh, and so is a ratio."""
    problem = Problem(
        (Use(PLUM, locked_g=10.0, passes=0.5), Use(WATER, min_g=4.0, passes=0.8), Use(SUGAR)),
        yield_g=100.0,
        ratios=(Ratio(0, 2, 0.1, 0.5), Ratio(1, 2, 0.4, 0.4), Ratio(1, 0, 0.0, 3.0)),
    )
    assert [_row(r) for r in _of(problem)] == [
        ("water at least 5 g", "minimum", [0], [1.0], -0.04, 0.0, INF, "g", 125.0),
        ("plums locked at 20 g", "lock", [2], [1.0], -0.1, 0.0, 0.0, "g", 200.0),
        ("plums per sugar at least 0.1 g/g", "ratio", [2, 1], [1.0, -0.05], 0.0, 0.0, INF,
         "g/g", 2.0),
        ("plums per sugar at most 0.5 g/g", "ratio", [2, 1], [1.0, -0.25], 0.0, -INF, 0.0,
         "g/g", 2.0),
        ("water per sugar exactly 0.4 g/g", "ratio", [0, 1], [1.0, -0.32], 0.0, 0.0, 0.0,
         "g/g", 1.25),
        ("water per plums at most 3 g/g", "ratio", [0, 2], [1.0, -4.8], 0.0, -INF, 0.0,
         "g/g", 0.625),
    ]  # fmt: skip


def test_a_ratio_without_an_upper_end() -> None:
    problem = Problem((Use(SUGAR), Use(WATER)), yield_g=100.0, ratios=(Ratio(0, 1, 0.1, INF),))
    assert [r.label for r in _of(problem)] == ["sugar per water at least 0.1 g/g"]


def test_a_pot_holds_what_is_in_it() -> None:
    """What is in the pot cannot leave; a maximum below it moves up to it, a lock binds nothing."""
    problem = Problem(
        (Use(SUGAR, min_g=5.0, max_g=8.0), Use(WATER, min_g=95.0), Use(PLUM, locked_g=9.0)),
        pot=Pot((10.0, 90.0, 0.0), 0.5),
    )
    assert [_row(r) for r in _of(problem)] == [
        ("water at least 95 g", "minimum", [0], [1.0], -0.95, 0.0, INF, "g", 100.0),
        ("sugar in the pot 10 g", "pot", [1], [1.0], -0.1, 0.0, INF, "g", 100.0),
        ("sugar at most 10 g", "maximum", [1], [1.0], -0.1, -INF, 0.0, "g", 100.0),
    ]


def test_a_minimum_that_is_in_the_pot_is_told_as_the_pot() -> None:
    problem = Problem((Use(SUGAR, min_g=10.0), Use(WATER)), pot=Pot((10.0, 90.0), 0.5))
    assert [r.label for r in _of(problem)] == ["water in the pot 90 g", "sugar in the pot 10 g"]


def test_limits_count_what_leaves_with_the_water() -> None:
    """A weight on water counts the water that is left; a charge may leave with it besides."""
    limit = Limit("thing", "u", {"water": 0.5, "sucrose": 2.0}, 1.0, 90.0, (7.0, 3.0), 11.0)
    problem = Problem((Use(SUGAR), Use(WATER)), yield_g=80.0, water_lost_g=20.0, limits=(limit,))
    found = _of(problem)[-1]
    # water: 0.5 * 100 + 3, sugar: 2 * 100 + 7; of the lost 0.25: 0.5 * 100 + 11
    assert _row(found) == (
        "thing", "limit", [0, 1], [53.0, 207.0], -15.25, 1.0, 90.0, "u", 1.0
    )  # fmt: skip
    plain = Limit("plain", "g", {"sucrose": 1.0}, high=9.0)
    problem = Problem((Use(SUGAR), Use(WATER)), yield_g=80.0, water_lost_g=20.0, limits=(plain,))
    found = _of(problem)[-1]
    assert _row(found) == ("plain", "limit", [0, 1], [0.0, 100.0], 0.0, -INF, 9.0, "g", 1.0)


def test_aims_come_in_the_order_of_the_axes() -> None:
    """JND of sweet at 20: 0.4 + 0.17 * 20 = 3.8, a quarter of it on both sides."""
    aims = (Aim("fat", 1.0, 2.0), Aim("sweet", 20.0, 20.0))
    found = _of(Problem((Use(SUGAR), Use(WATER)), aims, yield_g=100.0, dead_band_jnd=0.25))
    assert [_row(r) for r in found] == [
        ("sweet 20 g sucrose eq. per 100 g", "aim", [0, 1], [0.0, 100.0], 0.0, 19.05, 20.95,
         "g sucrose eq. per 100 g", 1.0),
        ("fat 1 to 2 g per 100 g", "aim", [0, 1], [0.0, 0.0], 0.0, 1.0, 2.0, "g per 100 g", 1.0),
    ]  # fmt: skip
    assert [r.aim for r in found] == [aims[1], aims[0]]
    assert aim_ends(Aim("fat", 1.0, 2.0), 0.25) == pytest.approx((1.0, 2.0, 0.7, 0.9))


def test_what_a_requirement_says_of_itself() -> None:
    one = np.array([0]), np.ones(1)
    for kind in ("minimum", "maximum", "lock", "share", "pot"):
        assert Requirement("x", kind, *one, 0.0, 0.0, INF, "g", 1.0).is_bound
    for kind in ("loss", "ratio", "limit", "aim"):
        assert not Requirement("x", kind, *one, 0.0, 0.0, INF, "g", 1.0).is_bound
    for unit, readable in (("g", True), (PH_UNIT, False), (RATIO_UNIT, False)):
        assert Requirement("x", "limit", *one, 0.0, 0.0, 1.0, unit, 1.0).is_readable is readable
    assert Requirement("x", "limit", *one, 0.0, -INF, 2.0, "g", 1.0).ends == [2.0]
    assert Requirement("x", "limit", *one, 0.0, 1.0, INF, "g", 1.0).ends == [1.0]
    assert Requirement("x", "limit", *one, 0.0, 1.0, 2.0, "g", 1.0).ends == [1.0, 2.0]
    assert Requirement("x", "limit", *one, 0.0, 1.0, 2.0, "g", 1.0).aim is None


def test_reference_mass() -> None:
    """A pot: what is in it less what left. A volume: usual shares 0.3 and 0.1 at their density."""
    both = (Use(SUGAR), Use(WATER))
    composition = matrix([WATER, SUGAR])
    assert reference_mass(Problem(both, yield_g=70.0), composition) == 70.0
    pot = Problem(both, pot=Pot((10.0, 90.0), 0.5), water_lost_g=15.0)
    assert reference_mass(pot, composition) == 85.0
    ml_per_g = (0.3 / 0.9957 + 0.1 / 1.5929) / 0.4
    volume = Problem(both, yield_ml=250.0)
    assert reference_mass(volume, composition) == pytest.approx(250.0 / ml_per_g, rel=1e-9)
    # a food without a usual share counts as a hundredth
    with_plum = Problem((Use(PLUM), Use(WATER)), yield_ml=250.0)
    plum = 90 / 0.9957 + 10 / 1.5929
    ml_per_g = (0.3 * 100 / 0.9957 + 0.01 * plum) / 0.31 / 100
    found = reference_mass(with_plum, matrix([WATER, PLUM]))
    assert found == pytest.approx(250.0 / ml_per_g, rel=1e-9)
    assert PLUM.values[INDEX["water"]] == 90.0


def test_drafts_where_nothing_is_left_or_nothing_is_usual() -> None:
    """Locks that fill the batch leave the usual shares as they are; locks go before drafts."""
    full = Problem((Use(SUGAR, draft_g=100.0), Use(WATER)), yield_g=100.0)
    np.testing.assert_allclose(draft_shares(full, ordered(full), 100.0), [0.3, 1.0])
    lost = Problem((Use(SUGAR, draft_g=130.0), Use(WATER)), yield_g=80.0, water_lost_g=20.0)
    np.testing.assert_allclose(draft_shares(lost, ordered(lost), 80.0), [0.375, 1.625])
    plums = Problem((Use(PLUM), Use(SUGAR, draft_g=40.0)), yield_g=100.0)
    np.testing.assert_allclose(draft_shares(plums, ordered(plums), 100.0), [0.4, 0.0])
    both = Problem((Use(SUGAR, draft_g=40.0, locked_g=20.0), Use(WATER)), yield_g=100.0)
    np.testing.assert_allclose(draft_shares(both, ordered(both), 100.0), [0.8, 0.2])
