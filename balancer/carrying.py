"""What a recipe needs from its kitchen to be made in another one, and how it is taken in there.

A record carries the saved sauces that stand in a recipe and the ingredients of the kitchen's own
that it names, to any depth. Where it is taken in, nothing that is there already is changed.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from balancer.composite import recipes_in
from balancer.errors import BadInput, BalancerError, NotSaved
from balancer.export import Record
from balancer.export.record import NEEDS
from balancer.intact import checked_sauce
from balancer.larder import Larder
from balancer.own import own_key
from balancer.own_kept import Kept, uses
from balancer.store import Store

#: More recipes and ingredients than this in one file are taken for a slip.
MOST_CARRIED = 1000


def needs_of(document: Mapping[str, Any], store: Store, larder: Larder) -> dict[str, Any]:
    """What a recipe needs of its kitchen, as a part of its record.

    Parameters
    ----------
    document : mapping
        Its request and its answer.
    store : Store
    larder : Larder

    Returns
    -------
    dict
        ``recipes`` and ``ingredients``, name to document; empty if it needs neither.
    """
    recipes: dict[str, Mapping[str, Any]] = {}
    ahead = [document]
    while ahead:
        for name in recipes_in(ahead.pop()["request"]):
            if name not in recipes:
                recipes[name] = store.recipe(name).document
                ahead.append(recipes[name])
    own = {
        i.name: i.kept.to_document()
        for i in larder.all()
        if i.kept is not None
        and any(uses(d, i.name, own_key(i.name)) for d in (document, *recipes.values()))
    }
    found = {"recipes": recipes, "ingredients": own}
    return {kind: kept for kind, kept in found.items() if kept}


def take_in(record: Record, name: str, store: Store, larder: Larder) -> tuple[str, ...]:
    """Keep a recipe that came in a record, with what it needs.

    Parameters
    ----------
    record : Record
    name : str
        Name for it here.
    store : Store
    larder : Larder

    Returns
    -------
    tuple of str
        What was kept, and what is different here, as sentences.

    Raises
    ------
    BadInput
        If a part of the record is damaged.
    NameTaken
        If a recipe of that name is here; nothing is kept then.
    """
    recipes, own = (_carried(record, kind) for kind in ("recipes", "ingredients"))
    brought = {n: Kept.from_document(n, document) for n, document in own.items()}
    for carried in recipes.values():
        checked_sauce(carried)
    document = {part: value for part, value in record.document.items() if part != NEEDS}
    kept = store.save_recipe(name, document)
    said = [f"Kept as {kept.name!r}, revision {kept.revision}."]
    there = {i.name: i.kept for i in larder.all()}
    for ingredient, lot in brought.items():
        if ingredient not in there:
            said.append(_kept_beside(lot, larder))
        elif (here := there[ingredient]) is None or here.own != lot.own:
            said.append(f"The ingredient {ingredient!r} is another one here, and is used.")
    for inner, found in recipes.items():
        try:
            same = store.recipe(inner).document == found
            said += [] if same else [f"The sauce {inner!r} is another one here, and is used."]
        except NotSaved:
            store.save_recipe(inner, found)
            said.append(f"Kept the sauce {inner!r}, which stands in it.")
    return tuple(said)


def _kept_beside(lot: Kept, larder: Larder) -> str:
    try:
        larder.save(lot.own)
    except BalancerError as error:  # the recipe is kept all the same
        return f"The ingredient {lot.own.name!r} is not kept. {error}"
    return f"Kept the ingredient {lot.own.name!r} beside the pantry."


def _carried(record: Record, kind: str) -> dict[str, Mapping[str, Any]]:
    needs = record.document.get(NEEDS, {})
    found = needs.get(kind, {}) if isinstance(needs, Mapping) else None
    documents = list(found.values()) if isinstance(found, Mapping) else [None]
    if len(documents) > MOST_CARRIED or not all(isinstance(d, Mapping) for d in documents):
        raise BadInput(
            f"The recipe file {record.name[:60]!r} holds {kind} that cannot be read. Write it out"
            " again where it came from."
        )
    return {} if found is None else dict(found)
