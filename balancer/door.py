"""Who may come in from the network: one-time tokens, and the sessions they are traded for.

Only hashes are kept, and only in memory: when the server ends, every token and every session ends.
A token has 128 random bits and a session 256, so neither can be guessed, and a plain hash hides it.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum
from threading import Lock

#: So long a token may be traded [s]: time to walk to the stove and unlock a phone, and no more, so
#: that a photograph of the screen is worth nothing later in the service. Chosen.
TOKEN_SECONDS = 600.0
#: So long a device stays let in [s]: a working day in a kitchen. Chosen.
SESSION_SECONDS = 12 * 3600.0
#: So many tokens and so many sessions are remembered; the oldest makes room. Chosen: more than the
#: phones in a kitchen, so that neither list grows without end.
MOST_KEPT = 64
#: So many wrong tokens a device may show within the window before it has to wait. Chosen: a hand
#: that mistypes stays below it.
WRONG_TRIES = 5
WRONG_WINDOW_SECONDS = 60.0
#: So many devices are counted; beyond that the one counted longest ago is forgotten. Chosen.
MOST_COUNTED = 1024
TOKEN_BYTES = 16
SESSION_BYTES = 32
LET_IN = "/let-in/"  # path at which a token is traded


class Standing(Enum):
    """How a token stands."""

    GOOD = "good"
    USED = "used"
    EXPIRED = "expired"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class _Kept:
    digest: str
    until: float
    used: bool = False
    onward: str = ""


@dataclass(frozen=True)
class LetIn:
    """What a token was traded for.

    Parameters
    ----------
    session : str
        Only the device keeps it.
    onward : str
        What follows ``?`` in the address that the device goes on to.
    """

    session: str
    onward: str


def hashed(secret: str) -> str:
    """What is kept of a token or of a session: its SHA-256 in hexadecimal letters.

    References
    ----------
    FIPS 180-4, Secure Hash Standard, 2015.

    Examples
    --------
    >>> hashed("abc")[:16]
    'ba7816bf8f01cfea'
    """
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def new_token() -> str:
    """A new token, in letters that an address can hold."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def link(address: str, port: int, token: str = "") -> str:
    """The address of the dashboard, with a token if one is given.

    >>> link("192.0.2.2", 8501), link("192.0.2.2", 8501, "abc")
    ('http://192.0.2.2:8501/', 'http://192.0.2.2:8501/let-in/abc')
    """
    return f"http://{address}:{port}{LET_IN + token if token else '/'}"


def seconds() -> float:
    """A clock that nobody sets back and that runs on while the machine sleeps [s]."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()


class Door:
    """The tokens that are out, and the devices that are in.

    Parameters
    ----------
    clock : callable
        Seconds that only go forward [s].

    Examples
    --------
    >>> door = Door()
    >>> token = door.issue()
    >>> came = door.trade(token)
    >>> door.knows(came.session), door.trade(token), door.standing(token).value
    (True, None, 'used')
    """

    def __init__(self, clock: Callable[[], float] = seconds) -> None:
        self._clock = clock
        self._lock = Lock()
        self._tokens: tuple[_Kept, ...] = ()
        self._sessions: tuple[_Kept, ...] = ()

    def issue(self, onward: str = "") -> str:
        """A new token, good for one device; ``onward`` is where that device goes on to."""
        token = new_token()
        self.expect(hashed(token), onward)
        return token

    def expect(self, digest: str, onward: str = "") -> None:
        """Take a token that was made elsewhere, by its hash; its time begins now."""
        with self._lock:
            kept = _Kept(digest, self._clock() + TOKEN_SECONDS, onward=onward)
            self._tokens = (*self._tokens, kept)[-MOST_KEPT:]

    def standing(self, token: str) -> Standing:
        """How a token stands; asking changes nothing."""
        with self._lock:
            return self._standing(_found(self._tokens, token))

    def trade(self, token: str) -> LetIn | None:
        """Trade a good token for a session, once; None if it is not good."""
        with self._lock:
            kept = _found(self._tokens, token)
            if kept is None or self._standing(kept) is not Standing.GOOD:
                return None
            self._tokens = tuple(replace(t, used=True) if t is kept else t for t in self._tokens)
            session = secrets.token_urlsafe(SESSION_BYTES)
            opened = _Kept(hashed(session), self._clock() + SESSION_SECONDS)
            self._sessions = (*self._sessions, opened)[-MOST_KEPT:]
            return LetIn(session, kept.onward)

    def knows(self, session: str) -> bool:
        """Whether a device with this session is let in."""
        with self._lock:
            kept = _found(self._sessions, session)
            return kept is not None and self._clock() < kept.until

    def devices(self) -> int:
        """How many devices are let in."""
        with self._lock:
            return sum(self._clock() < kept.until for kept in self._sessions)

    def send_away(self) -> None:
        """End every session and every token."""
        with self._lock:
            self._tokens = ()
            self._sessions = ()

    def _standing(self, kept: _Kept | None) -> Standing:
        if kept is None:
            return Standing.UNKNOWN
        if kept.used:
            return Standing.USED
        return Standing.GOOD if self._clock() < kept.until else Standing.EXPIRED


def _found(all_kept: tuple[_Kept, ...], secret: str) -> _Kept | None:
    """The entry of a secret; every entry is compared, each in constant time."""
    digest, found = hashed(secret), None
    for kept in all_kept:
        if secrets.compare_digest(kept.digest, digest):
            found = kept
    return found


class Tries:
    """Counts wrong tokens by the device that showed them.

    Examples
    --------
    >>> tries = Tries(clock=lambda: 0.0)
    >>> for _ in range(WRONG_TRIES):
    ...     tries.wrong("192.0.2.7")
    >>> tries.wait_seconds("192.0.2.7"), tries.wait_seconds("192.0.2.8")
    (60.0, 0.0)
    """

    def __init__(self, clock: Callable[[], float] = seconds) -> None:
        self._clock = clock
        self._seen: OrderedDict[str, tuple[float, ...]] = OrderedDict()

    def wrong(self, device: str) -> None:
        """Count one wrong token."""
        self._seen[device] = (*self._recent(device), self._clock())
        self._seen.move_to_end(device)
        if len(self._seen) > MOST_COUNTED:
            self._seen.popitem(last=False)

    def wait_seconds(self, device: str) -> float:
        """So long the device has to wait before its next try; 0 if it need not [s]."""
        recent = self._recent(device)
        if len(recent) < WRONG_TRIES:
            return 0.0
        return recent[-WRONG_TRIES] + WRONG_WINDOW_SECONDS - self._clock()

    def _recent(self, device: str) -> tuple[float, ...]:
        since = self._clock() - WRONG_WINDOW_SECONDS
        return tuple(at for at in self._seen.get(device, ()) if at > since)
