"""Rounds of tasting and what is learned from them."""

import json
from collections.abc import Mapping
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from balancer.belief import Habit
from balancer.constants import AXES, AXIS_NAMES
from balancer.errors import BadInput
from balancer.intensity import suppressed
from balancer.judgement import (
    apparent,
    apparent_slopes,
    order_likelihood,
    steps_of_apparent,
    word_likelihood,
)
from balancer.just_about_right import Word, heard
from balancer.kitchen_constants import POWER_LAWS
from balancer.palate import Advice, Palate, Prior, learn
from balancer.rounds import First, Place, Round, SideBySide, Spoons
from balancer.suppression import expected_fall
from balancer.taste import FLOOR, WEBER, from_z, to_z

DRAFT = (12.0, 0.9, 1.2, 10.0, 40.0, 100.0, 2.0, 1.0)
SOUR = AXIS_NAMES.index("sour")


def sour(level: float) -> tuple[float, ...]:
    return (*DRAFT[:SOUR], level, *DRAFT[SOUR + 1 :])


def at(steps: float) -> tuple[float, ...]:
    """The draft with its sourness so many steps higher."""
    return sour(float(from_z(to_z(DRAFT[SOUR], "sour") + steps, "sour")))


def taught(*said: tuple[float, Word], **kwargs: Any) -> Palate:
    return learn([Round(at(z), {"sour": w}, **kwargs) for z, w in said], Prior(DRAFT))


# --- words --------------------------------------------------------------------------------------


@pytest.mark.parametrize("word", list(Word))
def test_the_target_goes_where_the_word_points(word: Word) -> None:
    target = taught((0.0, word)).target[SOUR]
    assert np.sign(round(target - DRAFT[SOUR], 9)) == np.sign(word.rank)


def test_a_stronger_word_goes_farther() -> None:
    targets = [taught((0.0, w)).target[SOUR] for w in Word]
    assert targets == sorted(targets)


def test_words_speak_of_the_sauce_as_made() -> None:
    """The same words at another level move the target with it."""
    low, high = taught((0.0, Word.RIGHT)), taught((2.0, Word.RIGHT))
    moved = high.ideal_z[SOUR] - low.ideal_z[SOUR]
    assert 1.0 < moved < 2.0  # between the first target and the batch that was right


def test_silence_is_no_evidence_but_the_rest_is_right_is() -> None:
    silent = learn([Round(at(2.0), {"sweet": Word.MORE})], Prior(DRAFT))
    assert silent.judged == ("sweet",)
    assert silent.target[SOUR] == pytest.approx(DRAFT[SOUR])
    assert np.isnan(silent.sd_jnd[SOUR])
    spoken = learn([Round(at(2.0), {"sweet": Word.MORE}, rest_right=True)], Prior(DRAFT))
    assert set(spoken.judged) == set(AXIS_NAMES)
    assert spoken.target[SOUR] > 1.1 * DRAFT[SOUR]


def test_named_right_counts_more_than_the_rest_is_right() -> None:
    named = learn([Round(DRAFT, {"sour": Word.RIGHT})], Prior(DRAFT))
    rest = learn([Round(DRAFT, {}, rest_right=True)], Prior(DRAFT))
    assert named.sd_jnd[SOUR] < rest.sd_jnd[SOUR]


def test_more_words_narrow_the_range_and_raise_the_odds() -> None:
    few = taught((0.0, Word.MORE))
    many = taught((0.0, Word.MORE), (3.0, Word.TOUCH_LESS), (2.2, Word.RIGHT), (2.2, Word.RIGHT))
    assert many.sd_jnd[SOUR] < 0.5 * few.sd_jnd[SOUR]
    assert many.odds[SOUR] > few.odds[SOUR]


def test_the_order_of_like_rounds_does_not_matter() -> None:
    said = [(0.0, Word.MORE), (3.0, Word.TOUCH_LESS), (1.5, Word.TOUCH_MORE)]
    assert taught(*said).ideal_z == pytest.approx(taught(*said[::-1]).ideal_z, abs=1e-9)


