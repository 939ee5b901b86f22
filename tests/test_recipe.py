"""A saved answer read as a recipe."""

from __future__ import annotations

import copy
import math
from dataclasses import replace
from typing import Any

import pytest

from balancer.catalogue import Catalogue
from balancer.composition import Part
from balancer.errors import BadInput
from balancer.recipe import (
    CODES_SENTENCE,
    STAGES,
    Line,
    Measure,
    Order,
    Panel,
    ProfileRow,
    Recipe,
    Waters,
    default_method,
    from_document,
    target_checks,
)
from balancer.recipe.parts import water_lost_g

QUANTITIES = {"plums": 376.0, "brown sugar": 84.0, "rice vinegar": 62.0, "salt": 6.0}
DOCUMENT: dict[str, Any] = {
    "request": {"yield_g": 448, "water_lost_g": 80},
    "answer": {
        "status": "on_target",
        "quantities_g": QUANTITIES,
        "final_mass_g": 448.0,
        "profile": {
            "sweet": {
                "reached": 20.1,
                "target": 20.0,
                "unit": "g sucrose eq. per 100 g",
                "deviation_jnd": 0.03,
                "unknown": [],
                "assumed": ["plums"],
            },
            "sour": {
                "reached": 0.9,
                "target": {"low": 1.0, "high": 1.4, "weight": 2},
                "unit": "g citric eq. per 100 g",
                "deviation_jnd": -0.5,
            },
            "fat": {"reached": 0.2, "target": None, "unit": "g per 100 g", "deviation_jnd": None},
        },
        "cautions": ["Sour enough is not the same as safe to keep."],
        "resolved": {
            "plums": {"key": "09279", "name": "Plums, raw"},
            "salt": {"key": "02047", "name": "salt"},
        },
    },
}
MEASURES = {"02047": [Measure(1, "tsp", 6.0)], "09279": [Measure(1, "fruit", 66.0)]}


def recipe(**changes: Any) -> Recipe:
    document = copy.deepcopy(DOCUMENT)
    document["answer"] |= changes.pop("answer", {})
    return from_document("plum dip", document | changes, MEASURES, date="2031-05-02", revision=3)


def test_lines_are_heaviest_first_with_measures_beside() -> None:
    lines = recipe().lines
    assert [line.name for line in lines] == ["plums", "brown sugar", "rice vinegar", "salt"]
    assert [line.grams for line in lines] == [376.0, 84.0, 62.0, 6.0]
    assert lines[0] == Line("plums", "09279", 376.0, "about 5 1/2 whole", "start")
    assert lines[1] == Line("brown sugar", "", 84.0, "", "start")
    assert lines[3].measure == "1 tsp"


def test_head_and_balance() -> None:
    made = recipe()
    assert (made.name, made.date, made.revision) == ("plum dip", "2031-05-02", 3)
    assert made.yield_g == 448.0
    assert made.batch_g == 528.0
    assert made.water_lost_g == 80.0
    sweet, sour, fat = made.profile
    assert (sweet.reached, sweet.target, sweet.deviation_jnd) == (20.1, 20.0, 0.03)
    assert sweet.unit == "g sucrose eq. per 100 g"
    assert sweet.assumed == ("plums",)
    assert sour.target == (1.0, 1.4)
    assert sour.unknown == ()
    assert (fat.target, fat.deviation_jnd) == (None, None)
    assert made.cautions == ("Sour enough is not the same as safe to keep.",)
    assert "Local codes and licensed practice decide" in CODES_SENTENCE


def test_axes_come_in_the_order_of_the_project() -> None:
    profile = DOCUMENT["answer"]["profile"]
    mixed = {axis: profile[axis] for axis in ("fat", "sour", "sweet")} | {"crunch": profile["fat"]}
    made = recipe(answer={"profile": mixed})
    assert [row.axis for row in made.profile] == ["sweet", "sour", "fat", "crunch"]


