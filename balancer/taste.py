"""Composition to the axes a cook turns, and levels to just-noticeable steps.

The axes are linear and exact: the program works on them. Steps are the common currency in which
deviations, tolerances and tasting words are counted.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from balancer.composition import INDEX, NAMES, FloatArray
from balancer.constants import AROMA_FAMILIES, AXES, AXIS, AXIS_NAMES
from balancer.errors import BadInput

#: Share of a level, and level near zero, that is just noticed; shape (n_axes,), order of AXES.
WEBER: FloatArray = np.array([a.weber for a in AXES])
FLOOR: FloatArray = np.array([a.floor for a in AXES])

#: One axis by name, or the arrays (weber, floor), or None for all axes along the last dimension.
AxisChoice: TypeAlias = str | tuple[ArrayLike, ArrayLike] | None


def axis_matrix() -> FloatArray:
    """Weights of the axes.

    Returns
    -------
    array, shape (n_components, n_axes)
        ``composition @ axis_matrix()`` are levels [axis unit per 100 g].

    Examples
    --------
    >>> axis_matrix().shape == (len(NAMES), len(AXES))
    True
    """
    weights = np.zeros((len(NAMES), len(AXES)))
    for j, axis in enumerate(AXES):
        for component, weight in axis.weights.items():
            weights[INDEX[component], j] = weight
    return weights


def levels(composition: FloatArray) -> FloatArray:
    """Levels of all axes.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN.

    Returns
    -------
    array, shape (..., n_axes)
        Levels in the order of ``AXES`` [axis unit per 100 g].

    Examples
    --------
    >>> honey = np.zeros(len(NAMES))
    >>> for sugar, g in dict(sucrose=1.31, glucose=31.28, fructose=38.19, maltose=7.31).items():
    ...     honey[INDEX[sugar]] = g
    >>> round(float(levels(honey)[AXIS_NAMES.index("sweet")]), 3)
    71.958
    """
    return np.asarray(composition @ axis_matrix())


def families(composition: FloatArray) -> Mapping[str, FloatArray]:
    """Volatile level by family of aroma.

    Parameters
    ----------
    composition : array, shape (..., n_components)
        Amounts per 100 g, without NaN.

    Returns
    -------
    mapping of str to array, shape (...)
        Family to level [µL oil eq. per 100 g]; their sum is the volatile axis.

    Examples
    --------
    >>> pot = np.zeros(len(NAMES))
    >>> pot[INDEX["oil_allium"]], pot[INDEX["allium_sulphur"]] = 1.0, 2.0
    >>> float(families(pot)["allium"])
    9.0
    """
    return {
        family: np.asarray(sum(composition[..., INDEX[c]] * w for c, w in parts.items()))
        for family, parts in AROMA_FAMILIES.items()
    }


def _coefficients(axis: AxisChoice) -> tuple[FloatArray, FloatArray]:
    if axis is None:
        return WEBER, FLOOR
    if isinstance(axis, str):
        if axis not in AXIS:
            raise BadInput(f"No axis is called {axis!r}. Use one of: {', '.join(AXIS_NAMES)}.")
        return np.asarray(AXIS[axis].weber), np.asarray(AXIS[axis].floor)
    return np.asarray(axis[0], dtype=float), np.asarray(axis[1], dtype=float)


def jnd(level: ArrayLike, axis: AxisChoice = None) -> FloatArray:
    """Just-noticeable difference at a level: ``floor + weber * level``.

    Parameters
    ----------
    level : array-like
        Level, zero or more [axis unit per 100 g].
    axis : str, pair of arrays (weber, floor), or None
        Which axis; None takes all axes along the last dimension.

    Returns
    -------
    array
        Just-noticeable difference, same unit as the level.

    Raises
    ------
    BadInput
        If no axis has that name.

    Examples
    --------
    >>> float(jnd(10.0, "sweet"))
    2.1
    """
    weber, floor = _coefficients(axis)
    return np.asarray(floor + weber * np.asarray(level, dtype=float))


def to_z(level: ArrayLike, axis: AxisChoice = None) -> FloatArray:
    """Level to just-noticeable steps above nothing: ``ln(1 + k L / f) / k``.

    Parameters
    ----------
    level : array-like
        Level, zero or more [axis unit per 100 g].
    axis : str, pair of arrays (weber, floor), or None
        As in :func:`jnd`.

    Returns
    -------
    array
        Steps; one just-noticeable difference is one unit everywhere [JND].

    Examples
    --------
    >>> bool(np.isclose(to_z(from_z(7.0, "sour"), "sour"), 7.0))
    True
    """
    weber, floor = _coefficients(axis)
    return np.asarray(np.log1p(weber * np.asarray(level, dtype=float) / floor) / weber)


def from_z(z: ArrayLike, axis: AxisChoice = None) -> FloatArray:
    """Just-noticeable steps to level; the inverse of :func:`to_z`, never below zero.

    Parameters
    ----------
    z : array-like
        Steps above nothing [JND]; negative steps give level zero.
    axis : str, pair of arrays (weber, floor), or None
        As in :func:`jnd`.

    Returns
    -------
    array
        Level [axis unit per 100 g].

    Examples
    --------
    >>> float(from_z(-3.0, "salt"))
    0.0
    """
    weber, floor = _coefficients(axis)
    steps = np.maximum(np.asarray(z, dtype=float), 0.0)
    return np.asarray(floor * np.expm1(weber * steps) / weber)
