"""A nutrition label, read into parts per 100 g.

The two forms differ in what they call carbohydrate: in the US it holds the fibre, in the EU it does
not. The EU prints salt, which is sodium times 2.5; the US prints sodium.

References
----------
.. [1] US Code of Federal Regulations, title 21, section 101.9: (c)(6) total carbohydrate is by
   difference and holds fibre and sugars (recalled).
.. [2] Regulation (EU) No 1169/2011, Annex I: carbohydrate without fibre, salt = sodium x 2.5;
   Annex XIV: energy factors (recalled).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from types import MappingProxyType
from typing import Any

from balancer.composition import INDEX, VOLUME_WEIGHTS
from balancer.constants import MG_PER_G, NACL_PER_NA, PART_DENSITY, Coefficient
from balancer.errors import BadInput

FORMS = ("US", "EU")
EU_SALT_PER_SODIUM = Coefficient(
    2.5, "g/g", "EU1169", "memory", (2.5, 2.5), "salt on an EU label per sodium"
)
_KCAL = {"fat": 9.0, "carbohydrate": 4.0, "protein": 4.0, "ethanol": 7.0, "fibre": 2.0}
#: Step of a figure printed finer than its form asks for [its unit].
FINER_STEP = 0.1
#: Half of the step in which a label is rounded, a gram in the US [g].
HALF_STEP_G = 0.5
#: Steps in which a label is rounded: part to (below, step) pairs, and what is printed as none
#: [g, sodium in mg, salt in g]; references 1 and 2, recalled.
_ROUNDING: Mapping[str, Mapping[str, tuple[float, tuple[tuple[float, float], ...]]]] = (
    MappingProxyType(
        {
            "US": MappingProxyType(
                dict.fromkeys(("sugars", "protein", "fibre"), (0.5, ((math.inf, 1.0),)))
                | {"fat": (0.5, ((5.0, 0.5), (math.inf, 1.0)))}
                | {"sodium": (5.0, ((140.5, 5.0), (math.inf, 10.0)))}
            ),
            "EU": MappingProxyType(
                dict.fromkeys(
                    ("fat", "sugars", "protein", "fibre"), (0.5, ((10.0, 0.1), (math.inf, 1.0)))
                )
                | {"salt": (0.0125, ((1.0, 0.01), (math.inf, 0.1)))}
            ),
        }
    )
)
#: How far the energy may be off the parts before a sentence says so [1]; chosen.
ENERGY_SLIP = 0.2
#: Largest serving that is taken for one [g or mL].
LARGEST_SERVING = 5000.0


@dataclass(frozen=True)
class Label:
    """What a nutrition label states, for one amount of the food.

    Parameters
    ----------
    form : str
        US or EU.
    per_g, per_ml : float or None
        The amount that the figures are for: 100, or the serving [g], [mL]. Exactly one is given.
    fat_g, carbohydrate_g, sugars_g, protein_g : float
        As printed [g]; the US carbohydrate holds the fibre, the EU one does not.
    fibre_g, starch_g : float or None
        As printed [g]; None where the label is silent.
    sodium_mg : float or None
        As printed [mg]; either this or the salt.
    salt_g : float or None
        As printed [g].
    potassium_mg, calcium_mg : float or None
        As printed [mg].
    alcohol_pct : float
        Alcohol by volume [%].
    energy_kcal : float or None
        As printed [kcal]; used only to check the rest.

    Raises
    ------
    BadInput
        If the serving is missing or cannot be, a figure is negative, or the parts exceed the whole.

    Examples
    --------
    >>> honey = Label("US", per_g=21, carbohydrate_g=17, sugars_g=17, sodium_mg=0)
    >>> round(honey.parts()["sugars"], 1)
    81.0
    """

    form: str = "US"
    per_g: float | None = None
    per_ml: float | None = None
    fat_g: float = 0.0
    carbohydrate_g: float = 0.0
    sugars_g: float = 0.0
    protein_g: float = 0.0
    fibre_g: float | None = None
    starch_g: float | None = None
    sodium_mg: float | None = None
    salt_g: float | None = None
    potassium_mg: float | None = None
    calcium_mg: float | None = None
    alcohol_pct: float = 0.0
    energy_kcal: float | None = None

    def __post_init__(self) -> None:
        if self.form not in FORMS:
            raise BadInput(f"The form of the label is {_shown(self.form)}. Use one of: US, EU.")
        if (self.per_g is None) == (self.per_ml is None):
            said = "no serving size" if self.per_g is None else "a serving in g and one in mL"
            raise BadInput(
                f"The label gives {said}. Give per_g, 100 or the serving in grams, or per_ml."
            )
        size, unit = (self.per_g, "g") if self.per_g is not None else (self.per_ml, "mL")
        if not _is_number(size) or not 0 < float(size or 0) <= LARGEST_SERVING:
            raise BadInput(
                f"The serving size is {_shown(size)} {unit}. Give more than zero, at most"
                f" {LARGEST_SERVING:g} {unit}."
            )
        for field in fields(self):
            value = getattr(self, field.name)
            always = field.default is not None  # stands at 0 where the label does not say
            if field.name not in ("form", "per_g", "per_ml") and (always or value is not None):
                self._check(field.name, value)
        if self.sodium_mg is not None and self.salt_g is not None:
            raise BadInput(
                f"The label gives sodium, {self.sodium_mg:g} mg, and salt, {self.salt_g:g} g. Keep"
                " one."
            )
        self._check_parts()

    def _check(self, name: str, value: Any) -> None:
        what, _, unit = name.rpartition("_")
        unit = "%" if unit == "pct" else unit
        if not _is_number(value):
            raise BadInput(f"The {what} on the label is {_shown(value)}. Give a number of {unit}.")
        if value < 0:
            raise BadInput(
                f"The {what} on the label is {value:g} {unit}, below zero. Give zero or more."
            )
        if unit == "%" and value > 100:
            raise BadInput(f"The {what} on the label is {value:g} %. Give at most 100 %.")

    def _check_parts(self) -> None:
        held = self.sugars_g + (self.starch_g or 0.0)
        held += (self.fibre_g or 0.0) if self.form == "US" else 0.0
        if held > self.carbohydrate_g + 3 * HALF_STEP_G:
            parts = "sugars, starch and fibre" if self.form == "US" else "sugars and starch"
            raise BadInput(
                f"The label's {parts} make {held:g} g, more than its carbohydrate of"
                f" {self.carbohydrate_g:g} g. Check the figures and the form, {self.form}."
            )
        stated = self._stated()
        total = math.fsum(v for k, v in stated.items() if k in _SOLIDS)
        slip = HALF_STEP_G * sum(v > 0 for k, v in stated.items() if k in _SOLIDS)
        if self.per_g is not None and total > self.per_g + slip:
            raise BadInput(
                f"The parts of the label add up to {100 * total / self.per_g:.4g} g in 100 g."
                f" Check the figures and the serving size of {self.per_g:g} g."
            )
        if self.per_ml is not None and self._volume_ml(stated) > self.per_ml + slip:
            raise BadInput(
                f"The parts of the label add up to {total:.4g} g, which is more than"
                f" {self.per_ml:g} mL holds. Check the figures and the serving size."
            )

    @property
    def _sodium_mg(self) -> float | None:
        if self.salt_g is not None:
            return self.salt_g / EU_SALT_PER_SODIUM.value * MG_PER_G
        return self.sodium_mg

    def _stated(self) -> dict[str, float]:
        """Figures for the amount that the label speaks of: parts [g], minerals [mg]."""
        available = self.carbohydrate_g
        if self.form == "US":
            available = max(0.0, available - (self.fibre_g or 0.0))
        found: dict[str, float | None] = {
            "fat": self.fat_g,
            "protein": self.protein_g,
            "carbohydrate": max(available, self.sugars_g),
            "fibre": self.fibre_g,
            "sugars": self.sugars_g,
            "starch": self.starch_g,
            "sodium": self._sodium_mg,
            "potassium": self.potassium_mg,
            "calcium": self.calcium_mg,
        }
        if self._sodium_mg is not None:
            found["salt"] = self._sodium_mg / MG_PER_G * NACL_PER_NA.value
        if self.alcohol_pct:
            ml = self.per_ml if self.per_ml is not None else self.per_g
            found["ethanol"] = (
                self.alcohol_pct / 100.0 * (ml or 0.0) * PART_DENSITY["ethanol"].value
            )
        return {k: v for k, v in found.items() if v is not None}

    @staticmethod
    def _volume_ml(stated: Mapping[str, float]) -> float:
        return math.fsum(
            stated.get(part, 0.0) * float(VOLUME_WEIGHTS[INDEX[component]])
            for part, component in _SOLIDS.items()
        )

    def bands(self) -> dict[str, tuple[float, float]]:
        """What the rounding of the label leaves open, per 100 g: fat, sugars [g], sodium [mg].

        A figure printed finer than the form asks for is taken as rounded in its last tenth.
        """
        stated = self._stated()
        scale = {k: v / stated[k] for k, v in self.parts().items() if stated[k] > 0}
        to_100g = max(scale.values(), default=100.0 / (self.per_g or self.per_ml or 100.0))
        found = {}
        for part, (none_below, steps) in _ROUNDING[self.form].items():
            printed = self.salt_g if part == "salt" else stated.get(part)
            if printed is None:
                continue
            step = next(s for below, s in steps if printed < below)
            if abs(printed / step - round(printed / step)) > 1e-6:
                step = min(step, FINER_STEP)
            low, high = max(0.0, printed - step / 2), printed + step / 2
            if printed == 0:
                high = none_below
            to = MG_PER_G / EU_SALT_PER_SODIUM.value if part == "salt" else 1.0
            name = "sodium" if part == "salt" else part
            found[name] = (low * to * to_100g, high * to * to_100g)
        return found

    def parts(self) -> dict[str, float]:
        """Parts per 100 g: fat, protein, carbohydrate, sugars, salt and so on [g], minerals [mg].

        Carbohydrate is without fibre in both forms. Per millilitres, water fills what the volumes
        of the parts leave, which gives the mass. Parts that exceed 100 g by no more than the
        rounding of the label are scaled to 100 g.
        """
        stated = self._stated()
        total = math.fsum(v for k, v in stated.items() if k in _SOLIDS)
        if self.per_g is not None:
            mass_g = max(self.per_g, total)
        else:
            left_ml = max(0.0, (self.per_ml or 0.0) - self._volume_ml(stated))
            mass_g = total + left_ml * PART_DENSITY["water"].value
        return {k: 100.0 * v / mass_g for k, v in stated.items()}

    def notes(self) -> tuple[str, ...]:
        """Sentences on what the label leaves open or contradicts."""
        found = []
        if self._sodium_mg is None:
            found.append("The label is silent on sodium, so salt stays unknown.")
        if self.energy_kcal is not None:
            stated = self._stated()
            eu = self.form == "EU"
            kcal = math.fsum(f * stated.get(p, 0.0) for p, f in _KCAL.items())
            kcal += 0.0 if eu else (4.0 - _KCAL["fibre"]) * stated.get("fibre", 0.0)
            if abs(kcal - self.energy_kcal) > ENERGY_SLIP * max(self.energy_kcal, 20.0):
                found.append(
                    f"The label states {self.energy_kcal:g} kcal, but its parts make {kcal:.0f}."
                    " Check its figures."
                )
        return tuple(found)

    def to_document(self) -> dict[str, Any]:
        """The label as a plain document; what it is silent on is left out."""
        return {k: v for k, v in asdict(self).items() if v is not None}

    @classmethod
    def from_document(cls, document: Any) -> Label:
        """Read a label back.

        Raises
        ------
        BadInput
            If it is no document of known fields, or its figures cannot be.
        """
        known = [f.name for f in fields(cls)]
        if not isinstance(document, Mapping):
            raise BadInput(f"The label is {_shown(document)}. Give its figures by name.")
        for key in document:
            if key not in known:
                raise BadInput(
                    f"The label has an unknown field {_shown(key)}. Known: {', '.join(known)}."
                )
        return cls(**document)


#: Part of a label to the component whose volume it takes; what adds up to the whole.
_SOLIDS: Mapping[str, str] = {
    "fat": "fat",
    "protein": "protein",
    "carbohydrate": "other_carbohydrate",
    "fibre": "fibre",
    "salt": "ash",
    "ethanol": "ethanol",
}


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _shown(value: Any) -> str:
    shown = repr(value)
    return shown if len(shown) <= 40 else shown[:37] + "..."
