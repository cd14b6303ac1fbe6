"""The chords of pickups: where they sound, and how long everything is.

A pickup leads to its part every time: its chord sounds in the last beats before the part begins
(common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from backing.chart.read import read_chart
from backing.chart.sequence import played_bars
from backing.control.progress import Progress
from backing.control.settings import LiveSettings
from backing.live.source import Source
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import all_styles, find_style
from backing.timing import TICKS_PER_QUARTER as BEAT

if TYPE_CHECKING:
    from backing.chart.model import Chart, Part
    from backing.performance.performance import PlayedBar

EXACT = Settings(style="two-beat", choruses=1, count_in=0, looseness=0.0)
NO_STYLE = replace(EXACT, style=None)
DRUMS_ALONE = replace(NO_STYLE, players=frozenset({Player.DRUMS}), called=frozenset(Player))


def chords(bars: list[PlayedBar]) -> list[tuple[float, str]]:
    """Return the chords with their beats from the start, without repeats."""
    found = [(tick / BEAT, str(chord or "N.C.")) for bar in bars for tick, chord in bar.chords]
    return found[:1] + [now for before, now in pairwise(found) if now[1] != before[1]]


def played(text: str, settings: Settings = EXACT) -> list[PlayedBar]:
    """Return the bars of a chart without an ending."""
    return list(Performance(read_chart(f"ending: none\n{text}"), settings).bars())


def quarters(bars: list[PlayedBar]) -> float:
    """Return the total length of bars; check that each begins where the one before ends."""
    assert all(before.end == bar.start for before, bar in pairwise(bars))
    return (bars[-1].end - bars[0].start) / BEAT


IN_THREE = "meter: 3/4\n[A]\n| C | F | G7 | C |\n"
IN_FOUR = "[B]\nmeter: 4/4\n| (pickup 1/4) E7 | Am | Dm | E7 | Am |\n"


def test_a_full_bar_of_another_meter_gets_no_beat_more() -> None:
    """Four full bars of 3/4 are 12 quarter notes, whatever follows them."""
    bars = played(IN_THREE + IN_FOUR, NO_STYLE)
    assert quarters(bars[:4]) == 12
    assert quarters(bars) == 12 + 16
    assert chords(bars)[3:6] == [(9, "C"), (11, "E7"), (12, "Am")]


def test_a_short_bar_is_short_in_its_own_meter() -> None:
    """A bar that is short by exactly the pickup is completed by it."""
    text = "[A]\n| C | (3/4) F |\n[B]\nmeter: 3/4\n| (pickup 1/4) E7 | Am | Dm |\n"
    bars = played(text, NO_STYLE)
    assert quarters(bars) == 4 + 4 + 6
    assert chords(bars) == [(0, "C"), (4, "F"), (7, "E7"), (8, "Am"), (11, "Dm")]


@pytest.mark.parametrize(
    "text, expected",
    [
        (  # a second part
            "[A]\n| C | F |\n[B]\n| (pickup 1/4) E7 | Am | Dm |\n",
            [(0, "C"), (4, "F"), (7, "E7"), (8, "Am"), (12, "Dm")],
        ),
        (  # the same part again
            "form: A A\n[A]\n| (pickup 1/4) D7 | G | C |\n",
            [(0, "D7"), (1, "G"), (5, "C"), (8, "D7"), (9, "G"), (13, "C")],
        ),
        (  # behind a repeat sign
            "| (pickup 1/4) D7 |: G | C :|\n",
            [(0, "D7"), (1, "G"), (5, "C"), (8, "D7"), (9, "G"), (13, "C")],
        ),
        (  # behind endings
            "| (pickup 1/4) D7 |: G |1 C :|2 F |\n",
            [(0, "D7"), (1, "G"), (5, "C"), (8, "D7"), (9, "G"), (13, "F")],
        ),
        (  # in the middle of a bar that has its own chords there
            "[A]\n| C | F Am |\n[B]\n| (pickup 3/8) E7:1/8 B7:1/4 | Am |\n",
            [(0, "C"), (4, "F"), (6, "Am"), (6.5, "E7"), (7, "B7"), (8, "Am")],
        ),
        (  # more than one chord is covered
            "[A]\n| C | F C G Am |\n[B]\n| (pickup 2/4) E7 | Am |\n",
            [(0, "C"), (4, "F"), (5, "C"), (6, "E7"), (8, "Am")],
        ),
        (  # silence leads to nothing
            "[A]\n| C | F |\n[B]\n| (pickup 1/4) N.C. | Am |\n",
            [(0, "C"), (4, "F"), (8, "Am")],
        ),
        (  # nor is a chord cut by the silence before a chord of the pickup
            "[A]\n| C | F |\n[B]\n| (pickup 2/4) N.C. E7 | Am |\n",
            [(0, "C"), (4, "F"), (7, "E7"), (8, "Am")],
        ),
        (  # a short bar behind a repeat sign
            "| (pickup 1/4) D7 |: G | (3/4) C :|\n",
            [(0, "D7"), (1, "G"), (5, "C"), (8, "D7"), (9, "G"), (13, "C")],
        ),
        (  # a tune whose first part comes the first time only
            "[Intro]\n| C |\n[A]\n| (pickup 1/4) D7 | G |\n",
            [(0, "C"), (3, "D7"), (4, "G")],
        ),
        (  # numbers are those of the pickup's own part
            "key: C\n[A]\n| 1 | 4 |\n[B]\nkey: D\n| (pickup 1/4) 57 | 1 | 4 |\n",
            [(0, "C"), (4, "F"), (7, "A7"), (8, "D"), (12, "G")],
        ),
    ],
)
def test_within_the_form(text: str, expected: list[tuple[float, str]]) -> None:
    """The chord of a pickup sounds in the last beats before its part, every time."""
    assert expected == chords(played(text))


@pytest.mark.parametrize("style", [style.name for style in all_styles()[0]])
def test_the_chord_that_is_there_is_struck_again(style: str) -> None:
    """Each chord of a pickup sounds in every style."""
    meter = find_style(style).meters[0]
    pickup = f"(pickup {meter.count // meter.beats}/{meter.unit}) G7"
    text = f"key: C\nmeter: {meter}\n[A]\n| {pickup} | C | F | Dm | G7 |\n"
    for seed in range(1, 6):
        settings = replace(NO_STYLE, style=style, choruses=4, seed=seed)
        for bar in played(text, settings)[4:16:4]:
            _, (start, chord) = bar.chords
            struck = {
                note.pitch % 12
                for note in bar.notes
                if note.player is Player.CHOP and start <= note.tick < bar.end
            }
            assert chord
            assert len(struck & chord.pitch_classes) >= 2


@pytest.mark.parametrize("word", ["stop", "hold", "break"])
@pytest.mark.parametrize("bar", ['"{}" F', 'C F "{}"'])
def test_what_the_chart_says_to_a_bar_holds(word: str, bar: str) -> None:
    """A stop, hold or break lasts to the end of the bar."""
    text = f"[A]\n| C | {bar.format(word)} |\n[B]\n| (pickup 1/4) E7 | Am |\n"
    assert "E7" not in [chord for _, chord in chords(played(text))]
    behind = text.replace('C F "', 'C "').replace(f'{word}" |', f'{word}" F |')
    if "C F" in bar:
        assert (7, "E7") in chords(played(behind))


LED = "key: G\n{}[A]\n| (pickup 1/4) D7 | G | C | G |\n"


def test_from_chorus_to_chorus() -> None:
    """It sounds before every chorus, and there is none after the last bar."""
    bars = played(LED.format(""), replace(EXACT, choruses=4))
    assert [at for at, chord in chords(bars) if chord == "D7"] == [0, 12, 24, 36]
    assert quarters(bars) == 1 + 4 * 12


def test_only_the_parts_of_every_time() -> None:
    """There is no pickup before the last chorus's tag, nor before the intro."""
    text = "[Intro]\n| (pickup 1/4) A7 | C |\n[A]\n| (pickup 1/4) D7 | G |\n[Tag]\n| F |\n"
    bars = played(text, replace(EXACT, choruses=3))
    assert chords(bars) == [
        (0, "A7"), (1, "C"), (4, "D7"), (5, "G"), (8, "D7"), (9, "G"), (12, "D7"), (13, "G"),
        (17, "F"),
    ]  # fmt: skip