def test_contradiction_widens_and_is_said() -> None:
    clear = [(0.0, Word.TOUCH_MORE), (1.0, Word.RIGHT), (2.0, Word.TOUCH_LESS)]
    against = [*clear, (-1.0, Word.LESS), (3.0, Word.MORE)]
    plain, torn = taught(*clear), taught(*against)
    assert torn.sd_jnd[SOUR] > plain.sd_jnd[SOUR]
    assert not plain.remarks
    assert any("contradict" in r and "sour" in r for r in torn.remarks)
    assert torn.habit.scatter[1] > plain.habit.scatter[1]


def test_a_slip_is_named_and_hardly_counts() -> None:
    good = [(0.0, Word.MORE), (2.5, Word.RIGHT), (2.5, Word.RIGHT), (1.5, Word.TOUCH_MORE)]
    slipped = taught(*good, (2.5, Word.MUCH_LESS))
    assert any(r.startswith("Round 5 said 'much less' on sour") for r in slipped.remarks)
    assert abs(slipped.ideal_z[SOUR] - taught(*good).ideal_z[SOUR]) < 0.7


def test_an_ideal_of_none_stays_at_none() -> None:
    cold = (*DRAFT[:5], 0.0, *DRAFT[6:])
    palate = learn([Round(cold, {"heat": Word.RIGHT})], Prior(cold))
    assert palate.target[5] == pytest.approx(0.0, abs=1e-9)


def test_unlike_rounds_count_for_less_and_are_named() -> None:
    spoon = Round(at(0.0), {"sour": Word.RIGHT}, temperature_c=20)
    food = Round(at(2.0), {"sour": Word.RIGHT}, place=Place.FOOD, temperature_c=60)
    alike = Round(at(2.0), {"sour": Word.RIGHT}, temperature_c=25)
    unlike = learn([spoon, food], Prior(DRAFT))
    like = learn([spoon, alike], Prior(DRAFT))
    assert unlike.ideal_z[SOUR] > like.ideal_z[SOUR]  # the round on the food decides
    assert unlike.remarks == (
        "Round 1 was tasted from a spoon at 20 °C, the last one on the food at 60 °C: they are"
        " unlike, and round 1 counts for less.",
    )
    assert not like.remarks


def test_a_tired_tongue_tells_less() -> None:
    assert taught((0.0, Word.RIGHT), sample=6).sd_jnd[SOUR] > taught((0.0, Word.RIGHT)).sd_jnd[SOUR]


def test_the_gain_is_learned_and_carried_to_the_next_sauce() -> None:
    """A cook who says much where another says a touch."""
    loud = taught((0.0, Word.MUCH_MORE), (2.0, Word.RIGHT), (3.0, Word.LESS), (1.0, Word.MORE))
    mean, sd = loud.habit.gain("sour")
    assert mean > 0.2
    assert sd < Habit().gain("sour")[1]
    carried = loud.habit.carried()
    assert sd < carried.gain("sour")[1] <= Habit().gain("sour")[1]
    first = Round(DRAFT, {"sour": Word.MORE})
    knowing = learn([first], Prior(DRAFT, habit=carried))
    fresh = learn([first], Prior(DRAFT))
    assert knowing.ideal_z[SOUR] < fresh.ideal_z[SOUR]
    assert knowing.sd_jnd[SOUR] < fresh.sd_jnd[SOUR]


def test_advice_and_sentences() -> None:
    assert taught((0.0, Word.MORE)).advice is Advice.TASTE
    settled = taught(
        (0.0, Word.MORE), (3.0, Word.TOUCH_LESS), (2.0, Word.RIGHT), (2.0, Word.RIGHT),
        (2.0, Word.RIGHT), (2.0, Word.RIGHT),
    )  # fmt: skip
    assert settled.advice is Advice.DONE
    assert settled.sentences()[0].startswith("You are within 1 JND on sour with 9")
    assert settled.odds_made[SOUR] >= 0.9
    off = taught(
        (0.0, Word.MORE), (3.0, Word.TOUCH_LESS), (2.0, Word.RIGHT), (2.0, Word.RIGHT),
        (2.0, Word.RIGHT), (0.0, Word.MORE),
    )  # fmt: skip
    assert off.advice is Advice.MAKE  # the last batch was not right, but the target is known


