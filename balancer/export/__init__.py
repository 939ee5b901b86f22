"""A recipe as text or bytes for others to read, and such files read back; no file is touched here.

A format joins by one entry in :data:`FORMATS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from balancer.errors import BadInput
from balancer.export.jsonld import jsonld
from balancer.export.label import label
from balancer.export.markdown import markdown
from balancer.export.options import PANELS, PAPERS, USUAL, Options
from balancer.export.page import html
from balancer.export.pdf import pdf
from balancer.export.profile import profile
from balancer.export.readback import Foreign, read_jsonld
from balancer.export.record import Record, read_record, record
from balancer.export.table import csv
from balancer.export.text import one_line, safe_filename
from balancer.recipe import Order, Recipe

__all__ = [
    "FORMATS",
    "PANELS",
    "PAPERS",
    "Foreign",
    "Format",
    "Options",
    "Page",
    "Record",
    "csv",
    "export",
    "html",
]
__all__ += ["jsonld", "label", "markdown", "pdf", "profile", "read_jsonld", "read_record"]
__all__ += ["record", "safe_filename"]


@dataclass(frozen=True)
class Format:
    """One way to write a recipe.

    Parameters
    ----------
    write : callable
        Recipe and options to text or bytes.
    mime : str
        Media type of what it returns.
    suffix : str
        Ending of a file of it, with the dot.
    told : str
        What it is, for a cook who chooses.
    binary : bool
        Whether it is bytes that no terminal can show.
    """

    write: Callable[[Recipe, Options], str | bytes]
    mime: str
    suffix: str
    told: str
    binary: bool = False


@dataclass(frozen=True)
class Page:
    """A written recipe: its bytes, their media type, and a file name that suits everywhere."""

    content: bytes
    mime: str
    file_name: str


def _plain(write: Callable[[Recipe], str]) -> Callable[[Recipe, Options], str]:
    return lambda recipe, _: write(recipe)


#: Name of a format, as asked for on the command line, to the format.
FORMATS: Mapping[str, Format] = MappingProxyType(
    {
        "markdown": Format(
            _plain(markdown), "text/markdown; charset=utf-8", ".md", "Recipe to read"
        ),
        "csv": Format(_plain(csv), "text/csv; charset=utf-8", ".csv", "Table of grams"),
        "json": Format(_plain(record), "application/json", ".json", "Full record"),
        "jsonld": Format(_plain(jsonld), "application/ld+json", ".jsonld", "Linked data"),
        "html": Format(_plain(html), "text/html; charset=utf-8", ".html", "Page to print"),
        "pdf": Format(pdf, "application/pdf", ".pdf", "Page as PDF", binary=True),
        "label": Format(label, "application/pdf", " label.pdf", "Label for the tub", binary=True),
        "profile": Format(_plain(profile), "image/svg+xml", " balance.svg", "Picture of balance"),
    }
)


def decided(recipe: Recipe, options: Options) -> Recipe:
    """The recipe as its cook decided: which panels, who tasted it, with which picture."""
    panels = {"both": tuple(Order), "none": ()}.get(options.nutrition, (options.nutrition,))
    taster = one_line(options.taster)
    return replace(
        recipe,
        nutrition=tuple(p for p in recipe.nutrition if p.order in panels),
        tasted=", ".join(t for t in (recipe.tasted, taster and f"by {taster}") if t),
        image=options.image.strip() or recipe.image,
    )


def export(recipe: Recipe, form: str, options: Options = USUAL) -> Page:
    """Write a recipe in one of the formats.

    Parameters
    ----------
    recipe : Recipe
        The recipe.
    form : str
        A key of :data:`FORMATS`.
    options : Options
        Dates of the label, paper of the PDF, panels, taster and picture.

    Returns
    -------
    Page
        Bytes (text in UTF-8), media type and file name.

    Raises
    ------
    BadInput
        If there is no such format, or the recipe lacks what it needs.
    """
    if form not in FORMATS:
        raise BadInput(f"No format is called {form[:60]!r}. Choose one of: {', '.join(FORMATS)}.")
    chosen = FORMATS[form]
    written = chosen.write(decided(recipe, options), options)
    content = written if isinstance(written, bytes) else written.encode(errors="replace")
    return Page(content, chosen.mime, safe_filename(recipe.name, chosen.suffix))