@pytest.mark.parametrize("intro, bars_before", [("kick-off", 2), ("last 1", 1), ("last 3", 3)])
def test_behind_an_intro(intro: str, bars_before: int) -> None:
    """The last bar before the tune ends with it, and later choruses have it as well."""
    bars = played(LED.format(f"intro: {intro}\n"), replace(EXACT, choruses=2))
    before = 4 * bars_before
    assert [at for at, chord in chords(bars) if chord == "D7"] == [before - 1, before + 11]
    assert quarters(bars) == before + 24


def test_an_intro_from_a_short_bar() -> None:
    """The short bar at the end of the form is completed in the intro too."""
    text = "intro: last 2\n| (pickup 1/4) D7 | G | C | (3/4) G |\n"
    bars = played(text, replace(EXACT, choruses=2))
    assert [at for at, chord in chords(bars) if chord == "D7"] == [7, 19]
    assert quarters(bars) == 8 + 12 + 11


def test_in_a_loop() -> None:
    """A loop that begins with the part has its pickup at its end, except the last time."""
    text = "[A]\n| (pickup 1/4) D7 | G | C |\n[B]\n| Am | F |\n"
    bars = played(text, replace(EXACT, choruses=3, loop=(0, 1)))
    assert [at for at, chord in chords(bars) if chord == "D7"] == [7, 15]
    assert quarters(bars) == 24
    inside = played(text, replace(EXACT, choruses=3, loop=(1, 2)))
    assert "D7" not in [chord for _, chord in chords(inside)]


