"""Commands for what a cook brings along: a written draft, and a label."""

from __future__ import annotations

import json

import click

from balancer.cli.common import kitchen, print_json, read, write
from balancer.errors import BadInput


@click.command()
@click.argument("draft", metavar="FILE")
@click.option("--save-request", metavar="FILE", help="Write the draft as a request, all locked.")
@click.option("--json", "as_json", is_flag=True, help="Print the lines as a document.")
def paste(draft: str, save_request: str | None, as_json: bool) -> None:
    """Read recipe lines into grams; `-` reads standard input.

    Each line is shown with its grams, the ingredient it is taken for, how sure that is, and what
    else it may mean. Every weight is of the part that is eaten.
    """
    from balancer.parse_request import draft_document, draft_table

    found = kitchen().paste(read(draft, "The draft"))
    report = found.report()
    if as_json:
        print_json({"lines": draft_document(found.lines), "report": list(report)})
    else:
        click.echo(draft_table(found.lines))
        click.echo("\n".join(("", *report)) if report else "")
    if save_request is not None:
        document = found.request(locked=True)
        content = json.dumps(document, indent=2, ensure_ascii=False) + "\n"
        write(save_request, content.encode("utf-8"))
        click.echo(
            f"Wrote {len(document['ingredients'])} ingredients, {document['yield_g']:g} g, to"
            f" {save_request!r}. Its target is empty and every quantity locked: `balancer solve`"
            " reports the draft as it is. Free quantities and set levels to balance it.",
            err=as_json,
        )


@click.command()
@click.argument("path", metavar="FILE.json")
@click.option("--json", "as_json", is_flag=True, help="Print the vector as a document.")
def label(path: str, as_json: bool) -> None:
    """Infer an ingredient from its nutrition label and readings; `-` reads standard input."""
    from balancer.inferring import inferred
    from balancer.own import Own
    from balancer.specification import inferred_document, inferred_text

    try:
        document = json.loads(read(path, "The label"))
    except (ValueError, RecursionError):
        raise BadInput(
            f"{path!r} is not a JSON document. Write one such as"
            ' {"name": "plum sauce", "label": {"form": "EU", "per_g": 100, "sugars_g": 36,'
            ' "carbohydrate_g": 38, "salt_g": 1.5}}.'
        ) from None
    found = inferred(Own.from_document(document), kitchen().catalogue)
    if as_json:
        print_json(inferred_document(found))
    else:
        click.echo(inferred_text(found))
