"""The grid of the palate against integration that shares no code with it.

Likelihood and prior are written anew from the distributions of scipy.stats; dense sums over a far
finer grid, and adaptive quadrature (QUADPACK through scipy.integrate), are the judges.
"""

import math

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from balancer.belief import Belief, Habit
from balancer.constants import AXIS, AXIS_NAMES
from balancer.just_about_right import Word
from balancer.kitchen_constants import POWER_LAWS
from balancer.palate import Palate, Prior, learn
from balancer.palate_constants import HIDING, SCATTER
from balancer.rounds import Round
from balancer.suppression import Case

DRAFT = (12.0, 0.9, 1.2, 10.0, 40.0, 100.0, 2.0, 1.0)
SOUR, SWEET = AXIS_NAMES.index("sour"), AXIS_NAMES.index("sweet")
WORDS = list(Word)
# figures of palate_constants.py, put down again so that the two are checked against each other
EDGES = (-4.5, -2.0, -0.5, 0.5, 2.0, 4.5)
NOISE, OWN, SLIP, TIRING, WEIGHING, GAIN, SPREAD, TAIL = 0.7, 0.3, 0.03, 0.1, 0.3, 0.4, 4.0, 4.0


def likelihood(rank: int, sample: int, distance: np.ndarray, gain: np.ndarray, factor: float):
    sd = np.hypot(NOISE * (1 + TIRING * (sample - 1)), WEIGHING) * factor
    mean = gain * distance
    below = [stats.norm.cdf(e, loc=mean, scale=np.hypot(sd, OWN * abs(e))) for e in EDGES]
    ends = [np.zeros_like(mean), *below, np.ones_like(mean)]
    return SLIP / 7 + (1 - SLIP) * np.maximum(ends[rank + 4] - ends[rank + 3], 0.0)


def history(seed: int) -> tuple[list[tuple[float, int, int]], list[Round]]:
    """Levels, ranks and samples of one to eight rounds, most of them plausible."""
    rng = np.random.default_rng(seed)
    ideal = 2.5 * rng.normal()
    k, f = AXIS["sour"].weber, AXIS["sour"].floor
    z0 = np.log1p(k * 0.9 / f) / k
    said, rounds = [], []
    for n in range(int(rng.integers(1, 9))):
        z = max(z0 + 2.0 * rng.normal(), 0.0)
        judged = np.exp(0.4 * rng.normal()) * (z0 + ideal - z) + 0.7 * rng.normal()
        rank = int(np.searchsorted(EDGES, judged)) - 3
        level = f * np.expm1(k * z) / k
        made = (*DRAFT[:SOUR], float(level), *DRAFT[SOUR + 1 :])
        said.append((z, rank, n % 4 + 1))
        rounds.append(Round(made, {"sour": WORDS[rank + 3]}, sample=n % 4 + 1))
    return said, rounds


def one_case(rounds: list[Round]) -> Palate:
    plain = Habit(hiding=(1.0, 0.0, 0.0), scatter=(1.0, 0.0))
    return learn(rounds, Prior(DRAFT, habit=plain))


def centre() -> float:
    return float(np.log1p(AXIS["sour"].weber * 0.9 / AXIS["sour"].floor) / AXIS["sour"].weber)


@pytest.mark.parametrize("seed", range(50))
def test_mean_and_spread_against_dense_sums(seed: int) -> None:
    said, rounds = history(seed)
    ideal = centre() + np.linspace(-6 * SPREAD, 6 * SPREAD, 901)[:, None]
    log_gain = np.linspace(-6 * GAIN, 6 * GAIN, 81)[None, :]
    p = stats.t.pdf((ideal - centre()) / SPREAD, TAIL) * stats.norm.pdf(log_gain, scale=GAIN)
    for z, rank, sample in said:
        p = p * likelihood(rank, sample, ideal - z, np.exp(log_gain), 1.0)
    p /= p.sum()
    mean = float((p * ideal).sum())
    sd = float(np.sqrt((p * (ideal - mean) ** 2).sum()))
    gain = float((p * log_gain).sum())
    palate = one_case(rounds)
    assert palate.ideal_z[SOUR] == pytest.approx(mean, abs=0.02)
    assert palate.sd_jnd[SOUR] == pytest.approx(sd, rel=0.02)
    assert palate.habit.gain("sour")[0] == pytest.approx(gain, abs=0.01)
    within = float(p[np.abs(ideal[:, 0] - max(palate.ideal_z[SOUR], 0.0)) <= 1.0].sum())
    assert palate.odds[SOUR] == pytest.approx(within, abs=0.02)


