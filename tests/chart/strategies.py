"""Strategies for charts of every kind, and for texts that are nearly charts."""

from __future__ import annotations

from itertools import pairwise
from math import ceil
from string import ascii_letters, ascii_lowercase, digits
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from backing.chart.bars import EXCLUSIVE
from backing.chart.model import (
    COMMON_TIME,
    DIRECTIONS,
    ENDINGS,
    Bar,
    Chart,
    ChordSpan,
    Direction,
    Ending,
    Part,
    Repeat,
)
from backing.harmony.chord import Chord
from backing.harmony.key import MODES, Key
from backing.harmony.pitch import NoteName
from backing.harmony.quality import table
from backing.timing import Meter, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from hypothesis.strategies import DrawFn, SearchStrategy

UNITS = {
    "eighth": 0.5,
    "dotted-eighth": 0.75,
    "quarter": 1.0,
    "dotted-quarter": 1.5,
    "half": 2.0,
    "dotted-half": 3.0,
}

note_names = st.integers(-15, 19).map(NoteName)
qualities = st.sampled_from(sorted(table().values(), key=lambda quality: quality.name))
meters = st.one_of(
    st.sampled_from([COMMON_TIME, Meter(3, 4), Meter(2, 4), Meter(6, 8), Meter(2, 2), Meter(7, 8)]),
    st.builds(Meter, st.integers(1, 32), st.sampled_from([2, 4, 8, 16])),
)
styles = st.text(ascii_lowercase + digits + "-", min_size=1, max_size=40)
words = st.sampled_from(sorted(DIRECTIONS))
part_names = st.builds(
    str.__add__,
    st.sampled_from(ascii_letters),
    st.text(ascii_letters + digits + "'-", max_size=23),
)
free_text = (
    st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=30).map(str.strip).filter(bool)
)


@st.composite
def chords(draw: DrawFn) -> Chord:
    """Draw chords of every quality, on every root and bass with at most two accidentals."""
    root, bass = draw(note_names), draw(st.none() | note_names)
    return Chord(root, draw(qualities), None if bass == root else bass)


@st.composite
def keys(draw: DrawFn) -> Key:
    """Draw keys of at most seven sharps or flats."""
    mode = draw(st.sampled_from(sorted(MODES)))
    return Key(NoteName(draw(st.integers(-7, 7)) + MODES[mode]), mode)


@st.composite
def tempi(draw: DrawFn) -> Tempo:
    """Draw tempi from 20 to 500 quarter notes a minute in every unit."""
    unit, quarters = draw(st.sampled_from(sorted(UNITS.items())))
    most = min(int(500_000 / quarters), 999_999)
    return Tempo(draw(st.integers(ceil(20_000 / quarters), most)) / 1000, unit)


