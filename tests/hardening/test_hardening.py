"""The short form of ``run.py``: the same trials, fewer of them."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import hard_child
import hard_crashes
import hard_disk
import hard_extremes
import hard_hands
import hard_numbers
import hard_page
import hard_versions
import numpy as np
import pytest
from arithmetic import faults
from hard_visit import Broken, Visit
from sauces import random_problem
from second_opinion import least_sum
from streamlit.testing.v1 import AppTest
from tally import Row, not_a_sentence, went_wrong

from balancer.catalogue import Catalogue
from balancer.errors import BadInput
from balancer.intact import checked_sauce
from balancer.kitchen import Kitchen
from balancer.problem import Problem
from balancer.solve import Status, solve
from balancer.store import Store
from balancer.wishes import Aim, Pot, Use

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals and quotas of POSIX are needed")


def nothing_lost(row: Row) -> None:
    assert not row.lost, "\n".join([row.what, *row.lost])


# --- crashes ------------------------------------------------------------------------------------
def test_a_kill_at_any_moment_loses_nothing(tmp_path: Path) -> None:
    nothing_lost(hard_crashes.killed(tmp_path, 11))


def test_a_clock_that_jumps_back_loses_nothing(tmp_path: Path) -> None:
    nothing_lost(hard_crashes.backwards(tmp_path, 60))


def test_a_full_disk_loses_nothing(tmp_path: Path) -> None:
    reason = hard_disk.may_mount(tmp_path)
    if reason:
        pytest.skip(reason)
    nothing_lost(hard_disk.full(tmp_path, (64, 200)))


def test_a_quota_loses_nothing(tmp_path: Path) -> None:
    nothing_lost(hard_disk.quota(tmp_path, (60, 160)))


def test_a_folder_that_becomes_read_only_loses_nothing() -> None:
    nothing_lost(hard_disk.read_only(2))


def test_a_folder_that_vanishes_loses_nothing() -> None:
    nothing_lost(hard_disk.vanished(2))


def test_a_missing_report_is_noticed(tmp_path: Path) -> None:
    """The check itself: a saving that was reported and is not there is named."""
    book = hard_crashes.new_book(tmp_path / "book.db")
    found = hard_crashes.faults(book, [["recipe", "plum dip", 1, 7]])
    assert found == ["recipe 'plum dip' 1 was reported and is not there"]


# --- many hands, versions -----------------------------------------------------------------------
def test_many_hands_lose_nothing(tmp_path: Path) -> None:
    nothing_lost(hard_hands.many_hands(tmp_path, 4.0))


def test_books_of_every_earlier_version_open(tmp_path: Path) -> None:
    nothing_lost(hard_versions.every_version(tmp_path))


def test_books_of_newer_versions_are_left_alone(tmp_path: Path) -> None:
    nothing_lost(hard_versions.newer(tmp_path))


def test_a_migration_that_fails_half_way_leaves_the_old_book(tmp_path: Path) -> None:
    nothing_lost(hard_versions.half_way(tmp_path, (4, 44), 3))


def test_the_book_of_version_2_holds_a_real_tasting(tmp_path: Path) -> None:
    kitchen = Kitchen(store_path=hard_versions.fixture(2, tmp_path))
    name = "plum and ginger dip"
    assert kitchen.sauce(name).tastings[0].notes == ""
    assert kitchen.store.recipe(name).revision == 2
    assert Store(kitchen.store.path).profile(name).levels["sweet"] > 0
    assert kitchen.taste(name, "a touch less salt").number == 2


# --- bad input ----------------------------------------------------------------------------------
def test_bad_input_gets_a_sentence() -> None:
    row, lines = hard_child.bad_input(400)
    nothing_lost(row)
    assert len(lines) == 17


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("The salt is -5 g, below zero. Give zero or more.", ""),
        ("yield_g is 0: give more than 0. Print what is read with `balancer schema`.", ""),
        ("the request is 7. Give a document.", "small letter"),
        ("'NoneType' object is not subscriptable.", "inside|language|small"),
        ("The book is locked: database is locked.", "database"),
        ("The salt is <class 'int'>.", "inside"),
        ("The salt is wrong", "full stop"),
        ("The salt is " + "9" * 700 + ".", "characters"),
    ],
)
def test_what_is_no_sentence_is_noticed(text: str, says: str) -> None:
    found = not_a_sentence(text, "{'yield_g': 0}")
    assert bool(found) == bool(says)
    assert not says or any(word in found for word in says.split("|"))


@pytest.mark.parametrize(
    ("place", "value", "says"),
    [
        (("request", "ingredients"), 7, "no list of ingredients"),
        (("request", "ingredients", 0), None, "an ingredient without a name"),
        (("request", "ingredients", 0, "name"), "quince", "no grams of 'quince'"),
        (("answer", "quantities_g", "salt"), "a pinch", "'a pinch' for the grams of 'salt'"),
        (("answer", "quantities_g", "salt"), 10**400, "for the grams of 'salt'"),
        (("answer", "quantities_g"), [], "no quantities_g in its answer"),
        (("answer", "resolved", "salt"), {"key": 2047}, "an ingredient without its food"),
        (("answer", "profile", "sour", "target"), {"low": 1.0}, "for the target of sour"),
        (("answer", "profile", "heat"), {"target": None}, "no level of heat"),
    ],
)
def test_what_is_damaged_in_a_saved_sauce_is_named(
    catalogue: Catalogue, tmp_path: Path, place: tuple[Any, ...], value: object, says: str
) -> None:
    kitchen = Kitchen(catalogue, tmp_path / "book.db")
    names = ("plums", "sugar", "cider vinegar", "salt", "water")
    request = {
        "yield_g": 500.0,
        "ingredients": [{"name": name} for name in names],
        "target": {"sweet": 18.0, "sour": 1.1, "salt": 1.4},
    }
    kitchen.save("dip", kitchen.solve(request))
    document: Any = kitchen.saved("dip")
    assert checked_sauce(document) is document
    *path, last = place
    inside = document
    for key in path:
        inside = inside[key]
    inside[last] = value
    with pytest.raises(BadInput, match=re.escape(says)) as caught:
        checked_sauce(document)
    assert not_a_sentence(str(caught.value)) == ""
    kitchen.store.save_recipe("dip", document, replace=True)
    with pytest.raises(BadInput, match=re.escape(says)):
        kitchen.taste("dip", "a touch sweeter")


@pytest.mark.parametrize("size", [{"yield_g": 1e-300}, {"yield_ml": 1e-300}])
def test_less_than_any_scale_reads_is_refused(catalogue: Catalogue, size: dict[str, float]) -> None:
    """Shares of a mass near nothing are no numbers any more."""
    uses = (Use(catalogue.food("19335")), Use(catalogue.food("14411")))
    with pytest.raises(BadInput, match=r"^The yield is 1e-300 .*1e-06"):
        Problem(uses, (Aim("sweet", 10.0, 10.0),), **size)
    with pytest.raises(BadInput, match=r"^The pot holds 1e-300 g"):
        Pot((1e-300, 0.0))


# --- the pages ----------------------------------------------------------------------------------
def test_pages_stand_whatever_address_session_and_presses_they_get() -> None:
    nothing_lost(hard_page.pages(12))


def test_what_is_wrong_on_a_page_is_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The check itself: an error of the program, a raw message and a lost sauce are named."""
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    visit = Visit.begun("plum-ginger-dip")
    visit.at.session_state["notes"] = {"gap": "KeyError"}
    visit.at.button(key="_to_missing").click()
    with pytest.raises(Broken, match="no sentence"):
        visit.look("a raw message")
    visit = Visit.begun("plum-ginger-dip")
    visit.at.button(key="_another").click()
    with pytest.raises(Broken, match="the sauce in hand is gone"):
        visit.look("a lost sauce")
    visit = Visit(AppTest.from_string("1 / 0"))
    with pytest.raises(Broken, match=r"division by zero|encountered an error"):
        visit.look("an error of the program")


