"""Keeping the sauce under a name, and handing it over."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from balancer.dashboard import session
from balancer.dashboard.work import Work, as_it_is, with_fields
from balancer.errors import BalancerError, NameTaken
from balancer.export import FORMATS, export
from balancer.export.markdown import escaped
from balancer.kitchen import Outcome

#: What a cook reads on the button of a format; others show the format's own name.
FORMAT_WORDS = {"markdown": "Recipe to read (.md)", "csv": "Table of grams (.csv)"}


def draw(work: Work, outcome: Outcome) -> None:
    """Save, and download."""
    st.subheader("Keep it, hand it over")
    st.text_input("Name", key=session.bound("_save_name", work.saved_name or work.name))
    with st.container(horizontal=True, gap="small"):
        st.button("Save the sauce", key="_save", type="primary", on_click=_save)
        st.button("Save its levels as a profile", key="_save_profile", on_click=_save_profile)
    if session.noted("save"):
        st.error(escaped(session.noted("save")))
    if st.session_state.get("taken") and st.session_state["taken"] == _name():
        st.button(
            "Save as its next revision", key="_save_over", on_click=_save, kwargs={"over": True}
        )
    if session.noted("saved"):
        st.success(escaped(session.noted("saved")))
    if work.made_g:
        st.caption("What is saved and handed over is the plan above, not the pot as weighed.")
    _downloads(work, outcome)


def _downloads(work: Work, outcome: Outcome) -> None:
    document = {"request": dict(outcome.document), "answer": outcome.answer}
    try:
        recipe = session.kitchen().recipe_of(
            work.saved_name or work.name, document, revision=max(work.revision, 1)
        )
        pages = {form: export(recipe, form) for form in FORMATS}
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))
        return
    with st.container(horizontal=True, gap="small"):
        for form, page in pages.items():
            st.download_button(
                FORMAT_WORDS.get(form, form),
                data=page.content,
                file_name=page.file_name,
                mime=page.mime,
                key=f"_export_{form}",
                on_click="ignore",
            )


def _name() -> str:
    return str(st.session_state.get("_save_name") or "").strip()


def _save(*, over: bool = False) -> None:
    """Save; a revision that another window has added since is never covered silently."""
    work = session.work()
    outcome = session.answer().outcome
    name = _name()
    st.session_state["taken"] = ""
    session.note("saved", "")
    if work is None or outcome is None:
        return

    def act() -> None:
        kitchen = session.kitchen()
        there = {r.name: r.revision for r in kitchen.store.recipes()}
        if name in there and not over and work.saved_name != name:
            st.session_state["taken"] = name
            raise NameTaken(
                f"A sauce is called {name[:60]!r} already. Choose another name, or save this as its"
                " next revision; the earlier one stays."
            )
        if name in there and not over and there[name] != work.revision:
            st.session_state["taken"] = name
            raise NameTaken(
                f"{name[:60]!r} was saved elsewhere since you opened it: it is at revision"
                f" {there[name]}, you have {work.revision}. Save under another name, or on top as"
                " the next revision; every revision stays."
            )
        document = work.document if work.aimed else as_it_is(work.document, outcome)
        document = with_fields(document, name=name or None)
        result = kitchen.solve(document)
        revision = kitchen.save(name, result, replace_it=name in there)
        session.put(replace(work, document=document, saved_name=name, revision=revision))
        session.note("saved", f"Saved as {name!r}, revision {revision}.")

    session.attempt("save", act)


def _save_profile() -> None:
    outcome, name = session.answer().outcome, _name()
    session.note("saved", "")

    def act() -> None:
        if outcome is not None:
            session.kitchen().save_profile(name, outcome)
            session.note("saved", f"Saved the levels as the profile {name!r}.")

    session.attempt("save", act)
