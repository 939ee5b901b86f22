"""Other ways to the same balance, and what stands in for an ingredient that ran out."""

from __future__ import annotations

from functools import partial
from html import escape

import streamlit as st

from balancer.alternatives import WAYS
from balancer.dashboard import asking, look, offers, session, slow
from balancer.dashboard.fields import told
from balancer.dashboard.work import Work, solvable
from balancer.export.markdown import escaped
from balancer.idea import Formula, OtherWays, StandIns
from balancer.kitchen import Outcome

WAYS_PLACE, GONE_PLACE = "other_ways", "instead"
STAND_INS = 3
#: Formulas side by side.
IN_A_ROW = 3


def draw(work: Work, outcome: Outcome) -> None:
    """Draw both parts, one below the other."""
    _ways(work, outcome)
    _ran_out(work)


# --- other ways ---------------------------------------------------------------------------------


def _ways(work: Work, outcome: Outcome) -> None:
    st.subheader("Other ways to the same balance")
    st.write("Formulas of other ingredients that taste alike, within 1 JND on each axis.")
    st.number_input(
        "of at most so many ingredients",
        asking.FEWEST_ITEMS,
        asking.MOST_ITEMS,
        key=session.bound("_items", work.asked.items),
        on_change=_items,
    )
    ask = slow.Question(
        WAYS_PLACE,
        offers.to_solve(work, outcome),
        (),
        {"most": work.asked.items, "without": list(work.asked.without), "count": WAYS},
    )
    st.button("Find other ways", key="_look_ways", on_click=offers.begin, args=(WAYS_PLACE, ask))
    told(WAYS_PLACE)
    if slow.watch(WAYS_PLACE, "Looking for other ways"):
        return
    found: OtherWays | None = offers.current(WAYS_PLACE, ask.key, _ways_outline)
    if found is None:
        return
    if not found.ways:
        st.info(
            f"No other formula of at most {work.asked.items} ingredients tastes alike. Allow more"
            " ingredients, or take a minimum away."
        )
        return
    now = Formula(found.quantities_g)
    cards: list[tuple[str, Formula, list[str], list[str]]] = [
        ("As it is", now, [f"{offers.shown_off(found.off_jnd)} in all"], [])
    ]
    for number, way in enumerate(found.ways, 1):
        off = [f"{offers.shown_off(way.off_jnd)} in all"]
        unsure = [] if way.confirmed else ["its pH or water activity may be over the limit"]
        gains = [f"+ {gain}" for gain in way.gains] or ["nothing of note gained"]
        costs = [f"− {cost}" for cost in (*way.costs, *unsure)]
        cards.append((f"Way {number}", way.formula, [*off, *gains], costs))
    for first in range(0, len(cards), IN_A_ROW):
        for place, column in enumerate(st.columns(IN_A_ROW, gap="small")):
            if first + place < len(cards):
                with column:
                    _way(first + place, *cards[first + place], now)


def _way(
    number: int, title: str, formula: Formula, good: list[str], bad: list[str], now: Formula
) -> None:
    with st.container(border=True, key=f"way_{number}"):
        st.html(f'<h4 class="b-offer">{escape(title)}</h4>{look.listed([*good, *bad])}')
        order = sorted(formula.quantities_g.items(), key=lambda item: -item[1])
        rows = [
            (label if now.quantities_g.get(label, 0.0) > 0 else f"{label}\nnew", look.grams(g))
            for label, g in order
            if look.grams(g) != "0 g"
        ]
        st.html(look.table(("ingredient", "quantity"), rows))
        if number:
            st.button(
                "Take this one",
                key=f"_take_way_{number}",
                width="stretch",
                on_click=offers.take,
                args=(formula,),
            )


def _ways_outline(found: OtherWays) -> list[str]:
    return [
        ", ".join(f"{label} {look.grams(g)}" for label, g in way.formula.quantities_g.items())
        for way in found.ways
    ] or ["Nothing else that tastes alike."]


def _items() -> None:
    offers.asked(items=int(st.session_state.get("_items") or asking.USUAL_ITEMS))


# --- what ran out -------------------------------------------------------------------------------


def _ran_out(work: Work) -> None:
    st.subheader("It ran out")
    st.write("What stands in for an ingredient, with everything else set so that the taste stays.")
    gone = work.asked.gone if work.asked.gone in work.labels else ""
    st.selectbox(
        "What ran out?",
        ["", *work.labels],
        format_func=lambda label: label or "choose",
        key=session.bound("_gone", gone),
        on_change=_gone,
    )
    if not gone:
        return
    asked = work.asked
    options = {
        "without": list(asked.without), "whole_table": asked.whole_table, "count": STAND_INS,
    }  # fmt: skip
    ask = slow.Question(GONE_PLACE, solvable(work.document), (gone,), options)
    st.button(
        "Find what stands in", key="_look_instead", on_click=offers.begin, args=(GONE_PLACE, ask)
    )
    told(GONE_PLACE)
    if slow.watch(GONE_PLACE, "Looking for what stands in"):
        return
    found: StandIns | None = offers.current(GONE_PLACE, ask.key, _stand_ins_outline)
    if found is not None:
        _stand_ins(found)


def _stand_ins(found: StandIns) -> None:
    lack = found.found
    st.write(
        escaped(
            f"Without {found.gone} ({look.grams(found.gone_g)}) the sauce is"
            f" {lack.base_jnd:.1f} JND from how it was."
        )
    )
    if found.freed:
        st.caption(escaped(f"Unlocked, so that the taste can stay: {', '.join(found.freed)}."))
    if lack.is_reached:
        st.write("The rest makes up for it; nothing has to take its place.")
        st.button("Leave it out", key="_leave_out", type="primary", on_click=offers.take,
                  args=(found.without,))  # fmt: skip
        return
    if lack.breaks_limits:
        st.warning(lack.certificate)
    if not lack.ideas:
        st.info("Nothing brings it nearer. Rule out less, or look through the whole table.")
    both = lack.pairs[:1] if found.takes_two else ()
    columns = st.columns(IN_A_ROW, gap="small")
    for number, idea in enumerate((*lack.ideas, *both)):
        words = "Use it instead" if len(idea.names) == 1 else "Use both instead"
        with columns[number % IN_A_ROW]:
            press = (words, f"_instead_{number}", partial(offers.take, idea.formula))
            offers.card(idea, [press], f"stand_in_{number}")


def _stand_ins_outline(found: StandIns) -> list[str]:
    return [idea.sentences[0] for idea in found.found.ideas] or ["Nothing has to, or nothing can."]


def _gone() -> None:
    offers.asked(gone=str(st.session_state.get("_gone") or ""))
