"""The nearest name: one search for all messages."""

from __future__ import annotations

from pathlib import Path

import pytest

from backing.nearest import did_you_mean, nearest

PACKAGE = Path(__file__).parent.parent / "backing"


@pytest.mark.parametrize(
    "word, choices, found",
    [
        ("temop", ["tempo", "time", "take"], "tempo"),
        ("TEMOP", ["tempo", "time", "take"], "tempo"),
        ("tempo", ["Tempo", "tempos", "TEMPO"], "tempos"),
        ("MILL", ["Mill", "mill"], "Mill"),
        ("x", ["tempo", "time"], ""),
        ("", ["tempo", ""], ""),
        ("tempo", [], ""),
        ("M", ["m", "M"], "M"),
    ],
)
def test_nearest(word: str, choices: list[str], found: str) -> None:
    """A similar name as written wins, then one without case; no other is suggested."""
    assert nearest(word, choices) == found
    assert nearest(word, iter(choices)) == found


def test_how_alike() -> None:
    """A caller can require more similarity, or less."""
    assert nearest("stip", ["stop"], 0.7) == "stop"
    assert nearest("stip", ["stop"], 0.8) == ""
    assert nearest("foo", ["form"], 0.5) == "form"
    assert nearest("foo", ["form"]) == ""


def test_sentence() -> None:
    """Without a name there is no suggestion."""
    assert did_you_mean("stop") == "; did you mean 'stop'?"
    assert did_you_mean("") == ""


def test_there_is_one() -> None:
    """No other module searches for the nearest name."""
    modules = {path.name: path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py")}

    assert [name for name, text in modules.items() if "get_close_matches" in text] == ["nearest.py"]
