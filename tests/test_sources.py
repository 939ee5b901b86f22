"""Every number in the code names a source that stands in ``data/sources.csv``."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator, Mapping
from typing import Any

import balancer
from balancer import constants
from balancer.catalogue import default_catalogue
from balancer.constants import Coefficient

#: Fewer than this found would mean that the walk has gone blind.
AT_LEAST = 150


def _sourced(value: Any, where: str, depth: int = 0) -> Iterator[tuple[str, str]]:
    """Every text in an attribute ``source``, in what a module holds."""
    source = getattr(value, "source", None)
    if isinstance(source, str) and not isinstance(value, type):
        yield where, source
    if depth < 3:
        if isinstance(value, Mapping):
            for key, inner in value.items():
                yield from _sourced(inner, f"{where}[{key!r}]", depth + 1)
        elif isinstance(value, tuple | list | frozenset):
            for i, inner in enumerate(value):
                yield from _sourced(inner, f"{where}[{i}]", depth + 1)


def _everywhere() -> Iterator[tuple[str, str]]:
    for module in pkgutil.walk_packages(balancer.__path__, "balancer."):
        if module.name.endswith("__main__") or ".dashboard" in module.name:
            continue
        for name, value in vars(importlib.import_module(module.name)).items():
            yield from _sourced(value, f"{module.name}.{name}")


def test_every_source_named_in_the_code_is_listed() -> None:
    known = default_catalogue().sources
    found = dict(_everywhere())
    assert len(found) >= AT_LEAST, len(found)
    missing = {
        where: key.strip()
        for where, source in found.items()
        for key in source.split(";")
        if key.strip() and key.strip() not in known
    }
    assert not missing


def test_a_coefficient_names_a_source() -> None:
    without = [where for where, source in _everywhere() if not source.strip()]
    assert not without
    seen = [c for c in vars(constants).values() if isinstance(c, Coefficient)]
    assert len(seen) > 10
