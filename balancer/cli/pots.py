"""Commands for the pot that is made already."""

from __future__ import annotations

import click

from balancer.cli.common import ALSO, GROWTH, MADE, NUMBER, SCALE, kitchen, named_numbers, weighed


@click.command()
@click.argument("name")
@MADE
@ALSO
@GROWTH
@SCALE
def pot(
    name: str, made: tuple[str, ...], also: tuple[str, ...], growth: float, scale: float
) -> None:
    """Correct a pot that was made off its recipe, towards the recipe's target.

    Nothing comes out of a pot: the answer is the least that goes in, what to weigh on this scale,
    and, where adding does not help, how far to dilute, what to set aside or how much to boil off.
    """
    place = kitchen()
    saved = place.saved(name)
    found = place.correct(
        saved["request"],
        saved["answer"],
        made_g=weighed(made),
        also=also,
        growth=growth / 100.0,
        readability_g=scale,
    )
    click.echo("\n".join(filter(None, (*found.sentences(), place.brings(found)))))


@click.command()
@click.option("--mass", required=True, type=NUMBER, help="Sauce in the pot, its tare off [g].")
@click.option("--brix", type=NUMBER, help="Reading of a refractometer [degrees Brix].")
@click.option("--acidity", type=NUMBER, help="Titratable acidity as citric acid [g/100 g].")
@click.option("--ph", type=NUMBER, help="pH; used together with the acidity.")
@click.option("--salt", type=NUMBER, help="Salt [g/100 g].")
@click.option("--fat", type=NUMBER, help="Fat [g/100 g].")
@click.option("--solids", type=NUMBER, help="What does not dissolve, fat left out [g/100 g].")
@click.option("--want", multiple=True, required=True, metavar="AXIS=LEVEL", help="A level wanted.")
@click.option("--add", multiple=True, required=True, metavar="NAME", help="What may go in.")
@GROWTH
@SCALE
def measured(
    mass: float,
    brix: float | None,
    acidity: float | None,
    ph: float | None,
    salt: float | None,
    fat: float | None,
    solids: float | None,
    want: tuple[str, ...],
    add: tuple[str, ...],
    growth: float,
    scale: float,
) -> None:
    """Correct a pot of which only readings are known."""
    from balancer.readings import Readings

    place = kitchen()
    found = place.correct_measured(
        Readings(mass, brix, acidity, salt, ph, fat, solids),
        named_numbers(want, "an axis with its level", "sweet=18"),
        add,
        growth=growth / 100.0,
        readability_g=scale,
    )
    click.echo("\n".join(filter(None, (*found.sentences(), place.brings(found)))))
