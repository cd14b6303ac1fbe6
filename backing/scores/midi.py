"""Reads the melody of a chart from a Standard MIDI File."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from backing.chart.melody import Melody, MelodyNote, MelodyPart, one_line
from backing.chart.sequence import once_round
from backing.errors import ScoreError, reason_of
from backing.harmony.pitch import NoteName, Pitch
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    import mido

    from backing.chart.model import Chart
    from backing.harmony.key import Key

_MOST_NOTES = 100_000


def melody_of_midi(data: bytes, chart: Chart, source: str) -> Melody:
    """Return the melody of a chart from a MIDI file that plays the form once.

    The melody is the first track with notes. Its time 0 is the first bar of the form, or its
    pickup. Starts and ends are rounded to the nearest sixteenth or triplet eighth. A bar that is
    played several times has the notes of its first time.

    Args:
        data: the bytes of the file.
        chart: the chart.
        source: the file's name, for error messages.

    Raises:
        ScoreError: when it is not a MIDI file, has no notes, or has notes after the form.

    """
    notes = [
        (_near(start), max(_near(end), _near(start) + TICKS_PER_QUARTER // 4), key)
        for start, end, key in _first_track(data, source)
    ]
    bars: dict[str, list[tuple[MelodyNote, ...]]] = {
        part.name: [()] * sum(1 for _ in part.written()) for part in chart.parts
    }
    taken: set[tuple[str, int]] = set()
    start = 0
    for bar in once_round(chart):
        assert bar.origin  # an intro is not in it
        index = bar.origin.written
        end = start + bar.bar.ticks
        if (bar.part, index) not in taken:
            taken.add((bar.part, index))
            bars[bar.part][index] = one_line(list(_between(notes, start, end, bar.key)))
        start = end
    _refuse_more(notes, start, source)
    return Melody(tuple(MelodyPart(name, tuple(each)) for name, each in bars.items()))


def _refuse_more(notes: list[tuple[int, int, int]], end: int, source: str) -> None:
    """Check that no note begins after the form: in a count-in, more choruses or another tune.

    Raises:
        ScoreError: when one does.
    """
    late = [begin for begin, _, _ in notes if begin >= end]
    if late:
        raise ScoreError.of(
            source,
            f"{len(late)} of its notes begin after the form's last bar",
            "name a file of the tune once round, whose first bar is the form's first, without a "
            "count-in",
        )


def _near(tick: int) -> int:
    sixteenth, triplet = TICKS_PER_QUARTER // 4, TICKS_PER_QUARTER // 3
    grids = ((tick + grid // 2) // grid * grid for grid in (sixteenth, triplet))
    return min(grids, key=lambda each: abs(each - tick))


def _between(
    notes: list[tuple[int, int, int]], start: int, end: int, key: Key
) -> Iterator[MelodyNote]:
    for low, high, midi_key in notes:
        first, last = max(low, start), min(high, end)
        if first < last:
            yield MelodyNote(first - start, last - first, _named(midi_key, key), tied=high > end)


def _named(midi_key: int, key: Key) -> Pitch:
    """Return the pitch of a MIDI key, spelled as near to a key as the line of fifths allows."""
    middle = key.signature + 2
    names = (NoteName(fifths) for fifths in range(-8, 13) if fifths * 7 % 12 == midi_key % 12)
    return Pitch.of(min(names, key=lambda each: abs(each.fifths - middle)), midi_key)


def _parsed(data: bytes, source: str) -> mido.MidiFile:
    """Return the parsed file.

    Raises:
        ScoreError: when it is not a MIDI file, or a damaged one.

    """
    import mido
    from mido.midifiles.meta import KeySignatureError

    if data[:4] != b"MThd":
        why = "it does not begin with MThd, as they all do" if data else "it is empty"
        raise _file_error(source, f"it is not a MIDI file ({why})")
    try:
        return mido.MidiFile(file=io.BytesIO(data), clip=True)
    except (OSError, EOFError, ValueError, KeySignatureError) as error:
        raise _file_error(source, f"it is a damaged MIDI file ({reason_of(error)})") from None
    except (IndexError, KeyError):
        raise _file_error(source, "it is a damaged MIDI file (an event in it is invalid)") from None


def _first_track(data: bytes, source: str) -> list[tuple[int, int, int]]:
    """Return start, end (960 ticks a quarter) and key of the notes of the first track with any."""
    file = _parsed(data, source)
    if file.type == 2 or not file.ticks_per_beat or file.ticks_per_beat < 0:
        raise _file_error(source, "it does not count in quarter notes")
    for track in file.tracks:
        notes = _notes(track, TICKS_PER_QUARTER / file.ticks_per_beat)
        if notes:
            return sorted(notes)
    raise _file_error(source, "there are no notes in it")


def _notes(track: object, factor: float) -> list[tuple[int, int, int]]:
    now = 0
    sounding: dict[int, int] = {}
    notes: list[tuple[int, int, int]] = []
    for message in track:  # type: ignore[attr-defined]
        now += message.time
        if message.type not in ("note_on", "note_off"):
            continue
        if message.note in sounding:
            start = sounding.pop(message.note)
            if now > start and len(notes) < _MOST_NOTES:
                notes.append((round(start * factor), round(now * factor), message.note))
        if message.type == "note_on" and message.velocity:
            sounding[message.note] = now
    return notes


def _file_error(source: str, found: str) -> ScoreError:
    return ScoreError.of(source, found, "name a Standard MIDI File with the tune once round")
