"""Written MIDI files, checked against the standards and by independent readers.

Sources: Standard MIDI Files 1.0 and General MIDI level 1 (MIDI Manufacturers Association);
pretty_midi and symusic read the file; so does `smf`, strictly by the standard.
"""

from __future__ import annotations

import io
from functools import cache
from itertools import pairwise

import mido
import pretty_midi
import pytest
import smf
import symusic
from hypothesis import given
from hypothesis import strategies as st

from backing.chart.read import read_chart
from backing.harmony.key import Key
from backing.notes import RHYTHM, Note, Player, without_overlaps
from backing.out.midifile import key_signature, midi_bytes, midi_tracks
from backing.performance.performance import Performance, PlayedBar
from backing.performance.settings import Settings
from backing.performance.tempo import TempoMap
from backing.style.library import find_style
from backing.style.model import DRUM_KEYS
from backing.timing import TICKS_PER_QUARTER

STYLES = ("two-beat", "swing", "shuffle")
PLAYERS = {"Bass": Player.BASS, "Chop": Player.CHOP, "Drums": Player.DRUMS}

CROOKED = """\
title: Crooked
key: A mixolydian
tempo: 130
form: Intro A B A Tag
[Intro] 1
| A |
[A] 4
(pickup 1/4) E7 | A | G/B G | (2/4) D | A A7 |
[B] 4
key: D dorian
tempo: 97
| Dm7 "push" | % | N.C. | Em7b5 A7 "stop" |
[Tag] 2
| "build" D | A5 "hold" |
"""

PLAIN = """\
key: C
tempo: 120
[A] 4
| C | F | G7 | C |
"""


@cache
def rendered(text: str, style: str, looseness: float = 1.0) -> tuple[bytes, tuple[PlayedBar, ...]]:
    """Return the MIDI file of a chart, and its bars."""
    chart = read_chart(text, "x.chart")
    settings = Settings(style=style, choruses=2, seed=11, looseness=looseness)
    return midi_bytes(Performance(chart, settings)), tuple(Performance(chart, settings).bars())


def notes_of(bars: tuple[PlayedBar, ...], player: Player) -> list[Note]:
    """Return the notes of a player without overlaps and nothing after the end."""
    heard = without_overlaps(note for bar in bars for note in bar.notes)
    end = bars[-1].end
    return sorted(
        (
            note._replace(length=min(note.end, end) - note.tick)
            for note in heard
            if note.player is player
        ),
        key=lambda each: (each.tick, each.pitch),
    )


def tempi_of(bars: tuple[PlayedBar, ...]) -> TempoMap:
    """Return the tempi of the bars, rounded to microseconds a quarter note as in a file."""
    return TempoMap.of((bar.start, 60e6 / round(60e6 / bar.bpm)) for bar in bars)


def test_header() -> None:
    """The header is 4D 54 68 64, six bytes long, format 1, four tracks, 960 ticks a quarter.

    Standard MIDI Files 1.0: MThd, <length 00 00 00 06>, <format>, <ntrks>, <division>.
    """
    data, _ = rendered(PLAIN, "two-beat")
    header = "4D 54 68 64 00 00 00 06 00 01 00 04 03 C0"
    assert header == data[:14].hex(" ").upper()


# The standard's own table of variable-length quantities; the one byte more than 28 bits cannot be.
TABLE = [
    (0x00000000, "00"),
    (0x00000040, "40"),
    (0x0000007F, "7F"),
    (0x00000080, "81 00"),
    (0x00002000, "C0 00"),
    (0x00003FFF, "FF 7F"),
    (0x00004000, "81 80 00"),
    (0x00100000, "C0 80 00"),
    (0x001FFFFF, "FF FF 7F"),
    (0x00200000, "81 80 80 00"),
    (0x08000000, "C0 80 80 00"),
    (0x0FFFFFFF, "FF FF FF 7F"),
]


@pytest.mark.parametrize("ticks, written", TABLE)
def test_variable_length(ticks: int, written: str) -> None:
    """Deltas are written and read as in the table of the standard."""
    track = mido.MidiTrack([mido.MetaMessage("end_of_track", time=ticks)])
    buffer = io.BytesIO()
    mido.MidiFile(type=1, ticks_per_beat=960, tracks=[track]).save(file=buffer)
    delta = buffer.getvalue()[22:-3]
    assert written == delta.hex(" ").upper()
    assert (ticks, len(delta)) == smf.variable_length(delta, 0)


