"""What is missing, other ways, what ran out and the pasted draft, as pages without a browser."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from typing import Any

import pytest
from conftest import APP, errors, opened, press, run, text_of
from streamlit.testing.v1 import AppTest

from balancer.dashboard import address, look, pasting, slow
from balancer.dashboard.asking import Asked
from balancer.dashboard.work import Work, as_it_is, begun
from balancer.demo import house_sauces
from balancer.kitchen import Kitchen
from balancer.search import resolve
from balancer.taste import to_z

DIP = house_sauces()["plum-ginger-dip"]
PATIENCE_S = 120.0


def document(at: AppTest) -> dict[str, Any]:
    return dict(at.session_state["work"].document)


def keys(at: AppTest) -> set[str]:
    return {str(b.key) for b in at.button}


def until_found(at: AppTest) -> AppTest:
    """Let the page ask the child process until the search is over."""
    until = time.monotonic() + PATIENCE_S
    while at.session_state["errand"] is not None:
        assert time.monotonic() < until, "the search did not end"
        time.sleep(0.3)
        run(at)
    return at


def gone(pid: int) -> bool:
    """Whether a process has ended and left no zombie behind."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


def wait_gone(pid: int) -> None:
    until = time.monotonic() + 20
    while not gone(pid):
        assert time.monotonic() < until, f"process {pid} is still there"
        time.sleep(0.1)


@pytest.fixture
def lacking(dip: AppTest) -> AppTest:
    """The dip on the page, with more acid and more body wanted and found."""
    press(dip, "_to_missing")
    for key in ("_gap_more_sour", "_gap_more_sour", "_gap_more_body", "_gap_more_body"):
        press(dip, key)
    press(dip, "_look_missing")
    return until_found(dip)


def found(at: AppTest) -> Any:
    return at.session_state["found"]["missing"].result


# --- what is missing ----------------------------------------------------------------------------


def test_buttons_words_and_a_reload_ask_the_same(dip):
    press(dip, "_to_missing")
    for key in ("_gap_more_sour", "_gap_more_sour", "_gap_more_body"):
        press(dip, key)
    pressed = dip.session_state["work"].asked
    assert dict(pressed.steps) == {"sour": 2.0, "body": 1.0}
    assert dip.text_input(key="_gap").value == "sour +2, body +1"
    dip.text_input(key="_gap").input("more sour, a touch thicker")
    run(dip)
    assert dip.session_state["work"].asked == pressed
    dip.selectbox(key="_family").set_value("citrus")
    run(dip)
    dip.text_input(key="_house").input("lime, limoncello")
    run(dip)
    dip.toggle(key="_whole_table").set_value(True)
    run(dip)
    letters = address.written(dip.session_state["work"])
    again = address.read(letters).asked
    assert again == dip.session_state["work"].asked
    assert again.family == "citrus"
    assert again.house == "lime, limoncello"
    press(dip, "_gap_sour")
    assert "sour" not in dip.session_state["work"].asked.steps


def test_a_gap_that_cannot_be_read_is_said_beside_the_field(dip):
    press(dip, "_to_missing")
    dip.text_input(key="_gap").input("sour a lot <b>")
    run(dip)
    assert "no part of a gap" in errors(dip)
    assert dip.text_input(key="_gap").value == "sour a lot <b>"


def test_the_page_shows_what_the_use_case_finds(lacking):
    expected = Kitchen().missing(DIP, gap="sour +2, body +2", count=6)
    assert [i.names for i in found(lacking).ideas] == [i.names for i in expected.ideas]
    said = text_of(lacking)
    for idea in expected.ideas:
        assert idea.called[0] in said
        assert idea.evidence[0].split("'")[0][:30] in said
    assert expected.certificate in said
    assert "In return:" in said


def test_the_words_of_the_cook_stay_in_the_box(dip):
    press(dip, "_to_missing")
    dip.text_input(key="_gap").input("no body")
    run(dip)
    assert dip.session_state["work"].asked.gap == "body +2"
    assert dip.text_input(key="_gap").value == "no body"
    press(press(dip, "_to_sauce"), "_to_missing")
    assert dip.text_input(key="_gap").value == "no body"
    again = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in dip.query_params.items():
        again.query_params[name] = value
    run(again)
    assert again.text_input(key="_gap").value == "no body"
    press(dip, "_gap_more_body")
    assert dip.text_input(key="_gap").value == "body +4", "the buttons said something else since"
    press(dip, "_gap_less_body")
    assert dip.text_input(key="_gap").value == "no body"
    dip.text_input(key="_gap").input("")
    run(dip)
    assert dip.text_input(key="_gap").value == ""


