"""A saved recipe as an ingredient of another one: expanded to base ingredients, or opened up.

An entry of a request that says ``"recipe": NAME`` stands for the finished sauce of that saved
recipe. Saved documents ``{"request": ..., "answer": ...}`` come through the catalogue, which the
kitchen has stocked with them.
"""

from __future__ import annotations

import math
from collections.abc import Container, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeAlias

from balancer.catalogue import Catalogue
from balancer.composition import Ingredient, Part
from balancer.entries import TREATMENT, food_of, usual_stage
from balancer.errors import BadInput

Document: TypeAlias = Mapping[str, Any]

#: Recipes inside recipes, and base ingredients in all, before it is taken for a slip.
MOST_DEPTH, MOST_PARTS = 100, 20_000


@dataclass(frozen=True)
class Total:
    """A base ingredient with everything of it."""

    ingredient: Ingredient
    parts: tuple[Part, ...]

    @property
    def grams(self) -> float:
        """All of it [g]."""
        return math.fsum(p.grams for p in self.parts)

    def sentence(self) -> str:
        """Such as "fennel seed twice: 3.0 g in the spice mix, 1.1 g on its own"."""
        times = {1: "once", 2: "twice"}.get(len(self.parts), f"{len(self.parts)} times")
        places = (
            f"{p.grams:.1f} g {'in ' + ' in '.join(reversed(p.path)) if p.path else 'on its own'}"
            for p in self.parts
        )
        return f"{self.ingredient.name} {times}: {', '.join(places)}"


@dataclass(frozen=True)
class Expansion:
    """A recipe in base ingredients.

    Parameters
    ----------
    parts : tuple of Part
        In the order in which they enter.
    yield_g : float
        Finished mass [g].
    water_lost_g : float
        Water that left, in the parts too [g].
    """

    parts: tuple[Part, ...]
    yield_g: float
    water_lost_g: float

    @property
    def totals(self) -> tuple[Total, ...]:
        """Base ingredients, the heaviest first, each with its places; one place is one part."""
        places: dict[str, dict[tuple[str, ...], Part]] = {}
        for part in self.parts:
            of_one = places.setdefault(part.ingredient.key, {})
            before = of_one[part.path].grams if part.path in of_one else 0.0
            of_one[part.path] = replace(part, grams=before + part.grams)
        found = []
        for of_one in places.values():
            parts = sorted(of_one.values(), key=lambda p: -p.grams)
            found.append(Total(parts[0].ingredient, tuple(parts)))
        return tuple(sorted(found, key=lambda t: -t.grams))

    @property
    def entering_more_than_once(self) -> tuple[str, ...]:
        """A sentence for each base ingredient that enters at more than one place."""
        return tuple(t.sentence() for t in self.totals if len(t.parts) > 1)

    @property
    def allergens(self) -> tuple[str, ...]:
        """Allergens of all parts."""
        return tuple(dict.fromkeys(a for p in self.parts for a in p.ingredient.allergens))


@dataclass(frozen=True)
class Step:
    """An entry of a saved recipe with its grams and the usual time of adding."""

    entry: Document
    grams: float
    stage: str


@dataclass(frozen=True)
class Saved:
    """What is read of a saved recipe: its steps and its finished mass [g]."""

    steps: tuple[Step, ...]
    yield_g: float

    @property
    def water_lost_g(self) -> float:
        """Water that leaves in cooking [g]."""
        return math.fsum(s.grams for s in self.steps) - self.yield_g


def read_saved(document: Document, name: str) -> Saved:
    """Entries with grams, and the finished mass, of a saved recipe."""
    try:
        request, answer = document["request"], document["answer"]
        quantities, final_g = answer["quantities_g"], float(answer["final_mass_g"])
        steps = []
        for entry in request["ingredients"]:
            grams = float(quantities[entry["name"].strip()])
            if not (math.isfinite(grams) and grams >= 0):
                raise ValueError
            if grams > 0:
                steps.append(Step(entry, grams, ""))
    except (KeyError, TypeError, ValueError, AttributeError):
        raise BadInput(
            f"The recipe {short(name)} has no quantities or is damaged. Solve it again and save"
            " the answer."
        ) from None
    if not steps or not (math.isfinite(final_g) and final_g > 0):
        raise BadInput(f"The recipe {short(name)} weighs nothing. Solve it again and save it.")
    stage = usual_stage(request)
    return Saved(tuple(Step(s.entry, s.grams, stage) for s in steps), final_g)