@pytest.mark.parametrize("bars, ticks", [(1, 3840), (4, 15360), (8, 30720)])
def test_deltas_of_ours(bars: int, ticks: int) -> None:
    """The end of an empty track comes after one delta of seven bits a byte.

    3840 = 1E * 128 + 00, 15360 = 78 * 128 + 00, 30720 = 01 * 16384 + 70 * 128 + 00 (arithmetic).
    """
    chart = read_chart("ending: none\n" + "| N.C. " * bars + "|", "x")
    settings = Settings(style="two-beat", choruses=1, count_in=0, players=frozenset({Player.BASS}))
    written = {1: "9E 00", 4: "F8 00", 8: "81 F0 00"}[bars]
    data = midi_bytes(Performance(chart, settings))
    assert f"{written} FF 2F 00" == data[-len(bytes.fromhex(written)) - 3 :].hex(" ").upper()
    assert ticks == smf.read_smf(data).tracks[0].events[-1].tick


# 120 -> 07 A1 20 is the standard's own; 200 and 97 are 60,000,000 / bpm (arithmetic).
@pytest.mark.parametrize("tempo, event", [(120, "07 A1 20"), (200, "04 93 E0"), (97, "09 70 3D")])
def test_tempo(tempo: int, event: str) -> None:
    """A tempo is FF 51 03 and 60,000,000 / bpm in three bytes, at tick 0."""
    chart = read_chart(f"tempo: {tempo}\n| C |", "x")
    data = midi_bytes(Performance(chart, Settings()))
    assert data.count(bytes.fromhex(f"00 FF 51 03 {event}")) == 1
    tempi = smf.read_smf(data).tracks[0].metas(smf.TEMPO)
    assert [(0, bytes.fromhex(event))] == [(each.tick, each.data) for each in tempi]


# General MIDI level 1 sound set, counted from 1.
@pytest.mark.parametrize(
    "style, bass, chop",
    [
        ("two-beat", "acoustic bass", "acoustic guitar (steel)"),
        ("swing", "acoustic bass", "electric guitar (jazz)"),
        ("shuffle", "electric bass (finger)", "electric guitar (clean)"),
    ],
)
def test_programs(style: str, bass: str, chop: str) -> None:
    """Bass and chop have their General MIDI programs, counted from 0 in the file."""
    numbers = {
        "acoustic guitar (steel)": 26,
        "electric guitar (jazz)": 27,
        "electric guitar (clean)": 28,
        "acoustic bass": 33,
        "electric bass (finger)": 34,
    }
    file = smf.read_smf(rendered(PLAIN, style)[0])
    programs = [track.of_kind(0xC)[0].data[0] for track in file.tracks[1:3]]
    assert [numbers[bass] - 1, numbers[chop] - 1] == programs


# General MIDI level 1 percussion map. Side stick 37, hats 42 44 46, ride 51 53: the same.
PERCUSSION = {
    "kick": 36,  # Bass Drum 1
    "side-stick": 37,  # Side Stick
    "snare": 38,  # Acoustic Snare
    "sweep": 40,  # Electric Snare; the brush kit of level 2 has its swirl there
    "floor-tom": 41,  # Low Floor Tom
    "hat": 42,  # Closed Hi-Hat
    "pedal-hat": 44,  # Pedal Hi-Hat
    "tom": 45,  # Low Tom
    "open-hat": 46,  # Open Hi-Hat
    "high-tom": 48,  # Hi-Mid Tom
    "crash": 49,  # Crash Cymbal 1
    "ride": 51,  # Ride Cymbal 1
    "ride-bell": 53,  # Ride Bell
    "tambourine": 54,  # Tambourine
    "splash": 55,  # Splash Cymbal
    "high-wood-block": 76,  # Hi Wood Block
    "low-wood-block": 77,  # Low Wood Block
}


def test_percussion_keys() -> None:
    """The drum names of style files have the keys of General MIDI level 1."""
    assert PERCUSSION == DRUM_KEYS


