"""The bass states the harmony: roots in time, notes that resolve, folk lines in key.

Bands: the target is the first beat of a chord, its root the usual one; the beat before approaches
it by step or half-step; with two chords in a bar the targets are beats 1 and 3; root and fifth in
two; the basses of folk grooves keep to the scale (all of it common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from bassline import FOLK, Span, leading, outside, played, resolves
from charts_at_random import charts, settings_at_random
from hypothesis import given
from listening import share
from properties import examples

from backing.chart.model import Bar, Chart, ChordSpan, Part
from backing.chart.read import read_chart
from backing.chart.transpose import by_semitones
from backing.harmony.chord import read_chord
from backing.harmony.key import Key
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles, find_style

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.style.model import Style

STYLES = [style.name for style in all_styles()[0]]
WALKING = {"swing": 1, "western-swing": 2, "la-pompe": 2, "jazz-waltz": 2}
"""The styles that walk, and the choruses after which they do."""

AABA = (
    "form: A A B A\n[A] 8\n| F6 | D7 | Gm7 | C7 | {Am7 D7} | {Gm7 C7} | F6 | {Gm7 C7} |\n"
    "[B] 8\n| Cm7 | F7 | Bbmaj7 | Bb6 | Dm7 | G7 | Gm7 | C7 |\n"
)
CIRCLE = (
    "form: A B\n[A] 8\n| F | Dm | Gm | C7 | F | Bb | Gm | C7 |\n"
    "[B] 8\n| Bb | F | C7 | F | A7 | Dm | G7 | C7 |\n"
)
HALVES = (
    "form: A A B B\n[A] 4\n| {F C} | {Dm Bb} | {F Bb} | {Gm C} |\n"
    "[B] 4\n| {Bb F} | {C Am} | {Dm Gm} | {C F} |\n"
)
MINOR = (
    "form: A A B B\n[A] 8\n| Dm | C | Dm | A7 | Dm | {Bb C} | {Dm A7} | Dm |\n"
    "[B] 8\n| F | C | Gm | A7 | Bb | F | {Gm A7} | Dm |\n"
)
ONE_CHORD = "form: A B\n[A] 8\n| F | F | F | F | F | F | F | F |\n[B] 4\n| F | F | Bb | F |\n"
TUNES = {"F": (AABA, CIRCLE, HALVES, ONE_CHORD), "Dm": (MINOR,)}


def chart_for(text: str, style: Style, key: str) -> Chart:
    """Return a tune in the first meter of a style; chords in braces share a bar if possible."""
    meter = style.meters[0]
    for bar in {piece.split("}")[0] for piece in text.split("{")[1:]}:
        first, second = bar.split()
        rest = " /" * (meter.beats - 2) if meter.beats % 2 else ""
        text = text.replace(f"{{{bar}}}", f"{first}{rest} {second}")
    return read_chart(f"key: {key}\nmeter: {meter}\n{text}", "x.chart")


def takes(name: str, text: str, key: str = "F", seeds: int = 10, choruses: int = 1) -> list[Span]:
    """Return the chords of several takes with the bass's notes in them."""
    chart = chart_for(text, find_style(name), key)
    return [
        span
        for seed in range(1, seeds + 1)
        for span in played(
            Performance(chart, Settings(style=name, seed=seed, choruses=choruses, looseness=0.0))
        )
    ]


def tunes() -> Iterator[tuple[str, str]]:
    """Yield the tunes with their keys."""
    yield from ((text, key) for key, texts in TUNES.items() for text in texts)


@pytest.mark.parametrize("name", STYLES)
def test_short_chords(name: str) -> None:
    """A chord of half a bar or less contains its bass in 90 % of cases or more."""
    short = [
        span
        for text in (AABA, HALVES)
        for span in takes(name, text, seeds=3, choruses=2)
        if span.flows and span.is_short
    ]
    assert len(short) > 60
    assert share([span.has_root for span in short]) >= 0.90


