"""What a meter would read of the finished sauce, and how sure it all is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import streamlit as st

from balancer.dashboard import look, session
from balancer.dashboard.fields import fold
from balancer.kitchen import Outcome
from balancer.uncertainty import in_words


def draw(outcome: Outcome) -> None:
    """Draw the fold of readings, and in it how sure they are once it is asked."""
    rows = measured(outcome.answer)
    if not rows:
        return
    st.caption(f"Computed: {_first(outcome.answer)}.")
    part = fold("What a meter would read", "_meter")  # words that change would close it
    if part.open:
        with part:
            _inside(outcome, rows)


def _first(answer: Mapping[str, Any]) -> str:
    """The reading that a cook looks for first."""
    brix = f"{answer['brix']:.1f} degrees Brix"
    return brix if answer["ph"] is None else f"pH {answer['ph']['value']:.2f}, {brix}"


def _inside(outcome: Outcome, rows: Sequence[tuple[str, str]]) -> None:
    items = "".join(f"<div><dt>{escape(k)}</dt><dd>{escape(v)}</dd></div>" for k, v in rows)
    st.html(f'<dl class="b-figures">{items}</dl>')
    st.caption(
        "Computed from tables, not measured. Measure the pH before you rely on it for keeping."
    )
    if st.toggle("Show how sure the levels and the pH are", key="_sure"):
        found = session.cached("sure", session.answer().request, lambda: _sure(outcome))
        st.html(f"<b>Nine lots in ten lie within</b>{look.listed(found)}")


def _sure(outcome: Outcome) -> list[str]:
    found = session.kitchen().how_sure(outcome)
    return [] if found is None else list(in_words(found))


def measured(answer: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Readings of the finished sauce as computed: what it is, and its value with the unit."""
    if answer["brix"] is None:
        return []
    ph = answer["ph"]
    found = [
        (
            "pH (from, to)",
            "none: no water phase"
            if ph is None
            else f"{ph['value']:.2f} ({ph['low']:.2f} to {ph['high']:.2f})",
        ),
        ("soluble solids", f"{answer['brix']:.1f} degrees Brix"),
        ("titratable acidity, as citric acid", f"{answer['acidity_pct_citric']:.2f} g per 100 g"),
        ("moisture", f"{answer['moisture_pct']:.0f} g per 100 g"),
    ]
    if answer["water_activity"] is not None:
        found.append(("water activity", f"{answer['water_activity']:.2f}"))
    return found
