"""Start the dashboard: on the loopback address, without usage statistics."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import click

from balancer.errors import BadInput, DataProblem

LOOPBACK = "127.0.0.1"
#: So long a server may take to answer before no window is opened for it [s].
START_SECONDS = 60.0


def app_file() -> Path:
    """The dashboard's entry: inside the installed package, or at the top of a checkout."""
    here = Path(__file__).resolve().parent.parent
    for candidate in (here / "app.py", here.parent / "app.py"):
        if candidate.is_file():
            return candidate
    raise DataProblem("app.py is missing. Install the project again.")


def command(port: int) -> list[str]:
    """The command that serves the dashboard, without asking or sending anything."""
    options = {
        "server.address": LOOPBACK,
        "server.port": str(port),
        "server.headless": "true",  # otherwise the first start asks for an e-mail address
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
    if _answers(port):
        raise BadInput(
            f"Port {port} of this machine is in use. Close what runs there, or choose another with"
            " --port."
        )
    url = f"http://{LOOPBACK}:{port}"
    click.echo(f"The dashboard is at {url}; Ctrl+C ends it.")
    server = subprocess.Popen(command(port), stdin=subprocess.DEVNULL)
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends the server too
    try:
        if browser:
            _show(url, port, server)
        return server.wait()
    except KeyboardInterrupt:
        server.terminate()
        return server.wait()


def _show(url: str, port: int, server: subprocess.Popen[bytes]) -> None:
    """Open a browser window as soon as the server answers."""
    import webbrowser

    end = time.monotonic() + START_SECONDS
    while server.poll() is None and time.monotonic() < end:
        if _answers(port):
            webbrowser.open(url)
            return
        time.sleep(0.2)


def _answers(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(0.5)
        return probe.connect_ex((LOOPBACK, port)) == 0
