"""Amounts as a cook writes them, and how measures and weights are shown."""

from __future__ import annotations

import math
import re
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from balancer.errors import BadInput
from balancer.measures import (
    CLOSE,
    Measure,
    kitchen_measure,
    scale_step,
    shown_grams,
    weight_text,
)
from balancer.numerals import FRACTIONS, fraction_text, nearest
from balancer.units import VOLUME_ML, Amount, amount, grams, millilitres, registry


# --- reading amounts ----------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("500", 500, ""),
        ("500 g", 500, "g"),
        ("500g", 500, "g"),
        ("1.5 kg", 1.5, "kg"),
        ("1,5 kg", 1.5, "kg"),
        (".5 kg", 0.5, "kg"),
        ("1 000 g", 1000, "g"),
        ("1e3 g", 1000, "g"),
        ("1 1/2 cups", 1.5, "cup"),
        ("2-1/2 tbsp", 2.5, "tbsp"),
        ("1/2 teaspoon", 0.5, "tsp"),
        ("1 / 4 tsp.", 0.25, "tsp"),
        ("\u00bd tsp", 0.5, "tsp"),
        ("1\u00bd lb", 1.5, "lb"),
        ("1\u20442 cup", 0.5, "cup"),
        ("2 fl. oz.", 2, "fl oz"),
        ("3 Fluid Ounces", 3, "fl oz"),
        ("2 metric cups", 2, "metric cup"),
        ("0 g", 0, "g"),
    ],
)
def test_amounts_are_read(text: str, value: float, unit: str) -> None:
    assert amount(text) == Amount(value, unit)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "cannot be read"),
        ("some", "cannot be read"),
        ("5 eggs", "'5 eggs'"),
        ("1/0 g", "'1/0 g'"),
        ("1 1 g", "cannot be read"),
        ("5 g g", "cannot be read"),
        ("-5 g", "-5 g, below zero"),
        ("\u22125 g", "-5 g, below zero"),
        ("nan", "nan g, not a finite number"),
        ("inf g", "inf g, not a finite number"),
        ("1e999 g", "inf g, not a finite number"),
        ("1e12 g", "1e+12 g, over 1e+07"),
        ("1,500 g", "Write 1500 or 1.5"),
        ("9" * 10_000, "cannot be read"),
        ("[" * 100_000, "cannot be read"),
    ],
)
def test_amounts_that_cannot_be_meant(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=re.escape(says)) as caught:
        grams(text, "The salt")
    assert str(caught.value).startswith("The salt is ")
    assert len(str(caught.value)) < 200


@pytest.mark.parametrize(
    "given_", [-1.0, math.nan, math.inf, 1.01e7, 10**400, True, None, [5], "5 lb of salt"]
)
def test_numbers_that_cannot_be_meant(given_: float) -> None:
    with pytest.raises(BadInput, match="The salt is "):
        grams(given_, "The salt")


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_one_sentence(text: str) -> None:
    said = ""
    try:
        read = amount(text, "The salt")
    except BadInput as error:
        said = str(error)
        read = Amount(0.0, "")
    assert "\n" not in said
    assert len(said) < 250
    assert 0 <= read.value <= 1e7


@given(st.integers(0, 99), st.sampled_from(sorted(FRACTIONS)), st.sampled_from(["tsp", "cup"]))
def test_what_is_written_is_read_back(whole: int, fraction: float, unit: str) -> None:
    value = whole + fraction
    assert amount(f"{fraction_text(value)} {unit}").value == pytest.approx(value)


def test_grams_of_numbers_and_units() -> None:
    assert grams(12.5) == 12.5
    assert grams(np.float64(12.5)) == 12.5
    assert grams("12.5") == 12.5
    assert grams("2 kg") == 2000.0
    assert grams("250 mg") == 0.25
    assert grams("1 cup", g_per_ml=2.0) == pytest.approx(2.0 * VOLUME_ML["cup"])
    with pytest.raises(BadInput, match="a volume, and its density is not known"):
        grams("1 cup", "The plums")
    with pytest.raises(BadInput, match="over 1e"):
        grams("10001 kg")
    assert millilitres("1.5 l") == 1500.0
    assert millilitres(500) == 500.0
    with pytest.raises(BadInput, match="cannot be turned into mL"):
        millilitres("500 g")


