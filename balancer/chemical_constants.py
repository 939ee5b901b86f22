"""Coefficients of chemistry: ionisation, titration, refraction, water activity, strong ions.

Each stands with unit, valid range, source key and evidence kind, like those of ``constants.py``.
``memory`` marks a figure recalled from the named publication and not read again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from balancer.constants import Coefficient

# --- ionisation ---------------------------------------------------------------------------------

DEBYE = Coefficient(0.509, "1", "CRC", "memory", (0.50, 0.52), "Debye-Hueckel slope at 25 C")
DAVIES = Coefficient(0.3, "1", "CRC", "memory", (0.2, 0.3), "linear term of Davies")
IONIC_STRENGTH_MAX = Coefficient(
    0.5, "mol/kg", "CRC", "memory", (0.1, 0.5), "ionic strength above which Davies is held"
)
PK_WATER = Coefficient(13.995, "1", "CRC", "memory", (13.9, 14.1), "ion product of water, 25 C")
WATER_PHASE_MIN_G = Coefficient(
    5.0, "g/100 g", "CHOSEN", "chosen", (1.0, 15.0), "water below which pH has no meaning"
)


@dataclass(frozen=True)
class Group:
    """A titratable group that rides on one component.

    Parameters
    ----------
    component : str
        Component it rides on.
    millimoles : Coefficient
        Moles in one unit of the component [mmol/unit].
    pka : tuple of Coefficient
        Steps at 25 degrees Celsius and zero ionic strength, strongest first [1].
    charge : int
        Charge with all protons on.
    """

    component: str
    millimoles: Coefficient
    pka: tuple[Coefficient, ...]
    charge: int = 0


#: Molar mass of acids and solutes [g/mol], from atomic weights.
MOLAR_MASS: Mapping[str, Coefficient] = MappingProxyType(
    {
        name: Coefficient(value, "g/mol", "ATOMIC_WEIGHTS", "derived", (1.0, 500.0), name)
        for name, value in (
            ("water", 18.0153),
            ("ethanol", 46.068),
            ("sucrose", 342.297),
            ("glucose", 180.156),
            ("fructose", 180.156),
            ("lactose", 342.297),
            ("maltose", 342.297),
            ("galactose", 180.156),
            ("other_sugars", 180.156),
            ("citric", 192.124),
            ("citric monohydrate", 210.139),
            ("malic", 134.087),
            ("tartaric", 150.087),
            ("lactic", 90.078),
            ("acetic", 60.052),
            ("oxalic", 90.035),
            ("succinic", 118.088),
            ("quinic", 192.167),
            ("gluconic", 196.155),
            ("phosphorus", 30.974),
            ("glutamate", 147.130),
            ("sodium", 22.990),
            ("potassium", 39.098),
            ("calcium", 40.078),
            ("magnesium", 24.305),
            ("chloride", 35.453),
            ("sodium chloride", 58.443),
        )
    }
)
#: Charge of each strong ion.
ION_CHARGE: Mapping[str, int] = MappingProxyType(
    {"sodium": 1, "potassium": 1, "calcium": 2, "magnesium": 2, "chloride": -1}
)


def _pka(source: str, evidence: str, *steps: float) -> tuple[Coefficient, ...]:
    return tuple(Coefficient(s, "1", source, evidence, (0.0, 14.0), "pKa, 25 C") for s in steps)


#: Ionisation steps. Citric, acetic, lactic and succinic were read again; the rest are recalled.
PKA: Mapping[str, tuple[Coefficient, ...]] = MappingProxyType(
    {
        "citric": _pka("BATES_PINCHING1949", "memory", 3.128, 4.761, 6.396),
        "malic": _pka("CRC", "memory", 3.40, 5.11),
        "tartaric": _pka("BATES_CANHAM1951", "memory", 3.036, 4.366),
        "lactic": _pka("CRC", "table", 3.86),
        "acetic": _pka("CRC", "table", 4.756),
        "oxalic": _pka("CRC", "memory", 1.252, 4.266),
        "succinic": _pka("CRC", "table", 4.207, 5.638),
        "quinic": _pka("CRC", "memory", 3.40),
        "gluconic": _pka("CRC", "memory", 3.86),
        "phosphorus": _pka("CRC", "memory", 2.148, 7.198, 12.35),
        "glutamate": _pka("CRC", "memory", 4.25),
    }
)


def _per_gram(millimoles: float, note: str) -> Coefficient:
    return Coefficient(millimoles, "mmol/g", "PROTEIN_AVERAGE", "memory", (0.0, 3.0), note)


#: Everything that takes up or gives off protons. Phosphorus counts as phosphate throughout, free
#: glutamate by its side chain, protein by an average composition.
GROUPS: tuple[Group, ...] = (
    *(
        Group(
            name,
            Coefficient(
                (1.0 if name in ("phosphorus", "glutamate") else 1000.0) / MOLAR_MASS[name].value,
                "mmol/unit",
                "ATOMIC_WEIGHTS",
                "derived",
                (0.0, 50.0),
                f"millimoles of {name}",
            ),
            steps,
        )
        for name, steps in PKA.items()
    ),
    Group("protein", _per_gram(1.10, "aspartate and glutamate"), _pka("CRC", "memory", 4.2)),
    Group("protein", _per_gram(0.21, "histidine"), _pka("CRC", "memory", 6.3), 1),
    Group("protein", _per_gram(1.03, "lysine and arginine"), _pka("CRC", "memory", 10.5), 1),
)

# --- titration and refraction -------------------------------------------------------------------

TITRATION_END_PH = Coefficient(
    8.2, "1", "AOAC942_15", "memory", (8.1, 8.3), "end point of titration, phenolphthalein"
)
SOUR_END_PH = Coefficient(
    5.5, "1", "CHOSEN", "derived", (4.4, 5.8), "end point that orders acids by sourness"
)
#: Protons given off up to the end point, by which equivalent weights are formed.
TITRATABLE_PROTONS: Mapping[str, int] = MappingProxyType(
    {
        "citric": 3,
        "citric monohydrate": 3,
        "malic": 2,
        "tartaric": 2,
        "lactic": 1,
        "acetic": 1,
        "oxalic": 2,
        "succinic": 2,
        "quinic": 1,
        "gluconic": 1,
    }
)
REFRACTION_ACID = Coefficient(
    0.8, "1", "BRIX_ACID", "derived", (0.75, 0.85), "degrees Brix read per 1 % acid"
)
REFRACTION_ASH = Coefficient(
    1.15, "1", "RECALL", "memory", (1.0, 1.3), "degrees Brix read per 1 % salts"
)
#: Anhydrous citric acid [g/100 g] and what is added to a refractometer's reading [degrees Brix].
BRIX_CORRECTION: tuple[tuple[float, float], ...] = (
    (0.0, 0.0),
    (1.0, 0.20),
    (2.0, 0.39),
    (3.0, 0.58),
    (4.0, 0.78),
    (5.0, 0.97),
    (6.0, 1.15),
    (7.0, 1.34),
    (8.0, 1.54),
    (10.0, 1.91),
    (15.0, 2.81),
    (20.0, 3.70),
    (30.0, 5.46),
)
BRIMA_K = Coefficient(
    5.0, "1", "JORDAN2001", "memory", (3.0, 5.0), "weight of acid in BrimA; orange 3 to 4"
)

# --- water activity -----------------------------------------------------------------------------

#: Norrish constants; acids whose constant is negative or unknown are taken as ideal (0).
NORRISH: Mapping[str, Coefficient] = MappingProxyType(
    {
        name: Coefficient(k, "1", source, evidence, (0.0, 11.0), f"Norrish constant of {name}")
        for name, k, source, evidence in (
            ("sucrose", 6.47, "CHIRIFE1982", "memory"),
            ("glucose", 2.25, "CHIRIFE1982", "memory"),
            ("fructose", 2.25, "CHIRIFE1982", "memory"),
            ("maltose", 4.54, "CHIRIFE1982", "memory"),
            ("lactose", 10.2, "CHIRIFE1982", "memory"),
            ("galactose", 2.25, "CHOSEN", "assumed"),
            ("other_sugars", 2.25, "CHOSEN", "assumed"),
            ("citric", 6.17, "CHIRIFE1982", "memory"),
            ("malic", 1.82, "CHIRIFE1982", "memory"),
            ("tartaric", 4.68, "CHIRIFE1982", "memory"),
            ("lactic", 0.0, "CHOSEN", "assumed"),
            ("acetic", 0.0, "CHOSEN", "assumed"),
            ("oxalic", 0.0, "CHOSEN", "assumed"),
            ("succinic", 0.0, "CHOSEN", "assumed"),
            ("quinic", 0.0, "CHOSEN", "assumed"),
            ("gluconic", 0.0, "CHOSEN", "assumed"),
            ("ethanol", 0.0, "CHOSEN", "assumed"),
            ("potassium", 0.0, "CHOSEN", "assumed"),
        )
    }
)
#: Molality of sodium chloride [mol/kg water] and osmotic coefficient [1] at 25 degrees Celsius;
#: Robinson and Stokes, recalled, 6 mol/kg read again; the last row goes on to saturation.
OSMOTIC_NACL: tuple[tuple[float, float], ...] = (
    (0.0, 1.0),
    (0.1, 0.9324),
    (0.2, 0.9245),
    (0.3, 0.9215),
    (0.5, 0.9209),
    (0.7, 0.9257),
    (1.0, 0.9355),
    (1.4, 0.9513),
    (2.0, 0.9833),
    (2.5, 1.0120),
    (3.0, 1.0453),
    (3.5, 1.0800),
    (4.0, 1.1158),
    (4.5, 1.1523),
    (5.0, 1.1916),
    (5.5, 1.2311),
    (6.0, 1.2706),
    (6.15, 1.2824),
)

# --- strong ions --------------------------------------------------------------------------------


@dataclass(frozen=True)
class ChargeRule:
    """How strong-ion charge follows from composition where no pH is published.

    Parameters
    ----------
    potassium, divalent : Coefficient
        Share of the charge of potassium, and of calcium with magnesium, that counts [1].
    protein : Coefficient
        Charge that goes with protein [meq/g].
    acid : Coefficient
        Share of the protons of the organic acids that is replaced by alkali [1].
    ph_low, ph_high : Coefficient
        Ends between which every food is held [1].
    error_sour, error_mild : Coefficient
        Nine foods in ten lie nearer than this to the middle of their published pH, where the rule
        gives a pH under 5, and where it gives more; each left out of the fit in turn [1].
    """

    potassium: Coefficient
    divalent: Coefficient
    protein: Coefficient
    acid: Coefficient
    ph_low: Coefficient
    ph_high: Coefficient
    error_sour: Coefficient
    error_mild: Coefficient


def _fitted(value: float, unit: str, low: float, high: float, note: str) -> Coefficient:
    return Coefficient(value, unit, "CHARGE_FIT", "derived", (low, high), note)


#: Fitted by ``data/fit_strong_ions.py`` on the foods of ``data/curated/anchors.csv``. Sodium is
#: taken to go with chloride. These are what foods were found to hold and no single ion's chemistry.
CHARGE_RULE = ChargeRule(
    potassium=_fitted(0.446, "1", 0.0, 1.0, "potassium that counts"),
    divalent=_fitted(-0.449, "1", -1.0, 1.0, "calcium and magnesium that count"),
    protein=_fitted(1.952, "meq/g", 0.0, 4.0, "charge that goes with protein"),
    acid=_fitted(0.094, "1", 0.0, 1.0, "acid held as salt"),
    ph_low=Coefficient(2.0, "1", "FDA_PH2007", "table", (1.5, 2.5), "least pH of a food"),
    ph_high=Coefficient(7.0, "1", "CHOSEN", "chosen", (6.5, 7.5), "largest pH of a food"),
    error_sour=_fitted(0.9, "1", 0.1, 3.0, "error under pH 5"),
    error_mild=_fitted(1.7, "1", 0.1, 3.0, "error from pH 5 on"),
)
#: pH from which a food counts as mild.
MILD_PH = Coefficient(5.0, "1", "CHOSEN", "chosen", (4.6, 5.5), "sour below, mild above")
TYPICAL_IONIC_STRENGTH = Coefficient(
    0.1, "mol/kg", "CHOSEN", "chosen", (0.05, 0.2), "ionic strength of a common sauce"
)
