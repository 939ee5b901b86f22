"""Sour against sweet as a map: what is reachable, where the sauce is, was and should be."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import streamlit as st

from balancer.cli.show import level_text
from balancer.constants import AXIS, AXIS_NAMES
from balancer.dashboard import look, session
from balancer.dashboard.fields import fold, ink
from balancer.dashboard.region import reachable
from balancer.dashboard.work import Work, band
from balancer.kitchen import Outcome
from balancer.taste import axis_matrix

ACROSS, UP = "sweet", "sour"
HEIGHT_PX = 340
BLUE, GREY = "#2f86b5", "#7f7f7f"
#: The map reaches this far beyond what the cook looks at; ingredients outside are listed [1].
ROOM = 2.0
Point = tuple[float, float]


@dataclass(frozen=True)
class Map:
    """What is drawn, in levels of both axes [axis unit per 100 g].

    Parameters
    ----------
    sauce : tuple of float
    target : tuple of (tuple of float)
        Ends of what is wanted, across and up; an axis that is free spans nothing.
    rounds : tuple of (tuple of float)
        As made, oldest first.
    region : tuple of (tuple of float)
        Corners of the reachable region; empty if it was not asked for.
    ingredients : tuple of (str, tuple of float)
    """

    sauce: Point
    target: tuple[Point, Point] | None
    rounds: tuple[Point, ...]
    region: tuple[Point, ...]
    ingredients: tuple[tuple[str, Point], ...]

    @property
    def ends(self) -> Point:
        """Where the axes end, in round figures."""
        seen = [self.sauce, *self.rounds]
        if self.target is not None:
            seen.append((self.target[0][1], self.target[1][1]))
        across, up = (look.scale_end(ROOM * max(p[i] for p in seen)) for i in (0, 1))
        return across, up


def draw(work: Work, outcome: Outcome) -> None:
    """Draw the map once it is asked for."""
    part = fold("Sour against sweet, as a map", "_map")
    if part.open:
        with part:
            drawn = _map(work, outcome)
            st.vega_lite_chart(picture(drawn, ink()), width="stretch")
            st.html(look.listed(words(drawn)))


def _map(work: Work, outcome: Outcome) -> Map:
    kitchen = session.kitchen()
    columns = [AXIS_NAMES.index(a) for a in (ACROSS, UP)]
    own = outcome.problem.composition() @ axis_matrix()[:, columns]
    labels = [u.label for u in outcome.problem.uses]
    profile = outcome.answer["profile"]
    sauce = (float(profile[ACROSS]["reached"] or 0.0), float(profile[UP]["reached"] or 0.0))
    targets = work.document.get("target", {})
    target = None
    if ACROSS in targets and UP in targets:
        target = (band(targets[ACROSS]), band(targets[UP]))
    rounds: tuple[Point, ...] = ()
    if work.saved_name:
        made = [r.document["round"]["made"] for r in kitchen.store.rounds(work.saved_name)]
        rounds = tuple((float(m[ACROSS]), float(m[UP])) for m in made)
    free = {k: v for k, v in work.document.items() if k not in ("target", "name")}
    scale = (max(sauce[0], AXIS[ACROSS].floor), max(sauce[1], AXIS[UP].floor))

    def corners() -> list[Point]:
        with st.spinner("Seeking how far these ingredients reach ..."):
            return reachable(kitchen.catalogue, free, (ACROSS, UP), scale)

    region = session.cached("region", json.dumps(free, sort_keys=True), corners)
    ingredients = tuple(
        (label, (float(x), float(y)))
        for label, (x, y) in zip(labels, np.maximum(own, 0.0), strict=True)
    )
    return Map(sauce, target, rounds, tuple(region), ingredients)


def words(drawn: Map) -> list[str]:
    """The map in words, for a reader that cannot see it."""
    unit = {a: AXIS[a].unit_per_100g for a in (ACROSS, UP)}

    def at(point: Point) -> str:
        return (
            f"{ACROSS} {level_text(point[0], unit[ACROSS])}, {UP} {level_text(point[1], unit[UP])}"
        )

    lines = [f"● the sauce: {at(drawn.sauce)}."]
    if drawn.target is not None:
        (low, high), (down, up) = drawn.target
        lines.append(f"◇ wanted: {at((0.5 * (low + high), 0.5 * (down + up)))}.")
    lines += [f"{i} round {i}: {at(p)}." for i, p in enumerate(drawn.rounds, 1)]
    if drawn.region:
        xs, ys = zip(*drawn.region, strict=True)
        lines.append(
            f"In the dashed line: what the ingredients reach within the limits, {ACROSS} from"
            f" {level_text(min(xs))} to {level_text(max(xs), unit[ACROSS])}, {UP} from"
            f" {level_text(min(ys))} to {level_text(max(ys), unit[UP])}."
        )
    ends = drawn.ends
    beyond = [n for n, p in drawn.ingredients if p[0] > ends[0] or p[1] > ends[1]]
    inside = [n for n, _ in drawn.ingredients if n not in beyond]
    if inside:
        lines.append(f"× ingredients by themselves: {', '.join(inside)}.")
    if beyond:
        lines.append(f"Beyond the map by themselves: {', '.join(beyond)}.")
    return lines


def picture(drawn: Map, letters: str = GREY) -> dict[str, Any]:
    """The map as a Vega-Lite chart; every kind of mark has a shape of its own."""
    ends = drawn.ends
    places: dict[str, Any] = {
        way: {
            "field": axis,
            "type": "quantitative",
            "title": f"{axis} [{AXIS[axis].unit_per_100g}]",
            "scale": {"domain": [0.0, end], "nice": False},
        }
        for way, axis, end in zip("xy", (ACROSS, UP), ends, strict=True)
    }
    places["tooltip"] = [
        {"field": "name", "type": "nominal", "title": "what"},
        *({**places[way], "format": ".3g", "scale": None} for way in "xy"),
    ]

    def layer(
        points: Iterable[tuple[str, Point]], kind: str, *, named: bool = False, **mark: Any
    ) -> dict[str, Any]:
        rows = [
            {"name": name, ACROSS: x, UP: y, "order": i} for i, (name, (x, y)) in enumerate(points)
        ]
        encoding = {**places, "order": {"field": "order", "type": "quantitative"}}
        if named:
            encoding["text"] = {"field": "name", "type": "nominal"}
        return {
            "data": {"values": rows},
            "mark": {"type": kind, "clip": True, **mark},
            "encoding": encoding,
        }

    seen = [(n, p) for n, p in drawn.ingredients if p[0] <= ends[0] and p[1] <= ends[1]]
    rounds = [(str(i), p) for i, p in enumerate(drawn.rounds, 1)]
    layers = [
        layer(
            [("", p) for p in drawn.region], "line", aria=False, interpolate="linear-closed",
            color=BLUE,
            fill=BLUE, fillOpacity=0.12, strokeDash=[6, 3],
        ),
        layer(seen, "point", shape="cross", angle=45, size=60, color=GREY, filled=True),
        layer(seen, "text", named=True, align="left", dx=8, dy=-8, color=letters),
        layer(rounds, "line", aria=False, color=GREY, strokeDash=[2, 2]),
        layer(rounds, "text", named=True, fontSize=16, color=letters, dy=-12),
        layer([("the sauce", drawn.sauce)], "point", shape="circle", size=130, color=BLUE,
              filled=True, opacity=1.0),
    ]  # fmt: skip
    if drawn.target is not None:
        (low, high), (down, top) = drawn.target
        wanted = ("wanted", (0.5 * (low + high), 0.5 * (down + top)))
        layers.append(
            layer([wanted], "point", shape="diamond", size=260, strokeWidth=2.5, color=GREY,
                  opacity=1.0)
        )  # fmt: skip
    return {"height": HEIGHT_PX, "description": " ".join(words(drawn)), "layer": layers}
