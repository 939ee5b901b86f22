"""The headless contract: a request as a document becomes a problem.

Request and answer have a JSON Schema that comes with the package. What a schema can say is checked
by it, the rest when the problem is built; either way a refusal is one sentence.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from balancer.catalogue import Catalogue
from balancer.composite_vector import ingredient_of
from balancer.composition import INDEX, WATER_TOLERANCE, FloatArray, matrix
from balancer.constants import AXIS_NAMES, DEAD_BAND_JND
from balancer.entries import use_of, usual_stage
from balancer.errors import BadInput
from balancer.intensity import intensity_of, level_of_perceived
from balancer.kitchen_constants import SIMMER_RATE_G_MIN
from balancer.problem import Problem
from balancer.simmering import batch, boiled, lost_g, water_lost_to_brix
from balancer.wishes import Aim, Limit, Ratio, Use, WaterLimits

Document = Mapping[str, Any]


@cache
def schema(which: str) -> Document:
    """The published schema, ``which`` being ``"request"`` or ``"answer"``."""
    path = Path(__file__).parent / "schema" / f"{which}.schema.json"
    loaded: Document = json.loads(path.read_text(encoding="utf-8"))
    return loaded


def _short(text: object, longest: int = 60) -> str:
    shown = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in str(text)[:200])
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
    where = _short(".".join(str(p) for p in error.absolute_path), 120) or "The request"
    if error.validator == "additionalProperties":
        allowed = sorted(error.schema.get("properties", {}))
        extra = sorted(k for k in error.instance if k not in allowed)
        raise BadInput(
            f"{where} has an unknown key {_short(extra[0])!r}. Known keys: {', '.join(allowed)}."
        )
    if error.validator == "not" and where == "The request":
        raise BadInput("The request gives both yield_g and yield_ml. Keep one.")
    raise BadInput(
        f"{where} is {_short(json.dumps(error.instance, default=str))}:"
        f" {_expected(error)}. Print what is read with `balancer schema`."
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
    if isinstance(value, int | float) and not abs(value) <= sys.float_info.max:
        raise BadInput(
            f"{_short(where, 120)} is {_short(value)}, which is no amount. Give a number."
        )
    if isinstance(value, Mapping):
        for key, inner in value.items():
            inside = _short(key)
            _refuse_not_finite(inner, inside if where == "request" else f"{where}.{inside}")
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
        Where names are looked up, those of saved recipes included.

    Raises
    ------
    BadInput
        One sentence that names the field, its value with unit, and the next step.
    """
    validate(document)
    entries = document["ingredients"]
    if not entries:
        raise BadInput("No ingredients are chosen. Name at least one.")
    stage = usual_stage(document)
    uses = tuple(use_of(entry, ingredient_of(entry, catalogue), stage) for entry in entries)
    water_lost_g = _water_lost(document, uses)
    aims = _aims(document.get("target", {}))
    yield_g, yield_ml = document.get("yield_g"), document.get("yield_ml")
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
        water_limits=_water_limits(document.get("limits", {})),
        ratios=tuple(_ratio(r, uses) for r in document.get("ratios", ())),
        dead_band_jnd=float(document.get("dead_band_jnd", DEAD_BAND_JND.value)),
    )


def _water_lost(document: Document, uses: tuple[Use, ...]) -> float:
    """Water cooked away, as stated or by a time or a reading to stop at [g]."""
    simmer = document.get("simmer")
    if simmer is None:
        return _can_be_lost(float(document.get("water_lost_g", 0.0)), "The water lost is", uses)
    if "water_lost_g" in document:
        raise BadInput("The request gives both water_lost_g and simmer. Keep one.")
    if ("to_brix" in simmer) == ("minutes" in simmer):
        raise BadInput("Say either how many minutes it simmers, or to which degrees Brix.")
    if "minutes" in simmer:
        rate = float(simmer.get("steam_g_per_min", SIMMER_RATE_G_MIN.value))
        minutes = float(simmer["minutes"])
        said = f"Simmering for {minutes:g} min at {rate:g} g of steam a minute takes"
        return _can_be_lost(minutes * rate, said, uses)
    if any(u.locked_g is None for u in uses):
        raise BadInput(
            f"Simmering to {simmer['to_brix']:g} degrees Brix needs every quantity locked: with"
            " free ones the target decides the sugar. Lock them, or give water_lost_g."
        )
    return water_lost_to_brix(_locked(uses), float(simmer["to_brix"]))


