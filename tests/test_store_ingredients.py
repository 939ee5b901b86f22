"""Own ingredients in the kitchen book: kept, carried, brought into books of earlier versions."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from balancer.errors import BadInput, ChangedMeanwhile, NameTaken, NotSaved
from balancer.store import Store, read_document, schema

FIXTURES = Path(__file__).parent / "fixtures"
LIMES = {"of": "lime juice", "ph": 2.3, "acidity_pct": 7.0}


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "book.db")


def _old(tmp_path: Path, version: int) -> Path:
    source = FIXTURES / f"kitchen_book_v{version}.db"
    return Path(shutil.copy(source, tmp_path / "kitchen_book.db"))


def _ids(path: Path) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute("SELECT id, kind, name FROM entry ORDER BY id").fetchall()


def test_kept_with_every_revision(store: Store) -> None:
    assert store.ingredients() == ()
    assert store.ingredient_marks() == ()
    assert not store.path.exists(), "looking makes no book"
    first = store.save_ingredient("my limes", LIMES)
    marks = store.ingredient_marks()
    with pytest.raises(NameTaken, match="An ingredient is called 'my limes' already"):
        store.save_ingredient("my limes", LIMES)
    second = store.save_ingredient("my limes", {**LIMES, "ph": 2.4}, replace=True)
    assert (first.revision, second.revision) == (1, 2)
    assert first.id == second.id
    assert store.ingredient("my limes").document == {**LIMES, "ph": 2.4}
    assert store.ingredient("my limes", 1).document == LIMES
    assert [i.name for i in store.ingredients()] == ["my limes"]
    assert store.ingredient_marks() != marks
    with pytest.raises(ChangedMeanwhile, match="last revision is 2, you have revision 1"):
        store.save_ingredient("my limes", LIMES, expected_revision=1)


def test_a_name_may_be_one_of_each_kind(store: Store) -> None:
    store.save_recipe("plum", {"n": 1})
    store.save_profile("plum", {"sweet": 1.0})
    store.save_ingredient("plum", LIMES)
    store.delete_ingredient("plum")
    assert store.recipe("plum").document == {"n": 1}
    assert store.profile("plum").levels == {"sweet": 1.0}
    with pytest.raises(NotSaved, match="No ingredient is called 'plum'"):
        store.ingredient("plum")


def test_rename_and_delete_show_in_the_marks(store: Store) -> None:
    saved = store.save_ingredient("my limes", LIMES)
    before = store.ingredient_marks()
    store.rename_ingredient("my limes", "limes of the quay")
    assert store.ingredient("limes of the quay").id == saved.id
    assert store.ingredient_marks() != before
    store.save_ingredient("other", LIMES)
    with pytest.raises(NameTaken):
        store.rename_ingredient("other", "limes of the quay")
    store.delete_ingredient("limes of the quay")
    assert store.save_ingredient("third", LIMES).id > saved.id + 1, "no number is used again"


@pytest.mark.parametrize("document", [[], {"x": {1, 2}}, {"x": float("nan")}, {1: 2}])
def test_what_cannot_be_kept(store: Store, document: Any) -> None:
    with pytest.raises(BadInput):
        store.save_ingredient("my limes", document)
    assert store.ingredients() == ()


# --- the whole book -------------------------------------------------------------------------------
def test_export_and_import(store: Store, tmp_path: Path) -> None:
    store.save_ingredient("my limes", LIMES)
    store.save_ingredient("my limes", {**LIMES, "ph": 2.5}, replace=True)
    book = store.export_all()
    assert book["version"] == 3
    assert [len(i["revisions"]) for i in book["ingredients"]] == [2]
    other = Store(tmp_path / "other.db")
    other.save_ingredient("my limes", {"brix": 9.0})
    got = other.import_all(read_document(json.dumps(book)))
    assert (got.ingredients, got.recipes, got.renamed) == (1, 0, ("my limes (2)",))
    assert other.ingredient("my limes").document == {"brix": 9.0}
    assert other.ingredient("my limes (2)", 1).document == LIMES
    again = other.import_all(book)
    assert (again.ingredients, again.unchanged) == (0, 1)
    alike = Store(tmp_path / "alike.db")
    alike.import_all(book)
    assert alike.export_all() == book


def test_a_damaged_section_changes_nothing(store: Store) -> None:
    store.save_ingredient("my limes", LIMES)
    good = store.export_all()
    for change, says in (
        ({"ingredients": {}}, "ingredients that are not a list"),
        ({"ingredients": good["ingredients"] * 2}, "the ingredient 'my limes' 2 times"),
        ({"ingredients": [{"name": "x", "revisions": []}]}, "without a revision"),
        ({"ingredients": [{"name": "x", "revisions": [], "rounds": []}]}, "without exactly"),
        ({"version": 4}, "version 4; this program reads versions 1 to 3"),
    ):
        with pytest.raises(BadInput, match=says):
            store.import_all({**good, **change})
    assert store.export_all() == good


@pytest.mark.parametrize("version", [1, 2])
def test_exports_of_earlier_versions_are_read(store: Store, version: int) -> None:
    text = (FIXTURES / f"kitchen_book_v{version}.json").read_bytes()
    document = read_document(text)
    assert document["version"] == version
    got = store.import_all(document)
    assert got.recipes == len(document["recipes"]) > 0
    assert got.ingredients == 0
    back = store.export_all()
    assert back["profiles"] == document["profiles"]
    assert [r["revisions"] for r in back["recipes"]] == [
        r["revisions"] for r in document["recipes"]
    ]


# --- books of earlier versions --------------------------------------------------------------------
@pytest.mark.parametrize("version", [1, 2])
def test_a_book_of_an_earlier_version_keeps_everything(tmp_path: Path, version: int) -> None:
    path = _old(tmp_path, version)
    exported = json.loads((FIXTURES / f"kitchen_book_v{version}.json").read_text("utf-8"))
    before = _ids(path)
    with closing(sqlite3.connect(path)) as connection:
        given = connection.execute("SELECT seq FROM sqlite_sequence").fetchone()[0]
    store = Store(path)
    found = store.export_all()
    assert found["ingredients"] == []
    assert found["profiles"] == exported["profiles"]
    for now, then in zip(found["recipes"], exported["recipes"], strict=True):
        assert now["name"] == then["name"]
        assert now["revisions"] == then["revisions"]
        assert now["rounds"] == then.get("rounds", [])
    assert _ids(path) == before, "every entry keeps its number"
    assert store.last_backup is not None
    assert store.last_backup.name.startswith(f"kitchen_book.before-000{version + 1}.")
    assert store.save_ingredient("my limes", LIMES).id > given, "no number is given twice"
    recipe = exported["recipes"][0]["name"]
    rounds = len(store.rounds(recipe))
    assert store.save_round(recipe, {"words": "sharper"}).number == rounds + 1
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == len(schema.MIGRATIONS)
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    store.delete_recipe(recipe)
    with closing(sqlite3.connect(path)) as connection:
        for table in ("revision", "tasting_round"):
            lost = f"SELECT count(*) FROM {table} WHERE entry_id NOT IN (SELECT id FROM entry)"
            assert connection.execute(lost).fetchone()[0] == 0, "what belongs to it goes with it"


def test_a_migrated_book_and_a_new_one_have_one_schema(tmp_path: Path, store: Store) -> None:
    store.save_ingredient("my limes", LIMES)
    old = Store(_old(tmp_path, 1))
    old.save_ingredient("my limes", LIMES)
    found = []
    for path in (store.path, old.path):
        with closing(sqlite3.connect(path)) as connection:
            found.append(
                connection.execute("SELECT name, sql FROM sqlite_master ORDER BY name").fetchall()
            )
    assert found[0] == found[1]


def test_a_migration_that_fails_half_way_leaves_the_old_book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = _old(tmp_path, 2)
    before = _ids(path)
    name, statements = schema.MIGRATIONS[2]
    for cut in (3, 9, len(statements) - 1):
        broken = (*statements[:cut], "INSERT INTO nowhere VALUES (1)")
        monkeypatch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS[:2], (name, broken)))
        with pytest.raises(Exception, match="nowhere"):
            Store(path).recipes()
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA user_version").fetchone()[0] == 2
        assert _ids(path) == before
        monkeypatch.undo()
    assert len(Store(path).recipes()) == len([e for e in before if e[1] == "recipe"])
