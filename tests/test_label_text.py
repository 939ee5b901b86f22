"""Labels read from their text: the published forms of both laws, and what cooks paste."""

from __future__ import annotations

import pytest

from balancer.catalogue import Catalogue
from balancer.composition import filled
from balancer.errors import BadInput
from balancer.inferring import inferred
from balancer.label import Label
from balancer.label_text import read_label
from balancer.own import Own

#: The specimen of 21 CFR 101.9(d)(12), the Nutrition Facts label as printed there (recalled).
US_SPECIMEN = """Nutrition Facts
8 servings per container
Serving size 2/3 cup (55g)
Amount per serving
Calories 230
% Daily Value*
Total Fat 8g 10%
Saturated Fat 1g 5%
Trans Fat 0g
Cholesterol 0mg 0%
Sodium 160mg 7%
Total Carbohydrate 37g 13%
Dietary Fiber 4g 14%
Total Sugars 12g
Includes 10g Added Sugars 20%
Protein 3g
Vitamin D 2mcg 10%
Calcium 260mg 20%
Iron 8mg 45%
Potassium 235mg 6%
"""
#: In the order of Regulation (EU) No 1169/2011, Annex XV (recalled), with two columns.
EU_TABLE = """Typical values   per 100 g   per 15 g
Energy  655 kJ / 154 kcal  98 kJ / 23 kcal
Fat 0,2 g 0 g
of which saturates <0.1 g
Carbohydrate 38 g 5.7 g
of which sugars 36 g 5.4 g
Fibre 1.0 g
Protein 0.4 g
Salt 1.50 g 0.23 g
"""


def test_the_us_specimen() -> None:
    found = read_label(US_SPECIMEN)
    assert found.label == Label(
        "US", per_g=55, fat_g=8, carbohydrate_g=37, sugars_g=12, protein_g=3, fibre_g=4,
        sodium_mg=160, potassium_mg=235, calcium_mg=260, energy_kcal=230,
    )  # fmt: skip
    assert found.notes == ()


def test_the_eu_order_takes_the_first_column() -> None:
    found = read_label(EU_TABLE)
    assert found.label == Label(
        "EU", per_g=100, fat_g=0.2, carbohydrate_g=38, sugars_g=36, protein_g=0.4, fibre_g=1,
        salt_g=1.5, energy_kcal=154,
    )  # fmt: skip
    assert found.notes == ()


@pytest.mark.parametrize("text", [US_SPECIMEN, EU_TABLE])
def test_line_breaks_and_letters_do_not_matter(text: str) -> None:
    plain = read_label(text).label
    for changed in (text.upper(), text.lower(), " ".join(text.split()), text.replace("\n", "\r\n")):
        assert read_label(changed).label == plain


@pytest.mark.parametrize(
    ("text", "figures"),
    [
        ("per 100 ml: sugars (g) 4.7, carbohydrate (g): 4.7", {"per_ml": 100, "sugars_g": 4.7}),
        ("per 100g sodium 0.04 g", {"sodium_mg": 40}),
        ("per 100g salt 500 mg", {"salt_g": 0.5}),
        ("per 100 g energy 1000 kJ", {"energy_kcal": 239.005736}),
        ("per serving (30 g) protein 20g", {"per_g": 30, "protein_g": 20}),
        ("Serving size 1 tbsp (15 mL) Sodium 900mg", {"per_ml": 15, "sodium_mg": 900}),
        ("per 100 ml alcohol 40 % vol", {"alcohol_pct": 40}),
        ("100 g: fat less than 1 g per 100 g", {"fat_g": 0.5}),
        ("per 100 g carbohydrates 10 g of which starch 8 g", {"starch_g": 8}),
        ("per 100 g sodium 40 mg calcium 20%", {"sodium_mg": 40, "calcium_mg": None}),
    ],
)
def test_single_figures(text: str, figures: dict[str, float]) -> None:
    label = read_label(text).label
    for field, value in figures.items():
        assert getattr(label, field) == value


def test_what_is_not_read_is_said() -> None:
    found = read_label("per 100 g\nfat 1 g\nlot 4711\nbest before 12/2027\nprotein <0.5 g")
    said = " ".join(found.notes)
    assert "'lot 4711'" in said
    assert "'best before 12/2027'" in said
    assert "less than 0.5 g of protein: 0.25 g is taken" in said
    assert "does not give carbohydrate, sugars" in said
    both = read_label("per 100 g sodium 400 mg, salt 1 g, fat 0 g")
    assert both.label.salt_g is None
    assert "the salt was left out" in both.notes[0]


def test_text_and_figures_lead_to_one_vector(catalogue: Catalogue) -> None:
    us = "Serving size 20 g Total Fat 0g Sodium 120mg Total Carbohydrate 7.8g Dietary Fiber 0.2g"
    us += " Total Sugars 7.2g Protein 0.1g"
    eu = "per 100 g fat 0 g carbohydrate 38 g sugars 36 g fibre 1 g protein 0.5 g salt 1.5 g"
    one, other = (
        inferred(Own("sauce", read_label(text).label), catalogue).ingredient for text in (us, eu)
    )
    assert filled(one.values) == pytest.approx(filled(other.values))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "No figure of a label"),
        ("a poem of 12 lines", "No figure of a label"),
        ("fat 1 g, protein 2 g", "no serving size"),
        ("per 0 g fat 1 g", "serving size is 0"),
        ("per 100 g fat 60 g carbohydrate 60 g", "add up to 120 g"),
        ("<script>alert(1)</script>", "No figure of a label"),
        ("x" * 6000, "6000 letters"),
    ],
)
def test_bad_text(text: str, says: str) -> None:
    with pytest.raises(BadInput, match=says):
        read_label(text)
