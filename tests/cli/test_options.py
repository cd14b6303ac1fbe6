"""Options that commands share are read in one way."""

from __future__ import annotations

import io
import sys
from typing import TYPE_CHECKING

import pytest

from backing.cli import main

if TYPE_CHECKING:
    from pathlib import Path

CHART = "title: Two Chords\nkey: G\nstyle: swing\ntempo: 150\n[A] 2\n| G6 | C9 |\n"


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    """Run the command line in this process; return its exit code and standard error."""
    old = sys.argv
    sys.argv = ["backing", *arguments]
    try:
        main()
    except SystemExit as error:
        return int(error.code or 0), capsys.readouterr().err
    finally:
        sys.argv = old
    return 0, capsys.readouterr().err


@pytest.fixture
def chart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Return the name of a chart in the folder in which we stand."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "two.chart").write_text(CHART, encoding="utf-8")
    return "two.chart"


@pytest.mark.parametrize("command", ["play", "render"])
@pytest.mark.parametrize(
    "options, sentence",
    [
        (["--tempo", "120 bpm"], "'120 bpm' is not a tempo: write 120"),
        (["--tempo", "9000"], "from 20 to 500"),
        (["--tempo", ""], "'' is not a tempo"),
        (["--style", "stroll"], "'stroll' is not a style: choose from"),
        (["--key", "H"], "'H' is not a key"),
        (["--key", "Em"], "the chart is in G, which is major; Em is minor"),
        (["--choruses", "x"], "--choruses x: write a whole number, such as --choruses 4"),
        (["--choruses", "0"], "0 choruses: the band plays 1 to 999"),
        (["--take", "1.5"], "--take 1.5: write a whole number"),
        (["--count-in", "two"], "--count-in two: write a whole number"),
        (["--count-in", "9"], "9 bars of count-in: 0 to 8 are allowed"),
        (["--looseness", "nan"], "--looseness nan: write a number, such as --looseness 0.5"),
        (["--looseness", "7"], "a looseness of 7"),
        (["--without", "flute"], "'flute' is not in the band: choose from bass, chop, drums"),
        (["--without", "bass,chop,drums"], "nobody plays"),
        (
            ["--lead", "sometimes"],
            "'sometimes' is not when a lead plays: choose from always, first",
        ),
    ],
)
def test_both_commands_refuse_alike(
    command: str,
    options: list[str],
    sentence: str,
    chart: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Options that do not fit are a sentence and exit code 2, before a port or file is opened."""
    code, errors = told(capsys, command, chart, *options)

    assert code == 2
    assert sentence in errors
    assert errors.startswith("backing: ")
    assert "Traceback" not in errors


@pytest.mark.parametrize(
    "options, sentence",
    [
        (["--from", "120"], "a ladder needs both --from and --to"),
        (["--from", "x", "--to", "200"], "'x' is not a tempo"),
        (
            ["--from", "1", "--to", "200"],
            "tempo '1' is 1 quarter notes a minute: the band plays from 20 to 500",
        ),
        (["--step", "x"], "'x' is not a tempo"),
        (["--every", "1.5"], "--every 1.5: write a whole number"),
        (["--rest", "2"], "--rest 2: write how many bars of how many, such as --rest 2/8"),
        (["--rest", "8/2"], "rest 8 2: the silent bars must be at least 1 and fewer"),
        (["--rest", "2/x"], "--rest x: write a whole number"),
        (["--trade", "x"], "--trade x: write a whole number"),
        (["--trade", "0"], "trade needs BARS"),
        (["--trade", "4", "--rest", "2/8"], "use --rest or --trade, not both"),
        (["--loop", "9-12"], "bars 9-12: the form has bars 1 to 2"),
        (["--synth", "--port", "x"], "use only one of --port, --virtual and --synth"),
    ],
)
def test_what_playing_cannot_meet_is_a_sentence(
    options: list[str], sentence: str, chart: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What only playing knows is refused in the same way."""
    code, errors = told(capsys, "play", chart, *options)

    assert (code, sentence in errors) == (2, True), errors


@pytest.mark.parametrize("rest", ["2/8", "2 8", "2 of 8", "2 / 8"])
def test_what_is_read_is_what_is_played(
    rest: str, chart: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The options arrive at the session; naming a player twice leaves the player out once."""
    from backing.live.session import Session
    from backing.notes import Player

    seen: dict[str, object] = {}

    class AskedError(Exception):
        """The session has been asked for."""

    def asked(self: Session, source: str, settings: object, output: object, **more: object) -> None:
        seen.update(more, settings=settings)
        raise AskedError

    monkeypatch.setattr(Session, "__init__", asked)
    monkeypatch.setattr("backing.cli.play.Device.output", lambda _: io.BytesIO())
    options = "--tempo half=100 --without chop,chop --take 7 --count-in 1 --looseness 0.5 -n 4"
    monkeypatch.setattr(sys, "argv", ["backing", "play", chart, "--rest", rest, *options.split()])
    with pytest.raises(AskedError):
        main()
    settings = seen.pop("settings")

    assert settings.bpm == 200  # type: ignore[attr-defined]
    assert settings.rest == (2, 8)  # type: ignore[attr-defined]
    base = settings.base  # type: ignore[attr-defined]
    assert set(Player) - base.players == {"chop"}
    assert (base.seed, base.count_in, base.looseness, base.choruses) == (7, 1, 0.5, 4)
    assert not settings.endless  # type: ignore[attr-defined]
