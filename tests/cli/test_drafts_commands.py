"""The commands for a pasted draft and for a label, as a cook types them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from balancer.cli.drafts import label, paste
from balancer.errors import BadInput

DRAFT = """Plum and ginger dip
1 1/2 cups plums, pitted and chopped
2 tbsp rice vinegar
a knob of ginger (20 g)
juice of 3 limes
3 dragon scales
"""


def test_paste_prints_every_line_and_writes_a_request(tmp_path: Path) -> None:
    draft, request = tmp_path / "draft.txt", tmp_path / "request.json"
    draft.write_text(DRAFT, encoding="utf-8")
    result = CliRunner().invoke(
        paste, [str(draft), "--save-request", str(request)], catch_exceptions=False
    )
    assert result.exit_code == 0
    for words in ("247.5  plums", "132  lime juice", "3 dragon scales", "is left out"):
        assert words in result.output
    written = json.loads(request.read_text(encoding="utf-8"))
    assert written["target"] == {}
    assert [e["name"] for e in written["ingredients"]] == [
        "plums", "rice vinegar", "ginger", "lime juice",
    ]  # fmt: skip
    assert all(e["locked_g"] == e["draft_g"] for e in written["ingredients"])


def test_paste_reads_standard_input_and_prints_a_document() -> None:
    result = CliRunner().invoke(paste, ["-", "--json"], input=DRAFT, catch_exceptions=False)
    lines = json.loads(result.output)["lines"]
    assert [x["text"] for x in lines] == DRAFT.splitlines()
    assert lines[1]["key"] == "09279"


def test_label_prints_the_vector(tmp_path: Path) -> None:
    path = tmp_path / "sauce.json"
    figures = {"form": "EU", "per_g": 100, "carbohydrate_g": 38, "sugars_g": 36, "salt_g": 1.5}
    path.write_text(json.dumps({"name": "plum sauce", "label": figures}), encoding="utf-8")
    result = CliRunner().invoke(label, [str(path)], catch_exceptions=False)
    assert "sodium" in result.output
    assert "measured" in result.output
    document = CliRunner().invoke(label, [str(path), "--json"], catch_exceptions=False)
    assert json.loads(document.output)["per_100_g"]["sodium"]["value"] == pytest.approx(600)


def test_bad_files_are_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "broken.json"
    path.write_text("{", encoding="utf-8")
    with pytest.raises(BadInput, match="not a JSON document"):
        CliRunner().invoke(label, [str(path)], catch_exceptions=False)
    with pytest.raises(BadInput, match="cannot be read"):
        CliRunner().invoke(paste, [str(tmp_path / "nothing.txt")], catch_exceptions=False)
