"""How to correct a pot: what to weigh in, in which parts, and what else can be done."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import streamlit as st

from balancer.additions import Plan
from balancer.constants import AXIS
from balancer.dashboard import look
from balancer.pot import Correction


def draw(found: Correction) -> bool:
    """Draw the additions and what stands beside them.

    Returns
    -------
    bool
        Whether there is anything to weigh in.
    """
    plan = found.plan
    if plan is None:
        st.write("Within the growth allowed the limits contradict each other.")
    else:
        _plan(plan, found.readability_g)
        if not plan.exact_within:
            st.html(f"<b>As near as adding can bring it.</b>{look.listed(_short(plan))}")
        elif not plan.within:
            st.html(
                f"<b>In steps of {found.readability_g:g} g the scale cannot meet all of it; a finer"
                f" scale or a larger pot can.</b>{look.listed(_short(plan))}"
            )
    _others(found)
    if found.notes:
        st.html(look.listed(found.notes))
    return plan is not None and bool(plan.additions)


def _plan(plan: Plan, step: float) -> None:
    if not plan.additions:
        st.write(
            "Nothing: every axis is within 1 JND already."
            if plan.exact_within
            else "Nothing that may go in brings it nearer."
        )
        return
    made = plan.steps(step)[: -len(plan.additions)]
    if made:
        st.html(f"<b>First make</b>{look.listed(made)}")
    for addition in plan.additions:
        if addition.pinch:
            st.html(f"<div>+ {escape(addition.sentence())}</div>")
            continue
        st.html(look.addition_row(addition.what, addition.weigh_g, step))
        if addition.rest_g > 0:
            st.html(
                look.small(
                    f"{look.on_scale(addition.first_g, step)} first; stir, taste, then up to"
                    f" {look.on_scale(addition.rest_g, step)} more:"
                    f" {' and '.join(addition.raises)} cannot be taken back."
                )
            )
    st.caption(
        f"The pot grows from {look.grams(plan.start_g)} to {look.grams(plan.finish_g)},"
        f" by {100 * plan.growth:.0f} %."
    )


def _short(plan: Plan) -> list[str]:
    """Axes that are not reached, with what is missing."""
    return [
        f"{s.axis}: {s.after:.3g} {AXIS[s.axis].unit_per_100g} then,"
        f" {look.off_words(s.miss_after_jnd)[2:]}"
        for s in plan.states
        if not s.within and abs(s.miss_after_jnd) >= look.SHOWN_JND
    ]


def _others(found: Correction) -> None:
    """Ways round a pot that adding cannot bring there: growing, setting aside, boiling off."""
    ways: list[tuple[str, Sequence[str]]] = []
    if found.dilute is not None:
        ways.append(
            (
                f"Let the pot grow to {look.grams(found.dilute.finish_g)},"
                f" by {100 * found.dilute.growth:.0f} %",
                found.dilute.steps(found.readability_g),
            )
        )
    if found.set_aside is not None:
        aside = found.set_aside
        ways.append(
            (
                f"Set {look.grams(aside.set_aside_g)} aside",
                [*aside.sentences(), *aside.plan.steps(found.readability_g)],
            )
        )
    if found.reduction is not None and found.after_reduction is not None:
        ways.append(
            (
                "Boil it down first",
                [
                    *found.reduction.sentences(),
                    *found.after_reduction.steps(found.readability_g),
                ],
            )
        )
    for title, lines in ways:
        with st.expander(f"Or: {title}"):
            st.html(look.listed(lines))
