"""The shapes of the chop: the file has the shape that is shown for a bar."""

from __future__ import annotations

import io
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import pretty_midi
import pytest
from hypothesis import given
from hypothesis import strategies as st
from properties import examples

from backing.band.voicing import usual_fretting
from backing.chart.read import load_chart, read_chart
from backing.chart.sequence import Origin, loop_of, once_round
from backing.chart.transpose import by_semitones
from backing.fretboard.fingering_path import fingering_path, move_cost
from backing.fretboard.hand import Hand
from backing.fretboard.request import SWING, FrettingSettings
from backing.fretboard.voices import as_played
from backing.harmony.chord import Chord, read_chord
from backing.harmony.pitch import NoteName
from backing.harmony.quality import table
from backing.notes import Player
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style

ROOT = Path(__file__).parents[2]
DEMOS = sorted((ROOT / "demos").glob("*.chart"))
STYLES = sorted(path.stem for path in (ROOT / "styles").glob("*.toml"))

PUSHED = """\
key: A
form: Intro A B A
[Intro] 2
| A | E7 |
[A] 4
|: A "push" | D F#m :| E7 "stop" | A |
[B] 4
| D/F# | "push" Bm7 | C#m7 F#7 | % |
"""


def struck(performance: Performance) -> dict[int, set[frozenset[int]]]:
    """Return the chords that the chop strikes in the written file, by the number of their bar.

    pretty_midi reads the file; a stroke a half beat before the bar line or nearer, at a push, is
    counted with the bar to come as well.
    """
    midi = pretty_midi.PrettyMIDI(io.BytesIO(midi_bytes(performance)))
    chop = next(track for track in midi.instruments if track.name == "Chop")
    strokes: dict[int, set[int]] = defaultdict(set)
    for note in chop.notes:
        strokes[midi.time_to_tick(note.start)].add(note.pitch)
    found: dict[int, set[frozenset[int]]] = defaultdict(set)
    for number in range(performance.length):
        context = performance.context(number)
        assert context is not None
        for tick, keys in strokes.items():
            if context.start <= tick < context.start + context.ticks:
                found[number].add(frozenset(keys))
    return found


@pytest.mark.parametrize("key", [0, 5])
@pytest.mark.parametrize("source", [*DEMOS, PUSHED], ids=str)
def test_the_file_holds_the_shapes(source: Path | str, key: int) -> None:
    """Every stroke is the shape of a chord that sounds in its bar, all its strings and no more.

    The shapes are those of the path of the chorus; with this seed each chorus has another.
    """
    chart = load_chart(str(source)) if isinstance(source, Path) else read_chart(source, "pushed")
    performance = Performance(
        by_semitones(chart, key),
        Settings(looseness=0.0, choruses=3, seed=11, called=frozenset(Player)),
    )
    shapes: dict[tuple[int, Origin | None], set[frozenset[int]]] = defaultdict(set)
    for path, chords in enumerate(performance.voicings.paths):
        for fingered in chords:
            shapes[path, fingered.sequenced.origin].add(frozenset(fingered.keys))
    heard = struck(performance)
    compared, paths = 0, set()
    for number in range(performance.route.bars):
        context, after = performance.context(number), performance.context(number + 1)
        if (
            context is None
            or context.sequenced.is_intro
            or context.is_end
            or context.sequenced.part == "tag"
        ):
            continue
        path = performance.voicings.number_of(context.chorus)
        shown = set(shapes[path, context.sequenced.origin])
        if after and any(each.in_next_bar for each in context.harmony):
            path = performance.voicings.number_of(after.chorus)
            shown |= shapes[path, after.sequenced.origin]
        assert heard[number] <= shown
        compared += len(heard[number])
        paths.add(path)
    assert compared >= 8
    assert paths == {0, 1, 2}


def grips(performance: Performance) -> dict[Origin, set[frozenset[int]]]:
    """Return the keys that the chop holds in each bar of the form; read from the notes."""
    found: dict[Origin, set[frozenset[int]]] = defaultdict(set)
    for number in range(performance.route.bars):
        bar = performance.bar(number)
        strokes: dict[int, set[int]] = defaultdict(set)
        for note in bar.notes:
            if note.player is Player.CHOP:
                strokes[note.tick].add(note.pitch)
        assert bar.sequenced
        origin = bar.sequenced.origin
        assert origin
        found[origin] |= {frozenset(keys) for keys in strokes.values()}
    return found


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("choruses, most", [(8, 3), (20, 3)])
def test_a_chord_has_two_or_three_grips(style: str, choruses: int, most: int) -> None:
    """Over the choruses a chord is held in two or three ways, but in one in each chorus.

    A chord of which the instrument has a single shape keeps it. That players move their chords
    about the neck over a long tune: common practice, no source; the numbers are ours.
    """
    meter = find_style(style).meters[0]
    text = f"key: G\nmeter: {meter}\nending: none\n| G | Em | C | D7 | Am | Bm | C | D7 |\n"
    for seed in (1, 2, 3):
        performance = Performance(
            read_chart(text, "x"),
            Settings(style=style, choruses=choruses, seed=seed, looseness=0.0),
        )
        counts = [len(each) for each in grips(performance).values()]
        assert max(counts) <= most
        assert sum(count >= 2 for count in counts) >= 6
        one = Performance(read_chart(text, "x"), Settings(style=style, choruses=1, looseness=0.0))
        assert all(len(each) == 1 for each in grips(one).values())


