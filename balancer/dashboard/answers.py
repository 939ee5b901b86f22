"""What a tasting leads to: what was learned, what to add to this pot, how to make the next."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from html import escape
from typing import Any

import streamlit as st

from balancer.dashboard import keep, look, pot, session, telling
from balancer.dashboard.fields import checked, fold, number, told
from balancer.dashboard.tasted import refused
from balancer.dashboard.telling import Told
from balancer.dashboard.work import Work, into_next_batch, into_pot
from balancer.errors import BadInput, BalancerError
from balancer.kitchen import Outcome
from balancer.safety import wording
from balancer.search import resolve
from balancer.wishes import LARGEST_MASS_G

LARGEST_GROWTH_PCT = 500.0


def draw(work: Work, outcome: Outcome) -> None:
    """Draw both answers to the tasting in view, or how to bring a pot back to its recipe."""
    st.subheader("What to do about it")
    try:
        found = _told(work, outcome)
        if found is not None:
            _draw(work, outcome, found)
        elif work.made_g and work.added:
            _just_added(work)
        elif work.made_g and work.aimed:
            _off_recipe(work, outcome)
        elif work.saved_name:
            st.write("Say what is off and keep the round: what it taught and the grams stand here.")
        else:
            st.write("Say what is off, and the grams to add and the next batch stand here.")
    except BalancerError as error:
        refused(error)
    if work.steps or work.tasted or work.made_g:
        _rules(work)


def _told(work: Work, outcome: Outcome) -> Told | None:
    kitchen = session.kitchen()
    rules = [work.also, work.growth_pct, work.scale_g]
    if work.saved_name and work.tasted:
        read = dict(work.answered)
        key = json.dumps([work.saved_name, work.tasted, work.revision, rules, read])
        return session.cached("told", key, lambda: telling.of_round(kitchen, work))
    if work.steps and not work.kept:
        made = [dict(work.steps), dict(work.made_g), session.answer().request]
        key = json.dumps([made, rules])
        return session.cached("told", key, lambda: telling.of_words(kitchen, work, outcome))
    return None


def _draw(work: Work, outcome: Outcome, found: Told) -> None:
    kept = bool(work.tasted)
    head = "From your last note" if kept or st.session_state.get("unheard") else "Understood"
    if found.said:
        st.html(f"<b>{head}:</b> {escape(found.said)}.")
    if kept:
        st.markdown(f"#### Round {work.tasted}: what was learned")
        st.html(look.listed(found.sentences))
    else:
        st.button("Begin the tasting again", key="_unsay", on_click=_unsay)
    with st.container(border=True):
        st.markdown("#### Add to this pot")
        if kept and work.answered:
            st.caption("As you read it before; what was learned goes into the next batch.")
        pourable = pot.draw(found.pot)
        _cautions(found.nudge.pot.answer, outcome.answer)
        if pourable:
            _go("I added this", "_added", lambda now: _after_pot(now, outcome, found))
    with st.container(border=True):
        _next(found, outcome.answer)


def _after_pot(work: Work, outcome: Outcome, found: Told) -> Work:
    kitchen = session.kitchen()
    document = found.nudge.next_batch.document
    water = telling.water_of(kitchen, found.nudge.next_batch.answer)
    now = telling.poured(kitchen, found.pot, found.in_pot_g, water)
    return into_pot(work, document, found.in_pot_g, now)


def _just_added(work: Work) -> None:
    """Nothing is known of a pot that was just added to until it is tasted."""
    st.write(
        "Keep the round: what it taught and the grams stand here."
        if work.steps
        else "Stir, taste, and say what is off."
    )
    if work.aimed:
        st.button(
            "Or bring it to its recipe by weight", key="_by_weight", on_click=_by_weight,
            help="What the grams in the pot say, before anything is tasted.",
        )  # fmt: skip


def _by_weight() -> None:
    work = session.work()
    if work is not None:
        session.put(replace(work, added=False))


def _off_recipe(work: Work, outcome: Outcome) -> None:
    kitchen = session.kitchen()
    key = json.dumps(
        [session.answer().request, dict(work.made_g), work.also, work.growth_pct, work.scale_g]
    )
    found = session.cached("off", key, lambda: telling.off_recipe(kitchen, work, outcome))
    in_pot = {**outcome.answer["quantities_g"], **work.made_g}

    def after(now: Work) -> Work:
        water = telling.water_of(kitchen, outcome.answer)
        poured = telling.poured(kitchen, found, in_pot, water)
        return into_pot(now, now.document, in_pot, poured)

    with st.container(border=True):
        st.markdown("#### Bring this pot to its recipe")
        st.caption("By the grams weighed, before anything is tasted.")
        if pot.draw(found):
            _go("I added this", "_added", after)


def _go(words: str, key: str, after: Callable[[Work], Work]) -> None:
    def act() -> None:
        work = session.work()
        if work is not None:
            _go_on(after(work))

    st.button(words, key=key, type="primary", width="stretch", on_click=act)


def _next(found: Told, beside: Mapping[str, Any]) -> None:
    st.markdown("#### Next batch")
    answer = found.nudge.next_batch.answer
    if not answer["quantities_g"]:
        st.write("The limits contradict each other.")
        st.html(look.listed([r["sentence"] for r in answer["relax"]]))
        return
    st.html(look.moved_table(found.in_pot_g, answer["quantities_g"], "next"))
    if answer["relax"]:
        give = look.listed([r["sentence"] for r in answer["relax"]])
        st.html(f"<b>As near as the limits allow. What would have to give</b>{give}")
    _cautions(answer, beside)
    _go(
        "Go on with the next batch",
        "_next",
        lambda now: into_next_batch(now, found.nudge, found.in_pot_g),
    )


def _unsay() -> None:
    work = session.work()
    if work is not None:
        session.put(replace(work, steps={}))
        st.session_state["_words"] = ""
        st.session_state["unheard"] = False
        session.note("guessed", "")


def _cautions(answer: Mapping[str, Any], beside: Mapping[str, Any]) -> None:
    """Cautions that an answer adds to those beside the bowl; the same with other figures fold."""
    said = {wording(caution) for caution in beside["cautions"]}
    other = [caution for caution in answer["cautions"] if caution not in beside["cautions"]]
    new = [caution for caution in other if wording(caution) not in said]
    if new:
        st.html(look.cautions(new))
    if len(new) < len(answer["cautions"]):
        st.caption("⚠ The cautions beside the bowl hold here too.")
    figures = [caution for caution in other if caution not in new]
    if figures:
        title = f"⚠ The same cautions with the figures of this one ({len(figures)})"
        st.html(look.fold(title, look.listed(figures)))


def _go_on(work: Work) -> None:
    """Take what was led to in hand; of a saved sauce it becomes the next revision."""
    session.put(work)
    st.session_state["_words"] = ""
    st.session_state["unheard"] = False
    st.session_state["weighing"] = bool(work.made_g)
    session.note("words", "")
    session.note("guessed", "")
    if work.saved_name:
        keep.minding(
            work.saved_name,
            "round",
            lambda: session.put(telling.went_on(session.kitchen(), work)),
        )


# --- what holds for the pot ---------------------------------------------------------------------


def _rules(work: Work) -> None:
    part = fold("What may go in, how far the pot may grow, the scale", "_rules")
    if not part.open:
        return
    with part:
        st.text_input(
            "May also go into the pot: names with commas between",
            key=session.bound("_also", ", ".join(work.also)),
            placeholder="water, lime juice",
            max_chars=400,
            on_change=_also,
        )
        told("also")
        number("the pot may grow by at most (%)", "_growth_pct", work.growth_pct, _growth, (), 5.0)
        told("growth")
        number("step of the scale (g)", "_scale_g", work.scale_g, _scale, (), 0.1)
        told("scale")


def _also() -> None:
    work = session.work()
    text = str(st.session_state.get("_also") or "")
    if work is None:
        return

    def act() -> None:
        names = tuple(dict.fromkeys(n.strip() for n in text.split(",") if n.strip()))
        for name in names:
            resolve(session.kitchen().catalogue, name)
        session.put(replace(work, also=names))

    session.attempt("also", act)


def _growth() -> None:
    work, value = session.work(), st.session_state.get("_growth_pct")

    def act() -> None:
        checked(value, "The growth of the pot", "%", LARGEST_GROWTH_PCT)
        if work is not None and value is not None:
            session.put(replace(work, growth_pct=float(value)))

    session.attempt("growth", act)


def _scale() -> None:
    work, value = session.work(), st.session_state.get("_scale_g")

    def act() -> None:
        if not value or not 0.0 < value <= LARGEST_MASS_G:
            raise BadInput("The step of the scale has to be above 0 g. Give 1, or 0.1 for a finer.")
        if work is not None:
            session.put(replace(work, scale_g=float(value)))

    session.attempt("scale", act)
