"""`backing shapes` as a user calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pretty_midi
import pytest

from backing.fretboard.instrument import FOLDER, OWN_FOLDER_VARIABLE, find_instrument
from tests.cli.test_commands import call

INSTRUMENTS = ", ".join(sorted(path.stem for path in FOLDER.glob("*.toml")))
CHART = "key: A\nmeter: 4/4\n[A]\n| B | Bb | A | A |\n[B]\n| A E/G# | B |\n"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Stand in a folder with a chart."""
    monkeypatch.setenv(OWN_FOLDER_VARIABLE, str(tmp_path / "none"))
    monkeypatch.setenv("COLUMNS", "80")
    (tmp_path / "slide.chart").write_text(CHART, encoding="utf-8")
    (tmp_path / "silent.chart").write_text("| N.C. |\n", encoding="utf-8")
    (tmp_path / "G").write_text("no chart", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def shown(capsys: pytest.CaptureFixture[str], *arguments: str) -> list[dict]:
    """Return the shapes that are printed as JSON."""
    assert call("shapes", *arguments, "--json") == 0
    return json.loads(capsys.readouterr().out)["shapes"]


def test_help(capsys: pytest.CaptureFixture[str]) -> None:
    """The help is short and ends with an example."""
    assert call("shapes", "--help") == 0
    text = capsys.readouterr().out
    assert "Example: backing shapes" in text
    assert len(text.splitlines()) < 40


def test_chords_on_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """At most --max diagrams of each chord are printed, within 80 columns."""
    assert call("shapes", "G", "F#7", "--max", "3") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split() == ["G"] * 3 + ["F#7"] * 3
    assert max(map(len, lines)) <= 80


def test_json_has_frets_fingers_and_keys(capsys: pytest.CaptureFixture[str]) -> None:
    """Each shape is printed as JSON, with the pitches that its frets give."""
    found = shown(capsys, "G7", "-i", "guitar", "--voicing", "swing")
    shell = next(each for each in found if each["frets"] == [3, None, 3, 4, None, None])
    assert shell["fingers"] == [1, None, 2, 3, None, None]
    assert shell["keys"] == [43, 53, 59]
    assert shell["left_out"] == ["5"]


def test_options_reach_the_search(capsys: pytest.CaptureFixture[str]) -> None:
    """Reach, strings, frets, open strings and bars are obeyed."""
    every = ["--max", "999"]
    assert max(each["span_mm"] for each in shown(capsys, "G", "--reach", "70", *every)) <= 70
    assert all(None in each["frets"] for each in shown(capsys, "G", "--strings", "3", *every))
    low = shown(capsys, "G", "--frets", "2-5", *every)
    assert all(2 <= fret <= 5 for each in low for fret in each["frets"] if fret is not None)
    assert [0, 0, 2, 3] in [each["frets"] for each in shown(capsys, "G", "--open", *every)]
    for each in shown(capsys, "G", "--no-barre", *every):
        fingers = [finger for finger in each["fingers"] if finger]
        assert len(set(fingers)) == len(fingers)


def test_capo(capsys: pytest.CaptureFixture[str]) -> None:
    """The frets of B at a capo on 2 are those of A, and sound B."""
    plain = shown(capsys, "A", "--frets", "1-9")
    capo = shown(capsys, "B", "--frets", "1-9", "--capo", "2")
    frets = {tuple(each["frets"]): each["keys"] for each in plain}
    common = [each for each in capo if tuple(each["frets"]) in frets]
    assert common
    for each in common:
        assert each["keys"] == [key + 2 for key in frets[tuple(each["frets"])]]


def test_a_chart_shows_each_shape_once_with_its_bars(capsys: pytest.CaptureFixture[str]) -> None:
    """The way through the chart: one closed shape that slides, and where it is used."""
    found = shown(capsys, "slide.chart")
    assert [(each["chord"], tuple(each["bars"])) for each in found] == [
        ("B", (1, 6)),
        ("Bb", (2,)),
        ("A", (3, 4, 5)),
        ("E", (5,)),
    ]
    lowest = [min(each["frets"]) for each in found[:3]]
    assert lowest == [lowest[0], lowest[0] - 1, lowest[0] - 2]


def test_svg_files(capsys: pytest.CaptureFixture[str]) -> None:
    """A file for each diagram, named by chord and frets; none is replaced unasked."""
    arguments = ["shapes", "F#", "G7(b9)", "--max", "1", "--svg", "drawings"]
    assert call(*arguments) == 0
    names = sorted(path.name for path in Path("drawings").iterdir())
    assert names[0].startswith("Fsharp-")
    assert names[1].startswith("G7b9-")
    assert Path("drawings", names[0]).read_text(encoding="utf-8").startswith("<svg ")
    assert call(*arguments) == 2
    assert "is there already" in capsys.readouterr().err
    assert call(*arguments, "--force") == 0


def test_an_instrument_of_ones_own(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file with another scale length: the same shape is wider."""
    text = 'about = "long"\ntuning = ["G3", "D4", "A4", "E5"]\nscale = 400\nfrets = 20\n'
    (folder / "long.toml").write_text(text, encoding="utf-8")
    ours = {str(each["frets"]): each for each in shown(capsys, "G", "--max", "99")}
    theirs = {
        str(each["frets"]): each for each in shown(capsys, "G", "--max", "99", "-i", "long.toml")
    }
    ratio = 400 / find_instrument("mandolin").scale_mm
    both = "[4, 5, 5, 3]"
    assert theirs[both]["span_mm"] == pytest.approx(ours[both]["span_mm"] * ratio, abs=0.1)


@pytest.mark.parametrize(
    "arguments, sentence",
    [
        (["G", "--reach", "0"], "reach 0: a hand reaches 20 to 250 mm"),
        (["G", "--reach", "wide"], "--reach wide: write a number"),
        (["G", "--voicing", "hard"], "'hard' is not a voicing: choose from easy, full, swing"),
        (["G", "--max", "0"], "--max 0: write 1 or more"),
        (["G", "--frets", "7"], "--frets 7: write two frets, such as --frets 1-7"),
        (["G", "--strings", "5"], "5 strings: the mandolin has 4"),
        (["Gmay7"], "'Gmay7' is not a chord"),
        (["G", "-i", "lute"], f"'lute' is not an instrument: choose from {INSTRUMENTS}"),
        (["G", "-i", "none.toml"], "none.toml: there is no such file"),
        (["none.chart"], "none.chart"),
        (["silent.chart"], "silent.chart: it has no chords: there is no shape to show"),
        (["G", "--capo", "99"], "capo 99 will not do: the mandolin takes one capo, from 1 to 15"),
        (["C13", "--reach", "20", "--strings", "4", "--frets", "1-3"], "cannot be held on the"),
    ],
)
def test_faults(arguments: list[str], sentence: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A clear sentence, exit 2, and nothing on standard output."""
    assert call("shapes", *arguments) == 2
    out, err = capsys.readouterr()
    assert sentence in err
    assert out == ""


def test_shapes_above_lengths_and_pickups(capsys: pytest.CaptureFixture[str]) -> None:
    """A length stands close behind its chord, and the pickup of a later part has its shape."""
    text = "key: G\nmeter: 2/4\n[A]\n| G:1/4 C:1/8 D7 | G |\n[B]\n| (pickup 1/8) B7 | Em |\n"
    Path("late.chart").write_text(text, encoding="utf-8")

    assert call("show", "late.chart", "--shapes") == 0
    lines = capsys.readouterr().out.splitlines()
    for start, chords in (("| G", ["G:1/4", "C:1/8", "D7"]), ("| (pickup", ["B7", "Em"])):
        index = next(n for n, line in enumerate(lines) if line.startswith(start))
        above = lines[index - 1]
        for chord in chords:
            place = lines[index].index(f" {chord}") + 1
            assert above[place - 1] == " "
            assert above[place : place + 4].strip().isalnum()


def test_shapes_above_the_chart(capsys: pytest.CaptureFixture[str]) -> None:
    """`show --shapes` has the frets of each chord right above it, in any spelling and key."""
    found = {each["chord"]: each for each in shown(capsys, "slide.chart")}
    frets = {chord: "".join(map(str, each["frets"])) for chord, each in found.items()}
    assert call("show", "slide.chart", "--shapes") == 0
    lines = capsys.readouterr().out.splitlines()
    row = lines.index(next(line for line in lines if line.startswith("| B ")))
    above, below = lines[row - 1], lines[row]
    assert above.split() == [frets[chord] for chord in ("B", "Bb", "A", "A")]
    for shape, chord in zip(above.split(), ("B", "Bb"), strict=False):
        assert above.index(shape) == below.index(f"{chord} ")
    assert call("show", "slide.chart", "--shapes", "--numbers", "--key", "G", "-i", "guitar") == 0
    assert "| 2 " in capsys.readouterr().out


def test_a_chart_is_shown_as_it_is_rendered(capsys: pytest.CaptureFixture[str]) -> None:
    """`shapes CHART` names the very keys that `render` with the same options puts into the file."""
    for options in ([], ["-i", "guitar", "--strings", "4-3-2"], ["--reach", "70", "--key", "Eb"]):
        found = shown(capsys, "slide.chart", *options)
        told = {(bar, frozenset(each["keys"])) for each in found for bar in each["bars"]}
        more = [*options, "-n", "1", "--looseness", "0", "--count-in", "0", "--force"]
        assert call("render", "slide.chart", "-o", "slide.mid", *more) == 0
        capsys.readouterr()
        midi = pretty_midi.PrettyMIDI("slide.mid")
        chop = next(track for track in midi.instruments if track.name == "Chop")
        seconds = 4 * 60 / midi.get_tempo_changes()[1][0]
        strokes: dict[float, set[int]] = {}
        for note in chop.notes:
            strokes.setdefault(round(note.start, 3), set()).add(note.pitch)
        heard = {(int(at / seconds + 1e-3) + 1, frozenset(keys)) for at, keys in strokes.items()}
        assert {each for each in heard if each[0] <= 6} == told


@pytest.mark.parametrize(
    "options, said",
    [
        (["--strings", "4-4"], "strings 4-4: write how many sound, such as 3, or which"),
        (["--strings", "5"], "5 strings: the mandolin has 4"),
        (["--strings", "6-4-3"], "string 6: the mandolin has 4"),
        (["--instrument", "lute"], "'lute' is not an instrument: choose from"),
        (["--reach", "0"], "reach 0: a hand reaches 20 to 250 mm"),
        (["--voicing", "hard"], "'hard' is not a voicing: choose from easy, full, swing"),
        (["--frets", "1-2", "--reach", "20"], "cannot be held on the mandolin"),
    ],
)
@pytest.mark.parametrize("command", [["shapes"], ["render", "-o", "x.mid"], ["show", "--shapes"]])
def test_what_cannot_be_fretted(
    capsys: pytest.CaptureFixture[str], command: list[str], options: list[str], said: str
) -> None:
    """One sentence, exit code 2, and nothing is written."""
    assert call(command[0], "slide.chart", *command[1:], *options) == 2
    assert said in capsys.readouterr().err
    assert not Path("x.mid").exists()
