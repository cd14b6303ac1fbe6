"""The lead in the written file: the tune as written, in the band's time.

What the tune is comes from music21's reading of its ABC, repeats expanded, or is counted by hand
beside the test. That a dotted pair in a shuffle is a swung pair is common practice, no source.
"""

from __future__ import annotations

import io
import sys
from collections import Counter
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import mido
import pytest

from backing.band.feel import swing_ratio
from backing.band.lead import LeadSettings
from backing.chart.melody import Melody
from backing.chart.melody_text import read_melody
from backing.chart.read import read_chart
from backing.chart.sequence import once_round
from backing.chart.transpose import by_semitones, in_key
from backing.errors import SettingsError
from backing.fretboard.instrument import find_instrument
from backing.fretboard.request import FrettingSettings
from backing.notes import Player
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.scores.abc.read import read_abc
from backing.scores.to_chart import to_chart

if TYPE_CHECKING:
    from backing.chart.model import Chart

sys.path.append(str(Path(__file__).parents[1] / "live"))

BEAT, BAR = 960, 3840
EXACT = Settings(looseness=0.0, count_in=1, choruses=1)
ABC = """\
X:1
T:Thimble Reel
M:4/4
L:1/8
K:D
|:"D"d2fd (3Bcd ef|"G"g2fe "A7"e4-|"A7"e2 dc B2[Ac]G|1"D"F4 D4:|2"D"F4 D2 z2||
|:"D"A4-A2 d2|"Bm"d=c B2 "Em"E4|"A7"A,2 ^GA z4|"D"D8:|
"""
EIGHTHS = "[A]\n| C4:1/8 D4 E4 F4 G4 A4 B4 C5 | r |\n"
TWO_BARS = "title: Two\nkey: C\n[A]\n| C | G |\n"


@lru_cache(1)
def reel() -> Chart:
    """Return the chart of the ABC with its melody."""
    (tune,) = read_abc(ABC.encode())
    found = to_chart(tune)
    return replace(found.chart, melody=found.melody)


def led(chart_text: str, melody: str) -> Chart:
    """Return a chart with a melody."""
    chart = read_chart(chart_text, "t.chart")
    return replace(chart, melody=read_melody(melody, chart))


def heard(chart: Chart, settings: Settings = EXACT) -> list[tuple[int, int, int]]:
    """Return (tick from the first bar line, key, ticks) of the lead in the written file."""
    performance = Performance(chart, settings)
    start = performance.count_in.bars * performance.route.meter.bar_ticks
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(performance)))
    down: dict[int, int] = {}
    found = []
    now = 0
    for message in next((each for each in file.tracks if each.name == "Lead"), []):
        now += message.time
        if message.type == "note_on":
            assert message.channel == 2  # the third, as players count
            down[message.note] = now
        elif message.type == "note_off":
            begun = down.pop(message.note)
            found.append((begun - start, message.note, now - begun))
    assert not down
    return sorted(found)


def keys(chart: Chart, settings: Settings = EXACT) -> list[int]:
    """Return the keys of the lead in order."""
    return [key for _, key, _ in heard(chart, settings)]


