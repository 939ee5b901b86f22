"""Coefficients of tasting: what a word, a line rating and a spoon of sauce can tell.

Each stands with unit, valid range, source key and evidence kind, like those of ``constants.py``.
Judgements are counted in just-noticeable differences (JND) times the cook's own gain.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import TypeAlias

from balancer.constants import Coefficient

# --- words --------------------------------------------------------------------------------------
#: Judgement from which each word is used, nearest first: a touch, plain, much [JND]. Halfway
#: between steps of 0, 1, 3 and 6 JND.
WORD_THRESHOLDS: tuple[Coefficient, ...] = tuple(
    Coefficient(value, "JND", "CHOSEN", "chosen", (0.1, 10.0), f"least judgement called {word}")
    for value, word in ((0.5, "a touch"), (2.0, "plain"), (4.5, "much"))
)
JUDGEMENT_NOISE_JND = Coefficient(
    0.7, "JND", "CHOSEN", "chosen", (0.2, 2.0), "scatter of one judgement of one sample"
)
THRESHOLD_SPREAD = Coefficient(
    0.3, "1", "CHOSEN", "chosen", (0.0, 1.0), "how far a cook's own word thresholds lie off"
)
SLIP = Coefficient(
    0.03,
    "1",
    "CHOSEN",
    "chosen",
    (0.0, 0.5),
    "share of words that say nothing: slips of the tongue",
)
REST_NOISE = Coefficient(
    1.5, "1", "CHOSEN", "chosen", (1.0, 3.0), "scatter of 'the rest is right' beside a named axis"
)
WEIGHING_JND = Coefficient(
    0.3, "JND", "CHOSEN", "chosen", (0.0, 1.0), "how far a weighed batch lies off its figures"
)

# --- rounds that are unlike ---------------------------------------------------------------------
FATIGUE_PER_SAMPLE = Coefficient(
    0.10, "1", "CHOSEN", "chosen", (0.0, 0.5), "growth of the scatter with each further sample"
)
ON_FOOD_JND = Coefficient(
    1.0, "JND", "CHOSEN", "chosen", (0.0, 3.0), "scatter between a spoon and the sauce on its food"
)
PER_DEGREE_JND = Coefficient(
    0.03, "JND/K", "CHOSEN", "chosen", (0.0, 0.2), "scatter per degree between serving temperatures"
)
LIKE_TEMPERATURE_K = Coefficient(
    10.0, "K", "CHOSEN", "chosen", (0.0, 30.0), "serving temperatures nearer than this are alike"
)

# --- the cook -----------------------------------------------------------------------------------
GAIN_SPREAD = Coefficient(
    0.4, "1", "CHOSEN", "chosen", (0.1, 1.0), "spread of the log gain between cooks and axes"
)
GAIN_DRIFT = Coefficient(
    0.15, "1", "CHOSEN", "chosen", (0.0, 0.5), "how far a log gain moves from sauce to sauce"
)
IDEAL_SPREAD_JND = Coefficient(
    4.0, "JND", "CHOSEN", "chosen", (0.5, 10.0), "how far the ideal lies off a first target"
)
TAIL = Coefficient(
    4.0,
    "1",
    "CHOSEN",
    "chosen",
    (1.0, 100.0),
    "degrees of freedom of that spread: some are far off",
)
#: Shares of the published mixture suppression that a cook's judgement may follow, with the belief
#: in each before the first word.
HIDING: tuple[tuple[Coefficient, Coefficient], ...] = tuple(
    (
        Coefficient(share, "1", "CHOSEN", "chosen", (0.0, 2.0), "share of mixture suppression"),
        Coefficient(belief, "1", "CHOSEN", "chosen", (0.0, 1.0), "belief in that share"),
    )
    for share, belief in ((0.0, 0.3), (0.5, 0.35), (1.0, 0.35))
)
#: Factors by which a cook's judgements may scatter more than usual, with the belief in each.
SCATTER: tuple[tuple[Coefficient, Coefficient], ...] = tuple(
    (
        Coefficient(factor, "1", "CHOSEN", "chosen", (0.5, 5.0), "factor on the scatter"),
        Coefficient(belief, "1", "CHOSEN", "chosen", (0.0, 1.0), "belief in that factor"),
    )
    for factor, belief in ((1.0, 0.8), (1.8, 0.2))
)

# --- line ratings -------------------------------------------------------------------------------
LINE_LENGTH = Coefficient(100.0, "points", "CHOSEN", "chosen", (100.0, 100.0), "length of the line")
LINE_PER_JND = Coefficient(
    6.0, "points/JND", "CHOSEN", "chosen", (1.0, 20.0), "line travelled per just-noticeable step"
)
RATING_NOISE = Coefficient(
    4.5, "points", "CHOSEN", "chosen", (1.0, 20.0), "scatter of one mark on the line"
)
LEVEL_NOISE = Coefficient(
    12.0, "points", "CHOSEN", "chosen", (1.0, 40.0), "drift of the whole line between rounds"
)
ORDER_NOISE = Coefficient(
    4.0, "points", "CHOSEN", "chosen", (0.0, 20.0), "effect of which sample is tasted first"
)
CARRY_OVER_NOISE = Coefficient(
    6.0, "points", "CHOSEN", "chosen", (0.0, 20.0), "scatter where the mouth was not rinsed"
)
LINE_END_FACTOR = Coefficient(
    2.0, "1", "CHOSEN", "chosen", (1.0, 5.0), "scatter of a mark at the very end of the line"
)

# --- when to stop -------------------------------------------------------------------------------
WITHIN_JND = Coefficient(
    1.0, "JND", "CHOSEN", "chosen", (0.25, 3.0), "a sauce is right within this"
)
STOP_ODDS = Coefficient(0.90, "1", "CHOSEN", "chosen", (0.5, 0.99), "odds at which tasting ends")
LEAST_FALL = Coefficient(
    0.05, "1", "CHOSEN", "chosen", (0.0, 0.5), "fall of the variance below which a word is idle"
)
DOUBT = Coefficient(
    0.5, "1", "CHOSEN", "chosen", (0.1, 0.9), "odds of a slip at which a word is said not to fit"
)

# --- spoons -------------------------------------------------------------------------------------
MOST_SPOONS = 4
SPOON_LOW_G = Coefficient(10.0, "g", "CHOSEN", "chosen", (5.0, 15.0), "least mass of one sample")
SPOON_HIGH_G = Coefficient(
    15.0, "g", "CHOSEN", "chosen", (10.0, 30.0), "largest mass of one sample"
)
DROP_ML = Coefficient(0.05, "mL", "CHOSEN", "chosen", (0.03, 0.08), "volume of a drop")
#: Spacings of a ladder that are tried [JND].
LADDER_STEPS_JND: tuple[float, ...] = (0.75, 1.0, 1.5, 2.0, 3.0)


#: A stock: name, levels [axis unit per 100 g], density [g/mL] or None where it is weighed.
StockRow: TypeAlias = tuple[str, Mapping[str, Coefficient], Coefficient | None]


def _stock(name: str, density: float | None, parts: Mapping[str, tuple[float, str]]) -> StockRow:
    levels = {
        axis: Coefficient(value, unit, "ATOMIC_WEIGHTS", "derived", (0.0, 1e5), f"{axis} of {name}")
        for axis, (value, unit) in parts.items()
    }
    mass = density and Coefficient(
        density, "g/mL", "CHOSEN", "memory", (0.99, 1.4), f"density of {name}"
    )
    return name, MappingProxyType(levels), mass or None


#: Stock for dosing samples; densities at 20 degrees Celsius, from memory of the usual tables.
STOCKS: tuple[StockRow, ...] = (
    _stock("10 % citric acid", 1.038, {"sour": (10.0, "g citric eq.")}),
    _stock("20 % salt", 1.148, {"salt": (20.0, "g NaCl eq.")}),
    _stock("simple syrup of 50 Brix", 1.230, {"sweet": (50.0, "g sucrose eq.")}),
    # monosodium glutamate monohydrate, 187.13 g/mol, holds 147.13 g glutamic acid and one sodium
    _stock(
        "10 % sodium glutamate",
        1.05,
        {
            "umami": (10_000.0 * 147.13 / 187.13, "mg glutamate"),
            "salt": (10.0 * 58.443 / 187.13, "g NaCl eq."),
        },
    ),
    _stock("sugar", None, {"sweet": (100.0, "g sucrose eq.")}),
    _stock("water", None, {}),
)
