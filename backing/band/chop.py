"""The chop: short chords on a style's grid, in shapes that a hand holds."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.place import Stroke
from backing.style.model import FIRM, LIGHT
from backing.timing import EIGHTH

if TYPE_CHECKING:
    from backing.band.place import Look, Place, Sounding
    from backing.band.voicing import Voicing
    from backing.style.model import ChopPattern, Grid, Style

_NOISE = 11
"""Address of the chop's wobbling loudness."""

_UP_STROKE_SHARE = 0.8
"""How long an up-stroke takes, compared with a down-stroke."""


class Chop:
    """The chop player of one performance."""

    def __init__(self, look: Look) -> None:
        self._look = look

    def play(self, place: Place) -> list[Stroke]:
        """Return the strokes of one bar; a pickup has none but those of the whole band."""
        if not any(sounding.chord for sounding in place.harmony):
            return []
        style = place.style.chop
        wobble = chance.noise(self._look.seed, _NOISE, place.chorus, place.step)
        grid = None if place.road.bar.pickup else self._pattern(place).grid
        strokes: list[Stroke] = []
        planned = [_strokes_at(place, sounding, grid) for sounding in place.harmony]
        if grid and not any(planned):
            planned = _touch(place)
        for index, wanted in enumerate(planned):
            voicing = self._voicing(place, place.harmony[index]) if wanted else ()
            for tick, weight, ticks in wanted if voicing else ():
                velocity = style.velocity[weight] + round(3 * next(wobble))
                strokes += _struck(voicing, tick, ticks, velocity, _roll(place, tick, weight))
        return strokes

    def _pattern(self, place: Place) -> ChopPattern:
        """Return the pattern of a bar; one of several bars begins with the part or its phrase."""
        patterns = _patterns_in(place.style, place.colour)
        longest = max(pattern.grid.ticks for pattern, _ in patterns)
        bars = max(longest // place.road.meter.bar_ticks, 1)
        step = place.step - place.road.index % bars
        return chance.choose(patterns, self._look.seed, "chop pattern", place.chorus, step)

    def _voicing(self, place: Place, sounding: Sounding) -> Voicing:
        """Return what sounds of a chord; one that comes early is the next bar's."""
        if sounding.chord is None:
            return ()
        after = self._look.place(place.number + 1) if sounding.is_coming else None
        road = after.road if after else place.road
        return self._look.voicings.voicing(road, sounding.span, sounding.chord)


@lru_cache(64)
def _patterns_in(style: Style, colour: str) -> tuple[tuple[ChopPattern, float], ...]:
    return tuple(
        (pattern, pattern.weight)
        for pattern in style.chop.patterns
        if pattern.colour in ("", colour)
    )


def _roll(place: Place, tick: int, weight: int) -> float:
    """Return milliseconds from string to string; below 0 for an up-stroke, high strings first.

    The hand goes down on beats and up between them, where it is light (common practice, no source).
    """
    roll_ms = place.style.chop.roll_ms
    is_up = weight == LIGHT and tick % place.road.meter.beat_ticks
    return -_UP_STROKE_SHARE * roll_ms if is_up else roll_ms


def _struck(voicing: Voicing, tick: int, ticks: int, velocity: int, roll_ms: float) -> list[Stroke]:
    """Return a chord string by string."""
    if roll_ms < 0:
        voicing = voicing[::-1]
    return [
        Stroke(tick, ticks, pitch, velocity - string, abs(roll_ms) * string)
        for string, pitch in enumerate(voicing)
    ]


def _touch(place: Place) -> list[list[tuple[int, int, int]]]:
    """Return a light stroke on the first chord that flows, for a bar that the grid leaves empty.

    A chord that was struck in the bar before is touched in its middle.
    """
    length = place.style.chop.length[LIGHT]
    first = next((each for each in place.harmony if each.flows and each.chord), None)
    found: list[list[tuple[int, int, int]]] = []
    for each in place.harmony:
        middle = each.ticks // 2 // EIGHTH * EIGHTH if each.held_over else 0
        stroke = (each.tick + middle, LIGHT, min(length, each.ticks - middle))
        found.append([stroke] if each is first else [])
    return found


def _strokes_at(place: Place, sounding: Sounding, grid: Grid | None) -> list[tuple[int, int, int]]:
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
        for tick, weight in (grid.within(start, end, place.phase) if grid else ())
    ]
    if sounding.held_over:  # pushed: struck in the bar before, it rings over the beat
        return [each for each in found if each[0] >= start + EIGHTH]
    if "push" in sounding.words:
        found = [each for each in found if each[0] >= start + 2 * EIGHTH]
        found.insert(0, (start, FIRM, style.length[FIRM]))
    return found
