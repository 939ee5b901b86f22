"""Axes and just-noticeable steps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balancer.composition import INDEX, NAMES
from balancer.constants import AXES, AXIS, AXIS_NAMES
from balancer.errors import BadInput
from balancer.taste import FLOOR, WEBER, axis_matrix, families, from_z, jnd, levels, to_z


def test_axes_are_linear_and_in_order() -> None:
    weights = axis_matrix()
    assert weights.shape == (len(NAMES), len(AXES))
    for j, axis in enumerate(AXES):
        assert {NAMES[i]: weights[i, j] for i in np.flatnonzero(weights[:, j])} == dict(
            axis.weights
        )
    pots = np.random.default_rng(0).uniform(0, 5, (3, 4, len(NAMES)))
    assert levels(pots).shape == (3, 4, len(AXES))
    assert levels(pots[0, 0] + 2 * pots[0, 1]) == pytest.approx(
        levels(pots[0, 0]) + 2 * levels(pots[0, 1])
    )


def test_families_add_up_to_the_volatile_axis() -> None:
    pots = np.random.default_rng(1).uniform(0, 5, (6, len(NAMES)))
    total = np.sum(list(families(pots).values()), axis=0)
    assert total == pytest.approx(levels(pots)[:, AXIS_NAMES.index("volatile")])


def test_flour_and_salt_are_not_sour() -> None:
    """Carbohydrate that no table names is no acid."""
    flour = np.zeros(len(NAMES))
    flour[[INDEX["starch"], INDEX["other_carbohydrate"], INDEX["sodium"]]] = 70.0, 6.0, 2.0
    assert levels(flour)[AXIS_NAMES.index("sour")] == 0.0


@given(st.sampled_from(AXIS_NAMES), st.floats(0.0, 1000.0))
def test_steps_and_levels_round_trip(axis: str, level: float) -> None:
    assert float(from_z(to_z(level, axis), axis)) == pytest.approx(level, rel=1e-9, abs=1e-12)


@given(st.sampled_from(AXIS_NAMES), st.floats(0.0, 50.0))
def test_one_step_is_one_difference_everywhere(axis: str, level: float) -> None:
    """The slope of z is one over the just-noticeable difference."""
    width = 1e-5 * float(jnd(level, axis))
    slope = float(to_z(level + width, axis) - to_z(level, axis)) / width
    assert slope * float(jnd(level, axis)) == pytest.approx(1.0, rel=1e-3)


@given(st.sampled_from(AXIS_NAMES), st.floats(-20.0, 60.0))
def test_no_step_goes_below_nothing(axis: str, z: float) -> None:
    assert float(from_z(z, axis)) >= 0.0


def test_whole_rows_at_once() -> None:
    rows = np.random.default_rng(2).uniform(0, 20, (5, len(AXES)))
    assert from_z(to_z(rows)) == pytest.approx(rows)
    assert jnd(rows) == pytest.approx(FLOOR + WEBER * rows)
    some = (WEBER[:2], FLOOR[:2])
    assert to_z(rows[:, :2], some) == pytest.approx(to_z(rows)[:, :2])
    assert jnd(rows[:, 2], "salt") == pytest.approx(jnd(rows)[:, 2])
    assert AXIS["salt"].floor == FLOOR[AXIS_NAMES.index("salt")]


def test_a_fifth_more_is_about_a_step() -> None:
    """npj Sci Food 2022;6:33: Weber fractions near 0.2, so x 1.2 twice, x 1.44, is two steps."""
    for axis, level in (("sweet", 12.0), ("sour", 0.6), ("salt", 1.5)):
        step = float(to_z(1.2 * level, axis) - to_z(level, axis))
        assert step == pytest.approx(1.0, abs=0.2)
        two = float(to_z(1.44 * level, axis) - to_z(level, axis))
        assert two == pytest.approx(2.0, abs=0.4)


def test_unknown_axis() -> None:
    with pytest.raises(BadInput, match=r"No axis is called 'crunch'\. Use one of: sweet, sour"):
        jnd(1.0, "crunch")
