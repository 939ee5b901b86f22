"""An address as a QR code, for a terminal and for a page (ISO/IEC 18004)."""

from __future__ import annotations

import segno

#: Light modules around the code, which a reader needs: ISO/IEC 18004:2015, 6.3.8.
QUIET_MODULES = 4
#: Pixels for each module of a picture [px]; about 250 px for an address. Chosen.
MODULE_PX = 6
#: Up to 15 % of it may be hidden by a greasy thumb: level M of ISO/IEC 18004:2015, table 12.
LEVEL = "m"
#: Two rows of modules in one row of letters: (upper dark, lower dark).
HALVES = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}
BLACK_ON_WHITE, PLAIN = "\x1b[30;107m", "\x1b[0m"


def _code(text: str) -> segno.QRCode:
    return segno.make(text, error=LEVEL, micro=False)


def for_terminal(text: str) -> str:
    """A QR code in half blocks, black on white whatever the terminal's colours are.

    Examples
    --------
    >>> len(for_terminal("http://192.0.2.2:8501/").splitlines())
    17
    """
    rows = [[int(dark) for dark in row] for row in _code(text).matrix_iter(border=QUIET_MODULES)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    lines = (
        "".join(HALVES[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(rows[::2], rows[1::2], strict=True)
    )
    return "\n".join(f"{BLACK_ON_WHITE}{line}{PLAIN}" for line in lines)


def picture(text: str) -> str:
    """A QR code as a PNG picture, in a ``data:`` address of its own."""
    found: str = _code(text).png_data_uri(
        scale=MODULE_PX, border=QUIET_MODULES, dark="black", light="white"
    )
    return found
