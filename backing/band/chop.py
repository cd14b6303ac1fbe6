"""The chop: short chords on a style's grid, voiced through a whole part."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.place import Stroke
from backing.band.voicing import voice_leading
from backing.style.model import FIRM, Grid
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.band.place import Look, Place, Sounding
    from backing.band.voicing import Voicing, Wanted

_SILENT = Grid((), TICKS_PER_QUARTER)

_STRUM_MS = 2.5
"""How much later than the string below each string is struck at looseness 1."""


class Chop:
    """The chop player of one performance."""

    def __init__(self, look: Look) -> None:
        self._look = look
        self._voicings = lru_cache(2)(self._chorus_voicings)

    def play(self, place: Place) -> list[Stroke]:
        """Return the strokes of one bar; a pickup has none but those of the whole band."""
        style = place.style.chop
        source = chance.source(self._look.seed, "chop", place.chorus, place.step)
        if not any(sounding.chord for sounding in place.harmony):
            return []
        grid = _SILENT if place.road.bar.pickup else chance.pick(source, style.patterns)
        strokes: list[Stroke] = []
        for index, sounding in enumerate(place.harmony):
            voicing = self._voicing(place, index)
            for tick, weight, ticks in _strokes_at(place, sounding, grid) if voicing else ():
                velocity = style.velocity[weight] + round(3 * chance.spread(source))
                strokes += [
                    Stroke(tick, ticks, pitch, velocity - voice, _STRUM_MS * voice)
                    for voice, pitch in enumerate(voicing)
                ]
        return strokes

    def _voicing(self, place: Place, index: int) -> Voicing:
        first = place.number - place.step
        return self._voicings(first).get((place.number, index), ())

    def _chorus_voicings(self, first: int) -> dict[tuple[int, int], Voicing]:
        """Return the voicing of every chord of a chorus by its bar and its place in the bar."""
        start = self._look.place(first)
        where: list[tuple[int, int]] = []
        wanted: list[Wanted] = []
        place = start
        while place and start and place.chorus == start.chorus:
            style = place.style.chop
            for index, sounding in enumerate(place.harmony):
                if sounding.chord is not None:
                    where.append((place.number, index))
                    wanted.append((sounding.chord, style.voices, *style.range))
            place = self._look.place(place.number + 1)
        return dict(zip(where, voice_leading(tuple(wanted)), strict=True))


def _strokes_at(place: Place, sounding: Sounding, grid: Grid) -> list[tuple[int, int, int]]:
    """Return (tick, weight, ticks) of the strokes on one chord."""
    style = place.style.chop
    start, end = sounding.tick, sounding.end
    if "break" in sounding.words:
        return []
    if not sounding.flows:
        ticks = EIGHTH if "stop" in sounding.words else sounding.ticks
        return [] if sounding.held_over else [(start, FIRM, ticks)]
    found = [
        (tick, weight, min(style.length[weight], end - tick))
        for tick, weight in grid.within(start, end)
    ]
    if sounding.held_over:  # pushed: struck in the bar before, it rings over the beat
        return [each for each in found if each[0] >= start + EIGHTH]
    if "push" in sounding.words:
        found = [each for each in found if each[0] >= start + 2 * EIGHTH]
        found.insert(0, (start, FIRM, style.length[FIRM]))
    return found
