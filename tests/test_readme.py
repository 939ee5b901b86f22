"""The README says what the program prints, and what a newcomer must type."""

from __future__ import annotations

import re

from readme import README, rendered, undated

from balancer.cli import main


def test_examples_print_what_the_readme_shows():
    text = README.read_text(encoding="utf-8")
    assert text.count("```console") >= 3
    assert undated(rendered(text)) == undated(text), "run: python tests/readme.py --write"


def test_opens_with_the_job_and_then_the_two_commands():
    text = README.read_text(encoding="utf-8")
    first = re.split(r"\n\s*\n", text.strip())[1]
    assert len(first) > 300
    commands = re.findall(r"^python3 -m venv .*$", text, flags=re.MULTILINE)
    assert len(commands) == 2
    assert "balancer open" in commands[0]
    assert "[test]" in commands[1]
    assert "pytest" in commands[1]


def test_every_command_is_told():
    text = README.read_text(encoding="utf-8")
    for name in main.commands:
        assert f"balancer {name}" in text, name