def test_only_names_taken_for_others_are_told() -> None:
    assert recipe().resolved == ("plums: Plums, raw (09279)",)
    assert recipe(answer={"resolved": {}}).resolved == ()


def test_a_half_open_band() -> None:
    profile = {"sour": {"reached": 1.0, "target": {"low": 0.8}, "unit": "g", "deviation_jnd": 0.0}}
    assert recipe(answer={"profile": profile}).profile[0].target == (0.8, math.inf)


def test_what_cannot_be_weighed_is_left_out() -> None:
    made = recipe(answer={"quantities_g": {**QUANTITIES, "saffron": 0.0001, "water": 0.0}})
    assert [line.name for line in made.lines] == list(QUANTITIES)


def test_shown_weights_add_up_to_the_batch() -> None:
    made = recipe(
        answer={
            "quantities_g": {"plums": 166.4, "walnuts": 166.4, "water": 167.2},
            "final_mass_g": 500.0,
        }
    )
    assert made.shown_g == (167.0, 167.0, 166.0)
    assert sum(made.shown_g) == 500.0
    assert made.water_lost_g == 0.0
    assert {line.stage for line in made.lines} == {"raw"}


@pytest.mark.parametrize(
    ("batch_g", "yield_g", "lost_g"),
    [
        (528.0, 527.9946, 0.0054),
        (528.0, 527.9948, 0.0),
        (10.0, 9.9994, 0.0006),
        (10.0, 9.9996, 0.0),
        (400.0, 400.5, 0.0),
    ],
)
def test_water_that_no_scale_shows_is_none(batch_g: float, yield_g: float, lost_g: float) -> None:
    """More than half a milligram and than a hundred-thousandth of the batch."""
    lines = [Line("plums", "", batch_g - 3.0, ""), Line("salt", "", 5.0, "", taken_out_g=2.0)]
    assert water_lost_g(lines, yield_g) == pytest.approx(lost_g, abs=1e-9)


def test_a_line_says_nothing_of_itself() -> None:
    line = Line("plums", "", 50.0, "")
    assert (line.stage, line.allergens, line.taken_out_g, line.prepared) == ("raw", (), 0.0, False)
    assert line.pot_g == 50.0
    assert Line("plums", "", 50.0, "", taken_out_g=8.0).pot_g == 50.0
    assert Line("plums", "", 50.0, "", taken_out_g=8.0, prepared=True).pot_g == 42.0


def test_a_plain_recipe_says_nothing_of_itself() -> None:
    plain = Recipe("dip", (), 100.0, (), (), (), (), "", 1)
    assert (plain.checks, plain.caution_sources, plain.allergens, plain.unread) == ((),) * 4
    assert (plain.nutrition, plain.nutrition_notes, plain.notes) == ((),) * 3
    assert (plain.tasted, plain.image, plain.document) == ("", "", {})
    assert plain.waters == Waters()
    assert (plain.batch_g, plain.taken_out_g, plain.servings) == (0.0, 0.0, None)
    row = ProfileRow("sweet", 20.0, None, "g", None)
    assert (row.unknown, row.assumed) == ((), ())


def test_strips_serve_to_the_tenth() -> None:
    """21 CFR 114.90 names 4.0; a computed pH of 3.7 may err by 0.3."""
    assert Waters((3.5, 3.4, 3.7)).strips_serve
    assert not Waters((3.5, 3.4, 3.71)).strips_serve
    assert Waters((3.5, 4.4, 3.0)).strips_serve, "the high end decides"
    assert not Waters().strips_serve
    assert Waters() == Waters(None, None, None, None, None)


def test_notes_of_two_labels_are_told_once() -> None:
    made = replace(
        recipe(),
        nutrition=(Panel(Order.US, (), ("one", "two")), Panel(Order.EU, (), ("two", "three"))),
    )
    assert made.nutrition_notes == ("one", "two", "three")


