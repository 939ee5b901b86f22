"""The pages, run for real without a browser."""

from __future__ import annotations

import gc

import pytest
from conftest import errors, opened, press, run, text_of, unfolded
from streamlit.testing.v1 import AppTest

from balancer.dashboard import address, start
from balancer.dashboard.page import OF_A_SAUCE
from balancer.dashboard.work import begun, solved
from balancer.demo import house_sauces
from balancer.kitchen import Kitchen


def document(at: AppTest) -> dict:
    return dict(at.session_state["work"].document)


def shown_grams(at: AppTest) -> dict:
    return dict(at.session_state["solved"].outcome.answer["quantities_g"])


def test_the_first_page_offers_every_house_sauce():
    at = opened()
    for key in house_sauces():
        assert at.button(key=f"_house_{key}")


def test_the_first_page_begins_with_the_cooks_own_sauce_and_speaks_of_food():
    at = opened()
    order = [str(getattr(e, "key", "")) for e in at.main]
    house = [order.index(f"_house_{key}") for key in house_sauces()]
    assert order.index("_draft_text") < order.index("_begin") < min(house)
    said = text_of(at)
    for document in house_sauces().values():
        drafts = {e["name"]: e["draft_g"] for e in document["ingredients"]}
        most = sorted(drafts, key=lambda name: -drafts[name])[: start.MAIN]
        assert f"{', '.join(most)} and {len(drafts) - start.MAIN} more" in said
    for unit in ("JND", "SHU", "uL", "µL", "eq."):
        assert unit not in said


def test_doors_that_need_a_sauce_are_shown_with_one():
    at = opened()
    doors = {f"_to_{name}" for name in OF_A_SAUCE}
    assert not doors & {b.key for b in at.button}
    assert at.button(key="_to_bring")
    press(at, f"_house_{min(house_sauces())}")
    assert doors < {b.key for b in at.button}
    assert "_to_bring" not in {b.key for b in at.button}


@pytest.mark.parametrize("key", sorted(house_sauces()))
def test_every_house_sauce_shows_its_grams_levels_and_cautions(key):
    at = unfolded(press(opened(), f"_house_{key}"), "_rest")
    outcome = solved(Kitchen(), house_sauces()[key])
    said = text_of(at)
    for label in outcome.answer["quantities_g"]:
        assert any(b.label.startswith(label) for b in at.button)
    for entry in outcome.answer["profile"].values():
        assert entry["unit"] in said
    assert "µL oil eq." in said
    assert "uL" not in said
    for caution in outcome.answer["cautions"]:
        assert caution[:40].split("'")[0] in said
    assert shown_grams(at) == outcome.answer["quantities_g"]


def test_a_press_on_a_rail_solves_again_and_shows_what_moved(dip):
    before = shown_grams(dip)
    press(dip, "_less_sour")
    assert document(dip)["target"]["sour"] < 1.6
    assert shown_grams(dip) != before
    assert "What moved" in text_of(dip)
    assert solved(Kitchen(), document(dip)).answer["quantities_g"] == shown_grams(dip)
    press(dip, "_undo")
    assert document(dip)["target"]["sour"] == 1.6
    assert shown_grams(dip) == before


def test_search_forgives_typing_errors_and_adds(dip):
    dip.text_input(key="_search").input("lime jiuce")
    run(dip)
    press(dip, "_add_09160")
    assert document(dip)["ingredients"][-1]["name"] == "lime juice"
    assert "lime juice" in shown_grams(dip)
    dip.text_input(key="_search").input("lime juice")
    run(dip)
    press(dip, "_add_09160")
    assert "same ingredient" in errors(dip)
    assert len(document(dip)["ingredients"]) == 11


def test_limits_lock_and_removal(dip):
    press(dip, "_adjust_garlic")
    dip.number_input(key="_max_g_garlic").set_value(4.0)
    run(dip)
    assert shown_grams(dip)["garlic"] <= 4.0 + 1e-6
    press(dip, "_lock")
    locked = document(dip)["ingredients"][5]["locked_g"]
    press(dip, "_more_volatile")
    assert shown_grams(dip)["garlic"] == pytest.approx(locked)
    press(dip, "_remove")
    assert "garlic" not in shown_grams(dip)


def test_a_minimum_over_its_maximum_is_said_beside_the_field_and_nothing_is_lost(dip):
    before = document(dip)
    press(dip, "_adjust_garlic")
    dip.number_input(key="_min_g_garlic").set_value(50.0)
    run(dip)
    assert "garlic" in errors(dip)
    assert "50" in errors(dip)
    assert document(dip) == before
    assert dip.number_input(key="_min_g_garlic").value == 50.0
    dip.number_input(key="_min_g_garlic").set_value(1.0)
    run(dip)
    assert errors(dip) == ""
    assert document(dip)["ingredients"][5]["min_g"] == 1.0


@pytest.mark.parametrize("value", [-3.0, 1e12])
def test_absurd_quantities_are_refused_with_a_sentence(dip, value):
    press(dip, "_adjust_garlic")
    dip.number_input(key="_draft_g_garlic").set_value(value)
    run(dip)
    assert "draft_g" in errors(dip) or "garlic" in errors(dip)
    assert document(dip)["ingredients"][5]["draft_g"] == 5


