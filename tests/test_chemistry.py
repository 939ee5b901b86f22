"""Charge balance, strong ions, titration and water activity: laws, limits, round trips."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from balancer import chemistry
from balancer.chemical_constants import CHARGE_RULE, GROUPS, PK_WATER, WATER_PHASE_MIN_G
from balancer.chemistry import acidity, anchor, buffer_value, excess_charge_weights
from balancer.composition import ACIDS, INDEX, NAMES, FloatArray
from balancer.errors import BadInput
from balancer.ionisation import activity_term, charge_moments
from balancer.strong_ions import (
    band,
    corners,
    estimated_charge,
    with_charge,
    worst_charge,
)
from balancer.titration import (
    degrees_brix,
    equivalent_weight_g,
    moisture_pct,
    salt_pct,
    sour_level,
    sugar_acid_ratio,
    titratable_acidity,
    titratable_weights,
)
from balancer.water_activity import water_activity

CHARGE, WATER = INDEX["strong_ion_charge"], INDEX["water"]


def vector(**amounts: float) -> FloatArray:
    out = np.zeros(len(NAMES))
    for name, amount in amounts.items():
        out[INDEX[name]] = amount
    return out


def random_blends(count: int, seed: int = 7) -> FloatArray:
    """Sauces of every kind: sour to mild, salty to plain, wet to thick."""
    rng = np.random.default_rng(seed)
    out = np.zeros((count, len(NAMES)))
    for acid in ACIDS:
        out[:, INDEX[acid]] = rng.exponential(0.3, count) * (rng.random(count) < 0.5)
    out[:, WATER] = rng.uniform(30.0, 95.0, count)
    out[:, INDEX["protein"]] = rng.exponential(2.0, count)
    out[:, INDEX["phosphorus"]] = rng.exponential(30.0, count)
    out[:, INDEX["glutamate"]] = rng.exponential(50.0, count)
    out[:, INDEX["sodium"]] = rng.exponential(150.0, count)
    out[:, INDEX["potassium"]] = rng.exponential(200.0, count)
    out[:, CHARGE] = rng.exponential(6.0, count)
    return out


def scalar_ph(blend: FloatArray) -> float:
    """One blend by a general root finder, written apart from the array code."""
    strong = ((1, "sodium", 22.990), (1, "potassium", 39.098))
    strong += ((2, "calcium", 40.078), (2, "magnesium", 24.305))
    cations = [(z, blend[INDEX[n]] / m) for z, n, m in strong]
    strength = 0.0

    def total(ph: float, f: float) -> tuple[float, float]:
        water = blend[WATER]
        free = 10.0 ** (f - ph), 10.0 ** (ph - PK_WATER.value + f)
        charge = blend[CHARGE] + (free[0] - free[1]) * water
        ionic = sum(c * z**2 for z, c in cations) + sum(free) * water
        ionic += abs(sum(c * z for z, c in cations) - blend[CHARGE])
        for group in GROUPS:
            moles = blend[INDEX[group.component]] * group.millimoles.value
            weight, weights = 1.0, [1.0]
            for k, step in enumerate(group.pka, start=1):
                shift = (group.charge - k) ** 2 - (group.charge - k + 1) ** 2
                weight *= 10.0 ** (ph - step.value + shift * f)
                weights.append(weight)
            states = [group.charge - k for k in range(len(weights))]
            charge += moles * np.dot(weights, states) / sum(weights)
            if group.component != "protein":
                ionic += moles * np.dot(weights, np.square(states)) / sum(weights)
        return float(charge), float(ionic / water / 2.0)

    for _ in range(100):
        f = float(activity_term(min(strength, 0.5)))
        ph = brentq(lambda p, f=f: total(p, f)[0], -1.0, 15.0, xtol=1e-12)
        new = total(ph, f)[1]
        if abs(new - strength) < 1e-10:
            break
        strength = new
    return float(ph)


def test_arrays_equal_a_scalar_root_finder() -> None:
    blends = random_blends(40)
    assert acidity(blends).ph == pytest.approx([scalar_ph(b) for b in blends], abs=1e-7)
    assert acidity(blends.reshape(5, 8, -1)).ph.shape == (5, 8)
    assert float(acidity(blends[3]).ph) == pytest.approx(float(acidity(blends).ph[3]), abs=1e-12)


def test_charge_is_nil_at_the_ph_found() -> None:
    for blend in random_blends(50, seed=1):
        found = acidity(blend)
        weights = excess_charge_weights(float(found.ph), float(found.ionic_strength))
        assert float(blend @ weights) == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("ceiling", [3.5, 3.9, 4.2, 4.6])
def test_ceiling_and_full_model_agree(ceiling: float) -> None:
    """2,000 random blends: the linear form says which side of the ceiling they are on."""
    blends = random_blends(2000)
    found = acidity(blends)
    says = np.array(
        [
            b @ excess_charge_weights(ceiling, float(i)) <= 0
            for b, i in zip(blends, found.ionic_strength, strict=True)
        ]
    )
    is_under = found.ph <= ceiling
    assert 100 < is_under.sum() < 1900
    assert (says == is_under).all()


def test_one_ionic_strength_for_all_errs_by_the_activity_error_only() -> None:
    """With constants at 0.1 mol/kg the linear form may err where pH is within 0.12 of a ceiling."""
    blends = random_blends(2000, seed=11)
    found = acidity(blends)
    says = blends @ excess_charge_weights(4.2, 0.1) <= 0
    wrong = says != (found.ph <= 4.2)
    assert np.abs(found.ph[wrong] - 4.2).max(initial=0.0) < 0.12 + 0.134


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.05, 0.95))
def test_mixing_two_sauces(seed: int, share: float) -> None:
    """A blend lies between its parts: the charge at a pH is additive (exact without activities)."""
    first, second = random_blends(2, seed)
    mixed = acidity(share * first + (1 - share) * second, ideal=True).ph
    ends = acidity(np.stack([first, second]), ideal=True).ph
    assert ends.min() - 1e-7 <= float(mixed) <= ends.max() + 1e-7


def test_grouping_and_order_do_not_matter() -> None:
    parts = random_blends(4, 3)
    grams = np.array([30.0, 5.0, 60.0, 12.0])
    whole = grams @ parts / grams.sum()
    shuffled = grams[::-1] @ parts[::-1] / grams.sum()
    first = grams[:2] @ parts[:2] / grams[:2].sum()
    second = grams[2:] @ parts[2:] / grams[2:].sum()
    grouped = (grams[:2].sum() * first + grams[2:].sum() * second) / grams.sum()
    at = float(acidity(whole).ph)
    assert float(acidity(shuffled).ph) == pytest.approx(at, abs=1e-9)
    assert float(acidity(grouped).ph) == pytest.approx(at, abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from(ACIDS), st.floats(0.01, 3.0))
def test_acid_lowers_ph_and_alkali_raises_it(seed: int, acid: str, grams: float) -> None:
    """At constant activities; with them a strong salt of the acid can shift pH by a hair."""
    blend = random_blends(1, seed)[0]
    before = float(acidity(blend, ideal=True).ph)
    assert float(acidity(blend + vector(**{acid: grams}), ideal=True).ph) <= before + 1e-9
    assert float(acidity(blend + vector(strong_ion_charge=grams), ideal=True).ph) >= before - 1e-9


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(2.0, 7.5))
def test_anchor_round_trip(seed: int, ph: float) -> None:
    blend = random_blends(1, seed)[0]
    blend[CHARGE] = anchor(blend, ph)
    assert float(acidity(blend).ph) == pytest.approx(ph, abs=2e-6)


def test_table_salt_moves_ph_by_activity_only() -> None:
    """Sinclair & Eny 1946 saw lemon juice unmoved by salt; the ideal model does not move at all."""
    juice = vector(water=91.0, citric=5.0, strong_ion_charge=3.0)
    salted = juice + vector(sodium=800.0, chloride=1230.0)
    assert float(acidity(juice, ideal=True).ph) == pytest.approx(
        float(acidity(salted, ideal=True).ph), abs=1e-12
    )
    assert abs(float(acidity(juice).ph - acidity(salted).ph)) < 0.15


def test_boiling_down_lowers_the_ph_of_a_sour_sauce() -> None:
    sauce = vector(water=90.0, citric=0.5, strong_ion_charge=2.0)
    thick = sauce - vector(water=60.0)
    assert float(acidity(thick).ph) < float(acidity(sauce).ph)


def test_water_is_neutral() -> None:
    assert float(acidity(vector(water=100.0)).ph) == pytest.approx(PK_WATER.value / 2, abs=1e-6)


def test_no_water_no_ph() -> None:
    oil, sugar = vector(fat=100.0), vector(sucrose=99.9, water=0.1)
    found = acidity(np.stack([oil, sugar, vector(water=100.0)]))
    assert found.no_water.tolist() == [True, True, False]
    assert found.capped.tolist() == [False, False, False]
    assert np.isnan(found.ionic_strength).tolist() == [True, True, False]
    assert np.isnan(found.ph).tolist() == [True, True, False]
    assert np.isnan(float(anchor(oil, 4.0)))
    least = WATER_PHASE_MIN_G.value
    assert least < 15  # honey has a pH
    for water, has in ((least, True), (least * 0.999, False)):
        syrup = vector(water=water, sucrose=90.0, citric=0.1)
        assert bool(acidity(syrup).no_water) is not has
        assert bool(np.isfinite(anchor(syrup, 3.0))) is has
    assert float(acidity(vector(water=100.0, citric=1.0)).ph) < 3.0


def test_unknown_amounts_are_refused() -> None:
    with pytest.raises(BadInput, match="while its malic is unknown"):
        acidity(vector(water=90.0, malic=np.nan))
    known = vector(water=90.0, malic=1.0)
    with pytest.raises(BadInput, match="while its malic is unknown"):
        acidity(np.stack([known, vector(water=90.0, malic=np.nan), known]))


def test_few_evaluations_find_the_ph(monkeypatch: pytest.MonkeyPatch) -> None:
    """Newton's steps double the digits: halving 16 units of pH down to 1e-10 would take 37."""
    counted = []

    def counting(ph: FloatArray, f: FloatArray) -> tuple[FloatArray, FloatArray]:
        counted.append(1)
        return charge_moments(ph, f)

    monkeypatch.setattr(chemistry, "charge_moments", counting)
    tomato = vector(water=94.5, citric=0.45, malic=0.1, potassium=237.0, strong_ion_charge=6.0)
    for find in (acidity, lambda blend: acidity(blend, ideal=True), lambda b: anchor(b, 4.0)):
        counted.clear()
        find(tomato)
        assert 0 < len(counted) <= 36


