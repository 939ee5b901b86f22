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

from balancer.errors import BadInput, BalancerError, NameTaken, NotSaved, StoreProblem
from balancer.store import Store, checked_name, data_home, file, read_document

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
    store.save_profile("sharp", LEVELS, "for mackerel")
    return store


def test_export_and_import(book: Store, tmp_path: Path) -> None:
    document = book.export_all()
    assert document["format"] == "balancer kitchen book"
    assert document["version"] == 1
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
        ("d['version'] = 2", "version 2"),
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

        assert pragma("application_id") == file.APPLICATION_ID
        assert pragma("user_version") == len(file.MIGRATIONS)
        assert pragma("journal_mode") == "wal"
        assert pragma("integrity_check") == "ok"
        names = [row[0] for row in connection.execute("SELECT name FROM migration")]
    assert names == [name for name, _ in file.MIGRATIONS]


def test_what_is_committed_is_flushed(book: Store) -> None:
    with book._file.transaction(write=True) as connection:
        assert connection.execute("PRAGMA synchronous").fetchone()[0] == 2
        assert connection.execute("PRAGMA foreign_keys").fetchone()[0] == 1
        with pytest.raises(sqlite3.IntegrityError):
            connection.execute("INSERT INTO revision VALUES (12345, 1, '{}', '')")


def test_a_migration_that_fails_half_way_leaves_the_old_state(
    book: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = book.export_all()
    step = (
        "0002 rounds",
        (
            "CREATE TABLE round (id INTEGER PRIMARY KEY,"
            " recipe_id INTEGER NOT NULL REFERENCES entry (id))",
            "DELETE FROM revision",
            "INSERT INTO no_such_table VALUES (1)",
        ),
    )
    with monkeypatch.context() as patch:
        patch.setattr(file, "MIGRATIONS", (*file.MIGRATIONS, step))
        with pytest.raises(StoreProblem, match="no such table"):
            book.recipes()
    assert book.export_all() == before
    with closing(sqlite3.connect(book.path)) as connection:
        tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        assert "round" not in tables
        assert connection.execute("PRAGMA user_version").fetchone()[0] == 1

    good = (step[0], step[1][:1])
    with monkeypatch.context() as patch:
        patch.setattr(file, "MIGRATIONS", (*file.MIGRATIONS, good))
        assert book.export_all() == before
    with pytest.raises(StoreProblem, match="newer version"):
        book.recipes()


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
