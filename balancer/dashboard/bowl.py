"""The bowl: ingredients by mass, what may change of each, and what holds the answer back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from balancer.dashboard import batch, look, session, today
from balancer.dashboard.fields import checked, lines, number, open_line, opened, told
from balancer.dashboard.work import (
    Work,
    with_entry,
    with_ingredient,
    without_ingredient,
)
from balancer.errors import BalancerError
from balancer.export.markdown import escaped
from balancer.kitchen import Outcome
from balancer.search import Hit, resolve
from balancer.wishes import LARGEST_MASS_G

MOST_HITS = 6
STRENGTHS: Mapping[str, str] = {
    "acetic_pct": "acetic acid on the label (g/100 g)",
    "salt_pct": "salt on the label (g/100 g)",
    "brix": "degrees Brix on the label (g/100 g)",
}
BOUNDS: Mapping[str, str] = {
    "draft_g": "quantity to stay near (g)",
    "min_g": "at least (g)",
    "max_g": "at most (g)",
    "locked_g": "exactly, locked (g)",
}

GOES_IN: Mapping[str, str] = {
    "": "as usual: at the start where water cooks away, else raw",
    "start": "at the start of simmering",
    "late": "in the last minutes",
    "raw": "off the heat",
}


def draw(work: Work, outcome: Outcome | None) -> None:
    """Draw the quantities, their cautions, what holds them, and the search."""
    st.subheader("The bowl")
    answer = None if outcome is None else outcome.answer
    quantities = {} if answer is None else answer["quantities_g"]
    if answer is not None and not quantities:
        st.html(_to_give(answer) or "<b>No quantities keep every limit.</b>")  # settle this first
    if work.labels:
        st.caption("Press a name to lock it, limit it or take it out.")
    shown = look.shown_g(quantities)
    moved = look.moves(work.before_g, quantities) if work.before_g else {}
    if work.labels:
        with lines("bowl"):
            for label in work.labels:
                _ingredient(work, label, shown.get(label), moved.get(label, ""), answer)
        batch.draw(work, answer)
    if answer is not None:
        beside = look.cautions(answer["cautions"]) if answer["cautions"] else ""
        st.html(beside + _held(answer))
    _search()


def _ingredient(
    work: Work, label: str, grams: float | None, moved: str, answer: Mapping[str, Any] | None
) -> None:
    entry = work.entry(label)
    st.button(
        escaped(_described(label, entry, answer)),
        key=f"_adjust_{label}",
        on_click=open_line,
        args=(label,),
        width="stretch",
    )
    if grams is not None:
        st.html(look.mass(grams, moved), width="content")
    told(label)
    if opened(label):
        with st.container(border=True):
            _editor(label, entry, None if answer is None else answer["quantities_g"].get(label))


def _described(label: str, entry: Mapping[str, Any], answer: Mapping[str, Any] | None) -> str:
    """The name on an ingredient's button: which food is meant, and whether it is held."""
    words = label
    if answer is not None and answer["resolved"][label]["name"] != label:
        words += f" ({answer['resolved'][label]['name']})"
    if "locked_g" in entry:
        words += ", locked"
    if "strength" in entry:
        words += ", strength as on its label"
    return words


def _editor(label: str, entry: Mapping[str, Any], grams: float | None) -> None:
    locked = "locked_g" in entry
    with st.container(horizontal=True, gap="small"):
        if locked:
            st.button("Unlock", key="_unlock", on_click=_set, args=(label, "locked_g", None))
        elif grams is not None:
            st.button(
                f"Lock at {look.grams(grams)}",
                key="_lock",
                on_click=_set,
                args=(label, "locked_g", float(f"{grams:.6g}")),
            )
        st.button(escaped(f"Take {label} out"), key="_remove", on_click=_remove, args=(label,))
        if "recipe" in entry and grams:
            st.button(
                "Open it up", key="_open_up", on_click=_open_up, args=(label, grams),
                help="Its own ingredients take its place, each free to change.",
            )  # fmt: skip
    for field, text in BOUNDS.items():
        if locked != (field == "locked_g"):
            continue
        number(f"{label}: {text}", f"_{field}_{label}", entry.get(field), _typed, (label, field))
    st.selectbox(
        escaped(f"{label}: when it goes in"),
        options=list(GOES_IN),
        format_func=lambda when: GOES_IN[when],
        key=session.bound(f"_goes_in_{label}", entry.get("goes_in", "")),
        on_change=_timed,
        args=(label,),
    )
    if "recipe" in entry:
        return
    today.draw(label, entry)
    with st.expander("Strength of the bottle"):
        st.caption("What its label says, where it differs from the usual.")
        strength = entry.get("strength", {})
        for field, text in STRENGTHS.items():
            number(
                f"{label}: {text}",
                f"_{field}_{label}",
                strength.get(field),
                _strong,
                (label, field),
            )


