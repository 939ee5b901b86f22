"""What the label of a bottle says of an ingredient, and the vector that follows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from balancer.composition import INDEX, MASSES, NAMES, SUGARS, Evidence, Ingredient, filled
from balancer.constants import CL_PER_NACL, MG_PER_G, NACL_PER_NA
from balancer.errors import BadInput


@dataclass(frozen=True)
class Strength:
    """What the label of a bottle says, per 100 g.

    Parameters
    ----------
    acetic_pct, salt_pct, brix : float or None
        Acetic acid [g/100 g], table salt [g/100 g], degrees Brix [g/100 g]; None keeps the
        figure of the table.
    """

    acetic_pct: float | None = None
    salt_pct: float | None = None
    brix: float | None = None


def with_strength(ingredient: Ingredient, strength: Strength) -> Ingredient:
    """Return the ingredient with the strength its label states; water makes up the difference.

    A label in g per 100 mL is taken as g per 100 g, which for vinegars is right within 2 %.
    Degrees Brix scale all sugars together.

    Raises
    ------
    BadInput
        If a figure is negative, or leaves no room for the rest, or if degrees Brix are stated
        for something without sugars.
    """
    new = filled(ingredient.values).copy()
    changed: list[int] = []

    def put(component: str, amount: float) -> None:
        new[INDEX[component]] = amount
        changed.append(INDEX[component])

    before = new[[INDEX[n] for n in MASSES]].sum()
    if strength.acetic_pct is not None:
        put("acetic", _label(ingredient, "acetic acid", strength.acetic_pct))
    if strength.salt_pct is not None:
        salt = _label(ingredient, "salt", strength.salt_pct)
        sodium = salt / NACL_PER_NA.value * MG_PER_G
        old_salt = new[INDEX["sodium"]] / MG_PER_G * NACL_PER_NA.value
        put("sodium", sodium)
        put("chloride", salt * CL_PER_NACL.value * MG_PER_G)
        put("ash", max(0.0, new[INDEX["ash"]] + salt - old_salt))
    if strength.brix is not None:
        brix = _label(ingredient, "degrees Brix", strength.brix)
        sugars = [INDEX[s] for s in SUGARS]
        total = new[sugars].sum()
        if total <= 0:
            raise BadInput(
                f"{ingredient.name} has no sugars in the table, so {brix:g} degrees Brix cannot be"
                " shared out. Leave brix out, or choose a syrup or juice."
            )
        for i in sugars:
            put(NAMES[i], new[i] * brix / total)
    water = new[INDEX["water"]] - (new[[INDEX[n] for n in MASSES]].sum() - before)
    if water < -0.5:
        raise BadInput(
            f"The strength on the label of {ingredient.name} leaves {water:.3g} g of water in"
            " 100 g. Check the label's figure and its unit."
        )
    put("water", max(0.0, water))
    evidence, source = list(ingredient.evidence), list(ingredient.source)
    for i in changed:
        evidence[i], source[i] = Evidence.MEASURED, "LABEL"
    values = np.where(np.isnan(ingredient.values), np.nan, new)
    values[changed] = new[changed]
    # the range of other bottles says nothing of this one
    low, high = ingredient.low.copy(), ingredient.high.copy()
    low[changed] = high[changed] = np.nan
    return replace(
        ingredient,
        values=values,
        low=low,
        high=high,
        evidence=tuple(evidence),
        source=tuple(source),
    )


def _label(ingredient: Ingredient, what: str, amount: float) -> float:
    if not 0 <= amount <= 100:
        raise BadInput(
            f"{ingredient.name}: {what} is {amount:g} g per 100 g. Give a figure from 0 to 100."
        )
    return float(amount)
