"""The command for a saved sauce in base ingredients."""

from __future__ import annotations

import click

from balancer.cli.common import kitchen


@click.command()
@click.argument("name")
@click.option("--open-up", "new_name", metavar="NAME", help="Keep it with the sauces opened up.")
def parts(name: str, new_name: str | None) -> None:
    """Show what a saved sauce is made from, that of the saved sauces in it included.

    With --open-up the base ingredients take the place of those sauces, each free to change.
    """
    from balancer.cli.show import outcome_text

    place = kitchen()
    found = place.totals(name)
    wide = max(len(t.ingredient.name) for t in found.totals)
    for total in found.totals:
        places = [f"{p.grams:.4g} g in {' in '.join(reversed(p.path))}" if p.path
                  else f"{p.grams:.4g} g on its own" for p in total.parts]  # fmt: skip
        click.echo(f"{total.ingredient.name:<{wide}}{total.grams:>10.4g} g  ({', '.join(places)})")
    click.echo(f"{found.yield_g:.4g} g in all, {found.water_lost_g:.4g} g of water cooked away.")
    if new_name is not None:
        outcome = place.solve(place.opened_up(place.as_made(name)))
        click.echo(outcome_text(outcome.answer))
        revision = place.save(new_name, outcome)
        click.echo(f"Saved as {new_name!r}, revision {revision}.")
