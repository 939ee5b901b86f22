"""A ladder of spoons: a few small samples from the pot, dosed apart, tasted in one sitting.

One answer, "the second is nearest", tells more than a word, because the samples are compared with
one another. The samples are taken out of the pot; :mod:`balancer.dosing` says how each is dosed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from balancer.belief import Belief
from balancer.composition import FloatArray
from balancer.constants import AXIS_NAMES, MG_PER_G
from balancer.dosing import Bar, Spoon, Stock, common_stocks
from balancer.errors import BadInput
from balancer.judgement import apparent, order_likelihood
from balancer.palate import Palate
from balancer.palate_constants import (
    FATIGUE_PER_SAMPLE,
    JUDGEMENT_NOISE_JND,
    LADDER_STEPS_JND,
    MOST_SPOONS,
    SPOON_HIGH_G,
    SPOON_LOW_G,
)
from balancer.rounds import Spoons, made_levels
from balancer.taste import jnd, to_z
from balancer.wishes import checked_mass


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
    are let down with water, and the other axes made up from what moves them.

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
        If nothing was said of the axis, nothing at hand moves it, or the pot is too small.
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
    bar = Bar(axis, pot, stocks, spoon_g, scale_g)
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
            f"No ladder can be dosed on {axis} from {', '.join(s.name for s in stocks)}. Have"
            f" something at hand that moves {axis}, and water."
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
            f"A dose of {min(weighed) * MG_PER_G:.0f} mg is close to what the scale can show;"
            " thin what you dose with in water for a surer dose."
        )
    return tuple(said)


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