def test_what_is_in_the_bowl_and_can_do_it_is_said_in_grams():
    name = "red-pepper-walnut-sauce"
    at = press(press(opened(), f"_house_{name}"), "_to_missing")
    at.text_input(key="_gap").input("a touch thicker")
    run(at)
    press(at, "_look_missing")
    until_found(at)
    assert "Nothing is missing" not in text_of(at)
    expected = Kitchen().missing(house_sauces()[name], gap="body +1", count=6)
    assert expected.is_reached
    then = look.shown_g(expected.quantities_g)
    now = at.session_state["solved"].outcome.answer["quantities_g"]
    moved = look.moves(now, expected.quantities_g)
    assert "bread crumbs" in moved
    (said,) = (s.value for s in at.success)
    assert said.startswith("What is in the bowl can do it: ")
    for label, by in moved.items():
        assert f"{label} {look.grams(then[label])} ({by})" in said
    rows = dict(
        re.findall(r'<th scope="row">([^<]+)</th><td>[^<]+</td><td>([^<]+)</td>', text_of(at))
    )
    assert rows == {label: look.grams(g) for label, g in then.items()}
    grams = [{"name": n, "locked_g": g} for n, g in expected.quantities_g.items()]
    made = Kitchen().solve(
        {**house_sauces()[name], "target": {}, "limits": {}, "ingredients": grams}
    )
    before = at.session_state["solved"].outcome.answer["profile"]["body"]["reached"]
    by_jnd = to_z(made.answer["profile"]["body"]["reached"], "body") - to_z(before, "body")
    assert float(by_jnd) == pytest.approx(1.0, abs=0.3), "within the dead band of 0.25 JND"


def test_put_it_in_changes_the_sauce_and_can_be_undone(lacking):
    before = document(lacking)
    idea = found(lacking).ideas[0]
    press(lacking, "_put_in_0")
    assert lacking.session_state["page"] == "sauce"
    entry = document(lacking)["ingredients"][-1]
    assert entry["name"] == idea.names[0]
    assert entry["draft_g"] == pytest.approx(idea.grams[0], rel=1e-4)
    quantities = lacking.session_state["solved"].outcome.answer["quantities_g"]
    assert quantities[idea.names[0]] == pytest.approx(idea.grams[0], rel=0.05, abs=0.1)
    assert "What moved" in text_of(lacking)
    assert not lacking.session_state["work"].asked.steps
    press(lacking, "_undo")
    assert document(lacking) == before
    assert lacking.session_state["work"].asked.gap == "sour +2, body +2"


def test_a_result_of_another_sauce_is_never_shown_as_current(lacking):
    press(lacking, "_to_sauce")
    press(lacking, "_less_salt")
    press(lacking, "_to_missing")
    assert "_put_in_0" not in keys(lacking)
    assert any("has changed since" in w.value for w in lacking.warning)
    assert "Found before the change" in text_of(lacking)
    press(lacking, "_to_sauce")
    press(lacking, "_undo")
    press(lacking, "_to_missing")
    assert "_put_in_0" in keys(lacking), "the same sauce again, so it holds again"


def test_tried_not_it_takes_one_tap_and_one_to_take_back(lacking):
    name = found(lacking).ideas[0].names[0]
    cards = len([k for k in keys(lacking) if k.startswith("_put_in_")])
    grams = dict(lacking.session_state["solved"].outcome.answer["quantities_g"])
    press(lacking, "_tried_0")
    assert document(lacking)["tried"] == [name]
    assert len([k for k in keys(lacking) if k.startswith("_put_in_")]) == cards - 1
    assert lacking.session_state["solved"].outcome.answer["quantities_g"] == grams
    press(lacking, "_look_missing")
    until_found(lacking)
    assert name not in {i.names[0] for i in found(lacking).ideas}
    press(lacking, "_untried_0")
    assert "tried" not in document(lacking)
    press(lacking, "_tried_0")
    press(lacking, "_to_sauce")
    press(lacking, "_save")
    kept = Kitchen().saved("plum and ginger dip")["request"]["tried"]
    assert len(kept) == 1


