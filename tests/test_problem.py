"""What cannot be meant is refused with one sentence: culprit, value with unit, next step."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest
from sauces import ingredient

from balancer.constants import AXIS
from balancer.errors import BadInput
from balancer.problem import Problem
from balancer.wishes import LARGEST_LEVEL, Aim, Limit, Pot, Ratio, Use

PLUM = ingredient("1", name="plums", fructose=10.0)
SALT = ingredient("2", name="salt", sodium=39337.0, ash=100.0)
WATER = ingredient("3", name="water", water=100.0)
NAN, INF = math.nan, math.inf


def _problem(**changes: object) -> Problem:
    parts: dict[str, object] = {"uses": (Use(PLUM), Use(SALT)), "yield_g": 100.0}
    return Problem(**(parts | changes))  # type: ignore[arg-type]


#: What is built, and what its sentence has to hold: culprit, value, unit, and a next step.
BAD: list[tuple[Callable[[], object], list[str]]] = [
    (lambda: Use(PLUM, min_g=-5.0), ["plums", "minimum", "-5 g", "Give"]),
    (lambda: Use(PLUM, min_g=NAN), ["plums", "minimum", "nan g", "Give"]),
    (lambda: Use(PLUM, min_g=INF), ["plums", "minimum", "inf g", "Give"]),
    (lambda: Use(PLUM, max_g=-1.0), ["plums", "maximum", "-1 g", "Give"]),
    (lambda: Use(PLUM, max_g=NAN), ["plums", "maximum", "nan g", "Give"]),
    (lambda: Use(PLUM, max_g=1e12), ["plums", "maximum", "1e+12 g", "1e+07 g"]),
    (lambda: Use(PLUM, max_g=-INF), ["plums", "maximum", "-inf g"]),
    (lambda: Use(PLUM, draft_g=-2.0), ["plums", "draft", "-2 g", "Give"]),
    (lambda: Use(PLUM, draft_g=1e12), ["plums", "draft", "1e+12 g", "Give"]),
    (lambda: Use(PLUM, locked_g=NAN), ["plums", "lock", "nan g", "Give"]),
    (lambda: Use(PLUM, locked_g=INF), ["plums", "lock", "inf g", "Give"]),
    (lambda: Use(PLUM, min_g=9.0, max_g=5.0), ["plums", "9 g", "5 g", "Lower one or raise"]),
    (lambda: Use(PLUM, share_min=-0.1), ["plums", "least share", "-0.1", "from 0 to 1"]),
    (lambda: Use(PLUM, share_max=NAN), ["plums", "largest share", "nan", "from 0 to 1"]),
    (lambda: Use(PLUM, share_max=70.0), ["plums", "largest share", "70", "from 0 to 1"]),
    (lambda: Use(PLUM, share_min=0.6, share_max=0.2), ["plums", "0.6", "0.2", "Lower one"]),
    (lambda: Use(PLUM, locked_g=5.0, max_g=2.0), ["plums", "5 g", "2 g", "Move the lock"]),
    (lambda: Aim("bitter", 1.0, 1.0), ["bitter", "sweet, sour, salt", "Use one of"]),
    (lambda: Aim("sweet", -3.0, -3.0), ["sweet", "-3 g sucrose", "Give a level"]),
    (lambda: Aim("sweet", NAN, 3.0), ["sweet", "nan g sucrose", "Give a level"]),
    (lambda: Aim("sweet", 3.0, INF), ["sweet", "inf g sucrose", "Give a level"]),
    (lambda: Aim("fat", 101.0, 101.0), ["fat", "101 g", "no sauce", "100", "Give a lower"]),
    (lambda: Aim("salt", 5.0, 3.0), ["salt", "5", "3", "g NaCl", "lower end first"]),
    (lambda: Aim("sour", 1.0, 1.0, weight=NAN), ["weight of sour", "nan", "Give one"]),
    (lambda: Aim("sour", 1.0, 1.0, weight=0.0), ["weight of sour", "0", "Give one"]),
    (lambda: Ratio(0, 0, 0.1, 0.2), ["same ingredient", "Name two"]),
    (lambda: Ratio(0, 1, 2.0, 1.0), ["2", "1", "lower end first"]),
    (lambda: Ratio(0, 1, NAN, 1.0), ["nan", "lower end first"]),
    (lambda: Ratio(0, 1, -1.0, 1.0), ["-1", "zero or more"]),
    (lambda: Limit("iron", "mg", {"iron": 1.0}), ["iron", "no component", "'iron'"]),
    (lambda: Limit("fat", "g", {"fat": 1.0}, 5.0, 2.0), ["fat", "5", "2 g", "lower end first"]),
    (lambda: Limit("fat", "g", {"fat": 1.0}, NAN, 2.0), ["fat", "nan", "lower end first"]),
    (lambda: Pot((-4.0, 5.0)), ["pot", "-4 g", "Give"]),
    (lambda: Pot((0.0, 0.0)), ["pot", "0 g", "Weigh"]),
    (lambda: Pot((1.0,), growth=-0.5), ["growth", "-0.5", "Give a fraction"]),
    (lambda: _problem(uses=()), ["No ingredients", "Name at least one"]),
    (
        lambda: _problem(uses=(Use(PLUM, label="plums"), Use(PLUM, label="red plums"))),
        ["plums", "red plums", "same ingredient", "Name it once"],
    ),
    (
        lambda: _problem(aims=(Aim("salt", 1.0, 1.0), Aim("salt", 2.0, 2.0))),
        ["salt", "two targets", "Keep one"],
    ),
    (lambda: _problem(yield_g=None), ["yield_g or yield_ml"]),
    (lambda: _problem(yield_ml=50.0), ["yield_g or yield_ml"]),
    (lambda: _problem(yield_g=0.0), ["yield", "0 g", "more than zero"]),
    (lambda: _problem(yield_g=-5.0), ["yield", "-5 g", "more than zero"]),
    (lambda: _problem(yield_g=NAN), ["yield", "nan g", "Give"]),
    (lambda: _problem(yield_g=1e12), ["yield", "1e+12 g", "at most 1e+07 g"]),
    (lambda: _problem(yield_g=None, yield_ml=NAN), ["yield", "nan mL", "Give"]),
    (lambda: _problem(yield_g=None, yield_ml=1e12), ["yield", "1e+12 mL", "Give"]),
    (lambda: _problem(yield_g=None, yield_ml=-3.0), ["yield", "-3 mL", "Give"]),
    (lambda: _problem(water_lost_g=-1.0), ["water lost", "-1 g", "Give"]),
    (lambda: _problem(water_lost_g=NAN), ["water lost", "nan g", "Give"]),
    (lambda: _problem(dead_band_jnd=-1.0), ["dead band", "-1 JND", "Give"]),
    (lambda: _problem(dead_band_jnd=NAN), ["dead band", "nan JND", "Give"]),
    (lambda: _problem(ratios=(Ratio(0, 7, 0.1, 0.2),)), ["ratio", "not in the list", "Add it"]),
    (
        lambda: _problem(uses=(Use(PLUM, locked_g=90.0), Use(SALT, min_g=30.0))),
        ["locks and minimums", "120 g", "100 g", "Lower them"],
    ),
    (
        lambda: _problem(uses=(Use(PLUM, locked_g=60.0), Use(SALT, locked_g=30.0))),
        ["locked", "90 g", "100 g", "Set the yield to 90 g"],
    ),
    (lambda: _problem(pot=Pot((1.0, 2.0))), ["pot", "Leave the yield out"]),
    (lambda: _problem(yield_g=None, pot=Pot((1.0,))), ["1 quantities", "2 ingredients", "0 g"]),
    (
        lambda: _problem(yield_g=None, pot=Pot((1.0, 2.0)), water_lost_g=9.0),
        ["9 g of water", "3 g", "Weigh again"],
    ),
]  # fmt: skip


@pytest.mark.parametrize("place", range(len(BAD)))
def test_bad_input_gets_one_sentence(place: int) -> None:
    build, parts = BAD[place]
    with pytest.raises(BadInput) as caught:
        build()
    text = str(caught.value)
    for part in parts:
        assert part in text, text
    assert text[0].isupper() or text[0].islower()
    assert text.endswith(".")
    assert "\n" not in text
    assert len(text) < 300


@pytest.mark.parametrize("axis", sorted(AXIS))
def test_no_sauce_can_have_more(axis: str) -> None:
    """The largest level itself is allowed; anything above is refused with unit and figure."""
    top = LARGEST_LEVEL[axis]
    assert Aim(axis, top, top).is_point
    with pytest.raises(BadInput, match=f"{axis}.*{re.escape(AXIS[axis].unit)}.*no sauce"):
        Aim(axis, top * 1.001, top * 1.001)


def test_defaults_and_middle() -> None:
    use = Use(PLUM)
    assert (use.label, use.min_g, use.max_g, use.locked_g) == ("plums", 0.0, INF, None)
    assert Aim("sweet", 10.0, 14.0).middle == 12.0
    assert not Aim("sweet", 10.0, 14.0).is_point
    assert _problem().aim("sweet") is None
    assert _problem(aims=(Aim("salt", 1.0, 1.0),)).aim("salt") == Aim("salt", 1.0, 1.0)


def test_frozen() -> None:
    with pytest.raises(AttributeError):
        Use(PLUM).min_g = 3.0  # type: ignore[misc]
    with pytest.raises(AttributeError):
        _problem().yield_g = 3.0  # type: ignore[misc]


def test_printed_as_a_cook_would_read_it() -> None:
    problem = Problem(
        (Use(PLUM, draft_g=60.0, max_g=80.0), Use(SALT, locked_g=2.0), Use(WATER)),
        (Aim("salt", 1.4, 1.4), Aim("sweet", 5.0, 9.0)),
        yield_g=100.0,
        limits=(Limit("sodium", "mg per 100 g", {"sodium": 1.0}, high=900.0),),
    )
    text = repr(problem)
    for line in (
        "Problem: 100 g from 3 ingredients",
        "  plums: 0 to 80 g, near 60 g",
        "  salt: locked at 2 g",
        "  sweet: 5 to 9 g sucrose eq. per 100 g",
    ):
        assert line in text
    assert "sodium: -inf" not in text
    assert "inf" not in text
