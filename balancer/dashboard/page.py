"""The page: a strip with the sauce's name and how near it is, then the work in its order.

Balance, bowl, tasting, keeping; side by side where the screen is wide, one below the other on a
phone. The kitchen book is one press away.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from html import escape
from types import MappingProxyType
from typing import Literal

import streamlit as st

from balancer.cli.show import STATUS_WORDS
from balancer.dashboard import (
    answers,
    balance,
    book,
    bowl,
    keep,
    look,
    missing,
    own,
    panels,
    paper,
    pasting,
    readings,
    recipe,
    rounds,
    session,
    sound,
    start,
    stove,
    tasted,
)
from balancer.dashboard.fields import fold
from balancer.dashboard.work import Work
from balancer.export.markdown import escaped
from balancer.kitchen import Outcome

HOW = """
Each ingredient is a list of what 100 g of it hold: water, sugars, acids, sodium, oils, pungents and
so on, from the food tables of the United States Department of Agriculture (release SR28) and from
published tables of acids, volatile oil and pungency. Mixing adds these up, so the grams follow
from a linear program: first the smallest total distance from what is wanted, then the smallest
single distance, then the least change from your draft.

What a meter would read is computed from the same lists: the pH from the balance of charges among
acids, minerals and proteins, its band from the spread of acids and of published pH; degrees Brix
from sugars, acids and salt; the water activity from what is dissolved. They are models of a mixed,
even sauce: a thick, oily or fermenting one may lie outside the band, and boiling, storing and
ripening are left out. How strong a taste is, in words, is a display model: the scales behind it
were made in plain water, they overrate a sauce, and they never steer the grams.

What was learned from your words is a range for each level that you have in mind, narrowed by every
round; words are thresholds, not numbers, and what you do not say counts for nothing. Odds are those
of this model of a tongue. Additions to a pot come from the same program, with what is in the pot as
a lower bound, and are then rounded together to steps of your scale.

Distances are counted in **JND**, just-noticeable differences: one JND is the least change a trained
tongue tells apart. A level within 0.25 JND of its target counts as reached.

What this cannot know: how sharp your lemons are today, what cooking does to aroma beyond the water
it drives off, and how one taste hides another on your tongue. Taste, and say what is off.
Numbers marked as assumed or from memory are weaker than those of a table. What the tables do not
say counts as none.

Cautions are the usual ones; they do not make a sauce safe to keep or to sell. Ask your local food
authority, and follow licensed practice for bottling, for garlic or herbs in oil, and for allergens.
"""


Width = Literal["content", "stretch"]
#: On a phone, past the rails to the heading of the bowl, where columns stand one below the other.
TO_THE_GRAMS = """<style>.b-jump {display: none;}
@media screen and (max-width: 640px) {
  .b-jump {display: inline-flex; align-items: center; min-height: 44px; color: inherit;}}
</style><a class="b-jump" href="#the-bowl">To the grams ↓</a>"""
#: What the page of the recipe is for while no sauce is in hand.
BRING = "Bring a recipe back"

#: Pages beside the sauce: the words on their button, and what draws them.
PAGES: Mapping[str, tuple[str, Callable[[], None]]] = MappingProxyType(
    {
        "missing": ("What is missing?", missing.draw),
        "recipe": ("The recipe", recipe.draw),
        "book": ("Kitchen book", book.draw),
        "own": ("My ingredients", own.draw),
        "readings": ("Pot by readings", readings.draw),
        "panel": ("Is it the same?", panels.draw),
        "stove": ("To the stove", stove.draw),
    }
)

#: Pages that begin with a sauce: not offered before there is one.
OF_A_SAUCE = ("missing", "recipe")

#: Pages that a cook opens seldom while cooking; they stand behind one button.
SELDOM = ("own", "readings", "panel", "stove")


def draw() -> None:
    """Draw the whole page for this run."""
    st.html(look.STYLE + paper.STYLE)
    sound.forget_unsound()
    session.from_address()
    session.follow_foods()
    _page_from_address()
    if session.noted("address") and session.work() is None:
        st.error(escaped(session.noted("address")))
    work = session.work()
    _ways(work)
    _told()
    beside = PAGES.get(str(st.session_state.get("page")))
    if beside is not None:
        beside[1]()
    elif work is None:
        start.draw()
    else:
        _sauce(work)
    session.into_address()
    pasting.into_address(session.work() is None)
    own.into_address(st.session_state.get("page") == "own")
    _page_into_address()
    _from_its_head(session.work() is None)
    if session.work() is not None:  # what a sauce needs is loaded now
        session.spare_the_tables()


def _page_from_address() -> None:
    """Show the page that the address names, after a reload or on the browser's way back."""
    here = str(st.query_params.get("page", ""))
    if here != st.session_state.get("page in address", ""):
        st.session_state["page in address"] = here
        st.session_state["page"] = here if here in PAGES else "sauce"


