"""How performances begin and end: intros, tags, ritards, two hits and fades.

What each is: common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from backing.chart.read import read_chart
from backing.errors import SettingsError
from backing.notes import RHYTHM, Player
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings
from backing.timing import EIGHTH, ticks_to_seconds

FORM = """\
key: C
style: two-beat
tempo: 180
count-in: 1
{fields}
[A] 8
| C | Am | F | G7 | C | Am | F | G7 |
[B] 8
| F | C | F | C | F | Dm | G7 | C |
"""
BARS = 16


def played(fields: str, choruses: int = 2, **settings: object) -> list[PlayedBar]:
    """Return the bars of a form of two parts at looseness 0, without count-in."""
    chart = read_chart(FORM.format(fields=fields), "x.chart")
    settings = Settings(choruses=choruses, looseness=0.0, **settings)  # type: ignore[arg-type]
    return list(Performance(chart, settings).bars())[1:]


def chords(bars: list[PlayedBar]) -> list[str]:
    """Return the chords of bars, one after the other."""
    return [str(chord) for bar in bars for _, chord in bar.chords]


@pytest.mark.parametrize("number", [1, 4, 8])
def test_an_intro_is_the_last_bars_of_the_form(number: int) -> None:
    """`intro: last 4` puts the last four bars first, once, and the form comes whole."""
    bars = played(f"intro: last {number}\nending: none")
    assert len(bars) == number + 2 * BARS
    assert bars[0].marker == "intro"
    assert chords(bars[:number]) == chords(bars[number : number + BARS])[-number:]
    assert [bar.marker for bar in bars if bar.marker][1:] == [
        f"chorus {chorus}: {part}" for chorus in (1, 2) for part in "AB"
    ]


def test_a_kick_off_is_four_hits_of_the_whole_band() -> None:
    """In 4/4 the band hits the home chord on 1 and 3 of two bars, and nothing else sounds."""
    bars = played("intro: kick-off\nending: none")
    assert len(bars) == 2 + 2 * BARS
    assert chords(bars[:2]) == ["C"] * 4
    for player in RHYTHM:
        struck = {
            note.tick - bars[0].start
            for bar in bars[:2]
            for note in bar.notes
            if note.player is player
        }
        assert struck == {0, 1920, 3840, 5760}


@pytest.mark.parametrize("meter, bars", [("3/4", 4), ("6/8", 2), ("2/4", 2), ("9/8", 4)])
def test_a_kick_off_has_four_hits_in_any_meter(meter: str, bars: int) -> None:
    """An even meter has two hits a bar, an odd one has one."""
    chart = read_chart(f"key: G\nmeter: {meter}\nintro: kick-off\ncount-in: 0\n[A]\n| G | D7 |\n")
    found = list(Performance(chart, Settings(choruses=1, looseness=0.0)).bars())
    assert [bar.marker for bar in found if bar.marker][:2] == ["intro", "chorus 1: A"]
    assert next(index for index, bar in enumerate(found) if bar.marker == "chorus 1: A") == bars
    hits = {note.tick for bar in found[:bars] for note in bar.notes if note.player == "bass"}
    assert len(hits) == 4


def test_a_tag_is_the_last_line_twice_more() -> None:
    """In the last chorus the last four bars come three times in all, then home is held."""
    bars = played("ending: tag")
    assert chords(bars[2 * BARS - 4 : 2 * BARS]) * 2 == chords(bars[2 * BARS : 2 * BARS + 8])[:8]
    assert [bar.marker for bar in bars if bar.marker][-2:] == ["tag", "ending"]


CLOSED = (
    "key: C\nending: {ending}\nform: {form}\n[A] 4\n| C | F | G7 | C |\n[{name}] 2\n| F G7 | C |\n"
)


@pytest.mark.parametrize("name", ["Tag", "outro", "CODA"])
@pytest.mark.parametrize("choruses", [1, 2])
def test_a_written_tag_is_the_tag(name: str, choruses: int) -> None:
    """If the form ends with a tag, outro or coda, `ending: tag` adds no bars, with a remark."""
    found = []
    for ending in ("tag", "hold"):
        text = CLOSED.format(ending=ending, form=f"A {name}", name=name)
        performance = Performance(read_chart(text), Settings(choruses=choruses))
        found.append(list(performance.bars()))
        told = [each for each in performance.remarks() if "ending: tag" in each]
        assert told == [f"the part {name} is played as the tag: 'ending: tag' adds no bars"] * (
            ending == "tag"
        )
    assert found[0] == found[1]


@pytest.mark.parametrize("form", ["A", "Tag A", "Tag"])
def test_a_part_called_tag_elsewhere_is_no_tag(form: str) -> None:
    """A tag part before the end, or as the whole form, does not replace the tag."""
    text = CLOSED.format(ending="tag", form=form, name="Tag")
    performance = Performance(read_chart(text), Settings(choruses=1))
    assert not [each for each in performance.remarks() if "ending: tag" in each]
    assert [bar.marker for bar in performance.bars() if bar.marker.startswith("tag")]


def test_a_ritard_slows_beat_by_beat() -> None:
    """Over the two bars before the last chord the tempo falls, never rises, and ends at 60 %."""
    bars = played("ending: ritard")
    tempi = [tempo for bar in bars for tempo in (bar.bpm, *(bpm for _, bpm in bar.slower))]
    assert all(later <= earlier for earlier, later in pairwise(tempi))
    assert tempi[0] == 180
    assert tempi[-1] == pytest.approx(108)
    last = next(index for index, bar in enumerate(bars) if bar.marker == "ending")
    assert {bar.bpm for bar in bars[: last - 2]} == {180}
    assert len(bars[last - 2].slower) == len(bars[last - 1].slower) == 3


def test_a_ritard_is_counted_in_the_length() -> None:
    """The length in seconds is that of the bars at their tempi."""
    chart = read_chart(FORM.format(fields="ending: ritard"), "x.chart")
    performance = Performance(chart, Settings(choruses=2))
    total = 0.0
    for bar in performance.bars():
        tempi = [(0, bar.bpm), *bar.slower]
        ends = [*(tick for tick, _ in tempi[1:]), bar.meter.bar_ticks]
        total += sum(
            ticks_to_seconds(end - tick, bpm) for (tick, bpm), end in zip(tempi, ends, strict=True)
        )
    assert performance.tempo.seconds() == pytest.approx(total)


def test_two_hits_are_the_fifth_and_home() -> None:
    """After the form comes one bar: G7 on its first half, C on its second, both damped."""
    bars = played("ending: two-hit")
    assert len(bars) == 2 * BARS + 1
    assert chords(bars[-1:]) == ["G7", "C"]
    for player in RHYTHM:
        struck = {note.tick - bars[-1].start for note in bars[-1].notes if note.player is player}
        assert struck == {0, 1920}
    assert max(note.length for note in bars[-1].notes) <= 480


def test_a_fade_falls_to_nearly_nothing_and_not_when_live() -> None:
    """Over the last eight bars the loudness falls; in live playing the home chord is held."""
    bars = played("ending: fade")
    loud = [max(note.velocity for note in bar.notes) for bar in bars]
    assert loud[-1] < 0.3 * loud[-9]
    assert all(loud[index + 2] < loud[index] for index in range(len(loud) - 8, len(loud) - 2))
    assert len(bars) == 2 * BARS
    live = played("ending: fade", live=True)
    assert live[-1].marker == "ending" or live[-2].marker == "ending"


def test_in_a_loop_there_are_no_seams() -> None:
    """A loop has neither intro nor tag."""
    bars = played("intro: last 4\nending: tag", loop=(0, 7))
    assert [bar.marker for bar in bars if bar.marker][:2] == ["chorus 1: A", "chorus 2: A"]


def test_a_pickup_lies_in_the_intro() -> None:
    """With an intro the pickup is no bar of its own: it lies in the intro's last bar."""
    text = "key: C\nintro: last 2\ncount-in: 1\n[A]\n| (pickup 1/4) G7 | C | F | G7 | C |\n"
    bars = list(Performance(read_chart(text), Settings(choruses=1)).bars())
    assert {bar.meter.bar_ticks for bar in bars} == {3840}
    assert [str(chord) for _, chord in bars[2].chords] == ["C", "G7"]


