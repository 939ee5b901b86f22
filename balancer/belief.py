"""What is believed of one axis: a grid over the ideal and the cook's gain.

The grid spans the ideal in apparent steps (see ``judgement.py``), six spreads of the prior to
either side, and the log of the gain, three standard deviations to either side; one such layer for
every factor by which the cook's judgements may scatter. Sums over evenly spaced nodes are enough:
for a smooth bell they err far less than their spacing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.judgement import (
    apparent,
    order_likelihood,
    rating_log_likelihood,
    words_log_likelihood,
)
from balancer.palate_constants import (
    CARRY_OVER_NOISE,
    FATIGUE_PER_SAMPLE,
    GAIN_DRIFT,
    GAIN_SPREAD,
    HIDING,
    JUDGEMENT_NOISE_JND,
    LIKE_TEMPERATURE_K,
    LINE_END_FACTOR,
    LINE_LENGTH,
    LINE_PER_JND,
    ON_FOOD_JND,
    PER_DEGREE_JND,
    RATING_NOISE,
    REST_NOISE,
    SCATTER,
    TAIL,
    WEIGHING_JND,
)
from balancer.rounds import First, Round
from balancer.taste import to_z

SHARES: FloatArray = np.array([share.value for share, _ in HIDING])
FACTORS: FloatArray = np.array([factor.value for factor, _ in SCATTER])
_SPAN = np.linspace(-6.0, 6.0, 121)  # ideal, in spreads of the prior
_PRIOR = (1.0 + _SPAN**2 / TAIL.value) ** (-0.5 * (TAIL.value + 1.0))  # Student's t
_NODES = np.linspace(-3.0, 3.0, 8)  # log gain, in standard deviations of the prior
_NODE_WEIGHTS = np.exp(-0.5 * _NODES**2)


@dataclass(frozen=True)
class Habit:
    """How a cook uses words; learned on one sauce, it is the prior of the next.

    Parameters
    ----------
    gains : mapping of str to tuple of float
        Axis to mean and standard deviation of the log gain [1]; axes that are not named have the
        spread between cooks.
    hiding : tuple of float
        Belief in each share of mixture suppression, in the order of ``HIDING``.
    scatter : tuple of float
        Belief in each factor on the scatter, in the order of ``SCATTER``.
    """

    gains: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    hiding: tuple[float, ...] = tuple(belief.value for _, belief in HIDING)
    scatter: tuple[float, ...] = tuple(belief.value for _, belief in SCATTER)

    def __post_init__(self) -> None:
        gains = {a: (float(m), float(s)) for a, (m, s) in self.gains.items()}
        for axis, (mean, sd) in gains.items():
            if axis not in AXIS_NAMES or not np.isfinite(mean) or not sd > 0:
                raise BadInput(
                    f"The gain of {axis!r} is {mean:g} give or take {sd:g}. Forget this cook's"
                    " earlier sauces and start afresh."
                )
        object.__setattr__(self, "gains", MappingProxyType(gains))
        for name, known in (("hiding", SHARES), ("scatter", FACTORS)):
            beliefs = np.array(getattr(self, name), dtype=float)
            if len(beliefs) != len(known) or not (beliefs >= 0).all() or not beliefs.sum() > 0:
                raise BadInput(
                    f"The beliefs on {name} are {beliefs.tolist()}. Give {len(known)} numbers of"
                    " zero or more."
                )
            total = 1.0 if np.isclose(beliefs.sum(), 1.0, rtol=1e-12) else beliefs.sum()
            object.__setattr__(self, name, tuple((beliefs / total).tolist()))

    def gain(self, axis: str) -> tuple[float, float]:
        """Mean and standard deviation of the log gain on an axis."""
        return self.gains.get(axis, (0.0, GAIN_SPREAD.value))

    def carried(self) -> Habit:
        """The habit as a prior for another sauce: gains drift a little from sauce to sauce."""
        gains = {
            a: (m, min(float(np.hypot(s, GAIN_DRIFT.value)), GAIN_SPREAD.value))
            for a, (m, s) in self.gains.items()
        }
        return Habit(gains, self.hiding, self.scatter)

    def as_document(self) -> dict[str, Any]:
        """Plain values, fit for JSON; ``Habit(**document)`` reads them back.

        Examples
        --------
        >>> habit = Habit({"sour": (0.2, 0.3)})
        >>> Habit(**habit.as_document()) == habit
        True
        """
        return {
            "gains": {a: list(v) for a, v in self.gains.items()},
            "hiding": list(self.hiding),
            "scatter": list(self.scatter),
        }


@dataclass(frozen=True, eq=False)
class Heard:
    """Everything that was said of one axis.

    Parameters
    ----------
    rounds, ranks : array of int, shape (n_words,)
        Round of each word, counted from 0, and its place on the scale.
    sd : array, shape (n_words,)
        Scatter of each judgement, to a hundredth [JND].
    rated : array of int, shape (n_ratings,)
        Rounds with marks.
    marks : array, shape (4, n_ratings)
        Reference, own, scatter of their difference [points], 1 or -1 for which came first.
    spoons : tuple of (array, tuple of int, float)
        Steps of each sample, shape (n_samples, n_axes), the order counted from 0, the scatter.
    """

    rounds: NDArray[np.int_]
    ranks: NDArray[np.int_]
    sd: FloatArray
    rated: NDArray[np.int_]
    marks: FloatArray
    spoons: tuple[tuple[FloatArray, tuple[int, ...], float], ...]


@dataclass(frozen=True, eq=False)
class Belief:
    """Belief over the ideal and the gain of one axis.

    Parameters
    ----------
    ideal : array, shape (n_ideal,)
        Apparent steps [JND].
    log_gain : array, shape (n_gain,)
    p : array, shape (n_factors, n_ideal, n_gain)
        Probabilities; each layer adds up to 1.
    log_evidence : array, shape (n_factors,)
        Log-probability of what was heard, given each factor on the scatter.
    """

    ideal: FloatArray
    log_gain: FloatArray
    p: FloatArray
    log_evidence: FloatArray


def unlike_jnd(tasted: Round, last: Round) -> float:
    """Scatter between two rounds tasted differently, zero if they are alike [JND]."""
    extra = ON_FOOD_JND.value if tasted.place != last.place else 0.0
    if tasted.temperature_c is not None and last.temperature_c is not None:
        apart = abs(tasted.temperature_c - last.temperature_c)
        if apart >= LIKE_TEMPERATURE_K.value:
            extra = float(np.hypot(extra, PER_DEGREE_JND.value * apart))
    return extra


def heard_of(axis: str, rounds: Sequence[Round]) -> Heard | None:
    """Collect what was said of an axis; None if nothing was."""
    words: list[tuple[int, int, float]] = []
    marks: list[tuple[int, float, float, float, float]] = []
    spoons: list[tuple[FloatArray, tuple[int, ...], float]] = []
    for i, tasted in enumerate(rounds):
        tired = 1.0 + FATIGUE_PER_SAMPLE.value * (tasted.sample - 1)
        unlike = unlike_jnd(tasted, rounds[-1])
        noise = JUDGEMENT_NOISE_JND.value * tired
        if axis in tasted.words or tasted.rest_right:
            named = axis in tasted.words
            sd = np.sqrt(
                (noise * (1.0 if named else REST_NOISE.value)) ** 2
                + WEIGHING_JND.value**2
                + unlike**2
            )
            words.append((i, tasted.words[axis].rank if named else 0, round(float(sd), 2)))
        if tasted.ratings is not None and axis in tasted.ratings.own:
            ratings = tasted.ratings
            pair = (ratings.reference[axis], ratings.own[axis])
            ends = [LINE_END_FACTOR.value if v in (0.0, LINE_LENGTH.value) else 1.0 for v in pair]
            carry = 0.0 if ratings.rinsed else CARRY_OVER_NOISE.value
            sd = np.sqrt(
                (RATING_NOISE.value * tired) ** 2 * (ends[0] ** 2 + ends[1] ** 2)
                + carry**2
                + (LINE_PER_JND.value * np.hypot(unlike, WEIGHING_JND.value)) ** 2
            )
            turn = 1.0 if ratings.first is First.REFERENCE else -1.0
            marks.append((i, *pair, float(sd), turn))
        if tasted.spoons is not None and tasted.spoons.axis == axis:
            steps = to_z(np.array(tasted.spoons.levels))
            tired += FATIGUE_PER_SAMPLE.value * (1 + len(steps)) / 2
            sd = np.hypot(JUDGEMENT_NOISE_JND.value * tired, unlike)
            spoons.append((steps, tuple(k - 1 for k in tasted.spoons.order), float(sd)))
    if not (words or marks or spoons):
        return None
    word_columns = np.array(words, dtype=float).reshape(-1, 3).T
    mark_columns = np.array(marks, dtype=float).reshape(-1, 5).T
    return Heard(
        word_columns[0].astype(int),
        word_columns[1].astype(int),
        word_columns[2],
        mark_columns[0].astype(int),
        mark_columns[1:],
        tuple(spoons),
    )


def believe(
    heard: Heard,
    axis: int,
    made: FloatArray,
    centre: float,
    spread: float,
    gain: tuple[float, float],
    share: float,
) -> Belief:
    """Belief of one axis after all that was heard.

    Parameters
    ----------
    heard : Heard
    axis : int
        Place among the axes.
    made : array, shape (n_rounds,)
        Apparent steps of each round's batch on this axis [JND].
    centre, spread : float
        Prior of the ideal, Student's t, in apparent steps [JND].
    gain : tuple of float
        Prior of the log gain, mean and standard deviation.
    share : float
        Share of the mixture suppression in which ``made`` was computed.
    """
    ideal = centre + spread * _SPAN
    log_gain = gain[0] + gain[1] * _NODES
    gains = np.exp(log_gain)
    prior = _PRIOR[:, None] * _NODE_WEIGHTS
    log_p = np.repeat(np.log(prior / prior.sum())[None], len(FACTORS), axis=0)
    if len(heard.ranks):
        distance = ideal - made[heard.rounds, None]
        log_p += words_log_likelihood(heard.ranks, distance, gains, np.outer(heard.sd, FACTORS))
    if len(heard.rated):
        reference, own, sd, first = heard.marks
        for layer, factor in enumerate(FACTORS):
            log_p[layer] += rating_log_likelihood(
                ideal, gains, made[heard.rated], reference, own, sd * factor, first
            ) - len(sd) * np.log(factor)
    for steps, order, spoon_sd in heard.spoons:
        at = apparent(steps, share)[:, axis]
        judgement = (ideal - at[:, None])[:, :, None] * gains
        for layer, factor in enumerate(FACTORS):
            log_p[layer] += np.log(order_likelihood(order, judgement, spoon_sd * factor))
    top = log_p.max(axis=(1, 2), keepdims=True)
    p = np.exp(log_p - top)
    total = p.sum(axis=(1, 2), keepdims=True)
    return Belief(ideal, log_gain, p / total, (top + np.log(total))[:, 0, 0])
