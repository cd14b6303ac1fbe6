"""A bare number counts the beat of the chart in every input, and every output shows the same.

The expected figures are arithmetic: a dotted quarter is 1.5 quarter notes, a half is 2 (common
practice, no source).
"""

from __future__ import annotations

import json
import re
import sys
from dataclasses import dataclass, replace
from math import ceil, floor
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import mido
import mutagen
import pytest
from pypdf import PdfReader

from backing.chart.read import read_chart
from backing.chart.write import write_chart
from backing.cli import main
from backing.control.commands import Controls
from backing.control.settings import CommandError, LiveSettings
from backing.live.console import Console
from backing.live.screen import screen
from backing.live.session import state_of
from backing.live.source import Source
from backing.live.transport import Transport
from backing.out.audio import RecordingSettings
from backing.out.renderer import usual_sound_font
from backing.out.tags import tags_of
from backing.packs.digest import manifest_of
from backing.packs.make import description
from backing.packs.page import page_of
from backing.packs.plan import PieceKind, plan
from backing.packs.settings import PackSettings
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.stand.labels import control_labels
from backing.timing import UNITS, Tempo, WrittenTempo
from tests.live.stage import Stage

if TYPE_CHECKING:
    from backing.live.session import Session


@dataclass(frozen=True)
class Case:
    """A chart and how it counts.

    Attributes:
        head: the lines above its bars.
        unit: the note that a bare number counts.
        quarters: how long that note is.
        own: the number of its own tempo, in that note.
        number: another tempo, as a bare number.
        shown: a tempo as text, `{}` for the number.
        step: how much one step faster is.

    """

    head: str
    unit: str
    quarters: float
    own: float
    number: float
    shown: str
    step: float

    @property
    def text(self) -> str:
        """The chart."""
        return f"title: Turnip\nkey: C\ncount-in: 1\n{self.head}[A] 2\n| C | G7 |\n"

    @property
    def bpm(self) -> float:
        """The other tempo in quarter notes a minute."""
        return self.number * self.quarters


CASES = {
    case.head.replace("\n", "; ").strip("; "): case
    for case in (
        Case("tempo: 200\n", "quarter", 1, 200, 150, "{}", 5),
        Case("meter: 4/4\ntempo: half=110\n", "half", 2, 110, 100, "half={}", 2),
        Case("meter: 4/4\nstyle: reel\n", "quarter", 1, 224, 210, "{}", 5),
        Case("meter: 2/4\ntempo: 118\n", "quarter", 1, 118, 107.5, "{}", 5),
        Case("meter: 3/4\ntempo: 116\n", "quarter", 1, 116, 96, "{}", 5),
        Case("meter: 3/4\ntempo: dotted-half=50\n", "dotted-half", 3, 50, 45, "dotted-half={}", 2),
        Case("meter: 2/2\ntempo: 112\n", "half", 2, 112, 104, "half={}", 2),
        Case("meter: 2/2\n", "half", 2, 112, 104.5, "half={}", 2),
        Case("meter: 2/2\ntempo: quarter=216\n", "quarter", 1, 216, 208, "quarter={}", 5),
        Case("meter: 6/8\ntempo: 116\n", "dotted-quarter", 1.5, 116, 100, "dotted-quarter={}", 2),
        Case("meter: 6/8\n", "dotted-quarter", 1.5, 114, 98.5, "dotted-quarter={}", 2),
        Case("meter: 6/8\ntempo: quarter=165\n", "quarter", 1, 165, 150, "quarter={}", 5),
        Case("meter: 9/8\ntempo: 108\n", "dotted-quarter", 1.5, 108, 97, "dotted-quarter={}", 2),
        Case("meter: 12/8\ntempo: 60\n", "dotted-quarter", 1.5, 60, 52, "dotted-quarter={}", 2),
        Case(
            "meter: 12/8\ntempo: dotted-quarter=60\n",
            "dotted-quarter", 1.5, 60, 57.5, "dotted-quarter={}", 2,
        ),
    )
}  # fmt: skip
every_case = pytest.mark.parametrize("case", CASES.values(), ids=CASES)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Change to an empty folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def call(*arguments: str) -> int:
    """Run the command line here and return its exit code."""
    old = sys.argv
    sys.argv = ["backing", *arguments]
    try:
        main()
    except SystemExit as error:
        return int(error.code or 0)
    finally:
        sys.argv = old
    return 0


