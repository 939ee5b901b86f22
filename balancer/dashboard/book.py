"""The kitchen book: saved sauces and profiles, and the whole book in one file."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import streamlit as st

from balancer.cli.show import level_text
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import session, telling
from balancer.dashboard.work import with_fields
from balancer.errors import BalancerError
from balancer.export.markdown import escaped
from balancer.store import SavedProfile, SavedRecipe, read_document


def draw() -> None:
    """List what is saved, with what can be done with each."""
    st.html('<h1 class="b-name">Kitchen book</h1>')
    if session.noted("book"):
        st.error(escaped(session.noted("book")))
    if session.noted("book done"):
        st.success(escaped(session.noted("book done")))
    store = session.kitchen().store
    try:
        recipes, profiles = store.recipes(), store.profiles()
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))
        return
    left, right = st.columns(2, gap="large")
    with left:
        st.subheader("Sauces")
        if not recipes:
            st.write("Nothing is saved yet. Save a sauce, and it stands here.")
        for recipe in recipes:
            _recipe(recipe)
    with right:
        st.subheader("Profiles")
        if not profiles:
            st.write("No profile is saved yet. A profile keeps the levels of a sauce to aim at.")
        for profile in profiles:
            _profile(profile)
        _whole_book()


def _try(act: Callable[[], str]) -> None:
    session.note("book done", "")
    session.attempt("book", lambda: session.note("book done", act()))


def _recipe(recipe: SavedRecipe) -> None:
    with st.container(border=True):
        st.markdown(f"**{escaped(recipe.name)}**")
        st.caption(f"revision {recipe.revision}, saved {recipe.saved_at[:10]}")
        with st.container(horizontal=True, gap="small"):
            st.button(
                "Open", key=f"_open_recipe_{recipe.id}", type="primary", on_click=_open,
                args=(recipe.name,),
            )  # fmt: skip
            _more(f"recipe {recipe.id}", "recipe", recipe.name)
        _rename_or_delete(f"recipe {recipe.id}", "recipe", recipe.name)


def _open(name: str) -> None:
    def act() -> str:
        session.put(telling.opened(session.kitchen(), name))
        st.session_state["page"] = "sauce"
        return ""

    _try(act)


def _profile(profile: SavedProfile) -> None:
    key = f"profile {profile.name}"
    with st.container(border=True):
        st.markdown(f"**{escaped(profile.name)}**")
        levels = ", ".join(
            f"{axis} {level_text(profile.levels[axis])} {AXIS[axis].unit}"
            for axis in AXIS_NAMES
            if axis in profile.levels
        )
        st.caption(escaped(f"per 100 g: {levels}"))
        with st.container(horizontal=True, gap="small"):
            if session.work() is not None:
                st.button(
                    "Aim the sauce in hand at it", key=f"_aim_{profile.name}", on_click=_aim,
                    args=(profile,),
                )  # fmt: skip
            _more(key, "profile", profile.name)
        _rename_or_delete(key, "profile", profile.name)


def _aim(profile: SavedProfile) -> None:
    work = session.work()
    if work is None:
        return
    target = {a: profile.levels[a] for a in AXIS_NAMES if a in profile.levels}
    if session.change(with_fields(work.document, target=target), "book"):
        st.session_state["page"] = "sauce"


def _more(key: str, kind: str, name: str) -> None:
    for verb in ("Rename", "Delete"):
        st.button(verb, key=f"_{verb}_{key}", on_click=_choose, args=(verb, key))


def _choose(verb: str, key: str) -> None:
    chosen = (verb, key)
    st.session_state["chosen"] = None if st.session_state.get("chosen") == chosen else chosen


def _rename_or_delete(key: str, kind: str, name: str) -> None:
    chosen = st.session_state.get("chosen")
    if chosen == ("Rename", key):
        st.text_input("New name", key=session.bound(f"_new_{key}", name))
        st.button(
            "Give it this name", key=f"_do_rename_{key}", on_click=_rename, args=(key, kind, name)
        )
    if chosen == ("Delete", key):
        st.write(
            "Delete it with all its revisions?" if kind == "recipe" else "Delete this profile?"
        )
        st.button("Yes, delete it", key=f"_do_delete_{key}", on_click=_delete, args=(kind, name))


def _rename(key: str, kind: str, old: str) -> None:
    new = str(st.session_state.get(f"_new_{key}") or "")

    def act() -> str:
        place = session.kitchen()
        (place.rename_recipe if kind == "recipe" else place.store.rename_profile)(old, new)
        work = session.work()
        if kind == "recipe" and work is not None and work.saved_name == old:
            session.put(replace(work, saved_name=new.strip()))
        st.session_state["chosen"] = None
        return f"Renamed {old!r} to {new.strip()!r}."

    _try(act)


def _delete(kind: str, name: str) -> None:
    def act() -> str:
        place = session.kitchen()
        (place.delete_recipe if kind == "recipe" else place.store.delete_profile)(name)
        st.session_state["chosen"] = None
        return f"Deleted the {kind} {name!r}."

    _try(act)


def _whole_book() -> None:
    st.subheader("The whole book")
    everything: dict[str, Any] = session.kitchen().everything()
    st.download_button(
        "Download everything (.json)",
        data=json.dumps(everything, indent=1, ensure_ascii=False).encode(),
        file_name="kitchen-book.json",
        mime="application/json",
        key="_book_out",
        on_click="ignore",
    )
    file = st.file_uploader("Take in another book", type="json", key="_book_in")
    if file is not None:
        st.button("Take it in", key="_take_in", on_click=_take_in, args=(file.getvalue(),))


def _take_in(content: bytes) -> None:
    def act() -> str:
        got = session.kitchen().store.import_all(read_document(content, "The kitchen book"))
        return (
            f"Took in {got.recipes} sauces, {got.profiles} profiles and {got.ingredients}"
            f" ingredients; {got.unchanged} were here already."
        )

    _try(act)
