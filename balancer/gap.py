"""A gap that a cook tastes, in their own words: "sour +2, body +1, fat 0, family: citrus"."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from balancer.composition import FloatArray
from balancer.constants import AROMA_FAMILIES, AXES, AXIS_NAMES
from balancer.errors import BadInput
from balancer.problem import Problem
from balancer.taste import from_z, to_z
from balancer.wishes import LARGEST_LEVEL, Aim

#: No tasting is further off than this [JND].
LARGEST_STEP_JND = 50.0
LONGEST_GAP = 500
_STEP = re.compile(r"([a-z]+)\s*:?\s*([+\-\u2212]?\s*\d+(?:\.\d+)?)")
_FAMILY = re.compile(r"family\s*:?\s*([a-z _\-]+)")


@dataclass(frozen=True)
class Gap:
    """What a sauce lacks.

    Parameters
    ----------
    steps : mapping of str to float
        Axis to step from how the sauce tastes now [JND]; 0 keeps the axis as it is.
    family : str or None
        Family of aroma that the missing ingredient must bring.
    """

    steps: Mapping[str, float]
    family: str | None = None


def gap_from_text(text: str) -> Gap:
    """Read a gap.

    Parameters
    ----------
    text : str
        Axes with steps in JND, and at most one family of aroma, with commas between them.

    Raises
    ------
    BadInput
        If a part cannot be read, or names no axis or no family.

    Examples
    --------
    >>> gap_from_text("sour +2, body +1, fat 0, family: citrus")
    Gap(steps={'sour': 2.0, 'body': 1.0, 'fat': 0.0}, family='citrus')
    """
    if len(text) > LONGEST_GAP:
        raise BadInput(f"The gap has {len(text)} letters. Give at most {LONGEST_GAP}.")
    steps: dict[str, float] = {}
    family: str | None = None
    for part in re.split(r"[,;\n]", text.casefold()):
        words = part.strip()
        if not words:
            continue
        if named := _FAMILY.fullmatch(words):
            family = re.sub(r"[ \-]+", "_", named[1].strip())
            if family not in AROMA_FAMILIES:
                raise BadInput(
                    f"There is no family of aroma {named[1].strip()[:40]!r}. Use one of:"
                    f" {', '.join(f.replace('_', ' ') for f in AROMA_FAMILIES)}."
                )
            continue
        found = _STEP.fullmatch(words)
        if found is None:
            raise BadInput(
                f"{words[:60]!r} is no part of a gap. Write an axis with a step in JND, as"
                " 'sour +2', or 'family: citrus'."
            )
        axis, step = found[1], float(re.sub(r"\s", "", found[2]).replace("\u2212", "-"))
        if axis not in AXIS_NAMES:
            raise BadInput(f"There is no axis {axis[:40]!r}. Use one of: {', '.join(AXIS_NAMES)}.")
        if axis in steps:
            raise BadInput(f"The gap names {axis} twice. Say once what it needs.")
        if abs(step) > LARGEST_STEP_JND:
            raise BadInput(
                f"The step of {axis} is {step:g} JND. Give one of at most {LARGEST_STEP_JND:g}."
            )
        steps[axis] = step
    if not steps and family is None:
        raise BadInput("The gap is empty. Say, for example, 'sour +2, body +1'.")
    return Gap(steps, family)


def asked(problem: Problem, now: FloatArray, gap: Gap) -> Problem:
    """The problem with the gap as its target.

    Parameters
    ----------
    problem : Problem
    now : array, shape (n_axes,)
        Levels as the sauce tastes now [axis unit per 100 g].
    gap : Gap
        Axes it does not name stay as they taste now; a gap of a family alone leaves the target.
    """
    if not gap.steps:
        return problem
    move = np.array([gap.steps.get(a, 0.0) for a in AXIS_NAMES])
    wanted = from_z(np.maximum(to_z(np.maximum(now, 0.0)) + move, 0.0))
    aims = []
    for axis, level in zip(AXES, wanted, strict=True):
        old = problem.aim(axis.name)
        value = min(float(level), LARGEST_LEVEL[axis.name])
        aims.append(Aim(axis.name, value, value, old.weight if old else 1.0))
    return replace(problem, aims=tuple(aims))


def held(problem: Problem, now: FloatArray) -> Problem:
    """The problem with every axis that has no aim held where it is.

    Parameters
    ----------
    problem : Problem
    now : array, shape (n_axes,)
        Levels as the sauce tastes now [axis unit per 100 g].
    """
    more = tuple(
        Aim(axis, float(level), float(level))
        for axis, level in zip(AXIS_NAMES, np.maximum(now, 0.0), strict=True)
        if problem.aim(axis) is None
    )
    return replace(problem, aims=problem.aims + more)
