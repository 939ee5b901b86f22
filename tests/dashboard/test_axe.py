"""Accessibility of every page by axe-core, on a phone and a desk, light and dark.

axe-core comes with the package ``axe-playwright-python``; ``BALANCER_AXE`` names another copy of
``axe.min.js``. What an empty Streamlit app has of serious or critical violations is measured in the
same run, printed, and set off; nothing else is excused.
"""

from __future__ import annotations

import importlib.util
import os
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import (
    browsing,
    doors_at_first,
    missing,
    pressed,
    served,
    settled,
    small_targets,
    too_wide,
)

GRAVE = ("serious", "critical")
EMPTY = """import streamlit as st
st.set_page_config(page_title="empty", layout="wide", initial_sidebar_state="collapsed")
st.html("<h1>Empty</h1>")
st.button("press")
st.text_input("words")
st.number_input("number", value=None)
st.selectbox("which", ["one", "two"])
with st.expander("more"):
    st.write("inside")
"""
FOLDS = (
    "Which ingredient brings it",
    "Sour against sweet, as a map",
    "Set a level exactly",
    "How this is computed",
)


@pytest.fixture(scope="module")
def axe() -> str:
    """The script of axe-core."""
    given = os.environ.get("BALANCER_AXE")
    if given:
        return Path(given).read_text(encoding="utf-8")
    found = importlib.util.find_spec("axe_playwright_python")
    if found is None or not found.submodule_search_locations:
        missing("axe-playwright-python")
    assert found is not None
    folder = Path(next(iter(found.submodule_search_locations or ())))
    return (folder / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def addresses(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    """The dashboard, and an empty app served in the same way."""
    home = tmp_path_factory.mktemp("kitchen")
    empty = home / "empty.py"
    empty.write_text(EMPTY, encoding="utf-8")
    with served(home) as ours, served(home, empty) as theirs:
        yield ours, theirs


def told(line: str) -> None:
    """Into the output of the run: what was excused is never hidden."""
    sys.stdout.write(f"{line}\n")


def violations(page: Any, axe: str) -> dict[str, list[str]]:
    """Serious and critical violations: rule to the elements."""
    page.evaluate(axe)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert found["passes"], "axe looked at nothing"
    return {
        rule["id"]: [
            f"{node['target']} {node['html'][:160]} {node['failureSummary'][:200]}"
            for node in rule["nodes"]
        ]
        for rule in found["violations"]
        if rule["impact"] in GRAVE
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1440])
def test_no_page_has_a_grave_violation_of_its_own(
    addresses: tuple[str, str], axe: str, tmp_path: Path, width: int, scheme: str
) -> None:
    ours, theirs = addresses
    size = {"width": width, "height": 900}
    with browsing(tmp_path / "profile", viewport=size, color_scheme=scheme) as browser:
        page = browser.new_page()
        page.goto(theirs)
        page.get_by_role("heading", level=1).wait_for()
        settled(page)
        excused = Counter({rule: len(nodes) for rule, nodes in violations(page, axe).items()})
        told(f"\nempty app at {width} px, {scheme}: {dict(excused) or 'no grave violation'}")
        faults: list[str] = []

        def look(where: str) -> None:
            settled(page)
            for rule, nodes in violations(page, axe).items():
                if rule not in excused:
                    faults.extend(f"{where}: {rule}: {node}" for node in nodes)
            faults.extend(f"{where}: {wide}" for wide in [too_wide(page)] if wide)

        page.goto(ours)
        page.get_by_role("heading", level=1).wait_for()
        look("first use")
        for words in doors_at_first():
            pressed(page, words)
            look(words)
            pressed(page, "Begin a sauce")
        pressed(page, "plum and ginger dip")
        look("the sauce")
        for words in FOLDS:
            page.get_by_text(words, exact=True).click()
            settled(page)
        page.get_by_role("button", name="garlic", exact=True).click()
        look("the sauce with its folds open")
        page.get_by_label("Name", exact=True).fill(f"dip at {width}, {scheme}")
        pressed(page, "too sour")
        pressed(page, "Save the sauce and keep this round")
        page.get_by_role("heading", name="Round 1: what was learned").wait_for()
        page.get_by_text("The course of the rounds").click()
        look("after a round")
        pressed(page, "Kitchen book")
        look("the kitchen book with a sauce")
    assert not faults, "\n".join(faults)


def test_every_target_is_large_enough_for_a_thumb(
    addresses: tuple[str, str], tmp_path: Path
) -> None:
    """At least 44 px by 44 px at 390 px wide: WCAG 2.2, success criterion 2.5.5 (AAA)."""
    with browsing(tmp_path / "profile", viewport={"width": 390, "height": 844}) as browser:
        page = browser.new_page()
        page.goto(addresses[0])
        page.get_by_role("heading", level=1).wait_for()
        settled(page)
        faults = [f"first use: {line}" for line in small_targets(page)]
        for words in doors_at_first():
            pressed(page, words)
            faults += [f"{words}: {line}" for line in small_targets(page)]
            pressed(page, "Begin a sauce")
        pressed(page, "plum and ginger dip")
        for words in FOLDS:
            page.get_by_text(words, exact=True).click()
            settled(page)
        page.get_by_role("button", name="garlic", exact=True).click()
        settled(page)
        faults += [f"the sauce: {line}" for line in small_targets(page)]
        assert page.get_by_role("button").count() > 40
    assert not faults, "\n".join(faults)
