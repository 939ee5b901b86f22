"""The commands for ingredients of one's own, as a cook types them."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from balancer.cli import main

LABEL = "per 100 g: fat 0.2 g; carbohydrate 38 g, of which sugars 36 g; protein 0.4 g; salt 1.5 g"
Run = Callable[..., Any]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)

    def call(*arguments: str, text: str | None = None, code: int = 0) -> Any:
        result = CliRunner().invoke(main, [str(a) for a in arguments], input=text)
        assert result.exit_code == code, result.output
        return result

    return call


@pytest.fixture
def limes(run: Run) -> Run:
    run("own", "keep", "my limes", "--of", "lime juice", "--ph", "2.3", "--acidity", "7")
    return run


def test_readings_are_kept_shown_and_found(limes: Run) -> None:
    assert "my limes  a lot of lime juice, acidity 7 g/100 g, pH 2.3" in limes("own", "list").output
    shown = limes("own", "show", "my limes").output
    assert "Inferred from readings; the rest as in lime juice." in shown
    assert "No saved recipe uses it by its name." in shown
    assert "own-my-lime" in limes("pantry", "my limes").output
    document = json.loads(limes("own", "show", "my limes", "--json").stdout)
    assert document == {
        "name": "my limes", "ph": 2.3, "acidity_pct": 7.0, "of": "lime juice", "used_by": [],
    }  # fmt: skip
    listed = json.loads(limes("own", "list", "--json").stdout)
    assert listed[0]["ph"] == 2.3


def test_numbers_with_a_comma(run: Run) -> None:
    """A cook writes 1,5 as well as 1.5; what is no number is named with its option."""
    run("own", "keep", "my limes", "--of", "lime juice", "--acidity", "6,5", "--ph", "2,3")
    document = json.loads(run("own", "show", "my limes", "--json").stdout)
    assert (document["acidity_pct"], document["ph"]) == (6.5, 2.3)
    for typed, told in (
        ("sharp", "--acidity: 'sharp' is no number. Write it as 1.5 or 1,5.\n"),
        ("1,500", "--acidity: '1,500' can be read two ways. Write 1500 or 1.5.\n"),
    ):
        refused = run("own", "keep", "x", "--of", "lime juice", "--acidity", typed, code=2)
        assert refused.output == told


def test_a_label_as_text_or_document(run: Run, tmp_path: Path) -> None:
    text = LABEL + "\nlot 4711"
    kept = run("own", "keep", "plum sauce", "--label", "-", "--allergens", "soya, gluten",
               text=text).output  # fmt: skip
    assert "Not read: 'lot 4711'." in kept
    assert "Allergens: soybean, wheat, barley, rye and oats." in kept
    assert "Kept 'plum sauce'." in kept
    figures = {"form": "EU", "per_g": 100, "fat_g": 0.2, "carbohydrate_g": 38, "sugars_g": 36,
               "protein_g": 0.4, "salt_g": 1.5}  # fmt: skip
    (tmp_path / "label.json").write_text(json.dumps(figures), encoding="utf-8")
    whole = {"name": "sauce", "label": figures, "allergens": ["soya", "gluten"]}
    (tmp_path / "whole.json").write_text(json.dumps(whole), encoding="utf-8")
    found = [
        json.loads(run("own", "show", name, "--json").stdout)["label"]
        for name, path in (("plum sauce", ""), ("one", "label.json"), ("two", "whole.json"))
        if not path or run("own", "keep", name, "--label", path)
    ]
    assert found[0] == found[1] == found[2]


def test_a_look_keeps_nothing(run: Run) -> None:
    assert "degrees" not in run("own", "keep", "syrup", "--brix", "65", "--look").output
    assert "There is none yet" in run("own", "list").output
    vector = json.loads(run("own", "keep", "syrup", "--brix", "65", "--look", "--json").stdout)
    assert vector["per_100_g"]["other_sugars"]["evidence"] == "measured"


def test_edit_changes_only_what_is_named(limes: Run) -> None:
    limes("own", "edit", "my limes", "--ph", "2.5", "--clear", "acidity")
    document = json.loads(limes("own", "show", "my limes", "--json").stdout)
    assert (document["ph"], "acidity_pct" in document) == (2.5, False)
    limes("own", "edit", "my limes", "--for-good")
    assert "in place of lime juice" in limes("own", "list").output
    limes("own", "edit", "my limes", "--acidity", "6")
    assert "in place of lime juice" in limes("own", "list").output, "stays where it stands"
    limes("own", "edit", "my limes", "--beside")
    assert "a lot of lime juice" in limes("own", "list").output
    limes("own", "edit", "my limes", "--like", "lemon juice")
    assert "like lemon juice" in limes("own", "list").output
    assert "has no 'brix'" in limes("own", "edit", "my limes", "--clear", "brix", code=2).output


def test_duplicate_rename_delete_and_the_refusal(limes: Run, tmp_path: Path) -> None:
    limes("own", "duplicate", "my limes", "more limes")
    limes("own", "rename", "more limes", "limes of the quay")
    limes("own", "delete", "limes of the quay")
    request = {
        "yield_g": 100,
        "ingredients": [{"name": "my limes", "draft_g": 20}, {"name": "water"}],
        "target": {"sour": 1.0},
    }
    (tmp_path / "limeade.json").write_text(json.dumps(request), encoding="utf-8")
    limes("solve", "limeade.json", "--save", "limeade")
    refused = limes("own", "delete", "my limes", code=2)
    assert "'my limes' is used by the recipe 'limeade'" in refused.output
    assert "Used by: limeade." in limes("own", "show", "my limes").output


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("keep", "syrup"), "neither a label nor a reading"),
        (("keep", "lime juice", "--brix", "9"), "a name of the pantry already"),
        (("keep", "x", "--ph", "20"), "pH is 20"),
        (("keep", "x", "--label", "nowhere.txt"), "cannot be read"),
        (("show", "nothing"), "No ingredient is called 'nothing'"),
        (("delete", "nothing"), "No ingredient is called 'nothing'"),
        (("duplicate", "nothing", "x"), "No ingredient is called 'nothing'"),
    ],
)
def test_bad_input_is_one_sentence(run: Run, arguments: tuple[str, ...], says: str) -> None:
    refused = run("own", *arguments, code=2)
    assert says in refused.output
    assert "Traceback" not in refused.output


def test_the_book_carries_them(limes: Run) -> None:
    limes("book", "--to", "book.json")
    limes("own", "delete", "my limes")
    assert "1 own ingredients" in limes("book", "--from", "book.json").output
    assert "my limes" in limes("own", "list").output
