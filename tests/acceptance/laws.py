"""Laws that hold for every style, key, tempo and chart, measured from written files."""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter, defaultdict
from functools import cache
from itertools import groupby, pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from backing.chart.read import read_chart
from backing.chart.transpose import by_semitones
from backing.errors import BackingError
from backing.fretboard.instrument import find_instrument
from backing.notes import Player
from backing.performance.settings import Settings

from .ears import written
from .tunes import TUNES, chart_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import smf
    from listening import Take

    from backing.band.context import BarContext
    from backing.chart.model import Chart
    from backing.harmony.chord import Chord
    from backing.style.model import Style

DEMOS = Path(__file__).parents[2] / "demos"
SAMPLED_KEYS = (0, 5, -5)
SAMPLED = 4
"""Step of the sample of tempi and keys, which has each tempo once and each key once."""

ALL_KEYS = tuple(range(-5, 7))


@cache
def _demos() -> tuple[Chart, ...]:
    return tuple(
        read_chart(path.read_text(encoding="utf-8"), path.name)
        for path in sorted(DEMOS.glob("*.chart"))
    )


def charts_for(style: Style, *, sample: bool) -> Iterator[Chart]:
    """Yield our tunes in every meter of the style, and the demos whose meter fits."""
    for meter in style.meters[:1] if sample else style.meters:
        for tune in ("Song", "Hits", "Changes") if sample else TUNES:
            yield read_chart(chart_text(tune, meter, ending=""), f"{tune} in {meter}")
    fitting = [each for each in _demos() if each.meter in style.meters]
    yield from fitting[:1] if sample else fitting


def broken_laws(
    style: Style, progress: Callable[[], None] = lambda: None, *, sample: bool = False
) -> list[str]:
    """Return the broken laws, each with an example and a count.

    Args:
        style: the style.
        progress: called after each performance.
        sample: whether a few keys and charts are enough.

    """
    tempi = sorted({style.slowest_bpm, style.usual_bpm, style.fastest_bpm})
    count: Counter[str] = Counter()
    example: dict[str, str] = {}
    for chart in charts_for(style, sample=sample):
        keys = SAMPLED_KEYS if sample else ALL_KEYS
        for number, (bpm, semitones) in enumerate(
            (bpm, semitones) for bpm in tempi for semitones in keys
        ):
            if sample and number % SAMPLED:
                continue
            for fault in faults_of(chart, style, bpm, semitones):
                count[fault] += 1
                where = f"{chart.title}, {semitones:+d} semitones, {bpm:g}"
                example.setdefault(fault, where)
            progress()
    return [f"{fault}, {times} times, first in {example[fault]}" for fault, times in count.items()]


def faults_of(chart: Chart, style: Style, bpm: float, semitones: int) -> set[str]:
    """Return the laws that one performance breaks."""
    settings = Settings(
        style=style.name,
        bpm=bpm,
        choruses=2,
        seed=1 + semitones % 12,
        looseness=0.0,
        called=frozenset(Player),
    )
    try:
        take, contexts = written(by_semitones(chart, semitones), settings)
    except BackingError as error:
        return {f"refused: {error}"}
    except ValueError as error:
        return {f"not sound: {error}"}
    return set(_faults(take, contexts))


def neck_of(style: Style) -> tuple[int, int]:
    """Return the lowest and the highest MIDI key that the chop can play."""
    instrument = find_instrument(style.chop.instrument)
    return min(instrument.strings) + 1, max(instrument.strings) + style.chop.highest


def _faults(take: Take, contexts: tuple[BarContext, ...]) -> Iterator[str]:
    bars = take.bars
    if bars[0].start or any(before.end != after.start for before, after in pairwise(bars)):
        yield "bars do not follow each other"
    if {track.end for track in take.file.tracks} != {bars[-1].end}:
        yield "the tracks do not end on the last bar line"
    sounds = {Player.BASS: take.bass, Player.CHOP: take.chop, Player.DRUMS: take.drums}
    for player, played in sounds.items():
        if not all(1 <= each.velocity <= 127 and each.length >= 1 for each in played):
            yield f"{player}: a velocity or length that is none"
    for player, played in sounds.items():
        if _is_hit_weakly(contexts, played):
            yield f"{player}: a stop or hold that is no accent"
    begun = max((context.number for context in contexts if context.is_end), default=len(contexts))
    for context in contexts:
        start, end = context.start, context.start + context.ticks
        inside = {
            player: [each for each in played if start <= each.tick < end]
            for player, played in sounds.items()
        }
        for player, (low, high) in (
            (Player.BASS, context.style.bass.range),
            (Player.CHOP, neck_of(context.style)),
        ):
            if not all(low <= each.pitch <= high for each in inside[player]):
                yield f"{player}: a note outside its range"
        for chord in _lost_chords(context, inside[Player.CHOP], inside[Player.BASS]):
            yield f"{chord} is neither in the chop nor in the bass"
        if context.number >= begun or context.sequenced.bar.pickup:
            continue
        words = {each.word for each in context.sequenced.bar.directions}
        rests = "break" in words or not all(span.chord for span in context.harmony)
        for player, played in sounds.items():
            drums_rest = player is Player.DRUMS and not any(
                grid.hits for groove in context.style.drums.grooves for _, grid in groove.lanes
            )
            if not rests and not drums_rest and not _is_heard(played, start, end):
                yield f"{player}: an empty bar"


def _lost_chords(
    context: BarContext, chop: list[smf.Sound], bass: list[smf.Sound]
) -> Iterator[Chord]:
    """Yield the chords of a beat or more of which too few tones are struck.

    Enough is two of its tones in the chop, or its bass note in the bass. The same chord again is
    one chord, a pushed one has been struck in the bar before, and in a break nobody plays.
    """
    for (chord, _), group in groupby(context.harmony, key=lambda each: (each.chord, each.flows)):
        written = list(group)
        first, ticks = written[0], written[-1].end - written[0].tick
        is_short = ticks < context.sequenced.meter.beat_ticks
        if not chord or is_short or first.held_over or first.is_silent:
            continue
        struck, low = (
            {
                each.pitch % 12
                for each in lane
                if 0 <= each.tick - context.start - first.tick < ticks
            }
            for lane in (chop, bass)
        )
        if len(struck & chord.pitch_classes) < 2 and chord.lowest.pitch_class not in low:
            yield chord


def _is_hit_weakly(contexts: tuple[BarContext, ...], played: list[smf.Sound]) -> bool:
    """Whether a stop or hold is no louder than an ordinary stroke of its part in its chorus."""
    hits: dict[tuple[int, int], list[int]] = defaultdict(list)
    others: dict[tuple[int, int], list[int]] = defaultdict(list)
    starts = [context.start for context in contexts]
    for each in played:
        context = contexts[max(bisect_right(starts, each.tick) - 1, 0)]
        sounding = context.at(each.tick - context.start)
        if sounding and not context.is_end:
            found = hits if sounding.hit and sounding.hit.is_struck else others
            found[context.chorus, context.sequenced.form_index].append(each.velocity)
    return any(min(loud) <= max(others[part], default=0) for part, loud in hits.items())


def _is_heard(played: list[smf.Sound], start: int, end: int) -> bool:
    """Whether something is struck between two ticks, or rings for an eighth and more."""
    return any(
        each.tick < end and (each.tick >= start or each.tick + each.length >= start + 480)
        for each in played
    )