@pytest.mark.parametrize("style", STYLES)
def test_tracks(style: str) -> None:
    """There are Bass, Chop and Drums on channels 1, 2 and 10, set up at tick 0.

    Program change Cn, controllers 7 (volume) and 10 (pan): MIDI 1.0. Channel 10 is General MIDI's
    percussion.
    """
    file = smf.read_smf(rendered(CROOKED, style)[0])
    assert [track.name for track in file.tracks] == ["Crooked", "Bass", "Chop", "Drums"]
    sounds = find_style(style)
    for track, channel, player in zip(
        file.tracks[1:], (1, 2, 10), (sounds.bass, sounds.chop, sounds.drums), strict=True
    ):
        sound = player.sound
        spoken = [each for each in track.events if each.meta is None]
        assert {channel} == {each.channel + 1 for each in spoken}
        assert [(0, bytes([sound.program - 1]))] == [
            (each.tick, each.data) for each in track.of_kind(0xC)
        ]
        assert [(0, bytes([7, sound.volume])), (0, bytes([10, sound.pan]))] == [
            (each.tick, each.data) for each in track.of_kind(0xB)
        ]
        first = next(place for place, each in enumerate(spoken) if each.kind == 0x9)
        assert {0xB, 0xC} == {each.kind for each in spoken[:first]}


@pytest.mark.parametrize("player", RHYTHM)
def test_a_player_alone(player: Player) -> None:
    """A player who does not play has no track; the others keep their channels."""
    chart = read_chart(PLAIN, "x")
    settings = Settings(style="two-beat", players=frozenset({player}), count_in=0)
    file = smf.read_smf(midi_bytes(Performance(chart, settings)))
    assert ["x", player.capitalize()] == [track.name for track in file.tracks]
    channels = {Player.BASS: 1, Player.CHOP: 2, Player.DRUMS: 10}
    assert {channels[player]} == {each.channel + 1 for each in file.tracks[1].of_kind(0x9)}


# Sharps count up, flats down, and the second byte is 1 for minor (Standard MIDI Files 1.0). Which
# signature a mode has is common practice, no source: that of the major scale with the same notes.
@pytest.mark.parametrize(
    "key, sharps, minor",
    [
        ("C", 0, 0),
        ("E", 4, 0),
        ("Bb", -2, 0),
        ("Gb", -6, 0),
        ("C#", 7, 0),
        ("Am", 0, 1),
        ("F#m", 3, 1),
        ("Ebm", -6, 1),
        ("A mixolydian", 2, 0),
        ("D mixolydian", 1, 0),
        ("D dorian", 0, 1),
        ("E dorian", 2, 1),
        ("F lydian", 0, 0),
        ("E phrygian", 0, 1),
        ("B locrian", 0, 1),
    ],
)
def test_key_signatures(key: str, sharps: int, minor: int) -> None:
    """A key is FF 59 02, its sharps or flats, and 1 if its third is minor."""
    data = midi_bytes(Performance(read_chart(f"key: {key}\n| C |", "x"), Settings()))
    signature = bytes([0xFF, 0x59, 0x02, sharps % 256, minor])
    assert data.count(signature) == 1
    assert bytes([sharps % 256, minor]) == smf.read_smf(data).tracks[0].metas(0x59)[0].data


@given(
    sharps=st.integers(-7, 7),
    mode=st.sampled_from(["major", "minor", "dorian", "phrygian", "lydian", "mixolydian"]),
)
def test_signature_of_every_key(sharps: int, mode: str) -> None:
    """Every key with up to seven sharps or flats has that signature."""
    above = {"major": 0, "minor": 3, "dorian": 2, "phrygian": 4, "lydian": -1, "mixolydian": 1}
    home = "FCGDAEB"[(sharps + above[mode] + 1) % 7]
    signs = (sharps + above[mode] + 1) // 7
    key = Key.parse(f"{home}{('b' if signs < 0 else '#') * abs(signs)} {mode}")
    data = bytes(mido.MetaMessage("key_signature", key=key_signature(key)).bytes())
    assert sharps % 256 == data[3]


def test_time_signatures() -> None:
    """A meter is FF 58 04: count, power of two, clocks a click, 8 thirty-seconds a quarter.

    Standard MIDI Files 1.0; the click of 6/8 is its dotted quarter, 36 clocks (its own example).
    It is written where it changes: before and after a bar of 2/4.
    """
    file = smf.read_smf(rendered(CROOKED, "two-beat")[0])
    bar = 3840
    # a bar of count-in with the pickup inside, Intro, then A: two bars, 2/4, one bar; B, A
    short = [4 * bar, 4 * bar + 1920 + 5 * bar + 2 * bar]
    meters = [(each.tick, each.data.hex()) for each in file.tracks[0].metas(0x58)][:5]
    expected = [(0, "04021808")]
    for tick in short:
        expected += [(tick, "02021808"), (tick + 1920, "04021808")]
    assert expected == meters


