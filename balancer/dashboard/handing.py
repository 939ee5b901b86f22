"""How a cook wants the recipe: its size, its measures, what is bought for it, what stands on it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from math import inf, isfinite
from types import MappingProxyType
from typing import Any, TypeVar

import streamlit as st

from balancer.choices import SCALES_G, Style
from balancer.dashboard import session
from balancer.dashboard.fields import number, told
from balancer.errors import BadInput
from balancer.export import PANELS, PAPERS, Options
from balancer.handover import Size
from balancer.nutrition import LARGEST_SERVING_G
from balancer.recipe import Order
from balancer.scaling import LARGEST
from balancer.shopping import Pack, read_pack

T = TypeVar("T")

STYLES: Mapping[str, str] = MappingProxyType(
    {
        Style.METRIC.value: "spoons, metric",
        Style.US.value: "spoons and cups, US",
        Style.WEIGHT.value: "by weight first",
    }
)
AS_IT_IS = "as it is"
#: Ways to say a size: the words on the page, and the fields that go with it.
WAYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        AS_IT_IS: (),
        "a mass": ("yield_g",),
        "servings": ("servings", "serving_g"),
        "jars": ("jars", "jar_ml"),
        "a pan": ("pan_ml",),
        "all I have of": ("stock", "stock_g"),
    }
)
#: Field to its words and the step of its buttons.
NUMBERS: Mapping[str, tuple[str, float]] = MappingProxyType(
    {
        "yield_g": ("finished sauce (g)", 100.0),
        "servings": ("servings", 1.0),
        "serving_g": ("one serving (g)", 5.0),
        "jars": ("jars", 1.0),
        "jar_ml": ("one jar holds (mL)", 50.0),
        "pan_ml": ("the pan holds to the brim (mL)", 500.0),
        "stock_g": ("there is, what is eaten of it (g)", 50.0),
    }
)
#: Field to what its number is called in a sentence, its unit, and the most it may be.
CALLED: Mapping[str, tuple[str, str, float]] = MappingProxyType(
    {
        "yield_g": ("The finished mass", "g", inf),
        "servings": ("The number of servings", "", inf),
        "serving_g": ("The serving", "g", LARGEST_SERVING_G),
        "jars": ("The number of jars", "", inf),
        "jar_ml": ("The jar", "mL", inf),
        "pan_ml": ("The pan", "mL", inf),
        "stock_g": ("The stock", "g", inf),
        "batches": ("The number of batches", "", LARGEST),
    }
)
#: Name of what is wanted, among what the address keeps beside the draft.
KEPT = "recipe"
#: Field to what may be chosen for it.
CHOICES: Mapping[str, Collection[Any]] = MappingProxyType(
    {
        "style": tuple(STYLES),
        "scale_g": tuple(SCALES_G),
        "way": tuple(WAYS),
        "form": tuple(o.value for o in Order),
        "panels": tuple(PANELS),
        "paper": tuple(PAPERS),
    }
)
_LINE = re.compile(r"(?P<name>.*?\S)\s*(?:[=:,]|\s)\s*(?P<rest>-?\d.*)")
_SLASH = re.compile(r"\s*(?:/|\bfor\b|\ba\b|\bper\b)\s*")


@dataclass(frozen=True)
class Wanted:
    """How the recipe is wanted.

    Parameters
    ----------
    style : str
        metric, us or weight.
    scale_g : float
        Step of the scale [g].
    way : str
        A key of :data:`WAYS`.
    yield_g, servings, serving_g, jars, jar_ml, pan_ml, stock_g : float or None
        Numbers of the ways, as typed.
    stock : str
        What is used up, by its name in the request.
    form : str
        Whose nutrition panel is shown: us or eu.
    panels : str
        Which panels are handed over: us, eu, both or none.
    made_on, use_by, paper, taster, image : str
        As for :class:`balancer.export.Options`.
    others : tuple of str
        Saved sauces that are bought for as well.
    batches : float
        Batches of the sauce in hand that are bought for [1].
    have, prices : str
        The pantry and the prices, a line each, as typed.
    """

    style: str = Style.METRIC.value
    scale_g: float = 1.0
    way: str = AS_IT_IS
    yield_g: float | None = None
    servings: float | None = None
    serving_g: float | None = None
    jars: float | None = None
    jar_ml: float | None = None
    pan_ml: float | None = None
    stock_g: float | None = None
    stock: str = ""
    form: str = "us"
    panels: str = "us"
    made_on: str = ""
    use_by: str = ""
    paper: str = "A4"
    taster: str = ""
    image: str = ""
    others: tuple[str, ...] = ()
    batches: float = 1.0
    have: str = ""
    prices: str = ""

    def size(self) -> Size | None:
        """The size that is wanted; None where the sauce stays as it is or nothing is typed yet.

        Raises
        ------
        BadInput
            If a half of a pair is missing.
        """
        if self.way == "a mass" and self.yield_g is not None:
            return Size(yield_g=self.yield_g)
        if self.way == "servings" and self.servings is not None:
            return Size(servings=self.servings, serving_g=self.serving_g)
        if self.way == "jars" and self.jars is not None:
            return Size(jars=self.jars, jar_ml=self.jar_ml)
        if self.way == "a pan" and self.pan_ml is not None:
            return Size(pan_ml=self.pan_ml)
        if self.way == "all I have of" and self.stock and self.stock_g is not None:
            return Size(stock_g={self.stock: self.stock_g})
        return None

    def options(self) -> Options:
        """What stands on the recipe that is handed over.

        Raises
        ------
        BadInput
            If a date, a name or the picture cannot be one.
        """
        return Options(self.made_on, self.use_by, self.paper, self.panels, self.taster, self.image)

    def have_g(self) -> dict[str, float]:
        """What is in the pantry, as purchased [g]."""
        return _by_name(self.have, _grams, "sugar 500 g")

    def packs(self) -> dict[str, Pack]:
        """What is sold, by name."""
        return _by_name(
            self.prices, lambda rest: read_pack(_SLASH.sub("/", rest)), "sugar 1.35 for 1000 g"
        )


def _grams(text: str) -> float:
    return float(text.strip().removesuffix("g"))


def _by_name(text: str, read: Callable[[str], T], example: str) -> dict[str, T]:
    """Lines of a name with a number, read; the first that cannot be read is named."""
    found: dict[str, T] = {}
    for line in text.splitlines():
        if not line.strip():
            continue
        match = _LINE.fullmatch(line.strip())
        try:
            if match is None:
                raise ValueError
            found[match["name"].rstrip(" =:,")] = read(match["rest"])
        except (ValueError, BadInput):
            raise BadInput(
                f"The line {line.strip()[:60]!r} cannot be read. Write it as {example!r}."
            ) from None
    return found


# --- in the session ------------------------------------------------------------------------------


def wanted() -> Wanted:
    """How the cook wants the recipe."""
    kept: Mapping[str, Any] = session.typed(KEPT, {})
    if st.session_state.get("wanted from") != kept or "wanted" not in st.session_state:
        st.session_state["wanted from"] = kept
        st.session_state["wanted"] = as_kept(kept)
    found: Wanted = st.session_state["wanted"]
    return found


def as_kept(kept: Any) -> Wanted:
    """What was wanted, from plain values; what cannot be meant is left as usual.

    Examples
    --------
    >>> as_kept({"style": "weight", "scale_g": 7, "others": ["dip"]}).style
    'weight'
    >>> as_kept({"style": "by ear", "scale_g": 7, "batches": "two"}) == Wanted()
    True
    """
    usual = asdict(Wanted())
    found: dict[str, Any] = {}
    for name, value in kept.items() if isinstance(kept, Mapping) else ():
        if name not in usual or (name in CHOICES and value not in CHOICES[name]):
            continue
        if name == "others":
            if isinstance(value, list | tuple) and all(isinstance(v, str) for v in value):
                found[name] = tuple(value)
        elif isinstance(usual[name], str):
            if isinstance(value, str):
                found[name] = value
        elif isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value):
            with suppress(BadInput):  # an address may hold what a field would have refused
                found[name] = possible(name, float(value))
    return Wanted(**found)


def possible(field: str, value: float) -> float:
    """A number of what is wanted, where it can be meant.

    Raises
    ------
    BadInput
        If it is not above zero, or above the most that it may be.
    """
    if field in CALLED:
        called, unit, most = CALLED[field]
        if not 0.0 < value <= most:
            said = f"{value:g} {unit}".strip()
            upper = f", up to {f'{most:g} {unit}'.strip()}" if isfinite(most) else ""
            raise BadInput(f"{called} is {said}. Give more than zero{upper}.")
    return value


def take(field: str, key: str, otherwise: Any = "") -> None:
    """Copy what a widget holds into what is wanted."""
    value = st.session_state.get(key)
    changed: dict[str, Any] = {field: otherwise if value is None else value}
    now, usual = asdict(replace(wanted(), **changed)), asdict(Wanted())
    session.keep_typed(KEPT, {name: v for name, v in now.items() if v != usual[name]})


def amount(
    words: str,
    field: str,
    key: str,
    step: float,
    otherwise: float | None = None,
    tried: Callable[[Wanted], object] = lambda asked: None,
) -> None:
    """A number of what is wanted, with the sentence on what was refused under it.

    A number that is refused stays in its field, and the last good one goes on counting.

    Parameters
    ----------
    words : str
    field : str
        Of :class:`Wanted`.
    key : str
        Of the widget.
    step : float
        Step of its buttons.
    otherwise : float or None
        What an empty field means.
    tried : callable
        Told what would be wanted; raises where that cannot be had.
    """
    value = getattr(wanted(), field)
    if not session.noted(key) and st.session_state.get(key, value) != value:
        st.session_state["seen"].pop(key, None)  # the change was taken back: show what counts
    number(words, key, value, _amount, (field, key, otherwise, tried), step)
    if st.session_state[key] == value:  # put right since
        session.note(key, "")
    told(key)


def _amount(
    field: str, key: str, otherwise: float | None, tried: Callable[[Wanted], object]
) -> None:
    value = st.session_state.get(key)

    def act() -> None:
        if value is not None:
            changed: dict[str, Any] = {field: possible(field, float(value))}
            tried(replace(wanted(), **changed))
        take(field, key, otherwise)

    session.attempt(key, act)
