"""A change within a running test session: each in a forked process, with the tests it concerns."""

from __future__ import annotations

import ast
import gc
import json
import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any

import pytest
from _pytest.doctest import DoctestItem
from _pytest.runner import runtestprotocol
from mutations import Mutant

#: CPU time for a test that runs changed code, beside what it takes unchanged [s].
LEAST_SECONDS, TIMES_SLOWER = 2.0, 4.0
#: Exit code of a process that could not put the change in place.
NOT_IN_PLACE = 72


def in_a_process(seconds: float, work: Callable[[], int]) -> int | None:
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
class Within:
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
                code = in_a_process(
                    limit, lambda d=differ, t=tests: self._one(items, functions, d, t)
                )
                noticed, done = code not in (0, NOT_IN_PLACE), code != NOT_IN_PLACE
            elif not differ:
                names = _names_that_change(self.tree, mutant.line)
                undo = mutant.make()
                code = in_a_process(limit, lambda n=names: self._data(items, n, whole))
                undo()
                noticed = code not in (0, NOT_IN_PLACE)
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

        read, write = os.pipe()

        def again() -> int:
            unsteady = [i for i in whole if not _passes(items, i)]
            os.write(write, json.dumps(unsteady).encode())
            return 0

        in_a_process(3600.0, again)
        os.close(write)
        with os.fdopen(read) as stream:
            unsteady = json.load(stream)
        for i in unsteady:
            self.say(failing=items[i].nodeid)
        return [i for i in whole if i not in unsteady]

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
            return NOT_IN_PLACE
        fresh: dict[str, Any] = {"__name__": name, "__package__": module.__package__}
        exec(compile(self.tree, str(self.path), "exec"), fresh)
        for key in names:
            old, new = getattr(module, key), fresh[key]
            if isinstance(new, type) or callable(new):
                return NOT_IN_PLACE
            for home, other in list(sys.modules.items()):
                held = other is not module and getattr(other, "__dict__", {}).get(key) is old
                if held and home.startswith("balancer"):
                    return NOT_IN_PLACE
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
                    return NOT_IN_PLACE
                put += 1
        if not put:
            return NOT_IN_PLACE
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
