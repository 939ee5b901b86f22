"""A request with what came of it: the unit in which the faces of the project think."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from balancer.answer import answer_from
from balancer.problem import Problem
from balancer.request import Document
from balancer.settle import Settled, settle
from balancer.solve import Solution


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


def outcome_of(document: Document, problem: Problem) -> Outcome:
    """Settle a problem and put the answer beside the request."""
    settled = settle(problem)
    return Outcome(document, problem, settled, answer_from(settled, serving_of(document)))


def serving_of(document: Document) -> float | None:
    """Mass of a serving that a request names [g]."""
    serving_g = document.get("limits", {}).get("serving_g")
    return None if serving_g is None else float(serving_g)
