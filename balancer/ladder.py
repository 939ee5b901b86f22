"""A ladder of spoons: a few small samples from the pot, dosed apart, tasted in one sitting.

One answer, "the second is nearest", tells more than a word, because the samples are compared with
one another. The samples are taken out of the pot, and the doses come from stock weak enough to be
measured: drops of 10 % citric acid, 20 % salt, simple syrup, or an ingredient of the pantry.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from balancer.belief import Belief
from balancer.composition import FloatArray, Ingredient, matrix
from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.judgement import apparent, order_likelihood
from balancer.palate import Palate
from balancer.palate_constants import (
    DROP_ML,
    FATIGUE_PER_SAMPLE,
    JUDGEMENT_NOISE_JND,
    LADDER_STEPS_JND,
    MOST_SPOONS,
    SPOON_HIGH_G,
    SPOON_LOW_G,
    STOCKS,
)
from balancer.rounds import Spoons, made_levels
from balancer.taste import from_z, jnd, levels, to_z
from balancer.wishes import checked_mass

_MG_PER_G = 1000.0


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
                f"The stock {self.name} has the levels {self.levels}. Give one of zero or more for"
                f" each of: {', '.join(AXIS_NAMES)}."
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
        mass = f"{self.grams * _MG_PER_G:.0f} mg" if self.grams < 1 else f"{self.grams:.2f} g"
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


@dataclass(frozen=True)
class Ladder:
    """Samples for one sitting.

    Parameters
    ----------
    axis : str
    spoons : tuple of Spoon
        From the least to the most of the axis.
    pot_left_g : float
        What stays in the pot [g].
    fall : float
        Expected fall of the variance of the ideal by the answer, as a share of it [1].
    remarks : tuple of str
    """

    axis: str
    spoons: tuple[Spoon, ...]
    pot_left_g: float
    fall: float
    remarks: tuple[str, ...] = ()

    @property
    def taken_g(self) -> float:
        """Sauce taken from the pot [g]."""
        return sum(s.pot_g for s in self.spoons)

    def answer(self, *order: int) -> Spoons:
        """The cook's answer, nearest first, samples counted from 1; goes into a Round."""
        return Spoons(self.axis, tuple(s.levels for s in self.spoons), order)


