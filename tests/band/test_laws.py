"""Laws that hold for every chart, style, seed, tempo and looseness."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import smf
from acceptance.laws import neck_of
from charts_at_random import charts, settings_at_random
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.notes import RHYTHM, Player, without_overlaps
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance, PlayedBar
from backing.timing import ticks_to_seconds

if TYPE_CHECKING:
    from backing.band.context import BarContext
    from backing.chart.model import Chart
    from backing.notes import Note
    from backing.performance.settings import Settings

EXAMPLES = 15

MOST_MS = 22
"""Greatest deviation of a hit, in milliseconds at looseness 1."""

STRAY_MS = 61
"""Greatest deviation of any other note (ours): a drummer's strokes scatter by up to 23 ms about
places up to 40 ms before the beat (computed from the Groove MIDI Dataset)."""


def contexts_of(performance: Performance) -> list[BarContext]:
    """Return the context of every bar."""
    found = [performance.context(number) for number in range(performance.length)]
    return [context for context in found if context]


def milliseconds(ticks: float, bpm: float) -> float:
    """Return a length in milliseconds."""
    return 1000 * ticks_to_seconds(ticks, bpm)


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_bars_follow_each_other(chart: Chart, settings: Settings) -> None:
    """Each bar starts where the one before ended, the first at tick 0."""
    bars = list(Performance(chart, settings).bars())
    assert bars[0].start == 0
    for before, after in pairwise(bars):
        assert before.end == after.start


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_ticks_are_in_order(chart: Chart, settings: Settings) -> None:
    """The notes of a bar are in order of ticks, none before tick 0, none without length."""
    for bar in Performance(chart, settings).bars():
        ticks = [note.tick for note in bar.notes]
        assert sorted(ticks) == ticks
        for note in bar.notes:
            assert note.tick >= 0
            assert note.length >= 1
            assert 1 <= note.velocity <= 127


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_notes_stay_near_their_bar(chart: Chart, settings: Settings) -> None:
    """A note begins in its bar, or as far outside as looseness allows.

    The bass comes 1.56 % of a quarter later on top, and a chop is spread over its strings.
    """
    performance = Performance(chart, settings)
    roll_ms = max((3 * each.style.chop.roll_ms for each in contexts_of(performance)), default=0)
    for bar in performance.bars():
        ticks_a_ms = 1 / milliseconds(1, bar.bpm)
        early = settings.looseness * STRAY_MS * ticks_a_ms + 1
        late = settings.looseness * ((STRAY_MS + max(roll_ms, 10)) * ticks_a_ms + 15) + 1
        for note in bar.notes:
            assert bar.start - early <= note.tick < bar.end + late


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_ranges(chart: Chart, settings: Settings) -> None:
    """Bass and chop stay in the range and on the frets of the part's style.

    A chord that comes early is held as in its own bar, which may be in another style.
    """
    performance = Performance(chart, settings)
    played = {bar.start: bar for bar in performance.bars()}
    for context in contexts_of(performance):
        bar = played.get(context.start)
        early = any(sounding.in_next_bar for sounding in context.harmony)
        for player, (low, high) in (
            (Player.BASS, context.style.bass.range),
            (Player.CHOP, (0, 127) if early else neck_of(context.style)),
        ):
            own = [note.pitch for note in bar.notes if note.player is player] if bar else []
            assert all(low <= pitch <= high for pitch in own)


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_the_file_is_sound(chart: Chart, settings: Settings) -> None:
    """In the file every note ends, and none sounds after the end, which all tracks share.

    Read by the letter of the standard; see `smf` for what is refused.
    """
    performance = Performance(chart, settings)
    file = smf.read_smf(midi_bytes(performance))
    end = list(performance.bars())[-1].end
    assert {end} == {track.end for track in file.tracks}
    for track in file.tracks[1:]:
        sounds = track.sounds()
        assert sounds
        assert all(sound.length >= 1 for sound in sounds)


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_breaks_and_no_chord(chart: Chart, settings: Settings) -> None:
    """In a break nobody plays; without a chord bass and chop rest.

    Measured at looseness 0, where a note lies in the bar and at the place it was written for; a
    drum fill may lead out of no chord, never into a break that is not asked to fill.
    """
    performance = Performance(chart, replace(settings, looseness=0.0))
    played = {bar.start: bar for bar in performance.bars()}
    for context in contexts_of(performance):
        bar = played.get(context.start)
        for sounding in context.harmony if bar else ():
            silent = set()
            if sounding.chord is None or sounding.is_silent:
                silent = {Player.BASS, Player.CHOP}
            if sounding.is_silent and not context.fill:
                silent.add(Player.DRUMS)
            start, end = context.start + sounding.tick, context.start + sounding.end
            struck = {note.player for note in bar.notes if start <= note.tick < end}
            assert not struck & silent


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_hits_are_struck_together(chart: Chart, settings: Settings) -> None:
    """A stop or a hold is one stroke of the whole band, on one tick at looseness 0.

    At looseness 1 each stroke is at most 22 ms from there (the greatest lateness of a good
    section's hand, our choice); the bass's 1.56 % of a quarter after the drums (Jazz Trio Database
    notebook) and the chop's roll from string to string come on top.
    """
    exact = Performance(chart, replace(settings, looseness=0.0))
    loose = {bar.start: bar for bar in Performance(chart, replace(settings, looseness=1.0)).bars()}
    written = {bar.start: bar for bar in exact.bars()}
    for context in contexts_of(exact):
        if context.start not in written or context.sequenced.bar.pickup:
            continue
        for sounding in context.harmony:
            if sounding.hit is None or sounding.is_silent or sounding.chord is None:
                continue
            start, end = context.start + sounding.tick, context.start + sounding.end
            if context.fill:
                end = min(end, context.start + context.ticks - context.fill.ticks)
            pairs = _pairs(written[context.start], loose[context.start], start, end)
            if not sounding.held_over and start < end:
                assert _who_plays(context, settings) == {note.player for note, _ in pairs}
                assert len({note.tick for note, _ in pairs}) == 1
            reach = MOST_MS / milliseconds(1, context.bpm) + 1
            for note, played in pairs:
                late = played.tick - note.tick
                roll_ms = 3 * context.style.chop.roll_ms
                strings = {Player.BASS: 15, Player.CHOP: roll_ms / milliseconds(1, context.bpm)}
                assert -reach <= late <= reach + strings.get(note.player, 0)


def _who_plays(context: BarContext, settings: Settings) -> set[Player]:
    """Return the players of the rhythm section that play in a bar."""
    return (settings.players & set(RHYTHM)) - (context.style.sits_out - settings.called)


def _pairs(written: PlayedBar, played: PlayedBar, start: int, end: int) -> list[tuple[Note, Note]]:
    """Return the notes of a bar between two ticks, as written and as played."""

    def by_key(bar: PlayedBar) -> list[Note]:
        return sorted(bar.notes, key=lambda note: (note.player, note.pitch, note.tick))

    pairs = zip(by_key(written), by_key(played), strict=True)
    return [(note, loose) for note, loose in pairs if start <= note.tick < end]


def _is_quiet(context: BarContext) -> bool:
    """Whether bass or chop may have nothing to strike in a bar."""
    return not context.harmony or any(
        sounding.held_over or sounding.chord is None or not sounding.flows
        for sounding in context.harmony
    )


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_no_empty_bar(chart: Chart, settings: Settings) -> None:
    """Bass and drums play in every bar with a groove, the chop in every bar of 4/4.

    A player who lays out for a phrase does not.
    """
    performance = Performance(chart, settings)
    played = {bar.start: bar for bar in performance.bars()}
    for context in contexts_of(performance):
        bar = played.get(context.start)
        if bar is None or _is_quiet(context):
            continue
        struck = {note.player for note in bar.notes} | context.style.sits_out
        struck |= context.plan.lays_out
        assert {Player.BASS, Player.DRUMS} <= struck
        if context.ticks == 3840 and len(context.harmony) == 1:
            assert Player.CHOP in struck


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_nothing_is_struck_twice(chart: Chart, settings: Settings) -> None:
    """At looseness 0 no player strikes one key twice on one tick; looseness makes no flams."""
    for bar in Performance(chart, replace(settings, looseness=0.0)).bars():
        struck = [(note.tick, note.player, note.pitch) for note in bar.notes]
        assert len(set(struck)) == len(struck)


@given(chart=charts(), settings=settings_at_random, out=st.sampled_from(list(Player)))
@examples(EXAMPLES)
def test_leaving_a_player_out(chart: Chart, settings: Settings, out: Player) -> None:
    """Leaving a player out removes no notes of the others."""

    def others(players: frozenset[Player]) -> list[Note]:
        bars = Performance(chart, replace(settings, players=players)).bars()
        return [note for bar in bars if bar.marker != "count-in" for note in bar.notes
                if note.player is not out]  # fmt: skip

    assert others(frozenset(Player)) == [
        note for note in others(frozenset(Player) - {out}) if note.player is not out
    ]


@given(chart=charts(), settings=settings_at_random, data=st.data())
@examples(EXAMPLES)
def test_a_bar_alone(chart: Chart, settings: Settings, data: st.DataObject) -> None:
    """Any bar made alone, before all others, has the same notes as in the whole."""
    whole = Performance(chart, settings)
    number = data.draw(st.integers(0, whole.length - 1))
    bars = [whole.bar(each) for each in range(whole.length)]
    assert bars[number] == Performance(chart, settings).bar(number)


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_seconds(chart: Chart, settings: Settings) -> None:
    """The length in seconds is the sum of all bars, including slowed ones."""
    performance = Performance(chart, settings)
    total = 0.0
    for bar in performance.bars():
        tempi = [(0, bar.bpm), *bar.slower]
        ends = [*(tick for tick, _ in bar.slower), bar.meter.bar_ticks]
        for (tick, bpm), end in zip(tempi, ends, strict=True):
            total += ticks_to_seconds(end - tick, bpm)
    assert abs(total - performance.tempo.seconds()) < 1e-6 * total


@given(chart=charts(), settings=settings_at_random)
@examples(EXAMPLES)
def test_overlaps_are_cut_once(chart: Chart, settings: Settings) -> None:
    """The file has every note of the bars, except keys struck twice on a tick."""
    notes = [note for bar in Performance(chart, settings).bars() for note in bar.notes]
    heard = without_overlaps(notes)
    assert {(note.tick, note.player, note.pitch) for note in notes} == {
        (note.tick, note.player, note.pitch) for note in heard
    }
