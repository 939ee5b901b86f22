"""The page of the kitchen's own ingredients, run for real without a browser."""

from __future__ import annotations

import pytest
from conftest import errors, opened, press, run, text_of
from streamlit.testing.v1 import AppTest

from balancer.dashboard.following import unknown_of
from balancer.dashboard.making import Making
from balancer.kitchen import Kitchen
from balancer.own import Own

LABEL = "per 100 g: fat 0.2 g; carbohydrate 38 g, of which sugars 36 g; protein 0.4 g; salt 1.5 g"


@pytest.fixture
def page() -> AppTest:
    return press(opened(), "_to_own")


def _text(at: AppTest, key: str, value: str) -> AppTest:
    at.text_input(key=key).input(value)
    return run(at)


def _number(at: AppTest, key: str, value: float | None) -> AppTest:
    at.number_input(key=key).set_value(value)
    return run(at)


def _choose(at: AppTest, key: str, value: str) -> AppTest:
    at.radio(key=key).set_value(value)
    return run(at)


def _limes(at: AppTest, name: str = "my limes") -> AppTest:
    _text(at, "_own_name", name)
    _choose(at, "_own_stands", "of")
    _text(at, "_own_food", "lime juice")
    _number(at, "_own_acidity_pct", 7.0)
    return _number(at, "_own_ph", 2.3)


def test_a_label_as_text_shows_at_once_what_follows_and_is_kept(page: AppTest) -> None:
    _text(page, "_own_name", "plum sauce of the quay")
    _choose(page, "_own_label", "text")
    page.text_area(key="_own_text").input(LABEL + "\nlot 4711")
    run(page)
    said = text_of(page)
    assert "other sugars" in said
    assert "36 g" in said
    assert "label or reading" in said
    assert "Unknown, counted as none" in said
    assert "acids" in said
    assert "lot 4711" in said, "what was not read is shown"
    assert "No allergen is given" in said
    _text(page, "_own_allergens", "Soya, gluten")
    assert "soybean; wheat" in text_of(page)
    press(page, "_own_keep")
    assert errors(page) == ""
    assert "Kept" in page.success[0].value
    kept = Kitchen().own("plum sauce of the quay").own
    assert kept.label is not None
    assert kept.label.salt_g == 1.5
    assert kept.allergens == ("Soya", "gluten")
    assert page.session_state["making"] == Making()


def test_figure_by_figure_with_sodium(page: AppTest) -> None:
    _text(page, "_own_name", "bottle")
    _choose(page, "_own_label", "figures")
    page.selectbox(key="_own_form").set_value("US")
    run(page)
    _number(page, "_own_size", 15.0)
    _number(page, "_own_carbohydrate_g", 6.0)
    _number(page, "_own_sodium_mg", 300.0)
    assert "2000 mg" in text_of(page)
    _number(page, "_own_salt_g", 1.0)
    assert "Keep one" in errors(page)
    _number(page, "_own_salt_g", None)
    _number(page, "_own_size", -15.0)
    assert "serving size is -15" in errors(page)
    assert page.number_input(key="_own_carbohydrate_g").value == 6.0, "nothing typed is lost"


def test_my_limes_for_good_change_the_sauce(page: AppTest) -> None:
    _limes(page)
    page.toggle(key="_own_for_good").set_value(True)
    run(page)
    press(page, "_own_keep")
    assert errors(page) == ""
    assert "in place of lime juice" in page.success[0].value
    found = Kitchen().catalogue.by_key["09160"]
    assert found.ph == (2.3, 2.3)
    assert "in place of lime juice" in text_of(page)


def test_the_sauce_in_hand_is_solved_again_when_a_food_of_it_changes(dip: AppTest) -> None:
    before = dict(dip.session_state["solved"].outcome.answer["quantities_g"])
    Kitchen().save_own(Own("my plums", of="plums", brix=22.0), takes_place=True)
    run(dip)
    after = dict(dip.session_state["solved"].outcome.answer["quantities_g"])
    assert after != before
    Kitchen().delete_own("my plums")
    run(dip)
    assert dip.session_state["solved"].outcome.answer["quantities_g"] == before


