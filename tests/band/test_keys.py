"""The key of the written file, found independently by music21's key finder.

It correlates the durations of pitch classes with key profiles (music21 `analyze('key')`); chords of
one, four and five in a key are common practice, no source.
"""

from __future__ import annotations

import music21
import pytest
from listening import BEAT, Take, take

MAJORS = ["C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"]
MINORS = ["Am", "Em", "Bm", "F#m", "C#m", "G#m", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm"]


def key_heard(one: Take) -> music21.key.Key:
    """Return the key that music21 finds in the notes of bass and chop."""
    stream = music21.stream.Stream()
    for sound in one.bass + one.chop:
        note = music21.note.Note(sound.pitch)
        note.duration = music21.duration.Duration(max(sound.length, BEAT // 16) / BEAT)
        stream.insert(sound.tick / BEAT, note)
    found = stream.analyze("key")
    assert isinstance(found, music21.key.Key)
    return found


def pitch_class(name: str) -> int:
    """Return the pitch class of a note's name, by music21."""
    return int(music21.pitch.Pitch(name.replace("b", "-")).pitchClass)


@pytest.mark.parametrize("style", ["two-beat", "swing", "shuffle"])
@pytest.mark.parametrize("key", MAJORS)
def test_major(key: str, style: str) -> None:
    """One-four-five in each of the twelve major keys is found to be in that key."""
    chart = f"key: {key}\n| 1 | 4 | 1 | 5 | 1 | 4 | 5 | 1 |"
    heard = key_heard(take(chart, style, 150, 3, 0.0, 1))
    assert ("major", pitch_class(key)) == (heard.mode, heard.tonic.pitchClass)


@pytest.mark.parametrize("style", ["two-beat", "swing"])
@pytest.mark.parametrize("key", MINORS)
def test_minor(key: str, style: str) -> None:
    """One-four-five in minor, with the major five, is found to be in that key."""
    chart = f"key: {key}\n| 1m | 4m | 1m | 5 | 1m | 4m | 5 | 1m |"
    heard = key_heard(take(chart, style, 150, 3, 0.0, 1))
    assert ("minor", pitch_class(key[:-1])) == (heard.mode, heard.tonic.pitchClass)
