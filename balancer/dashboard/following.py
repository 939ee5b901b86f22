"""What follows from a label and readings: amounts, what they rest on, and what stays unknown."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

import streamlit as st

from balancer.cli.show import level_text
from balancer.composition import ACIDS, COMPONENTS, INDEX, SUGARS, Evidence, Ingredient, filled
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import look, session
from balancer.dashboard.making import PLACE, Making
from balancer.errors import BalancerError
from balancer.export.markdown import escaped
from balancer.inferring import Inferred
from balancer.own import Own
from balancer.readings import SOURCE
from balancer.taste import levels

#: What a figure rests on, in plain words.
RESTS_ON: Mapping[Evidence, str] = MappingProxyType(
    {
        Evidence.MEASURED: "label or reading",
        Evidence.TABLE: "table of that food",
        Evidence.DERIVED: "worked out",
        Evidence.CHOSEN: "chosen",
        Evidence.MEMORY: "from memory",
        Evidence.ASSUMED: "assumed",
    }
)
#: Kinds that one word stands for.
KINDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "sugars": SUGARS,
        "acids": ACIDS,
        "aroma": tuple(c.name for c in COMPONENTS if c.group == "aromatic"),
        "hot pungency": ("capsaicinoids",),
        "free glutamate": ("glutamate",),
    }
)
HOW = """
What the label or a reading states is taken as it stands. Which sugars and acids it is, a label does
not say: they are shared out as in the food that it is a lot of, or like; with neither, sugars are
counted unnamed and acid as citric. Sugars by refractometer are what it reads beyond acid and ash.
Acid is what titrates, at the pH if that was read; the pH then sets the balance of charges, so that
the model gives it back. Water is the rest. What a food that it is like lends counts as assumed, and
an assumed figure never speaks for an ingredient when something is missing. With neither, the rest
stays unknown: it counts as none, and the cautions take it at its worst.
"""


def draw(now: Making) -> None:
    """Draw what 100 g of it hold, or why nothing follows yet."""
    st.subheader("What follows from it")
    if now.blank:
        st.write("Give a label or a reading, and what 100 g of it hold stands here.")
        return
    try:
        # a name is needed only to keep it
        made, notes = replace(now, name=now.name.strip() or "It").own()
        found: Inferred = session.cached("own", repr(made), lambda: session.kitchen().infer(made))
    except BalancerError as error:
        if session.noted(PLACE) != session.sentence(error):
            st.error(escaped(session.sentence(error)))
        return
    ingredient = found.ingredient
    st.html(look.small(ingredient.note))
    st.html(look.table(("per 100 g", "amount", "rests on"), _amounts(ingredient, made)))
    unknown = unknown_of(ingredient)
    if unknown:
        st.html(look.small(f"Unknown, counted as none: {', '.join(unknown)}."))
    st.html(look.table(("tastes, per 100 g", "level"), _levels(ingredient)))
    lines = [*notes, *found.notes, _allergens(ingredient)]
    st.html(f"<b>Worth knowing</b>{look.listed(lines)}")
    with st.expander("How this is worked out"):
        st.markdown(HOW)


def _amounts(ingredient: Ingredient, made: Own) -> list[tuple[str, str, str]]:
    rows = []
    for i, component in enumerate(COMPONENTS):
        kind, value = ingredient.evidence[i], float(ingredient.values[i])
        if kind is not None and not math.isnan(value) and value != 0:
            if kind is Evidence.MEASURED and ingredient.source[i] != SOURCE:
                kind = Evidence.TABLE  # measured once, not by this cook
            rows.append(
                (_words(component.name), f"{_shown(value)} {component.unit}", RESTS_ON[kind])
            )
    if ingredient.ph is not None:
        low, high = ingredient.ph
        rest = RESTS_ON[Evidence.TABLE if made.ph is None else Evidence.MEASURED]
        rows.append(("pH", f"{low:g}" if low == high else f"{low:g} to {high:g}", rest))
    return rows


def _shown(value: float) -> str:
    """Three figures, without powers of ten for what a packet prints."""
    return f"{value:.0f}" if abs(value) >= 100.0 else f"{value:.3g}"


def unknown_of(ingredient: Ingredient) -> list[str]:
    """What nothing is known of, in words.

    Kinds of acid, sugar and aroma go by one word, and only where none of them is known; the charge
    follows from a rule.
    """
    unknown = {c.name for i, c in enumerate(COMPONENTS) if ingredient.evidence[i] is None}
    grouped = {n for names in KINDS.values() for n in names} | {"strong_ion_charge"}
    single = [_words(c.name) for c in COMPONENTS if c.name in unknown - grouped]
    return single + [word for word, names in KINDS.items() if set(names) <= unknown]


def _levels(ingredient: Ingredient) -> list[tuple[str, str]]:
    found = levels(filled(ingredient.values))
    rows = []
    for axis, level in zip(AXIS_NAMES, found, strict=True):
        unknown = all(ingredient.evidence[INDEX[c]] is None for c in AXIS[axis].weights)
        rows.append(
            (axis, "unknown" if unknown else f"{level_text(float(level))} {AXIS[axis].unit}")
        )
    return rows


def _allergens(ingredient: Ingredient) -> str:
    if ingredient.allergens:
        return f"Allergens: {'; '.join(ingredient.allergens)}."
    return "No allergen is given. Copy them from the packet: nobody else will."


def _words(name: str) -> str:
    return name.replace("_", " ")
