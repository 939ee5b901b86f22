"""Where a sauce can lie on two axes: the reachable region, computed and not sketched.

The region is the shadow of all quantities that the limits allow on two axes. In each of some
directions the same program that finds the grams finds the farthest point; their hull is the region,
exact at every one of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from balancer.catalogue import Catalogue
from balancer.constants import AXIS, AXIS_NAMES
from balancer.request import problem_from
from balancer.settle import settle
from balancer.wishes import LARGEST_LEVEL

#: Directions in which the farthest point is sought [1].
DIRECTIONS = 16
#: A weight below this share of the other is none.
_NONE = 1e-9
#: Points nearer than this share of the scale are one [1].
_SAME = 1e-4


def reachable(
    catalogue: Catalogue,
    document: Mapping[str, Any],
    axes: tuple[str, str],
    scale: tuple[float, float],
    directions: int = DIRECTIONS,
) -> list[tuple[float, float]]:
    """Farthest points of the region on two axes, once round.

    Parameters
    ----------
    catalogue : Catalogue
    document : mapping
        The request; its limits count and its targets do not.
    axes : tuple of str
    scale : tuple of float
        Levels that are drawn equally long [axis unit per 100 g].
    directions : int

    Returns
    -------
    list of tuple of float
        Levels on both axes [axis unit per 100 g], points that repeat left out; empty where the
        limits contradict each other.
    """
    found: list[tuple[float, float]] = []
    columns = [AXIS_NAMES.index(axis) for axis in axes]
    for k in range(directions):
        angle = 2.0 * math.pi * k / directions
        way = (math.cos(angle) / scale[0], math.sin(angle) / scale[1])
        target = {axis: _far(axis, part) for axis, part in zip(axes, way, strict=True)}
        aimed = {**document, "target": _even(target), "dead_band_jnd": 0.0}
        solution = settle(problem_from(aimed, catalogue)).solution
        if not solution.has_quantities:
            return []
        point = (float(solution.levels[columns[0]]), float(solution.levels[columns[1]]))
        if not found or _apart(point, found[-1], scale):
            found.append(point)
    once_round = len(found) > 1 and not _apart(found[0], found[-1], scale)
    return found[:-1] if once_round else found


def _apart(
    one: tuple[float, float], other: tuple[float, float], scale: tuple[float, float]
) -> bool:
    return any(abs(a - b) >= _SAME * s for a, b, s in zip(one, other, scale, strict=True))


def _far(axis: str, part: float) -> dict[str, float]:
    """A level that no sauce passes, weighed so that the whole distance is the direction's part."""
    level = LARGEST_LEVEL[axis] if part > 0 else 0.0
    jnd = AXIS[axis].floor + AXIS[axis].weber * level
    return {"low": level, "high": level, "weight": abs(part) * jnd}


def _even(target: Mapping[str, dict[str, float]]) -> dict[str, dict[str, float]]:
    """The same weights about one; an axis without weight is not aimed at."""
    most = max(aim["weight"] for aim in target.values())
    kept = {axis: aim for axis, aim in target.items() if aim["weight"] > _NONE * most}
    least = min(aim["weight"] for aim in kept.values())
    middle = math.sqrt(most * least)
    return {axis: {**aim, "weight": aim["weight"] / middle} for axis, aim in kept.items()}
