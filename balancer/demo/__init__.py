"""The three house sauces of a harbour-side supper stall that sells grilled fish.

Their quantities are invented, to start from and to show what the tool does.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def house_sauces() -> dict[str, dict[str, Any]]:
    """Requests of the house sauces by a short key, in alphabetical order."""
    files = sorted(Path(__file__).parent.glob("*.json"))
    return {file.stem: json.loads(file.read_text(encoding="utf-8")) for file in files}
