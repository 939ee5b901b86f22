"""What is missing? The gap that is tasted, what is ruled out, and what could fill it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import streamlit as st

from balancer.constants import AROMA_FAMILIES, AXIS_NAMES
from balancer.dashboard import asking, look, offers, otherwise, session, slow
from balancer.dashboard.asking import Asked
from balancer.dashboard.fields import told
from balancer.dashboard.work import Work, next_step, step_words
from balancer.export.markdown import escaped
from balancer.gap import LONGEST_GAP
from balancer.idea import Idea, Lacking, cooks, with_tried, without_tried
from balancer.ideas import gap_of
from balancer.kitchen import Outcome

PLACE = "missing"
COUNT = 6
SAID = "gap said"  # name of the cook's own words, among what the address keeps
HOW = """
Every food of the pantry, or of the whole table, is priced at once: how fast it would bring the
sauce nearer to its target, at most up to the largest share that makes sense of it. From the most
promising down each is then solved exactly, until none of the rest can do better; so the order is
the one of solving them all. What the tables only assume of a food never counts in its favour.
Foods that come equally near are ordered by the least grams. Two together are found one after the
other, so there may be better pairs. A gap is measured from how the sauce tastes now, in
just-noticeable differences (JND); what you do not name stays as it is.
"""


def draw() -> None:
    """Draw the page."""
    st.html('<h1 class="b-name">What is missing?</h1>')
    work = session.work()
    if work is None or not work.labels:
        st.write("Take a sauce in hand first: begin one, or open one from the kitchen book.")
        return
    solved = session.answer()
    if solved.outcome is None:
        st.error(escaped(solved.sentence))
        return
    told("ideas")
    if cooks(work.document):
        st.caption("Whatever is suggested goes in off the heat, so that it keeps its aroma.")
    if work.made_g:
        st.caption("What counts here is the plan of the sauce, not the pot as it was weighed.")
    left, right = st.columns(2, gap="large")
    with left:
        _question(work)
    with right:
        _answer(work, solved.outcome)
    otherwise.draw(work, solved.outcome)
    with st.expander("How this is computed"):
        st.markdown(HOW)
        answer = slow.found(PLACE)
        if answer is not None and answer.result is not None and answer.result.certificate:
            st.html(f"<b>The last search</b>{look.listed([answer.result.certificate])}")


# --- the question -------------------------------------------------------------------------------


def _question(work: Work) -> None:
    st.subheader("What does it lack?")
    st.text_input(
        "In your own words",
        key=session.bound("_gap", words_of(work.asked.gap)),
        placeholder="more sour, a touch thicker",
        max_chars=LONGEST_GAP,
        on_change=_spoken,
    )
    told("gap")
    st.caption("Or press; once more is more of it. With nothing said, it is the target it lacks.")
    for axis in AXIS_NAMES:
        _row(axis, work.asked.steps.get(axis, 0.0))
    st.selectbox(
        "Which aroma?",
        ["", *AROMA_FAMILIES],
        format_func=lambda f: f.replace("_", " ") or "any",
        key=session.bound("_family", work.asked.family),
        on_change=_set,
        args=("family", "_family"),
    )
    st.subheader("What may not go in?")
    words = asking.kinds()
    st.pills(
        "Leave out",
        list(words),
        format_func=lambda kind: words[kind],
        selection_mode="multi",
        key=session.bound("_kinds", list(work.asked.kinds)),
        on_change=_kinds,
    )
    st.text_input(
        "Not in the house: names with commas between",
        key=session.bound("_house", work.asked.house),
        placeholder="lime, fish sauce",
        max_chars=asking.LONGEST_LIST,
        on_change=_set,
        args=("house", "_house"),
    )
    st.toggle(
        "Look through the whole food table, not only the pantry",
        key=session.bound("_whole_table", work.asked.whole_table),
        on_change=_set,
        args=("whole_table", "_whole_table"),
    )


def _row(axis: str, step: float) -> None:
    with st.container(
        horizontal=True, vertical_alignment="center", gap="small", key=f"say_gap_{axis}"
    ):
        st.button(f"less {axis}", key=f"_gap_less_{axis}", on_click=_press, args=(axis, -1))
        st.button(
            f"✓ {step_words(axis, step)}" if step else f"{axis}: as it is",
            key=f"_gap_{axis}",
            type="primary" if step else "secondary",
            help="Press to take it back." if step else None,
            on_click=_press,
            args=(axis, 0),
        )
        st.button(f"more {axis}", key=f"_gap_more_{axis}", on_click=_press, args=(axis, 1))


def _press(axis: str, way: int) -> None:
    work = session.work()
    if work is None:
        return
    now = work.asked.steps.get(axis, 0.0)
    steps = {**work.asked.steps, axis: next_step(now, way) if way else 0.0}
    session.note("gap", "")
    offers.asked(steps={a: steps[a] for a in AXIS_NAMES if steps.get(a)})


def words_of(gap: str) -> str:
    """A gap in the words that the cook typed for it, else as the page writes it."""
    said: Mapping[str, str] = session.typed(SAID, {})
    return str(said.get("words", gap)) if said.get("gap") == gap else gap


def _spoken() -> None:
    text = str(st.session_state.get("_gap") or "")

    def act() -> None:
        if text.strip():
            offers.asked(**Asked.lacking(gap_of(text)))
        else:
            offers.asked(steps={}, family="")
        work = session.work()
        if work is not None:
            session.keep_typed(SAID, {"gap": work.asked.gap, "words": text})

    session.attempt("gap", act)


def _set(name: str, key: str) -> None:
    value = st.session_state.get(key)
    offers.asked(**{name: value if isinstance(value, bool) else str(value or "")})


def _kinds() -> None:
    offers.asked(kinds=tuple(st.session_state.get("_kinds") or ()))


# --- the answer ---------------------------------------------------------------------------------


def question(work: Work, outcome: Outcome) -> slow.Question:
    """The search that what is asked comes to."""
    asked = work.asked
    options = {
        "gap": asked.gap,
        "without": list(asked.without),
        "whole_table": asked.whole_table,
        "count": COUNT,
    }
    return slow.Question(PLACE, offers.to_solve(work, outcome), (), options)


def _answer(work: Work, outcome: Outcome) -> None:
    st.subheader("What could it be?")
    ask = question(work, outcome)
    if not work.asked.gap and not work.aimed:
        st.write("Nothing is asked of this sauce yet. Say what it lacks.")
    st.button(
        "Look for it",
        key="_look_missing",
        type="primary",
        width="stretch",
        on_click=offers.begin,
        args=(PLACE, ask),
    )
    told(PLACE)
    if not slow.watch(PLACE, "Looking through the food table"
                      if work.asked.whole_table else "Looking through the pantry"):  # fmt: skip
        found: Lacking | None = offers.current(PLACE, ask.key, outline)
        if found is not None:
            _found(work, outcome, found)
    _tried(work)


def outline(found: Lacking) -> list[str]:
    """What was found, one line each."""
    if found.is_reached:
        return ["What is in the bowl could do it."]
    return [idea.sentences[0] for idea in found.ideas] or ["Nothing that helps."]


def _found(work: Work, outcome: Outcome, found: Lacking) -> None:
    if found.is_reached:
        _in_the_bowl(dict(outcome.answer["quantities_g"]), found.quantities_g)
        return
    tried = set(work.document.get("tried", ()))
    left = [idea for idea in found.ideas if not tried & set(idea.names)]
    if found.breaks_limits:
        st.warning(found.certificate)
    else:
        st.write(f"As it is, the sauce is {offers.shown_off(found.base_jnd)} in all.")
    if not left:
        st.info(
            "No single ingredient that is left brings it nearer. Loosen a limit, rule out less, or"
            " look through the whole table."
        )
    for number, idea in enumerate(left):
        offers.card(
            idea,
            [
                ("Put it in", f"_put_in_{number}", _put_in(idea)),
                ("Tried, not it", f"_tried_{number}", _not_it(idea.names[0])),
            ],
            f"offer_{number}",
        )
    pairs = [pair for pair in found.pairs if not tried & set(pair.names)]
    if pairs:
        st.markdown("#### Two together come nearer")
        for number, pair in enumerate(pairs):
            presses = [("Put both in", f"_put_both_{number}", _put_in(pair))]
            offers.card(pair, presses, f"pair_{number}")


def _in_the_bowl(now_g: Mapping[str, float], then_g: Mapping[str, float]) -> None:
    """What is in the bowl reaches what is asked: the grams with which it does."""
    moved = look.moves(now_g, then_g)
    if not moved:
        st.success("Nothing is missing: the sauce tastes as it is asked to, with the grams it has.")
        return
    now, then = look.shown_g(now_g), look.shown_g(then_g)
    parts = [f"{label} {look.grams(then[label])} ({by})" for label, by in moved.items()]
    st.success(escaped(f"What is in the bowl can do it: {', '.join(parts)}."))
    rows = [
        (label, look.grams(now.get(label, 0.0)), look.grams(grams), moved.get(label, "·"))
        for label, grams in then.items()
    ]
    st.html(look.table(("in the bowl", "now", "then", "change"), rows))


def _put_in(idea: Idea) -> partial[None]:
    return partial(offers.take, idea.formula, answers_gap=True)


def _not_it(name: str) -> partial[None]:
    return partial(offers.mark, partial(_with, name=name))


def _with(document: dict[str, object], name: str) -> dict[str, object]:
    return with_tried(document, [name])


def _without(document: dict[str, object], name: str) -> dict[str, object]:
    return without_tried(document, name)


def _tried(work: Work) -> None:
    tried = list(work.document.get("tried", ()))
    if not tried:
        return
    st.markdown("#### Tried, not it")
    st.caption("Kept with the recipe, and not suggested again. Press one to take that back.")
    with st.container(horizontal=True, gap="small"):
        for number, name in enumerate(tried):
            st.button(
                f"↶ {escaped(called(name))}",
                key=f"_untried_{number}",
                on_click=offers.mark,
                args=(partial(_without, name=name),),
            )


def called(name: str) -> str:
    """What a cook reads for a name that may be a food number."""
    catalogue = session.kitchen().catalogue
    if name.isdigit() and name not in catalogue.by_key:
        return next((f.name for f in catalogue.table if f.key == name), name)
    return catalogue.by_key[name].name if name in catalogue.by_key else name
