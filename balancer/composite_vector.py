"""The finished sauce of a saved recipe as one ingredient, in its own fixed ratio."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from balancer.composite import Loader, Reader, Saved, Step, read_saved, refuse_circle, short
from balancer.composition import INDEX, NAMES, Evidence, FloatArray, Ingredient, matrix
from balancer.cooking import cooked, kept_factors
from balancer.errors import BadInput
from balancer.search import plain
from balancer.strong_ions import with_charge
from balancer.wishes import Use

#: Kinds of evidence, strongest first.
_STRENGTH = tuple(Evidence)
_CHARGE = INDEX["strong_ion_charge"]


def as_ingredient(name: str, loader: Loader, read: Reader) -> Ingredient:
    """A saved recipe as one ingredient in its fixed ratio: the vector of its finished sauce.

    Parameters
    ----------
    name : str
    loader, read : callable
        As for :func:`balancer.composite.expand`.

    Returns
    -------
    Ingredient
        Amounts unknown in a part count as zero there and leave the sum assumed; the evidence of a
        sum is the weakest of what it is made of. Bands are added up. Allergens are those of all
        parts. Steam takes from each recipe what it takes when that recipe is made by itself.

    Raises
    ------
    BadInput
        As :func:`balancer.composite.expand`.
    """
    return _Finished(loader, read).of(name, ())


class _Finished:
    def __init__(self, loader: Loader, read: Reader) -> None:
        self.loader, self.read = loader, read
        self.known: dict[str, Ingredient] = {}

    def of(self, name: str, seen: tuple[str, ...]) -> Ingredient:
        refuse_circle(name, seen)
        if name not in self.known:
            saved = read_saved(self.loader(name), name)
            uses = [self._use(step, (*seen, name)) for step in saved.steps]
            grams = np.array([step.grams for step in saved.steps])
            self.known[name] = _blended(name, uses, grams, saved)
        return self.known[name]

    def _use(self, step: Step, seen: tuple[str, ...]) -> Use:
        inner = step.entry.get("recipe")
        if inner is None:
            return self.read(step.entry, step.stage)
        label = step.entry["name"].strip()
        goes_in = step.entry.get("goes_in", step.stage)
        return Use(self.of(inner, seen), label=label, goes_in=goes_in)


def _blended(name: str, uses: list[Use], grams: FloatArray, saved: Saved) -> Ingredient:
    parts = [u.ingredient for u in uses]
    whole = matrix(parts)
    by_rule = np.array([math.isnan(p["strong_ion_charge"]) for p in parts])
    whole[:, _CHARGE] = [with_charge(p.values, _middle_ph(p))[_CHARGE] for p in parts]
    water = float(grams @ whole[:, INDEX["water"]]) / 100.0
    kept = None
    if any(u.goes_in != "raw" for u in uses):
        left = max(0.0, 1.0 - saved.water_lost_g / water) if water > 0 else 1.0
        kept = kept_factors([u.goes_in for u in uses], left)

    def finished(rows: FloatArray) -> FloatArray:
        total = grams @ cooked(rows, kept) / 100.0
        total[INDEX["water"]] -= saved.water_lost_g
        return np.asarray(total * 100.0 / saved.yield_g)

    values = finished(whole)
    if values[INDEX["water"]] < -1e-6:
        raise BadInput(
            f"The recipe {short(name)} loses {saved.water_lost_g:.4g} g of water and brings only"
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
        note=f"The finished sauce of the recipe {name!r}, in its own ratio.",
    )


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
