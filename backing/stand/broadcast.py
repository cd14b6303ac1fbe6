"""What pages are told of the music: bars, notes and times, and only what is new.

Conventions: what is said is in the protocol's words; ticks are the transport's, counted from the
press of play; times are seconds of the server's steady clock.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backing.harmony.chord import chord_text
from backing.live.source import COUNT_IN
from backing.out.channels import presets
from backing.performance.tempo import TempoMap
from backing.stand.markup import symbol_markup

if TYPE_CHECKING:
    from backing.live.agenda import Queued
    from backing.live.view import View

Message = dict[str, Any]

_SESSION_IDS = 1 << 32
"""How far the numbers of bars of two tunes lie apart."""


class Broadcast:
    """Knows what has been told of one tune.

    Args:
        number: which tune it is since the server began, so that no two bars share a number.
    """

    def __init__(self, number: int) -> None:
        self._first_id = number * _SESSION_IDS
        self._told: set[int] = set()
        self._bars: dict[int, Message] = {}
        self._time: Message | None = None

    def news(self, view: View) -> list[Message]:
        """Return what is new since the last time: bars, then times."""
        made = [*([view.now] if view.now else []), *view.waiting]
        bars = dict(made)
        current = min(bars, default=None)
        gone = self._told - bars.keys()
        dropped = sorted(each for each in gone if current is None or each > current)
        added = {
            serial: self._bar(serial, each)
            for serial, each in bars.items()
            if serial not in self._told
        }
        self._told = set(bars)
        kept = {**self._bars, **added}
        self._bars = {serial: kept[serial] for serial in bars}
        news: list[Message] = []
        if added or dropped:
            news.append(self._message(list(added.values()), dropped))
        time = self._times(view)
        if time != self._time:
            self._time = time
            news.append(time)
        return news

    def everything(self) -> list[Message]:
        """Return what a page must hear that has just come."""
        time = [self._time] if self._time else []
        return [self._message(list(self._bars.values()), []), *time]

    def nothing(self) -> list[Message]:
        """Return what lets pages forget this tune; none where nothing has been told."""
        if self._time is None:
            return []
        stopped = {"type": "time", "line": [], "playing": False, "generation": 0}
        return [self._message([], sorted(self._told)), stopped]

    def _message(self, added: list[Message], dropped: list[int]) -> Message:
        return {
            "type": "bars",
            "add": added,
            "drop": [self._first_id + serial for serial in dropped],
        }

    def _bar(self, serial: int, queued: Queued) -> Message:
        bar, start = queued.bar, queued.start
        sequenced = bar.sequenced
        home = sequenced.home if sequenced else None
        chords = [(start + tick, chord_text(chord)) for tick, chord in bar.chords]
        return {
            "id": self._first_id + serial,
            "start": start,
            "ticks": bar.ticks,
            "bar": (home.part, home.occurrence, home.written) if home else None,
            "part": bar.label,
            "index": bar.index,
            "chorus": bar.chorus,
            "count": bar.index + 1 if bar.part == COUNT_IN else None,
            "meter": str(bar.meter),
            "beat": bar.meter.beat_ticks,
            "key": str(bar.key),
            "chords": [(tick, text, symbol_markup(text)) for tick, text in chords],
            "cells": [
                sequenced.chord_place(number) if sequenced and home else None
                for number in range(len(chords))
            ],
            "mix": {
                player: [preset.program, preset.volume, preset.pan]
                for player, preset in presets(bar.style).items()
            },
            "notes": [
                [start + note.tick, note.length, note.player, note.pitch, note.velocity]
                for note in bar.notes
            ],
        }

    @staticmethod
    def _times(view: View) -> Message:
        tempo = tempo_of(view)
        return {
            "type": "time",
            "line": [
                [each.tick, round(each.seconds, 6), round(each.bpm, 6)]
                for each in (tempo.changes if tempo else ())
            ],
            "playing": view.playing,
            "generation": view.run,
        }


def tempo_of(view: View) -> TempoMap | None:
    """Return the tempi from the last ones played to the last bar made; None while nothing plays."""
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
    """Return tempi that go on through a bar, which has a tempo at its bar line."""
    for tick, slower in queued.bar.slower:
        if queued.start + tick > tempo.changes[-1].tick:
            tempo = tempo.then(queued.start + tick, bpm * slower / queued.bar.bpm)
    return tempo
