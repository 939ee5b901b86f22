"""The stove and the sieve: conservation of mass, limits, refusals."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from balancer.composition import INDEX, MASSES, NAMES, FloatArray
from balancer.cooking import (
    alcohol_kept,
    aroma_weights,
    cooked,
    kept_factors,
    kept_fraction,
    oil_kept,
)
from balancer.errors import BadInput
from balancer.simmering import (
    batch,
    boiled,
    inversion_rate,
    inverted,
    lost_g,
    water_lost_to_brix,
    water_lost_to_mass,
)
from balancer.straining import after_yield, infused, strained
from balancer.titration import degrees_brix

MASS = np.array([INDEX[m] for m in MASSES])


def vector(**amounts: float) -> FloatArray:
    out = np.zeros(len(NAMES))
    for name, amount in amounts.items():
        out[INDEX[name]] = amount
    return out


def pot() -> FloatArray:
    return vector(
        water=700.0, sucrose=120.0, acetic=30.0, ethanol=8.0, citric=5.0, sodium=4000.0, ash=12.0
    )


def test_batch_is_the_sum() -> None:
    parts = np.stack([vector(water=95.0, acetic=5.0), vector(sucrose=100.0)])
    total = batch(parts, np.array([200.0, 50.0]))
    assert (total[INDEX["water"]], total[INDEX["acetic"]], total[INDEX["sucrose"]]) == (190, 10, 50)


@given(st.floats(0.0, 700.0))
def test_only_volatiles_leave(water_lost: float) -> None:
    before, after = pot(), boiled(pot(), water_lost)
    gone = before - after
    assert gone[INDEX["water"]] == pytest.approx(water_lost)
    for name in NAMES:
        if name not in ("water", "acetic", "ethanol"):
            assert gone[INDEX[name]] == 0.0
    assert (after >= 0).all()
    assert lost_g(before, after) == pytest.approx(float(gone[MASS].sum()))


def test_boiling_in_two_steps_is_boiling_in_one() -> None:
    assert boiled(boiled(pot(), 200.0), 300.0) == pytest.approx(boiled(pot(), 500.0))


@given(st.floats(0.35, 1.0))
def test_simmer_to_a_mass(share: float) -> None:
    start = float(pot()[MASS].sum())
    lost = water_lost_to_mass(pot(), start, share * start)
    assert float(boiled(pot(), lost)[MASS].sum()) == pytest.approx(share * start, rel=1e-9)


@given(st.floats(20.0, 80.0))
def test_simmer_to_a_brix(brix: float) -> None:
    after = boiled(pot(), water_lost_to_brix(pot(), brix))
    assert float(degrees_brix(after, corrected=False)) == pytest.approx(brix, abs=1e-7)


def test_a_dry_batch_has_nothing_to_lose() -> None:
    dry = vector(sucrose=60.0, acetic=2.0)
    assert boiled(dry, 0.0).tolist() == dry.tolist()
    with pytest.raises(BadInput, match="holds 0 g of water"):
        boiled(dry, 1.0)


def test_a_spoonful_boils_like_a_potful() -> None:
    """A thousandth of the batch that loses a thousandth of the steam is a thousandth of the end."""
    assert boiled(pot() / 1000.0, 0.4) == pytest.approx(boiled(pot(), 400.0) / 1000.0)


def test_simmering_to_the_very_ends() -> None:
    """From nothing lost to all water gone, the ends included."""
    assert water_lost_to_mass(vector(water=100.0), 100.0, 0.0) == pytest.approx(100.0)
    assert water_lost_to_mass(pot(), 900.0, 900.0) == pytest.approx(0.0, abs=1e-9)
    now, gone = (float(degrees_brix(b, corrected=False)) for b in (pot(), boiled(pot(), 700.0)))
    assert water_lost_to_brix(pot(), now) == pytest.approx(0.0, abs=1e-9)
    assert water_lost_to_brix(pot(), gone) == pytest.approx(700.0)


@given(st.floats(0.0, 1.0), st.sampled_from(["start", "late", "raw"]))
def test_100_g_cooked_stay_100_g(water_left: float, when: str) -> None:
    """The grams that leave are counted as water, so no mass is lost or made."""
    per_100g = np.stack([vector(water=60.0, acetic=6.0, ethanol=14.0, sucrose=20.0), pot() / 9.0])
    after = cooked(per_100g, kept_factors([when, "start"], water_left))
    assert after[:, MASS].sum(axis=1) == pytest.approx(per_100g[:, MASS].sum(axis=1))
    assert after[1, INDEX["acetic"]] <= per_100g[1, INDEX["acetic"]]
    if when != "start":
        assert after[0, INDEX["ethanol"]] == 14.0
    assert cooked(per_100g, None) is per_100g


def test_impossible_simmering() -> None:
    start = float(pot()[MASS].sum())
    with pytest.raises(BadInput, match=f"Simmering {start:.4g} g cannot give 100 g"):
        water_lost_to_mass(pot(), start, 100.0)
    with pytest.raises(BadInput, match="or add water"):
        water_lost_to_mass(pot(), start, start + 1.0)
    with pytest.raises(BadInput, match="cannot bring the batch to 5 degrees Brix: it reads"):
        water_lost_to_brix(pot(), 5.0)
    with pytest.raises(BadInput, match="to 10 degrees Brix"):
        water_lost_to_brix(vector(water=100.0), 10.0)
    with pytest.raises(BadInput, match=r"The water lost is 701 g, but the batch holds 700 g"):
        boiled(pot(), 701.0)
    with pytest.raises(BadInput, match=r"share of water left is 1\.5"):
        kept_fraction(1.5, 0.7)


def test_vinegar_strengthens_and_alcohol_fades() -> None:
    after = boiled(pot(), 350.0)
    for name, grows in (("acetic", True), ("ethanol", False)):
        before = pot()[INDEX[name]] / pot()[INDEX["water"]]
        now = after[INDEX[name]] / after[INDEX["water"]]
        assert bool(now > before) is grows


def test_alcohol_between_rows_and_beyond() -> None:
    """USDA Retention Factors, Release 6: between rows it falls, after the last row it holds."""
    times = [0, 5, 15, 20, 30, 45, 60, 75, 90, 100, 120, 150, 400]
    kept = [alcohol_kept("simmered", t) for t in times]
    assert all(a >= b for a, b in itertools.pairwise(kept))
    assert (kept[0], kept[-1]) == (0.85, 0.05)
    # rows: 85 % stirred into hot liquid and no longer heated, 40 % after 15 minutes
    assert alcohol_kept("simmered", 7.5) == pytest.approx((0.85 + 0.40) / 2)
    with pytest.raises(BadInput, match="'whipped' is not in the table"):
        alcohol_kept("whipped")
    with pytest.raises(BadInput, match="needs its time"):
        alcohol_kept("simmered")


def test_aroma_is_kept_best_when_it_goes_in_last() -> None:
    assert oil_kept("start") < oil_kept("late") < oil_kept("raw") == 1.0
    leaf = vector(oil_herb=2000.0, fibre=20.0) * aroma_weights("start")
    assert leaf[INDEX["oil_herb"]] == 2000.0 * oil_kept("start")
    assert leaf[INDEX["fibre"]] == 20.0
    with pytest.raises(BadInput, match="'noon' is no time to add"):
        oil_kept("noon")


@given(st.floats(2.0, 7.0), st.floats(0.0, 120.0), st.floats(0.0, 1e4))
def test_inversion_conserves_mass(ph: float, celsius: float, minutes: float) -> None:
    before, after = pot(), inverted(pot(), ph, celsius, minutes)
    assert float(after[MASS].sum()) == pytest.approx(float(before[MASS].sum()), rel=1e-5)
    assert 0.0 <= after[INDEX["sucrose"]] <= before[INDEX["sucrose"]]
    assert after[INDEX["glucose"]] == pytest.approx(after[INDEX["fructose"]])


def test_inversion_is_faster_hot_and_sour() -> None:
    assert inversion_rate(3.0, 100.0) > inversion_rate(3.0, 60.0) > inversion_rate(4.0, 60.0) > 0.0
    with pytest.raises(BadInput, match="The temperature is 200 degrees"):
        inversion_rate(3.0, 200.0)
    with pytest.raises(BadInput, match=r"The temperature is 125\.5 degrees"):
        inversion_rate(3.0, 125.5)
    assert 0.0 < inversion_rate(3.0, 0.0) < inversion_rate(3.0, 125.0)
    with pytest.raises(BadInput, match="The time is -5 min"):
        inverted(pot(), 3.0, 100.0, -5.0)


def test_infusing_and_straining() -> None:
    leaf = vector(oil_herb=1000.0, fibre=30.0, citric=2.0, potassium=100.0)
    gained = infused(leaf, 10.0)
    assert gained[INDEX["fibre"]] == 0.0
    assert 0.0 < gained[INDEX["oil_herb"]] < 100.0
    named = infused(leaf, 10.0, {"acid": 0.2, "citric": 1.0, "oil_herb": 0.3})
    assert named[INDEX["citric"]] == pytest.approx(0.2)  # the component goes before its group
    assert named[INDEX["oil_herb"]] == pytest.approx(30.0)
    seedless = strained(leaf, {"fibre": 0.4})
    assert seedless[INDEX["fibre"]] == pytest.approx(12.0)
    assert seedless[INDEX["citric"]] == 2.0
    with pytest.raises(BadInput, match="called 'fiber'"):
        strained(leaf, {"fiber": 0.4})
    with pytest.raises(BadInput, match="The share of fibre is 40"):
        strained(leaf, {"fibre": 40.0})


def test_yields() -> None:
    leaves = vector(water=90.0, fibre=10.0)
    wilted = after_yield(leaves, 0.5, water_only=True)
    assert (wilted[INDEX["water"]], wilted[INDEX["fibre"]]) == (40.0, 10.0)
    assert after_yield(leaves, 0.9, water_only=False) == pytest.approx(0.9 * leaves)
    with pytest.raises(BadInput, match=r"A yield of 0\.05 takes 95 g of water, but there are 90 g"):
        after_yield(leaves, 0.05, water_only=True)
    with pytest.raises(BadInput, match="The yield is 0"):
        after_yield(leaves, 0.0, water_only=True)
