"""Commands that hand a sauce over: measures, another size, a shopping list, nutrition."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from balancer.cli.common import kitchen, named_numbers
from balancer.errors import BadInput

if TYPE_CHECKING:
    from balancer.choices import Style
    from balancer.kitchen import Kitchen
    from balancer.rounding import Rounded

STYLE = click.option(
    "--style", default="metric", show_default=True,
    type=click.Choice(("metric", "us", "weight")), help="Spoons and cups, or the scale first.",
)  # fmt: skip
SCALE_STEP = click.option("--scale", default=1.0, show_default=True, help="Step of the scale [g].")


@click.command()
@click.argument("name")
@STYLE
@SCALE_STEP
def measures(name: str, style: str, scale: float) -> None:
    """Practical measures for a saved sauce, chosen together so that its balance stays."""
    from balancer.choices import Style

    place = kitchen()
    saved = place.saved(name)
    found = rounded_sauce(place, saved["request"], saved["answer"], Style(style), scale)
    click.echo("\n".join(measure_lines(found)))


@click.command()
@click.argument("name")
@click.option("--to-g", type=float, help="Finished mass [g].")
@click.option("--servings", type=float, help="Number of servings; needs --serving-g.")
@click.option("--serving-g", type=float, help="One serving [g].")
@click.option("--jars", type=float, help="Number of jars; needs --jar-ml.")
@click.option("--jar-ml", type=float, help="One jar [mL].")
@click.option("--pan-ml", type=float, help="What the pan holds to the brim [mL].")
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
    from balancer import scaling
    from balancer.choices import Style

    place = kitchen()
    saved = place.saved(name)
    request, answer = saved["request"], saved["answer"]
    given = [v is not None for v in (to_g, servings, jars, pan_ml)]
    if sum(given) + bool(stock) != 1:
        raise BadInput(
            "Say one size: --to-g, --servings with --serving-g, --jars with --jar-ml, --pan-ml, or"
            " --all 'plums=820'."
        )
    if to_g is not None:
        factor = scaling.factor_to_yield(answer, to_g)
    elif servings is not None:
        factor = scaling.factor_to_servings(answer, servings, _asked(serving_g, "--serving-g"))
    elif jars is not None:
        factor = scaling.factor_to_jars(answer, jars, _asked(jar_ml, "--jar-ml"))
    elif pan_ml is not None:
        factor = scaling.factor_to_pan(answer, pan_ml, scaling.water_lost_g(request, answer))
    else:
        there = named_numbers(stock, "a name with grams", "plums=820")
        factor, scarce, left = scaling.factor_to_use_up(answer, there)
        click.echo(f"All of the {scarce} goes in.")
        for other, grams in left.items():
            click.echo(f"{grams:.4g} g of {other} is left.")
    found = scaling.scaled(request, answer, factor)
    click.echo(f"{factor:.4g} times, {found.yield_g:.4g} g in all.")
    document = scaling.scaled_request(request, answer, factor)
    outcome = place.solve(document)
    click.echo("\n".join(measure_lines(_round(place, outcome, Style(style), scale))))
    click.echo("\n".join(found.notes))
    if new_name:
        place.save(new_name, outcome)
        click.echo(f"Saved as {new_name!r}.")


@click.command()
@click.argument("names", nargs=-1, required=True)
@click.option("--have", multiple=True, metavar="NAME=GRAMS", help="In the pantry, as purchased.")
@click.option("--price", multiple=True, metavar="NAME=PRICE/GRAMS", help="Price of a pack.")
@click.option("--serving-g", type=float, help="One serving, for its cost [g].")
def shop(
    names: tuple[str, ...], have: tuple[str, ...], price: tuple[str, ...], serving_g: float | None
) -> None:
    """A shopping list for saved sauces, by aisle; a name given twice is two batches."""
    from balancer.shopping import Need, needs_of, read_pack, shopping_list

    place = kitchen()
    needs: list[Need] = []
    made_g: dict[str, float] = {}
    for name in dict.fromkeys(names):
        answer, batches = place.saved(name)["answer"], names.count(name)
        needs += needs_of(name, answer, batches)
        made_g[name] = float(answer["final_mass_g"]) * batches
    packs = {}
    for text in price:
        food, _, pack = text.rpartition("=")
        packs[food.strip()] = read_pack(pack)
    found = shopping_list(
        place.catalogue,
        needs,
        made_g,
        have_g=named_numbers(have, "a name with grams", "sugar=500"),
        packs=packs,
    )
    click.echo("\n".join(found.sentences(serving_g)))


@click.command()
@click.argument("name")
@click.option("--serving-g", type=float, help="One serving [g].")
@click.option(
    "--order", default="us", show_default=True, type=click.Choice(("us", "eu")), help="Whose label."
)
def nutrition(name: str, serving_g: float | None, order: str) -> None:
    """Nutrition of a saved sauce by the food tables, with what they do not know."""
    from balancer.nutrition import Order, nutrition_of

    place = kitchen()
    solution = place.solve(place.saved(name)["request"]).solution
    found = nutrition_of(solution.problem, solution.grams)
    head = "per 100 g" + ("" if serving_g is None else f"   per serving of {serving_g:g} g")
    click.echo(f"{'':<20}{head}")
    for row in found.panel(Order(order), serving_g):
        gap = f"   ({row.note})" if row.note else ""
        click.echo(f"{row.name:<20}{row.per_100g:<12}{row.per_serving}{gap}".rstrip())
    click.echo("\n".join(found.sentences(Order(order))))


def rounded_sauce(
    place: Kitchen, request: dict[str, Any], answer: dict[str, Any], style: Style, scale_g: float
) -> Rounded:
    """Practical measures for the saved quantities of a sauce."""
    from balancer.scaling import scaled_request

    return _round(place, place.solve(scaled_request(request, answer, 1.0)), style, scale_g)


def _round(place: Kitchen, outcome: Any, style: Style, scale_g: float) -> Rounded:
    from balancer.rounding import rounded

    solution = outcome.solution
    keys = [r["key"] for r in outcome.answer["resolved"].values()]
    known = [place.catalogue.measures(key) for key in keys]
    return rounded(solution.problem, solution.grams, known, style, scale_g)


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
