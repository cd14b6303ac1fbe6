"""The bass player: turns a phrase into a line and answers the words in the chart.

A phrase is four bars of a part, or what is left of it. Its line is found as a whole and leads into
the first note of the next phrase, which depends on nothing but its own address; so every phrase
can be made alone.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from backing import chance
from backing.band.chord_context import ChordContext
from backing.band.context import Stroke
from backing.band.lines import LINES
from backing.band.path import FREE, NEVER, Slot, draw_line, weights_ahead
from backing.band.roles import register
from backing.style.model import FIRM, LIGHT, PLAIN
from backing.timing import EIGHTH, TICKS_PER_QUARTER

if TYPE_CHECKING:
    import random
    from collections.abc import Iterator

    from backing.band.context import BarContext, PerformanceView, Sounding
    from backing.harmony.chord import Chord
    from backing.style.model import BassStyle

PHRASE_BARS = 4
"""Bars of a phrase; the last phrase of a part may be shorter."""

LINES_KNOWN = 8
"""Choruses after which the bass player's lines come again, with other ornaments."""

_KEPT_PHRASES, _KEPT_LINES = 3, 512
_NOISE = 12
"""Address of the bass's wobbling loudness."""

_ENOUGH_TO_SKIP = 3
_DEAD_NOTE_TICKS = EIGHTH // 3
_SOUNDING_SHARE, _OCTAVE_SHARE = 0.4, 0.3
"""Shares of skips that sound, and of those that lie an octave below."""

OCTAVE = 12
_MIDDLE = 40
_LAST_CENTRE = 6


@dataclass(frozen=True, slots=True)
class _Manner:
    """How a line is played.

    Attributes:
        gap: share of a note that is silence before the next.
        firm: the ticks of two quarters on which notes are firm; beats 1 and 3 are at 0.
        centre: lowest and highest centre of a phrase, as shares of the bass's range.
        reach: how far from its centre a line moves readily, in semitones.
    """

    gap: float
    firm: int
    centre: tuple[float, float]
    reach: float


_MANNERS = {
    "walking": _Manner(gap=0.06, firm=TICKS_PER_QUARTER, centre=(0.25, 0.55), reach=6.0),
    "two-beat": _Manner(gap=0.2, firm=0, centre=(0.15, 0.4), reach=6.0),
    "riding": _Manner(gap=0.15, firm=0, centre=(0.2, 0.5), reach=14.0),
    "figure": _Manner(gap=0.1, firm=0, centre=(0.2, 0.45), reach=9.0),
}


def _manner(place: BarContext) -> _Manner:
    return _MANNERS[place.style.bass.line(place.variation)]


class _Drawn(NamedTuple):
    """The line of a phrase.

    Attributes:
        first: number of the phrase's first bar when it was drawn.
        slots: where its notes fall.
        line: their MIDI keys.
        coming: when the bass comes in in the bar behind, in ticks from its bar line, or None.
    """

    first: int
    slots: tuple[Slot, ...]
    line: tuple[int, ...]
    coming: int | None


def _turn(place: BarContext) -> int:
    """Return which of the bass player's lines a chorus has."""
    return place.chorus % LINES_KNOWN


