"""Bad input at scale: only a sentence may come back, soon, and in bounded memory.

Run as a program, it tries a number of cases of each kind under a limit of memory and prints what
it found as JSON; the neighbours start it so that one hang or one crash ends nothing else.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import hard_strategies as strategies
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from tally import not_a_sentence

from balancer.constants import AXIS_NAMES
from balancer.errors import BalancerError
from balancer.export import Options, export
from balancer.export.readback import read_jsonld
from balancer.export.record import read_record, record
from balancer.inferring import inferred
from balancer.just_about_right import heard
from balancer.kitchen import Kitchen
from balancer.label import Label
from balancer.own import Own
from balancer.parse import parse_draft
from balancer.parse_request import draft_document, draft_report, draft_request, draft_table
from balancer.readings import Readings
from balancer.rounds import Round
from balancer.search import find, resolve
from balancer.specification import inferred_text
from balancer.store import checked_name, read_document
from balancer.tasting import nudged, steps_from_words
from balancer.units import amount, grams, millilitres

#: A case may take so long of the processor, and be waited for so long on a busy machine [s].
LONGEST_S, LONGEST_WAIT_S = 5.0, 120.0
MEMORY_GB = 4
SAUCE = {
    "name": "plum and ginger dip",
    "yield_g": 500.0,
    "ingredients": [
        {"name": name} for name in ("plums", "sugar", "cider vinegar", "salt", "ginger", "water")
    ],
    "target": {"sweet": 18.0, "sour": 1.1, "salt": 1.4},
}
Case = Callable[[Any], object]


class TooSlow(BaseException):
    """A case that took too long."""


@dataclass
class Trial:
    """What became of the cases of one kind."""

    kind: str
    cases: int = 0
    accepted: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    faults: dict[str, str] = field(default_factory=dict)

    def one(self, act: Case, value: Any) -> None:
        """Try one case; keep the shortest example of each fault."""
        self.cases += 1
        shown = repr(value)
        begun = time.process_time()
        signal.setitimer(signal.ITIMER_REAL, LONGEST_WAIT_S)
        try:
            act(value)
            self.accepted += 1
        except BalancerError as error:
            self.refused += 1
            why = not_a_sentence(str(error), f"{shown} {AXIS_NAMES}")
            if why:
                self._fault(
                    f"{_place(error)}: the refusal is no sentence: {why}", f"{error!s:.300}"
                )
        except TooSlow as error:
            self._fault(f"hangs at {_place(error)}", shown)
        except Exception as error:
            self._fault(f"{_place(error)}: {type(error).__name__}: {error!s:.80}", shown)
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
        took = time.process_time() - begun
        self.slowest_s = max(self.slowest_s, took)
        if took > LONGEST_S:
            self._fault(f"cases take over {LONGEST_S:g} s", shown)

    def _fault(self, what: str, example: str) -> None:
        old = self.faults.get(what)
        if old is None or len(example) < len(old):
            self.faults[what] = example[:1500]


def _place(error: BaseException) -> str:
    """The innermost line of this project in a traceback."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "/balancer/" in f.filename]
    if not frames:
        return "outside"
    last = frames[-1]
    return f"balancer/{last.filename.rpartition('/balancer/')[2]}:{last.lineno} {last.name}"


