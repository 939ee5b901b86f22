"""The gate: what passes, what is refused, by its own rules, in a real server and in a browser.

The addresses are those of this machine: loopback, and one of its network (a second loopback
address where it is on none). The browser tests skip, with their reason, where there is no
Chromium; with the environment variable CI they fail.
"""

from __future__ import annotations

import asyncio
import http.client
import http.server
import os
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from browsing import browsing
from conftest import opened, press, text_of
from streamlit.testing.v1 import AppTest

from balancer.cli.serve import command
from balancer.dashboard import gate
from balancer.dashboard.gate import Gate, Kitchen
from balancer.door import (
    LET_IN,
    SESSION_SECONDS,
    TOKEN_SECONDS,
    WRONG_TRIES,
    Door,
    link,
    new_token,
)
from balancer.network import LOOPBACK, own_addresses

PORT = 8501
FAR = "192.0.2.2"  # in the pure tests only: documentation, RFC 5737
PHONE = "192.0.2.77"


class Clock:
    now = 1000.0

    def __call__(self) -> float:
        return self.now


# --- the rules, without a server ------------------------------------------------------------------


@dataclass
class Asked:
    """A gate with an application behind it that says what reached it."""

    clock: Clock = field(default_factory=Clock)
    reached: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.kitchen = Kitchen(Door(self.clock), (FAR,), PORT)
        self.gate = Gate(self._app, PORT, self.kitchen)
        self.alone = Gate(self._app, PORT)

    async def _app(self, scope: Any, receive: Any, send: Any) -> None:
        self.reached.append(f"{scope['type']} {scope['path']}")
        if scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.accept"})
            while (message := await receive())["type"] == "websocket.receive":
                await send({"type": "websocket.send", "bytes": message["bytes"]})
            return
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"inside"})

    def ask(
        self,
        path: str = "/",
        at: str = FAR,
        client: str = PHONE,
        *,
        alone: bool = False,
        kind: str = "http",
        method: str = "GET",
        said: tuple[bytes, ...] = (),
        then: Any = None,
        **headers: str,
    ) -> list[dict[str, Any]]:
        headers.setdefault("host", f"{at}:{PORT}")
        if kind == "websocket":
            headers.setdefault("origin", f"http://{headers['host']}")
        scope = {
            "type": kind, "path": path, "method": method, "server": (at, PORT),
            "client": (client, 40000),
            "headers": [(k.replace("_", "-").encode(), v.encode()) for k, v in headers.items()],
        }  # fmt: skip
        incoming = [{"type": "websocket.connect"} if kind == "websocket" else {}]
        incoming += [{"type": "websocket.receive", "bytes": each} for each in said]
        incoming += [{"type": "websocket.disconnect"}]
        sent: list[dict[str, Any]] = []

        async def receive() -> Any:
            if then is not None and len(incoming) == 2:
                then()
            return incoming.pop(0)

        async def send(message: Any) -> None:
            sent.append(dict(message))

        asyncio.run((self.alone if alone else self.gate)(scope, receive, send))
        return sent

    def status(self, *args: Any, **kwargs: Any) -> int:
        return int(self.ask(*args, **kwargs)[0]["status"])

    def let_in(self, **headers: str) -> str:
        sent = self.ask(LET_IN + self.kitchen.door.issue(), **headers)
        return cookie_of(sent)


def cookie_of(sent: list[dict[str, Any]]) -> str:
    found = dict(sent[0]["headers"])[b"set-cookie"].decode()
    assert "; HttpOnly" in found
    assert "; SameSite=Strict" in found
    assert f"; Max-Age={SESSION_SECONDS:.0f}" in found
    return str(found.split(";")[0])


@pytest.fixture
def asked() -> Asked:
    return Asked()


