"""Changes one thing in a module at a time and looks whether its tests notice.

    python tests/hardening/mutants.py [MODULE ...] [--sample N] [--seed N] [--lines FROM-TO]

``mutations`` says what is changed and what is not. Coefficients stand in modules of their own,
which are not in scope. No file is written: the change is made in memory, in a forked process.

1. The tests of the module run once as it is, and the lines that each of them passes are noted.
   Tests that fail without any change are left out and printed.
2. For a change within a function, a process is forked in which the function has the changed code,
   and those tests run that pass its line, the quick ones first, until one fails.
   What tests share and what was computed on import, such as the tables, stays as it was, so the
   figures err on the low side. Data outside functions is put in place the same way where no other
   module holds it.
3. Other changes outside functions, and those of lines that no test passes, are tried in a process
   that imports the changed module afresh and runs all its tests until one fails.

A change that no test notices is a survivor and is printed. Those that cannot be noticed stand in
``mutants_equivalent.csv`` with the reason; they count as survivors. A process that does not end
in time counts as noticed. Hypothesis draws the same examples every time.
"""

from __future__ import annotations

import argparse
import ast
import csv
import gc
import importlib
import importlib.abc
import importlib.util
import json
import os
import random
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

import pytest
from _pytest.doctest import DoctestItem
from _pytest.runner import runtestprotocol
from mutations import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]
EQUIVALENT = Path(__file__).with_name("mutants_equivalent.csv")
#: Loaded once, before any process is forked.
LIBRARIES = ("numpy", "highspy", "hypothesis", "pint", "jsonschema")
#: Module to the tests that run for it, in this order, after its own doctests.
TESTS: dict[str, tuple[str, ...]] = {
    "composition": ("composition", "taste", "catalogue", "composite"),
    "chemistry": ("chemistry", "outside/chemistry_published"),
    "taste": ("taste", "tasting"),
    "program": ("program", "solve", "pot"),
    "solve": ("solve", "linear", "pot", "outside/linear_programs"),
    "tasting": ("tasting",),
    "recipe/document": ("recipe",),
    "recipe/method": ("recipe",),
    "recipe/parts": ("recipe", "export"),
    "requirements": ("problem", "program", "solve", "pot"),
    "linear": ("linear", "program"),
    "settle": ("settle",),
    "pot": ("pot",),
    "palate": ("palate",),
    "cooking": ("cooking", "settle"),
}
#: Tests that take longer than a change is worth; others see the same lines.
LEFT_OUT = (
    "tests/test_settle.py::test_two_hundred_programs_end_at_or_under_their_ceiling",
)  # fmt: skip
LEAST_SECONDS, TIMES_SLOWER = 2.0, 4.0


def _in_a_process(seconds: float, work: Callable[[], int]) -> int | None:
    """The exit code of work in a forked process; None where it took too much CPU time."""
    pid = os.fork()
    if not pid:
        code = 70
        try:
            limit = int(seconds) + 1
            resource.setrlimit(resource.RLIMIT_CPU, (limit, limit))
            resource.setrlimit(resource.RLIMIT_AS, (6 << 30, 6 << 30))
            code = work()
        except BaseException:
            traceback.print_exc()
            code = 71
        finally:
            os._exit(code)
    stop = time.monotonic() + 30 * seconds
    wait = 0.001
    while True:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            return os.WEXITSTATUS(status) if os.WIFEXITED(status) else None
        if time.monotonic() > stop:
            os.kill(pid, 9)
        wait = min(0.05, wait * 1.5)
        time.sleep(wait)


class _Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Finds one module, made from a tree."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self.name, self.path, self.tree = name, path, tree

    def find_spec(self, name: str, path: Any, target: Any = None) -> Any:
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def create_module(self, spec: Any) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)


def _import_changed(name: str, path: Path, tree: ast.Module) -> None:
    """Import a module as a tree has it, before pytest would read it from its file."""
    assert name not in sys.modules
    sys.meta_path.insert(0, _Changed(name, path, tree))
    importlib.import_module(name)


def _codes(code: CodeType) -> dict[tuple[str, int], CodeType]:
    """Functions in a code object, by name and first line; those within functions left inside."""
    found = {}
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            # a function, no body of a class and no comprehension
            if inner.co_flags & 0x02 and (inner.co_name[0] != "<" or "lambda" in inner.co_name):
                found[inner.co_qualname, inner.co_firstlineno] = inner
            found |= _codes(inner)
    return found