def test_what_cannot_be_ruled_out_is_a_sentence(dip):
    press(dip, "_to_missing")
    dip.text_input(key="_house").input("<script>alert(1)</script>")
    run(dip)
    press(dip, "_look_missing")
    until_found(dip)
    assert "rules out nothing" in errors(dip)
    assert "_put_in_0" not in keys(dip)


def test_without_a_sauce_the_page_says_what_to_do():
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.query_params["page"] = "missing"  # its door is shown with a sauce only
    run(at)
    assert "Take a sauce in hand first" in text_of(at)


# --- other ways and what ran out ----------------------------------------------------------------


def test_another_way_is_taken_and_undone(dip):
    press(dip, "_to_missing")
    press(dip, "_look_ways")
    until_found(dip)
    before = document(dip)
    way = dip.session_state["found"]["other_ways"].result.ways[0]
    assert way.gains[0] in text_of(dip)
    press(dip, "_take_way_1")
    names = {e["name"] for e in document(dip)["ingredients"]}
    assert names == {k for k, g in way.formula.quantities_g.items() if g > 0}
    press(dip, "_undo")
    assert document(dip) == before


def test_what_ran_out_is_replaced(dip):
    press(dip, "_to_missing")
    dip.selectbox(key="_gone").set_value("brown sugar")
    run(dip)
    press(dip, "_look_instead")
    until_found(dip)
    idea = dip.session_state["found"]["instead"].result.found.ideas[0]
    press(dip, "_instead_0")
    names = [e["name"] for e in document(dip)["ingredients"]]
    assert "brown sugar" not in names
    assert idea.names[0] in names
    press(dip, "_to_missing")
    assert dip.selectbox(key="_gone").value == "", "what is not in the sauce cannot run out"


# --- the child process --------------------------------------------------------------------------


def long_search() -> slow.Question:
    options = {"gap": "sour +9, body +9, fat +9, umami +9", "whole_table": True, "count": 50}
    return slow.Question("missing", DIP, (), options)


def test_stop_ends_the_child_and_leaves_no_zombie(dip):
    press(dip, "_to_missing")
    press(dip, "_gap_more_sour")
    dip.toggle(key="_whole_table").set_value(True)
    run(dip)
    press(dip, "_look_missing")
    pid = dip.session_state["errand"][1].pid
    assert "Looking through the food table" in text_of(dip)
    press(dip, "_stop_missing")
    wait_gone(pid)
    assert dip.session_state["errand"] is None
    assert any("Stopped" in i.value for i in dip.info)
    assert "_put_in_0" not in keys(dip)


def test_a_child_that_dies_gives_a_sentence():
    errand = slow.Errand(long_search())
    os.kill(errand.pid, signal.SIGKILL)
    wait_gone(errand.pid)
    until = time.monotonic() + 20
    while (answer := errand.answer()) is None:
        assert time.monotonic() < until
        time.sleep(0.05)
    assert answer.result is None
    assert answer.sentence == slow.DIED


def test_the_child_ends_with_what_started_it():
    errand = slow.Errand(long_search())
    pid = errand.pid
    del errand  # as when a session is dropped
    wait_gone(pid)


