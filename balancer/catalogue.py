"""Where names and numbers lead to foods: curated ingredients, the whole table, and one's own.

The tables are read once, by :mod:`balancer.tables`. A kitchen stocks a catalogue with ingredients
of its own and with its saved recipes; the tables behind it stay the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from functools import cache, cached_property
from pathlib import Path
from typing import Any

from balancer.composition import Ingredient
from balancer.errors import DataProblem, NotSaved
from balancer.measures import Measure
from balancer.tables import Source, Tables, data_directory


class Catalogue:
    """Everything the tables know.

    Parameters
    ----------
    directory : Path or None
        Directory of the tables; None takes the project's own.

    Raises
    ------
    DataProblem
        When a table is missing or damaged.
    """

    def __init__(self, directory: Path | None = None) -> None:
        self._tables = Tables(directory or data_directory())
        self._own: tuple[Ingredient, ...] = ()
        self._recipes: Callable[[str], Mapping[str, Any]] | None = None

    def stocked(
        self,
        own: Iterable[Ingredient] = (),
        recipes: Callable[[str], Mapping[str, Any]] | None = None,
    ) -> Catalogue:
        """These tables with a kitchen's own ingredients and saved recipes beside them.

        Parameters
        ----------
        own : iterable of Ingredient
            One with the key of a pantry ingredient takes its place.
        recipes : callable or None
            From the name of a saved recipe to its document.
        """
        found = Catalogue(self.directory)
        found._tables, found._own, found._recipes = self._tables, tuple(own), recipes
        return found

    @property
    def directory(self) -> Path:
        """Directory of the tables."""
        return self._tables.directory

    @property
    def own(self) -> tuple[Ingredient, ...]:
        """The kitchen's own ingredients."""
        return self._own

    def recipe(self, name: str) -> Mapping[str, Any]:
        """The document of a saved recipe that is used as an ingredient.

        Raises
        ------
        NotSaved
            If there is none of that name, or no kitchen book to look in.
        """
        if self._recipes is None:
            raise NotSaved(f"There is no kitchen book here to look up the recipe {name[:60]!r} in.")
        return self._recipes(name)

    @cached_property
    def pantry(self) -> tuple[Ingredient, ...]:
        """The sauce ingredients: the kitchen's own first, then the curated ones."""
        if not self._own:
            return self._tables.curated
        keys = {i.key for i in self._own}
        return self._own + tuple(i for i in self._tables.curated if i.key not in keys)

    @property
    def table(self) -> tuple[Ingredient, ...]:
        """Every food of the open table, the curated ones left out."""
        return self._tables.table

    @cached_property
    def by_key(self) -> Mapping[str, Ingredient]:
        """Pantry ingredients by key."""
        return {i.key: i for i in self.pantry}

    def food(self, key: str) -> Ingredient:
        """The ingredient with a food number, from the pantry or from the table.

        Raises
        ------
        DataProblem
            If no food has that number.
        """
        if key in self.by_key:
            return self.by_key[key]
        found = next((f for f in self.table if f.key == key), None)
        if found is None:
            raise DataProblem(f"No food has the number {key!r}. It may come from another release.")
        return found

    @cached_property
    def everything(self) -> tuple[Ingredient, ...]:
        """Pantry and table together."""
        return self.pantry + self.table

    def measures(self, key: str) -> tuple[Measure, ...]:
        """Household measures of a food; empty where the table gives none.

        A lot of a food, on its shelf, is measured like it. A second ingredient on a row of the
        table has only the spoons that the row lends it (``data/curated/lent_measures.csv``).
        """
        known = self._tables.measures
        food = self.by_key.get(key)
        if food is not None and food.kin is not None and food.group == food.kin.group:
            key = food.kin.key
        return known.get(key, ())

    @property
    def sources(self) -> Mapping[str, Source]:
        """Sources by key."""
        return self._tables.sources


@cache
def default_catalogue() -> Catalogue:
    """The project's own tables, read once."""
    return Catalogue()