def test_bad_input_keeps_what_was_typed(page: AppTest) -> None:
    press(page, "_own_keep")
    assert "no name" in errors(page)
    _text(page, "_own_name", "lime juice")
    _number(page, "_own_brix", 9.0)
    press(page, "_own_keep")
    assert "name of the pantry already" in errors(page)
    assert page.text_input(key="_own_name").value == "lime juice"
    _choose(page, "_own_stands", "of")
    assert "Name that food" in errors(page)
    _text(page, "_own_food", "lime jiuce")
    assert "Nearest: lime juice" in errors(page)
    assert "balancer pantry" not in errors(page)


def test_change_duplicate_rename_and_delete(page: AppTest) -> None:
    press(_limes(page), "_own_keep")
    press(page, "_own_edit_my limes")
    assert page.number_input(key="_own_ph").value == 2.3
    _number(page, "_own_ph", 2.5)
    press(page, "_own_keep")
    assert Kitchen().own("my limes").own.ph == 2.5
    assert Kitchen().own("my limes", 1).own.ph == 2.3, "the earlier one stays readable"
    press(page, "_own_copy_my limes")
    _text(page, "_own_new", "sharp limes")
    press(page, "_own_do")
    press(page, "_own_rename_sharp limes")
    _text(page, "_own_new", "limes of the quay")
    press(page, "_own_do")
    assert {i.name for i in Kitchen().own_ingredients()} == {"my limes", "limes of the quay"}
    press(page, "_own_delete_limes of the quay")
    press(page, "_own_do")
    assert [i.name for i in Kitchen().own_ingredients()] == ["my limes"]


def test_delete_is_refused_while_a_recipe_uses_it(page: AppTest) -> None:
    kitchen = Kitchen()
    kitchen.save_own(Own("my limes", of="lime juice", acidity_pct=7.0, ph=2.3))
    request = {
        "yield_g": 100,
        "ingredients": [{"name": "my limes", "draft_g": 20}, {"name": "water"}],
        "target": {"sour": 1.0},
    }
    kitchen.save("limeade", kitchen.solve(request))
    press(run(page), "_own_delete_my limes")
    press(page, "_own_do")
    assert "'my limes' is used by the recipe 'limeade'" in errors(page)
    assert len(Kitchen().own_ingredients()) == 1


def test_what_is_typed_survives_a_reload(page: AppTest) -> None:
    _limes(page)
    letters = page.query_params["making"]
    again = AppTest.from_file(str(page._script_path), default_timeout=60)
    again.query_params["page"] = "own"
    again.query_params["making"] = letters if isinstance(letters, str) else letters[0]
    run(again)
    assert again.text_input(key="_own_name").value == "my limes"
    assert again.number_input(key="_own_ph").value == 2.3
    assert again.radio(key="_own_stands").value == "of"


@pytest.mark.parametrize("letters", ["", "!!", "eJw", "a" * 4000, "4pyT"])
def test_a_damaged_address_is_nothing_typed(letters: str) -> None:
    assert Making.read(letters) == Making()


def test_what_is_kept_opens_as_it_was_typed() -> None:
    kitchen = Kitchen()
    kitchen.save_own(Own("my limes", of="lime juice", acidity_pct=7.0, ph=2.3, allergens=("fish",)))
    kept = kitchen.own("my limes")
    made = Making.of(kept, 1)
    assert made.own()[0] == kept.own
    assert Making.read(made.written()) == made


def test_unknown_in_words() -> None:
    found = Kitchen().infer(Own("syrup", brix=65.0)).ingredient
    unknown = unknown_of(found)
    assert "acids" in unknown
    assert "sugars" not in unknown
    assert "citric" not in unknown
