"""The use cases end to end, on the real tables and a real store."""

from __future__ import annotations

import json

import numpy as np
import pytest

from balancer.demo import house_sauces
from balancer.errors import BadInput, NameTaken, NotSaved, UnknownIngredient
from balancer.kitchen import Kitchen
from balancer.taste import to_z

LEMONADE = {
    "yield_g": 1000,
    "ingredients": [{"name": "lemon juice"}, {"name": "sugar"}, {"name": "water"}],
    "target": {"sweet": 9.0, "sour": 0.7},
}


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(store_path=tmp_path / "book.db")


@pytest.mark.parametrize("name", sorted(house_sauces()))
def test_house_sauces_are_solved(kitchen, name):
    outcome = kitchen.solve(house_sauces()[name])
    document = outcome.document
    assert outcome.answer["status"] == "on_target"
    total = sum(outcome.answer["quantities_g"].values())
    assert total == pytest.approx(document["yield_g"] + document.get("water_lost_g", 0), rel=1e-5)
    for axis, wanted in document["target"].items():
        low, high = (wanted["low"], wanted["high"]) if isinstance(wanted, dict) else (wanted,) * 2
        reached = outcome.answer["profile"][axis]["reached"]
        off = max(low - reached, reached - high, 0.0)
        jnd = {"sweet": 0.4 + 0.17 * low, "sour": 0.02 + 0.18 * low, "salt": 0.06 + 0.15 * low}
        assert off <= 0.2501 * jnd.get(axis, np.inf)


def test_lock_and_strength_are_kept(kitchen):
    document = {
        "yield_g": 500,
        "ingredients": [
            {"name": "plums, raw", "draft_g": 200, "min_g": 50, "max_g": 400},
            {"name": "rice vinegar", "locked_g": 40, "strength": {"acetic_pct": 4.2}},
            {"name": "sugar"},
            {"name": "salt"},
            {"name": "water"},
        ],
        "target": {"sweet": 18.0, "sour": 1.1, "salt": 1.4},
        "limits": {"sodium_mg_per_100g_max": 900},
    }
    outcome = kitchen.solve(document)
    assert outcome.answer["quantities_g"]["rice vinegar"] == 40
    acetic = outcome.solution.blend.per_100g()[19]
    assert acetic == pytest.approx(40 * 4.2 / 500, rel=1e-6)


def test_report_when_all_is_locked(kitchen):
    document = {
        "ingredients": [{"name": "sugar", "locked_g": 60}, {"name": "water", "locked_g": 440}]
    }
    answer = kitchen.solve(document).answer
    assert answer["status"] == "report"
    assert answer["final_mass_g"] == 500
    assert answer["profile"]["sweet"]["target"] is None
    assert answer["profile"]["sweet"]["deviation_jnd"] is None
    assert answer["profile"]["sweet"]["reached"] == pytest.approx(12, rel=0.01)


def test_nudge_starts_from_what_was_made(kitchen):
    outcome = kitchen.solve(LEMONADE)
    made = {"lemon juice": 180.0, "sugar": 87.0, "water": 733.0}
    nudge = kitchen.nudge(
        outcome.document, outcome.answer, "less sour, a touch sweeter", made_g=made
    )
    tasted = nudge.tasted["sour"]
    assert tasted > 0.85  # the weighed juice, not the 0.7 of the target
    assert to_z(nudge.wanted["sour"], "sour") == pytest.approx(to_z(tasted, "sour") - 2, abs=1e-4)
    step = to_z(nudge.wanted["sweet"], "sweet") - to_z(nudge.tasted["sweet"], "sweet")
    assert step == pytest.approx(1.0, abs=1e-4)
    assert nudge.wanted["fat"] == nudge.tasted["fat"]


def test_pot_never_loses_anything_and_stays_under_its_cap(kitchen):
    outcome = kitchen.solve(LEMONADE)
    made = {"lemon juice": 180.0, "sugar": 87.0, "water": 733.0}
    nudge = kitchen.nudge(outcome.document, outcome.answer, "too sour", made_g=made)
    after = nudge.pot.solution.grams
    assert after[0] == pytest.approx(1000)  # what is in the pot, as one
    assert after.sum() <= 1300 + 1e-3
    assert set(nudge.additions_g) <= {"sugar", "water"}
    assert abs(nudge.pot.answer["profile"]["sour"]["deviation_jnd"]) <= 1 + 1e-5


def test_next_batch_keeps_the_mass(kitchen):
    outcome = kitchen.solve(house_sauces()["plum-ginger-dip"])
    nudge = kitchen.nudge(outcome.document, outcome.answer, "a touch sweeter")
    assert nudge.next_batch.answer["final_mass_g"] == pytest.approx(500, abs=1e-3)
    assert nudge.next_batch.answer["status"] == "on_target"


def test_report_can_be_tasted(kitchen):
    document = {
        "ingredients": [
            {"name": "sugar", "locked_g": 60},
            {"name": "lemon juice", "locked_g": 40},
            {"name": "water", "locked_g": 400},
        ]
    }
    outcome = kitchen.solve(document)
    nudge = kitchen.nudge(outcome.document, outcome.answer, "a touch sweeter")
    assert nudge.next_batch.answer["quantities_g"]["sugar"] > 60


