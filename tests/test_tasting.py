"""A cook's sentences as steps, and steps as levels."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from rapidfuzz.distance import OSA

from balancer.cli import main
from balancer.constants import AXES, AXIS_NAMES
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.kitchen_words import AXIS_WORDS, COMPARATIVES, meaning, nearest
from balancer.taste import from_z, jnd, to_z
from balancer.tasting import LONGEST_WORDS, nudged, steps_from_words, understood


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
        ("watery", {"body": 2}),
        ("it is runny", {"body": 2}),
        ("a bit thin", {"body": 1}),
        ("the body is thin", {"body": 2}),
        ("thin is right", {"body": 0}),
        ("it burns", {"heat": -2}),
        ("slightly burning", {"heat": -1}),
        ("it burns too much", {"heat": -2}),
        ("too mild", {"heat": 2}),
        ("too much vinegar", {"sour": -2}),
        ("far too much vinegar, too much sugar", {"sour": -4, "sweet": -2}),
        ("a bit too much salt", {"salt": -1}),
        ("the salt is spot on", {"salt": 0}),
        ("too sharp, the rest is right", {"sour": -2}),
        ("perfect but too salty", {"salt": -2}),
    ],
)  # fmt: skip
def test_sentences(words: str, steps: dict[str, float]) -> None:
    assert steps_from_words(words) == steps


#: Words of the kitchen for each axis, by their sense in a dictionary; common practice, no source.
WORDS = {
    "sweet": "sweet sugary sweetness sugar",
    "sour": "sour sharp tart acid acidic tangy sourness acidity vinegar vinegary",
    "salt": "salt salty saltiness",
    "volatile": "volatile aromatic aroma spiced spice fragrant perfumed",
    "umami": "umami savoury savory meaty",
    "heat": "hot heat spicy fiery burn burns burning",
    "body": "body thick thickness",
    "fat": "fat fatty oily rich greasy oil",
}
#: A form on -er is English grammar of the word before it.
MORE = {
    "sweet": "sweeter",
    "sour": "sourer sharper tarter tangier",
    "salt": "saltier",
    "umami": "meatier savourier",
    "heat": "hotter spicier",
    "body": "thicker",
    "fat": "richer fattier oilier greasier",
}


def test_every_word_turns_its_axis() -> None:
    for axis, words in WORDS.items():
        for word in words.split():
            assert steps_from_words(f"more {word}") == {axis: 2}, word
            assert steps_from_words(f"less {word}") == {axis: -2}, word
    for word in ["thin", "watery", "runny"]:
        assert steps_from_words(f"too {word}") == {"body": 2}, word
    for axis, words in MORE.items():
        for word in words.split():
            assert steps_from_words(word) == {axis: 2}, word
    for word in ("thinner", "runnier"):
        assert steps_from_words(word) == {"body": -2}, word


def test_words_of_degree_and_of_content() -> None:
    """A small word halves the usual two steps, a large one doubles it."""
    for small in ("a touch", "slightly", "a little", "a bit", "a tad", "a hair", "barely"):
        assert steps_from_words(f"{small} too sour") == {"sour": -1}, small
    for large in ("much", "a lot", "lots", "far", "way", "very much"):
        assert steps_from_words(f"{large} more salt") == {"salt": 4}, large
    for fine in ("right", "fine", "good", "perfect", "the same"):
        assert steps_from_words(f"the salt is {fine}") == {"salt": 0}, fine
    assert steps_from_words("keep the salt") == {"salt": 0}
    for lack in ("lacks", "lacking", "no", "needs", "missing", "wants", "add"):
        assert steps_from_words(f"{lack} salt") == {"salt": 2}, lack
    for who in ("I", "we", "it", "you", "they"):
        assert steps_from_words(f"sweeter than {who} should") == {"sweet": -2}, who
    for want in ("wanted", "needed"):
        assert steps_from_words(f"saltier than {want}") == {"salt": -2}, want
    assert steps_from_words("isn't salty enough") == {"salt": 2}
    assert steps_from_words("isn\u2019t salty enough") == {"salt": 2}
    assert steps_from_words("too few spice") == {"volatile": 2}
    assert steps_from_words("sweeter and saltier but less sour") == {
        "sweet": 2,
        "salt": 2,
        "sour": -2,
    }


def test_a_long_clause_is_shown_by_its_first_sixty_letters() -> None:
    with pytest.raises(BadInput) as caught:
        steps_from_words("y" * 61)
    assert f"'{'y' * 60}'" in str(caught.value)


def test_a_note_may_be_as_long_as_it_says() -> None:
    longest = "less sour".ljust(LONGEST_WORDS)
    assert len(longest) == 2000
    assert steps_from_words(longest) == {"sour": -2}
    with pytest.raises(BadInput, match="2001 letters"):
        steps_from_words(longest + " ")


@pytest.mark.parametrize(
    ("words", "parts"),
    [
        ("", ["empty", "Say"]),
        ("  ,; ", ["empty", "Say"]),
        ("more blue", ["'more blue'", "Use words"]),
        ("salty", ["'salty'", "which way", "'too salty'"]),
        ("bland", ["'bland'", "salt, acid or aroma", "'more acid'"]),
        ("too flat", ["'too flat'", "salt, acid or aroma"]),
        ("yuck", ["'yuck'", "'too salty'"]),
        ("zu sauer", ["'zu sauer'", "'sauer' taken for 'sour'", "'too sour'"]),
        ("thinker", ["'thinker'", "Use words"]),
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


@pytest.mark.parametrize(
    ("words", "ways"),
    [
        ("not too salty", ["less salty"]),
        ("it isn't too salty", ["less salty"]),
        ("isnt too salty", ["less salty"]),
        ("not too little salt", ["more salt"]),
        ("not watery", ["more watery", "less watery"]),
        ("doesn't need salt", ["more salt", "less salt"]),
        ("the salt is not right", ["more salt", "less salt"]),
        ("no need for salt", ["more salt", "less salt"]),
        ("needs no sugar", ["more sugar", "less sugar"]),
        ("no sweeter please", ["more sweet", "less sweet"]),
    ],
)
def test_a_denial_that_may_praise_or_wish_is_asked_back(words: str, ways: list[str]) -> None:
    """Each answer that the question offers is understood."""
    with pytest.raises(BadInput, match="can be meant in two ways") as caught:
        steps_from_words(words)
    word = ways[0].split()[1]
    for answer in (f"{word} is right", *ways):
        assert f"'{answer}'" in str(caught.value)
        assert len(steps_from_words(answer)) == 1
    assert sum(str(caught.value).count(f"'{way} ") for way in ("more", "less")) == len(ways)
    assert steps_from_words(f"{word} is right").popitem()[1] == 0


def test_no_slip_is_guessed_beside_a_word_that_names_no_axis() -> None:
    with pytest.raises(BadInput, match="Say which is missing"):
        steps_from_words("bland solt")


@pytest.mark.parametrize(
    "words",
    ["perfect", "Spot on!", "spot-on", "it's perfect", "all good", "just right", "it is all right",
     "the rest is perfect", "otherwise fine", "everything is fine"],
)  # fmt: skip
def test_all_may_be_right(words: str) -> None:
    found = understood(words)
    assert (dict(found.steps), found.rest_right) == ({}, True)
    assert steps_from_words(words) == dict.fromkeys(AXIS_NAMES, 0)


@pytest.mark.parametrize("words", ["not perfect", "nearly perfect", "imperfect"])
def test_nearly_right_is_not_right(words: str) -> None:
    with pytest.raises(BadInput, match="names nothing"):
        understood(words)


@pytest.mark.parametrize(
    ("words", "steps", "taken"),
    [
        ("too sower", {"sour": -2}, {"sower": "sour"}),
        ("less slaty, sweter", {"salt": -2, "sweet": 2}, {"slaty": "salty", "sweter": "sweeter"}),
        ("waterry", {"body": 2}, {"waterry": "watery"}),
        ("thiner", {"body": -2}, {"thiner": "thinner"}),
        ("thiker", {"body": 2}, {"thiker": "thicker"}),
        ("too vinagary", {"sour": -2}, {"vinagary": "vinegary"}),
        ("more umani", {"umami": 2}, {"umani": "umami"}),
        ("too sour", {"sour": -2}, {}),
    ],
)
def test_a_slip_of_the_pen_is_read_and_said_back(
    words: str, steps: dict[str, float], taken: dict[str, str]
) -> None:
    found = understood(words)
    assert (dict(found.steps), dict(found.taken)) == (steps, taken)


def test_the_command_line_says_a_guess_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "home"))
    request = tmp_path / "plum.json"
    request.write_text(json.dumps(house_sauces()["plum-ginger-dip"]), encoding="utf-8")

    def said(*arguments: str) -> str:
        result = CliRunner().invoke(main, [*arguments])
        assert result.exit_code == 0, result.output
        return next((n for n in result.output.splitlines() if n.startswith("Understood")), "")

    said("solve", str(request), "--save", "dip")
    told = said("nudge", "dip", "a touch less sower")
    assert told == "Understood: sour -1 JND ('sower' was taken for 'sour')."
    assert said("nudge", "dip", "a touch less sour") == "Understood: sour -1 JND."
    assert "'sower' was taken for 'sour'" in said("taste", "dip", "too sower")


@pytest.mark.parametrize("slip", ["thinker", "thik", "thier"])
def test_no_guess_between_two_meanings(slip: str) -> None:
    """The word "thik" lies one letter from "thick" and one from "thin"."""
    near = {meaning(w) for w in (*AXIS_WORDS, *COMPARATIVES) if OSA.distance(slip, w) <= 2}
    assert len(near) > 1
    assert nearest(slip) is None


def test_one_wrong_letter_never_turns_a_word_into_another_meaning() -> None:
    """Every word of an axis, each letter of it left out, doubled, or swapped with the next."""
    for word in (*AXIS_WORDS, *COMPARATIVES):
        for i in range(len(word)):
            swapped = word[:i] + word[i + 1 : i + 2] + word[i] + word[i + 2 :]
            for slip in (word[:i] + word[i + 1 :], word[: i + 1] + word[i:], swapped):
                guess = nearest(slip)
                assert guess is None or meaning(guess) == meaning(word), (word, slip, guess)


def test_words_of_the_guide_are_no_slips() -> None:
    """Of the prose of the README three words are guessed at; "sugr" is its example of a slip."""
    guide = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8").casefold()
    known = {*AXIS_WORDS, *COMPARATIVES}
    words = set(re.findall(r"[a-z]+", guide)) - known
    guesses = {word: guess for word in words if (guess := nearest(word)) is not None}
    assert guesses.items() <= {"acids": "acid", "savour": "savoury", "sugr": "sugar"}.items()
    assert len(words) > 500


LEVELS = np.array([18.0, 1.1, 1.4, 12.0, 80.0, 40.0, 1.5, 3.0])


def test_fifty_steps_are_the_most() -> None:
    """z moves by 50; from nothing that is the level f (exp(50 k) - 1) / k of the axis."""
    sour = AXIS_NAMES.index("sour")
    assert nudged(np.zeros(len(AXES)), {"sour": 50.0})[sour] == pytest.approx(
        0.02 * math.expm1(50 * 0.18) / 0.18, rel=1e-9
    )
    assert nudged(LEVELS, {"sour": -50.0})[sour] == 0.0
    for step in (50.5, -50.5):
        with pytest.raises(BadInput, match="from -50 to 50"):
            nudged(LEVELS, {"sour": step})


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