def built(axes: tuple[str, ...], made: list[float], odds: list[float], fall: float) -> Palate:
    """A palate whose odds are given, on some axes."""

    def on(values: list[float]) -> np.ndarray:
        out = np.full(len(AXES), np.nan)
        out[[AXIS_NAMES.index(a) for a in axes]] = values
        return out

    z = to_z(np.array(DRAFT))
    falls = on([fall] * len(axes))
    return Palate(axes, z, on([1.0] * len(axes)), on(odds), on(made), falls, Habit(), (), 1.0, {})


def test_the_advice_asks_every_axis() -> None:
    """Stop at odds of nine in ten on every axis; taste while one axis is open and can be told."""
    two = ("sweet", "sour")
    assert built(two, [0.95, 0.90], [0.5, 0.5], 1.0).advice is Advice.DONE
    assert built(two, [0.95, 0.89], [0.95, 0.90], 1.0).advice is Advice.MAKE
    assert built(two, [0.95, 0.89], [0.95, 0.89], 1.0).advice is Advice.TASTE
    assert built(two, [0.95, 0.89], [0.95, 0.89], 0.04).advice is Advice.MAKE
    assert built(two, [0.95, 0.89], [0.95, 0.89], 0.06).advice is Advice.TASTE


def test_the_odds_are_said_in_per_cent() -> None:
    assert built(("sweet", "sour"), [0.934, 0.25], [0.5, 0.95], 1.0).sentences()[:2] == (
        "You are within 1 JND on sweet with 93 % odds; the next target would be with 50 %.",
        "You are within 1 JND on sour with 25 % odds; the next target would be with 95 %.",
    )


def test_contradictions_name_the_rounds_and_levels() -> None:
    """More was asked for in rounds 2 and 4, less in 1 and 3; 4 has the most acid, 3 the least."""
    said = [(1.0, Word.LESS), (2.0, Word.MORE), (0.0, Word.LESS), (3.0, Word.MORE)]
    (remark,) = [r for r in taught(*said).remarks if "contradict" in r]
    assert remark == (
        "The words on sour contradict each other: round 4 asked for more at"
        f" {at(3.0)[SOUR]:.3g} g citric eq. per 100 g, round 3 for less at {DRAFT[SOUR]:.3g}. Both"
        " are kept, and the range is the wider."
    )


@pytest.mark.parametrize(
    "said",
    [
        [(0.0, Word.MORE), (3.0, Word.LESS)],  # nothing is odd about these
        [(3.0, Word.RIGHT), (0.0, Word.RIGHT)],
        [(3.0, Word.MORE), (0.0, Word.RIGHT)],
        [(3.0, Word.RIGHT), (0.0, Word.LESS)],
        [(3.0, Word.MORE), (0.0, Word.MORE)],
        [(0.5, Word.TOUCH_MORE), (0.0, Word.TOUCH_LESS)],  # nearer than a judgement scatters
    ],
)
def test_what_does_not_contradict(said: list[tuple[float, Word]]) -> None:
    assert not [r for r in taught(*said).remarks if "contradict" in r]


def test_every_unlike_round_is_named_and_only_what_is_known_of_it() -> None:
    """A step to the food is enough; temperatures that were not taken are not spoken of."""
    spoon, food = (Round(DRAFT, {"sour": Word.RIGHT}, place=p) for p in (Place.SPOON, Place.FOOD))
    assert learn([food, spoon, spoon, food], Prior(DRAFT)).remarks == tuple(
        f"Round {i} was tasted from a spoon, the last one on the food: they are unlike, and round"
        f" {i} counts for less."
        for i in (2, 3)
    )


