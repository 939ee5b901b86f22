"""What a cook decides about a written recipe."""

from __future__ import annotations

import re
from dataclasses import dataclass

from balancer.errors import BadInput
from balancer.export.text import one_line

PAPERS = ("A4", "letter")
_LONGEST_DATE = 24
_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True)
class Options:
    """Choices that some formats read.

    Parameters
    ----------
    made_on, use_by : str
        Dates for the label as the cook writes them; an empty one leaves a line to fill in.
    paper : str
        Paper of the PDF: "A4" or "letter".

    Raises
    ------
    BadInput
        If a date is too long for a label, ISO 8601 dates are the wrong way round, or there is no
        such paper.
    """

    made_on: str = ""
    use_by: str = ""
    paper: str = "A4"

    def __post_init__(self) -> None:
        for what, date in (("made on", self.made_on), ("use by", self.use_by)):
            if len(one_line(date)) > _LONGEST_DATE:
                raise BadInput(
                    f"The {what!r} date {one_line(date)[:40]!r} has {len(one_line(date))} letters."
                    f" Write it in {_LONGEST_DATE} or fewer, such as 2031-05-02."
                )
        dates = (one_line(self.made_on), one_line(self.use_by))
        if all(_ISO_DATE.fullmatch(date) for date in dates) and dates[1] < dates[0]:
            raise BadInput(
                f"The use-by date {dates[1]} lies before the day it was made, {dates[0]}."
                " Change one of them."
            )
        if self.paper not in PAPERS:
            raise BadInput(
                f"No paper is called {self.paper[:40]!r}. Choose one of: {', '.join(PAPERS)}."
            )


#: Nothing chosen.
USUAL = Options()
