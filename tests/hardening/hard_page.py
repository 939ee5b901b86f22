"""Bad input through the pages: damaged addresses, a damaged session, and presses at random.

Each session is the real script with a real kitchen and a kitchen book of its own, run without a
browser. Run as a program, it tries a number of sessions of each kind and prints what it found as
JSON. Left out: the buttons that begin a search in a child process, and downloads.
"""

from __future__ import annotations

import argparse
import base64
import json
import logging
import os
import shutil
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import hard_strategies as strategies
from hard_visit import HOUSE, SAUCE, Broken, Visit, filled_book
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from tally import Row

from balancer.dashboard import address, page
from balancer.dashboard.details import Details
from balancer.dashboard.making import Making
from balancer.dashboard.pasting import Paste
from balancer.dashboard.work import Round, begun

STEPS = 12
FOLDS = (
    "_how", "_course", "_circumstances", "_marks", "_back_fold", "_sides", "_spoons", "_rest",
    "_levels", "_forms", "_how_panel", "_meter", "_rules", "_map", "_bringing", "_how_readings",
    "_other_axes",
)  # fmt: skip
FULL = replace(
    begun(HOUSE["plum-ginger-dip"]),
    saved_name=SAUCE, revision=2, made_g={"plums": 300.0}, steps={"sour": -1.0},
    rounds=(Round("less sour", "pot"),), also=("water",), kept=1, tasted=1, scale_g=0.5,
    details=Details(notes="warm", closeness={"taste": 7.0}, reference={"sour": 50.0},
                    own={"sour": 60.0}),
)  # fmt: skip
TYPED = {
    "_method": "triangle", "_brings": "sour", "_pot_add": "water", "_pot_growth": 10.0,
    "_read_brix": 12.0, "_read_mass_g": 900.0, "_want_sweet": 12.0, "_read_ph": 3.4,
}  # fmt: skip
MAKING = Making("my limes", "of", "lime juice", True, "figures", figures={"fat_g": 1.0},
                readings={"ph": 2.3, "brix": 8.0}, acid="citric", allergens="soy")  # fmt: skip
DRAFT = Paste("dip", "380 g plums\n2 tbsp sugar", {1: "400 g plums"}, {(0, 0): "09279"})
#: Text that a browser can send.
TEXT = st.one_of(
    st.sampled_from(strategies.FOODS), strategies.WORDS, strategies.PASTE, strategies.JUNK_TEXT
).map(lambda t: t.encode("utf-8", "ignore").decode())
NUMBER = st.sampled_from(
    [None, 0.0, -0.0, -1.0, 1e-320, 1e-9, 0.001, 0.5, 1.0, 7.0, 99.9, 100.0, 1e4, 1e7, 1.1e7,
     1e15, 1e308, -1e308]
)  # fmt: skip
PLACE = st.integers(0, 10_000)


def letters(document: Any) -> str:
    """Anything as the letters of an address."""
    packed = zlib.compress(json.dumps(document).encode(), 9)
    return base64.urlsafe_b64encode(packed).decode().rstrip("=")


def _damaged(whole: str) -> st.SearchStrategy[str]:
    """Letters of an address: of a damaged document, smudged, cut short, or junk."""
    document = json.loads(json.dumps(address.unpacked(whole)))
    other = st.dictionaries(st.sampled_from([*document, "version"]), strategies.JUNK, max_size=4)
    return st.one_of(
        strategies.broken(st.just(document)).map(letters),
        strategies.broken(st.just(document)).map(letters),
        other.map(lambda o: letters({**document, **o})),
        strategies.JUNK.map(letters),
        strategies.smudged(st.just(whole)),
        st.integers(0, len(whole)).map(lambda n: whole[:n]),
        TEXT,
    ).map(lambda t: t.encode("utf-8", "ignore").decode())


ADDRESS: dict[str, st.SearchStrategy[str]] = {
    "draft": _damaged(address.written(FULL)),
    "typed": st.one_of(
        _damaged(letters(TYPED)),
        st.fixed_dictionaries(
            {}, optional=dict.fromkeys(TYPED, st.one_of(strategies.JUNK, st.just("sour")))
        ).map(letters),
    ),
    "making": _damaged(MAKING.written()),
    "paste": _damaged(DRAFT.written()),
    "page": st.one_of(st.sampled_from([*page.PAGES, "sauce", "x"]), TEXT),
}
_GO = st.tuples(st.just("go"), st.sampled_from([*page.PAGES, "sauce"]), st.none())
_MOVES = [
    st.tuples(st.just("press"), PLACE, st.none()),
    st.tuples(st.just("press"), PLACE, st.none()),
    st.tuples(st.just("number"), PLACE, NUMBER),
    st.tuples(st.just("text"), PLACE, TEXT),
    st.tuples(st.just("choose"), PLACE, PLACE),
    st.tuples(st.just("unfold"), st.sampled_from(FOLDS), st.none()),
    st.tuples(st.just("upload"), PLACE, st.one_of(TEXT, strategies.LINKED.map(json.dumps))),
    st.tuples(st.just("reload"), st.none(), st.none()),
    _GO,
]
_STALE = st.sampled_from(["work", "solved", "results", "found", "opened", "notes", "fields"])
_DAMAGE = st.one_of(
    st.tuples(st.just("replace"), PLACE, strategies.JUNK),
    st.tuples(st.just("remove"), PLACE, st.none()),
    st.tuples(st.just("stale"), _STALE, st.none()),
)
_START = st.sampled_from([*HOUSE, SAUCE, SAUCE, ""])
_PARTS = st.lists(st.sampled_from(sorted(ADDRESS)), min_size=1, max_size=3, unique=True)
_BAD = _PARTS.flatmap(lambda names: st.fixed_dictionaries({n: ADDRESS[n] for n in names}))


