"""Ladders of spoons: masses, doses, and what an answer teaches."""

import numpy as np
import pytest

from balancer.constants import AXIS_NAMES
from balancer.dosing import Dose, Stock, common_stocks, stock_of
from balancer.errors import BadInput
from balancer.just_about_right import Word
from balancer.ladder import Ladder, propose
from balancer.palate import Palate, Prior, learn
from balancer.rounds import Round, Spoons
from balancer.taste import jnd

DRAFT = (12.0, 0.9, 1.2, 10.0, 40.0, 100.0, 2.0, 1.0)
SOUR = AXIS_NAMES.index("sour")
ROUND = Round(DRAFT, {"sour": Word.TOUCH_MORE, "salt": Word.LESS})


@pytest.fixture(scope="module")
def palate() -> Palate:
    return learn([ROUND], Prior(DRAFT))


@pytest.fixture(scope="module")
def ladder(palate: Palate) -> Ladder:
    return propose(palate, "sour", DRAFT, 600.0)


def test_masses_are_deducted_and_samples_are_spoons(ladder: Ladder) -> None:
    assert 2 <= len(ladder.spoons) <= 4
    assert all(10.0 <= s.mass_g <= 15.0 for s in ladder.spoons)
    assert ladder.pot_left_g + ladder.taken_g == pytest.approx(600.0)
    assert ladder.taken_g == pytest.approx(
        sum(s.mass_g - sum(d.grams for d in s.doses) for s in ladder.spoons)
    )


@pytest.mark.parametrize("axis", ["sour", "salt"])
def test_levels_are_those_of_the_mixture(palate: Palate, axis: str) -> None:
    """Each sample recomputed by weighing pot and stocks together."""
    stocks = {s.name: np.array(s.levels) for s in common_stocks()}
    for spoon in propose(palate, axis, DRAFT, 600.0).spoons:
        amount = spoon.pot_g * np.array(DRAFT)
        for dose in spoon.doses:
            amount = amount + dose.grams * stocks[dose.stock]
        assert spoon.levels == pytest.approx(amount / spoon.mass_g, rel=1e-9)


def test_other_axes_with_a_stock_are_kept(ladder: Ladder) -> None:
    for spoon in ladder.spoons:
        off = np.abs(np.array(spoon.levels) - DRAFT) / jnd(np.array(DRAFT))
        assert off[[0, 2]].max() < 0.3  # sweet and salt, as near as drops allow


def test_samples_stand_about_the_estimate_in_rising_order(palate: Palate, ladder: Ladder) -> None:
    found = [s.levels[SOUR] for s in ladder.spoons]
    assert found == sorted(found)
    assert found[0] < palate.target[SOUR] < found[-1]


def test_the_ladder_taken_is_the_best_of_its_kind(palate: Palate, ladder: Ladder) -> None:
    assert 0.2 < ladder.fall < 1.0
    assert ladder.fall > palate.fall[SOUR]  # more than one more word would tell
    few = propose(palate, "sour", DRAFT, 24.0)
    assert len(few.spoons) == 2
    assert few.fall <= ladder.fall


def test_answers_pull_the_target_and_narrow_the_range(palate: Palate, ladder: Ladder) -> None:
    after = [
        learn([Round(DRAFT, ROUND.words, spoons=ladder.answer(k + 1))], Prior(DRAFT))
        for k in range(len(ladder.spoons))
    ]
    targets = [p.target[SOUR] for p in after]
    assert targets == sorted(targets)
    spread = np.mean([p.sd_jnd[SOUR] for p in after[1:-1]])
    assert spread < 0.75 * palate.sd_jnd[SOUR]
    assert after[1].target[2] == pytest.approx(palate.target[2], rel=0.05)  # salt was not asked


def test_a_ranking_tells_more_than_the_nearest(ladder: Ladder) -> None:
    nearest = learn([Round(DRAFT, ROUND.words, spoons=ladder.answer(2))], Prior(DRAFT))
    ranked = learn([Round(DRAFT, ROUND.words, spoons=ladder.answer(2, 3, 1, 4))], Prior(DRAFT))
    assert ranked.sd_jnd[SOUR] < nearest.sd_jnd[SOUR]


