"""What a cook decides about a written recipe."""

from __future__ import annotations

import re
from dataclasses import dataclass

from balancer.errors import BadInput
from balancer.export.text import one_line

PAPERS = ("A4", "letter")
#: Which nutrition panels a recipe shows.
PANELS = ("us", "eu", "both", "none")
_LONGEST_DATE = 24
_LONGEST_NAME = 120
_LONGEST_ADDRESS = 2000
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")
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
    nutrition : str
        Which panels are shown: "us", "eu", "both" or "none".
    taster : str
        Who tasted it last; empty leaves the name out.
    image : str
        Address (http or https) or file name of a picture of the sauce, for the linked data; empty
        leaves it out. It is written down and never opened.

    Raises
    ------
    BadInput
        If a date is too long for a label, ISO 8601 dates are the wrong way round, or there is no
        such paper or panel, or the name or the address of the picture cannot be one.
    """

    made_on: str = ""
    use_by: str = ""
    paper: str = "A4"
    nutrition: str = "us"
    taster: str = ""
    image: str = ""

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
        if self.nutrition not in PANELS:
            raise BadInput(
                f"No nutrition form is called {self.nutrition[:40]!r}. Choose one of:"
                f" {', '.join(PANELS)}."
            )
        if len(one_line(self.taster)) > _LONGEST_NAME:
            raise BadInput(
                f"The name of the taster has {len(one_line(self.taster))} letters. Write it in"
                f" {_LONGEST_NAME} or fewer."
            )
        _checked_image(one_line(self.image))


def _checked_image(image: str) -> None:
    """Refuse what is neither an address of a picture nor a file name."""
    scheme = _SCHEME.match(image)
    address = image.lower().startswith(("http://", "https://"))
    if len(image) > _LONGEST_ADDRESS or " " in image or (scheme and not address):
        raise BadInput(
            f"The picture {image[:60]!r} is neither an address that begins with https:// nor a"
            " file name without spaces. Give one of the two, or leave it out."
        )


#: Nothing chosen.
USUAL = Options()
