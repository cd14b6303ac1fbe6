"""The chop strikes every chord, whatever the harmonic rhythm, in every style and meter.

Comping follows the changes, and the backbeat stays where it is: common practice, no source.
"""

from __future__ import annotations

import random
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from backing.band.chop import Chop
from backing.band.context import harmony_of
from backing.chart.model import Bar, Chart, ChordSpan, Direction, Part
from backing.chart.read import read_chart
from backing.harmony.chord import read_chord
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles
from backing.style.model import FIRM, LIGHT
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.band.context import BarContext, Stroke
    from backing.harmony.chord import Chord

STYLES = {style.name: style for style in all_styles()[0]}
PAIRS = [(name, meter) for name, style in STYLES.items() for meter in style.meters]
BACKBEATS = ("bluegrass", "hornpipe", "rag", "reel", "shuffle", "train-beat", "two-beat")
NAMES = ("Dm7", "Dbdim7", "E/B", "B7", "C6", "Am7b5", "D9", "Gsus4", "F", "Ebmaj7", "Abaug")
CHORDS = [read_chord(name) for name in NAMES]
WORDS = ("stop", "hold", "push", "break", "walk", "fill", "soft")
SIXTEENTH = 240


def bar_at_random(source: random.Random, meter: Meter, step: int, *, words: bool) -> Bar:
    """Return a bar of one to four chords that begin on multiples of a step."""
    places = range(step, meter.bar_ticks, step)
    cuts = sorted(source.sample(places, min(source.randrange(4), len(places))))
    edges = [0, *cuts, meter.bar_ticks]
    spans = tuple(
        ChordSpan(start, end - start, None if source.random() < 0.03 else source.choice(CHORDS))
        for start, end in pairwise(edges)
    )
    found = [
        Direction(source.choice(WORDS), span.tick, span.ticks)
        for span in spans
        if words and source.random() < 0.12
    ]
    return Bar(meter, spans, tuple(found))


