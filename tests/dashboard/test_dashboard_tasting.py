"""The tasting loop on the page: rounds, pots, spoons, two windows, and slips."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from conftest import APP, errors, opened, press, run, text_of, unfolded
from streamlit.testing.v1 import AppTest

from balancer.cli.show import level_text
from balancer.constants import AXIS_NAMES
from balancer.dashboard import address
from balancer.dashboard.region import reachable
from balancer.kitchen import Kitchen
from balancer.taste import from_z, to_z

DIP = "plum and ginger dip"
WITHIN = re.compile(r"You are within 1 JND on (\w+) with (\d+) % odds")


def work(at: AppTest):
    return at.session_state["work"]


def say(at: AppTest, words: str) -> AppTest:
    at.text_input(key="_words").input(words)
    return run(at)


def answer_of(at: AppTest) -> dict:
    return dict(at.session_state["solved"].outcome.answer)


def step_word(off_jnd: float) -> str:
    """What a cook says who wants so many steps more: thresholds of 0.5, 1.5 and 4 JND."""
    size = abs(off_jnd)
    if size < 0.5:
        return "{} is right"
    word = "a touch " if size < 1.5 else "" if size < 4 else "much "
    return word + ("more" if off_jnd > 0 else "less") + " {}"


def sentence(levels: dict, ideal: dict) -> str:
    return ", ".join(
        step_word(float(to_z(ideal[a], a) - to_z(levels[a], a))).format(a) for a in ideal
    )


def test_rounds_lead_a_cook_within_one_jnd(dip):
    """A cook without noise, one step more sour and two less sweet in mind than the first draft."""
    first = {a: e["reached"] for a, e in answer_of(dip)["profile"].items()}
    ideal = {
        "sour": float(from_z(to_z(first["sour"], "sour") + 1.2, "sour")),
        "sweet": float(from_z(to_z(first["sweet"], "sweet") - 2.0, "sweet")),
    }
    for number in (1, 2, 3):
        levels = {a: e["reached"] for a, e in answer_of(dip)["profile"].items()}
        say(dip, sentence(levels, ideal))
        press(dip, "_keep_round")
        assert errors(dip) == ""
        assert work(dip).tasted == number
        assert f"Round {number}: what was learned" in text_of(dip)
        told = dict(WITHIN.findall(text_of(dip)))
        assert set(told) == set(ideal)
        press(dip, "_next")
        assert errors(dip) == ""
        assert work(dip).revision == number + 1
    made = {a: e["reached"] for a, e in answer_of(dip)["profile"].items()}
    for axis, level in ideal.items():
        assert abs(to_z(made[axis], axis) - to_z(level, axis)) < 1.0
    assert len(Kitchen().store.rounds(DIP)) == 3
    assert all(f"Round {n}</b>" in text_of(dip) for n in (1, 2, 3))


def test_an_unsaved_sauce_is_answered_at_once_and_saved_with_its_round(dip):
    press(dip, "_too_sour")
    assert "Add to this pot" in text_of(dip)
    assert Kitchen().store.recipes() == ()
    press(dip, "_keep_round")
    assert [r.name for r in Kitchen().store.recipes()] == [DIP]
    kept = Kitchen().store.rounds(DIP)[0].document
    assert kept["round"]["words"] == {"sour": "a touch less"}
    assert not work(dip).steps


def added_rows(at: AppTest) -> list[str]:
    """What the page asks to weigh into the pot."""
    rows = [str(e.proto.body) for e in at.get("html")]
    return [row for row in rows if 'class="b-what">+ ' in row]


def pasted_pepper_sauce() -> AppTest:
    """A pasted draft of the pepper and walnut sauce, nothing asked of it."""
    at = opened()
    at.text_area(key="_draft_text").input(
        "250 g roasted red pepper\n55 g walnuts\n8 g garlic\n55 g olive oil\n15 g dijon mustard\n"
        "15 g sherry vinegar\n1.2 g smoked paprika\n3 g salt\n20 g habanero\n10 g sugar\n"
        "100 g water"
    )
    run(at)
    press(at, "_paste_start")
    assert errors(at) == ""
    return at


def test_keeping_the_round_leaves_what_was_to_be_added_as_it_was_read():
    """What the cook may have weighed is what 'I added this' books, before and after keeping."""
    at = pasted_pepper_sauce()
    say(at, "too sharp, a touch sweeter, no body")
    before, planned = added_rows(at), dict(answer_of(at)["quantities_g"])
    assert before
    press(at, "_keep_round")
    assert errors(at) == ""
    assert "Round 1: what was learned" in text_of(at)
    assert added_rows(at) == before
    assert "what was learned goes into the next batch" in text_of(at)
    reloaded = opened(address.written(work(at)))
    assert added_rows(reloaded) == before
    press(reloaded, "_added")
    gained = {n: g - planned.get(n, 0.0) for n, g in work(reloaded).made_g.items()}
    for row in before:
        name, grams = re.search(r"\+ ([^<]+)</span>.*?([\d.]+) g", row).groups()
        assert gained[name] == pytest.approx(float(grams), abs=1e-3)
    say(reloaded, "a touch sweeter")  # a new note is answered by what was learned
    press(reloaded, "_keep_round")
    assert work(reloaded).answered == {}


def test_a_pot_just_added_to_is_tasted_before_it_is_weighed_against_its_recipe(dip):
    say(dip, "much less sweet")
    press(dip, "_keep_round")
    press(dip, "_added")
    said = text_of(dip)
    assert "Stir, taste, and say what is off." in said
    assert "Bring this pot to its recipe" not in said
    assert not added_rows(dip)
    again = opened(address.written(work(dip)))
    assert "Bring this pot to its recipe" not in text_of(again)
    press(again, "_by_weight")  # the cook asks for it
    assert "Bring this pot to its recipe" in text_of(again)
    dip.number_input(key="_made_salt").set_value(30.0)  # or weighs something else
    run(dip)
    assert "Bring this pot to its recipe" in text_of(dip)


@pytest.mark.parametrize("words", ["zu sauer", "yuck", ""])
def test_an_answer_under_a_note_that_was_not_understood_names_its_own(dip, words):
    say(dip, "less sour")
    assert "<b>Understood:</b> less sour." in text_of(dip)
    say(dip, words)
    assert "<b>From your last note:</b> less sour." in text_of(dip)
    assert "Understood" not in text_of(dip)
    press(dip, "_keep_round")
    assert "<b>From your last note:</b> less sour." in text_of(dip)
    assert bool(errors(dip)) is False


def test_the_button_that_was_meant_is_the_one_that_is_lit(dip):
    def row(axis):
        return [dip.button(key=f"_{what}_{axis}").label for what in ("too", "right", "lacks")]

    plain = ["too sweet", "sweet: right", "not sweet enough"]
    assert row("sweet") == plain
    press(dip, "_lacks_sweet")
    assert row("sweet") == [*plain[:2], "✓ not quite sweet enough"]
    press(dip, "_lacks_sweet")
    assert row("sweet") == [*plain[:2], "✓ not sweet enough"]
    press(dip, "_right_sweet")
    assert row("sweet") == [plain[0], "✓ sweet: right", plain[2]]
    for _ in range(3):
        press(dip, "_too_sweet")
    assert row("sweet") == ["✓ much too sweet", *plain[1:]]
    say(dip, "sour is right, less salt")
    assert row("sour") == ["too sour", "✓ sour: right", "not sour enough"]
    assert row("salt") == ["✓ too salty", "salty: right", "not salty enough"]


def test_what_a_round_says_is_told_again_after_a_reload(dip):
    press(dip, "_too_sour")
    press(dip, "_keep_round")
    said = [line for line in text_of(dip).split("<li>") if line.startswith("You are within")]
    again = opened(address.written(work(dip)))
    assert said
    assert all(line in text_of(again) for line in said)


def test_every_detail_of_a_tasting_is_kept(dip):
    press(dip, "_right_salt")
    unfolded(dip, "_circumstances", "_marks")
    dip.toggle(key="_rest_right").set_value(True)
    dip.radio(key="_place").set_value("food")
    dip.number_input(key="_temperature_c").set_value(60.0)
    dip.number_input(key="_sample").set_value(2.0)
    dip.number_input(key="_close_taste").set_value(7.0)
    dip.number_input(key="_close_look").set_value(9.0)
    dip.text_area(key="_notes").input("thin at the edge")
    dip.number_input(key="_reference_sour").set_value(60.0)
    run(dip)
    dip.number_input(key="_own_sour").set_value(45.0)
    dip.toggle(key="_own_first").set_value(True)
    dip.toggle(key="_rinsed").set_value(False)
    run(dip)
    again = opened(address.written(work(dip)))  # nothing is lost by a reload
    assert work(again).details == work(dip).details
    press(again, "_keep_round")
    kept = Kitchen().store.rounds(DIP)[0].document["round"]
    assert kept["words"] == {"salt": "right"}
    assert kept["rest_right"] is True
    assert (kept["place"], kept["temperature_c"], kept["sample"]) == ("food", 60.0, 2)
    assert kept["closeness"] == {"taste": 7.0, "look": 9.0}
    assert kept["notes"] == "thin at the edge"
    assert kept["ratings"] == {
        "reference": {"sour": 60.0}, "own": {"sour": 45.0}, "first": "own", "rinsed": False,
    }  # fmt: skip


def test_all_seven_steps_can_be_pressed(dip):
    seen = []
    for key in ["_lacks_sour"] * 3 + ["_too_sour"] * 6:
        press(dip, key)
        seen.append(work(dip).steps["sour"])
    assert seen == [1.0, 2.0, 4.0, 2.0, 1.0, 0.0, -1.0, -2.0, -4.0]
    press(dip, "_right_sour")
    assert work(dip).steps == {"sour": 0.0}
    press(dip, "_right_sour")
    assert work(dip).steps == {}


def test_an_empty_round_is_refused_with_a_sentence(dip):
    press(dip, "_keep_round")
    assert "The round is empty" in errors(dip)
    assert Kitchen().store.recipes() == ()
    press(dip, "_save")
    press(dip, "_keep_round")
    assert "The round is empty" in errors(dip)
    assert Kitchen().store.rounds(DIP) == ()


@pytest.mark.parametrize(("key", "value"), [("_own_sour", 130.0), ("_close_taste", -1.0)])
def test_a_mark_off_the_line_is_said_beside_its_field_and_stays_typed(dip, key, value):
    unfolded(dip, "_circumstances", "_marks")
    dip.number_input(key=key).set_value(value)
    run(dip)
    assert f"{value:g}" in errors(dip)
    assert "Give a mark from 0 to" in errors(dip)
    assert dip.number_input(key=key).value == value
    assert work(dip).details.own == {}


def test_a_mark_on_one_side_only_is_refused(dip):
    unfolded(dip, "_marks")
    dip.number_input(key="_own_sour").set_value(40.0)
    run(dip)
    press(dip, "_keep_round")
    assert "Only one of the two sauces is rated on sour" in errors(dip)
    assert work(dip).details.own == {"sour": 40.0}


def test_marks_beside_a_reference_are_a_round_of_their_own(dip):
    unfolded(dip, "_marks")
    dip.number_input(key="_reference_sour").set_value(30.0)
    run(dip)
    dip.number_input(key="_own_sour").set_value(60.0)
    run(dip)
    press(dip, "_keep_round")
    assert errors(dip) == ""
    assert "marked beside the reference" in text_of(dip)
    press(dip, "_next")
    assert work(dip).document["target"]["sour"] < 1.6


def test_two_windows_that_keep_a_round_keep_both(dip):
    press(dip, "_save")
    other = opened(address.written(work(dip)))
    press(dip, "_too_sour")
    press(other, "_lacks_salt")
    press(dip, "_keep_round")
    press(dip, "_next")
    press(other, "_keep_round")
    assert errors(other) == ""
    rounds = [r.document for r in Kitchen().store.rounds(DIP)]
    assert [r["said"] for r in rounds] == ["a touch less sour", "a touch more salt"]
    tasted = Kitchen().saved(DIP, 1)["answer"]["quantities_g"]["rice vinegar"]
    assert rounds[1]["made_g"]["rice vinegar"] == pytest.approx(tasted, rel=1e-5)
    press(other, "_next")  # the first window's next batch is revision 2 and stays
    assert "saved meanwhile" in errors(other)
    assert Kitchen().store.recipe(DIP).revision == 2
    mine = dict(work(other).document)
    press(other, "_save_beside_round")
    assert Kitchen().saved(f"{DIP} 2")["request"]["target"] == mine["target"]
    assert Kitchen().store.recipe(DIP).revision == 2


def test_the_newer_revision_can_be_opened_and_the_round_still_kept(dip):
    press(dip, "_save")
    other = opened(address.written(work(dip)))
    press(other, "_more_salt")
    press(other, "_save")
    press(dip, "_more_sour")
    press(dip, "_too_sweet")
    press(dip, "_keep_round")
    assert "saved meanwhile" in errors(dip)
    assert Kitchen().store.rounds(DIP) == ()
    press(dip, "_open_newer_round")
    assert work(dip).revision == 2
    assert work(dip).document == work(other).document
    assert work(dip).steps == {"sweet": -1.0}
    press(dip, "_keep_round")
    assert len(Kitchen().store.rounds(DIP)) == 1


def test_an_over_salted_pot_comes_back_to_its_recipe(dip):
    """Five grams of salt too many; what is poured in is what the plan says, and it is within."""
    planned = dict(answer_of(dip)["quantities_g"])
    salted = round(planned["salt"] + 5.0, 1)
    press(dip, "_save")
    dip.toggle(key="_weighing").set_value(True)
    run(dip)
    dip.number_input(key="_made_salt").set_value(salted)
    run(dip)
    assert "Bring this pot to its recipe" in text_of(dip)
    found = Kitchen().correct(work(dip).document, answer_of(dip), made_g={"salt": salted})
    assert not found.within
    assert "As near as adding can bring it" in text_of(dip)
    assert any(e.label.startswith("Or: Set ") for e in dip.expander)
    unfolded(dip, "_rules")
    dip.number_input(key="_growth_pct").set_value(100.0)
    run(dip)
    found = Kitchen().correct(
        work(dip).document, answer_of(dip), made_g={"salt": salted}, growth=1.0
    )
    assert found.plan is not None
    for addition in found.plan.additions:
        assert f"{addition.weigh_g:g} g" in text_of(dip)
    press(dip, "_added")
    now = dict(work(dip).made_g)
    assert all(now[k] >= v - 1e-3 for k, v in {**planned, "salt": salted}.items())
    again = Kitchen().correct(work(dip).document, answer_of(dip), made_g=now, growth=1.0)
    assert again.plan is not None
    assert again.plan.exact_within == found.plan.exact_within
    assert not again.plan.additions or again.plan.growth < 0.01


def test_water_may_be_let_into_a_pot_whose_recipe_has_none(dip):
    press(dip, "_adjust_water")
    press(dip, "_remove")
    say(dip, "much less sweet, much less sour")
    unfolded(dip, "_rules")
    dip.text_input(key="_also").input("watr of life")
    run(dip)
    assert "watr of life" in errors(dip)
    dip.text_input(key="_also").input("water")
    run(dip)
    assert "+ water" in text_of(dip)
    press(dip, "_added")
    assert work(dip).made_g["water"] > 0
    assert "water" in work(dip).labels


def test_the_pot_goes_on_with_what_was_weighed_in_and_is_tasted_again(dip):
    say(dip, "much less sweet")
    press(dip, "_keep_round")
    press(dip, "_added")
    in_pot = dict(work(dip).made_g)
    assert "In the pot:" in text_of(dip)
    say(dip, "sweet is right")
    press(dip, "_keep_round")
    kept = Kitchen().store.rounds(DIP)[1].document
    assert kept["made_g"] == pytest.approx(in_pot, rel=1e-5)


def test_spoons_are_offered_on_a_judged_axis_and_their_answer_is_a_round(dip):
    press(dip, "_too_sour")
    press(dip, "_keep_round")
    unfolded(dip, "_spoons")
    dip.session_state["_spoon_axis"] = "sour"
    run(dip)
    ladder = Kitchen().spoons(DIP, "sour")
    for spoon in ladder.spoons:
        assert str(spoon) in text_of(dip)
    press(dip, "_spoon_1")
    rounds = Kitchen().store.rounds(DIP)
    assert len(rounds) == 2
    assert rounds[1].document["round"]["spoons"]["order"] == [1]
    assert rounds[1].document["pot_left_g"] == pytest.approx(ladder.pot_left_g)
    assert "Round 2: what was learned" in text_of(dip)


def test_spoons_of_an_older_pot_are_not_taken_for_the_new_ones(dip):
    press(dip, "_too_sour")
    press(dip, "_keep_round")
    unfolded(dip, "_spoons")
    dip.session_state["_spoon_axis"] = "sour"
    run(dip)
    Kitchen().taste(DIP, "less sour", keep_plan=False)
    dip.button(key="_spoon_1").click()
    run(dip)
    assert "Another round was kept meanwhile" in errors(dip)
    assert len(Kitchen().store.rounds(DIP)) == 2


def test_rounds_stand_side_by_side_and_can_be_gone_back_to(dip):
    first = dict(answer_of(dip)["quantities_g"])
    say(dip, "much less sour")
    press(dip, "_keep_round")
    press(dip, "_next")
    say(dip, "more sour")
    press(dip, "_keep_round")
    unfolded(dip, "_sides", "_back_fold")
    dip.selectbox(key="_first_side").set_value("round 1")
    dip.selectbox(key="_second_side").set_value("round 2")
    run(dip)
    found = {d.axis: d.steps_jnd for d in Kitchen().compare(DIP, DIP, (1, 2))}
    assert found["sour"] < -0.5
    assert f"▼ {abs(found['sour']):.1f} JND less" in text_of(dip)
    press(dip, "_back_1")
    assert work(dip).revision == 3
    drafts = {e["name"]: e["draft_g"] for e in work(dip).document["ingredients"]}
    assert drafts == pytest.approx(first, rel=1e-4, abs=1e-3)
    assert Kitchen().store.recipe(DIP, 2).revision == 2


def test_readings_of_the_finished_sauce_have_units_and_how_sure_is_shown_when_asked(dip):
    unfolded(dip, "_meter")
    answer, said = answer_of(dip), text_of(dip)
    for piece in (
        f"{answer['ph']['value']:.2f} ({answer['ph']['low']:.2f} to {answer['ph']['high']:.2f})",
        f"{answer['brix']:.1f} degrees Brix",
        f"{answer['acidity_pct_citric']:.2f} g per 100 g",
        f"{answer['moisture_pct']:.0f} g per 100 g",
        f"{answer['water_activity']:.2f}",
        f"tastes: {answer['perceived']['sweet']['word']}",
    ):
        assert piece in said
    assert "of the doubt is" not in said
    dip.toggle(key="_sure").set_value(True)
    run(dip)
    assert "of the doubt is" in text_of(dip)
    before = text_of(dip)
    press(dip, "_less_sour")
    assert text_of(dip) != before
    outcome = dip.session_state["solved"].outcome
    spread = Kitchen().how_sure(outcome)
    assert spread is not None
    sour = AXIS_NAMES.index("sour")
    assert np.isfinite(spread.high[sour])
    assert f"{spread.ph.low:.2f} to {spread.ph.high:.2f}" in text_of(dip)


def test_the_reachable_region_is_the_hull_of_the_ingredients_where_nothing_limits_them():
    """Mixing is a mean by mass, so without limits the corners are the ingredients themselves."""
    kitchen = Kitchen()
    names = ("white sugar", "white vinegar", "water")
    document = {"yield_g": 500.0, "ingredients": [{"name": n} for n in names]}
    corners = []
    for name in names:
        alone = kitchen.solve({"yield_g": 1.0, "ingredients": [{"name": name, "locked_g": 1.0}]})
        corners.append(tuple(alone.answer["profile"][a]["reached"] for a in ("sweet", "sour")))
    found = reachable(kitchen.catalogue, document, ("sweet", "sour"), (20.0, 1.5))
    mixed = np.vstack([np.array(corners).T, np.ones(3)])
    shares = np.linalg.solve(mixed, np.vstack([np.array(found).T, np.ones(len(found))]))
    assert shares.min() > -1e-6  # every point is a mixture
    for corner in corners:
        assert min(np.hypot(x - corner[0], y - corner[1]) for x, y in found) < 1e-3
    held = [{"name": names[0], "max_g": 250.0}, *document["ingredients"][1:]]
    halved = {**document, "ingredients": held}
    most = max(x for x, _ in reachable(kitchen.catalogue, halved, ("sweet", "sour"), (20.0, 1.5)))
    assert most == pytest.approx(
        0.5 * (corners[0][0] + corners[1][0]), rel=1e-4
    )  # the next sweetest fills up


def test_the_map_shows_sauce_target_rounds_and_region_in_words_too(dip):
    press(dip, "_too_sour")
    press(dip, "_keep_round")
    unfolded(dip, "_map")
    said = text_of(dip)
    reached = answer_of(dip)["profile"]["sweet"]["reached"]
    assert f"● the sauce: sweet {level_text(reached)} g sucrose eq. per 100 g" in said
    assert "◇ wanted: sweet 20 g sucrose eq. per 100 g, sour 1.6 g citric eq. per 100 g" in said
    assert "1 round 1: sweet" in said
    assert "In the dashed line: what the ingredients reach within the limits" in said
    drawn = json.loads(dip.get("vega_lite_chart")[0].proto.spec)
    assert drawn["description"].startswith("● the sauce")


def test_a_pot_by_readings(tmp_path):
    at = press(opened(), "_to_readings")
    press(at, "_pot_solve")
    assert "mass of the sauce is missing" in errors(at)
    at.number_input(key="_read_mass_g").set_value(800.0)
    at.number_input(key="_read_brix").set_value(24.0)
    at.number_input(key="_read_acidity_pct").set_value(1.1)
    at.number_input(key="_read_salt_pct").set_value(1.6)
    at.number_input(key="_want_salt").set_value(1.0)
    at.text_input(key="_pot_add").input("water")
    run(at)
    press(at, "_pot_solve")
    assert "+ water" in text_of(at)
    assert "800 g" in text_of(at)
    at.number_input(key="_read_mass_g").set_value(900.0)
    run(at)
    assert "+ water" not in text_of(at)  # a result never outlives its readings
    at.number_input(key="_read_mass_g").set_value(0.0)
    run(at)
    press(at, "_pot_solve")
    assert "mass" in errors(at)


def test_is_it_the_same(tmp_path):
    """Triangle, 15 answers: 9 right show a difference at 5 % (ISO 4120:2021, table A.1, from
    memory; recomputed by the exact binomial in the tests of the library)."""
    at = press(opened(), "_to_panel")
    assert "Taster 1" in "\n".join(t.value for t in at.text)
    assert "tasters</b>" in text_of(at)
    for key, value in (("_right_answers", 9), ("_all_answers", 15), ("_people", 15)):
        at.number_input(key=key).set_value(value)
    run(at)
    assert "The sauces can be told apart." in text_of(at)
    at.number_input(key="_right_answers").set_value(8)
    run(at)
    assert "No difference is shown" in text_of(at)
    at.number_input(key="_right_answers").set_value(16)
    run(at)
    assert "16" in errors(at)
    at.number_input(key="_tasters").set_value(0)
    run(at)
    assert "number of tasters is 0" in errors(at)


def again(at: AppTest) -> AppTest:
    """The same address opened anew, as a reload does."""
    new = AppTest.from_file(str(APP), default_timeout=60)
    for name in ("draft", "typed", "page"):
        if name in at.query_params:
            letters = at.query_params[name]
            new.query_params[name] = letters[0] if isinstance(letters, list) else letters
    return run(new)


def test_what_was_typed_beside_a_sauce_outlives_a_reload():
    at = press(opened(), "_to_readings")
    for key, value in (("_read_mass_g", 800.0), ("_read_brix", 24.5), ("_want_sweet", 18.0)):
        at.number_input(key=key).set_value(value)
    at.text_input(key="_pot_add").input("water, lime juice")
    run(at)
    new = again(at)
    assert new.number_input(key="_read_mass_g").value == 800.0
    assert new.number_input(key="_read_brix").value == 24.5
    assert new.number_input(key="_want_sweet").value == 18.0
    assert new.text_input(key="_pot_add").value == "water, lime juice"
    press(new, "_pot_solve")
    assert "+ water" in text_of(new)
    press(new, "_to_panel")
    new.radio(key="_method").set_value("paired")
    run(new)
    new.text_input(key="_attribute").input("bitter")
    new.number_input(key="_all_answers").set_value(15)
    run(new)
    last = again(new)
    assert last.radio(key="_method").value == "paired"
    assert last.text_input(key="_attribute").value == "bitter"
    assert last.number_input(key="_all_answers").value == 15


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("_read_brix", 130.0, "130"),
        ("_read_mass_g", -5.0, "-5"),
        ("_want_salt", -2.0, "-2"),
        ("_pot_growth", -20.0, "-20"),
        ("_pot_scale", 0.0, "0 g"),
    ],
)
def test_a_slip_among_readings_is_said_under_its_field_and_stays_typed(key, value, said):
    at = press(opened(), "_to_readings")
    at.number_input(key=key).set_value(value)
    run(at)
    assert said in errors(at)
    assert at.number_input(key=key).value == value
    assert at.session_state["notes"][key]
    at.text_input(key="_pot_add").input("watr of life")
    run(at)
    assert "watr of life" in at.session_state["notes"]["_pot_add"]
    press(at, "_pot_solve")
    assert not at.exception


def test_a_slip_of_the_pen_is_said_back(dip):
    say(dip, "a touch too sower")
    assert "'sower' was taken for 'sour'." in text_of(dip)
    say(dip, "a touch too sour")
    assert "was taken for" not in text_of(dip)
