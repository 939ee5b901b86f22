"""Steeping, sieving and yields: what passes into the pot and what is held back.

A batch is the vector of all its components, as in ``simmering``.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from balancer.composition import COMPONENTS, INDEX, MASSES, NAMES, FloatArray
from balancer.errors import BadInput
from balancer.kitchen_constants import INFUSED

_WATER = INDEX["water"]
_MASSES = np.array([INDEX[m] for m in MASSES])


def infused(
    composition: FloatArray, grams: float, passes: Mapping[str, float] | None = None
) -> FloatArray:
    """What an ingredient leaves behind when it is steeped and taken out.

    Parameters
    ----------
    composition : array, shape (n_components,)
        Amounts per 100 g of the ingredient, without NaN.
    grams : float
        Grams steeped [g].
    passes : mapping of str to float, or None
        Component, or group of components, to the share that passes into the pot [1]; what is not
        named stays in the ingredient. None takes the standing shares (chosen).

    Returns
    -------
    array, shape (n_components,)
        What the pot gains [g, mg, meq or uL].

    Raises
    ------
    BadInput
        If a name is not on the axis, or a share is not within 0 to 1.

    Examples
    --------
    >>> leaf = np.zeros(len(NAMES)); leaf[INDEX["oil_herb"]], leaf[INDEX["fibre"]] = 2000.0, 26.0
    >>> tea = infused(leaf, 1.0, {"oil_herb": 0.5})
    >>> float(tea[INDEX["oil_herb"]]), float(tea[INDEX["fibre"]])
    (10.0, 0.0)
    """
    shares = {k: c.value for k, c in INFUSED.items()} if passes is None else passes
    return np.asarray(composition * grams / 100.0 * _shares(shares, 0.0))


def strained(total: FloatArray, keeps: Mapping[str, float]) -> FloatArray:
    """Batch after it has been sieved.

    Parameters
    ----------
    total : array, shape (n_components,)
        The batch [g, mg, meq or uL].
    keeps : mapping of str to float
        Component, or group of components, to the share that goes through [1]; what is not named
        goes through whole.

    Returns
    -------
    array, shape (n_components,)
        The batch afterwards.

    Raises
    ------
    BadInput
        If a name is not on the axis, or a share is not within 0 to 1.
    """
    return np.asarray(total * _shares(keeps, 1.0))


def after_yield(total: FloatArray, kept: float, *, water_only: bool) -> FloatArray:
    """Batch after a loss given as a yield.

    Parameters
    ----------
    total : array, shape (n_components,)
        The batch [g, mg, meq or uL].
    kept : float
        Share of the mass that is left, over 0 to 1 [1].
    water_only : bool
        True: leaves wilt, water goes and the rest stays. False: pan and sieve hold some of
        everything back.

    Returns
    -------
    array, shape (n_components,)
        The batch afterwards.

    Raises
    ------
    BadInput
        If the share is outside its range, or if more would go than there is water.
    """
    if not 0.0 < kept <= 1.0:
        raise BadInput(f"The yield is {kept:g}. Give a share over 0 and up to 1.")
    if not water_only:
        return np.asarray(total * kept)
    out = total.copy()
    gone = float(total[_MASSES].sum()) * (1.0 - kept)
    if gone > total[_WATER]:
        raise BadInput(
            f"A yield of {kept:g} takes {gone:.4g} g of water, but there are"
            f" {total[_WATER]:.4g} g. Give a yield nearer to 1."
        )
    out[_WATER] -= gone
    return out


def _shares(named: Mapping[str, float], rest: float) -> FloatArray:
    out = np.full(len(NAMES), rest)
    groups = {c.group for c in COMPONENTS}
    for name, share in named.items():
        if name not in INDEX and name not in groups:
            raise BadInput(
                f"No component or group is called {name!r}. Use a name of the axis, such as water,"
                f" or a group: {', '.join(sorted(groups))}."
            )
        if not 0.0 <= share <= 1.0:
            raise BadInput(f"The share of {name} is {share:g}. Give a share from 0 to 1.")
    for name, share in sorted(named.items(), key=lambda item: item[0] in INDEX):
        for i, component in enumerate(COMPONENTS):
            if name in (component.name, component.group):
                out[i] = share
    return out
