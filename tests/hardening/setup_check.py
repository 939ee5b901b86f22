"""The README's two commands where a checkout may lie: ``python tests/hardening/setup_check.py``.

Prints a Markdown table. Each trial works on a copy of the checkout as it stands, and after each
installation a sauce is solved, nudged and exported, the page is rendered, and the dashboard answers
with no network at all but loopback (a network namespace of its own). Run it as root on Linux: the
trials need namespaces, another user and, for the Python of another release of Debian, a tree of
trixie, which debootstrap makes (``--trixie DIR`` keeps it). Other versions of Python are taken from
the path, or from where ``--python FILE`` says.

``--only WORD`` runs the trials with that word in their name; ``--pytest "ARGS"`` puts arguments
behind the test command, which as it stands runs everything.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from offline_round import DONE  # noqa: E402
from tally import HEAD, Row, went_wrong  # noqa: E402

ROOT = HERE.parent.parent
PATH_LETTERS = "Küche am Kai, Soße № 3"
NOBODY = 65534
LONGEST_S = 5400.0
#: What a release of Debian has beside the minimum that the trials need.
PACKAGES = "python3,python3-venv,ca-certificates"
IN_TREE = (
    'mount -t proc proc "$0/proc" && mount --rbind /dev "$0/dev" && cd / && exec chroot "$0" "$@"'
)


@dataclass(frozen=True)
class Place:
    """Where commands run.

    Parameters
    ----------
    folder : Path
        Holds the copy of the checkout, a home and, where the copy is read-only, the environment.
    python : str
        Interpreter that ``python3`` means.
    tree : Path or None
        Root of another release of the system.
    user : int or None
        Number of another user.
    """

    folder: Path
    python: str
    tree: Path | None = None
    user: int | None = None

    def inside(self, path: Path) -> str:
        """A path as the commands see it."""
        return str(path if self.tree is None else Path("/") / path.relative_to(self.tree))

    def run(
        self, words: Sequence[str | Path], cwd: Path, *, network: bool = True
    ) -> subprocess.CompletedProcess[str]:
        """Run a command here."""
        known = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "VIRTUAL"))}
        known.pop("CI", None)
        home = self.inside(self.folder / "home")
        path = f"{self.inside(self.folder / 'bin')}:/usr/local/bin:/usr/bin:/bin:/usr/sbin"
        environment = known | {"HOME": home, "PATH": path, "LC_ALL": "C.UTF-8", "BROWSER": "true"}
        environment = {k: v for k, v in environment.items() if not k.startswith("XDG_")}
        command = [self.inside(w) if isinstance(w, Path) else w for w in words]
        if self.tree is not None:
            command = ["sh", "-c", 'cd "$0" && exec "$@"', self.inside(cwd), *command]
            command = ["unshare", "--mount", "sh", "-c", IN_TREE, str(self.tree), *command]
        elif self.user is not None:
            ids = (f"--reuid={self.user}", f"--regid={self.user}", "--clear-groups")
            command = ["setpriv", *ids, *command]
        if not network:  # the interface is brought up here, by one who may
            command = ["unshare", "--net", sys.executable, str(HERE / "offline_round.py"),
                       "--loopback", *command]  # fmt: skip
        return subprocess.run(
            command, cwd=None if self.tree else cwd, env=environment, capture_output=True,
            text=True, check=False, timeout=LONGEST_S, stdin=subprocess.DEVNULL,
        )  # fmt: skip


def readme_commands() -> tuple[str, str]:
    """The command that starts the project and the one that tests it."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    start, test = re.findall(r"^python3 -m venv .*$", text, re.MULTILINE)
    return start, test


def copied(target: Path) -> Path:
    """A copy of the checkout as it stands, without what git ignores."""
    listed = subprocess.run(
        ["git", "ls-files", "-coz", "--exclude-standard"], cwd=ROOT, capture_output=True, check=True
    )
    for name in listed.stdout.decode().split("\0"):
        if name and (ROOT / name).is_file():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, target / name)
    return target


def made(folder: Path, python: str, tree: Path | None = None, user: int | None = None) -> Place:
    """A place with a home and with ``python3`` on its path."""
    for name in ("home", "bin"):
        (folder / name).mkdir(parents=True)
    (folder / "bin" / "python3").symlink_to(python)
    if user is not None:
        os.chown(folder / "home", user, user)
    return Place(folder, python, tree, user)


