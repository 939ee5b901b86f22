"""Samples from the pot, each dosed with measured amounts of stock.

The doses come from stock weak enough to be measured: drops of 10 % citric acid, 20 % salt, simple
syrup, or an ingredient of the pantry. Where a dose moves other axes too, they are made up from
their own stocks as far as there are any.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from balancer.composition import FloatArray, Ingredient, matrix
from balancer.constants import AXIS_NAMES, MG_PER_G
from balancer.errors import BadInput
from balancer.palate_constants import DROP_ML, STOCKS
from balancer.rounds import made_levels
from balancer.taste import from_z, jnd, levels, to_z
from balancer.wishes import checked_mass

#: A sample this near the pot is the pot as it is [JND].
SAME_JND = 0.05
#: A stock is of use from so many times the level that is wanted [1].
STRONGER = 1.2


@dataclass(frozen=True)
class Stock:
    """Something a sample is dosed with.

    Parameters
    ----------
    name : str
    levels : tuple of float
        Levels in the order of ``AXES`` [axis unit per 100 g]; all zero for water.
    drop_g : float or None
        Mass of one drop [g]; None where it is weighed.
    """

    name: str
    levels: tuple[float, ...]
    drop_g: float | None = None

    def __post_init__(self) -> None:
        if len(self.levels) != len(AXIS_NAMES) or not all(0 <= v < np.inf for v in self.levels):
            raise BadInput(
                f"{self.name}, to dose with, has the levels {self.levels}. Give one of zero or more"
                f" for each of: {', '.join(AXIS_NAMES)}."
            )
        if self.drop_g is not None:
            checked_mass(self.drop_g, f"A drop of {self.name}", positive=True)

    @cached_property
    def axis(self) -> str | None:
        """The axis it moves most, counted in steps; None for water."""
        steps = to_z(np.array(self.levels))
        return AXIS_NAMES[int(steps.argmax())] if steps.max() > 0 else None

    def measured(self, grams: float, scale_g: float) -> tuple[float, int | None]:
        """The nearest amount that can be measured [g], and its drops if it is counted in drops."""
        if self.drop_g is None:
            return round(grams / scale_g) * scale_g, None
        drops = round(grams / self.drop_g)
        return drops * self.drop_g, drops


def common_stocks() -> tuple[Stock, ...]:
    """Stock that is mixed in minutes, dry sugar for what syrup cannot reach, and water.

    Examples
    --------
    >>> common_stocks()[0].name, common_stocks()[0].levels[AXIS_NAMES.index("sour")]
    ('10 % citric acid', 10.0)
    """
    out = []
    for name, parts, density in STOCKS:
        per_100g = tuple(parts[a].value if a in parts else 0.0 for a in AXIS_NAMES)
        drop_g = None if density is None else DROP_ML.value * density.value
        out.append(Stock(name, per_100g, drop_g))
    return tuple(out)


def stock_of(ingredient: Ingredient) -> Stock:
    """An ingredient of the pantry as a stock, weighed."""
    return Stock(ingredient.name, made_levels(levels(matrix([ingredient])[0])))


@dataclass(frozen=True)
class Dose:
    """A measured amount of one stock.

    Parameters
    ----------
    stock : str
    grams : float
        Mass [g].
    drops : int or None
        Count, where it is counted in drops.
    """

    stock: str
    grams: float
    drops: int | None = None

    def __str__(self) -> str:
        mass = f"{self.grams * MG_PER_G:.0f} mg" if self.grams < 1 else f"{self.grams:.2f} g"
        if self.drops is None:
            return f"{mass} of {self.stock}"
        return f"{self.drops} drop{'s' * (self.drops != 1)} of {self.stock} ({mass})"


@dataclass(frozen=True)
class Spoon:
    """One sample.

    Parameters
    ----------
    pot_g : float
        Sauce taken from the pot [g].
    doses : tuple of Dose
        What is stirred in; none for the sauce as it is.
    levels : tuple of float
        Levels of the sample as dosed [axis unit per 100 g].
    """

    pot_g: float
    doses: tuple[Dose, ...]
    levels: tuple[float, ...]

    @property
    def mass_g(self) -> float:
        """Mass of the sample [g]."""
        return self.pot_g + sum(d.grams for d in self.doses)

    def __str__(self) -> str:
        dosed = ", ".join(str(d) for d in self.doses) or "nothing"
        return f"{self.pot_g:.1f} g from the pot with {dosed}"


@dataclass(frozen=True, eq=False)
class Bar:
    """Where samples are dosed.

    Parameters
    ----------
    axis : str
        The axis on which the samples stand apart.
    pot : array, shape (n_axes,)
        Levels of the sauce in the pot [axis unit per 100 g].
    stocks : tuple of Stock
        What is at hand.
    spoon_g : float
        Mass of each sample [g].
    scale_g : float
        Readability of the scale [g].
    """

    axis: str
    pot: FloatArray
    stocks: tuple[Stock, ...]
    spoon_g: float
    scale_g: float

    def spoon(self, at_z: float) -> Spoon | None:
        """A sample with about the given steps on the axis; None if it cannot be dosed.

        Parameters
        ----------
        at_z : float
            Where it shall stand, in steps above nothing [JND].
        """
        i = AXIS_NAMES.index(self.axis)
        wanted = float(from_z(at_z, self.axis))
        if abs(wanted - self.pot[i]) < SAME_JND * float(jnd(self.pot[i], self.axis)):
            return self._measured({})
        raised = wanted > self.pot[i]
        own = [s for s in self.stocks if s.axis == self.axis and s.levels[i] > STRONGER * wanted]
        water = [s for s in self.stocks if s.axis is None]
        movers = own if raised else water
        if not movers or wanted <= 0:
            return None
        mover = max(movers, key=lambda s: (s.drop_g is not None, s.levels[i]))
        makers: dict[str | None, Stock] = {}
        for stock in self.stocks:
            if stock.axis not in (None, self.axis):
                makers.setdefault(stock.axis, stock)
        return self._mixed(i, wanted, [mover, *makers.values()]) or self._mixed(i, wanted, [mover])

    def _mixed(self, i: int, wanted: float, stocks: list[Stock]) -> Spoon | None:
        """Doses that reach the level and keep the axes of the other stocks; None if there are none.

        Unknown are the mass from the pot and one mass per stock; the rows are the axis, one
        axis for each of the others, and the mass of the sample.
        """
        axes = [i] + [AXIS_NAMES.index(s.axis) for s in stocks[1:] if s.axis is not None]
        per_g = np.array([self.pot, *(s.levels for s in stocks)]).T
        goal = self.pot.copy()
        goal[i] = wanted
        rows = np.vstack([per_g[axes], np.ones(len(stocks) + 1)])
        if np.linalg.matrix_rank(rows) < len(rows):
            return None
        masses = np.linalg.solve(rows, np.append(goal[axes], 1.0) * self.spoon_g)
        if (masses < 0).any():
            return None
        return self._measured(dict(zip(stocks, masses[1:].tolist(), strict=True)))

    def _measured(self, amounts: Mapping[Stock, float]) -> Spoon:
        doses, total = [], np.zeros(len(self.pot))
        for stock, wanted_g in amounts.items():
            grams, drops = stock.measured(wanted_g, self.scale_g)
            if grams > 0:
                doses.append(Dose(stock.name, grams, drops))
                total += grams * np.array(stock.levels)
        added = sum(d.grams for d in doses)
        pot_g = max(round((self.spoon_g - added) / self.scale_g) * self.scale_g, 0.0)
        mixed = (pot_g * self.pot + total) / (pot_g + added)
        return Spoon(pot_g, tuple(doses), made_levels(mixed))
