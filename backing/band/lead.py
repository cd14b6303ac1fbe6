"""The lead: plays the chart's melody in time with the band.

Conventions: pitches and rhythm are the melody's own; swing, dynamics and looseness are the band's.
The lead plays in the form and in a tag and rests in the intro and the ending; a pickup lies at the
end of the bar before, even if that is no bar of the form. From a swing ratio of 1.5 on, a dotted
pair is played as a swung pair of eighths; graces are short and come before the beat (common
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
"""When the lead plays: the values of the setting and their meanings."""

_ON_ONE, _ON_BEAT, _OFF_BEAT, _GRACE = 96, 90, 84, 76
"""Velocities before dynamics."""

_DOUBLE = 0.75
"""Velocity of a doubling octave as a share of its note's."""

_GRACE_SECONDS = 0.055
_GAP_TICKS = 40
"""Silence at the end of a note, at most an eighth of its length."""

_AS_SWUNG = 1.5
"""Least swing ratio at which a dotted pair is a swung pair."""

_SIXTEENTH, _OCTAVE = EIGHTH // 2, 12


@dataclass(frozen=True, slots=True)
class LeadSettings:
    """How the lead plays.

    Attributes:
        when: one of `WHEN`.
        octave: whether notes are doubled at the octave: above or, if the instrument has more room
            there, below. A note is not doubled if its octave is out of range.

    """

    when: str = "always"
    octave: bool = False

    def plays(self, chorus: int) -> bool:
        """Return whether the lead plays in a chorus, counted from 1."""
        return {"always": True, "first": chorus == 1, "other": chorus % 2 == 1}[self.when]


EVERY_TIME = LeadSettings()
"""The default settings."""


class Lead:
    """The player of the melody.

    Args:
        chart: the chart, which has a melody.
        route: all its choruses.
        settings: how the lead plays.
        lowest, highest: range of MIDI keys into which the melody is folded by octaves.

    """

    def __init__(
        self,
        chart: Chart,
        route: Route,
        settings: LeadSettings,
        lowest: int = 0,
        highest: int = 127,
    ) -> None:
        assert chart.melody is not None
        self._route, self._settings = route, settings
        self._lowest, self._highest = lowest, highest
        self._melody = chart.melody.within(lowest, highest)
        self._double = _OCTAVE if self._fits_above() else -_OCTAVE
        self._lines: dict[tuple[int, ...], tuple[tuple[MelodyNote, ...], ...]] = {}

    def _fits_above(self) -> bool:
        """Whether doubling above fits throughout, or at least as well as doubling below."""
        bars = (bar for part in self._melody.parts for bar in part.bars)
        keys = [note.pitch.key for bar in bars for note in bar] or [self._lowest]
        above = self._highest - max(keys) - _OCTAVE
        return above >= 0 or above >= min(keys) - _OCTAVE - self._lowest

    def play(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        line = self._line(context.chorus)
        return self._strokes(line[context.step], context) if context.step < len(line) else []

    def lead_in(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of the melody's pickup in a bar before the tune, a count-in."""
        sequenced = replace(context.sequenced, origin=None)
        notes, *_ = along(self._melody, (sequenced, *self._melody_bars(1)))
        return self._strokes(notes, context)

    def _line(self, chorus: int) -> tuple[tuple[MelodyNote, ...], ...]:
        """Return the notes of every bar of a chorus, cached by what is around the chorus."""
        around = (chorus - 1, chorus, chorus + 1)
        key = tuple(
            id(self._route.sequence_of(each)) * (1 if self._settings.plays(each) else -1)
            if 1 <= each <= self._route.choruses
            else 0
            for each in around
        )
        if key not in self._lines:
            before, here, after = map(self._melody_bars, around)
            bars = along(self._melody, (*before, *here, *after))
            self._lines[key] = bars[len(before) : len(before) + len(here)]
        return self._lines[key]

    def _melody_bars(self, chorus: int) -> tuple[SequencedBar, ...]:
        """Return the bars of a chorus; those in which the lead rests have no origin."""
        if not 1 <= chorus <= self._route.choruses:
            return ()
        plays = self._settings.plays(chorus)
        return tuple(
            each if plays and not each.is_intro else replace(each, origin=None)
            for each in self._route.sequence_of(chorus)
        )

    def _strokes(self, notes: Sequence[MelodyNote], context: BarContext) -> list[Stroke]:
        ratio = swing_ratio(context.style.feel, Player.LEAD, context.bpm)
        phase = phase_of(context)
        beat = context.sequenced.meter.beat_ticks
        strokes = []
        for note in _dotted_as_eighths(notes, phase) if ratio >= _AS_SWUNG else notes:
            at = note.tick + phase
            velocity = _OFF_BEAT if at % beat else _ON_BEAT if at else _ON_ONE
            strokes += _graces(note, swung(at, ratio) - phase, context.bpm)
            ticks = max(note.ticks - min(note.ticks // 8, _GAP_TICKS), 1)
            for key, share in self._keys(note.pitch.key):
                strokes.append(Stroke(note.tick, ticks, key, round(velocity * share)))
        return strokes

    def _keys(self, key: int) -> Iterable[tuple[int, float]]:
        """Yield a key and the one that doubles it, each with its share of the velocity."""
        yield key, 1.0
        double = key + self._double
        if self._settings.octave and self._lowest <= double <= self._highest:
            yield double, _DOUBLE


def _dotted_as_eighths(notes: Sequence[MelodyNote], phase: int) -> list[MelodyNote]:
    """Return the notes with each dotted pair as two eighths, to be swung later."""
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
    """Return the grace notes before a note.

    Args:
        note: the note.
        played: its tick with swing.
        bpm: quarter notes a minute.
    """
    ticks = max(round(seconds_to_ticks(_GRACE_SECONDS, bpm)), 2)
    starts = range(played - ticks * len(note.graces), played, ticks)
    return [
        # one tick off the grid of sixteenths, so that swing does not move it again
        Stroke(start + (start % _SIXTEENTH == 0), ticks - 1, grace.key, _GRACE)
        for start, grace in zip(starts, note.graces, strict=True)
    ]


def monophonic(notes: list[Note]) -> list[Note]:
    """Make the notes of a bar monophonic: each ends at the latest when the next begins."""
    starts = sorted({note.tick for note in notes})
    after = dict(pairwise(starts))
    return [
        note._replace(length=min(note.length, after.get(note.tick, note.end) - note.tick))
        for note in notes
    ]
