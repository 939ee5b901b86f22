"""Commands of the tasting loop: rounds, spoons, comparison, going back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from balancer.cli.common import ALSO, GROWTH, MADE, NUMBER, SCALE, kitchen, named_numbers, weighed
from balancer.errors import BadInput

if TYPE_CHECKING:
    from balancer.kitchen import Kitchen, Tasting

PLAN = click.option(
    "--plan/--no-plan", default=True, help="Keep the next batch as the next revision."
)


@click.command()
@click.argument("name")
@click.argument("words", default="")
@MADE
@ALSO
@GROWTH
@SCALE
@click.option("--rate", multiple=True, metavar="AXIS=REF,OWN", help="Marks from 0 to 100 [points].")
@click.option("--own-first", is_flag=True, help="The own sauce was rated before the reference.")
@click.option("--no-rinse", is_flag=True, help="The mouth was not rinsed between the two.")
@click.option("--on-food", is_flag=True, help="Tasted on the food, not from a spoon.")
@click.option("--celsius", type=NUMBER, help="Serving temperature [degrees Celsius].")
@click.option("--sample", default=1, show_default=True, help="Which sample of this sitting.")
@click.option("--close", multiple=True, metavar="WHAT=SCORE", help="taste, aroma ... from 0 to 10.")
@click.option("--note", default="", help="Free notes.")
@PLAN
def taste(
    name: str,
    words: str,
    made: tuple[str, ...],
    also: tuple[str, ...],
    growth: float,
    scale: float,
    rate: tuple[str, ...],
    own_first: bool,
    no_rinse: bool,
    on_food: bool,
    celsius: float | None,
    sample: int,
    close: tuple[str, ...],
    note: str,
    plan: bool,
) -> None:
    """Keep a round of a saved sauce, learn from all of them, and plan the next batch.

    WORDS is a sentence: "too sharp, a touch sweeter, the rest is right".
    """
    place = kitchen()
    result = place.taste(
        name,
        words,
        made_g=weighed(made),
        also=also,
        growth=growth / 100.0,
        keep_plan=plan,
        ratings=_ratings(rate, own_first, no_rinse),
        place="food" if on_food else "spoon",
        temperature_c=celsius,
        sample=sample,
        notes=note,
        closeness=named_numbers(close, "a closeness", "taste=7"),
    )
    _show(place, result, scale, words)


def _ratings(rate: tuple[str, ...], own_first: bool, no_rinse: bool) -> Any:
    if not rate:
        return None
    from balancer.rounds import First, SideBySide

    reference, own = {}, {}
    for text in rate:
        axis, _, marks = text.partition("=")
        first, _, second = marks.partition(",")
        try:
            reference[axis.strip()], own[axis.strip()] = float(first), float(second)
        except ValueError:
            raise BadInput(
                f"{text!r} is not an axis with two marks. Write it as 'sour=60,45'."
            ) from None
    order = First.OWN if own_first else First.REFERENCE
    return SideBySide(reference, own, order, rinsed=not no_rinse)


def _show(place: Kitchen, result: Tasting, scale: float, words: str = "") -> None:
    from balancer.cli.show import learned_text, nudge_text

    click.echo(learned_text(result))
    click.echo()
    click.echo(nudge_text(result.nudge, place.how_to_add(result.nudge, scale), words))
    if result.revision is not None:
        click.echo(f"\nThe next batch is kept as revision {result.revision}.")


@click.command()
@click.argument("name")
def rounds(name: str) -> None:
    """List the rounds of a sauce: what was said, and how near it came."""
    from balancer.cli.show import rounds_table

    sauce = kitchen().sauce(name)
    if not sauce.rounds:
        click.echo(f"No round of {name!r} is kept yet. `balancer taste` begins one.")
        return
    click.echo(rounds_table(sauce))


@click.command()
@click.argument("name")
@click.argument("axis")
@click.option("--nearest", help="The answer: the nearest sample, or all from nearest on, as 2,1,3.")
@click.option(
    "--spoon",
    default=12.0,
    type=NUMBER,
    show_default=True,
    help="Mass of a sample, 10 to 15 g [g].",
)
@click.option(
    "--fine-scale",
    default=0.01,
    type=NUMBER,
    show_default=True,
    help="Step of the dosing scale [g].",
)
@GROWTH
@SCALE
@PLAN
def spoons(
    name: str,
    axis: str,
    nearest: str | None,
    spoon: float,
    fine_scale: float,
    growth: float,
    scale: float,
    plan: bool,
) -> None:
    """A ladder of spoons on one axis, from the pot of the last round; --nearest answers it."""
    from balancer.cli.show import ladder_text

    place = kitchen()
    if nearest is None:
        click.echo(ladder_text(place.spoons(name, axis, spoon_g=spoon, scale_g=fine_scale)))
        return
    try:
        order = [int(part) for part in nearest.split(",")]
    except ValueError:
        raise BadInput(
            f"{nearest!r} names no sample. Write 2, or 2,1,3 from the nearest on."
        ) from None
    result = place.answer_spoons(
        name,
        axis,
        order,
        spoon_g=spoon,
        scale_g=fine_scale,
        growth=growth / 100.0,
        keep_plan=plan,
    )
    _show(place, result, scale)


@click.command()
@click.argument("first")
@click.argument("second")
@click.option("--first-round", type=int, help="A round of the first sauce.")
@click.option("--second-round", type=int, help="A round of the second sauce.")
def compare(first: str, second: str, first_round: int | None, second_round: int | None) -> None:
    """Two sauces, rounds or profiles side by side."""
    from balancer.cli.show import differences_table

    found = kitchen().compare(first, second, (first_round, second_round))
    click.echo(differences_table(found))


@click.command()
@click.argument("name")
@click.argument("number", type=int, metavar="ROUND")
def back(name: str, number: int) -> None:
    """Make what was tasted in a round the newest revision; nothing is overwritten."""
    revision = kitchen().go_back(name, number)
    click.echo(f"Round {number} of {name!r} is the newest revision now, number {revision}.")
