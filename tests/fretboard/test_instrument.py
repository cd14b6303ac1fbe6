"""Instruments: the figures of the included ones, the user's own, and every fault's message."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from backing.errors import Diagnostic, InstrumentError, SettingsError
from backing.fretboard.instrument import (
    FIGURES,
    FOLDER,
    OWN_FOLDER_VARIABLE,
    find_instrument,
    read_instrument,
)

GOOD = """\
about = "a test"
tuning = ["G3", "D4", "A4", "E5"]
scale = 350
frets = 20
"""

OURS = sorted(path.stem for path in FOLDER.glob("*.toml"))
README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")

# reference: tunings and scale lengths from memory.
TUNINGS = {
    "mandolin": (55, 62, 69, 76),
    "guitar": (40, 45, 50, 55, 59, 64),
    "tenor-banjo": (48, 55, 62, 69),
    "ukulele": (67, 60, 64, 69),
    "octave-mandolin": (43, 50, 57, 64),
    "mandola": (48, 55, 62, 69),
    "mandocello": (36, 43, 50, 57),
    "tenor-guitar": (48, 55, 62, 69),
}


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty folder of the user's own instruments."""
    monkeypatch.setenv(OWN_FOLDER_VARIABLE, str(tmp_path))
    return tmp_path


@pytest.mark.parametrize("name", OURS)
def test_ours(name: str) -> None:
    """Each file is tuned as its instrument is tuned, and the README names it."""
    assert name in TUNINGS, f"TUNINGS lacks {name}: write its tuning as it is published"
    assert find_instrument(name).strings == TUNINGS[name]
    assert f"`{name}`" in README, f"README.md, --instrument: {name} is missing"


def test_none_is_lost() -> None:
    """Every tuning above has its file."""
    assert set(TUNINGS) <= set(OURS)


# Source: "The Mandolin Family of Instruments", banjolin.co.uk, its table of scale lengths in mm;
# what is called octave mandolin here is its tenor or octave mandola, tuned as a mandolin.
SCALES = {
    "mandolin": (330, 380),
    "mandola": (400, 480),
    "octave-mandolin": (480, 600),
    "mandocello": (600, 680),
}


@pytest.mark.parametrize("name", SCALES)
def test_the_mandolin_family_is_as_long_as_it_is_made(name: str) -> None:
    """The scale of each lies in its makers' range."""
    least, most = SCALES[name]
    assert least <= find_instrument(name).scale_mm <= most


@pytest.mark.parametrize("name", OURS)
def test_every_figure_has_its_source(name: str) -> None:
    """Each figure of the included instruments names its source."""
    sources = zip(FIGURES, find_instrument(name).sources, strict=True)
    lacking = [figure for figure, source in sources if not source]
    assert not lacking, f"{name}.toml, [source]: where {lacking} comes from is missing"


def test_frets_in_millimetres() -> None:
    """Equal temperament: the octave halves the string; stretches that players meet."""
    mandolin, guitar = find_instrument("mandolin"), find_instrument("guitar")
    assert mandolin.fret_mm(0) == 0
    assert mandolin.fret_mm(12) == pytest.approx(352.4 / 2)
    assert mandolin.fret_mm(7) - mandolin.fret_mm(2) == pytest.approx(78.8, abs=0.05)
    assert mandolin.fret_mm(6) - mandolin.fret_mm(1) == pytest.approx(83.4, abs=0.05)
    assert guitar.fret_mm(4) - guitar.fret_mm(1) == pytest.approx(97.3, abs=0.05)


@pytest.mark.parametrize("name", TUNINGS)
def test_re_entrant_is_what_a_string_above_the_next_makes_it(name: str) -> None:
    """The fourth string of the ukulele, above its third, does."""
    rises = all(one < next_one for one, next_one in pairwise(TUNINGS[name]))
    assert find_instrument(name).re_entrant == (not rises)


def test_a_capo_shortens_and_raises() -> None:
    """A capo at 2 leaves the frets in place and raises every pitch by a tone."""
    bare, capo = find_instrument("guitar"), find_instrument("guitar", capo=2)
    assert capo.strings == tuple(key + 2 for key in bare.strings)
    assert capo.frets == bare.frets - 2
    for fret in range(1, capo.frets + 1):
        there = bare.fret_mm(fret + 2) - bare.fret_mm(2)
        assert capo.fret_mm(fret) == pytest.approx(there, abs=0.01)


@pytest.mark.parametrize("capo", [-1, 16, 99])
def test_a_capo_off_the_neck(capo: int) -> None:
    """A capo needs some frets above it."""
    with pytest.raises(SettingsError, match=r"capo -?\d+ will not do: the mandolin .* 1 to 15"):
        find_instrument("mandolin", capo=capo)