def test_the_document_is_kept_but_not_shown() -> None:
    made = recipe()
    assert made.document["answer"]["final_mass_g"] == 448.0
    assert "quantities_g" not in repr(made)
    assert hash(made) == hash(replace(made, document={})), "recipes may be kept in a set"


def test_every_stage_of_the_request_is_kept_though_no_water_leaves() -> None:
    """In the order of the work, with the words that a cook reads."""
    words = {"start": "simmered", "late": "last minutes", "raw": "off the heat"}
    assert list(STAGES.items()) == list(words.items())
    names = ["plums", "brown sugar", "rice vinegar"]
    entries = [{"name": n, "goes_in": s} for n, s in zip(names, words, strict=True)]
    made = recipe(request={"ingredients": entries}, answer={"final_mass_g": 528.0})
    assert [line.stage for line in made.lines] == ["start", "late", "raw", "raw"]


# --- method -------------------------------------------------------------------------------------
def test_the_method_of_the_cook_wins() -> None:
    assert recipe(method=["  Char the plums. ", "", "Blend."]).method == (
        "Char the plums.",
        "Blend.",
    )
    assert recipe(method=[]).method == default_method(recipe().lines, 448.0)


def method(quantities: dict[str, float], yield_g: float) -> str:
    stage = "start" if sum(quantities.values()) > yield_g else "raw"
    lines = [Line(name, "", grams, "", stage) for name, grams in quantities.items()]
    return "\n".join(default_method(lines, yield_g))


def test_the_method_of_a_cooked_sauce_names_the_mass_to_reach() -> None:
    text = method({"plums": 380, "brown sugar": 84, "rice vinegar": 60, "salt": 4}, 448)
    assert "Weigh the empty pot" in text
    assert "weigh everything in.\nStir until brown sugar and salt have dissolved.\n" in text
    assert "add the rest" not in text, "everything is in the pot already"
    assert "until the contents of the pot weigh 448 g: about 80.0 g of water leaves" in text
    assert "Cool it quickly and chill it" in text
    assert text.endswith("Label the tub with the name, the date and the allergens.")


def test_the_method_of_a_raw_sauce_does_not_heat_it() -> None:
    text = method({"red peppers": 300, "walnuts": 100}, 400)
    assert "Simmer" not in text
    assert "pot" not in text
    assert "Mix everything evenly." in text
    assert "Chill it unless" in text


def test_a_thickener_is_stirred_smooth_and_cooked() -> None:
    text = method({"water": 300, "cornstarch": 12, "sugar": 50}, 362)
    assert "weigh in water and sugar.\nStir until sugar has dissolved.\nWeigh cornstarch apart" in (
        text
    )
    assert "apart, stir it smooth with a little of the liquid, cold, and stir that into the" in text
    assert "until it thickens; replace the water that leaves, to 362 g in all" in text


def test_seeds_are_neither_powders_nor_prepared_mustard() -> None:
    text = method({"mustard seed": 10, "mustard": 20, "onion powder": 3}, 33)
    assert "Stir onion powder into mustard until no lumps are left; add the rest." in text


def test_one_ingredient_is_not_mixed() -> None:
    assert "Mix" not in method({"honey": 100}, 100)
    assert "Mix" not in method({"plums": 100}, 80)
    assert "until no lumps are left." in method({"water": 200, "salt": 4}, 204)


def staged(stages: dict[str, str], yield_g: float) -> str:
    lines = [Line(name, "", 100.0, "", stage) for name, stage in stages.items()]
    return "\n".join(default_method(lines, yield_g))


def test_the_method_follows_the_stages_and_stops_before_what_is_added() -> None:
    text = staged({"plums": "start", "water": "start", "ginger": "late", "lime juice": "raw"}, 340)
    assert "weigh in plums and water." in text
    assert "until the contents of the pot weigh 140 g: about 60.0 g of water leaves" in text
    assert "Stir in ginger for the last minutes.\nOff the heat, stir in lime juice; the" in text
    assert "stir in lime juice; the contents of the pot then weigh 340 g." in text
    assert text.index("Simmer") < text.index("ginger") < text.index("lime juice")


