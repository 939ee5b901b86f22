"""Run the examples of the README and write what they print back into it.

``python tests/readme.py`` checks; with ``--write`` it puts the new output in place. An example is
a fenced block marked ``console``: a line that starts with ``$ `` is run, what follows is output.
"""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

README = Path(__file__).parent.parent / "README.md"
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
DATE = re.compile(r"\b20\d\d-\d\d-\d\d\b")


def undated(text: str) -> str:
    """The same text with every date put to one day, for comparison."""
    return DATE.sub("2026-01-01", text)


def run(command: str, folder: Path) -> str:
    """What one command prints, with ``balancer`` taken from this Python."""
    environment = {**os.environ, "BALANCER_HOME": str(folder / "home"), "COLUMNS": "96"}
    python = shlex.quote(sys.executable)
    done = subprocess.run(
        ["sh", "-c", f'balancer() {{ {python} -m balancer "$@"; }}; {command}'],
        cwd=folder, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.stdout + done.stderr


def rendered(text: str) -> str:
    """The README with the output of every example made anew, in the order of the page."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)

        def block(match: re.Match[str]) -> str:
            parts = []
            lines = iter(match.group(1).splitlines())
            for line in lines:
                if not line.startswith("$ "):
                    continue  # output of the last run
                command = [line[2:]]
                if "<<'END'" in line:  # what stands between the marks belongs to the command
                    for inner in lines:
                        command.append(inner)
                        if inner == "END":
                            break
                printed = run("\n".join(command), folder).rstrip()
                parts += ["$ " + "\n".join(command), *([printed] if printed else [])]
            return "```console\n" + "\n".join(parts) + "\n```"

        return BLOCK.sub(block, text)


if __name__ == "__main__":
    before = README.read_text(encoding="utf-8")
    after = rendered(before)
    if "--write" in sys.argv:
        README.write_text(after, encoding="utf-8")
    sys.exit(0 if undated(before) == undated(after) or "--write" in sys.argv else 1)
