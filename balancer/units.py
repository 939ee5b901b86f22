"""Amounts as a cook writes them, and the units of a kitchen.

Inside the project everything is grams; text and other units are turned into grams here. The
registry of units is built on first use, because a command that only weighs has no need of it.

References
----------
.. [1] NIST Handbook 44, Appendix C, "General Tables of Units of Measurement": 1 gallon is 231
   cubic inches, 1 inch is 2.54 cm, both exact; 1 gallon is 4 quarts, 16 cups, 128 fluid ounces,
   256 tablespoons, 768 teaspoons (recalled).
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from numbers import Real
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from balancer.errors import BadInput

if TYPE_CHECKING:
    import pint

#: More than this in one amount [g or mL] is taken for a slip of the keyboard: ten tonnes.
LARGEST = 1e7

GALLON_ML = 231 * 2.54**3
#: Volume of each kitchen measure [mL]: US measures by reference [1]_, metric ones as sold.
VOLUME_ML: Mapping[str, float] = MappingProxyType(
    {
        "tsp": GALLON_ML / 768,
        "tbsp": GALLON_ML / 256,
        "fl oz": GALLON_ML / 128,
        "cup": GALLON_ML / 16,
        "metric tsp": 5.0,
        "metric tbsp": 15.0,
        "metric cup": 250.0,
    }
)

#: Name of a unit to the name in the registry and the spellings that mean it.
_MASSES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "g": ("gram", "g gram grams gramme grammes"),
        "kg": ("kilogram", "kg kilo kilos kilogram kilograms"),
        "mg": ("milligram", "mg milligram milligrams"),
        "oz": ("ounce", "oz ounce ounces"),
        "lb": ("pound", "lb lbs pound pounds"),
    }
)
_VOLUMES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "mL": ("milliliter", "ml millilitre millilitres milliliter milliliters"),
        "cL": ("centiliter", "cl centilitre centilitres centiliter centiliters"),
        "dL": ("deciliter", "dl decilitre decilitres deciliter deciliters"),
        "L": ("liter", "l litre litres liter liters"),
        "tsp": ("teaspoon", "tsp tsps teaspoon teaspoons"),
        "tbsp": ("tablespoon", "tbsp tbsps tablespoon tablespoons"),
        "fl oz": ("US_fluid_ounce", "fl_oz floz fluid_ounce fluid_ounces"),
        "cup": ("cup", "cup cups"),
        "pint": ("pint", "pint pints"),
        "quart": ("quart", "quart quarts"),
        "gallon": ("gallon", "gallon gallons"),
        "metric tsp": ("metric_tsp", "metric_tsp metric_teaspoon metric_teaspoons"),
        "metric tbsp": ("metric_tbsp", "metric_tbsp metric_tablespoon metric_tablespoons"),
        "metric cup": ("metric_cup", "metric_cup metric_cups"),
    }
)
_IN_REGISTRY: Mapping[str, str] = MappingProxyType(
    {name: entry[0] for name, entry in (*_MASSES.items(), *_VOLUMES.items())}
)
_SPELLINGS: Mapping[str, str] = MappingProxyType(
    {
        spelling: name
        for name, (_, spellings) in (*_MASSES.items(), *_VOLUMES.items())
        for spelling in spellings.split()
    }
)
_DECIMAL = r"(?:\d{1,3}(?: \d{3})+|\d+)(?:[.,]\d+)?(?:e[-+]?\d+)?|[.,]\d+"
_FRACTION = r"(?:\d+[\s-]+)?\d+\s*/\s*0*[1-9]\d*"
_AMOUNT = re.compile(
    rf"\s*(?P<sign>[-+\u2212]?)\s*(?P<number>nan|inf(?:inity)?|{_FRACTION}|{_DECIMAL})"
    r"\s*(?P<unit>.*?)\.?\s*",
    re.IGNORECASE,
)


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the one registry of units, built when first asked for.

    Examples
    --------
    >>> round(registry().Quantity(1, "metric_cup").m_as("milliliter"))
    250
    """
    import pint

    units: pint.UnitRegistry[Any] = pint.UnitRegistry()
    for name in ("metric tsp", "metric tbsp", "metric cup"):
        units.define(f"{_IN_REGISTRY[name]} = {VOLUME_ML[name]} * milliliter")
    return units


@dataclass(frozen=True)
class Amount:
    """A number with the unit it was written in.

    Parameters
    ----------
    value : float
        The number, zero or more [unit].
    unit : str
        g, kg, mg, oz, lb, mL, cL, dL, L, tsp, tbsp, fl oz, cup, pint, quart, gallon, metric tsp,
        metric tbsp or metric cup; empty where none was written.
    """

    value: float
    unit: str

    @property
    def is_volume(self) -> bool:
        """True for spoons, cups, litres and their like."""
        return self.unit in _VOLUMES

    def in_unit(self, unit: str) -> float:
        """Convert to another unit of the same kind.

        >>> Amount(3, "tsp").in_unit("tbsp")
        1.0
        """
        if self.unit == unit:
            return self.value
        if (self.unit in _MASSES) != (unit in _MASSES) or not {
            self.unit,
            unit,
        } <= _IN_REGISTRY.keys():
            raise BadInput(
                f"{self.value:g} {self.unit} cannot be turned into {unit}."
                " Give a weight for a weight and a volume for a volume."
            )
        factor = registry().Quantity(1.0, _IN_REGISTRY[self.unit]).m_as(_IN_REGISTRY[unit])
        return round(self.value * float(factor), 12)


