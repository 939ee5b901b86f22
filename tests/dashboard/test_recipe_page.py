"""The recipe page, run for real without a browser."""

from __future__ import annotations

import json
from typing import Any

import pytest
from conftest import APP, errors, opened, press, run, text_of
from streamlit.testing.v1 import AppTest

from balancer.choices import Style
from balancer.dashboard.handing import WAYS, Wanted, as_kept
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.export import FORMATS
from balancer.handover import Size, measured, rounding_words
from balancer.kitchen import Kitchen
from balancer.shopping import Pack


def page_of(key: str = "plum-ginger-dip") -> AppTest:
    return press(press(opened(), f"_house_{key}"), "_to_recipe")


def sheet(at: AppTest) -> Any:
    return at.session_state["results"]["sheet"][1]


@pytest.mark.parametrize("key", sorted(house_sauces()))
def test_every_house_sauce_has_its_recipe_and_all_its_files(key):
    at = page_of(key)
    kitchen = Kitchen()
    outcome = kitchen.solve(house_sauces()[key])
    found = measured(kitchen.catalogue, outcome)
    said = text_of(at)
    assert rounding_words(found) in said
    for step in sheet(at).recipe.method:
        assert step.split(",")[0] in said
    for check in sheet(at).recipe.checks:
        assert check.split(":")[0] in said
    pages = at.session_state["results"]["pages"][1]
    assert set(pages) == set(FORMATS)
    assert all(page.content for page in pages.values())
    assert len(at.get("download_button")) == len(FORMATS)
    assert "Calories" in said
    assert errors(at) == ""


def test_measures_follow_style_and_scale():
    at = page_of()
    metric = text_of(at)
    at.radio(key="_wanted_style").set_value(Style.US.value)
    run(at)
    assert text_of(at) != metric
    assert sheet(at).measured.largest_jnd < 1.0
    at.radio(key="_wanted_style").set_value(Style.WEIGHT.value)
    at.radio(key="_wanted_scale_g").set_value(0.1)
    run(at)
    grams = [c.grams for c in sheet(at).measured.chosen if c and c.kind == "weight"]
    assert all(abs(g * 10 - round(g * 10)) < 1e-6 or g < 0.1 for g in grams)


def test_the_size_changes_everything_on_the_page():
    at = page_of()
    at.radio(key="_wanted_way").set_value("servings")
    run(at)
    at.number_input(key="_size_servings").set_value(40.0)
    run(at)
    assert "size of a serving is missing" in errors(at)
    assert sheet(at).recipe.yield_g == pytest.approx(500.0, rel=0.02)
    at.number_input(key="_size_serving_g").set_value(25.0)
    run(at)
    assert errors(at) == ""
    assert sheet(at).recipe.yield_g == pytest.approx(1000.0, rel=0.02)
    assert "2 times, 1000 g in all." in text_of(at)
    assert "Per 25 g serving" in text_of(at)
    pages = at.session_state["results"]["pages"][1]
    kept = json.loads(pages["json"].content)
    assert kept["request"]["yield_g"] == 1000.0
    assert kept["request"]["target"] == house_sauces()["plum-ginger-dip"]["target"]
    assert b"servings of 25 g" in pages["markdown"].content


def test_all_the_plums_go_in():
    at = page_of()
    at.radio(key="_wanted_way").set_value("all I have of")
    run(at)
    at.selectbox(key="_stock").set_value("plums")
    run(at)
    at.number_input(key="_size_stock_g").set_value(820.0)
    run(at)
    assert "All of the plums goes in." in text_of(at)
    grams = sheet(at).outcome.answer["quantities_g"]["plums"]
    assert grams == pytest.approx(820.0, rel=1e-3)


def test_shopping_for_two_sauces_with_stock_and_prices():
    kitchen = Kitchen()
    kitchen.save("chutney", kitchen.solve(house_sauces()["pineapple-mustard-chutney"]))
    at = page_of()
    at.toggle(key="_shop").set_value(True)
    run(at)
    assert "as purchased, for" in text_of(at)
    assert "pineapple" not in text_of(at)
    at.multiselect(key="_others").set_value(["chutney"])
    run(at)
    assert "pineapple" in text_of(at)
    at.text_area(key="_wanted_have").set_value("salt 5000 g")
    at.text_area(key="_wanted_prices").set_value("plums: 3.20 / 1000\nsalt 1 for 1000 g")
    run(at)
    assert errors(at) == ""
    assert "salt: nothing to buy, 5000 g is there" in text_of(at)
    assert "a batch of 500 g" in text_of(at)
    at.text_area(key="_wanted_prices").set_value("plums are dear")
    run(at)
    assert "'plums are dear' cannot be read" in errors(at)
    at.text_area(key="_wanted_prices").set_value("moonlight 3 for 100 g")
    run(at)
    assert "'moonlight' is in none of these recipes" in errors(at)


