"""Fixtures that every test may use."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from arithmetic import faults, watched

from balancer.catalogue import Catalogue, default_catalogue
from balancer.composition import Ingredient
from balancer.problem import Problem
from balancer.solve import Solution

#: Solutions that the solver returned in this run, each checked before a test saw it.
CHECKED: list[int] = [0]


@pytest.fixture(scope="session", autouse=True)
def _every_solution_is_checked() -> Iterator[None]:
    """No solution reaches a test unless arithmetic of its own finds it in order."""

    def seen(problem: Problem, solution: Solution) -> None:
        CHECKED[0] += 1
        wrong = faults(problem, solution)
        assert not wrong, f"{wrong[:5]} in {problem!r}"

    with watched(seen):
        yield


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many solutions were checked in this process."""
    if CHECKED[0]:
        terminalreporter.write_line(f"{CHECKED[0]} solutions checked by independent arithmetic")


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    """The project's own tables, read once for all tests."""
    return default_catalogue()


@pytest.fixture(scope="session")
def pantry(catalogue: Catalogue) -> dict[str, Ingredient]:
    """Pantry ingredients by their plain name."""
    return {i.name: i for i in catalogue.pantry}


@pytest.fixture
def rng() -> np.random.Generator:
    """Random numbers that are the same in every run."""
    return np.random.default_rng(20)
