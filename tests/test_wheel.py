"""The built wheel carries everything: installed elsewhere, it solves a sauce."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


def call(*command, cwd, **environment):
    clean = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV")}
    return subprocess.run(
        [str(c) for c in command], cwd=cwd, env={**clean, **environment},
        capture_output=True, text=True, check=False, timeout=900,
    )  # fmt: skip


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wheel")
    done = call(sys.executable, "-m", "build", "--wheel", "--outdir", folder, ROOT, cwd=folder)
    if done.returncode and "No matching distribution" in done.stdout + done.stderr:
        if os.environ.get("CI"):
            pytest.fail("the wheel cannot be built without its build tool")
        pytest.skip("no package index can be reached, so the wheel is not built here")
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return next(folder.glob("*.whl"))


def test_wheel_carries_tables_and_entry(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    package = [p for p in (ROOT / "balancer").rglob("*") if p.is_file()]
    wanted = {str(p.relative_to(ROOT)) for p in package if p.suffix != ".pyc"}
    wanted |= {f"balancer/data/{p.name}" for p in (ROOT / "data").glob("*.csv")}
    wanted |= {"balancer/app.py", "balancer/schema/request.schema.json"}
    assert not wanted - names
    assert not [n for n in names if n.startswith(("tests/", "data/"))]


def test_installed_wheel_solves_a_sauce(wheel, tmp_path):
    place = tmp_path / "a kitchen at the quay"
    place.mkdir()
    assert call(sys.executable, "-m", "venv", "venv", cwd=place).returncode == 0
    python = place / "venv" / "bin" / "python"
    if os.environ.get("CI"):  # with every dependency fetched anew
        done = call(python, "-m", "pip", "install", "-q", wheel, cwd=place)
    else:  # quicker at the desk: the dependencies of this Python, the wheel itself installed
        done = call(python, "-m", "pip", "install", "-q", "--no-deps", wheel, cwd=place)
        paths = [p for p in sys.path if p.endswith("site-packages")]
        site = next((place / "venv" / "lib").glob("python3*/site-packages"))
        (site / "dependencies.pth").write_text("\n".join(paths), encoding="utf-8")
    assert done.returncode == 0, done.stderr[-2000:]
    command = place / "venv" / "bin" / "balancer"
    home = {"BALANCER_HOME": str(place / "home")}
    request = call(command, "demo", "plum-ginger-dip", cwd=place, **home)
    (place / "plum.json").write_text(request.stdout, encoding="utf-8")
    solved = call(command, "solve", "plum.json", "--json", "--save", "Plum", cwd=place, **home)
    assert solved.returncode == 0, solved.stderr
    answer = json.loads(solved.stdout)
    assert answer["status"] == "on_target"
    assert call(command, "export", "Plum", "--to", "plum.md", cwd=place, **home).returncode == 0
    where = call(
        python, "-c", "import balancer.cli.serve as s; print(s.app_file())", cwd=place, **home
    )
    assert Path(where.stdout.strip()).is_relative_to(place / "venv")