def dense(said: list[tuple[float, int, int]], ideal: np.ndarray, log_gain: np.ndarray):
    """What is believed of ideal and gain at each usual and wide scatter, shape (2, n, m)."""
    prior = stats.t.pdf((ideal - centre()) / SPREAD, TAIL) * stats.norm.pdf(log_gain, scale=GAIN)
    p = np.array([usual.value * prior for _, usual in SCATTER])
    for layer, (factor, _) in zip(p, SCATTER, strict=True):
        for z, rank, sample in said:
            layer *= likelihood(rank, sample, ideal - z, np.exp(log_gain), factor.value)
    return p / p.sum()


@pytest.mark.parametrize("seed", range(6))
def test_what_one_more_word_would_tell_against_dense_sums(seed: int) -> None:
    """The variance before, and the mean of the variances after each of the seven words."""
    said, rounds = history(seed)
    ideal = centre() + np.linspace(-6 * SPREAD, 6 * SPREAD, 901)[:, None]
    log_gain = np.linspace(-6 * GAIN, 6 * GAIN, 81)[None, :]
    p = dense(said, ideal, log_gain)
    palate = learn(rounds, Prior(DRAFT, habit=Habit(hiding=(1.0, 0.0, 0.0))))
    mean = np.exp(log_gain) * (ideal - max(palate.ideal_z[SOUR], 0.0))
    after = np.zeros(7)
    for rank in range(-3, 4):
        joint = np.zeros(len(ideal))
        for layer, (factor, _) in zip(p, SCATTER, strict=True):
            ends = [
                stats.norm.cdf(e, loc=mean, scale=np.hypot(NOISE * factor.value, OWN * abs(e)))
                if np.isfinite(e)
                else np.full_like(mean, e > 0)
                for e in ((-np.inf, *EDGES, np.inf)[rank + 3], (*EDGES, np.inf)[rank + 3])
            ]
            word = SLIP / 7 + (1 - SLIP) * np.maximum(ends[1] - ends[0], 0.0)
            joint += (layer * word).sum(axis=1)
        first = (joint * ideal[:, 0]).sum() / joint.sum()
        after[rank + 3] = (joint * (ideal[:, 0] - first) ** 2).sum()
    marginal = p.sum(axis=(0, 2))
    before = (marginal * (ideal[:, 0] - (marginal * ideal[:, 0]).sum()) ** 2).sum()
    assert palate.fall[SOUR] == pytest.approx(1.0 - after.sum() / before, abs=0.003)
    half = 0.5 * (ideal[1, 0] - ideal[0, 0])
    ends = np.interp([said[-1][0] - 1.0, said[-1][0] + 1.0], ideal[:, 0] + half, marginal.cumsum())
    made = float(ends[1] - ends[0])
    assert palate.odds_made[SOUR] == pytest.approx(made, abs=0.02)


