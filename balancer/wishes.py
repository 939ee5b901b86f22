"""The parts of a problem: what may be used, what is aimed at, and what is limited.

Each part checks itself when it is built, so that a slip is named where it was made.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from balancer.composition import INDEX, FloatArray, Ingredient
from balancer.constants import AXIS, POT_GROWTH
from balancer.cooking import oil_kept
from balancer.errors import BadInput
from balancer.numerals import number_text

#: No sauce has more than this of anything in 100 g, in the unit of the axis.
LARGEST_LEVEL: Mapping[str, float] = MappingProxyType(
    {
        "sweet": 120.0,  # pure fructose
        "sour": 125.0,
        "salt": 100.0,
        "volatile": 100_000.0,  # 100 g of pure oil, in uL
        "umami": 100_000.0,  # 100 g in mg
        "heat": 16_000_000.0,  # pure capsaicin
        "body": 100.0,
        "fat": 100.0,
    }
)
LARGEST_MASS_G = 1e7  # ten tonnes; anything above is a slip of the keyboard
LEAST_MASS_G = 1e-6  # no scale reads less of a sauce, and shares of it are no numbers


def checked_mass(value: float, what: str, *, positive: bool = False) -> float:
    """Return a mass [g] if it can be meant; raise :class:`BadInput` with a sentence if not."""
    if not (LEAST_MASS_G if positive else 0.0) <= value <= LARGEST_MASS_G:
        least = f"more than zero, {LEAST_MASS_G:g} g or more" if positive else "zero or more"
        raise BadInput(
            f"{what} is {number_text(value)} g. Give a mass of {least}, at most"
            f" {LARGEST_MASS_G:g} g."
        )
    return float(value)


@dataclass(frozen=True)
class Use:
    """One ingredient and what the cook allows of it.

    Parameters
    ----------
    ingredient : Ingredient
    draft_g : float or None
        Quantity to stay near [g]; None takes the usual share of a sauce.
    min_g, max_g : float
        Least and most [g].
    locked_g : float or None
        Exact quantity [g].
    share_min, share_max : float
        Least and most as a fraction of the batch before loss [1].
    label : str
        The name the cook used; the ingredient's own name if empty.
    goes_in : str
        When it goes into the pot: start, late or raw (off the heat).
    passes : float
        Share of what is weighed that stays in the pot; every quantity above counts what stays [1].

    Raises
    ------
    BadInput
        If a figure is negative, not finite or absurd, or a minimum exceeds its maximum.
    """

    ingredient: Ingredient
    draft_g: float | None = None
    min_g: float = 0.0
    max_g: float = math.inf
    locked_g: float | None = None
    share_min: float = 0.0
    share_max: float = 1.0
    label: str = ""
    goes_in: str = "raw"
    passes: float = 1.0

    def __post_init__(self) -> None:
        if not self.label:
            object.__setattr__(self, "label", self.ingredient.name)
        oil_kept(self.goes_in)  # refuses a word it does not know
        checked_mass(self.min_g, f"{self.label}: the minimum")
        if not math.isinf(self.max_g):
            checked_mass(self.max_g, f"{self.label}: the maximum")
        for what, value in (("draft", self.draft_g), ("lock", self.locked_g)):
            if value is not None:
                checked_mass(value, f"{self.label}: the {what}")
        for what, share in (("least", self.share_min), ("largest", self.share_max)):
            if not 0 <= share <= 1:
                raise BadInput(
                    f"{self.label}: the {what} share is {share:g}. Give a fraction from 0 to 1."
                )
        if self.min_g > self.max_g:
            raise BadInput(
                f"{self.label}: the minimum of {self.min_g:g} g is over the maximum of"
                f" {self.max_g:g} g. Lower one or raise the other."
            )
        if self.share_min > self.share_max:
            raise BadInput(
                f"{self.label}: the least share of {self.share_min:g} is over the largest of"
                f" {self.share_max:g}. Lower one or raise the other."
            )
        if self.locked_g is not None and not self.min_g <= self.locked_g <= self.max_g:
            raise BadInput(
                f"{self.label}: the lock of {self.locked_g:g} g lies outside its limits of"
                f" {self.min_g:g} g to {self.max_g:g} g. Move the lock or the limits."
            )


@dataclass(frozen=True)
class Aim:
    """The level or the band one axis should reach.

    Parameters
    ----------
    axis : str
        Name of the axis.
    low, high : float
        Ends of the band, equal for a single level [unit of the axis, per 100 g].
    weight : float
        How much a JND on this axis counts beside the others [1].
    """

    axis: str
    low: float
    high: float
    weight: float = 1.0

    def __post_init__(self) -> None:
        if self.axis not in AXIS:
            raise BadInput(f"There is no axis {self.axis!r}. Use one of: {', '.join(AXIS)}.")
        unit = AXIS[self.axis].unit_per_100g
        for value in (self.low, self.high):
            if not math.isfinite(value) or value < 0:
                raise BadInput(
                    f"The target of {self.axis} is {value:g} {unit}. Give a level of zero or more."
                )
            if value > LARGEST_LEVEL[self.axis]:
                raise BadInput(
                    f"The target of {self.axis} is {value:g} {unit}; no sauce can have"
                    f" over {LARGEST_LEVEL[self.axis]:g}. Give a lower level."
                )
        if self.low > self.high:
            raise BadInput(
                f"The target of {self.axis} runs from {self.low:g} to {self.high:g} {unit}."
                " Put the lower end first."
            )
        if not (math.isfinite(self.weight) and 1e-3 <= self.weight <= 1e3):
            raise BadInput(
                f"The weight of {self.axis} is {self.weight:g}. Give one from 0.001 to 1000."
            )

    @property
    def is_point(self) -> bool:
        """Whether a single level is asked for."""
        return self.low == self.high

    @property
    def middle(self) -> float:
        """The level itself, or the middle of the band [unit of the axis]."""
        return 0.5 * (self.low + self.high)


@dataclass(frozen=True)
class Ratio:
    """A limit on the mass of one ingredient per mass of another.

    Parameters
    ----------
    of, to : int
        Places in ``Problem.uses``.
    low, high : float
        Least and most of ``of`` per ``to`` [g/g].
    """

    of: int
    to: int
    low: float
    high: float

    def __post_init__(self) -> None:
        if self.of == self.to:
            raise BadInput("A ratio names the same ingredient twice. Name two ingredients.")
        if not (math.isfinite(self.low) and 0 <= self.low <= self.high):
            raise BadInput(
                f"A ratio runs from {self.low:g} to {self.high:g}. Put the lower end first, and"
                " give numbers of zero or more."
            )


@dataclass(frozen=True)
class Limit:
    """A linear limit on the finished sauce.

    Parameters
    ----------
    label : str
        What is limited, as a cook would say it.
    unit : str
        Unit of the limited amount.
    weights : mapping of str to float
        Component name to weight; the amount is their sum over 100 g of finished sauce.
    low, high : float
        Ends [unit].
    per_use : tuple of float
        Amount that 100 g of each ingredient brings besides, in the order of ``Problem.uses``;
        empty for none [unit].
    per_lost_water : float
        Amount that 100 g of water take with them when they are cooked away, besides what
        ``weights`` says of water [unit].
    """

    label: str
    unit: str
    weights: Mapping[str, float] = field(repr=False)
    low: float = -math.inf
    high: float = math.inf
    per_use: tuple[float, ...] = field(default=(), repr=False)
    per_lost_water: float = 0.0

    def __post_init__(self) -> None:
        unknown = [c for c in self.weights if c not in INDEX]
        if unknown:
            raise BadInput(f"{self.label}: there is no component {unknown[0]!r}.")
        if math.isnan(self.low) or math.isnan(self.high) or self.low > self.high:
            raise BadInput(
                f"{self.label}: the limit runs from {self.low:g} to {self.high:g} {self.unit}."
                " Put the lower end first."
            )

    def vector(self) -> FloatArray:
        """Weights over the whole component axis, shape (n_components,)."""
        w = np.zeros(len(INDEX))
        for component, weight in self.weights.items():
            w[INDEX[component]] = weight
        return w


@dataclass(frozen=True)
class WaterLimits:
    """Limits on the water phase of the finished sauce.

    Parameters
    ----------
    ph_max : float or None
        Highest pH; it binds the high end of the band [1].
    acidity_min_pct : float or None
        Least titratable acidity, as citric acid [g/100 g].
    sugar_acid_min, sugar_acid_max : float or None
        Ends of sweetness [g sucrose eq.] over titratable acidity [g citric acid] [1].
    water_activity_max : float or None
        Highest water activity [1].
    """

    ph_max: float | None = None
    acidity_min_pct: float | None = None
    sugar_acid_min: float | None = None
    sugar_acid_max: float | None = None
    water_activity_max: float | None = None

    def __post_init__(self) -> None:
        for what, value, low, high, unit in (
            ("highest pH", self.ph_max, 0.0, 14.0, ""),
            ("least acidity", self.acidity_min_pct, 0.0, 100.0, " g citric acid per 100 g"),
            ("least sugar to acid ratio", self.sugar_acid_min, 0.0, 1e4, ""),
            ("largest sugar to acid ratio", self.sugar_acid_max, 0.0, 1e4, ""),
            ("highest water activity", self.water_activity_max, 1e-6, 1.0, ""),
        ):
            if value is not None and not low <= value <= high:
                raise BadInput(
                    f"The {what} is {value:g}{unit}. Give a figure from {low:g} to {high:g}."
                )
        least, most = self.sugar_acid_min, self.sugar_acid_max
        if least is not None and most is not None and least > most:
            raise BadInput(
                f"The sugar to acid ratio runs from {least:g} to {most:g}. Put the lower end first."
            )


@dataclass(frozen=True)
class Pot:
    """What is in the pot already: nothing of it can be taken out.

    Parameters
    ----------
    grams : tuple of float
        Mass of each ingredient in the pot, in the order of ``Problem.uses`` [g].
    growth : float
        Largest growth of the batch, as a fraction of the mass in the pot [1].
    """

    grams: tuple[float, ...]
    growth: float = POT_GROWTH.value

    def __post_init__(self) -> None:
        for g in self.grams:
            checked_mass(g, "A quantity in the pot")
        if sum(self.grams) < LEAST_MASS_G:
            raise BadInput(f"The pot holds {sum(self.grams):g} g. Weigh what is in it first.")
        if not (math.isfinite(self.growth) and 0 <= self.growth <= 100):
            raise BadInput(f"The growth of the batch is {self.growth:g}. Give a fraction, as 0.3.")
