"""What is believed at one share of mixture suppression, against sums done by hand."""

import numpy as np
import pytest

from balancer.belief import Belief
from balancer.constants import AXIS_NAMES
from balancer.suppression import Case, View, gain_of

VOLATILE = AXIS_NAMES.index("volatile")
START = np.arange(8.0)


def by_hand() -> View:
    """Four cells of one JND around 9, 10, 11 and 12, two layers that count 0.7 and 0.3."""
    layers = np.array([[0.1, 0.4, 0.3, 0.2], [0.2, 0.2, 0.4, 0.2]])  # together 0.13 0.34 0.33 0.2
    belief = Belief(np.array([9.0, 10.0, 11.0, 12.0]), np.zeros(1), layers[:, :, None], np.zeros(2))
    free = np.arange(8) == VOLATILE
    case = Case(0.0, free, START, START[None], {"volatile": belief})
    return case.view(np.array([0.7, 0.3]))


def test_mean_and_spread_of_what_nothing_hides() -> None:
    view = by_hand()
    mean = 0.13 * 9 + 0.34 * 10 + 0.33 * 11 + 0.2 * 12
    variance = 0.13 * 81 + 0.34 * 100 + 0.33 * 121 + 0.2 * 144 - mean**2
    assert view.z[VOLATILE] == pytest.approx(mean)
    assert view.sd[VOLATILE] == pytest.approx(np.sqrt(variance))
    others = np.arange(8) != VOLATILE
    assert view.z[others].tolist() == START[others].tolist()
    assert view.sd[others].tolist() == [0.0] * 7


@pytest.mark.parametrize(
    ("at", "odds"),
    [
        (10.25, 0.25 * 0.13 + 0.34 + 0.75 * 0.33),  # from 9.25 to 11.25
        (8.0, 0.5 * 0.13),  # from 7 to 9
        (12.0, 0.5 * 0.33 + 0.2),  # from 11 to 13
        (20.0, 0.0),
        (0.0, 0.0),
    ],
)
def test_odds_are_the_belief_within_one_step(at: float, odds: float) -> None:
    assert by_hand().within(VOLATILE, at) == pytest.approx(odds)


def test_gain_is_the_mean_over_layers_and_ideals() -> None:
    p = np.array([[[0.1, 0.3], [0.2, 0.4]], [[0.5, 0.1], [0.3, 0.1]]])
    belief = Belief(np.array([1.0, 2.0]), np.array([-1.0, 1.0]), p, np.zeros(2))
    low = 0.75 * (0.1 + 0.2) + 0.25 * (0.5 + 0.3)
    mean, sd = gain_of(belief, np.array([0.75, 0.25]))
    assert mean == pytest.approx(1 - 2 * low)
    assert sd == pytest.approx(2 * np.sqrt(low * (1 - low)))
