"""How many tastings a cook needs: simulated cooks against the learned palate and a fixed step.

python tests/bench/bench_tasting.py [--cooks 1000] [--seed 1]

A simulated cook has a hidden ideal, a hidden gain on each axis (lognormal, sd 0.4 of the log) and a
judgement noise of 0.7 JND; the tables miss each axis by 2 JND (normal, the same in every round of a
sauce), and the first target misses the ideal by FIRST_MISS_JND. Rounds are counted from the first
word: after n tastings the next target is compared with the ideal in the coordinates of the model.

``matched`` cooks use the word thresholds of the library and hide nothing. ``mismatched`` cooks judge
what mixture suppression leaves of each taste (own strength of every pair, lognormal 0.3, own
exponents), have thresholds of their own (lognormal 0.3, each side its own), weigh with an error of
0.3 JND, and tire: their scatter grows by 0.15 of itself with every sample of the one sitting in
which all rounds are tasted. Nothing of this is told to the estimator beyond the number of the
sample. Weber fractions, exponents and factors of suppression are those of the published tables as
``constants.py`` and ``kitchen_constants.py`` hold them.

Varied between cooks: sauce, ideal, gains, table error, noise, and for mismatched cooks thresholds,
suppression and exponents. Seeds: the estimator was developed on seeds 1000 and up, the table is of
another seed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from balancer.constants import AXES, AXIS_NAMES
from balancer.intensity import suppression_matrix
from balancer.kitchen_constants import POWER_LAWS
from balancer.ladder import common_stocks, propose
from balancer.palate import Prior, learn
from balancer.palate_constants import WORD_THRESHOLDS
from balancer.wishes import LARGEST_LEVEL
from balancer.rounds import Round, Word, made_levels
from balancer.taste import FLOOR, WEBER, from_z, to_z

N = len(AXES)
FOUR = ("sweet", "sour", "salt", "volatile")
TYPICAL = np.array([12.0, 0.9, 1.3, 12.0, 60.0, 100.0, 2.5, 3.0])
MOST = np.array([LARGEST_LEVEL[a] for a in AXIS_NAMES])
LARGEST = np.array([80.0, 8.0, 10.0, 200.0, 1000.0, 20_000.0, 20.0, 60.0])
GAIN_SD, NOISE, TABLE_JND = 0.4, 0.7, 2.0
NEAR, FAR = 2.0, 6.0  # spread of the first target about the ideal [JND]
FIXED_STEP = np.array([0.0, 1.0, 3.0, 6.0])
NOMINAL = np.array([t.value for t in WORD_THRESHOLDS])
WORDS = list(Word)
DOSED = {s.axis for s in common_stocks()}


@dataclass
class Cook:
    rng: np.random.Generator
    start: np.ndarray  # first target, steps of the model
    error: np.ndarray  # truth less table [JND]
    ideal: np.ndarray  # true steps
    gain: np.ndarray
    up: np.ndarray  # own thresholds
    down: np.ndarray
    hiding: np.ndarray | None  # squared factors, none for a matched cook
    exponent: np.ndarray
    weighing: float
    tiring: float
    samples: int = 0

    @property
    def goal(self) -> np.ndarray:
        return self.ideal - self.error

    def apparent(self, z: np.ndarray) -> np.ndarray:
        """What hiding leaves, from the published form, with this cook's own figures."""
        if self.hiding is None:
            return z
        scaled = FLOOR / WEBER * np.exp(WEBER * z)
        moderate = np.array([POWER_LAWS[a].at_moderate.value for a in AXIS_NAMES])
        power = (scaled / moderate) ** (2.0 * self.exponent)
        left = power / np.sqrt(power + self.hiding @ power)  # perceived, of sqrt(power) alone
        return z + np.log(left / np.sqrt(power)) / (self.exponent * WEBER)

    def make(self, z: np.ndarray) -> np.ndarray:
        """True steps of a batch that was meant to have the steps z."""
        return np.maximum(z, 0.0) + self.error + self.weighing * self.rng.normal(size=N)

    def judge(self, true: np.ndarray) -> np.ndarray:
        scatter = NOISE * (1.0 + self.tiring * self.samples)
        self.samples += 1
        miss = self.gain * (self.apparent(self.ideal) - self.apparent(true))
        return miss + scatter * self.rng.normal(size=N)

    def ranks(self, true: np.ndarray) -> np.ndarray:
        judged = self.judge(true)
        return np.where(
            judged >= 0,
            np.searchsorted(self.up, judged),
            -np.searchsorted(self.down, -judged),
        )