def test_shares_of_suppression_are_averaged_by_the_law_of_total_variance() -> None:
    said = [
        Round(DRAFT, {"sweet": Word.RIGHT, "sour": Word.LESS}),
        Round(at(-3.0), {"sweet": Word.TOUCH_LESS, "sour": Word.RIGHT}),
    ]

    def usual(*hiding: float) -> Palate:
        return learn(said, Prior(DRAFT, habit=Habit(hiding=hiding, scatter=(1.0, 0.0))))

    plain, hidden, both = usual(1.0, 0.0, 0.0), usual(0.0, 0.0, 1.0), usual(0.4, 0.0, 0.6)
    one, none, other = both.habit.hiding
    assert none < 1e-200
    mean = one * plain.ideal_z + other * hidden.ideal_z
    assert both.ideal_z == pytest.approx(mean)
    within = one * plain.sd_jnd**2 + other * hidden.sd_jnd**2
    between = one * (plain.ideal_z - mean) ** 2 + other * (hidden.ideal_z - mean) ** 2
    judged = [AXIS_NAMES.index(a) for a in both.judged]
    assert between[judged].min() > 0.005
    assert both.sd_jnd[judged] == pytest.approx(np.sqrt(within + between)[judged])
    assert both.share == (0.0 if one > other else 1.0)
    assert (plain.share, hidden.share) == (0.0, 1.0)
    for belief in both.beliefs.values():
        assert belief.p.sum() == pytest.approx(1.0)


def test_under_none_the_target_is_none() -> None:
    """Less chilli where there is none: the batch as made is the target, odds and all."""
    cold = (*DRAFT[:5], 0.0, *DRAFT[6:])
    palate = learn([Round(cold, {"heat": Word.TOUCH_LESS})], Prior(cold))
    assert palate.ideal_z[5] < 0.0
    assert palate.odds[5] == palate.odds_made[5]
    seen = float(apparent(to_z(cold), palate.share)[5])
    at_none = expected_fall(palate.beliefs["heat"], np.ones(2), seen)
    assert palate.fall[5] == pytest.approx(at_none)


def test_a_prior_keeps_plain_numbers_within_their_ends() -> None:
    assert Prior(tuple(np.array(DRAFT))) == Prior(DRAFT)
    assert [type(v) for v in Prior(tuple(np.array(DRAFT))).levels] == [float] * len(AXES)
    for level in (-0.1, float("inf"), float("nan")):
        with pytest.raises(BadInput, match="The first target has the levels"):
            Prior(sour(level))
    for spread in (0.5, 20.0):
        assert Prior(DRAFT, spread_jnd=spread).spread_jnd == spread
    for spread in (-1.0, 20.5, float("nan")):
        with pytest.raises(BadInput, match=r"JND off\. Give more than 0, up to 20"):
            Prior(DRAFT, spread_jnd=spread)


def test_sentences_are_read_as_words() -> None:
    assert heard("much less salt, a touch sweeter; body is right") == (
        {"salt": Word.MUCH_LESS, "sweet": Word.TOUCH_MORE, "body": Word.RIGHT},
        False,
    )
    assert heard("sharper and the rest is fine") == ({"sour": Word.MORE}, True)
    assert heard("the rest is right") == ({}, True)


# --- mixing -------------------------------------------------------------------------------------

STEPS = arrays(float, len(AXES), elements=st.floats(0.0, 20.0))


@given(STEPS, st.sampled_from([0.3, 1.0, 1.5]))
@settings(max_examples=50, deadline=None)
def test_apparent_steps_can_be_turned_back(z: np.ndarray, share: float) -> None:
    free = np.ones(len(z), dtype=bool)
    found = steps_of_apparent(apparent(z, share), np.full(len(z), 5.0), free, share)
    assert found == pytest.approx(z, abs=1e-6)


@given(STEPS)
@settings(max_examples=30, deadline=None)
def test_slopes_agree_with_differences(z: np.ndarray) -> None:
    h = 1e-5
    columns = [(apparent(z + h * e) - apparent(z - h * e)) / (2 * h) for e in np.eye(len(z))]
    assert apparent_slopes(z) == pytest.approx(np.array(columns).T, abs=1e-6)