def kinds(folder: Path) -> dict[str, tuple[Any, Case, float]]:
    """Kind of input to its strategy, what is done with it, and its part of all cases."""
    kitchen = Kitchen(store_path=folder / "book.db")
    catalogue = kitchen.catalogue
    outcome = kitchen.solve(SAUCE)
    kitchen.save("plum dip", outcome)
    kitchen.taste("plum dip", "too sharp, a touch sweeter")
    saved = kitchen.saved("plum dip")
    book = kitchen.everything()
    written = json.loads(record(kitchen.recipe("plum dip")))
    tasted = kitchen.store.rounds("plum dip")[0].document["round"]

    def original(document: Any) -> Any:
        return st.just(json.loads(json.dumps(document)))

    def paste(text: str) -> None:
        lines = parse_draft(text, catalogue).lines
        draft_table(lines), draft_report(lines), draft_document(lines)
        draft_request(lines, locked=True)

    def label(document: Any) -> None:
        read = Label.from_document(document)
        read.parts(), read.bands(), read.notes()

    def own(document: Any) -> None:
        inferred_text(inferred(Own.from_document(document), catalogue))

    def take_in(document: Any) -> None:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            other = Kitchen(catalogue, Path(place) / "other.db")
            other.take_in(document if isinstance(document, str) else json.dumps(document))
            for one in other.store.recipes():
                other.recipe(one.name)
                other.sauce(one.name)
            other.everything()

    def open_saved(document: Any) -> None:
        with tempfile.TemporaryDirectory(dir=folder) as place:
            other = Kitchen(catalogue, Path(place) / "other.db")
            other.store.save_recipe("dip", document)
            recipe = other.recipe("dip")
            for format_ in ("markdown", "csv", "jsonld"):
                export(recipe, format_, Options())
            other.taste("dip", "a touch sweeter")

    def read_back(document: Any) -> None:
        found = read_record(json.dumps(document))
        kitchen.recipe_of(found.name, found.document)

    def numbers(given: Any) -> None:
        if isinstance(given, str):
            amount(given)
            millilitres(given)
        grams(given, g_per_ml=1.05)

    def names(text: str) -> None:
        checked_name(text)
        find(catalogue, text)
        resolve(catalogue, text)

    def words(text: str) -> None:
        heard(text)
        steps_from_words(text)

    def measured(given: Any) -> None:
        read = {"brix": ("sweet", 12.0), "acidity_pct": ("sour", 1.0), "salt_pct": ("salt", 1.5)}
        wanted = dict(read[key] for key in read if key in given)
        kitchen.correct_measured(Readings(**given), wanted, ["sugar", "salt", "water"])

    texts = st.one_of(strategies.REQUEST, original(SAUCE)).map(json.dumps)
    page = '<html><script type="application/ld+json">{}</script></html>'
    linked = strategies.broken(strategies.LINKED).map(json.dumps)
    return {
        "requests, well-shaped": (strategies.REQUEST, kitchen.solve, 0.14),
        "requests, broken": (
            strategies.broken(st.one_of(strategies.REQUEST, original(SAUCE))), kitchen.solve, 0.2),
        "requests as text": (
            strategies.smudged(texts), lambda t: kitchen.solve(read_document(t)), 0.06),
        "pasted recipes": (strategies.PASTE, paste, 0.1),
        "labels": (st.one_of(strategies.LABEL, strategies.broken(strategies.LABEL)), label, 0.08),
        "own ingredients": (st.one_of(strategies.OWN, strategies.broken(strategies.OWN)), own, 0.1),
        "readings of a pot": (strategies.READINGS, measured, 0.05),
        "kitchen books": (strategies.broken(original(book)), take_in, 0.04),
        "kitchen books as text": (
            strategies.smudged(original(book).map(json.dumps)), take_in, 0.02),
        "saved recipes, damaged": (strategies.broken(original(saved)), open_saved, 0.05),
        "recipe records": (strategies.broken(original(written)), read_back, 0.03),
        "rounds, damaged": (strategies.broken(original(tasted)), Round.from_document, 0.02),
        "linked data of a page": (
            st.one_of(strategies.LINKED.map(json.dumps), linked, strategies.smudged(linked),
                      linked.map(page.format),
                      strategies.smudged(linked.map(page.format))), read_jsonld, 0.04),
        "names": (st.one_of(st.sampled_from(strategies.FOODS), strategies.JUNK_TEXT), names, 0.02),
        "numbers with units": (
            st.one_of(strategies.AMOUNT_TEXT, strategies.smudged(strategies.AMOUNT_TEXT),
                      strategies.JUNK_TEXT, strategies.JUNK), numbers, 0.02),
        "tasting words": (strategies.WORDS, words, 0.02),
        "steps of a nudge": (
            strategies.STEPS, lambda s: nudged(outcome.solution.levels, s), 0.01),
    }  # fmt: skip


def tried(cases: int, start: int, folder: Path, only: str = "") -> list[Trial]:
    """Try every kind with its part of the cases."""
    found = []
    for kind, (strategy, act, part) in kinds(folder).items():
        if only not in kind:
            continue
        trial = Trial(kind)
        number = max(5, round(cases * part))
        plan = settings(
            max_examples=number,
            deadline=None,
            database=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
        seed(start)(plan(given(strategy)(_runner(trial, act))))()
        found.append(trial)
    return found


def _runner(trial: Trial, act: Case) -> Callable[[Any], None]:
    def run(value: Any) -> None:
        trial.one(act, value)

    return run


def _too_slow(*_: object) -> None:
    raise TooSlow


def main() -> None:
    """Try the cases under a limit of memory and print what was found."""
    import resource

    parser = argparse.ArgumentParser()
    parser.add_argument("cases", type=int)
    parser.add_argument("--seed", type=int, default=20)
    parser.add_argument("--only", default="")
    given_ = parser.parse_args()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_GB << 30, resource.RLIM_INFINITY))
    signal.signal(signal.SIGALRM, _too_slow)
    with tempfile.TemporaryDirectory() as folder:
        begun = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        trials = tried(given_.cases, given_.seed, Path(folder), given_.only)
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    found = {
        "trials": [vars(t) for t in trials],
        "memory_mb": grown / 1024.0,
        "grown_mb": (grown - begun) / 1024.0,
    }
    sys.stdout.write(json.dumps(found))


if __name__ == "__main__":
    main()
