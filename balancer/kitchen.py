"""The use cases: what a cook does, from opening the pantry to handing over a recipe.

The command line and the dashboard call this module and nothing below it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from balancer.answer import answer_from, levels_document, picture_of, with_cautions
from balancer.catalogue import Catalogue, default_catalogue
from balancer.composition import FloatArray
from balancer.constants import KEEP_SHARE, POT_GROWTH
from balancer.errors import BadInput
from balancer.export import Page, export
from balancer.nudge import Made, as_made, may_shrink, pot_problem
from balancer.problem import Problem
from balancer.recipe import Measure, Recipe, from_document
from balancer.report import Report, data_report
from balancer.request import Document, problem_from
from balancer.search import Hit, find, resolve
from balancer.settle import Settled, settle
from balancer.solve import Solution
from balancer.store import Imported, Store, read_document
from balancer.tasting import nudged, steps_from_words
from balancer.uncertainty import Spread, Statistics, read_statistics, spread
from balancer.wishes import checked_mass

#: An addition below this share of the pot is none.
TRACE = 1e-6


@dataclass(frozen=True, eq=False)
class Outcome:
    """A request, what it was turned into, and what came of it.

    Parameters
    ----------
    document : mapping
        The request.
    problem : Problem
    settled : Settled
        The solution and its water phase.
    answer : dict
        As the answer schema describes.
    """

    document: Document
    problem: Problem
    settled: Settled
    answer: dict[str, Any]

    @property
    def solution(self) -> Solution:
        """Quantities and levels."""
        return self.settled.solution


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


class Kitchen:
    """Everything a cook can do, over one set of tables and one store.

    Parameters
    ----------
    catalogue : Catalogue or None
        None takes the project's own tables.
    store_path : Path or None
        File of the saved work; None takes the one in the user's data directory.
    """

    def __init__(self, catalogue: Catalogue | None = None, store_path: Path | None = None) -> None:
        self.catalogue = catalogue or default_catalogue()
        self._store_path = store_path

    @cached_property
    def store(self) -> Store:
        """The saved profiles and recipes."""
        return Store(self._store_path)

    def find(self, text: str, limit: int = 10, *, table: bool = True) -> list[Hit]:
        """Ingredients whose names come nearest to a text."""
        return find(self.catalogue, text, limit, table=table)

    def solve(self, document: Document) -> Outcome:
        """Find quantities for a request.

        Raises
        ------
        BadInput
            If the request cannot be read or cannot be meant.
        """
        problem = problem_from(document, self.catalogue)
        return _outcome(document, problem)

    def how_sure(self, outcome: Outcome) -> Spread | None:
        """How far one lot of each ingredient may take the levels and the pH of a sauce.

        None where there are no quantities.
        """
        solution = outcome.solution
        if not solution.has_quantities:
            return None
        problem = solution.problem
        return spread(
            [u.ingredient for u in problem.uses],
            solution.grams,
            problem.water_lost_g,
            self._statistics,
            problem.kept,
        )

    @cached_property
    def _statistics(self) -> Statistics:
        return read_statistics(self.catalogue.directory)

    def data_report(self) -> Report:
        """What the pantry rests on, ingredient by ingredient."""
        return data_report(self.catalogue)

    def nudge(
        self,
        document: Document,
        answer: Document,
        words: str | Mapping[str, float],
        *,
        made_g: Mapping[str, float] | None = None,
        also: Sequence[str] = (),
        growth: float = POT_GROWTH.value,
    ) -> Nudge:
        """Turn a tasting into additions to the pot and into the next batch.

        Axes that the words do not mention aim at the level at which they were tasted.

        Parameters
        ----------
        document, answer : mapping
            The request that was made, and its answer.
        words : str or mapping of str to float
            The cook's sentence, or axis to step [JND].
        made_g : mapping of str to float or None
            Weighed quantities where they differ from the plan, by the name in the request [g].
        also : sequence of str
            Further ingredients that may go into the pot and the next batch.
        growth : float
            Largest growth of the pot, as a fraction of its mass [1].

        Raises
        ------
        BadInput
            If the words cannot be read, or a weighed quantity names nothing in the sauce.
        """
        steps = steps_from_words(words) if isinstance(words, str) else dict(words)
        planned = self._as_made(document, answer, made_g)
        document = _with_ingredients(document, self.catalogue, also)
        problem = problem_from(document, self.catalogue)
        made = as_made(problem, np.array([planned.get(u.label, 0.0) for u in problem.uses]))
        wanted = nudged(made.levels, steps)
        pot = settle(pot_problem(problem, made, wanted, steps, growth))
        return Nudge(
            steps,
            levels_document(made.levels),
            levels_document(wanted),
            _pot_outcome(document, problem, made, pot),
            _additions(pot, made),
            self.solve(_aimed_at(document, made, wanted, may_shrink(problem, made, steps))),
        )

    def _as_made(
        self, document: Document, answer: Document, made_g: Mapping[str, float] | None
    ) -> dict[str, float]:
        planned: dict[str, float] = dict(answer["quantities_g"])
        if not planned:
            raise BadInput(
                "This request has no quantities to start from, because its limits contradict each"
                " other. Loosen one of them and solve again."
            )
        labels = {resolve(self.catalogue, e["name"]).key: e["name"].strip()
                  for e in document["ingredients"]}  # fmt: skip
        for name, grams in (made_g or {}).items():
            key = resolve(self.catalogue, name).key
            if key not in labels:
                raise BadInput(
                    f"{name!r} was weighed, but the sauce has no such ingredient. It has:"
                    f" {', '.join(planned)}."
                )
            planned[labels[key]] = checked_mass(float(grams), f"{name}, as weighed,")
        return planned

    # --- saved work ---------------------------------------------------------------------------

    def save(self, name: str, outcome: Outcome, *, replace_it: bool = False) -> int:
        """Save a request with its answer as a recipe; returns the number of its revision.

        Raises
        ------
        BadInput
            If the outcome has no quantities, or the name cannot be used.
        NameTaken
            If a recipe of that name is saved and ``replace_it`` is false; with it, the older
            revisions stay.
        """
        if not outcome.solution.has_quantities:
            raise BadInput(
                "There are no quantities to save, because the limits contradict each other."
                " Loosen one of them and solve again."
            )
        document = {"request": dict(outcome.document), "answer": outcome.answer}
        return int(self.store.save_recipe(name, document, replace=replace_it).revision)

    def save_profile(self, name: str, outcome: Outcome) -> None:
        """Save the levels that an outcome reaches as a profile."""
        levels = levels_document(outcome.solution.levels)
        self.store.save_profile(name, levels)

    def saved(self, name: str, revision: int | None = None) -> Document:
        """The saved document of a recipe: its request and its answer."""
        document: Document = self.store.recipe(name, revision).document
        return document

    def recipe(self, name: str, revision: int | None = None) -> Recipe:
        """A saved recipe, ready to be read or exported."""
        record = self.store.recipe(name, revision)
        return self.recipe_of(name, record.document, record.saved_at[:10], record.revision)

    def recipe_of(self, name: str, document: Document, date: str = "", revision: int = 1) -> Recipe:
        """A recipe from a request with its answer, whether or not it is saved."""
        keys = [r["key"] for r in document["answer"]["resolved"].values()]
        measures = {
            key: tuple(Measure(m.amount, m.measure, m.grams) for m in self.catalogue.measures(key))
            for key in keys
        }
        return from_document(name, document, measures, date=date, revision=revision)

    def export(self, name: str, kind: str) -> Page:
        """A saved recipe in one of the formats of :data:`balancer.export.FORMATS`.

        Raises
        ------
        BadInput
            If there is no such format.
        NotSaved
            If no recipe of that name is saved.
        """
        return export(self.recipe(name), kind)

    def everything(self) -> dict[str, Any]:
        """All saved work as one document."""
        return dict(self.store.export_all())

    def take_in(self, text: str) -> Imported:
        """Add the saved work of another kitchen; returns how much of each was added."""
        return self.store.import_all(read_document(text, "The kitchen book"))


def _outcome(document: Document, problem: Problem) -> Outcome:
    settled = settle(problem)
    return Outcome(document, problem, settled, answer_from(settled))


def _pot_outcome(document: Document, problem: Problem, made: Made, pot: Settled) -> Outcome:
    """The pot after the additions; cautions look at everything that is in it."""
    answer = answer_from(pot)
    if pot.solution.has_quantities:
        seen = picture_of(pot.solution, pot.water_phase)
        with_cautions(
            answer,
            replace(
                seen,
                ingredients=tuple(u.ingredient for u in problem.uses),
                grams=made.grams + pot.solution.grams[1:],
            ),
        )
    return Outcome(document, pot.solution.problem, pot, answer)


def _additions(pot: Settled, made: Made) -> dict[str, float]:
    """What the pot gains, by label [g]; a trace is nothing."""
    if not pot.solution.has_quantities:
        return {}
    uses = pot.solution.problem.uses[1:]
    return {
        u.label: float(g)
        for u, g in zip(uses, pot.solution.grams[1:], strict=True)
        if g > TRACE * made.mass_g
    }


def _with_ingredients(document: Document, catalogue: Catalogue, also: Sequence[str]) -> Document:
    """The request with further ingredients, those it has already left alone."""
    if not also:
        return document
    have = {resolve(catalogue, e["name"]).key for e in document["ingredients"]}
    extra = [{"name": n, "draft_g": 0.0} for n in also if resolve(catalogue, n).key not in have]
    return {**document, "ingredients": [*document["ingredients"], *extra]}


def _aimed_at(
    document: Document, made: Made, wanted: FloatArray, shrinks: NDArray[np.bool_]
) -> Document:
    """The request of the next batch: as made is the draft, and every axis has its level."""
    entries = [
        {**entry, "draft_g": float(f"{g:.6g}"), "keep_share": 0.0 if less else KEEP_SHARE.value}
        for entry, g, less in zip(document["ingredients"], made.grams, shrinks, strict=True)
    ]
    kept = {k: v for k, v in document.items() if k not in ("ingredients", "target")}
    if "yield_g" not in kept and "yield_ml" not in kept:
        kept["yield_g"] = float(f"{made.mass_g:.6g}")
    if all("locked_g" in e for e in entries):
        # a report has every quantity locked; tasting it is a wish to move them
        entries = [{k: v for k, v in e.items() if k != "locked_g"} for e in entries]
    return {**kept, "ingredients": entries, "target": levels_document(wanted)}