def test_strength_of_a_bottle_changes_the_answer(dip):
    before = shown_grams(dip)
    press(dip, "_adjust_rice vinegar")
    dip.number_input(key="_acetic_pct_rice vinegar").set_value(10.0)
    run(dip)
    assert document(dip)["ingredients"][2]["strength"] == {"acetic_pct": 10.0}
    assert shown_grams(dip) != before


def test_the_batch_can_be_made_larger(dip):
    press(dip, "_adjust_batch")
    dip.number_input(key="_yield_g").set_value(1000.0)
    run(dip)
    assert sum(shown_grams(dip).values()) == pytest.approx(1120.0, rel=1e-5)


def test_when_an_ingredient_goes_in_and_what_a_meter_would_read(dip):
    press(dip, "_adjust_ginger")
    before = dict(dip.session_state["solved"].outcome.answer["profile"]["volatile"])
    dip.selectbox(key="_goes_in_ginger").set_value("start")
    run(dip)
    assert document(dip)["ingredients"][4]["goes_in"] == "start"
    assert dip.session_state["solved"].outcome.answer["profile"]["volatile"] != before
    unfolded(dip, "_meter")
    answer = dip.session_state["solved"].outcome.answer
    assert f"{answer['ph']['value']:.2f} (" in text_of(dip)
    assert "degrees Brix" in text_of(dip)


def test_limits_that_contradict_say_what_would_have_to_give(dip):
    press(dip, "_adjust_plums")
    dip.number_input(key="_max_g_plums").set_value(250.0)
    run(dip)
    for label in ("brown sugar", "rice vinegar", "salt", "water"):
        press(dip, f"_adjust_{label}")
        dip.number_input(key=f"_max_g_{label}").set_value(1.0)
        run(dip)
    assert "contradict" in text_of(dip)
    assert "What would have to give" in text_of(dip)
    assert "no quantities" in text_of(dip)
    while dip.session_state["work"].past:
        press(dip, "_undo")
    assert shown_grams(dip)


def test_exact_levels_and_asking_nothing(dip):
    unfolded(dip, "_levels")
    dip.session_state["_exact"] = "salt"
    run(dip)
    dip.number_input(key="_low_salt").set_value(2.0)
    run(dip)
    assert document(dip)["target"]["salt"] == 2.0
    dip.number_input(key="_high_salt").set_value(2.5)
    run(dip)
    assert document(dip)["target"]["salt"] == {"low": 2.0, "high": 2.5, "weight": 1.0}
    dip.number_input(key="_low_salt").set_value(3.0)
    run(dip)
    assert "Put the lower end first" in errors(dip)
    press(dip, "_free_salt")
    assert "salt" not in document(dip)["target"]


def test_words_and_buttons_say_the_same(dip):
    dip.text_input(key="_words").input("less sour, a touch sweeter")
    run(dip)
    by_words = dict(dip.session_state["work"].steps)
    assert by_words == {"sweet": 1.0, "sour": -2.0}
    press(dip, "_unsay")
    for key in ("_lacks_sweet", "_too_sour", "_too_sour"):
        press(dip, key)
    assert dict(dip.session_state["work"].steps) == by_words
    dip.text_input(key="_words").input("less blue")
    run(dip)
    assert "blue" in errors(dip)
    assert dict(dip.session_state["work"].steps) == by_words


def test_a_tasting_answers_twice_and_the_pot_is_tasted_next(dip):
    press(dip, "_too_sour")
    press(dip, "_too_sour")
    expected = Kitchen().nudge(
        document(dip), dip.session_state["solved"].outcome.answer, {"sour": -2.0}
    )
    planned = shown_grams(dip)
    plan = Kitchen().how_to_add(expected).plan
    assert plan is not None
    weighed = dict.fromkeys(planned, 0.0)
    for addition in plan.additions:
        strength = 1.0 if addition.thinned is None else addition.thinned.strength
        weighed[addition.label] += strength * addition.weigh_g
        weighed["water"] += (1.0 - strength) * addition.weigh_g
        assert f"{addition.weigh_g:g} g" in text_of(dip)
    assert dip.button(key="_next")
    press(dip, "_added")
    in_pot = dict(dip.session_state["work"].made_g)
    for label, grams in planned.items():
        assert in_pot[label] == pytest.approx(grams + weighed[label], rel=1e-5)
    assert dip.session_state["work"].rounds[0].then == "pot"
    assert not dip.session_state["work"].steps


def test_weighed_quantities_count_in_a_tasting(dip):
    press(dip, "_too_sour")
    dip.toggle(key="_weighing").set_value(True)
    run(dip)
    dip.number_input(key="_made_rice vinegar").set_value(120.0)
    run(dip)
    expected = Kitchen().nudge(
        document(dip),
        dip.session_state["solved"].outcome.answer,
        {"sour": -1.0},
        made_g={"rice vinegar": 120.0},
    )
    press(dip, "_next")
    assert document(dip) == expected.next_batch.document
    assert dip.session_state["work"].rounds[0].said == "a touch less sour"