@dataclass
class _Within:
    """Pytest plugin: after the unchanged run, a process for each change within a function."""

    path: Path
    tree: ast.Module
    mutants: list[Mutant]
    report: int
    passes: dict[int, set[int]] = field(default_factory=dict)
    seconds: dict[int, float] = field(default_factory=dict)

    def say(self, **what: Any) -> None:
        os.write(self.report, (json.dumps(what) + "\n").encode())

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        items = session.items
        whole = self._unchanged(items)
        functions = [
            f
            for f in gc.get_objects()
            if isinstance(f, FunctionType) and f.__code__.co_filename == str(self.path)
        ]
        original = _codes(compile(self.tree, str(self.path), "exec"))
        for number, mutant in enumerate(self.mutants):
            undo = mutant.make()
            changed = _codes(compile(self.tree, str(self.path), "exec"))
            undo()
            differ = {k: c for k, c in changed.items() if original.get(k) != c}
            tests = [i for i in whole if mutant.lines & self.passes[i]]
            tests.sort(key=lambda i: self.seconds[i])
            noticed = done = False
            limit = LEAST_SECONDS + TIMES_SLOWER * sum(self.seconds[i] for i in tests or whole)
            if differ and tests:
                code = _in_a_process(
                    limit, lambda d=differ, t=tests: self._one(items, functions, d, t)
                )
                noticed, done = code not in (0, 72), code != 72
            elif not differ:
                names = _names_that_change(self.tree, mutant.line)
                undo = mutant.make()
                code = _in_a_process(limit, lambda n=names: self._data(items, n, whole))
                undo()
                noticed = code not in (0, 72)
            self.say(mutant=number, noticed=noticed, done=done, tests=len(tests))
        return True

    def _unchanged(self, items: list[pytest.Item]) -> list[int]:
        """Places of the tests that pass, twice; fills lines and seconds."""
        lines: set[int] = set()
        file = str(self.path)

        def local(frame: FrameType, event: str, _: Any) -> Any:
            lines.add(frame.f_lineno)
            return local

        def trace(frame: FrameType, event: str, _: Any) -> Any:
            return local(frame, event, _) if frame.f_code.co_filename == file else None

        whole = []
        for i, item in enumerate(items):
            lines.clear()
            began = time.process_time()
            sys.settrace(trace)
            fine = _passes(items, i)
            sys.settrace(None)
            self.passes[i], self.seconds[i] = set(lines), time.process_time() - began
            if fine:
                whole.append(i)
            else:
                self.say(failing=item.nodeid)
        self.say(cpu=sum(self.seconds.values()))

        def again() -> int:
            for i in whole:
                if not _passes(items, i):
                    self.say(unsteady=i, name=items[i].nodeid)
            return 0

        _in_a_process(3600.0, again)
        return whole

    def _passes_in_time(self, items: list[pytest.Item], i: int) -> bool:
        """Run one test; the process ends, which counts as noticed, when it takes far too long."""
        signal.setitimer(signal.ITIMER_PROF, LEAST_SECONDS + TIMES_SLOWER * self.seconds[i])
        return _passes(items, i)

    def _data(self, items: list[pytest.Item], names: set[str], tests: list[int]) -> int:
        """Put changed data in place, where no other module of the package holds it as its own."""
        name = next(
            n for n, m in sys.modules.items() if getattr(m, "__file__", None) == str(self.path)
        )
        module = sys.modules[name]
        if not names:
            return 72
        fresh: dict[str, Any] = {"__name__": name, "__package__": module.__package__}
        exec(compile(self.tree, str(self.path), "exec"), fresh)
        for key in names:
            old, new = getattr(module, key), fresh[key]
            if isinstance(new, type) or callable(new):
                return 72
            for home, other in list(sys.modules.items()):
                held = other is not module and getattr(other, "__dict__", {}).get(key) is old
                if held and home.startswith("balancer"):
                    return 72
                if held and home.startswith("test_"):
                    setattr(other, key, new)
            setattr(module, key, new)
        _forget()
        return int(not all(self._passes_in_time(items, i) for i in tests))

    def _one(
        self,
        items: list[pytest.Item],
        functions: list[FunctionType],
        differ: dict[tuple[str, int], CodeType],
        tests: list[int],
    ) -> int:
        put = 0
        for function in functions:
            new = differ.get((function.__code__.co_qualname, function.__code__.co_firstlineno))
            if new is not None:
                try:
                    function.__code__ = new
                except ValueError:  # another number of names of the function around it
                    return 72
                put += 1
        if not put:
            return 72
        _forget()
        return int(not all(self._passes_in_time(items, i) for i in tests))


