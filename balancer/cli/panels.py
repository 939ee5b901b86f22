"""Commands for a panel: is it the same as the reference?"""

from __future__ import annotations

import click

from balancer.cli.common import NUMBER, write
from balancer.discrimination import Method

METHOD = click.option(
    "--method",
    type=click.Choice([m.value for m in Method]),
    default=Method.TRIANGLE.value,
    show_default=True,
    help="Triangle test (ISO 4120) or paired comparison (ISO 5495).",
)


@click.group()
def panel() -> None:
    """Triangle and paired tests: sheets to print, how many tasters, and what the answers show."""


@panel.command()
@METHOD
@click.option("--tasters", required=True, type=int, help="Number of tasters.")
@click.option("--repeats", default=1, show_default=True, help="Sets for each taster.")
@click.option("--reference", default="the reference", show_default=True, help="What A is.")
@click.option("--own", default="our sauce", show_default=True, help="What B is.")
@click.option("--attribute", default="", help="What is compared in a pair, as sour.")
@click.option("--seed", default=1, show_default=True, help="The same seed gives the same sheets.")
@click.option("--to", "path", metavar="FILE", help="Where to write sheets and key.")
def sheets(
    method: str,
    tasters: int,
    repeats: int,
    reference: str,
    own: str,
    attribute: str,
    seed: int,
    path: str | None,
) -> None:
    """Serving sheets in balanced random order with three-digit codes, and the key."""
    from balancer.serving import session

    made = session(
        Method(method),
        tasters,
        repeats=repeats,
        names=(reference, own),
        attribute=attribute,
        seed=seed,
    )
    pages = [made.sheet(t) for t in range(1, made.tasters + 1)]
    text = "\n".join([*pages, "Key, for whoever serves:", made.key()])
    if path is None:
        click.echo(text)
        return
    write(path, text.encode())
    click.echo(f"Wrote {path}.")


@panel.command()
@METHOD
@click.option(
    "--tellers", default=0.3, type=NUMBER, show_default=True, help="Share not to be missed [1]."
)
@click.option(
    "--alpha", default=0.05, type=NUMBER, show_default=True, help="Risk of a false difference [1]."
)
@click.option(
    "--power", "wanted", default=0.8, type=NUMBER, show_default=True, help="Wanted power [1]."
)
def size(method: str, tellers: float, alpha: float, wanted: float) -> None:
    """How many tasters a panel needs."""
    from balancer.discrimination import least_correct, panel_size

    number = panel_size(Method(method), tellers, alpha, wanted)
    least = least_correct(Method(method), number, alpha)
    click.echo(
        f"{number} tasters: with a share of {tellers:g} who can tell, a difference is found with"
        f" odds of at least {wanted:g}; {least} right answers show it at a risk of {alpha:g}."
    )


@panel.command()
@METHOD
@click.option("--right", required=True, type=int, help="Right answers.")
@click.option("--of", "trials", required=True, type=int, help="All answers.")
@click.option("--tasters", type=int, help="Different tasters, if some answered more than once.")
@click.option("--similar", is_flag=True, help="Ask whether they are alike.")
def count(method: str, right: int, trials: int, tasters: int | None, similar: bool) -> None:
    """What the answers show."""
    from balancer.panel import difference, similarity

    ask = similarity if similar else difference
    click.echo("\n".join(ask(Method(method), right, trials, tasters=tasters).sentences))