@pytest.mark.parametrize("intro", ["kick-off", "last 1", "last 4"])
@pytest.mark.parametrize("count_in", [0, 2])
@pytest.mark.parametrize("pickup", ["1/4", "2/4", "3/4"])
def test_a_pickup_sounds_behind_an_intro(intro: str, count_in: int, pickup: str) -> None:
    """Its chord ends the last bar of the intro, and the bass plays it."""
    text = f"key: C\nintro: {intro}\n[A]\n| (pickup {pickup}) Ab7 | C | F | G7 | C |\n"
    chart = read_chart(text)
    bars = list(Performance(chart, Settings(choruses=1, count_in=count_in, looseness=0)).bars())
    first = next(index for index, bar in enumerate(bars) if bar.marker == "chorus 1: A")
    before, ticks = bars[first - 1], {"1/4": 960, "2/4": 1920, "3/4": 2880}[pickup]
    assert (before.chords[-1][0], str(before.chords[-1][1])) == (bars[first].start - ticks, "Ab7")
    low = [
        note.pitch % 12
        for note in before.notes
        if note.player is Player.BASS and note.tick >= bars[first].start - ticks
    ]
    assert low
    assert low[0] in {8, 0, 3, 6}


def test_a_pickup_behind_a_short_bar() -> None:
    """A pickup longer than the bar that it ends leaves that bar its first beat."""
    text = "key: C\nintro: last 1\n[A]\n| (pickup 3/4) F G7 Am | C | G7 | C | (2/4) C |\n"
    bars = list(Performance(read_chart(text), Settings(choruses=1)).bars())
    first = next(index for index, bar in enumerate(bars) if bar.marker == "chorus 1: A")
    assert [str(chord) for _, chord in bars[first - 1].chords] == ["C", "Am"]