PATHS = (
    "/",
    "/index.html",
    "/static/js/index.js",
    "/media/abc.png",
    "/component/x/index.html",
    "/_stcore/health",
    "/_stcore/host-config",
    "/_stcore/metrics",
    "/_stcore/upload_file/session/file",
)


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("method", ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"])
def test_nothing_is_answered_without_a_cookie(asked: Asked, path: str, method: str) -> None:
    assert asked.status(path, method=method) == 401
    assert asked.status(path, method=method, cookie=f"{asked.gate.cookie}=guess") == 401
    assert not asked.reached


def test_a_token_lets_one_device_in_once(asked: Asked) -> None:
    token = asked.kitchen.door.issue("draft=abc")
    sent = asked.ask(LET_IN + token)
    assert sent[0]["status"] == 200
    assert b"url=/?draft=abc" in sent[1]["body"]
    cookie = cookie_of(sent)
    assert asked.status("/media/x", cookie=cookie) == 200
    assert asked.status("/media/x", cookie=f"other=1; {cookie};bad") == 200
    assert asked.reached == ["http /media/x"] * 2
    again = asked.ask(LET_IN + token)
    assert again[0]["status"] == 401
    assert b"good for one" in again[1]["body"]
    assert asked.status(LET_IN + token, cookie=cookie) == 200  # a reload on the device itself


def test_an_expired_token_and_an_expired_session_are_refused(asked: Asked) -> None:
    token, cookie = asked.kitchen.door.issue(), asked.let_in()
    asked.clock.now += TOKEN_SECONDS
    late = asked.ask(LET_IN + token)
    assert late[0]["status"] == 401
    assert b"older than 10 minutes" in late[1]["body"]
    assert asked.status(cookie=cookie) == 200
    asked.clock.now += SESSION_SECONDS
    assert asked.status(cookie=cookie) == 401


def test_looking_ahead_does_not_use_a_token_up(asked: Asked) -> None:
    token = asked.kitchen.door.issue()
    assert asked.status(LET_IN + token, method="HEAD") == 405
    assert asked.status(LET_IN + token, sec_purpose="prefetch;prerender") == 405
    assert asked.status(LET_IN + token) == 200


def test_wrong_tokens_are_slowed_per_device(asked: Asked) -> None:
    token = asked.kitchen.door.issue()
    statuses = [asked.status(LET_IN + new_token()) for _ in range(WRONG_TRIES + 20)]
    assert statuses == [401] * WRONG_TRIES + [429] * 20
    assert asked.status(LET_IN + token) == 429  # not even a right one
    assert asked.status(LET_IN + asked.kitchen.door.issue(), client="192.0.2.78") == 200


@pytest.mark.parametrize(
    "host",
    ["evil.example:8501", "evil.example", FAR, f"{FAR}:80", f"{FAR}:8501.evil.example",
     "localhost:8501", f"{LOOPBACK}:8501", "", f"user@{FAR}:8501"],
)  # fmt: skip
def test_another_name_for_the_address_is_refused(asked: Asked, host: str) -> None:
    cookie = asked.let_in()
    assert asked.status(cookie=cookie, host=host) == 403
    assert asked.ask(kind="websocket", cookie=cookie, host=host)[0]["type"] == "websocket.close"
    assert not asked.reached


@pytest.mark.parametrize("alone", [False, True])
def test_this_machine_needs_no_token_but_its_own_name(asked: Asked, alone: bool) -> None:
    here = {"at": LOOPBACK, "client": LOOPBACK, "alone": alone}
    assert asked.status(**here) == 200
    assert asked.status(**here, host="localhost:8501") == 200
    assert asked.status(**here, host=f"{FAR}:8501") == 403
    assert asked.status(**here, host="evil.example:8501") == 403
    assert asked.status(at=FAR, client=LOOPBACK) == 401  # by the network's address it is foreign
    assert asked.status(at=FAR, client=LOOPBACK, x_forwarded_for=LOOPBACK) == 401
    assert asked.status(at=FAR, client=FAR, alone=True) == 403  # not served there at all


ORIGINS = ("http://evil.example", f"http://{FAR}:9000", f"https://{FAR}:8501", "null",
           f"http://{FAR}:8501.evil.example")  # fmt: skip


@pytest.mark.parametrize("origin", ORIGINS)
def test_another_origin_is_refused(asked: Asked, origin: str) -> None:
    cookie = asked.let_in()
    assert asked.status(cookie=cookie, origin=origin) == 403
    sent = asked.ask("/_stcore/stream", kind="websocket", cookie=cookie, origin=origin)
    assert sent == [{"type": "websocket.close", "code": 1008}]
    assert not asked.reached
    assert asked.status(cookie=cookie, origin=f"http://{FAR}:8501") == 200


@pytest.mark.parametrize("alone", [False, True])
def test_another_port_of_this_machine_is_another_site(asked: Asked, alone: bool) -> None:
    here: Any = {"at": LOOPBACK, "client": LOOPBACK, "alone": alone}
    for origin in (f"http://{LOOPBACK}:9000", "http://localhost:8501", "http://evil.example"):
        assert asked.status(**here, origin=origin) == 403
        sent = asked.ask("/_stcore/stream", kind="websocket", origin=origin, **here)
        assert sent[0]["type"] == "websocket.close"
    assert asked.status(**here, sec_fetch_site="same-site", sec_fetch_mode="no-cors") == 403
    frame = {"sec_fetch_site": "cross-site", "sec_fetch_mode": "navigate"}
    assert asked.status(**here, **frame, sec_fetch_dest="iframe") == 403
    assert asked.status(**here, **frame, sec_fetch_dest="document") == 200  # a link is only opened
    assert asked.status(**here, **frame, sec_fetch_dest="document", method="POST") == 403
    assert asked.status(**here, sec_fetch_site="same-origin", sec_fetch_mode="cors") == 200


def test_a_websocket_needs_cookie_and_origin_and_ends_with_its_session(asked: Asked) -> None:
    cookie = asked.let_in()
    stream: Any = {"path": "/_stcore/stream", "kind": "websocket"}
    closed = [{"type": "websocket.close", "code": 1008}]
    assert asked.ask(**stream) == closed
    assert asked.ask(**stream, cookie=cookie, origin="") == closed
    said = (b"one", b"two")
    kept = asked.ask(**stream, cookie=cookie, said=said)
    assert [m["type"] for m in kept] == ["websocket.accept", "websocket.send", "websocket.send"]
    cut = asked.ask(**stream, cookie=cookie, said=said, then=asked.kitchen.door.send_away)
    assert [m["type"] for m in cut] == ["websocket.accept", "websocket.send", "websocket.close"]


def test_what_is_sent_cannot_be_framed_or_embedded(asked: Asked) -> None:
    for sent in (asked.ask(cookie=asked.let_in()), asked.ask()):
        headers = dict(sent[0]["headers"])
        assert headers[b"x-frame-options"] == b"SAMEORIGIN"
        assert headers[b"cross-origin-resource-policy"] == b"same-origin"
        assert headers[b"content-security-policy"] == b"frame-ancestors 'self'"


def test_what_a_request_says_is_written_as_text(asked: Asked) -> None:
    sent = asked.ask(host="<script>alert(1)</script>")
    assert b"<script>" not in sent[1]["body"]
    assert b"&lt;script&gt;" in sent[1]["body"]


# --- the page -------------------------------------------------------------------------------------


@pytest.fixture
def kitchen() -> Iterator[Kitchen]:
    served = Kitchen(Door(), (FAR,), PORT)
    gate.serve(served)
    yield served
    gate.serve(None)


def _token_on(at: AppTest) -> str:
    text = text_of(at)
    start = link(FAR, PORT, "-").removesuffix("-")
    assert start in text
    return text.split(start, 1)[1][:22]


def test_without_the_network_the_page_says_how_to_start_it() -> None:
    at = press(opened(), "_to_stove")
    assert [c.value for c in at.code] == ["balancer open --kitchen"]
    assert "plain http" in text_of(at)
    assert not [b for b in at.button if b.key == "_stove_code"]


def test_the_page_makes_a_code_for_each_device(kitchen: Kitchen, dip: AppTest) -> None:
    at = press(press(dip, "_to_stove"), "_stove_code")
    first = _token_on(at)
    came = kitchen.door.trade(first)
    assert came is not None
    assert came.onward.startswith("draft=")
    at.run()
    assert "has let a device in" in " ".join(i.value for i in at.info)
    assert "1 device is let in" in text_of(at)
    at = press(at, "_stove_code")
    second = _token_on(at)
    assert second != first
    assert kitchen.door.trade(second) is not None
    at = press(at, "_stove_away")
    assert not kitchen.door.knows(came.session)
    phone = opened(came.onward.removeprefix("draft="))
    assert "plum and ginger dip</h1>" in text_of(phone)


# --- a real server --------------------------------------------------------------------------------


@dataclass
class Running:
    port: int
    address: str
    tokens: list[str]

    @property
    def here(self) -> str:
        return link(LOOPBACK, self.port)

    def get(self, path: str, method: str = "GET", *, body: Any = None, **headers: str) -> Any:
        connection = http.client.HTTPConnection(self.address, self.port, timeout=10)
        try:
            headers = {name.replace("_", "-"): value for name, value in headers.items()}
            connection.request(method, path, body=body, headers=headers)
            answer = connection.getresponse()
            answer.text = answer.read().decode("utf-8", "replace")  # type: ignore[attr-defined]
            return answer
        finally:
            connection.close()

    def handshake(self, address: str, origin: str, cookie: str = "", host: str = "") -> int:
        """Status of the answer to a websocket's first request (RFC 6455, 1.3)."""
        lines = [
            "GET /_stcore/stream HTTP/1.1",
            f"Host: {host or f'{address}:{self.port}'}",
            "Upgrade: websocket",
            "Connection: Upgrade",
            "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
            "Sec-WebSocket-Version: 13",
            "Sec-WebSocket-Protocol: streamlit",
            f"Origin: {origin}",
            *([f"Cookie: {cookie}"] if cookie else []),
        ]
        with socket.create_connection((address, self.port), timeout=10) as wire:
            wire.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
            return int(wire.recv(200).split()[1])


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Running]]:
    """Two servers: one for the network too, one for this machine alone."""
    address = (*own_addresses(), "127.0.0.2")[0]
    servers, found = [], {}
    try:
        for name, addresses in (("kitchen", (address,)), ("alone", ())):
            with socket.socket() as free:
                free.bind((LOOPBACK, 0))
                port = free.getsockname()[1]
            tokens = [new_token() for _ in range(6)] if addresses else []
            words = command(port, addresses)
            words += gate_hashes(tokens)
            home = str(tmp_path_factory.mktemp(name))
            servers.append(
                subprocess.Popen(
                    words, env={**os.environ, "BALANCER_HOME": home}, stdin=subprocess.DEVNULL
                )
            )
            found[name] = Running(port, address if addresses else LOOPBACK, tokens)
        for each, server in zip(found.values(), servers, strict=True):
            _wait(each.port, server)
        yield found
    finally:
        for server in servers:
            server.terminate()
        for server in servers:
            server.wait(timeout=20)


