"""Commands that hand a sauce over: measures, another size, a shopping list, nutrition."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from balancer.cli.common import NUMBER, kitchen, named_numbers
from balancer.errors import BadInput

if TYPE_CHECKING:
    from balancer.rounding import Rounded

STYLE = click.option(
    "--style", default="metric", show_default=True,
    type=click.Choice(("metric", "us", "weight")), help="Spoons and cups, or the scale first.",
)  # fmt: skip
SCALE_STEP = click.option(
    "--scale", default=1.0, type=NUMBER, show_default=True, help="Step of the scale [g]."
)


@click.command()
@click.argument("name")
@STYLE
@SCALE_STEP
def measures(name: str, style: str, scale: float) -> None:
    """Practical measures for a saved sauce, chosen together so that its balance stays."""
    from balancer.choices import Style

    place = kitchen()
    saved = place.saved(name)
    found = place.measures(saved["request"], saved["answer"], Style(style), scale)
    click.echo("\n".join(measure_lines(found)))


@click.command()
@click.argument("name")
@click.option("--to-g", type=NUMBER, help="Finished mass [g].")
@click.option("--servings", type=NUMBER, help="Number of servings; needs --serving-g.")
@click.option("--serving-g", type=NUMBER, help="One serving [g].")
@click.option("--jars", type=NUMBER, help="Number of jars; needs --jar-ml.")
@click.option("--jar-ml", type=NUMBER, help="One jar [mL].")
@click.option("--pan-ml", type=NUMBER, help="What the pan holds to the brim [mL].")
@click.option("--all", "stock", multiple=True, metavar="NAME=GRAMS", help="Use all of this.")
@STYLE
@SCALE_STEP
@click.option("--save", "new_name", metavar="NAME", help="Keep it as a recipe of its own.")
def scale(
    name: str,
    to_g: float | None,
    servings: float | None,
    serving_g: float | None,
    jars: float | None,
    jar_ml: float | None,
    pan_ml: float | None,
    stock: tuple[str, ...],
    style: str,
    scale: float,
    new_name: str | None,
) -> None:
    """The same sauce at another size, in the same proportions and measured anew."""
    from balancer.choices import Style
    from balancer.handover import Size

    place = kitchen()
    saved = place.saved(name)
    there = named_numbers(stock, "a name with grams", "plums=820")
    if servings is not None:
        serving_g = _asked(serving_g, "--serving-g")
    if jars is not None:
        jar_ml = _asked(jar_ml, "--jar-ml")
    size = Size(to_g, servings, serving_g, jars, jar_ml, pan_ml, there)
    found = place.resized(saved["request"], saved["answer"], size)
    click.echo("\n".join(found.sentences[: len(found.left) + 1]))
    outcome = found.outcome
    measured = place.measures(outcome.document, outcome.answer, Style(style), scale)
    click.echo("\n".join(measure_lines(measured)))
    click.echo("\n".join(found.scaled.notes))
    if new_name:
        place.save(new_name, outcome)
        click.echo(f"Saved as {new_name!r}.")


@click.command()
@click.argument("names", nargs=-1, required=True)
@click.option("--have", multiple=True, metavar="NAME=GRAMS", help="In the pantry, as purchased.")
@click.option("--price", multiple=True, metavar="NAME=PRICE/GRAMS", help="Price of a pack.")
@click.option("--serving-g", type=NUMBER, help="One serving, for its cost [g].")
def shop(
    names: tuple[str, ...], have: tuple[str, ...], price: tuple[str, ...], serving_g: float | None
) -> None:
    """A shopping list for saved sauces, by aisle; a name given twice is two batches."""
    from balancer.handover import Batch
    from balancer.shopping import read_pack

    place = kitchen()
    packs = {}
    for text in price:
        food, _, pack = text.rpartition("=")
        packs[food.strip()] = read_pack(pack)
    found = place.shopping(
        [Batch(name, place.saved(name), names.count(name)) for name in dict.fromkeys(names)],
        have_g=named_numbers(have, "a name with grams", "sugar=500"),
        packs=packs,
    )
    click.echo("\n".join(found.sentences(serving_g)))


@click.command()
@click.argument("name")
@click.option("--serving-g", type=NUMBER, help="One serving [g].")
@click.option(
    "--order", default="us", show_default=True, type=click.Choice(("us", "eu")), help="Whose label."
)
def nutrition(name: str, serving_g: float | None, order: str) -> None:
    """Nutrition of a saved sauce by the food tables, with what they do not know."""
    from balancer.nutrition import Order

    place = kitchen()
    saved = place.saved(name)
    found = place.nutrition(saved["request"], saved["answer"])
    head = "per 100 g" + ("" if serving_g is None else f"   per serving of {serving_g:g} g")
    click.echo(f"{'':<20}{head}")
    for row in found.panel(Order(order), serving_g):
        gap = f"   ({row.note})" if row.note else ""
        click.echo(f"{row.name:<20}{row.per_100g:<12}{row.per_serving}{gap}".rstrip())
    click.echo("\n".join(found.sentences(Order(order))))


def measure_lines(found: Rounded) -> list[str]:
    """Measures, then the balance before and after."""
    from balancer.constants import AXES

    lines = []
    for use, choice, wanted in zip(found.problem.uses, found.chosen, found.wanted_g, strict=True):
        if choice is not None:
            exact = f"{wanted / use.passes:.4g} g"
            lines.append(f"  {use.label:<24}{choice.text:<32}{choice.grams:>8.4g} g  ({exact})")
    lines.append(f"  makes {found.mass_g:.4g} g")
    lines.append(f"{'':<12}{'solved':>10}{'measured':>10}{'JND':>8}")
    for axis, before, after, jnd in zip(
        AXES, found.wanted_levels, found.levels, found.deviation_jnd, strict=True
    ):
        lines.append(
            f"{axis.name:<12}{before:>10.4g}{after:>10.4g}{jnd:>+8.2f}  {axis.unit_per_100g}"
        )
    if (band := found.ph_band) is not None:
        lines.append(f"pH {band[0]:.2f} to {band[1]:.2f}")
    return [*lines, *found.notes()]


def _asked(value: float | None, option: str) -> float:
    if value is None:
        raise BadInput(f"The size is missing. Give {option}.")
    return value
