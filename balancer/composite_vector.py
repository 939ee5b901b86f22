"""The finished sauce of a saved recipe as one ingredient, in its own fixed ratio."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from balancer.catalogue import Catalogue
from balancer.composite import Saved, Step, read_saved, refuse_circle, short
from balancer.composition import (
    INDEX,
    NAMES,
    WATER_TOLERANCE,
    Evidence,
    FloatArray,
    Ingredient,
    Part,
    matrix,
)
from balancer.cooking import cooked, kept_factors
from balancer.entries import QUANTITIES, SHARES, Entry, food_of, use_of
from balancer.errors import BadInput
from balancer.search import plain
from balancer.simmering import share_left
from balancer.strong_ions import with_charge
from balancer.water_phase import phase_of, water_phase
from balancer.wishes import Use

#: Kinds of evidence, strongest first.
_STRENGTH = tuple(Evidence)
_CHARGE = INDEX["strong_ion_charge"]


def ingredient_of(entry: Entry, catalogue: Catalogue) -> Ingredient:
    """What an entry stands for: a food, or a saved recipe in its own ratio.

    Raises
    ------
    BadInput
        If the name means no food, or the recipe cannot be used.
    NotSaved
        If there is no such recipe.
    """
    if "recipe" not in entry:
        return food_of(entry, catalogue)
    for field, what in (("strength", "no label"), ("measured", "no readings of today")):
        if field in entry:
            raise BadInput(
                f"{short(entry['name'])} is a recipe and has {what}. Leave {field!r} out."
            )
    return as_ingredient(entry["recipe"], catalogue)


def as_ingredient(name: str, catalogue: Catalogue) -> Ingredient:
    """A saved recipe as one ingredient in its fixed ratio: the vector of its finished sauce.

    Parameters
    ----------
    name : str
    catalogue : Catalogue
        Stocked with the saved recipes.

    Returns
    -------
    Ingredient
        Amounts unknown in a part count as zero there and leave the sum assumed; the evidence of a
        sum is the weakest of what it is made of. Bands are added up. Allergens are those of all
        parts. Steam takes from each recipe what it takes when that recipe is made by itself. The
        pH is the band that the recipe has by itself.

    Raises
    ------
    BadInput
        As :func:`balancer.composite.expand`.
    """
    return _Finished(catalogue).of(name, ())


class _Finished:
    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.known: dict[str, Ingredient] = {}

    def of(self, name: str, seen: tuple[str, ...]) -> Ingredient:
        refuse_circle(name, seen)
        if name not in self.known:
            saved = read_saved(self.catalogue.recipe(name), name)
            uses = [self._use(step, (*seen, name)) for step in saved.steps]
            self.known[name] = _blended(name, uses, saved)
        return self.known[name]

    def _use(self, step: Step, seen: tuple[str, ...]) -> Use:
        inner = step.entry.get("recipe")
        food = food_of(step.entry, self.catalogue) if inner is None else self.of(inner, seen)
        return use_of(_without_limits(step.entry), food, step.stage)


def _without_limits(entry: Entry) -> Entry:
    """What is made already keeps to no limits any more."""
    return {k: v for k, v in entry.items() if k not in (*QUANTITIES, *SHARES, "keep_share")}


def _blended(name: str, uses: list[Use], saved: Saved) -> Ingredient:
    parts = [u.ingredient for u in uses]
    weighed_g = np.array([step.grams for step in saved.steps])
    grams = weighed_g * [u.passes for u in uses]
    lost_g = max(0.0, float(grams.sum()) - saved.yield_g)
    whole = matrix(parts)
    by_rule = np.array([math.isnan(p["strong_ion_charge"]) for p in parts])
    whole[:, _CHARGE] = [with_charge(p.values, _middle_ph(p))[_CHARGE] for p in parts]
    water = float(grams @ whole[:, INDEX["water"]]) / 100.0
    kept = None
    when = [u.goes_in for u in uses]
    if any(w != "raw" for w in when):
        kept = kept_factors(when, share_left(whole, grams, when, lost_g))

    def finished(rows: FloatArray) -> FloatArray:
        total = grams @ cooked(rows, kept) / 100.0
        total[INDEX["water"]] -= lost_g
        return np.asarray(total * 100.0 / saved.yield_g)

    values = finished(whole)
    if values[INDEX["water"]] < -100.0 * WATER_TOLERANCE:
        raise BadInput(
            f"The recipe {short(name)} loses {lost_g:.4g} g of water and brings only"
            f" {water:.4g} g. Solve it again and save it."
        )
    values[INDEX["water"]] = max(0.0, values[INDEX["water"]])
    unknown: NDArray[np.bool_] = np.isnan(np.stack([p.values for p in parts]))
    unknown[:, _CHARGE] = False  # by rule where it is not in the table
    nowhere: NDArray[np.bool_] = np.asarray(unknown.all(axis=0))
    weak = unknown.copy()
    weak[:, _CHARGE] = by_rule
    ends = []
    banded = np.zeros(len(NAMES), dtype=bool)
    for end in ("low", "high"):
        stated = np.stack([getattr(p, end) for p in parts])
        banded |= ~np.isnan(stated).all(axis=0)
        ends.append(finished(np.where(np.isnan(stated), whole, stated)))
    banded[[_CHARGE, INDEX["water"]]] = False
    evidence = [
        None if nowhere[i] else _weakest(parts, i, values[i], whole[:, i] * grams, weak[:, i])
        for i in range(len(NAMES))
    ]
    ph = water_phase(phase_of(parts), grams, lost_g, kept).ph if water > lost_g else None
    if ph is not None:
        values[_CHARGE], evidence[_CHARGE] = math.nan, None  # follows from the pH, with its band
    return Ingredient(
        key="recipe-" + plain(name).replace(" ", "-"),
        name=name,
        values=np.where(nowhere, np.nan, values),
        low=np.where(banded, np.maximum(0.0, ends[0]), np.nan),
        high=np.where(banded, ends[1], np.nan),
        evidence=tuple(evidence),
        source=tuple(_sources(parts, i) if evidence[i] else "" for i in range(len(NAMES))),
        group="recipe",
        allergens=tuple(dict.fromkeys(a for p in parts for a in p.allergens)),
        ph=None if ph is None else (ph.low, ph.high),
        note=f"The finished sauce of the recipe {name!r}, in its own ratio.",
        parts=tuple(_parts(name, saved, uses)),
    )


def _parts(name: str, saved: Saved, uses: list[Use]) -> Iterator[Part]:
    """Base ingredients in 100 g of a finished recipe, as they stay in the pot."""
    for step, use in zip(saved.steps, uses, strict=True):
        grams = 100.0 * step.grams / saved.yield_g
        if not use.ingredient.parts:
            yield Part(use.ingredient, grams * use.passes, (name,), step.entry)
        for p in use.ingredient.parts:
            yield replace(p, grams=p.grams * grams * use.passes / 100.0, path=(name, *p.path))


def _middle_ph(ingredient: Ingredient) -> float:
    return float(np.mean(ingredient.ph)) if ingredient.ph else math.nan


def _weakest(
    parts: list[Ingredient], i: int, value: float, brought: FloatArray, weak: NDArray[np.bool_]
) -> Evidence:
    """Weakest evidence among the parts that bring some of a component."""
    if bool(weak.any()):
        return Evidence.ASSUMED
    kinds = [
        e
        for p, b in zip(parts, brought, strict=True)
        if (e := p.evidence[i]) is not None and (b != 0 or value == 0)
    ]
    return max(kinds, key=_STRENGTH.index, default=Evidence.DERIVED)


def _sources(parts: list[Ingredient], i: int) -> str:
    keys = (k for p in parts for k in p.source[i].split(";") if k.strip())
    return ";".join(dict.fromkeys(k.strip() for k in keys))