def this_python() -> str:
    """The interpreter itself that runs this, not that of an environment."""
    return str(Path(sys.executable).resolve())


def failed(what: str, done: subprocess.CompletedProcess[str]) -> tuple[str, ...]:
    """Nothing where a command went well; else what it said last."""
    if done.returncode == 0:
        return ()
    said = (done.stdout + done.stderr).strip().splitlines()[-12:]
    return (f"{what} ended with {done.returncode}: {' / '.join(said)[-900:]}",)


def offline(place: Place, scripts: Path, cwd: Path) -> tuple[str, ...]:
    """A cook's round without network, with what is installed."""
    words = (scripts / "python", cwd / "tests" / "hardening" / "offline_round.py", scripts)
    done = place.run(words, cwd, network=False)
    lost = failed("the round without network", done)
    if not lost and json.loads(done.stdout.splitlines()[-1]) != list(DONE):
        lost = (f"the round without network did only {done.stdout[-300:]}",)
    return lost


def counted(text: str) -> str:
    """The closing line of a test run."""
    lines = [line for line in text.splitlines() if re.search(r"\d+ (passed|failed)", line)]
    return lines[-1].strip("= ") if lines else "no test counted"


def both_commands(place: Place, checkout: Path, arguments: str) -> tuple[tuple[str, ...], str]:
    """What went wrong with the two commands, and what was measured."""
    start, test = readme_commands()
    install = start.removesuffix(" && .venv/bin/balancer open")
    lost = () if install != start else (f"the README starts the project otherwise: {start}",)
    lost += failed(install, place.run(["bash", "-c", install], checkout))
    scripts = checkout / ".venv" / "bin"
    lost = lost or offline(place, scripts, checkout)
    if lost:
        return lost, ""
    done = place.run(["bash", "-c", f"{test} {arguments}".strip()], checkout)
    version = place.run([scripts / "python", "--version"], checkout).stdout.strip()
    return failed(test, done), f"{version}; {counted(done.stdout)}"


def interpreter(version: str, given: Sequence[str]) -> str | None:
    """The interpreter of one version: one of those given, or one on the path."""
    ask = "import sys; print(sys._base_executable, '%d.%d' % sys.version_info[:2])"
    for candidate in (*given, f"python{version}"):
        if shutil.which(candidate):
            done = subprocess.run([candidate, "-c", ask], capture_output=True, text=True)
            path, _, found = done.stdout.strip().rpartition(" ")
            if found == version:
                return str(Path(path).resolve())
    return None


def with_python(version: str, folder: Path, given: Sequence[str], arguments: str) -> Row:
    """The two commands on one version of Python, from a path with spaces and other letters."""
    what = f"the two commands on Python {version}, from {PATH_LETTERS!r}"
    python = interpreter(version, given)
    if python is None:
        return Row(what, "not tried", (), "no interpreter on the path; --python names one")
    here = folder / PATH_LETTERS
    lost, noted = both_commands(made(here, python), copied(here / "balancer"), arguments)
    return Row(what, "once", lost, noted)


def on_trixie(folder: Path, tree: Path, arguments: str) -> Row:
    """The two commands on another release of the system, with nothing but Python's own packages."""
    trixie(tree)
    here = tree / "tmp" / folder.name / PATH_LETTERS
    place = made(here, "/usr/bin/python3", tree)
    try:
        lost, noted = both_commands(place, copied(here / "balancer"), arguments)
    finally:
        shutil.rmtree(here.parent, ignore_errors=True)
    return Row("the two commands on a bare Debian trixie", "once", lost, noted)


def trixie(tree: Path) -> Path:
    """Debian trixie in a directory, made there once."""
    if not (tree / "usr" / "bin" / "python3.13").exists():
        subprocess.run(
            ["debootstrap", "--variant=minbase", f"--include={PACKAGES}", "trixie", str(tree)],
            check=True, stdout=sys.stderr,
        )  # fmt: skip
    for name in ("/etc/resolv.conf", os.environ.get("SSL_CERT_FILE", "")):
        if name and Path(name).is_file():
            shutil.copyfile(name, tree / name.lstrip("/"))
    return tree


