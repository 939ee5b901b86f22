"""The saved work of a cook: profiles and recipes in one SQLite file.

:mod:`checks` refuses names and documents that cannot be kept, :mod:`exchange` writes and reads the
whole book, :mod:`file` opens the file and keeps its schema, :mod:`records` holds the queries.
:class:`Store` is what the rest of the project uses.
"""

from balancer.store.checks import checked_name, read_document
from balancer.store.file import data_home
from balancer.store.kept import Imported, SavedProfile, SavedRecipe, Store

__all__ = [
    "Imported",
    "SavedProfile",
    "SavedRecipe",
    "Store",
    "checked_name",
    "data_home",
    "read_document",
]
