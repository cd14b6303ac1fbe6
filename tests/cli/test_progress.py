"""The progress bar of long work."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest
import rich.console

import backing.cli
from backing.cli.progress import progress_bar

FOLDER = Path(backing.cli.__file__).parent


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let rich take standard error for a terminal of 80 columns."""
    usual = rich.console.Console
    monkeypatch.setattr(
        rich.console, "Console", lambda **named: usual(force_terminal=True, width=80, **named)
    )


@pytest.mark.usefixtures("terminal")
def test_it_shows_what_is_done_and_how_much(capsys: pytest.CaptureFixture[str]) -> None:
    """Its label and its percentage stand on standard error, nothing on standard output."""
    with progress_bar("rendering", 4) as advance:
        for _ in range(4):
            advance()
    out, err = capsys.readouterr()

    assert out == ""
    assert "rendering" in err
    assert "100%" in err


@pytest.mark.usefixtures("terminal")
def test_it_may_be_hidden(capsys: pytest.CaptureFixture[str]) -> None:
    """Without being shown it can be advanced all the same."""
    with progress_bar("rendering", 4, shown=False) as advance:
        advance()

    assert capsys.readouterr() == ("", "")


def test_a_hidden_one_imports_no_drawing_library() -> None:
    """Rich is imported only for a bar that is shown."""
    code = (
        "import sys\n"
        "from backing.cli.progress import progress_bar\n"
        "with progress_bar('rendering', 4, shown=False) as advance:\n    advance()\n"
        "assert 'rich' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_there_is_one_progress_bar() -> None:
    """No other module of the command line draws with rich."""
    users = [
        path.name
        for path in sorted(FOLDER.glob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == "rich.progress"
    ]

    assert users == ["progress.py"]
