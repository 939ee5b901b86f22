"""Start the dashboard: on the loopback address, and on the kitchen's network if asked to."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import click

from balancer.door import SESSION_SECONDS, TOKEN_SECONDS, hashed, link, new_token
from balancer.errors import BadInput, DataProblem
from balancer.network import LOOPBACK, kitchen_addresses

#: So long a server may take to answer before no window is opened for it [s].
START_SECONDS = 60.0
#: Letters in a line of the terminal.
LINE_LETTERS = 88
#: What serving the network means, in the terminal and on the page.
MEANING = (
    "Whoever is on this network and is let in by a code can read and change your sauces. It is"
    " plain http: a skilled stranger on the same network could read along, and so get in. Do it"
    " only on a network whose people you trust."
)


def app_file() -> Path:
    """The dashboard's entry: inside the installed package, or at the top of a checkout."""
    here = Path(__file__).resolve().parent.parent
    for candidate in (here / "app.py", here.parent / "app.py"):
        if candidate.is_file():
            return candidate
    raise DataProblem("app.py is missing. Install the project again.")


def command(port: int, addresses: Sequence[str] = (), token: str = "") -> list[str]:
    """The command that serves the dashboard, without asking or sending anything.

    Parameters
    ----------
    port : int
    addresses : sequence of str
        Addresses of this machine on the network, besides loopback.
    token : str
        The first token; the command holds its hash only.
    """
    words = [sys.executable, "-m", "balancer.dashboard.served", str(app_file()), f"--port={port}"]
    words += [f"--address={address}" for address in addresses]
    return [*words, f"--token-hash={hashed(token)}"] if token else words


def serve(port: int, *, browser: bool, kitchen: bool = False) -> int:
    """Serve until the cook stops it; returns the exit code of the server."""
    addresses = kitchen_addresses() if kitchen else ()
    for address in (LOOPBACK, *addresses):
        if _answers(port, address):
            raise BadInput(
                f"Port {port} of this machine is in use. Close what runs there, or choose another"
                " with --port."
            )
    url = f"http://{LOOPBACK}:{port}"
    click.echo(f"The dashboard is at {url}; Ctrl+C ends it.")
    token = new_token() if kitchen else ""
    if kitchen:
        _tell(addresses, port, token)
    server = subprocess.Popen(command(port, addresses, token), stdin=subprocess.DEVNULL)
    signal.signal(signal.SIGTERM, signal.default_int_handler)  # ends the server too
    try:
        if browser:
            _show(url, port, server)
        return server.wait()
    except KeyboardInterrupt:
        server.terminate()
        server.wait()
        return 0


def _tell(addresses: Sequence[str], port: int, token: str) -> None:
    """Print how a device at the stove is let in, and what that means."""
    from balancer.qr import for_terminal

    links = [link(address, port, token) for address in addresses]
    code = for_terminal(links[0])
    click.echo(f"\nAt the stove: scan this code, or open {' or '.join(links)}\n")
    if _can_print(code):
        click.echo(f"{code}\n")
    text = (
        f"It lets one device in, within {TOKEN_SECONDS / 60:.0f} minutes, for"
        f" {SESSION_SECONDS / 3600:.0f} hours; the page 'To the stove' makes one for the next."
        f" {MEANING} Ctrl+C ends it for all."
    )
    click.echo(click.wrap_text(text, LINE_LETTERS))


def _can_print(text: str) -> bool:
    """Whether the terminal has letters for a text."""
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True


def _show(url: str, port: int, server: subprocess.Popen[bytes]) -> None:
    """Open a browser window as soon as the server answers."""
    import webbrowser

    end = time.monotonic() + START_SECONDS
    while server.poll() is None and time.monotonic() < end:
        if _answers(port):
            webbrowser.open(url)
            return
        time.sleep(0.2)


def _answers(port: int, address: str = LOOPBACK) -> bool:
    with socket.socket() as probe:
        probe.settimeout(0.5)
        return probe.connect_ex((address, port)) == 0
