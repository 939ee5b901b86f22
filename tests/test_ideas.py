"""What is missing, other ways, stand-ins and pasted drafts, from one document to the next."""

from __future__ import annotations

import json
import pickle
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from balancer.cli.ideas import missing as missing_command
from balancer.demo import house_sauces
from balancer.draft_lines import Kind
from balancer.errors import BadInput, ChangedMeanwhile, NoSolution
from balancer.exclusions import kept_in
from balancer.idea import MOST_TRIED, Formula, taken, with_tried, without_tried
from balancer.ideas import gap_of
from balancer.kitchen import Kitchen
from balancer.prepared import unprepared_key
from balancer.request import problem_from
from balancer.search import resolve

DIP = house_sauces()["plum-ginger-dip"]
THIN: dict[str, Any] = {
    "name": "thin sauce",
    "yield_g": 500,
    "ingredients": [
        {"name": "water", "draft_g": 380},
        {"name": "sugar", "draft_g": 100, "max_g": 110},
        {"name": "distilled vinegar", "draft_g": 15, "max_g": 20},
        {"name": "salt", "draft_g": 5, "max_g": 8},
    ],
    "target": {"sweet": 20, "sour": 0.8, "salt": 1},
}
#: No more than 10 g of sugar, and 90 g of water at most, cannot make 500 g.
TORN = {
    **THIN,
    "ingredients": [
        {"name": "water", "max_g": 90},
        {"name": "sugar", "max_g": 10},
        {"name": "salt", "max_g": 5},
    ],
}


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Kitchen:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path))
    return Kitchen()


def off(kitchen: Kitchen, document: dict[str, Any]) -> float:
    """Weighted deviations of a solved request, summed [JND]."""
    return float(kitchen.solve(document).solution.sum_jnd)


# --- what is missing ----------------------------------------------------------------------------


def test_an_idea_that_is_put_in_does_what_it_said(kitchen: Kitchen) -> None:
    found = kitchen.missing(THIN, count=3)
    assert found.base_jnd == pytest.approx(off(kitchen, THIN), abs=1e-4)
    for idea in found.ideas:
        outcome = kitchen.solve(taken(THIN, idea.formula))
        assert outcome.solution.sum_jnd <= idea.after_jnd + 1e-3
        quantities = outcome.answer["quantities_g"]
        assert quantities[idea.names[0]] == pytest.approx(idea.grams[0], rel=0.02, abs=0.05)
        assert sum(idea.formula.quantities_g.values()) == pytest.approx(500.0, rel=1e-6)


def test_a_gap_becomes_the_target_of_the_sauce_it_is_put_into(kitchen: Kitchen) -> None:
    before = kitchen.solve(DIP).answer["profile"]
    found = kitchen.missing(DIP, gap="sour +2, body +2", count=2, without=["vegan"])
    assert found.ideas
    assert found.certificate.startswith("Of ")
    again = taken(DIP, found.ideas[0].formula)
    assert again["target"]["sour"] > before["sour"]["reached"]
    assert again["target"]["sweet"] == pytest.approx(before["sweet"]["reached"], rel=1e-4)
    assert off(kitchen, again) <= found.ideas[0].after_jnd + 1e-3
    assert off(kitchen, again) < found.base_jnd


def test_what_is_in_the_sauce_is_not_offered_however_it_was_prepared(kitchen: Kitchen) -> None:
    kept = [{**e, "sieved": {"fibre": 0.5}} if e["name"] == "red chili pepper" else e
            for e in DIP["ingredients"]]  # fmt: skip
    sieved = {**DIP, "ingredients": kept}
    uses = problem_from(sieved, kitchen.catalogue).uses
    held = {unprepared_key(u.ingredient.key) for u in uses}
    assert any(u.ingredient.key not in held for u in uses), "nothing is prepared in this sauce"
    found = kitchen.missing(
        sieved, gap="heat +6, sour +9, body +8, fat +6", count=20, whole_table=True
    )
    offered = {resolve(kitchen.catalogue, n).key for idea in found.ideas for n in idea.names}
    assert len(found.ideas) == 20
    assert not offered & held


