"""The saved work of a cook: profiles, recipes with rounds, own ingredients, in one SQLite file.

:mod:`checks` refuses names and documents that cannot be kept, :mod:`exchange` writes and reads the
whole book, :mod:`merge` settles what an import adds, :mod:`file` opens the file, :mod:`schema`
takes it to today's form after :mod:`backup` has copied it, :mod:`records` holds the queries.
:class:`Store` is what the rest of the project uses.
"""

from balancer.store.checks import checked_name, read_document
from balancer.store.file import data_home
from balancer.store.kept import Store
from balancer.store.saved import (
    Imported,
    SavedIngredient,
    SavedProfile,
    SavedRecipe,
    SavedRound,
)

__all__ = [
    "Imported",
    "SavedIngredient",
    "SavedProfile",
    "SavedRecipe",
    "SavedRound",
    "Store",
    "checked_name",
    "data_home",
    "read_document",
]
