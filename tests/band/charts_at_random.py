"""Random charts for styles in 4/4: odd bars, chords off the beat, directions, no chord."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from hypothesis import strategies as st

from backing.chart.model import (
    ENDINGS,
    KICK_OFF,
    Bar,
    Chart,
    ChordSpan,
    Direction,
    Part,
    Repeat,
)
from backing.harmony.chord import Chord
from backing.harmony.key import MODES, Key
from backing.harmony.pitch import NoteName
from backing.harmony.quality import table
from backing.notes import Player
from backing.performance.settings import Settings
from backing.style.library import all_styles
from backing.timing import EIGHTH, Meter, Tempo

if TYPE_CHECKING:
    from hypothesis.strategies import DrawFn

COMMON = Meter(4, 4)
STYLES = tuple(style.name for style in all_styles()[0] if COMMON in style.meters)
CROOKED = [
    Meter(2, 4),
    Meter(3, 4),
    Meter(5, 4),
    Meter(6, 4),
    Meter(1, 4),
    Meter(7, 8),
    Meter(6, 8),
]
WORDS = ["stop", "hold", "break", "push", "fill", "walk", "soft", "loud", "build"]

names = st.integers(-6, 8).map(NoteName)
qualities = st.sampled_from(sorted(table().values(), key=lambda quality: quality.name))


@st.composite
def chords(draw: DrawFn) -> Chord:
    """Chords of every quality, some with a slash bass."""
    root = draw(names)
    bass = draw(st.none() | st.none() | names)
    return Chord(root, draw(qualities), None if bass == root else bass)


@st.composite
def bars(draw: DrawFn, *, meter: Meter | None = None, pickup: bool = False) -> Bar:
    """Bars of one to four chords, a few of no chord, with directions."""
    own = meter or draw(st.sampled_from([COMMON] * 4 + CROOKED))
    step = draw(st.sampled_from([own.beat_ticks] * 3 + [EIGHTH, EIGHTH // 2, 320]))
    most = (own.bar_ticks - 1) // step
    cuts = draw(st.sets(st.integers(1, most), max_size=3)) if most else set()
    edges = [0, *(cut * step for cut in sorted(cuts)), own.bar_ticks]
    none = draw(st.integers(0, 9)) == 0
    spans = tuple(
        ChordSpan(start, end - start, None if none else draw(chords()))
        for start, end in pairwise(edges)
    )
    found = []
    if draw(st.booleans()):
        span = draw(st.sampled_from(spans))
        whole = draw(st.booleans())
        found.append(
            Direction(draw(st.sampled_from(WORDS)), 0, own.bar_ticks)
            if whole
            else Direction(draw(st.sampled_from(WORDS)), span.tick, span.ticks)
        )
    return Bar(own, spans, tuple(found), pickup)


@st.composite
def parts(draw: DrawFn, name: str) -> Part:
    """Parts of a few bars, with a pickup, a repeat, a key, a tempo or a style of their own."""
    found: list[Bar | Repeat] = draw(st.lists(bars(), min_size=1, max_size=6))
    if draw(st.booleans()):
        found.append(Repeat(tuple(draw(st.lists(bars(), min_size=1, max_size=2))), 2))
    if draw(st.integers(0, 3)) == 0:
        found.insert(0, draw(bars(meter=Meter(draw(st.integers(1, 2)), 4), pickup=True)))
    return Part(
        name,
        tuple(found),
        key=draw(st.none() | keys()),
        tempo=draw(st.none() | st.integers(60, 300).map(Tempo)),
        style=draw(st.none() | st.sampled_from(STYLES)),
    )


@st.composite
def keys(draw: DrawFn) -> Key:
    """Keys of at most seven sharps or flats."""
    mode = draw(st.sampled_from(sorted(MODES)))
    return Key(NoteName(draw(st.integers(-7, 7)) + MODES[mode]), mode)


@st.composite
def charts(draw: DrawFn) -> Chart:
    """Whole charts in 4/4 with odd bars."""
    called = draw(st.sampled_from([("A",), ("A", "B"), ("Intro", "A"), ("A", "B", "Tag")]))
    return Chart(
        title="At random",
        key=draw(keys()),
        parts=tuple(draw(parts(name)) for name in called),
        form=tuple(draw(st.sampled_from([(), (), (*called, called[-1])]))),
        count_in=draw(st.none() | st.integers(0, 3)),
        ending=draw(st.sampled_from([None, *sorted(ENDINGS)])),
        intro=draw(st.sampled_from([None, None, KICK_OFF, 2])),
    )


settings_at_random = st.builds(
    Settings,
    style=st.sampled_from(STYLES),
    bpm=st.sampled_from([20, 60, 100, 120, 200, 230, 300, 500]) | st.floats(20, 500),
    choruses=st.integers(1, 3),
    seed=st.integers(0, 2**32),
    looseness=st.sampled_from([0.0, 1.0, 2.0]),
    called=st.sampled_from([frozenset(), frozenset(Player)]),
)
"""Settings of every kind."""