def test_brine_is_held_and_flagged() -> None:
    brine = acidity(vector(water=70.0, sodium=7000.0, lactic=1.0))
    assert bool(brine.capped)
    assert float(brine.ionic_strength) == 0.5
    assert not bool(acidity(vector(water=95.0, acetic=5.0)).capped)


@pytest.mark.parametrize("ph", [-0.1, 14.5])
def test_impossible_ceiling(ph: float) -> None:
    with pytest.raises(BadInput, match=f"The pH is {ph:g}"):
        excess_charge_weights(ph, 0.1)


def test_the_ends_of_the_scale_may_be_a_ceiling() -> None:
    """1 mol of H+ (or OH-) per kg of water is 100 meq in 100 g: pH 0, and 14 with pKw 14."""
    for ph, sign in ((0.0, 1.0), (14.0, -1.0)):
        charge = float(vector(water=100.0) @ excess_charge_weights(ph, 0.0))
        assert charge == pytest.approx(sign * 100.0, rel=0.02)


@pytest.mark.parametrize(
    ("ion", "atomic_mass", "strength"),
    [("sodium", 22.990, 0.05), ("potassium", 39.098, 0.05), ("calcium", 40.078, 0.15),
     ("magnesium", 24.305, 0.15)],
)  # fmt: skip
def test_ionic_strength_of_a_chloride(ion: str, atomic_mass: float, strength: float) -> None:
    """Half the sum of c z^2 (Lewis & Randall 1921): c for MCl and 3 c for MCl2, at 0.05 mol/kg."""
    salt = vector(water=100.0, **{ion: 5.0 * atomic_mass})
    assert float(acidity(salt).ionic_strength) == pytest.approx(strength, rel=2e-3)