@pytest.mark.parametrize("name", WALKING)
@pytest.mark.parametrize("text", [AABA, CIRCLE, MINOR])
def test_target_of_walking(name: str, text: str) -> None:
    """A walk has the root on the first beat of 80 to 90 % of new chords of two beats and more.

    A chord of one beat has nothing but its root.
    """
    found = [
        span
        for span in takes(name, text, "Dm" if text == MINOR else "F", choruses=3)
        if span.flows and span.is_new and span.end - span.start > 960
        if span.context.style.bass.line(span.context.variation) == "walking"
    ]
    assert len(found) > 100
    assert 0.80 <= share([span.begins_with_root for span in found]) <= 0.90
    assert all(span.has_root for span in found)


@pytest.mark.parametrize("name", [name for name in STYLES if name != "swing"])
def test_target_in_two(name: str) -> None:
    """In two, in dances and in figures 95 % of new chords or more begin with the root."""
    found = [
        span.begins_with_root
        for text, key in tunes()
        for span in takes(name, text, key, seeds=3)
        if span.flows and span.is_new
        if span.context.style.bass.line(span.context.variation) != "walking"
    ]
    assert len(found) > 100
    assert share(found) >= 0.95


@pytest.mark.parametrize("name", STYLES)
def test_parts_begin_with_the_root(name: str) -> None:
    """The first bar of a part begins with the root, even if the chord continues."""
    found = [
        span.begins_with_root
        for text, key in tunes()
        for span in takes(name, text, key, seeds=4)
        if span.flows and span.context.sequenced.is_part_start and span.start == span.context.start
    ]
    assert len(found) > 40
    assert all(found)


@pytest.mark.parametrize("name", STYLES)
def test_leading_notes_land(name: str) -> None:
    """A foreign note before a new chord or phrase goes by step into a chord tone."""
    found = []
    for text, key in tunes():
        found += leading(takes(name, text, key, seeds=3, choruses=2))
    assert len(found) > 20
    assert not [(str(a.chord), a.notes, b.notes) for a, b in found if not resolves(a, b)]


@given(chart=charts(), settings=settings_at_random)
@examples(25)
def test_leading_notes_land_in_any_chart(chart: Chart, settings: Settings) -> None:
    """The same over all chords, in odd bars, over pushes, tags and intros."""
    spans = played(Performance(chart, replace(settings, looseness=0.0)))
    assert all(resolves(before, after) for before, after in leading(spans))


@pytest.mark.parametrize("name", ["swing", "two-beat", "waltz"])
def test_leading_notes_land_in_loops(name: str) -> None:
    """The same at the end of a loop."""
    chart = chart_for(AABA, find_style(name), "F")
    found = []
    for loop in ((0, 0), (2, 5), (7, 8), (14, 19)):
        for seed in (1, 2, 3):
            settings = Settings(style=name, seed=seed, choruses=5, looseness=0.0, loop=loop)
            found += leading(played(Performance(chart, settings)))
    assert len(found) > 5
    assert all(resolves(before, after) for before, after in found)


@pytest.mark.parametrize("name", sorted(set(STYLES) & (FOLK | set(WALKING) | {"rag"})))
def test_foreign_notes_are_not_repeated(name: str) -> None:
    """A walk leaves a note that is foreign to the chord by step: no D C# C# on the way to D."""
    found = []
    for text, key in tunes():
        spans = takes(name, text, key, seeds=3, choruses=2)
        notes = [
            (span, note)
            for span in spans
            for note in span.notes
            if note[0] % 480 == 0
            and span.context.style.bass.line(span.context.variation) != "figure"
        ]
        found += [
            (abs(after[1] - before[1]), after[0] - before[0])
            for (span, before), (other, after) in pairwise(notes)
            if span.flows and not span.is_tone(before[1]) and after[0] > before[0]
            if other.context.number <= span.context.number + 1  # no bars left out between them
        ]
    # A skip sounds the note before the beat once more, for less than a beat.
    assert len(found) > 20
    assert {step for step, ticks in found if ticks >= 960 or name in FOLK} <= {1, 2}


