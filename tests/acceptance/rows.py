"""The table: each row has a figure, its band, the band's source, and a measurement.

Bands that rest on a source are entries of `reference.md`, read by `reference`. Trade: common
practice, no source. Ours: our own choice.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import fsum, sqrt
from typing import TYPE_CHECKING, NamedTuple

from listening import (
    BEAT,
    EARLY,
    KICK,
    PEDAL,
    RIDE,
    SIDE_STICK,
    SNARE,
    deviation,
    lag_one,
    mean,
    mean_ratio,
    ratios,
    share,
)

from backing.notes import Player
from backing.style.model import FIRM

from .ears import CYMBALS
from .reference import Check, check, entries

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from backing.harmony.chord import Chord
    from backing.style.model import Style

    from .ears import Bar, Evidence, Heard, Listener

TRADE = "common practice, no source"
OURS = "ours"
REFERENCE = "tests/acceptance/reference.md"

FEWEST = 20
"""Least number of strokes, chords or bars of a figure."""

RINGS = BEAT // 8
"""Most ticks that a note may ring into a break: a thirty-second."""

COMMON_BAR = 4 * BEAT
SWING_TEMPI = (110, 130, 150, 170, 190, 210, 230, 250, 270, 290)
"""The middles of the rows of tempo in the reference, 20 bpm wide."""

SHUFFLE_TEMPI = (90, 115, 140)

ROCK = {"train-beat", "boogie", "two-beat", "bluegrass"}
"""Styles whose backbeat is that of rock and country."""

BACKBEATS = {"swing": "jazz", "light-swing": "jazz", "shuffle": "shuffle"}
"""The backbeat of other styles by feel; the rest are compared with all styles together."""


class Figure(NamedTuple):
    """The measurement of one style.

    Attributes:
        is_good: whether it lies in its band.
        text: the figures, for readers.
        checks: what of it was held to the reference.
    """

    is_good: bool
    text: str
    checks: tuple[Check, ...] = ()


def judged(checks: Iterable[Check], text: str, *, also: bool = True) -> Figure:
    """Return a figure that is good if all its values lie in their bands.

    Args:
        checks: values and their entries.
        text: the figures, for readers.
        also: whether it is good in what no entry speaks of.
    """
    checks = tuple(checks)
    outside = [f"{each.entry.name} {each.value:.3g}" for each in checks if not each.is_good]
    text += f"; outside: {', '.join(outside)}" if outside else ""
    return Figure(also and not outside, text, checks)


@dataclass(frozen=True)
class Row:
    """One row of the table.

    Attributes:
        name: what is measured.
        band: where it has to lie.
        source: what the band rests on.
        measure: measures it; None where the style has nothing of the kind.
        entries: how the names of the entries of the reference begin that it is held to.
    """

    name: str
    band: str
    source: str
    measure: Callable[[Evidence], Figure | None]
    entries: tuple[str, ...] = ()


def held_to(
    name: str, measure: Callable[[Evidence], Figure | None], *begins: str, also: str = ""
) -> Row:
    """Return a row whose bands are entries of the reference.

    Args:
        name: what is measured.
        measure: measures it.
        begins: how the names of the entries begin.
        also: what else is asked, our own choice.
    """
    found = [str(each) for each in entries().values() if each.name.startswith(begins)]
    return Row(name, "; ".join([*found, *([also] if also else [])]), REFERENCE, measure, begins)


def percent(facts: Sequence[bool]) -> str:
    """Return a share for readers."""
    return f"{100 * share(facts):.0f} %"


# swing, shuffle, straight


def swings(evidence: Evidence) -> Figure | None:
    """Measure the ride's ratio, or the hat's without a ride, at each tempo of the style."""
    style = evidence.style
    if style.feel != "swing" or not has_drums(style, "ride", "hat"):
        return None
    return _ratios_by_tempo(evidence, "drums' ratio", _ride)


def swings_lightly(evidence: Evidence) -> Figure | None:
    """Measure the ratio of the lane that keeps time in a light swing, against pianists'."""
    if evidence.style.feel != "light-swing":
        return None
    return _ratios_by_tempo(evidence, "piano's ratio", lambda one: one.time)


