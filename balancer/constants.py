"""Every coefficient of the project: value, unit, valid range, source and evidence kind.

Source keys resolve in ``data/sources.csv``. A formula elsewhere names a coefficient from here and
never writes a bare number of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from balancer.errors import DataProblem


@dataclass(frozen=True)
class Coefficient:
    """One number with what it rests on.

    Parameters
    ----------
    value : float
        The number, in ``unit``.
    unit : str
        Unit, ``"1"`` for a pure number.
    source : str
        Key into ``data/sources.csv``.
    evidence : str
        measured, table, derived, chosen, memory or assumed.
    valid : tuple of float
        Range in which the number may be used, same unit.
    note : str
        What it is, in a few words.
    """

    value: float
    unit: str
    source: str
    evidence: str
    valid: tuple[float, float]
    note: str

    def __post_init__(self) -> None:
        if not self.valid[0] <= self.value <= self.valid[1]:
            raise DataProblem(
                f"{self.note}: {self.value} {self.unit} lies outside {self.valid}."
                " Correct its entry in constants.py."
            )

    def __float__(self) -> float:
        return self.value


@dataclass(frozen=True)
class Axis:
    """One direction a cook turns: a linear functional of the composition.

    Parameters
    ----------
    name : str
        The cook's word.
    unit : str
        Unit of a level, per 100 g of finished sauce.
    weights : mapping of str to float
        Component name to weight [axis unit per component unit].
    weber : float
        k, the share of a level that is just noticed [1].
    floor : float
        f, the just-noticeable difference near zero, in a sauce [axis unit].
    source, evidence : str
        What the weights and the two numbers rest on.
    meaning : str
        One sentence for the cook.
    """

    name: str
    unit: str
    weights: Mapping[str, float]
    weber: float
    floor: float
    source: str
    evidence: str
    meaning: str

    @property
    def unit_per_100g(self) -> str:
        """Unit of a level as a cook reads it; Scoville units are a strength, not an amount."""
        return self.unit if self.name == "heat" else f"{self.unit} per 100 g"


# --- salt ---------------------------------------------------------------------------------------
NACL_PER_NA = Coefficient(
    58.443 / 22.990, "g/g", "ATOMIC_WEIGHTS", "derived", (2.5, 2.6), "sodium chloride per sodium"
)
CL_PER_NACL = Coefficient(
    35.453 / 58.443, "g/g", "ATOMIC_WEIGHTS", "derived", (0.6, 0.61), "chloride in sodium chloride"
)

# --- heat ---------------------------------------------------------------------------------------
SHU_PER_PPM = Coefficient(
    16.0, "SHU/(mg/kg)", "CHILE_SCALE", "table", (15.0, 16.1), "Scoville units per ppm capsaicinoid"
)
PPM_PER_MG_PER_100G = 10.0  # unit change: 1 mg in 100 g is 10 mg in 1 kg

# --- aroma --------------------------------------------------------------------------------------
OIL_PER_SULPHUR_MG = Coefficient(
    4.0, "uL/mg", "CHOSEN", "chosen", (1.0, 10.0), "volatile-oil equal of sulphur volatiles"
)

_OILS = ("herb", "warm_spice", "citrus", "allium", "mustard", "floral", "smoke")

#: Family of aroma to the components that make it up; the volatile axis is the sum of all.
AROMA_FAMILIES: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        family: MappingProxyType(
            {f"oil_{family}": 1.0}
            | ({"allium_sulphur": OIL_PER_SULPHUR_MG.value} if family == "allium" else {})
            | ({"isothiocyanates": OIL_PER_SULPHUR_MG.value} if family == "mustard" else {})
        )
        for family in _OILS
    }
)

#: Relative sweetness by mass, sucrose 1. A set chosen inside the published spread; other_sugars
#: (counted by the table, not named) are taken as invert sugar.
SWEETNESS: Mapping[str, float] = MappingProxyType(
    {
        "sucrose": 1.0,
        "fructose": 1.20,
        "glucose": 0.70,
        "galactose": 0.60,
        "maltose": 0.40,
        "lactose": 0.20,
        "other_sugars": 0.95,
    }
)

#: Sourness by mass, citric acid 1. Chosen near acid titrated to pH 5.5 and the handbook tables of
#: equal sourness. Oxalic and quinic acid have no published weight and are not counted.
SOURNESS: Mapping[str, float] = MappingProxyType(
    {
        "citric": 1.0,
        "malic": 1.25,
        "tartaric": 1.25,
        "lactic": 1.0,
        "acetic": 1.25,
        "succinic": 1.1,
        "gluconic": 0.4,
    }
)

MG_PER_G = 1000.0  # unit change


def _axis(
    name: str,
    unit: str,
    weights: Mapping[str, float],
    weber: float,
    floor: float,
    source: str,
    meaning: str,
) -> Axis:
    return Axis(
        name, unit, MappingProxyType(dict(weights)), weber, floor, source, "chosen", meaning
    )


AXES: tuple[Axis, ...] = (
    _axis(
        "sweet",
        "g sucrose eq.",
        SWEETNESS,
        0.17,
        0.4,
        "NPJ2022",
        "sugars, each by its sweetness beside table sugar",
    ),
    _axis(
        "sour",
        "g citric eq.",
        SOURNESS,
        0.18,
        0.02,
        "NPJ2022",
        "acids, each by its sourness beside citric acid",
    ),
    _axis(
        "salt",
        "g NaCl eq.",
        {"sodium": NACL_PER_NA.value / MG_PER_G},
        0.15,
        0.06,
        "MCGEE",
        "sodium, counted as table salt",
    ),
    _axis(
        "volatile",
        "µL oil eq.",
        {c: w for family in AROMA_FAMILIES.values() for c, w in family.items()},
        0.20,
        1.0,
        "CHOSEN",
        "volatile oil of spices, herbs and peels, with the pungents of alliums and mustard",
    ),
    _axis("umami", "mg glutamate", {"glutamate": 1.0}, 0.21, 20.0, "CHOSEN", "free glutamic acid"),
    _axis(
        "heat",
        "SHU",
        {"capsaicinoids": SHU_PER_PPM.value * PPM_PER_MG_PER_100G},
        0.20,
        10.0,
        "SCHNEIDER2014",
        "the burn of chillies, in Scoville units",
    ),
    _axis(
        "body",
        "g solids",
        {"fibre": 1.0, "starch": 1.0},
        0.26,
        0.3,
        "CAMACHO2015",
        "what thickens: fibre, and starch once it has been cooked",
    ),
    _axis("fat", "g", {"fat": 1.0}, 0.20, 0.5, "CHOSEN", "fat"),
)

AXIS_NAMES: tuple[str, ...] = tuple(a.name for a in AXES)
AXIS: Mapping[str, Axis] = MappingProxyType({a.name: a for a in AXES})

# --- the program --------------------------------------------------------------------------------
DEAD_BAND_JND = Coefficient(
    0.25, "JND", "CHOSEN", "chosen", (0.0, 2.0), "deviation that counts as none"
)
POT_TOLERANCE_JND = Coefficient(
    1.0, "JND", "CHOSEN", "chosen", (0.1, 3.0), "a corrected pot is right within this"
)
POT_GROWTH = Coefficient(
    0.30, "1", "CHOSEN", "chosen", (0.0, 5.0), "largest growth of a corrected pot"
)
DRAFT_FLOOR = Coefficient(
    0.01, "1", "CHOSEN", "chosen", (1e-4, 0.1), "least draft share by which a change is divided"
)
KEEP_SHARE = Coefficient(
    0.5, "1", "CHOSEN", "chosen", (0.0, 1.0), "least share that a next batch keeps of an ingredient"
)
CARRIER_SHARE = Coefficient(
    0.10,
    "1",
    "CHOSEN",
    "chosen",
    (0.0, 1.0),
    "share of an axis from which an ingredient carries it",
)
SOFT_MAXIMUM_COST = Coefficient(
    10.0, "1", "CHOSEN", "chosen", (1.0, 100.0), "how much dearer a change is over the usual share"
)
TIE_WEIGHT = Coefficient(
    1e-6, "1", "CHOSEN", "chosen", (0.0, 1e-3), "prefers the lower food number among equals"
)
STAGE_SLACK = Coefficient(
    1e-7, "1", "CHOSEN", "chosen", (0.0, 1e-4), "how far a later stage may give up an earlier one"
)

#: Steps of a tasting word [JND]: a fifth more is about one JND, two fifths about two.
NUDGE_STEPS: Mapping[str, float] = MappingProxyType({"a touch": 1.0, "plain": 2.0, "much": 4.0})

# --- density ------------------------------------------------------------------------------------
#: Density of each part of a food at 20 degrees Celsius [g/mL]; Choi and Okos (1986), recalled.
PART_DENSITY: Mapping[str, Coefficient] = MappingProxyType(
    {
        "water": Coefficient(0.9957, "g/mL", "CHOI1986", "memory", (0.99, 1.0), "water"),
        "protein": Coefficient(1.3195, "g/mL", "CHOI1986", "memory", (1.2, 1.5), "protein"),
        "fat": Coefficient(0.9172, "g/mL", "CHOI1986", "memory", (0.88, 0.96), "fat"),
        "carbohydrate": Coefficient(1.5929, "g/mL", "CHOI1986", "memory", (1.5, 1.7), "sugars"),
        "fibre": Coefficient(1.3042, "g/mL", "CHOI1986", "memory", (1.2, 1.5), "fibre"),
        "ash": Coefficient(2.4182, "g/mL", "CHOI1986", "memory", (2.0, 2.6), "ash"),
        "ethanol": Coefficient(0.789, "g/mL", "CHOI1986", "memory", (0.78, 0.80), "ethanol"),
        "acid": Coefficient(1.55, "g/mL", "CHOSEN", "chosen", (1.0, 1.8), "organic acids"),
    }
)

SODIUM_DAILY_MG = Coefficient(
    2300.0, "mg", "CFR101_9", "memory", (2000.0, 2400.0), "daily value of sodium"
)
