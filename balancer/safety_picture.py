"""What the cautions look at, what they read from it, and what they hand over."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from balancer import safety_constants as limits
from balancer.composition import INDEX, NAMES, OWN_SHELF, FloatArray, Ingredient
from balancer.constants import PPM_PER_MG_PER_100G, SHU_PER_PPM, SODIUM_DAILY_MG
from balancer.errors import BadInput
from balancer.safety_constants import Foods

SHU_PER_MG = SHU_PER_PPM.value * PPM_PER_MG_PER_100G


@dataclass(frozen=True)
class Caution:
    """One warning.

    Parameters
    ----------
    rule : str
        Short name of the rule that fired.
    sentence : str
        What the cook should know and do; ends with :data:`DEFER`.
    citation : str
        What the rule rests on, each with its key into ``data/sources.csv`` in square brackets.
    """

    rule: str
    sentence: str
    citation: str


@dataclass(frozen=True)
class Allergen:
    """One allergen of the sauce.

    Parameters
    ----------
    name : str
        Name as in ``data/allergens.csv``.
    us_major : bool
        Whether it is one of the nine major allergens of United States law (cereals: wheat only).
    eu_annex_ii : bool
        Whether Annex II of Regulation (EU) No 1169/2011 names it.
    carriers : tuple of str
        Ingredients that bring it, in the cook's order.
    """

    name: str
    us_major: bool
    eu_annex_ii: bool
    carriers: tuple[str, ...]


@dataclass(frozen=True)
class Sodium:
    """Sodium of one serving, or of 100 g where no serving is given.

    Parameters
    ----------
    mg : float
        Sodium [mg].
    daily_share : float
        Its share of the daily value [1].
    basis_g : float
        The mass it is counted for [g].
    """

    mg: float
    daily_share: float
    basis_g: float


@dataclass(frozen=True, eq=False)
class Picture:
    """What the rules look at.

    Parameters
    ----------
    ingredients : tuple of Ingredient
        What went in, in the cook's order.
    grams : array, shape (n_ingredients,)
        Edible grams before loss [g].
    per_100g : array, shape (n_components,)
        Composition of the finished sauce [unit of each component per 100 g].
    final_mass_g : float
        Mass of the finished sauce [g].
    ph : tuple of float or None
        Value, low and high end of its band; None or NaN where it is not known.
    water_activity : float or None
        Water activity [1]; None or NaN where it is not known.
    serving_g : float or None
        Mass of a serving [g].

    Raises
    ------
    BadInput
        If shapes disagree, a mass is not positive, or the band of pH is not in order.
    """

    ingredients: tuple[Ingredient, ...]
    grams: FloatArray
    per_100g: FloatArray
    final_mass_g: float
    ph: tuple[float, float, float] | None = None
    water_activity: float | None = None
    serving_g: float | None = None

    def __post_init__(self) -> None:
        if self.grams.shape != (len(self.ingredients),) or self.per_100g.shape != (len(NAMES),):
            raise BadInput(
                f"The picture of the sauce has {len(self.ingredients)} ingredients,"
                f" {self.grams.size} quantities and {self.per_100g.size} components. Give one"
                f" quantity for each ingredient and {len(NAMES)} components."
            )
        if not (np.isfinite(self.grams).all() and (self.grams >= 0).all()):
            raise BadInput("A quantity is negative or not a number. Give grams of zero or more.")
        for what, mass in (("finished sauce", self.final_mass_g), ("serving", self.serving_g)):
            if mass is not None and not (mass > 0 and math.isfinite(mass)):
                raise BadInput(f"The {what} weighs {mass:g} g. Give a mass above zero.")
        if self.ph is not None and (self.ph[1] > self.ph[0] or self.ph[0] > self.ph[2]):
            value, low, high = self.ph
            raise BadInput(
                f"The pH {value:g} lies outside its band of {low:g} to {high:g}. Give value, low"
                " end and high end in this order."
            )

    @property
    def known_ph(self) -> tuple[float, float, float] | None:
        """Value, low and high end of pH; None unless all three are numbers."""
        return self.ph if self.ph is not None and all(map(math.isfinite, self.ph)) else None

    @property
    def known_water_activity(self) -> float | None:
        """Water activity [1]; None unless it is a number."""
        aw = self.water_activity
        return aw if aw is not None and math.isfinite(aw) else None

    def with_any(self, test: Callable[[Ingredient], bool]) -> tuple[str, ...]:
        """Names of the ingredients in the pot that pass a test, each once."""
        used = zip(self.ingredients, self.grams, strict=True)
        return tuple(dict.fromkeys(i.name for i, g in used if g > 0 and test(i)))

    def of(self, foods: Foods) -> tuple[str, ...]:
        """Names of the ingredients in the pot that are of a kind of food."""
        return self.with_any(lambda i: is_one_of(i, foods))

    def at_most(self, component: str) -> float:
        """Largest possible level of a component counted in grams [g/100 g].

        An ingredient whose amount is unknown counts as if it were nothing else.
        """
        unknown = np.array([math.isnan(i[component]) for i in self.ingredients], dtype=bool)
        extra = 100.0 * float(self.grams[unknown].sum()) / self.final_mass_g
        return float(self.per_100g[INDEX[component]]) + extra

    def brought(self, component: str) -> float:
        """Amount that went in, whatever cooking took away [unit per 100 g of the sauce]."""
        went_in = float(self.grams @ [np.nan_to_num(i[component]) for i in self.ingredients])
        return went_in / self.final_mass_g

    def high_end(self, component: str) -> float:
        """Level at the high ends of what is published [unit per 100 g]."""
        at = INDEX[component]
        more = [float(np.fmax(i.high[at] - i.values[at], 0.0)) for i in self.ingredients]
        return float(self.per_100g[at]) + float(self.grams @ more) / self.final_mass_g


def wording(caution: str) -> str:
    """A caution without its figures; one more food in it makes it another caution.

    >>> wording("100 g brings 480 mg.") == wording("90 g brings 5 mg.")
    True
    """
    return re.sub(r"[\d.,]+", "", caution)


def text_of(ingredient: Ingredient) -> str:
    """Shelf and name in lower case, which the patterns read."""
    return f"{ingredient.group}: {ingredient.name}".lower()


def is_one_of(ingredient: Ingredient, foods: Foods) -> bool:
    """Whether an ingredient is of a kind of food, by number, shelf or name, or its kin is."""
    return (
        ingredient.key in foods.keys
        or ingredient.group in foods.shelves
        or (foods.pattern is not None and foods.pattern.search(text_of(ingredient)) is not None)
        or (ingredient.kin is not None and is_one_of(ingredient.kin, foods))
    )


def of_unknown_kind(ingredient: Ingredient) -> bool:
    """Whether it is a kitchen's own and nobody said what food it is like."""
    return ingredient.group == OWN_SHELF and ingredient.kin is None


