"""An ingredient of which only a part stays in the pot: steeped, sieved, wilted or puréed.

What stays becomes an ingredient of its own, per 100 g of what stays, with the share of the mass
that stays beside it; so the program sees only what is in the pot, and the cook reads what to weigh.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from balancer.composition import (
    COMPONENTS,
    INDEX,
    MASSES,
    Evidence,
    FloatArray,
    Ingredient,
    filled,
)
from balancer.constants import Coefficient
from balancer.errors import BadInput
from balancer.straining import after_yield, infused, strained

#: Less than this share of the mass is not worth calling a part [1].
LEAST_PASSES = 1e-6
OIL_DENSITY = Coefficient(
    0.9, "g/mL", "CHOSEN", "chosen", (0.8, 1.1), "density of volatile oils, within their range"
)
UL_PER_ML = 1000.0  # unit change


def prepared(
    ingredient: Ingredient,
    *,
    taken_out: bool | Mapping[str, float] = False,
    sieved: Mapping[str, float] | None = None,
    left: float = 1.0,
    water_only: bool = True,
) -> tuple[Ingredient, float]:
    """What stays of an ingredient, and how much of its mass that is.

    Parameters
    ----------
    ingredient : Ingredient
    taken_out : bool or mapping of str to float
        Whether it is steeped and taken out; a mapping names the share of each component, or group
        of components, that passes into the pot [1].
    sieved : mapping of str to float or None
        Share of each component, or group, that goes through the sieve [1]; the rest goes through
        whole.
    left : float
        Share of the mass that is left after wilting or puréeing [1].
    water_only : bool
        Whether only water is lost (wilting), or some of everything (a sieve that holds back).

    Returns
    -------
    Ingredient
        Per 100 g of what stays.
    float
        Share of the mass that stays [1].

    Raises
    ------
    BadInput
        If a component or a share cannot be meant, or nothing stays.

    Examples
    --------
    >>> from balancer.catalogue import default_catalogue
    >>> leaf = default_catalogue().food("02004")  # bay leaf
    >>> steeped, stays = prepared(leaf, taken_out=True)
    >>> bool(stays < 0.1), bool(steeped["oil_herb"] > leaf["oil_herb"]), steeped["fibre"]
    (True, True, 0.0)
    """
    if taken_out is False and not sieved and left == 1.0:
        return ingredient, 1.0

    def stays(amounts: FloatArray) -> FloatArray:
        out = amounts
        if taken_out is not False:
            out = infused(out, 100.0, None if taken_out is True else taken_out)
        if sieved:
            out = strained(out, sieved)
        return after_yield(out, left, water_only=water_only) if left != 1.0 else out

    whole = filled(ingredient.values)
    share = _mass_g(stays(whole)) / _mass_g(whole)
    if share < LEAST_PASSES:
        raise BadInput(
            f"Nothing that weighs anything stays of {ingredient.name}. Name what passes into the"
            " pot, for example water, or leave it in."
        )

    def kept(amounts: FloatArray) -> FloatArray:
        unknown = np.isnan(amounts)
        return np.where(unknown, np.nan, stays(np.where(unknown, whole, amounts)) / share)

    evidence = tuple(None if e is None else Evidence.DERIVED for e in ingredient.evidence)
    return (
        replace(
            ingredient,
            key=f"{ingredient.key}~",
            values=kept(ingredient.values),
            low=kept(ingredient.low),
            high=kept(ingredient.high),
            evidence=evidence,
            share=None if ingredient.share is None else _scaled(ingredient.share, share),
        ),
        share,
    )


def _mass_g(amounts: FloatArray) -> float:
    """Mass of a composition, volatile oil counted: from a dry leaf little else passes [g]."""
    oils = [i for i, c in enumerate(COMPONENTS) if c.unit == "uL"]
    grams = [INDEX[m] for m in MASSES]
    return float(amounts[grams].sum() + OIL_DENSITY.value / UL_PER_ML * amounts[oils].sum())


def _scaled(usual: tuple[float, float, float], share: float) -> tuple[float, float, float]:
    low, typical, high = (share * s for s in usual)
    return low, typical, high


def unprepared_key(key: str) -> str:
    """The food number of an ingredient, however it was prepared."""
    return key.removesuffix("~")