def _ride(one: Listener) -> list[Heard]:
    ride = one.lane(RIDE)
    return ride if len(ride) >= FEWEST else one.time


def _ratios_by_tempo(
    evidence: Evidence, what: str, lane: Callable[[Listener], list[Heard]]
) -> Figure | None:
    style = evidence.style
    found: dict[int, float] = {}
    checks: list[Check] = []
    for bpm in SWING_TEMPI:
        if not style.slowest_bpm <= bpm <= style.fastest_bpm:
            continue
        heard = [each for one in evidence.short("Song", bpm) for each in _ratios(one, lane(one))]
        if len(heard) < FEWEST:
            continue
        found[bpm] = mean_ratio(heard)
        checks.append(check(f"{what}, {bpm - 10} to {bpm + 9}", found[bpm]))
        checks.append(check("short note", 60_000 / bpm / (found[bpm] + 1)))
    if not found:
        return None
    # A rise of .02 is within what is measured with few takes.
    falls = all(after <= before + 0.02 for before, after in pairwise(found.values()))
    text = ", ".join(f"{ratio:.2f} at {bpm}" for bpm, ratio in found.items())
    return judged(checks, text + ("" if falls else "; does not fall"), also=falls)


def _ratios(one: Listener, lane: Iterable[Heard]) -> list[float]:
    """Return the ratios of a lane at looseness 1."""
    keys = {each.pitch for each in lane}
    start, end = one.loose.music[0].start, one.loose.music[-1].end
    sounds = sorted(
        (each for each in (*one.loose.drums, *one.loose.chop) if each.pitch in keys),
        key=lambda each: each.tick,
    )
    drums = [each for each in one.loose.drums if each.pitch in keys]
    sounds = drums or sounds
    return ratios(one.loose, [each for each in sounds if start - EARLY <= each.tick < end])


def shuffles(evidence: Evidence) -> Figure | None:
    """Measure a shuffle's swing ratio."""
    style = evidence.style
    if style.feel != "shuffle":
        return None
    texts, checks, together = [], [], True
    band = entries()["shuffle ratio"]
    for bpm in SHUFFLE_TEMPI:
        at = min(max(bpm, style.slowest_bpm), style.fastest_bpm)
        if not 90 <= at <= 140:
            continue
        found = [each for one in evidence.short("Blues", at) for each in _ratios(one, one.time)]
        if len(found) >= FEWEST:
            inside = [band.holds(each) for each in found]
            checks.append(check("shuffle ratio", mean_ratio(found)))
            together &= share(inside) >= 0.95
            texts.append(f"{mean_ratio(found):.2f} at {at:g}, {percent(inside)} of strokes inside")
    return judged(checks, "; ".join(texts), also=together) if checks else None