def test_late_additions_alone_name_the_final_weight() -> None:
    text = staged({"plums": "start", "ginger": "late"}, 150)
    assert "weigh 50.0 g" in text
    assert "Stir in ginger for the last minutes; the contents of the pot then weigh 150 g." in text


def test_every_stage_alone_gives_a_method() -> None:
    for stage in ("raw", "late", "start"):
        for yield_g in (200.0, 150.0):
            text = staged({"plums": stage, "ginger": stage}, yield_g)
            assert ("simmer" in text.lower()) == (stage != "raw" or yield_g < 200.0)
            assert text.count("ginger") <= 1


def test_more_water_than_the_start_holds_never_asks_for_a_weight_below_zero() -> None:
    text = staged({"plums": "start", "water": "raw"}, 90.0)
    assert "until about 110 g of water has left" in text


def test_what_is_taken_out_is_no_water_and_is_told() -> None:
    lines = [
        Line("water", "", 300.0, "", "start"),
        Line("star anise", "", 10.0, "", "start", taken_out_g=9.0),
        Line("spinach", "", 100.0, "", "late", taken_out_g=60.0, prepared=True),
    ]
    text = "\n".join(default_method(lines, 241.0))
    assert "Wilt, cook down or purée spinach (about 60.0 g) before it goes in" in text
    assert "until the contents of the pot weigh 210 g: about 100 g of water leaves" in text
    assert text.index("Stir in spinach") < text.index("sieve off what is left of star anise")
    assert "star anise (about 9.0 g); the contents of the pot then weigh 241 g." in text


def test_without_heat_nothing_is_said_of_dissolving_in_a_pot() -> None:
    text = method({"water": 100, "sugar": 10, "walnuts": 20}, 130)
    assert "Stir sugar into water until no lumps are left; add the rest." in text
    assert "dissolved" not in text


def test_sugar_without_a_liquid_is_mixed() -> None:
    assert "Mix everything evenly." in method({"plums": 100, "sugar": 10}, 100)


@pytest.mark.parametrize(
    "name",
    ["star anise", "bay leaf", "Bay leaves", "cinnamon stick", "whole cloves", "cloves"],
)
def test_a_whole_spice_that_simmers_is_taken_out(name: str) -> None:
    """Nobody should bite on one; common practice, no source."""
    stages = {"plums": "start", name: "start", "ginger": "late", "lime juice": "raw"}
    text = staged(stages, 380.0)
    assert f"last minutes.\nTake out the {name}.\nOff the heat, stir in lime juice; the" in text
    last = staged({"plums": "start", name: "start", "ginger": "late"}, 280.0)
    assert f"Take out the {name}; the contents of the pot then weigh 280 g." in last
    alone = staged({"plums": "start", name: "start"}, 180.0)
    assert f"about 20.0 g of water leaves.\nTake out the {name}.\nTaste" in alone


@pytest.mark.parametrize(
    "name",
    ["ground star anise", "cloves, ground", "cinnamon", "garlic cloves", "cinnamon stick powder"],
)
def test_what_is_ground_stays_in(name: str) -> None:
    assert "Take out" not in staged({"plums": "start", name: "start"}, 180.0)


def test_a_whole_spice_that_does_not_simmer_or_is_sieved_off_is_not_taken_out_twice() -> None:
    assert "Take out" not in staged({"plums": "start", "bay leaf": "raw"}, 180.0)
    out = Line("star anise", "", 10.0, "", "start", taken_out_g=9.0)
    text = "\n".join(default_method([Line("water", "", 300.0, "", "start"), out], 291.0))
    assert text.count("Take out") == 1
    measured = [Line("water", "", 300.0, "", "start")]
    measured += [Line("cloves", "", 1.0, "1/2 tsp, ground", "start")]
    assert "Take out" not in "\n".join(default_method(measured, 291.0))


