"""Outside checks of MusicXML: the schema of MusicXML 4.0, and music21 as an independent reader.

The schema is the W3C's, as the package `musicxml` carries it; only that file of it is used.
"""

from __future__ import annotations

import warnings
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples
from test_musicxml_round_trip import BETWEEN, DEMOS, TUNE, _with_jumps, charts, melodies
from xml_score import note, score

from backing.chart.read import read_chart
from backing.errors import ScoreError
from backing.scores.abc.read import read_abc
from backing.scores.from_chart import from_chart
from backing.scores.musicxml import read_musicxml, write_musicxml
from backing.scores.tune import Tune

if TYPE_CHECKING:
    from backing.scores.tune import TuneBar

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def schema() -> Any:
    """Return the schema, loaded without external files."""
    import xmlschema

    carrier, own = find_spec("musicxml"), Path(xmlschema.__file__).parent
    assert carrier is not None
    assert carrier.origin is not None
    folder = Path(carrier.origin).parent / "generate_classes"
    places = {
        "http://www.w3.org/XML/1998/namespace": str(folder / "xml.xsd"),
        "http://www.w3.org/1999/xlink": str(own / "schemas" / "XLINK" / "xlink.xsd"),
    }
    path = str(folder / "musicxml_4_0.xsd")
    return xmlschema.XMLSchema(path, locations=places, allow="local")


def _body(data: bytes) -> str:
    """Return a score without its document type declaration."""
    return data.decode().split("\n", 2)[2]


def test_the_schema_is_of_version_4(schema: Any) -> None:
    """The schema accepts elements new in 4.0 and refuses elements in a wrong order."""
    good = score(note("C4"))
    assert "numeral" in schema.maps.groups["harmony-chord"].tostring()
    assert schema.is_valid(good.decode().split("?>", 1)[1])
    wrong = score("<note><duration>1</duration><rest/></note>")
    assert not schema.is_valid(wrong.decode().split("?>", 1)[1])


@pytest.mark.parametrize("path", DEMOS[::4], ids=lambda path: path.stem)
def test_demos_are_valid(path: Path, schema: Any) -> None:
    """Written demo charts are valid."""
    chart = read_chart(path.read_text(encoding="utf-8"), path.name)
    schema.validate(_body(write_musicxml(from_chart(chart))))


@given(st.data())
@examples(6)
def test_any_tune_is_valid(schema: Any, data: st.DataObject) -> None:
    """Any written chart and melody are valid."""
    chart = data.draw(charts())
    tune = _with_jumps(data, from_chart(chart, data.draw(melodies(chart))))
    schema.validate(_body(write_musicxml(tune)))


def _music21(data: bytes | Path) -> Any:
    import music21

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if isinstance(data, Path):
            return music21.converter.parse(data)
        return music21.converter.parse(data.decode(), format="musicxml")


def _theirs(
    measure: Any,
) -> tuple[list[tuple[float, int]], list[tuple[float, str, frozenset[int]]]]:
    """Return notes (offset, key) and chords (offset, bass, pitch classes) of a measure."""
    import music21

    notes, chords = [], []
    for each in measure.recurse().notes:
        offset = float(each.getOffsetInHierarchy(measure))
        if isinstance(each, music21.harmony.NoChord):
            chords.append((offset, "N.C.", frozenset()))
        elif isinstance(each, music21.harmony.ChordSymbol):
            pitches = frozenset(pitch.pitchClass for pitch in each.pitches)
            chords.append((offset, each.bass().name.replace("-", "b"), pitches))
        elif not each.duration.isGrace and (each.tie is None or each.tie.type == "start"):
            notes += [(offset, pitch.midi) for pitch in each.pitches]
    return sorted(notes), chords


def _ours(bar: TuneBar) -> tuple[list[tuple[float, int]], list[tuple[float, str, frozenset[int]]]]:
    notes = [(note.tick / 960, note.pitch.key) for note in bar.notes]
    chords = [
        (sign.tick / 960, str(sign.chord.lowest),
         sign.chord.pitch_classes | {sign.chord.lowest.pitch_class})
        if sign.chord else (sign.tick / 960, "N.C.", frozenset())
        for sign in bar.chords
    ]  # fmt: skip
    return sorted(notes), chords


def test_what_we_write_is_read_by_music21() -> None:
    """music21 reads the same bars, chords and melody from a written tune."""
    (tune,) = read_abc(TUNE.encode())
    assert isinstance(tune, Tune)
    measures = _music21(write_musicxml(tune)).parts[0].getElementsByClass("Measure")

    assert len(measures) == len(tune.bars)
    tied: set[int] = set()
    for bar, measure in zip(tune.bars, measures, strict=True):
        ours = _ours(bar)
        begun = [each for each in ours[0] if each[0] or each[1] not in tied]
        assert (begun, ours[1]) == _theirs(measure)
        tied = {each.pitch.key for each in bar.notes if each.tied}


@pytest.mark.parametrize(
    "text",
    [*(path.read_text(encoding="utf-8") for path in DEMOS), BETWEEN],
    ids=[*(path.stem for path in DEMOS), "between beats"],
)
def test_charts_that_we_write_are_read_by_music21(text: str) -> None:
    """music21 reads every chord of the demos at its beat, with its notes and bass."""
    tune = from_chart(read_chart(text, "t"))
    data = write_musicxml(tune)
    measures = _music21(data).parts[0].getElementsByClass("Measure")
    bars = read_musicxml(data).bars

    assert [_theirs(measure)[1] for measure in measures] == [_ours(bar)[1] for bar in bars]


