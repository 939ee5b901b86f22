"""The server process of the dashboard: ``python -m balancer.dashboard.served APP --port 8501``.

Streamlit's own application, the gate before it, on the loopback address and, if the kitchen's
network is served, on the addresses that are given.
"""

from __future__ import annotations

import argparse
import logging
import os
import socket
import sys
from collections.abc import Mapping, Sequence
from types import MappingProxyType

from balancer.dashboard import gate
from balancer.door import Door
from balancer.network import LOOPBACK

#: Largest file that a page takes [MB]; a kitchen book as large as the store reads.
LARGEST_UPLOAD_MB = 50
#: Largest message that a page may send [bytes]: far above every form. Chosen.
LARGEST_MESSAGE_BYTES = 4_000_000
#: So long open connections have to end when the cook stops the server [s].
LAST_SECONDS = 2
BACKLOG = 128
BAD_INPUT = 2
#: Streamlit's options as on its command line, where they outrank files and environment.
OPTIONS: Mapping[str, object] = MappingProxyType(
    {
        "server.enableCORS": True,
        "server.enableXsrfProtection": True,
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.address": LOOPBACK,
        "server.maxUploadSize": LARGEST_UPLOAD_MB,
        "browser.gatherUsageStats": False,
        "browser.serverAddress": LOOPBACK,
        # Python collects garbage when there is some; after every rerun is oftener than there is
        "runner.postScriptGC": False,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "global.developmentMode": False,
    }
)


def configure(port: int) -> None:
    """Set Streamlit's options for this process."""
    from streamlit.web.bootstrap import load_config_options

    load_config_options({**OPTIONS, "server.port": port})


def bound(address: str, port: int) -> socket.socket:
    """A socket that listens at one address, for everything that is sent there."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        if os.name != "nt":  # there the option would let two servers share a port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        listening.listen(BACKLOG)
    except OSError:
        listening.close()
        raise
    return listening


def serve(script: str, port: int, addresses: Sequence[str] = (), tokens: Sequence[str] = ()) -> int:
    """Serve until the process is told to stop.

    Parameters
    ----------
    script : str
        The file that Streamlit runs.
    port : int
    addresses : sequence of str
        Addresses besides loopback; empty if only this machine is served.
    tokens : sequence of str
        Hashes of the tokens that are out already.

    Returns
    -------
    int
        Exit code.
    """
    listening: list[socket.socket] = []
    try:
        for address in (LOOPBACK, *addresses):
            listening.append(bound(address, port))
    except OSError as error:
        sys.stderr.write(
            f"Port {port} of {address} cannot be served ({error.strerror}). Close what runs there,"
            " or choose another with --port.\n"
        )
        for each in listening:
            each.close()
        return BAD_INPUT
    kitchen = None
    if addresses:
        kitchen = gate.Kitchen(Door(), tuple(addresses), port)
        for digest in tokens:
            kitchen.door.expect(digest)
    gate.serve(kitchen)
    _run(script, port, kitchen, listening)
    return 0


def _run(
    script: str, port: int, kitchen: gate.Kitchen | None, listening: list[socket.socket]
) -> None:
    import uvicorn
    from streamlit.starlette import App

    configure(port)
    config = uvicorn.Config(
        gate.Gate(App(script), port, kitchen),
        loop="asyncio",
        lifespan="on",
        ws="websockets-sansio",
        ws_max_size=LARGEST_MESSAGE_BYTES,
        ws_per_message_deflate=False,
        proxy_headers=False,  # who asks is who is connected, whatever a header says
        server_header=False,
        access_log=False,
        log_level="warning",
        timeout_graceful_shutdown=LAST_SECONDS,
    )
    for name in ("uvicorn", "uvicorn.access", "uvicorn.error"):  # a token could stand there
        logging.getLogger(name).addFilter(lambda record: record.levelno >= logging.WARNING)
    try:
        uvicorn.Server(config).run(sockets=listening)
    except KeyboardInterrupt:  # the server has ended; it passes the signal on
        return


def main() -> int:
    """Read the command line and serve."""
    parser = argparse.ArgumentParser(prog="python -m balancer.dashboard.served")
    parser.add_argument("script")
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--address", action="append", default=[])
    parser.add_argument("--token-hash", action="append", default=[])
    given = parser.parse_args()
    return serve(given.script, given.port, given.address, given.token_hash)


if __name__ == "__main__":
    sys.exit(main())
