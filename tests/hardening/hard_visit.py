"""One session at the real page, run without a browser and looked over after every step."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from streamlit.testing.v1 import AppTest
from tally import not_a_sentence

from balancer.constants import AXIS_NAMES
from balancer.dashboard import address, page, telling
from balancer.dashboard.session import Solved
from balancer.dashboard.slow import Found
from balancer.dashboard.work import Work, begun, solved
from balancer.demo import house_sauces
from balancer.kitchen import Kitchen
from balancer.own import Own

HOUSE = house_sauces()
SAUCE = "plum dip"
APP = Path(__file__).resolve().parents[2] / "app.py"
#: A step may take so long of the processor, and be waited for so long on a busy machine [s].
LONGEST_S, LONGEST_WAIT_S = 5.0, 120.0
#: Presses by which the cook leaves the sauce in hand, or takes the last change back.
LEAVES = ("_leave", "_another", "_undo", "_open_recipe_", "_open_newer_", "_take_brought")
#: Presses by which the cook takes something out of the kitchen book.
REMOVES = ("_do_rename_", "_do_delete_")
#: Buttons that begin a search in a child process.
SEARCHES = ("_look_missing", "_look_ways", "_look_instead")
#: What the session holds besides widgets.
MODEL = (
    "address", "brought from", "chosen", "corrected", "errand", "foods", "found", "in view",
    "kitchen", "leaving", "making", "notes", "opened", "own chosen", "page", "page in address",
    "pasted", "read", "results", "seen", "solved", "stove_token", "stove_until", "taken", "turns",
    "typed", "typed in address", "wanted", "wanted from", "weighing", "work",
)  # fmt: skip


class Broken(Exception):
    """What went wrong on a page, in words."""


def filled_book(home: Path) -> Path:
    """A kitchen book that holds a sauce with two rounds, another, a profile and a bottle."""
    kitchen = Kitchen(store_path=home / "kitchen_book.db")
    outcome = kitchen.solve(HOUSE["plum-ginger-dip"])
    kitchen.save(SAUCE, outcome)
    kitchen.taste(SAUCE, "too sharp, a touch sweeter")
    kitchen.taste(SAUCE, "a touch saltier, sweet is right")
    kitchen.save("pepper sauce", kitchen.solve(HOUSE["red-pepper-walnut-sauce"]))
    kitchen.save_profile("as it was", outcome)
    kitchen.save_own(Own("my syrup", brix=60.0))
    return home


def _same(before: Mapping[str, Any], now: Mapping[str, Any]) -> bool:
    """Whether a sauce is still there; saving may name it and write down what it tastes of."""
    return all(now.get(k) == value for k, value in before.items() if value and k != "name")


@dataclass
class Visit:
    """One session at the page, looked over after every step."""

    at: AppTest
    trace: list[str] = field(default_factory=list)
    wrote: str = ""
    slowest_s: float = 0.0
    steps: int = 0

    @classmethod
    def begun(cls, sauce: str) -> Visit:
        """A page that was just opened, with a house sauce in hand, or with the kept one."""
        visit = cls(AppTest.from_file(str(APP), default_timeout=LONGEST_WAIT_S))
        if sauce == SAUCE:
            visit.at.query_params["draft"] = address.written(telling.opened(Kitchen(), SAUCE))
        visit.look(f"open {sauce}")
        if sauce in HOUSE:
            visit.at.button(key=f"_house_{sauce}").click()
            visit.look(f"_house_{sauce}")
        return visit

    @property
    def work(self) -> Work | None:
        found = self._held("work")
        return found if isinstance(found, Work) else None

    def _held(self, key: str) -> Any:
        return self.at.session_state[key] if key in self.at.session_state else None  # noqa: SIM401

    def look(self, what: str, *, leaves: bool = False, removes: bool = False) -> None:
        """Run the page after a step, and look it over."""
        before = self.work
        kitchen = self._held("kitchen")
        whole = isinstance(kitchen, Kitchen)
        names = {r.name for r in kitchen.store.recipes()} if whole else set()
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
                text = re.sub(r"\\(\W)", r"\1", told.value)  # as it is shown
                why = not_a_sentence(text, f"{self.wrote} {AXIS_NAMES} {self.work} {HOUSE}")
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
            if not any(_same(before.document, w.document) for w in held):
                raise Broken("the sauce in hand is gone")
        if now is None:
            return
        written = self.at.query_params.get("draft", "")
        again = address.read(written if isinstance(written, str) else written[-1])
        if again.document != json.loads(json.dumps(now.document)):
            raise Broken("a reload would find another sauce")
        if self._held("page") not in page.PAGES:
            request = json.dumps(now.document, sort_keys=True)
            if self._held("solved").request != request:
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
        self.put(f"session[{key!r}] = {value!r:.300}", key, value)

    def _remove(self, place: int, _: Any) -> None:
        self.take_away(self._model()[place % len(self._model())])

    def take_away(self, key: str) -> None:
        """Take a value out of the session; the sauce stays in hand."""
        before = self.work
        del self.at.session_state[key]
        self.look(f"del session[{key!r}]")
        self._as_before(before)

    def put(self, what: str, key: str, value: Any) -> None:
        """Put a value into the session; the sauce stays in hand."""
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
            self.put("stale work", "work", new)
        elif place == "solved":
            other = begun(HOUSE["pineapple-mustard-chutney"])
            self.put("solved of another", "solved", _solved(other))
        elif place == "results" and self._held("results"):
            old = dict.fromkeys(state["results"], ("another request", None))
            self.put("results of another", "results", old)
        elif place == "found":
            names = ("missing", "other ways", "ways", "instead")
            old = {n: Found("another question", None, "Nothing was found.") for n in names}
            self.put("found of another", "found", old)
        elif place == "opened":
            self.put("opened line is gone", "opened", next(iter(gone)))
        elif place == "notes":
            self.put("notes of what is gone", "notes", dict.fromkeys(gone, "It is gone."))
        elif place == "fields":
            for name in gone:
                state[f"_max_g_{name}"] = 5.0
            self.look("fields of what is gone")


def _solved(work: Work) -> Solved:
    text = json.dumps(dict(work.document), sort_keys=True)
    return Solved(text, solved(Kitchen(), work.document))