def test_apparent_steps_are_the_suppressed_intensities_counted_in_steps() -> None:
    """Same form as intensity.suppressed, which is checked against the published identities."""
    z = to_z(np.array(DRAFT))
    exponent = np.array([POWER_LAWS[a].exponent.value for a in AXIS_NAMES])
    moderate = np.array([POWER_LAWS[a].at_moderate.value for a in AXIS_NAMES])
    alone = ((np.array(DRAFT) + FLOOR / WEBER) / moderate) ** exponent
    lost = np.log(suppressed(alone) / alone) / (exponent * WEBER)
    assert apparent(z) - z == pytest.approx(lost, abs=1e-9)
    assert apparent(z, 0.0) == pytest.approx(z)


def test_suppression_is_read_out_of_words() -> None:
    """Called a touch too sweet after acid was taken out: the sugar is not all to blame."""
    said = [
        Round(DRAFT, {"sweet": Word.RIGHT, "sour": Word.LESS}),
        Round(at(-3.0), {"sweet": Word.TOUCH_LESS, "sour": Word.RIGHT}),
    ]
    hidden = learn(said, Prior(DRAFT, habit=Habit(hiding=(0.0, 0.0, 1.0))))
    plain = learn(said, Prior(DRAFT, habit=Habit(hiding=(1.0, 0.0, 0.0))))
    assert hidden.target[0] != pytest.approx(plain.target[0], rel=0.01)
    assert sum(learn(said, Prior(DRAFT)).habit.hiding) == pytest.approx(1.0)


# --- ratings ------------------------------------------------------------------------------------


def rated(reference: float, own: float, steps: float = 0.0, **kwargs: Any) -> Round:
    return Round(at(steps), ratings=SideBySide({"sour": reference}, {"sour": own}, **kwargs))


def test_a_reference_marked_higher_pulls_the_target_up() -> None:
    assert learn([rated(60, 40)], Prior(DRAFT)).target[SOUR] > DRAFT[SOUR]
    assert learn([rated(40, 60)], Prior(DRAFT)).target[SOUR] < DRAFT[SOUR]
    assert learn([rated(50, 50)], Prior(DRAFT)).target[SOUR] == pytest.approx(DRAFT[SOUR])


def test_differences_are_trusted_more_than_levels() -> None:
    """A drift of both marks together says nothing of where the reference lies in one round, and
    little over several."""
    one = learn([rated(60, 45)], Prior(DRAFT))
    shifted = learn([rated(80, 65)], Prior(DRAFT))
    assert shifted.ideal_z == pytest.approx(one.ideal_z, abs=1e-9)
    two = [rated(60, 45), rated(58, 55, 2.0)]
    drifted = [rated(60, 45), rated(73, 70, 2.0)]
    apart = [rated(60, 45), rated(73, 55, 2.0)]
    base = learn(two, Prior(DRAFT)).ideal_z[SOUR]
    moved = learn(drifted, Prior(DRAFT)).ideal_z[SOUR] - base
    parted = learn(apart, Prior(DRAFT)).ideal_z[SOUR] - base
    assert abs(moved) < 0.5 * abs(parted)


def test_turned_order_and_rinsing_tell_more() -> None:
    same = learn([rated(60, 50), rated(60, 50)], Prior(DRAFT))
    turned = learn([rated(60, 50), rated(60, 50, first=First.OWN)], Prior(DRAFT))
    smeared = learn([rated(60, 50, rinsed=False)] * 2, Prior(DRAFT))
    assert turned.sd_jnd[SOUR] < same.sd_jnd[SOUR] < smeared.sd_jnd[SOUR]


def test_marks_at_the_end_of_the_line_tell_less() -> None:
    assert (
        learn([rated(100, 90)], Prior(DRAFT)).sd_jnd[SOUR]
        > learn([rated(95, 85)], Prior(DRAFT)).sd_jnd[SOUR]
    )


# --- likelihoods --------------------------------------------------------------------------------


