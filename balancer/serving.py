"""Serving sheets for the triangle test and the paired comparison, with the key for who serves.

Orders are balanced and random, cups carry three-digit codes, and the same seed gives the same
sheets again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from balancer.discrimination import Method
from balancer.errors import BadInput

CODES = range(100, 1000)
MOST_TASTERS = 500
MOST_REPEATS = 60


@dataclass(frozen=True)
class Serving:
    """One set of samples in front of one taster.

    Parameters
    ----------
    taster, turn : int
        From 1.
    samples : tuple of str
        "A" or "B", from left to right.
    codes : tuple of int
        Three digits each, all different.
    """

    taster: int
    turn: int
    samples: tuple[str, ...]
    codes: tuple[int, ...]

    def right_code(self, method: Method, expected: str) -> int:
        """Code of the right answer: the odd sample, or the one expected to have more."""
        wanted = expected
        if method is Method.TRIANGLE:
            wanted = min("AB", key=self.samples.count)
        return self.codes[self.samples.index(wanted)]


@dataclass(frozen=True)
class Session:
    """A test ready to be served.

    Parameters
    ----------
    method : Method
    names : tuple of str
        What A and B are.
    attribute : str
        What is compared in a pair, as "sour"; empty for the triangle.
    expected : str
        "A" or "B": which should have more; what is counted in a pair.
    allergens : tuple of str
        What the sauces hold, printed on every sheet.
    seed : int
        Gives the same sheets again.
    servings : tuple of Serving
    """

    method: Method
    names: tuple[str, str]
    attribute: str
    expected: str
    allergens: tuple[str, ...]
    seed: int
    servings: tuple[Serving, ...]

    @property
    def tasters(self) -> int:
        """Number of different tasters."""
        return len({s.taster for s in self.servings})

    def sheet(self, taster: int) -> str:
        """The sheet for one taster, as text to print; it does not tell what is what."""
        mine = [s for s in self.servings if s.taster == taster]
        if not mine:
            raise BadInput(f"There is no taster {taster}. Give a number from 1 to {self.tasters}.")
        holds = (
            f"The sauces hold: {', '.join(self.allergens)}."
            if self.allergens
            else "If any food harms you, ask what the sauces hold before you taste."
        )
        task = (
            "Two samples of each set are alike, one is different. Circle the odd one."
            if self.method is Method.TRIANGLE
            else f"Circle the sample of each set that is more {self.attribute}."
        )
        lines = [
            f"Taster {taster}",
            holds,
            f"Taste from left to right, rinse with water between samples. {task}",
            "If you are not sure, guess: every set needs an answer.",
            "",
        ]
        lines += [f"Set {s.turn}:   " + "     ".join(map(str, s.codes)) for s in mine]
        return "\n".join(lines) + "\n"

    def key(self) -> str:
        """The key for whoever serves: which code holds what, and the right answer."""
        lines = [
            f"{self.method.replace('_', ' ')}: A is {self.names[0]}, B is {self.names[1]}"
            f" (seed {self.seed})",
            "Serve all samples alike: same cups, same amount, same temperature.",
            "",
        ]
        for s in self.servings:
            cups = "  ".join(f"{c}={n}" for c, n in zip(s.codes, s.samples, strict=True))
            right = s.right_code(self.method, self.expected)
            word = "expected" if self.method is not Method.TRIANGLE else "odd"
            lines.append(f"taster {s.taster}, set {s.turn}:  {cups}  {word} {right}")
        return "\n".join(lines) + "\n"

    def count(self, answers: Sequence[int]) -> int:
        """Right answers among codes given in the order of ``servings``.

        Raises
        ------
        BadInput
            If an answer is missing, or a code was not in its set.
        """
        if len(answers) != len(self.servings):
            raise BadInput(
                f"There are {len(answers)} answers for {len(self.servings)} sets. Give one for each"
                " in the order of the key; a taster who is not sure guesses."
            )
        right = 0
        for serving, answer in zip(self.servings, answers, strict=True):
            if answer not in serving.codes:
                raise BadInput(
                    f"Taster {serving.taster}, set {serving.turn}: the code {answer} was not"
                    f" served. The set had {', '.join(map(str, serving.codes))}."
                )
            right += answer == serving.right_code(self.method, self.expected)
        return right


def session(
    method: Method,
    tasters: int,
    *,
    repeats: int = 1,
    names: tuple[str, str] = ("the reference", "our sauce"),
    attribute: str = "",
    expected: str = "B",
    allergens: tuple[str, ...] = (),
    seed: int = 0,
) -> Session:
    """Serving sheets in balanced random order.

    Every possible order is served equally often, as far as the number of sets allows: six orders of
    a triangle, two of a pair, in shuffled blocks.

    Parameters
    ----------
    method : Method
    tasters : int
    repeats : int
        Sets for each taster.
    names : tuple of str
        What A and B are.
    attribute : str
        What is compared in a pair; needed there.
    expected : str
        "A" or "B": which should have more.
    allergens : tuple of str
    seed : int
        The same seed gives the same sheets.

    Returns
    -------
    Session

    Raises
    ------
    BadInput
        If a number is out of range, or a pair has nothing to compare.

    Examples
    --------
    >>> first = session(Method.TRIANGLE, 6, seed=4)
    >>> sorted("".join(s.samples) for s in first.servings)
    ['AAB', 'ABA', 'ABB', 'BAA', 'BAB', 'BBA']
    >>> first.count([s.right_code(first.method, "B") for s in first.servings])
    6
    """
    for what, value, most in (("tasters", tasters, MOST_TASTERS), ("sets", repeats, MOST_REPEATS)):
        if not (isinstance(value, int) and 1 <= value <= most):
            raise BadInput(
                f"The number of {what} is {value}. Give a whole number from 1 to {most}."
            )
    if method is not Method.TRIANGLE and not attribute.strip():
        raise BadInput("A paired test asks which has more of something. Say of what, as 'sour'.")
    if expected not in ("A", "B"):
        raise BadInput(f"The expected answer is {expected!r}. Give A or B.")
    rng = np.random.default_rng(seed)
    count = tasters * repeats
    orders = _orders(method, count, rng)
    size = len(orders[0])
    codes = _codes(count, size, rng)
    servings = tuple(
        Serving(k // repeats + 1, k % repeats + 1, orders[k], codes[k]) for k in range(count)
    )
    return Session(method, names, attribute, expected, allergens, seed, servings)


def _orders(method: Method, count: int, rng: np.random.Generator) -> list[tuple[str, ...]]:
    """Orders of serving in shuffled blocks; a last, broken block keeps A and B level."""
    size = 3 if method is Method.TRIANGLE else 2
    block = [o for o in product("AB", repeat=size) if len(set(o)) == 2]
    found: list[tuple[str, ...]] = []
    while len(found) < count:
        first = [o for o in block if o.count("A") > o.count("B") or o == ("A", "B")]
        second = [o for o in block if o not in first]
        halves = [[half[i] for i in rng.permutation(len(half))] for half in (first, second)]
        if rng.random() < 0.5:
            halves.reverse()
        need = count - len(found)
        mixed = [o for pair in zip(*halves, strict=True) for o in pair][:need]
        found += [mixed[i] for i in rng.permutation(len(mixed))]
    return found


def _codes(count: int, size: int, rng: np.random.Generator) -> list[tuple[int, ...]]:
    """Three-digit codes, none used twice before all have been used."""
    pool: list[int] = []
    found = []
    for _ in range(count):
        if len(pool) < size:
            pool = [int(c) for c in rng.permutation(np.array(CODES))]
        found.append(tuple(pool[:size]))
        pool = pool[size:]
    return found
