"""The balance: one rail per axis with a button at either end, and exact levels on demand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import bringing, chart, figures, look, session
from balancer.dashboard.fields import fold, told
from balancer.dashboard.work import LEAST_AIM_JND, Work, band, stepped, with_target
from balancer.kitchen import Outcome
from balancer.taste import jnd, to_z
from balancer.wishes import Aim

LEGEND = (
    "Blue bar: level reached. Diamond or frame: wanted. Hatched: within one JND, the least"
    " difference a tongue tells apart. Line under the bar: where nine lots in ten of these"
    " ingredients would lie. One press moves one JND."
)


def draw(work: Work, outcome: Outcome) -> None:
    """Draw the rails of what is asked, then those of the rest."""
    st.subheader("The balance")
    profile = outcome.answer["profile"]
    targets = work.document.get("target", {})
    shown = [a for a in AXIS_NAMES if a in targets or (not work.aimed and _tasted(a, profile[a]))]
    rest = [a for a in AXIS_NAMES if a not in shown]
    if not work.aimed:
        st.info("Nothing is asked for yet. Press less or more, and the rest stays as it is.")
    lots = session.cached("lots", session.answer().request, lambda: _lots(outcome))
    with st.container(gap="small", key="rail_shown"):
        for axis in shown:
            _rail(axis, outcome, lots.get(axis), asked=axis in targets)
    st.html(look.small(LEGEND) + _doubts(profile))
    if rest:
        part = fold(f"Not asked for: {', '.join(rest)}", "_rest")
        if part.open:
            with part, st.container(gap="small", key="rail_rest"):
                for axis in rest:
                    _rail(axis, outcome, lots.get(axis), asked=False)
    _exact(work, outcome)
    if outcome.solution.has_quantities:
        bringing.draw(work, outcome)
        chart.draw(work, outcome)
    figures.draw(outcome)


def _lots(outcome: Outcome) -> dict[str, tuple[float, float]]:
    """Between which levels nine lots in ten lie, by axis; empty without quantities."""
    found = session.kitchen().how_sure(outcome, with_ph=False)
    if found is None:
        return {}
    ends = zip(AXIS_NAMES, found.low, found.high, strict=True)
    return {axis: (float(low), float(high)) for axis, low, high in ends}


def _doubts(profile: Mapping[str, Any]) -> str:
    """Which levels rest on weak numbers, and whose."""
    lines = []
    for axis, entry in profile.items():
        if entry["unknown"]:
            lines.append(f"{axis}: not in the tables, counted as none: {_names(entry['unknown'])}")
        if entry["assumed"]:
            lines.append(f"{axis}: assumed or from memory: {_names(entry['assumed'])}")
    if not lines:
        return ""
    return look.fold(f"○ Weak or missing numbers behind these levels ({len(lines)})",
                     look.listed(lines))  # fmt: skip


def _names(names: Sequence[str]) -> str:
    return ", ".join(names)


def _tasted(axis: str, entry: Mapping[str, Any]) -> bool:
    return entry["reached"] is not None and float(to_z(entry["reached"], axis)) >= LEAST_AIM_JND


def _rail(axis: str, outcome: Outcome, lots: tuple[float, float] | None, *, asked: bool) -> None:
    entry = outcome.answer["profile"][axis]
    tastes = outcome.answer["perceived"].get(axis, {}).get("word", "")
    words = look.axis_line(axis, entry, outcome.problem.dead_band_jnd, asked=asked, tastes=tastes)
    picture = look.rail(axis, entry, asked=asked, lots=lots)
    st.html(f'{words}<div class="b-drawn">{picture}</div>')  # CSS puts it between the buttons
    st.button(f"less {axis}", key=f"_less_{axis}", on_click=_step, args=(axis, -1.0))
    st.button(f"more {axis}", key=f"_more_{axis}", on_click=_step, args=(axis, 1.0))
    told(f"axis {axis}")


def _step(axis: str, steps_jnd: float) -> None:
    work, outcome = session.work(), session.answer().outcome
    if work is not None and outcome is not None:
        session.attempt(
            f"axis {axis}",
            lambda: _change(axis, stepped(work.document, axis, steps_jnd, outcome)),
        )


def _change(axis: str, document: Mapping[str, Any], *, always: bool = False) -> None:
    session.change(document, f"axis {axis}", always=always)


# --- exact levels -------------------------------------------------------------------------------


def _exact(work: Work, outcome: Outcome) -> None:
    part = fold("Set a level exactly", "_levels")
    if part.open:
        with part:
            chosen = st.pills("Which axis?", AXIS_NAMES, key="_exact")
            if chosen is not None:
                _fields(str(chosen), work, outcome)


def _fields(axis: str, work: Work, outcome: Outcome) -> None:
    entry = outcome.answer["profile"][axis]
    target = work.document.get("target", {}).get(axis)
    low, high = (None, None) if target is None else band(target)
    weight = float(target.get("weight", 1.0)) if isinstance(target, Mapping) else 1.0
    st.caption(f"{axis}: {AXIS[axis].meaning} [{entry['unit']}]")
    for key, label, value in (
        ("low", f"Wanted {axis}, at least ({entry['unit']})", low),
        ("high", f"Wanted {axis}, at most ({entry['unit']})", high),
        ("weight", f"How much {axis} counts beside the others", weight),
    ):
        st.number_input(
            label,
            key=session.bound(f"_{key}_{axis}", value),
            value=None,
            step=float(f"{float(jnd(entry['reached'] or 0.0, axis)):.1g}"),
            format="%g",
            on_change=_typed,
            args=(axis, key),
        )
    if target is not None:
        st.button(
            f"Ask nothing of {axis}",
            key=f"_free_{axis}",
            on_click=lambda: _change(axis, with_target(work.document, axis, None), always=True),
        )


def _typed(axis: str, key: str) -> None:
    work = session.work()
    if work is None:
        return
    value = st.session_state.get(f"_{key}_{axis}")
    target = work.document.get("target", {}).get(axis)
    low, high = (None, None) if target is None else band(target)
    was_point = low == high
    weight = float(target.get("weight", 1.0)) if isinstance(target, Mapping) else 1.0
    if key == "weight":
        weight = 1.0 if value is None else float(value)
    elif value is None:
        return
    elif key == "low":
        low, high = float(value), float(value) if was_point or high is None else high
    else:
        high, low = float(value), float(value) if low is None else low
    if low is None or high is None:
        return
    new: Any = {"low": low, "high": high, "weight": weight}
    if low == high and weight == 1.0:
        new = low
    if session.attempt(f"axis {axis}", lambda: _check(axis, low, high, weight)):
        _change(axis, with_target(work.document, axis, new))


def _check(axis: str, low: float, high: float, weight: float) -> None:
    """Refuse a level that cannot be meant, with its sentence."""
    Aim(axis, low, high, weight)
