"""What the words say at one share of mixture suppression, all axes together.

Per axis, ideal and gain are held on a grid (``belief.py``) in steps as a taster perceives them.
Here they are turned into steps of the model, and asked for the cook's gain and for what one more
word would tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from balancer.belief import FACTORS, Belief, Habit, Heard, believe
from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES
from balancer.judgement import (
    WORDS,
    apparent,
    apparent_slopes,
    hides,
    steps_of_apparent,
    word_chances,
)
from balancer.palate_constants import JUDGEMENT_NOISE_JND, WITHIN_JND


@dataclass(frozen=True, eq=False)
class View:
    """Ideal of every axis in steps of the model, for one share of suppression.

    Parameters
    ----------
    z : array, shape (n_axes,)
        Mean ideal [JND].
    sd : array, shape (n_axes,)
        Its standard deviation; 0 where nothing was heard [JND].
    ideals : mapping of int to (array, array)
        Place of an axis to the ends of the cells of its grid [JND] and the belief up to each [1].
    """

    z: FloatArray
    sd: FloatArray
    ideals: Mapping[int, tuple[FloatArray, FloatArray]]

    def within(self, axis: int, at: float) -> float:
        """Odds that the ideal of an axis lies within 1 JND of a step [1]."""
        steps, cumulated = self.ideals[axis]
        ends = np.interp([at - WITHIN_JND.value, at + WITHIN_JND.value], steps, cumulated)
        return float(ends[1] - ends[0])


@dataclass(frozen=True, eq=False)
class Case:
    """What is believed of all axes at one share of suppression.

    Parameters
    ----------
    share : float
        Share of the published mixture suppression [1].
    free : array of bool, shape (n_axes,)
        Axes on which something was heard.
    start : array, shape (n_axes,)
        First target in steps of the model [JND].
    made : array, shape (n_rounds, n_axes)
        What was tasted, in steps as perceived [JND].
    beliefs : mapping of str to Belief
        Axis to its grid.
    """

    share: float
    free: FloatArray
    start: FloatArray
    made: FloatArray
    beliefs: Mapping[str, Belief]

    @property
    def log_evidence(self) -> FloatArray:
        """How well the case foretells the words on all axes, shape (n_factors,)."""
        return np.asarray(sum(b.log_evidence for b in self.beliefs.values()))

    def view(self, layers: FloatArray) -> View:
        """Mean and spread in steps of the model, each layer of scatter weighed."""
        wanted, variance = np.zeros(len(self.start)), np.zeros(len(self.start))
        marginals = {}
        for axis, belief in self.beliefs.items():
            i = AXIS_NAMES.index(axis)
            p = np.einsum("l,lig->i", layers, belief.p)
            wanted[i] = p @ belief.ideal
            variance[i] = p @ (belief.ideal - wanted[i]) ** 2
            marginals[i] = p
        z = steps_of_apparent(wanted, self.start, self.free, self.share)
        slopes = apparent_slopes(z, self.share)[np.ix_(self.free, self.free)]
        sd = np.zeros(len(z))
        sd[self.free] = np.sqrt(np.linalg.inv(slopes) ** 2 @ variance[self.free])
        ideals = {}
        for axis, belief in self.beliefs.items():
            i = AXIS_NAMES.index(axis)
            stretch = sd[i] / np.sqrt(variance[i])
            steps = z[i] + (belief.ideal - wanted[i]) * stretch
            half = 0.5 * (steps[1] - steps[0])
            ideals[i] = (
                np.append(steps - half, steps[-1] + half),
                np.append(0.0, np.cumsum(marginals[i])),
            )
        return View(z, sd, ideals)


def case_of(
    share: float,
    heard: Mapping[str, Heard],
    free: FloatArray,
    start: FloatArray,
    made: FloatArray,
    spread_jnd: float,
    habit: Habit,
    other: Case | None,
) -> Case:
    """Believe what was heard at one share of suppression.

    Parameters
    ----------
    share : float
        Share of the published mixture suppression [1].
    heard : mapping of str to Heard
        Axis to the evidence on it.
    free : array of bool, shape (n_axes,)
        Axes on which something was heard.
    start : array, shape (n_axes,)
        First target in steps of the model [JND].
    made : array, shape (n_rounds, n_axes)
        What was tasted, in steps of the model [JND].
    spread_jnd : float
        How far the ideal may lie from the first target [JND].
    habit : Habit
        From the cook's earlier sauces.
    other : Case or None
        A case worked out before: an axis that nothing hides is the same in both.

    Returns
    -------
    Case
    """
    at_made, centre = apparent(made, share), apparent(start, share)
    slopes = apparent_slopes(start, share)[:, free]
    spread = spread_jnd * np.sqrt((slopes**2).sum(axis=1))
    beliefs = {}
    for axis, said in heard.items():
        i = AXIS_NAMES.index(axis)
        if other is not None and not hides(i):
            beliefs[axis] = other.beliefs[axis]
            continue
        beliefs[axis] = believe(
            said, i, at_made[:, i], centre[i], spread[i], habit.gain(axis), share
        )
    return Case(share, free, start, at_made, beliefs)


def expected_fall(belief: Belief, layers: FloatArray, at: float) -> float:
    """Fall of the variance of an ideal that one more word is expected to bring, as a share [1].

    Parameters
    ----------
    belief : Belief
    layers : array, shape (n_factors,)
        Weight of each factor of scatter [1].
    at : float
        Where the next sauce is tasted, in steps as perceived [JND].

    Returns
    -------
    float
    """
    ideal = belief.ideal
    judgement = (ideal[:, None] - at) * np.exp(belief.log_gain)
    joint = np.zeros((WORDS, len(ideal)))
    for layer, factor in enumerate(FACTORS):
        likely = word_chances(judgement, JUDGEMENT_NOISE_JND.value * float(factor))
        joint += layers[layer] * np.einsum("wig,ig->wi", likely, belief.p[layer])
    chance = joint.sum(axis=1)
    after = sum(
        c * _moments(row / c, ideal)[1] for c, row in zip(chance, joint, strict=True) if c > 0
    )
    before = _moments(joint.sum(axis=0) / chance.sum(), ideal)[1]
    return float(1.0 - after / chance.sum() / before)


def gain_of(belief: Belief, layers: FloatArray) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm of the cook's gain on an axis [1]."""
    mean, variance = _moments(np.einsum("l,lig->g", layers, belief.p), belief.log_gain)
    return mean, float(np.sqrt(variance))


def _moments(p: FloatArray, ideal: FloatArray) -> tuple[float, float]:
    mean = float(p @ ideal)
    return mean, float(p @ (ideal - mean) ** 2)
