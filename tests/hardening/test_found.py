"""What the long form of bad input has found, kept as cases of its own."""

from __future__ import annotations

import pytest
from tally import not_a_sentence

from balancer.catalogue import Catalogue
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
