"""Steeped, sieved, wilted: what the cook weighs, what stays, and that nothing else changes."""

from __future__ import annotations

import numpy as np
import pytest

from balancer.composition import INDEX, MASSES
from balancer.errors import BadInput
from balancer.kitchen import Kitchen
from balancer.prepared import prepared
from balancer.search import resolve
from balancer.simmering import boiled
from balancer.titration import degrees_brix


@pytest.fixture
def kitchen(tmp_path):
    return Kitchen(store_path=tmp_path / "book.db")


def test_what_stays_times_its_share_is_what_passes(catalogue):
    """By the shares named: half the oil of 100 g of star anise is in what stays of 100 g."""
    star = resolve(catalogue, "star anise")
    steeped, share = prepared(star, taken_out={"aromatic": 0.5, "water": 0.2, "sugar": 0.5})
    assert steeped["oil_warm_spice"] * share == pytest.approx(0.5 * star["oil_warm_spice"])
    places = [INDEX[m] for m in MASSES]

    def mass(ingredient):  # volatile oil weighs 0.9 g per mL
        oil = 0.9e-3 * np.nan_to_num(ingredient.values)[INDEX["oil_warm_spice"]]
        return np.nan_to_num(ingredient.values)[places].sum() + oil

    assert mass(steeped) == pytest.approx(mass(star))
    assert 0 < share < 1


def test_wilting_loses_water_and_nothing_else(catalogue):
    onion = resolve(catalogue, "onion")
    wilted, share = prepared(onion, left=0.6)
    assert share == pytest.approx(0.6, rel=1e-3)
    assert wilted["potassium"] * share == pytest.approx(onion["potassium"])
    assert wilted["water"] * share == pytest.approx(onion["water"] - 40, abs=0.2)


def test_steeped_spice_in_a_request(kitchen):
    """The cook weighs the whole spice; the sauce weighs what it should; the pot keeps the rest."""
    document = {
        "yield_g": 500,
        "ingredients": [
            {"name": "star anise", "locked_g": 5.0, "taken_out": True},
            {"name": "sugar"},
            {"name": "lemon juice"},
            {"name": "water"},
        ],
        "target": {"sweet": 10, "sour": 0.5},
    }
    answer = kitchen.solve(document).answer
    assert answer["quantities_g"]["star anise"] == pytest.approx(5.0)
    assert answer["final_mass_g"] == pytest.approx(500)
    total = sum(answer["quantities_g"].values()) - sum(answer["taken_out_g"].values())
    assert total == pytest.approx(500, rel=1e-5)
    # half of the oil passes: 5 g of the spice in 500 g, against the same spice left in
    left_in = dict(document["ingredients"][0])
    del left_in["taken_out"]
    whole = kitchen.solve({**document, "ingredients": [left_in, *document["ingredients"][1:]]})
    assert answer["profile"]["volatile"]["reached"] == pytest.approx(
        0.5 * whole.answer["profile"]["volatile"]["reached"], rel=1e-3
    )
    nudge = kitchen.nudge(document, answer, "a touch more sour")
    assert nudge.next_batch.answer["quantities_g"]["star anise"] == pytest.approx(5.0)
    assert nudge.additions_g["lemon juice"] > 0


def test_limits_are_read_in_grams_to_weigh(kitchen):
    document = {
        "yield_g": 500,
        "ingredients": [
            {"name": "star anise", "max_g": 1.0, "taken_out": True},
            {"name": "water"},
        ],
        "target": {"volatile": 50},
    }
    answer = kitchen.solve(document).answer
    assert answer["status"] == "nearest"
    assert answer["quantities_g"]["star anise"] == pytest.approx(1.0)
    assert answer["binding"][0]["limit"] == "star anise at most 1 g"
    more = answer["relax"][0]["to"]
    eased = {**document, "ingredients": [{**document["ingredients"][0], "max_g": more * 1.01},
                                         document["ingredients"][1]]}  # fmt: skip
    assert kitchen.solve(eased).answer["status"] == "on_target"


def test_simmering_to_a_reading_and_for_a_time(kitchen):
    entries = [{"name": "pineapple", "locked_g": 1000}, {"name": "sugar", "locked_g": 200}]
    answer = kitchen.solve({"ingredients": entries, "simmer": {"to_brix": 50}}).answer
    raw = kitchen.solve({"ingredients": entries}).solution.blend
    lost = 1200 - answer["final_mass_g"]
    again = boiled(raw.grams @ raw.composition / 100, lost)
    read = degrees_brix(again * 100 / again[[INDEX[m] for m in MASSES]].sum(), corrected=False)
    assert float(read) == pytest.approx(50, abs=0.3)
    timed = {"minutes": 20, "steam_g_per_min": 12}
    answer = kitchen.solve({"ingredients": entries, "simmer": timed}).answer
    assert answer["final_mass_g"] == pytest.approx(1200 - 240)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"simmer": {"to_brix": 30}}, "every quantity locked"),
        ({"simmer": {"minutes": 5}, "water_lost_g": 5}, "both"),
        ({"simmer": {"minutes": 5, "to_brix": 30}}, "either"),
        ({"ingredients": [{"name": "sugar", "taken_out": {"colour": 0.5}}]}, "colour"),
        ({"ingredients": [{"name": "sugar", "yield": 0.5}]}, "yield"),
        ({"ingredients": [{"name": "olive oil", "taken_out": {"water": 0.5}}]}, "stays"),
    ],
)
def test_what_cannot_be_meant(kitchen, change, words):
    document = {
        "yield_g": 500,
        "ingredients": [{"name": "sugar"}, {"name": "water"}],
        "target": {"sweet": 10},
    }
    with pytest.raises(BadInput, match=words):
        kitchen.solve({**document, **change})