def test_unknown_instrument() -> None:
    """An unknown instrument is refused; the message lists those there are, and a guess."""
    with pytest.raises(SettingsError, match=r"'mandolyn' is not an .*did you mean 'mandolin'"):
        find_instrument("mandolyn")


def test_own_file_by_path_and_by_name(folder: Path) -> None:
    """The user's file is found by its path, or by its name in the user's folder, before ours."""
    path = folder / "mandolin.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert find_instrument(str(path)).scale_mm == 350
    assert find_instrument("mandolin").scale_mm == 350
    path.write_text(GOOD.replace("350", "340"), encoding="utf-8")
    assert find_instrument("mandolin").scale_mm == 340


@pytest.mark.parametrize(
    "old, new, sentence",
    [
        ('"G3"', '"H3"', r":2: tuning: 'H3' is not a note: write a note and its octave"),
        ('"G3", ', '"G3", 3, ', r":2: tuning: .* is no tuning: write notes"),
        (', "D4", "A4", "E5"', "", r":2: tuning: 1 strings: an instrument has 2 to 8"),
        ('"A4"', '"A9"', r":2: tuning: D4 and A9 side by side: .*two octaves"),
        ('"A4"', '"A3"', r":2: tuning: a string is no higher .*: write re-entrant = true"),
        ("frets", "re-entrant = true\nfrets", r":2: re-entrant: each string is higher"),
        ("350", "0", r":3: scale: 0 will not do: write a number from 150 to 1200"),
        ("350", "nan", r":3: scale: nan will not do"),
        ("20", "2.5", r":4: frets: 2\.5 will not do: write a whole number from 5 to 36"),
        ("frets = 20\n", "", r": frets is missing: write it here"),
        ("frets", "fretts", r":4: fretts is not a key of an instrument.*mean 'frets'"),
        ("frets", "courses = 9\nfrets", r":4: courses: 9 will not do"),
        ("350", "[", r":4:1: Invalid value: an instrument is a TOML file; correct this"),
    ],
)
def test_faults(old: str, new: str, sentence: str) -> None:
    """Every fault has its line, what was found and what is allowed."""
    with pytest.raises(InstrumentError, match=f"{sentence}") as caught:
        read_instrument(GOOD.replace(old, new, 1), "own", "own.toml")
    assert len(caught.value.faults) == 1


WHOLE = (
    GOOD.replace('"G3", "D4"', '"G4", "D4"')
    + 'courses = 2\nre-entrant = true\n[source]\ntuning = "by hand"\n'
)
"""A file with every key; a string is lower than the one before it."""


@pytest.mark.parametrize("key", ["about", "tuning", "scale", "frets", "courses", "re-entrant"])
@pytest.mark.parametrize("mistake", ["misspelt", "missing", "true", "0", '"x"', "[]", '["H1"]'])
def test_one_mistake_is_told_once(key: str, mistake: str) -> None:
    """A fault causes no follow-on faults."""
    line = next(each for each in WHOLE.splitlines() if each.startswith(f"{key} = "))
    value = line.partition(" = ")[2]
    changed = {
        "misspelt": f"{key[:2]}{key[3:]} = {value}",
        "missing": "",
    }.get(mistake, f"{key} = {mistake}")
    faults: tuple[Diagnostic, ...] = ()
    try:
        read_instrument(WHOLE.replace(line, changed), "own", "own.toml")
    except InstrumentError as error:
        faults = error.faults
    fine = {("courses", "missing"), ("re-entrant", "true"), ("about", '"x"')}
    assert [0 if (key, mistake) in fine else 1] == [len(faults)], faults


def test_two_mistakes_are_told_at_once() -> None:
    """A key with a fault hides no other."""
    text = WHOLE.replace("350", "1").replace("frets", "fretz").replace("courses = 2", "courses = 9")
    with pytest.raises(InstrumentError) as caught:
        read_instrument(text, "own", "own.toml")
    assert [each.line for each in caught.value.faults] == [3, 4, 5]


def test_notes_above_all_keys() -> None:
    """A tuning whose frets leave the range of MIDI is refused."""
    text = GOOD.replace('"G3", "D4", "A4", "E5"', '"C8", "G8"')
    with pytest.raises(InstrumentError, match=r":4: the highest fret is above G9: tune lower"):
        read_instrument(text, "own", "own.toml")


def test_a_file_that_is_not_there(folder: Path) -> None:
    """The message about a missing file has its path."""
    with pytest.raises(InstrumentError, match=r"none\.toml: there is no such file: check"):
        find_instrument(str(folder / "none.toml"))


def test_a_file_that_is_no_text(folder: Path) -> None:
    """The message about a file that is not UTF-8 has its path."""
    (folder / "latin.toml").write_bytes(b'about = "\xe9"')
    with pytest.raises(InstrumentError, match=r"latin\.toml:1:10: the byte 0xE9 is not UTF-8"):
        find_instrument("latin")
