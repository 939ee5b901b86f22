"""A recipe as text or bytes for others to read; nothing here touches a file.

A format joins by one entry in :data:`FORMATS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from balancer.errors import BadInput
from balancer.export.markdown import markdown
from balancer.export.table import csv
from balancer.export.text import safe_filename
from balancer.recipe import Recipe

__all__ = ["FORMATS", "Format", "Page", "csv", "export", "markdown", "safe_filename"]


@dataclass(frozen=True)
class Format:
    """One way to write a recipe.

    Parameters
    ----------
    write : callable
        Recipe to text or bytes.
    mime : str
        Media type of what it returns.
    suffix : str
        Ending of a file of it, with the dot.
    """

    write: Callable[[Recipe], str | bytes]
    mime: str
    suffix: str


@dataclass(frozen=True)
class Page:
    """A written recipe: its bytes, their media type, and a file name that suits everywhere."""

    content: bytes
    mime: str
    file_name: str


#: Name of a format, as asked for on the command line, to the format.
FORMATS: Mapping[str, Format] = MappingProxyType(
    {
        "markdown": Format(markdown, "text/markdown; charset=utf-8", ".md"),
        "csv": Format(csv, "text/csv; charset=utf-8", ".csv"),
    }
)


def export(recipe: Recipe, form: str) -> Page:
    """Write a recipe in one of the formats.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    form : str
        A key of :data:`FORMATS`.

    Returns
    -------
    Page
        Bytes (text in UTF-8), media type and file name.

    Raises
    ------
    BadInput
        If there is no such format.
    """
    if form not in FORMATS:
        raise BadInput(f"No format is called {form[:60]!r}. Choose one of: {', '.join(FORMATS)}.")
    chosen = FORMATS[form]
    written = chosen.write(recipe)
    content = written if isinstance(written, bytes) else written.encode()
    return Page(content, chosen.mime, safe_filename(recipe.name, chosen.suffix))