@pytest.mark.parametrize("bars", [1, 2, 4, 8])
def test_a_fade_takes_the_last_chorus_at_most(bars: int) -> None:
    """A fade begins at full loudness, even in a short tune, and does not change a kick-off."""
    text = f"key: C\nintro: kick-off\nending: fade\n[A]\n{'| C ' * bars}|\n"
    performance = Performance(read_chart(text), Settings(style="two-beat", choruses=1))
    found = [performance.context(number).level(0) for number in range(performance.length)]
    kick_off = found[:-bars]
    assert min(kick_off) >= 0.9
    assert found[-bars] >= 0.9
    assert found[-bars:] == sorted(found[-bars:], reverse=True)


@pytest.mark.parametrize("bars", [1, 2, 3])
def test_a_ritard_begins_at_the_tempo(bars: int) -> None:
    """A ritard also works in a tune shorter than its two bars."""
    text = f"key: C\ntempo: 120\nending: ritard\n[A]\n{'| G7 ' * bars}|\n"
    played = list(Performance(read_chart(text), Settings(choruses=1, count_in=1)).bars())[1:]
    tempi = [bpm for bar in played for bpm in (bar.bpm, *(each for _, each in bar.slower))]
    assert tempi[0] == 120
    assert tempi == sorted(tempi, reverse=True)


@pytest.mark.parametrize("meter, beats", [("2/4", 2), ("3/4", 3), ("4/4", 4), ("6/8", 2)])
@pytest.mark.parametrize("chords", ["| C |", "| G7 |", "| G7 | C |", "| C | F | G7 |"])
def test_a_ritard_slows_at_one_pace_however_short_the_tune(
    meter: str, beats: int, chords: str
) -> None:
    """From beat to beat the tempo falls by 0.4 divided by the beats of two bars, no more."""
    text = f"key: C\nmeter: {meter}\ntempo: 120\nending: ritard\n[A]\n{chords}\n"
    performance = Performance(read_chart(text), Settings(choruses=1))
    found, ticks = [1.0], performance.route.meter.beat_ticks
    for number in range(performance.length):
        shares = performance.tempo.shares(number)
        found += [
            [each for tick, each in shares if tick <= beat * ticks][-1] for beat in range(beats)
        ]
    assert found == sorted(found, reverse=True)
    assert max(a - b for a, b in pairwise(found)) <= 0.4 / (2 * beats) + 1e-9


@pytest.mark.parametrize("bars", ["(2/4) F | G7", "F | (2/4) G7", "(2/4) F | (6/4) G7"])
def test_a_ritard_slows_evenly_over_crooked_bars(bars: str) -> None:
    """The tempo falls by the same share on each beat of the last two bars."""
    text = f"key: C\ntempo: 120\nending: ritard\n[A]\n| C | {bars} |\n"
    played = list(Performance(read_chart(text), Settings(choruses=1, count_in=0)).bars())
    tempi = [bpm for bar in played for bpm in (bar.bpm, *(each for _, each in bar.slower))]
    steps = [round(a - b, 6) for a, b in pairwise(tempi[1:]) if a != b]
    assert (tempi[1], tempi[-1]) == (120, pytest.approx(72))
    assert len(set(steps)) == 1


