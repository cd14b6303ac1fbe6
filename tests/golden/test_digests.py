"""Digests of all output: notes, sheets, scores and messages to pages.

`digests.txt` has a line for each: demo, what, and the start of a SHA-256. Under the name of a style
stand the MIDI files of seeds 1, 2 and 3, or `refused`. A change of the code that is to change no
music leaves them as they are. When a change is meant, write them anew and say what changed:

    BACKING_GOLDEN=write pytest -n 0 -m "slow or not slow" tests/golden
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from backing.cli import main
from tests.stand.server import Server

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]
DEMOS = {path.stem: path for path in sorted((ROOT / "demos").glob("*.chart"))}
STYLES = sorted(path.stem for path in (ROOT / "styles").glob("*.toml"))
FILE = Path(__file__).with_name("digests.txt")
SEEDS = (1, 2, 3)
REFUSED = "refused"

HEARD_BARS = 6
CLOCKS_AND_WORDS = ("late_ms", "words", "snapshot")
"""Fields of a page's state that are not compared: they vary between runs, or are sentences."""

WORDS = re.compile(r' (?:aria-label|title)=\\?"[^"]*"')
"""What screen readers say and what a pointer shows: sentences, which have tests of their own."""


@pytest.mark.parametrize("demo", DEMOS)
def test_the_demo_as_it_is(demo: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The demo's notes in its own style, its sheet and its scores are unchanged."""
    monkeypatch.setattr(sys, "argv", sys.argv)
    check(demo, "own", made("render", demo, tmp_path / "own.mid"))
    for paint in ("--shapes=above", "--numbers"):
        data = made("sheet", demo, tmp_path / "sheet.svg", paint, "--force")
        assert data is not None
        check(demo, f"sheet{paint}", re.sub(rb"@font-face\{[^}]*\}", b"", data))
    for suffix in ("abc", "musicxml"):
        check(demo, suffix, made("convert", demo, tmp_path / f"score.{suffix}"))


@pytest.mark.slow
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("demo", DEMOS)
def test_every_style(
    demo: str, style: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The notes of every style that plays it are unchanged, for three seeds."""
    monkeypatch.setattr(sys, "argv", sys.argv)
    takes = [
        made("render", demo, tmp_path / f"{seed}.mid", "--style", style, "--seed", str(seed))
        for seed in SEEDS
    ]
    assert len({take is None for take in takes}) == 1
    check(demo, style, None if None in takes else b"".join(take for take in takes if take))


@pytest.fixture(scope="module")
def stand(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """Return a stand with all demos."""
    folder = tmp_path_factory.mktemp("demos")
    for path in (ROOT / "demos").iterdir():
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    server = Server(folder, tmp_path_factory.mktemp("cache"))
    yield server
    server.end()


@pytest.mark.slow
@pytest.mark.parametrize("demo", DEMOS)
def test_what_a_page_receives(demo: str, stand: Server) -> None:
    """The chart, the state and the bars sent to a page are unchanged."""
    file = f"{demo}.chart"
    received: list[Any] = []
    with stand.page() as page:
        page.send(type="open", tune=file)
        page.command("stop")
        page.state(tune=file, playing=False)
        page.send(type="shapes", instrument="mandolin")
        for names in ("letters", "numbers", "roman"):
            page.send(type="names", **{"as": names})
            shown = {"names": names, "instrument": "mandolin"}
            received.append(
                page.receive("chart", lambda each, shown=shown: shown.items() <= each.items())
            )
        page.command("tempo quarter=480")
        state = page.state(quarter_bpm=480)
        received.append({key: of for key, of in state.items() if key not in CLOCKS_AND_WORDS})
        page.command("play")
        received += _bars(page.receive, HEARD_BARS)
        page.command("stop")
    text = json.dumps(received, sort_keys=True, ensure_ascii=False)
    check(demo, "page", WORDS.sub("", text).encode())


def _bars(receive: Any, count: int) -> list[dict[str, Any]]:
    """Return the last version of the first bars from the press of play, without their ids."""
    bars: dict[int, dict[str, Any]] = {}
    while len(bars) < count:
        message = receive("bars")
        for gone in message["drop"]:
            bars = {start: bar for start, bar in bars.items() if bar["id"] != gone}
        bars |= {bar["start"]: bar for bar in message["add"]}
    return [bars[start] | {"id": None} for start in sorted(bars)][:count]


def made(command: str, demo: str, target: Path, *options: str) -> bytes | None:
    """Return the output of a command, or None if it fails."""
    sys.argv = ["backing", command, str(DEMOS[demo]), *_to(command, target), *options]
    code = None
    try:
        main()
    except SystemExit as end:
        code = end.code
    assert code in (None, 0, 2)
    return None if code == 2 else target.read_bytes()


def _to(command: str, target: Path) -> list[str]:
    return [str(target)] if command == "convert" else ["--output", str(target)]


def check(demo: str, what: str, data: bytes | None) -> None:
    """Compare a digest with the stored one, or store it on request."""
    digest = REFUSED if data is None else hashlib.sha256(data).hexdigest()[:16]
    known = dict(line.rsplit(" ", 1) for line in FILE.read_text("ascii").splitlines())
    if os.environ.get("BACKING_GOLDEN") == "write":
        known[f"{demo} {what}"] = digest
        lines = (f"{name} {value}\n" for name, value in sorted(known.items()))
        FILE.write_text("".join(lines), "ascii")
    assert known.get(f"{demo} {what}") == digest