@pytest.mark.parametrize("seed", range(1, 41))
def test_choruses_climb_and_come_back(seed: int) -> None:
    """Of eight choruses two differ at least; the first has the first path, a loop no other."""
    chart = read_chart("key: G\n| G | C |\n", "x")
    voicings = Performance(chart, Settings(seed=seed)).voicings
    numbers = [voicings.number_of(chorus) for chorus in range(1, 49)]
    assert numbers[0] == 0
    assert len(set(numbers[:8])) >= 2
    assert any(after < before for before, after in pairwise(numbers))
    loop = Performance(chart, Settings(seed=seed, loop=(0, 1))).voicings
    assert {loop.number_of(chorus) for chorus in range(1, 49)} == {0}


@pytest.mark.parametrize(
    "fretting",
    [
        FrettingSettings(voicing=SWING),
        FrettingSettings(strings=3),
        FrettingSettings(lowest=3),
        FrettingSettings(highest=7),
    ],
)
def test_who_chooses_shapes_has_them_in_every_chorus(fretting: FrettingSettings) -> None:
    """With a voicing, strings or frets of the player's choice each chord has one shape."""
    chart = read_chart("key: G\n| G | Em7 | Am7 | D7 |\n", "x")
    for style in ("swing", "bluegrass"):
        first, second, third = Performance(
            chart, Settings(style=style, fretting=fretting)
        ).voicings.paths
        assert [each.shape for each in first] == [each.shape for each in second]
        assert [each.shape for each in first] == [each.shape for each in third]


@pytest.mark.parametrize("style", STYLES)
def test_the_hand_reaches_every_path(style: str) -> None:
    """The hand moves little more in further paths, and the voices of a chorus stay together.

    At most half as far again and a bit as in the first path, and within an octave; ours.
    """
    meter = find_style(style).meters[0]
    text = f"key: F\nmeter: {meter}\n| F6 | D7 | Gm7 | C7 | Am7 | D7 | Gm7 | Bb6 |\n"
    costs = []
    for path in Performance(read_chart(text, "x"), Settings(style=style)).voicings.paths:
        shapes = [each.shape for each in path]
        neck = path[0].fretting.instrument
        costs.append(sum(move_cost(neck, *pair) for pair in pairwise([*shapes, shapes[0]])))
        middles = [sum(each.keys) / len(each.keys) for each in path]
        assert max(middles) - min(middles) <= 12
    assert max(costs) <= 1.5 * costs[0] + 0.3 * len(shapes)


@pytest.mark.parametrize("style", ["la-pompe", "swing", "western-swing"])
def test_a_chord_that_lasts_walks(style: str) -> None:
    """In styles in four a chord of two bars moves to a near inversion and back, later on.

    Rhythm guitarists move the inversions of a chord that lasts: common practice, no source.
    """
    text = "key: G\n[A] 8\n| G6 | % | % | % | C6 | % | Am7 | D7 |\n"
    first, second, third = Performance(read_chart(text, "x"), Settings(style=style)).voicings.paths
    assert len({each.keys for each in first[:4]}) == 1
    moved = 0
    for path in (second, third):
        assert path[0].keys == path[2].keys
        assert path[1].keys == path[3].keys
        moved += (path[0].keys != path[1].keys) + (path[4].keys != path[5].keys)
        for before, after in pairwise(path[:4]):
            steps = abs(sum(before.keys) - sum(after.keys)) / len(before.keys)
            assert steps <= 5
    assert moved >= 2


@pytest.mark.parametrize("style", STYLES)
def test_a_style_has_its_instrument(style: str) -> None:
    """The shapes are those of the fingering path on the style's own instrument."""
    meter = find_style(style).meters[0]
    chart = read_chart(f"key: D\nmeter: {meter}\n| D | Em7 | A7 | D | G | E7 | A7 | D |\n", "d")
    chords = Performance(chart, Settings(style=style)).voicings.chords
    usual = usual_fretting(find_style(style).chop)
    played = tuple(as_played(span.chord, usual.adds) for sequenced in once_round(chart)
                   for span in sequenced.bar.chords if span.chord)  # fmt: skip
    alone = fingering_path(usual.instrument, usual.hand, played, usual.request)
    assert [each.shape for each in chords] == list(alone.shapes)


@pytest.mark.parametrize("style", ["two-beat", "bluegrass"])
@pytest.mark.parametrize("key", range(12))
def test_a_chop_has_no_open_strings(style: str, key: int) -> None:
    """No string of a chop is open, in any key: Wikipedia, "Chop chord"."""
    chart = by_semitones(read_chart("key: C\n| C | F | G7 | Am7 | D/F# | Bdim | Em | E7 |\n"), key)
    for fingered in Performance(chart, Settings(style=style)).voicings.chords:
        assert 0 not in fingered.shape.frets


