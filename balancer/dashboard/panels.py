"""Is it the same as the reference? Serving sheets, how many tasters, and what the answers show."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from balancer.dashboard import look, session
from balancer.dashboard.fields import fold, told
from balancer.discrimination import Method, least_correct, panel_size
from balancer.errors import BadInput
from balancer.panel import ALPHA, difference, similarity
from balancer.serving import session as serving_session

METHODS = {
    Method.TRIANGLE: "triangle: two alike, one odd (ISO 4120)",
    Method.PAIRED: "pair: which is more ... (ISO 5495)",
}
FIRST_SHARE_PCT, FIRST_POWER_PCT = 30.0, 80.0
HOW = """
In a triangle a taster who cannot tell is right by luck once in three, in a pair once in two. What
the answers show follows from the binomial distribution: the odds of so many right answers by luck
alone. A difference counts as shown at a risk of 5 %. To show that two sauces are alike is another
question: how large a share of people who can tell is ruled out by so few right answers. Answers
that one taster repeats are not independent, so the number of different tasters is asked.

Orders of serving are balanced over the tasters and drawn from the number you give. Standards:
ISO 4120 (triangle test), ISO 5495 (paired comparison).
"""


def draw() -> None:
    """Draw the three questions of a panel."""
    st.html('<h1 class="b-name">Is it the same?</h1>')
    st.write(
        "Serve your sauce beside the reference, blind, in balanced order, and count the right"
        " answers. One taster who repeats it speaks for one tongue only."
    )
    chosen = st.radio(
        "How it is served",
        [str(m.value) for m in METHODS],
        format_func=lambda m: METHODS[Method(m)],
        key=_kept("_method", str(Method.TRIANGLE.value)),
        on_change=session.take_typed,
        args=("_method",),
    )
    method = Method(chosen)
    left, right = st.columns(2, gap="large")
    with left:
        _size(method)
        _sheets(method)
    with right:
        _count(method)
    part = fold("How this is computed", "_how_panel")
    if part.open:
        with part:
            st.markdown(HOW)


def _kept(key: str, first: object) -> str:
    """The key of a field that a reload keeps."""
    return session.bound(key, session.typed(key, first))


def _whole(words: str, key: str, first: int) -> int:
    found = st.number_input(
        words, key=_kept(key, first), step=1, on_change=session.take_typed, args=(key,)
    )
    return int(found or 0)


def _percent(words: str, key: str, first: float) -> float:
    found = st.number_input(
        words, key=_kept(key, first), step=5.0, format="%g", on_change=session.take_typed,
        args=(key,),
    )  # fmt: skip
    return float(found or 0.0)


def _text(words: str, key: str, first: str, most: int) -> str:
    return str(
        st.text_input(
            words, key=_kept(key, first), max_chars=most, on_change=session.take_typed, args=(key,)
        )
    )


def _size(method: Method) -> None:
    st.subheader("How many tasters?")
    share = _percent(
        "share of people who can tell that must not be missed (%)", "_share", FIRST_SHARE_PCT
    )
    power = _percent("odds of finding it (%)", "_power", FIRST_POWER_PCT)

    def act() -> None:
        number = panel_size(method, share / 100.0, ALPHA, power / 100.0)
        least = least_correct(method, number, ALPHA)
        st.html(
            f"<b>{number} tasters</b>; {least} right answers then show a difference at a risk of"
            f" {100 * ALPHA:g} %."
        )

    _said("panel size", act)


def _sheets(method: Method) -> None:
    st.subheader("Sheets to print")
    tasters = _whole("tasters", "_tasters", 12)
    repeats = _whole("sets for each", "_repeats", 1)
    seed = _whole("number of the drawing; the same gives the same sheets", "_seed", 1)
    reference = _text("What A is", "_panel_a", "the reference", 80)
    work = session.work()
    own = _text("What B is", "_panel_b", work.name if work else "our sauce", 80)
    attribute = ""
    if method is not Method.TRIANGLE:
        attribute = _text("More of what?", "_attribute", "sour", 40)

    def act() -> None:
        made = serving_session(
            method, tasters, repeats=repeats, names=(reference, own), attribute=attribute,
            seed=seed,
        )  # fmt: skip
        pages = "\n".join(made.sheet(t) for t in range(1, made.tasters + 1))
        with st.container(horizontal=True, gap="small"):
            for words, text, file in (
                ("Sheets for the tasters (.txt)", pages, "sheets.txt"),
                ("Key for whoever serves (.txt)", made.key(), "key.txt"),
            ):
                st.download_button(
                    words, data=text.encode(), file_name=file, mime="text/plain",
                    key=f"_{file}", on_click="ignore",
                )  # fmt: skip
        with st.expander("The first sheet"):
            st.text(made.sheet(1))

    _said("sheets", act)


def _count(method: Method) -> None:
    st.subheader("What do the answers show?")
    right = _whole("right answers", "_right_answers", 0)
    trials = _whole("all answers", "_all_answers", 0)
    people = _whole("different tasters", "_people", 0)
    alike = st.toggle(
        "Ask whether they are alike, not whether they differ",
        key=_kept("_alike", False),
        on_change=session.take_typed,
        args=("_alike",),
    )
    if trials == 0:
        st.write("Count the answers against the key, and what they show stands here.")
        return

    def act() -> None:
        if people < 1:
            raise BadInput("The number of different tasters is missing. Give 1 if it was one.")
        ask = similarity if alike else difference
        st.html(look.listed(ask(method, right, trials, tasters=people).sentences))

    _said("count", act)


def _said(field: str, act: Callable[[], None]) -> None:
    """Draw a part; what cannot be meant is said in its place."""
    session.attempt(field, act)
    told(field)
