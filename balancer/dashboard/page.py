"""The page: a strip with the sauce's name and how near it is, then the work in its order.

Balance, bowl, tasting, keeping; side by side where the screen is wide, one below the other on a
phone. The kitchen book is one press away.
"""

from __future__ import annotations

from html import escape

import streamlit as st

from balancer.cli.show import STATUS_WORDS
from balancer.dashboard import balance, book, bowl, keep, look, session, start, tasted
from balancer.dashboard.work import Work
from balancer.export.markdown import escaped
from balancer.kitchen import Outcome

HOW = """
Each ingredient is a list of what 100 g of it hold: water, sugars, acids, sodium, oils, pungents and
so on, from the food tables of the United States Department of Agriculture (release SR28) and from
published tables of acids, volatile oil and pungency. Mixing adds these up, so the grams follow
from a linear program: first the smallest total distance from what is wanted, then the smallest
single distance, then the least change from your draft.

Distances are counted in **JND**, just-noticeable differences: one JND is the least change a trained
tongue tells apart. A level within 0.25 JND of its target counts as reached.

What this cannot know: how sharp your lemons are today, what cooking does to aroma beyond the water
it drives off, and how one taste hides another on your tongue. Taste, and say what is off.
Numbers marked as assumed or from memory are weaker than those of a table. What the tables do not
say counts as none.

Cautions are the usual ones; they do not make a sauce safe to keep or to sell. Ask your local food
authority, and follow licensed practice for bottling, for garlic or herbs in oil, and for allergens.
"""


def draw() -> None:
    """Draw the whole page for this run."""
    st.html(look.STYLE)
    session.from_address()
    if session.noted("address") and session.work() is None:
        st.error(escaped(session.noted("address")))
    work = session.work()
    _ways(work)
    if st.session_state.get("page") == "book":
        book.draw()
    elif work is None:
        start.draw()
    else:
        _sauce(work)
    session.into_address()


def _ways(work: Work | None) -> None:
    in_book = st.session_state.get("page") == "book"
    with st.container(horizontal=True, gap="small", key="ways"):
        if in_book:
            words = "Back to the sauce" if work is not None else "Begin a sauce"
            st.button(words, key="_to_sauce", on_click=_go, args=("sauce",))
        else:
            st.button("Kitchen book", key="_to_book", on_click=_go, args=("book",))
        if work is not None and not in_book:
            st.button("Undo", key="_undo", on_click=session.undo, disabled=not work.past)
            st.button("Another sauce", key="_another", on_click=_another)
            if st.session_state.get("leaving"):
                st.button("Leave this one", key="_leave", type="primary", on_click=_leave)
    if work is not None and not in_book and st.session_state.get("leaving"):
        st.caption("It has changes that are not saved. The browser's way back brings them back.")


def _go(where: str) -> None:
    st.session_state["page"] = where
    session.note("book", "")
    session.note("book done", "")


def _another() -> None:
    work = session.work()
    if work is not None and work.past and not st.session_state.get("leaving"):
        st.session_state["leaving"] = True
        return
    _leave()


def _leave() -> None:
    st.session_state["leaving"] = False
    st.session_state["notes"] = {}
    session.put(None)


def _sauce(work: Work) -> None:
    solved = session.answer()
    outcome = solved.outcome
    _strip(work, outcome)
    if solved.sentence:
        (st.info if not work.labels else st.error)(
            escaped("Choose what goes in: search below." if not work.labels else solved.sentence)
        )
    left, right = st.columns(2, gap="large")
    with left:
        if outcome is not None:
            balance.draw(work, outcome)
    with right:
        bowl.draw(work, outcome)
    if outcome is not None and outcome.solution.has_quantities:
        left, right = st.columns(2, gap="large")
        with left:
            tasted.draw(work, outcome)
        with right:
            tasted.answers(work, outcome)
        left, right = st.columns(2, gap="large")
        with left:
            keep.draw(work, outcome)
        with right:
            _rounds(work)
    with st.expander("How this is computed"):
        st.markdown(HOW)
        if outcome is not None and outcome.answer["caution_sources"]:
            st.html(
                "<b>What the cautions rest on, in their order</b>"
                + look.listed(outcome.answer["caution_sources"])
            )


def _strip(work: Work, outcome: Outcome | None) -> None:
    parts = [f'<h1 class="b-name">{escape(work.name)}</h1>']
    near = _near(work, outcome)
    rounds = f"round {len(work.rounds) + 1}"
    saved = f"saved, revision {work.revision}" if work.saved_name else "not saved yet"
    parts.append(
        f'<div class="b-near"><b>{escape(near)}</b> <span class="b-small">{rounds}; {saved}'
        "</span></div>"
    )
    if outcome is not None and work.before_g:
        moves = look.moves(work.before_g, outcome.answer["quantities_g"])
        listed = ", ".join(f"{label} {by}" for label, by in moves.items())
        text = listed or "no quantity that a scale would show"
        parts.append(f"<div><b>What moved:</b> {escape(text)}</div>")
    st.html("".join(parts))


def _near(work: Work, outcome: Outcome | None) -> str:
    if outcome is None:
        return "No quantities yet."
    if not work.aimed:
        return "Nothing is asked for yet."
    status = outcome.answer["status"]
    if status != "nearest":
        return STATUS_WORDS[status]
    off = [
        f"{axis} {look.off_words(entry['deviation_jnd'])}"
        for axis, entry in outcome.answer["profile"].items()
        if abs(entry["deviation_jnd"] or 0.0) > outcome.problem.dead_band_jnd
    ]
    return f"As near as the limits allow: {', '.join(off)}."


def _rounds(work: Work) -> None:
    if work.rounds:
        st.subheader("Rounds so far")
        st.html(
            look.listed(
                [f"{i}: {r.said}; went on with the {r.then}" for i, r in enumerate(work.rounds, 1)]
            )
        )
