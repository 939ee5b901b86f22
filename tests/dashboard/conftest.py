"""What the tests of the dashboard share: a kitchen book of their own, and clean caches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import streamlit as st
from browsing import browsing, served
from streamlit.testing.v1 import AppTest

APP = Path(__file__).resolve().parents[2] / "app.py"


@pytest.fixture(autouse=True)
def _own_kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    st.cache_data.clear()
    st.cache_resource.clear()
    yield
    st.cache_data.clear()
    st.cache_resource.clear()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A dashboard that serves a kitchen book of its own."""
    with served(tmp_path_factory.mktemp("kitchen")) as url:
        yield url


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Any]:
    """A phone's browser; every request it makes is watched."""
    with browsing(tmp_path / "profile", viewport={"width": 390, "height": 844}) as context:
        yield context


Run = Callable[[AppTest], AppTest]


def run(at: AppTest) -> AppTest:
    """Run the page once more; a page that raises fails the test."""
    at.run(timeout=60)
    assert not at.exception, [e.value for e in at.exception]
    return at


def press(at: AppTest, key: str) -> AppTest:
    """Press a button and let the page run."""
    at.button(key=key).click()
    return run(at)


def opened(draft: str = "") -> AppTest:
    """A page that has just been opened."""
    at = AppTest.from_file(str(APP), default_timeout=60)
    if draft:
        at.query_params["draft"] = draft
    return run(at)


@pytest.fixture
def dip() -> AppTest:
    """The page with the plum and ginger dip in hand."""
    return press(opened(), "_house_plum-ginger-dip")


def unfolded(at: AppTest, *keys: str) -> AppTest:
    """The page with these folds opened."""
    for key in keys:
        at.session_state[key] = True
    return run(at)


def text_of(at: AppTest) -> str:
    """Everything the page says in HTML, Markdown and captions."""
    return "\n".join(
        str(e.proto.body) for kind in ("html", "markdown", "caption") for e in at.get(kind)
    )


def errors(at: AppTest) -> str:
    """Every sentence beside a field."""
    return " ".join(e.value for e in at.error)
