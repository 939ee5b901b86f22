"""The command line: thin over :mod:`balancer.kitchen`."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import Any

import click

from balancer.cli.common import (
    ALSO,
    GROWTH,
    MADE,
    SCALE,
    kitchen,
    print_json,
    read,
    weighed,
    write,
)
from balancer.cli.drafts import label, paste
from balancer.cli.handing import measures, nutrition, scale, shop
from balancer.cli.ideas import instead, missing, otherways
from balancer.cli.own import own
from balancer.cli.panels import panel
from balancer.cli.parts import parts
from balancer.cli.pots import measured, pot
from balancer.cli.rounds import back, compare, rounds, spoons, taste
from balancer.errors import BadInput, BalancerError

BAD_INPUT = 2


class SentenceGroup(click.Group):
    """Shows an error of the project as one sentence on standard error, with exit code 2."""

    def main(self, *args: Any, **kwargs: Any) -> Any:
        """Run, and turn every error of the project into its sentence."""
        try:
            return super().main(*args, **kwargs)
        except BalancerError as error:
            click.echo(" ".join(str(error).split()), err=True)
            sys.exit(BAD_INPUT)


@click.group(cls=SentenceGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="balancer")
def main() -> None:
    """Turn what you tasted into grams."""


@main.command()
@click.argument("words", nargs=-1, required=True)
@click.option("--limit", default=8, show_default=True, help="Largest number of names.")
@click.option("--json", "as_json", is_flag=True, help="Print a document instead of a table.")
def pantry(words: Sequence[str], limit: int, as_json: bool) -> None:
    """Search the pantry and the food table; typing errors are forgiven."""
    from balancer.cli.show import hits_table

    hits = kitchen().find(" ".join(words), limit)
    if as_json:
        print_json(
            [
                {"name": h.ingredient.name, "key": h.ingredient.key, "pantry": h.in_pantry,
                 "matched": h.matched, "score": round(h.score, 1)}
                for h in hits
            ]
        )  # fmt: skip
        return
    if not hits:
        raise BadInput(
            f"Nothing in the pantry or the table is like {' '.join(words)[:60]!r}."
            " Try a plainer word."
        )
    click.echo(hits_table(hits))


@main.command()
@click.argument("request", metavar="REQUEST.json")
@click.option("--json", "as_json", is_flag=True, help="Print the answer as a document.")
@click.option("--save", "name", metavar="NAME", help="Keep request and answer as a recipe.")
@click.option("--replace", is_flag=True, help="Save over a name in use; older revisions stay.")
@click.option("--model", is_flag=True, help="Print the linear program as algebra and stop.")
def solve(request: str, as_json: bool, name: str | None, replace: bool, model: bool) -> None:
    """Find the grams for a request; `-` reads standard input."""
    from balancer.answer import spread_document
    from balancer.cli.show import outcome_text
    from balancer.store import read_document

    place = kitchen()
    document = read_document(read(request, "The request"), "The request")
    if model:
        from balancer.program import build
        from balancer.request import problem_from

        click.echo(build(problem_from(document, place.catalogue)).lp.algebra())
        return
    outcome = place.solve(document)
    outcome.answer["how_sure"] = spread_document(place.how_sure(outcome))
    if as_json:
        print_json(outcome.answer)
    else:
        click.echo(outcome_text(outcome.answer))
    if name is not None:
        revision = place.save(name, outcome, replace_it=replace)
        click.echo(f"Saved as {name!r}, revision {revision}.", err=as_json)


@main.command()
@click.argument("name")
@click.argument("words")
@MADE
@ALSO
@GROWTH
@SCALE
@click.option("--json", "as_json", is_flag=True, help="Print both answers as a document.")
@click.option("--save", "new_name", metavar="NAME", help="Keep the next batch as a recipe.")
@click.option("--replace", is_flag=True, help="Save over a name in use; older revisions stay.")
def nudge(
    name: str,
    words: str,
    made: tuple[str, ...],
    also: tuple[str, ...],
    growth: float,
    scale: float,
    as_json: bool,
    new_name: str | None,
    replace: bool,
) -> None:
    """Say how a saved sauce tasted: "less sour, a touch sweeter".

    The answer comes twice: what to add to this pot, and the next batch.
    """
    from balancer.cli.show import nudge_document, nudge_text

    place = kitchen()
    saved = place.saved(name)
    result = place.nudge(
        saved["request"],
        saved["answer"],
        words,
        made_g=weighed(made),
        also=also,
        growth=growth / 100.0,
    )
    if as_json:
        print_json(nudge_document(result))
    else:
        click.echo(nudge_text(result, place.how_to_add(result, scale), words))
    if new_name is not None:
        revision = place.save(new_name, result.next_batch, replace_it=replace)
        click.echo(f"Saved the next batch as {new_name!r}, revision {revision}.", err=as_json)


@main.command(name="list")
@click.option("--json", "as_json", is_flag=True, help="Print a document instead of a table.")
def list_saved(as_json: bool) -> None:
    """Show the names of the saved recipes and profiles."""
    from balancer.cli.show import saved_table

    store = kitchen().store
    recipes, profiles = store.recipes(), store.profiles()
    if as_json:
        print_json({"recipes": [r.name for r in recipes], "profiles": [p.name for p in profiles]})
    elif not recipes and not profiles:
        click.echo(
            "Nothing is saved yet. `balancer solve REQUEST.json --save NAME` keeps a recipe."
        )
    else:
        click.echo(saved_table(recipes, profiles))


@main.command()
@click.argument("name")
@click.option("--revision", type=int, help="An older revision.")
@click.option("--json", "as_json", is_flag=True, help="Print the request with its answer.")
def show(name: str, revision: int | None, as_json: bool) -> None:
    """Show a saved recipe."""
    from balancer.cli.show import outcome_text

    saved = kitchen().saved(name, revision)
    if as_json:
        print_json(dict(saved))
    else:
        click.echo(outcome_text(saved["answer"]))


KIND = click.Choice(["recipe", "profile"])


@main.command()
@click.argument("kind", type=KIND)
@click.argument("old")
@click.argument("new")
def rename(kind: str, old: str, new: str) -> None:
    """Give a saved recipe or profile another name."""
    place = kitchen()
    (place.rename_recipe if kind == "recipe" else place.store.rename_profile)(old, new)
    click.echo(f"Renamed {old!r} to {new!r}.")


@main.command()
@click.argument("kind", type=KIND)
@click.argument("name")
def delete(kind: str, name: str) -> None:
    """Delete a saved recipe with all its revisions, or a profile."""
    place = kitchen()
    (place.delete_recipe if kind == "recipe" else place.store.delete_profile)(name)
    click.echo(f"Deleted the {kind} {name!r}.")


@main.command()
@click.argument("recipe")
@click.option("--save", "name", required=True, metavar="NAME", help="Name of the profile.")
def profile(recipe: str, name: str) -> None:
    """Keep the levels that a saved recipe reaches as a profile of their own."""
    from balancer.cli.show import profile_text

    place = kitchen()
    reached = {
        axis: entry["reached"] for axis, entry in place.saved(recipe)["answer"]["profile"].items()
    }
    place.store.save_profile(name, reached)
    click.echo(profile_text(reached))
    click.echo(f"Saved as the profile {name!r}.")


@main.command()
@click.argument("name")
@click.option("--as", "kind", default="markdown", show_default=True, help="See the README.")
@click.option("--to", "path", metavar="FILE", help="Where to write; standard output if left out.")
@click.option("--made-on", default="", help="Date on the label.")
@click.option("--use-by", default="", help="Date on the label, as chosen by the cook.")
@click.option("--paper", type=click.Choice(["A4", "letter"]), default="A4", show_default=True)
@click.option(
    "--nutrition", default="us", show_default=True, help="us, eu, both or none: whose panels."
)
@click.option("--tasted-by", default="", help="Who tasted it last.")
@click.option("--image", default="", help="Address or file name of a picture, for linked data.")
def export(
    name: str,
    kind: str,
    path: str | None,
    made_on: str,
    use_by: str,
    paper: str,
    nutrition: str,
    tasted_by: str,
    image: str,
) -> None:
    """Write a saved recipe for another cook."""
    from balancer.export import FORMATS, Options

    if path is None and kind in FORMATS and FORMATS[kind].binary:
        raise BadInput(f"The format {kind} is not text. Name a file with --to.")
    options = Options(made_on, use_by, paper, nutrition, tasted_by, image)
    page = kitchen().export(name, kind, options)
    if path is None:
        click.echo(page.content, nl=False)
        return
    write(path, page.content)
    click.echo(f"Wrote {path}.")


@main.command()
@click.option("--to", "to_path", metavar="FILE", help="Write everything that is saved.")
@click.option("--from", "from_path", metavar="FILE", help="Add what another file holds.")
def book(to_path: str | None, from_path: str | None) -> None:
    """Carry all saved work to another machine, or take it in."""
    place = kitchen()
    if (to_path is None) == (from_path is None):
        raise BadInput("Say either --to FILE, to write the book, or --from FILE, to take one in.")
    if to_path is not None:
        document = place.everything()
        write(to_path, json.dumps(document, indent=1, ensure_ascii=False).encode())
        click.echo(f"Wrote {to_path}.")
        return
    added = place.take_in(read(from_path or "", "The kitchen book"))
    click.echo(
        f"Took in {added.recipes} recipes, {added.profiles} profiles and {added.rounds} rounds,"
        f" with {added.ingredients} own ingredients; {added.unchanged} were there already."
    )
    for name in added.renamed:
        click.echo(f"Kept beside one of the same name: {name!r}.")


@main.command()
@click.argument("path", metavar="FILE")
@click.option("--save", "name", metavar="NAME", help="Name for it here; its own if left out.")
@click.option("--to", "to_path", metavar="FILE", help="Where a request made of it is written.")
def bring(path: str, name: str | None, to_path: str | None) -> None:
    """Bring in a recipe: our own JSON record, or a saved page with a schema.org recipe in it.

    A record is kept as it is. Of a page the ingredient lines are read as a draft, and a request is
    written from it.
    """
    from balancer.parse_request import draft_table

    place = kitchen()
    found = place.brought(read(path, "The recipe"))
    if found.record is not None:
        click.echo("\n".join(place.keep_record(found.record, name or "")))
        return
    if found.draft is not None:
        click.echo(draft_table(found.draft.lines))
        click.echo("\n".join(("", *found.draft.report())) if found.draft.report() else "")
    if to_path is not None:
        request = found.request(name or "")
        write(to_path, json.dumps(request, indent=2, ensure_ascii=False).encode())
        click.echo(f"Wrote {to_path}.")


@main.command()
@click.argument("which", type=click.Choice(["request", "answer"]), default="request")
def schema(which: str) -> None:
    """Print the JSON Schema of a request or of an answer."""
    from balancer.request import schema as published

    print_json(published(which))


@main.command()
@click.option("--all", "everything", is_flag=True, help="Every ingredient, not the summary alone.")
def data(everything: bool) -> None:
    """Show what the figures of the pantry rest on, and how well pH is predicted without them."""
    from balancer.report import full_text, summary_markdown

    report = kitchen().data_report()
    click.echo(full_text(report) if everything else summary_markdown(report))


@main.command()
@click.argument("sauce", required=False)
def demo(sauce: str | None) -> None:
    """Print the request of one of the house sauces, to start from."""
    from balancer.demo import house_sauces

    sauces = house_sauces()
    if sauce is None:
        click.echo("\n".join(f"{key}: {document['name']}" for key, document in sauces.items()))
        return
    if sauce not in sauces:
        raise BadInput(f"There is no house sauce {sauce[:60]!r}. Use one of: {', '.join(sauces)}.")
    print_json(sauces[sauce])


@main.command(name="open")
@click.option("--port", default=8501, show_default=True, help="Port on this machine.")
@click.option("--browser/--no-browser", default=True, help="Open a browser window.")
@click.option("--kitchen", "network", is_flag=True, help="Serve this network too, by a code.")
def open_dashboard(port: int, browser: bool, network: bool) -> None:
    """Open the dashboard, for this machine only unless --kitchen is given."""
    from balancer.cli.serve import serve

    sys.exit(serve(port, browser=browser, kitchen=network))


for command in (
    taste, rounds, spoons, compare, back, pot, measured, panel,
    missing, otherways, instead, paste, label, measures, scale, shop, nutrition,
    parts, own,
):  # fmt: skip
    main.add_command(command)
