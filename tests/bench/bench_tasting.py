"""How many tastings a cook needs: simulated cooks against the learned palate and a fixed step.

python tests/bench/bench_tasting.py [--cooks 1000] [--seed 2] [--workers 2] [--speed]

A simulated cook has a hidden ideal, a hidden gain on each axis (lognormal, sd 0.4 of the log) and a
judgement noise of 0.7 JND. The tables miss each axis by 2 JND (normal, the same in every round of a
sauce); the first target misses the ideal by 2 JND ("near") or 6 JND ("far", normal as well). Rounds
are counted from the first word: after n tastings the next target is compared with the ideal, in the
coordinates of the model. On one axis, the cooks take turns through the axes and all other axes are
right from the start.

``matched`` cooks use the word thresholds of the library and hide nothing. ``mismatched`` cooks
judge what mixture suppression leaves of each taste (every pair with a strength of its own,
lognormal 0.3, own exponents within the published range), have thresholds of their own (lognormal
0.3, each side its own), weigh with an error of 0.3 JND, and tire: their scatter grows by 0.15 of
itself with every sample of a sitting. All rounds of words are one sitting; each ladder of spoons,
with the word before it, is a sitting of its own. A ladder is dosed with stock that is what it says
while the tables of the pot are off, so its steps are not those of the model. Nothing of this is
told to the estimator beyond the number of the sample. Weber fractions, exponents and factors of
suppression are those of ``constants.py`` and ``kitchen_constants.py``, which hold the published
figures.

Varied between cooks: sauce, ideal, first target, gains, table error, noise; for mismatched cooks
thresholds, suppression, exponents and weighing too. The estimator was developed on seed 1000; the
printed table is of another seed.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from balancer.belief import Habit
from balancer.catalogue import default_catalogue
from balancer.constants import AXES, AXIS_NAMES
from balancer.dosing import common_stocks
from balancer.intensity import suppression_matrix
from balancer.just_about_right import Word
from balancer.kitchen_constants import POWER_LAWS
from balancer.ladder import propose
from balancer.palate import Prior, learn
from balancer.palate_constants import WORD_THRESHOLDS
from balancer.problem import Problem
from balancer.rounds import Round, made_levels
from balancer.search import resolve
from balancer.solve import solve
from balancer.taste import FLOOR, WEBER, from_z, to_z
from balancer.wishes import LARGEST_LEVEL, Aim, Use

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
PANTRY = ("plums", "sugar", "salt", "lemon juice", "fresh ginger", "garlic", "water", "soy sauce")
DOSED = {s.axis for s in common_stocks()}


def levels_of(z: np.ndarray) -> tuple[float, ...]:
    return made_levels(np.minimum(from_z(z), MOST))


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


def learned(
    c: Cook, axes: Sequence[int], rounds: int, habit: Habit | None = None
) -> list[np.ndarray]:
    prior = Prior(levels_of(c.start), habit=habit or Habit())
    z, said, out = c.start, [], []
    for i in range(rounds):
        rank = c.ranks(c.make(z))
        words = {AXIS_NAMES[a]: WORDS[rank[a] + 3] for a in axes}
        said.append(Round(levels_of(z), words, sample=i + 1))
        palate = learn(said, prior)
        z = to_z(palate.target)
        out.append(z)
    return out


def with_ladder(
    c: Cook, axes: Sequence[int], rounds: int, *, ranking: bool = False
) -> list[np.ndarray]:
    """Every sitting: a word on each axis, then one ladder of spoons on the least sure axis."""
    prior = Prior(levels_of(c.start))
    grams = {s.name: np.array(s.levels) for s in common_stocks()}
    z, said, out = c.start, [], []
    for _ in range(rounds):
        c.samples = 0
        true = c.make(z)
        rank = c.ranks(true)
        words = {AXIS_NAMES[a]: WORDS[rank[a] + 3] for a in axes}
        tasted = Round(levels_of(z), words)
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


Rule = Callable[[Cook, Sequence[int], int], list[np.ndarray]]
READ_PLAIN = Habit(hiding=(1.0, 0.0, 0.0))  # words taken as if nothing hid anything
#: Rule, what it is called, and the number of rounds on one axis and on four.
RULES: dict[str, tuple[Rule, int, int]] = {
    "fixed steps of 1, 3, 6 JND": (fixed, 4, 5),
    "learned palate, words": (learned, 4, 5),
    "the same, suppression not read": (partial(learned, habit=READ_PLAIN), 0, 4),
    "words and ladder, nearest": (with_ladder, 2, 3),
    "words and ladder, ranked": (partial(with_ladder, ranking=True), 2, 0),
}


@dataclass(frozen=True)
class Job:
    rule: str
    axes: tuple[int, ...]  # one at a time if single
    single: bool
    kind: str
    start_miss: float
    strength: float
    cooks: int
    seed: int
    rounds: int


def misses(job: Job) -> np.ndarray:
    """Distance of each target from the ideal, shape (cooks, rounds, axes) [JND]."""
    out = []
    for i in range(job.cooks):
        axes = [job.axes[i % len(job.axes)]] if job.single else list(job.axes)
        c = cook(job.seed, i, job.kind, axes, job.start_miss, job.strength)
        targets = RULES[job.rule][0](c, axes, job.rounds)
        out.append([np.abs(z - c.goal)[axes] for z in targets])
    return np.array(out)


def line(found: np.ndarray) -> str:
    """Per round: share within 1 JND on an axis, on all axes, median miss."""
    within = found <= 1.0
    one = 100 * within.mean(axis=(0, 2))
    every = 100 * within.all(axis=2).mean(axis=0)
    middle = np.median(found, axis=(0, 2))
    several = found.shape[2] > 1
    return "   ".join(
        f"{a:3.0f} %{f' / {b:3.0f} %' if several else ''} ({m:.2f})"
        for a, b, m in zip(one, every, middle, strict=True)
    )


def calibration(cooks: int, seed: int) -> str:
    """Whether odds hold: of the axes called within 1 JND with 90 % odds or more, how many are."""
    axes, said, right = list(range(4)), 0, 0
    for i in range(cooks):
        c = cook(seed, i, "mismatched", axes, NEAR)
        prior, z, rounds = Prior(levels_of(c.start)), c.start, []
        for n in range(4):
            rank = c.ranks(c.make(z))
            words = {AXIS_NAMES[a]: WORDS[rank[a] + 3] for a in axes}
            rounds.append(Round(levels_of(z), words, sample=n + 1))
            palate = learn(rounds, prior)
            z = to_z(palate.target)
        sure = palate.odds[axes] >= 0.9
        said += int(sure.sum())
        right += int((np.abs(z - c.goal)[axes] <= 1.0)[sure].sum())
    return (
        f"{said} of {4 * cooks} axes called with 90 % odds or more, {100 * right / said:.0f} % so"
    )


def speed() -> None:
    """An update with its target, 8 axes and 20 rounds, beside one raw solve."""
    rng = np.random.default_rng(0)
    draft = made_levels(TYPICAL)
    rounds = [
        Round(
            made_levels(TYPICAL * np.exp(0.2 * rng.normal(size=N))),
            {a: WORDS[int(rng.integers(1, 6))] for a in AXIS_NAMES},
            sample=1 + i % 4,
        )
        for i in range(20)
    ]
    problem = Problem(
        tuple(Use(resolve(default_catalogue(), name)) for name in PANTRY),
        tuple(Aim(a, v, v) for a, v in (("sweet", 12.0), ("sour", 0.9), ("salt", 1.2))),
        yield_g=500.0,
    )
    learn(rounds, Prior(draft)), solve(problem)
    times = {}
    for name, act in (
        ("update", lambda: learn(rounds, Prior(draft)).target),
        ("solve", lambda: solve(problem)),
    ):
        taken = []
        for _ in range(50):
            start = time.process_time()
            act()
            taken.append(time.process_time() - start)
        times[name] = 1000 * float(np.median(taken))
    print(
        f"update and target, 8 axes and 20 rounds: {times['update']:.1f} ms; one raw solve of"
        f" {len(PANTRY)} ingredients: {times['solve']:.1f} ms; ratio"
        f" {times['update'] / times['solve']:.1f} (median of 50, processor time)"
    )


def table(cooks: int, seed: int, workers: int) -> None:
    jobs: list[tuple[str, Job]] = []
    four = tuple(AXIS_NAMES.index(a) for a in FOUR)
    dosed = tuple(a for a in four if AXIS_NAMES[a] in DOSED)
    with_umami = (*four[:3], AXIS_NAMES.index("umami"))
    for single in (False, True):
        for start, miss in (("near", NEAR), ("far", FAR)):
            for kind in ("matched", "mismatched"):
                for rule, (_, one, several) in RULES.items():
                    rounds = one if single else several
                    slow = rule.endswith("ranked") or (not single and "ladder" in rule)
                    if not rounds or (rule.endswith("read") and kind == "matched"):
                        continue
                    if slow and start == "far":
                        continue
                    axes = dosed if single and "ladder" in rule else four
                    head = f"{'one axis' if single else 'four axes'}, {start}, {kind}: {rule}"
                    job = Job(rule, axes, single, kind, miss, 1.0, cooks, seed, rounds)
                    jobs.append((head, job))
    words = "learned palate, words"
    for strength in (0.0, 0.5):
        jobs.append(
            (f"four axes, near, mismatched, suppression x {strength:g}: {words}",
             Job(words, four, False, "mismatched", NEAR, strength, cooks, seed, 4))
        )  # fmt: skip
    jobs.append(
        ("four axes with umami for volatile, near, mismatched: " + words,
         Job(words, with_umami, False, "mismatched", NEAR, 1.0, cooks, seed, 4))
    )  # fmt: skip
    jobs.sort(key=lambda job: "ladder" in job[0])  # the slow ones last
    print(f"{cooks} cooks, seed {seed}. Per round: within 1 JND on an axis / on all (median, JND)")
    with ProcessPoolExecutor(workers) as pool:
        for (head, _), found in zip(jobs, pool.map(misses, [j for _, j in jobs]), strict=True):
            print(f"{head}\n    {line(found)}", flush=True)
    print("odds after 4 tastings, mismatched:", calibration(cooks // 2, seed))


def main() -> None:
    options = argparse.ArgumentParser(description="How many tastings a cook needs.")
    options.add_argument("--cooks", type=int, default=1000)
    options.add_argument("--seed", type=int, default=2)
    options.add_argument("--workers", type=int, default=2)
    options.add_argument("--speed", action="store_true", help="only the speed")
    chosen = options.parse_args()
    if not chosen.speed:
        table(chosen.cooks, chosen.seed, chosen.workers)
    speed()


if __name__ == "__main__":
    main()
