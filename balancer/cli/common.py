"""What every command shares: the kitchen, files, and options that repeat."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from balancer.errors import BadInput
from balancer.numerals import read_number

if TYPE_CHECKING:
    from balancer.kitchen import Kitchen


def kitchen() -> Kitchen:
    """The kitchen over the project's tables and the cook's saved work."""
    from balancer.kitchen import Kitchen

    place = Kitchen()
    click.get_current_context().call_on_close(lambda: _tell(place.told))
    return place


def _tell(sentence: str) -> None:
    if sentence:
        click.echo(sentence, err=True)


def read(path: str, what: str) -> str:
    """Text of a file, or of standard input for ``-``."""
    try:
        if path == "-":
            return sys.stdin.read()
        return Path(path).read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not text in UTF-8"
        raise BadInput(f"{what} {path!r} cannot be read: {reason}. Check the path.") from None


def write(path: str, content: bytes) -> None:
    """Write a file, or say why it cannot be written."""
    try:
        Path(path).write_bytes(content)
    except OSError as error:
        raise BadInput(
            f"{path!r} cannot be written: {error.strerror}. Choose another place."
        ) from None


def print_json(document: object) -> None:
    """Print a document."""
    click.echo(json.dumps(document, indent=2, ensure_ascii=False))


class Number(click.types.FloatParamType):
    """A number as a cook types it: ``1.5`` or ``1,5``."""

    name = "number"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Read it, or name the option and what was typed."""
        if isinstance(value, int | float):
            return float(value)
        try:
            return read_number(str(value))
        except BadInput as error:
            name = param.opts[0] if param is not None else "The number"
            raise BadInput(f"{name}: {error}") from None


NUMBER = Number()


def named_numbers(texts: tuple[str, ...], what: str, example: str) -> dict[str, float]:
    """Pairs such as ``lime juice=62`` as a dictionary."""
    found: dict[str, float] = {}
    for text in texts:
        name, between, number = text.rpartition("=")
        if not between or not name.strip() or not number.strip():
            raise BadInput(f"{text!r} is not {what}. Write it as {example!r}.")
        try:
            found[name.strip()] = read_number(number.strip().removesuffix("g"))
        except BadInput as error:
            raise BadInput(f"In {text!r}, {error}") from None
    return found


MADE = click.option("--made", multiple=True, metavar="NAME=GRAMS", help="A quantity as weighed.")
ALSO = click.option("--also", multiple=True, metavar="NAME", help="A further ingredient.")
GROWTH = click.option(
    "--growth", default=30.0, type=NUMBER, show_default=True, help="Largest growth of the pot [%]."
)
SCALE = click.option(
    "--scale", default=1.0, type=NUMBER, show_default=True, help="Step of the scale [g]."
)


def weighed(made: tuple[str, ...]) -> dict[str, float]:
    """Quantities as weighed [g]."""
    return named_numbers(made, "a name with grams", "lime juice=62")
