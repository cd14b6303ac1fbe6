"""The drummer: grooves, fills, and hits with the whole band."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from backing import chance
from backing.band.arrange import chorus_level
from backing.band.context import Stroke
from backing.band.drummer import drawn, turn
from backing.band.plan import PHRASE_BARS
from backing.notes import Player
from backing.style.model import COUNT_INS, DRUM_KEYS, FEET, FIRM, LIGHT, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    from backing.band.context import BarContext, PerformanceView, SoundingChord
    from backing.style.model import DrumStyle, Lanes
    from backing.timing import Meter

_HIT_TICKS = EIGHTH // 2
_TIME_KEEPERS = {"ride", "hat", "open-hat", "ride-bell"}
_COUNT_VELOCITY = (76, 92)
_SOFT_LEVEL = 0.92
"""Share of a chorus's level below which no cymbal marks the start of a part."""

_MARKS = (-0.8, 0.0, 1.2)
"""How much more than others a drummer marks, p10, p50, p90; takes have -.9 to 1.7 (ours)."""


class Drums:
    """The drummer of one performance."""

    def __init__(self, view: PerformanceView) -> None:
        self._view = view

    def play(self, context: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        if not context.harmony:
            return []
        style = context.style.drums
        until = context.ticks - context.fill.ticks if context.fill else context.ticks
        strokes: list[Stroke] = []
        hits: list[Stroke] = []
        is_out = Player.DRUMS in context.plan.lays_out
        for sounding in context.harmony:
            if sounding.flows and not is_out:
                strokes += self._flowing(context, sounding, max(until, 0))
            if not sounding.held_over:
                hits += _hits(style, sounding)
        if context.fill:
            strokes += _beaten(style, context.fill.lanes, max(until, 0), context.ticks, until)
        if context.harmony[0].held_over:  # the band has struck this chord already
            strokes = [each for each in strokes if each.tick or each.pitch != DRUM_KEYS["kick"]]
        if not is_out:
            strokes += _with_others(context, strokes, until)
        rest = strokes
        if hits:
            rest = [each for each in strokes if not any(_covers(hit, each) for hit in hits)]
        return _with_top(context, hits + rest) if self._is_marked(context) else hits + rest

    def _is_marked(self, context: BarContext) -> bool:
        """Whether a cymbal marks the first beat, by chance: a chorus, or four bars after a fill."""
        first, style = context.harmony[0], context.style.drums
        is_soft = context.level(0) < _SOFT_LEVEL * chorus_level(context.energy)
        if not style.top or not first.flows or first.held_over or is_soft:
            return False
        before = self._view.context(context.number - 1)
        is_filled = before is not None and before.fill is not None
        if not context.is_top and not (is_filled and context.sequenced.index % PHRASE_BARS == 0):
            return False
        seed = self._view.seed
        share = style.marks * (1.0 + _liking(seed) * (1.0 - style.marks))
        return chance.unit(seed, "mark", context.chorus, context.step) < share

    def _flowing(self, context: BarContext, sounding: SoundingChord, until: int) -> list[Stroke]:
        """Return the groove under one chord.

        During a fill, keep the kick and pedal-hat lanes that it does not use.
        """
        if context.sequenced.bar.pickup:
            return []
        style, start, end = context.style.drums, sounding.tick, sounding.end
        if sounding.in_next_bar:  # nothing blurs a push
            end = start + 1
        strokes = _beaten(style, context.groove, start, min(end, until))
        if context.fill and end > until:
            busy = {lane for lane, _ in context.fill.lanes}
            feet = tuple(each for each in context.groove if each[0] in FEET - busy)
            strokes += _beaten(style, feet, max(start, until), end)
        return strokes


def _with_others(context: BarContext, strokes: list[Stroke], until: int) -> list[Stroke]:
    """Return strokes with the band: its accents, and the off-beats of the chop that are caught.

    An accent is a kick, a caught stroke a light one of the other hand. Nothing is added close to a
    stroke of the same drum: an off-beat eighth is played where a triplet's third is written.
    """
    style, plan, room = context.style.drums, context.plan, until
    if context.sequenced.bar.pickup:
        return []
    wanted = {("kick", tick): PLAIN for tick in plan.accents if tick}
    if plan.catches and not plan.is_thin:
        if plan.answers not in (None, Player.DRUMS):
            room = min(until, context.ticks // 2)
        beat = context.sequenced.meter.beat_ticks
        off = context.pattern.grid.within(0, room, context.phase)
        wanted = {(_other_hand(style), tick): LIGHT for tick, _ in off if tick % beat} | wanted
    velocities = _velocities(style)
    found = []
    for (lane, tick), weight in wanted.items():
        key, sounding = DRUM_KEYS[lane], context.at(tick)
        if tick >= until or lane not in velocities or sounding is None or not sounding.flows:
            continue
        is_near = any(each.pitch == key and abs(each.tick - tick) < EIGHTH for each in strokes)
        if not is_near and not sounding.in_next_bar:
            found.append(_stroke(tick, lane, velocities[lane][weight]))
    return found


@lru_cache(64)
def _other_hand(style: DrumStyle) -> str:
    """Return the lane of the hand that does not keep time: side stick or snare, or the kick."""
    lanes = {lane for groove in style.grooves for lane, grid in groove.lanes if grid.hits}
    return next((lane for lane in ("snare", "side-stick") if lane in lanes), "kick")


@lru_cache(64)
def _liking(seed: int) -> float:
    """Return how much more than others one drummer marks, from -1."""
    return max(drawn(_MARKS, turn(seed, "marks")), -1.0)


def _covers(hit: Stroke, stroke: Stroke) -> bool:
    """Whether a hit replaces a stroke: on the same drum, less than an eighth later."""
    return hit.pitch == stroke.pitch and 0 <= stroke.tick - hit.tick < EIGHTH


def _beaten(style: DrumStyle, lanes: Lanes, start: int, end: int, first: int = 0) -> list[Stroke]:
    """Return strokes between two ticks of a bar.

    Args:
        style: for the velocities.
        lanes: the strokes, in ticks from `first`.
        start: tick from the bar line.
        end: tick from the bar line.
        first: tick from the bar line.
    """
    velocities = _velocities(style)
    return [
        _stroke(first + tick, lane, velocities[lane][weight])
        for lane, hits in lanes
        for tick, weight in hits
        if start <= first + tick < end
    ]


@lru_cache(4096)
def _stroke(tick: int, lane: str, velocity: int) -> Stroke:
    return Stroke(tick, _HIT_TICKS, DRUM_KEYS[lane], velocity)


def _hits(style: DrumStyle, sounding: SoundingChord) -> list[Stroke]:
    """Return the drummer's strokes at a hit or a push of the whole band.

    A short hit has kick and snare, a held one kick and top cymbal; a push is a plain accent.
    """
    if not sounding.is_together:
        return []
    velocities = _velocities(style)
    rings = sounding.hit is not None and sounding.hit.rings
    lanes = ("kick", style.top if rings else "snare")
    weight = FIRM if sounding.hit else PLAIN
    return [
        Stroke(
            sounding.tick,
            sounding.ticks if lane == style.top else _HIT_TICKS,
            DRUM_KEYS[lane],
            velocities[lane][weight],
        )
        for lane in lanes
        if lane in velocities
    ]


def _with_top(context: BarContext, strokes: list[Stroke]) -> list[Stroke]:
    """Return the strokes with the top cymbal on the first beat, in place of the other cymbals."""
    style = context.style.drums
    keepers = {DRUM_KEYS[lane] for lane in (*_TIME_KEEPERS, style.top)}
    rest = [each for each in strokes if each.tick or each.pitch not in keepers]
    velocity = _velocities(style)[style.top][PLAIN]
    return [Stroke(0, TICKS_PER_QUARTER, DRUM_KEYS[style.top], velocity), *rest]


@lru_cache(64)
def _velocities(style: DrumStyle) -> dict[str, tuple[int, int, int]]:
    return dict(style.velocity)


def count_in(meter: Meter, bars: int, lane: str) -> list[tuple[int, Stroke]]:
    """Return the count-in as pairs of (bar, stroke).

    The last bar is counted on every beat, the bars before it in halves: "one, two, one two three
    four" (common practice, no source). Its velocities do not vary.
    """
    key = DRUM_KEYS[COUNT_INS[lane]]
    found = []
    for bar in range(bars):
        wide = bar < bars - 1 and meter.beats % 2 == 0
        for beat in range(0, meter.beats, meter.beats // 2 if wide else 1):
            velocity = _COUNT_VELOCITY[beat == 0]
            found.append((bar, Stroke(beat * meter.beat_ticks, _HIT_TICKS, key, velocity)))
    return found
