"""The sauce in hand: changes, drafts and addresses, without a page."""

from __future__ import annotations

import base64
import json
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as some

from balancer.dashboard import address, look, work
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.kitchen import Kitchen

DIP = house_sauces()["plum-ginger-dip"]


def test_a_press_moves_one_jnd():
    """JND(L) = f + k L in closed form: sour f 0.02, k 0.18; one step up from L is exact in z."""
    kitchen = Kitchen()
    outcome = kitchen.solve(DIP)
    up = work.stepped(DIP, "sour", 1.0, outcome)
    # z(L) = ln(1 + k L / f) / k, so one unit of z multiplies (L + f/k) by exp(k)
    expected = (1.6 + 0.02 / 0.18) * 2.718281828**0.18 - 0.02 / 0.18
    assert up["target"]["sour"] == pytest.approx(expected, rel=1e-3)
    back = work.stepped(up, "sour", -1.0, outcome)
    assert back["target"]["sour"] == pytest.approx(1.6, rel=1e-3)


def test_a_band_moves_as_a_band_and_keeps_its_weight():
    document = work.with_target(DIP, "heat", {"low": 20.0, "high": 60.0, "weight": 3.0})
    moved = work.stepped(document, "heat", 1.0, Kitchen().solve(document))["target"]["heat"]
    assert 20 < moved["low"] < moved["high"]
    assert moved["high"] > 60
    assert moved["weight"] == 3.0


def test_less_never_leads_below_nothing():
    outcome = Kitchen().solve(DIP)
    assert work.stepped(DIP, "sour", -50.0, outcome)["target"]["sour"] == 0.0


def test_first_press_without_a_target_keeps_the_other_axes():
    kitchen = Kitchen()
    free = {**DIP, "target": {}}
    outcome = work.solved(kitchen, free)
    reached = {a: e["reached"] for a, e in outcome.answer["profile"].items()}
    moved = work.stepped(free, "sour", 1.0, outcome)["target"]
    assert moved["sour"] > reached["sour"]
    assert moved["sweet"] == pytest.approx(reached["sweet"], rel=1e-3)
    assert moved["salt"] == pytest.approx(reached["salt"], rel=1e-3)


def test_an_ingredient_goes_with_its_ratios():
    document = {**DIP, "ratios": [{"of": "ginger", "to": "garlic", "low": 2}]}
    left = work.without_ingredient(document, "garlic")
    assert [e["name"] for e in left["ingredients"]] == [
        e["name"] for e in DIP["ingredients"] if e["name"] != "garlic"
    ]
    assert left["ratios"] == []


def test_undo_returns_the_request_before():
    first = work.begun(DIP)
    second = first.changed(work.with_fields(DIP, yield_g=900), {"plums": 1.0})
    assert second.document["yield_g"] == 900
    assert second.undone().document == first.document
    assert first.undone() is first


_NAMES = some.text(min_size=1, max_size=30).filter(lambda s: s.strip())


@given(
    name=_NAMES,
    grams=some.floats(0, 1e6, allow_nan=False),
    step=some.sampled_from([-4.0, -1.0, 0.0, 2.0]),
)
def test_an_address_brings_back_what_was_written(name, grams, step):
    document = {"name": "x", "yield_g": 500.0, "ingredients": [{"name": name, "draft_g": grams}]}
    sauce = work.Work(
        document, "kept", 3, {name: grams}, {"sour": step}, (work.Round("less sour", "pot"),)
    )
    got = address.read(address.written(sauce))
    assert got.document == document
    assert (got.saved_name, got.revision) == ("kept", 3)
    assert (got.made_g, got.steps, got.rounds) == (sauce.made_g, sauce.steps, sauce.rounds)


def _packed(value: object) -> str:
    return base64.urlsafe_b64encode(zlib.compress(json.dumps(value).encode())).decode()


@pytest.mark.parametrize(
    "letters",
    [
        "?",
        "abcd",
        "é",
        _packed([]),
        _packed({}),
        _packed({"sauce": {"ingredients": 3}}),
        _packed({"sauce": {"ingredients": [{"draft_g": 3}]}}),
        _packed({"sauce": {"ingredients": []}, "steps": {"moist": 1}}),
        _packed({"sauce": {"ingredients": []}, "made_g": [1]}),
        _packed({"sauce": {"name": "x" * 2_000_000, "ingredients": []}}),
        address.written(work.begun(DIP))[:200],
    ],
)
def test_a_damaged_address_is_refused_with_a_sentence(letters):
    with pytest.raises(BadInput):
        address.read(letters)


def test_markup_in_names_stays_text():
    assert "<script>" not in look.addition_row("<script>alert(1)</script>", 5.0, 1.0)
    entry = {"reached": 1.0, "target": 2.0, "unit": '"<b>', "deviation_jnd": -3.0}
    assert '"<b>' not in look.rail("sour", entry, asked=True).split("aria-label=")[1][1:]


def test_a_rail_says_in_words_what_it_draws():
    entry = Kitchen().solve(DIP).answer["profile"]["sour"]
    drawn = look.rail("sour", entry, asked=True)
    assert "wanted 1.6" in drawn
    assert "g citric eq. per 100 g reached" in drawn


def test_changes_too_small_for_a_scale_are_not_shown():
    assert look.moves({"salt": 100.0}, {"salt": 100.0001}) == {}
    assert look.moves({"salt": 10.0}, {"salt": 12.5}) == {"salt": "+2.5 g"}
    assert look.moves({"salt": 12.5}, {"salt": 10.0}) == {"salt": "−2.5 g"}
    assert look.moves({}, {"salt": 10.0}) == {"salt": "+10.0 g"}