def expand(document: Document, catalogue: Catalogue, name: str = "this recipe") -> Expansion:
    """Expand a recipe to base ingredients, to any depth.

    Parameters
    ----------
    document : mapping
        ``{"request": ..., "answer": ...}``.
    catalogue : Catalogue
        Stocked with the saved recipes.
    name : str
        What to call the recipe in a refusal.

    Raises
    ------
    BadInput
        If recipes go round in a circle, with the path; if one is damaged or too deep.
    NotSaved
        If one is missing.
    """
    parts: list[Part] = []
    lost = [0.0]
    kept: dict[str, Saved] = {}

    def load(wanted: str) -> Saved:
        if wanted not in kept:
            kept[wanted] = read_saved(catalogue.recipe(wanted), wanted)
        return kept[wanted]

    def walk(saved: Saved, share: float, path: tuple[str, ...], seen: tuple[str, ...]) -> None:
        lost[0] += share * saved.water_lost_g
        for step in saved.steps:
            grams = step.grams * share
            inner = step.entry.get("recipe")
            if inner is None:
                parts.append(Part(food_of(step.entry, catalogue), grams, path, step.entry))
                if len(parts) > MOST_PARTS:
                    raise BadInput(
                        f"{name} expands to over {MOST_PARTS} parts. Use fewer recipes in it."
                    )
                continue
            refuse_circle(inner, seen)
            child = load(inner)
            walk(child, grams / child.yield_g, (*path, inner), (*seen, inner))

    top = read_saved(document, name)
    walk(top, 1.0, (), (name,))
    return Expansion(tuple(parts), top.yield_g, max(0.0, lost[0]))


def opened(
    request: Document, catalogue: Catalogue, which: Container[str] | None = None
) -> dict[str, Any]:
    """A request whose recipes are opened up: base ingredients stand in their place, each free.

    Parameters
    ----------
    request : mapping
        Entries with ``"recipe"`` need a draft or a lock, which says how much is opened.
    catalogue : Catalogue
        Stocked with the saved recipes.
    which : container of str or None
        What the cook calls the recipes to be opened up; None opens up all of them.

    Returns
    -------
    dict
        The request with base ingredients; the same one twice is added up where it first stands.
        Water lost in the recipes is added to the water lost.

    Raises
    ------
    BadInput
        As :func:`expand`; if an entry does not say how much of the recipe there is; or if a base
        ingredient enters twice and is treated differently each time.
    """
    found: dict[str, dict[str, Any]] = {}
    lost = 0.0
    for entry in request["ingredients"]:
        inner = entry.get("recipe")
        if inner is None:
            _add(found, food_of(entry, catalogue).key, dict(entry))
            continue
        if which is not None and entry["name"].strip() not in which:
            _add(found, f"recipe {inner}", dict(entry))
            continue
        grams = entry.get("locked_g", entry.get("draft_g"))
        if grams is None:
            raise BadInput(
                f"{short(entry['name'])} cannot be opened up without its weight. Give draft_g."
            )
        whole = expand(catalogue.recipe(inner), catalogue, inner)
        share = float(grams) / whole.yield_g
        lost += share * whole.water_lost_g
        for part in sorted(whole.parts, key=lambda p: -p.grams):
            written = part.entry or {}
            kept = {k: written[k] for k in ("strength", *TREATMENT) if k in written}
            draft = {"name": written["name"].strip(), "draft_g": round(part.grams * share, 6)}
            _add(found, part.ingredient.key, draft | kept)
    result = {**request, "ingredients": list(found.values())}
    if "ratios" in request:
        there = {e["name"].strip() for e in result["ingredients"]}
        result["ratios"] = [
            r for r in request["ratios"] if {r["of"].strip(), r["to"].strip()} <= there
        ]
    if lost > 0:
        result["water_lost_g"] = round(float(request.get("water_lost_g", 0.0)) + lost, 6)
    return result


def _add(found: dict[str, dict[str, Any]], key: str, entry: dict[str, Any]) -> None:
    if key not in found:
        found[key] = entry
        return
    there = found[key]
    if any(there.get(k) != entry.get(k) for k in TREATMENT):
        raise BadInput(
            f"{short(entry['name'])} enters twice and is treated differently each time, so it"
            " cannot be opened up into one. Leave the recipe in its own ratio."
        )
    for field in ("draft_g", "locked_g"):
        if field in there and ("draft_g" in entry or "locked_g" in entry):
            there[field] += float(entry.get(field, entry.get("draft_g", 0.0)))


def recipes_in(request: object) -> tuple[str, ...]:
    """Names of the saved recipes that a request uses as ingredients; none in a damaged one."""
    entries = request.get("ingredients") if isinstance(request, Mapping) else None
    whole = [e for e in entries if isinstance(e, Mapping)] if isinstance(entries, list) else []
    found = (e.get("recipe") for e in whole)
    return tuple(dict.fromkeys(name for name in found if isinstance(name, str)))


def refuse_circle(name: str, seen: tuple[str, ...]) -> None:
    """Raise :class:`BadInput` if a recipe stands in itself, or recipes stand too deep."""
    if not isinstance(name, str):
        raise BadInput(f"A recipe is named {short(str(name))}, which is no text. Give its name.")
    if name in seen:
        path = " > ".join([*seen[seen.index(name) :], name])
        raise BadInput(
            f"The recipes go round in a circle: {path}. Take one of them out of the other."
        )
    if len(seen) > MOST_DEPTH:
        raise BadInput(
            f"Recipes stand in each other more than {MOST_DEPTH} deep, down to {short(name)}."
            " Make one of them anew from base ingredients."
        )


def short(name: str) -> str:
    """A name in quotes, cut where it is long."""
    return repr(name if len(name) <= 60 else name[:57] + "...")