def _page_into_address() -> None:
    page = str(st.session_state.get("page"))
    here = page if page in PAGES else ""
    if not here:
        st.query_params.pop("page", None)
    elif st.query_params.get("page") != here:
        st.query_params["page"] = here
    st.session_state["page in address"] = here


def _from_its_head(starting: bool) -> None:
    """Show what the cook has just come to from its head; the browser would keep its place."""
    place, turns = (
        (st.session_state.get("page", "sauce"), starting),
        st.session_state.get("turns", 0),
    )
    if st.session_state.get("in view", place) != place:
        turns += 1
    st.session_state.update({"in view": place, "turns": turns})
    st.html(look.to_the_head(turns), unsafe_allow_javascript=True)


def _ways(work: Work | None) -> None:
    here = st.session_state.get("page")
    with st.container(horizontal=True, gap="small", key="ways"):
        if here in PAGES:
            words = "Back to the sauce" if work is not None else "Begin a sauce"
            st.button(words, key="_to_sauce", on_click=_go, args=("sauce",))
        if work is not None:
            st.button("Undo", key="_undo", on_click=session.undo, disabled=not work.past)
        hidden = SELDOM if work is not None else (*SELDOM, *OF_A_SAUCE)
        _doors([page for page in PAGES if page not in hidden], here)
        leaving = work is not None and bool(st.session_state.get("leaving"))
        # named by what is in view, so that it closes when that changes
        with st.popover("Other work", key=f"_other_work {here} {leaving}"):
            if work is not None and here not in PAGES:
                st.button("Another sauce", key="_another", on_click=_another, width="stretch")
            _doors(SELDOM, here, width="stretch")
            if work is None and here != "recipe":
                st.button(BRING, key="_to_bring", on_click=_go, args=("recipe",), width="stretch")
        if leaving and here not in PAGES:
            st.button("Leave this one", key="_leave", type="primary", on_click=_leave)
    if work is not None and here not in PAGES and st.session_state.get("leaving"):
        st.caption("It has changes that are not saved. The browser's way back brings them back.")


def _doors(pages: Sequence[str], here: str | None, width: Width = "content") -> None:
    for page in pages:
        if page != here:
            st.button(PAGES[page][0], key=f"_to_{page}", on_click=_go, args=(page,), width=width)


def _told() -> None:
    """What opening the kitchen book did, until the cook has read it."""
    text = session.kitchen().told
    if text and st.session_state.get("read") != text:
        st.info(escaped(text))
        st.button("I have read this", key="_read", on_click=_read, args=(text,))


def _read(text: str) -> None:
    st.session_state["read"] = text


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
            answers.draw(work, outcome)
        left, right = st.columns(2, gap="large")
        with left:
            keep.draw(work, outcome)
        with right:
            rounds.draw(work)
    part = fold("How this is computed", "_how")
    if part.open:
        with part:
            st.markdown(HOW)
            if outcome is not None and outcome.answer["caution_sources"]:
                st.html(
                    "<b>What the cautions rest on, in their order</b>"
                    + look.listed(outcome.answer["caution_sources"])
                )


def _strip(work: Work, outcome: Outcome | None) -> None:
    parts = [f'<h1 class="b-name">{escape(work.name)}</h1>']
    near = _near(work, outcome)
    count = f"round {max(work.kept, len(work.rounds)) + 1}"
    saved = f"saved, revision {work.revision}" if work.saved_name else "not saved yet"
    parts.append(
        f'<div class="b-near"><b>{escape(near)}</b> <span class="b-small">{count}; {saved}'
        "</span></div>"
    )
    if outcome is not None and work.before_g:
        moves = look.moves(work.before_g, outcome.answer["quantities_g"])
        listed = ", ".join(f"{label} {by}" for label, by in moves.items())
        text = listed or "no quantity that a scale would show"
        parts.append(f"<div><b>What moved:</b> {escape(text)}</div>")
    if work.made_g and outcome is not None:
        held = sum({**outcome.answer["quantities_g"], **work.made_g}.values())
        parts.append(
            f"<div><b>In the pot:</b> {look.grams(held)}, otherwise than the plan below.</div>"
        )
    if work.labels:
        parts.append(TO_THE_GRAMS)
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
