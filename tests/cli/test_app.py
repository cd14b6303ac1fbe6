"""The commands and their help."""

from __future__ import annotations

import subprocess
import sys
from importlib import import_module
from inspect import getdoc, signature
from pathlib import Path
from typing import get_args

import pytest

from backing.cli.app import COMMANDS
from tests.cli.test_commands import call

FOLDER = Path(__file__).parents[2] / "backing" / "cli"


def test_help_imports_no_command() -> None:
    """The list of commands is written without their modules."""
    code = (
        "import sys\nsys.argv = ['backing', '--help']\nfrom backing.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(*(name for name in sys.modules if name.startswith('backing')), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert set(done.stderr.split()) <= {"backing", "backing.cli", "backing.cli.app",
                                        "backing.errors"}  # fmt: skip


def test_every_module_with_a_command_is_listed() -> None:
    """Each module that declares an example and `run` is a command, and no other name is."""
    found = {path.stem for path in FOLDER.glob("*.py") if "\nEXAMPLE = " in path.read_text("utf-8")}

    assert found == set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_has_the_first_sentence_of_each_help(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The list of commands and the help of a command say the same; the help has an example."""
    module = import_module(f"backing.cli.{name}")

    assert (getdoc(module.run) or "").split("\n\n")[0].replace("\n", " ") == COMMANDS[name]
    assert call(name, "--help") == 0
    text = " ".join(capsys.readouterr().out.split())
    assert COMMANDS[name] in text
    assert f"Example: {module.EXAMPLE}" in text


def test_an_unknown_command_is_told_with_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert call("chek") == 2
    assert "Did you mean 'check'?" in capsys.readouterr().err


@pytest.mark.parametrize("name", COMMANDS)
def test_every_value_is_a_text_a_flag_or_texts(name: str) -> None:
    """`command.py` returns values as typed, so that a number would stay a text."""
    run = import_module(f"backing.cli.{name}").run
    types = [
        get_args(each.annotation)[0] for each in signature(run, eval_str=True).parameters.values()
    ]

    assert [each for each in types if each not in (bool, str, str | None, list[str])] == []


@pytest.mark.parametrize(
    "words, missing",
    [
        (["play"], "Missing argument 'CHART...'"),
        (["convert", "tunes.abc"], "Missing argument"),
        (["pack", "tune.chart"], "Missing option '--output'"),
        (["render", "tune.chart", "-o"], "Option '-o' requires an argument"),
    ],
)
def test_what_is_missing_is_named(
    words: list[str], missing: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert call(*words) == 2
    assert missing in capsys.readouterr().err
