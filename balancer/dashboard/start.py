"""Before a sauce is in hand: a written draft, a new one, or the house sauces."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import streamlit as st

from balancer.dashboard import pasting, session
from balancer.dashboard.work import begun, new_sauce
from balancer.demo import house_sauces
from balancer.export.markdown import escaped

#: Ingredients that are named under a house sauce.
MAIN = 3


def draw() -> None:
    """Offer what a sauce can begin with."""
    st.html('<h1 class="b-name">Which sauce is it?</h1>')
    st.write(
        "Say how it should taste, and read the grams. Taste it, say what is off, and read what to"
        " add to the pot and how to make the next batch."
    )
    left, right = st.columns(2, gap="large")
    with left:
        st.subheader("A sauce of your own")
        st.text_input(
            "Its name",
            key=session.bound("_new_name", pasting.paste().name),
            placeholder="my sauce",
            max_chars=120,
            on_change=_named,
        )
        st.markdown("#### Paste your draft")
        pasting.draw()
        st.markdown("#### Or pick the ingredients")
        st.button("Begin with an empty bowl", key="_begin", on_click=_begin, width="stretch")
    with right:
        st.subheader("A house sauce to try it with")
        for key, document in house_sauces().items():
            st.button(
                escaped(document["name"]),
                key=f"_house_{key}",
                on_click=lambda d=document: session.put(begun(d)),
                width="stretch",
            )
            st.caption(escaped(main_ingredients(document)))


def _named() -> None:
    name = str(st.session_state.get("_new_name") or "")
    pasting.put(replace(pasting.paste(), name=name))


def main_ingredients(document: Mapping[str, Any]) -> str:
    """The ingredients of which a draft holds most, and how many there are besides."""
    held = sorted(document["ingredients"], key=lambda entry: -entry["draft_g"])
    named, rest = [entry["name"] for entry in held[:MAIN]], len(held) - MAIN
    return ", ".join(named) + (f" and {rest} more" if rest > 0 else "")


def _begin() -> None:
    session.put(new_sauce(pasting.paste().name))
