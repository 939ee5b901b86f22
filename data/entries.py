"""One number with its basis, and the hand-entered files that such numbers come from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

WEAKEST_LAST = ("measured", "table", "derived", "chosen", "memory", "assumed")


@dataclass(frozen=True)
class Entry:
    """One number of one ingredient, per 100 g edible in the component's unit, and its basis."""

    value: float
    low: float | None = None
    high: float | None = None
    evidence: str = "table"
    source: str = "SR28"
    note: str = ""


Composition = dict[str, Entry]


def by_rule(value: float, evidence: str = "derived", source: str = "RULE", note: str = "") -> Entry:
    """Make an entry that rests on one of the rules of this module."""
    return Entry(value, None, None, evidence, source, note)


def weakest(*kinds: str) -> str:
    """Return the weakest of the evidence kinds given."""
    return max(kinds, key=WEAKEST_LAST.index)


def joined_sources(*cells: str) -> str:
    """Join source cells, each key once, in order."""
    return ";".join(dict.fromkeys(k for cell in cells for k in cell.split(";") if k))


def amount(row: pd.Series, column: str) -> float | None:
    """Read a cell as a number, blank as unknown."""
    text = row[column]
    return float(text) if text != "" else None


@dataclass(frozen=True)
class Curated:
    """The hand-entered files, read as text."""

    pantry: pd.DataFrame
    acids: pd.DataFrame
    oils: Mapping[str, pd.DataFrame]
    heat: pd.DataFrame
    glutamate: pd.DataFrame
    ph: pd.DataFrame
    anchors: pd.DataFrame
    miss_reasons: pd.DataFrame
    densities: pd.DataFrame
    lent_measures: pd.DataFrame
    composition: Mapping[str, pd.DataFrame]


def by_key(frame: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Split a frame by its column key."""
    return {str(key): frame.loc[rows] for key, rows in frame.groupby("key").groups.items()}


def read_curated(folder: Path) -> Curated:
    """Read data/curated/*.csv; every cell stays text, blank means unknown."""

    def one(name: str) -> pd.DataFrame:
        return pd.read_csv(folder / name, dtype=str, keep_default_na=False)

    return Curated(
        one("pantry.csv").set_index("key", drop=False),
        one("organic_acids.csv").set_index("key"),
        by_key(one("volatile_oils.csv")),
        one("heat.csv").set_index("key"),
        one("free_glutamate.csv").set_index("key"),
        one("ph.csv"),
        one("anchors.csv"),
        one("miss_reasons.csv"),
        one("densities.csv").set_index("key"),
        one("lent_measures.csv").set_index("key"),
        by_key(one("composition.csv")),
    )