#: Field that can be wrong, the way to it, numbers that no kitchen means, and what each is called.
REFUSED = [
    ("as it is", "_nutrition_serving_g", (-30.0, 0.0, 5001.0), "The serving is {:g} g."),
    ("a mass", "_size_yield_g", (0.0, -5.0), "The finished mass is {:g} g."),
    ("a mass", "_size_yield_g", (1e9,), "The new batch is 2e+06 times the old one."),
    ("servings", "_size_servings", (0.0, -2.0), "The number of servings is {:g}."),
    ("servings", "_size_serving_g", (-30.0,), "The serving is {:g} g."),
    ("jars", "_size_jars", (0.0,), "The number of jars is {:g}."),
    ("jars", "_size_jar_ml", (-200.0,), "The jar is {:g} mL."),
    ("a pan", "_size_pan_ml", (0.0, -1.0), "The pan is {:g} mL."),
    ("all I have of", "_size_stock_g", (0.0,), "The stock is {:g} g."),
]
#: A size that can be had, by its way.
GOOD = {
    "a mass": {"yield_g": 900.0},
    "servings": {"servings": 40.0, "serving_g": 25.0},
    "jars": {"jars": 4.0, "jar_ml": 200.0},
    "a pan": {"pan_ml": 3000.0},
    "all I have of": {"stock": "plums", "stock_g": 820.0},
}


@pytest.mark.parametrize(("way", "key", "numbers", "sentence"), REFUSED)
def test_a_bad_number_is_refused_at_its_field_and_the_last_good_one_counts(
    way, key, numbers, sentence
):
    at = page_of()
    at.session_state["typed"] = {"recipe": {"way": way, "serving_g": 20.0, **GOOD.get(way, {})}}
    run(at)
    assert errors(at) == ""
    before, asked = text_of(at), dict(at.session_state["typed"]["recipe"])
    files = {f: p.content for f, p in at.session_state["results"]["pages"][1].items()}
    for number in numbers:
        at.number_input(key=key).set_value(number)
        run(at)
        said = [e.value for e in at.error]
        assert len(said) == 1
        assert said[0].startswith(sentence.format(number))
        assert at.number_input(key=key).value == number, "what was typed stays to be mended"
        assert text_of(at) == before, "something else of the page changed"
        assert dict(at.session_state["typed"]["recipe"]) == asked
        assert len(at.get("download_button")) == len(FORMATS)
        assert (
            files.items()
            <= {f: p.content for f, p in at.session_state["results"]["pages"][1].items()}.items()
        )
    good = asked[key.removeprefix("_size_").removeprefix("_nutrition_")]
    at.number_input(key=key).set_value(good)
    run(at)
    assert errors(at) == ""
    assert text_of(at) == before


def test_the_sentence_stands_under_its_own_field():
    at = page_of()
    at.number_input(key="_nutrition_serving_g").set_value(-30.0)
    run(at)
    order = [getattr(e, "key", None) or e.type for e in at.main]
    assert "error" not in order[: order.index("_nutrition_serving_g")]
    assert order[order.index("_nutrition_serving_g") + 1] == "error"


def test_what_was_refused_is_gone_after_leaving_undoing_and_a_reload():
    at = page_of()
    at.number_input(key="_nutrition_serving_g").set_value(-30.0)
    run(at)
    press(press(at, "_to_sauce"), "_to_recipe")
    assert at.number_input(key="_nutrition_serving_g").value is None
    assert errors(at) == ""
    press(press(press(at, "_to_sauce"), "_more_salt"), "_to_recipe")
    at.number_input(key="_nutrition_serving_g").set_value(0.0)
    run(at)
    press(at, "_undo")
    assert at.number_input(key="_nutrition_serving_g").value is None
    assert errors(at) == ""
    assert "Calories" in text_of(at)


def test_the_same_number_put_right_in_its_other_field_takes_the_sentence_away():
    at = page_of()
    at.radio(key="_wanted_way").set_value("servings")
    run(at)
    at.number_input(key="_nutrition_serving_g").set_value(-30.0)
    run(at)
    assert "The serving is -30 g" in errors(at)
    at.number_input(key="_size_serving_g").set_value(25.0)
    run(at)
    assert errors(at) == ""
    assert at.number_input(key="_nutrition_serving_g").value == 25.0


