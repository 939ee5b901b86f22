"""What every export needs: numbers as text, text made harmless, names fit for files."""

from __future__ import annotations

import math
import re
import unicodedata

from balancer.recipe import ProfileRow

#: Names of devices that Windows will not have as files, whatever follows the dot.
_DEVICES = re.compile(
    r"(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9\u00b9\u00b2\u00b3])\s*(\.|$)"
)
#: File systems take 255 bytes; a browser and a copy may each add some.
_LONGEST_FILE_NAME = 120


def one_line(text: str) -> str:
    """Put a text on one line and drop what cannot be seen or written.

    >>> one_line("plum\\n dip\\u202e")
    'plum dip'
    """
    kept = "".join(
        " " if unicodedata.category(c) in ("Cc", "Zl", "Zp", "Zs") else c
        for c in text
        if unicodedata.category(c) not in ("Cf", "Cs") or c in "\u200c\u200d"
    )
    return " ".join(kept.split())


def level_text(level: float) -> str:
    """Write a level in the digits its size deserves.

    >>> level_text(1.234), level_text(18.04), level_text(12345.6)
    ('1.23', '18.0', '12346')
    """
    digits = 2 if abs(level) < 10 else 1 if abs(level) < 100 else 0
    return f"{level:.{digits}f}"


def target_text(row: ProfileRow) -> str:
    """Write what was asked of an axis, with its unit; empty where nothing was.

    >>> target_text(ProfileRow("sour", 1.1, (1.0, 1.5), "g citric eq. per 100 g", 0.0))
    '1.00 to 1.50 g citric eq. per 100 g'
    """
    if row.target is None:
        return ""
    if not isinstance(row.target, tuple):
        return f"{level_text(row.target)} {row.unit}"
    low, high = row.target
    if math.isinf(low) and math.isinf(high):
        return ""
    if math.isinf(low):
        return f"at most {level_text(high)} {row.unit}"
    if math.isinf(high):
        return f"at least {level_text(low)} {row.unit}"
    return f"{level_text(low)} to {level_text(high)} {row.unit}"


def deviation_text(row: ProfileRow) -> str:
    """Say in words how far an axis is off; empty without a target.

    >>> deviation_text(ProfileRow("sour", 1.1, 1.4, "g citric eq. per 100 g", -1.2))
    '1.2 JND under'
    """
    if row.deviation_jnd is None:
        return ""
    if abs(row.deviation_jnd) < 0.05:
        return "on target"
    side = "over" if row.deviation_jnd > 0 else "under"
    return f"{abs(row.deviation_jnd):.1f} JND {side}"


def doubt_text(row: ProfileRow) -> str:
    """Say which parts of a level are not well known; empty where all are.

    >>> doubt_text(ProfileRow("heat", 30.0, None, "SHU", None, ("ginger",), ("red chili pepper",)))
    'heat: not known for ginger, counted as none; assumed or from memory for red chili pepper'
    """
    parts = []
    if row.unknown:
        parts.append(f"not known for {', '.join(row.unknown)}, counted as none")
    if row.assumed:
        parts.append(f"assumed or from memory for {', '.join(row.assumed)}")
    return f"{row.axis}: {'; '.join(parts)}" if parts else ""


def safe_filename(name: str, suffix: str) -> str:
    """Make a file name that Windows, macOS and Linux all take.

    Parameters
    ----------
    name : str
        Any text.
    suffix : str
        The ending with its dot.

    Returns
    -------
    str
        One path component: no separators, no reserved characters or names, not hidden, not an
        option of a command, 120 bytes of UTF-8 or fewer.

    Examples
    --------
    >>> safe_filename('Plum/ginger "dip"?', ".md")
    'Plum-ginger dip.md'
    >>> safe_filename("CON", ".csv")
    'recipe CON.csv'
    """
    text = unicodedata.normalize("NFC", one_line(name))
    text = re.sub(r"[/\\|:]", "-", text)
    text = re.sub(r'[<>"?*]', "", text)
    room = _LONGEST_FILE_NAME - len(suffix.encode())
    text = text.lstrip(" .-~").encode()[: room - len("recipe ")].decode(errors="ignore")
    text = " ".join(text.split()).rstrip(" .")
    if not text:
        text = "recipe"
    elif _DEVICES.match(text.casefold()):
        text = f"recipe {text}"
    return text + suffix
