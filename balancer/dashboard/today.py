"""Measured today: readings of one ingredient, for the sauce in hand only."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from balancer.dashboard import session
from balancer.dashboard.fields import checked, number
from balancer.dashboard.making import READINGS
from balancer.dashboard.work import with_entry

#: Largest figure of each reading, in its unit.
MOST: Mapping[str, float] = {"brix": 100.0, "ph": 14.0, "acidity_pct": 100.0, "salt_pct": 100.0}


def draw(label: str, entry: Mapping[str, Any]) -> None:
    """Fields for what was read off one ingredient of the bowl; what is not read stays as it was.

    Parameters
    ----------
    label : str
        Its name in the request.
    entry : mapping
        Its entry there; not one of a recipe.
    """
    with st.expander("Measured today"):
        st.caption("For this sauce only. My ingredients keep a lot for good.")
        measured = entry.get("measured", {})
        for field, (words, unit, step) in READINGS.items():
            number(
                f"{label}: {words} ({unit})", f"_today_{field}_{label}", measured.get(field),
                _read, (label, field), step,
            )  # fmt: skip


def _read(label: str, field: str) -> None:
    work = session.work()
    if work is None:
        return
    value = st.session_state.get(f"_today_{field}_{label}")
    words, unit, _ = READINGS[field]
    if not session.attempt(label, lambda: checked(value, f"{label}: {words}", unit, MOST[field])):
        return
    measured = {**work.entry(label).get("measured", {}), field: value}
    measured = {k: v for k, v in measured.items() if v is not None}
    session.change(with_entry(work.document, label, measured=measured or None), label)