@pytest.mark.parametrize(
    ("words", "misfits"),
    [
        # steps above the first target, rank of the word; then the rounds that are named
        ([(0, 2), (2.5, 0), (2.5, 0), (1.5, 1), (2.5, -3)], [5]),
        ([(0, 2), (-2, 3), (2, 0), (2, 0), (-3, -2), (1.2, 1)], [5]),
        ([(3, 3), (0, 0), (0, 0), (-1, 1), (2, -1), (0, 0)], [1]),
        ([(0, 2), (3, -1), (2, 0), (1.5, 1)], []),
        ([(0, 1), (1, -1), (0, -1), (1, 1)], []),
        ([(0, 3), (5, 0), (2, 0)], []),
    ],
)
def test_words_that_do_not_fit_are_those_that_are_likely_slips(
    words: list[tuple[float, int]], misfits: list[int]
) -> None:
    """Odds of a slip by Bayes' rule over dense sums: named where they are over one in two."""
    said = [(centre() + steps, rank, 1) for steps, rank in words]
    weber, floor = AXIS["sour"].weber, AXIS["sour"].floor
    levels = [float(floor * np.expm1(weber * z) / weber) for z, _, _ in said]
    rounds = [
        Round((*DRAFT[:SOUR], level, *DRAFT[SOUR + 1 :]), {"sour": WORDS[rank + 3]})
        for level, (_, rank, _) in zip(levels, said, strict=True)
    ]
    ideal = centre() + np.linspace(-6 * SPREAD, 6 * SPREAD, 451)[:, None]
    log_gain = np.linspace(-6 * GAIN, 6 * GAIN, 31)[None, :]
    p = dense(said, ideal, log_gain)
    factors = [factor.value for factor, _ in SCATTER]
    scatter = float(p.sum(axis=(1, 2)) @ factors)  # of one word: its mean over the layers
    slips = [
        float((p * (SLIP / 7) / likelihood(r, n, ideal - z, np.exp(log_gain), scatter)).sum())
        for z, r, n in said
    ]
    assert [k for k, slip in enumerate(slips, 1) if slip > 0.5] == misfits, slips
    remarks = learn(rounds, Prior(DRAFT, habit=Habit(hiding=(1.0, 0.0, 0.0)))).remarks
    named = [r for r in remarks if "does not fit" in r]
    assert len(named) == len(misfits)
    for k, remark in zip(misfits, named, strict=True):
        assert remark.startswith(f"Round {k} said '{WORDS[words[k - 1][1] + 3]}' on sour")


@pytest.mark.parametrize("seed", [3, 11])
def test_mean_against_adaptive_quadrature(seed: int) -> None:
    said, rounds = history(seed)

    def normal(x: float) -> float:
        return 0.5 * math.erfc(-x / math.sqrt(2.0))

    def density(log_gain: float, ideal: float) -> float:
        x = (ideal - centre()) / SPREAD
        p = (1 + x * x / TAIL) ** (-(TAIL + 1) / 2) * math.exp(-0.5 * (log_gain / GAIN) ** 2)
        for z, rank, sample in said:
            sd = math.hypot(NOISE * (1 + TIRING * (sample - 1)), WEIGHING)
            mean = math.exp(log_gain) * (ideal - z)
            ends = [-math.inf, *EDGES, math.inf]
            low, high = (
                normal((e - mean) / (math.hypot(sd, OWN * abs(e)) if abs(e) < math.inf else 1.0))
                for e in (ends[rank + 3], ends[rank + 4])
            )
            p *= SLIP / 7 + (1 - SLIP) * max(high - low, 0.0)
        return p

    def moment(power: int) -> float:
        return float(
            integrate.dblquad(
                lambda g, x: density(g, x) * x**power,
                centre() - 6 * SPREAD, centre() + 6 * SPREAD, -5 * GAIN, 5 * GAIN,
                epsabs=1e-7, epsrel=1e-4,
            )[0]
        )  # fmt: skip

    assert one_case(rounds).ideal_z[SOUR] == pytest.approx(moment(1) / moment(0), abs=0.03)


def apparent_again(z: np.ndarray, share: float) -> np.ndarray:
    """Suppression of science figures written out for sweet, sour, salt and umami, pair by pair."""
    hiding = {("sweet", "sour"): 0.6, ("salt", "sweet"): 0.6, ("umami", "sweet"): 0.5,
              ("umami", "sour"): 0.5, ("umami", "salt"): 0.5, ("heat", "sweet"): 0.5}  # fmt: skip
    tastes = ("sweet", "sour", "salt", "umami")
    out = z.copy()
    psi = {}
    for i, a in enumerate(AXIS_NAMES):
        shifted = AXIS[a].floor / AXIS[a].weber * np.exp(AXIS[a].weber * z[..., i])
        law = POWER_LAWS[a]
        psi[a] = (shifted / law.at_moderate.value) ** law.exponent.value
    for i, a in enumerate(AXIS_NAMES):
        both = psi[a] ** 2
        for b in AXIS_NAMES:
            default = 1.0 if a in tastes and b in tastes and a != b else 0.0
            both = both + (share * hiding.get((a, b), default) * psi[b]) ** 2
        ratio = psi[a] / np.sqrt(both)
        out[..., i] = z[..., i] + np.log(ratio) / (POWER_LAWS[a].exponent.value * AXIS[a].weber)
    return out