NOT_ALIKE = {
    "corpus/demos/ComprehensiveChordSymbolsTestFile.mxl": {
        11: "minor-major is no kind: we take it as what is meant, music21 as the root alone",
        52: "no fifth: we have no such chord and take C, reported",
        53: "no third: we take C7, reported",
        54: "two changes in one degree: music21 makes the first of both",
        55: "Neapolitan: Db/F here; music21 has C Db E Gb, which is no Neapolitan sixth",
        56: "tristan in small letters: Fm7b5 here, music21 takes the root alone",
        57: "Italian sixth: Ab7 here, with the fifth that our table cannot leave out",
    },
    "musicxml/lilypondTestSuite/71f-AllChordTypes.xml": {
        7: "the four functional sixths: as above; the same notes but for the bass and its fifth",
        8: "pedal and other: C5 and C here, reported; music21 takes the root alone",
        10: "no root but a sixth: Caug here, reported; music21 keeps the root too",
    },
}
"""Measures in which music21 reads other chords, and why."""

CHORD_FILES = {
    "corpus/demos/ComprehensiveChordSymbolsTestFile.mxl": (9, 50, 57),
    "corpus/leadSheet/*.mxl": (226, 59, 59),
    "corpus/demos/chord_realization_exercise.mxl": (21, 5, 5),
    "musicxml/lilypondTestSuite/71f-AllChordTypes.xml": (37, 31, 38),
    "musicxml/lilypondTestSuite/71a-Chordnames.xml": (8, 8, 8),
    "musicxml/testChordOffset.xml": (4, 6, 6),
    "musicxml/testNC.xml": (8, 5, 5),
}
"""Notes, chords that are the same (beat, bass, pitch classes), and all chords of some files."""


def _folder() -> Path:
    import music21

    return Path(music21.__file__).parent


@pytest.mark.parametrize("names", CHORD_FILES)
def test_files_with_chords(names: str) -> None:
    """Notes and chords of music21's files are the same by both readers, except those listed."""
    counts = [_compared(path, NOT_ALIKE.get(names, {})) for path in _folder().glob(names)]

    assert tuple(map(sum, zip(*counts, strict=True))) == CHORD_FILES[names]


def _compared(path: Path, apart: dict[int, str]) -> tuple[int, int, int]:
    """Return how many notes a file has, how many chords are the same, and how many there are."""
    tune = read_musicxml(path.read_bytes(), path.name)
    measures = _music21(path).parts[0].getElementsByClass("Measure")
    notes = same = chords = 0
    tied: set[int] = set()
    for number, (bar, measure) in enumerate(zip(tune.bars, measures, strict=True), 1):
        ours, theirs = _ours(bar), _theirs(measure)
        assert [each for each in ours[0] if each[0] or each[1] not in tied] == theirs[0]
        tied = {each.pitch.key for each in bar.notes if each.tied}
        alike = sum(each in ours[1] for each in theirs[1])
        assert (alike < len(theirs[1])) == (number in apart), bar.place
        notes, same, chords = notes + len(theirs[0]), same + alike, chords + len(theirs[1])
    return notes, same, chords


def _melodies(name: str) -> tuple[list[list[tuple[float, int]]], list[list[tuple[float, int]]]]:
    """Return the notes of each measure of a file's first part, by us and by music21."""
    path = _folder() / name
    tune = read_musicxml(path.read_bytes(), path.name)
    part = _music21(path).parts[0].toSoundingPitch()
    ours: list[list[tuple[float, int]]] = []
    tied: set[int] = set()
    for bar in tune.bars:
        ours.append([each for each in _ours(bar)[0] if each[0] or each[1] not in tied])
        tied = {each.pitch.key for each in bar.notes if each.tied}
    return ours, [_theirs(measure)[0] for measure in part.getElementsByClass("Measure")]


EXCLUSIVE = {
    "01d-Pitches-Microtones": "between half-steps we go to the nearer natural",
    "01f-Pitches-EditorialMicrotoneAccidentals": "between half-steps",
    "32c-MultipleNotationChildren": "between half-steps",
    "02e-Rests-NoType": "a second voice", "03b-Rhythm-Backup": "a second voice",
    "42a-MultiVoice-TwoVoicesOnStaff-Lyrics": "a second voice",
    "43d-MultiStaff-StaffChange": "a voice over two staves, which music21 parts",
    "46e-PickupMeasure-SecondVoiceStartsLater": "a second voice",
    "71d-ChordsFrets-Multistaff": "a second voice",
    "03ab-Rhythm-Durations": "a meter of 2/64, refused",
    "22a-Noteheads": "slashes are no notes",
    "22b-Staff-Notestyles": "slashes", "22c-Noteheads-Chords": "slashes",
    "21f-Chord-ElementInBetween": "a dynamic inside a chord, which music21 takes apart",
    "23a-Tuplets": "sevenths are whole ticks here",
    "23b-Tuplets-Styles": "seventeenths are whole ticks here",
    "33i-Ties-NotEnded": "a tie to nothing goes on to the same note in the next bar here",
}  # fmt: skip
"""Files of the suite in which music21 reads other notes, and why."""


def _alike(name: str) -> bool:
    if name == "03ab-Rhythm-Durations":
        with pytest.raises(ScoreError, match=r"measure 2: a meter of '2 64' is not played here"):
            _melodies(f"musicxml/lilypondTestSuite/{name}.xml")
        return False
    ours, theirs = _melodies(f"musicxml/lilypondTestSuite/{name}.xml")
    return ours == theirs


def _suite() -> list[str]:
    """Return the names of the suite's files about notes."""
    return sorted(path.stem for path in (_folder() / "musicxml/lilypondTestSuite").glob("*.xml"))


def test_melodies_of_a_suite() -> None:
    """music21 reads the same keys at the same beats in all 142 files except those listed."""
    apart = {name for name in _suite() if not _alike(name)}
    assert apart == set(EXCLUSIVE)
