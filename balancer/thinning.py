"""What is too little to weigh, thinned with water or oil until the scale can show it.

What dissolves or mixes can be thinned; what stays in pieces cannot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from balancer.composition import INDEX, NAMES, Ingredient, filled
from balancer.kitchen_constants import (
    CLEAR_UP_TO_G,
    LIQUID_SHELVES,
    MIXES_PROTEIN_G,
    MIXES_UP_TO_G,
    OIL_FROM_G,
)
from balancer.wishes import Use

#: An addition is weighed as it is from this many steps of the scale, an error of at most a tenth.
LEAST_STEPS = 5
#: Strengths to which a small addition is thinned [g/g], the strongest that can be weighed is taken;
#: the first is the habit of kitchens and benches (common practice, no source).
STRENGTHS = (0.10, 0.05, 0.02, 0.01)
_UNDISSOLVED = ("protein", "fat", "starch", "fibre")


@dataclass(frozen=True, eq=False)
class Thinned:
    """An ingredient thinned to a known strength, for an addition too small to weigh.

    Parameters
    ----------
    label : str
        Name of what is diluted, as the cook wrote it.
    ingredient : Ingredient
        What it is once thinned.
    strength : float
        Grams of it in a gram of that [1].
    carrier : str
        water or plain oil.
    """

    label: str
    ingredient: Ingredient
    strength: float
    carrier: str

    @property
    def words(self) -> str:
        """What a cook calls it: "salt thinned with water, 1 in 10"."""
        return _thinned(self.label, self.carrier, self.strength)

    def making(self, need_g: float, readability_g: float) -> str:
        """How to make enough of it, each part weighable, as a sentence."""
        steps = max(LEAST_STEPS, math.ceil(need_g * self.strength / readability_g - 1e-9))
        active = steps * readability_g
        return (
            f"Stir {active:g} g of {self.label} into {active * (1 / self.strength - 1):.6g} g of"
            f" {self.carrier}: {self.words}."
        )


def _thinned(name: str, carrier: str, strength: float) -> str:
    return f"{name} thinned with {carrier}, 1 in {1 / strength:g}"


#: Tap water, with which most things are thinned.
WATER_KEY = "14411"


def carrier_of(ingredient: Ingredient) -> str | None:
    """What an ingredient mixes with so that any spoon of it is like the next.

    Returns
    -------
    str or None
        water or plain oil; None for what stays in pieces, such as seeds, garlic and nuts, and for
        water itself.
    """
    if ingredient.key == WATER_KEY:
        return None
    values = filled(ingredient.values)
    if values[INDEX["fat"]] >= OIL_FROM_G.value:
        return "plain oil"
    shelf = ingredient.kin.group if ingredient.kin is not None else ingredient.group
    if shelf in LIQUID_SHELVES:  # unknown fibre counts as much as protein: a vinegar has neither
        protein = values[INDEX["protein"]]
        fibre = protein if math.isnan(ingredient["fibre"]) else values[INDEX["fibre"]]
        mixes = fibre <= MIXES_UP_TO_G.value and protein <= MIXES_PROTEIN_G.value
    else:  # what is not known of it is no reason to call it a juice
        unknown = any(math.isnan(ingredient[c]) for c in ("protein", "fibre"))
        solids = sum(values[INDEX[c]] for c in _UNDISSOLVED)
        mixes = not unknown and solids <= CLEAR_UP_TO_G.value
    return "water" if mixes else None


def thinned_for(use: Use, grams: float, readability_g: float) -> Thinned | None:
    """The least thinning by which a small addition can be weighed.

    Parameters
    ----------
    use : Use
    grams : float
        What should go in [g].
    readability_g : float
        Step of the scale [g].

    Returns
    -------
    Thinned or None
        None where it does not mix, is taken out again, or is too little even when thinned most.
    """
    with_what = carrier_of(use.ingredient)
    if with_what is None or use.passes < 1.0:
        return None
    for strength in STRENGTHS:
        if grams / strength >= (LEAST_STEPS - 1e-9) * readability_g:
            break
    else:
        return None
    values = filled(use.ingredient.values)
    carrier = np.zeros(len(NAMES))
    carrier[INDEX["water" if with_what == "water" else "fat"]] = 100.0
    nothing_known = np.full(len(NAMES), math.nan)
    ingredient = replace(
        use.ingredient,
        key=f"{use.ingredient.key} {100 * strength:g} %",
        name=_thinned(use.ingredient.name, with_what, strength),
        values=strength * values + (1.0 - strength) * carrier,
        low=nothing_known,
        high=nothing_known.copy(),
        share=None,
        note="",
    )
    return Thinned(use.label, ingredient, strength, with_what)