def propose(
    palate: Palate,
    axis: str,
    pot_levels: Sequence[float],
    pot_g: float,
    stocks: Sequence[Stock] | None = None,
    *,
    spoon_g: float = 12.0,
    scale_g: float = 0.01,
) -> Ladder:
    """The ladder on one axis from whose answer most is to be learned.

    Ladders of two to four samples at even spacing about the believed ideal are dosed as they can be
    measured; the one with the largest expected fall of the variance is taken. Samples below the pot
    are let down with water, and the other axes made up from their stocks.

    Parameters
    ----------
    palate : Palate
        With the last round's words on the axis.
    axis : str
    pot_levels : sequence of float, length n_axes
        Levels of the sauce in the pot [axis unit per 100 g].
    pot_g : float
        Mass in the pot [g].
    stocks : sequence of Stock or None
        What is at hand; None takes :func:`common_stocks`.
    spoon_g : float
        Mass of each sample, 10 to 15 g [g].
    scale_g : float
        Readability of the scale [g].

    Raises
    ------
    BadInput
        If nothing was said of the axis, no stock moves it, or the pot is too small.
    """
    if axis not in palate.beliefs:
        known = ", ".join(palate.judged)
        raise BadInput(
            f"Nothing was said of {axis!r} yet. Say a word on it first, or use: {known}."
        )
    if not SPOON_LOW_G.value <= spoon_g <= SPOON_HIGH_G.value:
        raise BadInput(
            f"A sample of {spoon_g:g} g is asked for. Give {SPOON_LOW_G.value:g} to"
            f" {SPOON_HIGH_G.value:g} g."
        )
    checked_mass(scale_g, "The readability of the scale", positive=True)
    checked_mass(pot_g, "The sauce in the pot", positive=True)
    if pot_g < 2.0 * spoon_g:
        raise BadInput(
            f"The pot holds {pot_g:g} g, too little for samples of {spoon_g:g} g. Taste the sauce"
            " itself and say a word."
        )
    pot = np.array(made_levels(np.asarray(pot_levels, dtype=float)))
    stocks = common_stocks() if stocks is None else tuple(stocks)
    bar = _Bar(axis, pot, stocks, spoon_g, scale_g)
    i = AXIS_NAMES.index(axis)
    middle = max(float(palate.ideal_z[i]), 0.0)
    known_ideal, p, gains = _kernel(palate.beliefs[axis])
    best: tuple[float, tuple[Spoon, ...]] | None = None
    most = min(MOST_SPOONS, int(pot_g // spoon_g))
    dosed: dict[float, Spoon | None] = {}
    for count, step in product(range(2, most + 1), LADDER_STEPS_JND):
        spoons = []
        for k in range(count):
            at = max(round(middle + (k - 0.5 * (count - 1)) * step, 3), 0.0)
            if at not in dosed:
                dosed[at] = bar.spoon(at)
            spoons.append(dosed[at])
        ladder = tuple(s for s in spoons if s is not None)
        if len({s.levels[i] for s in ladder}) < count:
            continue
        fall = _fall(known_ideal, p, gains, ladder, i, palate.share)
        if best is None or fall > best[0]:
            best = (fall, ladder)
    if best is None:
        raise BadInput(
            f"No ladder can be dosed on {axis} from {', '.join(s.name for s in stocks)}. Have a"
            f" stock at hand that moves {axis}, and water."
        )
    fall, ladder = best
    left = pot_g - sum(s.pot_g for s in ladder)
    return Ladder(axis, ladder, left, fall, _remarks(axis, pot, ladder, scale_g))


def _remarks(
    axis: str, pot: FloatArray, ladder: Sequence[Spoon], scale_g: float
) -> tuple[str, ...]:
    said = []
    drift = np.abs(np.array([s.levels for s in ladder]) - pot) / jnd(pot)
    drift[:, AXIS_NAMES.index(axis)] = 0.0
    worst = int(drift.max(axis=0).argmax())
    if drift.max() > 0.5:
        said.append(
            f"Dosing moves {AXIS_NAMES[worst]} too, by up to {drift.max():.1f} JND; it is"
            " counted. Mind it while tasting."
        )
    weighed = [d.grams for s in ladder for d in s.doses if d.drops is None]
    if weighed and min(weighed) < 5 * scale_g:
        said.append(
            f"A dose of {min(weighed) * _MG_PER_G:.0f} mg is close to what the scale can show;"
            " dilute the stock in water for a surer dose."
        )
    return tuple(said)


# --- dosing -------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Bar:
    """Where samples are dosed."""

    axis: str
    pot: FloatArray
    stocks: tuple[Stock, ...]
    spoon_g: float
    scale_g: float

    def spoon(self, at_z: float) -> Spoon | None:
        """A sample with about the given steps on the axis; None if it cannot be dosed."""
        i = AXIS_NAMES.index(self.axis)
        wanted = float(from_z(at_z, self.axis))
        if abs(wanted - self.pot[i]) < 0.05 * float(jnd(self.pot[i], self.axis)):
            return self._measured({})
        raised = wanted > self.pot[i]
        own = [s for s in self.stocks if s.axis == self.axis and s.levels[i] > 1.2 * wanted]
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


# --- what an answer would tell ------------------------------------------------------------------


def _kernel(belief: Belief) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The part of a belief that matters, thinned: ideals, joint probability with gains, gains."""
    p = belief.p.sum(axis=0)
    keep = np.flatnonzero(p.sum(axis=1) > 1e-3 * p.sum(axis=1).max())
    keep = keep[:: -(-len(keep) // 30)]
    return belief.ideal[keep], p[keep] / p[keep].sum(), np.exp(belief.log_gain)


def _fall(
    ideal: FloatArray,
    p: FloatArray,
    gains: FloatArray,
    ladder: Sequence[Spoon],
    axis: int,
    share: float,
) -> float:
    at = apparent(to_z(np.array([s.levels for s in ladder])), share)[:, axis]
    judgement = (ideal - at[:, None])[:, :, None] * gains
    tired = 1.0 + FATIGUE_PER_SAMPLE.value * (1 + len(ladder)) / 2
    sd = JUDGEMENT_NOISE_JND.value * tired
    after = chance = 0.0
    for nearest in range(len(ladder)):
        likely = (p * order_likelihood([nearest], judgement, sd)).sum(axis=1)
        total = float(likely.sum())
        mean = float(likely @ ideal) / total
        after += float(likely @ (ideal - mean) ** 2)
        chance += total
    marginal = p.sum(axis=1)
    before = float(marginal @ (ideal - marginal @ ideal) ** 2)
    return 1.0 - after / chance / before
