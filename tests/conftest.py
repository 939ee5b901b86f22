"""Fixtures that every test may use."""

from __future__ import annotations

import numpy as np
import pytest

from balancer.catalogue import Catalogue, default_catalogue
from balancer.composition import Ingredient


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
