"""The tasting loop of a sauce: rounds in, what was learned and the next target out.

A round is kept as a document that also says what was weighed and which revision was tasted::

    {"round": {...}, "made_g": {...}, "revision": 2, "said": "too sharp", "pot_left_g": 480.0}
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from balancer.belief import Habit
from balancer.catalogue import Catalogue
from balancer.composition import FloatArray
from balancer.constants import AXIS, AXIS_NAMES
from balancer.errors import BadInput
from balancer.intact import checked_round, checked_sauce
from balancer.just_about_right import heard
from balancer.ladder import Ladder, propose
from balancer.palate import Palate, Prior, learn
from balancer.request import Document
from balancer.rounds import Round, made_levels
from balancer.sitting import Nudge, batch_as_made, nudge
from balancer.taste import to_z

#: So many earlier sauces, the last tasted, tell how this cook uses words.
EARLIER_SAUCES = 10


@dataclass(frozen=True, eq=False)
class Tasting:
    """What a round led to.

    Parameters
    ----------
    number : int
        Number of the round within its sauce.
    palate : Palate
        What all rounds of the sauce have taught.
    nudge : Nudge
        The pot and the next batch, aimed at what was learned.
    revision : int or None
        Revision of the recipe under which the next batch is kept; None where it is not kept.
    """

    number: int
    palate: Palate
    nudge: Nudge
    revision: int | None


@dataclass(frozen=True)
class Sauce:
    """All that is kept of one sauce.

    Parameters
    ----------
    first, last : mapping
        The first and the last revision of its recipe.
    revision : int
        Number of the last.
    rounds : tuple of mapping
        Round documents, oldest first.

    Raises
    ------
    BadInput
        If one of them is damaged.
    """

    first: Document
    last: Document
    revision: int
    rounds: tuple[Document, ...]

    def __post_init__(self) -> None:
        for document in (self.first, self.last):
            checked_sauce(document)
        for tasted in self.rounds:
            checked_round(tasted)

    @property
    def tastings(self) -> list[Round]:
        """The rounds themselves, oldest first."""
        return [Round.from_document(r["round"]) for r in self.rounds]

    @property
    def first_levels(self) -> tuple[float, ...]:
        """The first target, or what was reached where nothing was asked [axis unit per 100 g]."""
        profile = self.first["answer"]["profile"]
        return made_levels(np.array([_aimed(profile[a]) for a in AXIS_NAMES]))


def _aimed(entry: Mapping[str, Any]) -> float:
    target = entry["target"]
    if isinstance(target, Mapping):
        return 0.5 * (float(target["low"]) + float(target["high"]))
    return float(entry["reached"] if target is None else target)


def habit_of(earlier: Sequence[Sauce]) -> Habit:
    """How a cook uses words, learned on earlier sauces in the order in which they were tasted."""
    habit = Habit()
    for sauce in earlier[-EARLIER_SAUCES:]:
        if sauce.rounds:
            habit = learn(sauce.tastings, Prior(sauce.first_levels, habit=habit)).habit.carried()
    return habit


def learned(sauce: Sauce, earlier: Sequence[Sauce], new: Sequence[Round] = ()) -> Palate:
    """The palate of a sauce from all its rounds, new ones included.

    Raises
    ------
    BadInput
        If there is no round yet.
    """
    prior = Prior(sauce.first_levels, habit=habit_of(earlier))
    return learn([*sauce.tastings, *new], prior)


def course(sauce: Sauce, earlier: Sequence[Sauce]) -> tuple[Palate, ...]:
    """What was known after each round of a sauce, the first round first."""
    prior = Prior(sauce.first_levels, habit=habit_of(earlier))
    tastings = sauce.tastings
    return tuple(learn(tastings[:n], prior) for n in range(1, len(tastings) + 1))


def round_of(
    catalogue: Catalogue,
    sauce: Sauce,
    said: str,
    made_g: Mapping[str, float] | None,
    also: Sequence[str],
    **details: Any,
) -> tuple[Round, Document]:
    """The round that a cook's words make, and its document.

    Parameters
    ----------
    catalogue : Catalogue
    sauce : Sauce
    said : str
        The cook's sentence; may be empty where ``details`` hold ratings.
    made_g : mapping of str to float or None
        Weighed quantities where they differ from the plan [g].
    also : sequence of str
        Further ingredients in the pot.
    details : Any
        Fields of :class:`balancer.rounds.Round`.

    Raises
    ------
    BadInput
        If the words cannot be read, or the round says nothing.
    """
    words, rest_right = heard(said) if said.strip() else ({}, False)
    last = sauce.last
    _, problem, made = batch_as_made(catalogue, last["request"], last["answer"], made_g, also)
    tasted = Round(made_levels(made.levels), words, rest_right=rest_right, **details)
    document = {
        "round": tasted.as_document(),
        "made_g": {
            u.label: float(f"{g:.6g}") for u, g in zip(problem.uses, made.weighed_g, strict=True)
        },
        "pot_left_g": float(f"{made.mass_g:.6g}"),
        "revision": sauce.revision,
        "said": said,
    }
    return tasted, document


def moved(
    catalogue: Catalogue,
    sauce: Sauce,
    palate: Palate,
    document: Document,
    also: Sequence[str],
    growth: float,
) -> Nudge:
    """The pot and the next batch, aimed at the learned target on the axes that were judged.

    An axis without evidence aims at the level at which it was tasted.
    """
    tasted = Round.from_document(document["round"])
    made = np.array(tasted.made)
    judged = np.array([a in palate.judged for a in AXIS_NAMES])
    wanted = np.where(judged, np.array(palate.target), made)
    change = to_z(wanted) - to_z(made)
    steps = {a: float(change[i]) for i, a in enumerate(AXIS_NAMES) if judged[i]}
    last = sauce.last
    return nudge(
        catalogue,
        last["request"],
        last["answer"],
        steps,
        wanted=wanted,
        made_g=_left_in_pot(document),
        also=also,
        growth=growth,
    )


def _left_in_pot(document: Document) -> dict[str, float]:
    """Quantities of what is still in the pot, spoons that were taken out deducted [g]."""
    made: Mapping[str, float] = document["made_g"]
    share = float(document.get("pot_share", 1.0))
    return {name: share * grams for name, grams in made.items()}


def spoons_for(
    sauce: Sauce, earlier: Sequence[Sauce], axis: str, spoon_g: float, scale_g: float
) -> Ladder:
    """The ladder of spoons on one axis, taken from the batch of the last round.

    Raises
    ------
    BadInput
        If the sauce has no round yet, or nothing was said of the axis.
    """
    palate = learned(sauce, earlier)
    last = sauce.rounds[-1]
    levels = Round.from_document(last["round"]).made
    pot_g = float(last["pot_left_g"])
    return propose(palate, axis, levels, pot_g, spoon_g=spoon_g, scale_g=scale_g)


def answered(sauce: Sauce, ladder: Ladder, order: Sequence[int], said: str) -> Document:
    """The document of a round that answers a ladder; what the spoons took is deducted."""
    last = sauce.rounds[-1]
    before = Round.from_document(last["round"])
    answer = Round(
        before.made,
        spoons=ladder.answer(*order),
        place=before.place,
        temperature_c=before.temperature_c,
        sample=before.sample + len(ladder.spoons),
    )
    pot_g = float(last["pot_left_g"])
    return {
        **last,
        "round": answer.as_document(),
        "pot_left_g": ladder.pot_left_g,
        "pot_share": float(last.get("pot_share", 1.0)) * ladder.pot_left_g / pot_g,
        "said": said,
    }


@dataclass(frozen=True)
class Difference:
    """One axis of two profiles, side by side.

    Parameters
    ----------
    axis : str
    first, second : float
        Levels [axis unit per 100 g].
    unit : str
    steps_jnd : float
        From the first to the second, in just-noticeable steps [JND].
    """

    axis: str
    first: float
    second: float
    unit: str
    steps_jnd: float


def compared(first: FloatArray, second: FloatArray) -> tuple[Difference, ...]:
    """Two profiles side by side.

    Parameters
    ----------
    first, second : array, shape (n_axes,)
        Levels [axis unit per 100 g].
    """
    steps = to_z(second) - to_z(first)
    return tuple(
        Difference(a, float(first[i]), float(second[i]), AXIS[a].unit_per_100g, float(steps[i]))
        for i, a in enumerate(AXIS_NAMES)
    )


def one_round(sauce: Sauce, number: int) -> Document:
    """The document of a round by its number, counted from 1.

    Raises
    ------
    BadInput
        If there is no such round.
    """
    if not 1 <= number <= len(sauce.rounds):
        raise BadInput(
            f"There is no round {number}; the sauce has {len(sauce.rounds)}."
            " `balancer rounds` lists them."
        )
    return sauce.rounds[number - 1]