def test_buffer_value_is_the_slope() -> None:
    for blend in random_blends(10, 2):
        found, step = acidity(blend), 1e-4
        ph, strength = float(found.ph), float(found.ionic_strength)
        up, down = (blend @ excess_charge_weights(ph + s, strength) for s in (step, -step))
        slope = (down - up) / (2.0 * step) / blend[WATER]
        assert float(buffer_value(blend)) == pytest.approx(slope, rel=1e-5)


# --- strong ions ----------------------------------------------------------------------------------


def test_sodium_goes_with_chloride() -> None:
    assert float(estimated_charge(vector(water=90.0, sodium=5000.0))) == pytest.approx(0.0, abs=0.1)
    assert float(estimated_charge(vector(water=90.0, malic=1.0, potassium=391.0))) > 3.0


def test_estimate_keeps_every_food_within_bounds() -> None:
    blends = random_blends(200, 13)
    blends[:, CHARGE] = 1e6  # is not read
    blends[:, CHARGE] = estimated_charge(blends)
    ph = acidity(blends).ph
    assert ph.min() > CHARGE_RULE.ph_low.value - 0.3
    assert ph.max() < CHARGE_RULE.ph_high.value + 0.6


def test_published_ph_beats_the_rule_and_a_given_charge_beats_both() -> None:
    tomato = vector(water=94.5, citric=0.45, potassium=237.0)
    tomato[CHARGE] = np.nan
    assert float(acidity(with_charge(tomato, 4.6)).ph) == pytest.approx(4.6, abs=1e-6)
    assert with_charge(tomato)[CHARGE] == float(estimated_charge(tomato))
    assert with_charge(vector(strong_ion_charge=2.5), 4.6)[CHARGE] == 2.5
    oil = vector(fat=100.0)
    oil[CHARGE] = np.nan
    assert with_charge(oil, 4.6)[CHARGE] == 0.0