def is_straight(evidence: Evidence) -> Figure | None:
    """Measure how even neighbouring strokes are that are written even, in any meter."""
    if evidence.style.feel != "straight":
        return None
    found: list[float] = []
    for one in evidence.song():
        lane = one.time if has_any_drums(evidence.style) else one.strums
        steps = (BEAT, BEAT // 2, BEAT // 4)
        found += max((_even_pairs(one, lane, step) for step in steps), key=len)
    if len(found) < FEWEST:
        return None
    ratio = mean_ratio(found)
    return judged([check("straight ratio", ratio)], f"{ratio:.3f} over {len(found)} pairs")


def _even_pairs(one: Listener, lane: Iterable[Heard], step: int) -> list[float]:
    """Return the ratio of neighbouring steps, wherever there are three strokes in a row.

    The pairs begin on beats, or in compound meters on any eighth.
    """
    at = {one.bars[each.bar].start + each.tick: each for each in lane}
    found = []
    for tick, first in at.items():
        beat = one.bars[first.bar].context.sequenced.meter.beat_ticks
        if beat % BEAT == 0 and first.tick % (2 * step):
            continue
        second, third = at.get(tick + step), at.get(tick + 2 * step)
        if second and third:
            here, there, last = (
                one.bars[each.bar].start + each.loose for each in (first, second, third)
            )
            if here < there < last:
                found.append((there - here) / (last - there))
    return found


# accents


def has_drums(style: Style, *lanes: str) -> bool:
    """Return whether a style's grooves use one of some drums."""
    return any(lane in lanes for groove in style.drums.grooves for lane, _ in groove.lanes)


def has_any_drums(style: Style) -> bool:
    """Return whether the style's grooves strike anything."""
    return any(grid.hits for groove in style.drums.grooves for _, grid in groove.lanes)


def by_beat(
    listeners: Iterable[Listener], lane: Callable[[Listener], Iterable[Heard]]
) -> dict[int, list[int]]:
    """Return velocities by the beat of the bar, from 0; under -1 those between beats."""
    found: dict[int, list[int]] = defaultdict(list)
    for one in listeners:
        for each in lane(one):
            bar = one.bars[each.bar]
            if not bar.may_fill:
                beat, inside = divmod(each.tick, bar.context.sequenced.meter.beat_ticks)
                found[-1 if inside else beat].append(each.velocity)
    return found


def is_common_time(style: Style) -> bool:
    """Return whether the style's bars are four quarters long, counted in four or in two."""
    return style.bar_ticks == COMMON_BAR and style.meters[0].unit in (2, 4)


def ride_accents(evidence: Evidence) -> Figure | None:
    """Measure how much louder the ride is on 2 and 4 than on 1 and 3."""
    style = evidence.style
    if style.feel != "swing" or not has_drums(style, "ride") or not is_common_time(style):
        return None
    found = by_beat(evidence.song(), lambda one: one.lane(RIDE))
    if min(len(found[beat]) for beat in range(4)) < FEWEST:
        return None
    more = mean(found[1] + found[3]) - mean(found[0] + found[2])
    return judged([check("ride on 2 and 4 over 1 and 3", more)], f"{more:+.1f}")


def pedal_hat(evidence: Evidence) -> Figure | None:
    """Measure how many of the pedal hat's strokes on beats fall on 2 and 4."""
    style = evidence.style
    if style.feel not in ("swing", "shuffle") or not is_common_time(style):
        return None
    if not has_drums(style, "pedal-hat"):
        return None
    found = by_beat(evidence.song(), lambda one: one.lane(PEDAL))
    struck = [len(found[beat]) for beat in range(4)]
    if sum(struck) < FEWEST:
        return None
    part = 100 * (struck[1] + struck[3]) / sum(struck)
    return judged([check(f"pedal hat on 2 and 4, {style.feel}", part)], f"{part:.0f} %")


def has_backbeat(style: Style) -> bool:
    """Return whether a groove of the style has firm snares on 2 and 4."""
    return is_common_time(style) and any(
        {(BEAT, FIRM), (3 * BEAT, FIRM)} <= set(grid.hits)
        for groove in style.drums.grooves
        for lane, grid in groove.lanes
        if lane == "snare"
    )


def backbeat(evidence: Evidence) -> Figure | None:
    """Measure how much louder the snare is on 2 and 4 than elsewhere, outside fills."""
    style = evidence.style
    if not has_backbeat(style):
        return None
    back: list[int] = []
    other: list[int] = []
    for one in evidence.song():
        for each in one.lane(SNARE):
            if not one.bars[each.bar].may_fill:
                (back if each.tick in (BEAT, 3 * BEAT) else other).append(each.velocity)
    if min(len(back), len(other)) < FEWEST:
        return None
    more = mean(back) - mean(other)
    family = "rock and country" if style.name in ROCK else BACKBEATS.get(style.feel, "any style")
    return judged([check(f"backbeat, {family}", more)], f"{more:+.1f}")


# timing


def family_of(style: Style) -> str:
    """Return the takes of the reference by which a style's timing is judged."""
    return style.feel if style.feel in ("swing", "shuffle") else "all"


def drums_spread(evidence: Evidence) -> Figure | None:
    """Measure how far the lane that keeps time spreads about the grid."""
    if not has_any_drums(evidence.style):
        return None
    entry = f"time's spread, {family_of(evidence.style)}"
    return _spread(evidence, {"time": lambda one: one.time}, entry)


def others_spread(evidence: Evidence) -> Figure | None:
    """Measure how far bass and chop spread about the grid."""
    lanes = {"bass": lambda one: one.bass, "chop": lambda one: one.strums}
    return _spread(evidence, lanes, "bass's and chop's spread")


def _spread(
    evidence: Evidence, lanes: dict[str, Callable[[Listener], list[Heard]]], entry: str
) -> Figure | None:
    """Measure a standard deviation about the grid, and the correlation of deviations."""
    texts: list[str] = []
    checks: list[Check] = []
    for name, lane in lanes.items():
        found = [list(one.lateness(lane(one)).values()) for one in evidence.song()]
        found = [each for each in found if len(each) >= FEWEST]
        if found:
            size = mean([deviation(each) for each in found])
            after = mean([lag_one(each) for each in found])
            checks += [check(entry, size), check("deviations hang together", after)]
            texts.append(f"{name} {size:.1f} ms, r {after:+.2f}")
    return judged(checks, "; ".join(texts)) if checks else None


def bass_after_cymbal(evidence: Evidence) -> Figure | None:
    """Measure how much later the bass is than the cymbal where both are written together."""
    if not has_any_drums(evidence.style):
        return None
    texts: list[str] = []
    checks: list[Check] = []
    for bpm, listeners in evidence.at_tempi().items():
        apart = [each for one in listeners for each in _apart(one, one.time, one.bass)]
        if len(apart) >= FEWEST:
            middle, size = mean(apart), deviation(apart)
            checks.append(check("bass minus cymbal", middle))
            checks.append(check("bass minus cymbal, scatter", size))
            texts.append(f"{middle:+.1f} ms, SD {size:.1f} at {bpm:g}")
    return judged(checks, "; ".join(texts)) if checks else None


def drums_with_cymbal(evidence: Evidence) -> Figure | None:
    """Measure how far kick and snare are from the cymbal where they are written together.

    Where a drum keeps time there is no cymbal to compare them with.
    """
    family = family_of(evidence.style)
    texts: list[str] = []
    checks: list[Check] = []
    for name, limb, key in (
        ("kick", "kick", KICK),
        ("snare", "snare", SNARE),
        ("side stick", "snare", SIDE_STICK),
    ):
        apart = [
            each
            for one in evidence.song()
            if {stroke.pitch for stroke in one.time} <= {*CYMBALS}
            for each in _apart(one, one.time, one.lane(key))
        ]
        if len(apart) >= FEWEST:
            middle, size = mean(apart), deviation(apart)
            checks.append(check(f"{limb} minus cymbal, {family}", middle))
            checks.append(check(f"{limb} minus cymbal, scatter, {family}", size))
            texts.append(f"{name} {middle:+.1f} ms, SD {size:.1f}")
    return judged(checks, "; ".join(texts)) if checks else None


def _apart(one: Listener, first: Iterable[Heard], second: Iterable[Heard]) -> list[float]:
    here, there = one.lateness(first), one.lateness(second)
    return [there[tick] - here[tick] for tick in here.keys() & there.keys()]


# bass


class Beat(NamedTuple):
    """A note of the bass on a tick where its line has notes.

    Attributes:
        bar: the bar.
        tick: from its bar line.
        pitch: MIDI key.
        chord: the chord that sounds.
        is_new: whether the chord begins here and is another than before.
        is_last: whether another chord begins when the next note is due.
    """

    bar: Bar
    tick: int
    pitch: int
    chord: Chord
    is_new: bool
    is_last: bool


def lines(one: Listener, line: str, every: int) -> list[list[Beat]]:
    """Return the bass's notes on its beats, in stretches of bars with a line of this kind."""
    bass = one.style.bass
    starts = _changes(one)
    found: list[list[Beat]] = []
    notes: dict[int, list[Heard]] = defaultdict(list)
    for each in one.bass:
        notes[each.bar].append(each)
    walks = False
    for number, bar in enumerate(one.bars):
        if bass.line(bar.context.variation) != line:
            walks = False
            continue
        if not walks:
            found.append([])
        walks = True
        for each in sorted(notes[number], key=lambda note: note.tick):
            chord = bar.chord(each.tick)
            if each.tick % every == 0 and chord is not None:
                at = bar.start + each.tick
                found[-1].append(
                    Beat(bar, each.tick, each.pitch, chord, at in starts, at + every in starts)
                )
    return [each for each in found if each]


def _changes(one: Listener) -> set[int]:
    """Return the ticks at which another chord begins."""
    found: set[int] = set()
    before: Chord | None = None
    for bar in one.bars:
        for tick, chord in bar.chords:
            if chord != before:
                found.add(bar.start + tick)
            before = chord
    return found


def _walks(evidence: Evidence) -> Iterator[list[Beat]]:
    for one in evidence.everything():
        yield from lines(one, "walking", BEAT)


def _has_line(style: Style, line: str) -> bool:
    return any(style.bass.line(variation) == line for variation in style.variations)


def tones(chord: Chord) -> frozenset[int]:
    """Return the pitch classes of a chord with its bass."""
    return chord.pitch_classes | {chord.lowest.pitch_class}


def walking_notes(evidence: Evidence) -> Figure | None:
    """Measure chord tones on strong beats, and how the last beat leads into a change."""
    strong, leads = [], []
    for line in _walks(evidence):
        for beat in line:
            even = not beat.bar.context.ticks % (2 * BEAT)
            if beat.tick % (2 * BEAT) == 0 and (even or not beat.tick):
                strong.append(beat.pitch % 12 in tones(beat.chord))
        for before, after in pairwise(line):
            if after.is_new and not before.is_new:
                apart = after.pitch - before.pitch
                leads.append(abs(apart) in (1, 2) or -apart % 12 == 7)
    if min(len(strong), len(leads)) < FEWEST:
        return None
    good = share(strong) >= 0.85 and share(leads) >= 0.75
    return Figure(good, f"strong {percent(strong)}, leading {percent(leads)}")


def walking_steps(evidence: Evidence) -> Figure | None:
    """Measure the steps, leaps and repetitions of a walking line."""
    steps, leaps, thrice = [], [], 0
    for line in _walks(evidence):
        steps += [abs(after.pitch - before.pitch) <= 2 for before, after in pairwise(line)]
        for three in zip(line, line[1:], line[2:], strict=False):
            pedal = len({beat.chord.lowest for beat in three}) == 1 and three[2].chord.bass
            thin = any(beat.bar.context.plan.is_thin for beat in three)  # there it does not walk
            thrice += len({beat.pitch for beat in three}) == 1 and not pedal and not thin
    if len(steps) < FEWEST:
        return None
    for one in evidence.everything():
        bars = {
            number
            for number, bar in enumerate(one.bars)
            if evidence.style.bass.line(bar.context.variation) == "walking"
        }
        leaps += [
            abs(after.pitch - before.pitch)
            for before, after in pairwise(one.bass)
            if {before.bar, after.bar} <= bars
        ]
    good = 0.50 <= share(steps) <= 0.75 and max(leaps) <= 12 and not thrice
    return Figure(
        good, f"steps {percent(steps)}, widest leap {max(leaps)}, three running {thrice} times"
    )


def walking_bars(evidence: Evidence) -> Figure | None:
    """Measure how many walking bars of four beats have just one note a beat, by tempo."""
    if not _has_line(evidence.style, "walking") or not is_common_time(evidence.style):
        return None
    found: dict[float, list[bool]] = {}
    for bpm, listeners in evidence.at_tempi().items():
        plain = []
        for one in listeners:
            count: dict[int, int] = defaultdict(int)
            for each in one.bass:
                count[each.bar] += 1
            for number, bar in enumerate(one.bars):
                if evidence.style.bass.line(bar.context.variation) == "walking":
                    plain.append(count[number] == bar.context.ticks // BEAT)
        if len(plain) >= FEWEST:
            found[bpm] = plain
    if not found:
        return None
    shares = [share(each) for each in found.values()]
    return judged(
        [check("walking bars with four notes", 100 * each) for each in shares],
        ", ".join(f"{percent(each)} at {bpm:g}" for bpm, each in found.items()),
        also=shares == sorted(shares),
    )


def in_two(evidence: Evidence) -> Figure | None:
    """Measure roots and fifths on the main notes of a line in two.

    Where a main note fills the bar, the root is due at a new chord, and root or fifth after it.
    """
    style = evidence.style
    if not _has_line(style, "two-beat"):
        return None
    every = style.bass.pulse_ticks
    pulses = max(style.bar_ticks // every, 1)
    one_is, three_is = [], []
    for listener in evidence.everything():
        for line in lines(listener, "two-beat", every):
            for beat in line:
                root = beat.pitch % 12 == beat.chord.lowest.pitch_class
                fifth = beat.chord.quality.degree(5)
                above = (beat.pitch - beat.chord.root.pitch_class) % 12
                second = beat.tick == every * (pulses - 1) if pulses > 1 else not beat.is_new
                if beat.tick == 0 and (pulses > 1 or beat.is_new):
                    one_is.append(root)
                elif second:
                    three_is.append(root or above == (fifth.semitones if fifth else 7))
    if len(one_is) < FEWEST:
        return None
    good = share(one_is) >= 0.90 and (not three_is or share(three_is) >= 0.75)
    text = f"root {percent(one_is)}"
    return Figure(good, text + (f", root or fifth {percent(three_is)}" if three_is else ""))


# chop


def _chords_struck(one: Listener) -> list[tuple[Bar, Chord, tuple[int, ...]]]:
    """Return the chop's strokes: the bar, the chord of the chart, the keys from low to high."""
    keys: dict[tuple[int, int], list[int]] = defaultdict(list)
    for each in one.chop:
        keys[each.bar, each.tick].append(each.pitch)
    found = []
    for (number, tick), struck in sorted(keys.items()):
        chord = one.bars[number].chord(tick)
        if chord is not None:
            found.append((one.bars[number], chord, tuple(sorted(struck))))
    return found


def _allowed(chord: Chord, adds: tuple[str, ...]) -> frozenset[int]:
    """Return a chord's pitch classes with the sixth or ninth that the style adds."""
    added = set()
    if "6" in adds and chord.quality.degree(7) is None:
        added.add((chord.root.pitch_class + 9) % 12)
    if "9" in adds and chord.quality.degree(7) is not None:
        added.add((chord.root.pitch_class + 2) % 12)
    return chord.pitch_classes | added


def chop_tones(evidence: Evidence) -> Figure | None:
    """Measure that the chop strikes chord tones, including the third or a suspension."""
    inside, third = [], []
    strange: set[str] = set()
    for one in evidence.everything():
        for _, chord, keys in _chords_struck(one):
            classes = {key % 12 for key in keys}
            inside.append(classes <= _allowed(chord, evidence.style.chop.adds))
            if not inside[-1]:
                strange.add(str(chord))
            numbers = (number for number in (3, 4, 9) if chord.quality.degree(number))
            degree = chord.quality.degree(next(numbers, 3))
            if degree:
                third.append((chord.root.pitch_class + degree.semitones) % 12 in classes)
    if len(inside) < FEWEST:
        return None
    text = f"chord tones {percent(inside)}, third {percent(third)}"
    text += f"; strange on {', '.join(sorted(strange))}" if strange else ""
    return Figure(all(inside) and share(third) >= 0.98, text)


def chop_moves(evidence: Evidence) -> Figure | None:
    """Measure how far the chop's voices move from chord to chord, in semitones."""
    moved = []
    for one in evidence.everything():
        for (_, first, before), (_, second, after) in pairwise(_chords_struck(one)):
            if first != second and len(before) == len(after):
                moved.append(mean([abs(a - b) for a, b in zip(before, after, strict=True)]))
    if len(moved) < FEWEST:
        return None
    return Figure(mean(moved) <= 2.5, f"{mean(moved):.2f} semitones a voice")


# variety and form


def variety(evidence: Evidence) -> Figure | None:
    """Measure how many bars differ from the same bar of the chorus before, at looseness 0.

    Bars differ in when something is struck or which pitch; loudness does not count.
    """
    found: dict[Player, list[bool]] = {Player.BASS: [], Player.DRUMS: []}
    longest = 0
    for one in evidence.song():
        for player, facts in found.items():
            notes = one.bass if player is Player.BASS else one.drums
            bars: dict[int, set[tuple[int, int]]] = defaultdict(set)
            for each in notes:
                bars[each.bar].add((each.tick, each.pitch))
            by_step = {
                (bar.context.chorus, bar.context.step): frozenset(bars[number])
                for number, bar in enumerate(one.bars)
            }
            for (chorus, step), struck in by_step.items():
                before = by_step.get((chorus - 1, step))
                if before is not None:
                    facts.append(struck != before)
            if player is Player.DRUMS and has_any_drums(one.style):
                longest = max(
                    longest, *(len(list(group)) for _, group in groupby(by_step.values()))
                )
    bass, drums = found[Player.BASS], found[Player.DRUMS]
    if not bass:
        return None
    if not has_any_drums(evidence.style):
        return Figure(share(bass) >= 0.60, f"bass {percent(bass)}")
    good = share(bass) >= 0.60 and share(drums) >= 0.25 and longest <= 8
    return Figure(
        good, f"bass {percent(bass)}, drums {percent(drums)}, one drum bar {longest} times running"
    )


def form(evidence: Evidence) -> Figure | None:
    """Measure how much changes at the starts of parts, against changes inside them (Cohen's d).

    From bar to bar each player's number of strokes, or their mean velocity, changes by so many of
    its own root mean squares; the change of the band is the distance over its players.
    """
    effects: dict[str, list[float]] = {"density": [], "level": []}
    for one in evidence.as_it_comes():
        lanes = [lane for lane in (one.bass, one.strums, one.drums) if lane]
        for name, found in effects.items():
            changes = [_changes_of(one, lane, name) for lane in lanes]
            band = [sqrt(fsum(each * each for each in bar)) for bar in zip(*changes, strict=True)]
            starts = [bar.context.sequenced.index == 0 for bar in one.bars[1:]]
            found.append(
                cohen(
                    [each for each, is_start in zip(band, starts, strict=True) if is_start],
                    [each for each, is_start in zip(band, starts, strict=True) if not is_start],
                )
            )
    means = {name: mean(each) for name, each in effects.items()}
    return Figure(
        max(means.values()) >= 1.0, ", ".join(f"{name} {size:.2f}" for name, size in means.items())
    )


def _changes_of(one: Listener, lane: Iterable[Heard], what: str) -> list[float]:
    """Return by how much a player's density or level changes from each bar to the next."""
    struck: list[list[int]] = [[] for _ in one.bars]
    for each in lane:
        struck[each.bar].append(each.velocity)
    sizes = [
        float(len(loud)) if what == "density" else mean(loud) if loud else 0.0 for loud in struck
    ]
    changes = [after - before for before, after in pairwise(sizes)]
    usual = sqrt(mean([each * each for each in changes]))
    return [each / usual if usual else 0.0 for each in changes]


def cohen(first: Sequence[float], second: Sequence[float]) -> float:
    """Return the difference of two means in pooled standard deviations.

    Source: Cohen 1988, Statistical Power Analysis for the Behavioral Sciences; from memory.
    """
    middles = mean(first), mean(second)
    squares = fsum((each - middles[0]) ** 2 for each in first)
    squares += fsum((each - middles[1]) ** 2 for each in second)
    pooled = sqrt(squares / (len(first) + len(second) - 2))
    return (middles[0] - middles[1]) / pooled if pooled else 0.0


def hits(evidence: Evidence) -> Figure | None:
    """Measure how well the band stops, holds and breaks together."""
    apart: list[float] = []
    astray: list[str] = []
    for one in evidence.short("Hits"):
        lanes = {"bass": one.bass, "chop": one.strums, "drums": one.drums}
        lanes = {name: lane for name, lane in lanes.items() if lane}
        for number, bar in enumerate(one.bars):
            words = {each.word for each in bar.context.sequenced.bar.directions}
            struck = {
                name: [each for each in lane if each.bar == number] for name, lane in lanes.items()
            }
            filled = bar.context.ticks - (bar.context.fill.ticks if bar.context.fill else 0)
            if words & {"stop", "hold"}:
                firsts = []
                for name, strokes in struck.items():
                    told = [each for each in strokes if each.tick < filled or name != "drums"]
                    if {each.tick for each in told} != {0}:
                        astray.append(f"{name} in bar {number + 1}")
                    firsts += [each.loose for each in told if not each.tick]
                if firsts:
                    apart.append(one.milliseconds(max(firsts) - min(firsts)))
            elif "break" in words:
                for name, strokes in struck.items():
                    if strokes and not (name == "drums" and "fill" in words):
                        astray.append(f"{name} in the break of bar {number + 1}")
                before = one.bars[number - 1].context.ticks
                for name in ("bass", "chop"):
                    if any(
                        each.bar == number - 1 and each.tick + each.length > before + RINGS
                        for each in lanes.get(name, ())
                    ):
                        astray.append(f"{name} rings into the break of bar {number + 1}")
    if not apart:
        return None
    text = f"widest {max(apart):.1f} ms, mean {mean(apart):.1f} ms"
    text += f"; astray: {', '.join(sorted(set(astray)))}" if astray else ""
    return judged([check("players apart at a hit", max(apart))], text, also=not astray)


ROWS = (
    held_to("ride ratio in swing", swings, "drums' ratio", "short note", also="falling"),
    held_to("ratio in light swing", swings_lightly, "piano's ratio", "short note", also="falling"),
    held_to("shuffle ratio, 90 to 140", shuffles, "shuffle ratio", also="95 % of strokes too"),
    held_to("straight grooves", is_straight, "straight ratio"),
    held_to("ride, 2 and 4 over 1 and 3", ride_accents, "ride on 2 and 4"),
    held_to("pedal hat on 2 and 4", pedal_hat, "pedal hat on 2 and 4"),
    held_to("backbeat over other snares", backbeat, "backbeat, "),
    held_to("drums' spread", drums_spread, "time's spread", "deviations hang together"),
    held_to(
        "bass's and chop's spread",
        others_spread,
        "bass's and chop's spread",
        "deviations hang together",
    ),
    held_to("bass minus cymbal", bass_after_cymbal, "bass minus cymbal", also="at each tempo"),
    held_to(
        "kick and snare minus cymbal",
        drums_with_cymbal,
        "kick minus cymbal",
        "snare minus cymbal",
    ),
    Row(
        "walking: strong beats, leading",
        "chord tones at least 85 %; step, half-step or fifth at least 75 %",
        TRADE,
        walking_notes,
    ),
    Row(
        "walking: steps and leaps",
        "2 semitones or less in 50 to 75 %; no leap over 12; no pitch three times but a pedal",
        TRADE,
        walking_steps,
    ),
    held_to(
        "walking: bars with a note a beat",
        walking_bars,
        "walking bars with four notes",
        also="at each tempo, fewer when slow",
    ),
    Row(
        "two-beat: root and fifth",
        "root on 1 at least 90 %; root or fifth on 3 at least 75 %",
        TRADE,
        in_two,
    ),
    Row(
        "chop: chord tones, third",
        "chord tones (with the 6 or 9 that the style adds) 100 %; third at least 98 %",
        TRADE,
        chop_tones,
    ),
    Row("chop: movement of voices", "at most 2.5 semitones a voice", TRADE, chop_moves),
    Row(
        "variety",
        "from the chorus before differ 60 % of bass bars, 25 % of drum bars; no drum bar more than "
        "8 times running",
        OURS,
        variety,
    ),
    Row("form audible", "Cohen's d at least 1 in density or level", OURS, form),
    held_to(
        "stop, hold, break",
        hits,
        "players apart at a hit",
        also="to the tick before looseness",
    ),
)
