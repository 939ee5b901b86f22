"""Commands for what is missing, for other ways to the same balance, and for what ran out."""

from __future__ import annotations

import sys
import time
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from balancer.cli.common import kitchen, read
from balancer.errors import BadInput

if TYPE_CHECKING:
    from balancer.idea import Idea
    from balancer.kitchen import Kitchen
    from balancer.request import Document

#: Progress is shown after this [s], and then this often.
PATIENCE_S = 1.0

WITHOUT = click.option(
    "--without",
    multiple=True,
    metavar="WORDS",
    help="Rule out an allergen, alcohol, fish, what is not vegan, or a name; commas between.",
)
TABLE = click.option("--whole-table", is_flag=True, help="Look beyond the pantry.")
COUNT = click.option(
    "--count",
    type=click.IntRange(1, 50),
    default=10,
    show_default=True,
    help="How many suggestions.",
)


def _document(place: Kitchen, name: str) -> Document:
    """The request of a saved recipe, or one in a file."""
    from balancer.store import read_document

    if _is_file(name):
        return read_document(read(name, "The request"), "The request")
    found: Document = place.saved(name)["request"]
    return found


def _is_file(name: str) -> bool:
    return name == "-" or name.endswith(".json") or Path(name).is_file()


class _Progress:
    """Tells a cook at a terminal how far the search is, once it takes longer than a moment."""

    def __init__(self, what: str = "foods solved") -> None:
        self.last, self.what = time.monotonic(), what
        self.watched = sys.stderr.isatty()

    def __call__(self, solved: int) -> None:
        if self.watched and time.monotonic() - self.last > PATIENCE_S:
            self.last = time.monotonic()
            click.echo(f"{self.what}: {solved} ...", err=True)


def _shown(ideas: tuple[Idea, ...]) -> list[str]:
    lines = []
    for number, found in enumerate(ideas, 1):
        first, *rest = found.sentences
        where = "" if found.in_pantry else " (from the whole table)"
        lines.append(f"{number:>2}. {first}{where}")
        lines += [f"    {sentence}" for sentence in rest]
    return lines


def _listed(quantities_g: Mapping[str, float]) -> str:
    return ", ".join(f"{name} {g:.3g} g" for name, g in quantities_g.items()) + "."


@click.command()
@click.argument("name", metavar="NAME or REQUEST.json")
@click.option("--gap", metavar="WORDS", help='What is lacking, as "sour +2, body +1, fat 0".')
@TABLE
@WITHOUT
@click.option(
    "--tried", multiple=True, metavar="NAME", help="Tried and rejected, besides what is kept."
)
@click.option(
    "--keep-tried", is_flag=True, help="Keep what was tried with the recipe, as its next revision."
)
@COUNT
def missing(
    name: str,
    gap: str | None,
    whole_table: bool,
    without: tuple[str, ...],
    tried: tuple[str, ...],
    keep_tried: bool,
    count: int,
) -> None:
    """Rank what could be missing in a sauce that falls short of its target.

    With --gap the target is the sauce as it tastes now, moved by the steps given in
    just-noticeable differences; `family: citrus` asks for that family of aroma.
    """
    place = kitchen()
    document = _document(place, name)
    if keep_tried and (_is_file(name) or not tried):
        raise BadInput(
            "--keep-tried keeps the names after --tried with a saved recipe. Give its name and at"
            " least one of them."
        )
    found = place.missing(
        document, gap=gap or "", without=without, tried=tried, whole_table=whole_table,
        count=count, progress=_Progress(),
    )  # fmt: skip
    lines = []
    if found.is_reached:
        if gap and gap.strip():
            lines.append(f"What is in the sauce can do it: {_listed(found.quantities_g)}")
        else:
            lines.append("What is chosen reaches the target already; nothing is missing.")
            lines.append(f"Quantities: {_listed(found.quantities_g)}")
    elif not found.ideas:
        lines.append(
            f"The sauce stays {found.base_jnd:.2f} JND off, and no single candidate brings it"
            " nearer. Loosen a limit, or look through the whole table."
        )
    else:
        aside = ", its limits on pH and acidity left aside" if found.breaks_limits else ""
        lines.append(f"As it is, the sauce is {found.base_jnd:.2f} JND off in all{aside}.")
    lines += _shown(found.ideas)
    if found.tried:
        lines.append(f"Tried and rejected: {', '.join(found.tried)}.")
    if found.pairs:
        lines.append("Pairs, found one after the other, so perhaps not the best:")
        lines += _shown(found.pairs)
    if found.certificate:
        lines.append(found.certificate)
    if keep_tried:
        revision = place.keep_tried(name, tried)
        lines.append(f"Kept with the recipe {name!r}, revision {revision}.")
    click.echo("\n".join(lines))


