"""`balancer open` from a shell that answers no question: it serves, and says where.

On loopback alone without an option; with ``--kitchen`` on the local network too, behind a token.
"""

from __future__ import annotations

import http.client
import os
import re
import signal
import socket
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from balancer.cli.serve import LOOPBACK, command
from balancer.door import WRONG_TRIES, hashed
from balancer.network import own_addresses


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return probe.getsockname()[1]


def get(address, port, path="/", method="GET", **headers):
    """Status, headers and text of one request."""
    connection = http.client.HTTPConnection(address, port, timeout=10)
    try:
        connection.request(method, path, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.headers, answer.read().decode("utf-8", "replace")
    finally:
        connection.close()


def wait_for(port, server):
    end = time.monotonic() + 60
    while True:
        assert server.poll() is None, "the server ended before it answered"
        assert time.monotonic() < end, "the server did not answer within a minute"
        try:
            return get(LOOPBACK, port)[2]
        except OSError:
            time.sleep(0.3)


class Opened:
    def __init__(self, folder: Path, *options: str) -> None:
        self.port = free_port()
        self.environment = {
            **os.environ, "HOME": str(folder), "BALANCER_HOME": str(folder / "home"),
            "PYTHONIOENCODING": "utf-8",
        }  # fmt: skip
        self.words = [
            sys.executable, "-m", "balancer", "open", "--no-browser", "--port", str(self.port),
            *options,
        ]  # fmt: skip
        self.out = folder / "out.txt"
        with self.out.open("wb") as out:
            self.server = subprocess.Popen(
                self.words, env=self.environment, cwd=folder, stdin=subprocess.DEVNULL,
                stdout=out, stderr=subprocess.STDOUT,
            )  # fmt: skip

    def said(self) -> str:
        return self.out.read_text(encoding="utf-8")

    def again(self) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            self.words, env=self.environment, cwd=self.out.parent, capture_output=True, text=True,
            check=False, timeout=60,
        )  # fmt: skip

    def end(self) -> None:
        if self.server.poll() is None:
            self.server.terminate()
            self.server.wait(timeout=20)


@pytest.fixture
def opened(tmp_path):
    running = []

    def start(*options: str) -> Opened:
        running.append(Opened(tmp_path, *options))
        return running[-1]

    yield start
    for each in running:
        each.end()


def test_a_first_start_asks_nothing_and_serves_this_machine_only(opened):
    one = opened()
    assert "<html" in wait_for(one.port, one.server)
    second = one.again()
    assert second.returncode == 2
    assert f"Port {one.port}" in second.stderr
    for address in own_addresses():
        with pytest.raises(OSError, match="refused"):
            get(address, one.port)
    one.server.send_signal(signal.SIGINT)
    assert one.server.wait(timeout=20) == 0
    assert "Traceback" not in one.said()


def test_the_kitchen_is_served_behind_a_token(opened):
    one = opened("--kitchen")
    if not own_addresses():  # a machine on no network is told so
        assert one.server.wait(timeout=60) == 2
        assert "no address on a local network" in one.said()
        return
    assert "<html" in wait_for(one.port, one.server)  # this machine needs no token
    said = one.said()
    link = re.search(r"http://([\d.]+):\d+(/let-in/[\w-]{22})", said)
    assert link, said
    address, path = link.groups()
    assert "█" in said
    for sentence in ("read and change", "plain http", "Ctrl+C ends it", "10 minutes"):
        assert sentence in " ".join(said.split())
    status, _, page = get(address, one.port)
    assert status == 401
    assert "has not been let in" in page
    status, headers, _ = get(address, one.port, path)
    assert status == 200
    cookie = headers["Set-Cookie"].split(";")[0]
    assert get(address, one.port, "/_stcore/health", Cookie=cookie)[0] == 200
    # the token is used up; more wrong ones, and the device has to wait
    statuses = [get(address, one.port, path)[0] for _ in range(WRONG_TRIES + 2)]
    assert statuses == [401] * WRONG_TRIES + [429] * 2
    status, headers, page = get(address, one.port, path)
    assert 0 < int(headers["Retry-After"]) <= 60
    assert "Wait a minute" in page
    assert get(address, one.port, "/_stcore/health", Cookie=cookie)[0] == 200  # who is in stays in
    one.server.send_signal(signal.SIGINT)
    assert one.server.wait(timeout=20) == 0
    assert path not in one.said().replace(link.group(), ""), "a token stands in the log"
    assert "Traceback" not in one.said()


def test_the_command_names_loopback_only_unless_told_and_holds_no_token():
    plain = command(8501)
    assert not [word for word in plain if "address" in word or "token" in word]
    wide = command(8501, ["192.0.2.2"], "secret")
    assert "--address=192.0.2.2" in wide
    assert f"--token-hash={hashed('secret')}" in wide
    assert not [word for word in wide if "secret" in word]


def test_no_file_of_settings_turns_the_checks_off(tmp_path):
    """What Streamlit itself makes of its options, where a file says the opposite."""
    settings = tmp_path / ".streamlit" / "config.toml"
    settings.parent.mkdir()
    settings.write_text(
        "[server]\nenableCORS = false\nenableXsrfProtection = false\naddress = '0.0.0.0'\n"
        "[browser]\ngatherUsageStats = true\n"
    )
    code = """
        import sys
        from streamlit import config
        from balancer.dashboard.served import configure
        if sys.argv[1:]:
            configure(8501)
        names = ("server.enableCORS", "server.enableXsrfProtection", "server.address",
                 "browser.gatherUsageStats", "server.maxUploadSize")
        print([config.get_option(name) for name in names])
    """

    def options(*arguments):
        return subprocess.run(
            [sys.executable, "-c", textwrap.dedent(code), *arguments], cwd=tmp_path,
            env={**os.environ, "STREAMLIT_SERVER_ENABLE_CORS": "false"}, check=True,
            capture_output=True, text=True, timeout=60,
        ).stdout.strip()  # fmt: skip

    assert options() == "[False, False, '0.0.0.0', True, 200]"
    assert options("configured") == "[True, True, '127.0.0.1', False, 50]"