def listed(names: Sequence[str]) -> str:
    """Names as a cook would say them: ``a, b and c``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def needs_cold(
    ph_high: float | None,
    water_activity: float | None,
    ph_guard: float = limits.PH_GUARD.value,
    aw_guard: float = limits.AW_GUARD.value,
) -> bool:
    """Whether a sauce is not shown to be safe outside the refrigerator.

    Parameters
    ----------
    ph_high : float or None
        High end of the pH; None where unknown, which counts as too high.
    water_activity : float or None
        Water activity [1]; None where unknown, which counts as 1.
    ph_guard, aw_guard : float
        Put on the pH and the water activity for the error of computed figures, so that 3.9 stands
        in the place of 4.2; 0 for measured ones.

    Returns
    -------
    bool
        True where the code's table would ask for cold or for an assessment of the product.

    References
    ----------
    1. US FDA Food Code, definition of time/temperature control for safety food, Table B (food not
       heat-treated, or heat-treated and not packaged), as reprinted in state codes.

    Examples
    --------
    >>> needs_cold(3.8, 0.97), needs_cold(3.9, 0.97), needs_cold(None, 0.97)
    (False, True, True)
    """
    aw = 1.0 if water_activity is None else round(water_activity + aw_guard, 6)
    if aw < limits.AW_FREE.value:
        return False
    if ph_high is None or not math.isfinite(ph_high):
        return True
    ph = round(ph_high + ph_guard, 6)
    for row in limits.KEEPING_ROWS:
        if aw <= row.aw_max.value:
            return ph > row.ph_max.value
    return ph >= limits.PH_COLD.value


def sodium(picture: Picture, basis_g: float | None = None) -> Sodium:
    """Sodium of a portion beside the daily value.

    Parameters
    ----------
    picture : Picture
        The sauce.
    basis_g : float or None
        Mass of the portion; None takes the serving, or 100 g where none is given [g].

    Returns
    -------
    Sodium
        Known sodium; ingredients without a figure count as none, and the caution says so.

    References
    ----------
    1. US 21 CFR 101.9(c)(9), daily value 2300 mg (recalled).
    """
    basis_g = basis_g or picture.serving_g or 100.0
    mg = float(picture.per_100g[INDEX["sodium"]]) * basis_g / 100.0
    return Sodium(mg, mg / SODIUM_DAILY_MG.value, basis_g)


def allergens(picture: Picture) -> tuple[Allergen, ...]:
    """Allergens of the sauce, in the order of the table of allergens.

    A curated ingredient carries its list. A food of the open table has none and is judged by its
    name, which can miss what a label would tell.

    Parameters
    ----------
    picture : Picture
        The sauce.

    Returns
    -------
    tuple of Allergen
        Those that at least one ingredient in the pot brings. A name that no table knows comes
        last and counts for neither law.

    References
    ----------
    1. US Food Allergen Labeling and Consumer Protection Act, 2004; FASTER Act, 2021.
    2. Regulation (EU) No 1169/2011, Annex II.
    """
    carriers: dict[str, list[str]] = {name: [] for name in limits.ALLERGENS}
    for ingredient, grams in zip(picture.ingredients, picture.grams, strict=True):
        for name in _allergens_of(ingredient) if grams > 0 else ():
            names = carriers.setdefault(name, [])
            if ingredient.name not in names:
                names.append(ingredient.name)
    found = []
    for name, names in carriers.items():
        rule = limits.ALLERGENS.get(name)
        if names:
            us_major = rule is not None and rule.us_major
            found.append(Allergen(name, us_major, rule is not None, tuple(names)))
    return tuple(found)


def by_name_only(ingredient: Ingredient) -> bool:
    """Whether no list of allergens stands behind an ingredient."""
    listed_by_us = ingredient.share is not None and ingredient.group != OWN_SHELF
    return not listed_by_us and not ingredient.allergens


def _allergens_of(ingredient: Ingredient) -> tuple[str, ...]:
    read: tuple[str, ...] = ()
    if by_name_only(ingredient):
        text = text_of(ingredient)
        read = tuple(n for n, rule in limits.ALLERGENS.items() if rule.pattern.search(text))
    lent = () if ingredient.kin is None else _allergens_of(ingredient.kin)
    extra = limits.EXTRA_ALLERGENS.get(ingredient.key, ())
    return tuple(dict.fromkeys((*ingredient.allergens, *extra, *read, *lent)))


def scale_shu(ingredient: Ingredient) -> float:
    """Scoville units at the high end of what is published.

    Parameters
    ----------
    ingredient : Ingredient
        A chilli is counted in its dry matter, as the trade's scale counts pods; anything else as
        it is eaten.

    Returns
    -------
    float
        Scoville units; infinite for a chilli of unknown heat, 0 for any other unknown.
    """
    value, high = ingredient["capsaicinoids"], ingredient.high[INDEX["capsaicinoids"]]
    shu = float(np.fmax(value, high)) * SHU_PER_MG
    pod = is_one_of(ingredient, limits.CHILLI)
    if math.isnan(shu):
        return math.inf if pod else 0.0
    if not pod or shu == 0.0:
        return shu
    solids = 100.0 - ingredient["water"]
    return 100.0 * shu / solids if solids > 0 else math.inf