def test_what_is_taken_out_is_read_from_the_answer() -> None:
    entries = [{"name": "plums", "yield": 0.9}, {"name": "rice vinegar", "taken_out": True}]
    made = recipe(
        answer={"taken_out_g": {"plums": 37.0, "rice vinegar": 3.0}},
        request={"ingredients": entries, "simmer": {"minutes": 35}},
    )
    assert made.water_lost_g == pytest.approx(40.0)
    assert made.taken_out_g == 40.0
    out = {line.name: (line.taken_out_g, line.prepared) for line in made.lines}
    assert out["plums"] == (37.0, True)
    assert out["rice vinegar"] == (3.0, False)
    assert (made.prep_min, made.cook_min) == (None, 35.0)
    none_lost = recipe(answer={"taken_out_g": {"plums": 80.0}})
    assert none_lost.water_lost_g == 0.0
    assert {line.stage for line in none_lost.lines} == {"raw"}


def test_stages_come_from_the_request() -> None:
    entries = [{"name": " salt ", "goes_in": "raw"}, {"name": "plums", "goes_in": "late"}]
    made = recipe(request={"ingredients": [*entries, {"name": "rice vinegar"}, "x"]})
    assert {line.name: line.stage for line in made.lines} == {
        "plums": "late",
        "brown sugar": "start",
        "rice vinegar": "start",
        "salt": "raw",
    }


WASH = "Wash, peel and cut what needs it; every weight is of the part that is eaten."
TASTE = "Taste it at the temperature it will be served at; write down in grams whatever you add."
LABEL = "Label the tub with the name, the date and the allergens."


def test_a_whole_method_without_heat() -> None:
    """The order of the work is common practice, no source."""
    lines = [Line(name, "", 100.0, "") for name in ("red peppers", "walnuts", "parsley")]
    assert default_method(lines, 300.0) == (
        WASH,
        "Weigh everything; the spoons and cups beside the grams are a guide only.",
        "Mix everything evenly.",
        TASTE,
        "Chill it unless it is served at once.",
        LABEL,
    )


def test_a_whole_method_on_the_heat() -> None:
    """400 g of which 60 g boil off; what is added last is 100 g of the 340 g."""
    lines = [
        Line("plums", "", 150.0, "", "start"),
        Line("shallots", "", 100.0, "", "start"),
        Line("ginger", "", 50.0, "", "start"),
        Line("lime juice", "", 60.0, "", "raw"),
        Line("mint", "", 25.0, "", "raw"),
        Line("basil", "", 15.0, "", "raw"),
    ]
    assert default_method(lines, 340.0) == (
        WASH,
        "Weigh the empty pot and write its weight down; then weigh in plums, shallots and ginger.",
        "Mix everything evenly.",
        "Simmer, stirring, until the contents of the pot weigh 240 g: about 60.0 g of water"
        " leaves.",
        "Off the heat, stir in lime juice, mint and basil; the contents of the pot then weigh"
        " 340 g.",
        TASTE,
        "Cool it quickly and chill it unless it is served at once.",
        LABEL,
    )


@pytest.mark.parametrize(
    ("stages", "first", "then"),
    [
        ({"plums": "start", "mint": "raw"}, "weigh in plums.", "Off the heat, stir in mint; the"),
        ({"plums": "start", "ginger": "late"}, "weigh in plums.", "ginger for the last minutes;"),
        ({"plums": "raw", "ginger": "late"}, "weigh in plums.", "ginger for the last minutes;"),
        ({"plums": "late", "ginger": "late"}, "weigh everything in.", "Bring it to a simmer,"),
        ({"plums": "start", "ginger": "start"}, "weigh everything in.", "Bring it to a simmer,"),
    ],
)
def test_heat_is_told_though_no_water_leaves(stages: dict[str, str], first: str, then: str) -> None:
    text = staged(stages, 200.0)
    assert f"Weigh the empty pot and write its weight down; then {first}" in text
    assert "Bring it to a simmer, stirring; replace the water that leaves." in text
    assert then in text
    assert "Cool it quickly and chill it" in text


