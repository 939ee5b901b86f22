"""A saved document read as a recipe; what is damaged is named."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest
from typing import Any

import numpy as np

from balancer.composition import NAMES, Ingredient, taken_apart
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.measures import Measure, kitchen_measure
from balancer.recipe.method import default_method, target_checks
from balancer.recipe.parts import (
    LEAST_G,
    STAGES,
    Line,
    ProfileRow,
    Recipe,
    Target,
    Waters,
    water_lost_g,
)
from balancer.safety import DEFER, Allergen, Picture, allergens
from balancer.safety_picture import by_name_only

#: Lines that a method may have, and letters that one may have.
MOST_STEPS, LONGEST_STEP = 200, 2000
#: No figure of a recipe is larger, in grams, millilitres or the unit of an axis.
LARGEST_FIGURE = 1e9


def from_document(
    name: str,
    document: Mapping[str, Any],
    measures: Mapping[str, Sequence[Measure]],
    *,
    foods: Mapping[str, Ingredient] | None = None,
    date: str = "",
    revision: int = 1,
    tasted: str = "",
) -> Recipe:
    """Read a saved document as a recipe.

    Parameters
    ----------
    name : str
        Name of the recipe.
    document : mapping
        See the head of :mod:`balancer.recipe`.
    measures : mapping of str to sequence of Measure
        Food number to its household measures; foods without any may be missing.
    foods : mapping of str to Ingredient, or None
        Food number to the food, whose allergens are read; a food that is missing is told as one
        behind which no list stands.
    date : str
        When it was saved, ISO 8601.
    revision : int
        Which saving of it this is.
    tasted : str
        When it was tasted last, and by whom.

    Returns
    -------
    Recipe
        The recipe; a method given by the cook stands in place of the default one.

    Raises
    ------
    BadInput
        If the document has no quantities or is damaged.
    """
    reader = _Reader(name)
    answer = reader.mapping(document, "answer")
    resolved = reader.mapping(answer, "resolved") if "resolved" in answer else {}
    quantities = {
        ingredient: reader.number(grams, f"{ingredient} [g]", least=0.0)
        for ingredient, grams in reader.mapping(answer, "quantities_g").items()
    }
    yield_g = reader.number(answer.get("final_mass_g"), "final_mass_g", least=LEAST_G)
    taken_out = reader.mapping(answer, "taken_out_g") if "taken_out_g" in answer else {}
    entries = reader.entries(document)
    lines = []
    notes = []
    for ingredient, grams in quantities.items():
        meant = reader.mapping(resolved, ingredient) if ingredient in resolved else {}
        key, food = str(meant.get("key", "")), str(meant.get("name", ""))
        if food and food != ingredient:
            notes.append(f"{ingredient}: {food} ({key})" if key else f"{ingredient}: {food}")
        if grams >= LEAST_G:
            measure = kitchen_measure(grams, measures.get(key, ()))
            entry = entries.get(ingredient, {})
            out_g = reader.known(taken_out, ingredient, least=0.0) or 0.0
            line = Line(ingredient, key, grams, measure, str(entry.get("goes_in", "")))
            lines.append(replace(line, taken_out_g=min(out_g, grams), prepared="yield" in entry))
    if not lines:
        raise BadInput(
            f"The recipe {name!r} has no quantities. Solve it again and save the answer."
        )
    usual = "start" if water_lost_g(lines, yield_g) else "raw"
    lines = [i if i.stage in STAGES else replace(i, stage=usual) for i in lines]
    found = _allergens(lines, foods or {})
    by_line = {line: tuple(a.name for a in found if line.name in a.carriers) for line in lines}
    ordered = tuple(
        sorted((replace(line, allergens=by_line[line]) for line in lines), key=lambda i: -i.grams)
    )
    waters = reader.waters(document, answer)
    cautions, sources = reader.cautions(answer)
    prep_min, cook_min = reader.times(document)
    return Recipe(
        name=name,
        lines=ordered,
        yield_g=yield_g,
        profile=tuple(
            reader.profile_row(axis, row)
            for axis, row in sorted(reader.mapping(answer, "profile").items(), key=_axis_order)
        ),
        cautions=cautions,
        method=reader.texts(document, "method") or default_method(ordered, yield_g),
        resolved=tuple(notes),
        date=date,
        revision=revision,
        caution_sources=sources,
        checks=target_checks(ordered, yield_g, waters),
        waters=waters,
        allergens=found,
        unread=tuple(line.name for line in ordered if _unread(line, foods or {})),
        yield_ml=reader.known(answer, "final_volume_ml", least=LEAST_G),
        serving_g=reader.serving_g(document),
        prep_min=prep_min,
        cook_min=cook_min,
        tasted=tasted,
        notes=reader.texts(answer, "notes"),
        document=dict(document),
    )


def _allergens(lines: Sequence[Line], foods: Mapping[str, Ingredient]) -> tuple[Allergen, ...]:
    """The allergens of the lines, each carried by the names that the cook wrote."""
    read: dict[str, tuple[Allergen, list[str]]] = {}
    for line in lines:
        if line.key not in foods:
            continue
        base = [p.ingredient for p in taken_apart([foods[line.key]], np.array([line.grams]))]
        picture = Picture(tuple(base), np.ones(len(base)), np.zeros(len(NAMES)), 1.0)
        for allergen in allergens(picture):
            read.setdefault(allergen.name, (allergen, []))[1].append(line.name)
    every = tuple(replace(allergen, carriers=tuple(names)) for allergen, names in read.values())
    if not every:
        return ()
    known = [foods[line.key] for line in lines if line.key in foods]
    used = tuple(p.ingredient for p in taken_apart(known, np.ones(len(known))))
    whole = Picture(used, np.ones(len(used)), np.zeros(len(NAMES)), 1.0)
    order = [allergen.name for allergen in allergens(whole)]
    return tuple(sorted(every, key=lambda allergen: order.index(allergen.name)))


def _unread(line: Line, foods: Mapping[str, Ingredient]) -> bool:
    if line.key not in foods:
        return True
    return any(by_name_only(p.ingredient) for p in taken_apart([foods[line.key]], np.ones(1)))


def _axis_order(item: tuple[str, Any]) -> tuple[int, str]:
    axis = item[0]
    return (AXIS_NAMES.index(axis) if axis in AXIS_NAMES else len(AXIS_NAMES), axis)


@dataclass(frozen=True)
class _Reader:
    """Takes values out of a saved document and says what is wrong with them."""

    name: str

    def damaged(self, what: str) -> BadInput:
        seen = "".join(c if c.isprintable() else " " for c in what)
        return BadInput(f"The recipe {self.name!r} {seen}. Solve it again and save the answer.")

    def mapping(self, document: Mapping[str, Any], field: str) -> Mapping[str, Any]:
        value = document.get(field) if isinstance(document, Mapping) else None
        if not isinstance(value, Mapping):
            raise self.damaged(f"has no {field[:60]}")
        return value

    def number(self, value: Any, what: str, least: float = -math.inf) -> float:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        if not fits or not abs(value) <= LARGEST_FIGURE or value < least:
            raise self.damaged(f"has {str(value)[:60]} for {what[:60]}")
        return float(value)

    def known(
        self, document: Mapping[str, Any], field: str, least: float = -math.inf
    ) -> float | None:
        value = document.get(field)
        return None if value is None else self.number(value, field, least)

    def texts(self, document: Mapping[str, Any], field: str) -> tuple[str, ...]:
        value = document.get(field, [])
        fits = isinstance(value, list | tuple) and len(value) <= MOST_STEPS
        if not fits or not all(isinstance(v, str) and len(v) <= LONGEST_STEP for v in value):
            raise self.damaged(
                f"has {field} that are not a list of up to {MOST_STEPS} texts of up to"
                f" {LONGEST_STEP} letters"
            )
        return tuple(text.strip() for text in value if text.strip())

    def cautions(self, answer: Mapping[str, Any]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Cautions and, in the same order, their sources; the sentence on storage says the last."""
        said = self.texts(answer, "cautions")
        sources = self.texts(answer, "caution_sources")
        kept = [(c, s) for c, s in zip_longest(said, sources, fillvalue="") if c not in ("", DEFER)]
        return tuple(c for c, _ in kept), tuple(s for _, s in kept)

    def entries(self, document: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
        """What the request says of each ingredient."""
        request = document.get("request")
        entries = request.get("ingredients") if isinstance(request, Mapping) else None
        return {
            str(entry.get("name", "")).strip(): entry
            for entry in (entries if isinstance(entries, list | tuple) else ())
            if isinstance(entry, Mapping)
        }

    def limits(self, document: Mapping[str, Any]) -> Mapping[str, Any]:
        request = document.get("request")
        limits = request.get("limits") if isinstance(request, Mapping) else None
        return limits if isinstance(limits, Mapping) else {}

    def serving_g(self, document: Mapping[str, Any]) -> float | None:
        return self.known(self.limits(document), "serving_g", least=LEAST_G)

    def times(self, document: Mapping[str, Any]) -> tuple[float | None, float | None]:
        """Time before and at the stove [min], where it was written down."""
        times = self.mapping(document, "times_min") if "times_min" in document else {}
        request = document.get("request")
        simmer = request.get("simmer") if isinstance(request, Mapping) else None
        cook = self.known(times, "cook", least=0.0)
        if cook is None and isinstance(simmer, Mapping):
            cook = self.known(simmer, "minutes", least=0.0)
        return self.known(times, "prep", least=0.0), cook

    def waters(self, document: Mapping[str, Any], answer: Mapping[str, Any]) -> Waters:
        ph = None
        if answer.get("ph") is not None:
            band = self.mapping(answer, "ph")
            value, low, high = (
                self.number(band.get(end), f"ph {end}") for end in ("value", "low", "high")
            )
            ph = (value, low, high)
        return Waters(
            ph,
            self.known(self.limits(document), "ph_max"),
            self.known(answer, "brix"),
            self.known(answer, "acidity_pct_citric"),
            self.known(answer, "water_activity"),
        )

    def profile_row(self, axis: str, row: Mapping[str, Any]) -> ProfileRow:
        if not isinstance(row, Mapping):
            raise self.damaged(f"has no levels for {axis[:60]}")
        target = row.get("target")
        deviation = row.get("deviation_jnd")
        return ProfileRow(
            axis,
            self.number(row.get("reached"), axis),
            None if target is None else self.target(target, axis),
            str(row.get("unit", "")),
            None if deviation is None else self.number(deviation, f"{axis} [JND]"),
            self.texts(row, "unknown"),
            self.texts(row, "assumed"),
        )

    def target(self, target: Any, axis: str) -> Target:
        if not isinstance(target, Mapping):
            return self.number(target, f"the target of {axis}")
        low, high = (target.get(end) for end in ("low", "high"))
        return (
            -math.inf if low is None else self.number(low, f"the target of {axis}"),
            math.inf if high is None else self.number(high, f"the target of {axis}"),
        )
