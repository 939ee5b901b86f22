"""What else can be said of a tasting: where, how warm, how close, and marks beside a reference."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import streamlit as st

from balancer.constants import AXIS_NAMES
from balancer.dashboard import session
from balancer.dashboard.details import Details, on_line, with_mark
from balancer.dashboard.fields import fold, number, told
from balancer.dashboard.work import Work
from balancer.rounds import CLOSENESS, LARGEST_CLOSENESS, Place

PLACES: Mapping[str, str] = {Place.SPOON.value: "from a spoon", Place.FOOD.value: "on the food"}
_WHOSE: Mapping[str, str] = {"reference": "the reference", "own": "your sauce"}


def draw(work: Work, asked: Sequence[str]) -> None:
    """Draw the toggle for the rest, and two folds."""
    details = work.details
    _toggle("The rest is right", "rest_right", details.rest_right)
    part = fold("Where, how warm, how close to what you have in mind", "_circumstances")
    if part.open:
        with part:
            _circumstances(details)
    part = fold("Marks beside a reference on the table", "_marks")
    if part.open:
        with part:
            _marks(details, asked)


def _circumstances(details: Details) -> None:
    st.radio(
        "Tasted",
        list(PLACES),
        format_func=lambda place: PLACES[place],
        key=session.bound("_place", details.place),
        horizontal=True,
        on_change=lambda: _set("place", str(st.session_state["_place"])),
    )
    number("served at (°C)", "_temperature_c", details.temperature_c, _temperature, (), 5.0)
    told("temperature_c")
    number("which sample of this sitting (1, 2 ...)", "_sample", details.sample, _sample, (), 1.0)
    told("sample")
    st.caption("How close it is, from 0 (another dish) to 10 (the same):")
    for what in CLOSENESS:
        number(
            f"{what} (0 to 10)", f"_close_{what}", details.closeness.get(what), _close, (what,), 1.0
        )
        told(f"close {what}")
    st.text_area(
        "Notes",
        key=session.bound("_notes", details.notes),
        max_chars=2000,
        on_change=lambda: _set("notes", str(st.session_state.get("_notes") or "")),
    )


def _marks(details: Details, asked: Sequence[str]) -> None:
    st.caption(
        "Taste both, and mark on the same line how strong each is, from 0 (nothing) to 100 (the"
        " strongest of its kind). The differences count, more than the marks themselves."
    )
    axes = [a for a in AXIS_NAMES if a in asked or a in details.reference or a in details.own]
    for axis in axes:
        with st.container(horizontal=True, gap="small"):
            for side, whose in _WHOSE.items():
                number(
                    f"{axis}: {whose} (0 to 100)",
                    f"_{side}_{axis}",
                    getattr(details, side).get(axis),
                    _mark,
                    (side, axis),
                    5.0,
                )
        told(f"mark {axis}")
    _toggle("Your sauce was tasted first", "own_first", details.own_first)
    _toggle("The mouth was rinsed between the two", "rinsed", details.rinsed)


def _toggle(words: str, field: str, value: bool) -> None:
    st.toggle(
        words,
        key=session.bound(f"_{field}", value),
        on_change=lambda: _set(field, bool(st.session_state.get(f"_{field}"))),
    )


def _set(field: str, value: Any) -> None:
    work = session.work()
    if work is not None:
        changed: dict[str, Any] = {field: value}
        session.put(replace(work, details=replace(work.details, **changed)))
        session.note("round", "")


def _typed(field: str, note: str, make: Callable[[Details], Any]) -> None:
    """Take over a typed value; one that cannot be meant stays in its field with a sentence."""
    work = session.work()
    if work is not None:
        session.attempt(note, lambda: _set(field, make(work.details)))


def _temperature() -> None:
    value = st.session_state.get("_temperature_c")
    _typed("temperature_c", "temperature_c", lambda d: None if value is None else float(value))


def _sample() -> None:
    value = st.session_state.get("_sample")
    _typed("sample", "sample", lambda d: 1 if value is None else int(value))


def _close(what: str) -> None:
    value = st.session_state.get(f"_close_{what}")
    _typed(
        "closeness",
        f"close {what}",
        lambda d: with_mark(
            d.closeness, what, value, LARGEST_CLOSENESS, f"The closeness of {what}"
        ),
    )


def _mark(side: str, axis: str) -> None:
    value = st.session_state.get(f"_{side}_{axis}")
    _typed(side, f"mark {axis}", lambda d: on_line(getattr(d, side), axis, value, _WHOSE[side]))
