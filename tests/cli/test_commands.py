"""The command line, in the shell's own terms: what is printed where, and the exit code."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import jsonschema
import pytest
from click.testing import CliRunner

from balancer.cli import main
from balancer.demo import house_sauces
from balancer.request import schema


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "home"))
    monkeypatch.chdir(tmp_path)
    runner = CliRunner()

    def call(*arguments, text=None):
        result = runner.invoke(main, [str(a) for a in arguments], input=text)
        assert result.exception is None or isinstance(result.exception, SystemExit)
        return result

    return call


@pytest.fixture
def request_file(tmp_path):
    path = tmp_path / "plum.json"
    path.write_text(json.dumps(house_sauces()["plum-ginger-dip"]), encoding="utf-8")
    return path


def test_from_nothing_to_an_exported_recipe(run, request_file, tmp_path):
    assert run("solve", request_file, "--save", "Plum dip").exit_code == 0
    nudged = run("nudge", "Plum dip", "less sour, a touch sweeter", "--save", "Plum dip 2")
    assert nudged.exit_code == 0
    assert "Add to this pot" in nudged.output
    assert "Next batch" in nudged.output
    listed = run("list").output
    assert "Plum dip" in listed
    assert "Plum dip 2" in listed
    for kind in ("markdown", "csv"):
        target = tmp_path / f"plum.{kind}"
        assert run("export", "Plum dip 2", "--as", kind, "--to", target).exit_code == 0
        text = target.read_text(encoding="utf-8")
        assert "plums" in text
        assert "g" in text


def test_grams_and_prices_with_a_comma(run, request_file):
    run("solve", request_file, "--save", "dip")
    point = run("nudge", "dip", "a touch sweeter", "--made", "plums=420.5", "--scale", "0.5")
    comma = run("nudge", "dip", "a touch sweeter", "--made", "plums=420,5g", "--scale", "0,5")
    assert comma.exit_code == 0
    assert comma.output == point.output
    bought = run("shop", "dip", "--price", "plums=1,35/1000", "--serving-g", "12,5").output
    assert "Packs cost 1.35" in bought
    assert "a serving of 12.5 g" in bought
    for typed, told in (
        ("plums=42x", "In 'plums=42x', '42x' is no number. Write it as 1.5 or 1,5.\n"),
        ("plums=1,000", "In 'plums=1,000', '1,000' can be read two ways. Write 1000 or 1.\n"),
        ("plums", "'plums' is not a name with grams. Write it as 'lime juice=62'.\n"),
    ):
        refused = run("taste", "dip", "sweeter", "--made", typed)
        assert (refused.exit_code, refused.output) == (2, told)


def test_json_answer_keeps_the_published_schema(run, request_file):
    result = run("solve", request_file, "--json")
    answer = json.loads(result.stdout)
    jsonschema.validate(answer, schema("answer"))
    assert answer["status"] == "on_target"
    assert sum(answer["quantities_g"].values()) == pytest.approx(620, rel=1e-5)


def test_every_request_of_the_house_keeps_the_published_schema():
    for document in house_sauces().values():
        jsonschema.Draft202012Validator.check_schema(schema("request"))
        jsonschema.validate(document, schema("request"))


def test_standard_input_and_demo(run):
    printed = run("demo", "pineapple-mustard-chutney").stdout
    result = run("solve", "-", "--json", text=printed)
    assert result.exit_code == 0
    assert json.loads(result.stdout)["final_mass_g"] == pytest.approx(700)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ("[]", "object"),
        ('{"ingredients": [{"name": "no such thing at all"}], "yield_g": 5}', "Nearest"),
        ('{"ingredients": [{"name": "sugar"}], "yield_g": NaN}', "NaN"),
        ('{"ingredients": [{"name": "sugar"}], "yield_g": 1e999}', "inf"),
        ("[" * 100_000, ""),
    ],
)
def test_bad_input_is_one_sentence_and_code_two(run, text, words):
    result = run("solve", "-", "--json", text=text)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert words in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1
    assert "Traceback" not in result.stderr


def test_missing_file_and_missing_recipe(run):
    for arguments in (
        ("solve", "nowhere.json"),
        ("export", "Nothing"),
        ("show", "Nothing"),
        ("nudge", "Nothing", "less sour"),
        ("delete", "recipe", "Nothing"),
    ):
        result = run(*arguments)
        assert result.exit_code == 2
        assert len(result.stderr.strip().splitlines()) == 1


def test_a_name_in_use_is_refused_but_the_answer_is_shown(run, request_file):
    run("solve", request_file, "--save", "Plum dip")
    again = run("solve", request_file, "--save", "Plum dip")
    assert again.exit_code == 2
    assert "plums" in again.stdout
    assert run("solve", request_file, "--save", "Plum dip", "--replace").exit_code == 0


def test_names_with_quotes_slashes_and_markup(run, request_file):
    name = "<b>\"Plum\" / 'dip'</b>"
    assert run("solve", request_file, "--save", name).exit_code == 0
    assert run("export", name, "--as", "csv").exit_code == 0
    assert run("solve", request_file, "--save", "x" * 10_000).exit_code == 2


def test_book_travels(run, request_file, tmp_path, monkeypatch):
    run("solve", request_file, "--save", "Plum dip")
    run("profile", "Plum dip", "--save", "Plum profile")
    assert run("book", "--to", "book.json").exit_code == 0
    monkeypatch.setenv("BALANCER_HOME", str(tmp_path / "elsewhere"))
    assert "1 recipes, 1 profiles and 0 rounds" in run("book", "--from", "book.json").output
    assert "Plum dip" in run("list").output
    assert run("book").exit_code == 2


def test_model_prints_as_algebra(run, request_file):
    printed = run("solve", request_file, "--model").stdout
    assert "minimise" in printed
    assert "plums: more" in printed


def test_three_rounds_to_within_one_jnd(run, request_file):
    """A cook whose words agree with the model ends within 1 JND on what was judged."""
    run("solve", request_file, "--save", "Plum dip")
    first = run("taste", "Plum dip", "too sharp, a touch sweeter", "--made", "plums=360")
    assert first.exit_code == 0
    assert "Round 1" in first.output
    assert "kept as revision 2" in first.output
    run("taste", "Plum dip", "a touch less sour, sweet is right", "--close", "taste=7")
    third = run("taste", "Plum dip", "sour is right, sweet is right")
    assert "within 1 JND on sour" in third.output
    timeline = run("rounds", "Plum dip").output
    assert "too sharp, a touch sweeter" in timeline
    assert "taste 7" in timeline
    spoons = run("spoons", "Plum dip", "sour")
    assert "sample 2" in spoons.output
    assert run("spoons", "Plum dip", "sour", "--nearest", "2", "--no-plan").exit_code == 0
    side_by_side = run("compare", "Plum dip", "Plum dip", "--first-round", 1).output
    assert "JND" in side_by_side
    assert "newest revision" in run("back", "Plum dip", 1).output


def test_rounds_beside_a_reference(run, request_file):
    run("solve", request_file, "--save", "Plum dip")
    result = run("taste", "Plum dip", "--rate", "sour=30,55", "--rate", "sweet=60,50")
    assert result.exit_code == 0
    assert "sour -" in result.output


@pytest.mark.parametrize(
    "arguments",
    [
        ("taste", "Nothing", "too sour"),
        ("taste", "Plum dip"),
        ("taste", "Plum dip", "too crunchy"),
        ("taste", "Plum dip", "--rate", "sour=30,155"),
        ("taste", "Plum dip", "--rate", "colour=30,55"),
        ("taste", "Plum dip", "--rate", "sour=x"),
        ("taste", "Plum dip", "too sour", "--close", "taste=11"),
        ("taste", "Plum dip", "too sour", "--made", "honey=11"),
        ("spoons", "Plum dip", "sour"),
        ("rounds", "Nothing"),
        ("back", "Plum dip", "7"),
        ("compare", "Plum dip", "Nothing"),
    ],
)
def test_bad_rounds_are_one_sentence(run, request_file, arguments):
    run("solve", request_file, "--save", "Plum dip")
    result = run(*arguments)
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1
    assert "No round" in run("rounds", "Plum dip").output


def test_over_salted_pot_is_corrected(run, request_file):
    run("solve", request_file, "--save", "Plum dip")
    result = run("pot", "Plum dip", "--made", "salt=6", "--also", "water")
    assert result.exit_code == 0
    assert "The pot grows from" in result.output
    assert "salt: 1.89 before" in result.output
    assert run("pot", "Plum dip", "--made", "honey=6").exit_code == 2
    assert run("pot", "Nothing").exit_code == 2


def test_what_corrects_a_pot_names_the_allergens_that_it_brings(run, request_file):
    """Soy sauce is brewed from soybeans and wheat (common practice; both lists of allergens)."""
    call = ("measured", "--mass", 500, "--salt", 0.6, "--want", "salt=1.6", "--add")
    result = run(*call, "soy sauce")
    assert "Allergens of what goes in: wheat (soy sauce); soybean (soy sauce)." in result.output
    assert "Allergens" not in run(*call, "salt").output
    run("solve", request_file, "--save", "Plum dip")
    result = run("nudge", "Plum dip", "needs much more body", "--also", "peanut butter")
    assert "peanut (peanut butter" in result.output


def test_pot_of_which_only_readings_are_known(run):
    call = ["measured", "--mass", 800, "--brix", 24, "--acidity", 1.1, "--salt", 1.6]
    result = run(*call, "--want", "sweet=18", "--want", "salt=1.2", "--add", "water")
    assert result.exit_code == 0
    assert "water:" in result.output
    assert run(*call, "--want", "fat=3", "--add", "olive oil").exit_code == 2
    assert run("measured", "--mass", 0, "--want", "salt=1", "--add", "water").exit_code == 2


def test_panel(run, tmp_path):
    assert "Taster 3" in run("panel", "sheets", "--tasters", 3).output
    assert run("panel", "sheets", "--tasters", 3, "--to", tmp_path / "s.txt").exit_code == 0
    # ISO 4120, table of least correct answers (from memory): 9 of 15 at a risk of 5 %
    assert "9 are needed" in run("panel", "count", "--right", 9, "--of", 15).output
    assert "tasters" in run("panel", "size").output
    assert run("panel", "count", "--right", 16, "--of", 15).exit_code == 2


def test_data_report(run):
    assert "within 0.3" in run("data").output


def test_pantry_forgives_typing_errors(run):
    assert "cider vinegar" in run("pantry", "cidr", "vinegar").stdout.splitlines()[1]
    assert "plums" in run("pantry", "sour plum").stdout.splitlines()[1]
    assert run("pantry", "@@@").exit_code == 2


def test_a_real_process_prints_only_the_document(request_file, tmp_path):
    environment = {**os.environ, "BALANCER_HOME": str(tmp_path / "home")}
    done = subprocess.run(
        [sys.executable, "-m", "balancer", "solve", str(request_file), "--json"],
        capture_output=True, text=True, env=environment, check=False,
    )  # fmt: skip
    assert done.returncode == 0
    json.loads(done.stdout)
    assert done.stderr == ""


def test_solving_needs_no_heavy_import(request_file, tmp_path):
    script = (
        "import sys; from balancer.cli import main; "
        f"main(['solve', {str(request_file)!r}, '--json'], standalone_mode=False); "
        "heavy = {'pandas', 'pint', 'streamlit', 'scipy.optimize'} & set(sys.modules); "
        "sys.exit(f'imported {heavy}' if heavy else 0)"
    )
    environment = {**os.environ, "BALANCER_HOME": str(tmp_path / "home")}
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, env=environment, check=False
    )
    assert done.returncode == 0, done.stderr
