"""What the long form of bad input has found, kept as cases of its own."""

from __future__ import annotations

import base64
import json
import zlib
from pathlib import Path

import pytest
from hard_visit import Visit
from tally import not_a_sentence

from balancer.catalogue import Catalogue
from balancer.dashboard.address import packed, read
from balancer.dashboard.making import Making
from balancer.dashboard.pasting import Paste
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.label import Label
from balancer.own import Own
from balancer.parse import parse_draft
from balancer.rounds import Round
from balancer.search import resolve
from balancer.strength import Strength, with_strength


def refusal(act) -> str:
    with pytest.raises(BadInput) as caught:
        act()
    return str(caught.value)


def test_a_strength_that_leaves_no_water(catalogue: Catalogue) -> None:
    plums = resolve(catalogue, "plums")
    text = refusal(lambda: with_strength(plums, Strength(salt_pct=90.0)))
    assert not not_a_sentence(text, "09279")


def test_a_volume_of_nothing(catalogue: Catalogue) -> None:
    for words in ("0 ml sugar", "0 ml milk plus 1 tbsp sugar", "0 cups plums"):
        (line,) = parse_draft(words, catalogue).lines
        assert not line.weight.grams > 20.0
        assert not line.note or not not_a_sentence(line.note, words)


@pytest.mark.parametrize(
    "document",
    [
        {"carbohydrate_g": None, "per_g": 15.0},
        {"fat_g": None, "per_g": 100.0},
        {"form": "[" * 2000, "per_g": 15.0},
        {"form": ["US"] * 500, "per_g": 15.0},
    ],
)
def test_labels(document: dict) -> None:
    assert not not_a_sentence(refusal(lambda: Label.from_document(document)))


def test_a_name_with_a_control_character() -> None:
    assert not not_a_sentence(refusal(lambda: Own("sy\x1frup", brix=60.0)))


def test_a_level_beyond_all_numbers() -> None:
    levels = dict.fromkeys(("sweet", "sour", "salt", "volatile", "umami", "heat", "body"), 1.0)
    document = {"made": {**levels, "fat": 10**400}, "words": {"sour": "too_much"}}
    assert not not_a_sentence(refusal(lambda: Round.from_document(document)))


# --- the pages ----------------------------------------------------------------------------------
@pytest.fixture
def visit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Visit:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    return Visit.begun("plum-ginger-dip")


@pytest.mark.parametrize(
    ("where", "typed"),
    [
        ("readings", {"_read_brix": "twelve"}),
        ("readings", {"_read_mass_g": 900, "_want_sweet": True, "_pot_add": 7}),
        ("readings", {"_pot_growth": 10**400, "_pot_scale": [1.0]}),
        ("panel", {"_method": 3, "_n": "many"}),
        ("recipe", {"wanted": [1, 2]}),
    ],
)
def test_fields_in_an_address_that_no_field_could_hold(
    visit: Visit, where: str, typed: dict
) -> None:
    visit.step("address", False, {"typed": packed(typed)})
    visit.step("go", where, None)


@pytest.mark.parametrize(
    "details",
    [
        {"temperature_c": "hot"},
        {"closeness": 7},
        {"notes": 7},
        {"rinsed": 7},
        {"place": "moon"},
        {"sample": 10**400},
        {"own": {"sour": True}},
        {"own": {"zz": 3.0}},
    ],
)
def test_details_of_a_tasting_that_nobody_said(details: dict) -> None:
    document = house_sauces()["plum-ginger-dip"]
    text = refusal(lambda: read(packed({"sauce": document, "details": details})))
    assert not not_a_sentence(text)


def test_a_mark_without_its_reference_outlives_a_reload(visit: Visit) -> None:
    visit.step("unfold", "_marks", None)
    visit.at.number_input(key="_own_sour").set_value(40.0)
    visit.look("one mark of two")
    visit.step("reload", None, None)
    assert visit.at.session_state["work"].details.own == {"sour": 40.0}


@pytest.mark.parametrize("number", [10**400, float("inf"), "\ud800"])
def test_letters_of_an_address_that_no_page_wrote(number: object) -> None:
    """Numbers beyond all numbers, and halves of a sign that no text can hold."""
    text = base64.urlsafe_b64encode(zlib.compress(json.dumps({
        "sauce": house_sauces()["plum-ginger-dip"], "growth_pct": number, "size": number,
        "name": number, "text": "", "mended": {}, "taken": [], "out": [number],
    }).encode())).decode()  # fmt: skip
    assert not not_a_sentence(refusal(lambda: read(text)))
    assert Making.read(text) == Making()
    assert not Paste.read(text).text
    assert "\ud800" not in Paste.read(text).name


def test_an_ingredient_without_a_name_is_refused_with_a_sentence(visit: Visit) -> None:
    visit.step("go", "own", None)
    visit.at.number_input(key="_own_acidity_pct").set_value(1e7)
    visit.look("too sour")
    assert visit.at.error[0].value.startswith("It: the acidity")


@pytest.mark.parametrize("key", ["work", "address", "results", "notes", "page", "kitchen"])
@pytest.mark.parametrize("value", [[None, "x"], {"Infinity": "-1"}, 7])
def test_a_value_of_the_session_that_is_of_another_kind(
    visit: Visit, key: str, value: object
) -> None:
    visit.put(f"session[{key!r}] = {value!r}", key, value)


def test_a_sauce_that_the_session_has_lost_comes_from_the_address(visit: Visit) -> None:
    visit.take_away("work")