def _forget() -> None:
    """Empty the caches of the package, but for those of the tables."""
    tables = ("balancer.catalogue", "balancer.tables")
    for found in gc.get_objects():
        if hasattr(type(found), "cache_clear"):
            home = str(getattr(found, "__module__", ""))
            if home.startswith("balancer.") and home not in tables:
                found.cache_clear()


def _names_that_change(tree: ast.Module, line: int) -> set[str]:
    """Names of data that a statement outside functions gives, and those computed from them."""
    names: set[str] = set()
    for statement in tree.body:
        if isinstance(statement, ast.Assign | ast.AnnAssign | ast.AugAssign):
            nodes = list(ast.walk(statement))
            loaded = {n.id for n in nodes if isinstance(n, ast.Name)}
            here = statement.lineno <= line <= (statement.end_lineno or line)
            if here or loaded & names:
                targets = getattr(statement, "targets", None) or [statement.target]
                names |= {n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)}
    return names


def _passes(items: list[pytest.Item], i: int) -> bool:
    """Run one test; what tests share stays set up."""
    item = items[i]
    item.session._setupstate.teardown_exact(item)
    if isinstance(item, DoctestItem):  # running it empties its names
        names = dict(item.dtest.globs)
    reports = runtestprotocol(item, log=False, nextitem=items[i - 1])
    if isinstance(item, DoctestItem):
        item.dtest.globs.update(names)
    return not any(r.failed for r in reports)


def _tests(arguments: list[str], *plugins: Any) -> int:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    if not os.environ.get("MUTANTS_LOUD"):
        os.dup2(1, 2)
    common = ["-q", "-p", "no:cacheprovider", "--no-header", "--tb=no", f"--rootdir={ROOT}"]
    # hypothesis is loaded before pytest starts, on purpose
    common += ["-W", "ignore::pytest.PytestAssertRewriteWarning", "--capture=sys"]
    return int(pytest.main([*common, *arguments], plugins=list(plugins)))


@dataclass(frozen=True)
class Outcome:
    """What came of one module."""

    module: str
    all_mutants: int
    tried: int
    survivors: tuple[tuple[int, str, str], ...]
    failing: tuple[str, ...]
    seconds: float

    @property
    def killed(self) -> int:
        """Changes that a test noticed."""
        return self.tried - len(self.survivors)


def check(module: str, sample: int, seed: int, lines: range | None) -> Outcome:
    """Try the changes of one module.

    Parameters
    ----------
    module : str
        A key of :data:`TESTS`.
    sample : int
        How many changes at most; 0 for all.
    seed : int
        Of the sample.
    lines : range or None
        Lines that are changed; None for all.
    """
    began = time.monotonic()
    name = "balancer." + module.replace("/", ".")
    path = ROOT / "balancer" / f"{module}.py"
    text = path.read_text(encoding="utf-8")
    tree = ast.parse(text)
    every = [m for m in mutants_of(tree) if lines is None or m.line in lines]
    chosen = every
    if sample and len(every) > sample:
        picked = sorted(random.Random(seed).sample(range(len(every)), sample))
        chosen = [every[i] for i in picked]
    where = [str(path.relative_to(ROOT)), *(_test_file(t) for t in TESTS[module])]
    arguments = [*where, *(a for t in LEFT_OUT for a in ("--deselect", t))]

    read, write = os.pipe()
    pid = os.fork()
    if not pid:
        os.close(read)
        _import_changed(name, path, tree)
        _tests(arguments, _Within(path, tree, chosen, write))
        os._exit(0)
    os.close(write)
    noticed: set[int] = set()
    done: set[int] = set()
    failing: list[str] = []
    cpu = 0.0
    with os.fdopen(read) as stream:
        for line in stream:
            said = json.loads(line)
            if said.get("noticed"):
                noticed.add(said["mutant"])
            if said.get("done"):
                done.add(said["mutant"])
            failing += [said[k] for k in ("failing", "name") if k in said]
            cpu = said.get("cpu", cpu)
            _log(f"{module} {line.strip()}")
    os.waitpid(pid, 0)
    if not cpu:
        raise SystemExit(f"{module}: its tests cannot be run without a change.")

    for test in failing:
        arguments += ["--deselect", test]
    source = text.splitlines()
    survivors = []
    for number, mutant in enumerate(chosen):
        if number in noticed:
            continue
        code: int | None = 0
        if number not in done:
            undo = mutant.make()

            def work() -> int:
                _import_changed(name, path, tree)
                return _tests(["-x", *arguments])

            code = _in_a_process(LEAST_SECONDS + TIMES_SLOWER * (cpu + 4.0), work)
            undo()
        _log(f"{module}:{mutant.line} {code} {mutant.change}")
        if code == 0:
            survivors.append((mutant.line, mutant.change, source[mutant.line - 1].strip()))
    return Outcome(
        module,
        len(every),
        len(chosen),
        tuple(survivors),
        tuple(dict.fromkeys(failing)),
        time.monotonic() - began,
    )


