"""A draft that was read, as a request and as sentences on what it left open.

A pasted draft says what a sauce is made of and not how far each quantity may go. What seasons a
sauce gets a maximum of ours, so that nobody is sent to the pot with a handful of smoked paprika.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from typing import Any

from balancer.composition import Ingredient
from balancer.draft_lines import FAIR, DraftLine, Kind
from balancer.errors import BadInput
from balancer.measures import scale_step, weight_text
from balancer.parse_names import EXACT as EXACT_NAME
from balancer.search import LONGEST_NAME

#: Line numbers that one sentence lists.
MOST_NUMBERS = 8
#: What is never usual above this share of a sauce seasons it, the rest may be its base [1]; chosen,
#: so that vinegars, pastes and sweeteners count as seasoning, and oils, fruits and nuts do not.
LARGEST_SEASONING_SHARE = 0.40


def usual_most_g(lines: Sequence[DraftLine]) -> dict[str, float]:
    """Maxima of ours for what seasons a draft: food number to grams [g].

    The larger of the usual share of a sauce and of what the draft has already, the high end of a
    range counted. Usual shares are those of a sauce: where nothing is left to be its base, as in a
    spice mix, there are no maxima.

    Parameters
    ----------
    lines : sequence of DraftLine
        Those to taste count too.
    """
    foods: dict[str, Ingredient] = {}
    own_g: dict[str, float] = {}
    whole_g = 0.0
    for line in lines:
        if line.match is None or line.kind not in (Kind.READ, Kind.TO_TASTE):
            continue
        food = line.match.ingredient
        foods[food.key] = food
        if line.kind is Kind.READ:
            own_g[food.key] = own_g.get(food.key, 0.0) + line.weight.high_g
            whole_g += line.weight.grams
    found = {}
    for key, food in foods.items():
        if food.share is not None and food.share[2] <= LARGEST_SEASONING_SHARE:
            usual_g = food.share[2] * whole_g
            step = scale_step(usual_g)
            found[key] = max(round(math.ceil(usual_g / step) * step, 4), own_g.get(key, 0.0))
    return found if own_g.keys() - found.keys() else {}


def draft_request(
    lines: Sequence[DraftLine], name: str = "", *, locked: bool = False
) -> dict[str, Any]:
    """Write the lines that were read as a request; the levels it aims at are left to the cook.

    Parameters
    ----------
    lines : sequence of DraftLine
    name : str
        Name of the sauce.
    locked : bool
        Whether quantities are locked too, so that solving the request reports the draft as it is.

    Returns
    -------
    dict
        As the request schema describes; the same ingredient on two lines is added up, and what
        seasons the sauce has a maximum (:func:`usual_most_g`).

    Raises
    ------
    BadInput
        If no line brought an ingredient with its grams.
    """
    grams: dict[str, float] = {}
    called: dict[str, str] = {}
    for line in lines:
        if line.kind is Kind.READ and line.match is not None:
            ingredient = line.match.ingredient
            grams[ingredient.key] = grams.get(ingredient.key, 0.0) + line.weight.grams
            called[ingredient.key] = ingredient.name
    if not grams:
        raise BadInput(
            "No line gives an ingredient with its weight. Write lines such as '2 tbsp rice"
            " vinegar' or '380 g plums'."
        )
    entries = []
    most_g = usual_most_g(lines)
    for key, total in grams.items():
        # two foods of one name are told apart by their numbers
        twice = list(called.values()).count(called[key]) > 1
        too_long = len(called[key]) > LONGEST_NAME
        weight = round(total, 4)
        entry: dict[str, Any] = {"name": key if twice or too_long else called[key]}
        entry |= {"draft_g": weight} | ({"locked_g": weight} if locked else {})
        most = {"max_g": max(round(most_g[key], 4), weight)} if key in most_g else {}
        entries.append(entry | most)
    request: dict[str, Any] = {"name": name} if name else {}
    request["yield_g"] = round(math.fsum(e["draft_g"] for e in entries), 4)
    return request | {"ingredients": entries, "target": {}}


def draft_report(lines: Sequence[DraftLine]) -> tuple[str, ...]:
    """Sentences on what a draft left open, added up or took as rough."""
    found = []
    seen: dict[str, list[int]] = {}
    for line in lines:
        shown = _shown(line.text, 60)
        if line.kind is Kind.READ and line.match is not None:
            seen.setdefault(line.match.ingredient.name, []).append(line.number)
            if line.confidence < FAIR:
                found.append(
                    f"Line {line.number}, {shown!r}: taken as {line.weight.grams:.3g} g of"
                    f" {line.match.ingredient.name}, {line.weight.how}. Check it."
                )
        elif line.kind is not Kind.HEADING:
            found.append(f"Line {line.number}, {shown!r}, is left out. {line.note}")
    found += [
        f"{name} stands on lines {_numbers(numbers)}; the weights are added up."
        for name, numbers in seen.items()
        if len(numbers) > 1
    ]
    return tuple(found + most_report(lines))


def most_report(lines: Sequence[DraftLine], *, with_to_taste: bool = False) -> list[str]:
    """One sentence on the maxima that are ours; none where there are none."""
    most_g = usual_most_g([x for x in lines if with_to_taste or x.kind is Kind.READ])
    names = {x.match.ingredient.key: x.match.ingredient.name for x in lines if x.match}
    told = ", ".join(f"{names[key]} {weight_text(g)} g" for key, g in most_g.items())
    if not told:
        return []
    return [
        f"Limits of ours, not of the draft: at most {told}. That is the most that is usual in a"
        " sauce, or what the draft has already. Change or clear each 'at most' (max_g) as you like."
    ]


def draft_table(lines: Sequence[DraftLine]) -> str:
    """The lines as a table: number, grams, ingredient, how sure, what it rests on, as pasted."""
    rows = [("line", "g", "taken for", "sure", "as pasted", "rests on; may also mean")]
    for line in lines:
        known = line.match.ingredient.name if line.match else f"({line.kind})"
        others = ", ".join(m.ingredient.name for m in line.alternatives[:3])
        rests = [line.weight.how, f"or {others}" if others and line.confidence < EXACT_NAME else ""]
        rows.append(
            (
                str(line.number),
                "" if math.isnan(line.weight.grams) else f"{line.weight.grams:.4g}",
                "" if line.kind is Kind.HEADING else _cut(known, 28),
                line.confidence_word if line.kind is Kind.READ else str(line.kind),
                _shown(line.text, 44),
                "; ".join(r for r in rests if r),
            )
        )
    widths = [max(len(row[i]) for row in rows) for i in range(5)]
    return "\n".join(
        "  ".join(
            [
                *(row[i].rjust(widths[i]) for i in (0, 1)),
                *(row[i].ljust(widths[i]) for i in (2, 3, 4)),
                row[5],
            ]
        ).rstrip()
        for row in rows
    )


def draft_document(lines: Sequence[DraftLine]) -> list[dict[str, Any]]:
    """The lines as plain documents; numbers that are unknown are null."""
    return [
        {
            "line": line.number,
            "text": line.text,
            "kind": str(line.kind),
            "name": line.name,
            "ingredient": line.match.ingredient.name if line.match else None,
            "key": line.match.ingredient.key if line.match else None,
            "grams": None if math.isnan(line.weight.grams) else round(line.weight.grams, 4),
            "low_g": None if math.isnan(line.weight.low_g) else round(line.weight.low_g, 4),
            "high_g": None if math.isnan(line.weight.high_g) else round(line.weight.high_g, 4),
            "rests_on": line.weight.how,
            "confidence": round(line.confidence, 3),
            "alternatives": [
                {"name": m.ingredient.name, "key": m.ingredient.key, "sure": round(m.sure, 3)}
                for m in line.alternatives
            ],
            "note": line.note,
        }
        for line in lines
    ]


def _numbers(numbers: Sequence[int]) -> str:
    more = len(numbers) - MOST_NUMBERS
    told = ", ".join(map(str, numbers[:MOST_NUMBERS]))
    return f"{told} and {more} more" if more > 0 else told


def _shown(text: str, longest: int) -> str:
    """A line as pasted, in one row, without characters that steer a terminal."""
    plain = "".join(" " if unicodedata.category(c)[0] == "C" else c for c in text)
    return _cut(" ".join(plain.split()), longest)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else text[: longest - 3] + "..."