@pytest.mark.parametrize("meter, style", [("3/4", "waltz"), ("9/8", "slip-jig")])
def test_two_hits_in_three(meter: str, style: str) -> None:
    """In odd meters each of two hits has a bar: the dominant, then home."""
    chart = read_chart(
        f"key: C\nmeter: {meter}\nstyle: {style}\nending: two-hit\n| C | F | G7 | C |\n"
    )
    bars = list(Performance(chart, Settings(choruses=1, looseness=0)).bars())
    assert [str(chord) for bar in bars[-2:] for _, chord in bar.chords] == ["G7", "C"]
    for bar in bars[-2:]:
        assert {note.tick for note in bar.notes if note.player is not Player.DRUMS} == {bar.start}


def test_a_tag_is_as_loud_as_its_part() -> None:
    """The tag keeps the dynamics and the variation of the part whose end it is."""
    text = "key: C\nending: tag\n[A] 8\n" + "| C " * 8 + "|\n[B] 8\n" + "| F " * 8 + "|\n"
    performance = Performance(read_chart(text), Settings(style="swing", choruses=1))
    part, tag = performance.context(8), performance.context(16)
    assert part
    assert tag
    assert tag.sequenced.part == "tag"
    levels = [each.level(EIGHTH) / each.plan.loudness for each in (part, tag)]
    assert tag.variation == part.variation
    assert levels[1] == pytest.approx(levels[0], rel=0.03)


def test_a_band_of_which_nobody_is_heard() -> None:
    """It is refused, with the option that helps."""
    chart = read_chart("key: G\nstyle: bluegrass\n[A]\n| G | C | D7 | G |\n")
    drums = frozenset({Player.DRUMS})
    with pytest.raises(SettingsError, match="nobody would be heard: in bluegrass drums only play"):
        Performance(chart, Settings(players=drums))
    Performance(chart, Settings(players=drums, called=drums))


def test_an_intro_longer_than_the_form() -> None:
    """It is the whole form, with a remark."""
    performance = Performance(read_chart("key: C\nintro: last 16\n| C | G7 |\n"), Settings())
    assert performance.remarks() == ("the intro asks for the last 16 bars; the form has 2",)
    assert performance.tempo.seconds_once_round() == pytest.approx(2 * 4 * 60 / performance.bpm)


def test_who_sits_out_is_silent_until_called() -> None:
    """Drums that sit out play only when called; the count-in still has clicks."""
    chart = read_chart("key: G\nstyle: bluegrass\n[A]\n| G | C | D7 | G |\n")

    def players(**settings: object) -> set[str]:
        bars = list(Performance(chart, Settings(choruses=1, **settings)).bars())  # type: ignore[arg-type]
        assert any(note.player is Player.DRUMS for bar in bars[:2] for note in bar.notes)
        return {str(note.player) for bar in bars[2:] for note in bar.notes}

    assert players() == {"bass", "chop"}
    assert players(called=frozenset({Player.DRUMS})) == {"bass", "chop", "drums"}


@pytest.mark.parametrize("bpm", [80, 180, 320])
@pytest.mark.parametrize("last", ["C", "G7", 'C "hold"', "G7 C"])
def test_the_last_chord_is_held(last: str, bpm: float) -> None:
    """At any tempo the last chord rings for at least 1.8 seconds (our choice)."""
    text = f"key: C\nending: hold\n[A] 4\n| C | F | G7 | {last} |\n"
    settings = Settings(style="two-beat", bpm=bpm, choruses=1, looseness=0.0)
    notes = [note for bar in Performance(read_chart(text), settings).bars() for note in bar.notes]
    chop = [note for note in notes if note.player is Player.CHOP]
    final = max(note.tick for note in chop)
    held = max(note.length for note in chop if note.tick == final)
    assert ticks_to_seconds(held, bpm) >= 1.8 - 0.001


@pytest.mark.parametrize(
    "tick, bars", [(0, '| C | F | G7 | C "push" |'), (2, '| C | G7 C "push" |')]
)
def test_a_pushed_last_chord_is_an_eighth_early(tick: int, bars: str) -> None:
    """The band strikes a pushed end before its written beat."""
    settings = Settings(style="two-beat", choruses=1, looseness=0.0, count_in=0)
    played = list(Performance(read_chart(f"key: C\nending: short\n{bars}\n"), settings).bars())
    written = played[bars.count("|") - 2].start + tick * 960
    for player in (Player.BASS, Player.CHOP):
        notes = [note for bar in played for note in bar.notes if note.player is player]
        assert max(note.tick for note in notes) == written - 480