def _log(text: str) -> None:
    file = os.environ.get("MUTANTS_LOG")
    if file:
        with open(file, "a", encoding="utf-8") as stream:
            stream.write(text + "\n")


def _test_file(test: str) -> str:
    folder, _, name = test.rpartition("/")
    return f"tests/{folder + '/' if folder else ''}test_{name}.py"


def _imports(path: Path) -> set[str]:
    """Modules of the package that a file names in its imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{a.name}" for a in node.names)}
    return {n for n in found if n.startswith("balancer.")}


def _before(name: str) -> list[str]:
    """Modules of the package that do not need a module, so that they can be loaded beforehand."""
    files = {
        ".".join(p.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): p
        for p in (ROOT / "balancer").rglob("*.py")
    }
    needs = {module: _imports(path) & set(files) for module, path in files.items()}
    for module, modules in needs.items():
        parent = module.rpartition(".")[0]
        modules |= {parent} & set(files) - {"balancer"}
    package = name.rpartition(".")[0]
    touched = {name} | ({package} if package != "balancer" else set())
    while more := {m for m, n in needs.items() if n & touched} - touched:
        touched |= more
    skip = ("balancer.cli", "balancer.dashboard", "balancer.__main__", "balancer.recipe")
    return sorted(m for m in files if m not in touched and not m.startswith(skip))


def _load(names: tuple[str, ...] | list[str]) -> None:
    for name in names:
        if importlib.util.find_spec(name.partition(".")[0]):
            importlib.import_module(name)


def _prepared(module: str) -> None:
    """Read the tables once, where they do not hang on the module."""
    import hypothesis

    hypothesis.settings.register_profile("same", derandomize=True, database=None, deadline=None)
    hypothesis.settings.load_profile("same")
    if "balancer.catalogue" in _before("balancer." + module.replace("/", ".")):
        importlib.import_module("balancer.catalogue").default_catalogue()


def equivalents() -> dict[tuple[str, str, str], str]:
    """(module, line of source, change) to why no test can notice the change."""
    if not EQUIVALENT.exists():
        return {}
    with EQUIVALENT.open(encoding="utf-8", newline="") as stream:
        return {(r["module"], r["source"], r["change"]): r["why"] for r in csv.DictReader(stream)}


def main() -> int:
    """Try the modules that are named, or all, and print the table."""
    parser = argparse.ArgumentParser(description="Change one thing at a time; do tests notice?")
    parser.add_argument("module", nargs="*", choices=[*TESTS, []], help="default: all")
    parser.add_argument("--sample", type=int, default=0, help="changes per module, 0 for all")
    parser.add_argument("--seed", type=int, default=8)
    parser.add_argument("--lines", help="only these lines, as 40-60")
    chosen = parser.parse_args()
    lines = None
    if chosen.lines:
        low, _, high = chosen.lines.partition("-")
        lines = range(int(low), int(high or low) + 1)
    os.chdir(ROOT)
    os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1")
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    _load(LIBRARIES)
    known = equivalents()
    _say("| module | changes | tried | killed | share | survivors explained | seconds |")
    _say("|---|---|---|---|---|---|---|")
    for module in chosen.module or list(TESTS):

        def work(module: str = module) -> int:
            _prepared(module)
            _show(check(module, chosen.sample, chosen.seed, lines), known)
            return 0

        if _in_a_process(36000.0, work):
            _say(f"{module}: no result")
    return 0


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _show(found: Outcome, known: dict[tuple[str, str, str], str]) -> None:
    why = {s: known.get((found.module, s[2], s[1]), "") for s in found.survivors}
    share = 100.0 * found.killed / max(1, found.tried)
    explained = f"{sum(map(bool, why.values()))} of {len(found.survivors)}"
    _say(
        f"| {found.module} | {found.all_mutants} | {found.tried} | {found.killed} | {share:.0f} %"
        f" | {explained} | {found.seconds:.0f} |"
    )
    for test in found.failing:
        _say(f"    left out, fails unchanged: {test}")
    for (line, change, _), reason in why.items():
        _say(f"    survivor {found.module}:{line}  {change}" + (f"  [{reason}]" if reason else ""))


if __name__ == "__main__":
    sys.exit(main())
