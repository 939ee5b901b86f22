"""Tokens are good once and for a while; the address of the machine is found without a packet."""

from __future__ import annotations

import base64
import io
import re
import shutil
import socket
import subprocess
from typing import Any

import pytest

from balancer import network
from balancer.door import (
    MOST_KEPT,
    SESSION_SECONDS,
    TOKEN_SECONDS,
    WRONG_TRIES,
    WRONG_WINDOW_SECONDS,
    Door,
    Standing,
    Tries,
    hashed,
    new_token,
)
from balancer.errors import BadInput
from balancer.qr import for_terminal, picture

LINK = "http://192.0.2.2:8501/let-in/" + "Ab-_" * 5 + "xy"


class Clock:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def door(clock: Clock) -> Door:
    return Door(clock)


def test_a_token_is_good_once(door: Door) -> None:
    token = door.issue("draft=abc")
    assert door.standing(token) is Standing.GOOD
    came = door.trade(token)
    assert came is not None
    assert came.onward == "draft=abc"
    assert door.knows(came.session)
    assert door.trade(token) is None
    assert door.standing(token) is Standing.USED
    assert door.devices() == 1


def test_a_token_expires(door: Door, clock: Clock) -> None:
    token = door.issue()
    clock.now += TOKEN_SECONDS - 1.0
    assert door.standing(token) is Standing.GOOD
    clock.now += 1.0
    assert door.standing(token) is Standing.EXPIRED
    assert door.trade(token) is None
    assert door.devices() == 0


def test_a_session_expires_and_can_be_ended(door: Door, clock: Clock) -> None:
    first = door.trade(door.issue())
    assert first is not None
    clock.now += SESSION_SECONDS
    assert not door.knows(first.session)
    second = door.trade(door.issue())
    assert second is not None
    waiting = door.issue()
    door.send_away()
    assert not door.knows(second.session)
    assert door.trade(waiting) is None


@pytest.mark.parametrize("wrong", ["", "x", "Ü" * 22, "\udcff", "a" * 100_000])
def test_a_wrong_token_is_unknown(door: Door, wrong: str) -> None:
    door.issue()
    assert door.standing(wrong) is Standing.UNKNOWN
    assert door.trade(wrong) is None
    assert not door.knows(wrong)


def test_what_is_kept_are_hashes_and_not_without_end(door: Door) -> None:
    tokens = [door.issue() for _ in range(MOST_KEPT + 1)]
    assert door.standing(tokens[0]) is Standing.UNKNOWN
    assert door.standing(tokens[1]) is Standing.GOOD
    came = door.trade(tokens[-1])
    assert came is not None
    held = repr(vars(door))
    assert hashed(tokens[-1]) in held
    assert tokens[-1] not in held
    assert came.session not in held


def test_a_token_made_elsewhere_comes_as_a_hash(door: Door) -> None:
    token = new_token()
    door.expect(hashed(token))
    assert door.trade(token) is not None


def test_wrong_tries_make_a_device_wait(clock: Clock) -> None:
    tries = Tries(clock)
    for _ in range(WRONG_TRIES - 1):
        tries.wrong("a")
    assert tries.wait_seconds("a") == 0
    clock.now += 1.0
    tries.wrong("a")
    assert tries.wait_seconds("a") == pytest.approx(WRONG_WINDOW_SECONDS - 1.0)
    assert tries.wait_seconds("b") == 0
    clock.now += WRONG_WINDOW_SECONDS
    assert tries.wait_seconds("a") == 0


# --- the address --------------------------------------------------------------------------------


def test_finding_the_address_sends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as far:
        far.bind((network.LOOPBACK, 0))
        far.setblocking(False)
        monkeypatch.setattr(network, "TOWARDS", (network.LOOPBACK,))
        monkeypatch.setattr(network, "PORT", far.getsockname()[1])
        assert network.own_addresses() == ()  # loopback is nobody's network
        with pytest.raises(BlockingIOError):
            far.recv(1)


def test_the_addresses_are_those_that_the_system_lists() -> None:
    """Against iproute2's list of this machine's addresses."""
    ip = shutil.which("ip")
    if ip is None:
        pytest.skip("the command ip is missing; install iproute2")
    listed = subprocess.run([ip, "-4", "-o", "addr"], capture_output=True, text=True, check=True)
    own = set(re.findall(r"inet ([\d.]+)", listed.stdout))
    assert set(network.own_addresses()) <= own - {network.LOOPBACK}


@pytest.mark.parametrize(
    ("own", "sentence"),
    [((), "no address on a local network"), (("8.8.8.8",), "8.8.8.8, is one of the internet")],
)
def test_without_a_local_address_there_is_a_sentence(
    own: tuple[str, ...], sentence: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(network, "own_addresses", lambda: own)
    with pytest.raises(BadInput, match=sentence):
        network.kitchen_addresses()


def test_addresses_of_the_internet_are_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """RFC 1918 blocks are local; 100.64.0.0/10 belongs to carriers (RFC 6598)."""
    own = ("8.8.8.8", "100.64.1.1", "10.1.2.3", "172.16.0.9", "192.168.1.20")
    monkeypatch.setattr(network, "own_addresses", lambda: own)
    assert network.kitchen_addresses() == own[2:]


# --- the code, read by another program ------------------------------------------------------------


def _read(image: Any) -> list[str]:
    zxingcpp = pytest.importorskip("zxingcpp", reason="zxing-cpp is missing; it reads QR codes")
    return [found.text for found in zxingcpp.read_barcodes(image)]


def test_the_picture_is_read_back_by_zxing() -> None:
    from PIL import Image

    head, data = picture(LINK).split(",", 1)
    assert head == "data:image/png;base64"
    image = Image.open(io.BytesIO(base64.b64decode(data))).convert("L")
    assert _read(image) == [LINK]
    assert 200 <= image.width <= 400


def test_the_terminal_shows_what_zxing_reads() -> None:
    import numpy as np

    lines = re.sub(r"\x1b\[[\d;]*m", "", for_terminal(LINK)).splitlines()
    halves = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}
    rows = [[halves[letter][half] for letter in line] for line in lines for half in (0, 1)]
    image = np.where(np.array(rows) == 1, 0, 255).astype(np.uint8)
    assert _read(np.kron(image, np.ones((4, 4), dtype=np.uint8))) == [LINK]
