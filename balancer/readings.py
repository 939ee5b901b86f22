"""A pot of which only readings are known, as one ingredient on the component axis.

The readings of a kitchen bench (mass, degrees Brix, titratable acidity, pH, salt) fix a vector by
a stated rule; what was not read stays unknown, never zero, and cannot be aimed at.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from balancer.chemical_constants import REFRACTION_ACID, REFRACTION_ASH
from balancer.chemistry import anchor
from balancer.composition import ACIDS, INDEX, NAMES, SUGARS, Evidence, FloatArray, Ingredient
from balancer.constants import AXIS, CL_PER_NACL, MG_PER_G, NACL_PER_NA
from balancer.errors import BadInput
from balancer.numerals import number_text
from balancer.problem import Problem
from balancer.titration import titratable_acidity
from balancer.wishes import Aim, Limit, Pot, Use, checked_mass

#: Key of the pot among the ingredients; no food number starts so.
POT_KEY = "pot"
SOURCE = "LABEL"
#: pH of sauces and of what goes into them; a reading outside is a slip or a fault of the meter.
PH_RANGE = (1.5, 8.0)
#: How far acid and salt may read above the refractometer before it is a slip [g per g of liquid].
BRIX_SLIP = 0.01
#: Rounds in which water, acid and sugar settle; each brings about a digit or more.
WATER_ROUNDS = 14
#: Share of an acid that has to titrate for its total to be told from it.
LEAST_TITRATED = 0.02


@dataclass(frozen=True)
class Readings:
    """What was read off a pot whose recipe is not known.

    Parameters
    ----------
    mass_g : float
        Mass of the sauce, the empty pot taken off [g].
    brix : float or None
        Reading of a refractometer, no acid correction [degrees Brix].
    acidity_pct : float or None
        Titratable acidity, as ``acid`` [g per 100 g].
    salt_pct : float or None
        Salt, by meter or strip [g per 100 g].
    ph : float or None
        Used with the acidity: the two together tell free acid from acid held as salt. pH alone
        does not say how much acid there is, so it is refused alone.
    fat_pct, solids_pct : float or None
        Fat, and what does not dissolve and is not fat, counted as body [g per 100 g].
    acid, sugar : str
        Which acid and which sugar are taken for all: citric acid, and sugars that are counted and
        not named.

    Raises
    ------
    BadInput
        If a reading cannot be, or if together they leave no room for water.

    Notes
    -----
    The rule: salt is sodium with its chloride; acid is the titratable acidity, raised to the total
    that has the pH too where one was read; sugars are what the refractometer reads beyond acid and
    salt; the rest is water. So sweet is as sure as the sugar is one kind (between -26 and +26 % if
    it were all glucose or all fructose), and sour as the acid is one kind.

    Examples
    --------
    >>> pot = Readings(800.0, brix=24.0, acidity_pct=1.1, salt_pct=1.6).ingredient()
    >>> round(pot["citric"], 2), round(pot["other_sugars"], 1), round(pot["sodium"])
    (1.1, 21.3, 629)
    """

    mass_g: float
    brix: float | None = None
    acidity_pct: float | None = None
    salt_pct: float | None = None
    ph: float | None = None
    fat_pct: float | None = None
    solids_pct: float | None = None
    acid: str = "citric"
    sugar: str = "other_sugars"

    def __post_init__(self) -> None:
        checked_mass(self.mass_g, "The mass of the pot", positive=True)
        for what, value, unit in (
            ("brix reading", self.brix, "degrees Brix"),
            ("acidity", self.acidity_pct, "g per 100 g"),
            ("salt", self.salt_pct, "g per 100 g"),
            ("fat", self.fat_pct, "g per 100 g"),
            ("share of solids", self.solids_pct, "g per 100 g"),
        ):
            if value is not None and not 0 <= value <= 100:
                shown = number_text(value)
                raise BadInput(f"The {what} is {shown} {unit}. Give a figure from 0 to 100.")
        if self.ph is not None and not PH_RANGE[0] <= self.ph <= PH_RANGE[1]:
            raise BadInput(
                f"The pH is {number_text(self.ph)}. Give one from {PH_RANGE[0]:g} to"
                f" {PH_RANGE[1]:g}; rinse and calibrate the meter if it says otherwise."
            )
        if self.ph is not None and self.acidity_pct is None:
            raise BadInput(
                f"The pH of {self.ph:g} alone does not say how much acid there is. Give the"
                " titratable acidity with it, or leave the pH out."
            )
        if self.acid not in ACIDS:
            raise BadInput(f"No acid is called {self.acid[:40]!r}. Use one of: {', '.join(ACIDS)}.")
        if self.sugar not in SUGARS:
            raise BadInput(
                f"No sugar is called {self.sugar[:40]!r}. Use one of: {', '.join(SUGARS)}."
            )
        self.ingredient()

    def ingredient(self) -> Ingredient:
        """The pot as one ingredient; NaN where nothing was read.

        Raises
        ------
        BadInput
            If the readings contradict each other.
        """
        values = np.zeros(len(NAMES))
        known: dict[str, Evidence] = {"water": Evidence.DERIVED}
        salt = self.salt_pct or 0.0
        if self.salt_pct is not None:
            values[INDEX["sodium"]] = salt / NACL_PER_NA.value * MG_PER_G
            values[INDEX["chloride"]] = salt * CL_PER_NACL.value * MG_PER_G
            values[INDEX["ash"]] = salt
            known |= {"sodium": Evidence.MEASURED, "chloride": Evidence.DERIVED}
            known |= {"ash": Evidence.DERIVED}
        for component, reading in (("fat", self.fat_pct), ("fibre", self.solids_pct)):
            if reading is not None:
                values[INDEX[component]] = reading
                known[component] = Evidence.MEASURED
        liquid = 100.0 - (self.fat_pct or 0.0) - (self.solids_pct or 0.0)
        self._refuse_if(liquid - salt - (self.acidity_pct or 0.0))
        acid = 0.0
        sugar = 0.0
        for _ in range(WATER_ROUNDS):  # sugar leaves less water, and pH is a matter of water
            values[INDEX["water"]] = liquid - salt - acid - sugar
            if self.acidity_pct is not None:
                acid = values[INDEX[self.acid]] = self._acid(values, acid or self.acidity_pct)
            if self.brix is not None:
                sugar = self._sugar(liquid, acid, salt)
                values[INDEX[self.sugar]] = sugar
            self._refuse_if(liquid - salt - acid - sugar)
        values[INDEX["water"]] = liquid - salt - acid - sugar
        if self.acidity_pct is not None:
            known[self.acid] = Evidence.MEASURED
            known["strong_ion_charge"] = Evidence.DERIVED if self.ph else Evidence.ASSUMED
        if self.brix is not None:
            known[self.sugar] = Evidence.MEASURED
        return Ingredient(
            key=POT_KEY,
            name="pot as measured",
            values=np.where([n in known for n in NAMES], values, math.nan),
            low=np.full(len(NAMES), math.nan),
            high=np.full(len(NAMES), math.nan),
            evidence=tuple(known.get(n) for n in NAMES),
            source=tuple(SOURCE if n in known else "" for n in NAMES),
            note="Inferred from readings; all its acid and all its sugar are taken for one kind.",
        )

    @staticmethod
    def _refuse_if(water: float) -> None:
        if water < 0:
            raise BadInput(
                f"Fat, solids, sugar, acid and salt add up to {100 - water:.4g} g in 100 g."
                " Measure again, or check the units."
            )

    def _sugar(self, liquid: float, acid: float, salt: float) -> float:
        """Sugar that the refractometer reads beyond acid and salt [g per 100 g]."""
        others = REFRACTION_ACID.value * acid + REFRACTION_ASH.value * salt
        sugar = (self.brix or 0.0) * liquid / 100.0 - others
        if sugar < -BRIX_SLIP * liquid:
            raise BadInput(
                f"The refractometer reads {self.brix:g} degrees Brix, but the acid and the salt"
                f" alone read {100.0 * others / liquid:.3g}. Measure again."
            )
        return max(0.0, sugar)

    def _acid(self, values: FloatArray, acid: float) -> float:
        """A better total of the acid than the one given, by what it titrates at this pH.

        Titratable acidity is all but proportional to the total, so each step is near the end.
        """
        wanted = float(self.acidity_pct or 0.0)
        if wanted == 0:
            return 0.0
        values[INDEX[self.acid]] = acid
        charge = float(anchor(values, self.ph)) if self.ph is not None else 0.0
        if math.isnan(charge):
            raise BadInput(
                f"The pot holds {values[INDEX['water']]:.3g} g of water in 100 g, too little for a"
                " pH. Leave the pH out."
            )
        values[INDEX["strong_ion_charge"]] = charge
        found = float(titratable_acidity(values, self.acid))
        if found <= LEAST_TITRATED * acid:
            raise BadInput(
                f"At pH {self.ph:g} next to no {self.acid} acid is left to titrate, but the acidity"
                f" is {wanted:g} g per 100 g. Measure again."
            )
        return acid * wanted / found


def measured_problem(
    readings: Readings,
    additions: tuple[Use, ...],
    aims: tuple[Aim, ...],
    growth: float,
    limits: tuple[Limit, ...] = (),
) -> Problem:
    """The problem of correcting a pot that was measured.

    Parameters
    ----------
    readings : Readings
    additions : tuple of Use
        What may go in.
    aims : tuple of Aim
    growth : float
        Largest growth, as a fraction of the mass [1].
    limits : tuple of Limit

    Returns
    -------
    Problem
        With the pot as the first ingredient.

    Raises
    ------
    BadInput
        If an aim is on an axis that was not read.
    """
    pot = readings.ingredient()
    for aim in aims:
        if not any(not math.isnan(pot[c]) for c in AXIS[aim.axis].weights):
            raise BadInput(
                f"{aim.axis} of the pot was not measured, so no aim on it can be met knowingly."
                " Leave that aim out, read it, or give the recipe as made."
            )
    return poured(pot, readings.mass_g, additions, aims, growth, limits)


def poured(
    pot: Ingredient,
    mass_g: float,
    additions: tuple[Use, ...],
    aims: tuple[Aim, ...],
    growth: float,
    limits: tuple[Limit, ...] = (),
) -> Problem:
    """A problem whose pot is one ingredient that cannot be bought: more of it never goes in."""
    return Problem(
        (Use(pot, max_g=mass_g, label=pot.name), *additions),
        aims,
        limits=limits,
        pot=Pot((mass_g, *([0.0] * len(additions))), growth),
    )
