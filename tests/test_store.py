"""The kitchen book: nothing reported as saved is lost, nothing is overwritten, no traceback."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from balancer.errors import (
    BadInput,
    BalancerError,
    ChangedMeanwhile,
    NameTaken,
    NotSaved,
    StoreProblem,
)
from balancer.just_about_right import Word
from balancer.rounds import Round
from balancer.store import Store, checked_name, data_home, read_document, schema

FIXTURES = Path(__file__).parent / "fixtures"

AWKWARD_NAMES = [
    "Plum & ginger dip",
    "O'Brien; DROP TABLE entry; --",
    'say "when"',
    "../../etc/passwd",
    "C:\\sauces\\CON",
    "<script>alert(1)</script>",
    "=1+1",
    "100 % walnut | red_pepper*",
    "辣椒酱",
    "соус 🌶️",
    "x" * 120,
]
LEVELS = {"sweet": 18.0, "sour": 1.1, "salt": 1.4}
NAMES = st.text(min_size=1, max_size=40)
JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**12), 10**12)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=12,
)
DOCUMENTS = st.dictionaries(st.text(max_size=8), JSON_VALUES, max_size=5)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "book.db")


@contextmanager
def fresh() -> Iterator[Store]:
    """A store of its own for each Hypothesis example, where a fixture would be shared."""
    with tempfile.TemporaryDirectory() as folder:
        yield Store(Path(folder) / "book.db")


# --- saving and reading -------------------------------------------------------------------------
def test_an_empty_book_reads_as_empty_and_is_not_made_by_looking(store: Store) -> None:
    assert store.recipes() == ()
    assert store.profiles() == ()
    with pytest.raises(NotSaved, match="No recipe is called 'plum dip'"):
        store.recipe("plum dip")
    assert not store.path.exists()


@pytest.mark.parametrize("name", AWKWARD_NAMES)
def test_awkward_names_come_back_as_they_went_in(store: Store, name: str) -> None:
    assert store.save_recipe(name, {"n": 1}).name == name
    store.save_profile(name, LEVELS, "as on the menu")
    assert store.recipe(name).document == {"n": 1}
    assert store.profile(name).levels == LEVELS
    assert store.profile(name).note == "as on the menu"
    assert [r.name for r in store.recipes()] == [name]


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(name=NAMES, document=DOCUMENTS)
def test_names_and_documents_round_trip(name: str, document: dict[str, object]) -> None:
    with fresh() as store:
        try:
            kept = checked_name(name)
        except BadInput:
            with pytest.raises(BadInput):
                store.save_recipe(name, document)
            assert store.recipes() == ()
            return
        saved = store.save_recipe(name, document)
        assert saved.name == kept == checked_name(kept)
        assert store.recipe(name).document == document
        with fresh() as other:
            text = json.dumps(store.export_all())
            assert other.import_all(read_document(text)).recipes == 1
            assert other.export_all() == store.export_all()


def test_every_revision_is_kept(store: Store) -> None:
    first = store.save_recipe("plum dip", {"salt_g": 5})
    second = store.save_recipe("plum dip", {"salt_g": 6}, replace=True)
    assert (first.revision, second.revision) == (1, 2)
    assert first.id == second.id
    assert store.recipe("plum dip").document == {"salt_g": 6}
    assert store.recipe("plum dip", revision=1).document == {"salt_g": 5}
    with pytest.raises(NotSaved, match="no revision 3"):
        store.recipe("plum dip", revision=3)
    assert [r.revision for r in store.recipes()] == [2]


def test_a_name_in_use_is_not_overwritten(store: Store) -> None:
    store.save_recipe("plum dip", {"salt_g": 5})
    store.save_profile("plum dip", LEVELS)
    with pytest.raises(NameTaken, match="plum dip"):
        store.save_recipe("plum dip", {"salt_g": 6})
    with pytest.raises(NameTaken, match="plum dip"):
        store.save_profile("plum dip", {"sweet": 1.0})
    assert store.recipe("plum dip").document == {"salt_g": 5}
    assert store.save_profile("plum dip", {"sweet": 1.0}, replace=True).revision == 2


def test_rename_keeps_identity_and_revisions(store: Store) -> None:
    before = store.save_recipe("plum dip", {"n": 1})
    store.save_recipe("plum dip", {"n": 2}, replace=True)
    store.save_recipe("chutney", {"n": 3})
    with pytest.raises(NameTaken):
        store.rename_recipe("plum dip", "chutney")
    store.rename_recipe("plum dip", "plum and ginger dip")
    after = store.recipe("plum and ginger dip")
    assert (after.id, after.revision) == (before.id, 2)
    with pytest.raises(NotSaved, match="plum and ginger dip"):
        store.recipe("plum dip")
    store.rename_recipe("chutney", "chutney")
    store.save_profile("dip", LEVELS)
    store.rename_profile("dip", "plum")
    assert [p.name for p in store.profiles()] == ["plum"]


def test_delete_takes_all_revisions_and_nothing_else(store: Store) -> None:
    old = store.save_recipe("plum dip", {"n": 1})
    store.save_recipe("plum dip", {"n": 2}, replace=True)
    store.save_recipe("chutney", {"n": 3})
    store.save_profile("plum dip", LEVELS)
    store.delete_recipe("plum dip")
    assert [r.name for r in store.recipes()] == ["chutney"]
    assert [p.name for p in store.profiles()] == ["plum dip"]
    with pytest.raises(NotSaved):
        store.delete_recipe("plum dip")
    again = store.save_recipe("plum dip", {"n": 4})
    assert again.revision == 1
    assert again.id > old.id, "a number that was deleted is never given again"
    store.delete_profile("plum dip")
    assert store.profiles() == ()


def test_a_name_not_found_gets_the_nearest(store: Store) -> None:
    store.save_recipe("plum and ginger dip", {})
    with pytest.raises(NotSaved, match="Nearest: plum and ginger dip"):
        store.recipe("plum ginger dip")


# --- bad input ----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("", "empty"),
        (" \t\n", "empty"),
        ("x" * 10_000, "10000 characters"),
        ("two\nlines", r"U\+000A"),
        ("nul\x00", r"U\+0000"),
        ("turned\u202eround", r"U\+202E"),
        ("half \ud800", r"U\+D800"),
        (7, "Give it as text"),
    ],
)
def test_names_that_cannot_be_kept(store: Store, name: str, says: str) -> None:
    for save in (
        lambda: store.save_recipe(name, {}),
        lambda: store.save_profile(name, LEVELS),
        lambda: store.recipe(name),
    ):
        with pytest.raises(BadInput, match=says) as caught:
            save()
        assert len(str(caught.value)) < 300
    assert not store.path.exists()


def test_names_are_normalised() -> None:
    assert checked_name("  cafe\u0301 ") == "caf\u00e9"
    assert checked_name("plum\u00a0dip") == "plum dip"


def deep(levels: int) -> dict[str, object]:
    document: dict[str, object] = {}
    for _ in range(levels - 1):
        document = {"a": document}
    return document


@pytest.mark.parametrize(
    "document",
    [
        {"x": float("nan")},
        {"x": [1.0, {"y": float("inf")}]},
        {"x": {1, 2}},
        {1: "x"},
        deep(101),
        deep(5000),
        ["a list"],
    ],
)
def test_documents_that_cannot_be_kept(store: Store, document: dict[str, object]) -> None:
    with pytest.raises(BadInput, match="plum dip"):
        store.save_recipe("plum dip", document)
    assert store.recipes() == ()


def test_the_deepest_document_that_can_be_kept_can_be_read_again(store: Store) -> None:
    store.save_recipe("deep", deep(100))
    assert store.recipe("deep").document == deep(100)


@pytest.mark.parametrize(
    "levels", [{}, {"sweet": float("nan")}, {"sweet": -1.0}, {"sweet": 1e12}, {"sweet": "much"}]
)
def test_levels_that_cannot_be_kept(store: Store, levels: dict[str, float]) -> None:
    with pytest.raises(BadInput, match="plum dip"):
        store.save_profile("plum dip", levels)
    assert store.profiles() == ()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"a": }', "line 1, column 7"),
        ("[1, 2]", "not a JSON object"),
        ("", "not JSON"),
        ('{"a": NaN}', "NaN"),
        ('{"a": 1e999}', "inf"),
        ('{"a": ' + "9" * 5000 + "}", "number that cannot be read"),
        (b'{"a": "\xff"}', "UTF-8"),
        ('{"a": [{"salt": 1, "sour": 2, "salt": 3}]}', "key 'salt' more than once"),
        ('{"' + "k" * 200 + '": 1, "' + "k" * 200 + '": 1}', "more than once"),
        ('{"a": ' * 100_000, "nested deeper than 100"),
        ("[" * 100_000 + "]" * 100_000, "nested deeper than 100"),
        ('{"a":' + "[" * 100 + "]" * 100 + "}", "nested deeper than 100"),
        ("x" * 50_000_001, "over 50 MB"),
    ],
)
def test_documents_that_cannot_be_read(text: str | bytes, says: str) -> None:
    with pytest.raises(BadInput, match=says) as caught:
        read_document(text, "The request")
    assert str(caught.value).startswith("The request")
    assert len(str(caught.value)) < 300


def test_bytes_with_a_mark_at_the_start_are_read() -> None:
    assert read_document(b'\xef\xbb\xbf{"a": 1}') == {"a": 1}


# --- the whole book -----------------------------------------------------------------------------
@pytest.fixture
def book(store: Store) -> Store:
    store.save_recipe("plum dip", {"n": 1})
    store.save_recipe("plum dip", {"n": 2}, replace=True)
    store.save_recipe("chutney", {"n": 3})
    store.save_round("chutney", {"words": "sharper"})
    store.save_profile("sharp", LEVELS, "for mackerel")
    return store


def test_export_and_import(book: Store, tmp_path: Path) -> None:
    document = book.export_all()
    assert document["format"] == "balancer kitchen book"
    assert document["version"] == 3
    other = Store(tmp_path / "other.db")
    result = other.import_all(read_document(json.dumps(document)))
    assert (result.profiles, result.recipes, result.renamed, result.unchanged) == (1, 2, (), 0)
    assert other.export_all() == document
    again = other.import_all(document)
    assert (again.profiles, again.recipes, again.unchanged) == (0, 0, 3)
    assert other.export_all() == document


def test_import_keeps_both(book: Store, tmp_path: Path) -> None:
    other = Store(tmp_path / "other.db")
    other.save_recipe("plum dip", {"n": 99})
    assert other.import_all(book.export_all()).renamed == ("plum dip (2)",)
    assert other.recipe("plum dip").document == {"n": 99}
    assert other.recipe("plum dip (2)", revision=1).document == {"n": 1}
    assert other.import_all(book.export_all()).unchanged == 3, "a second import adds nothing"


def test_import_adds_revisions_or_skips(book: Store, tmp_path: Path) -> None:
    for on_clash, revisions in (("add revisions", [99, 1, 2]), ("skip", [99])):
        other = Store(tmp_path / f"{on_clash}.db")
        other.save_recipe("plum dip", {"n": 99})
        other.import_all(book.export_all(), on_clash=on_clash)  # type: ignore[arg-type]
        other.import_all(book.export_all(), on_clash=on_clash)  # type: ignore[arg-type]
        count = other.recipe("plum dip").revision
        found = [other.recipe("plum dip", n).document["n"] for n in range(1, count + 1)]
        assert found == revisions
    with pytest.raises(BadInput, match="keep both"):
        book.import_all(book.export_all(), on_clash="overwrite")  # type: ignore[arg-type]


def test_a_name_of_full_length_can_still_be_kept_beside_another(store: Store) -> None:
    store.save_recipe("x" * 120, {"n": 1})
    document = store.export_all()
    document["recipes"][0]["revisions"][0]["document"] = {"n": 2}
    assert store.import_all(document).renamed == ("x" * 116 + " (2)",)


def test_a_damaged_import_changes_nothing(book: Store) -> None:
    good = book.export_all()

    def broken(change: str) -> dict[str, object]:
        document = json.loads(json.dumps(good))
        exec(change, {"d": document, "r": document["recipes"][0]})
        return document  # type: ignore[no-any-return]

    for change, says in [
        ("d['format'] = 'cookbook'", "not a kitchen book"),
        ("d['version'] = 4", "version 4"),
        ("d['version'] = True", "version True"),
        ("d['version'] = 1", "without exactly name, revisions"),
        ("del r['rounds']", "without exactly name, revisions, rounds"),
        ("r['rounds'] = {}", "rounds of the recipe .* that are not a list"),
        ("r['rounds'][0]['number'] = 2", "rounds of the recipe .* out of order"),
        ("r['rounds'][0]['document'] = []", "Number 1 of the rounds of the recipe"),
        ("r['rounds'][0]['saved_at'] = 'late'", "no date and time"),
        ("d['profiles'][0]['rounds'] = []", "a profile without exactly"),
        ("d['extra'] = []", "'extra'"),
        ("d['recipes'] = {}", "not a list"),
        ("r['name'] = ''", "empty"),
        ("r['name'] = 'plum dip'", "2 times"),
        ("r['revisions'] = []", "without a revision"),
        ("r['revisions'][0]['number'] = 2", "out of order"),
        ("r['revisions'][0]['saved_at'] = 'noon'", "no date and time"),
        ("r['revisions'][0]['document'] = 5", "Give a mapping"),
        ("del r['revisions'][0]['document']", "without exactly"),
        ("d['profiles'][0]['revisions'][0]['document']['levels']['sweet'] = -1", "'sweet' is -1"),
        ("d['profiles'][0]['revisions'][0]['document']['note'] = 5", "note"),
    ]:
        with pytest.raises(BadInput, match=says):
            book.import_all(broken(change))
        assert book.export_all() == good
    with pytest.raises(BadInput, match="not a kitchen book"):
        book.import_all([])  # type: ignore[arg-type]


# --- bad files ----------------------------------------------------------------------------------
def refused(store: Store, *says: str) -> None:
    """Every operation ends in one sentence that names the file, and leaves it as it was."""
    before = store.path.read_bytes() if store.path.is_file() else None
    for operation in (
        lambda: store.save_recipe("plum dip", {}),
        store.recipes,
        lambda: store.profile("sharp"),
        store.export_all,
    ):
        with pytest.raises(StoreProblem) as caught:
            operation()
        for part in (*says, store.path.name):
            assert part in str(caught.value)
        assert "\n" not in str(caught.value)
    after = store.path.read_bytes() if store.path.is_file() else None
    assert after == before


@pytest.mark.parametrize("content", [b"a shopping list", b"\x00" * 4096, b"lemons\n" * 1000])
def test_not_a_database(store: Store, content: bytes) -> None:
    store.path.write_bytes(content)
    refused(store, "is not a database")


def test_a_damaged_database(book: Store) -> None:
    content = bytearray(book.path.read_bytes())
    content[4096:] = b"\xff" * (len(content) - 4096)
    book.path.write_bytes(content)
    with pytest.raises(StoreProblem, match="is damaged"):
        book.recipes()


def test_a_database_of_another_program(store: Store) -> None:
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("CREATE TABLE entry (id)")
    refused(store, "another program")


@pytest.mark.parametrize(
    "statement",
    ["PRAGMA user_version = 99", "INSERT INTO migration VALUES ('0099 rounds', '2031-01-01')"],
)
def test_a_newer_database_is_left_untouched(book: Store, statement: str) -> None:
    with closing(sqlite3.connect(book.path)) as connection, connection:
        connection.execute(statement)
    refused(book, "newer version")


def test_an_empty_file_is_taken_as_a_new_book(store: Store) -> None:
    store.path.touch()
    store.save_recipe("plum dip", {"n": 1})
    assert store.recipe("plum dip").document == {"n": 1}


def test_a_folder_in_place_of_the_file(store: Store) -> None:
    store.path.mkdir()
    with pytest.raises(StoreProblem, match="cannot be opened"):
        store.save_recipe("plum dip", {})


def test_a_missing_folder(tmp_path: Path) -> None:
    store = Store(tmp_path / "gone" / "book.db")
    for operation in (store.recipes, lambda: store.save_recipe("plum dip", {})):
        with pytest.raises(StoreProblem, match=r"gone does not exist"):
            operation()


def test_a_locked_database_waits_then_says_so_and_loses_nothing(book: Store) -> None:
    impatient = Store(book.path, timeout_s=0.2)
    with closing(sqlite3.connect(book.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StoreProblem, match="in use by another program"):
            impatient.save_recipe("late", {})
        assert len(impatient.recipes()) == 2, "reading goes on while another writes"
        other.execute("ROLLBACK")
    impatient.save_recipe("late", {})
    assert len(book.recipes()) == 3


def test_a_locked_new_database(store: Store) -> None:
    impatient = Store(store.path, timeout_s=0.2)
    with closing(sqlite3.connect(store.path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        refused(impatient, "in use by another program")


@contextmanager
def ordinary_user() -> Iterator[None]:
    """Lay down the rights of the superuser, whom file modes do not stop."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        yield
        return
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder outside the private one of this run, which another user may enter."""
    folder = Path(tempfile.mkdtemp(prefix="book-"))
    folder.chmod(0o755)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


@pytest.mark.skipif(os.name == "nt", reason="file modes of POSIX are needed")
def test_a_read_only_folder(open_folder: Path) -> None:
    store = Store(open_folder / "book.db")
    open_folder.chmod(0o555)
    with ordinary_user(), pytest.raises(StoreProblem, match="cannot be opened or created"):
        store.save_recipe("plum dip", {})


@pytest.mark.skipif(os.name == "nt", reason="file modes of POSIX are needed")
def test_a_read_only_file(open_folder: Path) -> None:
    store = Store(open_folder / "book.db")
    store.save_recipe("plum dip", {"n": 1})
    store.path.chmod(0o444)
    open_folder.chmod(0o777)
    with ordinary_user(), pytest.raises(StoreProblem, match="cannot be written to"):
        store.save_recipe("chutney", {})
    assert [r.name for r in store.recipes()] == ["plum dip"]


@pytest.mark.skipif(os.name == "nt", reason="file modes of POSIX are needed")
def test_a_folder_that_may_not_be_entered(open_folder: Path) -> None:
    store = Store(open_folder / "book.db")
    store.save_recipe("plum dip", {"n": 1})
    open_folder.chmod(0o000)
    with ordinary_user(), pytest.raises(StoreProblem, match="Permission denied"):
        store.recipes()


# --- where it is kept ---------------------------------------------------------------------------
def test_the_environment_moves_the_book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "kitchen"))
    assert data_home() == tmp_path / "kitchen"
    store = Store()
    assert store.recipes() == ()
    assert not data_home().exists()
    store.save_recipe("plum dip", {})
    assert store.path.parent == tmp_path / "kitchen"
    assert len(Store().recipes()) == 1

    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "unplugged" / "kitchen"))
    with pytest.raises(StoreProblem, match="unplugged does not exist"):
        Store().recipes()
    monkeypatch.setenv("BALANCER_HOME", "~nobody-by-that-name/kitchen")
    with pytest.raises(StoreProblem, match="BALANCER_HOME"):
        Store()


def test_the_home_folder_is_made_when_first_needed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("BALANCER_HOME", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "not" / "yet"))
    monkeypatch.setenv("HOME", str(tmp_path))
    store = Store()
    store.save_recipe("plum dip", {})
    assert store.path.is_file()
    assert store.path.is_relative_to(tmp_path)
    store.path.write_bytes(b"not a book")
    with pytest.raises(StoreProblem, match=r"The kitchen book ~"):
        store.recipes()


# --- the schema ---------------------------------------------------------------------------------
def test_the_file_says_what_it_is(book: Store) -> None:
    with closing(sqlite3.connect(book.path)) as connection:

        def pragma(name: str) -> object:
            return connection.execute(f"PRAGMA {name}").fetchone()[0]

        assert pragma("application_id") == schema.APPLICATION_ID
        assert pragma("user_version") == len(schema.MIGRATIONS)
        assert pragma("journal_mode") == "wal"
        assert pragma("integrity_check") == "ok"
        names = [row[0] for row in connection.execute("SELECT name FROM migration")]
    assert names == [name for name, _ in schema.MIGRATIONS]


def test_what_is_committed_is_flushed(book: Store) -> None:
    with book._file.transaction(write=True) as connection:
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2
        assert connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute("INSERT INTO revision VALUES (12345, 1, '{}', '')")


STEP = (
    "0003 a step to come",
    (
        "CREATE TABLE photograph (entry_id INTEGER REFERENCES entry (id))",
        "DELETE FROM revision",
        "INSERT INTO no_such_table VALUES (1)",
    ),
)


def test_a_migration_that_fails_half_way_leaves_the_old_state(
    book: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = book.export_all()
    with monkeypatch.context() as patch:
        patch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, STEP))
        for _ in range(3):
            with pytest.raises(StoreProblem, match="no such table"):
                book.recipes()
    assert len(copies(book.path)) == 1, "trying again makes no further copy of the same book"
    assert book.export_all() == before
    with closing(sqlite3.connect(book.path)) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        assert "photograph" not in tables
        assert connection.execute("PRAGMA user_version").fetchone()[0] == len(schema.MIGRATIONS)

    with monkeypatch.context() as patch:
        good = (STEP[0], STEP[1][:1])
        patch.setattr(schema, "MIGRATIONS", (*schema.MIGRATIONS, good))
        assert book.export_all() == before
    with pytest.raises(StoreProblem, match="newer version"):
        book.recipes()


# --- books of earlier versions ------------------------------------------------------------------
def copies(path: Path) -> list[Path]:
    return sorted(path.parent.glob("*.before-*"))


def dumped(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [*connection.iterdump()]


@pytest.fixture
def old_book(tmp_path: Path) -> Path:
    """A book that the program wrote when its schema was version 1."""
    return Path(shutil.copy(FIXTURES / "kitchen_book_v1.db", tmp_path / "kitchen_book.db"))


def without_rounds(document: dict[str, object]) -> dict[str, object]:
    """An export of today written as version 1 would have been."""
    recipes = [{k: v for k, v in r.items() if k != "rounds"} for r in document["recipes"]]  # type: ignore[attr-defined]
    rest = {k: v for k, v in document.items() if k != "ingredients"}
    return {**rest, "version": 1, "recipes": recipes}


def test_a_book_of_version_1_keeps_its_content_and_is_copied_first(old_book: Path) -> None:
    old_dump = dumped(old_book)
    exported = json.loads((FIXTURES / "kitchen_book_v1.json").read_text(encoding="utf-8"))
    assert "tasting_round" not in str(old_dump)

    store = Store(old_book)
    assert store.opened == ""
    assert store.last_backup is None
    assert [r.name for r in store.recipes()] == ["Plum & ginger dip", 'соус "quay" 🌶️']
    assert without_rounds(store.export_all()) == exported
    assert store.all_rounds() == {"Plum & ginger dip": (), 'соус "quay" 🌶️': ()}
    assert store.save_round("Plum & ginger dip", {"words": "sharper"}).number == 1
    last_given = 5
    assert store.save_recipe("new", {}).id > last_given, "no number of a deleted one comes back"
    with closing(sqlite3.connect(old_book)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == len(schema.MIGRATIONS)
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []

    backup = store.last_backup
    assert backup is not None
    assert copies(old_book) == [backup]
    assert backup.name.startswith("kitchen_book.before-0002.")
    assert backup.suffix == ".db"
    assert backup.name in store.opened
    assert dumped(backup) == old_dump
    with closing(sqlite3.connect(backup)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == 1
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    again = Store(old_book)
    assert len(again.rounds("Plum & ginger dip")) == 1
    assert again.opened == ""
    assert copies(old_book) == [backup]
    assert without_rounds(Store(backup).export_all()) == exported, "the copy is a book too"


def test_an_earlier_copy_is_never_overwritten(old_book: Path, tmp_path: Path) -> None:
    trial = tmp_path / "trial" / old_book.name
    trial.parent.mkdir()
    shutil.copy(old_book, trial)
    first = Store(trial)
    first.recipes()
    assert first.last_backup is not None
    taken = old_book.with_name(first.last_backup.name)
    taken.write_text("the only list of suppliers", encoding="utf-8")
    store = Store(old_book)
    store.recipes()
    assert store.last_backup == taken.with_suffix(".2.db")
    assert taken.read_text(encoding="utf-8") == "the only list of suppliers"
    assert "tasting_round" not in str(dumped(store.last_backup))


def test_a_new_book_gets_no_copy(book: Store) -> None:
    assert book.last_backup is None
    assert copies(book.path) == []


def test_no_migration_without_a_copy(old_book: Path) -> None:
    in_the_way = old_book.with_name("kitchen_book.before-0002.unfinished")
    in_the_way.mkdir()
    before = dumped(old_book)
    with pytest.raises(StoreProblem, match="cannot be reached"):
        Store(old_book).recipes()
    assert dumped(old_book) == before
    in_the_way.rmdir()
    assert len(Store(old_book).recipes()) == 2


READER = """
import sys
from pathlib import Path
from balancer.store import Store
print("ready", flush=True)
sys.stdin.readline()
store = Store(Path(sys.argv[1]), timeout_s=30)
print(len(store.recipes()), store.last_backup is not None)
"""


def test_programs_that_open_an_old_book_at_once_make_one_copy(old_book: Path) -> None:
    command = [sys.executable, "-c", READER, str(old_book)]
    pipe = subprocess.PIPE
    children = [subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) for _ in range(4)]
    for child in children:
        assert child.stdin is not None
        child.stdin.write("go\n")
        child.stdin.flush()
    said = sorted(child.communicate()[0].split()[-1] for child in children)
    assert [child.returncode for child in children] == [0] * 4
    assert said == ["False", "False", "False", "True"]
    assert len(copies(old_book)) == 1


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is needed")
def test_a_migration_that_is_killed_leaves_the_old_book_or_the_new_one(tmp_path: Path) -> None:
    source = FIXTURES / "kitchen_book_v1.db"
    old, new = dumped(source), None
    for run in range(10):
        book = tmp_path / str(run) / "kitchen_book.db"
        book.parent.mkdir()
        shutil.copy(source, book)
        child = subprocess.Popen(
            [sys.executable, "-c", READER, str(book)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        assert child.stdin is not None
        assert child.stdout is not None
        child.stdout.readline()
        child.stdin.write(b"\n")
        child.stdin.flush()
        time.sleep(0.004 * run)
        child.kill()
        child.communicate()
        with closing(sqlite3.connect(book)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
            names = [row[0] for row in connection.execute("SELECT name FROM sqlite_master")]
        assert ("tasting_round" in names) or dumped(book) == old
        for copy in book.parent.glob("*.before-*.db"):
            assert dumped(copy) == old
        assert "tasting_round" not in names or copies(book), "changed only after the copy"
        store = Store(book)
        new = new or store.export_all()
        assert store.export_all() == new, "the next start needs no repair"
        assert not [*book.parent.glob("*.unfinished*")]


def test_a_document_of_version_1_is_still_read(old_book: Path, store: Store) -> None:
    text = (FIXTURES / "kitchen_book_v1.json").read_bytes()
    document = read_document(text)
    assert document["version"] == 1
    got = store.import_all(document)
    assert (got.recipes, got.profiles, got.rounds) == (2, 1, 0)
    assert store.export_all() == Store(old_book).export_all(), "both ways lead to one book"
    again = store.import_all(document)
    assert (again.recipes, again.profiles, again.unchanged) == (0, 0, 3)


# --- rounds of tasting --------------------------------------------------------------------------
ROUND = Round((12.0, 0.9, 1.2, 10.0, 40.0, 0.0, 2.0, 1.0), {"sour": Word.TOUCH_LESS})


def said(store: Store, name: str) -> list[str]:
    """The notes of the rounds of a recipe."""
    return [r.document["notes"] for r in store.rounds(name)]


def test_rounds_are_kept_beside_each_other(store: Store) -> None:
    store.save_recipe("plum dip", {})
    store.save_recipe("chutney", {})
    assert store.rounds("plum dip") == ()
    first = store.save_round(" plum dip ", ROUND.as_document())
    second = store.save_round("plum dip", ROUND.as_document())
    other = store.save_round("chutney", {"notes": "less salt"})
    assert (first.number, second.number, other.number) == (1, 2, 1)
    assert first.recipe == "plum dip"
    assert store.rounds("plum dip") == (first, second)
    assert Round.from_document(store.rounds("plum dip")[1].document) == ROUND
    assert store.all_rounds() == {"chutney": (other,), "plum dip": (first, second)}
    store.save_recipe("plum dip", {"n": 2}, replace=True)
    assert len(store.rounds("plum dip")) == 2, "a new revision keeps the rounds"


def test_rounds_that_cannot_be_kept_or_found(store: Store) -> None:
    assert store.all_rounds() == {}
    store.save_recipe("plum and ginger dip", {})
    store.save_profile("sharp", LEVELS)
    for name in ("plum ginger dip", "sharp"):
        with pytest.raises(NotSaved, match="Nearest: plum and ginger dip"):
            store.save_round(name, {"n": 1})
        with pytest.raises(NotSaved, match="Nearest: plum and ginger dip"):
            store.rounds(name)
    for bad in ({"x": float("nan")}, ["much less"], {"x": {1}}):
        with pytest.raises(BadInput, match="round of tasting of 'plum and ginger dip'"):
            store.save_round("plum and ginger dip", bad)  # type: ignore[arg-type]
    with pytest.raises(BadInput, match="empty"):
        store.save_round(" ", {})
    assert store.rounds("plum and ginger dip") == ()


def test_rounds_follow_their_recipe(store: Store) -> None:
    store.save_recipe("plum dip", {})
    store.save_recipe("chutney", {})
    store.save_round("plum dip", {"notes": "one"})
    store.save_round("chutney", {"notes": "stays"})
    store.rename_recipe("plum dip", "quay dip")
    assert said(store, "quay dip") == ["one"]
    assert store.rounds("quay dip")[0].recipe == "quay dip"
    store.delete_recipe("quay dip")
    store.save_recipe("quay dip", {})
    assert store.rounds("quay dip") == ()
    assert said(store, "chutney") == ["stays"]
    with closing(sqlite3.connect(store.path)) as connection:
        assert connection.execute("SELECT count(*) FROM tasting_round").fetchone()[0] == 1


def test_windows_that_save_rounds_at_once_keep_them_all(store: Store) -> None:
    store.save_recipe("plum dip", {})
    windows, each = 6, 15
    numbers: list[int] = []
    start = threading.Barrier(windows)

    def window(mark: int) -> None:
        mine = Store(store.path, timeout_s=30)
        start.wait()
        for n in range(each):
            numbers.append(mine.save_round("plum dip", {"notes": f"{mark} {n}"}).number)

    threads = [threading.Thread(target=window, args=(mark,)) for mark in range(windows)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(numbers) == list(range(1, windows * each + 1))
    assert [r.number for r in store.rounds("plum dip")] == sorted(numbers)
    assert sorted(said(store, "plum dip")) == sorted(
        f"{mark} {n}" for mark in range(windows) for n in range(each)
    )


# --- rounds in an imported book -----------------------------------------------------------------
@pytest.fixture
def other(tmp_path: Path) -> Store:
    return Store(tmp_path / "other.db")


@pytest.fixture
def tasted(store: Store) -> Store:
    store.save_recipe("dip", {"n": 1})
    store.save_recipe("dip", {"n": 2}, replace=True)
    for notes in ("one", "two", "two"):
        store.save_round("dip", {"notes": notes})
    return store


CLASHES = ["keep both", "add revisions", "skip"]


@pytest.mark.parametrize("on_clash", CLASHES)
def test_rounds_come_with_a_new_recipe_once(tasted: Store, other: Store, on_clash: str) -> None:
    document = read_document(json.dumps(tasted.export_all()))
    for expected in ((1, 3, 0), (0, 0, 1)):
        got = other.import_all(document, on_clash=on_clash)  # type: ignore[arg-type]
        assert (got.recipes, got.rounds, got.unchanged) == expected
        assert other.export_all() == tasted.export_all()


@pytest.mark.parametrize(
    ("on_clash", "here", "beside"),
    [
        ("keep both", ["mine"], ["one", "two", "two"]),
        ("add revisions", ["mine", "one", "two", "two"], None),
        ("skip", ["mine"], None),
    ],
)
def test_rounds_where_the_name_is_in_use_for_something_else(
    tasted: Store, other: Store, on_clash: str, here: list[str], beside: list[str] | None
) -> None:
    other.save_recipe("dip", {"n": 99})
    other.save_round("dip", {"notes": "mine"})
    for _ in range(2):
        other.import_all(tasted.export_all(), on_clash=on_clash)  # type: ignore[arg-type]
        assert said(other, "dip") == here
        assert list(other.all_rounds()) == (["dip"] if beside is None else ["dip", "dip (2)"])
        if beside is not None:
            assert said(other, "dip (2)") == beside


@pytest.mark.parametrize(
    ("on_clash", "notes", "revision"),
    [
        ("keep both", ["one", "two", "two", "mine", "three"], 3),
        ("add revisions", ["one", "two", "two", "mine", "three"], 3),
        ("skip", ["one", "two", "two", "mine"], 2),
    ],
)
def test_a_recipe_that_went_on_elsewhere_gets_what_is_missing(
    tasted: Store, other: Store, on_clash: str, notes: list[str], revision: int
) -> None:
    other.import_all(tasted.export_all())
    other.save_round("dip", {"notes": "mine"})
    tasted.save_round("dip", {"notes": "three"})
    tasted.save_recipe("dip", {"n": 3}, replace=True)
    for _ in range(2):
        got = other.import_all(tasted.export_all(), on_clash=on_clash)  # type: ignore[arg-type]
        assert said(other, "dip") == notes
        assert other.recipe("dip").revision == revision
        assert got.renamed == ()
    assert got.unchanged == 1


def test_an_older_export_adds_nothing_to_a_recipe_that_went_on_here(tasted: Store) -> None:
    older = tasted.export_all()
    tasted.save_recipe("dip", {"n": 3}, replace=True)
    tasted.save_round("dip", {"notes": "three"})
    for on_clash in CLASHES:
        before = tasted.export_all()
        assert tasted.import_all(older, on_clash=on_clash).unchanged == 1  # type: ignore[arg-type]
        assert tasted.export_all() == before


# --- two windows on one recipe ------------------------------------------------------------------
def test_a_save_on_top_of_an_unseen_revision_is_refused(store: Store) -> None:
    mine = store.save_recipe("dip", {"n": 1}, expected_revision=0)
    theirs = store.save_recipe("dip", {"n": 2}, expected_revision=mine.revision)
    assert theirs.revision == 2
    for replace in (True, False):
        with pytest.raises(ChangedMeanwhile, match="saved meanwhile: its last revision is 2"):
            store.save_recipe("dip", {"n": 3}, replace=replace, expected_revision=1)
    with pytest.raises(ChangedMeanwhile, match="yours was to be the first"):
        store.save_recipe("dip", {"n": 3}, expected_revision=0)
    assert store.recipe("dip").document == {"n": 2}
    store.rename_recipe("dip", "quay dip")
    with pytest.raises(ChangedMeanwhile, match="deleted or renamed meanwhile"):
        store.save_recipe("dip", {"n": 3}, expected_revision=2)
    assert [r.name for r in store.recipes()] == ["quay dip"]


def test_of_windows_that_save_on_one_revision_only_the_first_succeeds(store: Store) -> None:
    store.save_recipe("dip", {"by": "nobody"})
    start = threading.Barrier(5)
    outcomes: list[str] = []

    def window(mark: str) -> None:
        mine = Store(store.path, timeout_s=30)
        start.wait()
        try:
            mine.save_recipe("dip", {"by": mark}, expected_revision=1)
            outcomes.append(mark)
        except ChangedMeanwhile:
            outcomes.append("refused")

    threads = [threading.Thread(target=window, args=(str(n),)) for n in range(5)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert outcomes.count("refused") == 4
    assert store.recipe("dip").revision == 2
    assert store.recipe("dip").document["by"] in outcomes


# --- crashes and many hands ---------------------------------------------------------------------
WRITER = """
import sys
from pathlib import Path
from balancer.store import Store
store, mark, number = Store(Path(sys.argv[1]), timeout_s=30), sys.argv[2], 0
while number < int(sys.argv[3]):
    store.save_recipe(f"{mark} {number}", {"n": number, "text": "x" * 500})
    store.save_recipe("shared", {"by": mark, "n": number}, replace=True)
    print(number, flush=True)
    number += 1
