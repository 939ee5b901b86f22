"""A pot of which only readings are known: what to add."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import streamlit as st

from balancer.composition import matrix
from balancer.constants import AXIS, AXIS_NAMES, POT_GROWTH
from balancer.dashboard import look, pot, session
from balancer.dashboard.work import rounded
from balancer.errors import BadInput
from balancer.export.markdown import escaped
from balancer.pot import READABILITY_G
from balancer.readings import Readings
from balancer.taste import levels


@dataclass(frozen=True)
class Reading:
    """One figure that can be read off a pot: its words and unit, and the step of its buttons."""

    words: str
    unit: str
    step: float


READ: Mapping[str, Reading] = MappingProxyType(
    {
        "mass_g": Reading("Sauce in the pot, its tare off", "g", 50.0),
        "brix": Reading("Refractometer", "degrees Brix", 0.5),
        "acidity_pct": Reading("Titratable acidity, as citric acid", "g per 100 g", 0.1),
        "ph": Reading("pH, with the acidity only", "pH", 0.1),
        "salt_pct": Reading("Salt", "g per 100 g", 0.1),
        "fat_pct": Reading("Fat", "g per 100 g", 0.5),
        "solids_pct": Reading("What does not dissolve, fat left out", "g per 100 g", 0.5),
    }
)
WANTED = ("sweet", "sour", "salt", "body", "fat")
FIRST = ("mass_g", "brix", "acidity_pct", "salt_pct")


def draw() -> None:
    """Ask for readings and what is wanted, and say what to weigh in."""
    st.html('<h1 class="b-name">Pot by readings</h1>')
    st.write(
        "For a pot whose recipe is not known. Weigh it, read what you can, say what it should be"
        " and what may go in; what was not read stays unknown and cannot be aimed at."
    )
    left, right = st.columns(2, gap="large")
    with left:
        st.subheader("What was read")
        for name in FIRST:
            _field(name)
        with st.expander("pH, fat, what does not dissolve"):
            for name in READ:
                if name not in FIRST:
                    _field(name)
        st.subheader("What it should be")
        st.caption("Left empty, what was read shall stay as it is, within 1 JND.")
        for axis in WANTED:
            st.number_input(
                f"{axis}, wanted ({AXIS[axis].unit_per_100g})", key=f"_want_{axis}",
                value=None, format="%g", step=0.1, on_change=_stale,
            )  # fmt: skip
        st.subheader("What may go in")
        st.text_input(
            "Names with commas between", key="_pot_add", placeholder="water, sugar, lime juice",
            max_chars=400, on_change=_stale,
        )  # fmt: skip
        st.number_input(
            "the pot may grow by at most (%)", key=session.bound("_pot_growth",
            100.0 * POT_GROWTH.value), value=None, format="%g", step=5.0, on_change=_stale,
        )  # fmt: skip
        st.number_input(
            "step of the scale (g)", key=session.bound("_pot_scale", READABILITY_G), value=None,
            format="%g", step=0.1, on_change=_stale,
        )  # fmt: skip
        st.button("Say what to add", key="_pot_solve", type="primary", width="stretch",
                  on_click=_ask)  # fmt: skip
    with right:
        st.subheader("What to add")
        if session.noted("readings"):
            st.error(escaped(session.noted("readings")))
        elif st.session_state.get("corrected") is None:
            st.write("The grams to weigh in stand here.")
        else:
            pot.draw(st.session_state["corrected"])
            st.html(
                look.small(
                    "Sweet is as sure as the sugar is one kind, sour as the acid is one kind: taste"
                    " before the last third."
                )
            )


def _field(name: str) -> None:
    read = READ[name]
    st.number_input(
        f"{read.words} ({read.unit})", key=f"_read_{name}", value=None, format="%g",
        step=read.step, on_change=_stale,
    )  # fmt: skip


def _stale() -> None:
    """A result never outlives what it came from."""
    st.session_state["corrected"] = None
    session.note("readings", "")


def _value(key: str) -> float | None:
    value = st.session_state.get(key)
    return None if value is None else float(value)


def _ask() -> None:
    _stale()
    names = [n.strip() for n in str(st.session_state.get("_pot_add") or "").split(",")]
    wanted = {axis: _value(f"_want_{axis}") for axis in WANTED}
    read = {name: _value(f"_read_{name}") for name in READ}

    def act() -> None:
        mass = read.pop("mass_g")
        if mass is None:
            raise BadInput("The mass of the sauce is missing. Weigh the pot and take its tare off.")
        target = {axis: level for axis, level in wanted.items() if level is not None}
        if not target:
            raise BadInput("Nothing is wanted yet. Give at least one level that was read.")
        known = Readings(
            mass, read["brix"], read["acidity_pct"], read["salt_pct"], read["ph"], read["fat_pct"],
            read["solids_pct"],
        )  # fmt: skip
        st.session_state["corrected"] = session.kitchen().correct_measured(
            known,
            {**as_read(known), **target},
            [n for n in names if n],
            growth=(_value("_pot_growth") or 0.0) / 100.0,
            readability_g=_value("_pot_scale") or 0.0,
        )

    session.attempt("readings", act)


def as_read(readings: Readings) -> dict[str, float]:
    """Levels of the pot on the axes that were read [axis unit per 100 g].

    >>> as_read(Readings(500.0, salt_pct=1.5))
    {'salt': 1.5}
    """
    told = {
        "sweet": readings.brix,
        "sour": readings.acidity_pct,
        "salt": readings.salt_pct,
        "body": readings.solids_pct,
        "fat": readings.fat_pct,
    }
    found = levels(matrix([readings.ingredient()])[0])
    return {
        axis: rounded(max(float(found[AXIS_NAMES.index(axis)]), 0.0))
        for axis, value in told.items()
        if value is not None
    }