def _turns(move: st.SearchStrategy[Any], most: int) -> st.SearchStrategy[list[Any]]:
    return st.lists(move, min_size=most, max_size=most)


#: Kind of session to its strategy (the sauce it begins with, its steps) and its part of all.
KINDS: Mapping[str, tuple[st.SearchStrategy[Any], float]] = {
    "damaged addresses": (
        st.tuples(
            _START,
            st.tuples(st.tuples(st.just("address"), st.booleans(), _BAD), _GO, _GO).map(list),
        ),
        0.4,
    ),
    "damaged sessions": (
        st.tuples(
            _START,
            st.tuples(_GO, _turns(st.one_of(_DAMAGE, _DAMAGE, *_MOVES), STEPS // 2)).map(
                lambda both: [both[0], *both[1]]
            ),
        ),
        0.3,
    ),
    "presses at random": (st.tuples(_START, _turns(st.one_of(*_MOVES), STEPS)), 0.3),
}


@dataclass
class Trial:
    """What became of the sessions of one kind."""

    kind: str
    sessions: int = 0
    steps: int = 0
    slowest_s: float = 0.0
    faults: dict[str, str] = field(default_factory=dict)

    def one(self, book: Path, begins: str, steps: list[Any]) -> None:
        """Try one session; keep the shortest example of each fault."""
        self.sessions += 1
        with tempfile.TemporaryDirectory() as home:
            os.environ["BALANCER_HOME"] = shutil.copytree(book, home, dirs_exist_ok=True)
            visit: Visit | None = None
            try:
                visit = Visit.begun(begins)
                for step in steps:
                    visit.step(*step)
            except Exception as error:  # whatever it is, it is told
                what = str(error) if isinstance(error, Broken) else repr(error)[:300]
                example = " | ".join(visit.trace) if visit else "open"
                old = self.faults.get(what)
                if old is None or len(example) < len(old):
                    self.faults[what] = example[-2500:]
            if visit is not None:
                self.steps += visit.steps
                self.slowest_s = max(self.slowest_s, visit.slowest_s)


def tried(sessions: int, start: int, book: Path, only: str = "") -> list[Trial]:
    """Try every kind with its part of the sessions."""
    found = []
    for kind, (strategy, part) in KINDS.items():
        if only not in kind:
            continue
        trial = Trial(kind)
        plan = settings(
            max_examples=max(2, round(sessions * part)),
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        seed(start)(plan(given(strategy)(_runner(trial, book))))()
        found.append(trial)
    return found


def _runner(trial: Trial, book: Path) -> Callable[[Any], None]:
    def run(session: tuple[str, list[Any]]) -> None:
        trial.one(book, *session)

    return run


def pages(sessions: int, start: int = 20, workers: int = 2) -> Row:
    """So many sessions, shared out to processes of their own."""
    command = [sys.executable, __file__, str(-(-sessions // workers)), "--seed"]
    running = [
        subprocess.Popen([*command, str(start + n)], stdout=subprocess.PIPE, text=True,
                         stderr=subprocess.PIPE)
        for n in range(workers)
    ]  # fmt: skip
    lost: list[str] = []
    trials: list[dict[str, Any]] = []
    for process in running:
        out, err = process.communicate()
        if process.returncode:
            lost.append(f"the process ended: {err[-800:]}")
        else:
            trials += json.loads(out)
    lost += [f"{t['kind']}: {k} — {v:.600}" for t in trials for k, v in t["faults"].items()]
    parts = {k: sum(t["sessions"] for t in trials if t["kind"] == k) for k in KINDS}
    slowest = max((t["slowest_s"] for t in trials), default=0.0)
    return Row(
        "the pages, without a browser: Hypothesis over damaged addresses, damaged sessions and"
        " presses at random",
        f"{sum(parts.values())} sessions, {sum(t['steps'] for t in trials)} steps, seed {start}",
        tuple(lost),
        f"{', '.join(f'{n} of {k}' for k, n in parts.items())}; slowest step {slowest:.2f} s of"
        " the processor",
    )


def main() -> None:
    """Try the sessions and print what was found."""
    parser = argparse.ArgumentParser()
    parser.add_argument("sessions", type=int)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--only", default="")
    given_ = parser.parse_args()
    os.environ["STREAMLIT_CLIENT_SHOW_ERROR_DETAILS"] = "full"
    logging.disable(logging.CRITICAL)  # what breaks is read off the page
    with tempfile.TemporaryDirectory() as folder:
        book = filled_book(Path(folder))
        found = tried(given_.sessions, given_.seed, book, given_.only)
    sys.stdout.write(json.dumps([asdict(t) for t in found]))


if __name__ == "__main__":
    main()
