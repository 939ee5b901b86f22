"""The checks that built tables pass before they are written, each failure one sentence."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path

import pandas as pd
from entries import WEAKEST_LAST, Composition
from kinds import ACIDS, COMPONENTS, MASSES, SUGARS
from read_tables import is_branded

LEAST_FOODS = 3000
LEAST_PANTRY = 220
MASS_TOLERANCE_G = 6.0
SUGARS_MARGIN = 1.05
ACIDS_MARGIN = 1.15
ROUNDING_G = 0.05
STATED_SHARE = 0.05
SOURCE_KINDS = {
    "table", "paper", "standard", "regulation", "handbook", "trade", "memory", "definition",
}  # fmt: skip


class CheckError(ValueError):
    """A built table breaks a rule."""


def _kinds(folder: Path) -> dict[str, str]:
    rows = pd.read_csv(folder / "curated" / "pantry.csv", dtype=str, keep_default_na=False)
    return dict(zip(rows["key"], rows["kind"], strict=True))


def balances(food: Composition) -> Iterator[str]:
    """Yield a phrase for every balance of one ingredient that does not close.

    Mass: everything counted in grams sums to 100 g within :data:`MASS_TOLERANCE_G`. Sugars: at most
    their total and 5 %. Acids: with sugars, starch and fibre at most the carbohydrate and 15 %;
    acetic acid stays out, since it is not in the carbohydrate.
    """
    mass = sum(food[n].value for n in MASSES if n in food)
    if abs(mass - 100.0) > MASS_TOLERANCE_G:
        yield f"mass sums to {mass:.1f} g"
    sugars = sum(food[n].value for n in SUGARS if n in food)
    if "sugars" in food and sugars > SUGARS_MARGIN * food["sugars"].value + ROUNDING_G:
        yield f"sugars {sugars:.2f} g exceed their total {food['sugars'].value:.2f} g"
    acids = sum(food[n].value for n in ACIDS if n in food and n != "acetic")
    if acids and "carbohydrate" in food:
        claimed = acids + sugars + sum(food[n].value for n in ("starch", "fibre") if n in food)
        room = food["carbohydrate"].value
        if claimed > ACIDS_MARGIN * room + ROUNDING_G:
            yield f"acids, sugars, starch and fibre {claimed:.2f} g in {room:.2f} g of carbohydrate"


def exceptions(pantry: pd.DataFrame, folder: Path) -> list[str]:
    """List the ingredients that state why a balance does not close, vinegars and dairy marked."""
    kinds = _kinds(folder)
    lines = []
    for key, name, why in pantry[["key", "name", "mass_note"]].itertuples(index=False):
        if why:
            mark = " (not counted)" if kinds[key] in ("vinegar", "cultured") else ""
            lines.append(f"{key} {name}: {why}{mark}")
    return lines


def _sources(frames: dict[str, pd.DataFrame], folder: Path) -> Iterator[str]:
    sources = pd.read_csv(folder / "sources.csv", dtype=str, keep_default_na=False)
    allergens = pd.read_csv(folder / "allergens.csv", dtype=str, keep_default_na=False)
    known = set(sources["key"])
    if len(known) != len(sources):
        yield "sources.csv has a key twice"
    for key, kind, citation, terms in sources[["key", "kind", "citation", "terms"]].itertuples(
        index=False
    ):
        if kind not in SOURCE_KINDS or not citation or not terms:
            yield f"source {key} lacks a citation, its terms or a known kind"
    published = pd.read_csv(folder / "curated" / "ph.csv", dtype=str, keep_default_na=False)
    reasons = pd.read_csv(folder / "curated" / "miss_reasons.csv", dtype=str)
    cells = [
        *frames["pantry_composition.csv"]["source"],
        *frames["pantry_ph.csv"]["source"],
        *published["source"],
        *reasons["source"],
        *frames["pantry.csv"]["share_source"],
        *(s for s in frames["pantry.csv"]["density_source"] if s),
        *allergens["source"],
    ]
    used = {key for cell in cells for key in cell.split(";")}
    for key in sorted(used - known):
        yield f"source key {key!r} is not in sources.csv"


def _names(pantry: pd.DataFrame, folder: Path) -> Iterator[str]:
    seen: dict[str, str] = {}
    for key, name, synonyms in pantry[["key", "name", "synonyms"]].itertuples(index=False):
        for word in (name, *(s for s in synonyms.split("|") if s)):
            if word != word.strip() or not word:
                yield f"ingredient {key} has a blank or padded name {word!r}"
            if word.lower() in seen:
                yield f"the name {word!r} stands for both {seen[word.lower()]} and {key}"
            seen[word.lower()] = key
    allergens = pd.read_csv(folder / "allergens.csv", dtype=str, keep_default_na=False)["allergen"]
    for key, cell in pantry[["key", "allergens"]].itertuples(index=False):
        for allergen in filter(None, cell.split("|")):
            if allergen not in set(allergens):
                yield f"ingredient {key} names the allergen {allergen!r}, not in allergens.csv"
    columns = ["key", "share_low_pct", "share_typical_pct", "share_high_pct"]
    for key, low, typical, high in pantry[columns].itertuples(index=False):
        if not 0 < float(low) <= float(typical) <= float(high) <= 100:
            yield f"ingredient {key} has shares out of order: {low}, {typical}, {high} %"


def _numbers(compositions: dict[str, Composition]) -> Iterator[str]:
    for key, food in compositions.items():
        for name, e in food.items():
            if name not in (*COMPONENTS, "carbohydrate", "sugars"):
                yield f"ingredient {key} has an unknown component {name}"
            if e.evidence not in WEAKEST_LAST:
                yield f"{name} of {key} has an unknown evidence kind {e.evidence!r}"
            if not math.isfinite(e.value) or (e.value < 0 and name != "strong_ion_charge"):
                yield f"{name} of {key} is {e.value}"
            if e.low is not None and e.low > e.value * (1 + 1e-9):
                yield f"{name} of {key} is below its own low end"
            if e.high is not None and e.high < e.value * (1 - 1e-9):
                yield f"{name} of {key} is above its own high end"


def _ph(ph: pd.DataFrame, compositions: dict[str, Composition], folder: Path) -> Iterator[str]:
    """Yield what is wrong with the settled pH: one row a food, within what has been published."""
    published = pd.read_csv(folder / "curated" / "ph.csv", dtype={"key": str})
    ends = published.groupby("key").agg({"ph_low": "min", "ph_high": "max"})
    for key in ph.loc[ph["key"].duplicated(), "key"]:
        yield f"ingredient {key} has two rows of pH"
    columns = ["key", "ph_low", "ph_high", "strong_ion_charge_meq_per_100g"]
    for key, low, high, charge in ph[columns].itertuples(index=False):
        if not 0 < float(low) <= float(high) < 14:
            yield f"ingredient {key} has a pH from {low} to {high}"
        elif key not in ends.index or not (
            ends.loc[key, "ph_low"] <= float(low) and float(high) <= ends.loc[key, "ph_high"]
        ):
            yield f"the pH of {key}, {low} to {high}, is not among the published figures of ph.csv"
        if not math.isfinite(charge):
            yield f"ingredient {key} has a pH and no water phase: mark it none in anchors.csv"
        if "strong_ion_charge" in compositions[key]:
            yield f"the strong-ion charge of {key} stands both in its composition and by its pH"


def _balances(
    pantry: pd.DataFrame, compositions: dict[str, Composition], folder: Path
) -> Iterator[str]:
    stated = dict(zip(pantry["key"], pantry["mass_note"], strict=True))
    for key, food in compositions.items():
        broken = list(balances(food))
        if broken and not stated[key]:
            yield f"ingredient {key} does not close and does not state why: {'; '.join(broken)}"
        if stated[key] and not broken:
            yield f"ingredient {key} states why it does not close, but it does"
    counted = [line for line in exceptions(pantry, folder) if "(not counted)" not in line]
    allowed = int(STATED_SHARE * len(pantry))
    if len(counted) > allowed:
        yield f"{len(counted)} ingredients state why they do not close; {allowed} may"


def problems(
    frames: dict[str, pd.DataFrame], compositions: dict[str, Composition], folder: Path
) -> list[str]:
    """List everything that is wrong with built tables, in sentences."""
    foods, pantry = frames["foods.csv"], frames["pantry.csv"]
    names = zip(foods["ndb"], foods["name"], strict=True)
    found = [f"food {ndb} looks branded: {name}" for ndb, name in names if is_branded(name)]
    if len(foods) <= LEAST_FOODS:
        found.append(f"only {len(foods)} foods, {LEAST_FOODS} are expected")
    if len(pantry) < LEAST_PANTRY:
        found.append(f"only {len(pantry)} pantry ingredients, {LEAST_PANTRY} are expected")
    if foods["ndb"].duplicated().any() or pantry["key"].duplicated().any():
        found.append("a food or an ingredient stands twice")
    found += _sources(frames, folder)
    found += _names(pantry, folder)
    found += _numbers(compositions)
    found += _ph(frames["pantry_ph.csv"], compositions, folder)
    found += _balances(pantry, compositions, folder)
    return found


def check(
    frames: dict[str, pd.DataFrame], compositions: dict[str, Composition], folder: Path
) -> None:
    """Raise on the first problem, naming how many more there are.

    Raises
    ------
    CheckError
        When anything is wrong.
    """
    found = problems(frames, compositions, folder)
    if found:
        more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
        raise CheckError(found[0] + more)