def test_what_was_tried_is_not_offered_and_changes_no_gram(kitchen: Kitchen) -> None:
    first = kitchen.missing(THIN, count=4)
    best = [idea.names[0] for idea in first.ideas]
    marked = with_tried(THIN, best[:1])
    assert (
        kitchen.solve(marked).answer["quantities_g"] == kitchen.solve(THIN).answer["quantities_g"]
    )
    again = kitchen.missing(marked, tried=[best[1]], count=2)
    assert [idea.names[0] for idea in again.ideas] == best[2:]
    assert again.tried == (best[0], best[1])
    assert without_tried(marked, best[0]) == THIN


def test_a_name_that_was_tried_rules_out_that_food_alone(kitchen: Kitchen) -> None:
    found = kitchen.missing(THIN, tried=["lemon juice"], count=25)
    names = {idea.names[0] for idea in found.ideas}
    assert "lemon juice" not in names
    assert "lime juice" in names


def test_too_many_or_no_names_are_refused(kitchen: Kitchen) -> None:
    names = [f"food {i}" for i in range(MOST_TRIED + 1)]
    with pytest.raises(BadInput, match="over 200"):
        with_tried(THIN, names)
    with pytest.raises(BadInput, match="at most 200"):
        kitchen.solve({**THIN, "tried": names})
    with pytest.raises(BadInput, match="tried"):
        kitchen.solve({**THIN, "tried": [3]})
    assert kitchen.solve({**THIN, "tried": names[:MOST_TRIED]}).solution.has_quantities


def test_limits_that_contradict_say_what_would_have_to_give(kitchen: Kitchen) -> None:
    for asked in ({"gap": "sour +2"}, {}):
        with pytest.raises(NoSolution, match=r"would have to be \d+"):
            kitchen.missing(TORN, **asked)
    with pytest.raises(NoSolution, match=r"would have to be \d+"):
        kitchen.other_ways(TORN)


def test_everything_ruled_out_and_words_that_mean_nothing(kitchen: Kitchen) -> None:
    shelves = sorted({food.group for food in kitchen.catalogue.pantry})
    left = kept_in(kitchen.catalogue.pantry, shelves)
    rest = [f.name for f, keep in zip(kitchen.catalogue.pantry, left, strict=True) if keep]
    with pytest.raises(BadInput, match="Everything is ruled out"):
        kitchen.missing(THIN, without=[*shelves, *rest])
    with pytest.raises(BadInput, match="rules out nothing"):
        kitchen.missing(THIN, without=["<b>moon dust</b>"])
    with pytest.raises(BadInput, match="no part of a gap"):
        kitchen.missing(THIN, gap="sour a lot")


def test_what_the_whole_table_alone_holds_may_be_ruled_out_of_a_search_in_the_pantry(
    kitchen: Kitchen,
) -> None:
    assert kitchen.missing(THIN, without=["rutabagas"], count=1).ideas


def test_a_gap_in_words_and_in_figures_is_the_same() -> None:
    assert gap_of("sour +2, body +1").steps == gap_of("more sour, a touch thicker").steps


def test_results_travel_between_processes(kitchen: Kitchen) -> None:
    found = kitchen.missing(THIN, count=2)
    assert pickle.loads(pickle.dumps(found)) == found
    ways = kitchen.other_ways(DIP, count=1)
    assert pickle.loads(pickle.dumps(ways)) == ways


def test_an_allergen_that_comes_in_is_named(kitchen: Kitchen) -> None:
    found = kitchen.missing(THIN, gap="umami +4", count=30)
    brought = {idea.names[0]: idea.brings for idea in found.ideas}
    assert brought, "nothing brings umami"
    assert any("soybean" in brings or "fish" in brings or "milk" in brings
               for brings in brought.values())  # fmt: skip