def test_a_loop_does_not_lead_to_what_it_leaves_out() -> None:
    """The end of a loop leads to its beginning, not to what follows in the form."""
    text = "form: A B A\n[A]\n| G | C |\n[B]\n| (pickup 1/4) E7 | Am | F |\n"
    bars = played(text, replace(EXACT, choruses=2, loop=(0, 1)))
    assert "E7" not in [chord for _, chord in chords(bars)]
    both = played(text, replace(EXACT, choruses=2, loop=(0, 3)))
    assert [at for at, chord in chords(both) if chord == "E7"] == [7, 23]


def test_a_loop_is_as_long_as_written() -> None:
    """A short bar and the pickup after it are one bar of a loop."""
    text = "[A]\n| G | (3/4) C |\n[B]\n| (pickup 1/4) E7 | Am | F |\n"
    bars = played(text, replace(EXACT, choruses=2, loop=(0, 3)))
    assert quarters(bars) == 2 * 16
    assert [at for at, chord in chords(bars) if chord == "E7"] == [7, 23]


def test_in_a_tag() -> None:
    """If a part is the tag, its pickup comes each time."""
    text = "[A]\n| C | F |\n[B]\n| (pickup 1/4) E7 | Am | F | C | G |\n"
    chart = read_chart(f"ending: tag\n{text}")
    bars = list(Performance(chart, EXACT).bars())
    assert [at for at, chord in chords(bars) if chord == "E7"] == [7, 23, 39]
    assert bars[14].marker == "ending"


@pytest.mark.parametrize("style", ["two-beat", "swing", "shuffle", "ballad", "rag"])
def test_the_band_plays_it(style: str) -> None:
    """The bass plays a chord tone during the pickup."""
    text = "[A]\n| C | C |\n[B]\n| (pickup 2/4) Ab7 | C | C |\n"
    bars = played(text, replace(EXACT, style=style))
    low = [
        note.pitch % 12
        for note in bars[1].notes
        if note.player is Player.BASS and note.tick >= 6 * BEAT
    ]
    assert low
    assert low[0] in {8, 0, 3, 6}


