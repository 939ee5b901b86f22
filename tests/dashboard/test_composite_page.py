"""A saved sauce put into another one, on the page."""

from __future__ import annotations

import pytest
from conftest import errors, press, run
from streamlit.testing.v1 import AppTest

from balancer.kitchen import Kitchen

MIX = {
    "ingredients": [
        {"name": "fennel seed", "locked_g": 30.0},
        {"name": "salt", "locked_g": 70.0},
    ]
}


def quantities(at: AppTest) -> dict[str, float]:
    return dict(at.session_state["solved"].outcome.answer["quantities_g"])


def test_a_saved_sauce_goes_in_and_is_opened_up(dip: AppTest):
    kitchen = Kitchen()
    kitchen.save("Fish spice", kitchen.solve(MIX))
    dip.text_input(key="_search").set_value("fish spice")
    at = press(run(dip), "_add_sauce_Fish spice")
    assert quantities(at)["Fish spice"] >= 0
    at = press(at, "_adjust_Fish spice")
    at.number_input(key="_draft_g_Fish spice").set_value(8.0)
    at.number_input(key="_min_g_Fish spice").set_value(6.0)
    at = run(at)
    grams = quantities(at)["Fish spice"]
    assert grams >= 6.0
    at = press(at, "_open_up")
    assert not errors(at)
    drafts = {e["name"]: e.get("draft_g") for e in at.session_state["work"].document["ingredients"]}
    assert "Fish spice" not in drafts
    assert drafts["fennel seed"] == pytest.approx(0.3 * grams, rel=1e-4)


def test_a_used_sauce_is_not_deleted(dip: AppTest):
    kitchen = Kitchen()
    kitchen.save("Fish spice", kitchen.solve(MIX))
    outer = {
        "ingredients": [
            {"name": "spice", "recipe": "Fish spice", "locked_g": 5.0},
            {"name": "plums", "locked_g": 100.0},
        ]
    }
    kitchen.save("Outer", kitchen.solve(outer))
    number = kitchen.store.recipe("Fish spice").id
    at = press(press(dip, "_to_book"), f"_Delete_recipe {number}")
    at = press(at, f"_do_delete_recipe {number}")
    assert "is an ingredient of 'Outer'" in errors(at)
    assert kitchen.store.recipe("Fish spice").revision == 1
