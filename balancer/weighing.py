"""Additions as a cook can weigh them: whole steps of the scale, and stocks for what is too little.

Rounding one addition shifts what the others should be, so all are rounded together: with the
masses themselves as unknowns every level, limit and ratio is a linear row, and one small
mixed-integer program finds whole steps of the scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from balancer.composition import INDEX, NAMES, FloatArray, Ingredient, filled, matrix
from balancer.errors import BadInput, NoSolution
from balancer.linear import LinearProgram
from balancer.problem import Problem
from balancer.requirements import (
    Requirement,
    aim_ends,
    ordered,
    reference_mass,
    requirements_of,
)
from balancer.solve import Model
from balancer.wishes import Pot, Use

#: An addition is weighed as it is from this many steps of the scale, an error of at most a tenth.
LEAST_STEPS = 5
#: Strengths of a stock [g/g], the strongest that can be weighed is taken; the first is the habit of
#: kitchens and benches (common practice, no source).
STOCK_STRENGTHS = (0.10, 0.05, 0.02, 0.01)
#: What holds more fat than this does not mix with water [g per 100 g].
OILY_FROM_G = 20.0
#: What holds less than this outside sugars, acids, salt and water dissolves [g per 100 g].
DISSOLVES_UP_TO_G = 5.0
#: An addition below this share of the pot is none.
TRACE = 1e-6
COARSEST_SCALE_G = 1000.0
ROUNDING_SECONDS = 5.0
_UNDISSOLVED = ("protein", "fat", "starch", "fibre")


@dataclass(frozen=True, eq=False)
class Stock:
    """A solution or slurry of known strength, for an addition too small to weigh.

    Parameters
    ----------
    label : str
        Name of what is diluted, as the cook wrote it.
    ingredient : Ingredient
        The stock itself.
    strength : float
        Grams of it in a gram of stock [1].
    carrier : str
        water or plain oil.
    dissolves : bool
        Whether it dissolves; a slurry has to be stirred while it is weighed.
    """

    label: str
    ingredient: Ingredient
    strength: float
    carrier: str
    dissolves: bool

    def making(self, need_g: float, readability_g: float) -> str:
        """How to make enough of it, each part weighable, as a sentence."""
        steps = max(LEAST_STEPS, math.ceil(need_g * self.strength / readability_g - 1e-9))
        active = steps * readability_g
        text = (
            f"Stir {active:g} g of {self.label} into {active * (1 / self.strength - 1):.6g} g of"
            f" {self.carrier}: a stock of {100 * self.strength:g} %"
        )
        return f"{text}." if self.dissolves else f"{text}; keep stirring while you weigh it out."


@dataclass(frozen=True, eq=False)
class Weighed:
    """Additions in whole steps of the scale.

    Parameters
    ----------
    problem : Problem
        The pot, with the stocks as further ingredients.
    added_g : array, shape (n_uses,)
        What the scale shows for each ingredient of that problem [g].
    stocks : tuple of (Stock or None), length n_uses
    of : tuple of int, length n_uses
        Place in the cook's list of what each addition is made from.
    """

    problem: Problem
    added_g: FloatArray
    stocks: tuple[Stock | None, ...]
    of: tuple[int, ...]

    @property
    def grams(self) -> FloatArray:
        """What is in the pot afterwards, shape (n_uses,) [g]."""
        assert self.problem.pot is not None
        return np.asarray(self.problem.pot.grams) + self.added_g


def checked_readability(readability_g: float) -> float:
    """Return the step of a scale [g]; raise :class:`BadInput` if no scale has it."""
    if not (math.isfinite(readability_g) and 0 < readability_g <= COARSEST_SCALE_G):
        raise BadInput(
            f"The scale reads in steps of {readability_g:g} g. Give its step: above zero, at most"
            f" {COARSEST_SCALE_G:g} g."
        )
    return float(readability_g)


#: Tap water, the solvent of most stocks.
WATER_KEY = "14411"


def stock_for(use: Use, grams: float, readability_g: float) -> Stock | None:
    """The strongest stock in which a small addition can be weighed.

    Parameters
    ----------
    use : Use
    grams : float
        What should go in [g].
    readability_g : float
        Step of the scale [g].

    Returns
    -------
    Stock or None
        None where even the weakest stock would be too little to weigh.
    """
    if use.ingredient.key == WATER_KEY:  # a stock of water in water is water
        return None
    for strength in STOCK_STRENGTHS:
        if grams / strength >= (LEAST_STEPS - 1e-9) * readability_g:
            break
    else:
        return None
    values = filled(use.ingredient.values)
    oily = values[INDEX["fat"]] > OILY_FROM_G
    carrier = np.zeros(len(NAMES))
    carrier[INDEX["fat" if oily else "water"]] = 100.0
    nothing_known = np.full(len(NAMES), math.nan)
    undissolved = sum(values[INDEX[c]] for c in _UNDISSOLVED)
    ingredient = replace(
        use.ingredient,
        key=f"{use.ingredient.key} {100 * strength:g} %",
        name=f"{100 * strength:g} % stock of {use.ingredient.name}",
        values=strength * values + (1.0 - strength) * carrier,
        low=nothing_known,
        high=nothing_known.copy(),
        share=None,
        note="",
    )
    return Stock(
        use.label,
        ingredient,
        strength,
        "plain oil" if oily else "water",
        bool(oily or undissolved <= DISSOLVES_UP_TO_G),
    )


def on_scale(problem: Problem, added_g: FloatArray, readability_g: float) -> Weighed:
    """Round additions to a scale, together, small ones as a stock.

    The weighed quantities miss the aims as little as whole steps allow (the sum of misses beyond
    the tolerance is least, then the mass added) and keep the limits of the request.

    Parameters
    ----------
    problem : Problem
        With a pot.
    added_g : array, shape (n_uses,)
        Exact additions, in the cook's order [g].
    readability_g : float
        Step of the scale [g].

    Returns
    -------
    Weighed

    Raises
    ------
    BadInput
        If no scale has this step.
    """
    assert problem.pot is not None
    step = checked_readability(readability_g)
    least = TRACE * sum(problem.pot.grams)
    uses, stocks, of = list(problem.uses), [None] * len(problem.uses), list(range(len(added_g)))
    columns: list[int] = []
    exact: list[float] = []
    all_stocks: list[Stock | None] = list(stocks)
    for i, grams in enumerate(added_g):
        if grams <= least:
            continue
        if grams >= (LEAST_STEPS - 1e-9) * step:
            columns.append(i)
            exact.append(float(grams))
        elif (stock := stock_for(problem.uses[i], float(grams), step)) is not None:
            room = max(0.0, problem.uses[i].max_g - problem.pot.grams[i])
            columns.append(len(uses))
            exact.append(float(grams) / stock.strength)
            uses.append(
                Use(stock.ingredient, max_g=room / stock.strength, label=stock.ingredient.name)
            )
            all_stocks.append(stock)
            of.append(i)
    extra = len(uses) - len(problem.uses)
    pot = Pot((*problem.pot.grams, *([0.0] * extra)), problem.pot.growth)
    limits = tuple(
        replace(limit, per_use=_with_stocks(limit.per_use, all_stocks, of))
        for limit in problem.limits
    )
    wider = replace(problem, uses=tuple(uses), pot=pot, limits=limits)
    steps = _whole_steps(wider, columns, np.array(exact), step)
    out = np.zeros(len(uses))
    out[columns] = np.round(steps * step, 9)
    return Weighed(wider, out, tuple(all_stocks), tuple(of))


def _with_stocks(
    per_use: tuple[float, ...], stocks: Sequence[Stock | None], of: Sequence[int]
) -> tuple[float, ...]:
    """What each use adds to a limit, the stocks behind: their share of it, the solvent none."""
    if not per_use:
        return per_use
    made = zip(stocks[len(per_use) :], of[len(per_use) :], strict=True)
    return (*per_use, *(per_use[i] * stock.strength for stock, i in made if stock is not None))


def _whole_steps(
    problem: Problem, columns: list[int], exact: FloatArray, step: float
) -> FloatArray:
    """Whole numbers of steps for the chosen columns, shape (n_columns,)."""
    if not columns:
        return np.zeros(0)
    assert problem.pot is not None
    in_pot = np.asarray(problem.pot.grams)
    room = np.array([max(0.0, problem.uses[c].max_g - in_pot[c]) for c in columns])
    growth = problem.pot.growth * (float(in_pot.sum()) - problem.water_lost_g)
    upper = np.floor(np.minimum(room, growth) / step + 1e-9)
    lower = np.minimum(float(LEAST_STEPS), upper)
    lp, weights = _program(problem, columns, exact, step, lower, upper)
    try:
        model = Model(lp, seconds=ROUNDING_SECONDS)
        best = model.optimum()
        if best is not None:
            keep = float(best.value)
            model.set_row(len(lp.rows) - 1, -math.inf, keep + 1e-7)
            model.set_cost(weights)
            best = model.optimum() or best
    except NoSolution:
        best = None
    if best is None:  # no whole steps keep every limit: less is safer than more
        return np.asarray(np.clip(np.floor(exact / step + 1e-9), 0.0, upper))
    return np.asarray(np.round(best.y[: len(columns)]))


def _program(
    problem: Problem,
    columns: list[int],
    exact: FloatArray,
    step: float,
    lower: FloatArray,
    upper: FloatArray,
) -> tuple[LinearProgram, FloatArray]:
    """Rows over the steps and the misses, and the cost of the second stage: mass added."""
    assert problem.pot is not None
    order = ordered(problem)
    composition = matrix([problem.uses[i].ingredient for i in order])
    start = reference_mass(problem, composition)
    finish = start + float(exact.sum())
    place = {int(i): j for j, i in enumerate(order)}
    at = np.array([place[c] for c in columns])
    in_pot = np.asarray(problem.pot.grams)[order]
    requirements = requirements_of(problem, order, composition, start)
    aims = [r for r in requirements if r.aim is not None]
    k, width = len(columns), len(columns) + 2 * len(aims)
    rows, low, high, names = [], [], [], []

    def add(name: str, row: FloatArray, floor: float, ceiling: float) -> None:
        size = max(float(np.abs(row).max(initial=0.0)), 1e-12)
        names.append(name)
        rows.append(row / size)
        low.append(floor / size)
        high.append(ceiling / size)

    def side(r: Requirement, end: float) -> tuple[FloatArray, float]:
        """Amount over an end times the mass: coefficients of the steps, and what is there."""
        values = np.zeros(len(order))
        values[r.places] = r.values
        row = np.zeros(width)
        row[:k] = step * (values[at] - end)
        return row, float(values @ in_pot) + r.per_s * start - end * start

    for r in requirements:
        if r.kind == "minimum":
            continue  # the pot is there already
        for which, end in (("under", r.low), ("over", r.high)):
            if not math.isfinite(end):
                continue
            row, there = side(r, end)
            if r.aim is not None:
                _, _, jnd_low, jnd_high = aim_ends(r.aim, problem.dead_band_jnd)
                under = which == "under"
                row[k + 2 * aims.index(r) + under] = finish * (jnd_low if under else -jnd_high)
            bounds = (-there, math.inf) if which == "under" else (-math.inf, -there)
            add(f"{r.label}: {which}", row, *bounds)
    mass = np.zeros(width)
    mass[:k] = step / finish
    add("growth", mass * finish, -math.inf, problem.pot.growth * start + 1e-9 * start)
    misses = np.zeros(width)
    for a, r in enumerate(aims):
        assert r.aim is not None
        misses[k + 2 * a : k + 2 * a + 2] = r.aim.weight
    names.append("sum of misses")
    rows.append(misses)
    low.append(-math.inf)
    high.append(math.inf)
    labels = [problem.uses[c].label for c in columns]
    labels += [f"{r.label} {w}" for r in aims for w in ("miss over", "miss under")]
    lp = LinearProgram(
        tuple(labels),
        tuple(names),
        np.array(rows),
        misses,
        np.concatenate([lower, np.zeros(2 * len(aims))]),
        np.concatenate([upper, np.full(2 * len(aims), math.inf)]),
        np.array(low),
        np.array(high),
        np.arange(width) < k,
    )
    return lp, mass
