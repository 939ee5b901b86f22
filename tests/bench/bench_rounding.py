"""Rounding together against rounding alone, with the time that a cook waits.

Run: python tests/bench/bench_rounding.py
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "outside"), str(HERE.parent.parent)]

from test_rounding_beats import RECIPES, table, trial  # noqa: E402

from balancer.catalogue import default_catalogue  # noqa: E402
from balancer.rounding import SECONDS  # noqa: E402


def main() -> None:
    """Print the table for the time that the library takes."""
    catalogue = default_catalogue()
    print(f"{RECIPES} random recipes, {SECONDS:g} s for one program")
    print(table([trial(catalogue, seed, SECONDS, every=True) for seed in range(RECIPES)]))


if __name__ == "__main__":
    main()