def gate_hashes(tokens: list[str]) -> list[str]:
    from balancer.door import hashed

    return [f"--token-hash={hashed(token)}" for token in tokens]


def _wait(port: int, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 60
    while True:
        assert server.poll() is None, "the server ended before it answered"
        assert time.monotonic() < until, "the server did not answer within a minute"
        connection = http.client.HTTPConnection(LOOPBACK, port, timeout=5)
        try:
            connection.request("GET", "/_stcore/health")
            if connection.getresponse().status == 200:
                return
        except OSError:
            time.sleep(0.2)
        finally:
            connection.close()


def _cookie(served: Running) -> str:
    answer = served.get(LET_IN + served.tokens.pop())
    assert answer.status == 200
    return str(answer.headers["Set-Cookie"]).split(";")[0]


def test_a_server_refuses_the_network_without_a_cookie(running: dict[str, Running]) -> None:
    served = running["kitchen"]
    for path in PATHS:
        answer = served.get(path)
        assert answer.status == 401, path
        assert "has not been let in" in answer.text
        assert answer.headers["Server"] is None
    upload = served.get("/_stcore/upload_file/a/b", "PUT", body=b"x" * 1000)
    assert upload.status == 401
    own = f"http://{served.address}:{served.port}"
    assert served.handshake(served.address, own) == 403


def test_a_server_takes_a_token_once_and_checks_the_cookie(running: dict[str, Running]) -> None:
    served = running["kitchen"]
    token = served.tokens[-1]
    cookie = _cookie(served)
    assert served.get(LET_IN + token).status == 401
    assert served.get("/_stcore/health", Cookie=cookie).status == 200
    assert served.get("/", Cookie=cookie, Host="evil.example").status == 403
    own = f"http://{served.address}:{served.port}"
    assert served.handshake(served.address, own, cookie) == 101
    assert served.handshake(served.address, "http://evil.example", cookie) == 403
    assert served.handshake(served.address, f"http://{served.address}:1", cookie) == 403
    assert served.handshake(served.address, own, cookie, host="evil.example") == 403


@pytest.mark.parametrize("which", ["kitchen", "alone"])
def test_a_server_answers_only_its_own_pages_on_loopback(
    running: dict[str, Running], which: str
) -> None:
    served = running[which]
    assert served.handshake(LOOPBACK, served.here.rstrip("/")) == 101
    for origin in (
        "http://evil.example",
        f"http://{LOOPBACK}:1",
        f"http://localhost:{served.port}",
    ):
        assert served.handshake(LOOPBACK, origin) == 403


def test_alone_the_network_is_not_listened_on(running: dict[str, Running]) -> None:
    served = running["alone"]
    for address in (*own_addresses(), "127.0.0.2"):
        with socket.socket() as probe:
            assert probe.connect_ex((address, served.port)) != 0


# --- a real browser -------------------------------------------------------------------------------


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Any]:
    """A browser that may ask every address of this machine, and no other."""
    phone = {"width": 390, "height": 844}
    with browsing(tmp_path / "profile", ("127.0.0.2", *own_addresses()), viewport=phone) as found:
        yield found


