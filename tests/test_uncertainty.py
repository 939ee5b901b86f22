"""How sure a level is: against formulas of the guide, hand-worked cases and simulated lots.

Outside: JCGM 100:2008 (guide to the expression of uncertainty in measurement), 4.3.7 and 4.3.9,
recalled. The simulation draws lots with its own code and puts each through the full chemistry.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from balancer.catalogue import default_catalogue
from balancer.chemistry import acidity, anchor
from balancer.composition import ACIDS, INDEX, NAMES, Evidence, FloatArray, Ingredient
from balancer.constants import AXIS_NAMES, NACL_PER_NA
from balancer.cooking import cooked, kept_factors
from balancer.errors import BadInput, DataProblem
from balancer.strong_ions import with_charge
from balancer.taste import levels
from balancer.uncertainty import Statistics, in_words, read_statistics, sides, spread
from balancer.uncertainty.coefficients import RELATIVE_ERROR

DATA = Path(__file__).parents[1] / "data"
SOUR, SALT, SWEET = (AXIS_NAMES.index(a) for a in ("sour", "salt", "sweet"))
CHARGE, WATER = INDEX["strong_ion_charge"], INDEX["water"]
ACID = [INDEX[a] for a in ACIDS]

SAUCES = {
    "plum and ginger dip": {
        "plums": 400, "ginger": 15, "sugar": 60, "lime juice": 30, "soy sauce": 20, "salt": 3,
        "garlic": 5, "red chili pepper": 4,
    },
    "red pepper and walnut sauce": {
        "roasted red pepper": 300, "walnuts": 60, "pomegranate molasses": 20, "olive oil": 30,
        "garlic": 6, "cumin": 1.5, "salt": 3,
    },
    "pineapple and mustard-seed chutney": {
        "pineapple": 400, "cider vinegar": 100, "sugar": 90, "raisins": 40, "mustard seed": 6,
        "ginger": 12, "turmeric": 1, "salt": 4,
    },
}  # fmt: skip


@pytest.fixture(scope="module")
def statistics() -> Statistics:
    return read_statistics()


def pot(name: str) -> tuple[list[Ingredient], FloatArray]:
    by_name = {i.name: i for i in default_catalogue().pantry}
    return [by_name[n] for n in SAUCES[name]], np.array(list(SAUCES[name].values()), dtype=float)


def made_up(
    ph: tuple[float, float] | None = None,
    evidence: Evidence = Evidence.TABLE,
    key: str = "99999",
    **amounts: tuple[float, float, float] | float,
) -> Ingredient:
    values, low, high = (np.full(len(NAMES), np.nan) for _ in range(3))
    kinds: list[Evidence | None] = [None] * len(NAMES)
    for name, amount in amounts.items():
        i = INDEX[name]
        kinds[i] = evidence
        if isinstance(amount, tuple):
            low[i], values[i], high[i] = amount
        else:
            values[i] = amount
    source = tuple("SR28" if k else "" for k in kinds)
    return Ingredient(key, "made up", values, low, high, tuple(kinds), source, ph=ph)


def test_a_triangle_has_the_variance_of_the_guide() -> None:
    """4.3.9: half-width a gives u = a / sqrt(6); 90 % of a normal distribution is 1.645 u."""
    juice = made_up(water=95.0, citric=(4.0, 5.0, 6.0))
    found = spread([juice], np.array([50.0]), 0.0, {})
    assert found.sd[SOUR] == pytest.approx(1.0 / np.sqrt(6.0))
    assert found.low[SOUR] == pytest.approx(5.0 - 1.645 / np.sqrt(6.0))
    assert found.high[SOUR] == pytest.approx(5.0 + 1.645 / np.sqrt(6.0))
    assert (found.dominant[SOUR], found.share[SOUR]) == ("made up", 1.0)


def test_an_even_range_of_ph_has_the_variance_of_the_guide() -> None:
    """4.3.7: a range of width w gives u = w / sqrt(12). With the acid sure, only pH is in doubt."""
    juice = made_up(ph=(3.0, 4.0), water=95.0, citric=5.0)
    sure = replace(juice, source=tuple("DEFINITION" for _ in NAMES))
    ph = spread([sure], np.array([50.0]), 0.0, {}).ph
    assert ph is not None
    assert ph.value == pytest.approx(3.5)
    assert ph.sd == pytest.approx(1.0 / np.sqrt(12.0), rel=1e-6)
    assert not ph.by_acid


def test_standard_error_becomes_the_spread_of_a_lot() -> None:
    """Variance of one more draw about a mean of n: s^2 + s^2 / n, that is SE^2 (n + 1)."""
    brine = made_up(water=97.0, sodium=1000.0)
    printed = {"99999": {"sodium": (8.0, 20.0)}}
    found = spread([brine], np.array([10.0]), 0.0, printed)
    assert found.sd[SALT] == pytest.approx(60.0 * NACL_PER_NA.value / 1000.0)
    few = spread([brine], np.array([10.0]), 0.0, {"99999": {"sodium": (2.0, 20.0)}})
    none = spread([brine], np.array([10.0]), 0.0, {})
    assert few.sd[SALT] == none.sd[SALT] > found.sd[SALT]
    free = 1.0 - NACL_PER_NA.value / 100.0  # 1 g of sodium as salt, of 100 g
    usual = RELATIVE_ERROR["sodium"].value * free * NACL_PER_NA.value
    assert none.sd[SALT] == pytest.approx(usual)


def test_acids_move_together_and_sugars_do_not() -> None:
    both = made_up(water=90.0, citric=(1.0, 2.0, 3.0), tartaric=(1.0, 2.0, 3.0))
    found = spread([both], np.array([1.0]), 0.0, {})
    assert found.sd[SOUR] == pytest.approx((1.0 + 1.25) / np.sqrt(6.0))
    syrup = made_up(water=90.0, sucrose=(1.0, 2.0, 3.0), fructose=(1.0, 2.0, 3.0))
    found = spread([syrup], np.array([1.0]), 0.0, {})
    assert found.sd[SWEET] == pytest.approx(np.hypot(1.0, 1.2) / np.sqrt(6.0))


def test_what_is_pure_is_sure_and_what_is_borrowed_is_less_so() -> None:
    by_key = default_catalogue().by_key
    down, up = sides(by_key["P0001"], {})  # citric acid
    assert not down.any()
    assert not up.any()
    sugar = spread([by_key["19335"]], np.array([100.0]), 0.0, {})
    assert sugar.sd[SWEET] < 0.1, "what is nearly all of the mass can hardly vary"
    own = made_up(water=90.0, malic=2.0)
    lent = made_up(evidence=Evidence.ASSUMED, water=90.0, malic=2.0)
    malic = INDEX["malic"]
    assert sides(lent, {})[0][malic] == pytest.approx(2.0 * sides(own, {})[0][malic])


def test_a_label_is_surer_than_the_table() -> None:
    bottle = default_catalogue().by_key["02053"]
    read = tuple("LABEL" if n == "acetic" else s for n, s in zip(NAMES, bottle.source, strict=True))
    label = spread([replace(bottle, source=read)], np.array([10.0]), 0.0, {})
    assert label.sd[SOUR] == pytest.approx(0.03 * label.levels[SOUR], rel=1e-6)


def test_usual_errors_are_the_medians_of_the_table(statistics: Statistics) -> None:
    """The command behind the derived entries of RELATIVE_ERROR, worked again with pandas."""
    foods = pd.read_csv(DATA / "foods.csv", dtype={"ndb": str}).set_index("ndb")
    frame = pd.read_csv(DATA / "food_statistics.csv", dtype={"ndb": str})
    frame = frame[(frame["samples"] >= 3) & (frame["standard_error"] > 0)]
    minerals = {"potassium", "calcium", "magnesium", "phosphorus"}
    for name, entry in RELATIVE_ERROR.items():
        if entry.evidence != "derived":
            continue
        rows = frame[frame["nutrient"] == name]
        value = foods[name].reindex(rows["ndb"]).to_numpy()
        rows, value = rows[value > 0], value[value > 0]
        much = value >= np.quantile(value, 0.25)
        rows, value = rows[much], value[much]
        unit = 0.001 if name in minerals else 1.0
        unit = NACL_PER_NA.value / 1000.0 if name == "sodium" else unit
        lot = rows["standard_error"] * np.sqrt(rows["samples"] + 1)
        median = float((lot / value / (1.0 - unit * value / 100.0)).median())
        assert entry.value == pytest.approx(median, abs=0.0051), name


def simulated(
    ingredients: list[Ingredient],
    grams: FloatArray,
    lost_g: float,
    statistics: Statistics,
    kept: FloatArray | None,
    lots: int,
) -> tuple[FloatArray, FloatArray]:
    """Levels and pH of pots, each with its own lots: no first order anywhere."""
    draw = np.random.default_rng(20240611)
    mass = grams.sum() - lost_g
    total = np.zeros((lots, len(NAMES)))
    for n, (item, amount) in enumerate(zip(ingredients, grams, strict=True)):
        down, up = sides(item, statistics)
        ranged = (item.low != item.high) & ~(np.isnan(item.low) & np.isnan(item.high))
        side = np.where(draw.random((lots, len(NAMES))) < 0.5, -1.0, 1.0)
        triangle = np.sqrt(6.0) * (1.0 - np.sqrt(draw.random((lots, len(NAMES)))))
        normal = np.abs(draw.standard_normal((lots, len(NAMES))))
        side[:, ACID] = side[:, ACID[:1]]
        first = next((a for a in ACID if ranged[a]), ACID[0])
        for size in (triangle, normal):
            size[:, ACID] = size[:, [first]]
        size = np.where(ranged, triangle, normal)
        step = side * size * np.where(side < 0, down, up)
        rows = np.maximum(np.nan_to_num(item.values) + step, 0.0)
        middle = with_charge(item.values, np.mean(item.ph) if item.ph else np.nan)
        rows[:, CHARGE] = middle[CHARGE]
        own = float(acidity(middle).ph)
        if np.isnan(item.values[CHARGE]) and not np.isnan(own):
            if item.ph is None:
                error = 0.9 if own < 5.0 else 1.7
                ph = own + draw.standard_normal(lots) * error / 1.645
            elif item.ph[1] - item.ph[0] < 0.1 * np.sqrt(12.0):
                ph = own + 0.1 * draw.standard_normal(lots)
            else:
                ph = draw.uniform(*item.ph, lots)
            charge = anchor(rows, np.clip(ph, 0.5, 12.0))
            rows[:, CHARGE] = np.where(np.isnan(charge), middle[CHARGE], charge)  # a lot too dry
        total += amount * cooked(rows, None if kept is None else kept[n]) / 100.0
    total[:, WATER] -= lost_g
    finished = total * 100.0 / mass
    return levels(finished), acidity(finished).ph


@pytest.mark.parametrize("name", SAUCES)
@pytest.mark.parametrize("simmered", [False, True])
def test_first_order_against_simulated_lots(
    name: str, simmered: bool, statistics: Statistics
) -> None:
    """Standard deviations within 15 %, ends of the band within 15 % of its width."""
    ingredients, grams = pot(name)
    lost = 0.2 * grams.sum() if simmered else 0.0
    kept = kept_factors(["start"] * len(grams), 0.7) if simmered else None
    found = spread(ingredients, grams, lost, statistics, kept)
    level, ph = simulated(ingredients, grams, lost, statistics, kept, 6000)
    off = np.sqrt(((level - found.levels) ** 2).mean(axis=0))
    doubtful = found.sd > 1e-9
    assert doubtful.sum() >= 6
    assert off[doubtful] == pytest.approx(found.sd[doubtful], rel=0.15)
    ends = np.quantile(level, [0.05, 0.95], axis=0)[:, doubtful]
    width = (found.high - found.low)[doubtful]
    assert np.abs(ends[0] - found.low[doubtful]) / width == pytest.approx(0.0, abs=0.15)
    assert np.abs(ends[1] - found.high[doubtful]) / width == pytest.approx(0.0, abs=0.15)
    assert found.ph is not None
    assert float(np.sqrt(((ph - found.ph.value) ** 2).mean())) == pytest.approx(
        found.ph.sd, rel=0.15
    )
    low, high = np.quantile(ph, [0.05, 0.95])
    assert (found.ph.low, found.ph.high) == pytest.approx(
        (low, high), abs=0.15 * (found.ph.high - found.ph.low)
    )


def test_the_dominant_ingredient_is_the_one_worth_measuring(statistics: Statistics) -> None:
    """Sure of it, the spread falls by its share of the variance; of no other by as much."""
    ingredients, grams = pot("plum and ginger dip")
    found = spread(ingredients, grams, 0.0, statistics)
    left = {}
    for n, item in enumerate(ingredients):
        sure = replace(item, source=tuple("DEFINITION" for _ in NAMES), low=item.values.copy(),
                       high=item.values.copy())  # fmt: skip
        others = [*ingredients[:n], sure, *ingredients[n + 1 :]]
        left[item.name] = spread(others, grams, 0.0, statistics).sd[SOUR]
    best = min(left, key=lambda k: left[k])
    assert best == found.dominant[SOUR]
    assert left[best] == pytest.approx(found.sd[SOUR] * np.sqrt(1.0 - found.share[SOUR]))


def test_order_and_scale_do_not_matter(statistics: Statistics) -> None:
    ingredients, grams = pot("red pepper and walnut sauce")
    one = spread(ingredients, grams, 30.0, statistics)
    two = spread(ingredients[::-1], 3.0 * grams[::-1], 90.0, statistics)
    assert two.sd == pytest.approx(one.sd)
    assert two.dominant == one.dominant
    assert one.ph is not None
    assert two.ph is not None
    assert two.ph.sd == pytest.approx(one.ph.sd)


def test_sentences_name_the_ingredient_and_the_unknown(statistics: Statistics) -> None:
    ingredients, grams = pot("plum and ginger dip")
    lines = in_words(spread(ingredients, grams, 0.0, statistics))
    sour = next(line for line in lines if line.startswith("sour"))
    assert "of the doubt is plums; titrate it." in sour
    volatile = next(line for line in lines if line.startswith("volatile"))
    assert "Unknown, counted as none: plums" in volatile
    assert any(line.startswith("salt") and "closer than a tongue" in line for line in lines)
    assert lines[-1].startswith("pH ")
    water = made_up(water=100.0, citric=0.0)
    dull = in_words(spread([water], np.array([1.0]), 0.0, {}))
    assert not any(line.startswith("sour 0 to 0:") for line in dull)


def test_without_a_water_phase_there_is_no_ph(statistics: Statistics) -> None:
    oil = default_catalogue().by_key["04053"]
    assert spread([oil], np.array([100.0]), 0.0, statistics).ph is None


def test_a_nil_batch_and_a_damaged_table_are_refused(tmp_path: Path) -> None:
    oil = default_catalogue().by_key["04053"]
    with pytest.raises(BadInput, match="weighs 0 g"):
        spread([oil], np.array([0.0]), 0.0, {})
    with pytest.raises(BadInput, match="least quantity of -1 g"):
        spread([oil, oil], np.array([5.0, -1.0]), 0.0, {})
    with pytest.raises(DataProblem, match=r"food_statistics\.csv"):
        read_statistics(tmp_path)
    table = tmp_path / "food_statistics.csv"
    table.write_text("ndb,nutrient,samples,standard_error\n01001,water,many,0.1\n")
    with pytest.raises(DataProblem, match="01001"):
        read_statistics(tmp_path)


def test_it_is_fast_enough_for_a_page(statistics: Statistics) -> None:
    ingredients, grams = pot("plum and ginger dip")
    spread(ingredients, grams, 0.0, statistics)
    start = time.perf_counter()
    for _ in range(5):
        spread(ingredients, grams, 0.0, statistics)
    assert (time.perf_counter() - start) / 5 < 0.5
