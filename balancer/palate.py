"""The learned palate: from all rounds of a sauce to the next target, and to "that will do".

Per axis, the ideal and the cook's gain are held on a grid (``belief.py``). How much of the
published mixture suppression a cook's judgement follows, and how far it scatters, are averaged over
a few cases, weighed by how well each foretells the words on all axes. Because the ideal lives in
the coordinates of the model, an error of the tables, such as sharper lemons than the average, is
absorbed by it. An ideal under zero is kept as it is: it asks for none.

References
----------
1. ASTM MNL63. Just-About-Right (JAR) Scales: Design, Usage, Benefits, and Risks. Rothman L, Parker
   MJ, editors. ASTM International, 2009.
2. Worch T, Lê S, Punter P, Pagès J. Ideal Profile Method: the ins and outs. Food Qual Prefer
   2013;28:45 (ideal levels from what tasters say; from memory).
3. Gelman A et al. Bayesian Data Analysis, 3rd ed. 2013 (grids, averaging over models).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np

from balancer.belief import FACTORS, SHARES, Belief, Habit, Heard, heard_of, unlike_jnd
from balancer.composition import FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.errors import BadInput
from balancer.judgement import WORDS, apparent, word_likelihood
from balancer.just_about_right import Word
from balancer.palate_constants import (
    DOUBT,
    IDEAL_SPREAD_JND,
    JUDGEMENT_NOISE_JND,
    LEAST_FALL,
    SLIP,
    STOP_ODDS,
    WITHIN_JND,
)
from balancer.rounds import Place, Round, made_levels
from balancer.suppression import Case, case_of, expected_fall, gain_of
from balancer.taste import from_z, to_z
from balancer.wishes import LARGEST_LEVEL


class Advice(StrEnum):
    """What to do after a round."""

    DONE = "done"  # the batch as made is within a just-noticeable step of the ideal
    MAKE = "make"  # make the target; another tasting can hardly tell more
    TASTE = "taste"  # make the target and taste it


@dataclass(frozen=True)
class Prior:
    """What is believed before the first word.

    Parameters
    ----------
    levels : tuple of float
        First target, or the draft where there is none [axis unit per 100 g].
    spread_jnd : float
        How far the ideal may lie from it: spread of a Student's t, which lets some lie far off
        [JND].
    habit : Habit
        From the cook's earlier sauces.
    """

    levels: tuple[float, ...]
    spread_jnd: float = IDEAL_SPREAD_JND.value
    habit: Habit = field(default_factory=Habit)

    def __post_init__(self) -> None:
        object.__setattr__(self, "levels", tuple(float(v) for v in self.levels))
        if len(self.levels) != len(AXIS_NAMES) or not all(0 <= v < np.inf for v in self.levels):
            raise BadInput(
                f"The first target has the levels {self.levels}. Give one of zero or more for each"
                f" of: {', '.join(AXIS_NAMES)}."
            )
        if not 0 < self.spread_jnd <= 20:
            raise BadInput(
                f"The ideal may lie {self.spread_jnd:g} JND off. Give more than 0, up to 20."
            )


@dataclass(frozen=True, eq=False)
class Palate:
    """What all rounds of one sauce have taught.

    Parameters
    ----------
    judged : tuple of str
        Axes on which there is evidence; the others stay at the first target.
    ideal_z : array, shape (n_axes,)
        Mean ideal in steps of the model [JND]; under zero asks for none.
    sd_jnd : array, shape (n_axes,)
        Its standard deviation; NaN where nothing was heard [JND].
    odds, odds_made : array, shape (n_axes,)
        Odds that the target, and that the last batch as made, is within 1 JND of the ideal; NaN
        where nothing was heard.
    fall : array, shape (n_axes,)
        Expected fall of the variance by one more word at the target, as a share of it [1].
    habit : Habit
        What was learned of the cook; ``carried()`` is the prior of the next sauce.
    remarks : tuple of str
        Sentences: contradictions, slips, rounds that are unlike.
    share : float
        Most believed share of mixture suppression [1].
    beliefs : mapping of str to Belief
        Axis to the grid at that share.
    """

    judged: tuple[str, ...]
    ideal_z: FloatArray
    sd_jnd: FloatArray
    odds: FloatArray
    odds_made: FloatArray
    fall: FloatArray
    habit: Habit
    remarks: tuple[str, ...]
    share: float
    beliefs: Mapping[str, Belief]

    @property
    def target(self) -> tuple[float, ...]:
        """Levels to aim at next, none above what a sauce can have [axis unit per 100 g]."""
        most = [LARGEST_LEVEL[a] for a in AXIS_NAMES]
        return made_levels(np.minimum(from_z(self.ideal_z), most))

    @property
    def advice(self) -> Advice:
        """Whether to stop, to make the target, or to make and taste it."""
        judged = [AXIS_NAMES.index(a) for a in self.judged]
        enough = STOP_ODDS.value
        if (self.odds_made[judged] >= enough).all():
            return Advice.DONE
        settled = (self.odds[judged] >= enough) | (self.fall[judged] < LEAST_FALL.value)
        return Advice.MAKE if settled.all() else Advice.TASTE

    def sentences(self) -> tuple[str, ...]:
        """One sentence per judged axis on the batch as made, then advice, then the remarks."""
        within = f"within {WITHIN_JND.value:g} JND"
        said = [
            f"You are {within} on {axis} with {100 * self.odds_made[i]:.0f} % odds; the next target"
            f" would be with {100 * self.odds[i]:.0f} %."
            for axis in self.judged
            for i in (AXIS_NAMES.index(axis),)
        ]
        advice = {
            Advice.DONE: "Stop here: the sauce as made is as near as words can tell.",
            Advice.MAKE: "Make the next target; another tasting can hardly tell more.",
            Advice.TASTE: "Make the next target and taste it.",
        }
        return (*said, advice[self.advice], *self.remarks)


def learn(rounds: Sequence[Round], prior: Prior) -> Palate:
    """Learn the palate of a cook for one sauce from all of its rounds.

    Parameters
    ----------
    rounds : sequence of Round
        Oldest first; the last one sets how the sauce is served.
    prior : Prior

    Returns
    -------
    Palate

    Raises
    ------
    BadInput
        If there is no round.

    Examples
    --------
    >>> draft = (12.0, 0.9, 1.2, 10.0, 40.0, 0.0, 2.0, 1.0)
    >>> palate = learn([Round(draft, {"sour": Word.LESS})], Prior(draft))
    >>> palate.judged, bool(palate.target[1] < 0.9), palate.target[0]
    (('sour',), True, 12.0)
    """
    if not rounds:
        raise BadInput("There is no round yet. Taste the sauce and say what it needs.")
    heard = {a: h for a in AXIS_NAMES if (h := heard_of(a, rounds)) is not None}
    free = np.array([a in heard for a in AXIS_NAMES])
    start = to_z(np.array(prior.levels))
    made = to_z(np.array([r.made for r in rounds]))
    cases: list[Case] = []
    for share in SHARES:
        first = cases[0] if cases else None
        cases.append(case_of(share, heard, free, start, made, prior.spread_jnd, prior.habit, first))
    log_weight = np.array([c.log_evidence for c in cases])  # (shares, factors)
    log_weight += np.log(np.maximum(np.outer(prior.habit.hiding, prior.habit.scatter), 1e-300))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    by_share = weight.sum(axis=1)
    views = [c.view(w / max(w.sum(), 1e-300)) for c, w in zip(cases, weight, strict=True)]
    ideal = by_share @ np.array([v.z for v in views])
    variance = by_share @ np.array([v.sd**2 + (v.z - ideal) ** 2 for v in views])
    odds, odds_made = (
        by_share @ np.array([[v.within(a, at[a]) if free[a] else np.nan for a in range(len(free))]
                             for v in views])
        for at in (np.maximum(ideal, 0.0), made[-1])
    )  # fmt: skip
    best = int(by_share.argmax())
    layers = weight[best] / weight[best].sum()
    case = cases[best]
    fall = np.full(len(free), np.nan)
    gains = dict(prior.habit.gains)
    for axis in heard:
        i = AXIS_NAMES.index(axis)
        at = apparent(np.where(free, np.maximum(ideal, 0.0), start), SHARES[best])[i]
        fall[i] = expected_fall(case.beliefs[axis], layers, at)
        gains[axis] = gain_of(case.beliefs[axis], layers)
    return Palate(
        judged=tuple(heard),
        ideal_z=np.where(free, ideal, start),
        sd_jnd=np.where(free, np.sqrt(variance), np.nan),
        odds=odds,
        odds_made=odds_made,
        fall=fall,
        habit=Habit(gains, tuple(by_share), tuple(weight.sum(axis=0))),
        remarks=(*_contradictions(heard, case, layers, rounds), *_unlike(rounds)),
        share=float(SHARES[best]),
        beliefs={
            a: Belief(b.ideal, b.log_gain, b.p * layers[:, None, None], b.log_evidence)
            for a, b in case.beliefs.items()
        },
    )


# --- remarks ------------------------------------------------------------------------------------


def _contradictions(
    heard: Mapping[str, Heard], case: Case, layers: FloatArray, rounds: Sequence[Round]
) -> list[str]:
    said = []
    for axis, told in heard.items():
        i = AXIS_NAMES.index(axis)
        at = case.made[told.rounds, i]
        up, down = told.ranks > 0, told.ranks < 0
        if up.any() and down.any():
            top = int(np.where(up, at, -np.inf).argmax())
            low = int(np.where(down, at, np.inf).argmin())
            if at[top] - at[low] > JUDGEMENT_NOISE_JND.value:
                more, less = int(told.rounds[top]), int(told.rounds[low])
                unit = AXIS[axis].unit_per_100g
                said.append(
                    f"The words on {axis} contradict each other: round {more + 1} asked for more at"
                    f" {rounds[more].made[i]:.3g} {unit}, round {less + 1} for less at"
                    f" {rounds[less].made[i]:.3g}. Both are kept, and the range is the wider."
                )
        belief = case.beliefs[axis]
        p = np.einsum("l,lig->ig", layers, belief.p)
        ideal, log_gain = p.sum(axis=1) @ belief.ideal, p.sum(axis=0) @ belief.log_gain
        scatter = told.sd * float(layers @ FACTORS)
        likely = word_likelihood(told.ranks, (ideal - at) * np.exp(log_gain), scatter)
        for k in np.flatnonzero(likely < SLIP.value):
            judgement = (belief.ideal - at[k])[:, None] * np.exp(belief.log_gain)
            chance = word_likelihood(told.ranks[[k]], judgement[None], scatter[[k]])[0]
            slip = float((p * SLIP.value / WORDS / chance).sum())
            if slip > DOUBT.value:
                word = list(Word)[told.ranks[k] + WORDS // 2]
                said.append(
                    f"Round {told.rounds[k] + 1} said '{word}' on {axis}, which does not fit the"
                    " other rounds; it counts for little. Taste that batch again if it is left."
                )
    return said


def _unlike(rounds: Sequence[Round]) -> list[str]:
    last = rounds[-1]

    def way(tasted: Round) -> str:
        place = "from a spoon" if tasted.place is Place.SPOON else "on the food"
        heat = "" if tasted.temperature_c is None else f" at {tasted.temperature_c:g} °C"
        return place + heat

    return [
        f"Round {i} was tasted {way(r)}, the last one {way(last)}: they are unlike, and round {i}"
        " counts for less."
        for i, r in enumerate(rounds[:-1], 1)
        if unlike_jnd(r, last) > 0
    ]