@pytest.mark.parametrize(
    ("out", "before"),
    [
        ({"star anise"}, "Off the heat"),
        ({"bay leaf"}, "; the contents of the pot then weigh"),
        ({"star anise", "bay leaf"}, "; the contents of the pot then weigh"),
    ],
)
def test_what_is_taken_out_leaves_after_it_went_in(out: set[str], before: str) -> None:
    """What steeps off the heat leaves at the end; what cooked leaves before the rest goes in."""
    stages = {"water": "start", "star anise": "start", "ginger": "late", "bay leaf": "raw"}
    lines = [
        Line(n, "", 100.0, "", stage, taken_out_g=5.0 if n in out else 0.0)
        for n, stage in stages.items()
    ]
    text = "\n".join(default_method(lines, 400.0 - 5.0 * len(out)))
    taken = text.index("Take out or sieve off")
    assert text.index("Stir in ginger") < taken < text.index(before)
    assert (taken > text.index("Off the heat")) == ("bay leaf" in out)


def test_the_least_that_a_scale_shows_is_told() -> None:
    def said(taken_out_g: float) -> str:
        line = Line("spinach", "", 100.0, "", "start", (), taken_out_g, prepared=True)
        return "\n".join(default_method([line, Line("water", "", 50.0, "", "start")], 150.0))

    assert "Wilt, cook down or purée spinach" in said(0.0005)
    assert "Wilt" not in said(0.0004)


# --- checks, readings, servings -----------------------------------------------------------------
def test_a_strip_is_named_only_where_the_ph_stays_at_four_or_below() -> None:
    lines = [Line("plums", "", 500.0, "", "start")]

    def said(low: float, value: float, high: float) -> str:
        return "\n".join(target_checks(lines, 400.0, Waters((value, low, high), 4.2, 26.14)))

    assert "Test strip or pH meter: computed pH 3.4, between 3.2 and 3.6" in said(3.2, 3.4, 3.6)
    for high in (3.8, 4.15, 5.0):  # 0.3 is what a computed pH may err by
        text = said(3.2, 3.5, high)
        assert "\npH meter: computed pH 3.5" in text
        assert "A test strip will not do above pH 4.0." in text
    assert "it must read 4.2 or below" in said(3.2, 3.4, 3.6)
    assert "about 26 °Bx" in said(3.2, 3.4, 3.6)
    assert "Above that, simmer on; below it, add water." in said(3.2, 3.4, 3.6)
    assert target_checks(lines, 400.0, Waters((3.2, 3.1, 3.3)))[1:] == (
        "Test strip or pH meter: computed pH 3.2, between 3.1 and 3.3.",
    )
    assert target_checks(lines, 500.0, Waters()) == ("Scale: the finished sauce weighs 500 g.",)


def test_readings_servings_and_times_are_read() -> None:
    made = recipe(
        request={"limits": {"serving_g": 28.0, "ph_max": 4.0}},
        answer={
            "ph": {"value": 3.6, "low": 3.1, "high": 3.9},
            "brix": 26.1,
            "acidity_pct_citric": 1.14,
            "water_activity": 0.963,
            "final_volume_ml": 402.0,
        },
        times_min={"prep": 15, "cook": 25},
    )
    assert made.waters == Waters((3.6, 3.1, 3.9), 4.0, 26.1, 1.14, 0.963)
    assert (made.serving_g, made.servings, made.yield_ml) == (28.0, 16.0, 402.0)
    assert (made.prep_min, made.cook_min) == (15.0, 25.0)
    plain = recipe()
    assert plain.waters == Waters()
    assert (plain.serving_g, plain.servings, plain.prep_min, plain.yield_ml) == (None,) * 4


def test_what_is_not_said_stays_empty() -> None:
    made = from_document("plum dip", DOCUMENT, MEASURES)
    assert (made.date, made.revision, made.tasted) == ("", 1, "")
    assert made.notes == ()
    assert recipe(answer={"notes": ["The pH is assumed."]}).notes == ("The pH is assumed.",)