def test_nearest_and_ranking_against_simulation() -> None:
    """400,000 draws; a ranking is a chain of choices, within a tenth of the exact one."""
    rng = np.random.default_rng(2)
    for means in ([-1.5, -0.5, 0.5, 1.5], [0.3, 1.3, 2.3, 3.3], [-0.2, 1.0, 2.2]):
        mean = np.array(means)
        order = np.argsort(np.abs(mean + 0.8 * rng.normal(size=(400_000, len(mean)))), axis=1)
        for k in range(len(mean)):
            share = 0.97 * (order[:, 0] == k).mean() + 0.03 / len(mean)
            assert order_likelihood([k], mean[:, None], 0.8)[0] == pytest.approx(share, abs=0.005)
        share = (order == order[0]).all(axis=1).mean()
        found = order_likelihood(order[0].tolist(), mean[:, None], 0.8)[0]
        assert found == pytest.approx(share, rel=0.15)


def test_words_are_thresholds_and_symmetric() -> None:
    m = np.linspace(-6, 6, 7)
    for rank in range(4):
        up = word_likelihood([rank], m[None], [0.7])
        down = word_likelihood([-rank], -m[None], [0.7])
        assert up == pytest.approx(down)


# --- documents and bad input --------------------------------------------------------------------


def test_a_round_survives_json() -> None:
    whole = Round(
        DRAFT,
        {"sour": Word.TOUCH_LESS},
        rest_right=True,
        ratings=SideBySide({"salt": 50}, {"salt": 40}, First.OWN, rinsed=False),
        spoons=Spoons("sour", (at(0.0), at(1.0)), (2, 1)),
        place=Place.FOOD,
        temperature_c=55.0,
        sample=3,
        notes="good with the mackerel",
        closeness={"taste": 7, "look": 9},
    )
    assert Round.from_document(json.loads(json.dumps(whole.as_document()))) == whole


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"words": {}}, "The round is empty"),
        ({"words": {"bitter": "more"}}, "names the axis 'bitter'"),
        ({"words": {"sour": "plenty"}}, "The word for sour is 'plenty'"),
        ({"made": (1.0, 2.0)}, "has 2 levels"),
        ({"made": sour(-1.0)}, "has sour at -1 g citric eq. per 100 g"),
        ({"made": sour(float("nan"))}, "has sour at nan"),
        ({"temperature_c": 400.0}, "serving temperature is 400 °C"),
        ({"sample": 0}, "sample of the sitting is 0"),
        ({"place": "cellar"}, "tasted 'cellar'"),
        ({"closeness": {"taste": 11.0}}, "closeness of taste is 11"),
        ({"closeness": {"price": 1.0}}, "scored for 'price'"),
    ],
)
def test_a_bad_round_is_named(change: Mapping[str, Any], sentence: str) -> None:
    good: dict[str, Any] = {"made": DRAFT, "words": {"sour": Word.MORE}}
    with pytest.raises(BadInput, match=sentence):
        Round(**{**good, **change})


@pytest.mark.parametrize(
    ("reference", "own", "sentence"),
    [
        ({"sour": 101}, {"sour": 50}, "The reference sauce is rated 101 on sour"),
        ({"sour": 50}, {"sour": -1}, "The own sauce is rated -1 on sour"),
        ({"sour": 50}, {}, "Only one of the two sauces is rated on sour"),
    ],
)
def test_bad_ratings_are_named(
    reference: dict[str, float], own: dict[str, float], sentence: str
) -> None:
    with pytest.raises(BadInput, match=sentence):
        SideBySide(reference, own)


def test_a_saved_round_that_is_damaged_is_named() -> None:
    with pytest.raises(BadInput, match="A saved round cannot be read"):
        Round.from_document({"made": {"sour": 1.0}})
    with pytest.raises(BadInput, match="A saved round cannot be read"):
        Round.from_document({**Round(DRAFT, {"sour": Word.MORE}).as_document(), "mood": "good"})


def test_nothing_tasted_and_absurd_priors_are_named() -> None:
    with pytest.raises(BadInput, match="There is no round yet"):
        learn([], Prior(DRAFT))
    with pytest.raises(BadInput, match="may lie 0 JND off"):
        Prior(DRAFT, spread_jnd=0.0)
    with pytest.raises(BadInput, match="The first target"):
        Prior((1.0,))
    with pytest.raises(BadInput, match="The gain of 'sour'"):
        Habit({"sour": (0.0, 0.0)})
    with pytest.raises(BadInput, match="The beliefs on hiding"):
        Habit(hiding=(1.0,))