# --- other ways and stand-ins -------------------------------------------------------------------


def test_another_way_that_is_taken_stays_within_a_jnd(kitchen: Kitchen) -> None:
    found = kitchen.other_ways(DIP, count=2)
    assert found.ways
    for way in found.ways:
        document = taken(DIP, way.formula)
        profile = kitchen.solve(document).answer["profile"]
        for axis in DIP["target"]:
            assert abs(profile[axis]["deviation_jnd"]) <= 1.0 + 1e-6
        labels = {e["name"] for e in document["ingredients"]}
        used = {k for k, g in way.formula.quantities_g.items() if g > 0}
        assert len(labels) == len(used)


def test_a_stand_in_takes_the_place_and_opens_locks(kitchen: Kitchen) -> None:
    locked = [{**e, "locked_g": 75.0} if e["name"] == "brown sugar" else e
              for e in DIP["ingredients"]]  # fmt: skip
    document = {
        **DIP,
        "ingredients": locked,
        "ratios": [{"of": "ginger", "to": "rice vinegar", "low": 0.1, "high": 9.0}],
    }
    found = kitchen.instead(document, "rice vinegar", count=2)
    assert found.gone == "rice vinegar"
    assert found.freed == ("brown sugar",)
    again = taken(document, found.found.ideas[0].formula)
    names = [e["name"] for e in again["ingredients"]]
    assert "rice vinegar" not in names
    assert found.found.ideas[0].names[0] in names
    assert again["ratios"] == []
    assert all("locked_g" not in e for e in again["ingredients"])
    now, then = (kitchen.solve(d).answer["profile"] for d in (document, again))
    for axis in DIP["target"]:
        assert abs(then[axis]["deviation_jnd"]) <= abs(now[axis]["deviation_jnd"]) + 1.0


def test_taking_a_formula_keeps_every_other_wish() -> None:
    document = {**DIP, "limits": {"ph_max": 4.0}}
    formula = Formula({e["name"]: 10.0 for e in DIP["ingredients"]}, {"mace": "mace"})
    again = taken(document, Formula({**formula.quantities_g, "mace": 1.23456789}, formula.added))
    assert again["limits"] == {"ph_max": 4.0}
    assert again["target"] == DIP["target"]
    assert again["ingredients"][-1] == {
        "name": "mace",
        "draft_g": 1.23457,
        "goes_in": "raw",
    }
    for old, new in zip(DIP["ingredients"], again["ingredients"], strict=False):
        assert {k: v for k, v in old.items() if k != "draft_g"} == {
            k: v for k, v in new.items() if k != "draft_g"
        }


# --- kept with the recipe -----------------------------------------------------------------------


def test_what_was_tried_is_kept_as_the_next_revision(kitchen: Kitchen) -> None:
    kitchen.save("thin", kitchen.solve(THIN))
    assert kitchen.keep_tried("thin", ["lemon juice"]) == 2
    assert kitchen.keep_tried("thin", ["lemon juice"]) == 2, "nothing new, no revision"
    assert kitchen.keep_tried("thin", ["citric acid"]) == 3
    assert kitchen.saved("thin")["request"]["tried"] == ["lemon juice", "citric acid"]
    assert "tried" not in kitchen.saved("thin", 1)["request"]


def test_keeping_what_was_tried_never_covers_another_window(
    kitchen: Kitchen, monkeypatch: pytest.MonkeyPatch
) -> None:
    kitchen.save("thin", kitchen.solve(THIN))
    solve = kitchen.solve

    def meanwhile(document: Any) -> Any:
        Kitchen().save("thin", solve(THIN), replace_it=True)
        return solve(document)

    monkeypatch.setattr(kitchen, "solve", meanwhile)
    with pytest.raises(ChangedMeanwhile):
        kitchen.keep_tried("thin", ["lemon juice"])


