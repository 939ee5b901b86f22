"""Perceived intensity and back: round trips, limits, words."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from balancer.constants import AXES, AXIS_NAMES
from balancer.errors import BadInput
from balancer.intensity import (
    intensity_of,
    level_of_perceived,
    level_of_unmixed,
    perceived,
    suppressed,
    unmixed_intensity,
    word_of,
)
from balancer.kitchen_constants import MAGNITUDE_WORDS, POWER_LAWS

SWEET, SOUR = AXIS_NAMES.index("sweet"), AXIS_NAMES.index("sour")
INTENSITIES = arrays(float, len(AXES), elements=st.floats(0.0, 100.0))


@given(INTENSITIES)
def test_unmixed_round_trip(psi: np.ndarray) -> None:
    assert unmixed_intensity(level_of_unmixed(psi)) == pytest.approx(psi, rel=1e-9, abs=1e-12)


@settings(deadline=None)
@given(INTENSITIES, st.booleans())
def test_mixture_round_trip(psi: np.ndarray, equal: bool) -> None:
    """From intensity to level and back to 1e-9, with suppression of either kind."""
    level = level_of_perceived(psi, equal=equal)
    assert perceived(level, equal=equal) == pytest.approx(psi, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("equal", [True, False])
def test_level_round_trip(equal: bool) -> None:
    """From level to intensity and back to 1e-9."""
    rng = np.random.default_rng(4)
    at_moderate = np.array([POWER_LAWS[a].at_moderate.value for a in AXIS_NAMES])
    for _ in range(50):
        level = at_moderate * rng.uniform(0.05, 8.0, len(AXES))
        found = level_of_perceived(perceived(level, equal=equal), equal=equal)
        assert found == pytest.approx(level, rel=1e-9)


def test_closed_form_where_all_hide_alike() -> None:
    """With equal hiding psi = sqrt(psi' sum psi'), worked by hand."""
    want = np.zeros(len(AXES))
    want[[SWEET, SOUR]] = 20.0, 5.0
    by_hand = np.sqrt(want * 25.0)
    assert unmixed_intensity(level_of_perceived(want, equal=True)) == pytest.approx(by_hand)


def test_some_axes_by_word_the_rest_by_level() -> None:
    want = np.full(len(AXES), np.nan)
    want[SOUR] = intensity_of("between moderate and strong")
    known = np.zeros(len(AXES))
    known[SWEET] = 15.0
    level = level_of_perceived(want, known)
    assert level[SWEET] == 15.0
    assert perceived(level)[SOUR] == pytest.approx(want[SOUR], rel=1e-9)
    assert level[SOUR] > level_of_perceived(want)[SOUR]  # sugar hides, so more acid is needed


@given(INTENSITIES)
def test_hiding_never_adds(psi: np.ndarray) -> None:
    assert (suppressed(psi) <= psi * (1 + 1e-12) + 1e-12).all()


def test_alone_nothing_is_hidden() -> None:
    for i in range(len(AXES)):
        psi = np.zeros(len(AXES))
        psi[i] = 30.0
        assert suppressed(psi) == pytest.approx(psi)


def test_words() -> None:
    for word, position in MAGNITUDE_WORDS.items():
        assert word_of(position.value) == word
        assert intensity_of(word.upper()) == pytest.approx(position.value)
    assert intensity_of("no sensation") == 0.0
    assert word_of(0.0) == "no sensation"
    assert word_of(1e6) == "strongest imaginable"


@pytest.mark.parametrize("words", ["spicy", "between weak", "between weak and odd", ""])
def test_words_of_no_scale(words: str) -> None:
    with pytest.raises(BadInput, match=r"is no intensity\. Use no sensation, barely detectable"):
        intensity_of(words)


@pytest.mark.parametrize("bad", [-1.0, np.inf])
def test_impossible_intensity(bad: float) -> None:
    with pytest.raises(BadInput, match=f"The intensity is {bad:g}"):
        level_of_perceived(np.full(len(AXES), bad))
