"""What to buy for the sauce in hand and for saved ones."""

from __future__ import annotations

import json
from typing import Any

import streamlit as st

from balancer.dashboard import paper, session
from balancer.dashboard.fields import told
from balancer.dashboard.handing import amount, take, wanted
from balancer.dashboard.work import Work
from balancer.errors import BalancerError
from balancer.export import safe_filename
from balancer.export.markdown import escaped
from balancer.handover import Batch
from balancer.kitchen import Outcome
from balancer.shopping import ShoppingList


def draw(work: Work, outcome: Outcome) -> None:
    """Draw the shopping list behind a toggle, so that the page stays quick."""
    st.subheader("What to buy")
    if not st.toggle("Show the shopping list", key="_shop"):
        return
    asked = wanted()
    left, right = st.columns(2, gap="large")
    with left:
        amount("batches of this sauce", "batches", "_batches", 1.0, otherwise=1.0)
        names = [n for n in _saved_names() if n != work.saved_name]
        if names:
            st.multiselect(
                "Saved sauces to buy for as well", names,
                key=session.bound("_others", [n for n in asked.others if n in names]),
                format_func=escaped, on_change=_others,
            )  # fmt: skip
        _lines(
            "In the pantry already, as purchased: a name and grams a line", "have", "sugar 500 g"
        )
        _lines("Prices: a name, a price and the pack a line", "prices", "sugar 1.35 for 1000 g")
    name = work.saved_name or work.name
    try:
        found = _list(name, outcome)
        session.note("shop", "")
    except BalancerError as error:
        session.note("shop", session.sentence(error))
        found = None
    with right:
        told("shop")
        if found is not None:
            serving_g = asked.serving_g
            st.html(paper.buying(found, serving_g))
            st.download_button(
                "Shopping list (.txt)",
                data="\n".join([*found.sentences(serving_g), ""]).encode(),
                file_name=safe_filename(name, " shopping.txt"),
                mime="text/plain; charset=utf-8", key="_shop_out", on_click="ignore",
            )  # fmt: skip


def _list(name: str, outcome: Outcome) -> ShoppingList:
    asked, place = wanted(), session.kitchen()
    own: dict[str, Any] = {"request": dict(outcome.document), "answer": outcome.answer}
    batches = [Batch(name, own, asked.batches)]
    batches += [Batch(n, place.saved(n)) for n in asked.others if n in _saved_names()]
    have_g, packs = asked.have_g(), asked.packs()
    written = [json.dumps([b.name, b.count, b.document["answer"]["quantities_g"]]) for b in batches]
    key = f"{written} {have_g} {packs}"
    return session.cached(
        "shopping", key, lambda: place.shopping(batches, have_g=have_g, packs=packs)
    )


def _saved_names() -> list[str]:
    return [r.name for r in session.kitchen().store.recipes()]


def _lines(words: str, field: str, example: str) -> None:
    key = session.bound(f"_wanted_{field}", getattr(wanted(), field))
    st.text_area(
        words, key=key, placeholder=example, height=100, max_chars=20_000, on_change=take,
        args=(field, key),
    )  # fmt: skip


def _others() -> None:
    st.session_state["_chosen_others"] = tuple(st.session_state.get("_others") or ())
    take("others", "_chosen_others", ())
