"""Commands for ingredients of the kitchen's own: from a label, from readings, or from both."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import reduce
from typing import TYPE_CHECKING, Any

import click

from balancer.cli.common import NUMBER, kitchen, print_json, read
from balancer.errors import BadInput

if TYPE_CHECKING:
    from balancer.inferring import Inferred
    from balancer.larder import OwnIngredient

#: Options in the words of the bench, and the fields of an own ingredient that they set.
FIGURES: Mapping[str, tuple[str, str]] = {
    "--brix": ("brix", "Refractometer [degrees Brix]."),
    "--ph": ("ph", "pH by strip or meter."),
    "--acidity": ("acidity_pct", "Titratable acidity [g/100 g], as --acid."),
    "--salt": ("salt_pct", "Salt by meter or strip [g/100 g]."),
}
WORDS: Mapping[str, tuple[str, str]] = {
    "--acid": ("acid", "The acid that all of it is taken for, as citric."),
    "--sugar": ("sugar", "The sugar that all of it is taken for, as sucrose."),
    "--of": ("of", "The ingredient that it is a lot of: 'my limes' are limes."),
    "--like": ("like", "A food it resembles; what that lends is assumed."),
}
_FIELDS = {field: name.removeprefix("--") for name, (field, _) in {**FIGURES, **WORDS}.items()}

Command = Callable[..., Any]


def _known(command: Command) -> Command:
    """What is known of an ingredient, as options."""
    options = [
        click.option(
            "--label", "label_path", metavar="FILE",
            help="Its nutrition label: the text, or a JSON document; `-` reads standard input.",
        ),
        *(click.option(n, f, type=NUMBER, help=h) for n, (f, h) in FIGURES.items()),
        *(click.option(n, f, metavar="NAME", help=h) for n, (f, h) in WORDS.items()),
        click.option("--allergens", metavar="WORDS", help="As on the packet, commas between."),
        click.option("--json", "as_json", is_flag=True, help="Print the vector as a document."),
    ]  # fmt: skip
    return reduce(lambda inner, option: option(inner), reversed(options), command)


@click.group()
def own() -> None:
    """Ingredients of your own: keep, list, show, edit, duplicate, rename, delete."""


@own.command()
@click.argument("name")
@click.option("--for-good", is_flag=True, help="Let it take the place of the one it is a lot of.")
@click.option("--replace", is_flag=True, help="Keep it over a name in use; older ones stay.")
@click.option("--look", is_flag=True, help="Only show what would be kept.")
@_known
def keep(name: str, for_good: bool, replace: bool, look: bool, as_json: bool, **given: Any) -> None:
    """Keep an ingredient from its label, from readings, or from any mix of the two."""
    from balancer.own import Own

    place = kitchen()
    document, notes = _document(given)
    made = Own.from_document({**document, "name": name})
    if look:
        _shown(place.infer(made), notes, as_json)
        return
    found = place.save_own(made, takes_place=for_good, replace_it=replace)
    _shown(found, notes, as_json)
    where = f" in place of {found.ingredient.name}" if for_good else ""
    click.echo(f"Kept {name!r}{where}.", err=as_json)


@own.command()
@click.argument("name")
@click.option("--for-good/--beside", default=None, help="Take the pantry's place, or stand beside.")
@click.option("--clear", multiple=True, metavar="FIGURE", help="Forget one, as ph or label.")
@_known
def edit(
    name: str, for_good: bool | None, clear: tuple[str, ...], as_json: bool, **given: Any
) -> None:
    """Change what is known of an ingredient; what is not named stays."""
    from balancer.own import Own

    place = kitchen()
    kept = place.own(name)
    before = kept.own.to_document()
    by_word = {word: field for field, word in _FIELDS.items()} | {
        "label": "label", "allergens": "allergens",
    }  # fmt: skip
    for word in clear:
        if by_word.get(word) not in before:
            known = ", ".join(w for w, f in by_word.items() if f in before)
            raise BadInput(f"{name!r} has no {word[:40]!r} to clear. It has: {known}.")
        del before[by_word[word]]
    document, notes = _document(given)
    for one, other in (("of", "like"), ("like", "of")):
        if one in document:
            before.pop(other, None)
    stands = kept.takes_place if for_good is None else for_good
    made = Own.from_document({**before, **document})
    found = place.save_own(made, takes_place=stands, replace_it=True)
    _shown(found, notes, as_json)
    click.echo(f"Kept {name!r}.", err=as_json)


@own.command(name="list")
@click.option("--json", "as_json", is_flag=True, help="Print a document instead of a table.")
def list_own(as_json: bool) -> None:
    """Show the ingredients of your own."""
    found = kitchen().own_ingredients()
    if as_json:
        print_json([{"name": i.name, "revision": i.revision, "trouble": i.trouble,
                     **(i.kept.to_document() if i.kept else {})} for i in found])  # fmt: skip
    elif not found:
        click.echo(
            "There is none yet. `balancer own keep 'my limes' --of 'lime juice' --ph 2.3"
            " --acidity 7` keeps one."
        )
    else:
        width = max(len(i.name) for i in found)
        for i in found:
            click.echo(f"{i.name:<{width}}  {known_text(i)}")


def known_text(ingredient: OwnIngredient) -> str:
    """In a line: what an ingredient is a lot of, or like, and what is known of it."""
    if ingredient.kept is None or ingredient.trouble:
        return f"cannot be used: {ingredient.trouble}"
    made = ingredient.kept.own
    parts = []
    if made.of:
        takes = "in place of" if ingredient.kept.takes_place else "a lot of"
        parts.append(f"{takes} {made.of}")
    if made.like:
        parts.append(f"like {made.like}")
    if made.label is not None:
        parts.append("its label")
    for name, value, unit in (
        ("", made.brix, "degrees Brix"),
        ("acidity", made.acidity_pct, "g/100 g"),
        ("pH", made.ph, ""),
        ("salt", made.salt_pct, "g/100 g"),
    ):
        if value is not None:
            parts.append(f"{name} {value:g} {unit}".strip())
    return ", ".join(parts)


@own.command()
@click.argument("name")
@click.option("--json", "as_json", is_flag=True, help="Print what is kept as a document.")
def show(name: str, as_json: bool) -> None:
    """Show one of your own: what is known of it, what follows, and which recipes use it."""
    place = kitchen()
    kept = place.own(name)
    users = place.used_by(name)
    if as_json:
        print_json({"name": kept.own.name, **kept.to_document(), "used_by": list(users)})
        return
    _shown(place.infer(kept.own), (), False)
    if kept.takes_place:
        click.echo(f"It takes the place of {kept.own.of} for good.")
    click.echo(f"Used by: {', '.join(users)}." if users else "No saved recipe uses it by its name.")


@own.command()
@click.argument("name")
@click.argument("new")
def duplicate(name: str, new: str) -> None:
    """Keep a copy under another name, to be edited."""
    kitchen().duplicate_own(name, new)
    click.echo(f"Kept {new!r}, a copy of {name!r}.")


@own.command()
@click.argument("old")
@click.argument("new")
def rename(old: str, new: str) -> None:
    """Give one another name; refused while a recipe uses it by the old one."""
    kitchen().rename_own(old, new)
    click.echo(f"Renamed {old!r} to {new!r}.")


@own.command()
@click.argument("name")
def delete(name: str) -> None:
    """Delete one with its revisions; refused while a recipe uses it."""
    kitchen().delete_own(name)
    click.echo(f"Deleted {name!r}.")


def _document(given: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """What the options say, as fields of an own ingredient, with sentences on the label."""
    document = {f: v for f, v in given.items() if f in _FIELDS and v is not None}
    notes: tuple[str, ...] = ()
    if given["label_path"] is not None:
        label, notes = _label(given["label_path"])
        document = {**label, **document}
    if given["allergens"] is not None:
        document["allergens"] = [w.strip() for w in given["allergens"].split(",") if w.strip()]
    return document, notes


def _label(path: str) -> tuple[dict[str, Any], tuple[str, ...]]:
    from balancer.label_text import read_label
    from balancer.store import read_document

    text = read(path, "The label")
    if not text.lstrip().startswith("{"):
        found = read_label(text)
        return {"label": found.label.to_document()}, found.notes
    document = read_document(text, "The label")
    if "label" in document or "name" in document:  # a whole ingredient, as `balancer label` reads
        document.pop("name", None)
        return document, ()
    return {"label": document}, ()


def _shown(found: Inferred, notes: tuple[str, ...], as_json: bool) -> None:
    from balancer.specification import inferred_document, inferred_text

    if as_json:
        document = inferred_document(found)
        document["notes"] = [*notes, *document["notes"]]
        click.echo(json.dumps(document, indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join((inferred_text(found), *notes)))
