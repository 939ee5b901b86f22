"""Bad input, tried in a process of its own so that a hang or a crash ends nothing else."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

from tally import Row

PROGRAM = Path(__file__).parent / "hard_input.py"
#: Memory may grow by this over the first few cases, for tables and caches [MB].
MOST_GROWTH_MB = 500.0


def bad_input(cases: int, start: int = 20) -> tuple[Row, list[str]]:
    """Try so many cases; returns the row and a line for each kind of input."""
    command = [sys.executable, str(PROGRAM), str(cases), "--seed", str(start)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    what = "bad input under a limit of 4 GB of memory: Hypothesis over 17 kinds"
    if done.returncode:
        return Row(what, f"{cases} cases", (f"the process ended: {done.stderr[-800:]}",)), []
    found: dict[str, Any] = json.loads(done.stdout)
    trials = found["trials"]
    lost = [f"{t['kind']}: {k} — {v:.300}" for t in trials for k, v in t["faults"].items()]
    if found["grown_mb"] > MOST_GROWTH_MB:
        lost.append(f"memory grew by {found['grown_mb']:.0f} MB")
    total, slowest = sum(t["cases"] for t in trials), max(t["slowest_s"] for t in trials)
    row = Row(
        what,
        f"{total} cases, seed {start}",
        tuple(lost),
        f"{sum(t['accepted'] for t in trials)} accepted,"
        f" {sum(t['refused'] for t in trials)} refused with a sentence; slowest {slowest:.2f} s of"
        f" the processor; peak {found['memory_mb']:.0f} MB",
    )
    lines = [
        f"{t['kind']}: {t['cases']} cases, {t['accepted']} accepted, {t['refused']} refused,"
        f" slowest {t['slowest_s']:.2f} s"
        for t in trials
    ]
    return row, lines
