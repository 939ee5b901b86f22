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
import re
import subprocess
import sys
import tempfile
import time
import zlib
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import hard_strategies as strategies
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from streamlit.testing.v1 import AppTest
from tally import Row, not_a_sentence

from balancer.dashboard import address, page
from balancer.dashboard.details import Details
from balancer.dashboard.making import Making
from balancer.dashboard.pasting import Paste
from balancer.dashboard.slow import Found
from balancer.dashboard.work import Round, Work, begun
from balancer.demo import house_sauces

APP = Path(__file__).resolve().parents[2] / "app.py"
#: A step may take so long of the processor, and be waited for so long on a busy machine [s].
LONGEST_S, LONGEST_WAIT_S = 5.0, 120.0
STEPS = 12
#: Presses by which the cook leaves the sauce in hand, or takes the last change back.
LEAVES = ("_leave", "_another", "_undo", "_open_recipe_", "_open_newer_", "_take_brought")
#: Presses by which the cook takes something out of the kitchen book.
REMOVES = ("_do_rename_", "_do_delete_")
#: Buttons that begin a search in a child process.
SEARCHES = ("_look_missing", "_look_ways", "_look_instead")
FOLDS = (
    "_how", "_course", "_circumstances", "_marks", "_back_fold", "_sides", "_spoons", "_rest",
    "_levels", "_forms", "_how_panel", "_meter", "_rules", "_map", "_bringing", "_how_readings",
    "_other_axes",
)  # fmt: skip
#: What the session holds besides widgets.
MODEL = (
    "address", "brought from", "chosen", "corrected", "errand", "foods", "found", "in view", "kitchen", "leaving",
    "making", "notes", "opened", "own chosen", "page", "page in address", "pasted", "read",
    "results", "seen", "solved", "stove_token", "stove_until", "taken", "turns", "typed", "typed in address", "wanted",
    "wanted from", "weighing", "work",
)  # fmt: skip
HOUSE = house_sauces()
FULL = replace(
    begun(HOUSE["plum-ginger-dip"]),
    saved_name="plum dip", revision=2, made_g={"plums": 300.0}, steps={"sour": -1.0},
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


class Broken(Exception):
    """What went wrong on a page, in words."""


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
    "pasted": _damaged(DRAFT.written()),
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
_START = st.sampled_from([*HOUSE, *HOUSE, ""])
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
class Visit:
    """One session at the page, looked over after every step."""

    at: AppTest
    trace: list[str] = field(default_factory=list)
    wrote: str = ""
    slowest_s: float = 0.0
    steps: int = 0

    @classmethod
    def begun(cls, house: str) -> Visit:
        """A page that was just opened, or with a house sauce in hand."""
        visit = cls(AppTest.from_file(str(APP), default_timeout=LONGEST_WAIT_S))
        visit.look("open")
        if house:
            visit.at.button(key=f"_house_{house}").click()
            visit.look(f"_house_{house}")
        return visit

    @property
    def work(self) -> Work | None:
        found = self._held("work")
        return found if isinstance(found, Work) else None

    def _held(self, key: str) -> Any:
        state = self.at.session_state
        return state[key] if key in state else None

    def look(self, what: str, *, leaves: bool = False, removes: bool = False) -> None:
        """Run the page after a step, and look it over."""
        before = self.work
        kitchen = self._held("kitchen")
        names = set() if kitchen is None else {r.name for r in kitchen.store.recipes()}
        self.trace.append(what)
        self.steps += 1
        begun_s = time.process_time()
        self.at.run()
        took = time.process_time() - begun_s
        self.slowest_s = max(self.slowest_s, took)
        for shown in self.at.exception:
            lines = [x for x in shown.stack_trace if "/balancer/" in x]
            place = re.findall(r"/(balancer/[^\"]*\.py)\", line (\d+)", "\n".join(lines))
            raise Broken(f"{':'.join(place[-1]) if place else 'outside'}: {shown.value:.160}")
        if took > LONGEST_S:
            raise Broken(f"a step takes {took:.1f} s of the processor")
        for kind in ("error", "warning", "info", "success"):
            for told in self.at.get(kind):
                why = not_a_sentence(re.sub(r"\\(\W)", r"\1", told.value), self.wrote)
                if why:
                    raise Broken(f"a message is no sentence: {why}: {told.value:.160}")
        self._nothing_lost(before, leaves)
        kept = {r.name for r in self._held("kitchen").store.recipes()}
        if not removes and not names <= kept:
            raise Broken(f"the book lost {sorted(names - kept)}")

    def _nothing_lost(self, before: Work | None, leaves: bool) -> None:
        now = self.work
        if before is not None and not leaves:
            held = () if now is None else (now, *now.past)
            if not any(w.document == before.document for w in held):
                raise Broken("the sauce in hand is gone")
        if now is None:
            return
        written = self.at.query_params.get("draft", "")
        again = address.read(written if isinstance(written, str) else written[-1])
        if again.document != json.loads(json.dumps(now.document)):
            raise Broken("a reload would find another sauce")
        answer = self._held("solved")
        if answer is not None and self._held("page") not in page.PAGES:
            if answer.request != json.dumps(now.document, sort_keys=True):
                raise Broken("the answer belongs to another request")

    # --- steps ----------------------------------------------------------------------------------
    def step(self, kind: str, place: Any, value: Any) -> None:
        """Take one step, if the page in view offers it."""
        act: Callable[[Any, Any], None] = getattr(self, f"_{kind}")
        self.wrote += f" {value}"
        act(place, value)

    def _press(self, place: int, _: Any) -> None:
        shown = [b for b in self.at.button if not b.disabled and b.key not in SEARCHES]
        key = str(shown[place % len(shown)].key)
        shown[place % len(shown)].click()
        self.look(key, leaves=key.startswith(LEAVES), removes=key.startswith(REMOVES))

    def _number(self, place: int, value: float | None) -> None:
        shown = [n for n in self.at.number_input if not n.disabled]
        if shown:
            one = shown[place % len(shown)]
            if value is not None:
                value = max(value, one.min) if one.min is not None else value
                value = min(value, one.max) if one.max is not None else value
                value = int(value) if isinstance(one.step, int) else value
            elif one.proto.HasField("default"):  # such a field cannot be emptied
                return
            one.set_value(value)
            self.look(f"{one.key} = {value}")

    def _text(self, place: int, value: str) -> None:
        shown = [t for t in (*self.at.text_input, *self.at.text_area) if not t.disabled]
        if shown:
            one = shown[place % len(shown)]
            most = one.proto.max_chars
            one.set_value(value[:most] if most else value)
            self.look(f"{one.key} = {value!r:.300}")

    def _choose(self, place: int, value: int) -> None:
        at = self.at
        shown = [*at.selectbox, *at.radio, *at.multiselect, *at.toggle, *at.get("button_group")]
        if not shown:
            return
        one = shown[place % len(shown)]
        if one.type in ("toggle", "checkbox"):
            one.set_value(not one.value)
        elif one.options:
            option = one.options[value % len(one.options)]
            one.set_value([option] if one.type == "multiselect" else option)
        self.look(f"{one.key} = {one.value!r}")

    def _unfold(self, place: str, _: Any) -> None:
        self.at.session_state[place] = True
        self.look(f"unfold {place}")

    def _upload(self, place: int, value: str) -> None:
        shown = self.at.get("file_uploader")
        if shown:
            one = shown[place % len(shown)]
            kind = one.proto.type[place % len(one.proto.type)]
            one.set_value((f"file{kind}", value.encode(), "text/plain"))
            self.look(f"{one.key} = {kind} {value!r:.300}")

    def _go(self, place: str, _: Any) -> None:
        key = f"_to_{place}"
        if any(b.key == key for b in self.at.button):
            self.at.button(key=key).click()
            self.look(key)

    def _reload(self, _: Any, __: Any) -> None:
        before, held = self.work, dict(self.at.query_params)
        self.at = AppTest.from_file(str(APP), default_timeout=LONGEST_WAIT_S)
        self.at.query_params.update(held)
        self.look("reload")
        now = self.work
        if before is not None and (now is None or now.document != before.document):
            raise Broken("a reload lost the sauce in hand")

    def _address(self, anew: bool, value: Mapping[str, str]) -> None:
        if anew:
            self.at = AppTest.from_file(str(APP), default_timeout=LONGEST_WAIT_S)
        self.at.query_params.update(value)
        self.look(f"address {dict(value)!r}"[:1500])

    # --- damage to the session ------------------------------------------------------------------
    def _model(self) -> list[str]:
        return [key for key in MODEL if key in self.at.session_state]

    def _replace(self, place: int, value: Any) -> None:
        key = self._model()[place % len(self._model())]
        self._put(f"session[{key!r}] = {value!r:.300}", key, value)

    def _remove(self, place: int, _: Any) -> None:
        key = self._model()[place % len(self._model())]
        before = self.work
        del self.at.session_state[key]
        self.look(f"del session[{key!r}]")
        self._as_before(before)

    def _put(self, what: str, key: str, value: Any) -> None:
        before = self.work
        self.at.session_state[key] = value
        self.look(what)
        self._as_before(before)

    def _as_before(self, before: Work | None) -> None:
        """The sauce is there after any damage: the address holds it too."""
        now = self.work
        if before is not None and (now is None or now.document != before.document):
            raise Broken("damage to the session lost the sauce in hand")

    def _stale(self, place: str, _: Any) -> None:
        now, state = self.work, self.at.session_state
        gone = {"a quince that is gone": 5.0}
        if place == "work" and now is not None:
            new = replace(now, made_g=gone, before_g=gone, also=tuple(gone), tasted=7, kept=9)
            self._put("stale work", "work", new)
        elif place == "solved":
            other = begun(HOUSE["pineapple-mustard-chutney"])
            self._put("solved of another", "solved", _solved(other))
        elif place == "results" and self._held("results"):
            old = {k: ("another request", None) for k in state["results"]}
            self._put("results of another", "results", old)
        elif place == "found":
            names = ("missing", "other ways", "ways", "instead")
            old = {n: Found("another question", None, "Nothing was found.") for n in names}
            self._put("found of another", "found", old)
        elif place == "opened":
            self._put("opened line is gone", "opened", next(iter(gone)))
        elif place == "notes":
            self._put("notes of what is gone", "notes", {n: "It is gone." for n in gone})
        elif place == "fields":
            for name in gone:
                state[f"_max_g_{name}"] = 5.0
            self.look("fields of what is gone")


def _solved(work: Work) -> Any:
    from balancer.dashboard.session import Solved
    from balancer.dashboard.work import solved
    from balancer.kitchen import Kitchen

    return Solved(
        json.dumps(dict(work.document), sort_keys=True), solved(Kitchen(), work.document)
    )


@dataclass
class Trial:
    """What became of the sessions of one kind."""

    kind: str
    sessions: int = 0
    steps: int = 0
    slowest_s: float = 0.0
    faults: dict[str, str] = field(default_factory=dict)

    def one(self, house: str, steps: list[Any]) -> None:
        """Try one session; keep the shortest example of each fault."""
        self.sessions += 1
        with tempfile.TemporaryDirectory() as home:
            os.environ["BALANCER_HOME"] = home
            visit: Visit | None = None
            try:
                visit = Visit.begun(house)
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


def tried(sessions: int, start: int, only: str = "") -> list[Trial]:
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
        seed(start)(plan(given(strategy)(_runner(trial))))()
        found.append(trial)
    return found


def _runner(trial: Trial) -> Callable[[Any], None]:
    def run(session: tuple[str, list[Any]]) -> None:
        trial.one(*session)

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
    found = tried(given_.sessions, given_.seed, given_.only)
    sys.stdout.write(json.dumps([asdict(t) for t in found]))


if __name__ == "__main__":
    main()