def test_an_address_with_bad_numbers_still_shows_the_recipe():
    """An address that an earlier version wrote, or that a cook changed by hand."""
    bad = {"way": "a mass", "yield_g": 0.0, "serving_g": -30.0, "batches": -1.0, "jars": 3.0}
    assert as_kept(bad) == Wanted(way="a mass", jars=3.0)
    at = page_of()
    at.session_state["typed"] = {"recipe": bad}
    run(at)
    assert errors(at) == ""
    assert "Calories" in text_of(at)
    assert len(at.get("download_button")) == len(FORMATS)


def test_no_batches_leave_the_list_as_it_was():
    at = page_of()
    at.toggle(key="_shop").set_value(True)
    run(at)
    before = text_of(at)
    assert "as purchased, for" in before
    at.number_input(key="_batches").set_value(-2.0)
    run(at)
    assert "The number of batches is -2. Give more than zero, up to 10000." in errors(at)
    assert text_of(at) == before


def test_what_stands_on_the_recipe():
    at = page_of()
    at.toggle(key="_more_options").set_value(True)
    run(at)
    at.text_input(key="_wanted_taster").set_value("Cook on the late shift")
    at.radio(key="_wanted_panels").set_value("both")
    run(at)
    page = at.session_state["results"]["pages"][1]["markdown"].content.decode()
    assert "Last tasted: by Cook on the late shift." in page
    assert "Nutrition in the EU form" in page
    at.text_input(key="_wanted_made_on").set_value("2031-05-09")
    at.text_input(key="_wanted_use_by").set_value("2031-05-02")
    run(at)
    assert "lies before the day it was made" in errors(at)
    assert not at.get("download_button")
    at.radio(key="_wanted_form").set_value("eu")
    run(at)
    assert "of which sugars" in text_of(at)


def test_without_a_sauce_a_recipe_can_still_be_brought_back():
    at = press(opened(), "_to_bring")
    assert any("No sauce is in hand" in m.value for m in at.markdown)
    assert at.get("file_uploader")
    assert errors(at) == ""


def test_a_sauce_without_quantities_says_so(dip):
    work = dip.session_state["work"]
    emptied = {**work.document, "ingredients": []}
    dip.session_state["work"] = work.changed(emptied, {})
    run(dip)
    press(dip, "_to_recipe")
    assert any("no quantities yet" in m.value for m in dip.markdown)


@pytest.mark.parametrize(
    ("typed", "size"),
    [
        (Wanted(), None),
        (Wanted(way="a mass"), None),
        (Wanted(way="a mass", yield_g=900.0), Size(yield_g=900.0)),
        (Wanted(way="jars", jars=3, jar_ml=200.0, yield_g=9.0), Size(jars=3, jar_ml=200.0)),
        (Wanted(way="a pan", pan_ml=3000.0), Size(pan_ml=3000.0)),
        (Wanted(way="all I have of", stock_g=820.0), None),
    ],
)
def test_only_the_way_that_is_chosen_counts(typed, size):
    assert typed.size() == size
    assert typed.way in WAYS


@pytest.mark.parametrize(
    ("text", "name", "price", "grams"),
    [
        ("sugar 1.35 for 1000 g", "sugar", 1.35, 1000.0),
        ("brown sugar = 1.35/1000", "brown sugar", 1.35, 1000.0),
        ("rice vinegar: 2 per 500g", "rice vinegar", 2.0, 500.0),
    ],
)
def test_prices_as_a_cook_writes_them(text, name, price, grams):
    assert Wanted(prices=text).packs() == {name: Pack(price, grams)}
    assert Wanted(have=f"{name} {grams:g} g\n\n").have_g() == {name: grams}


@pytest.mark.parametrize("line", ["sugar", "1000", "sugar 1.35 for much", "sugar x 1"])
def test_a_line_that_cannot_be_read_is_named(line):
    with pytest.raises(BadInput, match="cannot be read"):
        Wanted(prices=line).packs()


def test_a_reload_keeps_how_the_recipe_is_wanted():
    at = page_of()
    at.radio(key="_wanted_style").set_value("weight")
    run(at)
    again = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in at.query_params.items():
        again.query_params[name] = value
    run(again)
    assert again.radio(key="_wanted_style").value == "weight"
