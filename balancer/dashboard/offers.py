"""Suggestions as cards in plain words, and taking one into the sauce."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from html import escape
from typing import Any

import streamlit as st

from balancer.dashboard import look, session, slow
from balancer.dashboard.work import Work, as_it_is, solvable
from balancer.idea import Formula, Idea, taken
from balancer.kitchen import Outcome
from balancer.recipe import LEAST_G

#: A button under a card: what it says, its key, and what it does.
Press = tuple[str, str, Callable[[], None]]
OUT_OF_DATE = (
    "The sauce or the question has changed since. What was found before stands in the fold; look"
    " again for what holds now."
)


def shown_off(jnd: float) -> str:
    """How far a sauce is off in all, in words.

    >>> shown_off(0.0), shown_off(2.04)
    ('on target', '2.0 JND off')
    """
    return "on target" if jnd < look.SHOWN_JND else f"{jnd:.1f} JND off"


def moved(changes_g: Mapping[str, float]) -> str:
    """What the rest gains and gives up, as far as a scale shows it.

    >>> moved({"plums": -12.04, "salt": 0.61, "mace": 0.0001})
    'plums −12.0 g, salt +0.61 g'
    """
    told = {label: g for label, g in changes_g.items() if abs(g) >= LEAST_G}
    return ", ".join(
        f"{label} {'+' if g > 0 else '−'}{look.grams(abs(g))}" for label, g in told.items()
    )


def _axes(moves: Mapping[str, float], sign: str = "") -> str:
    return ", ".join(f"{axis} {jnd:{sign}.1f} JND" for axis, jnd in moves.items())


def card(idea: Idea, presses: Sequence[Press], key: str) -> None:
    """Draw one suggestion with what can be done about it."""
    with st.container(border=True, key=key):
        rows = "".join(
            f'<div class="b-row"><h4 class="b-what b-offer">{escape(name)}</h4>'
            f'<div class="b-mass"><span class="b-grams">{look.grams(g)}</span></div></div>'
            for name, g in zip(idea.called, idea.grams, strict=True)
        )
        lines = [f"The sauce: {shown_off(idea.before_jnd)}, then {shown_off(idea.after_jnd)}."]
        for words, said in (
            ("In return", moved(idea.changes_g)),
            ("Comes nearer", _axes(idea.nearer)),
            ("Goes further off", _axes(idea.further)),
            ("Moves unasked", _axes(idea.besides, "+")),
        ):
            if said:
                lines.append(f"{words}: {said}.")
        if not idea.in_pantry:
            lines.append("From the whole food table, not from the pantry.")
        if not idea.confirmed:
            lines.append("Its pH or water activity may be over the limit.")
        brings = [f"⚠ Brings an allergen: {', '.join(idea.brings)}."] if idea.brings else []
        told = "".join(f"<div>{escape(line)}</div>" for line in lines)
        warned = "".join(f"<div><b>{escape(line)}</b></div>" for line in brings)
        st.html(rows + warned + told + look.fold("What this rests on", look.listed(idea.evidence)))
        with st.container(horizontal=True, gap="small"):
            for place, (words, name, act) in enumerate(presses):
                st.button(words, key=name, on_click=act, type="secondary" if place else "primary")


def take(formula: Formula, *, answers_gap: bool = False) -> None:
    """Take a formula into the sauce in hand and go back to it; undo leads here again."""
    work, outcome = session.work(), session.answer().outcome
    if work is None:
        return

    def act() -> None:
        if session.change(taken(work.document, formula), "ideas"):
            now = session.work()
            if now is not None and answers_gap:
                session.put(replace(now, asked=replace(now.asked, steps={}, family="")))
            st.session_state["page"] = "sauce"

    if outcome is not None:
        session.attempt("ideas", act)


def mark(change: Callable[[Mapping[str, Any]], dict[str, Any]]) -> None:
    """Mark something on the request that moves no gram."""
    work = session.work()

    def act() -> None:
        if work is not None:
            session.put(work.marked(change(work.document)))

    session.attempt("ideas", act)


def asked(**fields: Any) -> None:
    """Change what is asked."""
    work = session.work()
    if work is not None:
        session.put(replace(work, asked=replace(work.asked, **fields)))


def to_solve(work: Work, outcome: Outcome | None) -> dict[str, Any]:
    """The request whose balance is looked at; where nothing is asked, the sauce as it is."""
    if work.aimed or outcome is None or not outcome.solution.has_quantities:
        return dict(solvable(work.document))
    return as_it_is(work.document, outcome)


def begin(place: str, question: slow.Question) -> None:
    """Start a search; what is wrong with the question is said at once."""

    def act() -> None:
        slow.start(place, question)

    session.attempt(place, act)


def current(place: str, key: str, outline: Callable[[Any], list[str]]) -> Any:
    """The result of a place where it answers this question; an older one is marked and folded.

    Parameters
    ----------
    place : str
    key : str
        The question in writing.
    outline : callable
        What an older result said, as lines.

    Returns
    -------
    Any
        None where there is none, or none that holds.
    """
    answer = slow.found(place)
    if answer is None:
        return None
    if answer.key != key:
        st.warning(OUT_OF_DATE)
        lines = [answer.sentence] if answer.result is None else outline(answer.result)
        st.html(look.fold("Found before the change", look.listed(lines)))
        return None
    if answer.result is None:
        st.error(answer.sentence)
    return answer.result
