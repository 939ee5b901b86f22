"""What a recipe is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, TypeAlias

from balancer.measures import shown_grams
from balancer.nutrition import Panel
from balancer.safety import Allergen
from balancer.safety_constants import COLD_C, PH_GUARD, PH_STRIPS

Target: TypeAlias = float | tuple[float, float] | None

CODES_SENTENCE = (
    "Local codes and licensed practice decide how this sauce may be made, kept and sold."
)
#: What no scale in a kitchen shows [g]; a line that weighs less is left out.
LEAST_G = 0.0005
#: When a line goes in, in the order of the work, to what a cook reads.
STAGES: Mapping[str, str] = MappingProxyType(
    {"start": "simmered", "late": "last minutes", "raw": "off the heat"}
)


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
        When it goes in: a key of :data:`STAGES`, "raw" throughout for a sauce that is not heated.
    allergens : tuple of str
        What it brings, by the names of the table of allergens.
    taken_out_g : float
        What does not stay in the sauce: steeped and taken out, sieved off, lost in wilting [g].
    prepared : bool
        Whether that leaves before it goes into the pot.
    """

    name: str
    key: str
    grams: float
    measure: str
    stage: str = "raw"
    allergens: tuple[str, ...] = ()
    taken_out_g: float = 0.0
    prepared: bool = False

    @property
    def pot_g(self) -> float:
        """What of it goes into the pot [g]."""
        return self.grams - self.taken_out_g if self.prepared else self.grams


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
class Waters:
    """What is computed of the water in the finished sauce; None where it is not known.

    Parameters
    ----------
    ph : tuple of float or None
        Value, low and high end of its band.
    ph_max : float or None
        The ceiling that the cook asked for.
    brix : float or None
        Dissolved solids [degrees Brix].
    acidity_pct_citric : float or None
        Titratable acidity as citric acid [g/100 g].
    water_activity : float or None
        Water activity [1].
    """

    ph: tuple[float, float, float] | None = None
    ph_max: float | None = None
    brix: float | None = None
    acidity_pct_citric: float | None = None
    water_activity: float | None = None

    @property
    def strips_serve(self) -> bool:
        """Whether test strips may check the pH: not where it may lie above 4.0."""
        return self.ph is not None and self.ph[2] + PH_GUARD.value <= PH_STRIPS.value


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
    caution_sources : tuple of str
        What each caution rests on, in the same order; empty texts or none where unknown.
    checks : tuple of str
        What a cook can measure to know that the sauce is right.
    waters : Waters
        pH, Brix, acidity and water activity.
    allergens : tuple of Allergen
        Those that are known to be in it.
    unread : tuple of str
        Ingredients behind which no list of allergens stands.
    yield_ml : float or None
        Finished volume [mL].
    serving_g : float or None
        Mass of a serving [g].
    nutrition : tuple of Panel
        One for each label that is wanted; empty where none was computed.
    prep_min, cook_min : float or None
        Time before and at the stove [min]; None where nobody wrote it down.
    tasted : str
        When it was tasted last and by whom; empty where nobody did.
    notes : tuple of str
        What else was said of the answer.
    image : str
        Address or file name of a picture of it; empty where there is none.
    document : mapping
        The saved document that it was read from; empty where it was not.
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
    caution_sources: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    waters: Waters = Waters()
    allergens: tuple[Allergen, ...] = ()
    unread: tuple[str, ...] = ()
    yield_ml: float | None = None
    serving_g: float | None = None
    nutrition: tuple[Panel, ...] = ()
    prep_min: float | None = None
    cook_min: float | None = None
    tasted: str = ""
    notes: tuple[str, ...] = ()
    image: str = ""
    document: Mapping[str, Any] = field(default_factory=dict, repr=False, hash=False)

    @property
    def batch_g(self) -> float:
        """What is weighed out [g]."""
        return math.fsum(line.grams for line in self.lines)

    @property
    def water_lost_g(self) -> float:
        """Water that leaves in cooking [g]; 0 where it is too little to weigh."""
        return water_lost_g(self.lines, self.yield_g)

    @property
    def taken_out_g(self) -> float:
        """What does not stay in the sauce [g]."""
        return math.fsum(line.taken_out_g for line in self.lines)

    @property
    def shown_g(self) -> tuple[float, ...]:
        """What a scale shows for each line, rounded so that they still add up [g]."""
        return shown_grams([line.grams for line in self.lines])

    @property
    def servings(self) -> float | None:
        """How many servings it makes [1]; None where no serving was said."""
        return None if self.serving_g is None else self.yield_g / self.serving_g

    @property
    def nutrition_notes(self) -> tuple[str, ...]:
        """What the panels leave out, each sentence once."""
        return tuple(dict.fromkeys(note for panel in self.nutrition for note in panel.notes))

    @property
    def storage(self) -> str:
        """How it is kept: cold, and for the rest by who may decide that."""
        return (
            f"Keep it at {COLD_C.value:g} °C or below, or freeze it; how long it keeps is not"
            f" computed here. {CODES_SENTENCE}"
        )


def water_lost_g(lines: Sequence[Line], yield_g: float) -> float:
    """Water that leaves in cooking [g]; 0 where it is too little to weigh.

    >>> water_lost_g([Line("plums", "", 528.0, "")], 448.0)
    80.0
    """
    batch_g = math.fsum(line.grams - line.taken_out_g for line in lines)
    lost = batch_g - yield_g
    return lost if lost > max(LEAST_G, 1e-5 * batch_g) else 0.0
