"""The same sauce at another size."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from balancer.catalogue import Catalogue
from balancer.cli.handing import measures, scale
from balancer.demo import house_sauces
from balancer.errors import BadInput
from balancer.kitchen import Kitchen
from balancer.outcome import outcome_of
from balancer.request import problem_from
from balancer.scaling import (
    PAN_FILL,
    factor_to_jars,
    factor_to_pan,
    factor_to_servings,
    factor_to_use_up,
    factor_to_yield,
    scaled,
    scaled_request,
    water_lost_g,
)


def solved(request: dict[str, Any], catalogue: Catalogue) -> dict[str, Any]:
    return outcome_of(request, problem_from(request, catalogue)).answer


@pytest.fixture(scope="module")
def dip(catalogue: Catalogue) -> tuple[dict[str, Any], dict[str, Any]]:
    request = house_sauces()["plum-ginger-dip"]
    return request, solved(request, catalogue)


def test_to_a_yield(dip: tuple[dict[str, Any], dict[str, Any]]) -> None:
    request, answer = dip
    found = scaled(request, answer, factor_to_yield(answer, 1250.0))
    assert found.factor == pytest.approx(2.5)
    assert found.yield_g == pytest.approx(1250.0)
    assert sum(found.grams.values()) - found.water_lost_g == pytest.approx(1250.0, rel=1e-5)
    assert found.water_lost_g == pytest.approx(2.5 * 120.0)


def test_to_servings_and_jars(dip: tuple[dict[str, Any], dict[str, Any]]) -> None:
    _, answer = dip
    assert factor_to_servings(answer, 40, 25.0) == pytest.approx(2.0)
    factor = factor_to_jars(answer, 4, 250.0)
    assert factor * answer["final_volume_ml"] == pytest.approx(1000.0)


def test_to_a_pan(dip: tuple[dict[str, Any], dict[str, Any]]) -> None:
    """Two thirds full before the water leaves, water weighing 1 g/mL."""
    request, answer = dip
    lost = water_lost_g(request, answer)
    factor = factor_to_pan(answer, 3000.0, lost)
    assert factor * (answer["final_volume_ml"] + lost) == pytest.approx(3000.0 * PAN_FILL)


def test_all_the_plums_there_are(dip: tuple[dict[str, Any], dict[str, Any]]) -> None:
    request, answer = dip
    factor, scarce, left = factor_to_use_up(answer, {" Plums ": 820.0, "salt": 100.0})
    found = scaled(request, answer, factor)
    assert scarce == "plums"
    assert found.grams["plums"] == pytest.approx(820.0)
    assert left["salt"] == pytest.approx(100.0 - found.grams["salt"])


@pytest.mark.parametrize("name", sorted(house_sauces()))
@pytest.mark.parametrize("factor", [0.25, 7.0])
def test_solving_the_scaled_request_moves_nothing(
    catalogue: Catalogue, name: str, factor: float
) -> None:
    """Proportions are kept, and with them every level: the request scales, its answer stays."""
    request = house_sauces()[name]
    answer = solved(request, catalogue)
    again = solved(scaled_request(request, answer, factor), catalogue)
    assert again["final_mass_g"] == pytest.approx(factor * answer["final_mass_g"], rel=1e-5)
    for label, grams in answer["quantities_g"].items():
        assert again["quantities_g"][label] == pytest.approx(
            factor * grams, rel=1e-3, abs=1e-4 * factor * answer["final_mass_g"]
        ), label
    for axis, row in answer["profile"].items():
        assert again["profile"][axis]["reached"] == pytest.approx(row["reached"], rel=2e-3), axis


def test_there_and_back(dip: tuple[dict[str, Any], dict[str, Any]], catalogue: Catalogue) -> None:
    request, answer = dip
    before = {k: dict(e) for k, e in enumerate(request["ingredients"])}
    there = scaled_request(request, answer, 3.0)
    back = scaled_request(there, solved(there, catalogue), 1 / 3.0)
    assert back["yield_g"] == pytest.approx(request["yield_g"])
    assert back["water_lost_g"] == pytest.approx(request["water_lost_g"])
    assert {k: dict(e) for k, e in enumerate(request["ingredients"])} == before
    for old, new in zip(request["ingredients"], back["ingredients"], strict=True):
        for field in ("min_g", "max_g"):
            assert new.get(field) == (pytest.approx(old[field]) if field in old else None)


def test_a_share_to_keep_becomes_a_minimum() -> None:
    request = {
        "yield_g": 100,
        "ingredients": [{"name": "plums", "draft_g": 80, "keep_share": 0.5}, {"name": "sugar"}],
    }
    answer = {"quantities_g": {"plums": 70.0, "sugar": 30.0}, "final_mass_g": 100.0}
    plums = scaled_request(request, answer, 2.0)["ingredients"][0]
    assert plums == {"name": "plums", "draft_g": 140.0, "min_g": 80.0}


def test_simmering_for_a_time_takes_longer_in_the_same_pan(catalogue: Catalogue) -> None:
    request = {
        "yield_g": 400,
        "ingredients": [{"name": "plums"}, {"name": "sugar"}],
        "target": {"sweet": 20},
        "simmer": {"minutes": 10, "steam_g_per_min": 8},
    }
    answer = solved(request, catalogue)
    assert water_lost_g(request, answer) == pytest.approx(80.0, rel=1e-4)
    again = solved(scaled_request(request, answer, 3.0), catalogue)
    assert again["quantities_g"]["plums"] == pytest.approx(
        3.0 * answer["quantities_g"]["plums"], rel=1e-3
    )


def test_what_does_not_scale_is_told(dip: tuple[dict[str, Any], dict[str, Any]]) -> None:
    request, answer = dip
    large = " ".join(scaled(request, answer, 8.0).notes)
    assert "not proportional" in large
    assert "960 g of water" in large
    assert "8 times as long" in large
    assert "about 2 times" in large, "a pan of the same shape: the cube root of 8"
    assert "Hold back 25 %" in large
    assert "local codes" in large
    assert len(scaled(request, answer, 1.0).notes) == 1
    cold = [{k: v for k, v in e.items() if k != "goes_in"} for e in request["ingredients"]]
    raw = {**request, "water_lost_g": 0.0, "ingredients": cold}
    assert "Hold back" not in " ".join(scaled(raw, answer, 8.0).notes)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda a: factor_to_yield(a, 0.0), "The yield is 0 g"),
        (lambda a: factor_to_yield(a, float("nan")), "nan g"),
        (lambda a: factor_to_servings(a, -1, 30.0), "number of servings is -1"),
        (lambda a: factor_to_jars(a, 2, 0.0), "The jar is 0 mL"),
        (lambda a: factor_to_use_up(a, {}), "Nothing is given"),
        (lambda a: factor_to_use_up(a, {"pears": 3.0}), "'pears' is not in this sauce"),
        (lambda a: factor_to_yield({"quantities_g": {}}, 5.0), "Solve it again"),
        (lambda a: scaled({"ingredients": []}, a, 1e6), "1e\\+06 times"),
    ],
)
def test_refusals(dip: tuple[dict[str, Any], dict[str, Any]], call: Any, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        call(dip[1])


def test_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    place = Kitchen()
    place.save("dip", place.solve(house_sauces()["plum-ginger-dip"]))
    run = CliRunner()
    shown = run.invoke(measures, ["dip", "--style", "us"], catch_exceptions=False).output
    assert "soy sauce" in shown
    assert "tbsp" in shown
    assert "JND" in shown
    arguments = ["dip", "--all", "plums=820", "--save", "all the plums"]
    shown = run.invoke(scale, arguments, catch_exceptions=False).output
    assert "All of the plums goes in." in shown
    assert "Saved as 'all the plums'." in shown
    kept = Kitchen().saved("all the plums")["answer"]
    assert kept["quantities_g"]["plums"] == pytest.approx(820.0, rel=1e-3)
    both = run.invoke(scale, ["dip", "--to-g", "900", "--servings", "3"])
    assert isinstance(both.exception, BadInput)
    alone = run.invoke(scale, ["dip", "--servings", "3"])
    assert "--serving-g" in str(alone.exception)