@st.composite
def changes(draw: DrawFn, meter: Meter) -> set[int]:
    """Draw the ticks of chord changes in a bar: on beats, on parts of beats, or anywhere."""
    steps = [meter.beat_ticks, meter.beat_ticks, meter.beat_ticks // 2, meter.beat_ticks // 3, 1]
    step = draw(st.sampled_from(steps))
    most = (meter.bar_ticks - 1) // step
    return (
        {step * each for each in draw(st.sets(st.integers(1, most), max_size=3))} if most else set()
    )


@st.composite
def bars(draw: DrawFn, meter: Meter, *, pickup: bool = False) -> Bar:
    """Draw bars of a few chords, with directions for the bar and its chords."""
    edges = (0, *sorted(draw(changes(meter))), meter.bar_ticks)
    spans = tuple(
        ChordSpan(start, end - start, draw(st.none() | chords())) for start, end in pairwise(edges)
    )
    few = st.lists(words, max_size=2)
    whole = _agreeing(draw(few), ())
    directions = [Direction(word, 0, meter.bar_ticks) for word in whole]
    for span in spans if len(spans) > 1 else ():
        own = _agreeing(draw(few), whole)
        directions += [Direction(word, span.tick, span.ticks) for word in own]
    return Bar(meter, spans, tuple(directions), pickup)


def _agreeing(found: Sequence[str], there: Sequence[str]) -> list[str]:
    """Return the directions that do not contradict the present ones or each other."""
    kept: list[str] = []
    for word in found:
        against = {other for group in EXCLUSIVE if word in group for other in group} | {word}
        if not against & {*kept, *there}:
            kept.append(word)
    return kept


def runs(meter: Meter) -> SearchStrategy[tuple[Bar, ...]]:
    """Draw up to four bars, most of them in the meter of their part."""
    one = st.one_of(bars(meter), bars(meter), meters.flatmap(bars))
    return st.lists(one, min_size=1, max_size=4).map(tuple)


@st.composite
def times_of_endings(draw: DrawFn) -> list[tuple[int, ...]]:
    """Draw the times round of two endings or more, the last time in the last."""
    most = draw(st.integers(2, 7))
    endings: list[list[int]] = [[1]]
    for time in range(2, most):
        place = draw(st.integers(0, len(endings)))
        endings[place : place + 1] = [[*(endings[place] if place < len(endings) else []), time]]
    if len(endings) == 1 or draw(st.booleans()):
        endings.append([])
    endings[-1].append(most)
    return [tuple(each) for each in endings]


@st.composite
def repeats(draw: DrawFn, meter: Meter) -> Repeat:
    """Draw repeats with and without endings."""
    common = draw(runs(meter))
    if draw(st.booleans()):
        return Repeat(common, draw(st.integers(2, 12)))
    times = draw(times_of_endings())
    endings = tuple(Ending(each, draw(runs(meter))) for each in times)
    return Repeat(common, sum(map(len, times)), endings)


@st.composite
def sections(draw: DrawFn, meter: Meter) -> tuple[Bar | Repeat, ...]:
    """Draw bars and repeats, perhaps with a pickup; after endings only another repeat."""
    found: list[Bar | Repeat] = []
    short = [each for each in map(Meter.parse, ("1/4", "3/8", "2/4", "1/16")) if _less(each, meter)]
    if short and draw(st.booleans()):
        found.append(draw(st.sampled_from(short).flatmap(lambda each: bars(each, pickup=True))))
    for _ in range(draw(st.integers(1, 2))):
        ended = found and isinstance(found[-1], Repeat) and found[-1].endings
        if ended or draw(st.booleans()):
            found.append(draw(repeats(meter)))
        else:
            found += draw(runs(meter))
    return tuple(found)


def _less(pickup: Meter, meter: Meter) -> bool:
    return pickup.bar_ticks < meter.bar_ticks


@st.composite
def parts(draw: DrawFn, name: str, meter: Meter) -> Part:
    """Draw parts with and without a key, a meter, a tempo, a style and a number of bars."""
    own = draw(st.none() | meters)
    found = draw(sections(own or meter))
    bare = Part(name, found)
    written = sum(not bar.pickup for bar in bare.written())
    return Part(
        name=name,
        sections=found,
        expected=draw(st.sampled_from([None, bare.length(), written])),
        key=draw(st.none() | keys()),
        meter=own,
        tempo=draw(st.none() | tempi()),
        style=draw(st.none() | styles),
    )


@st.composite
def charts(draw: DrawFn) -> Chart:
    """Draw whole charts."""
    meter = draw(meters)
    names = draw(st.lists(part_names, min_size=1, max_size=3, unique=True))
    return Chart(
        title=draw(free_text),
        key=draw(keys()),
        parts=tuple(draw(parts(name, meter)) for name in names),
        form=tuple(draw(st.lists(st.sampled_from(names), max_size=5))),
        meter=meter,
        tempo=draw(st.none() | tempi()),
        style=draw(st.none() | styles),
        by=draw(st.just("") | free_text),
        count_in=draw(st.none() | st.integers(0, 8)),
        intro=draw(st.none() | st.just("kick-off") | st.integers(1, 16)),
        ending=draw(st.none() | st.sampled_from(sorted(ENDINGS))),
        melody_file=draw(st.sampled_from(["", "tune.melody", "a b.abc", "Take 2.mid"])),
        notes=tuple(draw(st.lists(free_text, max_size=2))),
    )


SEEDS = (
    """\
title: Low Meadow
key: G
form: A A B

[A] 8
| G | C | D7 | G |
| G / C D7 | % | N.C. | G |
[B]
|: C | G |1 A7 | D :|2 D7 | G |
""",
    """\
key: A mixolydian
| 1 | b7 | 1 4 | 57 |
|: 1 | 4 |1 57 6m :|2 5 1 |
""",
    """\
key: Bb
meter: 3/4
[A]
(pickup 1/4) F7 |: Bb | ii7 | V7 :|x3
[B] 2
key: Eb
| I | (2/4) IV V |
""",
    """\
meter: 6/8
[Intro]
| Dm "hold" | A7 "push" Dm |
| Dm:1/4 A7:1/8 "stop" C/E:3/8 |
# quiet
||: Dm/F :|: "stop" Gm6 | A7(b9) ::C#dim7:||
""",
)
"""Charts to be spoilt."""

SIGNS = st.sampled_from(
    [
        *'|:%/"()[]#,-x123457AaBbCm. \t\n\r\0é',
        *("|:", ":|", "|1 ", ":|2 ", ":|x3", "(2/4)", "%", "N.C.", "(pickup 1/4)", "bb7", ":1/8"),
        *('"stop"', "[A]", "key: E\n", "form: ", "\ufeff", "\u2028", "\x85", "٣"),
    ]
)
"""Pieces of charts, and signs that do not belong there."""


@st.composite
def spoilt(draw: DrawFn) -> str:
    """Draw the text of a chart with a few characters deleted, inserted or doubled."""
    text = draw(st.sampled_from(SEEDS))
    for _ in range(draw(st.integers(1, 6))):
        start = draw(st.integers(0, len(text)))
        end = min(start + draw(st.integers(0, 4)), len(text))
        change: Callable[[str], str] = draw(
            st.sampled_from([lambda _: "", lambda piece: piece * 2, lambda piece: piece])
        )
        text = text[:start] + change(text[start:end]) + draw(st.just("") | SIGNS) + text[end:]
    return text