def test_the_command_reads_and_keeps_what_was_tried(kitchen: Kitchen, tmp_path: Path) -> None:
    kitchen.save("thin", kitchen.solve(THIN))
    best, second, *_ = (i.names[0] for i in kitchen.missing(THIN, count=3).ideas)

    def call(*arguments: str) -> str:
        result = CliRunner().invoke(missing_command, [*arguments, "--count", "3"])
        if result.exception is not None:
            raise result.exception
        return result.output

    said = call("thin", "--tried", best, "--keep-tried")
    assert "Kept with the recipe 'thin', revision 2." in said
    said = call("thin", "--tried", second)
    assert f"Tried and rejected: {best}, {second}." in said
    assert f" g {best}:" not in said
    assert f" g {second}:" not in said
    path = tmp_path / "thin.json"
    path.write_text(json.dumps(THIN), encoding="utf-8")
    for wrong in ((str(path), "--tried", best, "--keep-tried"), ("thin", "--keep-tried")):
        with pytest.raises(BadInput, match="saved recipe"):
            call(*wrong)


# --- a pasted draft -----------------------------------------------------------------------------

DRAFT = """Supper stall dip
380 g plums, pitted
2 tbsp honey
3 dragon scales
juice of 2 limes and salt to taste
salt to taste
"""


def test_a_line_is_mended_taken_for_something_else_or_left_out(kitchen: Kitchen) -> None:
    first = kitchen.paste(DRAFT)
    assert first.title is not None
    assert 4 in {line.number for line in first.open_lines}
    oil = resolve(kitchen.catalogue, "olive oil").key
    said = kitchen.paste(DRAFT, mended={4: "20 g sugar"}, taken_for={(3, 0): oil}, left_out=[5])
    by_number = {line.number: line for line in said.lines}
    assert by_number[4].kind is Kind.READ
    assert by_number[4].weight.grams == 20.0
    # SR28, weights of household measures: 1 tbsp of honey (19296) 21 g, of olive oil (04053) 13.5 g
    honey = next(line for line in first.lines if line.number == 3)
    assert honey.weight.grams == pytest.approx(42.0, rel=0.01)
    assert by_number[3].weight.grams == pytest.approx(27.0, rel=0.01)
    assert "honey" in [m.ingredient.name for m in by_number[3].alternatives]
    assert said.left_out == (5,)
    assert 5 not in by_number
    assert said.open_lines == ()
    request = said.request(with_to_taste=True)
    assert request["name"] == "Supper stall dip"
    assert [e["name"] for e in request["ingredients"]] == ["plums", "olive oil", "sugar", "salt"]
    assert "draft_g" not in request["ingredients"][-1]


def test_a_first_line_that_is_an_ingredient_is_no_title(kitchen: Kitchen) -> None:
    found = kitchen.paste("butter\n200 g plums")
    assert found.title is None
    assert [line.number for line in found.open_lines] == [1]


def test_markup_and_nothing_are_read_without_harm(kitchen: Kitchen) -> None:
    found = kitchen.paste("<img src=x onerror=alert(1)>\n5 g <b>salt</b>")
    assert {line.number for line in found.lines} == {1, 2}
    with pytest.raises(BadInput, match="empty"):
        kitchen.paste(" \n ")
    with pytest.raises(BadInput, match="No line gives"):
        kitchen.paste("dragon scales\nmoon dust").request()


def test_without_its_acid_a_sauce_with_a_ceiling_of_ph_gets_another_acid(kitchen: Kitchen) -> None:
    """Nothing can be ranked while the ceiling is broken; acids that keep it are offered."""
    found = kitchen.instead(DIP, "rice vinegar", count=3)
    assert found.found.breaks_limits
    assert not found.found.is_reached
    assert "proves nothing of the rest" in found.found.certificate
    assert len(found.found.ideas) == 3
    for idea in found.found.ideas:
        outcome = kitchen.solve(taken(DIP, idea.formula))
        assert outcome.answer["ph"]["high"] <= DIP["limits"]["ph_max"] + 2e-3
