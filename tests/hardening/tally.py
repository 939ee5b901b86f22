"""What was tried to break the program and what was lost, as rows of a table."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

LONGEST_SENTENCE = 600


@dataclass(frozen=True)
class Row:
    """One line of the table.

    Parameters
    ----------
    what : str
        What was done to the program.
    tried : str
        How often, and on what.
    lost : tuple of str
        A sentence for each thing that went wrong; empty where nothing did.
    noted : str
        What was measured besides.
    """

    what: str
    tried: str
    lost: tuple[str, ...] = ()
    noted: str = ""

    def markdown(self) -> str:
        """The row in Markdown."""
        lost = "nothing" if not self.lost else f"**{len(self.lost)}**"
        return f"| {self.what} | {self.tried} | {lost} | {self.noted} |"


HEAD = "| what was tried | how much | lost or wrong | measured |\n|---|---|---|---|"


def went_wrong(rows: Sequence[Row]) -> list[str]:
    """A line for each thing that went wrong, at most twenty of a row."""
    return [f"- {row.what}: {text}" for row in rows for text in row.lost[:20]]


def not_a_sentence(text: str, wrote: str = "") -> str:
    """Why a refusal is not fit for a cook; empty where it is.

    A refusal begins with a capital or with a word that the cook wrote, ends with a full stop, is
    short, and shows nothing of the program's inside.
    """
    if len(text) > LONGEST_SENTENCE:
        return f"it has {len(text)} characters"
    if not text.endswith("."):
        return "it does not end with a full stop"
    first = re.match(r"\w+", text)
    if not re.search(r"[A-Z]", text) or (text[:1].islower() and first and first[0] not in wrote):
        return "it begins with a small letter"
    if "Traceback" in text or re.search(r"<class |<[\w.]+ object at|\bobject at 0x", text):
        return "it shows the inside of the program"
    if re.search(r"\b(KeyError|TypeError|ValueError|AttributeError|NoneType)\b", text):
        return "it names an error of the language"
    if re.search(r"database is locked|disk I/O|UNIQUE constraint", text):
        return "it is the sentence of the database, not of the program"
    if any(ord(c) < 32 and c != "\n" for c in text):
        return "it holds a control character"
    return ""