def _opened(browser: Any, url: str) -> Any:
    page = browser.new_page()
    page.goto(url)
    page.get_by_role("heading", level=1).first.wait_for()
    return page


def _link_for_a_phone(desk: Any) -> str:
    """The address in the code that the page on the machine shows."""
    desk.get_by_role("button", name="Other work").click()
    desk.get_by_role("button", name="To the stove").click()
    desk.get_by_role("button", name="Make a code").click()
    code = desk.get_by_role("img", name="QR code")
    code.wait_for()
    return str(code.get_attribute("alt")).split()[-1]


def test_from_the_machine_to_the_stove(running: dict[str, Running], browser: Any) -> None:
    """A sauce begun on the machine is nudged on a phone that scanned the code."""
    served = running["kitchen"]
    desk = _opened(browser, served.here)
    desk.locator('[class*="st-key-_house_plum"] button').click()
    desk.get_by_role("heading", level=1).filter(has_text="lum").wait_for()
    url = _link_for_a_phone(desk)
    assert url.startswith(link(served.address, served.port, "x")[:-1])
    shut = _opened(browser, link(served.address, served.port))
    assert shut.get_by_role("heading", level=1).inner_text() == "Not let in"
    phone = browser.new_page()
    phone.goto(url)
    name = phone.get_by_role("heading", level=1).filter(has_text="lum")
    name.wait_for()
    assert urlsplit(phone.url).netloc == f"{served.address}:{served.port}"
    assert url.rsplit("/", 1)[1] not in phone.url
    mine = [c for c in browser.cookies() if c["name"] == f"balancer_{served.port}"]
    assert [(c["httpOnly"], c["sameSite"]) for c in mine] == [(True, "Strict")]
    phone.get_by_role("button", name="Other work").click()
    phone.get_by_role("button", name="To the stove").click()
    phone.get_by_text("1 device is let in").or_(phone.get_by_text("devices are let in")).wait_for()
    phone.get_by_role("button", name="Send all of them away").click()
    phone.wait_for_timeout(500)
    phone.reload()
    phone.get_by_text("This device has not been let in").wait_for()