def performance(name: str, meter: Meter, seed: int, *, is_free: bool) -> Performance:
    """Return three choruses of two random parts; some bars are a beat shorter."""
    source = random.Random(f"{meter} {seed} {is_free}")
    step = SIXTEENTH if is_free else meter.beat_ticks
    short = Meter(meter.count - meter.count // meter.beats, meter.unit)
    parts = []
    for part in "AB":
        bars = [
            bar_at_random(source, short if source.random() < 0.1 else meter, step, words=is_free)
            for _ in range(9)
        ]
        parts.append(Part(part, tuple(bars)))
    chart = Chart("At random", Key(NoteName(0), "major"), tuple(parts), meter=meter)
    return Performance(chart, Settings(style=name, seed=seed, choruses=3))


def bars_of(one: Performance) -> Iterator[tuple[BarContext, list[Stroke]]]:
    """Yield every bar with the chop's strokes in it."""
    chop = Chop(one.contexts)
    for number in range(one.length):
        context = one.context(number)
        assert context
        yield context, chop.play(context)


def chords_of(context: BarContext) -> Iterator[tuple[Chord, int, int]]:
    """Yield (chord, start, end) of each chord that begins in a bar."""
    for each in context.harmony:
        if each.chord and not each.held_over and not each.is_silent:
            yield each.chord, each.tick, each.end


@pytest.mark.parametrize("name, meter", PAIRS, ids=str)
@pytest.mark.parametrize("is_free", [False, True])
def test_every_chord_is_struck(name: str, meter: Meter, *, is_free: bool) -> None:
    """At least two tones of every chord are struck during it, even in a sixteenth.

    Free are chords that begin anywhere, with directions at them.
    """
    count = 0
    for context, strokes in bars_of(performance(name, meter, 5, is_free=is_free)):
        for chord, start, end in chords_of(context):
            struck = {each.pitch % 12 for each in strokes if start <= each.tick < end}
            count += 1
            assert len(struck & chord.pitch_classes) >= 2, (context.number, str(chord), start)
    assert count >= 54


@pytest.mark.parametrize("name, meter", PAIRS, ids=str)
def test_a_chord_that_is_written_again_is_struck_again(name: str, meter: Meter) -> None:
    """Each chord of a bar is struck, also if the chart repeats it on every beat."""
    bar = f"| {' '.join(['C'] * meter.beats)} |"
    for seed in range(1, 6):
        one = take(f"meter: {meter}\n[A]\n{bar * 4}\n", name, seed, 2)
        for context, strokes in bars_of(one):
            for chord, start, end in chords_of(context):
                struck = {each.pitch % 12 for each in strokes if start <= each.tick < end}
                assert len(struck & chord.pitch_classes) >= 2, (context.number, start)


@pytest.mark.parametrize("meter", [Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(2, 2)], ids=str)
def test_a_push_cuts_what_it_passes(meter: Meter) -> None:
    """No two chords sound at once, whatever is pushed and however short it is."""
    source = random.Random(str(meter))
    for _ in range(200):
        before, bar, after = (bar_at_random(source, meter, SIXTEENTH, words=True) for _ in range(3))
        harmony = harmony_of(before, bar, after)
        assert all(before.end == each.tick for before, each in pairwise(harmony))
        assert (harmony[0].tick, harmony[-1].end) == (0, bar.ticks)


def is_ghost(context: BarContext, stroke: Stroke) -> bool:
    """Whether a stroke is damped: far softer than a light one, and 90 ms long at most."""
    light = context.style.chop.velocity[LIGHT]
    return stroke.ticks <= 0.091 * context.bpm * 16 and stroke.velocity <= 0.6 * light + 7


def in_full(context: BarContext, strokes: list[Stroke]) -> list[Stroke]:
    """Return the strokes without ghost strokes."""
    return [each for each in strokes if not is_ghost(context, each)]


@pytest.mark.parametrize("name, meter", PAIRS, ids=str)
@pytest.mark.parametrize("is_free", [False, True])
def test_no_chord_is_only_a_ghost(name: str, meter: Meter, *, is_free: bool) -> None:
    """Every chord is struck in full, too; a damped stroke alone is not heard as a chord."""
    for context, strokes in bars_of(performance(name, meter, 7, is_free=is_free)):
        for chord, start, end in chords_of(context):
            full = in_full(context, strokes)
            struck = {each.pitch % 12 for each in full if start <= each.tick < end}
            assert len(struck & chord.pitch_classes) >= 2, (context.number, str(chord), start)


@pytest.mark.parametrize("name, meter", PAIRS, ids=str)
def test_as_few_strokes_as_that_takes(name: str, meter: Meter) -> None:
    """A bar has strokes of one of its patterns and at most one more for each chord that it misses.

    Beside these there are only the band's accent, the strokes of an answer and ghost strokes, which
    stand where the style has them.
    """
    for context, strokes in bars_of(performance(name, meter, 6, is_free=False)):
        if context.is_end or not context.harmony:
            continue
        chop, span = context.style.chop, (0, context.ticks, context.phase)
        answers = context.plan.answers is Player.CHOP and chop.habits.answer
        also = {*context.plan.accents}
        also |= {tick for tick, _ in chop.habits.answer.within(*span)} if answers else set()
        full = {each.tick for each in in_full(context, strokes)}
        damped = {each.tick for each in strokes} - full
        assert damped <= {tick for tick, _ in chop.habits.ghosts.within(*span)}
        chords = [(start, end) for _, start, end in chords_of(context)]
        patterns = [
            {tick for tick, _ in each.grid.within(*span)}
            for each in chop.patterns
            if each.variation in ("", context.variation)
        ]
        missed = [
            sum(not any(start <= tick < end for tick in each) for start, end in chords)
            for each in patterns
        ]
        assert any(
            len(full - pattern - also) <= more
            for pattern, more in zip(patterns, missed, strict=True)
        )


def take(text: str, style: str, seed: int, choruses: int = 1) -> Performance:
    """Return a performance of a chart."""
    chart = read_chart(f"ending: none\n{text}", "x.chart")
    return Performance(chart, Settings(style=style, seed=seed, choruses=choruses, looseness=0.0))


@pytest.mark.parametrize("style", BACKBEATS)
@pytest.mark.parametrize("seed", range(1, 9))
def test_the_backbeat_stays(style: str, seed: int) -> None:
    """With a chord on every beat, 2 and 4 are struck as usual, 1 and 3 lightly on the whole."""
    louder = []
    velocity = STYLES[style].chop.velocity
    for _, strokes in bars_of(take("| C F G7 Am |" * 8, style, seed, 2)):
        loud = {
            tick: max((each.velocity for each in strokes if each.tick == tick), default=0)
            for tick in (0, 960, 1920, 2880)
        }
        backbeat = min(loud[960], loud[2880])
        assert backbeat > (velocity[LIGHT] + velocity[FIRM]) / 2 - 9
        louder.append(backbeat - max(loud[0], loud[1920]))
    assert sum(louder) / len(louder) > 0
    assert sum(each > 0 for each in louder) >= 0.8 * len(louder)


def test_a_stroke_before_the_chord_moves_onto_it() -> None:
    """With the ride of swing, 1 and 2& become 1 and 3 before a chord on 3; none is added."""
    rhythms = set()
    for seed in range(1, 30):
        one = take("[A]\n" + "| Dm7 G7 |" * 8, "swing", seed)
        for context, strokes in bars_of(one):
            if context.variation == "ride":
                rhythms.add(tuple(sorted({each.tick for each in in_full(context, strokes)})))
    assert (0, 1920) in rhythms
    assert (0, 1440, 1920) not in rhythms


def test_slow_harmony_keeps_its_room() -> None:
    """With the ride of swing, one chord a bar gets at most two strokes a bar.

    Four to the bar, which the style has too, and the chop's answers are left out of account.
    """
    counts = []
    for seed in range(1, 30):
        for context, strokes in bars_of(take("[A]\n" + "| Dm7 | G7 |" * 4, "swing", seed)):
            struck = {each.tick for each in in_full(context, strokes)}
            answers = context.plan.answers is Player.CHOP
            if context.variation == "ride" and len(struck) < 4 and not answers:
                counts.append(len(struck))
    assert len(counts) >= 100
    assert max(counts) <= 2


@pytest.mark.parametrize("style", ["la-pompe", "shuffle", "swing", "western-swing"])
def test_the_bass_has_the_chords_of_a_pickup(style: str) -> None:
    """A pickup, which has no chop, has the bass note of each of its chords."""
    text = "key: G\n[A]\n(pickup 2/4) D7 Bb7 | G | C | F#m7b5 | (2/4) Ab |\n"
    for seed in range(1, 31):
        one = take(text, style, seed, 4)
        pickups = [context for context in map(one.context, range(one.length)) if context]
        pickups = [context for context in pickups if context.sequenced.bar.pickup]
        assert len(pickups) == 4
        for context in pickups:
            for chord, start, end in chords_of(context):
                low = {
                    note.pitch % 12
                    for note in one.bar(context.number).notes
                    if note.player is Player.BASS and start <= note.tick - context.start < end
                }
                assert chord.lowest.pitch_class in low
