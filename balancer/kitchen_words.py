"""Words of the kitchen for what a tongue finds, and the nearest one to a slip of the pen.

What each word means is the trade's own language: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

#: Kitchen words to (axis, direction): "thin" means little body.
AXIS_WORDS: Mapping[str, tuple[str, int]] = MappingProxyType(
    {
        word: (axis, direction)
        for axis, direction, words in (
            ("sweet", 1, "sweet sugary sweetness sugar"),
            ("sour", 1, "sour sharp tart acid acidic tangy sourness acidity vinegar vinegary"),
            ("salt", 1, "salt salty saltiness"),
            ("volatile", 1, "volatile aromatic aroma spiced spice fragrant perfumed"),
            ("umami", 1, "umami savoury savory meaty"),
            ("heat", 1, "hot heat spicy fiery burn burns burning"),
            ("heat", -1, "mild"),
            ("body", 1, "body thick thickness"),
            ("body", -1, "thin watery runny"),
            ("fat", 1, "fat fatty oily rich greasy oil"),
        )
        for word in words.split()
    }
)
#: Said alone these find fault: "watery" is too little body, "it burns" too much heat.
FAULTS = ("thin", "watery", "runny", "burns", "burning")
COMPARATIVES: Mapping[str, str] = MappingProxyType(
    {
        "sweeter": "sweet", "sourer": "sour", "sharper": "sharp", "tarter": "tart",
        "tangier": "tangy", "saltier": "salty", "hotter": "hot", "spicier": "spicy",
        "thicker": "thick", "thinner": "thin", "runnier": "runny", "richer": "rich",
        "fattier": "fatty", "oilier": "oily", "greasier": "greasy", "meatier": "meaty",
        "milder": "mild", "savourier": "savoury",
    }
)  # fmt: skip
#: Words that complain and name no axis, to what to say in their place.
VAGUE: Mapping[str, str] = MappingProxyType(
    {
        word: told
        for words, told in (
            (
                "bland flat dull insipid",
                "Say which is missing, salt, acid or aroma: 'more salt', 'more acid', 'more aroma'",
            ),
            (
                "yuck yucky bad awful horrible disgusting nasty",
                "Say what is wrong with it: 'too salty', 'too sour', 'too hot', 'more body'",
            ),
        )
        for word in words.split()
    }
)
#: Words of everyday English one letter away from a word of an axis: no slips of the pen.
_ORDINARY = frozenset(
    {
        "avid", "barn", "bean", "beans", "born", "bran", "burnt", "fact", "fast", "fate",
        "feat", "fire", "flat", "foil", "head", "heal", "heap", "hear", "heart", "heats",
        "host", "mean", "meat", "meet", "meter", "mile", "milk", "mind", "only", "reach",
        "rice", "rick", "runner", "salad", "sale", "share", "sheet", "slat", "slice", "sliced",
        "soap", "soar", "soup", "space", "spike", "swat", "tahini", "taster", "than", "that",
        "them", "then", "they", "thing", "think", "thinned", "this", "tick", "track", "trick",
        "twin",
        "waiter", "water",
    }
)  # fmt: skip
#: Letters of a word that is guessed at; from how many on it may have two slips.
_LEAST_LETTERS, _TWO_SLIPS, _MOST_LETTERS = 4, 5, 14
#: What is heard of a word least; slips of the ear, such as "sower", are slips in these.
_VOWELS = re.compile("[aeiouwy]")


def meaning(word: str) -> tuple[str, int]:
    """Axis of a known word, and whether it stands for much or little of it."""
    return AXIS_WORDS[COMPARATIVES.get(word, word)]


def nearest(word: str) -> str | None:
    """Guess which known word a slip of the pen was to be.

    Parameters
    ----------
    word : str
        In lower case.

    Returns
    -------
    str or None
        The nearest word with the same first letter: one letter away, or two where the consonants
        agree. None where there is none, or where words of two meanings are as near.

    References
    ----------
    1. Optimal string alignment distance, as in rapidfuzz: letters put in, left out, changed or
       swapped with the next.

    Examples
    --------
    >>> nearest("sower"), nearest("slaty"), nearest("thinker")
    ('sour', 'salty', None)
    """
    from rapidfuzz.distance import OSA

    if not _LEAST_LETTERS <= len(word) <= _MOST_LETTERS or word in _ORDINARY:
        return None
    near: dict[str, int] = {}
    for known in (*AXIS_WORDS, *COMPARATIVES):
        if known[0] == word[0] and abs(len(known) - len(word)) <= 2:
            distance = OSA.distance(word, known)
            alike = len(word) >= _TWO_SLIPS and _VOWELS.sub("", word) == _VOWELS.sub("", known)
            if distance <= (2 if alike else 1):
                near[known] = distance
    best = [known for known, distance in near.items() if distance == min(near.values())]
    return best[0] if len(set(map(meaning, best))) == 1 else None
