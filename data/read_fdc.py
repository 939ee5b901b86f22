"""Read FoodData Central's bulk CSV files, as downloaded and unpacked."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from read_tables import (
    EXTRA_FOODS,
    GROUPS,
    NUTRIENTS,
    TableError,
    Tables,
    is_branded,
    needed,
    number,
    plain_name,
    shaped,
)  # fmt: skip

SHORT_MEASURES = {"tablespoon": "tbsp", "teaspoon": "tsp", "fluid ounce": "fl oz"}
"""FoodData Central's words for measures -> those of SR28."""


def _fdc_foods(folder: Path) -> pd.DataFrame:
    food = pd.read_csv(needed(folder, "food.csv"), dtype=str, keep_default_na=False)
    numbers = []
    for rank, name in enumerate(("foundation_food.csv", "sr_legacy_food.csv")):
        if (folder / name).is_file():
            part = pd.read_csv(folder / name, dtype=str, keep_default_na=False)
            part = part.rename(columns={c: c.lower() for c in part.columns})
            numbers.append(part[["fdc_id", "ndb_number"]].assign(rank=rank))
    if not numbers:
        raise TableError(f"{folder} holds neither sr_legacy_food.csv nor foundation_food.csv")
    tied = pd.concat(numbers)
    tied = tied[tied["ndb_number"].str.fullmatch(r"\d{1,5}")]
    tied = tied.assign(ndb=tied["ndb_number"].str.zfill(5))
    food = food.merge(tied, on="fdc_id")
    code = food["food_category_id"].str.zfill(2) + "00"
    if (folder / "food_category.csv").is_file():
        category = pd.read_csv(folder / "food_category.csv", dtype=str, keep_default_na=False)
        codes = dict(zip(category["id"], category["code"].str.zfill(4), strict=True))
        code = food["food_category_id"].map(codes).fillna(code)
    food["group"] = food["ndb"].map(EXTRA_FOODS).fillna(code.map(GROUPS))
    branded = pd.Series([is_branded(n) for n in food["description"]], index=food.index)
    food = food[food["group"].notna() & ~branded]
    return food.sort_values(["ndb", "rank", "fdc_id"])


def read_fdc(folder: Path) -> Tables:
    """Read FoodData Central's bulk CSV files, SR Legacy and Foundation Foods.

    A food that is in both takes each nutrient from Foundation Foods where that has it and from SR
    Legacy where it has not. FoodData Central gives neither refuse nor standard errors.

    Parameters
    ----------
    folder : Path
        Holds food.csv, food_nutrient.csv, nutrient.csv, sr_legacy_food.csv and/or
        foundation_food.csv, food_portion.csv and measure_unit.csv.

    Raises
    ------
    TableError
        When a file is missing or holds no food of the wanted groups.
    """
    food = _fdc_foods(folder)
    ndb_of = dict(zip(food["fdc_id"], food["ndb"], strict=True))
    rank_of = dict(zip(food["fdc_id"], food["rank"], strict=True))
    kept = food.drop_duplicates("ndb").rename(columns={"description": "name"})
    kept = kept.assign(name=kept["name"].map(plain_name), refuse_pct=float("nan")).set_index("ndb")

    nutrient = pd.read_csv(needed(folder, "nutrient.csv"), dtype=str, keep_default_na=False)
    printed = nutrient["nutrient_nbr"].str.replace(r"\.0$", "", regex=True).replace("269.3", "269")
    column_of = dict(zip(nutrient["id"], printed.map(NUTRIENTS), strict=True))
    chunks = []
    reader = pd.read_csv(
        needed(folder, "food_nutrient.csv"),
        usecols=["fdc_id", "nutrient_id", "amount", "data_points"],
        dtype=str,
        keep_default_na=False,
        chunksize=500_000,
    )
    for chunk in reader:
        named = chunk.assign(nutrient=chunk["nutrient_id"].map(column_of))
        chunks.append(named[named["fdc_id"].isin(ndb_of) & named["nutrient"].notna()])
    values = pd.concat(chunks)
    values = values.assign(
        ndb=values["fdc_id"].map(ndb_of),
        rank=values["fdc_id"].map(rank_of),
        value=number(values["amount"]),
        samples=number(values["data_points"]).fillna(0.0),
        standard_error=float("nan"),
    )
    values = values[values["value"].notna()].sort_values(["ndb", "rank"], kind="stable")

    unit = pd.read_csv(needed(folder, "measure_unit.csv"), dtype=str, keep_default_na=False)
    unit_of = {
        key: SHORT_MEASURES.get(name, name)
        for key, name in zip(unit["id"], unit["name"], strict=True)
        if name != "undetermined"
    }
    portion = pd.read_csv(needed(folder, "food_portion.csv"), dtype=str, keep_default_na=False)
    portion = portion[portion["fdc_id"].isin(ndb_of)]
    words = (
        portion["measure_unit_id"].map(unit_of).fillna("")
        + " "
        + portion["portion_description"]
        + " "
        + portion["modifier"]
    )
    measures = pd.DataFrame(
        {
            "ndb": portion["fdc_id"].map(ndb_of),
            "seq": portion["fdc_id"].map(rank_of) * 1000 + number(portion["seq_num"]),
            "amount": number(portion["amount"]),
            "measure": words.str.split().str.join(" "),
            "grams": number(portion["gram_weight"]),
        }
    )
    measures = measures.sort_values(["ndb", "seq"]).drop_duplicates(["ndb", "amount", "measure"])
    return shaped(kept, values, measures, "FoodData Central")
