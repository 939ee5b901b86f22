"""A recipe as linked data that search engines and recipe software read.

References
----------
.. [1] schema.org, types Recipe, HowToStep and NutritionInformation (recalled).
.. [2] Requirements that search engines publish for recipes (recalled): name and image are
   required; recipeIngredient, recipeInstructions as HowToStep with text, recipeYield, prepTime,
   cookTime and totalTime together, nutrition.calories, keywords, recipeCategory, description and
   datePublished are recommended. Without a picture of the sauce, image is left out.
.. [3] ISO 8601, durations such as PT1H5M.
.. [4] JSON-LD 1.1, section 7, "Embedding JSON-LD in HTML Documents": what ends the element must
   not stand in it (recalled).
"""

from __future__ import annotations

import json
import re
from typing import Any

from balancer.export.sheet import allergen_text, made_text, servings_text
from balancer.export.text import one_line
from balancer.measures import weight_text
from balancer.recipe import Recipe

#: Names of ingredients among the keywords.
_KEYWORDS = 4
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
#: Harmless in HTML, and the same JSON [4]_.
_IN_HTML = str.maketrans(
    {c: f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"},
)


def jsonld(recipe: Recipe) -> str:
    """Write a recipe as schema.org/Recipe in JSON-LD, fit to stand inside a page as well.

    Parameters
    ----------
    recipe : Recipe
        The recipe.

    Returns
    -------
    str
        JSON; ``<``, ``>`` and ``&`` are written as escapes.
    """
    return json.dumps(linked(recipe), indent=1, ensure_ascii=False).translate(_IN_HTML) + "\n"


def linked(recipe: Recipe) -> dict[str, Any]:
    """The same as plain values."""
    shown = zip(recipe.shown_g, recipe.lines, strict=True)
    made = f"{weight_text(recipe.yield_g)} g"
    servings = servings_text(recipe)
    document: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "Recipe",
        "name": one_line(recipe.name),
        "description": one_line(f"{made_text(recipe)} {allergen_text(recipe)} {recipe.storage}"),
        "recipeCategory": "Sauce",
        "keywords": ", ".join(
            ["sauce", *(one_line(line.name).replace(",", "") for line in recipe.lines[:_KEYWORDS])]
        ),
        "recipeYield": [servings, made] if servings else made,
        "recipeIngredient": [
            one_line(
                f"{weight_text(grams)} g {line.name}{f' ({line.measure})' if line.measure else ''}"
            )
            for grams, line in shown
        ],
        "recipeInstructions": [
            {"@type": "HowToStep", "position": i, "text": one_line(step)}
            for i, step in enumerate(recipe.method, start=1)
        ],
    }
    if _ISO_DATE.fullmatch(recipe.date):
        document["datePublished"] = recipe.date
    for field, minutes in _times(recipe).items():
        document[field] = duration(minutes)
    if recipe.image:
        document["image"] = one_line(recipe.image)
    if nutrition := _nutrition(recipe):
        document["nutrition"] = nutrition
    return document


def duration(minutes: float) -> str:
    """Write a time as ISO 8601.

    >>> duration(65), duration(40), duration(120), duration(0)
    ('PT1H5M', 'PT40M', 'PT2H', 'PT0M')
    """
    hours, rest = divmod(round(minutes), 60)
    return f"PT{f'{hours}H' if hours else ''}{f'{rest}M' if rest or not hours else ''}"


def _times(recipe: Recipe) -> dict[str, float]:
    """Times that are known [min]; a total only where both parts are."""
    known = {"prepTime": recipe.prep_min, "cookTime": recipe.cook_min}
    found = {field: minutes for field, minutes in known.items() if minutes is not None}
    if len(found) == len(known):
        found["totalTime"] = sum(found.values())
    return found


def _nutrition(recipe: Recipe) -> dict[str, str]:
    if not recipe.nutrition:
        return {}
    panel = recipe.nutrition[0].rows
    by_serving = recipe.serving_g is not None and any(n.per_serving for n in panel)
    rows: dict[str, str] = {}
    for n in panel:
        if n.property_name:
            rows.setdefault(n.property_name, one_line(n.per_serving if by_serving else n.per_100g))
    if not rows:
        return {}
    size = f"{recipe.serving_g:g} g" if by_serving else "100 g"
    return {"@type": "NutritionInformation", "servingSize": size, **rows}