# --- numbers ------------------------------------------------------------------------------------
def test_random_requests_are_solved_as_written(catalogue: Catalogue) -> None:
    nothing_lost(hard_numbers.solved(Kitchen(catalogue), range(10_000, 10_100), 10))


def test_two_methods_agree(catalogue: Catalogue) -> None:
    nothing_lost(hard_numbers.two_methods(catalogue.pantry, range(300, 320)))


def test_ill_conditioned_problems_end_solved_or_explained(catalogue: Catalogue) -> None:
    nothing_lost(hard_extremes.extremes(catalogue, every=9))


@pytest.mark.parametrize("seed", range(5))
def test_a_wrong_number_is_noticed(catalogue: Catalogue, seed: int) -> None:
    """The check itself: a gram moved, a sum misreported or a wrong status is found."""
    problem = random_problem(seed, catalogue.pantry)
    solution = solve(problem)
    assert faults(problem, solution) == []
    grams = np.array(solution.grams)
    heavy = int(np.argmax(grams))
    grams[heavy] *= 1.001
    assert faults(problem, replace(solution, _grams=grams))
    assert faults(problem, replace(solution, sum_jnd=solution.sum_jnd + 1e-4))
    assert faults(problem, replace(solution, status=Status.REPORT))
    narrow = tuple(
        replace(u, max_g=0.99 * grams[i], min_g=0.0) if i == heavy and u.locked_g is None else u
        for i, u in enumerate(problem.uses)
    )
    assert problem.uses[heavy].locked_g is not None or faults(
        replace(problem, uses=narrow), solution
    )


def test_every_solution_of_this_run_was_checked(catalogue: Catalogue) -> None:
    """Whoever imported the function by name has the watched one."""
    import balancer.settle
    import balancer.solve

    assert solve is balancer.solve.solve is balancer.settle.solve
    assert "watched" in solve.__qualname__


def test_the_second_opinion_differs_when_it_should(catalogue: Catalogue) -> None:
    """A narrower dead band costs more wherever a target is missed."""
    missed = [p for p in (random_problem(s, catalogue.pantry) for s in range(12)) if least_sum(p)]
    assert len(missed) >= 3
    for problem in missed:
        narrow = replace(problem, dead_band_jnd=0.0)
        if problem.dead_band_jnd and any(aim.is_point for aim in problem.aims):
            assert (least_sum(narrow) or 0.0) > (least_sum(problem) or 0.0)


def test_the_table_counts_what_was_lost() -> None:
    rows = [Row("kill", "2 kills"), Row("clock", "1 jump", ("a round is gone",), "0 s")]
    assert rows[0].markdown() == "| kill | 2 kills | nothing |  |"
    assert rows[1].markdown() == "| clock | 1 jump | **1** | 0 s |"
    assert went_wrong(rows) == ["- clock: a round is gone"]
