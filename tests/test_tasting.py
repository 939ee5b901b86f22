"""A cook's sentences as steps, and steps as levels."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.constants import AXES, AXIS_NAMES
from balancer.errors import BadInput
from balancer.taste import from_z, jnd, to_z
from balancer.tasting import LONGEST_WORDS, nudged, steps_from_words


@pytest.mark.parametrize(
    ("words", "steps"),
    [
        ("less sour, a touch sweeter", {"sour": -2, "sweet": 1}),
        ("sharper than I want, a little sweeter, and it lacks body",
         {"sour": -2, "sweet": 1, "body": 2}),
        ("too sharp", {"sour": -2}),
        ("a little too salty", {"salt": -1}),
        ("slightly too sweet", {"sweet": -1}),
        ("much too hot", {"heat": -4}),
        ("far too sour; salt is right", {"sour": -4, "salt": 0}),
        ("too little salt", {"salt": 2}),
        ("not enough salt", {"salt": 2}),
        ("not sweet enough", {"sweet": 2}),
        ("sweet enough", {"sweet": 0}),
        ("needs more acid", {"sour": 2}),
        ("needs a bit more salt", {"salt": 1}),
        ("a lot more umami", {"umami": 4}),
        ("too thin", {"body": 2}),
        ("thinner", {"body": -2}),
        ("less thick but more oil", {"body": -2, "fat": 2}),
        ("thicker than it should be", {"body": -2}),
        ("no more salt", {"salt": 0}),
        ("milder", {"heat": -2}),
        ("not so sweet.", {"sweet": -2}),
        ("not as hot", {"heat": -2}),
        ("Sweeter\nSALTIER", {"sweet": 2, "salt": 2}),
        ("the fat is fine", {"fat": 0}),
    ],
)  # fmt: skip
def test_sentences(words: str, steps: dict[str, float]) -> None:
    assert steps_from_words(words) == steps


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        ("", ["empty", "Say"]),
        ("  ,; ", ["empty", "Say"]),
        ("more blue", ["'more blue'", "Use words"]),
        ("salty", ["'salty'", "which way"]),
        ("sweeter, less sweet", ["sweet twice", "Say once"]),
        ("x" * (LONGEST_WORDS + 1), [str(LONGEST_WORDS + 1), "at most"]),
        ("<b>'; drop table; --", ["Use words"]),
    ],
)
def test_words_that_cannot_be_read(words: str, parts: list[str]) -> None:
    with pytest.raises(BadInput) as caught:
        steps_from_words(words)
    for part in parts:
        assert part in str(caught.value)
    assert len(str(caught.value)) < 300


LEVELS = np.array([18.0, 1.1, 1.4, 12.0, 80.0, 40.0, 1.5, 3.0])


def test_axes_not_named_stay() -> None:
    new = nudged(LEVELS, {"sour": -2.0})
    changed = [n for n, a, b in zip(AXIS_NAMES, LEVELS, new, strict=True) if a != b]
    assert changed == ["sour"]


@given(
    step=st.floats(-50, 50, allow_nan=False),
    axis=st.sampled_from(AXIS_NAMES),
    scale=st.floats(0.0, 5.0),
)
@settings(max_examples=100, deadline=None)
def test_no_step_goes_below_nothing_and_each_is_one_unit(
    step: float, axis: str, scale: float
) -> None:
    levels = LEVELS * scale
    j = AXIS_NAMES.index(axis)
    new = float(nudged(levels, {axis: step})[j])
    assert new >= 0
    asked = float(to_z(levels[j], axis)) + step
    if asked > 0:
        assert float(to_z(new, axis)) == pytest.approx(asked, abs=1e-6)
    else:
        assert new == 0.0 or step == 0.0


@pytest.mark.parametrize("axis", AXES, ids=lambda a: a.name)
def test_one_small_step_is_one_jnd(axis: object) -> None:
    """dL/dz is the just-noticeable difference: a hundredth of a step moves a hundredth of it."""
    name = axis.name  # type: ignore[attr-defined]
    for level in (0.0, 0.5, 7.0, 60.0):
        moved = float(from_z(to_z(level, name) + 0.01, name)) - level
        assert moved == pytest.approx(0.01 * float(jnd(level, name)), rel=2e-3)


def test_there_and_back() -> None:
    down = nudged(LEVELS, {"sweet": -2.0, "salt": 1.0})
    np.testing.assert_allclose(nudged(down, {"sweet": 2.0, "salt": -1.0}), LEVELS, rtol=1e-12)


@pytest.mark.parametrize(
    ("steps", "parts"),
    [
        ({"bitter": 1.0}, ["'bitter'", "Use one of"]),
        ({"sweet": math.nan}, ["sweet", "nan JND", "Give one"]),
        ({"sweet": math.inf}, ["sweet", "inf JND", "Give one"]),
        ({"sweet": 1e12}, ["sweet", "1e+12 JND", "Give one"]),
    ],
)
def test_steps_that_cannot_be_taken(steps: dict[str, float], parts: list[str]) -> None:
    with pytest.raises(BadInput) as caught:
        nudged(LEVELS, steps)
    for part in parts:
        assert part in str(caught.value)
