"""The browser session: the sauce in hand, its answer, and sentences beside fields.

The model owns its keys here; widgets have keys that begin with an underscore and copy into the
model when they change. An answer is kept only with the request it came from.
"""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, TypeVar

import streamlit as st

from balancer.dashboard import address
from balancer.dashboard.work import LONGEST_PAST, Work, solved
from balancer.errors import BalancerError, UnknownIngredient
from balancer.kitchen import Kitchen, Outcome

T = TypeVar("T")
DRAFT = "draft"  # name of the draft in the address
TYPED = "typed"  # name of what was typed beside it
LONGEST_TYPED = 8_000  # letters of it that the address carries at most
MOST_WHOLE = 2**53 - 1  # largest whole number that a field of a browser holds


@dataclass(frozen=True, eq=False)
class Solved:
    """A request as text, and what came of it: an outcome, or a sentence.

    Parameters
    ----------
    request : str
    outcome : Outcome or None
    sentence : str
        Why there is no outcome; empty if there is one.
    """

    request: str
    outcome: Outcome | None
    sentence: str = ""


def kitchen() -> Kitchen:
    """The kitchen of this session; its store opens the file anew for every operation."""
    if "kitchen" not in st.session_state:
        st.session_state["kitchen"] = Kitchen()
    found: Kitchen = st.session_state["kitchen"]
    return found


def cached(what: str, key: str, make: Callable[[], T]) -> T:
    """A result that is kept as long as what it came from stays the same.

    Parameters
    ----------
    what : str
        Its place; each place keeps one result.
    key : str
        All that it came from, in writing.
    make : callable
    """
    kept = st.session_state.setdefault("results", {})
    if what not in kept or kept[what][0] != key:
        kept[what] = (key, make())
    found: T = kept[what][1]
    return found


def work() -> Work | None:
    """The sauce in hand, None before one is chosen."""
    found: Work | None = st.session_state.get("work")
    return found


def put(new: Work | None) -> None:
    """Take a sauce in hand."""
    st.session_state["work"] = new


def sentence(error: BalancerError) -> str:
    """An error as a sentence for this page."""
    if isinstance(error, UnknownIngredient):
        near = f" Nearest: {'; '.join(error.nearest)}." if error.nearest else ""
        return f"No ingredient is called {error.name[:60]!r}.{near} Use a name from the search."
    return str(error)


def _solve(document: Mapping[str, Any]) -> Solved:
    text = json.dumps(document, sort_keys=True)
    try:
        return Solved(text, solved(kitchen(), document))
    except BalancerError as error:
        return Solved(text, None, sentence(error))


def answer() -> Solved:
    """What came of the request in hand; solved again whenever the request has changed."""
    now = work()
    document = {} if now is None else now.document
    kept: Solved | None = st.session_state.get("solved")
    if kept is None or kept.request != json.dumps(document, sort_keys=True):
        kept = _solve(document)
        st.session_state["solved"] = kept
    return kept


@cache
def spare_the_tables() -> None:
    """Leave tables and modules out of garbage collection, once for the life of the server.

    To walk through all that was loaded for good takes longer than to draw the page.
    """
    gc.collect()
    gc.freeze()


def follow_foods() -> None:
    """Forget what was worked out with ingredients of the kitchen's own that have changed since."""
    foods = kitchen().catalogue
    if st.session_state.setdefault("foods", foods) is not foods:
        st.session_state["foods"] = foods
        st.session_state["solved"] = None
        st.session_state["results"] = {}


def quantities_g() -> Mapping[str, float]:
    """Quantities of the request in hand, empty if it has none [g]."""
    outcome = answer().outcome
    return {} if outcome is None else dict(outcome.answer["quantities_g"])


# --- sentences beside fields --------------------------------------------------------------------


def note(field: str, text: str) -> None:
    """Put a sentence beside a field; an empty one takes it away."""
    st.session_state.setdefault("notes", {})[field] = text


def noted(field: str) -> str:
    """The sentence beside a field, empty if there is none."""
    return str(st.session_state.get("notes", {}).get(field, ""))


def attempt(field: str, act: Callable[[], None]) -> bool:
    """Do something that may fail; its sentence then stands beside the field."""
    note(field, "")
    try:
        act()
    except BalancerError as error:
        note(field, sentence(error))
        return False
    return True


