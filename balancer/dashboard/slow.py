"""Work that takes over a second: in a child process that the page asks, with a way to stop it.

A result is kept with the question it answers, in writing; a page shows it as current only while
its question is still the same.
"""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
import threading
import time
import weakref
from base64 import b64decode
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import streamlit as st

import balancer
from balancer.dashboard import session

#: The page asks this often [s].
POLL_S = 0.5
#: So long a process that was ended may take to be gone [s].
PATIENCE_S = 5.0
DIED = (
    "The search ended before it was through; the machine may be short of memory. Your sauce is as"
    " it was. Look again, or rule out more."
)


@dataclass(frozen=True)
class Question:
    """What is looked for.

    Parameters
    ----------
    task : str
        Name of the use case: missing, other_ways or instead.
    document : mapping
        The request.
    names : tuple of str
        What the use case takes beside the request.
    options : mapping
        Its options, as plain values.
    """

    task: str
    document: Mapping[str, Any]
    names: tuple[str, ...] = ()
    options: Mapping[str, Any] = field(default_factory=dict)

    @property
    def key(self) -> str:
        """All that the answer depends on, in writing; what was tried is marked on the page."""
        asked = {k: v for k, v in self.document.items() if k not in ("tried", "name")}
        return json.dumps([self.task, asked, self.names, dict(self.options)], sort_keys=True)


@dataclass(frozen=True, eq=False)
class Found:
    """The answer to a question, or a sentence on why there is none.

    Parameters
    ----------
    key : str
        The question in writing.
    result : Any
        None where there is a sentence.
    sentence : str
    """

    key: str
    result: Any = None
    sentence: str = ""


@dataclass
class _Heard:
    """What the child has said so far; the thread that listens writes it."""

    at: int = 0
    result: Any = None
    sentence: str = ""
    sent: bool = False
    over: bool = False


class Errand:
    """A search in a child process; it ends with this object, with the session and with the server.

    Parameters
    ----------
    question : Question
    """

    def __init__(self, question: Question) -> None:
        self.key = question.key
        self.started = time.monotonic()
        self._heard = _Heard()
        root = str(Path(balancer.__file__).resolve().parent.parent)
        code = (
            f"import sys; sys.path.append({root!r});"
            " from balancer.dashboard.errand import main; main()"
        )
        # the child runs nothing but that: it does not know the script that serves the page
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        order = {
            "task": question.task,
            "document": dict(question.document),
            "names": list(question.names),
            "options": dict(question.options),
        }
        threading.Thread(
            target=_listen, args=(self._process, self._heard, json.dumps(order)), daemon=True
        ).start()
        self._end = weakref.finalize(self, _ended, self._process)

    @property
    def pid(self) -> int:
        """Number of the child process."""
        return self._process.pid

    @property
    def solved(self) -> int:
        """How many programs were solved exactly so far."""
        return self._heard.at

    @property
    def seconds(self) -> float:
        """How long it has been under way [s]."""
        return time.monotonic() - self.started

    def answer(self) -> Found | None:
        """The answer, None while the search goes on; asking keeps the child alive."""
        if not self._heard.over:
            if self._heard.sent:  # the order is the first thing the child reads
                _tell(self._process, "")
            return None
        if self._heard.result is None:
            return Found(self.key, sentence=self._heard.sentence or DIED)
        return Found(self.key, self._heard.result)

    def stop(self) -> None:
        """End the child; what it found so far is gone."""
        self._end()


def _tell(process: subprocess.Popen[bytes], line: str) -> None:
    """Write a line to a child that may be gone already."""
    if process.stdin is not None:
        with suppress(OSError, ValueError):
            process.stdin.write(line.encode("ascii") + b"\n")
            process.stdin.flush()


def _listen(process: subprocess.Popen[bytes], heard: _Heard, order: str) -> None:
    """Hand the order over, hear what comes back, and see the child off."""
    _tell(process, order)
    heard.sent = True
    try:
        for line in process.stdout or ():
            told = json.loads(line)
            heard.at = told.get("at", heard.at)
            heard.sentence = told.get("sentence", "")
            if "result" in told:
                heard.result = pickle.loads(b64decode(told["result"]))
    except (OSError, ValueError, EOFError, AttributeError, pickle.UnpicklingError):
        heard.result = None  # what came cannot be read: the answer is that it died
    finally:
        process.wait()
        heard.over = True


def _ended(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    with suppress(subprocess.TimeoutExpired):
        process.wait(PATIENCE_S)
    for pipe in (process.stdin, process.stdout):
        if pipe is not None:
            with suppress(OSError, ValueError):
                pipe.close()


# --- on a page ----------------------------------------------------------------------------------


def start(place: str, question: Question) -> None:
    """Begin a search for one place of the page; one that runs already is ended."""
    stop()
    st.session_state.setdefault("found", {}).pop(place, None)
    session.note(f"stopped {place}", "")
    st.session_state["errand"] = (place, Errand(question))


def stop() -> None:
    """End the search that runs, if any."""
    running = st.session_state.get("errand")
    if running is not None:
        running[1].stop()
        st.session_state["errand"] = None
        session.note(f"stopped {running[0]}", "Stopped. The sauce is as it was.")


def found(place: str) -> Found | None:
    """What the last search of a place found."""
    answer: Found | None = st.session_state.get("found", {}).get(place)
    return answer


def runs(place: str) -> bool:
    """Whether a search of this place is under way; one that is through becomes its answer."""
    running = st.session_state.get("errand")
    if running is None or running[0] != place:
        return False
    answer = running[1].answer()
    if answer is None:
        return True
    running[1].stop()
    st.session_state["errand"] = None
    st.session_state.setdefault("found", {})[place] = answer
    return False


def watch(place: str, words: str) -> bool:
    """Draw how far a search is, with its way to stop; returns whether one is under way."""
    if not runs(place):
        if session.noted(f"stopped {place}"):
            st.info(session.noted(f"stopped {place}"))
        return False
    _progress(place, words)
    return True


@st.fragment(run_every=POLL_S)
def _progress(place: str, words: str) -> None:
    if not runs(place):
        st.rerun()
    errand: Errand = st.session_state["errand"][1]
    solved = f", {errand.solved} solved exactly" if errand.solved else ""
    st.html(f'<div role="timer"><b>{words} ...</b> {errand.seconds:.0f} s{solved}</div>')
    st.button("Stop", key=f"_stop_{place}", on_click=stop)