def _locked(uses: tuple[Use, ...]) -> FloatArray:
    """What the locked quantities hold before cooking."""
    grams = np.array([u.locked_g or 0.0 for u in uses])
    return batch(matrix([u.ingredient for u in uses]), grams)


def _can_be_lost(loss_g: float, said: str, uses: tuple[Use, ...]) -> float:
    """A loss that known quantities have water for; free ones are chosen so that they have."""
    if all(u.locked_g is not None for u in uses):
        pan = _locked(uses)
        most = lost_g(pan, boiled(pan, float(pan[INDEX["water"]])))
        if loss_g > most * (1.0 + WATER_TOLERANCE):
            raise BadInput(
                f"{said} {loss_g:g} g, but what is in the pan can lose {most:.4g} g at most, its"
                " water and what leaves with it. Boil off less, or add water."
            )
    return loss_g


def _aims(target: Document) -> tuple[Aim, ...]:
    """Aims of a target; words of perceived intensity become levels in the mixture of all aims."""
    aims = {
        axis: _aim(axis, wanted)
        for axis, wanted in target.items()
        if not (isinstance(wanted, Mapping) and "perceived" in wanted)
    }
    words = {axis: wanted for axis, wanted in target.items() if axis not in aims}
    if words:
        known = np.array([aims[a].middle if a in aims else 0.0 for a in AXIS_NAMES])
        intensity = np.array(
            [intensity_of(words[a]["perceived"]) if a in words else math.nan for a in AXIS_NAMES]
        )
        found = level_of_perceived(intensity, known)
        for axis, wanted in words.items():
            level = float(f"{found[AXIS_NAMES.index(axis)]:.4g}")
            aims[axis] = Aim(axis, level, level, float(wanted.get("weight", 1.0)))
    return tuple(aims[axis] for axis in target)


def _aim(axis: str, wanted: float | Document) -> Aim:
    if isinstance(wanted, Mapping):
        weight = float(wanted.get("weight", 1.0))
        return Aim(axis, float(wanted["low"]), float(wanted["high"]), weight)
    return Aim(axis, float(wanted), float(wanted))


def _limits(wanted: Document) -> tuple[Limit, ...]:
    found = []
    for key, what, unit, component in (
        ("sodium_mg_per_100g_max", "sodium", "mg per 100 g", "sodium"),
        ("fat_g_per_100g_max", "fat", "g per 100 g", "fat"),
    ):
        if key in wanted:
            most = float(wanted[key])
            label = f"{what} at most {most:g} {unit}"
            found.append(Limit(label, unit, {component: 1.0}, high=most))
    if "sodium_mg_per_serving_max" in wanted:
        if "serving_g" not in wanted:
            raise BadInput(
                "A most of sodium per serving needs the serving. Give limits.serving_g in grams."
            )
        most, serving_g = float(wanted["sodium_mg_per_serving_max"]), float(wanted["serving_g"])
        unit = f"mg per serving of {serving_g:g} g"
        per_serving = {"sodium": serving_g / 100.0}
        found.append(Limit(f"sodium at most {most:g} {unit}", unit, per_serving, high=most))
    return tuple(found)


def _water_limits(wanted: Document) -> WaterLimits:
    names = {
        "ph_max": "ph_max",
        "acidity_pct_citric_min": "acidity_min_pct",
        "sugar_acid_min": "sugar_acid_min",
        "sugar_acid_max": "sugar_acid_max",
        "water_activity_max": "water_activity_max",
    }
    return WaterLimits(**{ours: float(wanted[k]) for k, ours in names.items() if k in wanted})


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
