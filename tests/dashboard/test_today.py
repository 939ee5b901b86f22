"""Measured today: readings of one ingredient of the bowl, for this sauce only."""

from __future__ import annotations

from conftest import errors, run
from streamlit.testing.v1 import AppTest

from balancer.dashboard.work import with_entry
from balancer.kitchen import Kitchen


def _page() -> None:
    from balancer.dashboard import session, today
    from balancer.dashboard.fields import told
    from balancer.dashboard.work import Work, solved

    if session.work() is None:
        request = {
            "yield_g": 500,
            "ingredients": [
                {"name": "lime juice", "draft_g": 60}, {"name": "sugar", "draft_g": 60},
                {"name": "water"},
            ],
            "target": {"sour": 1.0, "sweet": 12.0},
        }  # fmt: skip
        solved(session.kitchen(), request)
        session.put(Work(request))
    work = session.work()
    assert work is not None
    today.draw("lime juice", work.entry("lime juice"))
    told("lime juice")


def _document(at: AppTest) -> dict:
    return dict(at.session_state["work"].document)


def test_a_reading_changes_the_sauce_and_can_be_taken_back() -> None:
    at = run(AppTest.from_function(_page, default_timeout=60))
    usual = Kitchen().solve(_document(at)).answer["quantities_g"]["lime juice"]
    at.number_input(key="_today_acidity_pct_lime juice").set_value(3.0)
    run(at)
    assert _document(at)["ingredients"][0]["measured"] == {"acidity_pct": 3.0}
    now = Kitchen().solve(_document(at)).answer["quantities_g"]["lime juice"]
    assert now > 1.5 * usual
    at.number_input(key="_today_acidity_pct_lime juice").set_value(None)
    run(at)
    assert "measured" not in _document(at)["ingredients"][0]
    assert with_entry(_document(at), "lime juice", measured=None) == _document(at)


def test_what_cannot_be_is_said_beside_the_field() -> None:
    at = run(AppTest.from_function(_page, default_timeout=60))
    at.number_input(key="_today_ph_lime juice").set_value(40.0)
    run(at)
    assert "40 pH" in errors(at)
    at.number_input(key="_today_ph_lime juice").set_value(13.0)
    run(at)
    assert "pH is 13" in errors(at)
    assert "measured" not in _document(at)["ingredients"][0]
    assert at.number_input(key="_today_ph_lime juice").value == 13.0
