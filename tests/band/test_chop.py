"""The chop in the written file: its notes, how they move, and when they are struck."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from listening import BEAT, BLUES, REEL, SONG, Take, mean, share, take, takes
from test_bass import BLOCK, TURNS

if TYPE_CHECKING:
    from backing.harmony.chord import Chord

STYLES = [("two-beat", 200), ("swing", 170), ("shuffle", 116)]
CHARTS = [SONG, BLOCK, TURNS, REEL, BLUES]


def few(text: str, style: str, bpm: float) -> list[Take]:
    """Return three short takes; shapes do not depend on the seed."""
    return [take(text, style, bpm, seed, 0.0, 1) for seed in (1, 2, 3)]


def voicings(one: Take) -> list[tuple[int, Chord, tuple[int, ...]]]:
    """Return (tick, chart's chord, keys from low to high) of each stroke at looseness 0."""
    struck: dict[int, list[int]] = {}
    start, end = one.music[0].start, one.music[-1].end
    for sound in one.chop:
        if start <= sound.tick < end:
            struck.setdefault(sound.tick, []).append(sound.pitch)
    chords = one.chords()
    found = []
    for tick, keys in struck.items():
        chord = next(chord for at, chord in reversed(chords) if at <= tick)
        if chord is not None:
            found.append((tick, chord, tuple(sorted(keys))))
    return found


@pytest.mark.parametrize("style, bpm", STYLES)
@pytest.mark.parametrize("text", CHARTS)
def test_notes_of_the_chord(text: str, style: str, bpm: float) -> None:
    """Every stroke is chord tones only, the third (or what hangs in its place) among them.

    The third is never left out, nor a written seventh: common practice, no source.
    """
    for one in few(text, style, bpm):
        found = voicings(one)
        assert found
        for _, chord, keys in found:
            classes = {key % 12 for key in keys}
            assert classes <= chord.pitch_classes
            for number in (3, 4, 7):
                degree = chord.quality.degree(number)
                if degree and (number != 4 or chord.quality.degree(3) is None):
                    assert (chord.root.pitch_class + degree.semitones) % 12 in classes


@pytest.mark.parametrize("style, bpm, most", [("two-beat", 200, 4), ("swing", 170, 3)])
def test_voices(style: str, bpm: float, most: int) -> None:
    """Every stroke has as many notes as the style's shapes; two-beat has all four strings.

    Four strings in two-beat and three-note shells in swing: common practice, no source.
    """
    for one in few(SONG, style, bpm):
        assert {most} == {len(keys) for _, _, keys in voicings(one)}


@pytest.mark.parametrize("style, bpm", STYLES)
@pytest.mark.parametrize("text", CHARTS)
def test_voices_move_little(text: str, style: str, bpm: float) -> None:
    """From chord to chord a voice moves 2.5 semitones on average at most (our choice)."""
    moved = []
    for one in few(text, style, bpm):
        for (_, first, before), (_, second, after) in pairwise(voicings(one)):
            if first != second and len(before) == len(after):
                moved.append(mean([abs(a - b) for a, b in zip(before, after, strict=True)]))
    assert moved
    assert mean(moved) <= 2.5


@pytest.mark.parametrize("style, bpm", STYLES)
def test_the_chop_stays_in_place(style: str, bpm: float) -> None:
    """The mean pitch stays within an octave over a whole chorus (our choice)."""
    for text in CHARTS:
        middles = [mean(keys) for _, _, keys in voicings(take(text, style, bpm, 1, 0.0, 1))]
        assert max(middles) - min(middles) <= 12


def strokes_by_beat(one: Take, bars: int = 0) -> dict[int, list[tuple[int, int]]]:
    """Return (velocity of the lowest note, length) of strokes on beats 0 to 3 of the bars.

    Args:
        one: the take.
        bars: how many bars from the start; all without.
    """
    found: dict[int, list[tuple[int, int]]] = {beat: [] for beat in range(4)}
    start, end = one.music[0].start, one.music[(bars or len(one.music)) - 1].end
    for sound in one.strums():
        if start <= sound.tick < end and sound.tick % BEAT == 0:
            place = (sound.tick - start) % (4 * BEAT) // BEAT
            found[place].append((sound.velocity, sound.length))
    return found


def test_two_beat() -> None:
    """In two the chop plays on 2 and 4 of every bar, and rarely on 1 or 3.

    A muted chord off the beat, the bass being on it: Wikipedia, "Chop chord". That the beat is 1
    and 3: common practice, no source.
    """
    for one in takes(REEL, "two-beat", 200, 0.0, 1):
        found = strokes_by_beat(one)
        bars = len(one.music)
        assert bars == len(found[1]) == len(found[3])
        assert len(found[0]) + len(found[2]) <= 0.3 * bars


@pytest.mark.parametrize("bpm", [120, 200, 260])
def test_two_beat_is_dry(bpm: float) -> None:
    """A chop is damped at once: it sounds for less than half a beat."""
    one = take(REEL, "two-beat", bpm, 1, 0.0)
    start, end = one.music[0].start, one.music[-1].end
    assert all(each.length < BEAT / 2 for each in one.chop if start <= each.tick < end)


def test_four_to_the_bar() -> None:
    """With the hat of swing the guitar strikes every beat, 2 and 4 firmer and shorter.

    Quarter-note strokes, 2 and 4 shorter and firmer: common practice, no source.
    """
    bars = 12  # the first of two choruses, which has the hat
    for one in takes(BLUES, "swing", 170, 0.0, 2):
        found = strokes_by_beat(one, bars)
        assert [bars] * 4 == [len(each) for each in found.values()]
        light, firm = found[0] + found[2], found[1] + found[3]
        assert mean([loud for loud, _ in firm]) >= mean([loud for loud, _ in light]) + 5
        assert mean([ticks for _, ticks in firm]) < 0.8 * mean([ticks for _, ticks in light])


def test_comping() -> None:
    """With the ride of swing the guitar strikes less often, but in every bar, also on off-beats.

    Stabs that leave room behind the ride: common practice, no source.
    """
    for one in takes(SONG, "swing", 170, 0.0, 2):
        starts = [bar.start for bar in one.music]
        behind = range(32, 63)  # the last chorus, which has the ride
        strokes = [each.tick for each in one.strums() if starts[32] <= each.tick < starts[63]]
        assert {number for number in behind if any(
            starts[number] <= tick < starts[number] + 4 * BEAT for tick in strokes
        )} == set(behind)  # fmt: skip
        assert len(strokes) < 4 * len(behind)


def test_shuffle() -> None:
    """In a shuffle the chop plays on 2 and 4 of every bar, each with a light off-beat after it."""
    for one in takes(BLUES, "shuffle", 116, 0.0, 1):
        found = strokes_by_beat(one)
        bars = len(one.music)
        assert bars == len(found[1]) == len(found[3])
        off_beats = [each for each in one.strums() if each.tick % BEAT == 640]
        assert len(off_beats) >= 0.8 * bars
        firm = mean([loud for loud, _ in found[1] + found[3]])
        assert mean([each.velocity for each in off_beats]) < firm


@pytest.mark.parametrize("style, bpm", STYLES)
def test_strings_one_after_the_other(style: str, bpm: float) -> None:
    """At looseness 1 the strings of a stroke sound one after the other within 20 ms.

    Lower strings first on the down-stroke, higher ones first on the up-stroke, which is light and
    falls between the beats: common practice, no source.
    """
    loose = take(SONG, style, bpm, 1, 1.0)
    strokes: list[list[tuple[int, int]]] = []
    for sound in loose.chop:
        if strokes and sound.tick - strokes[-1][0][0] < 100:
            strokes[-1].append((sound.tick, sound.pitch))
        else:
            strokes.append([(sound.tick, sound.pitch)])
    ups = 0
    for stroke in strokes:
        pitches = [pitch for _, pitch in sorted(stroke)]
        is_up = pitches[0] > pitches[-1]
        assert sorted(pitches, reverse=is_up) == pitches
        assert not is_up or (stroke[0][0] + BEAT // 6) % BEAT > BEAT // 3
        ups += is_up
        assert 0 < loose.milliseconds(stroke[-1][0] - stroke[0][0]) <= 20
    assert 0 < ups < len(strokes)


@pytest.mark.parametrize("text", CHARTS)
def test_bass_below(text: str) -> None:
    """The chop stays above nearly all notes of the bass.

    A mandolin has no key below G3, 55; on strings 4-3-2 a guitar has none below D3, 50.
    """
    for style, bpm in STYLES:
        one = take(text, style, bpm, 1, 0.0, 1)
        lowest = 55 if style == "two-beat" else 50
        assert min(each.pitch for each in one.chop) > lowest
        low = [each.pitch for each in one.bass]
        assert share([pitch <= lowest for pitch in low]) >= 0.9
