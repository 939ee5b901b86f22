"""Start the dashboard: on the loopback address, without usage statistics."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click

from balancer.errors import DataProblem

LOOPBACK = "127.0.0.1"


def app_file() -> Path:
    """The dashboard's entry: inside the installed package, or at the top of a checkout."""
    here = Path(__file__).resolve().parent.parent
    for candidate in (here / "app.py", here.parent / "app.py"):
        if candidate.is_file():
            return candidate
    raise DataProblem("app.py is missing. Install the project again.")


def command(port: int, *, browser: bool) -> list[str]:
    """The command that serves the dashboard."""
    options = {
        "server.address": LOOPBACK,
        "server.port": str(port),
        "server.headless": "false" if browser else "true",
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": "false",
        "browser.serverAddress": LOOPBACK,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
    }
    flags = [f"--{name}={value}" for name, value in options.items()]
    return [sys.executable, "-m", "streamlit", "run", str(app_file()), *flags]


def serve(port: int, *, browser: bool) -> int:
    """Serve until the cook stops it; returns the exit code of the server."""
    click.echo(f"The dashboard is at http://{LOOPBACK}:{port}; Ctrl+C ends it.")
    environment = {**os.environ, "STREAMLIT_BROWSER_GATHER_USAGE_STATS": "false"}
    try:
        return subprocess.run(
            command(port, browser=browser), env=environment, check=False
        ).returncode
    except KeyboardInterrupt:
        return 0
