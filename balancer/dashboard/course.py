"""The course of the rounds on one axis: what was made, wanted and learned, as picture and table."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import streamlit as st

from balancer.cli.show import level_text, target_text
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import look, session
from balancer.dashboard.fields import fold
from balancer.dashboard.work import Work, band
from balancer.loop import Sauce
from balancer.palate import Palate
from balancer.taste import from_z
from balancer.uncertainty.coefficients import COVERAGE

HEIGHT_PX = 260
BLUE, GREY, ORANGE = "#2f86b5", "#8a8a8a", "#d55e00"
LEGEND = (
    "● as made, joined from round to round. ◇ wanted when it was made. ▮ where you want it, learned"
    " up to then: nine in ten odds."
)


@dataclass(frozen=True)
class Step:
    """One round on one axis; levels in the axis unit per 100 g.

    Parameters
    ----------
    number : int
        Round, counted from 1.
    made : float
    wanted : float, mapping or None
        Level or band that was aimed at; None where nothing was.
    learned : tuple of float or None
        Ends of the range in which the ideal lies; None where nothing was said of the axis so far.
    """

    number: int
    made: float
    wanted: Any
    learned: tuple[float, float] | None


def draw(work: Work, sauce: Sauce, answers: Sequence[Mapping[str, Any]]) -> None:
    """Draw the fold, and in it one axis.

    Parameters
    ----------
    work : Work
    sauce : Sauce
    answers : sequence of mapping
        The answer that each round tasted.
    """
    part = fold("The course of the rounds, as a picture", "_course")
    if not part.open:
        return
    with part:
        palates = session.cached(
            "course",
            f"{work.saved_name} {len(sauce.rounds)}",
            lambda: session.kitchen().course(work.saved_name),
        )
        judged = palates[-1].judged
        others = [a for a in AXIS_NAMES if a not in judged and sauce.rounds[-1]["round"]["made"][a]]
        axis = str(st.selectbox("Which axis?", [*judged, *others], key="_course_axis"))
        steps = steps_of(axis, sauce, answers, palates)
        st.vega_lite_chart(picture(axis, steps), width="stretch")
        st.html(look.small(LEGEND) + look.fold("The same in figures", table(axis, steps)))


def steps_of(
    axis: str, sauce: Sauce, answers: Sequence[Mapping[str, Any]], palates: Sequence[Palate]
) -> list[Step]:
    """The rounds of a sauce on one axis."""
    i = AXIS_NAMES.index(axis)
    return [
        Step(
            number,
            float(kept["round"]["made"][axis]),
            answer["profile"][axis]["target"],
            _range(palate, i) if axis in palate.judged else None,
        )
        for number, (kept, answer, palate) in enumerate(
            zip(sauce.rounds, answers, palates, strict=True), 1
        )
    ]


def _range(palate: Palate, i: int) -> tuple[float, float]:
    half = COVERAGE.value * float(palate.sd_jnd[i])
    z = float(palate.ideal_z[i])
    low, high = (float(from_z(max(at, 0.0), AXIS_NAMES[i])) for at in (z - half, z + half))
    return low, high


def picture(axis: str, steps: Sequence[Step]) -> dict[str, Any]:
    """The course as a Vega-Lite chart; made, wanted and learned have shapes of their own."""
    number = {"field": "round", "type": "ordinal", "title": "round", "axis": {"labelAngle": 0}}
    title = f"{axis} [{AXIS[axis].unit_per_100g}]"

    def level(field: str) -> dict[str, Any]:
        return {"field": field, "type": "quantitative", "title": title, "scale": {"zero": False}}

    def layer(rows: list[dict[str, Any]], mark: dict[str, Any], **more: Any) -> dict[str, Any]:
        return {"data": {"values": rows}, "mark": mark, "encoding": {"x": number, **more}}

    made = [{"round": s.number, "level": s.made, "what": "as made"} for s in steps]
    wanted = [
        {"round": s.number, "level": sum(band(s.wanted)) / 2, "what": "wanted"}
        for s in steps
        if s.wanted is not None
    ]
    learned = [
        {"round": s.number, "level": s.learned[0], "high": s.learned[1]}
        for s in steps
        if s.learned is not None
    ]
    hint = [
        {"field": "what", "type": "nominal", "title": "what"},
        {**level("level"), "format": ".3g", "scale": None},
    ]
    return {
        "description": words(axis, steps),
        "height": HEIGHT_PX,
        "layer": [
            layer(
                learned,
                {"type": "bar", "width": 16, "color": GREY, "opacity": 0.45},
                y=level("level"),
                y2={"field": "high"},
            ),
            layer(
                made,
                {"type": "line", "aria": False, "color": BLUE, "strokeWidth": 2},
                y=level("level"),
            ),
            layer(
                made,
                {"type": "point", "shape": "circle", "size": 120, "filled": True, "color": BLUE,
                 "opacity": 1.0},
                y=level("level"),
                tooltip=hint,
            ),
            layer(
                wanted,
                {"type": "point", "shape": "diamond", "size": 220, "strokeWidth": 2.5,
                 "color": ORANGE, "opacity": 1.0},
                y=level("level"),
                tooltip=hint,
            ),
        ],
    }  # fmt: skip


def words(axis: str, steps: Sequence[Step]) -> str:
    """The course in words, with its unit."""
    told = [
        f"round {s.number}: made {level_text(s.made)}, wanted {_wanted(s)}, learned {_learned(s)}"
        for s in steps
    ]
    return f"{axis}, in {AXIS[axis].unit_per_100g}. {'; '.join(told)}."


def _wanted(step: Step) -> str:
    return "nothing" if step.wanted is None else target_text(step.wanted)


def _learned(step: Step) -> str:
    if step.learned is None:
        return "nothing yet"
    return f"{level_text(step.learned[0])} to {level_text(step.learned[1])}"


def table(axis: str, steps: Sequence[Step]) -> str:
    """The course as a table."""
    unit = AXIS[axis].unit_per_100g
    rows = [(f"round {s.number}", _wanted(s), level_text(s.made), _learned(s)) for s in steps]
    return look.table((f"{axis}\n{unit}", "wanted", "as made", "learned, nine in ten"), rows)
