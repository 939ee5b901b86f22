"""The pictures: the spread on the rails, what brings a level, the course of the rounds."""

from __future__ import annotations

import json
import re
from itertools import pairwise

import numpy as np
import pytest
from conftest import press, run, text_of, unfolded
from streamlit.testing.v1 import AppTest

from balancer.cli.show import level_text
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import bringing, course
from balancer.dashboard.work import begun, solved
from balancer.demo import house_sauces
from balancer.kitchen import Kitchen, Outcome
from balancer.search import resolve
from balancer.taste import levels, to_z

DIP = "plum and ginger dip"


def outcome_of(name: str) -> Outcome:
    return solved(Kitchen(), begun(house_sauces()[name]).document)


def charts(at: AppTest) -> list[dict]:
    found = at.get("arrow_vega_lite_chart") + at.get("vega_lite_chart")
    return [json.loads(c.proto.spec) for c in found]


@pytest.mark.parametrize("name", sorted(house_sauces()))
@pytest.mark.parametrize("axis", AXIS_NAMES)
def test_the_parts_add_up_to_the_level(name: str, axis: str) -> None:
    """Mixing is linear, so that what the ingredients bring is the level, whatever is cooked."""
    outcome = outcome_of(name)
    found = bringing.parts(outcome, axis)
    reached = outcome.answer["profile"][axis]["reached"]
    assert sum(b for _, b in found) == pytest.approx(reached, rel=1e-5, abs=1e-6)
    assert [b for _, b in found] == sorted((b for _, b in found), reverse=True)
    drawn = bringing.gathered(found)
    assert len(drawn) <= bringing.MOST_BARS
    assert sum(b for _, b in drawn) == pytest.approx(sum(b for _, b in found))


def test_a_part_is_the_share_times_the_ingredient_by_itself() -> None:
    """Sugar and water, half and half: all of the sweetness is the sugar's, half of its own."""
    kitchen = Kitchen()
    names = ("white sugar", "water")
    entries = [{"name": n, "locked_g": 100.0} for n in names]
    outcome = kitchen.solve({"yield_g": 200.0, "ingredients": entries})
    own = resolve(kitchen.catalogue, "white sugar")
    sweet = float(levels(np.nan_to_num(own.values))[AXIS_NAMES.index("sweet")])
    assert bringing.parts(outcome, "sweet") == [("white sugar", pytest.approx(0.5 * sweet))]


def test_each_bar_begins_where_the_one_before_ended() -> None:
    found = bringing.parts(outcome_of("plum-ginger-dip"), "salt")
    drawn = bringing.picture("salt", found, 1.5)
    rows = drawn["data"]["values"]
    assert rows[0]["from"] == 0.0
    for one, other in pairwise(rows[:-1]):
        assert other["from"] == pytest.approx(one["to"])
    assert (rows[-1]["what"], rows[-1]["from"]) == ("together", 0.0)
    assert rows[-1]["to"] == pytest.approx(rows[-2]["to"])
    assert AXIS["salt"].unit_per_100g in drawn["description"]
    assert "wanted 1.5" in drawn["description"]


def test_the_waterfall_stands_on_the_page_with_its_table(dip: AppTest) -> None:
    unfolded(dip, "_bringing")
    assert len(charts(dip)) == 1
    assert "sweet [g sucrose eq. per 100 g]" in json.dumps(charts(dip))
    rows = dict(re.findall(r'<th scope="row">([^<]+)</th><td>([^<]+)</td>', text_of(dip)))
    found = dict(bringing.parts(dip.session_state["solved"].outcome, "sweet"))
    assert rows["brown sugar"] == level_text(found["brown sugar"])
    assert rows["together"] == level_text(sum(found.values()))
    dip.selectbox(key="_brings").set_value("umami")
    run(dip)
    assert "umami [mg glutamate per 100 g]" in json.dumps(charts(dip))
    press(dip, "_less_sour")
    found = dict(bringing.parts(dip.session_state["solved"].outcome, "sweet"))
    assert f"<td>{level_text(found['brown sugar'])}</td>" in text_of(dip)


def test_the_spread_on_each_rail_is_how_sure_the_kitchen_is(dip: AppTest) -> None:
    outcome = dip.session_state["solved"].outcome
    full, quick = Kitchen().how_sure(outcome), Kitchen().how_sure(outcome, with_ph=False)
    assert full is not None
    assert quick is not None
    assert quick.ph is None
    np.testing.assert_allclose(quick.low, full.low)
    np.testing.assert_allclose(quick.high, full.high)
    for axis in house_sauces()["plum-ginger-dip"]["target"]:
        i = AXIS_NAMES.index(axis)
        ends = f"{level_text(float(full.low[i]))} to {level_text(float(full.high[i]))}"
        assert f"nine lots in ten from {ends}" in text_of(dip)
    press(dip, "_more_salt")
    now = Kitchen().how_sure(dip.session_state["solved"].outcome)
    assert now is not None
    i = AXIS_NAMES.index("salt")
    assert now.high[i] > full.high[i]
    assert f"{level_text(float(now.low[i]))} to {level_text(float(now.high[i]))}" in text_of(dip)


def test_the_course_shows_what_was_made_wanted_and_learned(dip: AppTest) -> None:
    for words in ("less sour", "a touch less sour", "sour is right"):
        dip.text_input(key="_words").input(words)
        run(dip)
        press(dip, "_keep_round")
        press(dip, "_next")
    unfolded(dip, "_course")
    palates = Kitchen().course(DIP)
    kept = Kitchen().store.rounds(DIP)
    answers = [Kitchen().saved(DIP, r.document["revision"])["answer"] for r in kept]
    steps = course.steps_of("sour", Kitchen().sauce(DIP), answers, palates)
    assert [s.number for s in steps] == [1, 2, 3]
    for step, palate, answer in zip(steps, palates, answers, strict=True):
        assert step.learned is not None
        low, high = (float(to_z(end, "sour")) for end in step.learned)
        i = AXIS_NAMES.index("sour")
        if low > 0:
            assert 0.5 * (low + high) == pytest.approx(float(palate.ideal_z[i]), abs=1e-6)
        assert level_text(step.made) in text_of(dip)
        assert step.wanted == answer["profile"]["sour"]["target"]
    widths = [float(to_z(s.learned[1], "sour") - to_z(s.learned[0], "sour")) for s in steps]
    assert widths[-1] < widths[0], "three rounds know more than one"
    said = charts(dip)[0]["description"]
    assert said == course.words("sour", steps)
    assert AXIS["sour"].unit_per_100g in said


def test_no_mark_of_a_picture_stands_on_colour_alone() -> None:
    """Made, wanted and learned differ in shape; the sum differs from its parts by its name."""
    steps = [course.Step(1, 1.6, 1.6, (0.8, 2.2)), course.Step(2, 1.4, 1.3, (0.9, 1.9))]
    marks = [layer["mark"] for layer in course.picture("sour", steps)["layer"]]
    shapes = [(m["type"], m.get("shape")) for m in marks]
    assert len(shapes) == len(set(shapes))
