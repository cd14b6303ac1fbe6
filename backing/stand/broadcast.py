"""Bars and tempi as messages, and only what has changed.

Conventions: ticks are the transport's, counted from the press of play; times are seconds of the
server's steady clock.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.harmony.chord import chord_text
from backing.live.source import COUNT_IN
from backing.out.channels import presets
from backing.performance.tempo import TempoMap
from backing.stand.markup import symbol_markup
from backing.stand.messages import Bars, LiveBar, Timeline

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backing.live.agenda import Queued
    from backing.live.timeline import View

_ID_RANGE = 1 << 32
"""The ids of the bars of one tune; the next tune's begin after them."""


class Broadcast:
    """Remembers what has been announced of one tune.

    Args:
        number: the tune's number since the server started, which makes ids of bars unique.
    """

    def __init__(self, number: int) -> None:
        self._first_id = number * _ID_RANGE
        self._announced: dict[int, LiveBar] = {}
        self._timeline: Timeline | None = None

    def changes(self, view: View) -> list[Bars | Timeline]:
        """Return the changes since the last call: bars, then tempi."""
        bars = dict([*([view.now] if view.now else []), *view.waiting])
        current = min(bars, default=None)
        gone = self._announced.keys() - bars.keys()
        dropped = sorted(each for each in gone if current is None or each > current)
        added = {
            serial: self._bar(serial, each)
            for serial, each in bars.items()
            if serial not in self._announced
        }
        kept = self._announced | added
        self._announced = {serial: kept[serial] for serial in bars}
        messages: list[Bars | Timeline] = []
        if added or dropped:
            messages.append(Bars(list(added.values()), self._ids(dropped)))
        timeline = _timeline(view)
        if timeline != self._timeline:
            self._timeline = timeline
            messages.append(timeline)
        return messages

    def current(self) -> list[Bars | Timeline]:
        """Return the messages that a new client needs."""
        timeline = [self._timeline] if self._timeline else []
        return [Bars(list(self._announced.values()), []), *timeline]

    def removal(self) -> list[Bars | Timeline]:
        """Return the messages that make clients forget this tune; none if nothing was announced."""
        if self._timeline is None:
            return []
        stopped = Timeline([], playing=False, generation=0)
        return [Bars([], self._ids(sorted(self._announced))), stopped]

    def _ids(self, serials: Iterable[int]) -> list[int]:
        return [self._first_id + serial for serial in serials]

    def _bar(self, serial: int, queued: Queued) -> LiveBar:
        bar, start = queued.bar, queued.start
        sequenced = bar.sequenced
        home = sequenced.home if sequenced else None
        chords = [(start + tick, chord_text(chord)) for tick, chord in bar.chords]
        return LiveBar(
            id=self._first_id + serial,
            start=start,
            ticks=bar.ticks,
            bar=(home.part, home.occurrence, home.written) if home else None,
            part=bar.label,
            index=bar.index,
            chorus=bar.chorus,
            count=bar.index + 1 if bar.part == COUNT_IN else None,
            meter=str(bar.meter),
            beat=bar.meter.beat_ticks,
            key=str(bar.key),
            chords=[(tick, text, symbol_markup(text)) for tick, text in chords],
            cells=[
                sequenced.chord_place(number) if sequenced and home else None
                for number in range(len(chords))
            ],
            path=bar.path,
            mix={
                player: (preset.program, preset.volume, preset.pan)
                for player, preset in presets(bar.style).items()
            },
            notes=[
                (start + note.tick, note.length, note.player, note.pitch, note.velocity)
                for note in bar.notes
            ],
        )


def _timeline(view: View) -> Timeline:
    tempo = tempo_of(view)
    line = [
        (each.tick, round(each.seconds, 6), round(each.bpm, 6))
        for each in (tempo.changes if tempo else ())
    ]
    return Timeline(line, playing=view.playing, generation=view.run)


def tempo_of(view: View) -> TempoMap | None:
    """Return the tempi from those being played to the last bar made; None while stopped."""
    if not view.anchors:
        return None
    last = view.anchors[-1]
    tempo = TempoMap(view.anchors)
    if view.now:
        tempo = _slowed(tempo, view.now[1], last.bpm / last.share)
    for _, queued in view.waiting:
        tempo = _slowed(tempo.then(queued.start, queued.bpm), queued, queued.bpm)
    return tempo


def _slowed(tempo: TempoMap, queued: Queued, bpm: float) -> TempoMap:
    """Return tempi continued through a bar: its ritard after the tempo at its bar line."""
    for tick, slower in queued.bar.slower:
        if queued.start + tick > tempo.changes[-1].tick:
            tempo = tempo.then(queued.start + tick, bpm * slower / queued.bar.bpm)
    return tempo
