"""From words to an ingredient: plain kitchen words, synonyms, typing errors, and refusals."""

from __future__ import annotations

import shutil
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.catalogue import Catalogue
from balancer.errors import BadInput, UnknownIngredient
from balancer.search import LONGEST_NAME, find, plain, resolve
from balancer.tables import data_directory

#: A cook's plain word to the food number of the raw or ordinary form in the open table.
PLAIN_WORDS = {
    "sugar": "19335", "brown sugar": "19334", "salt": "02047", "water": "14411", "onion": "11282",
    "garlic": "11215", "ginger": "11216", "tomatoes": "11529", "plums": "09279",
    "apricots": "09021", "lime juice": "09160", "lemon juice": "09152",
    "distilled vinegar": "02053", "cider vinegar": "02048", "tomato paste": "11546",
    "fish sauce": "06179", "soy sauce": "16123", "cornstarch": "20027",
    "red chili pepper": "11819", "honey": "19296", "olive oil": "04053", "plums, raw": "09279",
    "mustard seed": "02024", "pineapple": "09266", "walnuts": "12155",
}  # fmt: skip


@pytest.mark.parametrize("word", sorted(PLAIN_WORDS))
def test_plain_words(catalogue: Catalogue, word: str) -> None:
    assert resolve(catalogue, word).key == PLAIN_WORDS[word]
    assert resolve(catalogue, f"  {word.upper()} ").key == PLAIN_WORDS[word]


def test_every_name_and_number_leads_back(catalogue: Catalogue) -> None:
    for food in catalogue.pantry:
        assert resolve(catalogue, food.name) is food
        assert resolve(catalogue, food.key) is food


def test_synonyms_mean_one_thing(catalogue: Catalogue) -> None:
    for food in catalogue.pantry:
        for synonym in food.synonyms:
            assert resolve(catalogue, synonym) is food, synonym


def test_names_of_the_table(catalogue: Catalogue) -> None:
    """A description of the table, or its number, finds a food that is not in the pantry."""
    missed = []
    for food in catalogue.table[::25]:
        assert resolve(catalogue, food.key) is food
        if len(food.name) <= LONGEST_NAME:
            try:
                found = resolve(catalogue, food.name)
            except BadInput:
                missed.append(food.name)
                continue
            assert found is food or plain(found.name) != plain(food.name)
    assert len(missed) <= 0.02 * len(catalogue.table) / 25, missed


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("tomatos", "tomatoes"),
        ("tumeric", "turmeric"),
        ("cardamon", "cardamom"),
        ("parsly", "parsley"),
        ("vineger", "vinegar"),
        ("sour plum", "plums"),
        ("worcester sauce", "worcestershire sauce"),
    ],
)
def test_typing_errors_are_forgiven(catalogue: Catalogue, typed: str, meant: str) -> None:
    names = [h.ingredient.name for h in find(catalogue, typed, 5)]
    assert any(meant in n for n in names), names


def test_hits_are_ranked_and_limited(catalogue: Catalogue) -> None:
    hits = find(catalogue, "vinegar", 4)
    assert len(hits) == 4
    scores = [h.score for h in hits]
    assert scores == sorted(scores, reverse=True)
    assert all(0 <= s <= 100 for s in scores)
    assert all("vinegar" in h.matched for h in hits)
    assert not [h for h in find(catalogue, "apple", 20, table=False) if not h.in_pantry]
    assert [h for h in find(catalogue, "apple", 50) if not h.in_pantry]


def test_an_unknown_name_gets_the_nearest_five(catalogue: Catalogue) -> None:
    with pytest.raises(UnknownIngredient) as caught:
        resolve(catalogue, "plumbs")
    assert len(caught.value.nearest) == 5
    assert "plums" in caught.value.nearest
    text = str(caught.value)
    assert "'plumbs'" in text
    assert "Search with" in text


def test_a_word_for_two_foods_is_refused_with_both(catalogue: Catalogue, tmp_path: Path) -> None:
    """Two descriptions that read alike once folded are told apart by name or by number."""
    for path in data_directory().glob("*.csv"):
        shutil.copy(path, tmp_path / path.name)
    foods = tmp_path / "foods.csv"
    one, two = catalogue.table[10], catalogue.table[11]
    text = foods.read_text(encoding="utf-8")
    assert one.name in text
    assert two.name in text
    text = text.replace(one.name, "Moonfruits; raw").replace(two.name, "moonfruit - raw")
    foods.write_text(text, encoding="utf-8")
    damaged = Catalogue(tmp_path)
    with pytest.raises(BadInput, match="can mean") as caught:
        resolve(damaged, "MOONFRUIT raw")
    assert one.key in str(caught.value)
    assert two.key in str(caught.value)
    assert resolve(damaged, two.key).key == two.key
    assert resolve(damaged, "moonfruit - raw").key == two.key


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("", "no name"),
        ("   ", "no name"),
        ("x" * 10_000, "10000 letters"),
        ("'; drop table foods; --", "No ingredient"),
        ("<script>alert(1)</script>", "No ingredient"),
        ("../../etc/passwd", "No ingredient"),
        ("99999", "No ingredient"),
        ("\u0000", "No ingredient"),
        ("🍑", "No ingredient"),
    ],
)
def test_names_that_mean_nothing(catalogue: Catalogue, name: str, words: str) -> None:
    with pytest.raises(BadInput, match=words) as caught:
        resolve(catalogue, name)
    assert len(str(caught.value)) < 600
    assert "\n" not in str(caught.value)


@given(text=st.text(max_size=200))
@settings(max_examples=60, deadline=None)
def test_no_text_breaks_the_search(catalogue: Catalogue, text: str) -> None:
    assert len(find(catalogue, text, 3, table=False)) <= 3
    with suppress(BadInput):
        assert resolve(catalogue, text).name


@given(text=st.text(max_size=80))
@settings(max_examples=100, deadline=None)
def test_folding_twice_is_folding_once(text: str) -> None:
    """Case, accents and punctuation are gone, and a folded word keeps its singular."""
    once = plain(text)
    assert once == once.casefold()
    assert plain(text.upper()) == plain(text.upper().lower())