def fingerprint(folder: Path) -> str:
    """Names and contents below a folder, as one number."""
    found = hashlib.sha256()
    for path in sorted(p for p in folder.rglob("*") if p.is_file()):
        found.update(str(path.relative_to(folder)).encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def read_only(folder: Path) -> Row:
    """Another user than the one whose checkout it is, who may not write to it."""
    folder.chmod(0o755)
    checkout = copied(folder / "checkout")
    before = fingerprint(checkout)
    subprocess.run(["chmod", "-R", "a-w,a+rX", str(checkout)], check=True)
    place = made(folder, this_python(), user=NOBODY)
    scripts = folder / "home" / "venv" / "bin"
    install = f"python3 -m venv ~/venv && ~/venv/bin/pip install {checkout}"
    lost = failed(install, place.run(["bash", "-c", install], checkout))
    lost = lost or offline(place, scripts, checkout)
    books = [p for p in (folder / "home").rglob("*.db") if "venv" not in p.parts]
    if not lost and not books:
        lost = ("no book was written to the user's data directory",)
    if fingerprint(checkout) != before:
        lost += ("the checkout was changed",)
    where = ", ".join(f"~/{p.relative_to(folder / 'home')}" for p in books)
    return Row("a read-only checkout, another user", "once", lost, f"the book is {where}")


def lowest(folder: Path, arguments: str) -> Row:
    """The lowest versions that pyproject.toml allows, in the test run."""
    checkout, place = copied(folder / "balancer"), made(folder, this_python())
    low = (
        "python3 -m venv tool && tool/bin/pip install -q uv && python3 -m venv low"
        " && tool/bin/uv pip compile -q --resolution lowest-direct --extra test"
        " balancer/pyproject.toml -o low.txt"
        " && tool/bin/uv pip install -q --python low/bin/python -r low.txt hatchling editables"
        " && tool/bin/uv pip install -q --python low/bin/python --no-deps --no-build-isolation"
        " -e balancer"
    )
    lost = failed("the installation", place.run(["bash", "-c", low], folder))
    if lost:
        return Row("the lowest versions", "once", lost)
    done = place.run(["bash", "-c", f"../low/bin/python -m pytest {arguments}"], checkout)
    wanted = re.findall(r'^  "([\w-]+)>=', (checkout / "pyproject.toml").read_text(), re.MULTILINE)
    listed = (folder / "low.txt").read_text(encoding="utf-8")
    pins = dict(re.findall(r"^([\w-]+)==(\S+)", listed, re.MULTILINE))
    noted = ", ".join(f"{name} {pins[name]}" for name in wanted if name in pins)
    return Row("the lowest versions", "once", failed("pytest", done),
               f"{counted(done.stdout)}; {noted}")  # fmt: skip


def trials(
    tree: Path, given: Sequence[str], arguments: str
) -> Iterator[tuple[str, Callable[[Path], Row]]]:
    """Name and run of everything that is tried."""
    for version in ("3.11", "3.12", "3.13"):
        yield f"python {version}", lambda f, v=version: with_python(v, f, given, arguments)
    yield "trixie", lambda f: on_trixie(f, tree, arguments)
    yield "read-only", read_only
    yield "lowest", lambda f: lowest(f, arguments)


def main() -> int:
    """Run what was asked for; the status is 1 if anything went wrong."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="")
    parser.add_argument("--pytest", default="", help="arguments behind the test command")
    parser.add_argument("--python", action="append", default=[], help="an interpreter to use")
    parser.add_argument("--trixie", type=Path, help="directory of a tree of Debian trixie")
    given = parser.parse_args()
    rows: list[Row] = []
    sys.stdout.write(HEAD + "\n")
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as kept:
        tree = (given.trixie or Path(kept) / "trixie").resolve()
        for name, trial in trials(tree, given.python, given.pytest):
            if given.only not in name:
                continue
            begun = time.monotonic()
            with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
                rows.append(trial(Path(folder)))
            sys.stdout.write(rows[-1].markdown() + "\n")
            sys.stdout.flush()
            sys.stderr.write(f"{name}: {time.monotonic() - begun:.0f} s\n")
    sys.stdout.write("\n".join(["", *went_wrong(rows)]) + "\n")
    return int(any(row.lost for row in rows))


if __name__ == "__main__":
    raise SystemExit(main())