MODES = {
    "A mixolydian": "[A] 8\n| A | G | A | {G A} | A | D | {Em G} | A |\n",
    "D dorian": "[A] 8\n| Dm | C | Dm | Am | Dm | G | {F C} | Dm |\n",
    "Am": "[A] 8\n| Am | A5 | E7 | Am | Dm | {F G} | E | Am |\n",
}
"""Tunes in modes, with chords of their scales."""


@pytest.mark.parametrize("name", sorted(FOLK))
def test_folk_basses_keep_to_the_key(name: str) -> None:
    """In twelve keys, only chords from outside the key have notes outside it."""
    charts = [chart_for(text, find_style(name), key) for text, key in tunes()]
    charts += [chart_for(text, find_style(name), key) for key, text in MODES.items()]
    for semitones in range(-5, 7):
        for chart in charts:
            settings = Settings(style=name, seed=20 + semitones, choruses=2, looseness=0.0)
            spans = played(Performance(by_semitones(chart, semitones), settings))
            assert not [(span.chord, pitch) for span, pitch in outside(spans)]


SPELLED_OTHERWISE = {
    "E": "[A] 8\n| E | Dbm | A | {Ebm7b5 B7} | Abm | {Dbm Gbm} | {Ebm7b5 Am} | E |\n",
    "Gb": "[A] 8\n| F# | D#m | B | {C# F#} | A#m | {G#m B} | {E#m7b5 Bm} | F# |\n",
}
"""Tunes whose chords spell notes of the key enharmonically, and one in another key."""


@pytest.mark.parametrize("name", sorted(FOLK))
def test_folk_basses_keep_to_the_key_however_chords_are_spelled(name: str) -> None:
    """A chord that spells D sharp as E flat removes no note from the scale of E."""
    for key, text in SPELLED_OTHERWISE.items():
        spans = takes(name, text, key, seeds=20, choruses=2)
        assert not [(str(span.chord), pitch) for span, pitch in outside(spans)]


def test_raised_sixth_goes_up() -> None:
    """In minor the sixth is raised over a chord with the raised seventh, on its way up only."""
    sixths = []
    for name in sorted(FOLK):
        spans = takes(name, MINOR, "Dm", seeds=8, choruses=2)
        notes = [(span, pitch) for span in spans for _, pitch in span.notes]
        sixths += [
            (str(span.chord), after - pitch)
            for (span, pitch), (_, after) in pairwise(notes)
            if pitch % 12 == Key.parse("Dm").tonic.up(3).pitch_class and not span.is_tone(pitch)
        ]
    assert len(sixths) > 5
    assert {chord for chord, _ in sixths} == {"A7"}
    assert {step for _, step in sixths} <= {1, 2}


def short_chords(style: Style, *eighths: int) -> Chart:
    """Return a chart whose chords have these lengths in eighths."""
    bar = style.meters[0].bar_ticks
    chords = [read_chord(name) for name in ("Em", "A7", "D", "G", "C", "F#m7", "B7", "E")]
    spans, start = [], 0
    for index, length in enumerate(eighths):
        spans.append(ChordSpan(start, length * 480, chords[index % len(chords)]))
        start += length * 480
    spans.append(ChordSpan(start, bar - start, chords[len(eighths) % len(chords)]))
    bars = tuple(Bar(style.meters[0], tuple(spans)) for _ in range(4))
    return Chart(title="Short", key=Key.parse("D"), parts=(Part("A", bars),), meter=style.meters[0])


@pytest.mark.parametrize("eighths", [(1,), (2, 1), (1, 1, 1), (3,), (1, 2)])
@pytest.mark.parametrize("name", STYLES)
def test_chords_of_any_length_are_struck(name: str, eighths: tuple[int, ...]) -> None:
    """A chord begins with a note of the bass wherever it starts; one of an eighth is its root."""
    chart = short_chords(find_style(name), *eighths)
    for seed in (1, 2, 3):
        spans = played(Performance(chart, Settings(style=name, seed=seed, choruses=1)))
        for span in spans:
            if not span.flows or not span.is_new:
                continue
            assert span.notes[0][0] == span.start
            assert span.end - span.start > 480 or span.begins_with_root
            assert span.has_root