@pytest.mark.parametrize(
    "meter, event", [("4/4", "04 02 18 08"), ("2/2", "02 01 30 08"), ("2/4", "02 02 18 08")]
)
def test_meters_of_charts(meter: str, event: str) -> None:
    """Each meter is written as in the standard; a half note is 48 clocks."""
    chart = read_chart(f"meter: {meter}\n| C |", "x")
    data = midi_bytes(Performance(chart, Settings(style="two-beat")))
    assert data.count(bytes.fromhex(f"FF 58 04 {event}")) == 1


def test_markers() -> None:
    """Markers (FF 06) name the count-in, each part with its chorus, and the ending.

    A number after a part counts its occurrences in the form, in every chorus.
    """
    file = smf.read_smf(rendered(CROOKED, "swing")[0])
    markers = [(each.tick, each.text) for each in file.tracks[0].metas(smf.MARKER)]
    bar, a = 3840, 3 * 3840 + 1920
    expected, tick = [(0, "count-in")], bar
    for name, ticks in [
        ("chorus 1: Intro", bar),
        ("chorus 1: A", a),
        ("chorus 1: B", 4 * bar),
        ("chorus 1: A 2", a),
        ("chorus 2: A", a),
        ("chorus 2: B", 4 * bar),
        ("chorus 2: A 2", a),
        ("chorus 2: Tag", 2 * bar),
    ]:
        expected.append((tick, name))
        tick += ticks
    assert [*expected, (tick - bar, "ending")] == markers  # the last bar is at home


