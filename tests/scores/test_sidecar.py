"""Read invalid melody files: empty, in UTF-16, or damaged MIDI files."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backing.chart.read import read_chart
from backing.errors import ScoreError, reason_of
from backing.scores.musicxml.parse import packed, unpacked
from backing.scores.sidecar import melody_of_bytes

if TYPE_CHECKING:
    from collections.abc import Callable

CHART = read_chart("key: G\n[A]\n| G | C |\n")
TEXT = "# für A\n[A]\n| G4:1 | E4:1 |\n"


def midi() -> bytes:
    """Return a MIDI file with two notes after events of many kinds."""
    file = mido.MidiFile(ticks_per_beat=480)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track += [
        mido.MetaMessage("track_name", name="lead"),
        mido.MetaMessage("key_signature", key="G"),
        mido.MetaMessage("time_signature", numerator=4, denominator=4),
        mido.MetaMessage("smpte_offset"),
        mido.MetaMessage("set_tempo", tempo=500_000),
        mido.Message("sysex", data=[1, 2, 3]),
    ]
    for key in (67, 64):
        track.append(mido.Message("note_on", note=key, velocity=80))
        track.append(mido.Message("note_off", note=key, time=480))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


MIDI = midi()


def fault(data: bytes, name: str) -> str:
    """Return the single error of a melody file."""
    with pytest.raises(ScoreError) as caught:
        melody_of_bytes(data, CHART, name)
    (found,) = caught.value.faults
    return found.sentence(name)


def fault_of(work: Callable[[], object]) -> str:
    """Return the message of a call's `ScoreError`, or ""; raise other exceptions."""
    try:
        work()
    except ScoreError as error:
        return str(error)
    return ""


@pytest.mark.parametrize("text", ["", "\n", "# only words\n\n", "\ufeff", "  \r\n\t"])
def test_an_empty_melody_is_told(text: str) -> None:
    """A melody text without a part is refused."""
    assert "t.melody: there is no melody in it: write a part such as [A], and below it" in (
        fault(text.encode(), "t.melody")
    )


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_a_melody_in_utf_16_is_called_so(encoding: str) -> None:
    """A melody in UTF-16 is handled like a chart in UTF-16."""
    assert (
        fault(TEXT.encode(encoding), "t.melody")
    ) == "t.melody: the text is in UTF-16: save the melody as plain text in UTF-8"


def test_a_melody_in_latin_1_is_told_with_its_place() -> None:
    """The error names line and column of the first byte that is not UTF-8."""
    assert fault(TEXT.encode("latin-1"), "t.melody").startswith(
        "t.melody:1:4: the byte 0xFC is not UTF-8: save"
    )


@pytest.mark.parametrize(
    "data, why",
    [
        (b"", "it is not a MIDI file (it is empty)"),
        (b"RIFF", "it is not a MIDI file (it does not begin with MThd, as they all do)"),
        (TEXT.encode(), "it is not a MIDI file (it does not begin with MThd, as they all do)"),
        (MIDI[:4], "it is a damaged MIDI file (it ends too early)"),
        (MIDI[:-3], "it is a damaged MIDI file (it ends too early)"),
        (MIDI.replace(b"\x59\x02\x01", b"\x59\x02\x55"), "it is a damaged MIDI file (Could not"),
    ],
)
def test_why_a_file_is_no_midi_file(data: bytes, why: str) -> None:
    """The error of a damaged MIDI file gives the reason."""
    assert fault(data, "t.mid").startswith(f"t.mid: {why}")


@given(st.data())
def test_a_damaged_midi_file_is_a_melody_or_a_fault_with_a_reason(data: st.DataObject) -> None:
    """A MIDI file with changed or missing bytes is read or refused with a reason."""
    spoilt = bytearray(MIDI[: data.draw(st.integers(0, len(MIDI)))])
    for _ in range(data.draw(st.integers(0, 3))):
        if spoilt:
            spoilt[data.draw(st.integers(0, len(spoilt) - 1))] = data.draw(st.integers(0, 255))
    found = fault_of(lambda: melody_of_bytes(bytes(spoilt), CHART, "t.mid"))
    reason = re.search(r"MIDI file \((.*?)\)", found)
    assert "MIDI file: " not in found.partition(": name")[0]
    assert reason is None or len(reason[1].split()) > 2


@given(st.integers(0, 400), st.binary(min_size=1, max_size=3))
def test_a_damaged_archive_has_a_reason(at: int, other: bytes) -> None:
    """The error of a damaged compressed score gives a reason, whatever the library raises."""
    data = bytearray(packed(b"<score-partwise/>" * 20))
    at %= len(data)
    data[at : at + len(other)] = other
    found = fault_of(lambda: unpacked(bytes(data), "t.mxl"))
    assert "()" not in found


@pytest.mark.parametrize("error", [EOFError(), OSError(), ValueError(), OSError(5, "")])
def test_an_error_that_says_nothing_has_words(error: Exception) -> None:
    """Its name at least."""
    assert reason_of(error).strip()