"""


def writer(path: Path, mark: str, count: int) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(path), mark, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


@pytest.mark.skipif(os.name == "nt", reason="SIGKILL is needed")
def test_a_killed_process_loses_nothing_it_reported(store: Store) -> None:
    reported: dict[str, int] = {}
    for run in range(5):
        child = writer(store.path, f"run {run}", 10**6)
        assert child.stdout is not None
        lines = [child.stdout.readline() for _ in range(2 + 3 * run)]
        time.sleep(0.011 * run)
        child.send_signal(signal.SIGKILL)
        lines += child.stdout.read().split("\n")
        child.stdout.close()
        assert child.wait() == -signal.SIGKILL
        reported[f"run {run}"] = max(int(line) for line in lines if line.strip())
        saved = {r.name: r.document for r in store.recipes()}
        for mark, last in reported.items():
            for number in range(last + 1):
                assert saved[f"{mark} {number}"]["n"] == number
        with closing(sqlite3.connect(store.path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert sum(reported.values()) >= 1 + 4 + 7 + 10 + 13


def test_two_processes_and_two_threads_write_one_book(store: Store) -> None:
    count = 20
    children = [writer(store.path, mark, count) for mark in ("left", "right")]
    failures: list[BalancerError] = []

    def thread(mark: str) -> None:
        mine = Store(store.path, timeout_s=30)
        try:
            for number in range(count):
                mine.save_recipe(f"{mark} {number}", {"n": number, "text": "x" * 500})
                mine.save_recipe("shared", {"by": mark, "n": number}, replace=True)
        except BalancerError as error:
            failures.append(error)

    threads = [threading.Thread(target=thread, args=(mark,)) for mark in ("up", "down")]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    for child in children:
        child.communicate()
        assert child.returncode == 0
    assert not failures
    assert len(store.recipes()) == 4 * count + 1
    total = store.recipe("shared").revision
    assert total == 4 * count
    entries = [store.recipe("shared", n).document for n in range(1, total + 1)]
    for mark in ("left", "right", "up", "down"):
        assert [d["n"] for d in entries if d["by"] == mark] == list(range(count))


def test_a_round_names_the_revision_that_it_tasted_also_where_revisions_came_before(
    store: Store, other: Store
) -> None:
    for sweet in (12, 14, 20):
        store.save_recipe("plum dip", {"sweet": sweet}, replace=True)
    other.save_recipe("plum dip", {"sweet": 20})
    other.save_round("plum dip", {"revision": 1})
    other.save_recipe("plum dip", {"sweet": 19}, replace=True)
    other.save_round("plum dip", {"revision": 2})
    for _ in range(2):  # the second time nothing is new
        store.import_all(other.export_all())
        tasted = [r.document["revision"] for r in store.rounds("plum dip")]
        meant = [store.recipe("plum dip", number).document["sweet"] for number in tasted]
        assert (tasted, meant) == ([3, 4], [20, 19])