# --- changes ------------------------------------------------------------------------------------


def change(document: Mapping[str, Any], field: str, *, always: bool = False) -> bool:
    """Change the request in hand.

    A change that makes a sound request unsound is not taken over: the sentence stands beside the
    field, which keeps what was typed. With ``always`` it is taken over all the same, for changes
    that cannot be at fault themselves, such as taking an ingredient out.
    """
    now = work()
    if now is None:
        return False
    note(field, "")
    before = answer()
    after = _solve(document)
    if after.sentence and after.sentence != before.sentence and not always:
        note(field, after.sentence)
        return False
    put(now.changed(document, quantities_g()))
    st.session_state["solved"] = after
    return True


def undo() -> None:
    """Take the last change back."""
    now = work()
    if now is not None:
        put(now.undone())
        st.session_state["notes"] = {}


# --- widgets and the address --------------------------------------------------------------------


def bound(key: str, value: Any) -> str:
    """Tie a widget's key to a value of the model, before the widget is drawn.

    What the cook typed stays until the model's value changes; a widget that was hidden starts
    from the model again.
    """
    seen = st.session_state.setdefault("seen", {})
    if key not in st.session_state or key not in seen or seen[key] != value:
        st.session_state[key] = value
        seen[key] = value
    return key


def typed(key: str, first: T) -> T:
    """What was typed into a field that belongs to no sauce, or its first value.

    What the address holds and no field could have held is not taken.
    """
    found: Any = st.session_state.setdefault("typed", {}).get(key, first)
    if isinstance(first, str | Mapping):
        fits = isinstance(found, str if isinstance(first, str) else Mapping)
    elif isinstance(found, bool) or not isinstance(found, int | float):
        fits = found is None
    elif isinstance(first, int):
        fits = isinstance(found, int) and abs(found) <= MOST_WHOLE
    else:
        fits = abs(found) <= sys.float_info.max
        found = float(found) if fits else first
    taken: T = found if fits else first
    return taken


def take_typed(key: str) -> None:
    """Keep what stands in a field that belongs to no sauce, so that a reload finds it."""
    kept = st.session_state.setdefault("typed", {})
    st.session_state["typed"] = {**kept, key: st.session_state.get(key)}


def keep_typed(key: str, value: Any) -> None:
    """Keep a value of plain kind that belongs to no sauce, so that a reload finds it."""
    st.session_state["typed"] = {**st.session_state.get("typed", {}), key: value}


def _typed_from_address() -> None:
    letters = st.query_params.get(TYPED, "")
    if not letters or letters == st.session_state.get("typed in address"):
        return
    st.session_state["typed in address"] = letters
    with suppress(BalancerError):  # damaged letters: the fields begin empty
        st.session_state["typed"] = address.unpacked(letters)


def _typed_into_address() -> None:
    kept = st.session_state.get("typed")
    if not kept:
        return
    letters = address.packed(kept)
    if len(letters) > LONGEST_TYPED:  # more than an address should carry: this session keeps it
        return
    if st.query_params.get(TYPED) != letters:
        st.query_params[TYPED] = letters
    st.session_state["typed in address"] = letters


def from_address() -> None:
    """Take the draft that the address holds, unless it is the one in hand."""
    _typed_from_address()
    letters = st.query_params.get(DRAFT, "")
    if not letters or (letters == st.session_state.get("address") and "work" in st.session_state):
        return
    st.session_state["address"] = letters

    def act() -> None:
        before, found = work(), address.read(letters)
        if before is not None and before.saved_name == found.saved_name:
            # the browser's way back; what was in hand can be taken up again
            found = replace(found, past=(*before.past, before)[-LONGEST_PAST:])
        put(found)
        st.session_state["page"] = "sauce"

    attempt("address", act)


def into_address() -> None:
    """Write the sauce in hand into the address, so that a reload keeps it."""
    _typed_into_address()
    now = work()
    letters = "" if now is None else address.written(now)
    if not letters:
        st.query_params.pop(DRAFT, None)
    elif st.query_params.get(DRAFT) != letters:
        st.query_params[DRAFT] = letters
    st.session_state["address"] = letters
