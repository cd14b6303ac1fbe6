"""A performance: count-in, form, endings, and chance that is addressed.

Counting two bars in when it is fast, in halves first, and the rest of the trade's habits here are
common practice, no source.
"""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
import tracemalloc
from dataclasses import replace
from functools import lru_cache

import pytest

from backing.chart.read import read_chart
from backing.errors import SettingsError
from backing.notes import RHYTHM, Note, Player
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings
from backing.style.model import DRUM_KEYS

STYLES = ("two-beat", "swing", "shuffle")
WOOD_BLOCK, SIDE_STICK = 76, 37
BAR = 3840

TUNE = """\
title: Tune
key: G
form: A A B
[A] 4
| G | C | D7 | G |
[B] 8
| Em | A7 | D7 | G | C | C#dim7 | G/D | D7 |
"""


@lru_cache(64)
def performance(text: str, settings: Settings) -> Performance:
    """Return a performance of a chart."""
    return Performance(read_chart(text, "tune.chart"), settings)


def bars(text: str, settings: Settings) -> list[PlayedBar]:
    """Return the bars of a chart."""
    return list(performance(text, settings).bars())


def exact(style: str = "two-beat", choruses: int = 1, count_in: int | None = 0) -> Settings:
    """Return settings at looseness 0."""
    return Settings(style=style, choruses=choruses, count_in=count_in, looseness=0.0)


def own(notes: list[Note], player: Player) -> list[Note]:
    """Return the notes of one player."""
    return [note for note in notes if note.player is player]


# --- the count-in ------------------------------------------------------------------------------


