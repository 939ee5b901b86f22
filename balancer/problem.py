"""What the cook wants: frozen, validated, and readable when printed.

A :class:`Problem` says which ingredients may be used and within which limits, which level each
axis should reach, and how much sauce there shall be. It knows nothing of programs and solvers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from balancer.composition import FloatArray, matrix, specific_volume
from balancer.constants import AXIS, DEAD_BAND_JND, PART_DENSITY
from balancer.cooking import cooked
from balancer.errors import BadInput
from balancer.wishes import (
    LARGEST_MASS_G,
    LEAST_MASS_G,
    Aim,
    Limit,
    Pot,
    Ratio,
    Use,
    WaterLimits,
    checked_mass,
)

#: Locked quantities make the volume asked for when they come within this share of it.
LOCKED_VOLUME = 0.005


@dataclass(frozen=True)
class Problem:
    """Everything the program needs to know.

    Parameters
    ----------
    uses : tuple of Use
        The ingredients, in the cook's order.
    aims : tuple of Aim
        At most one per axis; none when everything is locked and only a report is wanted.
    yield_g, yield_ml : float or None
        Finished mass [g] or volume [mL]; exactly one is given, or neither with a pot.
    water_lost_g : float
        Water cooked away [g].
    limits : tuple of Limit
    ratios : tuple of Ratio
    dead_band_jnd : float
        Deviation that counts as none [JND].
    pot : Pot or None
        What cannot be taken out; its mass then sets the batch and the yields stay None.
    water_limits : WaterLimits
        Limits on pH, acidity and water activity, which ``settle`` keeps.
    kept : array, shape (n_uses, n_components), or None
        Share of each component that cooking leaves; None leaves all.

    Raises
    ------
    BadInput
        If the parts contradict each other in a way that can be seen without solving.
    """

    uses: tuple[Use, ...]
    aims: tuple[Aim, ...] = ()
    yield_g: float | None = None
    yield_ml: float | None = None
    water_lost_g: float = 0.0
    limits: tuple[Limit, ...] = ()
    ratios: tuple[Ratio, ...] = ()
    dead_band_jnd: float = DEAD_BAND_JND.value
    pot: Pot | None = None
    water_limits: WaterLimits = field(default_factory=WaterLimits)
    kept: FloatArray | None = field(default=None, repr=False, compare=False)

    def __post_init__(self) -> None:
        if not self.uses:
            raise BadInput("No ingredients are chosen. Name at least one.")
        self._refuse_twice()
        checked_mass(self.water_lost_g, "The water lost in cooking")
        if not (math.isfinite(self.dead_band_jnd) and 0 <= self.dead_band_jnd <= 10):
            raise BadInput(
                f"The dead band is {self.dead_band_jnd:g} JND. Give a number from 0 to 10."
            )
        n = len(self.uses)
        if any(not (0 <= r.of < n and 0 <= r.to < n) for r in self.ratios):
            raise BadInput("A ratio names an ingredient that is not in the list. Add it first.")
        if self.pot is not None:
            self._check_pot(self.pot)
            return
        if (self.yield_g is None) == (self.yield_ml is None):
            raise BadInput("Say how much sauce there shall be: either yield_g or yield_ml.")
        if self.yield_g is not None:
            checked_mass(self.yield_g, "The yield", positive=True)
            self._check_locks(self.yield_g + self.water_lost_g)
        elif self.yield_ml is not None:
            if not LEAST_MASS_G <= self.yield_ml <= LARGEST_MASS_G:
                raise BadInput(
                    f"The yield is {self.yield_ml:g} mL. Give {LEAST_MASS_G:g} to"
                    f" {LARGEST_MASS_G:g} mL."
                )
            self._check_volume(self.yield_ml)

    def _refuse_twice(self) -> None:
        seen: dict[str, str] = {}
        labels: set[str] = set()
        for use in self.uses:
            if use.ingredient.key in seen:
                raise BadInput(
                    f"{use.label} and {seen[use.ingredient.key]} are the same ingredient"
                    f" ({use.ingredient.name}). Name it once."
                )
            if use.label in labels:
                raise BadInput(
                    f"Two ingredients are called {use.label!r}. Call each by its own name."
                )
            seen[use.ingredient.key] = use.label
            labels.add(use.label)
        axes = [a.axis for a in self.aims]
        for axis in axes:
            if axes.count(axis) > 1:
                raise BadInput(f"The axis {axis} has two targets. Keep one.")

    def _check_pot(self, pot: Pot) -> None:
        if len(pot.grams) != len(self.uses):
            raise BadInput(
                f"The pot lists {len(pot.grams)} quantities for {len(self.uses)} ingredients."
                " Give one for each, 0 g where none is in it."
            )
        if self.yield_g is not None or self.yield_ml is not None:
            raise BadInput("A pot sets its own mass. Leave the yield out.")
        if self.water_lost_g >= sum(pot.grams):
            raise BadInput(
                f"The pot lost {self.water_lost_g:g} g of water, but only {sum(pot.grams):g} g went"
                " in. Weigh again."
            )

    def _check_locks(self, batch_g: float) -> None:
        least = [u.min_g if u.locked_g is None else u.locked_g for u in self.uses]
        tolerance = 1e-6 * batch_g
        if sum(least) > batch_g + tolerance:
            raise BadInput(
                f"The locks and minimums add up to {sum(least):g} g, over the batch of {batch_g:g}"
                " g. Lower them, or raise the yield."
            )
        if self.all_locked and abs(sum(least) - batch_g) > max(tolerance, 0.005):
            raise BadInput(
                f"Every quantity is locked and they add up to {sum(least):g} g, but the yield and"
                f" the water lost make {batch_g:g} g. Set the yield to"
                f" {sum(least) - self.water_lost_g:g} g, or free one ingredient."
            )

    def _check_volume(self, yield_ml: float) -> None:
        if not self.all_locked:
            return
        grams = np.array([u.locked_g for u in self.uses], dtype=float)
        made_ml = float(grams @ specific_volume(self.composition())) / 100.0
        made_ml -= self.water_lost_g / PART_DENSITY["water"].value
        if abs(made_ml - yield_ml) > LOCKED_VOLUME * yield_ml:
            raise BadInput(
                f"Every quantity is locked and they make {made_ml:.4g} mL, but the yield is"
                f" {yield_ml:g} mL. Set the yield to {made_ml:.4g} mL, or free one ingredient."
            )

    @property
    def all_locked(self) -> bool:
        """Whether nothing is left to choose."""
        return all(u.locked_g is not None for u in self.uses)

    def composition(self) -> FloatArray:
        """Amounts that 100 g of each ingredient bring to the finished sauce, without NaN.

        Shape (n_uses, n_components). Water stands in for what leaves with the steam besides water,
        so that ``water_lost_g`` is what the scale loses in all. It is worked out once and may not
        be written to.
        """
        return self._composition

    @cached_property
    def _composition(self) -> FloatArray:
        found = cooked(matrix([u.ingredient for u in self.uses]), self.kept)
        found.setflags(write=False)
        return found

    def aim(self, axis: str) -> Aim | None:
        """The aim of an axis, None if nothing is asked of it."""
        return next((a for a in self.aims if a.axis == axis), None)

    def __repr__(self) -> str:
        amount = (
            f"pot of {sum(self.pot.grams):g} g"
            if self.pot
            else f"{self.yield_g:g} g"
            if self.yield_g is not None
            else f"{self.yield_ml:g} mL"
        )
        lines = [f"Problem: {amount} from {len(self.uses)} ingredients"]
        for u in self.uses:
            if u.locked_g is not None:
                lines.append(f"  {u.label}: locked at {u.locked_g:g} g")
            else:
                draft = "" if u.draft_g is None else f", near {u.draft_g:g} g"
                lines.append(f"  {u.label}: {_range(u.min_g, u.max_g)} g{draft}")
        for a in self.aims:
            level = f"{a.low:g}" if a.is_point else f"{a.low:g} to {a.high:g}"
            lines.append(f"  {a.axis}: {level} {AXIS[a.axis].unit} per 100 g")
        lines += [f"  {x.label}: {_range(x.low, x.high)} {x.unit}" for x in self.limits]
        return "\n".join(lines)


def _range(low: float, high: float) -> str:
    if math.isinf(high):
        return f"at least {low:g}"
    return f"at most {high:g}" if math.isinf(low) else f"{low:g} to {high:g}"
