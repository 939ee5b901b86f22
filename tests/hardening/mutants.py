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
import importlib
import importlib.abc
import importlib.util
import json
import os
import random
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from mutants_within import LEAST_SECONDS, TIMES_SLOWER, Within, in_a_process
from mutations import mutants_of

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
    "recipe/parts": ("recipe",),
    "requirements": ("requirements", "problem", "program"),
    "linear": ("linear", "program"),
    "settle": ("settle", "steam"),
    "pot": ("pot",),
    "palate": ("palate", "outside/palate_integration"),
    "suppression": ("suppression", "palate", "outside/palate_integration"),
    "cooking": ("cooking", "settle", "outside/chemistry_published"),
    "simmering": ("cooking", "steam", "outside/chemistry_published"),
}
#: Tests that take longer than a change is worth; others see the same lines.
LEFT_OUT = (
    "tests/test_settle.py::test_two_hundred_programs_end_at_or_under_their_ceiling",
    "tests/outside/test_palate_integration.py::test_mean_and_spread_against_dense_sums",
    "tests/outside/test_palate_integration.py::test_mean_against_adaptive_quadrature",
    "tests/outside/test_palate_integration.py::test_belief_in_suppression_and_scatter_against",
)


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
        _tests(arguments, Within(path, tree, chosen, write))
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
            failing += [said["failing"]] if "failing" in said else []
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

            code = in_a_process(LEAST_SECONDS + TIMES_SLOWER * (cpu + 4.0), work)
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


def _gone(module: str, known: dict[tuple[str, str, str], str]) -> list[tuple[str, str]]:
    """Explained changes of a module that its source no longer has."""
    text = (ROOT / "balancer" / f"{module}.py").read_text(encoding="utf-8")
    source = text.splitlines()
    there = {(source[m.line - 1].strip(), m.change) for m in mutants_of(ast.parse(text))}
    return [(s, c) for m, s, c in known if m == module and (s, c) not in there]


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

        if in_a_process(36000.0, work):
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
    for source, change in _gone(found.module, known):
        _say(f"    explained, but no longer there: {change} in {source}")
    for test in found.failing:
        _say(f"    left out, fails unchanged: {test}")
    for (line, change, _), reason in why.items():
        _say(f"    survivor {found.module}:{line}  {change}" + (f"  [{reason}]" if reason else ""))


if __name__ == "__main__":
    sys.exit(main())
