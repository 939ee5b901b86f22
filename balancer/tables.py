"""The only reader of ``data/``: curated ingredients, the whole food table, measures and sources.

The curated ingredients are few; the table of some thousand foods and the household measures are
read when they are first asked for. What is read is checked, so that a damaged file is named and
nothing is computed from it.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from balancer.composition import INDEX, NAMES, SUGARS, Evidence, FloatArray, Ingredient
from balancer.errors import DataProblem
from balancer.measures import Measure

#: Columns of ``foods.csv`` that are components under their own name.
TABLE_COMPONENTS = (
    "water", "protein", "fat", "starch", "fibre", "ash", "ethanol", "sucrose", "glucose",
    "fructose", "lactose", "maltose", "galactose", "sodium", "potassium", "calcium", "magnesium",
    "phosphorus",
)  # fmt: skip
DAIRY_GROUP = "Dairy and Egg Products"


@dataclass(frozen=True)
class Source:
    """Where a number comes from."""

    key: str
    citation: str
    kind: str
    terms: str


def data_directory() -> Path:
    """Directory of the tables: inside the installed package, or beside it in a checkout."""
    inside = Path(__file__).parent / "data"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "data"


def read_rows(path: Path) -> Iterator[dict[str, str]]:
    """Rows of a table as dictionaries.

    Raises
    ------
    DataProblem
        If the file is missing, empty or not text.
    """
    try:
        with path.open(encoding="utf-8", newline="") as file:
            yield from csv.DictReader(file)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise DataProblem(
            f"The table {path.name} cannot be read ({error}). Install the project again, or"
            " rebuild its tables with data/rebuild.py."
        ) from error


def _number(row: Mapping[str, str], column: str, path_name: str) -> float:
    text = row.get(column)
    if text is None:
        raise DataProblem(f"{path_name} has no column {column}. Rebuild it with data/rebuild.py.")
    if not text:
        return math.nan
    try:
        value = float(text)
    except ValueError:
        value = math.inf
    if not math.isfinite(value):
        raise DataProblem(
            f"{path_name}: {column} is {text!r}, not a number. Rebuild it with data/rebuild.py."
        )
    return value


def _words(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split("|") if part.strip())


class Tables:
    """What stands in the tables, read when it is first asked for.

    Parameters
    ----------
    directory : Path
        Directory of the tables.
    """

    def __init__(self, directory: Path) -> None:
        self.directory = directory

    @cached_property
    def curated(self) -> tuple[Ingredient, ...]:
        """The curated sauce ingredients, in the order of their file."""
        n = len(NAMES)
        values: dict[str, FloatArray] = {}
        evidence: dict[str, list[Evidence | None]] = {}
        source: dict[str, list[str]] = {}
        for row in read_rows(self.directory / "pantry_composition.csv"):
            key, component = row["key"], row["component"]
            if key not in values:
                values[key] = np.full((3, n), math.nan)
                evidence[key], source[key] = [None] * n, [""] * n
            if component not in INDEX:
                raise DataProblem(
                    f"pantry_composition.csv: {key} has an unknown component {component!r}."
                    " Rebuild it with data/rebuild.py."
                )
            i = INDEX[component]
            if evidence[key][i] is not None:
                raise DataProblem(
                    f"pantry_composition.csv: {key} has two rows for {component}."
                    " Rebuild it with data/rebuild.py."
                )
            for k, column in enumerate(("value", "low", "high")):
                values[key][k, i] = _number(row, column, "pantry_composition.csv")
                if values[key][k, i] < 0 and component != "strong_ion_charge":
                    raise DataProblem(
                        f"pantry_composition.csv: {key} has {row[column]} of {component}, below"
                        " zero. Rebuild it with data/rebuild.py."
                    )
            if row["evidence"] not in set(Evidence):
                raise DataProblem(
                    f"pantry_composition.csv: {key} has an unknown kind of evidence"
                    f" {row['evidence']!r}. Rebuild it with data/rebuild.py."
                )
            evidence[key][i] = Evidence(row["evidence"])
            source[key][i] = row["source"]
        found = []
        name = "pantry.csv"
        for row in read_rows(self.directory / name):
            key = row["key"]
            if key not in values:
                raise DataProblem(f"pantry.csv: {key} has no composition. Rebuild the tables.")
            low, typical, high = (
                _number(row, f"share_{end}_pct", name) / 100.0 for end in ("low", "typical", "high")
            )
            found.append(
                Ingredient(
                    key=key,
                    name=row["name"],
                    values=values[key][0],
                    low=values[key][1],
                    high=values[key][2],
                    evidence=tuple(evidence[key]),
                    source=tuple(source[key]),
                    group=row["aisle"],
                    synonyms=_words(row["synonyms"]),
                    share=(low, typical, high),
                    allergens=_words(row["allergens"]),
                    ph=self._published_ph.get(key),
                    refuse=_number(row, "refuse_pct", name) / 100.0,
                    note=row["note"],
                )
            )
        if not found:
            raise DataProblem("pantry.csv holds no ingredient. Rebuild it with data/rebuild.py.")
        return tuple(found)

    @cached_property
    def _published_ph(self) -> Mapping[str, tuple[float, float]]:
        name = "pantry_ph.csv"
        return {
            row["key"]: (_number(row, "ph_low", name), _number(row, "ph_high", name))
            for row in read_rows(self.directory / name)
        }

    @cached_property
    def table(self) -> tuple[Ingredient, ...]:
        """Every food of the open table, those of the pantry left out."""
        name = "foods.csv"
        curated = {i.key for i in self.curated}
        places = [INDEX[c] for c in TABLE_COMPONENTS]
        other_sugars, other_carbohydrate = INDEX["other_sugars"], INDEX["other_carbohydrate"]
        named = [INDEX[s] for s in SUGARS if s != "other_sugars"]
        found = []
        # a large table holds what its foods have in common once
        unknown = np.full(len(NAMES), math.nan)
        common: dict[tuple[Evidence | None, ...], tuple[Evidence | None, ...]] = {}
        sources: dict[tuple[Evidence | None, ...], tuple[str, ...]] = {}
        for row in read_rows(self.directory / name):
            if row["ndb"] in curated:
                continue
            values = np.full(len(NAMES), math.nan)
            evidence: list[Evidence | None] = [None] * len(NAMES)
            for place, column in zip(places, TABLE_COMPONENTS, strict=True):
                values[place] = _number(row, column, name)
                if not math.isnan(values[place]):
                    evidence[place] = Evidence.TABLE
            sugars = _number(row, "sugars", name)
            total_named = float(np.nansum(values[named]))
            if not math.isnan(sugars):
                dairy = row["group"] == DAIRY_GROUP and total_named == 0
                place = INDEX["lactose"] if dairy else other_sugars
                values[place] = max(0.0, sugars - total_named)
                all_named = total_named > 0.5 * sugars or sugars == 0
                evidence[place] = Evidence.DERIVED if all_named else Evidence.ASSUMED
            claimed = max(np.nan_to_num(sugars), total_named) + np.nansum(
                values[[INDEX["starch"], INDEX["fibre"]]]
            )
            values[other_carbohydrate] = max(0.0, _number(row, "carbohydrate", name) - claimed)
            evidence[other_carbohydrate] = Evidence.DERIVED
            rests = tuple(evidence)
            rests = common.setdefault(rests, rests)
            found.append(
                Ingredient(
                    key=row["ndb"],
                    name=row["name"],
                    values=values,
                    low=unknown,
                    high=unknown,
                    evidence=rests,
                    source=sources.setdefault(rests, tuple("SR28" if e else "" for e in rests)),
                    group=row["group"],
                    refuse=_number(row, "refuse_pct", name) / 100.0,
                )
            )
        return tuple(found)

    @cached_property
    def measures(self) -> Mapping[str, tuple[Measure, ...]]:
        """Household measures by food number."""
        found: dict[str, list[Measure]] = {}
        name = "household_measures.csv"
        for row in read_rows(self.directory / name):
            amount, grams = _number(row, "amount", name), _number(row, "grams", name)
            found.setdefault(row["ndb"], []).append(Measure(amount, row["measure"], grams))
        return {key: tuple(rows) for key, rows in found.items()}

    @cached_property
    def sources(self) -> Mapping[str, Source]:
        """Sources by key."""
        return {
            row["key"]: Source(row["key"], row["citation"], row["kind"], row["terms"])
            for row in read_rows(self.directory / "sources.csv")
        }