def written(case: Case) -> str:
    """Write the chart of a case and return its file's name."""
    Path("turnip.chart").write_text(case.text, encoding="utf-8")
    return "turnip.chart"


def midi_bpm(file: str) -> float:
    """Return the first tempo of a MIDI file in quarter notes a minute."""
    events = (message for message in mido.MidiFile(file).tracks[0])
    return float(mido.tempo2bpm(next(each.tempo for each in events if each.type == "set_tempo")))


def controls(case: Case) -> tuple[Controls, Transport]:
    """Return the live controls of a chart that is not playing, and its settings."""
    chart = read_chart(case.text)
    transport = Transport(Source(), LiveSettings.of(chart), lambda message: None)
    return Controls(transport, lambda: 0.0), transport


@every_case
def test_the_chart(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """The chart's tempo has the written speed, is shown with the same number, and reads back."""
    chart = read_chart(case.text)
    shown = case.shown.format(f"{case.own:g}")

    assert Performance(chart, Settings()).bpm == case.own * case.quarters
    assert read_chart(write_chart(chart)) == chart
    assert call("check", written(case)) == 0
    assert f", tempo {shown}, " in capsys.readouterr().out
    if chart.tempo:
        assert call("show", written(case)) == 0
        assert f"{shown}\n" in capsys.readouterr().out


@every_case
@pytest.mark.parametrize("how", ["bare", "named", "quarters"])
def test_rendering(case: Case, how: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A bare number, one with its note and one in quarter notes give the same tempo."""
    tempo = {
        "bare": f"{case.number:g}",
        "named": f"{case.unit}={case.number:g}",
        "quarters": f"quarter={case.bpm:g}",
    }[how]

    assert call("render", written(case), "-o", "t.mid", "-n", "1", "--tempo", tempo) == 0
    assert midi_bpm("t.mid") == pytest.approx(case.bpm, rel=1e-5)
    assert f" at {case.shown.format(f'{case.number:g}')}, " in capsys.readouterr().out


@every_case
def test_playing(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    """`play --tempo`, `--from`, `--to` and `--step` count the same beat."""
    sessions: list[Session] = []
    silent = SimpleNamespace(send=lambda message: None, close=lambda: None)
    monkeypatch.setattr("backing.cli.play.Device.output", lambda *_, **__: silent)
    monkeypatch.setattr(Console, "run", lambda self, played, pedal: sessions.extend(played))
    file, number = written(case), f"{case.number:g}"

    assert call("play", file, "--tempo", number) == 0
    assert call("play", file, "--from", number, "--to", f"{case.number + 20:g}") == 0
    assert call("play", file, "--from", number, "--to", f"{case.unit}={case.number + 20:g}",
                "--step", f"{case.unit}=7", "--every", "1") == 0  # fmt: skip
    plain, usual, chosen = (session.transport.settings for session in sessions)
    assert plain.bpm == usual.bpm == chosen.bpm == case.bpm
    assert usual.ladder
    assert chosen.ladder
    assert usual.ladder.bpm(1) == case.bpm
    assert usual.ladder.bpm(2) == pytest.approx(case.bpm + case.step * case.quarters)
    assert chosen.ladder.bpm(1) == pytest.approx(case.bpm + 7 * case.quarters)
    assert chosen.ladder.bpm(99) == usual.ladder.bpm(99) == (case.number + 20) * case.quarters


@every_case
def test_lines(case: Case) -> None:
    """Live commands count the same beat, and the state shows a tempo that reads back."""
    controls_, transport = controls(case)
    said = {
        f"tempo {case.number:g}": case.number,
        "tempo +7": case.number + 7,
        "tempo -7.5": case.number - 0.5,
        f"tempo +{case.unit}=0.5": case.number,
        "tempo +": case.number + case.step,
        "tempo -": case.number,
        "half": case.number / 2,
        "double": case.number,
        f"tempo {case.unit}={case.own:g}": case.own,
        f"tempo quarter={case.bpm:g}": case.number,
        "tempo own": case.own,
        f"ladder {case.number:g} {case.own:g}": case.number,
        f"ladder {case.unit}={case.own:g} {case.number:g} {case.unit}=1 3": case.own,
    }
    for line, number in said.items():
        controls_.carry_out(line)
        assert (line, transport.settings.bpm) == (line, pytest.approx(number * case.quarters))
    controls_.carry_out(f"tempo {case.number:g}")
    transport.play(0.0)
    state = json.loads(json.dumps(state_of(transport, None)))
    assert (state["tempo_unit"], state["quarter_bpm"]) == (case.unit, case.bpm)
    assert state["tempo"] == case.number


@every_case
def test_taps(case: Case) -> None:
    """Taps count the beats of the meter, and their tempo is shown in the chart's note."""
    chart = read_chart(case.text)
    transport = Transport(
        Source(), LiveSettings.of(chart, Settings(bpm=100.0)), lambda message: None
    )
    clock = iter(range(9))
    tapped = Controls(transport, lambda: next(clock) * 0.5)
    for _ in range(4):
        tapped.carry_out("tap")
    beats = chart.meter.beat_ticks / 960
    state = state_of(transport, None)
    assert transport.settings.bpm == state["quarter_bpm"] == pytest.approx(120 * beats)
    assert state["tempo"] == pytest.approx(120 * beats / case.quarters)


@every_case
def test_a_sheet(case: Case) -> None:
    """The header has the goal, and the practice box counts the same note, in whole numbers."""
    number = f"{case.number:g}"
    assert call("sheet", written(case), "-o", "t.pdf", "--tempo", number, "--shapes", "none") == 0

    text = " ".join(page.extract_text() for page in PdfReader("t.pdf").pages)
    assert f"{UNITS[case.unit].sign} = {number} " in text
    assert f"Practice: {case.unit.replace('-', ' ')} notes a minute" in text
    box = text[text.index("Practice:") :]
    figures = [float(each) for each in re.findall(r"\b[0-9]+(?:\.[0-9]+)?\b", box)]
    assert case.number in figures
    grid = 5 if case.number >= 100 else 2
    assert [each for each in figures if each != case.number and each % grid] == []
    assert max(figures) > case.number > min(figures) > case.number / 2


@every_case
def test_a_pack(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    """By default, the tempi are round numbers in the beat."""
    file = written(case)
    assert call("pack", file, "-o", "p", "--list-jobs") == 0
    usual = [float(each) for each in re.findall(r"-whole-(\d+)\.mp3", capsys.readouterr().out)]
    grid = 5 if case.own >= 100 else 2
    assert usual[-1] == case.own
    assert [each for each in usual[:-1] if each % grid or each > case.own] == []
    assert len(usual) == 4

    tempi = f"{case.number:g},{case.unit}={case.own:g},quarter={case.bpm:g}"
    assert call("pack", file, "-o", "p", "--tempi", tempi, "--list-jobs") == 0
    out = capsys.readouterr().out
    asked = sorted({case.number, case.own})
    assert [each.replace("-", ".") for each in re.findall(r"-whole-([\d-]+)\.mp3", out)] == [
        f"{each:g}" for each in asked
    ]
    job = next(line for line in out.splitlines() if line.endswith(".mid"))
    assert call(*job.split()[1:]) == 0
    assert midi_bpm(next(str(each) for each in Path("p").rglob("*.mid"))) == pytest.approx(
        max(asked) * case.quarters, rel=1e-5
    )


@every_case
def test_what_is_told_of_a_pack(case: Case) -> None:
    """Page, titles and tags have the number of the file's name, the page with a printed note."""
    chart = read_chart(case.text)
    tempi = (WrittenTempo.parse(f"{case.number:g}"),)
    settings = Settings(choruses=1)
    request = PackSettings(
        settings, tempi, (), (), (), "mp3", RecordingSettings(usual_sound_font())
    )
    planned = plan("turnip.chart", chart, request)
    whole = next(each for each in planned.pieces if each.kind is PieceKind.WHOLE)

    note = case.unit.replace("-", " ")
    drawn = rf'<svg [^>]*aria-label="{note}"[^>]*>((?!</svg>).)*</svg> = {case.number:g}</a>'
    assert re.search(drawn, page_of(planned).decode())
    assert description(whole, chart) == f"whole tune, {case.shown.format(f'{case.number:g}')}"
    assert tags_of(Performance(chart, replace(settings, bpm=case.bpm)), 1).bpm == case.number
    listed = json.loads(manifest_of(planned, lambda name: name))["files"]
    assert [(each["tempi"], each["unit"], each["quarters_a_minute"]) for each in listed] == [
        ([case.number], case.unit, [case.bpm])
    ] * len(listed)


def test_the_tag_of_a_recording_counts_beats() -> None:
    """TBPM is beats a minute (ID3v2.3, 4.2.1): in 6/8 dotted quarters."""
    Path("j.chart").write_text("meter: 6/8\ntempo: 116\n| C |\n", encoding="utf-8")
    assert call("render", "j.chart", "-o", "j.wav", "-n", "1", "--mono") == 0
    assert str(mutagen.File("j.wav")["TBPM"]) == "116"


def test_a_chart_without_a_meter_above_takes_that_of_its_parts() -> None:
    """If only the parts have meters, a bare number above them counts the first one's beat."""
    chart = read_chart("tempo: 112\n[A]\nmeter: 6/8\n| C |\n[B]\nmeter: 9/8\n| G |\n")
    assert (str(chart.tempo), chart.tempo_unit) == ("dotted-quarter=112", "dotted-quarter")
    one = read_chart("tempo: 112\n[A]\n| C |\n[B]\nmeter: 9/8\n| G |\n")
    assert (str(one.tempo), str(one.meter)) == ("112", "4/4")


@pytest.mark.parametrize(
    "head, part, bpm",
    [
        ("tempo: 120\n", "meter: 6/8\ntempo: 100\n", 150),
        ("meter: 6/8\ntempo: 100\n", "meter: 2/4\ntempo: 120\n", 120),
        ("meter: 6/8\ntempo: 100\n", "tempo: 110\n", 165),
        ("meter: 2/2\ntempo: 100\n", "tempo: quarter=180\n", 180),
        ("tempo: half=100\n", "tempo: 90\n", 180),
        ("tempo: half=100\n", "tempo: quarter=180\n", 180),
        ("tempo: half=100\n", "meter: 4/4\ntempo: 90\n", 180),
        ("tempo: half=100\n", "meter: 3/4\ntempo: 90\n", 180),
        ("tempo: half=100\n", "meter: 6/8\ntempo: 90\n", 135),
        ("meter: 6/8\ntempo: quarter=168\n", "tempo: 150\n", 150),
        ("meter: 6/8\ntempo: quarter=168\n", "meter: 9/8\ntempo: 150\n", 150),
        ("meter: 6/8\ntempo: quarter=168\n", "tempo: dotted-quarter=100\n", 150),
    ],
)
def test_the_tempo_of_a_part(head: str, part: str, bpm: float) -> None:
    """A bare number in a part counts the chart's note, or the beat of another meter."""
    chart = read_chart(f"{head}[A]\n| C |\n[B]\n{part}| G |\n")
    tempo = chart.part("B").tempo
    assert tempo
    assert tempo.quarter_bpm == bpm
    assert read_chart(write_chart(chart)) == chart


def test_a_part_counts_as_the_first_part_where_nothing_above_names_a_meter() -> None:
    """The meter of the first part is the chart's, and its note the one that is counted."""
    text = "tempo: quarter=168\n[A]\nmeter: 6/8\n| C |\n[B]\nmeter: 6/8\ntempo: 150\n| G |\n"
    chart = read_chart(text)
    assert (str(chart.meter), chart.tempo_unit) == ("6/8", "quarter")
    assert chart.part("B").tempo == Tempo(150, "quarter")
    assert read_chart(write_chart(chart)) == chart


def test_an_old_number_of_quarters_is_remarked_on(capsys: pytest.CaptureFixture[str]) -> None:
    """The fault of a number that is valid only in quarter notes says how to write those."""
    for number, hint in (("174", True), ("130", False), ("116", False)):
        Path("j.chart").write_text(f"meter: 6/8\ntempo: {number}\n| C |\n", encoding="utf-8")
        assert call("check", "j.chart") == 0
        err = capsys.readouterr().err
        told = f"jig is usually 96-128 dotted quarter notes a minute; this is {number}"
        assert (told in err) == (number != "116")
        assert ("write quarter=174 for quarter notes" in err) == hint
    Path("r.chart").write_text("meter: 2/2\ntempo: 260\n| C |\n", encoding="utf-8")
    assert call("check", "r.chart") == 2
    err = capsys.readouterr().err
    assert "r.chart:2:8: tempo '260' is 260 half notes a minute: the band plays from 10" in err
    assert "a bare number counts half notes here; write quarter=260 for quarter notes" in err


def test_every_number_has_its_unit(capsys: pytest.CaptureFixture[str]) -> None:
    """A range is in the note of the chart; a part's tempo in another note names that."""
    text = "tempo: half=100\n[A]\n| C |\n[B]\ntempo: quarter=220\n| G |\n"
    Path("h.chart").write_text(text, encoding="utf-8")
    assert call("check", "h.chart") == 0
    assert "tempo quarter=220" in capsys.readouterr().out
    assert call("render", "h.chart", "-o", "h.mid", "--tempo", "900") == 2
    told = "is 900 half notes a minute: the band plays from 10 to 250 half notes a minute"
    assert told in capsys.readouterr().err
    assert call("render", "h.chart", "-o", "h.mid", "--tempo", "20") == 0
    err = capsys.readouterr().err
    assert "two-beat is usually 60-130 half notes a minute; this is 20" in err
    assert "two-beat is usually 120-260 quarter notes a minute; this is 44" in err


@every_case
@pytest.mark.parametrize("line", ["ladder {} 120", "ladder 90 {}", "tempo {}"])
@pytest.mark.parametrize("number", [5, 999])
def test_numbers_beyond_what_the_band_plays(case: Case, line: str, number: int) -> None:
    """A fault says what the number counts, and the range of tempi in it."""
    notes = f"{case.unit.replace('-', ' ')} notes a minute"
    least, most = ceil(20 / case.quarters), floor(500 / case.quarters)
    told = f"is {number} {notes}: the band plays from {least} to {most} {notes}"
    controls_, _ = controls(case)
    with pytest.raises(CommandError, match=re.escape(told)):
        controls_.carry_out(line.format(number))


@every_case
def test_the_ladder_on_the_screen(case: Case) -> None:
    """Its numbers are in the note of the tempo, on the terminal and on the page."""
    stage = Stage(read_chart(case.text))
    stage.run_bars(1)
    stage.session.command(f"ladder {case.number - 20:g} {case.number:g}")
    start = f"{case.number - 20:g} to {case.number:g}"
    assert f"ladder {case.shown.format(start)}" in "\n".join(
        screen(stage.session, 80, 24, large=False)
    )
    shown = control_labels(stage.session.transport.settings, None)["ladder"]
    assert f'aria-label="{case.unit.replace("-", " ")}"' in shown
    assert shown.endswith(f"</svg> = {start}")


def test_a_groove_in_a_tune_of_another_beat_is_told_with_its_note() -> None:
    """In a tune in 3/4 the numbers of a jig are quarter notes, and say so."""
    text = "meter: 3/4\ntempo: 126\n[A]\n| C |\n[B]\nmeter: 6/8\nstyle: jig\n| G |\n"
    told = Performance(read_chart(text), Settings()).remarks()
    assert told == ("jig is usually 144-192 quarter notes a minute; this is 126",)


def test_a_ladder_that_a_pack_climbs_has_round_rungs(capsys: pytest.CaptureFixture[str]) -> None:
    """From an odd start it continues with round numbers, and ends exactly at an odd goal."""
    Path("j.chart").write_text("meter: 6/8\ntempo: 113\n| C |\n", encoding="utf-8")
    chosen = ["--parts", "none", "--minus", "none", "--choruses", "1", "--tempi", "67,113"]
    assert call("pack", "j.chart", "-o", "p", "--list-jobs", *chosen) == 0
    assert "-ladder-67-113.mp3" in capsys.readouterr().out


@pytest.mark.parametrize(
    "own", ["tempo: 100\n", "tempo: quarter=180\n", "meter: 3/4\ntempo: 140\n"]
)
def test_in_a_part_with_a_tempo_of_its_own_both_are_told(own: str) -> None:
    """The state has the sounding tempo and the tune's tempo, which commands change."""
    text = f"meter: 6/8\ntempo: 112\ncount-in: 0\n[A] 1\n| C |\n[B] 2\n{own}| G | C |\n"
    stage = Stage(read_chart(text))
    transport = stage.session.transport
    stage.run_bars(1)
    told = "\n".join(screen(stage.session, 100, 24, large=False))
    assert "tempo dotted-quarter=112   " in told
    stage.run_bars(1)
    part = transport.settings.chart.part("B").tempo
    assert part
    for line, tune in (("", 112), ("tempo 100", 100), ("tempo +", 102), ("tempo +7", 109)):
        if line:
            stage.session.controls.carry_out(line)
        state = state_of(transport, transport.now_bar)
        sounds = part.quarter_bpm * tune / 112
        assert (state["part"], state["tempo_wished"]) == ("B", tune)
        assert state["quarter_bpm"] == pytest.approx(sounds, abs=0.01)
        assert state["tempo"] == pytest.approx(sounds / 1.5, abs=0.01)
        text = "\n".join(screen(stage.session, 100, 24, large=False))
        assert f"tempo dotted-quarter={state['tempo']:g}, the tune's {tune}   " in text


def test_a_jig_over_four_four_keeps_one_unit() -> None:
    """In a part of another meter the state still counts the tune's note."""
    text = "tempo: 120\nstyle: two-beat\n[A] 1\n| C |\n[B] 1\nmeter: 6/8\nstyle: jig\n| G |\n"
    chart = read_chart(text)
    settings = LiveSettings.of(chart, Settings(bpm=120.0, count_in=0))
    transport = Transport(Source(), settings, lambda message: None)
    transport.play(0.0)
    for hundredth in range(600):
        transport.fill()
        transport.pump(hundredth / 100)
        bar = transport.now_bar
        if bar and bar.part == "B":
            break
    state = state_of(transport, transport.now_bar)
    assert (state["part"], state["meter"]) == ("B", "6/8")
    assert (state["tempo"], state["tempo_unit"]) == (120, "quarter")