def test_nothing_takes_no_time() -> None:
    assert recipe(times_min={"prep": 0, "cook": 0}).prep_min == 0.0
    assert recipe(times_min={"prep": 0, "cook": 0.5}).cook_min == 0.5
    assert recipe(request={"simmer": {"minutes": 0}}).cook_min == 0.0


def test_readings_below_zero_are_kept_but_no_mass_is() -> None:
    """A deviation is negative under the target; 1e9 is the largest figure of a recipe."""
    profile = {"sour": {"reached": -1e9, "target": {"high": 1.4}, "deviation_jnd": -2.5}}
    row = recipe(answer={"profile": profile}).profile[0]
    assert (row.reached, row.target, row.deviation_jnd) == (-1e9, (-math.inf, 1.4), -2.5)
    assert row.unit == ""
    assert recipe(answer={"brix": -0.2}).waters.brix == -0.2
    with pytest.raises(BadInput, match="for sour"):
        recipe(answer={"profile": {"sour": {"reached": 1.1e9}}})


def test_the_most_that_a_method_may_hold_is_read() -> None:
    assert len(recipe(method=["Stir."] * 200).method) == 200
    assert recipe(method=["x" * 2000]).method == ("x" * 2000,)
    for method in (["Stir."] * 201, ["x" * 2001]):
        with pytest.raises(BadInput, match="method that are not"):
            recipe(method=method)


def test_the_least_that_a_scale_shows_stands_on_a_line() -> None:
    made = recipe(answer={"quantities_g": {**QUANTITIES, "saffron": 0.0005}})
    assert "saffron" in [line.name for line in made.lines]


def test_sources_and_cautions_of_unlike_number() -> None:
    made = recipe(answer={"cautions": ["Keep cold.", "Hot."], "caution_sources": ["Food Code"]})
    assert (made.cautions, made.caution_sources) == (("Keep cold.", "Hot."), ("Food Code", ""))
    made = recipe(answer={"cautions": ["Hot."], "caution_sources": ["Food Code", "more"]})
    assert (made.cautions, made.caution_sources) == (("Hot.",), ("Food Code",))


def test_cautions_keep_their_sources_and_the_last_sentence_is_said_once() -> None:
    said = ["Keep cold.", "Wear gloves.", "Local codes and licensed practice decide."]
    made = recipe(answer={"cautions": said, "caution_sources": ["Food Code", "of our own"]})
    assert made.cautions == ("Keep cold.", "Wear gloves.")
    assert made.caution_sources == ("Food Code", "of our own")
    assert CODES_SENTENCE in made.storage
    assert "4 °C or below" in made.storage


# --- allergens ----------------------------------------------------------------------------------
def test_allergens_stand_on_the_lines_that_bring_them(catalogue: Catalogue) -> None:
    quantities = {"my soy": 20.0, "walnut bits": 50.0, "plums": 300.0, "odd thing": 5.0}
    keys = {"my soy": "16123", "walnut bits": "12155", "plums": "09279"}
    resolved = {name: {"key": key, "name": catalogue.food(key).name} for name, key in keys.items()}
    document = copy.deepcopy(DOCUMENT)
    document["answer"] |= {"quantities_g": quantities, "resolved": resolved}
    foods = {key: catalogue.food(key) for key in keys.values()}
    made = from_document("dip", document, {}, foods=foods)
    brings = {line.name: line.allergens for line in made.lines}
    assert brings["my soy"] == ("wheat", "soybean")
    assert brings["walnut bits"] == ("tree nuts",)
    assert brings["plums"] == brings["odd thing"] == ()
    assert [(a.name, a.carriers) for a in made.allergens] == [
        ("tree nuts", ("walnut bits",)),
        ("wheat", ("my soy",)),
        ("soybean", ("my soy",)),
    ]
    assert made.unread == ("odd thing",)
    assert from_document("dip", document, {}).unread == tuple(
        sorted(quantities, key=lambda name: -quantities[name])
    )