def test_the_shapes_are_those_that_are_shown() -> None:
    """A pickup repeats its first shape; a later part's pickup has a shape as well."""
    text = "form: A B A\n[A]\n| (pickup 1/4) D7 |: G | C :|\n[B]\n| (pickup 1/4) E7 | Am | F |\n"
    performance = Performance(read_chart(text), replace(EXACT, choruses=2))
    chords = performance.voicings.chords
    leads = [each for each in chords if each.source[0].bar.pickup]
    assert [str(each.chord) for each in leads] == ["D7", "D7", "E7", "D7", "D7", "D7"]
    origins = [each.sequenced.origin for each in leads]
    assert [(each.form_index, each.index) for each in origins if each] == [
        (0, -1), (0, 1), (0, 3), (1, 1), (2, 1), (2, 3),
    ]  # fmt: skip
    assert len({each.shape for each in (leads[0], leads[1], leads[5])}) == 1


def test_live_chords_say_where_they_are_written() -> None:
    """The pickup's chord is that of its own bar, at its tick."""
    chart = read_chart("form: A B\n[A]\n| G | C Am |\n[B]\n| (pickup 1/4) E7 | Am:3/8 D:5/8 |\n")
    source, settings = Source(), LiveSettings.of(chart, Settings(bpm=120, count_in=0))
    bars, progress = [], Progress()
    for _ in range(3):
        bar, after = source.next(settings, progress)
        assert after
        assert bar.sequenced
        places = enumerate(bar.chords)
        bars.append([(tick, bar.sequenced.chord_place(number)) for number, (tick, _) in places])
        progress = progress.at(after)
    assert bars == [
        [(0, ("A", 0, 0))],
        [(0, ("A", 1, 0)), (1920, ("A", 1, 1)), (2880, ("B", 0, 0))],
        [(0, ("B", 1, 0)), (1440, ("B", 1, 1))],
    ]


# --- an independent count -----------------------------------------------------------------------


def written_quarters(chart: Chart) -> float:
    """Count the quarter notes of a chart once round by its bars as played.

    A pickup counts where nothing is before it, and where the bar before lacks just its length in
    the meter of the part which that bar is in.
    """
    total, before, meter = 0, None, None
    for name in chart.order:
        part: Part = chart.part(name)
        own = part.meter or chart.meter
        pickup = part.pickup
        if pickup and (before is None or before + pickup.ticks == meter):
            total += pickup.ticks
        lengths = [bar.meter.count * 4 * BEAT // bar.meter.unit for bar in played_bars(part)]
        total += sum(lengths)
        before, meter = lengths[-1], own.count * 4 * BEAT // own.unit
    return total / BEAT


METERS = ["2/4", "3/4", "4/4", "2/2", "6/8"]
PARTS = [
    "meter: {}\n| (pickup {}) D7 | G | C |\n",
    "meter: {}\n| (pickup {}) D7 |: G | C :| Em |\n",
    "meter: {}\n| G | C |\n",
    "meter: {}\n| G | (3/8) C |\n",
    "meter: {}\n| (pickup {}) N.C. | G | (3/4) C |\n",
]


@pytest.mark.parametrize("meter", METERS)
@pytest.mark.parametrize("other", METERS)
@pytest.mark.parametrize("pickup", ["1/4", "1/8"])
def test_a_chart_is_as_long_as_it_is_written(meter: str, other: str, pickup: str) -> None:
    """With any meters and pickups, the bars are those of the chart."""
    for first in PARTS:
        for second in PARTS:
            a, b = first.format(meter, pickup), second.format(other, pickup)
            chart = read_chart(f"ending: none\nform: A B A\n[A]\n{a}[B]\n{b}")
            bars = list(Performance(chart, DRUMS_ALONE).bars())
            assert quarters(bars) == written_quarters(chart), (first, second)
