"""A sitting at the stove: what was tasted becomes additions to the pot and a next batch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balancer.answer import answer_from, levels_document, picture_of, with_cautions
from balancer.catalogue import Catalogue
from balancer.composite_vector import ingredient_of
from balancer.composition import NAMES, FloatArray, matrix, taken_apart
from balancer.constants import AXES, KEEP_SHARE, POT_TOLERANCE_JND
from balancer.errors import BadInput
from balancer.nudge import Made, as_made, may_shrink, pot_problem
from balancer.outcome import Outcome, outcome_of, serving_of
from balancer.pot import Correction, correct
from balancer.problem import Problem
from balancer.readings import Readings, measured_problem
from balancer.request import Document, problem_from
from balancer.safety import Picture, allergens
from balancer.search import resolve
from balancer.settle import Settled, settle
from balancer.taste import levels as axis_levels
from balancer.tasting import nudged
from balancer.weighing import TRACE
from balancer.wishes import Aim, Use, checked_mass


@dataclass(frozen=True, eq=False)
class Nudge:
    """The two answers to a tasting.

    Parameters
    ----------
    steps : mapping of str to float
        What the words asked for, per axis [JND].
    tasted : mapping of str to float
        Levels of the sauce as made [axis unit per 100 g].
    wanted : mapping of str to float
        Levels that the words lead to.
    pot : Outcome
        What to add to the pot; nothing comes out of it.
    additions_g : mapping of str to float
        What the pot gains, by the name in the request [g]; empty if it cannot be helped.
    next_batch : Outcome
        The same mass made anew.
    """

    steps: Mapping[str, float]
    tasted: Mapping[str, float]
    wanted: Mapping[str, float]
    pot: Outcome
    additions_g: Mapping[str, float]
    next_batch: Outcome

    @property
    def pot_g(self) -> float:
        """Mass in the pot before anything is added [g]."""
        pot = self.pot.problem.pot
        return sum(pot.grams) if pot else 0.0


def nudge(
    catalogue: Catalogue,
    document: Document,
    answer: Document,
    steps: Mapping[str, float],
    *,
    wanted: FloatArray | None = None,
    made_g: Mapping[str, float] | None = None,
    also: Sequence[str] = (),
    growth: float,
) -> Nudge:
    """Turn a tasting into additions to the pot and into the next batch.

    Parameters
    ----------
    catalogue : Catalogue
    document, answer : mapping
        The request that was made, and its answer.
    steps : mapping of str to float
        Axis to step from the level as made [JND]; 0 where it is right.
    wanted : array, shape (n_axes,), or None
        Levels to reach; None takes the steps from the levels as made.
    made_g : mapping of str to float or None
        Weighed quantities where they differ from the plan, by the name in the request [g].
    also : sequence of str
        Further ingredients that may go into the pot and the next batch.
    growth : float
        Largest growth of the pot, as a fraction of its mass [1].

    Raises
    ------
    BadInput
        If a weighed quantity names nothing in the sauce, or a step cannot be.
    """
    document, problem, made = batch_as_made(catalogue, document, answer, made_g, also)
    if wanted is None:
        wanted = nudged(made.levels, steps)
    pot = settle(pot_problem(problem, made, wanted, steps, growth))
    aimed = _aimed_at(document, made, wanted, may_shrink(problem, made, steps))
    return Nudge(
        steps,
        levels_document(made.levels),
        levels_document(wanted),
        _pot_outcome(document, problem, made, pot),
        _additions(pot, made),
        outcome_of(aimed, problem_from(aimed, catalogue)),
    )


def batch_as_made(
    catalogue: Catalogue,
    document: Document,
    answer: Document,
    made_g: Mapping[str, float] | None = None,
    also: Sequence[str] = (),
) -> tuple[Document, Problem, Made]:
    """The batch as it was weighed, with the request and problem that allow the further ones."""
    planned = _planned(catalogue, document, answer, made_g)
    document = _with_ingredients(document, catalogue, also)
    problem = problem_from(document, catalogue)
    grams = np.array([planned.get(u.label, 0.0) * u.passes for u in problem.uses])
    return document, problem, as_made(problem, grams)


def correct_pot(
    catalogue: Catalogue,
    document: Document,
    answer: Document,
    *,
    made_g: Mapping[str, float] | None = None,
    also: Sequence[str] = (),
    growth: float,
    readability_g: float,
) -> Correction:
    """What to do for a pot that was made off its recipe, so that it reaches the recipe's target.

    Raises
    ------
    BadInput
        If the recipe has no target, or a weighed quantity names nothing in the sauce.
    """
    _, problem, made = batch_as_made(catalogue, document, answer, made_g, also)
    if not problem.aims:
        raise BadInput(
            "This recipe is a report and has no target, so there is nothing to correct towards."
            " Say how it tasted instead."
        )
    wanted = pot_problem(problem, made, made.levels, {}, growth)
    settled = settle(replace(wanted, aims=problem.aims, dead_band_jnd=POT_TOLERANCE_JND.value))
    return correct(settled.solution.problem, readability_g=readability_g)


def correct_measured(
    catalogue: Catalogue,
    readings: Readings,
    target: Mapping[str, float],
    additions: Sequence[str],
    *,
    growth: float,
    readability_g: float,
) -> Correction:
    """What to do for a pot of which only readings are known.

    Parameters
    ----------
    catalogue : Catalogue
    readings : Readings
    target : mapping of str to float
        Axis to level [axis unit per 100 g].
    additions : sequence of str
        Names of what may go in.
    growth : float
        Largest growth of the pot [1].
    readability_g : float
        Step of the scale [g].

    Raises
    ------
    BadInput
        If an axis is aimed at that was not read, or nothing may go in.
    """
    if not additions:
        raise BadInput("Nothing may go into the pot. Name at least one ingredient to add.")
    uses = tuple(Use(resolve(catalogue, n), label=n.strip(), max_g=1e6) for n in additions)
    pot = readings.ingredient()
    levels = axis_levels(matrix([pot]))[0]
    aims = tuple(Aim(axis, float(x), float(x)) for axis, x in target.items())
    # what was read and not asked for stays where it is
    aims += tuple(
        Aim(axis.name, float(x), float(x))
        for axis, x in zip(AXES, levels, strict=True)
        if axis.name not in target and any(not math.isnan(pot[c]) for c in axis.weights)
    )
    problem = measured_problem(readings, uses, aims, growth)
    return correct(problem, readability_g=readability_g)


def how_to_add(found: Nudge, readability_g: float) -> Correction:
    """How to weigh and stage what a nudge adds to the pot, and what to do where it falls short."""
    return correct(found.pot.solution.problem, readability_g=readability_g)


def _planned(
    catalogue: Catalogue, document: Document, answer: Document, made_g: Mapping[str, float] | None
) -> dict[str, float]:
    """Quantities as made, by label: those of the plan, and the weighed ones in their place [g]."""
    planned: dict[str, float] = dict(answer["quantities_g"])
    if not planned:
        raise BadInput(
            "This request has no quantities to start from, because its limits contradict each"
            " other. Loosen one of them and solve again."
        )
    entries = document["ingredients"]
    labels = {e["name"].strip(): e["name"].strip() for e in entries}
    keys = {resolve(catalogue, e["name"]).key: e["name"].strip()
            for e in entries if "recipe" not in e}  # fmt: skip
    for name, grams in (made_g or {}).items():
        label = labels.get(name.strip()) or keys.get(resolve(catalogue, name).key)
        if label is None:
            raise BadInput(
                f"{name!r} was weighed, but the sauce has no such ingredient. It has:"
                f" {', '.join(planned)}."
            )
        planned[label] = checked_mass(float(grams), f"{name}, as weighed,")
    return planned


def _pot_outcome(document: Document, problem: Problem, made: Made, pot: Settled) -> Outcome:
    """The pot after the additions; cautions look at everything that is in it."""
    serving_g = serving_of(document)
    answer = answer_from(pot, serving_g)
    if pot.solution.has_quantities:
        seen = picture_of(pot.solution, pot.water_phase, serving_g)
        foods = [u.ingredient for u in problem.uses]
        base = taken_apart(foods, made.grams + pot.solution.grams[1:])
        with_cautions(
            answer,
            replace(
                seen,
                ingredients=tuple(p.ingredient for p in base),
                grams=np.array([p.grams for p in base]),
            ),
        )
    return Outcome(document, pot.solution.problem, pot, answer)


def _additions(pot: Settled, made: Made) -> dict[str, float]:
    """What the pot gains, by label [g]; a trace is nothing."""
    if not pot.solution.has_quantities:
        return {}
    uses = pot.solution.problem.uses[1:]
    return {
        u.label: float(g / u.passes)
        for u, g in zip(uses, pot.solution.grams[1:], strict=True)
        if g > TRACE * made.mass_g
    }


def _with_ingredients(document: Document, catalogue: Catalogue, also: Sequence[str]) -> Document:
    """The request with further ingredients, those it has already left alone."""
    if not also:
        return document
    have = {ingredient_of(e, catalogue).key for e in document["ingredients"]}
    extra = [{"name": n, "draft_g": 0.0} for n in also if resolve(catalogue, n).key not in have]
    return {**document, "ingredients": [*document["ingredients"], *extra]}


def _aimed_at(
    document: Document, made: Made, wanted: FloatArray, shrinks: NDArray[np.bool_]
) -> Document:
    """The request of the next batch: as made is the draft, and every axis has its level."""
    entries = [
        {**entry, "draft_g": float(f"{g:.6g}"), "keep_share": 0.0 if less else KEEP_SHARE.value}
        for entry, g, less in zip(document["ingredients"], made.weighed_g, shrinks, strict=True)
    ]
    kept = {k: v for k, v in document.items() if k not in ("ingredients", "target")}
    if "yield_g" not in kept and "yield_ml" not in kept:
        kept["yield_g"] = float(f"{made.mass_g:.6g}")
    if all("locked_g" in e for e in entries):
        # a report has every quantity locked; tasting it is a wish to move them
        entries = [{k: v for k, v in e.items() if k != "locked_g"} for e in entries]
    return {**kept, "ingredients": entries, "target": levels_document(wanted)}


def allergens_added(found: Correction) -> str:
    """Say which allergens go into a pot with what may correct it; empty where none is known."""
    set_aside = None if found.set_aside is None else found.set_aside.plan
    plans = [p for p in (found.plan, found.dilute, set_aside, found.after_reduction) if p]
    added = {addition.label for plan in plans for addition in plan.additions}
    uses = {u.label: u.ingredient for p in plans for u in p.solution.problem.uses}
    foods = [uses[label] for label in uses if label in added]
    parts = tuple(p.ingredient for p in taken_apart(foods, np.ones(len(foods))))
    seen = Picture(parts, np.ones(len(parts)), np.zeros(len(NAMES)), 100.0)
    named = [f"{a.name} ({', '.join(a.carriers)})" for a in allergens(seen)]
    return f"Allergens of what goes in: {'; '.join(named)}. Read every label." if named else ""