def cook(
    seed: int, number: int, kind: str, axes: Sequence[int], start_miss: float, strength: float = 1.0
) -> Cook:
    """One cook; the axes that are not asked about are right from the start."""
    rng = np.random.default_rng([seed, number])
    ideal = to_z(TYPICAL * np.exp(0.25 * rng.normal(size=N)))
    error = TABLE_JND * rng.normal(size=N)
    start = np.maximum(ideal - error, 0.0)
    missed = start + error + start_miss * rng.normal(size=N)
    start[axes] = np.clip(missed, 0.0, to_z(LARGEST))[axes]
    gain = np.exp(GAIN_SD * rng.normal(size=N))
    up = down = NOMINAL
    exponent = np.array([POWER_LAWS[a].exponent.value for a in AXIS_NAMES])
    hiding, weighing, tiring = None, 0.0, 0.0
    own = rng.normal(size=(2, 3)), rng.normal(size=(N, N)), rng.normal(size=N)
    if kind == "mismatched":
        up, down = (np.maximum.accumulate(NOMINAL * np.exp(0.3 * s)) for s in own[0])
        hiding = (strength * suppression_matrix() * np.exp(0.3 * own[1])) ** 2
        exponent = np.clip(
            exponent * np.exp(0.2 * own[2]),
            [POWER_LAWS[a].exponent.valid[0] for a in AXIS_NAMES],
            [POWER_LAWS[a].exponent.valid[1] for a in AXIS_NAMES],
        )
        weighing, tiring = 0.3, 0.15
    return Cook(rng, start, error, ideal, gain, up, down, hiding, exponent, weighing, tiring)


def fixed(c: Cook, axes: Sequence[int], rounds: int) -> list[np.ndarray]:
    z, out = c.start.copy(), []
    for _ in range(rounds):
        rank = c.ranks(c.make(z))
        step = np.sign(rank) * FIXED_STEP[np.abs(rank)]
        z = z.copy()
        z[axes] = np.maximum(z[axes] + step[axes], 0.0)
        z = np.minimum(z, to_z(MOST))
        out.append(z)
    return out


def learned(c: Cook, axes: Sequence[int], rounds: int) -> list[np.ndarray]:
    prior = Prior(made_levels(from_z(c.start)))
    z, said, out = c.start, [], []
    for i in range(rounds):
        rank = c.ranks(c.make(z))
        words = {AXIS_NAMES[a]: WORDS[rank[a] + 3] for a in axes}
        said.append(Round(made_levels(from_z(z)), words, sample=i + 1))
        palate = learn(said, prior)
        z = to_z(palate.target)
        out.append(z)
    return out


def with_ladder(
    c: Cook, axes: Sequence[int], rounds: int, *, ranking: bool = False
) -> list[np.ndarray]:
    """Every sitting: a word on each axis, then one ladder of spoons on the least sure axis."""
    prior = Prior(made_levels(from_z(c.start)))
    grams = {s.name: np.array(s.levels) for s in common_stocks()}
    z, said, out = c.start, [], []
    for _ in range(rounds):
        c.samples = 0
        true = c.make(z)
        rank = c.ranks(true)
        words = {AXIS_NAMES[a]: WORDS[rank[a] + 3] for a in axes}
        tasted = Round(made_levels(from_z(z)), words)
        palate = learn([*said, tasted], prior)
        able = [a for a in axes if AXIS_NAMES[a] in DOSED]
        axis = max(able, key=lambda a: palate.sd_jnd[a])
        ladder = propose(palate, AXIS_NAMES[axis], tasted.made, 1000.0)
        size = []
        for spoon in ladder.spoons:
            if c.hiding is None:
                spoon_true = to_z(np.array(spoon.levels)) + c.error
            else:  # the stock is what it says, the tables of the pot are off
                dosed = sum((d.grams * grams[d.stock] for d in spoon.doses), np.zeros(N))
                mixed = (spoon.pot_g * from_z(true) + dosed) / spoon.mass_g
                spoon_true = to_z(mixed)
            size.append(abs(c.judge(spoon_true)[axis]))
        order = [int(k) + 1 for k in np.argsort(size)]
        answer = ladder.answer(*(order if ranking else order[:1]))
        said.append(replace(tasted, spoons=answer))
        z = to_z(learn(said, prior).target)
        out.append(z)
    return out

