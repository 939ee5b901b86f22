"""How likely each answer of a cook is, and how mixing hides one taste behind another.

A judgement is continuous: ``gain * (ideal - sauce) + scatter``, in just-noticeable steps. A word
says between which thresholds it fell, a pair of line marks says what it was give or take, a nearest
spoon says where it was smallest. All of them speak of *apparent* steps, what is left of a taste in
the mixture, in which the axes no longer hide each other and can be read one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES
from balancer.intensity import suppression_matrix
from balancer.kitchen_constants import POWER_LAWS
from balancer.palate_constants import (
    LEVEL_NOISE,
    LINE_PER_JND,
    ORDER_NOISE,
    SLIP,
    THRESHOLD_SPREAD,
    WORD_THRESHOLDS,
)
from balancer.taste import FLOOR, WEBER

_EXPONENT = np.array([POWER_LAWS[a].exponent.value for a in AXIS_NAMES])
_MODERATE = np.array([POWER_LAWS[a].at_moderate.value for a in AXIS_NAMES])
_PER_STEP = 2.0 * _EXPONENT * WEBER  # growth of the log squared intensity per step
_AT_ZERO = 2.0 * _EXPONENT * np.log(FLOOR / WEBER / _MODERATE)
_FAR = 1e6  # stands for an endless threshold [JND]
_EDGES = np.array(
    [-_FAR, *(-t.value for t in reversed(WORD_THRESHOLDS)), *(t.value for t in WORD_THRESHOLDS),
     _FAR]
)  # fmt: skip
_SPREAD = np.where(np.abs(_EDGES) < _FAR, THRESHOLD_SPREAD.value * np.abs(_EDGES), 0.0)
WORDS = len(_EDGES) - 1
_TABLE_END, _TABLE_FINENESS = 30.0, 100  # judgements are looked up to a hundredth [JND]
_LEGENDRE, _LEGENDRE_WEIGHTS = np.polynomial.legendre.leggauss(16)
_SCATTER = ndtri(0.5 * (1.0 + _LEGENDRE))  # scatter of the nearest spoon, by its quantiles
_CHANCE = 0.5 * _LEGENDRE_WEIGHTS


@lru_cache(maxsize=1)
def _squared_factors() -> FloatArray:
    return np.asarray(suppression_matrix() ** 2)


def hides(axis: int) -> bool:
    """Whether any other axis hides this one."""
    return bool(_squared_factors()[axis].any())


def _hidden(z: FloatArray, share: float) -> tuple[FloatArray, FloatArray]:
    """Log squared intensity of each axis, and the squared parts that hide it, share included."""
    log_power = _AT_ZERO + _PER_STEP * z
    parts = share**2 * _squared_factors() + np.eye(len(AXIS_NAMES))
    return log_power, parts


def apparent(z: ArrayLike, share: float = 1.0) -> FloatArray:
    """Steps of each axis less what the others hide of it.

    With psi the intensity of an axis alone and s the factors of suppression, what is left is
    ``psi ** 2 / sqrt(psi ** 2 + sum (s psi_j) ** 2)``; its log, divided by exponent and Weber
    fraction, is counted in steps. Intensities are taken at ``level + floor / weber``, so that they
    stay positive and grow by the same factor with every step.

    Parameters
    ----------
    z : array-like, shape (..., n_axes)
        Steps above nothing [JND].
    share : float
        How much of the published suppression is taken, 0 for none [1].

    Returns
    -------
    array, shape (..., n_axes)
        Apparent steps [JND]; equal to ``z`` where nothing is hidden.

    References
    ----------
    1. de Graaf C, Frijters JER. Chem Senses 1989;14:81; Schifferstein HNJ, Frijters JER. Chem
       Senses 1990;15:87. As in :func:`balancer.intensity.suppressed`.

    Examples
    --------
    >>> sauce = np.array([11.0, 12.0, 9.0, 3.0, 1.0, 0.0, 3.0, 1.0])
    >>> more_sugar = sauce + np.eye(8)[0]
    >>> bool(apparent(more_sugar)[1] < apparent(sauce)[1])  # sweetness hides sourness
    True
    """
    steps = np.asarray(z, dtype=float)
    log_power, parts = _hidden(steps, share)
    return np.asarray(steps + (log_power - np.log(np.exp(log_power) @ parts.T)) / _PER_STEP)


def apparent_slopes(z: FloatArray, share: float = 1.0) -> FloatArray:
    """Slope of every apparent step (row) along every step (column), shape (n_axes, n_axes).

    Scaled by exponents and Weber fractions the matrix is diagonally dominant with margin one, so it
    can always be inverted.
    """
    log_power, parts = _hidden(z, share)
    weights = parts * np.exp(log_power)
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray(2.0 * np.eye(len(AXIS_NAMES)) - weights * _PER_STEP / _PER_STEP[:, None])


def steps_of_apparent(
    wanted: FloatArray, start: FloatArray, free: FloatArray, share: float = 1.0
) -> FloatArray:
    """Steps whose mixture has the wanted apparent steps; the inverse of :func:`apparent`.

    Newton's steps. Each apparent step is a concave function with a slope matrix whose inverse has
    no negative entry, for which they converge from anywhere.

    Parameters
    ----------
    wanted : array, shape (n_axes,)
        Apparent steps; read where ``free`` only [JND].
    start : array, shape (n_axes,)
        First guess, and the steps of the axes that are not free [JND].
    free : array of bool, shape (n_axes,)
        Axes that may move.
    share : float
        As in :func:`apparent`.

    Returns
    -------
    array, shape (n_axes,)

    References
    ----------
    1. Ortega JM, Rheinboldt WC. Iterative Solution of Nonlinear Equations in Several Variables.
       1970, theorem 13.3.4 (monotone Newton); from memory.
    """
    z = start.copy()
    if share == 0.0:
        z[free] = wanted[free]
        return z
    for _ in range(50):
        miss = (wanted - apparent(z, share))[free]
        step = np.linalg.solve(apparent_slopes(z, share)[np.ix_(free, free)], miss)
        z[free] += step
        if np.abs(step).max(initial=0.0) < 1e-9:
            break
    return z


def word_likelihood(rank: ArrayLike, judgement: FloatArray, sd: ArrayLike) -> FloatArray:
    """Probability of a word for each mean judgement.

    The cook's thresholds are uncertain by a share of their size; a few words are slips and say
    nothing, which keeps a contradiction from deciding alone.

    Parameters
    ----------
    rank : array-like of int, shape (n,)
        Words, -3 (much less) to 3 (much more).
    judgement : array, shape (n, ...)
        Mean judgement, gain times distance to the ideal [JND].
    sd : array-like, shape (n,)
        Scatter of the judgement [JND].

    Returns
    -------
    array, shape (n, ...)

    References
    ----------
    1. Thurstone LL. A law of comparative judgment. Psychol Rev 1927;34:273; thresholds on a
       continuum as in McCullagh P. Regression models for ordinal data. J R Stat Soc B 1980;42:109.

    Examples
    --------
    >>> all_words = word_likelihood(np.arange(-3, 4), np.full(7, 1.3), np.full(7, 0.01))
    >>> int(all_words.argmax()) - 3, bool(abs(all_words.sum() - 1) < 1e-3)
    (1, True)
    """
    place = np.asarray(rank) + WORDS // 2
    shape = (-1,) + (1,) * (judgement.ndim - 1)
    variance = np.asarray(sd, dtype=float) ** 2
    ends = [
        ndtr((_EDGES[p].reshape(shape) - judgement) / np.sqrt(variance + _SPREAD[p] ** 2)
             .reshape(shape))
        for p in (place, place + 1)
    ]  # fmt: skip
    return np.asarray(SLIP.value / WORDS + (1.0 - SLIP.value) * np.maximum(ends[1] - ends[0], 0.0))


@lru_cache(maxsize=1024)
def _word_table(rank: int, sd: float) -> FloatArray:
    count = 2 * int(_TABLE_END) * _TABLE_FINENESS + 1
    judgement = np.linspace(-_TABLE_END, _TABLE_END, count)[None]
    return np.asarray(np.log(word_likelihood([rank], judgement, [sd])[0]))


def words_log_likelihood(
    ranks: ArrayLike, distance: FloatArray, gain: FloatArray, sd: FloatArray
) -> FloatArray:
    """Log-probability of several words together, looked up in tables.

    Parameters
    ----------
    ranks : array-like of int, shape (n,)
        As in :func:`word_likelihood`.
    distance : array, shape (n, n_ideal)
        Ideal less the sauce of each word [JND].
    gain : array, shape (n_gain,)
        The cook's gain; judgements, gain times distance, are read to a hundredth [1].
    sd : array, shape (n, n_layers)
        Scatter of each judgement, one column for each layer of the result [JND].

    Returns
    -------
    array, shape (n_layers, n_ideal, n_gain)

    Examples
    --------
    >>> sd = np.full((2, 1), 0.7)
    >>> found = words_log_likelihood([1, 0], np.array([[1.3], [-0.4]]), np.ones(1), sd)
    >>> exact = np.log(word_likelihood([1, 0], np.array([1.3, -0.4]), [0.7, 0.7])).sum()
    >>> bool(abs(found[0, 0, 0] - exact) < 1e-6)
    True
    """
    out = np.zeros((sd.shape[1], distance.shape[1], len(gain)))
    middle = _TABLE_END * _TABLE_FINENESS + 0.5
    fine_gain = gain * _TABLE_FINENESS
    for rank, row, layers in zip(np.asarray(ranks).tolist(), distance, sd.tolist(), strict=True):
        place = (row[:, None] * fine_gain + middle).astype(np.intp)
        for total, one_sd in zip(out, layers, strict=True):
            total += _word_table(rank, one_sd).take(place, mode="clip")
    return out


def word_chances(judgement: FloatArray, sd: float) -> FloatArray:
    """Probability of every word, looked up in tables, shape (n_words, ...)."""
    place = ((judgement + _TABLE_END) * _TABLE_FINENESS + 0.5).astype(np.intp)
    ranks = range(-(WORDS // 2), WORDS // 2 + 1)
    return np.exp([_word_table(rank, sd).take(place, mode="clip") for rank in ranks])


def order_likelihood(order: Sequence[int], judgement: FloatArray, sd: float) -> FloatArray:
    """Probability that samples are ranked by nearness as the cook ranked them.

    The nearest sample is the one whose judgement is smallest in size. A longer ranking is taken as
    one choice after another among those left.

    Parameters
    ----------
    order : sequence of int
        Samples, nearest first, counted from 0; the last of a full ranking adds nothing.
    judgement : array, shape (n_samples, ...)
        Mean judgement of each sample [JND].
    sd : float
        Scatter of each judgement [JND].

    Returns
    -------
    array, shape (...)

    Examples
    --------
    >>> means = np.array([[-2.0], [0.0], [2.0]])
    >>> bool(order_likelihood([1], means, 0.1)[0] > 0.95)
    True
    """
    left = list(range(len(judgement)))
    out = np.ones(judgement.shape[1:])
    for nearest in order:
        left.remove(nearest)
        if not left:
            break
        size = np.abs(judgement[nearest][..., None] + sd * _SCATTER)
        beaten = np.ones_like(size)
        for other in left:
            mean = judgement[other][..., None]
            beaten *= 1.0 - (ndtr((size - mean) / sd) - ndtr((-size - mean) / sd))
        options = len(left) + 1
        out *= SLIP.value / options + (1.0 - SLIP.value) * (beaten @ _CHANCE)
    return np.asarray(out)


def rating_log_likelihood(
    ideal: FloatArray,
    gain: FloatArray,
    made: FloatArray,
    reference: FloatArray,
    own: FloatArray,
    sd: FloatArray,
    first: FloatArray,
) -> FloatArray:
    """Log-likelihood of side-by-side marks, differences trusted more than levels.

    The difference of two marks made together tells where the reference lies. The level of the pair
    drifts from round to round; it only tells, weakly, how far this cook's line stretches. An effect
    of tasting first is shared by all rounds, so that rounds in turned order cancel it.

    Parameters
    ----------
    ideal : array, shape (n_ideal,)
        Apparent steps of the reference [JND].
    gain : array, shape (n_gain,)
        The cook's gain [1].
    made : array, shape (n,)
        Apparent steps of the own sauce in each round [JND].
    reference, own : array, shape (n,)
        Marks [points].
    sd : array, shape (n,)
        Scatter of the difference of the two marks [points].
    first : array, shape (n,)
        1 where the reference was tasted first, -1 where it was not.

    Returns
    -------
    array, shape (n_ideal, n_gain)
    """
    covariance = np.diag(sd**2) + ORDER_NOISE.value**2 * np.outer(first, first)
    precision = np.linalg.inv(covariance)
    slope = LINE_PER_JND.value * gain
    # residual = (difference + slope * made) - slope * ideal, for every ideal and gain
    offset = (reference - own)[None, :] + slope[:, None] * made
    base = np.einsum("gi,ij,gj->g", offset, precision, offset)
    cross = (offset @ precision).sum(axis=1) * slope
    square = precision.sum() * slope**2
    miss = base - 2.0 * ideal[:, None] * cross + ideal[:, None] ** 2 * square
    level = 0.5 * (reference + own)
    drift = (level - level.mean())[None, :] - 0.5 * slope[:, None] * (made - made.mean())
    return np.asarray(-0.5 * (miss + (drift**2).sum(axis=1) / LEVEL_NOISE.value**2))