def test_chord_names() -> None:
    """A text event (FF 01) names each chord where it starts, once while it lasts."""
    text = "key: Eb\nending: none\ncount-in: 1\n| Eb | % | Cb Abm7/Gb | N.C. | F##dim7 | Bb7 |"
    chart = read_chart(text, "x")
    file = smf.read_smf(midi_bytes(Performance(chart, Settings(style="swing", choruses=1))))
    named = [(each.tick // 960, each.text) for each in file.tracks[0].metas(smf.TEXT)]
    assert named == [
        (4, "Eb"),
        (12, "Cb"),
        (14, "Abm7/Gb"),
        (16, "N.C."),
        (20, "Gdim7"),
        (24, "Bb7"),
    ]


def test_a_pushed_chord_is_named_where_it_sounds() -> None:
    """A pushed chord is named once, an eighth before its bar line."""
    chart = read_chart('count-in: 0\nending: none\n| C | F "push" | % |', "x")
    file = smf.read_smf(midi_bytes(Performance(chart, Settings(style="swing", choruses=1))))
    named = [(each.tick, each.text) for each in file.tracks[0].metas(smf.TEXT)]
    assert named == [(0, "C"), (3840 - 480, "F")]


TITLES = [
    "Düne, Zoë & Žižka",
    "東の風",
    "Δ°ø♭♯ 🎻",
    'quotes " and \\ and / and %s {x}',
    "-",
    "x" * 300,
]


@pytest.mark.parametrize("title", TITLES)
def test_titles(title: str) -> None:
    """The title is the name of the first track, in UTF-8, with any characters."""
    chart = read_chart(f"title: {title}\n| C |", "x")
    data = midi_bytes(Performance(chart, Settings(choruses=1)))
    assert title == smf.read_smf(data).tracks[0].name
    assert title == mido.MidiFile(file=io.BytesIO(data), charset="utf-8").tracks[0].name


CASES = [
    (text, style, looseness)
    for text in (CROOKED, PLAIN)
    for style in STYLES
    for looseness in (0.0, 1.0, 2.0)
]


@pytest.mark.parametrize("text, style, looseness", CASES)
def test_read_by_the_standard(text: str, style: str, looseness: float) -> None:
    """The notes that the strict reader finds are those of the bars.

    The reader refuses a second note-on of a key that is down, a note-off of a key that is up, and a
    key left down.
    """
    data, bars = rendered(text, style, looseness)
    file = smf.read_smf(data)
    for name, player in PLAYERS.items():
        expected = [
            smf.Sound(note.tick, note.pitch, note.velocity, note.length)
            for note in notes_of(bars, player)
        ]
        assert expected
        assert expected == file.track(name).sounds()


@pytest.mark.parametrize("text, style, looseness", CASES)
def test_one_end(text: str, style: str, looseness: float) -> None:
    """All tracks end on the last bar line."""
    data, bars = rendered(text, style, looseness)
    assert {bars[-1].end} == {track.end for track in smf.read_smf(data).tracks}


@pytest.mark.parametrize("text, style, looseness", CASES)
def test_ends_come_first(text: str, style: str, looseness: float) -> None:
    """A note-off comes before a note-on at the same tick.

    Otherwise a reader might end the new note (common practice, no source).
    """
    data, _ = rendered(text, style, looseness)
    for track in smf.read_smf(data).tracks[1:]:
        edges = [each for each in track.events if each.kind in (0x8, 0x9) and each.meta is None]
        for before, after in pairwise(edges):
            assert (before.tick, before.kind) <= (after.tick, after.kind)


@pytest.mark.parametrize("text, style, looseness", CASES)
def test_read_by_pretty_midi(text: str, style: str, looseness: float) -> None:
    """pretty_midi finds each note at the time that the tempi of the bars give, to a microsecond."""
    data, bars = rendered(text, style, looseness)
    read = pretty_midi.PrettyMIDI(io.BytesIO(data))
    tempi = tempi_of(bars)
    assert list(PLAYERS) == [track.name for track in read.instruments]
    assert [track.is_drum for track in read.instruments] == [False, False, True]
    for track in read.instruments:
        expected = [
            (note.pitch, note.velocity, round(tempi.seconds_at(note.tick), 6),
             round(tempi.seconds_at(note.end), 6))
            for note in notes_of(bars, PLAYERS[track.name])
        ]  # fmt: skip
        found = [
            (note.pitch, note.velocity, note.start, note.end)
            for note in sorted(track.notes, key=lambda each: (round(each.start, 6), each.pitch))
        ]
        assert len(expected) == len(found)
        for written, read in zip(expected, found, strict=True):
            assert written[:2] == read[:2]
            assert written[2:] == pytest.approx(read[2:], abs=2e-6)


@pytest.mark.parametrize("text, style, looseness", CASES)
def test_read_by_symusic(text: str, style: str, looseness: float) -> None:
    """Symusic finds the tick, length, pitch and velocity of each note, and 960 ticks a quarter."""
    data, bars = rendered(text, style, looseness)
    read = symusic.Score.from_midi(data)
    assert read.ticks_per_quarter == TICKS_PER_QUARTER
    assert list(PLAYERS) == [track.name for track in read.tracks]
    for track in read.tracks:
        expected = [
            (note.tick, note.pitch, note.length, note.velocity)
            for note in notes_of(bars, PLAYERS[track.name])
        ]
        found = [(each.time, each.pitch, each.duration, each.velocity) for each in track.notes]
        assert expected == sorted(found)


def test_tempi_read_by_symusic() -> None:
    """Symusic finds the tempo of each part at its first bar."""
    data, bars = rendered(CROOKED, "swing")
    expected = [(0, 130)]
    for bar in bars:
        if bar.bpm != expected[-1][1]:
            expected.append((bar.start, round(bar.bpm)))
    found = [(each.time, round(each.qpm)) for each in symusic.Score.from_midi(data).tempos]
    assert [bpm for _, bpm in expected] == [130, 97, 130, 97, 130]
    assert expected == found


@pytest.mark.parametrize("text", [PLAIN, CROOKED, "ending: ritard\n" + PLAIN])
def test_the_length_is_what_another_reader_finds(text: str) -> None:
    midi = midi_tracks(Performance(read_chart(text, "x"), Settings(choruses=2)))

    assert midi.length.seconds == pytest.approx(mido.MidiFile(file=io.BytesIO(midi.file())).length)
    assert midi.length.ticks == smf.read_smf(midi.file()).tracks[0].events[-1].tick


def test_progress() -> None:
    """`progress` is called once a bar."""
    chart = read_chart(PLAIN, "x")
    performance = Performance(chart, Settings(style="two-beat"))
    calls: list[int] = []
    midi_tracks(performance, lambda: calls.append(1))
    assert len(list(performance.bars())) == len(calls)