# At 160 a bar of 4/4 lasts 1.5 s.
@pytest.mark.parametrize(
    "tempo, clicks",
    [
        (60, [0, 960, 1920, 2880]),
        (160, [0, 960, 1920, 2880]),
        (161, [0, 1920, 3840, 4800, 5760, 6720]),
        (260, [0, 1920, 3840, 4800, 5760, 6720]),
    ],
)
def test_count_in(tempo: int, clicks: list[int]) -> None:
    """One bar is counted in quarters; a fast tempo has two, the first in halves."""
    found = bars(f"tempo: {tempo}\n| C |", exact(count_in=None))
    notes = own([note for bar in found for note in bar.notes], Player.DRUMS)
    counted = [note for note in notes if note.pitch == WOOD_BLOCK]
    assert clicks == [note.tick for note in counted]
    assert found[0].marker == "count-in"
    start = next(bar.start for bar in found if bar.marker == "chorus 1: A")
    assert start == (clicks[-1] // BAR + 1) * BAR


@pytest.mark.parametrize("bars_of_it, clicks", [(0, 0), (1, 4), (2, 6), (3, 8), (8, 18)])
def test_count_in_as_wished(bars_of_it: int, clicks: int) -> None:
    """The setting overrides the chart, and the chart overrides the tempo's default."""
    text = "count-in: 5\ntempo: 100\n| N.C. |"
    found = bars(text, exact("swing", count_in=bars_of_it))
    assert clicks == sum(note.pitch == SIDE_STICK for bar in found for note in bar.notes
                         if bar.start < bars_of_it * BAR)  # fmt: skip
    assert next(bar.start for bar in found if bar.marker == "chorus 1: A") == bars_of_it * BAR
    from_chart = bars(text, exact("swing", count_in=None))
    assert next(bar.start for bar in from_chart if bar.marker == "chorus 1: A") == 5 * BAR


def test_count_in_of_a_bar_in_two() -> None:
    """In 2/2 the bar is counted on its two beats."""
    found = bars("meter: 2/2\ntempo: 100\n| C |", exact(count_in=1))
    assert [note.tick for note in found[0].notes] == [0, 1920]


def test_count_in_stresses_one() -> None:
    """The first beat of a counted bar is louder than the others."""
    first, *others = (note.velocity for note in bars("| C |", exact(count_in=1))[0].notes)
    assert first > max(others)


def test_count_in_without_the_drums() -> None:
    """The count-in sounds even without drums: nobody could start without it."""
    settings = replace(exact(count_in=1), players=frozenset({Player.BASS}))
    found = bars("| C |", settings)
    assert len(found[0].notes) == 4
    assert {Player.BASS} == {note.player for bar in found[1:] for note in bar.notes}


# --- the pickup --------------------------------------------------------------------------------

PICKUP = "tempo: 120\n(pickup 1/4) D7 | G | C | D7 | G |\n"


@pytest.mark.parametrize("style", STYLES)
def test_pickup(style: str) -> None:
    """A pickup is played during the last beats of the count-in, which stays as long."""
    found = bars(PICKUP, exact(style, count_in=1))
    clicks = [note.tick for note in found[0].notes if note.pitch in (WOOD_BLOCK, SIDE_STICK)
              and note.velocity > 70]  # fmt: skip
    assert clicks == [0, 960, 1920]
    bass = own(list(found[0].notes), Player.BASS)
    assert [note.tick for note in bass] == [2880]
    assert bass[0].pitch % 12 == 2
    assert [(bar.start // BAR, bar.marker) for bar in found if "A" in bar.marker] == [
        (1, "chorus 1: A")
    ]


def test_pickup_of_three_beats() -> None:
    """A longer pickup takes more of the count-in."""
    found = bars("tempo: 120\n(pickup 3/4) D7 | G |", exact(count_in=1))
    assert [note.tick for note in found[0].notes if note.pitch == WOOD_BLOCK] == [0]
    assert own(list(found[0].notes), Player.BASS)[0].tick == 960


def test_pickup_without_a_count_in() -> None:
    """Without a count-in the performance begins with the pickup, a bar of its own length."""
    found = bars(PICKUP, exact(count_in=0))
    assert [(bar.start, bar.end) for bar in found[:2]] == [(0, 960), (960, 960 + BAR)]


def test_pickup_is_played_once() -> None:
    """In later choruses the pickup lies inside the bar before."""
    found = bars(PICKUP, exact(count_in=1, choruses=3))
    assert {BAR} == {bar.end - bar.start for bar in found}
    assert [bar.marker for bar in found if "A" in bar.marker] == [
        f"chorus {each}: A" for each in (1, 2, 3)
    ]


# --- the ending --------------------------------------------------------------------------------


def ringing(text: str, style: str = "swing") -> tuple[list[PlayedBar], list[Note]]:
    """Return the bars of a chart and the notes of its last chord."""
    found = bars(text, exact(style))
    notes = [note for bar in found for note in bar.notes]
    last = max(note.tick for note in notes)
    return found, [note for note in notes if note.tick == last]


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("tempo", [60, 120, 200, 300])
def test_hold(style: str, tempo: int) -> None:
    """All hit the home chord and hold it for 1.8 seconds or more, to the last bar line."""
    found, last = ringing(f"key: G\ntempo: {tempo}\nending: hold\n| G | D7 | C | G |", style)
    assert set(RHYTHM) == {note.player for note in last}
    assert {found[3].start} == {note.tick for note in last}
    chord = [note for note in last if note.player is Player.CHOP]
    assert {note.pitch % 12 for note in chord} == {7, 11, 2}
    assert {found[-1].end} == {note.end for note in chord}
    assert chord[0].length / 960 * 60 / tempo >= 1.8
    bass = own(last, Player.BASS)
    assert [note.pitch % 12 for note in bass] == [7]


@pytest.mark.parametrize("style", STYLES)
def test_hold_behind_a_turnaround(style: str) -> None:
    """If the last bar does not end at home, the home chord follows in a bar of its own."""
    found, last = ringing("key: G\nending: hold\n| G6 | C | Am7 D7 |", style)
    assert next(bar.marker for bar in found if bar.start == last[0].tick) == "ending"
    assert found[3].start == last[0].tick
    chord = {note.pitch % 12 for note in last if note.player is Player.CHOP}
    assert chord <= {7, 11, 2, 4}
    assert {11, 4} <= chord


@pytest.mark.parametrize("style", STYLES)
def test_short(style: str) -> None:
    """A short ending is one stroke of an eighth, and silence to the bar line."""
    found, last = ringing("key: G\nending: short\ntempo: 120\n| G | D7 | C | G |", style)
    assert set(RHYTHM) == {note.player for note in last}
    assert {found[3].start} == {note.tick for note in last}
    assert max(note.length for note in last) <= 720
    assert len(found) == 4


@pytest.mark.parametrize("style", STYLES)
def test_no_ending(style: str) -> None:
    """Without an ending the groove continues to the last bar line."""
    found, _ = ringing("key: G\nending: none\ntempo: 120\n| G | D7 | C | G |", style)
    assert len(found) == 4
    for player in RHYTHM:
        assert len({note.tick for note in own(list(found[3].notes), player)}) >= 2


def test_minor_home() -> None:
    """The home chord of a minor key is minor."""
    _, last = ringing("key: Am\nending: hold\n| F | G | E7 |")
    assert {9, 0, 4} == {note.pitch % 12 for note in last if note.player is Player.CHOP}


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize(
    "last_bar, ending, tick, held",
    [
        ('G "stop"', "hold", 0, False),
        ('G "hold"', "short", 0, True),
        ("D7 G", "short", 1920, False),
        ("D7 G", "hold", 1920, True),
        ('D7 G "push"', "short", 1920 - 480, False),
    ],
)
def test_words_at_the_end(last_bar: str, ending: str, tick: int, held: bool, style: str) -> None:
    """The end is at the start of the last home chord, and its direction says how it ends."""
    text = f"key: G\ntempo: 100\nending: {ending}\n| G | D7 | C | {last_bar} |"
    found, _ = ringing(text, style)
    start = found[3].start + tick
    last = [note for bar in found for note in bar.notes if note.tick >= start]
    assert set(RHYTHM) == {note.player for note in last}
    assert max(note.tick for note in last) <= start + 240  # a pushed one is swung
    chord = own(last, Player.CHOP)
    assert held == (min(note.length for note in chord) >= 1800)
    assert {7} == {note.pitch % 12 for note in own(last, Player.BASS)}


@pytest.mark.parametrize("style", STYLES)
def test_end_pushed_over_the_bar_line(style: str) -> None:
    """A pushed last chord is struck in the bar before, and nothing after it."""
    found, last = ringing('key: G\ntempo: 100\n| G | D7 | C | G "push" |', style)
    assert found[3].start - 480 <= min(note.tick for note in last) < found[3].start
    assert not found[3].notes


@pytest.mark.parametrize("style", STYLES)
def test_no_home_without_chords(style: str) -> None:
    """A chart without a chord has drums only and no last chord."""
    found = bars("key: G\n| N.C. | N.C. |", exact(style))
    assert len(found) == 2
    assert {Player.DRUMS} == {note.player for bar in found for note in bar.notes}


# --- the form ----------------------------------------------------------------------------------


def test_markers_follow_the_form() -> None:
    """Each part is marked with its chorus; the intro is only at the start, the tag at the end."""
    text = "form: Intro A B A Tag\nending: none\n" + "".join(
        f"[{name}]\n| C | F |\n" for name in ("Intro", "A", "B", "Tag")
    )
    marked = [bar.marker for bar in bars(text, exact(choruses=3)) if bar.marker]
    form = [f"chorus {chorus}: {part}" for chorus in (1, 2, 3) for part in ("A", "B", "A 2")]
    expected = ["chorus 1: Intro", *form, "chorus 3: Tag"]
    assert expected == marked


def test_parts_have_their_own_key_tempo_and_style() -> None:
    """A part's own key and tempo hold in its bars, and its own style is played there."""
    text = (
        "key: C\ntempo: 100\nending: none\n[A]\n| C | F | G7 | C |\n"
        "[B]\nkey: D\ntempo: 150\nstyle: swing\n| D | G | A7 | D |\n"
    )
    found = bars(text, exact())
    assert [(str(bar.key), bar.bpm) for bar in found] == [("C", 100)] * 4 + [("D", 150)] * 4
    swung = {DRUM_KEYS[lane] for lane in ("open-hat", "ride")}
    struck = [{note.pitch for note in own(list(bar.notes), Player.DRUMS)} for bar in found]
    assert not any(keys & swung for keys in struck[:4])
    assert all(keys & swung for keys in struck[4:])


def test_tempo_as_wished() -> None:
    """With another tempo the parts keep their relation to each other."""
    text = "tempo: 100\nending: none\n[A]\n| C |\n[B]\ntempo: 150\n| D |\n"
    found = bars(text, replace(exact(), bpm=80))
    assert [bar.bpm for bar in found] == [80, 120]


@pytest.mark.parametrize("choruses", [1, 2, 3, 7])
def test_choruses(choruses: int) -> None:
    """The form is played as often as the settings say."""
    found = bars("ending: none\n" + TUNE, exact(choruses=choruses))
    assert 16 * choruses == len(found)


def test_seconds() -> None:
    """Sixteen bars of 4/4 at 120 last 32 seconds (arithmetic), the count-in 2 more."""
    once = performance("tempo: 120\nending: none\n" + TUNE, exact(count_in=1))
    assert (once.tempo.seconds(), once.tempo.seconds_once_round()) == (34, 32)


# --- chance ------------------------------------------------------------------------------------


@pytest.mark.parametrize("style", STYLES)
def test_one_seed_one_file(style: str) -> None:
    """The same seed gives the same bytes, another seed others."""
    chart = read_chart(TUNE, "tune.chart")
    first, again, other = (
        midi_bytes(Performance(chart, Settings(style=style, seed=seed))) for seed in (5, 5, 6)
    )
    assert first == again
    assert first != other


def test_in_another_process(tmp_path: os.PathLike[str]) -> None:
    """The same seed gives the same bytes in another process that hashes strings otherwise."""
    script = (
        "import hashlib, sys\n"
        "from backing.chart.read import read_chart\n"
        "from backing.out.midifile import midi_bytes\n"
        "from backing.performance.performance import Performance\n"
        "from backing.performance.settings import Settings\n"
        "chart = read_chart(sys.stdin.read(), 'tune.chart')\n"
        "for style in sys.argv[1:]:\n"
        "    data = midi_bytes(Performance(chart, Settings(style=style, seed=5)))\n"
        "    print(hashlib.sha256(data).hexdigest())\n"
    )
    environment = {**os.environ, "PYTHONHASHSEED": "4242", "PYTHONIOENCODING": "utf-8"}
    result = subprocess.run(
        [sys.executable, "-c", script, *STYLES],
        input=TUNE, text=True, capture_output=True, check=True, env=environment, cwd=tmp_path,
    )  # fmt: skip
    chart = read_chart(TUNE, "tune.chart")
    here = [
        hashlib.sha256(midi_bytes(Performance(chart, Settings(style=style, seed=5)))).hexdigest()
        for style in STYLES
    ]
    assert here == result.stdout.split()


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("left_out", RHYTHM)
def test_leaving_out(style: str, left_out: Player) -> None:
    """Leaving one player out leaves the notes of the others equal."""
    whole = Settings(style=style, count_in=0)
    without = replace(whole, players=frozenset(Player) - {left_out})
    for full, less in zip(bars(TUNE, whole), bars(TUNE, without), strict=True):
        assert tuple(note for note in full.notes if note.player is not left_out) == less.notes


@pytest.mark.parametrize("style", STYLES)
def test_bars_alone(style: str) -> None:
    """Any bar made alone, in any order, equals the bar of the whole performance."""
    settings = Settings(style=style, count_in=1)
    whole = bars(TUNE, settings)[1:]
    fresh = Performance(read_chart(TUNE, "tune.chart"), settings)
    order = [41, 3, 17, 16, 40, 0, 30, 47, 12]
    assert [whole[number] for number in order] == [fresh.bar(number) for number in order]


@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("looseness", [0.0, 1.0])
def test_no_two_choruses_alike(style: str, looseness: float) -> None:
    """No two choruses are the same bar for bar, neither as a band nor bass or drums alone."""
    settings = Settings(style=style, choruses=8, count_in=0, looseness=looseness)
    found = bars("ending: none\n" + TUNE, settings)
    for players in (set(Player), {Player.BASS}, {Player.DRUMS}):
        choruses = {
            tuple(
                (bar.start - start, note.tick - bar.start, note.pitch, note.velocity)
                for bar in found[16 * chorus : 16 * chorus + 16]
                for note in bar.notes
                if note.player in players
            )
            for chorus in range(8)
            for start in (found[16 * chorus].start,)
        }
        assert len(choruses) == 8


@pytest.mark.parametrize("style", STYLES)
def test_choruses_are_alike_in_kind(style: str) -> None:
    """The bass varies between choruses but begins each part on the same note."""
    settings = Settings(style=style, choruses=6, count_in=0, looseness=0.0)
    found = bars("ending: none\n" + TUNE, settings)
    firsts = [own(list(found[16 * chorus].notes), Player.BASS)[0] for chorus in range(6)]
    assert {7} == {note.pitch % 12 for note in firsts}


def peak(choruses: int) -> int:
    """Return the peak memory in bytes while bars are made and not kept."""
    chart = read_chart("| G | C | D7 | G |", "tune.chart")
    made = Performance(chart, Settings(style="two-beat", choruses=choruses))
    tracemalloc.start()
    try:
        for _ in made.bars():
            pass
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_memory_is_flat() -> None:
    """Memory does not grow with the number of choruses.

    What is kept is kept on purpose, and no more of it: the last 256 places, lines and voicings.
    400 more bars of music take 4,000 bytes each when they are kept (measured here).
    """
    few, many = peak(70), peak(170)
    assert many - few < 400 * 1000 / 2


# --- settings that cannot be met ---------------------------------------------------------------


@pytest.mark.parametrize(
    "settings, sentence",
    [
        (Settings(style="swang"), "'swang' is not a style: choose from .*; did you mean 'swing'?"),
        (Settings(choruses=0), "0 choruses: the band plays 1 to 999"),
        (Settings(choruses=1000), "1000 choruses: the band plays 1 to 999"),
        (Settings(bpm=19), "a tempo of 19: the band plays from 20 to 500"),
        (Settings(bpm=501), "a tempo of 501: the band plays from 20 to 500"),
        (Settings(count_in=9), "9 bars of count-in: 0 to 8 are allowed"),
        (Settings(count_in=-1), "-1 bars of count-in: 0 to 8 are allowed"),
        (Settings(looseness=-0.1), "a looseness of -0.1: 0 places every note exactly"),
        (Settings(looseness=2.1), "a looseness of 2.1: .* 2.0 is the most"),
        (Settings(players=frozenset()), "nobody plays: leave at least one of bass, chop and drums"),
    ],
)
def test_wishes_that_cannot_be_met(settings: Settings, sentence: str) -> None:
    """A setting out of range is refused, with what is allowed."""
    with pytest.raises(SettingsError, match=sentence.replace("?", r"\?")):
        Performance(read_chart(TUNE, "tune.chart"), settings)


@pytest.mark.parametrize(
    "meter, style, sentence",
    [
        ("3/4", "swing", "the style swing is played in 4/4, part A is in 3/4: choose from "),
        ("2/4", "shuffle", "the style shuffle is played in 4/4, part A is in 2/4: choose from "),
        ("7/8", "two-beat", "the style two-beat is played in 4/4 or 2/2 or 2/4, part A is in 7/8"),
    ],
)
def test_meters_that_a_style_does_not_play(meter: str, style: str, sentence: str) -> None:
    """A style that does not play a part's meter is refused; the message lists those that do."""
    chart = read_chart(f"meter: {meter}\n| C |", "x")
    with pytest.raises(SettingsError, match=re.escape(sentence)):
        Performance(chart, Settings(style=style))


@pytest.mark.parametrize(
    "bpm, remarks",
    [
        (99, ("swing is usually 100-300 quarter notes a minute; this is 99",)),
        (100, ()),
        (300, ()),
        (301, ("swing is usually 100-300 quarter notes a minute; this is 301",)),
    ],
)
def test_remarks(bpm: float, remarks: tuple[str, ...]) -> None:
    """A tempo outside the style's range is played, with a remark."""
    assert remarks == performance(TUNE, Settings(style="swing", bpm=bpm)).remarks()


@pytest.mark.parametrize(
    "meter, style",
    [
        ("4/4", "two-beat"),
        ("2/2", "reel"),
        ("2/4", "polka"),
        ("3/4", "waltz"),
        ("6/8", "jig"),
        ("9/8", "slip-jig"),
        ("12/8", "slow-blues"),
    ],
)
def test_the_usual_style_of_a_meter(meter: str, style: str) -> None:
    """A chart without a style has the usual one of its meter; so has a part in another meter."""
    alone = Performance(read_chart(f"meter: {meter}\n| C |", "x"), Settings(choruses=1))
    assert alone.style.name == style
    text = f"[A]\n| C |\n[B]\nmeter: {meter}\n| C |"
    context = Performance(read_chart(text, "x"), Settings(choruses=1)).context(1)
    assert context is not None
    assert context.style.name == style
