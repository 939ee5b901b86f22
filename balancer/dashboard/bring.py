"""A recipe brought back: our own record, or a page that was saved from somewhere else."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Any

import streamlit as st

from balancer.dashboard import look, session
from balancer.dashboard.fields import told
from balancer.dashboard.work import as_it_is, begun, solved
from balancer.draft_lines import Kind
from balancer.errors import BadInput, BalancerError
from balancer.export.markdown import escaped
from balancer.plain import LARGEST_TEXT
from balancer.recipe_file import Brought

#: A file over this is not taken [MB].
MOST_MB = LARGEST_TEXT // 1_000_000
KINDS = ("json", "jsonld", "html", "htm")


def draw() -> None:
    """Draw the way back in, and what was found in the file."""
    st.subheader("Bring a recipe back")
    st.caption("A full record (.json) of this kitchen, or a page with a recipe that you saved.")
    file = st.file_uploader(
        "A recipe file", type=list(KINDS), key="_brought", max_upload_size=MOST_MB
    )
    if file is None:
        session.note("bring", "")
        session.note("brought", "")
        return
    content = file.getvalue()
    key = hashlib.sha256(content).hexdigest()
    if st.session_state.get("brought from") != key:
        st.session_state["brought from"] = key
        session.note("bring", "")
        session.note("brought", "")
    try:
        _show(session.cached("brought", key, lambda: session.kitchen().brought(content)))
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))
    told("bring")
    if session.noted("brought"):
        st.success(escaped(session.noted("brought")))


def _show(found: Brought) -> None:
    st.markdown(f"**{escaped(found.name)}**")
    if found.record is not None:
        quantities = found.record.document["answer"].get("quantities_g", {})
        st.write(f"A full record, revision {found.record.revision}.")
        if isinstance(quantities, Mapping):
            st.html(look.listed([f"{name}: {_shown(g)}" for name, g in quantities.items()]))
    elif found.draft is not None:
        rows = [
            (line.text, line.match.ingredient.name, look.grams(line.weight.grams))
            for line in found.draft.lines
            if line.kind is Kind.READ and line.match is not None
        ]
        if rows:
            st.html(look.table(("as written", "taken for", "weight"), rows))
        if report := found.draft.report():
            st.html(f"<b>Not understood, or to be checked</b>{look.listed(report)}")
    with st.container(horizontal=True, gap="small"):
        st.button("Take it in hand", key="_take_brought", type="primary", on_click=_take,
                  args=(found,))  # fmt: skip
        if found.record is not None:
            st.button("Keep it in the kitchen book", key="_keep_brought", on_click=_keep,
                      args=(found,))  # fmt: skip


def _shown(grams: Any) -> str:
    return look.grams(float(grams)) if isinstance(grams, int | float) else str(grams)[:40]


def _take(found: Brought) -> None:
    """Go on with it; a page's quantities become a draft whose levels are the target."""

    def act() -> None:
        document = found.request()
        kitchen = session.kitchen()
        outcome = None
        if found.draft is not None:
            outcome = solved(kitchen, found.draft.request(found.name, locked=True))
            document = as_it_is(document, outcome)
        solved(kitchen, document)  # refuses what cannot be meant here
        session.put(begun(document))
        st.session_state["page"] = "sauce"

    session.attempt("bring", act)


def _keep(found: Brought) -> None:
    session.note("brought", "")

    def act() -> None:
        if found.record is None:
            raise BadInput("Only a full record is kept as it is. Take the page in hand instead.")
        session.note("brought", " ".join(session.kitchen().keep_record(found.record)))

    session.attempt("bring", act)