@click.command()
@click.argument("name", metavar="NAME or REQUEST.json")
@click.option("--most", default=8, show_default=True, help="Largest number of ingredients.")
@WITHOUT
@click.option("--count", type=click.IntRange(1, 5), default=5, show_default=True)
def otherways(name: str, most: int, without: tuple[str, ...], count: int) -> None:
    """Show other formulas with the same balance, side by side with what each gains."""
    place = kitchen()
    found = place.other_ways(
        _document(place, name), most=most, without=without, count=count,
        progress=_Progress("other ways found"),
    )  # fmt: skip
    if not found.ways:
        click.echo(
            f"No other formula of at most {most} ingredients stays within 1 JND. Allow more"
            " ingredients, or take a minimum away."
        )
        return
    columns = [found.quantities_g, *(way.formula.quantities_g for way in found.ways)]
    names = list(dict.fromkeys(label for column in columns for label in column))
    wide = max(len(label) for label in names)
    heads = ["as it is", *(f"way {k}" for k in range(1, len(columns)))]
    lines = [" " * wide + "".join(f"{head:>10}" for head in heads) + "  [g]"]
    for label in names:
        cells = [f"{c[label]:.3g}" if c.get(label, 0.0) > 0 else "-" for c in columns]
        lines.append(f"{label:<{wide}}" + "".join(f"{cell:>10}" for cell in cells))
    sums = [found.off_jnd, *(way.off_jnd for way in found.ways)]
    lines.append(f"{'off by, JND':<{wide}}" + "".join(f"{s:>10.2f}" for s in sums))
    for k, way in enumerate(found.ways, 1):
        gains = ", ".join(way.gains) or "nothing of note"
        costs = f"; costs: {', '.join(way.costs)}" if way.costs else ""
        unsure = "" if way.confirmed else "; its pH or water activity is over the limit"
        lines.append(f"way {k} gains: {gains}{costs}{unsure}.")
    click.echo("\n".join(lines))


@click.command()
@click.argument("name", metavar="NAME or REQUEST.json")
@click.argument("ingredient")
@TABLE
@WITHOUT
@click.option("--tried", multiple=True, metavar="NAMES", help="Tried and rejected.")
@click.option("--count", type=click.IntRange(1, 20), default=3, show_default=True)
def instead(
    name: str,
    ingredient: str,
    whole_table: bool,
    without: tuple[str, ...],
    tried: tuple[str, ...],
    count: int,
) -> None:
    """Find what takes the place of an ingredient that ran out, so that the profile stays."""
    place = kitchen()
    result = place.instead(
        _document(place, name), ingredient, without=without, tried=tried,
        whole_table=whole_table, count=count, progress=_Progress(),
    )  # fmt: skip
    found = result.found
    lines = [
        f"Without {result.gone} ({result.gone_g:.3g} g) the sauce is {found.base_jnd:.2f} JND from"
        " how it was."
    ]
    if result.freed:
        lines.append(f"Locks opened, so that the profile can stay: {', '.join(result.freed)}.")
    if found.is_reached:
        lines.append("The rest makes up for it; nothing has to take its place:")
        lines.append(_listed(found.quantities_g))
    elif not found.ideas:
        lines.append("No single candidate brings it nearer. Look through the whole table.")
    lines += _shown(found.ideas)
    if result.takes_two:
        lines.append("Two together come nearer (found one after the other):")
        lines += _shown(found.pairs[:1])
    if found.certificate:
        lines.append(found.certificate)
    click.echo("\n".join(lines))
