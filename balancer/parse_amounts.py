"""The amounts in one line of a written recipe: numbers, ranges, units, and what is left over.

A line of a recipe is flat: an amount, a unit, a name and remarks. So a few patterns, tried from its
head, read it; nothing in it nests, which is what a parser generator would be for. No table is read
here: what an amount weighs is said by :mod:`balancer.parse_weights`.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from balancer.errors import BadInput
from balancer.parse_units import KITCHEN_WORDS, SIZES, unit_of
from balancer.units import LARGEST

_CONTAINERS = ("can", "jar", "bottle", "packet", "bunch", "piece", "head", "pod")
_WORDS: Mapping[str, int] = MappingProxyType(
    {"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6}
    | {"seven": 7, "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12}
)
_WORD = "|".join(_WORDS)
_NUMBER = r"(?:\d+(?:\s+|-|\s*(?:and|&)\s*)\d+\s*/\s*\d+|\d+\s*/\s*\d+|\d+(?:[.,]\d+)?|[.,]\d+)"
_RANGE = re.compile(
    rf"(?P<low>{_NUMBER})(?:\s*(?:-|to\b|or\b)\s*(?P<high>{_NUMBER}))?\s*(?![\d/])", re.IGNORECASE
)
#: What is written in words at the head of a line, as digits; the first that fits is used.
_IN_WORDS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), digits)
    for pattern, digits in (
        (r"half a dozen\b(?: of)?", "6"),
        (r"(?:a|one|1) dozen\b(?: of)?", "12"),
        (r"(?:a )?couple\b(?: of)?", "2"),
        (r"three[- ]quarters?\b(?: of)?(?: an?\b)?", "3/4"),
        (r"(?:an? |one[- ])?half\b(?![- ]and\b)(?: of)?(?: an?\b)?", "1/2"),
        (r"(?:a |one[- ])?quarter\b(?: of)?(?: an?\b)?", "1/4"),
        (r"(?:a |one[- ])third\b(?: of)?(?: an?\b)?", "1/3"),
    )
)
_ABOUT = re.compile(
    r"(?:about|approx(?:imately)?|around|roughly|circa|ca|c(?=\.? *\d)|~|generous|scant|heaped"
    r"|heaping|rounded|good|nearly|over|up to|between)\b\.?\s*|~\s*",
    re.IGNORECASE,
)
_NEUTRAL = re.compile(r"(?:level|packed|firmly packed|well[- ]packed|flat)\b\s*", re.IGNORECASE)
_BRACKETS = re.compile(r"\(([^()]*)\)|\[([^\[\]]*)\]")
_BULLET = re.compile(r"^(?:[-*+•·▢☐◦‣–—]+(?=\s)|\[[ xX]?\]|\d+[.)]\s+(?=\d))\s*")
_THOUSANDS = re.compile(r"\b[1-9]\d{0,2},\d{3}\b")


@dataclass(frozen=True)
class Quantity:
    """How much a line says.

    Parameters
    ----------
    low, high : float
        The number, or the ends of its range [unit].
    unit : str
        A unit of :mod:`balancer.units`, ``dessertspoon``, a word of :data:`KITCHEN_WORDS`, or
        empty for a count.
    size : str
        small, medium or large; empty where not said.
    sure : bool
        False for what is said as about, or heaped.
    """

    low: float
    high: float
    unit: str
    size: str = ""
    sure: bool = True

    @property
    def is_mass(self) -> bool:
        """Whether it is a weight."""
        return self.unit in ("g", "kg", "mg", "oz", "lb")

    def times(self, count: Quantity) -> Quantity:
        """So many packs of this."""
        return replace(self, low=self.low * count.low, high=self.high * count.high)


@dataclass(frozen=True)
class ReadLine:
    """A line taken apart.

    Parameters
    ----------
    quantities : tuple of Quantity
        To be added up, as in "1 cup plus 2 tbsp"; empty where no amount was found.
    stated : Quantity or None
        A weight or a volume that the line gives for the whole, as in "a knob of ginger (20 g)".
    name : str
        What is left before the first comma, brackets taken out.
    remarks : str
        What follows the comma, and what stood in brackets.
    """

    quantities: tuple[Quantity, ...]
    stated: Quantity | None
    name: str
    remarks: str


def tidy(text: str) -> str:
    """Fold fractions, dashes, spaces and markup of one line into plain writing.

    Examples
    --------
    >>> tidy("• 1½ <b>cups</b>&nbsp;plums")
    '1 1/2 cups plums'
    """
    text = html.unescape(text)
    text = re.sub(r"</?[a-zA-Z!][^<>]*>", " ", text).replace("**", "").replace("`", "")
    text = "".join(
        f" {unicodedata.normalize('NFKC', c)}" if "fraction" in unicodedata.decomposition(c) else c
        for c in text
    )
    text = unicodedata.normalize("NFKC", text).replace("\u2044", "/")
    text = re.sub(r"[\u2012-\u2015\u2212]", "-", text).replace("×", "x").replace("\u201d", '"')
    text = "".join(c if unicodedata.category(c)[0] != "C" else " " for c in text)
    return _BULLET.sub("", " ".join(text.split())).strip()


def read_line(text: str) -> ReadLine:
    """Take a tidy line apart.

    Parameters
    ----------
    text : str
        One line, as :func:`tidy` returns it.

    Raises
    ------
    BadInput
        If a number can be read two ways, is below zero or is absurd.

    Examples
    --------
    >>> read_line("1 1/2 cups plums, pitted").quantities
    (Quantity(low=1.5, high=1.5, unit='cup', size='', sure=True),)
    >>> read_line("a knob of ginger (20 g)").stated.low
    20.0
    """
    unclear = _THOUSANDS.search(text)
    if unclear:
        raise BadInput(
            f"{unclear[0]} can be read two ways. Write {unclear[0].replace(',', '')} or"
            f" {float(unclear[0].replace(',', '.')):g}."
        )
    if re.match(r"-\s?\d", text):
        raise BadInput(f"The amount of {text[:40]!r} is below zero. Give more than zero.")
    quantities, stated, rest = _head(text)
    remarks = []
    for match in list(_BRACKETS.finditer(rest)):
        inside = (match[1] or match[2] or "").strip()
        found = _whole(inside)
        weighed = any(q.is_mass for q in quantities)
        if found is None or stated is not None or (weighed and not found.is_mass):
            remarks.append(inside)
        else:
            stated = found
    rest = " ".join(_BRACKETS.sub(" ", rest).split())
    if not quantities and stated is None:
        quantities, rest = _tail(rest)
    name, _, after = re.sub(r"\s+([,;])", r"\1", rest).strip(" ,;:-.").partition(",")
    if " - " in name:
        name, _, more = name.partition(" - ")
        after = f"{more}, {after}"
    remarks.insert(0, after.strip())
    name = re.sub(r"^(?:of|the)\s+", "", name.strip(" ,;:-."), flags=re.IGNORECASE)
    return ReadLine(quantities, stated, name, "; ".join(r for r in remarks if r))


def _head(text: str) -> tuple[tuple[Quantity, ...], Quantity | None, str]:
    """The amounts at the head of a line: added, stated for the whole, and the rest."""
    first, rest = take(text)
    if first is None:
        return (), None, text
    pack = re.match(r"\s*[([]\s*([^()\[\]]*)[)\]]\s*", rest)
    inside = _whole(pack[1]) if pack else None
    if pack is not None and inside is not None and not first.unit:
        word, after = _unit(rest[pack.end() :])
        rest = after if word in _CONTAINERS else rest[pack.end() :]
        return (first,), inside.times(first), rest
    times = re.match(r"\s*x\s*(?=\d)|\s*(?=\d)", rest) if not first.unit else None
    if times:
        each, after = take(rest[times.end() :].lstrip())
        if each is not None and each.unit:
            word, behind = _unit(after)
            return (first,), each.times(first), behind if word in _CONTAINERS else after
    stated = None
    other = re.match(r"\s*(?:/|\bor\b|=)\s*(?=[\d.~])", rest)
    if other:
        second, after = take(rest[other.end() :])
        if second is not None and second.unit:
            stated, rest = (first if first.is_mass else second), after
            if not (first.is_mass or second.is_mass):
                stated = None
    found = [first]
    joint = r"\s*(?:plus|and|\+|&)\s+(?=[\d.a])" + r"|\s*(?=\d)" * first.is_mass
    while more := re.match(joint, rest, re.IGNORECASE):
        second, after = take(rest[more.end() :])
        if second is None or not second.unit:
            break
        found.append(second)
        rest = after
    return tuple(found), stated, rest


def _tail(text: str) -> tuple[tuple[Quantity, ...], str]:
    """An amount that closes a line, as in "plums - 500 g"."""
    span = rf"(?:~\s*)?{_NUMBER}(?:\s*-\s*{_NUMBER})?"
    match = re.search(rf"(?:\s|[-:,])\s*(?P<amount>{span}\s*[a-zA-Z][a-zA-Z. ]*)$", text)
    found = _whole(match["amount"]) if match else None
    if match is None or found is None:
        return (), text
    return (found,), text[: match.start()]


def _whole(text: str) -> Quantity | None:
    """An amount that is all there is in a text, a word such as "each" aside."""
    text = re.split(r"\s*/\s*(?=\d+\s*[a-z])|;|,\s", text.strip())[0]
    found, rest = take(text)
    left = re.sub(r"\b(?:each|total|in all|drained|peeled|net|packed|weight)\b", "", rest)
    if found is None or left.strip(" .") or not found.unit or found.unit in KITCHEN_WORDS.values():
        return None
    return found


def take(text: str) -> tuple[Quantity | None, str]:
    """Take one amount off the head of a text; None where it does not begin with one."""
    sure, size, rest = True, "", text.lstrip()
    article = re.match(
        r"an?\s+(?=(?:about|generous|scant|heap|rounded|good|level)\w*\b)", rest, re.I
    )
    rest = f"1 {rest[article.end() :]}" if article else rest
    if match := _ABOUT.match(rest):
        sure, rest = False, rest[match.end() :]
    low, high, certain, rest = _number(rest)
    if low is None or high is None:
        return None, text
    sure = sure and certain
    for _ in range(3):
        if match := _NEUTRAL.match(rest):
            rest = rest[match.end() :]
        elif (match := _ABOUT.match(rest)) and not rest.startswith("c"):
            sure, rest = False, rest[match.end() :]
        elif match := re.match(
            r"(?:extra[- ])?(small|little|medium|large|big)(?:[- ]sized?)?\b,?\s*", rest, re.I
        ):
            size, rest = SIZES[match[1].casefold()], rest[match.end() :]
    unit, rest = _unit(rest)
    if high > LARGEST:
        raise BadInput(f"The amount is {high:g} {unit}, over {LARGEST:g}. Check the number.")
    return Quantity(min(low, high), max(low, high), unit, size, sure), rest


def _number(text: str) -> tuple[float | None, float | None, bool, str]:
    for pattern, digits in _IN_WORDS:
        if match := pattern.match(text):
            text = f"{digits} {text[match.end() :].lstrip()}"
            break
    if match := re.match(r"(?:a few|several|some)\b(?: of)?\s*", text, re.IGNORECASE):
        return (2.0, 4.0, False, text[match.end() :]) if match[0][0] in "aA" else _none(text)
    word = re.match(rf"({_WORD})\b(?:\s*(?:to|or|-)\s*({_WORD})\b)?", text, re.IGNORECASE)
    if word:
        ends = [str(_WORDS[w.casefold()]) for w in word.groups() if w]
        text = "-".join(ends) + text[word.end() :]
    elif match := re.match(r"an?\b\s*", text, re.IGNORECASE):
        text = f"1 {text[match.end() :]}"
    text = re.sub(r"^(\d+) and an? half\b", r"\1 1/2", text, flags=re.IGNORECASE)
    match = _RANGE.match(text)
    if match is None:
        return _none(text)
    low = _value(match["low"])
    unit_between = re.match(rf"(\w+)\s*(?:-|to)\s*({_NUMBER})\s*(?=\1\b)", text[match.end() :])
    if match["high"] is None and unit_between:  # "200 g to 250 g"
        text = text[match.end() + unit_between.end() :]
        return low, _value(unit_between[2]), True, text
    high = _value(match["high"]) if match["high"] else low
    return low, high, True, text[match.end() :]


def _none(text: str) -> tuple[None, None, bool, str]:
    return None, None, True, text


def _value(digits: str) -> float:
    *whole, last = re.split(r"(?<![/\s])\s*(?:\s|-|and|&)\s*(?![/\s])", digits.strip())
    if "/" not in last:
        return float(digits.replace(",", "."))
    over, under = (float(n) for n in last.split("/"))
    if under == 0:
        raise BadInput(f"{digits!r} divides by zero. Write the fraction again.")
    return (float(whole[0]) if whole else 0.0) + over / under


def _unit(text: str) -> tuple[str, str]:
    """The unit at the head of a text, if any, and what follows it."""
    text = text.lstrip(" -")
    inches = re.match(r"(?:\"|''|in(?:ch(?:es)?)?\b\.?|cm\b)[- ]?", text, re.IGNORECASE)
    if inches:
        rest = re.match(r"(?:long\s+)?(?:(?:piece|knob|length|chunk|stick)s?\b)?(?:\s+of\b)?\s*",
                        text[inches.end() :], re.IGNORECASE)  # fmt: skip
        end = inches.end() + (rest.end() if rest else 0)
        return ("cm" if inches[0].casefold().startswith("cm") else "inch"), text[end:]
    thumb = re.match(r"thumb[- ]?(?:sized?)?\s*(?:piece|knob)?\b(?:\s+of\b)?\s*", text, re.I)
    if thumb:
        return "thumb", text[thumb.end() :]
    for pattern in (r"[A-Za-z]+\.?\s?[A-Za-z]+\b\.?", r"[A-Za-z]+\b\.?"):
        match = re.match(pattern, text)
        unit = unit_of(" ".join(match[0].replace(".", " ").split())) if match else ""
        if match and unit:
            left = re.sub(r"^\s*of\b\s*", "", text[match.end() :], flags=re.IGNORECASE).strip()
            if unit in KITCHEN_WORDS.values() and not left.strip(" ,.()"):
                return "", text  # "3 cloves" alone are the spice
            return unit, text[match.end() :] if left.startswith(("(", "[", "/")) else left
    return "", text
