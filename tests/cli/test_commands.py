"""The commands as a user calls them, in this process or in one of their own."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import mido
import pytest

from backing.cli import main
from backing.style.library import style_files, style_meters
from backing.timing import Meter

DEMOS = Path(__file__).parents[2] / "demos"
GOOD = "title: Two Chords\nkey: G\nstyle: swing\ntempo: 150\n[A] 4\n| G6 | C9 | D7 | G6 |\n"
BAD = "title: Two Chords\nkey: G\nsytle: swing\n[A] 4\n| G6 | Cmay7 | D7 |\n"


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


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Change into a folder with a valid chart and a faulty one."""
    (tmp_path / "good.chart").write_text(GOOD, encoding="utf-8")
    (tmp_path / "bad.chart").write_text(BAD, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("command", ["check", "show", "tidy", "styles", "render"])
def test_every_command_has_help_with_an_example(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The help of each command is short and ends with an example."""
    code = call(command, "--help")

    text = capsys.readouterr().out
    assert code == 0
    assert f"Example: backing {command}" in text
    assert len(text.splitlines()) < 48


def test_check_tells_form_bars_and_length(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A valid chart has form, bars and length printed: 4 bars at 150 are 6.4 seconds."""
    assert call("check", "good.chart") == 0

    assert capsys.readouterr().out == (
        "good.chart: Two Chords\n"
        "  key G, 4/4, tempo 150, swing\n"
        "  form A: 4 bars, 0:06 once round\n"
        "  part A: 4 bars\n"
    )


def test_check_tells_all_faults_and_exits_2(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All faults of a chart are reported, the other charts are checked, the exit code is 2."""
    assert call("check", "bad.chart", "good.chart") == 2

    out, err = capsys.readouterr()
    places = [line.split(": ")[0] for line in err.splitlines()]
    assert places == ["bad.chart:3:1", "bad.chart:4:5", "bad.chart:5:11"]
    assert "did you mean" in err
    assert "part A: 4 bars" in out


def test_check_of_an_unknown_style_lists_the_styles(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unknown style is reported with all styles and a suggestion."""
    Path("odd.chart").write_text(GOOD.replace("swing", "swong"), encoding="utf-8")

    assert call("check", "odd.chart") == 2
    names = ", ".join(style_files())
    assert (
        f"'swong' is not a style: choose from {names}; did you mean 'swing'?"
        in capsys.readouterr().err
    )


def test_a_meter_that_no_style_plays_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A meter that the style does not play is reported with its line and the styles that do."""
    Path("odd.chart").write_text(GOOD.replace("[A]", "meter: 2/4\n[A]"), encoding="utf-8")

    assert call("check", "odd.chart") == 2
    fits = sorted(name for name, meters in style_meters().items() if Meter(2, 4) in meters)
    assert "two-beat" in fits
    assert capsys.readouterr().err == (
        "odd.chart:5:8: the style swing is played in 4/4, the chart is in 2/4: choose from "
        f"{', '.join(fits)}\n"
    )


def test_a_style_that_does_not_fit_is_told_with_its_chart(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Among many charts, what does not fit one of them says which one."""
    Path("odd.chart").write_text("meter: 2/4\n| C |\n", encoding="utf-8")

    assert call("render", "good.chart", "odd.chart", "--style", "swing", "-o", "takes") == 2
    assert "backing: odd.chart: the style swing is played in 4/4, part A is in 2/4" in (
        capsys.readouterr().err
    )


def test_one_bar_is_a_bar(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A part of one bar is not counted in the plural."""
    Path("one.chart").write_text("| C |\n", encoding="utf-8")

    assert call("check", "one.chart") == 0
    out = capsys.readouterr().out
    assert "form A: 1 bar, " in out
    assert "part A: 1 bar\n" in out


def test_a_tempo_out_of_range_is_a_remark(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A tempo outside the style's usual range is worth a note and no fault."""
    assert call("render", "good.chart", "--tempo", "60") == 0
    assert "swing is usually 100-300 quarter notes a minute; this is 60" in capsys.readouterr().err


def test_check_reads_standard_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A dash is standard input."""
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(GOOD.encode())))

    assert call("check", "-") == 0
    assert "Two Chords" in capsys.readouterr().out


def test_show_in_another_key_and_in_numbers(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The chart is shown in the key asked for, in letters, numbers and Roman numerals."""
    shown = {}
    for options in ((), ("--key", "Gb"), ("--numbers",), ("--roman", "--key", "A")):
        assert call("show", "good.chart", *options) == 0
        shown[options] = capsys.readouterr().out.splitlines()[-1].split()

    assert shown[()] == ["|", "G6", "|", "C9", "|", "D7", "|", "G6", "|"]
    assert shown["--key", "Gb"] == ["|", "Gb6", "|", "Cb9", "|", "Db7", "|", "Gb6", "|"]
    assert shown[("--numbers",)] == ["|", "16", "|", "49", "|", "57", "|", "16", "|"]
    assert shown["--roman", "--key", "A"] == ["|", "I6", "|", "IV9", "|", "V7", "|", "I6", "|"]


def test_show_is_as_wide_as_the_terminal(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a narrow terminal fewer bars stand on a line; no line is wider than it."""
    rows = {}
    for columns in (80, 16, 9):
        monkeypatch.setenv("COLUMNS", str(columns))
        assert call("show", "good.chart") == 0
        rows[columns] = [
            line for line in capsys.readouterr().out.splitlines() if line.startswith("|")
        ]

    assert [len(lines) for lines in rows.values()] == [1, 2, 4]
    assert all(len(line) <= columns for columns, lines in rows.items() for line in lines)


def test_show_refuses_a_key_of_another_mode(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A major chart is not put into a minor key."""
    assert call("show", "good.chart", "--key", "Em") == 2
    assert "the chart is in G, which is major; Em is minor" in capsys.readouterr().err


def test_tidy_aligns_and_keeps_what_is_there(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Tidy rewrites the file in columns; a second time nothing changes."""
    path = Path("rough.chart")
    path.write_bytes(b"key: G\r\n# keep me\r\n[A]\r\n|G-7|C|\r\n|Am7b5|D7 |\r\n")

    assert call("tidy", "rough.chart") == 0
    assert path.read_bytes() == (
        b"key: G\r\n# keep me\r\n[A]\r\n| G-7   | C  |\r\n| Am7b5 | D7 |\r\n"
    )
    assert call("tidy", "rough.chart") == 0
    assert "tidy already" in capsys.readouterr().out


def test_tidy_leaves_a_faulty_chart_alone(folder: Path) -> None:
    """A chart with faults is not touched."""
    assert call("tidy", "bad.chart") == 2
    assert Path("bad.chart").read_text(encoding="utf-8") == BAD


def test_styles_lists_every_style(capsys: pytest.CaptureFixture[str]) -> None:
    """All styles are listed with their tempi, in the beats of their meter."""
    assert call("styles") == 0

    text = capsys.readouterr().out
    assert [name for name in style_files() if f"{name} " not in text] == []
    assert "4/4; quarter notes, 100 to 300 a minute, swing feel" in text
    assert "6/8 12/8; dotted-quarter notes, 96 to 128 a minute, straight feel" in text


def test_render_takes_its_name_from_the_chart(folder: Path) -> None:
    """Without -o the file is named after the chart, beside which we stand."""
    assert call("render", "good.chart") == 0
    assert mido.MidiFile("good.mid").ticks_per_beat == 960


@pytest.mark.parametrize(
    "source, target",
    [("a.chart", "a.chart"), ("a.txt", "./a.txt"), ("a.txt", "a.chart"), ("a.chart", "a.melody")],
)
def test_nothing_that_is_read_is_written_over(
    folder: Path, source: str, target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A rendered file takes the place of no chart or melody, with `--force` neither."""
    for name in ("a.chart", "a.txt", "a.melody"):
        Path(name).write_text("| C |\n", encoding="utf-8")
    assert call("render", source, "-o", target, "--force") == 2
    assert Path(target).name in capsys.readouterr().err
    assert Path(target).read_text(encoding="utf-8") == "| C |\n"


def test_render_does_not_overwrite_without_force(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An existing file is kept without --force; no other file is left behind."""
    Path("take.mid").write_bytes(b"mine")

    assert call("render", "good.chart", "-o", "take.mid") == 2
    assert "take.mid is there already" in capsys.readouterr().err
    assert Path("take.mid").read_bytes() == b"mine"
    assert call("render", "good.chart", "-o", "take.mid", "--force") == 0
    assert Path("take.mid").read_bytes()[:4] == b"MThd"
    assert sorted(path.name for path in folder.iterdir()) == ["bad.chart", "good.chart", "take.mid"]


@pytest.mark.parametrize(
    "options, tracks",
    [
        (["--only", "bass,drums"], ["Bass", "Drums"]),
        (["--without", "chop"], ["Bass", "Drums"]),
        (["--only", "chop", "--count-in", "0"], ["Chop"]),
        (["--only", "chop"], ["Chop", "Drums"]),
    ],
)
def test_who_plays(folder: Path, options: list[str], tracks: list[str]) -> None:
    """Players are left in or out; the count-in stays on the drums' track."""
    assert call("render", "good.chart", *options) == 0
    assert [track.name for track in mido.MidiFile("good.mid").tracks[1:]] == tracks


@pytest.mark.parametrize(
    "options, text",
    [
        (["--only", "bass,flute"], "'flute' is not in the band: choose from bass, chop, drums"),
        (["--only", "bass", "--without", "chop"], "use --only or --without, not both"),
        (["--without", "bass,chop,drums"], "nobody plays"),
        (["--tempo", "9000"], "'9000' is 9000 quarter notes a minute"),
        (["--tempo", "fast"], "'fast' is not a tempo"),
        (["--tempo", "120 bpm"], "'120 bpm' is not a tempo: write 120"),
        (["--key", "H"], "'H' is not a key"),
        (["--key", "D", "--transpose", "2"], "use --key or --transpose, not both"),
        (["--transpose", "99"], "99 semitones: a chart is moved by 24 at most"),
        (["--key", "f#"], "did you mean 'F#'"),
        (["--choruses", "x"], "--choruses x: write a whole number, such as --choruses 4"),
        (["--take", "1.5"], "--take 1.5: write a whole number"),
        (["--transpose", "up"], "--transpose up: write a whole number"),
        (["--count-in", "two"], "--count-in two: write a whole number"),
        (["--looseness", "nan"], "--looseness nan: write a number, such as --looseness 0.5"),
        (["--only", ""], "--only names no player: choose from bass, chop, drums"),
        (["--choruses", "0"], "0 choruses: the band plays 1 to 999"),
        (["--count-in", "-1"], "-1 bars of count-in"),
        (["--looseness", "7"], "a looseness of 7"),
        (["--style", "stroll"], "'stroll' is not a style"),
        (["-o", "no/such/place.mid"], "there is no folder no/such"),
        (["-o", "."], "is a folder"),
    ],
)
def test_wishes_that_cannot_be_met(
    folder: Path, options: list[str], text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """An option that does not fit is a sentence and exit code 2; no file is made."""
    if options == ["-o", "."]:
        options = ["-o", "good.chart/"]
        text = "good.chart"

    assert call("render", "good.chart", *options) == 2
    assert text in capsys.readouterr().err
    assert list(folder.glob("*.mid")) == []


def test_a_folder_is_rendered_whole_and_a_bad_chart_stops_nobody(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every valid chart of a folder becomes a file; with a faulty one the exit code is 2."""
    (folder / "third.chart").write_text(GOOD, encoding="utf-8")

    assert call("render", str(folder), "-o", "takes") == 2
    assert sorted(path.name for path in Path("takes").iterdir()) == ["good.mid", "third.mid"]
    assert "bad.chart:5:11" in capsys.readouterr().err


@pytest.mark.parametrize(
    "arguments, sentence",
    [
        (
            [".", "-o", "one.mid"],
            "one.mid is the name of one file, and there are 2 charts to render: name a folder, "
            "such as -o one/",
        ),
        (
            ["good.chart", "bad.chart", "-o", "-"],
            "standard output takes one file, and there are 2 charts to render: name a folder, such "
            "as -o out/",
        ),
    ],
)
def test_many_charts_want_a_folder(
    folder: Path, arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Several charts are not rendered into one file, and no folder is made by its name."""
    assert call("render", *arguments) == 2
    assert capsys.readouterr().err == f"backing: {sentence}\n"
    assert not Path("one.mid").exists()


def test_more_bars_than_a_file_takes(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file of days is refused before a bar is made, with how many choruses would do."""
    Path("long.chart").write_text("|: C :|x99\n", encoding="utf-8")

    assert call("render", "long.chart", "-n", "999") == 2
    assert capsys.readouterr().err == (
        "backing: long.chart: 999 choruses would be 98,902 bars: at most 6,000 are rendered into "
        "one file; use about --choruses 60\n"
    )


def test_two_charts_of_one_name_are_refused(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two charts with the same file are reported before anything is written."""
    Path("more").mkdir()
    Path("more/good.chart").write_text(GOOD, encoding="utf-8")

    assert call("render", "good.chart", "more", "-o", "takes") == 2
    assert "would both be written to takes/good.mid" in capsys.readouterr().err


def test_a_key_and_the_same_key_by_semitones_are_one(folder: Path) -> None:
    """From G, --key Bb and --transpose 3 give the same file."""
    assert call("render", "good.chart", "-o", "named.mid", "--key", "Bb") == 0
    assert call("render", "good.chart", "-o", "counted.mid", "--transpose", "3") == 0
    assert Path("named.mid").read_bytes() == Path("counted.mid").read_bytes()


@pytest.mark.parametrize(
    "place", ["backing.performance.performance.Performance.bars", "pathlib.Path.replace"]
)
def test_interrupting_leaves_no_half_file(
    place: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Ctrl-C while arranging or while writing leaves the folder as it was and says so."""
    before = sorted(path.name for path in folder.iterdir())

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(place, interrupted)

    assert call("render", "good.chart") == 130
    assert "Traceback" not in capsys.readouterr().err
    assert before == sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize(
    "options, drums", [([], False), (["--with", "drums"], True), (["--only", "drums"], True)]
)
def test_who_sits_out_can_be_called(folder: Path, options: list[str], drums: bool) -> None:
    """The drums of a style that does without are in the file when they are asked for."""
    assert call("render", "good.chart", "--style", "bluegrass", "-o", "x.mid", *options) == 0
    strokes = [
        message
        for track in mido.MidiFile("x.mid").tracks
        for message in track
        if message.type == "note_on" and message.channel == 9 and message.note in (36, 38)
    ]
    assert bool(strokes) == drums