def test_allergens_of_a_recipe_within_and_behind_a_food_that_is_not_known(
    catalogue: Catalogue,
) -> None:
    """A line is unread where any part of it has no list of allergens."""
    walnuts, soy = catalogue.food("12155"), catalogue.food("16123")
    named_only = replace(walnuts, key="x", name="odd root", share=None, allergens=())
    inner = replace(
        named_only, key="base", parts=(Part(walnuts, 40.0), Part(soy, 40.0), Part(named_only, 20.0))
    )
    whole = replace(inner, key="read", parts=inner.parts[:2])
    names = {"odd thing": 400.0, "base": 50.0, "read": 30.0, "bits": 20.0}
    keys = {"base": "base", "read": "read", "bits": "12155"}
    document = copy.deepcopy(DOCUMENT)
    document["answer"] |= {
        "quantities_g": names,
        "resolved": {name: {"key": key, "name": name} for name, key in keys.items()},
    }
    made = from_document(
        "dip", document, {}, foods={"base": inner, "read": whole, "12155": walnuts}
    )
    assert made.unread == ("odd thing", "base")
    assert [(a.name, a.carriers) for a in made.allergens] == [
        ("tree nuts", ("base", "read", "bits")),
        ("wheat", ("base", "read")),
        ("soybean", ("base", "read")),
    ]


# --- damaged documents --------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"answer": {"quantities_g": {}}}, "no quantities"),
        ({"answer": {"quantities_g": {"salt": 0.0}}}, "no quantities"),
        ({"answer": {"quantities_g": None}}, "no quantities_g"),
        ({"answer": {"quantities_g": {"salt": -5}}}, "-5 for salt"),
        ({"answer": {"quantities_g": {"salt": "5"}}}, "5 for salt"),
        ({"answer": {"quantities_g": {"salt": True}}}, "True for salt"),
        ({"answer": {"quantities_g": {"salt": math.nan}}}, "nan for salt"),
        ({"answer": {"final_mass_g": None}}, "None for final_mass_g"),
        ({"answer": {"final_mass_g": 0}}, "0 for final_mass_g"),
        ({"answer": {"profile": []}}, "no profile"),
        ({"answer": {"profile": {"sweet": 5}}}, "no levels for sweet"),
        ({"answer": {"profile": {"sweet": {"reached": None}}}}, "None for sweet"),
        ({"answer": {"profile": {"sweet": {"reached": 1, "target": "x"}}}}, "target of sweet"),
        ({"answer": {"cautions": "hot"}}, "cautions that are not a list"),
        ({"answer": {"cautions": [1]}}, "cautions that are not a list"),
        ({"answer": {"resolved": {"salt": "02047"}}}, "no salt"),
        ({"answer": {"ph": 3}}, "no ph"),
        ({"answer": {"ph": {"value": 3.6}}}, "None for ph low"),
        ({"answer": {"brix": "sweet"}}, "sweet for brix"),
        ({"request": {"limits": {"serving_g": 0}}}, "0 for serving_g"),
        ({"times_min": 5}, "no times_min"),
        ({"times_min": {"prep": -1}}, "-1 for prep"),
        ({"method": "Stir."}, "method that are not a list"),
        ({"method": ["x"] * 1000}, "up to 200"),
        ({"method": ["x" * 10_000]}, "up to 2000 letters"),
    ],
)
def test_damaged_documents(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInput, match=says) as caught:
        recipe(**changes)
    assert "'plum dip'" in str(caught.value)
    assert len(str(caught.value)) < 300


def test_a_document_without_an_answer() -> None:
    for document in ({}, {"answer": None}, {"answer": []}, []):
        with pytest.raises(BadInput, match="'plum dip' has no answer"):
            from_document("plum dip", document, {})  # type: ignore[arg-type]
