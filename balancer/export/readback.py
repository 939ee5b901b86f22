"""Recipes of other programs, read from the linked data of a page that was saved.

Only schema.org/Recipe is read, from JSON-LD or from the HTML around it. Nothing is fetched, no
path is followed, no script is run.

References
----------
.. [1] schema.org, types Recipe, HowToStep, HowToSection and QuantitativeValue (recalled).
.. [2] ISO 8601, durations.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from balancer.errors import BadInput
from balancer.export.text import one_line
from balancer.plain import plain_json, plain_text

#: Lines or steps of a recipe, and letters in one of them.
MOST_LINES, LONGEST_LINE = 500, 2000

_WHAT = "The page"
_OPENING = re.compile(r"<script\b([^<>]*)>", re.IGNORECASE)
_CLOSING = re.compile(r"</script\b", re.IGNORECASE)
_LINKED_DATA = re.compile(r"\btype\s*=\s*[\"']?\s*application/ld\+json\b", re.IGNORECASE)
_TAG = re.compile(r"<[^<>]*>")
_DURATION = re.compile(
    r"P(?:(?P<d>\d{1,4})D)?(?:T(?:(?P<h>\d{1,4}(?:\.\d{1,6})?)H)?"
    r"(?:(?P<m>\d{1,6}(?:\.\d{1,6})?)M)?(?:(?P<s>\d{1,8}(?:\.\d{1,6})?)S)?)?",
    re.ASCII,
)


@dataclass(frozen=True)
class Foreign:
    """A recipe as another program tells it.

    Parameters
    ----------
    name : str
        Its name.
    ingredients : tuple of str
        One line each, as written there.
    yield_text : str
        How much it makes, as written there; several are joined by a comma.
    steps : tuple of str
        The method.
    prep_min, cook_min, total_min : float or None
        Times [min]; None where none is given or it is not ISO 8601.
    """

    name: str
    ingredients: tuple[str, ...]
    yield_text: str
    steps: tuple[str, ...]
    prep_min: float | None = None
    cook_min: float | None = None
    total_min: float | None = None


def read_jsonld(text: str | bytes) -> Foreign:
    """Read the first schema.org/Recipe of a saved page or of JSON-LD.

    Parameters
    ----------
    text : str or bytes
        HTML or JSON; bytes are taken as UTF-8.

    Returns
    -------
    Foreign
        Texts on one line each, without tags.

    Raises
    ------
    BadInput
        If it is too large or too deep, holds no such recipe, or the recipe has no name or no
        ingredients, or more than a kitchen could use.
    """
    plain = plain_text(text, _WHAT)
    if plain.lstrip()[:1] in ("{", "["):
        found = _recipes(plain_json(plain, _WHAT, lenient=True))
    else:
        found = _recipes_of_page(plain)
    recipe = next(found, None)
    if recipe is None:
        raise BadInput(
            "The page holds no recipe as linked data (schema.org/Recipe). Paste its ingredient"
            " lines instead."
        )
    name = _text(recipe.get("name"))
    ingredients = _lines(
        recipe.get("recipeIngredient", recipe.get("ingredients")), "ingredient lines"
    )
    if not name or not ingredients:
        missing = "ingredients" if name else "name"
        raise BadInput(f"The recipe of the page has no {missing}. Type the recipe in instead.")
    return Foreign(
        name,
        ingredients,
        ", ".join(dict.fromkeys(_lines(recipe.get("recipeYield"), "yields"))),
        _lines(recipe.get("recipeInstructions"), "steps"),
        *(_minutes(recipe.get(f"{what}Time")) for what in ("prep", "cook", "total")),
    )


def _recipes_of_page(page: str) -> Iterator[dict[str, Any]]:
    """Recipes of each block of linked data; a block that is not JSON is passed over."""
    place = 0
    while (opening := _OPENING.search(page, place)) is not None:
        closing = _CLOSING.search(page, opening.end())
        if closing is None:
            return
        place = closing.end()
        if _LINKED_DATA.search(opening[1]):
            try:
                value = plain_json(page[opening.end() : closing.start()], _WHAT, lenient=True)
            except BadInput as error:
                if "JSON:" in str(error):
                    continue
                raise
            yield from _recipes(value)


def _recipes(value: Any) -> Iterator[dict[str, Any]]:
    """Every object of type Recipe, in the order of the document."""
    waiting = [value]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            kinds = value.get("@type")
            kinds = kinds if isinstance(kinds, list) else [kinds]
            if any(isinstance(k, str) and re.split("[/#:]", k)[-1] == "Recipe" for k in kinds):
                yield value
            waiting += reversed(value.values())
        elif isinstance(value, list):
            waiting += reversed(value)


def _lines(value: Any, what: str) -> tuple[str, ...]:
    """Texts of a list, of its steps and sections, or of one text with line breaks."""
    found: list[str] = []
    waiting = [value]
    while waiting:
        value = waiting.pop()
        if isinstance(value, list):
            waiting += reversed(value)
        elif isinstance(value, dict) and "itemListElement" in value:
            waiting.append(value["itemListElement"])
        elif isinstance(value, dict) and "value" in value:  # a quantity with a unit
            unit = value.get("unitText", value.get("unitCode", ""))
            found.append(f"{_text(value['value'])} {_text(unit)}".strip())
        elif isinstance(value, dict):
            found.append(_text(value.get("text") or value.get("name") or value.get("item")))
        elif isinstance(value, str):
            found += [_text(line) for line in re.split(r"[\r\n]+|<br\s*/?>|</p>|</li>", value)]
        else:
            found.append(_text(value))
    kept = [line for line in found if line]
    if len(kept) > MOST_LINES:
        raise BadInput(
            f"The recipe of the page has {len(kept)} {what}, over {MOST_LINES}. Type in the part"
            " that you need."
        )
    return tuple(kept)


def _text(value: Any) -> str:
    """A text or number on one line, without tags."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        return ""
    plain = one_line(html.unescape(_TAG.sub(" ", html.unescape(str(value)))))
    if len(plain) > LONGEST_LINE:
        raise BadInput(
            f"A line of the page has {len(plain)} letters, over {LONGEST_LINE}: {plain[:40]!r}..."
            " Type the recipe in instead."
        )
    return plain


def _minutes(value: Any) -> float | None:
    match = _DURATION.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None or not any(match.groups()):
        return None
    days, hours, minutes, seconds = (float(match[unit] or 0.0) for unit in "dhms")
    return days * 1440.0 + hours * 60.0 + minutes + seconds / 60.0
