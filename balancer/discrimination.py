"""Can two sauces be told apart? Exact binomial arithmetic of the triangle and paired tests.

A taster either tells the samples apart or guesses. With a share pd who can tell, the share of right
answers is ``pd + (1 - pd) * chance``; all counts below are exact tails of that binomial.
"""

from __future__ import annotations

import math
from enum import StrEnum
from fractions import Fraction

from balancer.errors import BadInput

#: More answers than any panel gives.
MOST_TRIALS = 10_000
#: Largest panel that is looked for.
MOST_TASTERS = 2_000
#: Largest d-prime that is looked for.
MOST_D_PRIME = 20.0


class Method(StrEnum):
    """How the samples are served and what is asked.

    ``triangle``: two alike and one odd, which is odd? ``paired``: which of two has more of
    something, with one answer expected beforehand. ``paired_either``: the same, or which is
    preferred, with no answer expected.
    """

    TRIANGLE = "triangle"
    PAIRED = "paired"
    PAIRED_EITHER = "paired_either"

    @property
    def chance(self) -> Fraction:
        """Share of right answers by guessing [1]."""
        return Fraction(1, 3) if self is Method.TRIANGLE else Fraction(1, 2)

    @property
    def sides(self) -> int:
        """Sides on which a surprising count may lie."""
        return 2 if self is Method.PAIRED_EITHER else 1


def checked_counts(correct: int, trials: int) -> None:
    """Raise :class:`BadInput` if so many right answers cannot come from so many trials."""
    if not (isinstance(trials, int) and 1 <= trials <= MOST_TRIALS):
        raise BadInput(f"The test has {trials} answers. Give a whole number from 1 to 10000.")
    if not (isinstance(correct, int) and 0 <= correct <= trials):
        raise BadInput(
            f"{correct} right answers cannot come from {trials}. Give a whole number from 0 to"
            f" {trials}."
        )


def _checked_share(value: float, what: str) -> None:
    if not 0 < value < 1:
        raise BadInput(f"The {what} is {value:g}. Give a share between 0 and 1, as 0.05.")


def p_value(method: Method, correct: int, trials: int) -> float:
    """Chance of at least so many right answers if nobody can tell.

    Parameters
    ----------
    method : Method
    correct : int
        Right answers; for ``paired_either`` the answers for one sample, whichever.
    trials : int
        All answers.

    Returns
    -------
    float
        Exact probability [1]; for ``paired_either`` of a split at least as uneven.

    Raises
    ------
    BadInput
        If there are more right answers than answers, or a count is no whole number.

    References
    ----------
    1. ISO 4120, Sensory analysis, Methodology, Triangle test.
    2. ISO 5495, Sensory analysis, Methodology, Paired comparison test.

    Examples
    --------
    >>> round(p_value(Method.TRIANGLE, 9, 15), 4)
    0.0308
    """
    checked_counts(correct, trials)
    if method is Method.PAIRED_EITHER:
        correct = max(correct, trials - correct)
    guess, miss = method.chance.numerator, method.chance.denominator - method.chance.numerator
    ways = sum(
        math.comb(trials, k) * guess**k * miss ** (trials - k) for k in range(correct, trials + 1)
    )
    return float(min(Fraction(1), Fraction(method.sides * ways, method.chance.denominator**trials)))


def least_correct(method: Method, trials: int, alpha: float) -> int | None:
    """Fewest right answers that show a difference at a level of significance.

    Parameters
    ----------
    method : Method
    trials : int
    alpha : float
        Accepted risk of seeing a difference that is not there [1].

    Returns
    -------
    int or None
        None where not even all right answers suffice.

    Raises
    ------
    BadInput
        If a figure is out of its range.

    Examples
    --------
    >>> least_correct(Method.TRIANGLE, 24, 0.05), least_correct(Method.PAIRED_EITHER, 24, 0.05)
    (13, 18)
    """
    _checked_share(alpha, "risk alpha")
    checked_counts(0, trials)
    guess, miss = method.chance.numerator, method.chance.denominator - method.chance.numerator
    allowed = math.floor(Fraction(alpha) * method.chance.denominator**trials / method.sides)
    ways, term, least = 0, guess**trials, trials + 1  # in so many ways all answers are right
    while least > 0 and ways + term <= allowed:
        ways, least = ways + term, least - 1
        term = term * least * miss // ((trials - least + 1) * guess)
    return None if least > trials else least


def share_correct(method: Method, tellers: float) -> float:
    """Share of right answers where a share of tasters can tell and the rest guess [1]."""
    if not 0 <= tellers <= 1:
        raise BadInput(f"The share who can tell is {tellers:g}. Give a share from 0 to 1.")
    return tellers + (1.0 - tellers) * float(method.chance)


def power(method: Method, trials: int, tellers: float, alpha: float) -> float:
    """Chance that a panel shows the difference when a share of tasters can tell.

    Parameters
    ----------
    method : Method
    trials : int
        Tasters, each answering once.
    tellers : float
        Share who can tell, pd of the standards [1].
    alpha : float
        Accepted risk of a false difference [1].

    Returns
    -------
    float
        Power, 1 - beta [1]; it rises in a saw-tooth with the number of tasters.
    """
    least = least_correct(method, trials, alpha)
    return 0.0 if least is None else _tail(least, trials, share_correct(method, tellers))


def _tail(least: int, trials: int, share: float) -> float:
    """``P(X >= least)`` by the incomplete beta function."""
    from scipy import special  # slow to import

    if least <= 0:
        return 1.0
    return float(special.betainc(least, trials - least + 1, share)) if least <= trials else 0.0