ATTACK = """async ([url, socket]) => {
  const tried = {};
  const get = async (name, options) => {
    try { tried[name] = `answered ${(await fetch(url, options)).type}`; }
    catch (error) { tried[name] = "refused"; }
  };
  await get("fetch", {credentials: "include"});
  await get("fetch without asking", {mode: "no-cors", credentials: "include"});
  await get("post", {method: "POST", mode: "no-cors", credentials: "include", body: "x"});
  tried["websocket"] = await new Promise(done => {
    const s = new WebSocket(socket, "streamlit");
    s.onopen = () => { s.close(); done("opened"); };
    s.onerror = () => done("refused");
  });
  return tried;
}"""
OUTSIDE = ("fetch", "fetch without asking", "post", "websocket")


@pytest.fixture
def other_site() -> Iterator[str]:
    """A page of another site, on another port of this machine."""

    class Page(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>other</title><h1>other</h1>")

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = http.server.ThreadingHTTPServer((LOOPBACK, 0), Page)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield link(LOOPBACK, server.server_address[1])
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.mark.parametrize("which", ["kitchen", "alone"])
def test_another_site_in_the_browser_cannot_drive_the_dashboard(
    running: dict[str, Running], which: str, browser: Any, other_site: str
) -> None:
    """From another port, with every cookie that the browser has; the own page can do it all."""
    served = running[which]
    bases = [served.here]
    if which == "kitchen":
        phone = _opened(browser, _link_for_a_phone(_opened(browser, served.here)))
        phone.get_by_role("heading", level=1).filter(has_text="Which sauce").wait_for()
        bases.append(link(served.address, served.port))
    for base in bases:
        health, stream = f"{base}_stcore/health", f"{base}_stcore/stream".replace("http", "ws")
        own = _opened(browser, base)
        within = own.evaluate(ATTACK, [health, stream])
        assert within["fetch"] == "answered basic"
        assert within["websocket"] == "opened"
        outside = _opened(browser, other_site)
        tried = outside.evaluate(ATTACK, [health, stream])
        assert tried == dict.fromkeys(OUTSIDE, "refused")
        outside.evaluate("url => document.body.innerHTML = `<iframe src='${url}'></iframe>`", base)
        outside.wait_for_timeout(1000)
        assert "chrome-error" in outside.frames[-1].url or not outside.frames[-1].url
