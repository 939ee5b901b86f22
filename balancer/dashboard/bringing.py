"""Which ingredient brings how much of an axis: a waterfall from nothing to the sauce, and a table.

What cooking takes away is taken off each ingredient, so that the parts add up to the level reached.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, TypeAlias

import streamlit as st

from balancer.cli.show import level_text, target_text
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import look, session
from balancer.dashboard.fields import fold, ink
from balancer.dashboard.work import Work, band
from balancer.kitchen import Outcome
from balancer.taste import axis_matrix

#: Axes that the table always has; one more is shown while it is chosen.
FIRST: tuple[str, ...] = ("sweet", "sour", "salt", "volatile")
#: Bars of the waterfall; what is smaller is added up [1].
MOST_BARS = 8
#: Height of a bar with its gap, and of the scale under all of them.
STEP_PX, SCALE_PX = 28, 80
#: The picture is so much wider than its bars; the figures stand there [1].
ROOM = 1.35
BLUE, GREY = "#2f86b5", "#8a8a8a"
#: Shares of the level below which a part is drawn with the others, and not given in the table [1].
SMALL, NONE = 1e-2, 1e-3
#: Ingredient and what it brings [axis unit per 100 g of finished sauce].
Part: TypeAlias = tuple[str, float]


def draw(work: Work, outcome: Outcome) -> None:
    """Draw the fold, and in it the waterfall of one axis and the table of all."""
    part = fold("Which ingredient brings it", "_bringing")
    if not part.open:
        return
    with part:
        targets = work.document.get("target", {})
        kept = session.typed("_brings", "")
        first = kept if kept in AXIS_NAMES else next(iter(targets), FIRST[0])
        axis = str(
            st.selectbox(
                "On which axis?", AXIS_NAMES, key=session.bound("_brings", first),
                on_change=session.take_typed, args=("_brings",),
            )
        )  # fmt: skip
        found = parts(outcome, axis)
        if not found:
            st.write(f"Nothing chosen carries {axis}.")
        else:
            st.vega_lite_chart(picture(axis, found, targets.get(axis), ink()), width="stretch")
        shown = FIRST if axis in FIRST else (*FIRST, axis)
        st.html(
            look.fold("The same in figures, per 100 g of finished sauce", table(outcome, shown))
        )


def parts(outcome: Outcome, axis: str) -> list[Part]:
    """What each ingredient brings of an axis, the most first; those that bring nothing left out.

    Parameters
    ----------
    outcome : Outcome
        With quantities.
    axis : str

    Returns
    -------
    list of (str, float)
        Ingredient and its part of the level [axis unit per 100 g of finished sauce].
    """
    solution = outcome.solution
    problem = solution.problem  # as settled: what cooking takes is known
    own = problem.composition() @ axis_matrix()[:, AXIS_NAMES.index(axis)]
    brought = solution.grams * own / solution.blend.mass_g
    pairs = [(u.label, float(b)) for u, b in zip(problem.uses, brought, strict=True)]
    return sorted(((n, b) for n, b in pairs if b > 0.0), key=lambda pair: -pair[1])


def gathered(found: Sequence[Part]) -> list[Part]:
    """The largest parts, the rest as one.

    >>> gathered([("plums", 5.0), ("salt", 2.0), ("mace", 0.01), ("dill", 0.01)])
    [('plums', 5.0), ('salt', 2.0), ('2 others', 0.02)]
    """
    least = SMALL * sum(b for _, b in found)
    large = [pair for pair in found if pair[1] >= least][: MOST_BARS - 1]
    rest = found[len(large) :]
    if len(rest) <= 1:
        return list(found)
    return [*large, (f"{len(rest)} others", sum(b for _, b in rest))]


def words(axis: str, found: Sequence[Part], target: Any) -> str:
    """The waterfall in words."""
    unit = AXIS[axis].unit_per_100g
    listed = ", ".join(f"{name} {level_text(b)}" for name, b in gathered(found))
    wanted = "" if target is None else f"; wanted {target_text(target)}"
    whole = level_text(sum(b for _, b in found))
    return f"{axis}, in {unit}: {listed}; together {whole}{wanted}."


def picture(axis: str, found: Sequence[Part], target: Any, letters: str = GREY) -> dict[str, Any]:
    """The waterfall as a Vega-Lite chart: each bar begins where the one before ended.

    Parameters
    ----------
    axis : str
    found : sequence of (str, float)
        As :func:`parts` gives them.
    target : float, mapping or None
        Level or band that is wanted [axis unit per 100 g].
    letters : str
        Colour of the letters.
    """
    rows: list[dict[str, Any]] = []
    start = 0.0
    for name, brought in gathered(found):
        rows.append({"what": name, "from": start, "to": start + brought, "by": level_text(brought)})
        start += brought
    rows.append({"what": "together", "from": 0.0, "to": start, "by": level_text(start)})
    title = f"{axis} [{AXIS[axis].unit_per_100g}]"
    low, high = (start, start) if target is None else band(target)
    across = {
        "field": "from",
        "type": "quantitative",
        "title": title,
        "scale": {"domain": [0.0, ROOM * max(start, high)], "nice": False},
        "axis": {"tickCount": 4, "labelBound": True},
    }
    down = {
        "field": "what",
        "type": "nominal",
        "sort": None,
        "title": None,
        "axis": {"labelLimit": 120, "labelOverlap": False, "ticks": False},
    }
    place = {"x": across, "x2": {"field": "to"}, "y": down}
    hint = [
        {"field": "what", "type": "nominal", "title": "ingredient"},
        {"field": "by", "type": "nominal", "title": title},
    ]
    whole = {"test": "datum.what === 'together'", "value": GREY}
    layers: list[dict[str, Any]] = [
        {
            "mark": {"type": "bar", "height": 16},
            "encoding": {**place, "color": {"condition": whole, "value": BLUE}, "tooltip": hint},
        },
        {
            "mark": {"type": "text", "align": "right", "fontSize": 13, "color": letters},
            "encoding": {
                "x": {"value": "width"},
                "y": down,
                "text": {"field": "by", "type": "nominal"},
            },
        },
    ]
    if target is not None:
        ends = [
            {"at": end, "name": f"wanted {level_text(end)}"} for end in dict.fromkeys((low, high))
        ]
        at = {"field": "at", "type": "quantitative"}
        told = {"field": "name", "type": "nominal"}
        dashed = {"type": "rule", "strokeDash": [5, 3], "strokeWidth": 2, "color": GREY}
        over = {"type": "text", "y": -8, "fontSize": 13, "color": letters}
        layers += [
            {"data": {"values": ends}, "mark": dashed, "encoding": {"x": at}},
            {"data": {"values": ends[-1:]}, "mark": over, "encoding": {"x": at, "text": told}},
        ]
    return {
        "description": words(axis, found, target),
        "height": STEP_PX * len(rows) + SCALE_PX,
        "data": {"values": rows},
        "layer": layers,
    }


def table(outcome: Outcome, axes: Sequence[str]) -> str:
    """Every ingredient and what it brings of each axis, with the sums."""
    by_axis = {a: dict(parts(outcome, a)) for a in axes}
    whole = {a: sum(by_axis[a].values()) for a in axes}

    def cell(axis: str, label: str) -> str:
        brought = by_axis[axis].get(label, 0.0)
        return level_text(brought) if brought > NONE * whole[axis] else "·"

    labels = [u.label for u in outcome.problem.uses]
    rows = [(label, *(cell(a, label) for a in axes)) for label in labels]
    rows.append(("together", *(level_text(whole[a]) for a in axes)))
    head = ("ingredient", *(f"{a}\n{AXIS[a].unit}" for a in axes))
    return look.table(head, rows) + look.small("· : nothing, or under a thousandth of the level.")