def test_the_registry_and_the_table_of_volumes_agree() -> None:
    assert registry() is registry()
    for unit, ml in VOLUME_ML.items():
        assert Amount(1.0, unit).in_unit("mL") == pytest.approx(ml, rel=1e-12)


def test_a_weight_in_grams_needs_no_registry() -> None:
    code = (
        "import sys, balancer.units, balancer.measures, balancer.recipe, balancer.export,"
        " balancer.store; balancer.units.grams('500 g');"
        " print([m for m in ('pint', 'pandas', 'scipy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_fractions() -> None:
    for fraction, text in FRACTIONS.items():
        assert fraction_text(fraction) == text
        assert fraction_text(2 + fraction) == f"2 {text}"
    assert fraction_text(3.0) == "3"
    assert fraction_text(0.3) == "0.3"
    assert nearest(0.01, FRACTIONS) == 1 / 8
    assert nearest(2.95, FRACTIONS) == 3.0


@given(st.floats(0.01, 1000), st.sets(st.sampled_from(sorted(FRACTIONS))))
def test_nearest_is_the_nearest_mark(value: float, fractions: set[float]) -> None:
    marks = [whole + f for whole in range(1002) for f in (0.0, *fractions)][1:]
    found = nearest(value, fractions)
    assert abs(found - value) <= min(abs(m - value) for m in marks) + 1e-12
    assert found > 0


# --- measures -----------------------------------------------------------------------------------
SALT = [Measure(1, "tsp", 6.0), Measure(1, "tbsp", 18.0), Measure(1, "cup", 292.0)]
ONION = [
    Measure(1, "cup, chopped", 160),
    Measure(1, "tbsp chopped", 10),
    Measure(1, 'medium (2-1/2" dia)', 110),
    Measure(1, "large", 150),
    Measure(10, "rings", 60),
]
GARLIC = [Measure(1, "tsp", 2.8), Measure(3, "cloves", 9.0)]
CORIANDER = [Measure(9, "sprigs", 20.0), Measure(0.25, "cup", 4.0)]


@pytest.mark.parametrize(
    ("weight", "measures", "text"),
    [
        (6.0, SALT, "1 tsp"),
        (15.0, SALT, "2 1/2 tsp"),
        (18.0, SALT, "1 tbsp"),
        (73.0, SALT, "1/4 cup"),
        (400.0, SALT, "1 1/3 cups"),
        (2.25, SALT, "about 1/4 to 1/2 tsp"),
        (5.2, SALT, "about 3/4 tsp"),
        (5.5, SALT, "about 1 tsp"),
        (0.3, SALT, "less than 1/8 tsp"),
        (0.75, SALT, "1/8 tsp"),
        (110.0, ONION, "about 1 medium"),
        (300.0, ONION, "about 2 large"),
        (55.0, ONION, "about 1/2 medium"),
        (20.0, ONION, "2 tbsp, chopped"),
        (9.0, GARLIC, "about 3 cloves"),
        (5.6, GARLIC, "2 tsp"),
        (20.0, CORIANDER, "about 9 sprigs"),
        (8.0, CORIANDER, "1/2 cup"),
        (66.0, [Measure(1, 'fruit (2-1/8" dia)', 66.0)], "about 1 whole"),
        (5.0, [Measure(1, 'fruit (2-1/8" dia)', 66.0)], ""),
        (5000.0, [Measure(1, "fruit", 66.0)], ""),
        (14.0, [Measure(7, "leaves", 14.0)], "about 7 leaves"),
        (124.0, [Measure(1, "plum tomato", 62.0)], "about 2 plum tomatoes"),
        (5.0, [Measure(1, "tsp or 1 packet", 5.0)], "1 tsp"),
        (5.0, [Measure(1, "teaspoon", 5.0)], "1 tsp"),
        (30.0, [Measure(1, "fl oz", 30.0)], "2 tbsp"),
        (44.0, [Measure(1, "lime yields", 44.0)], ""),
        (30.0, [Measure(1, "oz", 28.35), Measure(1, "tbsp (1 NLEA serving)", 15)], "2 tbsp"),
        (240.0, [Measure(1, "cup (8 fl oz)", 240)], "1 cup"),
        (5.0, [Measure(1, "cup, chunks", 165.0)], ""),
        (165.0, [Measure(1, "cup, chunks", 165.0)], "1 cup, chunks"),
        (10.0, [], ""),
        (0.0, SALT, ""),
        (math.nan, SALT, ""),
    ],
)
def test_kitchen_measures(weight: float, measures: list[Measure], text: str) -> None:
    assert kitchen_measure(weight, measures) == text


@given(st.floats(0.01, 20_000), st.sampled_from([SALT, ONION, GARLIC, CORIANDER]))
def test_a_measure_without_about_is_within_five_per_cent(
    weight: float, measures: list[Measure]
) -> None:
    text = kitchen_measure(weight, measures)
    assume(text and not text.startswith(("about", "less")))
    number, unit = re.fullmatch(r"([\d /]+) (tsp|tbsp|cup)s?(?:, .*)?", text).groups()  # type: ignore[union-attr]
    volume_ml = amount(f"{number} {unit}").in_unit("mL")
    densities = []
    for measure in measures:
        spoken = measure.unit_text.split(",")[0].split()[0]
        if spoken in VOLUME_ML:
            densities.append(measure.unit_g / VOLUME_ML[spoken])
    said = [volume_ml * density for density in densities]
    assert min(abs(s / weight - 1) for s in said) <= CLOSE + 1e-9


def test_measures_of_nothing_are_refused() -> None:
    for bad in ((0, 5.0), (1, 0.0), (1, -5.0), (1, math.nan), (math.inf, 5.0)):
        with pytest.raises(BadInput, match="'tsp'"):
            Measure(bad[0], "tsp", bad[1])


# --- weights as a scale shows them --------------------------------------------------------------
def test_weights_have_the_digits_they_deserve() -> None:
    shown = [weight_text(g) for g in (0.0123, 0.456, 4.56, 45.6, 99.9, 456.7, 12345.6)]
    assert shown == ["0.012", "0.46", "4.6", "45.5", "100.0", "457", "12346"]


@given(st.lists(st.floats(0.001, 5000), min_size=1, max_size=20))
def test_shown_weights_add_up(weights: list[float]) -> None:
    shown = shown_grams(weights)
    steps = [scale_step(g) for g in weights]
    coarse = max(steps)
    for g, s, step in zip(weights, shown, steps, strict=True):
        assert s > 0
        assert s / step == pytest.approx(round(s / step))
        assert abs(s - g) <= (step if step == coarse else step / 2) + 1e-9
    off = math.fsum(shown) - math.fsum(weights)
    coarse_shown = [(s, g) for s, g, t in zip(shown, weights, steps, strict=True) if t == coarse]
    if off > coarse / 2 + 1e-9:
        assert all(s <= max(g, coarse) + 1e-9 for s, g in coarse_shown), "none could be lower"
    if off < -coarse / 2 - 1e-9:
        assert all(s >= g - 1e-9 for s, g in coarse_shown), "none could be higher"


@given(st.lists(st.integers(1000, 5_000_000), min_size=2, max_size=12))
def test_whole_grams_give_the_whole_batch(milligrams: list[int]) -> None:
    weights = [100 + m / 1000 for m in milligrams]
    batch = math.fsum(weights)
    assume(abs(batch % 1 - 0.5) > 1e-6)
    assert math.fsum(shown_grams(weights)) == round(batch)


def test_a_small_weight_is_not_moved_for_the_sum() -> None:
    assert shown_grams([100.3, 200.0, 3.4]) == (100.0, 200.0, 3.4)
    assert shown_grams([]) == ()
