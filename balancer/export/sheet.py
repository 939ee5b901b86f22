"""The parts of a recipe in words, the same in every format that a cook reads."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from itertools import zip_longest
from types import MappingProxyType

from balancer.export.text import deviation_text, doubt_text, level_text, target_text
from balancer.measures import weight_text
from balancer.recipe import CODES_SENTENCE, LEAST_G, STAGES, Line, Panel, Recipe
from balancer.safety_constants import COLD_C

#: A text, and whether it stands in bold.
Parts = list[tuple[str, bool]]

_KEY = re.compile(r" ?\[([A-Z0-9_]+)\]")
#: What a source is told from memory, as its citation ends or goes on.
_RECALLED = re.compile(r" \([^()]*\brecalled\)|, recalled\b")
#: Evidence of our own, by its key, as another cook reads it.
_OWN: Mapping[str, str] = MappingProxyType(
    {
        "CHOSEN": "common practice, no source",
        "SAFETY_GUARD": "a margin for the error of what is computed",
    }
)

_COLD = f"at {COLD_C.value:g} °C or below"
STORE_COLD = f"Keep refrigerated {_COLD}"


def made_text(recipe: Recipe) -> str:
    """Say how much the recipe makes, and for how many.

    >>> from balancer.recipe import Recipe
    >>> made_text(Recipe("dip", (), 500.0, (), (), (), (), "", 1, yield_ml=452.0, serving_g=30.0))
    'Makes 500 g (452 mL), about 16.7 servings of 30 g.'
    """
    volume = "" if recipe.yield_ml is None else f" ({weight_text(recipe.yield_ml)} mL)"
    servings = servings_text(recipe)
    text = f"Makes {weight_text(recipe.yield_g)} g{volume}{f', {servings}' if servings else ''}."
    if recipe.lines and recipe.water_lost_g:
        text += f" In cooking, {weight_text(recipe.water_lost_g)} g of water leaves."
    if recipe.taken_out_g >= LEAST_G:
        text += f" About {weight_text(recipe.taken_out_g)} g is taken out again."
    return text


def servings_text(recipe: Recipe) -> str:
    """Say how many servings there are; empty where no serving was said."""
    if recipe.servings is None or recipe.serving_g is None:
        return ""
    near = round(recipe.servings)
    exact = near > 0 and abs(recipe.servings - near) < 0.05
    number = f"{near}" if exact else f"about {level_text(recipe.servings).rstrip('0').rstrip('.')}"
    if not exact and recipe.servings >= 10:
        number = f"about {recipe.servings:.1f}"
    return f"{number} serving{'' if exact and near == 1 else 's'} of {recipe.serving_g:g} g"


def about_text(recipe: Recipe) -> str:
    """Say which saving this is, when it was made, and who tasted last."""
    text = f"Revision {recipe.revision}"
    text += f", saved {recipe.date}." if recipe.date else "."
    return f"{text} Last tasted: {recipe.tasted}." if recipe.tasted else text


def times_text(recipe: Recipe) -> str:
    """Say how long it takes; empty where nobody wrote it down."""
    parts = []
    for what, minutes in (("before the stove", recipe.prep_min), ("at the stove", recipe.cook_min)):
        if minutes is not None:
            parts.append(f"{minutes:g} min {what}")
    return f"Takes {' and '.join(parts)}." if parts else ""


def stage_text(recipe: Recipe, line: Line) -> str:
    """Say when a line goes in; "raw" throughout where nothing is heated."""
    if all(other.stage == "raw" for other in recipe.lines):
        return line.stage
    return STAGES.get(line.stage, line.stage)


def line_name(line: Line) -> str:
    """Name of a line with the allergens that it brings; it stands in bold if it brings any.

    >>> line_name(Line("soy sauce", "", 25.0, "", allergens=("wheat", "soybean")))
    'soy sauce (wheat, soybean)'
    """
    return f"{line.name} ({', '.join(line.allergens)})" if line.allergens else line.name


def allergen_parts(recipe: Recipe) -> Parts:
    """Say which allergens are in it and what was not looked up."""
    parts: Parts = []
    if recipe.allergens:
        parts.append(("Contains: ", False))
        for i, allergen in enumerate(recipe.allergens):
            last = i == len(recipe.allergens) - 1
            parts.append((allergen.name, True))
            parts.append((f" ({', '.join(allergen.carriers)}){'.' if last else '; '}", False))
    if len(recipe.unread) == len(recipe.lines):
        parts.append((" Allergens were not looked up: read every label.", False))
    elif recipe.unread:
        names = ", ".join(recipe.unread)
        parts.append((f" Judged by name only, read the label: {names}.", False))
    elif not recipe.allergens:
        parts.append(("No allergen was recognised; read the label of whatever was bought.", False))
    return [(parts[0][0].lstrip(), parts[0][1]), *parts[1:]]


def allergen_text(recipe: Recipe) -> str:
    """The same in one plain sentence."""
    return "".join(text for text, _ in allergen_parts(recipe))


BALANCE_HEAD = ("Axis", "Reached", "Target", "Unit", "Difference")


def balance_rows(recipe: Recipe) -> list[tuple[str, str, str, str, str]]:
    """Axis, level reached, target, the unit of both, and the difference."""
    return [
        (
            row.axis,
            level_text(row.reached),
            target_text(replace(row, unit="")).strip(),
            row.unit,
            deviation_text(row),
        )
        for row in recipe.profile
    ]


def reading_rows(recipe: Recipe) -> list[tuple[str, str]]:
    """What is computed of the water in it: pH with its band, Brix, acidity, water activity."""
    waters = recipe.waters
    rows = []
    if waters.ph is not None:
        value, low, high = waters.ph
        rows.append(("pH", f"{value:.2f} (between {low:.2f} and {high:.2f})"))
    if waters.brix is not None:
        rows.append(("Dissolved solids", f"{waters.brix:.1f} °Bx"))
    if waters.acidity_pct_citric is not None:
        acidity = f"{waters.acidity_pct_citric:.2f} g citric acid per 100 g"
        rows.append(("Titratable acidity", acidity))
    if waters.water_activity is not None:
        rows.append(("Water activity", f"{waters.water_activity:.2f}"))
    return rows


def nutrition_table(recipe: Recipe, panel: Panel) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Head and rows of a nutrition panel."""
    rows = [
        (f"{row.name} ({row.note})" if row.note else row.name, row.per_100g, row.per_serving)
        for row in panel.rows
    ]
    if recipe.serving_g is None:
        return ("", "Per 100 g"), [row[:2] for row in rows]
    return ("", "Per 100 g", f"Per {recipe.serving_g:g} g serving"), [*rows]