def _pantry() -> tuple[FloatArray, FloatArray]:
    """Garlic and vinegar, where the spread of garlic's acid matters more than that of its pH."""
    garlic = vector(water=58.6, protein=6.4, citric=0.45, phosphorus=153.0, potassium=401.0)
    low, high = np.full(len(NAMES), np.nan), np.full(len(NAMES), np.nan)
    low[INDEX["citric"]], high[INDEX["citric"]] = 0.0, 0.8
    garlic[CHARGE] = np.nan
    vinegar = vector(water=95.0, acetic=5.0)
    none = np.full(len(NAMES), np.nan)
    middle = np.stack([with_charge(garlic, 5.8), vinegar])
    corner = np.stack(
        [
            corners(garlic, low, high, (5.7, 5.9)),
            corners(vinegar, none, none),
        ]
    )
    return middle, corner


def test_acid_spread_matters_more_than_ph_spread() -> None:
    middle, corner = _pantry()
    found = band(middle, corner, np.array([300.0, 60.0]))
    assert found.low < found.value < found.high
    only_ph = corner.copy()
    only_ph[0, :, INDEX["citric"]] = middle[0, INDEX["citric"]]
    ends = (5.7, 5.9, 5.7, 5.9)
    only_ph[0, :, CHARGE] = [float(anchor(row, p)) for row, p in zip(only_ph[0], ends, strict=True)]
    narrow = band(middle, only_ph, np.array([300.0, 60.0]))
    assert found.high - found.low > 5 * (narrow.high - narrow.low)


def test_band_is_the_extreme_of_all_choices() -> None:
    middle, corner = _pantry()
    grams = np.array([200.0, 80.0])
    every = [
        float(acidity(grams @ np.stack([a, b]) / grams.sum()).ph)
        for a in corner[0]
        for b in corner[1]
    ]
    found = band(middle, corner, grams)
    assert found.low == pytest.approx(min(*every, found.value), abs=0.01)
    assert found.high == pytest.approx(max(*every, found.value), abs=0.01)


