"""Kitchen measures chosen together, so that the sauce still tastes as it was solved.

Rounding each quantity alone lets the errors add up: the sugar a little over, the vinegar a little
under, and the sauce is sweet. Here one measure is chosen for every ingredient by one mixed-integer
program. With the masses as unknowns the level of an axis is off by

    (q @ (levels - wanted) + wanted * lost) / mass,

which is linear over the mass that was solved for; the true mass differs from it by at most 2 %, so
that the error is wrong by at most 2 % of itself. The largest error over the axes is least, in
just-noticeable differences; what lies under :data:`FINE_JND` is not chased.

Kept exactly: locks, limits of the finished sauce and the rows of a pH ceiling. Ratios and shares
become tolerances. The mass may float.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from balancer.choices import Choice, Style, by_weight, checked_scale, crystal_note, preferred
from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, DEAD_BAND_JND
from balancer.measures import Measure
from balancer.problem import Problem
from balancer.rounding_rows import (
    FLOAT,
    NUMERIC,
    errors_over,
    jnd_at,
    levels_of,
    mass_rows,
    stays,
)
from balancer.rounding_search import exchanged, together
from balancer.water_phase import phase_of, water_phase
from balancer.wishes import Use

#: An error below this is not chased: it is a fiftieth of what can be tasted [JND].
FINE_JND = 0.02
#: Time for one program; the best found by then is taken [s].
SECONDS = 0.5
#: What weighs less than this is left out [g].
LEAST_G = 0.0005


@dataclass(frozen=True, eq=False)
class Rounded:
    """Practical measures for a sauce, and what they do to it.

    Parameters
    ----------
    problem : Problem
        The sauce, its limits as rows.
    wanted_g : array, shape (n,)
        Quantities before rounding that stay in the pot, in the cook's order [g].
    chosen : tuple of (Choice or None), length n
        What the cook measures; None for what is left out, because next to nothing was wanted.
    broken : tuple of str
        Limits that the measures do not keep.
    """

    problem: Problem
    wanted_g: FloatArray
    chosen: tuple[Choice | None, ...]
    broken: tuple[str, ...]

    @property
    def grams(self) -> FloatArray:
        """Quantities after rounding that stay in the pot, shape (n,) [g]."""
        weighed = np.array([0.0 if c is None else c.grams for c in self.chosen])
        return weighed * stays(self.problem)

    @property
    def mass_g(self) -> float:
        """Finished mass [g]."""
        return float(self.grams.sum()) - self.problem.water_lost_g

    @property
    def levels(self) -> FloatArray:
        """Levels after rounding, shape (n_axes,) [axis unit per 100 g]."""
        return levels_of(self.problem, self.grams)

    @property
    def wanted_levels(self) -> FloatArray:
        """Levels before rounding, shape (n_axes,) [axis unit per 100 g]."""
        return levels_of(self.problem, self.wanted_g)

    @property
    def deviation_jnd(self) -> FloatArray:
        """How far rounding moved each axis, shape (n_axes,) [JND]."""
        wanted = self.wanted_levels
        return np.asarray((self.levels - wanted) / jnd_at(wanted))

    @property
    def largest_jnd(self) -> float:
        """The largest of them [JND]."""
        return float(np.abs(self.deviation_jnd).max())

    @property
    def ph_band(self) -> tuple[float, float] | None:
        """Low and high end of the pH after rounding; None where there is too little water."""
        phase = phase_of([use.ingredient for use in self.problem.uses])
        found = water_phase(phase, self.grams, self.problem.water_lost_g, self.problem.kept).ph
        return None if found is None else (found.low, found.high)

    def notes(self) -> list[str]:
        """What a cook should know about the measures, as sentences."""
        found = []
        for use, choice in zip(self.problem.uses, self.chosen, strict=True):
            note = "" if choice is None else crystal_note(use.label, choice)
            found += [note] if note else []
        found += [f"Not kept by these measures: {label}. Weigh finer." for label in self.broken]
        if self.largest_jnd > DEAD_BAND_JND.value:
            i = int(np.argmax(np.abs(self.deviation_jnd)))
            found.append(
                f"Rounding moves {AXIS_NAMES[i]} by {self.deviation_jnd[i]:+.2f} JND. Use a finer"
                " scale, or make a larger batch."
            )
        return found


def rounded(
    problem: Problem,
    grams: FloatArray,
    measures: Sequence[Sequence[Measure]],
    style: Style = Style.METRIC,
    scale_g: float = 1.0,
    *,
    seconds: float = SECONDS,
) -> Rounded:
    """Choose one practical measure for every ingredient, all together.

    Parameters
    ----------
    problem : Problem
        As it was settled: limits on pH and acidity stand among its limits as rows.
    grams : array, shape (n,)
        Quantities before rounding that stay in the pot, in the cook's order [g].
    measures : sequence of sequence of Measure
        Household weights of each ingredient.
    style : Style
    scale_g : float
        Step of the scale [g].
    seconds : float
        Time for one program [s]; where spoons and items do not serve, a few are solved, each with
        more ingredients on the scale.

    Returns
    -------
    Rounded
        Never worse than rounding each quantity alone among the measures of the same lists.

    Raises
    ------
    BadInput
        If there is no kitchen scale of that step.
    """
    checked_scale(scale_g)
    given = list(zip(problem.uses, grams / stays(problem), measures, strict=True))
    first = [
        _fixed(use, float(g)) or preferred(float(g), known, style, scale_g)
        for use, g, known in given
    ]
    best = round_jointly(problem, grams, first, seconds=seconds)
    lists = list(first)
    tilt, _ = errors_over(problem, grams)
    misses = [float(np.abs(m - g).min()) for m, g in zip(_masses(problem, grams, first), grams,
                                                         strict=True)]  # fmt: skip
    hurt = np.array(misses) * np.abs(tilt).max(axis=1)
    coarsest = [int(i) for i in np.argsort(-hurt) if first[i][0].kind not in ("locked", "weight")]
    done, more = 0, 1
    while coarsest[done:] and (best.broken or best.largest_jnd > DEAD_BAND_JND.value):
        for i in coarsest[done : done + more]:
            _, g, known = given[i]
            by_scale = by_weight(float(g), known, style, scale_g)
            lists[i] = tuple(sorted((*lists[i], *by_scale), key=lambda c: c.grams))
        done, more = done + more, 2 * more
        wider = round_jointly(problem, grams, lists, seconds=seconds)
        best = min(best, wider, key=_badness)
    return best


def round_alone(problem: Problem, grams: FloatArray, lists: Sequence[Sequence[Choice]]) -> Rounded:
    """Choose for each ingredient the measure nearest to its quantity: the baseline.

    Parameters
    ----------
    problem, grams
        As for :func:`rounded`.
    lists : sequence of sequence of Choice
        Measures to choose from, one list for each ingredient.
    """

    masses = _masses(problem, grams, lists)
    nearest = [int(np.argmin(np.abs(m - g))) for m, g in zip(masses, grams, strict=True)]
    return _result(problem, grams, lists, np.array(nearest, dtype=np.intp))


def round_jointly(
    problem: Problem,
    grams: FloatArray,
    lists: Sequence[Sequence[Choice]],
    *,
    seconds: float = SECONDS,
) -> Rounded:
    """Choose one measure for each ingredient so that the largest error in JND is least.

    Parameters
    ----------
    problem, grams, lists
        As for :func:`round_alone`.
    seconds : float
        The best found by then is taken [s].

    Returns
    -------
    Rounded
        That of :func:`round_alone` where nothing better is found.
    """
    alone = round_alone(problem, grams, lists)
    masses = _masses(problem, grams, lists)
    nearest = [int(np.argmin(np.abs(m - g))) for m, g in zip(masses, grams, strict=True)]
    better = exchanged(problem, grams, masses, np.array(nearest, dtype=np.intp))
    in_hand = min(alone, _result(problem, grams, lists, better), key=_badness)
    if not in_hand.broken and in_hand.largest_jnd <= FINE_JND:
        return in_hand
    # the mass may float, so that what is in hand may look a little better there than it is
    most = np.inf if in_hand.broken else in_hand.largest_jnd * (1 + FLOAT)
    for given_up in ((), in_hand.broken) if in_hand.broken else ((),):
        pick = together(
            problem, grams, masses,
            most_jnd=most, fine_jnd=FINE_JND, given_up=given_up, seconds=seconds,
        )  # fmt: skip
        if pick is not None:
            return min(in_hand, _result(problem, grams, lists, pick), key=_badness)
    return in_hand


def _fixed(use: Use, grams: float) -> tuple[Choice, ...] | None:
    """The one choice of what is locked, or left out; None where there is something to choose."""
    if use.passes * grams < LEAST_G:
        return (Choice(0.0, "none", "locked"),)
    return None if use.locked_g is None else (Choice(grams, f"{grams:.6g} g", "locked"),)


def _badness(result: Rounded) -> tuple[bool, float]:
    return bool(result.broken), result.largest_jnd


def _masses(
    problem: Problem, grams: FloatArray, lists: Sequence[Sequence[Choice]]
) -> list[FloatArray]:
    """What each measure puts into the pot [g]; 0 g alone where next to nothing is wanted."""
    return [
        use.passes * np.array([c.grams for c in choices]) if g >= LEAST_G else np.zeros(1)
        for use, choices, g in zip(problem.uses, lists, grams, strict=True)
    ]


def _result(
    problem: Problem,
    grams: FloatArray,
    lists: Sequence[Sequence[Choice]],
    pick: NDArray[np.intp],
) -> Rounded:
    """Measures with the limits that they break, by arithmetic that knows nothing of the program."""
    chosen = tuple(
        choices[k] if g >= LEAST_G else None
        for choices, k, g in zip(lists, pick, grams, strict=True)
    )
    result = Rounded(problem, grams, chosen, ())
    after = result.grams
    broken = []
    for label, row, low, high in mass_rows(problem, grams):
        size = NUMERIC * float(np.abs(row) @ after)
        if not low - size <= float(row @ after) <= high + size:
            broken.append(label)
    return replace(result, broken=tuple(broken))
