"""Read the open food table: the ASCII files of USDA SR28, and what every reader shares.

Each reader returns the same thing, a :class:`Tables` of three frames, so that whatever is built
from one release can be built from the other (read_fdc.py).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

NUTRIENTS: dict[str, str] = {
    "255": "water",
    "203": "protein",
    "204": "fat",
    "209": "starch",
    "291": "fibre",
    "207": "ash",
    "221": "ethanol",
    "210": "sucrose",
    "211": "glucose",
    "212": "fructose",
    "213": "lactose",
    "214": "maltose",
    "287": "galactose",
    "205": "carbohydrate",
    "269": "sugars",
    "307": "sodium",
    "306": "potassium",
    "301": "calcium",
    "304": "magnesium",
    "305": "phosphorus",
    "401": "vitamin_c",
    "515": "glutamic_total",
}
"""USDA nutrient number -> column of foods.csv, in column order."""

NUTRIENT_COLUMNS: tuple[str, ...] = tuple(NUTRIENTS.values())

GROUPS: dict[str, str] = {
    "0100": "Dairy and Egg Products",
    "0200": "Spices and Herbs",
    "0400": "Fats and Oils",
    "0600": "Soups, Sauces, and Gravies",
    "0900": "Fruits and Fruit Juices",
    "1100": "Vegetables and Vegetable Products",
    "1200": "Nut and Seed Products",
    "1400": "Beverages",
    "1500": "Finfish and Shellfish Products",
    "1600": "Legumes and Legume Products",
    "1900": "Sweets",
    "2000": "Cereal Grains and Pasta",
}
"""USDA food group code -> its name, for the groups a sauce can draw on."""

EXTRA_FOODS: dict[str, str] = {"18079": "Cereal Grains and Pasta"}
"""Foods kept from other groups: dry bread crumbs, which thicken sauces."""

NOT_BRANDS = frozenset({"USDA", "BBQ", "NFS", "NFSMI"})
"""Words in capitals that are no brand."""

BRANDS_IN_LOWER_CASE = (
    "brand",
    "creamsicle",
    "kiwano",
    "lesuer",
    "muscle milk",
    "powerade",
    "propel",
    "reddi",
)
"""Brands, or the word itself, that the table spells in lower case; found by reading the list."""

_CAPITALS = re.compile(r"[A-Z][A-Z'&\-]{2,}|[A-Z]&[A-Z]'?s?|\bKC\b")
_PROGRAMME = re.compile(r"\s*\(includes? [^()]*(?:USDA|commodity)[^()]*\)", re.IGNORECASE)


class TableError(ValueError):
    """An input table is missing, incomplete or not what it should be."""


@dataclass(frozen=True)
class Tables:
    """What was read from one release.

    Parameters
    ----------
    foods : DataFrame
        One row per kept food, indexed by the five-digit food number; columns fdc_id, name, group,
        one per nutrient [g, mg for minerals and vitamin C, per 100 g edible], refuse_pct.
    statistics : DataFrame
        Columns ndb, nutrient, samples, standard_error.
    measures : DataFrame
        Columns ndb, amount, measure, grams.
    """

    foods: pd.DataFrame
    statistics: pd.DataFrame
    measures: pd.DataFrame


def is_branded(name: str, maker: str = "") -> bool:
    """Say whether a food is a branded one.

    A food is branded when the table names its manufacturer, when its description holds a word in
    capitals of three letters or more that is not in :data:`NOT_BRANDS`, or when it holds one of
    :data:`BRANDS_IN_LOWER_CASE`.
    """
    if maker.strip():
        return True
    if any(word not in NOT_BRANDS for word in _CAPITALS.findall(name)):
        return True
    lower = name.lower()
    return any(re.search(rf"\b{brand}s?\b", lower) for brand in BRANDS_IN_LOWER_CASE)


def plain_name(description: str) -> str:
    """Drop remarks on food programmes and double spaces from a description."""
    return re.sub(r"\s+", " ", _PROGRAMME.sub("", description)).strip()


def needed(folder: Path, name: str) -> Path:
    """Return the path of a file of a release, which must be there."""
    path = folder / name
    if not path.is_file():
        raise TableError(f"{name} is not in {folder}: give the folder that holds the whole release")
    return path


def _read_caret(folder: Path, name: str, columns: dict[int, str]) -> pd.DataFrame:
    frame = pd.read_csv(
        needed(folder, name),
        sep="^",
        quotechar="~",
        header=None,
        encoding="latin-1",
        dtype=str,
        keep_default_na=False,
        usecols=list(columns),
    )
    return frame.rename(columns=columns)


def number(column: pd.Series) -> pd.Series:
    """Turn a column of text into numbers, blanks into NaN."""
    return pd.to_numeric(column.replace("", None), errors="raise").astype("float64")


def shaped(
    kept: pd.DataFrame, values: pd.DataFrame, measures: pd.DataFrame, release: str
) -> Tables:
    """Bring both releases to one shape; `values` has ndb, nutrient, value, samples, se."""
    values = values[values["ndb"].isin(kept.index)].drop_duplicates(["ndb", "nutrient"])
    wide = values.pivot(index="ndb", columns="nutrient", values="value")
    wide = wide.reindex(index=kept.index, columns=list(NUTRIENT_COLUMNS))
    foods = pd.concat([kept[["fdc_id", "name", "group"]], wide, kept[["refuse_pct"]]], axis=1)
    foods = foods.sort_index()
    if foods.empty:
        raise TableError(f"no food of the wanted groups was found in the {release} files")
    if foods["water"].isna().all():
        raise TableError(f"the {release} files give no water for any food: a file is incomplete")
    known = (values["samples"] > 0) | values["standard_error"].notna()
    statistics = values.loc[known, ["ndb", "nutrient", "samples", "standard_error"]].copy()
    order = {name: i for i, name in enumerate(NUTRIENT_COLUMNS)}
    statistics["order"] = statistics["nutrient"].map(order)
    statistics = statistics.sort_values(["ndb", "order"]).drop(columns="order")
    measures = measures[measures["ndb"].isin(kept.index) & (measures["grams"] > 0)]
    measures = measures.sort_values(["ndb", "seq"]).drop(columns="seq")
    return Tables(foods, statistics.reset_index(drop=True), measures.reset_index(drop=True))


def read_sr28(folder: Path) -> Tables:
    """Read the ASCII files of USDA SR28.

    Parameters
    ----------
    folder : Path
        Holds FOOD_DES.txt, NUT_DATA.txt and WEIGHT.txt.

    Raises
    ------
    TableError
        When a file is missing or holds no food of the wanted groups.
    """
    food = _read_caret(
        folder, "FOOD_DES.txt", {0: "ndb", 1: "group", 2: "name", 5: "maker", 8: "refuse_pct"}
    )
    food["group"] = food["ndb"].map(EXTRA_FOODS).fillna(food["group"].map(GROUPS))
    branded = [is_branded(n, m) for n, m in zip(food["name"], food["maker"], strict=True)]
    food = food[food["group"].notna() & ~pd.Series(branded, index=food.index)]
    food = food.assign(
        fdc_id="", name=food["name"].map(plain_name), refuse_pct=number(food["refuse_pct"])
    ).set_index("ndb")
    values = _read_caret(
        folder,
        "NUT_DATA.txt",
        {0: "ndb", 1: "nutrient", 2: "value", 3: "samples", 4: "standard_error"},
    )
    values = values[values["nutrient"].isin(NUTRIENTS)]
    values = values.assign(nutrient=values["nutrient"].map(NUTRIENTS))
    for column in ("value", "samples", "standard_error"):
        values[column] = number(values[column])
    measures = _read_caret(
        folder, "WEIGHT.txt", {0: "ndb", 1: "seq", 2: "amount", 3: "measure", 4: "grams"}
    )
    for column in ("seq", "amount", "grams"):
        measures[column] = number(measures[column])
    return shaped(food, values, measures, "SR28")


def refreshed(older: Tables, newer: Tables) -> Tables:
    """Lay a newer release over an older one, food by food and number by number."""
    foods = newer.foods.combine_first(older.foods)[list(older.foods.columns)]
    later = newer.foods.index

    def joined(old: pd.DataFrame, new: pd.DataFrame) -> pd.DataFrame:
        if new.empty:
            return old
        both = pd.concat([new, old[~old["ndb"].isin(later)]])
        return both.sort_values("ndb", kind="stable").reset_index(drop=True)

    return Tables(
        foods.sort_index(),
        joined(older.statistics, newer.statistics),
        joined(older.measures, newer.measures),
    )
