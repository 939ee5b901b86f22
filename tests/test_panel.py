"""Panel tests: sheets that are balanced and can be scored, verdicts, refusals."""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from balancer.discrimination import (
    Method,
    d_prime,
    least_correct,
    most_correct,
    p_value,
    panel_size,
    power,
    share_at,
    share_correct,
    tellers_between,
)
from balancer.errors import BadInput
from balancer.panel import difference, scope, similarity
from balancer.serving import Session, session

METHODS = list(Method)


def made(method: Method, tasters: int, **more: int) -> Session:
    attribute = "" if method is Method.TRIANGLE else "sour"
    return session(method, tasters, attribute=attribute, **more)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("sets", [1, 5, 6, 7, 24, 100])
def test_orders_are_balanced(method: Method, sets: int) -> None:
    counts = Counter(s.samples for s in made(method, sets, seed=sets).servings)
    possible = 6 if method is Method.TRIANGLE else 2
    assert sum(counts.values()) == sets
    assert max(counts.values()) <= -(-sets // possible)
    assert len(counts) == min(sets, possible) or sets > possible
    if sets % possible == 0:
        assert set(counts.values()) == {sets // possible}
    if method is Method.TRIANGLE:
        odd = Counter(min("AB", key=samples.count) for samples in counts.elements())
        assert abs(odd["A"] - odd["B"]) <= 1


def test_every_place_is_odd_equally_often() -> None:
    servings = made(Method.TRIANGLE, 60).servings
    places = Counter(s.samples.index(min("AB", key=s.samples.count)) for s in servings)
    assert set(places.values()) == {20}


def test_codes_have_three_digits_and_none_comes_twice() -> None:
    codes = [c for s in made(Method.TRIANGLE, 300).servings for c in s.codes]
    assert len(codes) == len(set(codes)) == 900
    assert min(codes) >= 100
    assert max(codes) <= 999
    many = made(Method.TRIANGLE, 301).servings
    assert all(len(set(s.codes)) == 3 for s in many)


def test_seed_gives_the_same_sheets_again() -> None:
    first, again = made(Method.TRIANGLE, 12, seed=7), made(Method.TRIANGLE, 12, seed=7)
    assert first == again
    assert first.key() != made(Method.TRIANGLE, 12, seed=8).key()


def test_sheet_hides_what_the_key_tells() -> None:
    test = session(
        Method.TRIANGLE, 4, names=("the old chutney", "the new chutney"), allergens=("mustard",)
    )
    for taster in range(1, 5):
        sheet = test.sheet(taster)
        assert "chutney" not in sheet
        assert "mustard" in sheet
        serving = test.servings[taster - 1]
        assert all(str(code) in sheet for code in serving.codes)
        odd = serving.right_code(test.method, test.expected)
        assert f"odd {odd}" in test.key()
    assert "ask what the sauces hold" in made(Method.PAIRED, 1).sheet(1)
    assert "more sour" in made(Method.PAIRED, 1).sheet(1)


def test_answers_are_counted() -> None:
    test = made(Method.TRIANGLE, 8)
    right = [s.right_code(test.method, "B") for s in test.servings]
    assert test.count(right) == 8
    wrong = [next(c for c in s.codes if c != r) for s, r in zip(test.servings, right, strict=True)]
    assert test.count(wrong) == 0
    assert test.count(right[:3] + wrong[3:]) == 3
    pair = made(Method.PAIRED, 10)
    b = [s.codes[s.samples.index("B")] for s in pair.servings]
    assert pair.count(b) == 10


def test_repeats_stay_with_their_taster() -> None:
    test = made(Method.TRIANGLE, 2, repeats=6)
    assert [(s.taster, s.turn) for s in test.servings] == list(product((1, 2), range(1, 7)))
    assert len({s.samples for s in test.servings if s.taster == 1}) == 6
    assert test.sheet(2).count("Set ") == 6


@given(
    st.sampled_from(METHODS), st.integers(1, 200), st.sampled_from([0.2, 0.1, 0.05, 0.01, 0.001])
)
@settings(max_examples=60, deadline=None)
def test_critical_count_is_the_first_that_shows(method: Method, trials: int, alpha: float) -> None:
    least = least_correct(method, trials, alpha)
    if least is None:
        assert p_value(method, trials, trials) > alpha
    else:
        assert p_value(method, least, trials) <= alpha
        if 2 * least - 2 > trials:  # one fewer is still the larger side of a split
            assert p_value(method, least - 1, trials) > alpha


def test_small_panels_by_hand() -> None:
    assert p_value(Method.TRIANGLE, 5, 5) == pytest.approx(1 / 243)
    assert p_value(Method.PAIRED, 4, 5) == pytest.approx(6 / 32)
    assert p_value(Method.PAIRED_EITHER, 1, 5) == pytest.approx(12 / 32)
    assert p_value(Method.PAIRED_EITHER, 5, 10) == 1.0
    assert p_value(Method.TRIANGLE, 0, 9) == 1.0
    assert least_correct(Method.TRIANGLE, 2, 0.05) is None
    assert "not even all" in difference(Method.TRIANGLE, 2, 2).sentences[0]


@given(st.integers(1, 120), st.data())
@settings(max_examples=60, deadline=None)
def test_limits_enclose_what_was_seen(trials: int, data: st.DataObject) -> None:
    correct = data.draw(st.integers(0, trials))
    low, high = tellers_between(Method.TRIANGLE, correct, trials)
    seen = max(0.0, 1.5 * correct / trials - 0.5)
    assert 0.0 <= low <= seen <= high <= 1.0


@pytest.mark.parametrize("trials", [12, 30, 60, 96])
def test_similar_means_the_upper_limit_is_below(trials: int) -> None:
    """The count allowed and the confidence limit say the same."""
    most = most_correct(Method.TRIANGLE, trials, 0.3, 0.05)
    for correct in range(trials + 1):
        upper = tellers_between(Method.TRIANGLE, correct, trials, 0.95)[1]
        assert (upper <= 0.3) == (most is not None and correct <= most)
        assert similarity(Method.TRIANGLE, correct, trials).shown == (upper <= 0.3)


def test_power_rises_with_the_share_who_can_tell() -> None:
    shares = [0.0, 0.1, 0.3, 0.6, 1.0]
    powers = [power(Method.TRIANGLE, 30, s, 0.05) for s in shares]
    assert powers == sorted(powers)
    assert powers[0] == pytest.approx(p_value(Method.TRIANGLE, 15, 30))
    assert powers[-1] == 1.0
    n = panel_size(Method.PAIRED, 0.4, 0.05, 0.8)
    assert power(Method.PAIRED, n, 0.4, 0.05) >= 0.8 > power(Method.PAIRED, n - 1, 0.4, 0.05)
    assert share_correct(Method.TRIANGLE, 0.3) == pytest.approx(0.3 + 0.7 / 3)


@pytest.mark.parametrize("method", METHODS)
def test_d_prime_comes_back(method: Method) -> None:
    assert d_prime(method, 1, 3) == 0.0
    assert d_prime(method, 7, 7) == float("inf")
    distance = d_prime(method, 13, 20)
    assert share_at(method, distance) == pytest.approx(13 / 20)


def test_verdicts_say_for_whom_they_speak() -> None:
    assert "one taster only" in difference(Method.TRIANGLE, 8, 12, tasters=1).sentences[-1]
    assert "people like these" in difference(Method.TRIANGLE, 8, 12).sentences[-1]
    assert "more than once" in difference(Method.TRIANGLE, 8, 12, tasters=4).sentences[-1]
    assert "one taster only" in scope(1, 1)
    assert "no difference" in difference(Method.TRIANGLE, 7, 12).sentences[1].casefold()
    either = difference(Method.PAIRED_EITHER, 2, 24)
    assert either.shown
    assert either.tellers is None
    assert "22 of 24 answers agree" in either.sentences[0]
    small = similarity(Method.TRIANGLE, 0, 3)
    assert small.most_correct is None
    assert "too few" in small.sentences[1]
    assert "not shown" in similarity(Method.TRIANGLE, 30, 60).sentences[1]


@pytest.mark.parametrize(
    ("call", "culprit"),
    [
        (lambda: p_value(Method.TRIANGLE, 13, 12), "13 right answers"),
        (lambda: p_value(Method.TRIANGLE, -1, 12), "-1 right answers"),
        (lambda: p_value(Method.TRIANGLE, 0, 0), "0 answers"),
        (lambda: least_correct(Method.PAIRED, 10, 1.5), "1.5"),
        (lambda: panel_size(Method.TRIANGLE, 0.0, 0.05, 0.8), "is 0"),
        (lambda: panel_size(Method.TRIANGLE, 0.01, 0.05, 0.99), "1 %"),
        (lambda: panel_size(Method.TRIANGLE, 0.3, 0.05, 1.0), "power is 1"),
        (lambda: share_correct(Method.TRIANGLE, 1.2), "1.2"),
        (lambda: share_at(Method.TRIANGLE, -1.0), "-1"),
        (lambda: most_correct(Method.PAIRED_EITHER, 30, 0.3, 0.05), "expected answer"),
        (lambda: similarity(Method.TRIANGLE, 8, 24, tasters=6), "6 tasters gave 24"),
        (lambda: difference(Method.TRIANGLE, 8, 24, tasters=25), "25 tasters"),
        (lambda: session(Method.TRIANGLE, 0), "is 0"),
        (lambda: session(Method.TRIANGLE, 3, repeats=61), "is 61"),
        (lambda: session(Method.PAIRED, 3), "more of something"),
        (lambda: session(Method.PAIRED, 3, attribute="sour", expected="C"), "'C'"),
        (lambda: session(Method.TRIANGLE, 3).sheet(4), "taster 4"),
        (lambda: session(Method.TRIANGLE, 3).count([1, 2]), "2 answers for 3 sets"),
        (lambda: session(Method.TRIANGLE, 1).count([99]), "code 99"),
    ],
)
def test_bad_input_is_one_sentence(call, culprit: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(BadInput) as caught:
        call()
    assert culprit in str(caught.value)
    assert "\n" not in str(caught.value)
