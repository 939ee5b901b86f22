"""The figures of a nutrition label, read from its text as pasted or typed.

Every part is found by its word, so that lines may be broken anywhere and come in any order. What is
not read is handed back, never dropped.

References
----------
.. [1] US Code of Federal Regulations, title 21, section 101.9(c): the words of the US form
   (recalled).
.. [2] Regulation (EU) No 1169/2011, Annex XV: the words and order of the EU form (recalled).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from balancer.constants import MG_PER_G
from balancer.errors import BadInput
from balancer.label import Label

LONGEST_LABEL = 5000
#: Definition of the thermochemical calorie [kJ/kcal].
KJ_PER_KCAL = 4.184
#: Share of "less than" that is taken for the figure [1]; chosen, the middle of what is left open.
LESS_THAN_SHARE = 0.5
#: Parts that every form must print, by reference 1 and 2.
MAIN_PARTS = ("fat_g", "carbohydrate_g", "sugars_g", "protein_g")
_NUMBER = r"\d+(?:[.,]\d+)?"
_SIZE = rf"({_NUMBER})\s*(g|grams?|ml|mL|ML)\b"
#: Words of a label, the longer ones first, and the figure that they stand for; an empty one is
#: known and not needed.
_WORDS: tuple[tuple[str, str], ...] = (
    (r"includes?\s+[^a-z]*(?:g|mg)?\s*(?:of\s+)?added\s+sugars?", ""),
    (r"added\s+sugars?", ""),
    (r"calories\s+from\s+fat", ""),
    (r"(?:saturated|trans|(?:mono|poly)\s*-?\s*unsaturated)\s+(?:fat|fatty\s+acids)", ""),
    (r"(?:of\s+which\s+)?(?:saturates|mono-?unsaturates|polyunsaturates|polyols)", ""),
    (r"cholesterol|sugar\s+alcohols?|vitamin\s+\w+|iron|magnesium|phosphorus|zinc|iodine", ""),
    (r"(?:total\s+)?fat(?![a-z])", "fat_g"),
    (r"(?:total\s+)?carb(?:ohydrate)?s?", "carbohydrate_g"),
    (r"(?:dietary\s+)?fib(?:re|er)", "fibre_g"),
    (r"(?:of\s+which\s+)?starch", "starch_g"),
    (r"(?:of\s+which\s+|total\s+)?sugars?", "sugars_g"),
    (r"proteins?", "protein_g"),
    (r"sodium", "sodium_mg"),
    (r"salt", "salt_g"),
    (r"potassium", "potassium_mg"),
    (r"calcium", "calcium_mg"),
    (r"calories|energy", "energy_kcal"),
    (r"(?:amount\s+|typical\s+values?\s+)?per\s+\S+", ""),
    (r"serving\s+size", ""),
)
_WORD = re.compile(
    "|".join(rf"(?P<w{i}>(?<![a-z]){words})" for i, (words, _) in enumerate(_WORDS)), re.IGNORECASE
)
_AMOUNT = re.compile(
    rf"(?:\(?(?P<unit_first>mg|g|kcal|kj)\)?[\s:]+)?(?P<less><|less\s+than\s+)?\s*"
    rf"(?P<number>{_NUMBER})[ \t]*(?P<unit>mg|g|kcal|kj|mcg|µg|iu|%)?(?![a-z])",
    re.IGNORECASE,
)
_ALCOHOL = re.compile(
    rf"(?:alc\w*\.?\s*)?({_NUMBER})\s*%\s*(?:vol|abv|alc|by\s+vol)\w*|alcohol\s+({_NUMBER})\s*%",
    re.IGNORECASE,
)
_PER = re.compile(rf"per\s+(?:{_SIZE}|(?:a\s+)?(?:serving|portion)\W*(?:{_SIZE})?)", re.IGNORECASE)
_SERVING = re.compile(rf"(?:serving|portion)(?:\s+size)?[^\n]*?{_SIZE}", re.IGNORECASE)
_EUROPEAN = re.compile(r"\b(salt|of which|kj|saturates|fibre)\b", re.IGNORECASE)


@dataclass(frozen=True)
class LabelRead:
    """A label with sentences on what of its text was not taken as it stands."""

    label: Label
    notes: tuple[str, ...] = ()


def read_label(text: str, form: str = "", alone: bool = True) -> LabelRead:
    """Read a label from its text.

    Parameters
    ----------
    text : str
    form : str
        US or EU; empty tells it from the words.
    alone : bool
        Whether a text without any figure is refused.

    Raises
    ------
    BadInput
        If no figure is found, no amount that the figures are for, or the figures cannot be.

    Examples
    --------
    >>> found = read_label("per 100 g: carbohydrate 38 g of which sugars 36,0 g; salt 1.5 g")
    >>> found.label.form, found.label.sugars_g, found.label.salt_g
    ('EU', 36.0, 1.5)
    """
    if len(text) > LONGEST_LABEL:
        raise BadInput(
            f"The label has {len(text)} letters. Paste its table alone, {LONGEST_LABEL} at most."
        )
    found, notes, used = _figures(text)
    if alone and not found:
        raise BadInput(
            "No figure of a label was found. Write one as 'per 100 g: fat 1 g, carbohydrate 38 g,"
            " sugars 36 g, protein 0.4 g, salt 1.5 g'."
        )
    form = form or ("EU" if _EUROPEAN.search(text) else "US")
    if found.get("salt_g") is not None and found.get("sodium_mg") is not None:
        notes.append("The label gives salt and sodium; the salt was left out.")
        del found["salt_g"]
    silent = [f.removesuffix("_g") for f in MAIN_PARTS if f not in found]
    if silent and "alcohol_pct" not in found:
        notes.append(f"The label does not give {', '.join(silent)}: counted as none.")
    label = Label(form=form, **found, **_amount_for(text))
    return LabelRead(label, tuple(notes) + _left(text, used))


def _figures(text: str) -> tuple[dict[str, Any], list[str], list[tuple[int, int]]]:
    """Figures by the field of a label, sentences, and the places in the text that were read."""
    found: dict[str, Any] = {}
    notes: list[str] = []
    used: list[tuple[int, int]] = []
    words = [*_WORD.finditer(text)]
    for word, following in zip(words, [*words[1:], None], strict=True) if words else ():
        end = len(text) if following is None else following.start()
        used.append(word.span())
        field = next(f for i, (_, f) in enumerate(_WORDS) if word[f"w{i}"] is not None)
        if not field or field in found:
            continue
        figure = _figure(text[word.end() : end], field)
        if figure is None:
            continue
        value, less, read_to = figure
        used.append((word.start(), word.end() + read_to))
        found[field] = value
        if less:
            what, _, unit = field.rpartition("_")
            notes.append(
                f"The label says less than {value / LESS_THAN_SHARE:g} {unit} of {what}:"
                f" {value:g} {unit} is taken."
            )
    alcohol = _ALCOHOL.search(text)
    if alcohol is not None:
        used.append(alcohol.span())
        found["alcohol_pct"] = _number(alcohol[1] or alcohol[2])
    return found, notes, used


def _figure(text: str, field: str) -> tuple[float, bool, int] | None:
    """The first amount after a word, in the unit of the field.

    With it, whether it is an upper bound, and where in the text it ends.
    """
    wanted = field.rpartition("_")[2]
    choices = []
    for amount in _AMOUNT.finditer(text):
        unit = (amount["unit"] or amount["unit_first"] or wanted).casefold()
        if unit == "%" and wanted == "kcal":
            unit = wanted  # the head of the next column, "% Daily Value"
        if unit in ("g", "mg", "kcal", "kj"):
            less = amount["less"] is not None
            choices.append((unit, _number(amount["number"]), less, amount.end()))
    if wanted == "kcal":
        choices = [c for c in choices if c[0] == "kcal"] or [c for c in choices if c[0] == "kj"]
    for unit, value, less, end in choices:
        value *= {"mgg": 1 / MG_PER_G, "gmg": MG_PER_G, "kjkcal": 1 / KJ_PER_KCAL}.get(
            unit + wanted, 1.0
        )
        return round(value * LESS_THAN_SHARE if less else value, 6), less, end
    return None


def _amount_for(text: str) -> dict[str, float]:
    """What the figures are for: the first column's amount, or the serving."""
    per = _PER.search(text)
    size: tuple[str, str] | None = None
    if per is not None and (per[1] or per[3]):
        size = (per[1] or per[3], per[2] or per[4])
    else:
        serving = _SERVING.search(text)
        size = (serving[1], serving[2]) if serving is not None else None
    if size is None:
        return {}
    return {"per_g" if size[1].casefold().startswith("g") else "per_ml": _number(size[0])}


def _left(text: str, used: list[tuple[int, int]]) -> tuple[str, ...]:
    """Sentences on lines with a figure of which nothing was read."""
    found = []
    start = 0
    for line in text.splitlines(keepends=True):
        end = start + len(line)
        read = any(a < end and b > start for a, b in used)
        if not read and re.search(r"\d", line):
            shown = " ".join(line.split())
            found.append(f"Not read: {shown[:80]!r}.")
        start = end
    return tuple(found)


def _number(text: str) -> float:
    return float(text.replace(",", "."))
