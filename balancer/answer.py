"""What came of a sauce, as a document that any program can read."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from balancer.composite import Expansion
from balancer.composition import INDEX, Evidence, FloatArray, filled, specific_volume, taken_apart
from balancer.constants import AXES, AXIS_NAMES
from balancer.explain import bindings, trades, uncarried
from balancer.intensity import perceived, word_of
from balancer.kitchen_constants import MAGNITUDE_WORDS
from balancer.prepared import unprepared_key
from balancer.problem import Problem
from balancer.relax import relaxations
from balancer.safety import DEFER, Picture, cautions
from balancer.settle import PH_TOLERANCE, Settled
from balancer.solve import Solution, Status
from balancer.taste import to_z
from balancer.uncertainty import SURE, Spread, in_words
from balancer.water_phase import WaterPhase
from balancer.wishes import Aim

WEAK_KINDS = (Evidence.ASSUMED, Evidence.MEMORY)
#: An unknown part is named from this share of the batch on.
UNKNOWN_SHARE = 0.01
#: Axes on which a pinch counts, so that an unknown part is named at any share.
STRONG_AXES = ("volatile", "heat")
#: An assumed part is named from this much on [JND].
ASSUMED_JND = 0.25
#: A level below this is the crumb of a subtraction [axis unit per 100 g].
LEAST_LEVEL = 1e-9
#: Said where the share of water left was tried step by step.
UNSTEADY = (
    "What leaves with the steam depends on these quantities and they on it, so the levels shown are"
    " true of them, but others may come nearer: lock one ingredient or lose less water, and solve"
    " again."
)
#: Ladders of taste are made in water and overrate a sauce: no word above this one is shown.
STRONGEST = MAGNITUDE_WORDS["very strong"].value
WEAKEST = MAGNITUDE_WORDS["barely detectable"].value


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


def answer_from(settled: Settled, serving_g: float | None = None) -> dict[str, Any]:
    """The answer document of a settled sauce, as the answer schema describes.

    Parameters
    ----------
    settled : Settled
    serving_g : float or None
        Mass of a serving, for the cautions [g].
    """
    solution, phase = settled.solution, settled.water_phase
    problem = solution.problem
    weak = weak_parts(problem, solution.grams if solution.has_quantities else None)
    relax = [
        {"request": r.label, "to": _round(r.to), "unit": r.unit, "sentence": r.sentence}
        for r in relaxations(problem, solution.program, solution.status)
    ]
    answer: dict[str, Any] = {
        "status": str(solution.status),
        "quantities_g": {},
        "profile": {},
        "taken_out_g": {},
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
        "ph": None,
        "brix": None,
        "acidity_pct_citric": None,
        "moisture_pct": None,
        "water_activity": None,
        "perceived": {},
        "resolved": {
            u.label: {"key": unprepared_key(u.ingredient.key), "name": u.ingredient.name}
            for u in problem.uses
        },
    }
    reached = np.full(len(AXES), math.nan)
    if solution.has_quantities:
        blend = solution.blend
        per_100g = blend.per_100g()
        reached = solution.levels
        answer["quantities_g"] = {
            u.label: _round(g / u.passes) for u, g in zip(problem.uses, solution.grams, strict=True)
        }
        answer["taken_out_g"] = {
            u.label: _round(g * (1.0 / u.passes - 1.0))
            for u, g in zip(problem.uses, solution.grams, strict=True)
            if u.passes < 1.0 and g > 0
        }
        answer["final_mass_g"] = _round(blend.mass_g)
        answer["final_volume_ml"] = _round(blend.mass_g * float(specific_volume(per_100g)) / 100.0)
        answer["notes"] += trades(solution)
        answer["notes"] += _more_than_once(solution)
        by = " by the locked quantities" if problem.all_locked else ""
        answer["notes"] += [f"Not kept{by}: {r.label}." for r in solution.broken]
        if not settled.is_steady and solution.status is Status.NEAREST:
            answer["notes"].append(UNSTEADY)
        answer["perceived"] = _perceived(solution.levels)
        if phase is not None:
            answer |= _water(phase)
            answer["notes"] += _water_notes(settled, phase)
        with_cautions(answer, picture_of(solution, phase, serving_g))
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


def _more_than_once(solution: Solution) -> list[str]:
    """What enters through a recipe and by itself, or through two recipes."""
    uses = solution.problem.uses
    if not any(u.ingredient.parts for u in uses):
        return []
    parts = taken_apart([u.ingredient for u in uses], solution.grams)
    whole = Expansion(tuple(p for p in parts if p.grams > 0), solution.blend.mass_g, 0.0)
    return [f"{sentence}." for sentence in whole.entering_more_than_once]


def _perceived(levels: FloatArray) -> dict[str, dict[str, Any]]:
    """How strong each axis tastes in the mixture: a display model, not a truth."""
    # what lies a just-noticeable step above nothing is not "no sensation"
    least = np.where(to_z(levels) >= 1.0, WEAKEST, 0.0)
    shown = np.clip(perceived(levels), least, STRONGEST)
    return {
        axis: {"intensity": _round(x, 3), "word": word_of(float(x))}
        for axis, x in zip(AXIS_NAMES, shown, strict=True)
    }


def _water(phase: WaterPhase) -> dict[str, Any]:
    ph = phase.ph
    return {
        "ph": None
        if ph is None
        else {"value": _round(ph.value, 3), "low": _round(ph.low, 3), "high": _round(ph.high, 3)},
        "brix": _round(phase.brix, 3),
        "acidity_pct_citric": _round(phase.acidity_pct_citric, 3),
        "moisture_pct": _round(phase.moisture_pct, 4),
        "water_activity": _round(phase.water_activity, 3),
    }


def _water_notes(settled: Settled, phase: WaterPhase) -> list[str]:
    notes = []
    wanted = settled.solution.problem.water_limits
    if phase.ph is None:
        notes.append("There is too little water for a pH: an oil or a dry mix has none to measure.")
    elif wanted.ph_max is not None and phase.ph.high > wanted.ph_max + PH_TOLERANCE:
        notes.append(
            f"The pH may reach {phase.ph.high:.2f}, over the ceiling of {wanted.ph_max:g}."
        )
    if phase.ph is not None and phase.ph.capped:
        notes.append("The sauce is saltier than the pH model is made for: measure its pH.")
    if phase.ph is not None and phase.estimated:
        notes.append(
            f"No pH is published for {', '.join(phase.estimated)}: that part of the pH is"
            " estimated from minerals and acids, and the band allows for it."
        )
    activity = wanted.water_activity_max
    if activity is not None and not settled.kept_ceilings:
        notes.append(
            f"The water activity stays at {phase.water_activity:.3f}, over the ceiling of"
            f" {activity:g}: nothing chosen can make the sauce drier within its limits."
        )
    return notes


def picture_of(
    solution: Solution, phase: WaterPhase | None, serving_g: float | None = None
) -> Picture:
    """The finished sauce as the cautions look at it."""
    ph, activity = (None, math.nan) if phase is None else (phase.ph, phase.water_activity)
    base = taken_apart([u.ingredient for u in solution.problem.uses], solution.grams)
    return Picture(
        tuple(p.ingredient for p in base),
        np.array([p.grams for p in base]),
        solution.blend.per_100g(),
        solution.blend.mass_g,
        None if ph is None else (ph.value, ph.low, ph.high),
        None if math.isnan(activity) else activity,
        serving_g,
    )


def with_cautions(answer: dict[str, Any], picture: Picture) -> None:
    """Add the cautions and, in the same order, their sources; who decides is said at the end."""
    found = cautions(picture)
    if found:
        said = [c.sentence.removesuffix(DEFER).rstrip() for c in found]
        answer["cautions"] = [*said, DEFER]
        answer["caution_sources"] = [c.citation for c in found]


def spread_document(found: Spread | None) -> dict[str, Any]:
    """How sure the levels and the pH are, as a part of the answer document."""
    if found is None:
        return {}
    axes = {
        axis: {
            "low": _round(found.low[i], 3),
            "high": _round(found.high[i], 3),
            "dominant": found.dominant[i],
            "share": _round(found.share[i], 2),
        }
        for i, axis in enumerate(AXIS_NAMES)
    }
    # what is unknown stands in the profile already
    said = in_words(replace(found, unknown=tuple(() for _ in found.unknown)))
    return {"axes": axes, "sentences": [s for s in said if not s.endswith(SURE)]}


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
    return {
        name: float(f"{x:.6g}") if x > LEAST_LEVEL else 0.0
        for name, x in zip(AXIS_NAMES, levels, strict=True)
    }
