"""Compare harmonies made from melodies with the known chords and with the tonic alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playing import only_tune

from backing.errors import ScoreError
from backing.harmony.chord import Chord
from backing.harmony.quality import read_quality
from backing.scores.abc.read import read_abc
from backing.scores.harmonise import harmonised
from backing.scores.tune import TuneChord

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from backing.scores.tune import Tune


def _beats(tune: Tune) -> Iterator[tuple[Chord | None, list[int]]]:
    """Yield the written chord at each beat, and the pitch classes that begin on it."""
    chord: Chord | None = None
    for bar in tune.bars:
        for tick in range(0, bar.ticks, bar.meter.beat_ticks):
            signs = [each.chord for each in bar.chords if each.tick <= tick]
            now = signs[-1] if signs else chord
            yield now, [note.pitch.key % 12 for note in bar.notes if note.tick == tick]
        chord = bar.chords[-1].chord if bar.chords else chord


def _tonic_alone(tune: Tune) -> Tune:
    home = Chord(tune.key.tonic, read_quality("m" if tune.key.is_minor else ""))
    first, *rest = tune.bars
    return replace(tune, bars=(replace(first, chords=(TuneChord(0, home),)), *rest))


def figures(tunes: list[Tune], make: Callable[[Tune], Tune]) -> tuple[float, float]:
    """Return the share of beats with the known root and third, and of notes on chord tones."""
    equal = beats = inside = notes = 0
    for tune in tunes:
        bare = replace(tune, bars=tuple(replace(bar, chords=()) for bar in tune.bars))
        for (known, sounding), (made, _) in zip(_beats(tune), _beats(make(bare)), strict=True):
            if known is None or made is None:
                continue
            beats += 1
            equal += (known.root.pitch_class, known.quality.is_minor) == (
                made.root.pitch_class,
                made.quality.is_minor,
            )
            notes += len(sounding)
            inside += sum(each in made.pitch_classes for each in sounding)
    return equal / beats, inside / notes


def test_better_than_the_tonic_on_tunes_with_known_chords() -> None:
    """The harmonies beat the tonic on the two ABC tunes with chords in music21's corpus."""
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "nottingham-dataset"
    tunes = [
        each
        for each in read_abc((folder / "reelsa-c.abc").read_bytes())
        if not isinstance(each, ScoreError)
    ]

    equal, inside = figures(tunes, harmonised)
    equal_home, inside_home = figures(tunes, _tonic_alone)

    assert equal > equal_home + 0.05
    assert inside > inside_home + 0.1


@pytest.mark.parametrize(
    "body, chords",
    [
        ("M:3/4\nL:1/4\nK:C\nCEG|FAc|GBd|c3|]", ["C", "F", "G", "C"]),
        ("M:3/4\nL:1/4\nK:Am\nAce|dfa|e^gb|a3|]", ["Am", "Dm", "E7", "Am"]),
        ("M:3/4\nL:1/4\nK:Amix\nAce|GBd|Ace|A3|]", ["A", "G", "A", "A"]),
        ("M:3/4\nL:1/4\nK:Ddor\nDFA|CEG|DFA|D3|]", ["Dm", "C", "Dm", "Dm"]),
    ],
)
def test_broken_chords_are_their_chords(body: str, chords: list[str]) -> None:
    """A melody that spells its chords gets them (by hand)."""
    tune = harmonised(only_tune(f"X:1\nT:t\n{body}"))

    found: list[str] = []
    for bar in tune.bars:
        found.append(str(bar.chords[0].chord) if bar.chords else found[-1])
    assert found == chords