def test_the_child_ends_with_the_server():
    code = (
        "import time\n"
        "from balancer.dashboard import slow\n"
        "from balancer.demo import house_sauces\n"
        "options = {'gap': 'sour +9, body +9', 'whole_table': True, 'count': 50}\n"
        "dip = house_sauces()['plum-ginger-dip']\n"
        "errand = slow.Errand(slow.Question('missing', dip, (), options))\n"
        "print(errand.pid, flush=True)\n"
    )
    for after in ("", "time.sleep(300)\n"):
        server = subprocess.Popen(
            [sys.executable, "-c", code + after], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert server.stdout is not None
        pid = int(server.stdout.readline())
        if after:
            server.kill()  # without a word: the closed pipe tells the child
        server.wait()
        server.stdout.close()
        wait_gone(pid)


def test_errors_of_the_child_come_back_as_sentences():
    torn = {**DIP, "ingredients": [{"name": "moon dust"}]}
    errand = slow.Errand(slow.Question("missing", torn))
    until = time.monotonic() + PATIENCE_S
    while (answer := errand.answer()) is None:
        assert time.monotonic() < until
        time.sleep(0.1)
    assert "moon dust" in answer.sentence
    errand.stop()


# --- the draft ----------------------------------------------------------------------------------

CLEAN = "380 g plums, pitted\n75 g brown sugar\n4 tbsp rice vinegar\n2 tbsp soy sauce\n20 g ginger"
OPEN = f"Supper dip\n{CLEAN}\n3 dragon scales\nsalt to taste"


def paste(at: AppTest, text: str) -> AppTest:
    at.text_area(key="_draft_text").input(text)
    return at


def test_a_clean_draft_takes_one_press():
    at = paste(opened(), CLEAN)
    press(at, "_paste_start")
    made = Kitchen().paste(CLEAN).request()
    now = document(at)
    assert [e["name"] for e in now["ingredients"]] == [e["name"] for e in made["ingredients"]]
    grams = at.session_state["solved"].outcome.answer["quantities_g"]
    for entry in made["ingredients"]:
        assert grams[entry["name"]] == pytest.approx(entry["draft_g"], rel=2e-3, abs=0.02)
    assert now["target"] == as_it_is(now, at.session_state["solved"].outcome)["target"]


def test_a_line_that_is_not_understood_is_shown_and_mended():
    at = run(paste(opened(), OPEN))
    said = text_of(at)
    assert "name of the sauce" in said
    assert "left open" in said
    press(at, "_paste_start")
    assert "Not understood yet: line 7" in errors(at)
    assert "work" not in at.session_state
    at.text_input(key="_mend_7").input("5 g garlic")
    run(at)
    press(at, "_paste_start")
    now = document(at)
    assert now["name"] == "Supper dip"
    assert {"garlic", "salt"} < {e["name"] for e in now["ingredients"]}


def test_a_line_is_left_out_taken_in_and_taken_for_something_else():
    at = run(paste(opened(), OPEN))
    press(at, "_paste_out_7")
    assert "_paste_in_7" in keys(at)
    press(at, "_paste_in_7")
    press(at, "_paste_out_7")
    at.selectbox(key="_paste_line").set_value(4)
    run(at)
    means = at.selectbox(key="_means_4_0")
    other = next(o for o in means.options if o != "rice vinegar")
    means.set_value(resolve(Kitchen().catalogue, other).key)
    run(at)
    press(at, "_paste_start")
    names = [e["name"] for e in document(at)["ingredients"]]
    assert other in names
    assert "rice vinegar" not in names


def test_what_is_typed_is_in_the_address_and_comes_back():
    at = run(paste(opened(), OPEN))
    at.text_input(key="_mend_7").input("5 g garlic")
    run(at)
    letters = at.query_params["paste"]
    letters = letters[0] if isinstance(letters, list) else letters
    again = pasting.Paste.read(letters)
    assert again.text == OPEN
    assert again.mended == {7: "5 g garlic"}
    assert pasting.Paste.read("nonsense") == pasting.Paste()


def test_the_draft_has_no_counter_and_still_a_limit():
    at = opened()
    assert not at.text_area(key="_draft_text").max_chars
    long = "plums " * (pasting.LONGEST_TEXT // 6 + 1)
    press(paste(at, long), "_paste_start")
    assert f"this page reads {pasting.LONGEST_TEXT:,}" in errors(at)
    assert "work" not in at.session_state
    assert at.text_area(key="_draft_text").value == long


@pytest.mark.parametrize("text", ["", "\n".join(f"{n} g plums" for n in range(1, 5001))])
def test_nothing_and_far_too_much_are_refused_with_a_sentence(text):
    at = press(paste(opened(), text), "_paste_start")
    assert "draft" in errors(at)
    assert "work" not in at.session_state
    assert at.text_area(key="_draft_text").value == text


def test_an_address_that_asks_for_nonsense_is_refused():
    good = begun(DIP)
    for asked in (Asked({"blue": 1.0}), Asked(family="moss"), Asked(items=1000)):
        letters = address.written(Work(good.document, asked=asked))
        assert "cannot be read" in errors(opened(letters))
