"""My ingredients: made from a label and readings, with what follows shown at once, and kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import streamlit as st

from balancer.cli.own import known_text
from balancer.composition import ACIDS, SUGARS
from balancer.dashboard import following, session
from balancer.dashboard.fields import told
from balancer.dashboard.making import (
    FIGURES,
    LABELS,
    LONGEST_KEPT,
    PLACE,
    READINGS,
    STANDS,
    Making,
)
from balancer.errors import BalancerError
from balancer.export.markdown import escaped
from balancer.label import FORMS
from balancer.label_text import LONGEST_LABEL
from balancer.larder import OwnIngredient
from balancer.own import LONGEST_OWN_NAME


def making() -> Making:
    """What is typed; after a reload, what the address holds."""
    found: Making | None = st.session_state.get(PLACE)
    if found is None:
        found = Making.read(str(st.query_params.get(PLACE, "")))
        st.session_state[PLACE] = found
    return found


def put(new: Making) -> None:
    """Keep what is typed."""
    st.session_state[PLACE] = new
    session.note(PLACE, "")


def into_address(shown: bool) -> None:
    """Write what is typed into the address while the page that shows it is in view."""
    letters = making().written() if shown else ""
    if not letters or len(letters) > LONGEST_KEPT:
        st.query_params.pop(PLACE, None)
    elif st.query_params.get(PLACE) != letters:
        st.query_params[PLACE] = letters


def draw() -> None:
    """Draw the page."""
    st.html('<h1 class="b-name">My ingredients</h1>')
    st.write(
        "What the tables do not know, or know otherwise: a bottle with its label, your limes with"
        " their pH. Kept ones are found by every search and used in every sauce."
    )
    if session.noted("own done"):
        st.success(escaped(session.noted("own done")))
    left, right = st.columns(2, gap="large")
    with left:
        _typing(making())
    with right:
        following.draw(making())
    _kept()


# --- typing -------------------------------------------------------------------------------------


def _typing(now: Making) -> None:
    st.subheader(escaped(f"Change {now.editing}") if now.editing else "A new one")
    st.text_input(
        "What you call it", key=session.bound("_own_name", now.name), placeholder="my limes",
        max_chars=LONGEST_OWN_NAME, on_change=_typed, disabled=bool(now.editing),
    )  # fmt: skip
    st.radio(
        "It is", list(STANDS), format_func=lambda k: STANDS[k], horizontal=True,
        key=session.bound("_own_stands", now.stands), on_change=_typed,
    )  # fmt: skip
    if now.stands != "alone":
        st.text_input(
            "Which food?", key=session.bound("_own_food", now.food), placeholder="lime juice",
            max_chars=120, on_change=_typed,
        )  # fmt: skip
    if now.stands == "of":
        st.toggle(
            "Mine, for good: use it wherever a sauce says that food",
            key=session.bound("_own_for_good", now.for_good), on_change=_typed,
        )  # fmt: skip
    st.radio(
        "Its label", list(LABELS), format_func=lambda k: LABELS[k], horizontal=True,
        key=session.bound("_own_label", now.label), on_change=_typed,
    )  # fmt: skip
    if now.label == "text":
        st.text_area(
            "The label, as it is printed", key=session.bound("_own_text", now.text), height=170,
            max_chars=LONGEST_LABEL, on_change=_typed,
            placeholder="per 100 g: fat 0.2 g, carbohydrate 38 g, of which sugars 36 g,"
            " protein 0.4 g, salt 1.5 g",
        )  # fmt: skip
    elif now.label == "figures":
        _figures(now)
    _readings(now)
    st.text_input(
        "Allergens, as the packet lists them", key=session.bound("_own_allergens", now.allergens),
        placeholder="soy, wheat", max_chars=400, on_change=_typed,
    )  # fmt: skip
    with st.container(horizontal=True, gap="small"):
        words = "Keep the change" if now.editing else "Keep it"
        st.button(words, key="_own_keep", type="primary", on_click=_keep)
        if now != Making():
            words = "Leave it as it was" if now.editing else "Clear all"
            st.button(words, key="_own_clear", on_click=put, args=(Making(),))
    told(PLACE)
    if len(now.written()) > LONGEST_KEPT:
        st.caption("This is too long for the page's address: a reload would lose it.")


def _figures(now: Making) -> None:
    st.selectbox(
        "Form of the label", FORMS, key=session.bound("_own_form", now.form), on_change=_typed,
        format_func=lambda form: {"EU": "EU: fibre apart from carbohydrate",
                                  "US": "US: carbohydrate holds the fibre"}[form],
    )  # fmt: skip
    with st.container(horizontal=True, gap="small"):
        st.number_input(
            "The figures are for", key=session.bound("_own_size", now.size), value=None,
            format="%g", step=5.0, on_change=_typed, help="100, or the serving.",
        )  # fmt: skip
        st.selectbox("of", ("g", "mL"), key=session.bound("_own_unit", now.unit), on_change=_typed)
    for field, (words, unit, step) in FIGURES.items():
        st.number_input(
            f"{words} ({unit})", key=session.bound(f"_own_{field}", now.figures.get(field)),
            value=None, format="%g", step=step, on_change=_typed,
        )  # fmt: skip


def _readings(now: Making) -> None:
    st.markdown("**What you read off it**")
    for field, (words, unit, step) in READINGS.items():
        st.number_input(
            f"{words} ({unit})", key=session.bound(f"_own_{field}", now.readings.get(field)),
            value=None, format="%g", step=step, on_change=_typed,
        )  # fmt: skip
    for field, what, known in (("acid", "acid", ACIDS), ("sugar", "sugar", SUGARS)):
        value = getattr(now, field)
        st.selectbox(
            f"All of its {what} is", ["", *known], key=session.bound(f"_own_{field}", value),
            format_func=lambda k: k.replace("_", " ") or "as in that food, or not known",
            on_change=_typed,
        )  # fmt: skip


def _typed() -> None:
    """Take over every field that is in view."""
    now, kept = making(), st.session_state
    session.note("own done", "")
    found: dict[str, object] = {}
    for field in ("stands", "label", "form", "unit", "food", "text", "acid", "sugar", "allergens",
                  "name"):  # fmt: skip
        if f"_own_{field}" in kept:
            found[field] = str(kept[f"_own_{field}"] or "")
    if "_own_for_good" in kept:
        found["for_good"] = bool(kept["_own_for_good"])
    if "_own_size" in kept:
        found["size"] = kept["_own_size"]
    for group, known in (("figures", FIGURES), ("readings", READINGS)):
        values = dict(getattr(now, group))
        for field in known:
            if f"_own_{field}" in kept:
                values[field] = kept[f"_own_{field}"]
        found[group] = {k: float(v) for k, v in values.items() if v is not None}
    put(replace(now, **found))  # type: ignore[arg-type]


def _keep() -> None:
    _typed()
    now = making()

    def act() -> None:
        made, _ = now.own()
        kept = session.kitchen().save_own(
            made,
            takes_place=now.takes_place,
            replace_it=bool(now.editing),
            expected_revision=now.revision if now.editing else None,
        )
        where = f" in place of {kept.ingredient.name}" if now.takes_place else ""
        put(Making())
        session.note("own done", f"Kept {made.name!r}{where}. Find it in any search.")

    session.attempt(PLACE, act)


# --- what is kept -------------------------------------------------------------------------------


def _kept() -> None:
    st.subheader("Kept")
    told("own")
    try:
        found = session.kitchen().own_ingredients()
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))
        return
    if not found:
        st.write("None yet.")
    for ingredient in found:
        _one(ingredient)


def _one(ingredient: OwnIngredient) -> None:
    name = ingredient.name
    with st.container(border=True):
        st.markdown(f"**{escaped(name)}**")
        st.caption(escaped(known_text(ingredient)))
        with st.container(horizontal=True, gap="small"):
            if ingredient.kept is not None:
                st.button("Change", key=f"_own_edit_{name}", on_click=_edit, args=(ingredient,))
                st.button("Duplicate", key=f"_own_copy_{name}", on_click=_choose,
                          args=("copy", name))  # fmt: skip
            st.button("Rename", key=f"_own_rename_{name}", on_click=_choose, args=("rename", name))
            st.button("Delete", key=f"_own_delete_{name}", on_click=_choose, args=("delete", name))
        chosen = st.session_state.get("own chosen")
        if chosen in (("copy", name), ("rename", name)):
            start = f"{name} 2" if chosen[0] == "copy" else name
            st.text_input("New name", key=session.bound("_own_new", start),
                          max_chars=LONGEST_OWN_NAME)  # fmt: skip
            st.button("Give it this name", key="_own_do", on_click=_named, args=chosen)
        elif chosen == ("delete", name):
            st.write("Delete it with all its revisions?")
            st.button("Yes, delete it", key="_own_do", on_click=_delete, args=(name,))


def _choose(what: str, name: str) -> None:
    chosen = (what, name)
    st.session_state["own chosen"] = (
        None if st.session_state.get("own chosen") == chosen else chosen
    )
    session.note("own", "")


def _edit(ingredient: OwnIngredient) -> None:
    if ingredient.kept is not None:
        put(Making.of(ingredient.kept, ingredient.revision))
        session.note("own done", "")


def _named(what: str, name: str) -> None:
    new = str(st.session_state.get("_own_new") or "").strip()
    if what == "copy":
        _try(lambda: session.kitchen().duplicate_own(name, new), f"Kept {new!r}.")
    else:
        _try(lambda: session.kitchen().rename_own(name, new), f"Renamed {name!r} to {new!r}.")


def _delete(name: str) -> None:
    _try(lambda: session.kitchen().delete_own(name), f"Deleted {name!r}.")


def _try(act: Callable[[], object], done: str) -> None:
    session.note("own done", "")

    def wholly() -> None:
        act()
        st.session_state["own chosen"] = None
        if making().editing:
            put(Making())
        session.note("own done", done)

    session.attempt("own", wholly)