def test_guitar_where_a_guitar_plays() -> None:
    """A guitar in swing and la pompe, a mandolin in two (players' practice, no source)."""
    names = [find_style(name).chop.instrument for name in ("swing", "la-pompe", "two-beat")]
    assert names == ["guitar", "guitar", "mandolin"]


def keys_of(performance: Performance, number: int) -> set[int]:
    """Return the keys that the chop plays in a bar."""
    return {note.pitch for note in performance.bar(number).notes if note.player is Player.CHOP}


def test_a_loop_has_the_shapes_of_the_whole() -> None:
    """A loop of the second A has the shapes of that A in the whole tune."""
    chart = load_chart(str(ROOT / "demos" / "quarry-hill.chart"))
    whole = Performance(chart, Settings(style="two-beat", choruses=2))
    loop = Performance(chart, Settings(style="two-beat", loop=(16, 31)))
    assert len(loop_of(chart, 16, 31)) == 16
    for bar in range(16):
        assert keys_of(loop, bar) == keys_of(whole, 16 + bar)


def test_parts_with_another_instrument() -> None:
    """A part in another style has its own fingering path on that style's instrument."""
    text = "key: G\n[A] 4\n| G | C | D7 | G |\n[B] 4\nstyle: swing\n| Em7 | A7 | Am7 | D7 |\n"
    chords = Performance(read_chart(text, "two"), Settings(style=None)).voicings.chords
    assert [each.fretting.instrument.name for each in chords] == ["mandolin"] * 4 + ["guitar"] * 4


def test_what_is_asked_for_is_played() -> None:
    """A small hand, another instrument and another voicing change the shapes."""
    chart = load_chart(str(ROOT / "demos" / "quarry-hill.chart"))
    small = Settings(fretting=FrettingSettings(hand=Hand(reach_mm=70)))
    assert all(each.shape.span_mm <= 70 for each in Performance(chart, small).voicings.chords)
    swing = Settings(fretting=FrettingSettings(instrument="guitar", voicing=SWING))
    chords = Performance(chart, swing).voicings.chords
    assert {each.fretting.instrument.name for each in chords} == {"guitar"}
    assert "6" in {each.chord.quality.name for each in chords}
    assert {each.shape.strings for each in chords} <= {3, 4}


def test_the_last_hit_has_a_shape() -> None:
    """A chord that no bar has, such as the last one, has one shape, too."""
    chart = read_chart("key: C\nending: two-hit\n| F | F | G7 | F |\n", "plagal")
    performance = Performance(chart, Settings(style="two-beat", choruses=1, looseness=0))
    last = keys_of(performance, performance.length - 1)
    assert {key % 12 for key in last} <= {0, 4, 7, 2, 5, 11}
    again = Performance(chart, Settings(style="two-beat", choruses=1, looseness=0))
    assert keys_of(again, again.length - 1) == last


def test_a_unison_is_struck_once() -> None:
    """Two strings at the same pitch are one key of a synthesizer."""
    chart = read_chart("key: C\n| C | F | G7 | C |\n", "ukulele")
    for instrument in ("ukulele", "mandolin", "guitar"):
        request = FrettingSettings(instrument=instrument, hand=Hand(open_strings=True))
        chords = Performance(chart, Settings(fretting=request)).voicings.chords
        assert all(len(set(each.keys)) == len(each.keys) for each in chords)


every_chord = st.builds(
    Chord,
    st.integers(-5, 6).map(NoteName),
    st.sampled_from(sorted(table().values(), key=lambda quality: quality.name)),
)


@given(chord=every_chord, style=st.sampled_from(STYLES))
@examples(60)
def test_every_chord_is_voiced(chord: Chord, style: str) -> None:
    """Every style's instrument plays tones of every chord, including the third."""
    usual = usual_fretting(find_style(style).chop)
    played = as_played(chord, usual.adds)
    (shape,) = fingering_path(usual.instrument, usual.hand, (played,), usual.request).shapes
    classes = {key % 12 for key in shape.keys(usual.instrument)}
    assert classes <= played.pitch_classes
    third = played.quality.degree(3)
    if third:
        assert (played.root.pitch_class + third.semitones) % 12 in classes


def test_a_pushed_chord_keeps_its_shape() -> None:
    """A pushed chord has the shape of its own bar."""
    chart = read_chart('key: A\n| A | "push" Bm7 | E7 | A |\n', "push")
    performance = Performance(chart, Settings(style="two-beat", choruses=1, looseness=0))
    chords = performance.voicings.chords
    early = {
        note.pitch
        for note in performance.bar(0).notes
        if note.player is Player.CHOP and note.tick >= performance.bar(1).start - 480
    }
    assert early == set(chords[1].keys)
    assert chords[1].chord == read_chord("Bm7")