@pytest.mark.parametrize("seed", range(6))
def test_belief_in_suppression_and_scatter_against_dense_sums(seed: int) -> None:
    """Evidence of every case, over two axes that moved together."""
    rng = np.random.default_rng(900 + seed)
    rounds, steps, ranks = [], [], []
    weber = np.array([AXIS[a].weber for a in AXIS_NAMES])
    floor = np.array([AXIS[a].floor for a in AXIS_NAMES])
    z0 = np.log1p(weber * np.array(DRAFT) / floor) / weber
    for _ in range(4):
        z = z0.copy()
        z[[SWEET, SOUR]] += 2.0 * rng.normal(size=2)
        rank = rng.integers(-2, 3, size=2)
        made = tuple(float(v) for v in floor * np.expm1(weber * z) / weber)
        names = {"sweet": WORDS[rank[0] + 3], "sour": WORDS[rank[1] + 3]}
        rounds.append(Round(made, names))
        steps.append(z)
        ranks.append(rank)
    h = 1e-5
    weight = np.zeros((len(HIDING), len(SCATTER)))
    log_gain = np.linspace(-6 * GAIN, 6 * GAIN, 81)[None, :]
    for i, (share, believed) in enumerate(HIDING):
        at = apparent_again(np.array(steps), share.value)
        start = apparent_again(z0, share.value)
        for j, (factor, usual) in enumerate(SCATTER):
            total = believed.value * usual.value
            for n, axis in enumerate((SWEET, SOUR)):
                slopes = [
                    (apparent_again(z0 + h * np.eye(8)[b], share.value)[axis] - start[axis]) / h
                    for b in (SWEET, SOUR)
                ]
                spread = SPREAD * np.hypot(*slopes)
                ideal = start[axis] + spread * np.linspace(-6, 6, 901)[:, None]
                p = stats.t.pdf((ideal - start[axis]) / spread, TAIL) * stats.norm.pdf(
                    log_gain, scale=GAIN
                )
                p = p / p.sum()
                for r, rank in enumerate(ranks):
                    p = p * likelihood(
                        int(rank[n]), 1, ideal - at[r, axis], np.exp(log_gain), factor.value
                    )
                total *= p.sum()
            weight[i, j] = total
    weight /= weight.sum()
    habit = learn(rounds, Prior(DRAFT)).habit
    assert habit.hiding == pytest.approx(weight.sum(axis=1), abs=0.01)
    assert habit.scatter == pytest.approx(weight.sum(axis=0), abs=0.01)


def test_odds_of_axes_that_hide_each_other_against_draws() -> None:
    """Ideals drawn as perceived, each turned back into a mixture by a general root finder."""
    z0 = np.full(8, 8.0)
    free = np.isin(np.arange(8), [SWEET, SOUR])
    both = np.flatnonzero(free)
    centres = apparent_again(z0, 1.0)
    spread = {SWEET: 0.6, SOUR: 0.4}
    beliefs = {}
    for i in both:
        grid = centres[i] + spread[i] * np.linspace(-6.0, 6.0, 121)
        p = stats.norm.pdf(grid, centres[i], spread[i])
        layers = np.tile((p / p.sum())[None, :, None], (2, 1, 1))
        beliefs[AXIS_NAMES[i]] = Belief(grid, np.zeros(1), layers, np.zeros(2))
    view = Case(1.0, free, z0, centres[None], beliefs).view(np.array([0.5, 0.5]))
    rng = np.random.default_rng(5)
    drawn = np.tile(z0, (600, 1))
    wanted = centres[both] + rng.normal(size=(600, 2)) * [spread[i] for i in both]
    for z, goal in zip(drawn, wanted, strict=True):

        def miss(x: np.ndarray, z: np.ndarray = z, goal: np.ndarray = goal) -> np.ndarray:
            z[both] = x
            return apparent_again(z, 1.0)[both] - goal

        z[both] = optimize.fsolve(miss, z0[both])
    assert view.z[both] == pytest.approx(z0[both])
    assert view.sd[both] == pytest.approx(drawn[:, both].std(axis=0), rel=0.08)
    for i in both:
        for at in (z0[i], z0[i] + 0.7, z0[i] - 1.2):
            share = float((np.abs(drawn[:, i] - at) <= 1.0).mean())
            assert view.within(int(i), at) == pytest.approx(share, abs=0.04)
