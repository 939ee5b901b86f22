"""Coefficients of the tongue and of the stove: intensity, suppression, losses, inversion.

Each stands with unit, valid range, source key and evidence kind, like those of ``constants.py``.
``memory`` marks a figure recalled from the named publication and not read again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from balancer.constants import Coefficient

# --- taste --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Power:
    """Power law of one axis: intensity = moderate x (level / at_moderate) ** exponent.

    Parameters
    ----------
    at_moderate : Coefficient
        Level that alone, in water or a plain sauce, tastes moderate [axis unit].
    exponent : Coefficient
        Exponent of the power law [1].
    """

    at_moderate: Coefficient
    exponent: Coefficient


def _power(
    level: float, unit: str, low: float, high: float, n: float, n_low: float, n_high: float
) -> Power:
    return Power(
        Coefficient(level, unit, "TASTE_LADDERS", "chosen", (low, high), "level that is moderate"),
        Coefficient(n, "1", "STEVENS_RANGE", "chosen", (n_low, n_high), "exponent of intensity"),
    )


#: Axis to power law. Moderate levels: sweet, sour are the geometric mean of two published ladders
#: at 5 of 15 (sucrose 5 and 7.5 %, citric 0.08 and 0.12 %), salt is one ladder (0.35 %); volatile
#: is the kitchen equivalence of a plainly seasoned dish; the rest are chosen.
POWER_LAWS: Mapping[str, Power] = MappingProxyType(
    {
        "sweet": _power(6.1, "g sucrose eq.", 5.0, 7.5, 1.0, 0.6, 1.6),
        "sour": _power(0.098, "g citric eq.", 0.08, 0.12, 0.7, 0.5, 1.0),
        "salt": _power(0.35, "g NaCl eq.", 0.3, 0.6, 1.0, 0.6, 1.4),
        "volatile": _power(12.0, "µL oil eq.", 5.0, 30.0, 0.5, 0.2, 0.7),
        "umami": _power(300.0, "mg glutamate", 150.0, 600.0, 0.6, 0.4, 0.9),
        "heat": _power(350.0, "SHU", 50.0, 1000.0, 0.7, 0.5, 1.0),
        "body": _power(5.0, "g solids", 2.0, 8.0, 0.4, 0.3, 0.5),
        "fat": _power(15.0, "g", 5.0, 30.0, 0.5, 0.3, 1.0),
    }
)

#: How strongly one axis hides another, (hidden, hiding) to factor; pairs that are not named count
#: SUPPRESSION_DEFAULT among the four tastes and zero elsewhere. Ordinal support only.
SUPPRESSION_DEFAULT = Coefficient(1.0, "1", "DEGRAAF1989", "derived", (0.0, 2.0), "equal hiding")
SUPPRESSION: Mapping[tuple[str, str], Coefficient] = MappingProxyType(
    {
        (hidden, hiding): Coefficient(
            value, "1", source, "chosen", (0.0, 2.0), f"{hiding} hides {hidden}"
        )
        for hidden, hiding, value, source in (
            ("sweet", "sour", 0.6, "SCHIFFERSTEIN1990"),
            ("salt", "sweet", 0.6, "CHOSEN"),
            ("umami", "sweet", 0.5, "CHOSEN"),
            ("umami", "sour", 0.5, "CHOSEN"),
            ("umami", "salt", 0.5, "CHOSEN"),
            ("heat", "sweet", 0.5, "NASRAWI1989"),
        )
    }
)
TASTES: tuple[str, ...] = ("sweet", "sour", "salt", "umami")

#: Labelled magnitude scale, word to position of 100.
MAGNITUDE_WORDS: Mapping[str, Coefficient] = MappingProxyType(
    {
        word: Coefficient(position, "1", "GREEN1993", "memory", (0.0, 100.0), word)
        for word, position in (
            ("barely detectable", 1.4),
            ("weak", 6.1),
            ("moderate", 17.2),
            ("strong", 35.4),
            ("very strong", 53.3),
            ("strongest imaginable", 100.0),
        )
    }
)

UMAMI_SYNERGY = Coefficient(
    1218.0, "100 g/g", "YAMAGUCHI1971", "table", (1218.0, 1218.0), "glutamate with nucleotides"
)
#: Umami of each substance beside monosodium glutamate (amino acids) or inosinate (nucleotides).
UMAMI_WEIGHTS: Mapping[str, Coefficient] = MappingProxyType(
    {
        name: Coefficient(value, "1", "YAMAGUCHI1971", "table", (0.0, 3.0), f"umami of {name}")
        for name, value in (
            ("glutamate", 1.0),
            ("aspartate", 0.077),
            ("inosinate", 1.0),
            ("guanylate", 2.3),
            ("adenylate", 0.18),
        )
    }
)

# --- cooking ------------------------------------------------------------------------------------

ALPHA_ACETIC = Coefficient(
    0.7, "1", "VLE_ACETIC", "memory", (0.65, 0.75), "volatility of acetic acid beside water"
)
ALPHA_ETHANOL = Coefficient(
    9.5, "1", "VLE_ETHANOL", "memory", (9.0, 10.0), "volatility of ethanol beside water"
)


@dataclass(frozen=True)
class Retention:
    """Share of alcohol left after a treatment.

    Parameters
    ----------
    treatment : str
        What was done, in a cook's words.
    minutes : float or None
        Time at the simmer [min].
    kept : Coefficient
        Share left [1].
    """

    treatment: str
    minutes: float | None
    kept: Coefficient


ALCOHOL_RETENTION: tuple[Retention, ...] = tuple(
    Retention(name, minutes, Coefficient(kept, "1", "USDA_RETENTION6", "table", (0.0, 1.0), name))
    for name, minutes, kept in (
        ("stirred into boiling liquid, off the heat", 0.0, 0.85),
        ("flamed", None, 0.75),
        ("cold, overnight", None, 0.70),
        ("baked, not stirred in", 25.0, 0.45),
        ("simmered", 15.0, 0.40),
        ("simmered", 30.0, 0.35),
        ("simmered", 60.0, 0.25),
        ("simmered", 90.0, 0.20),
        ("simmered", 120.0, 0.10),
        ("simmered", 150.0, 0.05),
    )
)

#: When an aromatic goes in, to the share of its volatile oil that is left at the table.
OIL_KEPT: Mapping[str, Coefficient] = MappingProxyType(
    {
        when: Coefficient(kept, "1", "CHOSEN", "chosen", (low, high), f"oil kept, {when}")
        for when, kept, low, high in (
            ("start", 0.25, 0.10, 0.50),
            ("late", 0.60, 0.40, 0.80),
            ("raw", 1.0, 0.9, 1.0),
        )
    }
)

SIMMER_RATE_G_MIN = Coefficient(
    10.0, "g/min", "CHOSEN", "chosen", (2.0, 40.0), "steam of a 20 cm pan at a gentle simmer"
)
#: Group of components to the share that passes from a steeped ingredient into the pot.
INFUSED: Mapping[str, Coefficient] = MappingProxyType(
    {
        group: Coefficient(share, "1", "CHOSEN", "chosen", (0.0, 1.0), f"{group} that passes")
        for group, share in (
            ("sugar", 0.5),
            ("acid", 0.5),
            ("ion", 0.5),
            ("savoury", 0.5),
            ("hot", 0.5),
            ("aromatic", 0.5),
            ("ethanol", 1.0),
        )
    }
)

INVERSION_RATE = Coefficient(
    6.95e-3, "1/min per mol/kg", "INVERSION_SALT", "table", (6e-3, 8e-3), "inversion at 24.7 C"
)
INVERSION_RATE_KELVIN = Coefficient(
    297.85, "K", "INVERSION_SALT", "table", (297.0, 299.0), "temperature of that rate"
)
INVERSION_ENERGY = Coefficient(
    108_000.0, "J/mol", "INVERSION_SALT", "table", (105_000.0, 112_000.0), "activation energy"
)
GAS_CONSTANT = Coefficient(
    8.314462618, "J/(mol K)", "SI2019", "derived", (8.31, 8.32), "molar gas constant"
)
ZERO_CELSIUS_K = 273.15  # unit change

# --- thinning what is too little to weigh -------------------------------------------------------

#: Shelves on which what leaves nothing behind is a liquid, or dissolves.
LIQUID_SHELVES = frozenset(
    {
        "citrus", "paste and ferment", "seasoning", "soy and fish sauce", "stock", "sweet",
        "vinegar and acid", "water", "wine and spirit",
    }
)  # fmt: skip
MIXES_UP_TO_G = Coefficient(
    0.9,
    "g/100 g",
    "CHOSEN",
    "chosen",
    (0.5, 1.5),
    "fibre of a sauce, juice or syrup that mixes; the flesh of citrus holds more",
)
MIXES_PROTEIN_G = Coefficient(
    12.0,
    "g/100 g",
    "CHOSEN",
    "chosen",
    (11.0, 14.0),
    "dissolved protein of such a liquid, as in tamari; anchovies and cheese hold more",
)
CLEAR_UP_TO_G = Coefficient(
    1.0,
    "g/100 g",
    "CHOSEN",
    "chosen",
    (0.9, 1.1),
    "protein, fat, starch and fibre of a juice of fruit or vegetables; their flesh holds more",
)
OIL_FROM_G = Coefficient(
    95.0, "g/100 g", "CHOSEN", "chosen", (90.0, 99.0), "fat of what mixes with oil and is an oil"
)
