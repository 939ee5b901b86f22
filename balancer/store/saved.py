"""What the store hands out: profiles, recipes, ingredients and rounds as they are kept."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from balancer.store.checks import Document
from balancer.store.records import Row


@dataclass(frozen=True)
class SavedProfile:
    """A profile as it is kept.

    Parameters
    ----------
    name : str
        Its name.
    levels : mapping of str to float
        Axis to level per 100 g of sauce [axis unit].
    note : str
        The cook's note.
    revision : int
        1 for the first saving.
    saved_at : str
        When, ISO 8601 in UTC.
    """

    name: str
    levels: Mapping[str, float]
    note: str
    revision: int
    saved_at: str


@dataclass(frozen=True)
class Saved:
    """What is kept under a name, in revisions.

    Parameters
    ----------
    id : int
        Stays the same when it is renamed; never used again.
    name : str
        Its name.
    revision : int
        1 for the first saving.
    saved_at : str
        When, ISO 8601 in UTC.
    document : mapping
        What was saved.
    """

    id: int
    name: str
    revision: int
    saved_at: str
    document: Document


class SavedRecipe(Saved):
    """A recipe as it is kept."""


class SavedIngredient(Saved):
    """An ingredient of the kitchen's own as it is kept."""


@dataclass(frozen=True)
class SavedRound:
    """A round of tasting as it is kept.

    Parameters
    ----------
    number : int
        1 for the first round of its recipe; never used again while the recipe is kept.
    recipe : str
        Name of the recipe that was tasted.
    saved_at : str
        When, ISO 8601 in UTC.
    document : mapping
        What was saved.
    """

    number: int
    recipe: str
    saved_at: str
    document: Document


@dataclass(frozen=True)
class Imported:
    """What an import brought in.

    Parameters
    ----------
    profiles, recipes : int
        Entries that were added or got new revisions or rounds [1].
    renamed : tuple of str
        Names under which entries were kept beside those of the same name.
    unchanged : int
        Entries passed over because they were there already, or were to be skipped [1].
    rounds : int
        Rounds of tasting that were added [1].
    ingredients : int
        Ingredients of the kitchen's own that were added or got new revisions [1].
    """

    profiles: int
    recipes: int
    renamed: tuple[str, ...]
    unchanged: int
    rounds: int
    ingredients: int = 0


def profile_of(row: Row) -> SavedProfile:
    """Read a profile from its row."""
    document = json.loads(row.document)
    return SavedProfile(row.name, document["levels"], document["note"], row.number, row.saved_at)


def recipe_of(row: Row) -> SavedRecipe:
    """Read a recipe from its row."""
    return SavedRecipe(row.id, row.name, row.number, row.saved_at, json.loads(row.document))


def ingredient_of(row: Row) -> SavedIngredient:
    """Read an ingredient of the kitchen's own from its row."""
    return SavedIngredient(row.id, row.name, row.number, row.saved_at, json.loads(row.document))


def round_of(row: Row) -> SavedRound:
    """Read a round of tasting from its row."""
    return SavedRound(row.number, row.name, row.saved_at, json.loads(row.document))
