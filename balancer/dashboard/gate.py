"""The gate before the dashboard: every request and every websocket passes it, or is refused.

On the loopback address nobody needs a token, but the request must name that address (no other name
that points here, as in DNS rebinding) and must come from the dashboard's own pages. From the
network it must besides carry the cookie for which a one-time token was traded.

References
----------
ASGI specification 3.0; Fetch Metadata Request Headers, W3C working draft; RFC 6265bis, cookies.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from html import escape
from math import ceil
from typing import Any

from balancer.door import LET_IN, SESSION_SECONDS, TOKEN_SECONDS, Door, Standing, Tries
from balancer.network import LOOPBACK

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

POLICY_VIOLATION = 1008  # RFC 6455, 7.4.1
HTTP_PORT = 80
NEW_CODE = (
    "On the machine that serves the sauces, press “To the stove”, make a new code, and scan it"
    " with this device."
)
SENTENCES: Mapping[Standing, str] = {
    Standing.USED: "This code has let a device in already; each is good for one.",
    Standing.EXPIRED: f"This code is older than {TOKEN_SECONDS / 60:.0f} minutes.",
    Standing.UNKNOWN: "This is not a code of this kitchen.",
}
#: On everything that the dashboard sends: no other site may frame it or embed its parts.
GUARDS = (
    (b"content-security-policy", b"frame-ancestors 'self'"),
    (b"x-frame-options", b"SAMEORIGIN"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"referrer-policy", b"same-origin"),
    (b"x-content-type-options", b"nosniff"),
)
PLAIN_GUARDS = (
    (b"content-security-policy", b"default-src 'none'; style-src 'unsafe-inline'"),
    *GUARDS,
    (b"content-type", b"text/html; charset=utf-8"),
    (b"cache-control", b"no-store"),
)


@dataclass(frozen=True, eq=False)
class Kitchen:
    """How the network is served: the addresses, and who keeps the door.

    Parameters
    ----------
    door : Door
    addresses : sequence of str
        IPv4 addresses of this machine, the likeliest first.
    port : int
    """

    door: Door
    addresses: Sequence[str]
    port: int


_served: list[Kitchen] = []


def serve(kitchen: Kitchen | None) -> None:
    """Tell the pages of this process how the network is served; None if it is not."""
    _served[:] = [] if kitchen is None else [kitchen]


def served() -> Kitchen | None:
    """How the network is served by this process; None if it is not."""
    return _served[0] if _served else None


@dataclass(frozen=True)
class Refusal:
    """Why a request does not pass.

    Parameters
    ----------
    status : int
        HTTP status code.
    sentence : str
    wait_seconds : float
        When to try again; 0 if waiting does not help [s].
    """

    status: int
    sentence: str
    wait_seconds: float = 0.0


class Gate:
    """ASGI middleware that lets through what may pass.

    Parameters
    ----------
    app : ASGI application
    port : int
        Port that is listened on.
    kitchen : Kitchen or None
        None if only the loopback address is served.
    """

    def __init__(self, app: App, port: int, kitchen: Kitchen | None = None) -> None:
        self._app = app
        self._port = port
        self._kitchen = kitchen
        self._tries = Tries()
        self.cookie = f"balancer_{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request or one websocket."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        headers = _headers(scope)
        refusal = self._from_elsewhere(scope, headers)
        here = _here(scope)
        if refusal is None and not here:
            if scope["type"] == "http" and scope["path"].startswith(LET_IN):
                await self._let_in(scope, headers, send)
                return
            if not self._session(headers):
                refusal = Refusal(401, f"This device has not been let in. {NEW_CODE}")
        if refusal is not None:
            await _refuse(scope, receive, send, refusal)
        elif scope["type"] == "websocket":
            watched = receive if here else self._watched(headers, receive, send)
            await self._app(scope, watched, send)
        else:
            await self._app(scope, receive, _guarded(send))

    # --- where it comes from --------------------------------------------------------------------

    def _from_elsewhere(self, scope: Scope, headers: Mapping[str, list[str]]) -> Refusal | None:
        """Refuse what names another host, or comes from the page of another site."""
        hosts = headers.get("host", [])
        if len(hosts) != 1 or hosts[0].lower() not in self._names(scope):
            return Refusal(
                403,
                f"The dashboard is not served as {', '.join(hosts)[:80]!r}. Use the address that"
                " the machine shows where it was started.",
            )
        other = Refusal(403, "A page of another site asked for this, and is not answered.")
        origins = headers.get("origin", [])
        wanted = f"http://{hosts[0].lower()}"
        if any(origin.lower() != wanted for origin in origins):
            return other
        if scope["type"] == "websocket":
            return None if origins else other  # a browser always names its page
        site = headers.get("sec-fetch-site", ["none"])[0]
        opened = (
            scope["method"] == "GET"
            and headers.get("sec-fetch-mode") == ["navigate"]
            and headers.get("sec-fetch-dest") == ["document"]
        )
        return None if site in ("same-origin", "none") or opened else other

    def _names(self, scope: Scope) -> set[str]:
        """What a request may call the address at which it arrived."""
        at = scope["server"][0]
        names = {LOOPBACK, "localhost"} if at == LOOPBACK else set()
        if self._kitchen is not None and at in self._kitchen.addresses:
            names.add(at)
        bare = names if self._port == HTTP_PORT else set()
        return {f"{name}:{self._port}" for name in names} | bare

    # --- who asks -------------------------------------------------------------------------------

    def _session(self, headers: Mapping[str, list[str]]) -> str:
        """The session of a device that is let in; empty if it is not."""
        if self._kitchen is None:
            return ""
        for line in headers.get("cookie", []):
            for pair in line.split(";"):
                name, _, value = pair.strip().partition("=")
                if name == self.cookie and self._kitchen.door.knows(value):
                    return value
        return ""

    async def _let_in(self, scope: Scope, headers: Mapping[str, list[str]], send: Send) -> None:
        """Trade the token in the address for a cookie."""
        assert self._kitchen is not None
        door, device = self._kitchen.door, str(scope["client"][0])
        token = scope["path"].removeprefix(LET_IN)
        in_already = bool(self._session(headers))
        wait = 0.0 if in_already else self._tries.wait_seconds(device)
        if wait > 0:
            sentence = "Too many wrong codes came from this device. Wait a minute. "
            await _page(send, Refusal(429, sentence + NEW_CODE, wait))
        elif scope["method"] != "GET" or _prefetched(headers):
            await _page(send, Refusal(405, "Open this address to be let in."))
        elif in_already:
            await _welcome(send)
        elif (came := door.trade(token)) is not None:
            await _welcome(
                send, f"/?{came.onward}" if came.onward else "/", self._set_cookie(came.session)
            )
        else:
            self._tries.wrong(device)
            await _page(send, Refusal(401, f"{SENTENCES[door.standing(token)]} {NEW_CODE}"))

    def _set_cookie(self, session: str) -> str:
        return (
            f"{self.cookie}={session}; Path=/; Max-Age={SESSION_SECONDS:.0f}; HttpOnly;"
            " SameSite=Strict"
        )

    def _watched(self, headers: Mapping[str, list[str]], receive: Receive, send: Send) -> Receive:
        """A websocket ends when its session does, at the next thing that the device says."""

        async def watched() -> Message:
            message = await receive()
            if message["type"] == "websocket.receive" and not self._session(headers):
                await send({"type": "websocket.close", "code": POLICY_VIOLATION})
                return {"type": "websocket.disconnect", "code": POLICY_VIOLATION}
            return message

        return watched


def _headers(scope: Scope) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, value in scope["headers"]:
        found.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
    return found


def _here(scope: Scope) -> bool:
    """Whether a request arrived at the loopback address, from this machine itself."""
    client = scope.get("client")
    return client is not None and client[0] == LOOPBACK and scope["server"][0] == LOOPBACK


def _prefetched(headers: Mapping[str, list[str]]) -> bool:
    """Whether a browser only looks ahead; that must not use a token up."""
    said = headers.get("sec-purpose", []) + headers.get("purpose", [])
    return any("prefetch" in value for value in said)


def _guarded(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            message = {**message, "headers": [*message.get("headers", ()), *GUARDS]}
        await send(message)

    return guarded


# --- plain pages --------------------------------------------------------------------------------


async def _refuse(scope: Scope, receive: Receive, send: Send, refusal: Refusal) -> None:
    if scope["type"] == "websocket":  # closed before it is accepted: the server answers 403
        await receive()
        await send({"type": "websocket.close", "code": POLICY_VIOLATION})
        return
    await _page(send, refusal)


async def _page(send: Send, refusal: Refusal) -> None:
    headers = list(PLAIN_GUARDS)
    if refusal.wait_seconds > 0:
        headers.append((b"retry-after", str(ceil(refusal.wait_seconds)).encode()))
    await _answer(send, refusal.status, headers, "Not let in", escape(refusal.sentence))


async def _welcome(send: Send, onward: str = "/", set_cookie: str = "") -> None:
    """Go on to the dashboard from a page of its own, so that a strict cookie goes along."""
    headers = list(PLAIN_GUARDS)
    if set_cookie:
        headers.append((b"set-cookie", set_cookie.encode("ascii")))
    there = escape(onward, quote=True)
    inside = f'This device is let in. <a href="{there}">Go on to the sauces.</a>'
    head = f'<meta http-equiv="refresh" content="0; url={there}">'
    await _answer(send, 200, headers, "Let in", inside, head)


async def _answer(
    send: Send,
    status: int,
    headers: Sequence[tuple[bytes, bytes]],
    title: str,
    inside: str,
    head: str = "",
) -> None:
    body = (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">{head}'
        "<style>body{font:1.2rem/1.5 sans-serif;max-width:32rem;margin:2rem auto;padding:0 1rem}"
        f"</style></head><body><main><h1>{title}</h1><p>{inside}</p></main></body></html>"
    ).encode()
    headers = [*headers, (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
