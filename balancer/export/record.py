"""The full record of one recipe: everything that was asked and answered, in one file.

It is read back without loss, here or on another machine; nothing in it is run.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from balancer.errors import BadInput
from balancer.plain import plain_json
from balancer.recipe import Recipe

FORMAT = "balancer recipe"
VERSION = 1
#: Other recipes and own ingredients that it is made from, in a record.
NEEDS = "needs"
#: Parts of a saved document; those after the second are there only if there is something to say.
PARTS = ("request", "answer", "method", "times_min", NEEDS)


@dataclass(frozen=True)
class Record:
    """A recipe as it was written out.

    Parameters
    ----------
    name : str
        Its name.
    revision : int
        Which saving of it this is.
    date : str
        When it was saved, ISO 8601; empty where that is not known.
    tasted : str
        Who tasted last.
    document : mapping
        The saved document, as :mod:`balancer.recipe` describes it.
    """

    name: str
    revision: int
    date: str
    tasted: str
    document: Mapping[str, Any]


def record(recipe: Recipe) -> str:
    """Write a recipe with the request and the answer that it came from, as JSON.

    Parameters
    ----------
    recipe : Recipe
        A recipe read from a saved document.

    Returns
    -------
    str
        JSON that :func:`read_record` reads back.

    Raises
    ------
    BadInput
        If the recipe did not come from a saved document.
    """
    missing = [part for part in PARTS[:2] if part not in recipe.document]
    if missing:
        raise BadInput(
            f"The recipe {recipe.name[:60]!r} has no saved {missing[0]} to write out. Solve and"
            " save it, or choose another format."
        )
    document = {
        "format": FORMAT,
        "version": VERSION,
        "name": recipe.name,
        "revision": recipe.revision,
        "date": recipe.date,
        "tasted": recipe.tasted,
        **{part: recipe.document[part] for part in PARTS if part in recipe.document},
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_record(text: str | bytes) -> Record:
    """Read what :func:`record` wrote.

    Parameters
    ----------
    text : str or bytes
        JSON; bytes are taken as UTF-8.

    Returns
    -------
    Record
        The record; :func:`balancer.recipe.from_document` makes a recipe of its document and looks
        into the parts.

    Raises
    ------
    BadInput
        If it is too large, too deep, not JSON, not such a record, or of a later version.
    """
    value = plain_json(text, "The recipe file")
    if not isinstance(value, dict) or value.get("format") != FORMAT:
        raise BadInput(
            "The recipe file is not a full record of this program. A page of another program is"
            " read as linked data instead."
        )
    version, revision = value.get("version"), value.get("revision")
    if version != VERSION:
        raise BadInput(
            f"The recipe file is of version {repr(version)[:20]}; this program reads version"
            f" {VERSION}. Open it with the program that wrote it, or install a newer one."
        )
    name = value.get("name")
    if not isinstance(name, str) or not name.strip():
        raise BadInput("The recipe file has no name. Write one into its field 'name'.")
    if not isinstance(revision, int) or isinstance(revision, bool) or revision < 1:
        raise BadInput(
            f"The recipe file has {str(revision)[:20]} for its revision. Write a whole number"
            " from 1 into its field 'revision'."
        )
    for part in PARTS[:2]:
        if not isinstance(value.get(part), dict):
            raise BadInput(f"The recipe file {name[:60]!r} has no {part}. Write it out again.")
    date, tasted = (v if isinstance(v := value.get(k), str) else "" for k in ("date", "tasted"))
    return Record(name, revision, date, tasted, {p: value[p] for p in PARTS if p in value})
