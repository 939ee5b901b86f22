"""A search in a process of its own: reads what is asked, tells how far it is, hands over a result.

Started by :mod:`balancer.dashboard.slow` and by nothing else. The order is one line of JSON on
standard input; each line on standard output is a JSON object: ``{"at": 12}`` for progress, then
``{"result": ...}`` (pickled, base 64) or ``{"sentence": ...}``. A beat on standard input says that
somebody still waits; without one the process ends itself, and at once when the pipe is closed.
"""

from __future__ import annotations

import base64
import json
import os
import pickle
import sys
import threading
import time
from typing import Any

#: So long the process goes on without a beat [s].
LEASE_S = 120.0
_TASKS = ("missing", "other_ways", "instead")


def main() -> None:
    """Do one search and leave."""
    order = json.loads(sys.stdin.buffer.readline())
    out = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # whatever prints stays out of the answer
    alone = _Alone()
    threading.Thread(target=alone.listen, daemon=True).start()
    threading.Thread(target=alone.watch, daemon=True).start()
    _say(out, _done(order, out))
    os._exit(0)  # without waiting for what listens


def _done(order: dict[str, Any], out: int) -> dict[str, str]:
    from balancer.errors import BalancerError
    from balancer.kitchen import Kitchen

    try:
        if order["task"] not in _TASKS:
            return {"sentence": "There is no such search. Load the page again."}
        act = getattr(Kitchen(), order["task"])
        found = act(
            order["document"],
            *order["names"],
            progress=lambda solved: _say(out, {"at": solved}),
            **order["options"],
        )
    except BalancerError as error:
        return {"sentence": str(error)}
    return {"result": base64.b64encode(pickle.dumps(found)).decode("ascii")}


def _say(out: int, told: dict[str, Any]) -> None:
    line = json.dumps(told).encode("ascii") + b"\n"
    while line:
        line = line[os.write(out, line) :]


class _Alone:
    """Ends the process when nobody waits for it any more."""

    def __init__(self) -> None:
        self.last = time.monotonic()

    def listen(self) -> None:
        while os.read(0, 64):
            self.last = time.monotonic()
        os._exit(1)

    def watch(self) -> None:
        while time.monotonic() - self.last < LEASE_S:
            time.sleep(1.0)
        os._exit(1)