class Bass:
    """The bass player of one performance."""

    def __init__(self, look: PerformanceView) -> None:
        self._look = look
        self._opening = lru_cache(2)(self._make_opening)
        self._slots = lru_cache(4)(self._make_slots)
        self._phrases: OrderedDict[int, dict[int, list[Stroke]]] = OrderedDict()
        self._drawn: OrderedDict[tuple[object, ...], _Drawn] = OrderedDict()

    def play(self, place: BarContext) -> list[Stroke]:
        """Return the strokes of one bar."""
        first = _phrase_start(place)
        if first not in self._phrases:
            self._phrases[first] = self._phrase(first)
            if len(self._phrases) > _KEPT_PHRASES:
                self._phrases.popitem(last=False)
        return self._phrases[first].get(place.number, [])

    def _phrase(self, first: int) -> dict[int, list[Stroke]]:
        """Return the strokes of a phrase by the numbers of its bars."""
        places = self._places(first)
        key = self._surroundings(places)
        drawn = self._drawn.get(key)
        if drawn is None:
            drawn = self._drawn[key] = self._draw(places)
            if len(self._drawn) > _KEPT_LINES:
                self._drawn.popitem(last=False)
        return self._strokes(places, drawn)

    def _surroundings(self, places: list[BarContext]) -> tuple[object, ...]:
        """Return all that a phrase's line depends on, so that none is looked for twice."""
        first, last = places[0], places[-1]
        before = self._look.place(first.number - 1)
        after = [self._look.place(last.number + ahead) for ahead in (1, 2)]
        return (
            _turn(first),
            first.step,
            (first.sequenced.part, first.sequenced.index, first.sequenced.length),
            before.harmony[-1:] if before else None,
            *((each.variation, each.harmony, each.is_end) for each in places),
            *((each.variation, each.harmony, each.is_end) for each in after if each),
        )

    def _draw(self, places: list[BarContext]) -> _Drawn:
        first, behind = places[0].number, places[-1].number + 1
        last = next((each.number for each in places if each.is_end), behind)
        here, there = self._centre(first), self._centre(last)
        slots = [
            slot
            for index, place in enumerate(places)
            for slot in self._slots(place.number, here + (there - here) * index // len(places))
        ]
        if not slots:
            return _Drawn(first, (), (), None)
        opening, landing = self._opening(first), self._opening(behind)
        aimed = [*slots, landing] if landing else list(slots)
        if opening and (opening.bar, opening.tick) == (slots[0].bar, slots[0].tick):
            aimed[0] = opening
        if len(slots) > 1:  # the opening is not repeated: it may be the second of its pitch already
            aimed[1] = aimed[1]._replace(steps=(NEVER, *aimed[1].steps[1:]))
        source = chance.source(self._look.seed, "bass", _turn(places[0]), places[0].step)
        line = draw_line(aimed, source)[: len(slots)]
        coming = self._slots(behind, self._centre(behind))
        return _Drawn(first, tuple(slots), tuple(line), coming[0].tick if coming else None)

    def _strokes(self, places: list[BarContext], drawn: _Drawn) -> dict[int, list[Stroke]]:
        found: dict[int, list[Stroke]] = {place.number: [] for place in places}
        if not drawn.slots:
            return found
        wobble = chance.noise(self._look.seed, _NOISE, places[0].chorus, places[0].step)
        bars = [places[slot.bar - drawn.first] for slot in drawn.slots]
        starts = [place.start + slot.tick for place, slot in zip(bars, drawn.slots, strict=True)]
        last = starts[-1] + drawn.slots[-1].ticks
        if drawn.coming is not None:
            last = min(last, places[-1].start + places[-1].ticks + drawn.coming)
        ends = [*starts[1:], last]
        for place, slot, pitch, start, end in zip(
            bars, drawn.slots, drawn.line, starts, ends, strict=True
        ):
            style, manner = place.style.bass, _manner(place)
            ticks = min(slot.ticks, end - start)
            gap = manner.gap if style.gap is None else style.gap
            ticks -= round(min(ticks, 2 * TICKS_PER_QUARTER) * gap)
            weight = _weight(style, manner, slot.tick)
            velocity = style.velocity[weight] + round(2.5 * next(wobble))
            found[place.number].append(Stroke(slot.tick, max(ticks, 1), pitch, velocity))
        return {
            place.number: _ornamented(place, found[place.number], self._look.seed, wobble)
            for place in places
        }

    def _places(self, first: int) -> list[BarContext]:
        places: list[BarContext] = []
        while (place := self._look.place(first + len(places))) and _phrase_start(place) == first:
            places.append(place)
        return places

    def _make_slots(self, number: int, centre: int) -> tuple[Slot, ...]:
        """Return the slots of one bar in a line that moves around a MIDI key."""
        place = self._look.place(number)
        if place is None:
            return ()
        style = place.style.bass
        where = register(*style.range, centre, _manner(place).reach)
        before, after = self._look.place(place.number - 1), self._look.place(place.number + 1)
        ends_phrase = after is None or _phrase_start(after) == after.number
        last = before.harmony[-1] if before and before.harmony else None
        slots: list[Slot] = []
        for index, sounding in enumerate(place.harmony):
            is_last = index == len(place.harmony) - 1
            coming = (
                _coming(after.harmony if after else ())
                if is_last
                else (_coming(place.harmony[index + 1 :]))
            )
            if sounding.chord is not None and not sounding.is_silent:
                context = ChordContext(
                    place=place,
                    sounding=sounding,
                    is_new=last is None or sounding.chord != last.chord,
                    is_return=last is None or last.chord is None or not last.flows,
                    coming=coming,
                    is_last=is_last,
                    ends_phrase=ends_phrase,
                    register=where,
                    seed=self._look.seed,
                    turn=_turn(place),
                )
                slots += _answer(context, after)
            last = sounding
        return tuple(slots)

    def _make_opening(self, first: int) -> Slot | None:
        """Return the first slot of a phrase's first bar, its pitch decided.

        There is none in a bar without notes, nor where the first note leads on.
        """
        place = self._look.place(first)
        slots = self._slots(first, self._centre(first))
        if not place or not slots:
            return None
        ahead = weights_ahead(slots)[0]  # a low note where the bar goes up from it
        weighed = tuple(
            (pitch, weight * onward)
            for (pitch, weight, left), onward in zip(slots[0].choices, ahead, strict=True)
            if left == FREE
        )
        if not weighed:
            return None
        source = chance.source(self._look.seed, "bass opening", _turn(place), place.step)
        return slots[0]._replace(choices=((chance.pick(source, weighed), 1.0, FREE),))

    def _centre(self, first: int) -> int:
        """Return the pitch around which a phrase begins."""
        place = self._look.place(first)
        if place is None:
            return _MIDDLE
        low, high = place.style.bass.range
        if place.is_end:  # the last note lies low, and the line goes down to it
            return low + _LAST_CENTRE
        height = chance.unit(self._look.seed, "bass centre", _turn(place), place.step)
        lowest, highest = _manner(place).centre
        return round(low + (high - low) * (lowest + (highest - lowest) * height))


def _phrase_start(place: BarContext) -> int:
    return (
        place.number
        if place.sequenced.bar.pickup
        else place.number - place.sequenced.index % PHRASE_BARS
    )


def _coming(harmony: tuple[Sounding, ...]) -> Chord | None:
    """Return the chord that is played first, None before silence."""
    first = harmony[0] if harmony else None
    return first.chord if first and not first.is_silent else None


def _answer(context: ChordContext, after: BarContext | None) -> list[Slot]:
    """Return the slots of one chord, with stops, holds and pushes as the chart asks."""
    sounding = context.sounding
    if sounding.hit is not None:
        slot = context.first_slot()
        slot = slot if sounding.hit.rings else slot._replace(ticks=EIGHTH)
        return [] if sounding.held_over else [slot]
    slots = LINES[context.place.style.bass.line(context.place.variation)](context)
    first = after.harmony[0] if after and after.harmony else None
    if slots and context.is_last and first and first.held_over:  # a push rings over the bar line
        slots[-1] = slots[-1]._replace(ticks=slots[-1].ticks + first.ticks)
    return slots


def _weight(style: BassStyle, manner: _Manner, tick: int) -> int:
    """Return how firmly a note at a tick is played."""
    if style.accents:
        return next((each for _, each in style.accents.within(tick, tick + 1)), PLAIN)
    return FIRM if tick % (2 * TICKS_PER_QUARTER) == manner.firm else PLAIN


def _ornamented(
    place: BarContext, strokes: list[Stroke], seed: int, wobble: Iterator[float]
) -> list[Stroke]:
    """Return the bar's strokes with skips, and with the kick where the style wants that."""
    share = place.style.bass.skips * min(120.0 / place.bpm, 1.0)
    if share and chance.unit(seed, "skips", place.chorus, place.step) < share:
        source = chance.source(seed, "skip", place.chorus, place.step)
        strokes = _with_skip(place, strokes, source, wobble)
    return _with_kick(place, strokes) if place.style.bass.with_kick else strokes


def _octave_below(pitch: int, coming: int, lowest: int) -> int:
    """Return the pitch an octave lower if the line can go on from there, else itself."""
    below = pitch - OCTAVE
    return below if below >= lowest and coming - below <= OCTAVE else pitch


def _with_kick(place: BarContext, strokes: list[Stroke]) -> list[Stroke]:
    """Return the strokes with the kick's off-beats doubled on the note before, cut for them."""
    until = place.ticks - place.fill.ticks if place.fill else place.ticks
    kicks = {
        tick: weight
        for lane, grid in place.groove.lanes
        if lane == "kick"
        for tick, weight in grid.within(0, until, place.phase)
        if tick % TICKS_PER_QUARTER
    }
    found: list[Stroke] = []
    ends = [*(each.tick for each in strokes[1:]), place.ticks]
    for stroke, end in zip(strokes, ends, strict=False):
        sounding = place.at(stroke.tick)
        inside = sorted(tick for tick in kicks if stroke.tick < tick < end)
        if not inside or not sounding or not sounding.flows or inside[0] >= sounding.end:
            found.append(stroke)
            continue
        if stroke.pitch % 12 not in sounding.tones:  # a note that leads on is not repeated
            found.append(stroke)
            continue
        tick = inside[0]
        ticks = max(min(end, sounding.end) - tick - _DEAD_NOTE_TICKS, 1)
        found.append(stroke._replace(ticks=min(stroke.ticks, tick - stroke.tick)))
        velocity = place.style.bass.velocity[kicks[tick]]
        found.append(Stroke(tick, min(ticks, EIGHTH), stroke.pitch, velocity))
    return found


def _with_skip(
    place: BarContext, strokes: list[Stroke], source: random.Random, wobble: Iterator[float]
) -> list[Stroke]:
    """Return the bar's strokes with a skip, an off-beat note before a beat, where one fits.

    Most skips are dead notes; some sound, on the note before or, if that and the note after belong
    to one chord, an octave below.
    """
    style = place.style.bass
    if len(strokes) < _ENOUGH_TO_SKIP:
        return strokes
    index = source.randrange(len(strokes) - 1)
    before, after = strokes[index], strokes[index + 1]
    if after.tick - before.tick != TICKS_PER_QUARTER or before.tick % TICKS_PER_QUARTER:
        return strokes
    sounding = place.at(before.tick)
    if sounding is None or not sounding.flows:
        return strokes
    cut = before._replace(ticks=min(before.ticks, EIGHTH - EIGHTH // 8))
    sounds = source.random() < _SOUNDING_SHARE
    pitch = before.pitch
    drops = sounds and source.random() < _OCTAVE_SHARE and after.tick < sounding.end
    if drops and pitch % 12 in sounding.tones:
        pitch = _octave_below(pitch, after.pitch, style.range[0])
    light = style.velocity[LIGHT] + round(2.5 * next(wobble))
    skip = Stroke(before.tick + EIGHTH, EIGHTH // 2 if sounds else _DEAD_NOTE_TICKS, pitch, light)
    return [*strokes[:index], cut, skip, *strokes[index + 1 :]]
