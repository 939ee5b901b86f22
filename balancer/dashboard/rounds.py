"""Rounds of a saved sauce: what was made and said, side by side, back again, and by spoons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from html import escape
from typing import Any

import streamlit as st

from balancer.cli.show import level_text, target_text
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import course, keep, look, session, telling
from balancer.dashboard.fields import fold, told
from balancer.dashboard.work import Work
from balancer.errors import BadInput, BalancerError
from balancer.export.markdown import escaped
from balancer.ladder import Ladder
from balancer.loop import Sauce

#: Below this two levels are as good as the same [JND].
ALIKE_JND = 0.05


def draw(work: Work) -> None:
    """Draw the rounds that are kept, and what can be done with them."""
    if not work.saved_name:
        _unsaved(work)
        return
    try:
        sauce = session.kitchen().sauce(work.saved_name)
        if not sauce.rounds:
            return
        st.subheader("Rounds so far")
        answers = [_revision(work.saved_name, kept) for kept in sauce.rounds]
        numbers = range(len(sauce.rounds), 0, -1)
        st.html("".join(_round(sauce, number, answers[number - 1]) for number in numbers))
        course.draw(work, sauce, answers)
        _back(work, sauce)
        _side_by_side(work, sauce)
        _spoons(work, sauce)
    except BalancerError as error:
        st.error(escaped(session.sentence(error)))


def _unsaved(work: Work) -> None:
    if work.rounds:
        st.subheader("Rounds so far")
        st.html(
            look.listed(
                [f"{i}: {r.said}; went on with the {r.then}" for i, r in enumerate(work.rounds, 1)]
            )
        )


# --- the course of the rounds -------------------------------------------------------------------


def _revision(name: str, document: Mapping[str, Any]) -> Mapping[str, Any]:
    """The answer of the revision that a round tasted."""
    number = int(document["revision"])
    return session.cached(
        f"revision {number}",
        f"{name} {number}",
        lambda: dict(session.kitchen().saved(name, number)["answer"]),
    )


def said_in(document: Mapping[str, Any]) -> str:
    """What was said in a round."""
    if document["said"]:
        return str(document["said"])
    return "marked beside the reference"


def _round(sauce: Sauce, number: int, answer: Mapping[str, Any]) -> str:
    document = sauce.rounds[number - 1]
    tasted = document["round"]
    close = ", ".join(f"{what} {score:g}" for what, score in tasted["closeness"].items())
    facts = [f"{'from a spoon' if tasted['place'] == 'spoon' else 'on the food'}"]
    if tasted["temperature_c"] is not None:
        facts.append(f"at {tasted['temperature_c']:g} °C")
    if close:
        facts.append(f"close to it, of 10: {close}")
    levels = [
        (
            f"{axis}\n{AXIS[axis].unit_per_100g}",
            target_text(answer["profile"][axis]["target"]),
            level_text(tasted["made"][axis]),
        )
        for axis in AXIS_NAMES
        if tasted["made"][axis] > 0
    ]
    grams = [(name, look.grams(g)) for name, g in document["made_g"].items()]
    inside = (
        look.table(("axis", "wanted", "as made"), levels)
        + look.table(("ingredient", "in the pot"), grams)
        + (look.small(f"Notes: {tasted['notes']}") if tasted["notes"] else "")
    )
    return (
        f"<div><b>Round {number}</b>, revision {document['revision']}:"
        f" {escape(said_in(document))}<div class='b-small'>{escape('; '.join(facts))}</div>"
        f"{look.fold(f'Levels and quantities of round {number}', inside)}</div>"
    )


# --- back to a round ----------------------------------------------------------------------------


def _back(work: Work, sauce: Sauce) -> None:
    part = fold("Go back to a round", "_back_fold")
    if not part.open:
        return
    with part:
        st.write("Its batch becomes the newest revision; nothing is overwritten.")
        with st.container(horizontal=True, gap="small"):
            for number in range(1, len(sauce.rounds) + 1):
                st.button(
                    f"Back to round {number}",
                    key=f"_back_{number}",
                    on_click=_go_back,
                    args=(number,),
                )
        told("back")


def _go_back(number: int) -> None:
    work = session.work()

    def act() -> None:
        if work is None:
            return
        kitchen = session.kitchen()
        revision = kitchen.go_back(work.saved_name, number)
        back = telling.opened(kitchen, work.saved_name)
        session.put(replace(back, rounds=work.rounds, past=(*work.past, work)))
        session.note("saved", f"Round {number} is the newest revision now, number {revision}.")

    session.attempt("back", act)


# --- side by side -------------------------------------------------------------------------------


def _side_by_side(work: Work, sauce: Sauce) -> None:
    part = fold("Two rounds, sauces or profiles side by side", "_sides")
    if not part.open:
        return
    with part:
        store = session.kitchen().store
        choices: dict[str, tuple[str, int | None]] = {
            f"round {n}": (work.saved_name, n) for n in range(1, len(sauce.rounds) + 1)
        }
        choices |= {f"sauce: {r.name}": (r.name, None) for r in store.recipes()}
        choices |= {f"profile: {p.name}": (p.name, None) for p in store.profiles()}
        names = list(choices)
        last, now = len(sauce.rounds) - 1, names.index(f"sauce: {work.saved_name}")
        first = str(st.selectbox("First", names, index=last, key="_first_side"))
        second = str(st.selectbox("Second", names, index=now, key="_second_side"))
        (one, one_round), (other, other_round) = choices[first], choices[second]
        found = session.kitchen().compare(one, other, (one_round, other_round))
        rows = [
            (
                f"{d.axis}\n{d.unit}",
                level_text(d.first),
                level_text(d.second),
                apart(d.steps_jnd),
            )
            for d in found
            if d.first > 0 or d.second > 0
        ]
        st.html(look.table(("axis", "first", "second", "second is"), rows))


def apart(steps_jnd: float) -> str:
    """How far the second lies from the first, in words.

    >>> apart(1.23), apart(-0.4), apart(0.01)
    ('▲ 1.2 JND more', '▼ 0.4 JND less', '● the same')
    """
    if abs(steps_jnd) < ALIKE_JND:
        return "● the same"
    way = ("▲", "more") if steps_jnd > 0 else ("▼", "less")
    return f"{way[0]} {abs(steps_jnd):.1f} JND {way[1]}"


# --- spoons -------------------------------------------------------------------------------------


def _spoons(work: Work, sauce: Sauce) -> None:
    judged = [a for a in AXIS_NAMES if any(a in r["round"]["words"] for r in sauce.rounds)]
    if not judged:
        return
    part = fold("A few spoons: find one level in a single sitting", "_spoons")
    if not part.open:
        return
    with part:
        st.write(
            "Take small samples out of the pot of the last round, dose them apart, taste them from"
            " the first to the last, and say which is nearest to what you have in mind."
        )
        axis = st.pills("On which axis?", judged, key="_spoon_axis")
        told("spoons")
        if axis is None:
            return
        kept = len(sauce.rounds)
        ladder = session.cached(
            "spoons",
            f"{work.saved_name} {kept} {axis}",
            lambda: session.kitchen().spoons(work.saved_name, str(axis)),
        )
        _ladder(ladder, kept)


def _ladder(ladder: Ladder, kept: int) -> None:
    for i, spoon in enumerate(ladder.spoons, 1):
        st.html(f"<b>Sample {i}</b>: {escape(str(spoon))}")
        st.button(
            f"Sample {i} is nearest",
            key=f"_spoon_{i}",
            on_click=_nearest,
            args=(ladder, i, kept),
            width="stretch",
        )
    st.html(
        look.listed(
            [
                f"The samples take {ladder.taken_g:.0f} g; {ladder.pot_left_g:.0f} g stay in the"
                " pot.",
                f"The answer is expected to settle {100 * ladder.fall:.0f} % of the doubt.",
                *ladder.remarks,
            ]
        )
    )


def _nearest(ladder: Ladder, sample: int, kept: int) -> None:
    work = session.work()

    def act() -> None:
        if work is None:
            return
        kitchen = session.kitchen()
        if len(kitchen.store.rounds(work.saved_name)) != kept:
            raise BadInput(
                "Another round was kept meanwhile, so these spoons are not those of the last pot."
                " Read the new ones below and taste again."
            )
        found = kitchen.answer_spoons(
            work.saved_name, ladder.axis, [sample], keep_plan=False, ladder=ladder
        )
        session.put(replace(work, kept=found.number, tasted=found.number, answered={}))

    keep.minding(work.saved_name if work else "", "spoons", act)
