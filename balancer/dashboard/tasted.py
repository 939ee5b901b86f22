"""After tasting: say what is off, and read what to add to this pot and how to make the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from html import escape
from typing import Any

import streamlit as st

from balancer.constants import AXIS_NAMES
from balancer.dashboard import look, session
from balancer.dashboard.work import Work, into_next_batch, into_pot, next_step, said, solvable
from balancer.errors import BalancerError
from balancer.export.markdown import escaped
from balancer.kitchen import Nudge, Outcome
from balancer.tasting import steps_from_words

ADJECTIVES: Mapping[str, str] = {
    "sweet": "sweet",
    "sour": "sour",
    "salt": "salty",
    "volatile": "aromatic",
    "umami": "savoury",
    "heat": "hot",
    "body": "thick",
    "fat": "fatty",
}
_TOO: Mapping[float, str] = {1.0: "a touch too", 2.0: "too", 4.0: "much too"}
_LACKS: Mapping[float, str] = {1.0: "not quite", 2.0: "not", 4.0: "not nearly"}


def draw(work: Work, outcome: Outcome) -> None:
    """Ask how it tasted and give both answers."""
    st.subheader("How did it taste?")
    st.text_input(
        "In your own words",
        key="_words",
        placeholder="less sour, a touch sweeter",
        on_change=_spoken,
        max_chars=2000,
    )
    if session.noted("words"):
        st.error(escaped(session.noted("words")))
    asked = [a for a in AXIS_NAMES if a in work.document.get("target", {}) or a in work.steps]
    asked = asked or ["sweet", "sour", "salt", "volatile"]
    for axis in asked:
        _row(axis, work)
    others = [a for a in AXIS_NAMES if a not in asked]
    if others:
        with st.expander(f"Or {', '.join(ADJECTIVES[a] for a in others)}"):
            for axis in others:
                _row(axis, work)
    _weighed(work, outcome)


def _spoken() -> None:
    work = session.work()
    text = str(st.session_state.get("_words") or "")
    if work is None:
        return
    if not text.strip():
        session.note("words", "")
        return

    def act() -> None:
        session.put(replace(work, steps=steps_from_words(text)))

    session.attempt("words", act)


def judged(axis: str, step: float | None) -> str:
    """What a step says of the sauce as tasted: minus two of sour is "too sour"."""
    word = ADJECTIVES[axis]
    if step is None:
        return f"{word}: not said"
    if step == 0:
        return f"{word}: right"
    if abs(step) not in _TOO:
        return f"{word}: {step:+g} JND wanted"
    return f"{_TOO[-step]} {word}" if step < 0 else f"{_LACKS[step]} {word} enough"


def _row(axis: str, work: Work) -> None:
    word, step = ADJECTIVES[axis], work.steps.get(axis)
    with st.container(horizontal=True, vertical_alignment="center", gap="small", key=f"say_{axis}"):
        st.button(f"too {word}", key=f"_too_{axis}", on_click=_press, args=(axis, -1))
        shown = escape(judged(axis, step))
        st.html(f'<div style="text-align:center">{shown}</div>', width="stretch")
        st.button(f"not {word} enough", key=f"_lacks_{axis}", on_click=_press, args=(axis, 1))


def _press(axis: str, way: int) -> None:
    work = session.work()
    if work is None:
        return
    steps = {**work.steps, axis: next_step(work.steps.get(axis, 0.0), way)}
    session.put(replace(work, steps={a: steps[a] for a in AXIS_NAMES if a in steps}))
    session.note("words", "")


# --- weighed quantities -------------------------------------------------------------------------


def _weighed(work: Work, outcome: Outcome) -> None:
    if st.toggle(
        "The pot was weighed otherwise than planned",
        key=session.bound(
            "_weighing", bool(work.made_g) or st.session_state.get("weighing", False)
        ),
        on_change=_weighing,
    ):
        for label, planned in outcome.answer["quantities_g"].items():
            st.number_input(
                escaped(f"{label}, in the pot (g)"),
                key=session.bound(f"_made_{label}", float(work.made_g.get(label, planned))),
                value=None,
                step=1.0,
                format="%g",
                on_change=_made,
                args=(label,),
            )
            if session.noted(f"made {label}"):
                st.error(escaped(session.noted(f"made {label}")))


def _weighing() -> None:
    on = bool(st.session_state.get("_weighing"))
    st.session_state["weighing"] = on
    work = session.work()
    if not on and work is not None and work.made_g:
        session.put(replace(work, made_g={}))


def _made(label: str) -> None:
    work, value = session.work(), st.session_state.get(f"_made_{label}")
    if work is None:
        return
    made_g = {k: v for k, v in work.made_g.items() if k != label}
    if value is not None:
        made_g[label] = float(value)
    outcome = session.answer().outcome

    def act() -> None:
        if outcome is not None and value is not None:
            session.kitchen().nudge(
                solvable(work.document), outcome.answer, {"salt": 0.0}, made_g=made_g
            )
        session.put(replace(work, made_g=made_g))

    session.attempt(f"made {label}", act)


# --- the two answers ----------------------------------------------------------------------------


def answers(work: Work, outcome: Outcome) -> None:
    """What to add to this pot, and how to make the next batch."""
    st.subheader("What to do about it")
    if not work.steps:
        st.write("Say what is off, and the grams to add and the next batch stand here.")
        return
    in_pot = {**outcome.answer["quantities_g"], **work.made_g}
    try:
        nudge = session.kitchen().nudge(
            solvable(work.document), outcome.answer, work.steps, made_g=work.made_g or None
        )
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))
        return
    st.html(f"<b>Understood:</b> {escape(said(work.steps))}.")
    st.button("Begin the tasting again", key="_unsay", on_click=_unsay)
    with st.container(border=True):
        _pot(work, nudge, in_pot, outcome.answer)
    with st.container(border=True):
        _next(work, nudge, in_pot, outcome.answer)


def _unsay() -> None:
    work = session.work()
    if work is not None:
        session.put(replace(work, steps={}))
        st.session_state["_words"] = ""


def _cautions(answer: Mapping[str, Any], beside: Mapping[str, Any]) -> None:
    """Cautions that an answer adds to those beside the bowl."""
    new = [c for c in answer["cautions"] if c not in beside["cautions"]]
    if new:
        st.html(look.cautions(new))
    if len(new) < len(answer["cautions"]):
        st.caption("The cautions beside the bowl hold here too.")


def _pot(work: Work, nudge: Nudge, in_pot: Mapping[str, float], beside: Mapping[str, Any]) -> None:
    st.markdown("#### Add to this pot")
    answer = nudge.pot.answer
    if nudge.additions_g:
        for label, grams in nudge.additions_g.items():
            st.html(look.addition_row(label, grams))
        added, held = sum(nudge.additions_g.values()), sum(in_pot.values())
        st.caption(f"The pot grows by {look.grams(added)}, {100 * added / held:.0f} %.")
        if answer["status"] == "nearest":
            off = [
                f"{axis} {look.off_words(entry['deviation_jnd'])}"
                for axis, entry in answer["profile"].items()
                if abs(entry["deviation_jnd"] or 0.0) > 1.0
            ]
            st.html(f"<b>As near as adding can bring it.</b>{look.listed(off)}")
        _cautions(answer, beside)
        st.button(
            "I added this",
            key="_added",
            type="primary",
            width="stretch",
            on_click=lambda: _go_on(into_pot(work, nudge, in_pot)),
        )
    elif nudge.pot.solution.has_quantities:
        st.write("Nothing: every axis is within 1 JND already.")
    else:
        st.write("Nothing that is chosen can be added within the limits.")
        st.html(look.listed([r["sentence"] for r in answer["relax"]]))


def _next(work: Work, nudge: Nudge, in_pot: Mapping[str, float], beside: Mapping[str, Any]) -> None:
    st.markdown("#### Next batch")
    answer = nudge.next_batch.answer
    if not answer["quantities_g"]:
        st.write("The limits contradict each other.")
        st.html(look.listed([r["sentence"] for r in answer["relax"]]))
        return
    st.html(look.moved_table(in_pot, answer["quantities_g"], "next"))
    if answer["relax"]:
        give = look.listed([r["sentence"] for r in answer["relax"]])
        st.html(f"<b>As near as the limits allow. What would have to give</b>{give}")
    _cautions(answer, beside)
    st.button(
        "Go on with the next batch",
        key="_next",
        type="primary",
        width="stretch",
        on_click=lambda: _go_on(into_next_batch(work, nudge, in_pot)),
    )


def _go_on(work: Work) -> None:
    session.put(work)
    st.session_state["_words"] = ""
    st.session_state["weighing"] = bool(work.made_g)
    session.note("words", "")
