"""`balancer open` from a shell that answers no question: it serves, on loopback, and says where."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
import urllib.request

import pytest

from balancer.cli.serve import LOOPBACK, command


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOOPBACK, 0))
        return probe.getsockname()[1]


@pytest.fixture
def served(tmp_path):
    port = free_port()
    environment = {**os.environ, "HOME": str(tmp_path), "BALANCER_HOME": str(tmp_path / "home")}
    server = subprocess.Popen(
        [sys.executable, "-m", "balancer", "open", "--no-browser", "--port", str(port)],
        env=environment, cwd=tmp_path, stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    yield port, server, environment
    server.terminate()
    server.wait(timeout=20)
    server.stdout.close()


def test_a_first_start_asks_nothing_and_serves(served):
    port, server, environment = served
    end = time.monotonic() + 60
    page = ""
    while not page and time.monotonic() < end:
        try:
            with urllib.request.urlopen(f"http://{LOOPBACK}:{port}/", timeout=5) as answer:
                page = answer.read().decode()
        except OSError:
            assert server.poll() is None, server.stdout.read().decode()
            time.sleep(0.3)
    assert "<html" in page
    second = subprocess.run(
        [sys.executable, "-m", "balancer", "open", "--no-browser", "--port", str(port)],
        env=environment, capture_output=True, text=True, check=False, timeout=60,
    )  # fmt: skip
    assert second.returncode == 2
    assert f"Port {port}" in second.stderr


def test_the_server_listens_on_loopback_and_sends_no_statistics():
    flags = command(8501)
    assert "--server.address=127.0.0.1" in flags
    assert "--browser.gatherUsageStats=false" in flags
    assert "--server.headless=true" in flags
