"""Panel arithmetic against the tables of the standards and against independent computation.

Evidence: the entries of ISO 4120 and ISO 5495 below were written down from memory, not read off a
copy; each is recomputed here by scipy's binomial distribution as well, so that a slip of memory and
a slip of the program would show as different failures.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from balancer.discrimination import (
    Method,
    d_prime,
    least_correct,
    most_correct,
    p_value,
    panel_size,
    power,
    share_at,
    tellers_between,
)

ALPHAS = (0.20, 0.10, 0.05, 0.01, 0.001)

#: ISO 4120, table of the least number of correct answers, triangle test: assessors to the entries
#: at 20, 10, 5, 1 and 0.1 %; None where the table has a dash. From memory.
ISO_4120_LEAST = {
    6: (4, 5, 5, 6, None), 7: (4, 5, 5, 6, 7), 8: (5, 5, 6, 7, 8), 9: (5, 6, 6, 7, 8),
    10: (6, 6, 7, 8, 9), 11: (6, 7, 7, 8, 10), 12: (6, 7, 8, 9, 10), 13: (7, 8, 8, 9, 11),
    14: (7, 8, 9, 10, 11), 15: (8, 8, 9, 10, 12), 16: (8, 9, 9, 11, 12), 17: (8, 9, 10, 11, 13),
    18: (9, 10, 10, 12, 13), 19: (9, 10, 11, 12, 14), 20: (9, 10, 11, 13, 14),
    21: (10, 11, 12, 13, 15), 22: (10, 11, 12, 14, 15), 23: (11, 12, 12, 14, 16),
    24: (11, 12, 13, 15, 16), 25: (11, 12, 13, 15, 17), 26: (12, 13, 14, 15, 17),
    27: (12, 13, 14, 16, 18), 28: (12, 14, 15, 16, 18), 29: (13, 14, 15, 17, 19),
    30: (13, 14, 15, 17, 19), 36: (15, 17, 18, 20, 22), 42: (18, 19, 20, 22, 25),
    48: (20, 21, 22, 25, 27), 54: (22, 23, 25, 27, 30), 60: (24, 26, 27, 30, 33),
    66: (26, 28, 29, 32, 35), 72: (28, 30, 32, 34, 38),
}  # fmt: skip

#: ISO 4120, table of the number of assessors, triangle test: (pd, alpha) to the entries for beta
#: of 20, 10, 5, 1 and 0.1 %. From memory.
ISO_4120_SIZE = {
    (0.50, 0.20): (7, 12, 16, 25, 36), (0.50, 0.10): (12, 15, 20, 30, 43),
    (0.50, 0.05): (16, 20, 23, 35, 48), (0.50, 0.01): (25, 30, 35, 47, 62),
    (0.40, 0.20): (12, 17, 25, 36, 55), (0.40, 0.10): (17, 25, 30, 46, 67),
    (0.40, 0.05): (23, 30, 40, 57, 79), (0.40, 0.01): (35, 47, 56, 76, 102),
    (0.30, 0.20): (20, 28, 39, 64, 97), (0.30, 0.10): (30, 43, 54, 81, 119),
    (0.30, 0.05): (40, 53, 66, 98, 136), (0.30, 0.01): (62, 82, 97, 131, 181),
}  # fmt: skip

#: ISO 5495, least number of correct (one-sided) or agreeing (two-sided) answers at 5 %. From
#: memory.
ISO_5495_ONE_SIDED = {
    10: 9, 12: 10, 15: 12, 18: 13, 20: 15, 24: 17, 30: 20, 36: 24, 40: 26, 48: 31, 60: 37
}  # fmt: skip
ISO_5495_TWO_SIDED = {
    10: 9, 12: 10, 15: 12, 18: 14, 20: 15, 24: 18, 30: 21, 36: 25, 40: 27, 48: 32, 60: 39
}  # fmt: skip

#: Ennis (1993), share of correct answers at a distance d', to two decimals. From memory.
ENNIS_TRIANGLE = {0.0: 0.33, 1.0: 0.42, 2.0: 0.60, 3.0: 0.79}
ENNIS_PAIR = {0.0: 0.50, 1.0: 0.76, 2.0: 0.92, 3.0: 0.98}


@pytest.mark.parametrize("trials", ISO_4120_LEAST)
def test_least_correct_of_the_triangle(trials: int) -> None:
    ours = tuple(least_correct(Method.TRIANGLE, trials, a) for a in ALPHAS)
    assert ours == ISO_4120_LEAST[trials]


@pytest.mark.parametrize(("pd", "alpha"), ISO_4120_SIZE)
def test_number_of_assessors(pd: float, alpha: float) -> None:
    ours = tuple(panel_size(Method.TRIANGLE, pd, alpha, 1.0 - beta) for beta in ALPHAS)
    assert ours == ISO_4120_SIZE[pd, alpha]


def test_least_correct_of_the_pair() -> None:
    for trials, least in ISO_5495_ONE_SIDED.items():
        assert least_correct(Method.PAIRED, trials, 0.05) == least
    for trials, least in ISO_5495_TWO_SIDED.items():
        assert least_correct(Method.PAIRED_EITHER, trials, 0.05) == least


@pytest.mark.parametrize("alpha", ALPHAS)
def test_every_panel_up_to_150_by_the_binomial(alpha: float) -> None:
    for trials in range(1, 151):
        for method, chance, tail in (
            (Method.TRIANGLE, 1 / 3, alpha),
            (Method.PAIRED, 1 / 2, alpha),
            (Method.PAIRED_EITHER, 1 / 2, alpha / 2),
        ):
            enough = stats.binom.sf(np.arange(trials + 1) - 1, trials, chance) <= tail
            expected = int(np.argmax(enough)) if enough.any() else None
            assert least_correct(method, trials, alpha) == expected


@pytest.mark.parametrize(("correct", "trials"), [(0, 9), (5, 9), (14, 24), (21, 60), (200, 500)])
def test_p_value_and_limits_by_scipy(correct: int, trials: int) -> None:
    one = stats.binomtest(correct, trials, 1 / 3, alternative="greater")
    assert p_value(Method.TRIANGLE, correct, trials) == pytest.approx(one.pvalue, rel=1e-10)
    two = stats.binomtest(correct, trials, 0.5)
    assert p_value(Method.PAIRED_EITHER, correct, trials) == pytest.approx(two.pvalue, rel=1e-10)
    low, high = tellers_between(Method.TRIANGLE, correct, trials, 0.95)
    both = stats.binomtest(correct, trials).proportion_ci(0.90, method="exact")
    assert low == pytest.approx(max(0.0, 1.5 * both.low - 0.5), abs=1e-9)
    assert high == pytest.approx(max(0.0, 1.5 * both.high - 0.5), abs=1e-9)


def test_power_and_similarity_by_the_binomial() -> None:
    for trials in (18, 30, 66, 97):
        least = least_correct(Method.TRIANGLE, trials, 0.05)
        assert least is not None
        for pd in (0.1, 0.3, 0.5):
            share = pd + (1 - pd) / 3
            tail = stats.binom.sf(least - 1, trials, share)
            assert power(Method.TRIANGLE, trials, pd, 0.05) == pytest.approx(tail, rel=1e-10)
            for beta in (0.2, 0.05, 0.01):
                allowed = np.flatnonzero(
                    stats.binom.cdf(np.arange(trials + 1), trials, share) <= beta
                )
                expected = int(allowed[-1]) if len(allowed) else None
                assert most_correct(Method.TRIANGLE, trials, pd, beta) == expected


def test_upper_limit_beside_the_normal_formula_of_the_standard() -> None:
    """ISO 4120 gives ``1.5 p - 0.5 + 1.5 z sqrt(p (1 - p) / n)`` (from memory).

    The exact limit is the more cautious one, by less than one more right answer, 1.5 / n.
    """
    for trials in (36, 60, 96):
        for correct in range(trials // 3, trials * 2 // 3):
            p = correct / trials
            formula = 1.5 * p - 0.5 + 1.5 * 1.645 * np.sqrt(p * (1 - p) / trials)
            exact = tellers_between(Method.TRIANGLE, correct, trials, 0.95)[1]
            assert formula < exact < formula + 1.5 / trials


def test_d_prime_table() -> None:
    for table, method in ((ENNIS_TRIANGLE, Method.TRIANGLE), (ENNIS_PAIR, Method.PAIRED)):
        for distance, share in table.items():
            assert share_at(method, distance) == pytest.approx(share, abs=0.011)


@pytest.mark.parametrize("distance", [0.0, 0.3, 1.0, 2.3, 4.0])
def test_triangle_by_its_integral(distance: float) -> None:
    """Frijters (1979): two normal integrals over the odd sample's distance."""

    def inner(z: float) -> float:
        up = stats.norm.cdf(-z * np.sqrt(3) + distance * np.sqrt(2 / 3))
        down = stats.norm.cdf(-z * np.sqrt(3) - distance * np.sqrt(2 / 3))
        return float((up + down) * stats.norm.pdf(z))

    share = 2.0 * integrate.quad(inner, 0.0, np.inf)[0]
    assert share_at(Method.TRIANGLE, distance) == pytest.approx(share, abs=1e-7)


def test_triangle_by_simulated_tasters() -> None:
    """The taster names the sample farther from the two that lie closest."""
    rng = np.random.default_rng(11)
    x = rng.normal(size=(200_000, 3)) + np.array([0.0, 0.0, 1.5])
    alike = np.abs(x[:, 0] - x[:, 1])
    right = (alike < np.abs(x[:, 0] - x[:, 2])) & (alike < np.abs(x[:, 1] - x[:, 2]))
    assert share_at(Method.TRIANGLE, 1.5) == pytest.approx(right.mean(), abs=0.004)
    assert d_prime(Method.TRIANGLE, int(right[:9000].sum()), 9000) == pytest.approx(1.5, abs=0.1)
