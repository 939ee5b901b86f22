"""Units as recipes spell them, and the words that count or dose without being a unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

from balancer.errors import BadInput
from balancer.units import amount

#: Spellings of the kitchen that the registry of units has no need of.
_SPELLINGS: Mapping[str, str] = MappingProxyType(
    {"T": "tbsp", "t": "tsp", "c": "cup", "C": "cup"}
    | dict.fromkeys(("tbs", "tbl", "tblsp", "tbspn", "tb"), "tbsp")
    | dict.fromkeys(("ts", "tspn", "teasp"), "tsp")
    | {"pt": "pint", "pts": "pint", "qt": "quart", "qts": "quart", "gal": "gallon"}
    | {"gr": "g", "gm": "g", "gms": "g", "gs": "g", "kgs": "kg", "ozs": "oz", "cc": "mL"}
    | {"ltr": "L", "ltrs": "L", "mls": "mL"}
    | dict.fromkeys(("dessertspoon", "dessertspoons", "dsp"), "dessertspoon")
)
#: Words that count or dose without being a unit of volume, by the form in which they are kept.
KITCHEN_WORDS: Mapping[str, str] = MappingProxyType(
    {w: w for w in ("knob", "thumb", "head", "bulb", "bunch", "stalk", "stick", "piece", "slice")}
    | {w: w for w in ("can", "jar", "bottle", "sprig", "clove", "wedge", "fillet", "cube", "strip")}
    | {w: w for w in ("handful", "splash", "glug", "drizzle", "pinch", "dash", "drop", "smidgen")}
    | {w: w for w in ("pod", "ear", "inch", "cm", "ring", "leaf", "packet", "pat", "rib", "root")}
    | {"tin": "can", "leaves": "leaf", "pinches": "pinch", "dashes": "dash", "inches": "inch"}
    | {"bunches": "bunch", "splashes": "splash", "package": "packet", "pack": "packet"}
    | {"sachet": "packet", "carton": "packet", "bag": "packet", "nub": "knob", "in": "inch"}
)
SIZES: Mapping[str, str] = MappingProxyType(
    {"small": "small", "little": "small", "medium": "medium", "large": "large", "big": "large"}
)


@cache
def unit_of(word: str) -> str:
    """The unit or kitchen word that a spelling means; empty where it is neither.

    >>> unit_of("Tablespoons"), unit_of("T"), unit_of("cloves"), unit_of("plums")
    ('tbsp', 'tbsp', 'clove', '')
    """
    bare = word.strip(". ")
    if bare in _SPELLINGS:
        return _SPELLINGS[bare]
    folded = bare.casefold()
    for spelling in (folded, folded.removesuffix("s")):
        found = _SPELLINGS.get(spelling) if len(spelling) > 1 else None
        found = found or KITCHEN_WORDS.get(spelling)
        if found:
            return found
    if not re.fullmatch(r"[a-z]+(?:[ .]+[a-z]+)?", folded):
        return ""
    try:
        return amount(f"1 {folded}").unit
    except BadInput:
        return ""
