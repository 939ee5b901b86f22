"""Commands for what is missing, for other ways to the same balance, and for what ran out."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from balancer.cli.common import kitchen, read
from balancer.errors import BadInput

if TYPE_CHECKING:
    from balancer.composition import Ingredient
    from balancer.kitchen import Kitchen
    from balancer.problem import Problem
    from balancer.suggestion import Suggestion

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


def _problem(place: Kitchen, name: str) -> Problem:
    """The problem of a saved recipe, or of a request in a file."""
    from balancer.request import problem_from
    from balancer.store import read_document

    if name == "-" or name.endswith(".json") or Path(name).is_file():
        return problem_from(
            read_document(read(name, "The request"), "The request"), place.catalogue
        )
    return problem_from(place.saved(name)["request"], place.catalogue)


def _foods(
    place: Kitchen, whole_table: bool, without: tuple[str, ...], tried: tuple[str, ...] = ()
) -> tuple[Ingredient, ...]:
    """Candidates that the cook has not ruled out."""
    from balancer.exclusions import kept_in

    words = [part for text in (*without, *tried) for part in _parts(text)]
    everything = place.catalogue.everything if whole_table else place.catalogue.pantry
    left = kept_in(everything, words)
    if whole_table:
        click.echo(f"Looking through {int(left.sum())} foods ...", err=True)
    if not left.any():
        raise BadInput("Everything is ruled out, so nothing can be suggested. Rule out less.")
    return tuple(f for f, keep in zip(everything, left, strict=True) if keep)


def _parts(text: str) -> list[str]:
    """Words between commas; an allergen whose own name holds a comma stays whole."""
    from balancer.exclusions import KINDS

    whole = text.strip().casefold()
    return [whole] if whole in KINDS else [p for p in whole.split(",") if p.strip()]


class _Progress:
    """Tells on standard error how far the search is, once it takes longer than a moment."""

    def __init__(self, what: str = "foods solved") -> None:
        self.last, self.what = time.monotonic(), what

    def __call__(self, solved: int) -> None:
        if time.monotonic() - self.last > PATIENCE_S:
            self.last = time.monotonic()
            click.echo(f"{solved} {self.what} ...", err=True)


def _shown(suggestions: tuple[Suggestion, ...]) -> list[str]:
    lines = []
    for number, found in enumerate(suggestions, 1):
        first, *rest = found.sentences()
        where = "" if found.in_pantry else " (from the whole table)"
        lines.append(f"{number:>2}. {first}{where}")
        lines += [f"    {sentence}" for sentence in rest]
    return lines


@click.command()
@click.argument("name", metavar="NAME or REQUEST.json")
@click.option("--gap", metavar="WORDS", help='What is lacking, as "sour +2, body +1, fat 0".')
@TABLE
@WITHOUT
@click.option("--tried", multiple=True, metavar="NAMES", help="Tried and rejected.")
@COUNT
def missing(
    name: str,
    gap: str | None,
    whole_table: bool,
    without: tuple[str, ...],
    tried: tuple[str, ...],
    count: int,
) -> None:
    """Rank what could be missing in a sauce that falls short of its target.

    With --gap the target is the sauce as it tastes now, moved by the steps given in
    just-noticeable differences; `family: citrus` asks for that family of aroma.
    """
    from balancer.gap import asked, gap_from_text
    from balancer.settle import settle
    from balancer.suggest import missing as find_missing

    place = kitchen()
    problem = _problem(place, name)
    foods = _foods(place, whole_table, without, tried)
    family = None
    if gap is not None:
        wanted = gap_from_text(gap)
        family = wanted.family
        if wanted.steps:
            problem = asked(problem, settle(problem).solution.levels, wanted)
    found = find_missing(problem, foods, count=count, family=family, progress=_Progress())
    lines = []
    if found.is_reached:
        lines.append("What is chosen reaches the target already; nothing is missing.")
        grams = zip(problem.uses, found.settled.solution.grams, strict=True)
        lines.append("Quantities: " + ", ".join(f"{u.label} {g:.3g} g" for u, g in grams) + ".")
    elif not found.suggestions:
        lines.append(
            f"The sauce stays {found.base_jnd:.2f} JND off, and no single candidate brings it"
            " nearer. Loosen a limit, or look through the whole table."
        )
    else:
        lines.append(f"As it is, the sauce is {found.base_jnd:.2f} JND off in all.")
    lines += _shown(found.suggestions)
    if tried:
        lines.append(f"Tried and rejected: {', '.join(tried)}.")
    if found.pairs:
        lines.append("Pairs, found one after the other, so perhaps not the best:")
        lines += _shown(found.pairs)
    if not found.is_reached:
        lines.append(found.certificate.sentence())
    click.echo("\n".join(lines))


@click.command()
@click.argument("name", metavar="NAME or REQUEST.json")
@click.option("--most", default=8, show_default=True, help="Largest number of ingredients.")
@WITHOUT
@click.option("--count", type=click.IntRange(1, 5), default=5, show_default=True)
def otherways(name: str, most: int, without: tuple[str, ...], count: int) -> None:
    """Show other formulas with the same balance, side by side with what each gains."""
    from balancer.alternatives import carriers, other_ways

    place = kitchen()
    problem = _problem(place, name)
    offered = carriers(problem, _foods(place, False, without))
    now, ways = other_ways(
        problem, offered, most=most, count=count, progress=_Progress("other ways found")
    )
    if not ways:
        click.echo(
            f"No other formula of at most {most} ingredients stays within 1 JND. Allow more"
            " ingredients, or take a minimum away."
        )
        return
    columns = [{u.label: float(g) for u, g in zip(problem.uses, now.solution.grams, strict=True)}]
    columns += [dict(way.grams) for way in ways]
    names = list(dict.fromkeys(label for column in columns for label in column))
    wide = max(len(label) for label in names)
    heads = ["as it is", *(f"way {k}" for k in range(1, len(columns)))]
    lines = [" " * wide + "".join(f"{head:>10}" for head in heads) + "  [g]"]
    for label in names:
        cells = [f"{c[label]:.3g}" if c.get(label, 0.0) > 0 else "-" for c in columns]
        lines.append(f"{label:<{wide}}" + "".join(f"{cell:>10}" for cell in cells))
    sums = [now.solution.sum_jnd, *(w.settled.solution.sum_jnd for w in ways)]
    lines.append(f"{'off by, JND':<{wide}}" + "".join(f"{s:>10.2f}" for s in sums))
    for k, way in enumerate(ways, 1):
        gains = ", ".join(way.gains) or "nothing of note"
        costs = f"; costs: {', '.join(way.costs)}" if way.costs else ""
        unsure = "" if way.settled.kept_ceilings else "; its pH or water activity is over the limit"
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
    from balancer.substitution import instead as find_instead

    place = kitchen()
    problem = _problem(place, name)
    foods = _foods(place, whole_table, without, tried)
    result = find_instead(problem, ingredient, foods, count=count, progress=_Progress())
    found = result.found
    lines = [
        f"Without {result.gone} ({result.gone_g:.3g} g) the sauce is {found.base_jnd:.2f} JND from"
        " how it was."
    ]
    if result.freed:
        lines.append(f"Locks opened, so that the profile can stay: {', '.join(result.freed)}.")
    if found.is_reached:
        lines.append("The rest makes up for it; nothing has to take its place:")
        grams = zip(found.settled.solution.problem.uses, found.settled.solution.grams, strict=True)
        lines.append(", ".join(f"{u.label} {g:.3g} g" for u, g in grams) + ".")
    elif not found.suggestions:
        lines.append("No single candidate brings it nearer. Look through the whole table.")
    lines += _shown(found.suggestions)
    if result.takes_two:
        lines.append("Two together come nearer (found one after the other):")
        lines += _shown(found.pairs[:1])
    if not found.is_reached:
        lines.append(found.certificate.sentence())
    click.echo("\n".join(lines))
