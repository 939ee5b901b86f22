"""From a food table and the hand-entered figures to the composition of the curated pantry.

Every rule that turns a blank or a total into a number has a name here, and the number it makes
carries the evidence kind derived or assumed with the source RULE or DEFINITION.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import kinds as k
import pandas as pd
from entries import Composition, Curated, Entry, amount, by_rule, joined_sources, weakest
from read_tables import Tables


def from_table(food: pd.Series, samples: Mapping[str, float]) -> Composition:
    """Take over what the food table prints, blanks left out."""
    found: Composition = {}
    for name in (*k.BULK, *k.NAMED_SUGARS, *k.MINERALS, "carbohydrate", "sugars"):
        value = float(food[name])
        if not math.isnan(value):
            kind = "measured" if samples.get(name, 0) >= 1 else "table"
            found[name] = Entry(value, evidence=kind)
    return found


def brought_to_water(food: Composition, water_g: float, note: str) -> Composition:
    """Boil down or rehydrate: set the water and scale everything else with the solids."""
    factor = (100.0 - water_g) / (100.0 - food["water"].value)
    scaled = {
        name: replace(e, value=e.value * factor, evidence="derived", source="SR28;RULE")
        for name, e in food.items()
    }
    scaled["water"] = by_rule(water_g, "assumed", note=note)
    return scaled


def organic_acids(row: pd.Series, kind: str) -> Composition:
    """Split a total of organic acids in the proportions printed for it.

    The total is honoured. Where no split is known all of it goes to the likeliest acid of the
    family and is marked assumed. Acids that the split does not name are 0.
    """
    total = float(row["total_g"])
    low, high = amount(row, "low_g"), amount(row, "high_g")
    parts = {a: float(row[a]) for a in (*k.ACIDS, "other") if row[a]}
    items = f"table items {row['table_items']}" if row["table_items"] else ""
    note = ". ".join(t.rstrip(".") for t in (row["note"], items) if t)
    found: Composition = {}
    if parts:
        scale = total / sum(parts.values())
        kind_of = weakest(row["evidence"], row["split_evidence"])
        if abs(scale - 1.0) > 0.02:
            kind_of = weakest(kind_of, "derived")
        source = joined_sources(row["source"], row["split_source"])
    else:
        parts = {k.LIKELIEST_ACID.get(kind, "citric"): total}
        scale, kind_of, source = 1.0, "assumed", joined_sources(row["source"], "RULE")
        note = "; ".join(t for t in ("total not split, all given to the likeliest acid", note) if t)
    for acid, part in parts.items():
        if acid != "other":
            share = part * scale / total
            found[acid] = Entry(
                share * total,
                None if low is None else share * low,
                None if high is None else share * high,
                kind_of,
                source,
                note,
            )
    for acid in k.ACIDS:
        found.setdefault(acid, by_rule(0.0, note="the named acids make up the total"))
    return found


def make_room_for_acids(food: Composition, kind: str) -> None:
    """Take acetic acid out of the gap or the water column and lactic acid out of dairy lactose.

    Drying drives acetic acid off with the water. Some rows (the vinegars) already leave a gap for
    it between their proximates and 100 g; the gap is filled first, the rest comes from the water.
    """
    acetic = food["acetic"].value if "acetic" in food else 0.0
    if acetic:
        proximates = ("water", "protein", "fat", "ash", "carbohydrate", "ethanol")
        gap = 100.0 - sum(food[n].value for n in proximates if n in food)
        out = max(0.0, acetic - max(0.0, gap))
        if out:
            food["water"] = replace(
                food["water"],
                value=food["water"].value - out,
                evidence="derived",
                source=joined_sources(food["water"].source, "RULE"),
                note="acetic acid taken out",
            )
    lactic = food["lactic"].value if "lactic" in food else 0.0
    if lactic and kind in k.DAIRY_KINDS and "lactose" in food:
        food["lactose"] = replace(
            food["lactose"],
            value=max(0.0, food["lactose"].value - lactic),
            evidence=weakest(food["lactose"].evidence, "derived"),
            source=joined_sources(food["lactose"].source, "RULE"),
            note="lactic acid taken out",
        )


def fill_sugars(food: Composition, kind: str) -> None:
    """Complete the sugars from their total; an unnamed remainder is other sugars.

    Where nothing is named the total is lactose in dairy and other sugars elsewhere. A fruit whose
    sugars the table leaves blank gets what its carbohydrate holds beside fibre and acids.
    """
    total = food.get("sugars")
    carbohydrate = food.get("carbohydrate")
    named = {s: food[s].value for s in k.NAMED_SUGARS if s in food}
    if total is None and carbohydrate is not None and carbohydrate.value <= 0.05:
        total = by_rule(0.0)
    if total is None and kind in k.FRUIT_KINDS and "fibre" in food and carbohydrate is not None:
        acids = sum(food[a].value for a in k.ACIDS if a in food and a != "acetic")
        left = max(0.0, carbohydrate.value - food["fibre"].value - acids)
        note = "no sugars in the table: carbohydrate less fibre and acids"
        food["other_sugars"] = by_rule(left, "assumed", "SR28;RULE", note)
        return
    if total is None:
        return
    rest = total.value - sum(named.values())
    if not named and total.value > 0:
        name = "lactose" if kind in k.DAIRY_KINDS else "other_sugars"
        food[name] = by_rule(
            total.value, "assumed", "SR28;RULE", "the table names no sugar of the total"
        )
    elif rest > 0.05:
        food["other_sugars"] = by_rule(rest, "derived", "SR28;RULE", "total less the named sugars")
    for sugar in k.SUGARS:
        food.setdefault(sugar, by_rule(0.0, note="the named sugars make up the total"))


def fill_bulk(food: Composition, kind: str) -> None:
    """Fill starch, ethanol and fibre where the kind decides, then the rest of the carbohydrate."""
    if kind in k.NO_STARCH_KINDS:
        food.setdefault("starch", by_rule(0.0, note="this kind of food holds none"))
    if kind in k.PURE_KINDS | k.OIL_KINDS | k.ANIMAL_KINDS:
        food.setdefault("fibre", by_rule(0.0, note="this kind of food holds none"))
    if kind not in k.FERMENTED_KINDS:
        food.setdefault("ethanol", by_rule(0.0, note="neither a drink nor a ferment"))
    carbohydrate = food["carbohydrate"].value if "carbohydrate" in food else 0.0
    claimed = sum(food[n].value for n in (*k.SUGARS, "starch", "fibre") if n in food)
    claimed += sum(food[a].value for a in k.ACIDS if a in food and a != "acetic")
    rest = max(0.0, carbohydrate - claimed)
    if kind in k.STARCH_KINDS and "starch" not in food:
        food["starch"] = by_rule(rest, "derived", "SR28;RULE", "carbohydrate that is nothing else")
        rest = 0.0
    food["other_carbohydrate"] = by_rule(rest, "derived", "SR28;RULE")


def fill_by_kind(food: Composition, kind: str) -> None:
    """Set to zero what an ingredient of this kind cannot carry."""
    definition = by_rule(0.0, source="DEFINITION")
    if kind in k.PURE_KINDS | k.OIL_KINDS:
        for name in (*k.ACIDS, "glutamate", "strong_ion_charge"):
            food.setdefault(name, definition)
    if kind in (k.PURE_KINDS - k.MINERAL_KINDS) | k.OIL_KINDS:
        food.setdefault("chloride", definition)
    if kind in {"spirit", "spirit_scented"}:
        for name in (*k.ACIDS, "glutamate"):
            food.setdefault(name, by_rule(0.0, note="a distillate"))
    if kind not in k.CHILLI_KINDS | k.MIXED_KINDS:
        food.setdefault("capsaicinoids", by_rule(0.0, note="only chillies carry them"))
    if kind not in k.ALLIUM_KINDS | k.MIXED_KINDS:
        food.setdefault("allium_sulphur", by_rule(0.0, note="only alliums form them"))
    if kind not in k.BRASSICA_KINDS | k.MIXED_KINDS:
        food.setdefault("isothiocyanates", by_rule(0.0, note="only mustard and its kin form them"))
    if kind in k.ODOURLESS_KINDS:
        for name in k.AROMATICS:
            food.setdefault(name, by_rule(0.0, note="no plausible volatile oil"))


def aromatics(rows: pd.DataFrame) -> Composition:
    """Read volatile oil [uL] and sulphur pungents [mg] of one ingredient, per 100 g."""
    found: Composition = {}
    for _, row in rows.iterrows():
        factor = {"mL/100 g": 1000.0, "mg/g": 100.0}[row["unit"]]
        low, typical, high = (float(row[c]) * factor for c in ("low", "typical", "high"))
        found[row["component"]] = Entry(
            typical, low, high, row["evidence"], row["source"], row["note"]
        )
    if found:
        for oil in k.OILS:
            found.setdefault(oil, by_rule(0.0, note="its aroma is counted elsewhere"))
    return found


def pungency(row: pd.Series, water_g: float) -> Entry:
    """Turn Scoville units, by dry mass or as eaten, into mg of capsaicinoids per 100 g."""
    solids = 1.0 - water_g / 100.0 if row["basis"] == "dry" else 1.0
    low, typical, high = (
        float(row[c]) * solids / k.SHU_PER_MG_PER_100G
        for c in ("low_shu", "typical_shu", "high_shu")
    )
    kind = row["evidence"]
    if row["basis"] == "dry" and typical > 0:
        kind = weakest(kind, "derived")
    return Entry(typical, low, high, kind, row["source"], row["note"])


def composition_of(
    item: pd.Series, tables: Tables, samples: Mapping[str, float], curated: Curated
) -> Composition:
    """Work out the composition of one pantry ingredient.

    Parameters
    ----------
    item : Series
        A row of curated/pantry.csv.
    tables : Tables
        The food table.
    samples : mapping
        Nutrient column -> number of samples behind the table's value.
    curated : Curated
        The hand-entered figures.

    Returns
    -------
    dict
        Component -> Entry, in the order of k.COMPONENTS; what is unknown is absent. Two working
        entries, carbohydrate and sugars, stand at the end for the checks.
    """
    key, kind = item["key"], item["kind"]
    food: Composition = {}
    if item["ndb"]:
        food = from_table(tables.foods.loc[item["ndb"]], samples)
        if item["stand_in"]:
            food = {n: replace(e, evidence="assumed") for n, e in food.items()}
        if item["water_g"]:
            food = brought_to_water(food, float(item["water_g"]), "water as stated for the item")
    for _, row in curated.composition.get(key, pd.DataFrame()).iterrows():
        food[row["component"]] = Entry(
            float(row["value"]),
            amount(row, "low"),
            amount(row, "high"),
            row["evidence"],
            row["source"],
            row["note"],
        )
    if not item["ndb"]:
        for name in k.COMPONENTS:
            food.setdefault(name, by_rule(0.0, source="DEFINITION"))
    if key in curated.acids.index:
        food.update(organic_acids(curated.acids.loc[key], kind))
    fill_sugars(food, kind)
    make_room_for_acids(food, kind)
    fill_bulk(food, kind)
    if key in curated.heat.index:
        food["capsaicinoids"] = pungency(curated.heat.loc[key], food["water"].value)
    if key in curated.glutamate.index:
        row = curated.glutamate.loc[key]
        low, typical, high = (float(row[c]) for c in ("low", "typical", "high"))
        food["glutamate"] = Entry(typical, low, high, row["evidence"], row["source"], row["note"])
    food.update(aromatics(curated.oils.get(key, pd.DataFrame())))
    fill_by_kind(food, kind)
    return {n: food[n] for n in (*k.COMPONENTS, "carbohydrate", "sugars") if n in food}