def _set(label: str, field: str, value: float | str | None) -> None:
    work = session.work()
    if work is not None:
        fields: dict[str, Any] = {field: value}
        if field == "locked_g" and value is None and "draft_g" not in work.entry(label):
            fields["draft_g"] = work.entry(label).get("locked_g")
        session.change(with_entry(work.document, label, **fields), label)


def _typed(label: str, field: str) -> None:
    value = st.session_state.get(f"_{field}_{label}")
    what = f"{label}: {BOUNDS[field].removesuffix(' (g)')}"

    def act() -> None:
        checked(value, what, "g", LARGEST_MASS_G)

    if session.attempt(label, act):
        _set(label, field, value)


def _timed(label: str) -> None:
    _set(label, "goes_in", str(st.session_state.get(f"_goes_in_{label}") or "") or None)


def _strong(label: str, field: str) -> None:
    work = session.work()
    if work is None:
        return
    value = st.session_state.get(f"_{field}_{label}")
    what = f"{label}: {STRENGTHS[field].removesuffix(' (g/100 g)')}"

    def act() -> None:
        checked(value, what, "g/100 g", 100.0)

    if session.attempt(label, act):
        strength = {**work.entry(label).get("strength", {}), field: value}
        strength = {k: v for k, v in strength.items() if v is not None}
        session.change(with_entry(work.document, label, strength=strength or None), label)


def _open_up(label: str, grams: float) -> None:
    work = session.work()

    def act() -> None:
        if work is not None:
            weighed = with_entry(work.document, label, draft_g=grams, locked_g=None)
            document = session.kitchen().opened_up(weighed, (label,))
            if session.change(document, label):
                st.session_state["opened"] = None

    session.attempt(label, act)


def _remove(label: str) -> None:
    work = session.work()
    if work is not None:
        session.change(without_ingredient(work.document, label), label, always=True)
        st.session_state["opened"] = None


# --- what holds it back -------------------------------------------------------------------------


def _held(answer: Mapping[str, Any]) -> str:
    parts = _titled(
        "What holds it back", [b["sentence"] for b in answer["binding"] if b["gain_jnd"]]
    )
    if answer["quantities_g"]:
        parts += _to_give(answer)
    parts += _titled("Worth knowing", answer["notes"])
    touched = [b["sentence"] for b in answer["binding"] if not b["gain_jnd"]]
    if touched:
        parts += look.fold(f"Limits that are touched ({len(touched)})", look.listed(touched))
    return parts or "<!-- nothing to mind -->"


def _to_give(answer: Mapping[str, Any]) -> str:
    return _titled("What would have to give", [r["sentence"] for r in answer["relax"]])


def _titled(title: str, lines: Sequence[str]) -> str:
    return f"<div><b>{title}</b>{look.listed(lines)}</div>" if lines else ""


# --- the search ---------------------------------------------------------------------------------


def _search() -> None:
    text = st.text_input(
        "Add an ingredient",
        key="_search",
        placeholder="lime juice, star anise ...",
        max_chars=120,
    )
    told("search")
    if not text or not text.strip():
        return
    hits = session.kitchen().find(text, MOST_HITS)
    work = session.work()
    own = [n for n in session.kitchen().recipes_like(text) if work and n != work.saved_name]
    if not hits and not own:
        st.info(escaped(f"Nothing is like {text.strip()[:60]!r}. Try a plainer word."))
        return
    with st.container(horizontal=True, gap="small"):
        for name in own:
            st.button(
                f"+ {escaped(name)}, your sauce", key=f"_add_sauce_{name}", on_click=_add,
                args=(name,), kwargs={"recipe": name},
            )  # fmt: skip
        for hit in hits:
            st.button(
                f"+ {escaped(_hit_words(hit))}",
                key=f"_add_{hit.ingredient.key}",
                on_click=_add,
                args=(_name_of(hit),),
            )


def _hit_words(hit: Hit) -> str:
    same = hit.matched == hit.ingredient.name
    words = hit.ingredient.name if same else f"{hit.matched} ({hit.ingredient.name})"
    return words if hit.in_pantry else f"{words}, food table"


def _name_of(hit: Hit) -> str:
    """The plainest name that means this ingredient and no other."""
    catalogue = session.kitchen().catalogue
    for name in (hit.matched, hit.ingredient.name):
        try:
            if resolve(catalogue, name).key == hit.ingredient.key:
                return name
        except BalancerError:
            continue
    return hit.ingredient.key


def _add(name: str, **fields: Any) -> None:
    work = session.work()
    if work is not None and session.change(
        with_ingredient(work.document, name, **fields), "search"
    ):
        st.session_state["_search"] = ""