def caution_pairs(recipe: Recipe) -> list[tuple[str, str]]:
    """Each caution with what it rests on, without the keys into the table of sources."""
    sources = recipe.caution_sources[: len(recipe.cautions)]
    return [
        (text, _KEY.sub("", source))
        for text, source in zip_longest(recipe.cautions, sources, fillvalue="")
    ]


def sources_text(recipe: Recipe) -> str:
    """What the cautions rest on, each source once; empty where none is known.

    >>> from balancer.recipe import Recipe
    >>> sources = ("Food Code (recalled) [FOOD_CODE]; own guard [SAFETY_GUARD]", "Food Code")
    >>> sources_text(Recipe("dip", (), 1.0, (), ("Cold.", "Hot."), (), (), "", 1, sources))
    'Sources: Food Code; a margin for the error of what is computed. Partly cited from memory.'
    """
    cited: dict[str, None] = {}
    own: dict[str, None] = {}
    given = recipe.caution_sources[: len(recipe.cautions)]
    for source in (s for text in given for s in re.split(r"(?<=\]); ", text) if s):
        key = _KEY.search(source)
        if key and key[1] in _OWN:
            own[_OWN[key[1]]] = None
        else:
            cited[_RECALLED.sub("", _KEY.sub("", source))] = None
    if not cited and not own:
        return ""
    memory = " Partly cited from memory." if any(map(_RECALLED.search, given)) else ""
    return f"Sources: {'; '.join((*cited, *own))}.{memory}"


def keeping_text(recipe: Recipe) -> str:
    """How it is kept; the temperature is left to a caution that tells it."""
    if any(_COLD in caution for caution in recipe.cautions):
        return f"How long it keeps is not computed here. {CODES_SENTENCE}"
    return recipe.storage


def small_print(recipe: Recipe) -> list[str]:
    """What is less sure, and what each name was taken for."""
    doubts = [text for text in map(doubt_text, recipe.profile) if text]
    said = [f"Less sure: {'; '.join(doubts)}."] if doubts else []
    if recipe.resolved:
        said.append(f"Names were taken for: {'; '.join(recipe.resolved)}.")
    return said


def readings_sentence(recipe: Recipe) -> str:
    """What is computed of the water in it on one line; empty where nothing is."""
    said = "; ".join(
        f"{what[:1].lower() + what[1:]} {value}" for what, value in reading_rows(recipe)
    )
    return f"Computed: {said}." if said else ""
