"""Takes the bars of a tune from its ABC voices: the melody's, with chords of another if needed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.chart.diagnostics import shown
from backing.scores.tune import Jump, Remark

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from backing.scores.abc.voice import Voice
    from backing.scores.tune import TuneBar


def melody_of(voices: Mapping[str, Voice]) -> Voice | None:
    """Return the first voice with notes, else the first with bars, else None."""
    found = [voice for voice in voices.values() if voice.bars]
    with_notes = (each for each in found if any(bar.notes for bar in each.bars))
    return next(with_notes, found[0] if found else None)


def bars_of(melody: Voice, voices: Mapping[str, Voice]) -> tuple[tuple[TuneBar, ...], list[str]]:
    """Return the bars of a melody, and remarks on what is left out of the other voices.

    A melody without chord signs gets those of the first voice that has some, bar by bar.
    """
    others = {name: each for name, each in voices.items() if each is not melody}
    bars, chord_voice = melody.bars, None
    if not any(bar.chords for bar in bars):
        chord_voice = next((each for each in others.values() if _has_chords_for(each, bars)), None)
        bars = _with_chords_of(bars, chord_voice.bars) if chord_voice else bars
    left_out = [
        text for name, each in others.items() for text in _left_out(name, each, each is chord_voice)
    ]
    return tuple(_coda_signs(bars)), left_out


def _left_out(name: str, voice: Voice, is_chord_voice: bool) -> Iterator[str]:
    """Yield a remark on what is left out of a voice other than the melody."""
    notes = "notes" * any(bar.notes for bar in voice.bars)
    chords = "chord signs" * (not is_chord_voice and any(bar.chords for bar in voice.bars))
    if notes or chords:
        what = " and ".join(filter(None, (notes, chords)))
        yield f"the {what} of voice {shown(name[:20])} are left out"


def _has_chords_for(voice: Voice, bars: list[TuneBar]) -> bool:
    """Whether a voice has as many bars and chord signs in them."""
    return len(voice.bars) == len(bars) and any(bar.chords for bar in voice.bars)


def _with_chords_of(bars: list[TuneBar], others: list[TuneBar]) -> list[TuneBar]:
    """Return bars with the chord signs of another voice; remark those beyond a bar's end."""
    found = []
    for bar, other in zip(bars, others, strict=True):
        chords = tuple(each for each in other.chords if each.tick < bar.ticks)
        late = Remark("a chord sign of another voice lies beyond the bar: left out", bar.place)
        remarks = (*bar.remarks, *other.remarks, *[late] * (chords != other.chords))
        found.append(replace(bar, chords=chords, remarks=tuple(dict.fromkeys(remarks))))
    return found


def _coda_signs(bars: list[TuneBar]) -> list[TuneBar]:
    """Return bars in which the first of two coda signs is a to-coda mark."""
    marked = [index for index, bar in enumerate(bars) if Jump.CODA in bar.jumps]
    if len(marked) < 2 or any(Jump.TO_CODA in bar.jumps for bar in bars):
        return bars
    first = marked[0]
    kept = tuple(each for each in bars[first].jumps if each is not Jump.CODA)
    bars = list(bars)
    bars[first] = replace(bars[first], jumps=kept)
    before = max(first - 1, 0)
    bars[before] = replace(bars[before], jumps=(*bars[before].jumps, Jump.TO_CODA))
    return bars