def test_safe_ceiling_row_is_tight() -> None:
    middle, corner = _pantry()
    grams = np.array([200.0, 80.0])
    found = band(middle, corner, grams)
    above = grams @ worst_charge(corner, found.high + 0.03, found.ionic_strength)
    below = grams @ worst_charge(corner, found.high - 0.03, found.ionic_strength)
    assert above < 0 < below
    assert grams @ worst_charge(corner, found.low, found.ionic_strength, side=-1) < grams @ (
        middle @ excess_charge_weights(found.low, found.ionic_strength)
    )


def test_without_a_published_ph_the_band_is_wide() -> None:
    none = np.full(len(NAMES), np.nan)
    grams = np.array([100.0])
    for food, error in (
        (vector(water=90.0, malic=0.8, potassium=200.0), CHARGE_RULE.error_sour),
        (vector(water=90.0, malic=0.1, potassium=300.0, protein=2.0), CHARGE_RULE.error_mild),
    ):
        food[CHARGE] = np.nan
        middle = with_charge(food)
        free = band(middle[None], corners(food, none, none)[None], grams)
        assert free.high - free.low == pytest.approx(2 * error.value, abs=1e-3)
        ph = free.value
        tied = corners(food, none, none, (ph - 0.1, ph + 0.1))[None]
        found = band(middle[None], tied, grams)
        assert found.high - found.low == pytest.approx(0.2, abs=1e-3)


def test_dry_food_keeps_its_charge() -> None:
    pepper = vector(water=1.5, protein=10.0, potassium=1300.0)
    pepper[CHARGE] = np.nan
    none = np.full(len(NAMES), np.nan)
    corner = corners(pepper, none, none, (5.0, 6.0))
    assert corner[:, CHARGE] == pytest.approx(float(estimated_charge(pepper)))


def test_band_of_nothing_and_of_oil() -> None:
    middle, corner = _pantry()
    with pytest.raises(BadInput, match="weighs 0 g"):
        band(middle, corner, np.zeros(2))
    oil = vector(fat=100.0)
    assert np.isnan(band(oil[None], oil[None, None], np.array([50.0])).value)


# --- titration and water activity -----------------------------------------------------------------


def test_linear_titration_equals_the_measured() -> None:
    blends = random_blends(20, 5)
    linear = blends @ titratable_weights("acetic")
    assert titratable_acidity(blends, "acetic") == pytest.approx(np.maximum(linear, 0.0))
    factor = equivalent_weight_g("malic") / equivalent_weight_g("citric")
    assert titratable_acidity(blends, "malic") == pytest.approx(
        factor * titratable_acidity(blends, "citric")
    )
    with pytest.raises(BadInput, match="'phosphoric'"):
        equivalent_weight_g("phosphoric")


def test_alkaline_sauce_has_no_acidity() -> None:
    chalk = vector(water=90.0, strong_ion_charge=20.0)
    assert float(titratable_acidity(chalk)) == 0.0
    assert float(sour_level(chalk)) == 0.0
    assert np.isnan(float(sugar_acid_ratio(degrees_brix(chalk), titratable_acidity(chalk))))


def test_fat_and_fibre_do_not_change_the_liquid() -> None:
    sauce = vector(water=50.0, sucrose=20.0, citric=1.0)
    thick = sauce + vector(fat=15.0, fibre=5.0, starch=4.0)
    assert float(degrees_brix(sauce)) == pytest.approx(float(degrees_brix(thick)))
    assert float(water_activity(sauce)) == pytest.approx(float(water_activity(thick)))
    assert np.isnan(float(degrees_brix(vector(fat=100.0))))
    assert np.isnan(float(water_activity(vector(fat=100.0))))
    assert float(moisture_pct(sauce)) == 50.0
    assert float(salt_pct(vector(sodium=393.4))) == pytest.approx(1.0, abs=1e-3)


def test_water_activity_limits() -> None:
    """Pure water is 1; a trace of solute follows Raoult."""
    assert float(water_activity(vector(water=100.0))) == 1.0
    trace = vector(water=100.0, glucose=0.180156)
    assert 1.0 - float(water_activity(trace)) == pytest.approx(0.001 / 5.5508, rel=1e-3)
    steps = np.stack([vector(water=60.0, sucrose=g) for g in range(0, 100, 10)])
    assert (np.diff(water_activity(steps)) < 0).all()
