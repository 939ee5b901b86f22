"""A saved answer read as a recipe: weights, measures, balance, method and cautions.

The saved document holds what was asked, what was answered and, if the cook wrote one, a method::

    {"request": {...}, "answer": {...}, "method": ["...", ...]}

The answer is that of ``balancer solve --json`` together with ``"resolved"``, which says for each
name as written the key and the name of the food that it was taken for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from balancer.constants import AXIS_NAMES
from balancer.errors import BadInput
from balancer.measures import Measure, kitchen_measure, shown_grams, weight_text

__all__ = ["CODES_SENTENCE", "Line", "Measure", "ProfileRow", "Recipe", "Target"]
__all__ += ["default_method", "from_document", "kitchen_measure"]

Target: TypeAlias = float | tuple[float, float] | None

CODES_SENTENCE = (
    "Local codes and licensed practice decide how this sauce may be made, kept and sold."
)
#: What no scale in a kitchen shows [g]; a line that weighs less is left out.
LEAST_G = 0.0005
#: Lines that a method may have, and letters that one may have.
MOST_STEPS, LONGEST_STEP = 200, 2000

_DRY = re.compile(r"\b(sugar|salt|powder|ground|starch|cornstarch|flour)\b", re.IGNORECASE)
_WET = re.compile(
    r"\b(water|juice|vinegar|wine|sake|mirin|milk|cream|buttermilk|yogh?urt|oil|sauce|syrup|honey"
    r"|molasses|stock|broth|puree|paste|mustard|ketchup)\b",
    re.IGNORECASE,
)
_WHOLE = re.compile(r"\b(seeds?|flakes)\b", re.IGNORECASE)
_THICKENER = re.compile(r"\b(starch|cornstarch|flour|arrowroot|tapioca)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Line:
    """One ingredient of a recipe.

    Parameters
    ----------
    name : str
        As the cook wrote it.
    key : str
        Food number; empty where it is not known.
    grams : float
        Edible mass before loss [g].
    measure : str
        The same in spoons, cups or whole items; empty where none is known.
    stage : str
        When it goes in: raw or simmered.
    """

    name: str
    key: str
    grams: float
    measure: str
    stage: str = "raw"


@dataclass(frozen=True)
class ProfileRow:
    """One axis of the balance.

    Parameters
    ----------
    axis : str
        The cook's word.
    reached : float
        Level of the finished sauce [unit].
    target : float, pair of float, or None
        What was asked for: a level, a band, or nothing [unit].
    unit : str
        Unit of both, with what it is per.
    deviation_jnd : float or None
        How far off, positive over the target [JND]; None without a target.
    unknown : tuple of str
        Ingredients for which the tables do not know the level; they are counted as none.
    assumed : tuple of str
        Ingredients whose part in the level is assumed or from memory.
    """

    axis: str
    reached: float
    target: Target
    unit: str
    deviation_jnd: float | None
    unknown: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True)
class Recipe:
    """A recipe another cook can weigh, measure and repeat.

    Parameters
    ----------
    name : str
        Its name.
    lines : tuple of Line
        The ingredients, heaviest first.
    yield_g : float
        Finished mass [g].
    profile : tuple of ProfileRow
        The balance it reaches, in the order of :data:`balancer.constants.AXIS_NAMES`.
    cautions : tuple of str
        What a cook has to be told.
    method : tuple of str
        One sentence or more a step.
    resolved : tuple of str
        For each name that was taken for a food of another name, which one.
    date : str
        When it was saved, ISO 8601.
    revision : int
        1 for the first saving.
    """

    name: str
    lines: tuple[Line, ...]
    yield_g: float
    profile: tuple[ProfileRow, ...]
    cautions: tuple[str, ...]
    method: tuple[str, ...]
    resolved: tuple[str, ...]
    date: str
    revision: int

    @property
    def batch_g(self) -> float:
        """What goes into the pot [g]."""
        return math.fsum(line.grams for line in self.lines)

    @property
    def water_lost_g(self) -> float:
        """Water that leaves in cooking [g]; 0 where it is too little to weigh."""
        lost = self.batch_g - self.yield_g
        return lost if lost > max(LEAST_G, 1e-6 * self.batch_g) else 0.0

    @property
    def shown_g(self) -> tuple[float, ...]:
        """What a scale shows for each line, rounded so that they still add up [g]."""
        return shown_grams([line.grams for line in self.lines])


def from_document(
    name: str,
    document: Mapping[str, Any],
    measures: Mapping[str, Sequence[Measure]],
    *,
    date: str = "",
    revision: int = 1,
) -> Recipe:
    """Read a saved document as a recipe.

    Parameters
    ----------
    name : str
        Name of the recipe.
    document : mapping
        See the head of this module.
    measures : mapping of str to sequence of Measure
        Food number to its household measures; foods without any may be missing.
    date : str
        When it was saved, ISO 8601.
    revision : int
        Which saving of it this is.

    Returns
    -------
    Recipe
        The recipe; a method given by the cook stands in place of the default one.

    Raises
    ------
    BadInput
        If the document has no quantities or is damaged.
    """
    reader = _Reader(name)
    answer = reader.mapping(document, "answer")
    resolved = reader.mapping(answer, "resolved") if "resolved" in answer else {}
    quantities = {
        ingredient: reader.number(grams, f"{ingredient} [g]", least=0.0)
        for ingredient, grams in reader.mapping(answer, "quantities_g").items()
    }
    yield_g = reader.number(answer.get("final_mass_g"), "final_mass_g", least=LEAST_G)
    batch_g = math.fsum(quantities.values())
    stage = "simmered" if batch_g - yield_g > max(LEAST_G, 1e-6 * batch_g) else "raw"
    lines = []
    notes = []
    for ingredient, grams in quantities.items():
        meant = reader.mapping(resolved, ingredient) if ingredient in resolved else {}
        key, food = str(meant.get("key", "")), str(meant.get("name", ""))
        if food and food != ingredient:
            notes.append(f"{ingredient}: {food} ({key})" if key else f"{ingredient}: {food}")
        if grams >= LEAST_G:
            measure = kitchen_measure(grams, measures.get(key, ()))
            lines.append(Line(ingredient, key, grams, measure, stage))
    if not lines:
        raise BadInput(
            f"The recipe {name!r} has no quantities. Solve it again and save the answer."
        )
    ordered = tuple(sorted(lines, key=lambda line: -line.grams))
    return Recipe(
        name=name,
        lines=ordered,
        yield_g=yield_g,
        profile=tuple(
            reader.profile_row(axis, row)
            for axis, row in sorted(reader.mapping(answer, "profile").items(), key=_axis_order)
        ),
        cautions=reader.texts(answer, "cautions"),
        method=reader.texts(document, "method") or default_method(ordered, yield_g),
        resolved=tuple(notes),
        date=date,
        revision=revision,
    )


def default_method(lines: Sequence[Line], yield_g: float) -> tuple[str, ...]:
    """Write a plain method from what is in the recipe (common practice, no source).

    Parameters
    ----------
    lines : sequence of Line
        The ingredients.
    yield_g : float
        Finished mass [g].

    Returns
    -------
    tuple of str
        The steps.
    """
    batch_g = math.fsum(line.grams for line in lines)
    cooked = any(line.stage == "simmered" for line in lines)
    names = [line.name for line in lines]
    thickeners = [n for n in names if _THICKENER.search(n)]
    dry = [n for n in names if _DRY.search(n) and n not in thickeners]
    wet = [n for n in names if _WET.search(n) and not _DRY.search(n) and not _WHOLE.search(n)]
    loose = bool(thickeners) and bool(wet)
    heated = cooked or bool(thickeners)
    steps = ["Wash, peel and cut what needs it; every weight is of the part that is eaten."]
    steps.append(
        "Weigh the empty pot and write its weight down; then weigh everything in."
        if heated
        else "Weigh everything; the spoons and cups beside the grams are a guide only."
    )
    if dry and wet:
        rest = len(names) > len(dry) + len(wet) + (len(thickeners) if loose else 0)
        steps.append(
            f"Stir {_listed(dry)} into {_listed(wet)} until no lumps are left"
            f"{'; add the rest' if rest else ''}."
        )
    elif len(names) > 1:
        steps.append("Mix everything evenly.")
    if loose:
        steps.append(
            f"Before it goes in, stir {_listed(thickeners)} smooth with a little of the liquid,"
            " cold."
        )
    finished = f"{weight_text(yield_g)} g"
    if cooked:
        steps.append(
            f"Simmer, stirring, until the contents of the pot weigh {finished}: about"
            f" {weight_text(batch_g - yield_g)} g of water leaves."
        )
    elif thickeners:
        steps.append(
            "Simmer, stirring, until it thickens; replace the water that leaves, to"
            f" {finished} in all."
        )
    steps.append(
        "Taste it at the temperature it will be served at; write down in grams whatever you add."
    )
    steps.append(
        ("Cool it quickly and chill it" if heated else "Chill it") + " unless it is served at once."
    )
    steps.append("Label the tub with the name, the date and the allergens.")
    return tuple(steps)


def _axis_order(item: tuple[str, Any]) -> tuple[int, str]:
    axis = item[0]
    return (AXIS_NAMES.index(axis) if axis in AXIS_NAMES else len(AXIS_NAMES), axis)


def _listed(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


@dataclass(frozen=True)
class _Reader:
    """Takes values out of a saved document and says what is wrong with them."""

    name: str

    def damaged(self, what: str) -> BadInput:
        return BadInput(f"The recipe {self.name!r} {what}. Solve it again and save the answer.")

    def mapping(self, document: Mapping[str, Any], field: str) -> Mapping[str, Any]:
        value = document.get(field) if isinstance(document, Mapping) else None
        if not isinstance(value, Mapping):
            raise self.damaged(f"has no {field[:60]}")
        return value

    def number(self, value: Any, what: str, least: float = -math.inf) -> float:
        fits = isinstance(value, int | float) and not isinstance(value, bool)
        if not fits or not math.isfinite(value) or value < least:
            raise self.damaged(f"has {str(value)[:60]} for {what[:60]}")
        return float(value)

    def texts(self, document: Mapping[str, Any], field: str) -> tuple[str, ...]:
        value = document.get(field, [])
        fits = isinstance(value, list | tuple) and len(value) <= MOST_STEPS
        if not fits or not all(isinstance(v, str) and len(v) <= LONGEST_STEP for v in value):
            raise self.damaged(
                f"has {field} that are not a list of up to {MOST_STEPS} texts of up to"
                f" {LONGEST_STEP} letters"
            )
        return tuple(text.strip() for text in value if text.strip())

    def profile_row(self, axis: str, row: Mapping[str, Any]) -> ProfileRow:
        if not isinstance(row, Mapping):
            raise self.damaged(f"has no levels for {axis[:60]}")
        target = row.get("target")
        deviation = row.get("deviation_jnd")
        return ProfileRow(
            axis,
            self.number(row.get("reached"), axis),
            None if target is None else self.target(target, axis),
            str(row.get("unit", "")),
            None if deviation is None else self.number(deviation, f"{axis} [JND]"),
            self.texts(row, "unknown"),
            self.texts(row, "assumed"),
        )

    def target(self, target: Any, axis: str) -> Target:
        if not isinstance(target, Mapping):
            return self.number(target, f"the target of {axis}")
        low, high = (target.get(end) for end in ("low", "high"))
        return (
            -math.inf if low is None else self.number(low, f"the target of {axis}"),
            math.inf if high is None else self.number(high, f"the target of {axis}"),
        )
