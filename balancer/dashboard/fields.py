"""Parts that the sections share: an opened line, a number, a sentence beside a field."""

from __future__ import annotations

from typing import Any

import streamlit as st

from balancer.dashboard import session
from balancer.errors import BadInput
from balancer.export.markdown import escaped

LIGHT_INK, DARK_INK = "#fafafa", "#31333f"


def told(field: str) -> None:
    """Draw the sentence beside a field, if there is one."""
    if session.noted(field):
        st.error(escaped(session.noted(field)))


def ink() -> str:
    """Colour of letters in a picture, on the ground that this browser shows."""
    return LIGHT_INK if st.context.theme.type == "dark" else DARK_INK


def fold(words: str, key: str) -> Any:
    """A part that opens at a tap; draw into it only while its ``open`` is true."""
    return st.expander(words, key=key, on_change="rerun")


def opened(label: str) -> bool:
    """Whether a line is opened for changes."""
    return bool(st.session_state.get("opened") == label)


def open_line(label: str) -> None:
    """Open a line for changes, or close it."""
    st.session_state["opened"] = None if opened(label) else label
    session.note(label, "")


def lines(key: str) -> Any:
    """Lines of the bowl: in each a name to press and a quantity, on one grid for all."""
    return st.container(gap="small", key=f"row_{key}")


def checked(value: float | None, what: str, unit: str, most: float) -> None:
    """Refuse a typed number that cannot be meant.

    Raises
    ------
    BadInput
        If it is below zero or above what can be.
    """
    if value is not None and not 0.0 <= value <= most:
        raise BadInput(f"{what} is {value:g} {unit}. Give a number from 0 to {most:g} {unit}.")


def number(
    text: str, key: str, value: float | None, act: Any, args: tuple[Any, ...], step: float = 1.0
) -> None:
    """A number that is tied to the model; empty where nothing is given."""
    value = None if value is None else float(value)
    st.number_input(
        escaped(text),
        key=session.bound(key, value),
        value=None,
        step=step,
        format="%g",
        on_change=act,
        args=args,
    )