def amount(text: str, what: str = "The amount") -> Amount:
    """Read an amount such as ``500 g``, ``1 1/2 cups`` or ``½ tsp``.

    Parameters
    ----------
    text : str
        A number (whole, decimal, fraction, or whole and fraction) and, if any, a unit.
    what : str
        What the amount is of, for the sentence of a refusal.

    Returns
    -------
    Amount
        The number and the unit.

    Raises
    ------
    BadInput
        If it cannot be read, or the number is negative, not finite or absurd.

    Examples
    --------
    >>> amount("1 1/2 cups")
    Amount(value=1.5, unit='cup')
    >>> amount("¾ tsp.")
    Amount(value=0.75, unit='tsp')
    """
    shown = text if len(text) <= 40 else text[:37] + "..."
    match = _AMOUNT.fullmatch(_plain_fractions(text)) if len(text) <= 80 else None
    spelling = re.sub(r"[.\s]+", "_", match["unit"].strip().casefold()) if match else ""
    if match is None or (spelling and spelling not in _SPELLINGS):
        raise BadInput(
            f"{what} is {shown!r}, which cannot be read."
            " Write a number and a unit, such as 500 g, 1.5 kg or 1 1/2 cups."
        )
    digits = match["number"]
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits):
        raise BadInput(
            f"{what} is {shown!r}, which can be read two ways."
            f" Write {digits.replace(',', '')} or {float(digits.replace(',', '.')):g}."
        )
    unit = _SPELLINGS[spelling] if spelling else ""
    value = _number(digits) * (-1.0 if match["sign"] in ("-", "\u2212") else 1.0)
    return Amount(_sensible(value, unit or "g", what), unit)


def grams(given: str | float, what: str = "The amount", g_per_ml: float | None = None) -> float:
    """Turn a number or a text into grams.

    Parameters
    ----------
    given : str or float
        A number of grams, or text with a unit; text without one means grams.
    what : str
        What the amount is of, for the sentence of a refusal.
    g_per_ml : float, optional
        Density, needed to turn a volume into a weight [g/mL].

    Returns
    -------
    float
        Edible mass [g].

    Raises
    ------
    BadInput
        If it cannot be read, is negative, not finite, over :data:`LARGEST`, or is a volume of
        something whose density is not known.

    Examples
    --------
    >>> grams("1.5 kg")
    1500.0
    >>> grams("-5 g", "The salt")
    Traceback (most recent call last):
    balancer.errors.BadInput: The salt is -5 g, below zero. Give zero or more.
    """
    read = _given(given, "g", what)
    if not read.is_volume:
        return _sensible(read.in_unit("g"), "g", what)
    if g_per_ml is None:
        raise BadInput(
            f"{what} is {read.value:g} {read.unit}, a volume, and its density is not known."
            " Weigh it and give grams."
        )
    return _sensible(read.in_unit("mL") * g_per_ml, "g", what)


def millilitres(given: str | float, what: str = "The volume") -> float:
    """Turn a number or a text into millilitres; text without a unit means millilitres.

    >>> millilitres("2 metric cups")
    500.0
    """
    return _sensible(_given(given, "mL", what).in_unit("mL"), "mL", what)


def _given(given: str | float, unit: str, what: str) -> Amount:
    if isinstance(given, str):
        read = amount(given, what)
        return read if read.unit else Amount(read.value, unit)
    if isinstance(given, bool) or not isinstance(given, Real):
        raise BadInput(f"{what} is {given!r}. Give a number of {unit}, or text such as '500 g'.")
    try:
        value = float(given)
    except OverflowError:
        value = math.inf
    return Amount(_sensible(value, unit, what), unit)


def _sensible(value: float, unit: str, what: str) -> float:
    if not math.isfinite(value):
        raise BadInput(f"{what} is {value} {unit}, not a finite number. Give zero or more.")
    if value < 0:
        raise BadInput(f"{what} is {value:g} {unit}, below zero. Give zero or more.")
    if value > LARGEST:
        raise BadInput(
            f"{what} is {value:g} {unit}, over {LARGEST:g}. Check the number and its unit."
        )
    return value


def _plain_fractions(text: str) -> str:
    """Replace one-character fractions and the fraction slash by plain digits."""
    plain = "".join(
        f" {unicodedata.normalize('NFKC', c)}" if "fraction" in unicodedata.decomposition(c) else c
        for c in text
    )
    return plain.replace("\u2044", "/")


def _number(digits: str) -> float:
    digits = digits.replace(",", ".").strip()
    if "/" not in digits:
        return float(digits.replace(" ", ""))
    *whole, fraction = re.split(r"(?<!/)[\s-]+(?!/)", re.sub(r"\s*/\s*", "/", digits))
    over, under = (int(n) for n in fraction.split("/"))
    return (int(whole[0]) if whole else 0) + over / under
