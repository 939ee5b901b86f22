"""A pot of which only readings are known: what to add."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import streamlit as st

from balancer.composition import matrix
from balancer.constants import AXIS, AXIS_NAMES, POT_GROWTH
from balancer.dashboard import look, pot, session
from balancer.dashboard.answers import LARGEST_GROWTH_PCT
from balancer.dashboard.fields import checked, fold, told
from balancer.dashboard.work import rounded
from balancer.errors import BadInput
from balancer.export.markdown import escaped
from balancer.pot import READABILITY_G
from balancer.readings import Readings
from balancer.search import resolve
from balancer.taste import levels
from balancer.wishes import LARGEST_MASS_G, Aim


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
LARGEST_PH = 14.0
#: A reading is looked at by itself in a pot of this mass [g].
ANY_MASS_G = 1000.0
HOW = """
The pot becomes one ingredient by a stated rule: salt is sodium with its chloride; acid is the
titratable acidity, taken as citric acid and raised to the total that has the pH too where one was
read; sugars are what the refractometer reads beyond acid and salt; the rest is water. So sweet is
as sure as the sugar is one kind, and sour as the acid is one kind. pH by itself does not say how
much acid there is. What was not read stays unknown, never zero, and cannot be aimed at.

The grams come from the same linear program as for a sauce: what is in the pot is a lower bound,
nothing comes out, each level has to come within one just-noticeable difference (JND), and of all
ways to get there the one that adds least is taken. They are then rounded together to steps of your
scale.

Refractometer: degrees Brix by the scale of ICUMSA, with corrections for acid and salt. Acidity:
titrated to pH 8.2. Measure the pH of the finished sauce before you rely on it for keeping, and
follow local codes and licensed practice.
"""


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
            _number(f"{axis}, wanted ({AXIS[axis].unit_per_100g})", f"_want_{axis}", None, 0.1)
        st.subheader("What may go in")
        st.text_input(
            "Names with commas between", key=session.bound("_pot_add", session.typed("_pot_add",
            "")), placeholder="water, sugar, lime juice", max_chars=400, on_change=_typed,
            args=("_pot_add",),
        )  # fmt: skip
        told("_pot_add")
        _number("the pot may grow by at most (%)", "_pot_growth", 100.0 * POT_GROWTH.value, 5.0)
        _number("step of the scale (g)", "_pot_scale", READABILITY_G, 0.1)
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
    part = fold("How this is computed", "_how_readings")
    if part.open:
        with part:
            st.markdown(HOW)


def _field(name: str) -> None:
    read = READ[name]
    _number(f"{read.words} ({read.unit})", f"_read_{name}", None, read.step)


def _number(words: str, key: str, first: float | None, step: float) -> None:
    """A number that a reload keeps, and the sentence beside it."""
    st.number_input(
        words, key=session.bound(key, session.typed(key, first)), value=None, format="%g",
        step=step, on_change=_typed, args=(key,),
    )  # fmt: skip
    told(key)


def _typed(key: str) -> None:
    """Keep a field and look at it by itself; a result never outlives what it came from."""
    session.take_typed(key)
    st.session_state["corrected"] = None
    session.note("readings", "")
    session.attempt(key, lambda: _look_at(key))


def _look_at(key: str) -> None:
    """Refuse what cannot be meant, whatever stands in the other fields."""
    if key == "_pot_add":
        for name in _names():
            resolve(session.kitchen().catalogue, name)
        return
    value = _value(key)
    if value is None:
        return
    kind, _, name = key.removeprefix("_").partition("_")
    if kind == "want":
        Aim(name, value, value)
    elif key == "_pot_growth":
        checked(value, "The growth of the pot", "%", LARGEST_GROWTH_PCT)
    elif key == "_pot_scale" and not 0.0 < value <= LARGEST_MASS_G:
        raise BadInput("The step of the scale has to be above 0 g. Give 1, or 0.1 for a finer.")
    elif name == "mass_g":
        Readings(value)
    elif name == "ph":
        checked(value, "The pH of the pot", "pH", LARGEST_PH)
    elif kind == "read":
        only: dict[str, Any] = {name: value}
        Readings(ANY_MASS_G, **only)


def _names() -> list[str]:
    typed = str(st.session_state.get("_pot_add") or "").split(",")
    return [name.strip() for name in typed if name.strip()]


def _value(key: str) -> float | None:
    value = st.session_state.get(key)
    return None if value is None else float(value)


def _ask() -> None:
    st.session_state["corrected"] = None
    session.note("_read_mass_g", "")
    if _value("_read_mass_g") is None:
        session.note("readings", "")
        session.note(
            "_read_mass_g",
            "The mass of the sauce is missing. Weigh the pot and take its tare off.",
        )
        return
    wanted = {axis: _value(f"_want_{axis}") for axis in WANTED}
    read = {name: _value(f"_read_{name}") for name in READ}

    def act() -> None:
        mass = read.pop("mass_g") or 0.0
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
            _names(),
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
