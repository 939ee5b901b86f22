"""Is it the same as the reference? What the answers of a panel show, and for whom.

The arithmetic stands in ``discrimination``, the sheets in ``serving``.
"""

from __future__ import annotations

from dataclasses import dataclass

from balancer.discrimination import (
    Method,
    checked_counts,
    d_prime,
    least_correct,
    most_correct,
    p_value,
    tellers_between,
)
from balancer.errors import BadInput

ALPHA = 0.05
BETA = 0.05
#: Share of tasters who can tell that similarity testing commonly takes as small (common practice).
SMALL_SHARE = 0.30
#: Sets that one taster judges in a sitting before the tongue tires (common practice, no source).
SETS_IN_A_SITTING = 6


@dataclass(frozen=True)
class Verdict:
    """What the answers show.

    Parameters
    ----------
    method : Method
    correct, trials : int
    p_value : float
        Chance of so many right answers by guessing alone [1].
    least_correct : int or None
        Fewest that show a difference.
    most_correct : int or None
        Most that show similarity; None where too few tasted or it was not asked.
    tellers : tuple of float or None
        Lower and upper limit of the share who can tell [1].
    d_prime : float
        Sensory distance [1].
    shown : bool
        Whether what was asked, difference or similarity, is shown.
    sentences : tuple of str
    """

    method: Method
    correct: int
    trials: int
    p_value: float
    least_correct: int | None
    most_correct: int | None
    tellers: tuple[float, float] | None
    d_prime: float
    shown: bool
    sentences: tuple[str, ...]


def difference(
    method: Method, correct: int, trials: int, *, tasters: int | None = None, alpha: float = ALPHA
) -> Verdict:
    """Do the answers show that the sauces can be told apart?

    Parameters
    ----------
    method : Method
    correct, trials : int
        Right answers (for a pair without expectation: those for one sample), and all answers.
    tasters : int or None
        Different tasters; None for as many as answers.
    alpha : float
        Accepted risk of a false difference [1].

    Returns
    -------
    Verdict

    Raises
    ------
    BadInput
        If a count cannot be.

    Examples
    --------
    >>> difference(Method.TRIANGLE, 9, 15).shown
    True
    """
    people = _people(correct, trials, tasters)
    chance = p_value(method, correct, trials)
    least = least_correct(method, trials, alpha)
    shown = chance <= alpha
    seen = max(correct, trials - correct) if method is Method.PAIRED_EITHER else correct
    need = "not even all right answers would do" if least is None else f"{least} are needed"
    lines = [
        f"{seen} of {trials} answers agree" if method.sides == 2 else f"{seen} of {trials} right",
    ]
    lines[0] += (
        f"; {need} at a risk of {100 * alpha:g} %. By guessing alone so many come up with"
        f" {100 * chance:.2g} % odds."
    )
    lines.append(
        "The sauces can be told apart."
        if shown
        else "No difference is shown. That is not proof that they are the same: test similarity,"
        " with enough tasters, for that."
    )
    both = None if method.sides == 2 else tellers_between(method, correct, trials, 1.0 - alpha)
    lines.append(scope(people, trials))
    return Verdict(
        method, correct, trials, chance, least, None, both, d_prime(method, seen, trials), shown,
        tuple(lines),
    )  # fmt: skip


def similarity(
    method: Method,
    correct: int,
    trials: int,
    *,
    tasters: int | None = None,
    small_share: float = SMALL_SHARE,
    beta: float = BETA,
) -> Verdict:
    """Do the answers show that at most a small share of tasters can tell?

    Parameters
    ----------
    method : Method
        Triangle, or paired with an expected answer.
    correct, trials : int
    tasters : int or None
        Different tasters; either one for each answer, or a single one.
    small_share : float
        Share who can tell that would not matter [1].
    beta : float
        Accepted risk of calling similar what is not [1].

    Returns
    -------
    Verdict

    Raises
    ------
    BadInput
        If a count cannot be, or several tasters answered more than once.

    Examples
    --------
    >>> similarity(Method.TRIANGLE, 21, 60).shown
    True
    """
    people = _people(correct, trials, tasters)
    if 1 < people < trials:
        raise BadInput(
            f"{people} tasters gave {trials} answers. For similarity every taster answers once, as"
            " repeats are not independent: count one answer of each, or test one taster alone."
        )
    most = most_correct(method, trials, small_share, beta)
    shown = most is not None and correct <= most
    low, high = tellers_between(method, correct, trials, 1.0 - beta)
    who = "this taster can tell them apart in" if people == 1 < trials else "they are told apart by"
    of_what = "sets" if people == 1 < trials else "tasters"
    lines = [
        f"{correct} of {trials} right: {who} at most {100 * high:.3g} % of {of_what}, with"
        f" {100 * (1 - beta):g} % confidence."
    ]
    if most is None:
        lines.append(
            f"{trials} answers are too few to show similarity within {100 * small_share:g} % with"
            " any count. Ask more tasters."
        )
    elif shown:
        lines.append(f"The sauces are similar: at most {most} right were allowed.")
    else:
        lines.append(f"Similarity is not shown: at most {most} right were allowed.")
    lines.append(scope(people, trials))
    return Verdict(
        method, correct, trials, p_value(method, correct, trials), None, most, (low, high),
        d_prime(method, correct, trials), shown, tuple(lines),
    )  # fmt: skip


def _people(correct: int, trials: int, tasters: int | None) -> int:
    checked_counts(correct, trials)
    people = trials if tasters is None else tasters
    if not (isinstance(people, int) and 1 <= people <= trials):
        raise BadInput(
            f"{people} tasters cannot have given {trials} answers. Give a whole number from 1 to"
            f" {trials}."
        )
    return people


def scope(tasters: int, trials: int) -> str:
    """For whom a result speaks, as a sentence.

    Parameters
    ----------
    tasters : int
        Different tasters.
    trials : int
        All answers.
    """
    if tasters == trials and trials > 1:
        return "It speaks for people like these tasters, as each answered once."
    if tasters == 1:
        return (
            "It speaks for this one taster only, and not for guests: repeats tell how surely one"
            f" tongue tells the two. Take at most {SETS_IN_A_SITTING} sets in a sitting."
        )
    return (
        "Tasters answered more than once: by guessing every answer is as likely right, so a"
        " difference stands, but what share of people can tell is not known from it."
    )
