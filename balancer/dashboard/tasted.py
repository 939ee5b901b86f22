"""After tasting: say what is off, in words, by buttons or on a line, and keep it as a round."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import streamlit as st

from balancer.constants import AXIS_NAMES
from balancer.dashboard import asides, keep, session, telling
from balancer.dashboard.fields import fold, told
from balancer.dashboard.work import Work, next_step, solvable
from balancer.errors import BalancerError
from balancer.export.markdown import escaped
from balancer.just_about_right import heard
from balancer.kitchen import Outcome
from balancer.tasting import steps_from_words, understood

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
    """Ask how it tasted, and offer to keep the answer."""
    st.subheader("How did it taste?")
    st.text_input(
        "In your own words",
        key="_words",
        placeholder="less sour, a touch sweeter, the rest is right",
        on_change=_spoken,
        max_chars=2000,
    )
    told("words")
    if session.noted("guessed"):
        st.caption(escaped(f"{session.noted('guessed')}."))
    asked = _asked(work)
    st.caption("Or press; once more is more of it. What you do not say counts as not judged.")
    with st.container(gap="small", key="say_asked"):
        for axis in asked:
            _row(axis, work)
    others = [a for a in AXIS_NAMES if a not in asked]
    if others:
        part = fold(f"Or {', '.join(ADJECTIVES[a] for a in others)}", "_other_axes")
        if part.open:
            with part, st.container(gap="small", key="say_others"):
                for axis in others:
                    _row(axis, work)
    asides.draw(work, asked)
    _weighed(work, outcome)
    st.button(
        "Keep this round" if work.saved_name else "Save the sauce and keep this round",
        key="_keep_round",
        type="primary",
        width="stretch",
        on_click=_keep,
    )
    told("round")
    keep.offers("round")


def _asked(work: Work) -> list[str]:
    try:
        minded = list(telling.minded(session.kitchen(), work))
    except BalancerError:  # renamed or deleted meanwhile; saving says so
        minded = [a for a in AXIS_NAMES if a in work.steps]
    return minded or ["sweet", "sour", "salt", "volatile"]


def _keep() -> None:
    work = session.work()
    if work is None:
        return
    name = work.saved_name or keep.name_typed() or work.name

    def act() -> None:
        session.put(telling.kept_round(session.kitchen(), work, name))
        st.session_state["_words"] = ""
        st.session_state["unheard"] = False
        session.note("words", "")

    keep.minding(name, "round", act)


def _spoken() -> None:
    work = session.work()
    text = str(st.session_state.get("_words") or "")
    if work is None:
        return
    st.session_state["unheard"] = True  # what stands beside it answers the note before
    if not text.strip():
        session.note("words", "")
        return

    def act() -> None:
        words, rest_right = heard(text)
        steps = steps_from_words(text) if not rest_right else {}
        if rest_right:
            steps = {a: float(_RANK_STEPS[w.rank]) for a, w in words.items()}
        details = replace(work.details, rest_right=rest_right or work.details.rest_right)
        session.put(replace(work, steps=steps, details=details))
        st.session_state["unheard"] = False
        taken = understood(text).taken
        said = [f"{slip!r} was taken for {word!r}" for slip, word in taken.items()]
        session.note("guessed", "; ".join(said))

    session.note("guessed", "")
    session.attempt("words", act)


_RANK_STEPS = (0.0, 1.0, 2.0, 4.0, -4.0, -2.0, -1.0)  # by rank; the last three for -3, -2, -1


def judged(axis: str, step: float | None) -> tuple[str, str, str]:
    """What the three buttons of an axis say; the one that is meant has a tick.

    Minus two of sour is "too sour" on the first.
    """
    word = ADJECTIVES[axis]
    too, right, lacks = f"too {word}", f"{word}: right", f"not {word} enough"
    if step is None:
        return too, right, lacks
    if step == 0:
        return too, f"✓ {right}", lacks
    size = f", by {abs(step):g} JND" if abs(step) not in _TOO else ""
    if step < 0:
        return f"✓ {_TOO.get(-step, 'too')} {word}{size}", right, lacks
    return too, right, f"✓ {_LACKS.get(step, 'not')} {word} enough{size}"


def _row(axis: str, work: Work) -> None:
    said = judged(axis, work.steps.get(axis))
    meant = [text.startswith("✓") for text in said]
    presses: tuple[tuple[str, Callable[..., None], tuple[Any, ...]], ...] = (
        ("too", _press, (axis, -1)), ("right", _right, (axis,)), ("lacks", _press, (axis, 1)),
    )  # fmt: skip
    for text, lit, (what, act, args) in zip(said, meant, presses, strict=True):
        st.button(
            text,
            key=f"_{what}_{axis}",
            type="primary" if lit else "secondary",
            help="Press again to take it back." if lit and what == "right" else None,
            on_click=act,
            args=args,
        )


def _press(axis: str, way: int) -> None:
    work = session.work()
    if work is not None:
        _say(work, {**work.steps, axis: next_step(work.steps.get(axis, 0.0), way)})


def _right(axis: str) -> None:
    """Say that an axis is right; pressed again, nothing is said of it."""
    work = session.work()
    if work is None:
        return
    steps = dict(work.steps)
    if steps.get(axis) == 0.0:
        del steps[axis]
    else:
        steps[axis] = 0.0
    _say(work, steps)


def _say(work: Work, steps: Mapping[str, float]) -> None:
    session.put(replace(work, steps={a: steps[a] for a in AXIS_NAMES if a in steps}))
    session.note("words", "")
    session.note("round", "")
    st.session_state["unheard"] = False


# --- weighed quantities -------------------------------------------------------------------------


def _weighed(work: Work, outcome: Outcome) -> None:
    if not st.toggle(
        "The pot was weighed otherwise than planned",
        key=session.bound(
            "_weighing", bool(work.made_g) or st.session_state.get("weighing", False)
        ),
        on_change=_weighing,
    ):
        return
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
        told(f"made {label}")


def _weighing() -> None:
    on = bool(st.session_state.get("_weighing"))
    st.session_state["weighing"] = on
    work = session.work()
    if not on and work is not None and work.made_g:
        session.put(replace(work, made_g={}, added=False))


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
        session.put(replace(work, made_g=made_g, added=False))

    session.attempt(f"made {label}", act)


def refused(error: BalancerError) -> None:
    """Draw why there is no answer."""
    st.error(escaped(session.sentence(error)))
