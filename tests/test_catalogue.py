"""The only reader of the tables: what it reads is checked, and a damaged table is named."""

from __future__ import annotations

import csv
import math
import shutil
from pathlib import Path

import numpy as np
import pytest

from balancer.catalogue import Catalogue, default_catalogue
from balancer.composition import INDEX, NAMES, Evidence
from balancer.errors import DataProblem
from balancer.measures import kitchen_measure
from balancer.tables import data_directory, read_rows

ROOT = Path(__file__).parent.parent


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The tables, to be damaged."""
    for path in data_directory().glob("*.csv"):
        shutil.copy(path, tmp_path / path.name)
    return tmp_path


def _rewrite(path: Path, change: dict[int, dict[str, str]]) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for place, cells in change.items():
        rows[place].update(cells)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)


def test_sizes(catalogue: Catalogue) -> None:
    """A curated pantry of at least 220, and over 3,000 foods in all."""
    assert len(catalogue.pantry) >= 220
    assert len(catalogue.everything) >= 3000
    assert all(len(food.values) == len(NAMES) for food in catalogue.pantry)


def test_keys_are_unique_and_found(catalogue: Catalogue) -> None:
    keys = [i.key for i in catalogue.everything]
    assert len(set(keys)) == len(keys)
    assert catalogue.food("02047").name == "salt"
    assert catalogue.food(catalogue.table[-1].key) is catalogue.table[-1]
    with pytest.raises(DataProblem, match="'99999'"):
        catalogue.food("99999")


def test_table_keeps_what_is_missing(catalogue: Catalogue) -> None:
    """Acids are in no food of the table, so they are unknown, not zero."""
    citric = np.array([f["citric"] for f in catalogue.table])
    assert np.isnan(citric).all()
    starch = np.array([f["starch"] for f in catalogue.table])
    assert 0.3 < np.isnan(starch).mean() < 1.0
    for food in catalogue.table:
        for value, evidence in zip(food.values, food.evidence, strict=True):
            assert math.isnan(value) == (evidence is None)


def test_every_number_has_evidence_and_a_source(catalogue: Catalogue) -> None:
    unknown = set()
    for food in catalogue.everything:
        for i, evidence in enumerate(food.evidence):
            if evidence is not None:
                assert isinstance(evidence, Evidence)
                unknown |= {k for k in food.source[i].split(";") if k not in catalogue.sources}
    assert not unknown


def test_usual_shares(catalogue: Catalogue) -> None:
    for food in catalogue.pantry:
        assert food.share is not None
        low, typical, high = food.share
        assert 0 <= low <= typical <= high <= 1, food


def test_salt_by_its_table_row(catalogue: Catalogue) -> None:
    """SR28, NDB 02047, salt, table: 38,758 mg of sodium in 100 g."""
    assert catalogue.food("02047")["sodium"] == 38758.0
    assert catalogue.food("19335")["sucrose"] == pytest.approx(99.8, abs=0.3)


def test_acetic_acid_left_the_water(catalogue: Catalogue) -> None:
    vinegar = catalogue.food("02053")
    mass = sum(np.nan_to_num(vinegar[c]) for c in ("water", "acetic", "other_sugars", "ash"))
    assert mass == pytest.approx(100.0, abs=1.0)


def test_measures(catalogue: Catalogue) -> None:
    """SR28 weights: a tablespoon of soy sauce 16 g, a cup of honey 339 g."""
    soy = {m.unit_text: m.grams / m.amount for m in catalogue.measures("16123")}
    assert soy["tbsp"] == 16.0
    assert {m.unit_text: m.grams for m in catalogue.measures("19296")}["cup"] == 339.0
    assert catalogue.measures("nothing") == ()


def test_a_second_ingredient_on_a_row_borrows_spoons_of_its_form_only(
    catalogue: Catalogue,
) -> None:
    """Every key with a letter is settled by hand, with a reason; a piece is never lent."""
    with (catalogue.directory / "curated" / "lent_measures.csv").open(encoding="utf-8") as file:
        settled = {row["key"]: row for row in csv.DictReader(file)}
    second = {f.key for f in catalogue.pantry if f.key[-1].isalpha()}
    assert settled.keys() == second
    for key, row in settled.items():
        words = [m.unit_text for m in catalogue.measures(key)]
        assert row["reason"]
        assert bool(words) == (row["lends"] == "spoons"), key
        assert all(w.startswith(("tsp", "tbsp", "cup")) for w in words), key
        assert set(catalogue.measures(key)) <= set(catalogue.measures(key[:5]))
    assert kitchen_measure(3.0, catalogue.measures("02002b")) == ""
    assert kitchen_measure(45.0, catalogue.measures("11819")) == "about 1 pepper"
    assert "pepper" not in kitchen_measure(45.0, catalogue.measures("11819c"))


def test_read_once() -> None:
    assert default_catalogue() is default_catalogue()


def test_sources_say_what_they_are(catalogue: Catalogue) -> None:
    for source in catalogue.sources.values():
        assert source.citation
        assert source.kind
        assert source.terms


# --- damage ---------------------------------------------------------------------------------------
def test_a_missing_table_is_named(copy: Path) -> None:
    (copy / "pantry_composition.csv").unlink()
    with pytest.raises(DataProblem, match=r"pantry_composition\.csv cannot be read.*rebuild"):
        _ = Catalogue(copy).pantry


def test_a_table_that_is_not_text_is_named(copy: Path) -> None:
    (copy / "foods.csv").write_bytes(b"\xff\xfe\x00key,\x81\n\xff")
    with pytest.raises(DataProblem, match=r"foods\.csv"):
        _ = Catalogue(copy).table


def test_an_empty_pantry_is_refused(copy: Path) -> None:
    first = (copy / "pantry.csv").read_text(encoding="utf-8").splitlines()[0]
    (copy / "pantry.csv").write_text(first + "\n", encoding="utf-8")
    with pytest.raises(DataProblem, match="no ingredient"):
        _ = Catalogue(copy).pantry


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"component": "aether"}, "aether"),
        ({"value": "much"}, "much"),
        ({"value": "-3"}, "-3"),
        ({"evidence": "hearsay"}, "hearsay"),
        ({"key": "00000"}, "no composition|two rows|00000"),
    ],
)
def test_a_damaged_cell_is_named(copy: Path, cells: dict[str, str], words: str) -> None:
    """A tool that computes from a damaged table would be worse than one that stops."""
    rows = list(read_rows(copy / "pantry_composition.csv"))
    place = next(i for i, r in enumerate(rows) if r["component"] == "sodium")
    change = {place: cells}
    if "key" in cells:  # a whole ingredient loses its rows
        change = {i: cells for i, r in enumerate(rows) if r["key"] == rows[place]["key"]}
    _rewrite(copy / "pantry_composition.csv", change)
    with pytest.raises(DataProblem, match=words):
        _ = Catalogue(copy).pantry


def test_a_missing_column_is_named(copy: Path) -> None:
    text = (copy / "foods.csv").read_text(encoding="utf-8")
    (copy / "foods.csv").write_text(text.replace("sodium", "natrium", 1), encoding="utf-8")
    with pytest.raises(DataProblem, match="no column sodium"):
        _ = Catalogue(copy).table


def test_a_number_that_is_none_is_named(copy: Path) -> None:
    _rewrite(copy / "foods.csv", {5: {"water": "wet"}})
    with pytest.raises(DataProblem, match="water is 'wet', not a number"):
        _ = Catalogue(copy).table


def test_component_columns_stand_in_the_table() -> None:
    with (data_directory() / "foods.csv").open(encoding="utf-8", newline="") as file:
        header = next(csv.reader(file))
    assert {"water", "sodium", "starch"} <= set(header) & set(INDEX)
