"""The lead: the melody that is kept with the chart, in time with the band.

Conventions: pitches and rhythm are the melody's own; swing, loudness and looseness are the band's.
The lead plays in the bars of the form, in a tag too, and rests in intro and ending; a pickup lies
at the end of the bar before, whatever that is. Where eighths are swung by half or more, a dotted
pair is another way to write a swung one; graces are short and come before the beat (common
practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from backing.band.context import Stroke
from backing.band.feel import phase_of, swing_ratio, swung
from backing.chart.melody_sequence import along
from backing.notes import Player
from backing.timing import EIGHTH, TICKS_PER_QUARTER, seconds_to_ticks

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from backing.band.context import BarContext
    from backing.band.route import Route
    from backing.chart.melody import MelodyNote
    from backing.chart.model import Chart
    from backing.chart.sequence import SequencedBar
    from backing.notes import Note

WHEN = {
    "always": "every time round",
    "first": "the first time round only",
    "other": "every other time round, the first among them; the times between are yours",
}
"""When the lead plays."""

_ON_ONE, _ON_BEAT, _OFF_BEAT, _GRACE = 96, 90, 84, 76
"""Velocities before the band's level."""

_DOUBLE = 0.75
"""Share of its velocity that the octave of a note has."""

_GRACE_SECONDS = 0.055
_GAP_TICKS = 40
"""What is left of a note's end for the next to speak, at most an eighth of it."""

_AS_SWUNG = 1.5
"""The swing ratio from which on a dotted pair is a swung one."""

_SIXTEENTH, _OCTAVE = EIGHTH // 2, 12
"""Stands for the name of a part where the lead rests."""


@dataclass(frozen=True, slots=True)
class LeadSettings:
    """How the lead is to play.

    Attributes:
        when: one of `WHEN`.
        octave: whether notes are doubled an octave above, or throughout below where the instrument
            has more room there; a note whose octave it has not stays alone.

    """

    when: str = "always"
    octave: bool = False

    def plays(self, chorus: int) -> bool:
        """Return whether the lead plays in a chorus, counted from 1."""
        return {"always": True, "first": chorus == 1, "other": chorus % 2 == 1}[self.when]


EVERY_TIME = LeadSettings()
"""Nothing is asked for."""


class Lead:
    """The player of the melody.

    Args:
        chart: the chart, which has a `lead`.
        route: all its choruses.
        wish: how it is to play.
        lowest, highest: the MIDI keys into which the melody is folded by octaves.

    """

    def __init__(
        self, chart: Chart, route: Route, wish: LeadSettings, lowest: int = 0, highest: int = 127
    ) -> None:
        assert chart.lead is not None
        self._route, self._wish = route, wish
        self._lowest, self._highest = lowest, highest
        self._melody = chart.lead.within(lowest, highest)
        self._double = _OCTAVE if self._fits_above() else -_OCTAVE
        self._lines: dict[tuple[int, ...], tuple[tuple[MelodyNote, ...], ...]] = {}

    def _fits_above(self) -> bool:
        """Whether the melody can be doubled above throughout, or no better below."""
        bars = (bar for part in self._melody.parts for bar in part.bars)
        keys = [note.pitch.key for bar in bars for note in bar] or [self._lowest]
        above = self._highest - max(keys) - _OCTAVE
        return above >= 0 or above >= min(keys) - _OCTAVE - self._lowest

    def play(self, place: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        line = self._line(place.chorus)
        return self._strokes(line[place.step], place) if place.step < len(line) else []

    def lead_in(self, place: BarContext) -> list[Stroke]:
        """Return the strokes of the melody's pickup in a bar before the first, such as a count."""
        sequenced = replace(place.sequenced, origin=None)
        notes, *_ = along(self._melody, (sequenced, *self._shown(1)))
        return self._strokes(notes, place)

    def _line(self, chorus: int) -> tuple[tuple[MelodyNote, ...], ...]:
        """Return the notes of every bar of a chorus; choruses with the same neighbours share it."""
        around = (chorus - 1, chorus, chorus + 1)
        key = tuple(
            id(self._route.sequence_of(each)) * (1 if self._wish.plays(each) else -1)
            if 1 <= each <= self._route.choruses
            else 0
            for each in around
        )
        if key not in self._lines:
            before, here, behind = map(self._shown, around)
            bars = along(self._melody, (*before, *here, *behind))
            self._lines[key] = bars[len(before) : len(before) + len(here)]
        return self._lines[key]

    def _shown(self, chorus: int) -> tuple[SequencedBar, ...]:
        """Return a chorus as the melody has it: bars of its parts, and bars where it rests."""
        if not 1 <= chorus <= self._route.choruses:
            return ()
        plays = self._wish.plays(chorus)
        return tuple(
            each if plays and not each.is_intro else replace(each, origin=None)
            for each in self._route.sequence_of(chorus)
        )

    def _strokes(self, notes: Sequence[MelodyNote], place: BarContext) -> list[Stroke]:
        ratio = swing_ratio(place.style.feel, Player.LEAD, place.bpm)
        phase = phase_of(place)
        beat = place.sequenced.meter.beat_ticks
        strokes = []
        for note in _evened(notes, phase) if ratio >= _AS_SWUNG else notes:
            at = note.tick + phase
            velocity = _OFF_BEAT if at % beat else _ON_BEAT if at else _ON_ONE
            strokes += _graces(note, swung(at, ratio) - phase, place.bpm)
            ticks = max(note.ticks - min(note.ticks // 8, _GAP_TICKS), 1)
            for key, share in self._keys(note.pitch.key):
                strokes.append(Stroke(note.tick, ticks, key, round(velocity * share)))
        return strokes

    def _keys(self, key: int) -> Iterable[tuple[int, float]]:
        """Yield the keys of a note, each with its share of the velocity."""
        yield key, 1.0
        double = key + self._double
        if self._wish.octave and self._lowest <= double <= self._highest:
            yield double, _DOUBLE


def _evened(notes: Sequence[MelodyNote], phase: int) -> list[MelodyNote]:
    """Return notes with the dotted pairs of a beat as two eighths, which are then swung."""
    begun = {note.tick + phase for note in notes}

    def moved(tick: int) -> int:
        middle = tick + phase - _SIXTEENTH
        is_dotted = middle % TICKS_PER_QUARTER == EIGHTH
        return tick if not is_dotted or {middle, middle - _SIXTEENTH} & begun else tick - _SIXTEENTH

    return [
        replace(note, tick=moved(note.tick), ticks=max(moved(note.end) - moved(note.tick), 1))
        for note in notes
    ]


def _graces(note: MelodyNote, played: int, bpm: float) -> list[Stroke]:
    """Return the grace notes before a note, which begins where it is played, swing and all."""
    ticks = max(round(seconds_to_ticks(_GRACE_SECONDS, bpm)), 2)
    starts = range(played - ticks * len(note.graces), played, ticks)
    return [
        # one tick beside the grid of sixteenths, so that no swing moves it once more
        Stroke(start + (start % _SIXTEENTH == 0), ticks - 1, grace.key, _GRACE)
        for start, grace in zip(starts, note.graces, strict=True)
    ]


def in_line(notes: list[Note]) -> list[Note]:
    """Return notes of a bar as one line has them: each ends when the next begins, if not before."""
    starts = sorted({note.tick for note in notes})
    behind = dict(pairwise(starts))
    return [
        note._replace(length=min(note.length, behind.get(note.tick, note.end) - note.tick))
        for note in notes
    ]
