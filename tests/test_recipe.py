"""A saved answer read as a recipe."""

from __future__ import annotations

import copy
import math
from typing import Any

import pytest

from balancer.errors import BadInput
from balancer.recipe import (
    CODES_SENTENCE,
    Line,
    Measure,
    Recipe,
    default_method,
    from_document,
)

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
    assert lines[0] == Line("plums", "09279", 376.0, "about 5 1/2 whole", "simmered")
    assert lines[1] == Line("brown sugar", "", 84.0, "", "simmered")
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


# --- method -------------------------------------------------------------------------------------
def test_the_method_of_the_cook_wins() -> None:
    assert recipe(method=["  Char the plums. ", "", "Blend."]).method == (
        "Char the plums.",
        "Blend.",
    )
    assert recipe(method=[]).method == default_method(recipe().lines, 448.0)


def method(quantities: dict[str, float], yield_g: float) -> str:
    stage = "simmered" if sum(quantities.values()) > yield_g else "raw"
    lines = [Line(name, "", grams, "", stage) for name, grams in quantities.items()]
    return "\n".join(default_method(lines, yield_g))


def test_the_method_of_a_cooked_sauce_names_the_mass_to_reach() -> None:
    text = method({"plums": 380, "brown sugar": 84, "rice vinegar": 60, "salt": 4}, 448)
    assert "Weigh the empty pot" in text
    assert "Stir brown sugar and salt into rice vinegar until no lumps are left; add the rest." in (
        text
    )
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
    assert "stir cornstarch smooth with a little of the liquid, cold" in text
    assert "Stir sugar into water until no lumps are left." in text
    assert "until it thickens; replace the water that leaves, to 362 g in all" in text


def test_seeds_are_neither_powders_nor_prepared_mustard() -> None:
    text = method({"mustard seed": 10, "mustard": 20, "onion powder": 3}, 33)
    assert "Stir onion powder into mustard until no lumps are left; add the rest." in text


def test_one_ingredient_is_not_mixed() -> None:
    assert "Mix" not in method({"honey": 100}, 100)


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
