"""Is it the same as the reference? Serving sheets, how many tasters, and what the answers show."""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from balancer.dashboard import look, session
from balancer.dashboard.fields import told
from balancer.discrimination import Method, least_correct, panel_size
from balancer.errors import BadInput
from balancer.panel import ALPHA, difference, similarity
from balancer.serving import session as serving_session

METHODS = {
    Method.TRIANGLE: "triangle: two alike, one odd (ISO 4120)",
    Method.PAIRED: "pair: which is more ... (ISO 5495)",
}
FIRST_SHARE_PCT, FIRST_POWER_PCT = 30.0, 80.0


def draw() -> None:
    """Draw the three questions of a panel."""
    st.html('<h1 class="b-name">Is it the same?</h1>')
    st.write(
        "Serve your sauce beside the reference, blind, in balanced order, and count the right"
        " answers. One taster who repeats it speaks for one tongue only."
    )
    method = Method(
        st.radio("How it is served", list(METHODS), format_func=lambda m: METHODS[m], key="_method")
    )
    left, right = st.columns(2, gap="large")
    with left:
        _size(method)
        _sheets(method)
    with right:
        _count(method)


def _whole(words: str, key: str, first: int) -> int:
    return int(st.number_input(words, key=key, value=first, step=1) or 0)


def _size(method: Method) -> None:
    st.subheader("How many tasters?")
    share = st.number_input(
        "share of people who can tell that must not be missed (%)", key="_share",
        value=FIRST_SHARE_PCT, step=5.0, format="%g",
    )  # fmt: skip
    power = st.number_input(
        "odds of finding it (%)", key="_power", value=FIRST_POWER_PCT, step=5.0, format="%g"
    )

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
    reference = st.text_input("What A is", value="the reference", key="_panel_a", max_chars=80)
    work = session.work()
    own = st.text_input(
        "What B is", value=work.name if work else "our sauce", key="_panel_b", max_chars=80
    )
    attribute = ""
    if method is not Method.TRIANGLE:
        attribute = st.text_input("More of what?", value="sour", key="_attribute", max_chars=40)

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
    alike = st.toggle("Ask whether they are alike, not whether they differ", key="_alike")
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