def test_save_load_rename_delete(dip):
    press(dip, "_save")
    press(dip, "_save_profile")
    assert [r.name for r in Kitchen().store.recipes()] == ["plum and ginger dip"]
    press(dip, "_more_salt")
    press(dip, "_save")
    assert Kitchen().store.recipe("plum and ginger dip").revision == 2
    saved = document(dip)
    press(dip, "_to_book")
    id_ = Kitchen().store.recipe("plum and ginger dip").id
    press(dip, f"_Rename_recipe {id_}")
    dip.text_input(key=f"_new_recipe {id_}").input("dip <b>'of' the / house")
    run(dip)
    press(dip, f"_do_rename_recipe {id_}")
    assert [r.name for r in Kitchen().store.recipes()] == ["dip <b>'of' the / house"]
    press(dip, f"_open_recipe_{id_}")
    assert document(dip) == saved
    press(dip, "_to_book")
    press(dip, "_aim_plum and ginger dip")
    assert document(dip)["target"]["body"] > 0
    press(dip, "_to_book")
    press(dip, f"_Delete_recipe {id_}")
    press(dip, f"_do_delete_recipe {id_}")
    assert Kitchen().store.recipes() == ()


def test_a_later_save_never_covers_an_earlier_one_silently(dip):
    press(dip, "_save")
    other = opened(address.written(dip.session_state["work"]))
    press(other, "_more_salt")
    press(other, "_save")
    assert Kitchen().store.recipe("plum and ginger dip").revision == 2
    press(dip, "_more_sour")
    press(dip, "_save")
    assert "saved meanwhile" in errors(dip)
    assert Kitchen().store.recipe("plum and ginger dip").revision == 2
    press(dip, "_save_over_save")
    assert Kitchen().store.recipe("plum and ginger dip").revision == 3


@pytest.mark.parametrize("name", ["", "x" * 10_000])
def test_names_that_cannot_be_kept_are_refused(dip, name):
    dip.text_input(key="_save_name").input(name)
    run(dip)
    press(dip, "_save")
    assert "name" in errors(dip).lower()
    assert Kitchen().store.recipes() == ()


def test_an_address_brings_the_draft_back(dip):
    press(dip, "_less_sour")
    letters = dip.query_params["draft"]
    letters = letters[0] if isinstance(letters, list) else letters
    again = opened(letters)
    assert document(again) == document(dip)
    assert shown_grams(again) == shown_grams(dip)


def test_a_damaged_address_says_so_and_leaves_a_way_on():
    at = opened("nonsense")
    assert "cannot be read" in errors(at)
    assert at.button(key="_house_plum-ginger-dip")


def test_a_sauce_of_ones_own():
    at = opened()
    at.text_input(key="_new_name").input("green sauce")
    press(at, "_begin")
    for word, key in (("parsley", None), ("olive oil", None), ("lemon juice", "_add_09152")):
        at.text_input(key="_search").input(word)
        run(at)
        first = next(b for b in at.button if str(b.key).startswith("_add_"))
        press(at, key or str(first.key))
    assert sum(shown_grams(at).values()) == pytest.approx(500.0, rel=1e-6)
    press(at, "_more_sour")
    assert document(at)["target"]["sour"] > 0
    press(at, "_save")
    assert "sour" in Kitchen().saved("green sauce")["request"]["target"]


def test_a_written_draft_with_an_unknown_name_is_not_lost():
    at = opened()
    at.text_area(key="_draft_text").input("200 g plums\n20 g unobtainium")
    press(at, "_paste_start")
    assert "line 2" in errors(at)
    assert "unobtainium" in text_of(at)
    assert "unobtainium" in at.text_area(key="_draft_text").value


def test_taking_everything_out_leaves_a_page_that_goes_on(dip):
    for entry in list(document(dip)["ingredients"]):
        press(dip, f"_adjust_{entry['name']}")
        press(dip, "_remove")
    assert document(dip)["ingredients"] == []
    dip.session_state["work"] = begun({**document(dip), "limits": {}})
    dip.text_input(key="_search").input("plums")
    run(dip)
    first = next(b for b in dip.button if str(b.key).startswith("_add_"))
    press(dip, str(first.key))
    assert shown_grams(dip)


def test_a_book_that_is_no_database_gets_a_sentence(dip, tmp_path):
    (tmp_path / "kitchen_book.db").write_bytes(b"not a database" * 100)
    press(dip, "_save")
    assert "not a database" in errors(dip)
    press(dip, "_to_book")
    assert "not a database" in errors(dip)


def test_the_tables_are_not_walked_through_after_every_rerun(dip):
    press(dip, "_more_sweet")
    assert gc.get_freeze_count() > len(Kitchen().catalogue.table)


def test_begun_keeps_the_house_sauce_unchanged():
    first = house_sauces()["plum-ginger-dip"]
    begun(first)
    assert first == house_sauces()["plum-ginger-dip"]