def chorus_starts(chart: Chart, when: str, choruses: int = 4) -> set[int]:
    """Return the choruses, from 1, in which the lead plays."""
    settings = replace(EXACT, choruses=choruses, lead=LeadSettings(when))
    ticks = sum(each.bar.ticks for each in once_round(chart, last=False))
    return {tick // ticks + 1 for tick, _, _ in heard(chart, settings)}


def test_the_lead_plays_what_is_written() -> None:
    """In a straight style its notes have the starts and pitches that music21 reads."""
    import music21

    score = music21.converter.parse(ABC, format="abc").parts[0].expandRepeats()
    expected = []
    for note in score.flatten().notes:
        if isinstance(note, music21.harmony.ChordSymbol):
            continue
        tied = note.tie is not None and note.tie.type in ("stop", "continue")
        if not tied:
            expected += [(round(float(note.offset) * BEAT), p.midi) for p in note.pitches]

    assert [(tick, key) for tick, key, _ in heard(reel())] == sorted(expected)


def test_notes_last_as_written() -> None:
    """A note sounds for its written length less a short gap; a tied note through its tie."""
    notes = heard(reel())

    assert {ticks for tick, _, ticks in notes if tick == 0} == {BEAT - 40}
    (tied,) = {ticks for tick, key, ticks in notes if (tick, key) == (BAR + 2 * BEAT, 76)}
    assert tied == 3 * BEAT - 40


def test_without_a_melody_there_is_no_lead() -> None:
    """Without a melody the file has bass, chop and drums as usual."""
    chart = read_chart(TWO_BARS, "t")
    with_it = led(TWO_BARS, EIGHTHS)

    others = [Player.BASS, Player.CHOP, Player.DRUMS]
    assert heard(chart) == []
    alone = midi_bytes(Performance(chart, replace(EXACT, players=frozenset(others))))
    assert midi_bytes(Performance(chart, EXACT)) == alone
    muted = replace(EXACT, players=frozenset(others))
    assert midi_bytes(Performance(with_it, muted)) == alone


def test_only_the_lead() -> None:
    """The lead may play alone, but not without a melody."""
    only = replace(EXACT, players=frozenset({Player.LEAD}))
    performance = Performance(led(TWO_BARS, EIGHTHS), only)
    played = {note.player for number in range(2) for note in performance.bar(number).notes}

    assert played == {Player.LEAD}
    with pytest.raises(SettingsError, match="nobody plays: the lead has no melody"):
        Performance(read_chart(TWO_BARS, "t"), only)


@pytest.mark.parametrize("style", ["swing", "shuffle", "western-swing", "boogie"])
def test_it_swings_with_the_band(style: str) -> None:
    """Its off-beats are as late as the chop's, its on-beats are exact."""
    settings = replace(EXACT, style=style, bpm=120.0)
    feel = Performance(reel(), settings).style.feel
    ratio = swing_ratio(feel, Player.CHOP, 120.0)
    late = round(BEAT * ratio / (ratio + 1))

    starts = [tick for tick, _, _ in heard(led(TWO_BARS, EIGHTHS), settings)][:8]

    assert ratio > 1.1
    assert starts == [beat * BEAT + off for beat in range(4) for off in (0, late)]


def test_triplets_stay_and_dotted_pairs_are_swung_pairs() -> None:
    """In a shuffle, two to one: a triplet is played as written, a dotted pair as a swung pair."""
    melody = "[A]\n| C4:1/12 D4 E4 F4:3/16 G4:1/16 r:1/2 | r |\n"
    shuffle = replace(EXACT, style="shuffle")

    notes = heard(led(TWO_BARS, melody), shuffle)

    assert [tick for tick, _, _ in notes] == [0, 320, 640, 960, 960 + 640]
    assert all(a + ticks <= b for (a, _, ticks), (b, _, _) in pairwise(notes))


def test_graces_come_before_their_note() -> None:
    """Graces are short, in order, and do not move their note."""
    chart = led(TWO_BARS, "[A]\n| C4:1/2 {D4 E4}F4:1/2 | r |\n")
    _, first, second, note = heard(chart)

    assert [first[1], second[1], note[1]] == [62, 64, 65]
    assert first[0] < second[0] < note[0] == 2 * BEAT
    assert note[0] - first[0] < BEAT / 2


@pytest.mark.parametrize("semitones", [-24, -7, -1, 3, 6, 14])
def test_it_follows_the_key(semitones: int) -> None:
    """Transposing the chart moves every key by as many semitones."""
    higher = by_semitones(reel(), semitones)

    assert [key - semitones for key in keys(higher)] == keys(reel())


def test_a_named_key_is_the_nearest_way() -> None:
    """From D to G it goes up a fourth, to A down a fourth: a fifth up is farther."""
    assert keys(in_key(reel(), "G"))[0] - keys(reel())[0] == 5
    assert keys(in_key(reel(), "A"))[0] - keys(reel())[0] == -5


@pytest.mark.parametrize("name", ["mandolin", "guitar", "ukulele", "mandocello", "tenor-banjo"])
@pytest.mark.parametrize("semitones", [-12, 0, 11])
def test_it_is_folded_into_an_instrument(name: str, semitones: int) -> None:
    """Each note is in the instrument's range, and the same except for octaves."""
    chart = by_semitones(reel(), semitones)
    instrument = find_instrument(name)
    lowest = min(instrument.strings)
    highest = max(instrument.strings) + instrument.frets
    played = heard(chart, replace(EXACT, fretting=FrettingSettings(instrument=name)))

    assert all(lowest <= key <= highest for _, key, _ in played)
    assert _classes(played) == _classes(heard(chart))


def _classes(notes: list[tuple[int, int, int]]) -> Counter[tuple[int, int]]:
    return Counter((tick, key % 12) for tick, key, _ in notes)


def test_a_tune_that_fits_an_octave_away_keeps_its_shape() -> None:
    """The melody moves as a whole: no step becomes a leap."""
    low = by_semitones(reel(), -24)
    shift = {
        a - b
        for a, b in zip(
            keys(low, replace(EXACT, fretting=FrettingSettings(instrument="mandolin"))),
            keys(low),
            strict=True,
        )
    }

    assert shift == {24}


def test_doubled_at_the_octave() -> None:
    """Each note has its octave above; at the top of an instrument below."""
    doubled = heard(reel(), replace(EXACT, lead=LeadSettings(octave=True)))
    plain = heard(reel())

    expected = {(tick, key + octave) for tick, key, _ in plain for octave in (0, 12)}
    assert {(tick, key) for tick, key, _ in doubled} == expected
    on_guitar = FrettingSettings(instrument="guitar")
    top = max(keys(reel(), replace(EXACT, fretting=on_guitar, lead=LeadSettings(octave=True))))
    assert top <= 64 + find_instrument("guitar").frets


def test_first_and_every_other_time() -> None:
    """The lead rests in the choruses that the setting leaves to the student."""
    assert chorus_starts(reel(), "always") == {1, 2, 3, 4}
    assert chorus_starts(reel(), "first") == {1}
    assert chorus_starts(reel(), "other") == {1, 3}
    with pytest.raises(SettingsError, match="choose from always, first, other"):
        heard(reel(), replace(EXACT, lead=LeadSettings("now and then")))


PICKED_UP = "title: P\nkey: C\n[A]\n| (pickup 1/4) G7 | C | C |\n"
WITH_PICKUP = "[A]\n| (pickup) G4:1/8 B4 | C5:1 | E5:1/2 r:1/2 |\n"


def test_a_pickup_sounds_in_the_bar_before() -> None:
    """The pickup is in the last beat of the count-in, then in the last beat of each chorus."""
    notes = heard(led(PICKED_UP, WITH_PICKUP), replace(EXACT, choruses=2))

    a_round = [(0, 72), (BAR, 76)]
    again = [(BAR + 3 * BEAT, 67), (BAR + 3 * BEAT + 480, 71), (2 * BAR, 72), (3 * BAR, 76)]
    assert [(tick, key) for tick, key, _ in notes] == [
        (-BEAT, 67),
        (-BEAT + 480, 71),
        *a_round,
        *again,
    ]


def test_a_pickup_belongs_to_the_time_that_it_leads_to() -> None:
    """With every other time, the lead leaves out the second chorus's pickup, not the third's."""
    settings = replace(EXACT, choruses=3, lead=LeadSettings("other"))
    starts = [tick for tick, _, _ in heard(led(PICKED_UP, WITH_PICKUP), settings)]

    last_beats = [BAR + 3 * BEAT, 3 * BAR + 3 * BEAT]
    assert [tick in starts for tick in last_beats] == [False, True]


@pytest.mark.parametrize("intro", ["last 2", "kick-off"])
def test_behind_an_intro(intro: str) -> None:
    """The lead rests in the intro except for its pickup at the end of the last bar."""
    chart = led(f"intro: {intro}\n{PICKED_UP}", WITH_PICKUP)
    starts = [tick for tick, _, _ in heard(chart)]

    assert starts == [2 * BAR - BEAT, 2 * BAR - BEAT + 480, 2 * BAR, 3 * BAR]


def test_a_swung_pickup_of_an_off_beat() -> None:
    """A pickup of one eighth is an off-beat, and as late as others."""
    text = PICKED_UP.replace("1/4", "1/8")
    melody = "[A]\n| (pickup) G4:1/8 | C5:1 | r |\n"
    first, second = heard(led(text, melody), replace(EXACT, style="shuffle"))

    assert (first[0], second[0]) == (-BEAT + 640, 0)


@pytest.mark.parametrize("ending", ["hold", "short", "none", "ritard", "two-hit", "fade"])
def test_the_last_note_ends_with_the_tune(ending: str) -> None:
    """With any ending the tune is played exactly to its last note."""
    chart = replace(reel(), ending=ending)

    assert [(tick, key) for tick, key, _ in heard(chart)] == [
        (tick, key) for tick, key, _ in heard(reel())
    ]


def test_a_tag_has_the_last_line_of_the_tune_twice_more() -> None:
    """The lead plays the bars of the tag as before."""
    tagged = [(tick, key) for tick, key, _ in heard(replace(reel(), ending="tag"))]
    plain = [(tick, key) for tick, key, _ in heard(replace(reel(), ending="none"))]

    line = [(tick - 12 * BAR, key) for tick, key in plain if tick >= 12 * BAR]
    more = [(tick + start * BAR, key) for start in (16, 20) for tick, key in line]
    assert tagged == plain + more


def test_a_loop_has_the_bars_of_the_tune() -> None:
    """Bars in the middle of a part have their own notes; a part has its pickup before it."""
    looped = heard(reel(), replace(EXACT, loop=(5, 6), choruses=2))
    once = [(t - 5 * BAR, key) for t, key, _ in heard(reel()) if 5 * BAR <= t < 7 * BAR]
    twice = [*once, *((t + 2 * BAR, key) for t, key in once)]
    assert [(tick, key) for tick, key, _ in looped] == twice

    chart = led(PICKED_UP, WITH_PICKUP)
    assert heard(chart, replace(EXACT, loop=(0, 1)))[0][:2] == (-BEAT, 67)


def test_any_bar_alone() -> None:
    """A bar made alone has the same notes as in order."""
    settings = Settings(choruses=3, lead=LeadSettings("other"))
    in_order = list(Performance(reel(), settings).bars())[-5:]
    performance = Performance(reel(), settings)

    alone = [performance.bar(number) for number in range(performance.length)][-5:]
    assert [bar.notes for bar in in_order] == [bar.notes for bar in alone]


def test_a_live_take_is_the_file() -> None:
    """Live playing has the file's notes; live settings reach the lead at the next bar line."""
    from take import Take, keys_are_released

    chart = replace(reel(), ending="hold")
    performance = Performance(chart, Settings(choruses=2))
    notes = [note for bar in performance.bars() for note in bar.notes]
    take = Take(chart, choruses=2)
    take.transport.play(take.now)
    take.run()

    lead = sorted((n.tick, 2, n.pitch, n.velocity) for n in notes if n.player is Player.LEAD)
    assert sorted(each for each in take.ticks(performance.bpm) if each[1] == 2) == lead
    assert keys_are_released(take.sent)


def test_live_wishes_of_the_lead() -> None:
    """Muted, alone, an octave with it, another key, every other time: from the next bar line on."""
    from take import Take

    take = Take(reel(), looseness=0.0)
    take.transport.play(take.now)
    seen = {}
    for words in ("mute lead", "only lead", "lead octave", "key +2", "only all", "lead first"):
        take.command(words)
        take.run_bars(4)
        bar = take.bars[-1]
        seen[words] = {note.player for note in bar.notes}
        if words == "lead octave":
            assert len(bar.notes) % 2 == 0
    assert Player.LEAD not in seen["mute lead"]
    assert seen["only lead"] == seen["lead octave"] == seen["key +2"] == {Player.LEAD}
    assert len(seen["only all"]) == 4
    take.run_bars(16)
    assert all(n.player is not Player.LEAD for bar in take.bars[-4:] for n in bar.notes)


def test_the_melody_of_no_notes() -> None:
    """A melody of rests plays nothing."""
    chart = replace(read_chart(TWO_BARS, "t"), melody=Melody(()))

    assert heard(chart) == []


def test_it_leans_on_the_beats() -> None:
    """The first note of a bar is firmer than other beats, and these firmer than off-beats."""
    bars = Performance(led(TWO_BARS, EIGHTHS), EXACT).bars()
    notes = [note for bar in bars for note in bar.notes if note.player is Player.LEAD][:8]
    first, *rest = (note.velocity for note in notes)
    beats, between = rest[1::2], rest[::2]
    assert len(beats) == 3
    assert first > max(beats)
    assert min(beats) > max(between)