def test_further_ingredient_may_join(kitchen):
    outcome = kitchen.solve(LEMONADE)
    nudge = kitchen.nudge(
        outcome.document, outcome.answer, "much more salt", also=["salt", "sugar"]
    )
    assert nudge.additions_g["salt"] > 0
    labels = [u.label for u in nudge.next_batch.problem.uses]
    assert labels.count("sugar") == 1


def test_save_list_load_rename_delete(kitchen):
    outcome = kitchen.solve(LEMONADE)
    assert kitchen.save("Harbour lemonade", outcome) == 1
    with pytest.raises(NameTaken):
        kitchen.save("Harbour lemonade", outcome)
    assert kitchen.save("Harbour lemonade", outcome, replace_it=True) == 2
    assert kitchen.saved("Harbour lemonade")["request"] == LEMONADE
    kitchen.store.rename_recipe("Harbour lemonade", "Quay lemonade")
    with pytest.raises(NotSaved):
        kitchen.saved("Harbour lemonade")
    kitchen.save_profile("Quay", outcome)
    assert kitchen.store.profile("Quay").levels["sweet"] == pytest.approx(9, abs=0.5)
    kitchen.store.delete_recipe("Quay lemonade")
    with pytest.raises(NotSaved):
        kitchen.saved("Quay lemonade")


def test_everything_travels(kitchen, tmp_path):
    kitchen.save("Harbour lemonade", kitchen.solve(LEMONADE))
    kitchen.save_profile("Harbour", kitchen.solve(LEMONADE))
    other = Kitchen(store_path=tmp_path / "other.db")
    added = other.take_in(json.dumps(kitchen.everything()))
    assert (added.recipes, added.profiles) == (1, 1)
    assert other.saved("Harbour lemonade") == kitchen.saved("Harbour lemonade")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"ingredients": []}, "No ingredients"),
        ({"target": {}}, "target is empty"),
        ({"colour": 1}, "unknown key 'colour'"),
        ({"yield_g": -5}, "yield_g is -5"),
        ({"yield_g": float("nan")}, "nan"),
        ({"yield_g": 1e12}, "1000000000000"),
        ({"yield_g": "500 g"}, "a number is needed"),
        ({"yield_ml": 5}, "both yield_g and yield_ml"),
        ({"target": {"sweet": 500}}, "no sauce can have"),
        ({"target": {"umani": 5}}, "unknown key 'umani'"),
        ({"target": {"sweet": {"low": 9, "high": 3}}}, "lower end first"),
        ({"ingredients": [{"name": "sugar"}, {"name": "table sugar"}]}, "the same ingredient"),
        ({"ingredients": [{"name": "sugar", "min_g": 5, "max_g": 1}]}, "over the maximum"),
        ({"ingredients": [{"name": "sugar", "locked_g": 5000}, {"name": "water"}]}, "5000 g, over"),
        (
            {"ingredients": [{"name": "sugar", "locked_g": 1}, {"name": "salt", "locked_g": 1}]},
            "Set the yield to",
        ),
        ({"ratios": [{"of": "sugar", "to": "honey", "value": 1}]}, "'honey', which is not"),
        ({"ratios": [{"of": "sugar", "to": "water"}]}, "ratios"),
        ({"ingredients": [{"name": "x" * 10000}]}, "10000 letters"),
        ({"ingredients": [{"name": "water", "strength": {"brix": 10}}]}, "no sugars"),
    ],
)
def test_bad_requests_end_in_one_sentence(kitchen, change, words):
    with pytest.raises(BadInput) as caught:
        kitchen.solve({**LEMONADE, **change})
    text = str(caught.value)
    assert words in text
    assert "\n" not in text
    assert len(text) < 400


def test_more_water_lost_than_there_is(kitchen):
    answer = kitchen.solve({**LEMONADE, "ingredients": [{"name": "sugar"}], "water_lost_g": 50})
    assert answer.answer["status"] == "infeasible"
    assert answer.answer["relax"][0]["request"] == "water lost in cooking 50 g"
    assert answer.answer["relax"][0]["to"] == pytest.approx(0, abs=1)


def test_unknown_ingredient_gets_the_nearest_five(kitchen):
    with pytest.raises(UnknownIngredient) as caught:
        kitchen.solve({**LEMONADE, "ingredients": [{"name": "lemmon jice"}]})
    assert len(caught.value.nearest) == 5
    assert "lemon juice" in caught.value.nearest


def test_axis_that_nothing_carries_is_one_sentence_and_changes_nothing(kitchen):
    plain = kitchen.solve(LEMONADE).answer
    asked = kitchen.solve({**LEMONADE, "target": {**LEMONADE["target"], "heat": 50}}).answer
    assert asked["status"] == "nearest"
    assert any("No chosen ingredient carries heat" in n for n in asked["notes"]) or any(
        r["request"].startswith("heat") for r in asked["relax"]
    )
    for name, grams in plain["quantities_g"].items():
        assert asked["quantities_g"][name] == pytest.approx(grams, abs=1e-3)


def test_words_that_cannot_be_read(kitchen):
    outcome = kitchen.solve(LEMONADE)
    for words in ("", "nice", "sour", "less sour, more sour", "x" * 5000):
        with pytest.raises(BadInput):
            kitchen.nudge(outcome.document, outcome.answer, words)
    with pytest.raises(BadInput, match="no such ingredient"):
        kitchen.nudge(outcome.document, outcome.answer, "less sour", made_g={"honey": 5})
