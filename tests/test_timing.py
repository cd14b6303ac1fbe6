"""Meters, tempi, ticks and seconds, compared with mido."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.errors import SymbolError
from backing.timing import (
    TICKS_PER_QUARTER,
    UNITS,
    Meter,
    Tempo,
    microseconds_a_quarter,
    seconds_to_ticks,
    ticks_to_seconds,
)

bpms = st.floats(20, 500)


# Common practice, no source: 6/8, 9/8 and 12/8 are counted in dotted quarters.
@pytest.mark.parametrize(
    "text, quarters, beats, quarters_a_beat",
    [
        ("4/4", 4, 4, 1),
        ("3/4", 3, 3, 1),
        ("2/4", 2, 2, 1),
        ("5/4", 5, 5, 1),
        ("2/2", 4, 2, 2),
        ("3/2", 6, 3, 2),
        ("6/8", 3, 2, 1.5),
        ("9/8", 4.5, 3, 1.5),
        ("12/8", 6, 4, 1.5),
        ("3/8", 1.5, 3, 0.5),
        ("5/8", 2.5, 5, 0.5),
        ("7/8", 3.5, 7, 0.5),
        ("6/4", 6, 6, 1),
        ("6/16", 1.5, 2, 0.75),
        ("32/16", 8, 32, 0.25),
        ("1/4", 1, 1, 1),
    ],
)
def test_meters(text: str, quarters: float, beats: int, quarters_a_beat: float) -> None:
    """A meter has its length in quarters and its beats, and prints as written."""
    meter = Meter.parse(text)
    assert quarters * TICKS_PER_QUARTER == meter.bar_ticks
    assert [beats, quarters_a_beat * TICKS_PER_QUARTER] == [meter.beats, meter.beat_ticks]
    assert text == str(meter)


@given(count=st.integers(1, 32), unit=st.sampled_from([2, 4, 8, 16]))
def test_beats_fill_the_bar(count: int, unit: int) -> None:
    """The text of every meter reads as the meter, and its beats fill its bar."""
    meter = Meter.parse(f" {count}/{unit} ")
    assert Meter(count, unit) == meter
    assert meter.bar_ticks == meter.beats * meter.beat_ticks
    assert meter.bar_ticks * unit == count * 4 * TICKS_PER_QUARTER


@pytest.mark.parametrize(
    "text", ["", "4", "4/", "/4", "0/4", "33/4", "100/4", "4/3", "4/32", "4/1", "C", "4 / 4", "٤/4"]
)
def test_meters_that_are_none(text: str) -> None:
    """A meter is a count from 1 to 32 over 2, 4, 8 or 16."""
    with pytest.raises(SymbolError, match=f"^'{text}' is not a meter: write a count from 1 to 32"):
        Meter.parse(text)


# Note values: common practice, no source (a dot adds half, a half note is two quarters).
@pytest.mark.parametrize(
    "text, quarter_bpm, written",
    [
        ("200", 200, "200"),
        ("92.5", 92.5, "92.5"),
        (" 120 ", 120, "120"),
        ("quarter=120", 120, "120"),
        ("half=116", 232, "half=116"),
        ("dotted-half=60", 180, "dotted-half=60"),
        ("dotted-quarter=116", 174, "dotted-quarter=116"),
        ("dotted-quarter = 80", 120, "dotted-quarter=80"),
        ("eighth=240", 120, "eighth=240"),
        ("dotted-eighth=80", 60, "dotted-eighth=80"),
        ("20", 20, "20"),
        ("500", 500, "500"),
        ("eighth=1000", 500, "eighth=1000"),
        ("half=10", 20, "half=10"),
    ],
)
def test_tempi(text: str, quarter_bpm: float, written: str) -> None:
    """A tempo counts quarter notes, or the note that it names."""
    tempo = Tempo.parse(text)
    assert [quarter_bpm, written] == [tempo.quarter_bpm, str(tempo)]


# A compound meter is counted in three of its lower figure, any other in its lower figure (common
# practice, no source).
@pytest.mark.parametrize(
    "meter, beat",
    [
        ("4/4", "quarter"), ("3/4", "quarter"), ("2/4", "quarter"), ("5/4", "quarter"),
        ("2/2", "half"), ("3/2", "half"), ("6/4", "quarter"),
        ("6/8", "dotted-quarter"), ("9/8", "dotted-quarter"), ("12/8", "dotted-quarter"),
        ("3/8", "eighth"), ("5/8", "eighth"), ("7/8", "eighth"), ("6/16", "dotted-eighth"),
    ],
)  # fmt: skip
def test_the_beat_of_a_meter(meter: str, beat: str) -> None:
    """The beat has the length of its note."""
    found = Meter.parse(meter)
    assert beat == found.beat
    assert found.beat_ticks == UNITS[beat].quarters * TICKS_PER_QUARTER


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("number", ["60", "112", "7.5", "92.125"])
def test_a_bare_number_counts_the_unit_it_is_read_in(unit: str, number: str) -> None:
    """A bare number counts the given unit, another its note; both texts read back."""
    if not 20 <= float(number) * UNITS[unit].quarters <= 500:
        return
    bare = Tempo.parse(number, unit)
    named = Tempo.parse(f"{unit}={number}", "half")
    assert bare == named == Tempo(float(number), unit)
    for beat in UNITS:
        assert bare == Tempo.parse(bare.plain(beat), beat)


def test_a_bare_number_of_quarters_is_told_so() -> None:
    """The fault of a number that is valid only in quarter notes says how to write those."""
    with pytest.raises(
        SymbolError,
        match=r"tempo '260' is 260 half .* 10 to 250 half .*; a bare .* write quarter=260",
    ):
        Tempo.parse("260", "half")


@given(thousandths=st.integers(20_000, 500_000))
def test_tempi_read_back(thousandths: int) -> None:
    """A tempo with up to three decimals is written and read without loss."""
    tempo = Tempo.parse(f"{thousandths / 1000:.3f}")
    assert thousandths / 1000 == tempo.bpm
    assert tempo == Tempo.parse(str(tempo))


@pytest.mark.parametrize(
    "text, sentence",
    [
        ("", "'' is not a tempo: write beats a minute, such as 200"),
        ("fast", "'fast' is not a tempo: write beats a minute"),
        ("-120", "'-120' is not a tempo: write 120"),
        ("1e2", "'1e2' is not a tempo: write beats a minute"),
        ("nan", "'nan' is not a tempo: write beats a minute"),
        ("120.", "'120.' is not a tempo: write 120"),
        ("120 bpm", "'120 bpm' is not a tempo: write 120"),
        ("halves=60", "'halves=60' is not a tempo: .* (notes: eighth, dotted-eighth, quarter, "
         "dotted-quarter, half, dotted-half)"),
        ("half=", "'half=' is not a tempo: write beats a minute"),
        ("19.9", "tempo '19.9' is 19.9 quarter notes a minute: the band plays from 20 to 500"),
        ("500.1", "tempo '500.1' is 500.1 quarter notes a minute: the band plays from 20 to 500"),
        ("0", "tempo '0' is 0 quarter notes a minute: the band plays from 20 to 500"),
        ("half=251", "tempo 'half=251' is 251 half notes a minute: the band plays from 10 to 250 "
         "half notes a minute"),
        ("dotted-quarter=13", "tempo 'dotted-quarter=13' is 13 dotted quarter notes a minute: the "
         "band plays from 14 to 333 dotted quarter notes a minute"),
        ("9999", "tempo '9999' is 9999 quarter notes a minute: the band plays from 20 to 500"),
    ],
)  # fmt: skip
def test_tempi_that_are_none(text: str, sentence: str) -> None:
    """A tempo is a plain number within the range of the band, or a known note and its number."""
    pattern = sentence.replace("(", r"\(").replace(")", r"\)")
    with pytest.raises(SymbolError, match=f"^{pattern}"):
        Tempo.parse(text)


@pytest.mark.parametrize(
    "bpm, event",
    [(120, "FF 51 03 07 A1 20"), (60, "FF 51 03 0F 42 40"), (240, "FF 51 03 03 D0 90")],
)
def test_tempo_events(bpm: float, event: str) -> None:
    """A tempo event carries 60,000,000 / bpm in three bytes (Standard MIDI File 1.0).

    120 -> 07 A1 20 is the standard's own; half and double of it are arithmetic.
    """
    message = mido.MetaMessage("set_tempo", tempo=microseconds_a_quarter(bpm))
    assert event == " ".join(f"{byte:02X}" for byte in message.bytes())


@given(bpm=bpms)
def test_microseconds_equal_mido(bpm: float) -> None:
    """Every tempo of the band fits the three bytes and is the number that mido computes."""
    assert mido.bpm2tempo(bpm) == microseconds_a_quarter(bpm)
    assert 0 < microseconds_a_quarter(bpm) < 2**24


@given(ticks=st.integers(0, 10**7), tempo=st.integers(120_000, 3_000_000))
def test_seconds_equal_mido(ticks: int, tempo: int) -> None:
    """At a steady tempo, ticks have mido's seconds, and seconds convert back."""
    bpm = 60_000_000 / tempo
    seconds = ticks_to_seconds(ticks, bpm)
    assert mido.tick2second(ticks, TICKS_PER_QUARTER, tempo) == pytest.approx(seconds, rel=1e-12)
    assert ticks == pytest.approx(seconds_to_ticks(seconds, bpm), rel=1e-12)