def panel_size(method: Method, tellers: float, alpha: float, wanted_power: float) -> int:
    """Fewest tasters with which a panel has a wanted power.

    Parameters
    ----------
    method : Method
    tellers : float
        Share who can tell that should not be missed, above zero [1].
    alpha : float
        Accepted risk of a false difference [1].
    wanted_power : float
        Wanted chance to see it, 1 - beta [1].

    Returns
    -------
    int
        The first number that reaches it, as the tables of the standards have it. Power is a
        saw-tooth: one taster more may fall a little short again.

    Raises
    ------
    BadInput
        If a share is out of range, or more than 2000 tasters would be needed.

    Examples
    --------
    >>> panel_size(Method.TRIANGLE, 0.30, 0.05, 0.95)
    66
    """
    _checked_share(alpha, "risk alpha")
    _checked_share(wanted_power, "power")
    if not 0 < tellers <= 1:
        raise BadInput(f"The share who can tell is {tellers:g}. Give a share above 0, at most 1.")
    for trials in range(1, MOST_TASTERS + 1):
        if power(method, trials, tellers, alpha) >= wanted_power:
            return trials
    raise BadInput(
        f"To see {100 * tellers:.3g} % of tasters who can tell takes more than {MOST_TASTERS}"
        " tasters. Accept a larger share, a larger risk or less power."
    )


def most_correct(method: Method, trials: int, tellers: float, beta: float) -> int | None:
    """Most right answers that still show two sauces to be similar.

    Parameters
    ----------
    method : Method
        Triangle, or paired with an expected answer.
    trials : int
        Tasters, each answering once.
    tellers : float
        Largest share who can tell that would not matter [1].
    beta : float
        Accepted risk of calling similar what more than that share can tell [1].

    Returns
    -------
    int or None
        None where the panel is too small to show it with any count.

    Examples
    --------
    >>> most_correct(Method.TRIANGLE, 60, 0.30, 0.05)
    25
    """
    _checked_share(beta, "risk beta")
    _checked_share(tellers, "share who can tell")
    checked_counts(0, trials)
    _refuse_two_sided(method)
    share = share_correct(method, tellers)
    found = [k for k in range(trials + 1) if 1.0 - _tail(k + 1, trials, share) <= beta]
    return max(found, default=None)


def _refuse_two_sided(method: Method) -> None:
    if method is Method.PAIRED_EITHER:
        raise BadInput(
            "Similarity needs one expected answer. Use the triangle test, or name beforehand which"
            " sample should have more."
        )


def tellers_between(
    method: Method, correct: int, trials: int, confidence: float = 0.95
) -> tuple[float, float]:
    """Lower and upper limit of the share of tasters who can tell, each one-sided.

    Parameters
    ----------
    method : Method
        Triangle, or paired with an expected answer.
    correct, trials : int
        Right answers, and all.
    confidence : float
        Of each limit by itself [1].

    Returns
    -------
    tuple of float
        Lower and upper limit [1], exact (Clopper and Pearson), cut off at zero.

    References
    ----------
    1. Clopper CJ, Pearson ES. The use of confidence or fiducial limits illustrated in the case of
       the binomial. Biometrika 1934;26:404.

    Examples
    --------
    >>> [round(limit, 3) for limit in tellers_between(Method.TRIANGLE, 21, 60)]
    [0.0, 0.195]
    """
    from scipy import special  # slow to import

    checked_counts(correct, trials)
    _checked_share(confidence, "confidence")
    _refuse_two_sided(method)
    risk, chance = 1.0 - confidence, float(method.chance)
    low, high = 0.0, 1.0
    if correct > 0:
        low = float(special.betaincinv(correct, trials - correct + 1, risk))
    if correct < trials:
        high = float(special.betaincinv(correct + 1, trials - correct, confidence))
    return max(0.0, (low - chance) / (1 - chance)), max(0.0, (high - chance) / (1 - chance))


def share_at(method: Method, d_prime: float) -> float:
    """Share of right answers at a sensory distance.

    Parameters
    ----------
    method : Method
    d_prime : float
        Distance of the two sauces in standard deviations of one judgement, zero or more [1].

    Returns
    -------
    float
        Share of right answers [1].

    References
    ----------
    1. Ennis DM. The power of sensory discrimination methods. J Sens Stud 1993;8:353. For the
       triangle ``P = 1 - F(3)`` with F noncentral, 1 and 1 degrees of freedom, noncentrality
       2 d'^2 / 3; for the pair the normal integral of d' over the square root of 2.

    Examples
    --------
    >>> round(share_at(Method.TRIANGLE, 1.0), 3), round(share_at(Method.PAIRED, 1.0), 3)
    (0.418, 0.76)
    """
    from scipy import special  # slow to import

    if not 0 <= d_prime <= MOST_D_PRIME:
        raise BadInput(f"The d-prime is {d_prime:g}. Give a number from 0 to {MOST_D_PRIME:g}.")
    if method is Method.TRIANGLE:
        return float(1.0 - special.ncfdtr(1.0, 1.0, 2.0 * d_prime**2 / 3.0, 3.0))
    return float(special.ndtr(d_prime / math.sqrt(2.0)))


def d_prime(method: Method, correct: int, trials: int) -> float:
    """Sensory distance at which the share of right answers is the one seen.

    Returns
    -------
    float
        d-prime [1]; 0 where guessing does as well, infinite where every answer is right.
    """
    checked_counts(correct, trials)
    share = correct / trials
    if share <= float(method.chance):
        return 0.0
    if share >= share_at(method, MOST_D_PRIME):
        return math.inf
    low, high = 0.0, MOST_D_PRIME
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if share_at(method, middle) < share else (low, middle)
    return 0.5 * (low + high)