def test_expected_fall_holds_over_answers(palate: Palate, ladder: Ladder) -> None:
    """Draw ideals and gains from the belief, let each choose a spoon, look at the variance left."""
    from balancer.judgement import apparent
    from balancer.taste import to_z

    belief = palate.beliefs["sour"]
    rng = np.random.default_rng(5)
    joint = belief.p.sum(axis=0)
    drawn = rng.choice(joint.size, size=60_000, p=joint.ravel() / joint.sum())
    ideal = belief.ideal[drawn // joint.shape[1]]
    gain = np.exp(belief.log_gain[drawn % joint.shape[1]])
    at = apparent(to_z(np.array([s.levels for s in ladder.spoons])), palate.share)[:, SOUR]
    scatter = 0.7 * (1 + 0.1 * 2.5) * rng.normal(size=(len(ideal), len(at)))
    judged = gain[:, None] * (ideal[:, None] - at) + scatter
    choice = np.abs(judged).argmin(axis=1)
    left = sum(ideal[choice == k].var() * (choice == k).mean() for k in range(len(at)))
    assert ladder.fall == pytest.approx(1 - left / ideal.var(), abs=0.06)


def test_pantry_ingredients_can_dose(palate: Palate) -> None:
    from balancer.catalogue import default_catalogue
    from balancer.search import resolve

    lemon = stock_of(resolve(default_catalogue(), "lemon juice"))
    assert lemon.axis == "sour"
    water = next(s for s in common_stocks() if s.axis is None)
    ladder = propose(palate, "sour", DRAFT, 600.0, [lemon, water])
    assert any(d.stock == lemon.name for s in ladder.spoons for d in s.doses)


def test_coarse_scales_are_said(palate: Palate) -> None:
    powder = Stock("citric acid", tuple(100.0 if a == "sour" else 0.0 for a in AXIS_NAMES))
    ladder = propose(palate, "sour", DRAFT, 600.0, [powder, common_stocks()[-1]], scale_g=0.02)
    assert any("close to what the scale can show" in r for r in ladder.remarks)


def test_doses_are_readable() -> None:
    assert str(Dose("20 % salt", 0.0574, 1)) == "1 drop of 20 % salt (57 mg)"
    assert str(Dose("water", 2.1)) == "2.10 g of water"


@pytest.mark.parametrize(
    ("axis", "pot_g", "spoon_g", "sentence"),
    [
        ("sweet", 600.0, 12.0, "Nothing was said of 'sweet' yet"),
        ("sour", 0.0, 12.0, "The sauce in the pot is 0 g"),
        ("sour", 15.0, 12.0, "The pot holds 15 g"),
        ("sour", 600.0, 40.0, "A sample of 40 g is asked for"),
    ],
)
def test_bad_ladders_are_named(
    palate: Palate, axis: str, pot_g: float, spoon_g: float, sentence: str
) -> None:
    with pytest.raises(BadInput, match=sentence):
        propose(palate, axis, DRAFT, pot_g, spoon_g=spoon_g)


def test_no_stock_for_the_axis_is_named(palate: Palate) -> None:
    with pytest.raises(BadInput, match="No ladder can be dosed on sour"):
        propose(palate, "sour", DRAFT, 600.0, [Stock("honey", (72.0,) + (0.0,) * 7)])


@pytest.mark.parametrize(
    ("samples", "order", "sentence"),
    [
        (1, (1,), "The ladder has 1 samples"),
        (5, (1,), "The ladder has 5 samples"),
        (3, (), "The ladder has no answer"),
        (3, (4,), "Sample 4 is named"),
        (3, (2, 2), "Sample 2 is named twice"),
    ],
)
def test_bad_answers_are_named(samples: int, order: tuple[int, ...], sentence: str) -> None:
    with pytest.raises(BadInput, match=sentence):
        Spoons("sour", (DRAFT,) * samples, order)
