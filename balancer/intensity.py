"""Levels to perceived intensity, and back.

A display model and not a truth: exponents differ between methods by a factor of two, the levels
called moderate come from ladders in plain water, suppression is checked by identities and
orderings only; enhancement (a little salt with sour or sweet), adaptation and the pull of smell
on taste are left out. It never feeds the program except where a cook states a target in these
words.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from balancer.composition import FloatArray
from balancer.constants import AXES, AXIS_NAMES
from balancer.errors import BadInput
from balancer.kitchen_constants import (
    MAGNITUDE_WORDS,
    POWER_LAWS,
    SUPPRESSION,
    SUPPRESSION_DEFAULT,
    TASTES,
    UMAMI_SYNERGY,
)

_AT_MODERATE: FloatArray = np.array([POWER_LAWS[a].at_moderate.value for a in AXIS_NAMES])
_EXPONENT: FloatArray = np.array([POWER_LAWS[a].exponent.value for a in AXIS_NAMES])
_MODERATE = MAGNITUDE_WORDS["moderate"].value


def suppression_matrix(*, equal: bool = False) -> FloatArray:
    """How strongly each axis (column) hides each other (row).

    Parameters
    ----------
    equal : bool
        True: the four tastes hide each other alike, the form whose totals are published. False:
        with the orderings reported for pairs.

    Returns
    -------
    array, shape (n_axes, n_axes)
        Factors, zero on the diagonal [1].
    """
    out = np.zeros((len(AXES), len(AXES)))
    tastes = [AXIS_NAMES.index(t) for t in TASTES]
    out[np.ix_(tastes, tastes)] = SUPPRESSION_DEFAULT.value
    np.fill_diagonal(out, 0.0)
    if not equal:
        for (hidden, hiding), factor in SUPPRESSION.items():
            out[AXIS_NAMES.index(hidden), AXIS_NAMES.index(hiding)] = factor.value
    return out


def unmixed_intensity(level: ArrayLike) -> FloatArray:
    """Intensity of each axis if it were alone: a power law.

    Parameters
    ----------
    level : array-like, shape (..., n_axes)
        Levels [axis unit per 100 g].

    Returns
    -------
    array, shape (..., n_axes)
        Position on the labelled magnitude scale, 17.2 moderate; not cut off at 100 [1].

    References
    ----------
    1. Stevens SS. Sensory scales of taste intensity. Percept Psychophys 1969;6:302.
    """
    ratio = np.maximum(np.asarray(level, dtype=float), 0.0) / _AT_MODERATE
    return np.asarray(_MODERATE * ratio**_EXPONENT)


def level_of_unmixed(intensity: ArrayLike) -> FloatArray:
    """Level of each axis that alone has an intensity; inverse of :func:`unmixed_intensity`."""
    ratio = np.maximum(np.asarray(intensity, dtype=float), 0.0) / _MODERATE
    return np.asarray(_AT_MODERATE * ratio ** (1.0 / _EXPONENT))


def suppressed(unmixed: ArrayLike, *, equal: bool = False) -> FloatArray:
    """Intensities as they are perceived in the mixture.

    ``psi_i' = psi_i ** 2 / sqrt(psi_i ** 2 + sum over j of (s_ij psi_j) ** 2)``.

    Parameters
    ----------
    unmixed : array-like, shape (..., n_axes)
        Intensities each alone [1].
    equal : bool
        As in :func:`suppression_matrix`.

    Returns
    -------
    array, shape (..., n_axes)
        Perceived intensities, never above the unmixed [1].

    References
    ----------
    1. de Graaf C, Frijters JER. Interrelationships among sweetness, saltiness and total taste
       intensity of sucrose, NaCl and sucrose/NaCl mixtures. Chem Senses 1989;14:81. Total of a
       mixture is the root of the sum of squares, and the sum of its perceived parts.
    2. Schifferstein HNJ, Frijters JER. Sensory integration in citric acid/sucrose mixtures.
       Chem Senses 1990;15:87. Which of the two loses more.

    Examples
    --------
    >>> pair = np.zeros(len(AXES)); pair[:2] = 10.0, 5.0
    >>> suppressed(pair, equal=True)[:2].round(3).tolist()
    [8.944, 2.236]
    """
    power = np.asarray(unmixed, dtype=float) ** 2
    total = np.sqrt(power + power @ (suppression_matrix(equal=equal) ** 2).T)
    return np.asarray(np.divide(power, total, out=np.zeros_like(power), where=total > 0))


def perceived(level: ArrayLike, *, equal: bool = False) -> FloatArray:
    """Levels to perceived intensities in the mixture.

    For the sour axis a net level (acid titratable up to pH 5.5, ``titration.sour_level``) may be
    put in place of the axis level: acid held as salt is then not counted.

    Parameters
    ----------
    level : array-like, shape (..., n_axes)
        Levels [axis unit per 100 g].
    equal : bool
        As in :func:`suppression_matrix`.

    Returns
    -------
    array, shape (..., n_axes)
        Positions on the labelled magnitude scale [1].
    """
    return suppressed(unmixed_intensity(level), equal=equal)


def level_of_perceived(
    intensity: ArrayLike, known_level: ArrayLike | None = None, *, equal: bool = False
) -> FloatArray:
    """Levels whose mixture is perceived with the given intensities; inverse of :func:`perceived`.

    With u = psi ** 2 the equations are ``u = G(u)``, where G rises, is concave and grows like a
    root, so there is exactly one answer. Newton's steps start above it and come down; each is kept
    between the iterates of G from below and the last point above.

    Parameters
    ----------
    intensity : array-like, shape (n_axes,)
        Wanted positions on the labelled magnitude scale [1]; NaN where the level is given instead.
    known_level : array-like, shape (n_axes,), or None
        Levels of the axes whose intensity is NaN [axis unit per 100 g]; None means zero.
    equal : bool
        As in :func:`suppression_matrix`.

    Returns
    -------
    array, shape (n_axes,)
        Levels [axis unit per 100 g].

    Raises
    ------
    BadInput
        If an intensity is negative or infinite.

    Examples
    --------
    >>> want = np.full(len(AXES), np.nan); want[:2] = intensity_of("moderate")
    >>> float(level_of_perceived(want)[0].round(2))
    7.34
    """
    wanted = np.asarray(intensity, dtype=float)
    if np.isinf(wanted).any() or (wanted < 0).any():
        worst = wanted[np.isinf(wanted) | (wanted < 0)][0]
        raise BadInput(f"The intensity is {worst:g}. Give a figure from 0 to 100, or a word.")
    given = np.isnan(wanted)
    known = np.zeros(len(AXES)) if known_level is None else np.asarray(known_level, dtype=float)
    goal = np.where(given, 0.0, wanted) ** 2
    fixed = unmixed_intensity(np.where(given, known, 0.0)) ** 2
    hide = suppression_matrix(equal=equal) ** 2

    def image(u: FloatArray) -> FloatArray:
        root = np.sqrt(goal**2 + 4.0 * goal * (hide @ u))
        return np.asarray(np.where(given, fixed, (goal + root) / 2.0))

    low = image(np.zeros(len(AXES)))
    high = np.full(len(AXES), max(1.0, float(low.max())))
    while bool((image(high) > high).any()):
        high = 4.0 * high
    u = high
    for _ in range(100):
        low, high = np.maximum(low, image(low)), np.minimum(high, image(high))
        root = np.sqrt(goal**2 + 4.0 * goal * (hide @ u))
        slope = np.where(given | (root == 0), 0.0, goal / np.where(root == 0, 1.0, root))
        step = np.linalg.solve(np.eye(len(AXES)) - slope[:, None] * hide, u - image(u))
        u = np.clip(u - step, low, high)
        if bool((np.abs(step) <= 1e-14 * (1.0 + u)).all()):
            break
    return np.where(given, known, level_of_unmixed(np.sqrt(u)))


def umami_equivalent(amino: ArrayLike, nucleotide: ArrayLike) -> FloatArray:
    """Umami of amino acids and nucleotides together, as monosodium glutamate.

    Parameters
    ----------
    amino : array-like
        Sum of amino acids, each times its weight in ``UMAMI_WEIGHTS`` [g/100 g].
    nucleotide : array-like
        Sum of nucleotides, each times its weight [g/100 g].

    Returns
    -------
    array
        Glutamate that alone tastes alike [g/100 g]. Not linear, so it is for display only.

    References
    ----------
    1. Yamaguchi S, Yoshikawa T, Ikeda S, Ninomiya T. Measurement of the relative taste intensity
       of some L-alpha-amino acids and 5'-nucleotides. J Food Sci 1971;36:846.

    Examples
    --------
    >>> float(umami_equivalent(0.05, 0.05).round(3))
    3.095
    """
    u, v = np.asarray(amino, dtype=float), np.asarray(nucleotide, dtype=float)
    return np.asarray(u + UMAMI_SYNERGY.value * u * v)


# --- words --------------------------------------------------------------------------------------


def word_of(intensity: float) -> str:
    """Nearest word of the labelled magnitude scale, by ratio.

    Parameters
    ----------
    intensity : float
        Position on the scale [1].

    Returns
    -------
    str
        A word, or "no sensation" under half of barely detectable.

    Examples
    --------
    >>> word_of(20.0), word_of(0.3)
    ('moderate', 'no sensation')
    """
    first = next(iter(MAGNITUDE_WORDS.values())).value
    if intensity < first / 2.0:
        return "no sensation"
    return min(MAGNITUDE_WORDS, key=lambda w: abs(np.log(intensity / MAGNITUDE_WORDS[w].value)))


def intensity_of(words: str) -> float:
    """Position of a word, or between two: "moderate", "between moderate and strong".

    Parameters
    ----------
    words : str
        One word of the labelled magnitude scale, "no sensation", or "between A and B".

    Returns
    -------
    float
        Position; between two words their geometric mean [1].

    Raises
    ------
    BadInput
        If the words are none of the scale.

    References
    ----------
    1. Green BG, Shaffer GS, Gilmore MM. Derivation and evaluation of a semantic scale of oral
       sensation magnitude with apparent ratio properties. Chem Senses 1993;18:683.

    Examples
    --------
    >>> round(intensity_of("between moderate and strong"), 2)
    24.68
    """
    text = " ".join(words.lower().split())
    if text == "no sensation":
        return 0.0
    between = text.startswith("between ")
    parts = text.removeprefix("between ").split(" and ") if between else [text]
    if len(parts) != 1 + between or any(p not in MAGNITUDE_WORDS for p in parts):
        raise BadInput(
            f"{words!r} is no intensity. Use no sensation, {', '.join(MAGNITUDE_WORDS)},"
            " or between one and another."
        )
    positions = [MAGNITUDE_WORDS[p].value for p in parts]
    return float(np.exp(np.mean(np.log(positions))))
