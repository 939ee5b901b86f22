"""The command that shows a saved sauce in base ingredients, run for real."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

MIX = {"ingredients": [{"name": "fennel seed", "locked_g": 30}, {"name": "salt", "locked_g": 70}]}
SAUCE = {
    "ingredients": [
        {"name": "tomatoes", "locked_g": 500},
        {"name": "fennel seed", "locked_g": 1.1},
        {"name": "the mix", "recipe": "fish spice", "locked_g": 10},
    ],
    "target": {"salt": 1.4},
}


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    return tmp_path


def balancer(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "balancer", *words], capture_output=True, text=True, check=False
    )


def saved(home: Path, name: str, request: dict) -> None:
    path = home / "request.json"
    path.write_text(json.dumps(request), encoding="utf-8")
    done = balancer("solve", str(path), "--save", name)
    assert done.returncode == 0, done.stderr


def test_parts_and_opening_up(home: Path) -> None:
    saved(home, "fish spice", MIX)
    saved(home, "red sauce", SAUCE)
    shown = balancer("parts", "red sauce")
    assert shown.returncode == 0, shown.stderr
    assert "(3 g in fish spice, 1.1 g on its own)" in shown.stdout
    again = balancer("parts", "red sauce", "--open-up", "red sauce, open")
    assert again.returncode == 0, again.stderr
    names = json.loads(balancer("show", "red sauce, open", "--json").stdout)
    assert "the mix" not in names["answer"]["quantities_g"]
    refused = balancer("delete", "recipe", "fish spice")
    assert refused.returncode == 2
    assert "is an ingredient of 'red sauce'" in refused.stderr
