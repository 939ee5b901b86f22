"""The headless contract: a request as a document, and the answer to it as a document.

Both have a JSON Schema that comes with the package; what a schema can say is checked by it, what
it cannot say is checked when the problem is built. Everything that is refused is refused with one
sentence.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from balancer.catalogue import Catalogue
from balancer.composition import (
    INDEX,
    Evidence,
    FloatArray,
    filled,
    specific_volume,
)
from balancer.constants import AXES, AXIS_NAMES, DEAD_BAND_JND
from balancer.errors import BadInput
from balancer.explain import bindings, trades, uncarried
from balancer.problem import Problem
from balancer.relax import relaxations
from balancer.safety import DEFER, Picture, cautions
from balancer.search import resolve
from balancer.solve import Solution
from balancer.strength import Strength, with_strength
from balancer.wishes import Aim, Limit, Ratio, Use

Document = Mapping[str, Any]

WEAK_KINDS = (Evidence.ASSUMED, Evidence.MEMORY)
#: An unknown part is named from this share of the batch on.
UNKNOWN_SHARE = 0.01
#: Axes on which a pinch counts, so that an unknown part is named at any share.
STRONG_AXES = ("volatile", "heat")
#: An assumed part is named from this much on [JND].
ASSUMED_JND = 0.25


@cache
def schema(which: str) -> Document:
    """The published schema, ``which`` being ``"request"`` or ``"answer"``."""
    path = Path(__file__).parent / "schema" / f"{which}.schema.json"
    loaded: Document = json.loads(path.read_text(encoding="utf-8"))
    return loaded


def _short(text: object, longest: int = 60) -> str:
    shown = str(text)
    return shown if len(shown) <= longest else shown[: longest - 3] + "..."


def validate(document: Document) -> None:
    """Check a request against its schema.

    Raises
    ------
    BadInput
        Names the field, its value and what is expected there.
    """
    import jsonschema

    _refuse_not_finite(document, "request")
    validator = jsonschema.Draft202012Validator(schema("request"))
    error = jsonschema.exceptions.best_match(validator.iter_errors(document))
    if error is None:
        return
    where = ".".join(str(p) for p in error.absolute_path) or "the request"
    if error.validator == "additionalProperties":
        allowed = sorted(error.schema.get("properties", {}))
        extra = sorted(k for k in error.instance if k not in allowed)
        raise BadInput(
            f"{where} has an unknown key {_short(extra[0])!r}. Known keys: {', '.join(allowed)}."
        )
    if error.validator == "not" and where == "the request":
        raise BadInput("The request gives both yield_g and yield_ml. Keep one.")
    raise BadInput(
        f"{where} is {_short(json.dumps(error.instance, default=str))}:"
        f" {_expected(error)}. `balancer schema` prints what is read."
    )


def _expected(error: Any) -> str:
    rule, value = error.validator, error.validator_value
    words = {
        "type": f"a {value} is needed",
        "minimum": f"give {value:g} or more" if isinstance(value, int | float) else "",
        "maximum": f"give {value:g} or less" if isinstance(value, int | float) else "",
        "exclusiveMinimum": f"give more than {value:g}" if isinstance(value, int | float) else "",
        "required": f"{_short(error.message)}",
        "maxItems": f"give at most {value}",
    }
    return words.get(rule) or "it does not fit what is read there"


def _refuse_not_finite(value: object, where: str) -> None:
    if isinstance(value, float) and not math.isfinite(value):
        raise BadInput(f"{where} is {value}, which is no amount. Give a number.")
    if isinstance(value, Mapping):
        for key, inner in value.items():
            _refuse_not_finite(inner, f"{where}.{_short(key)}" if where != "request" else key)
    elif isinstance(value, list):
        for i, inner in enumerate(value):
            _refuse_not_finite(inner, f"{where}.{i}")


def problem_from(document: Document, catalogue: Catalogue) -> Problem:
    """Turn a request into a problem.

    Parameters
    ----------
    document : mapping
        As the request schema describes.
    catalogue : Catalogue
        Where names are looked up.

    Raises
    ------
    BadInput
        One sentence that names the field, its value with unit, and the next step.
    """
    validate(document)
    entries = document["ingredients"]
    if not entries:
        raise BadInput("No ingredients are chosen. Name at least one.")
    uses = tuple(_use(entry, catalogue) for entry in entries)
    aims = tuple(_aim(axis, wanted) for axis, wanted in document.get("target", {}).items())
    yield_g, yield_ml = document.get("yield_g"), document.get("yield_ml")
    water_lost_g = float(document.get("water_lost_g", 0.0))
    all_locked = all(u.locked_g is not None for u in uses)
    if yield_g is None and yield_ml is None and all_locked:
        yield_g = sum(u.locked_g or 0.0 for u in uses) - water_lost_g
    if not aims and not all_locked:
        raise BadInput(
            "The target is empty and some quantities are free. Give at least one level, for"
            ' example "target": {"sour": 1.0}, or lock every quantity for a report.'
        )
    return Problem(
        uses=uses,
        aims=aims,
        yield_g=None if yield_g is None else float(yield_g),
        yield_ml=None if yield_ml is None else float(yield_ml),
        water_lost_g=water_lost_g,
        limits=_limits(document.get("limits", {})),
        ratios=tuple(_ratio(r, uses) for r in document.get("ratios", ())),
        dead_band_jnd=float(document.get("dead_band_jnd", DEAD_BAND_JND.value)),
    )


def _use(entry: Document, catalogue: Catalogue) -> Use:
    ingredient = resolve(catalogue, entry["name"])
    if "strength" in entry:
        ingredient = with_strength(ingredient, Strength(**entry["strength"]))
    numbers = {
        key: float(entry[key])
        for key in ("draft_g", "min_g", "max_g", "locked_g", "share_min", "share_max")
        if key in entry
    }
    return Use(ingredient, label=entry["name"].strip(), **numbers)


def _aim(axis: str, wanted: float | Document) -> Aim:
    if isinstance(wanted, Mapping):
        weight = float(wanted.get("weight", 1.0))
        return Aim(axis, float(wanted["low"]), float(wanted["high"]), weight)
    return Aim(axis, float(wanted), float(wanted))


def _limits(wanted: Document) -> tuple[Limit, ...]:
    if "ph_max" in wanted:
        raise BadInput(
            f"A highest pH of {wanted['ph_max']:g} cannot be promised yet. Leave ph_max out, and"
            " measure the finished sauce with a pH meter."
        )
    found = []
    for key, what, unit, component in (
        ("sodium_mg_per_100g_max", "sodium", "mg per 100 g", "sodium"),
        ("fat_g_per_100g_max", "fat", "g per 100 g", "fat"),
    ):
        if key in wanted:
            most = float(wanted[key])
            label = f"{what} at most {most:g} {unit}"
            found.append(Limit(label, unit, {component: 1.0}, high=most))
    return tuple(found)


def _ratio(entry: Document, uses: tuple[Use, ...]) -> Ratio:
    labels = [u.label for u in uses]
    places = []
    for key in ("of", "to"):
        name = entry[key].strip()
        if name not in labels:
            raise BadInput(
                f"A ratio names {_short(name)!r}, which is not in the list of ingredients."
                " Use the same name as there."
            )
        places.append(labels.index(name))
    low = float(entry.get("value", entry.get("low", 0.0)))
    high = float(entry.get("value", entry.get("high", math.inf)))
    return Ratio(places[0], places[1], low, high)


@dataclass(frozen=True)
class WeakParts:
    """Ingredients whose part in one axis is not known, or is known only weakly.

    Parameters
    ----------
    unknown : tuple of str
        Labels of ingredients of which the tables say nothing on this axis; they enter at zero.
    assumed : tuple of str
        Labels of ingredients whose part rests on an assumption or on memory and could be tasted.
    """

    unknown: tuple[str, ...]
    assumed: tuple[str, ...]


def weak_parts(problem: Problem, grams: FloatArray | None) -> dict[str, WeakParts]:
    """Which levels rest on something unknown, assumed or remembered, per axis.

    Parameters
    ----------
    problem : Problem
    grams : array, shape (n,), or None
        Quantities; with None every ingredient counts as large.

    Returns
    -------
    dict of str to WeakParts
        An unknown part is named from a share of :data:`UNKNOWN_SHARE` on, and at any share for
        aroma and heat, where a pinch counts. An assumed part is named from
        :data:`ASSUMED_JND` on.
    """
    total = None if grams is None else float(grams.sum())
    found = {}
    for axis in AXES:
        places = [INDEX[c] for c in axis.weights]
        weights = np.array(list(axis.weights.values()))
        aim = problem.aim(axis.name)
        jnd = axis.floor + axis.weber * (aim.middle if aim else 0.0)
        unknown, assumed = [], []
        for i, use in enumerate(problem.uses):
            share = 1.0 if grams is None or not total else float(grams[i]) / total
            kinds = [use.ingredient.evidence[p] for p in places]
            if all(k is None for k in kinds):
                if share > 0 and (share >= UNKNOWN_SHARE or axis.name in STRONG_AXES):
                    unknown.append(use.label)
                continue
            weak = np.array([k in WEAK_KINDS for k in kinds])
            part = float(filled(use.ingredient.values[places])[weak] @ weights[weak])
            if part * share >= ASSUMED_JND * jnd:
                assumed.append(use.label)
        found[axis.name] = WeakParts(tuple(unknown), tuple(assumed))
    return found


def answer_from(solution: Solution) -> dict[str, Any]:
    """The answer document of a solution, as the answer schema describes."""
    problem = solution.problem
    ingredients = tuple(u.ingredient for u in problem.uses)
    weak = weak_parts(problem, solution.grams if solution.has_quantities else None)
    relax = [
        {"request": r.label, "to": _round(r.to), "unit": r.unit, "sentence": r.sentence}
        for r in relaxations(problem, solution.program, solution.status)
    ]
    answer: dict[str, Any] = {
        "status": str(solution.status),
        "quantities_g": {},
        "profile": {},
        "final_mass_g": None,
        "final_volume_ml": None,
        "binding": [
            {
                "limit": b.label,
                "loosen_by": _round(b.loosen_by),
                "unit": b.unit,
                "gain_jnd": _round(b.gain_jnd),
                "sentence": b.sentence,
            }
            for b in bindings(solution)
        ],
        "relax": relax,
        "notes": [*uncarried(problem, solution.program)],
        "cautions": [],
        "caution_sources": [],
        "resolved": {
            u.label: {"key": u.ingredient.key, "name": u.ingredient.name} for u in problem.uses
        },
    }
    reached = np.full(len(AXES), math.nan)
    if solution.has_quantities:
        blend = solution.blend
        per_100g = blend.per_100g()
        reached = solution.levels
        answer["quantities_g"] = {
            u.label: _round(g) for u, g in zip(problem.uses, solution.grams, strict=True)
        }
        answer["final_mass_g"] = _round(blend.mass_g)
        answer["final_volume_ml"] = _round(blend.mass_g * float(specific_volume(per_100g)) / 100.0)
        answer["notes"] += trades(solution)
        answer["notes"] += [
            f"Not kept by the locked quantities: {r.label}." for r in solution.broken
        ]
        picture = Picture(ingredients, solution.grams, per_100g, blend.mass_g)
        _with_cautions(answer, picture)
    for axis, level in zip(AXES, reached, strict=True):
        aim = problem.aim(axis.name)
        answer["profile"][axis.name] = {
            "reached": _round(level),
            "target": _target(aim),
            "unit": axis.unit_per_100g,
            "deviation_jnd": None
            if aim is None or not solution.has_quantities
            else _round(solution.deviation_jnd(axis.name)),
            "unknown": list(weak[axis.name].unknown),
            "assumed": list(weak[axis.name].assumed),
        }
    return answer


def _with_cautions(answer: dict[str, Any], picture: Picture) -> None:
    """Add the cautions and, in the same order, their sources; who decides is said at the end."""
    found = cautions(picture)
    if found:
        said = [c.sentence.removesuffix(DEFER).rstrip() for c in found]
        answer["cautions"] = [*said, DEFER]
        answer["caution_sources"] = [c.citation for c in found]


def _target(aim: Aim | None) -> float | dict[str, float] | None:
    if aim is None:
        return None
    if aim.is_point and aim.weight == 1.0:
        return aim.low
    return {"low": aim.low, "high": aim.high, "weight": aim.weight}


def _round(value: float, digits: int = 6) -> float | None:
    """Six significant digits, and no -0; None for what is not a number."""
    if not math.isfinite(value):
        return None
    return float(f"{value:.{digits}g}") + 0.0


def levels_document(levels: FloatArray) -> dict[str, float]:
    """A profile as a document: axis to level."""
    return {name: float(f"{x:.6g}") for name, x in zip(AXIS_NAMES, levels, strict=True)}
