"""The music that clients are sent: the notes of the written file, in time; and all requests."""

from __future__ import annotations

import io
import json
import re
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import mido
import pytest

from backing.chart.read import read_chart
from backing.notes import Player
from backing.out.midifile import midi_bytes
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from tests.stand.conftest import QUICK, SLOW
from tests.stand.server import chords_of, keys_of, titles_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from tests.stand.server import Page, Server

CHANNEL_OF = {"bass": 0, "chop": 1, "lead": 2, "drums": 9}


@pytest.fixture
def page(server: Server) -> Iterator[Page]:
    """Return a client with the quick tune open and stopped."""
    with server.page() as page:
        page.send(type="open", tune="a-quick.chart")
        page.command("stop")
        page.command("only all")
        page.command("tempo 480")
        page.command("key G")
        page.state(tune="a-quick.chart", playing=False, tempo_wished=480, key="G")
        yield page
        page.command("stop")


def _bars(page: Page, count: int) -> list[dict[str, Any]]:
    """Return the last version of the first bars since play."""
    bars: dict[int, dict[str, Any]] = {}
    while len(bars) < count:
        message = page.receive("bars")
        for gone in message["drop"]:
            bars = {start: bar for start, bar in bars.items() if bar["id"] != gone}
        bars |= {bar["start"]: bar for bar in message["add"]}
    return [bars[start] for start in sorted(bars)][:count]


def test_a_new_client_is_sent_everything(server: Server) -> None:
    """A new client gets greeting and songbook first, then chart, tempi, sounds and state."""
    with server.page() as page:
        page.state()
        if not any(message["type"] == "bank" for message in page.received):
            page.receive("bank")

    kinds = [message["type"] for message in page.received]
    assert kinds[:2] == ["hello", "songbook"]
    assert {"chart", "time"} <= set(kinds)
    assert titles_of(page.received[1]["tunes"]) == ["Quick Steps", "Slow Steps"]


def test_the_notes_are_those_of_the_file(page: Page) -> None:
    """Count-in and first chorus have exactly the notes of the written file."""
    page.command("play")
    bars = _bars(page, 6)
    end = bars[-1]["start"] + bars[-1]["ticks"]
    heard = {
        (start, CHANNEL_OF[player], pitch, velocity)
        for bar in bars
        for start, _, player, pitch, velocity in bar["notes"]
    }

    data = midi_bytes(Performance(read_chart(QUICK), Settings(choruses=50)))
    written = set()
    for track in mido.MidiFile(file=io.BytesIO(data)).tracks:
        tick = 0
        for message in track:
            tick += message.time
            if message.type == "note_on" and message.velocity:
                written.add((tick, message.channel, message.note, message.velocity))
    # a note of the next bar may come before its bar line
    near = {note for note in written if note[0] < end - 200}
    assert len(near) > 40
    assert near <= heard
    assert {note for note in heard if note[0] < end - 200} == near


def test_times_follow_from_ticks(page: Page) -> None:
    """At 480 a quarter note of 960 ticks takes an eighth of a second."""
    before = page.time()
    page.command("play")
    line = page.receive("time", lambda each: each["playing"] and len(each["line"]) > 2)["line"]

    assert before < line[0][1] < before + 2
    for (tick, time, bpm), (after, later, _) in pairwise(line):
        assert bpm == 480
        assert later - time == pytest.approx((after - tick) / 960 * 0.125, abs=1e-5)


def test_a_tempo_counts_from_the_moment_that_was_heard(page: Page) -> None:
    """A tempo for the moment 200 ms ago keeps the tick there, and holds from there on."""
    page.command("play")
    page.state(part="A")  # a bar line lies between then and now
    old = next(each for each in reversed(page.received) if each["type"] == "time")["line"]
    at = page.time() - 0.2
    page.command("tempo 300", at=at)
    new = page.receive("time", lambda each: each["line"][-1][2] == 300)["line"]

    heard = max(index for index, (_, time, _) in enumerate(old) if time <= at)
    tick, time, bpm = old[heard]
    assert bpm == 480
    expected = tick + (at - time) * 480 / 60 * 960
    turn = next(index for index, point in enumerate(new) if point[2] == 300)
    assert new[turn][0] == pytest.approx(expected, abs=1)
    assert new[turn][1] == pytest.approx(at, abs=0.002)
    for (tick, time, bpm), (after, later, _) in pairwise(new[turn:]):
        assert later - time == pytest.approx((after - tick) / 960 * 60 / bpm, abs=1e-5)


def test_the_moment_of_a_command_is_limited(page: Page) -> None:
    """A moment counts from a second ago at most; invalid and future ones count from now."""
    page.command("play")
    page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
    for at in (-1e9, 0.0, 1e9):
        page.command("tempo 120", at=at)
        line = page.receive("time", lambda each: each["line"][-1][2] == 120)["line"]
        now = page.time()
        assert now - 2 < next(time for _, time, bpm in line if bpm == 120) < now + 0.1
        page.command("tempo 480")
        page.receive("time", lambda each: each["line"][-1][2] == 480)
    for at in ("now", None, [], float("nan"), float("inf"), 1e300, 10**400):
        page.socket.send(json.dumps({"type": "say", "line": "tempo 130", "at": at}))
        page.receive("time", lambda each: each["line"][-1][2] == 130)
        page.command("tempo 480")
        page.receive("time", lambda each: each["line"][-1][2] == 480)


def test_another_key_comes_at_a_bar_line_and_old_bars_are_dropped(page: Page) -> None:
    """Waiting bars are dropped and replaced by bars two semitones higher."""
    page.command("play")
    first = page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
    old = next(bar for bar in first["add"] if bar["bar"])
    page.command("key +2")
    chart = page.receive("chart")
    changes = page.receive("bars", lambda each: each["drop"])
    later = page.receive("bars", lambda each: any(bar["key"] == "A" for bar in each["add"]))

    assert old["key"] == "G"
    assert chart["key"] == "A"
    assert chords_of(chart["html"]) == ["A", "D", "E7", "A"]
    assert later["add"] or changes["add"]


def test_a_muted_player_has_no_notes_in_later_bars(page: Page) -> None:
    """From the next bar on a muted player has no notes."""
    page.command("play")
    page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
    page.command("mute chop")
    state = page.state(muted=["chop"])
    assert "unmute chop" not in state["pressed"]
    bar = page.receive("bars", lambda each: bool(each["add"]))["add"][-1]

    assert state["plays"] == ["bass", "drums"]
    assert {note[2] for note in bar["notes"]} == {"bass", "drums"}


def test_two_pages_see_the_same(server: Server, page: Page) -> None:
    """A command of one client shows on all; a new client gets the bars being played."""
    page.command("play")
    page.command("loop A")
    page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
    with server.page() as other:
        bars = other.receive("bars")["add"]
        time = other.receive("time")
        page.command("tempo 200")
        mine, theirs = page.state(tempo_wished=200, pages=2), other.state(tempo_wished=200)

    assert len(bars) >= 2
    assert time["line"][0][0] <= bars[0]["start"]
    volatile = ("bar", "part", "chords", "tempo")
    assert {name: mine[name] for name in mine if name not in volatile} == {
        name: theirs[name] for name in theirs if name not in volatile
    }
    page.command("loop off")
    assert page.state(pages=1)["words"]["loop"] in ("A", "")


def test_pausing_drops_what_waits(page: Page) -> None:
    """A pause drops waiting bars and empties the timeline; play begins at tick 0 again."""
    page.command("play")
    first = page.receive("time", lambda each: each["playing"])
    page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))
    page.command("pause")
    dropped = page.receive("bars", lambda each: each["drop"])
    stopped = page.receive("time", lambda each: not each["playing"])
    page.command("play")
    again = page.receive("time", lambda each: each["playing"])

    assert dropped["add"] == []
    assert stopped["line"] == []
    assert again["line"][0][0] == 0
    assert again["generation"] == first["generation"] + 1


def test_bars_have_their_places_on_the_chart(page: Page) -> None:
    """Count-in bars are numbered and have no place; others have part, occurrence and bar."""
    page.command("play")
    bars = _bars(page, 6)

    assert [bar["count"] for bar in bars] == [1, 2, None, None, None, None]
    assert [bar["bar"] for bar in bars] == [None, None, *(["A", 0, index] for index in range(4))]
    assert bars[3]["chords"] == [[bars[3]["start"], "C", '<span class="symbol">C</span>']]
    assert bars[2]["mix"]["bass"] == [33, 104, 64]  # as styles/two-beat.toml has it


def test_another_tune_takes_the_place(page: Page) -> None:
    """Another tune stops the band and brings its chart; mutes and levels stay."""
    page.command("level drums 50")
    page.command("mute bass")
    page.command("play")
    page.receive("bars", lambda each: bool(each["add"]))
    page.send(type="open", tune="slow.chart")
    chart = page.receive("chart", lambda each: each["tune"] == "slow.chart")
    state = page.state(tune="slow.chart")

    assert chart["title"] == "Slow Steps"
    assert "3/4" in state["words"]["about"]
    assert state["playing"] is False
    assert state["levels"]["drums"] == 50
    assert state["muted"] == ["bass"]
    page.command("level drums 100")
    page.command("only all")


@pytest.mark.parametrize(
    "message, found",
    [
        ({"type": "say", "line": "fly"}, "'fly' is not a command"),
        ({"type": "say", "line": "tempo much"}, "tempo"),
        ({"type": "say", "line": "quit"}, "close the page"),
        ({"type": "say", "line": "pause | QUIT"}, "close the page"),
        ({"type": "say", "line": "x" * 300}, "at most 200"),
        ({"type": "say"}, "line needs a text"),
        ({"type": "open", "tune": "none.chart"}, "no such file"),
        ({"type": "open", "tune": "../secret.chart"}, "a name of the songbook ends in"),
        ({"type": "output", "name": "port:no such port"}, "MIDI"),
        ({"type": "output", "name": "moon"}, "no output"),
        ({"type": "names", "as": "hieroglyphs"}, "letters, numbers, roman"),
        ({"type": "shapes", "instrument": "/etc/passwd.toml"}, "is not in the list"),
        ({"type": "again", "tune": "a-quick.chart"}, "output needs a text"),
        ({"type": "again", "tune": 4, "output": "browser"}, "tune needs a text"),
        ({"type": "say", "line": "instrument /etc/passwd.TOML"}, "is not in the list"),
        ({"type": "say", "line": "instrument /etc/passwd.toml | tap"}, "is not in the list"),
        ({"type": "say", "line": "style ./mine.toml"}, "is not in the list"),
        ({"type": "say", "line": "style /etc/mine.toml "}, "is not in the list"),
        ({"type": "say", "line": "style ../styles/swing"}, "is not in the list"),
        ({"type": "dance"}, "is not a message"),
    ],
)
def test_an_error_is_sent_to_its_client_alone(
    server: Server, page: Page, message: dict[str, Any], found: str
) -> None:
    """Only the sender of an invalid request gets the error."""
    with server.page() as other:
        other.state()
        page.send(**message)
        assert found in page.receive("fault")["text"]
        other.time()
        assert "fault" not in [each["type"] for each in other.received]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"type": 4}', "[" * 60_000, '{"a": 1}', "null"])
def test_invalid_json_is_an_error(page: Page, text: str) -> None:
    """Invalid text is an error, and the client stays connected."""
    page.socket.send(text)
    assert "JSON" in page.receive("fault")["text"]
    page.time()


def test_nonsense_in_any_field_harms_nobody(server: Server, page: Page) -> None:
    """Wrong values in any field cause no internal error."""
    junk = [
        None,
        True,
        -1,
        10**30,
        1.5e308,
        "",
        "\0",
        "\ud800",
        "..",
        "é" * 50,
        [],
        [[]],
        {"a": {}},
    ]
    fields = {
        "say": ("line", "at"),
        "open": ("tune",),
        "ping": ("mine",),
        "names": ("as",),
        "shapes": ("instrument", "left"),
        "again": ("tune", "output", "snapshot"),
    }
    with server.page() as other:
        for kind, names in fields.items():
            for value in junk:
                other.socket.send(json.dumps({"type": kind, **dict.fromkeys(names, value)}))
        other.time()
        assert not [each for each in other.received if "internal error" in each.get("text", "")]
    page.time()


def test_chords_by_number_and_shapes_above_them(page: Page) -> None:
    """A client chooses chord names and an instrument; every chord has a drawn shape."""
    page.send(type="names", **{"as": "numbers"})
    chart = page.receive("chart", lambda each: each["names"] == "numbers")
    assert chords_of(chart["html"]) == ["1", "4", "57", "1"]
    page.send(type="shapes", instrument="mandolin", left=True)
    chart = page.receive("chart", lambda each: each["instrument"] == "mandolin")
    paths = re.findall('data-path="([0-9 ]+)"', chart["html"])
    assert [sum(path in paths_of.split() for paths_of in paths) for path in "012"] == [4, 4, 4]
    assert "style=" not in chart["html"]  # the content policy has no inline styles
    assert chart["shapes_fault"] is None
    page.command("level 95")
    state = page.state(level=95)
    # the chop plays the shown shapes
    assert state["snapshot"]["settings"]["fretting"]["instrument"] == "mandolin"
    page.command("level 100")
    page.send(type="shapes", instrument="none")
    page.command("instrument own")


def test_the_shapes_of_the_band_follow_its_instrument(page: Page) -> None:
    """A command that changes the instrument changes the chop and its shown shapes."""
    page.command("instrument own")
    page.send(type="shapes", shown=True)
    own = page.receive("chart", lambda each: each["instrument"] == "band")
    page.command("instrument tenor-banjo")
    banjo = page.receive("chart", lambda each: keys_of(each["html"]) != keys_of(own["html"]))
    page.command("level 90")
    fretting = page.state(level=90)["snapshot"]["settings"]["fretting"]
    assert fretting["instrument"] == "tenor-banjo"
    page.command("level 100")
    page.command("play")
    bar = page.receive("bars", lambda each: any(bar["bar"] for bar in each["add"]))["add"][-1]

    struck = {note[3] for note in bar["notes"] if note[2] == "chop"}
    assert struck <= keys_of(banjo["html"], bar["path"])
    page.command("instrument own")


# many settings; in this style the drums sit out
PRACTISED = [
    "style bluegrass", "tempo 233.25", "key +2", "mute bass", "level 70", "level chop 45",
    "instrument tenor-banjo", "shapes easy", "reach 90", "loop 2-3", "rest 1 4", "count-in on",
    "ladder 200 240 7.5 3 back",
]  # fmt: skip
ALONE = ["only chop", "style bluegrass", "loop A", "trade 2", "last-time"]


@pytest.mark.parametrize(
    "lines, doing",
    [(PRACTISED, "play"), (ALONE, "pause"), (["style bluegrass"], "stop")],
)
def test_a_restarted_stand_restores_its_state(
    start: Callable[..., Server], lines: list[str], doing: str
) -> None:
    """A restarted server restores the whole state from a client, whether it played or not."""
    charts = {"a-first.chart": SLOW, "quick.chart": QUICK}
    before, after = start(charts=charts), start(charts=charts)
    with before.page() as page:
        page.send(type="open", tune="quick.chart")
        page.state(tune="quick.chart")
        for line in lines:
            page.command(line)
        if doing != "stop":
            page.command("play")
            page.receive("state", lambda each: each["bar"] == 2 and each["part"] == "A")
        page.command(doing)
        page.command("level 66")
        was = page.state(level=66, playing=doing == "play")
    before.end()
    with after.page() as page, after.page() as other:
        page.state(tune="a-first.chart")
        page.send(type="again", tune="quick.chart", output="browser", snapshot=was["snapshot"])
        state = page.state(tune="quick.chart", playing=doing == "play", level=66)
        names = ["pressed", "values", "words", "plays", "muted", "semitones", "tempo_wished"]
        names += ["loop", "last_time", "levels", "style", "key"]
        assert {name: state[name] for name in names} == {name: was[name] for name in names}
        assert state["snapshot"]["settings"] == was["snapshot"]["settings"]
        if doing != "play":  # a playing band moves on
            assert state["snapshot"] == was["snapshot"]
        # only the first restore counts
        other.send(type="again", tune="a-first.chart", output="browser", snapshot={})
        other.time()
        page.command("level 65")
        assert page.state(level=65)["tune"] == "quick.chart"
        assert "fault" not in {each["type"] for each in (*page.received, *other.received)}


def test_what_cannot_be_restored_is_reported(start: Callable[..., Server]) -> None:
    """One message to the sender lists what failed; everything else is restored."""
    server = start(charts={"quick.chart": QUICK})
    with server.page() as page, server.page() as other:
        snapshot = page.state()["snapshot"]
        snapshot["settings"] |= {
            "loop": "C",
            "level": 1e400,
            "semitones": 2,
            "style": "/etc/passwd",
        }
        page.send(type="again", tune="quick.chart", output="moon", snapshot=snapshot)
        text = page.receive("fault")["text"]
        assert text.startswith("not everything could be restored: output: 'moon' is no output")
        for name in (
            "loop: 'C' is not a part",
            "level: found inf instead of",
            "style: found '/etc/passwd'",
        ):
            assert f"; {name}" in text
        state = page.state(semitones=2)
        assert (state["level"], state["loop"], state["playing"]) == (100, None, False)
        other.time()
        assert "fault" not in {each["type"] for each in other.received}


def test_a_missing_tune_is_reported(start: Callable[..., Server]) -> None:
    """A missing tune is an error, and the stand starts as a new one."""
    server = start(charts={"quick.chart": QUICK})
    with server.page() as page:
        page.send(type="again", tune="gone.chart", output="browser", snapshot={})
        assert "no such file" in page.receive("fault")["text"]
        page.command("level 85")
        state = page.state(level=85)
        assert (state["tune"], state["playing"]) == ("quick.chart", False)


def test_a_restore_after_a_command_is_ignored(
    start: Callable[..., Server],
) -> None:
    """After a command a restore is ignored, while commands are carried out."""
    server = start(charts={"quick.chart": QUICK})
    with server.page() as page, server.page() as other:
        snapshot = page.state()["snapshot"]
        page.command("level 85")
        page.command("play")
        page.state(level=85, playing=True)
        snapshot["playing"] = False
        other.send(type="again", tune="quick.chart", output="browser", snapshot=snapshot)
        other.command("pause")
        state = page.state(playing=False)
        assert state["level"] == 85


def test_each_button_of_the_panel_can_be_released(page: Page, server: Server) -> None:
    """A button is active by its own command, alone of its kind, and its second command ends it."""
    buttons = [
        dict(re.findall(r'data-(say|again)="([^"]*)"', tag))
        for tag in re.findall(r"<button[^>]*aria-pressed=[^>]*>", server.ask("GET", "/").text)
    ]
    trades = [each for each in buttons if each["say"].startswith("trade ")]
    assert len(trades) >= 2
    for each in [*trades, {"say": "only bass", "again": "only before"}]:
        assert each in buttons
        page.command(each["say"])
        state = page.receive("state", lambda state, line=each["say"]: line in state["pressed"])
        kind = each["say"].split()[0]
        assert [line for line in state["pressed"] if line.split()[0] == kind] == [each["say"]]
        page.command(each["again"])
        page.receive("state", lambda state, line=each["say"]: line not in state["pressed"])


def test_a_rest_is_a_trade_where_both_halves_are_as_long(page: Page) -> None:
    """The button of a trade is active only where silence and playing are as long."""
    page.command("rest 2 8")
    state = page.receive("state", lambda each: each["words"]["rest"] == "2 of 8 bars")
    assert not [line for line in state["pressed"] if line.startswith("trade")]
    page.command("rest 4 8")
    page.receive("state", lambda each: "trade 4" in each["pressed"])
    page.command("rest off")
    page.receive("state", lambda each: each["words"]["rest"] == "")


def test_a_server_without_charts_starts(start: Callable[..., Server]) -> None:
    """In an empty songbook a chart can be saved, listed and opened."""
    server = start(charts={"words.txt": "no chart"})
    with server.page() as page:
        assert page.state()["tune"] is None
        page.command("play")
        assert "no chart is open" in page.receive("fault")["text"]
        new = {"If-None-Match": "*"}
        assert server.ask("PUT", "/tunes/new.chart", QUICK.encode(), new).status == 204
        book = page.receive("songbook", lambda each: bool(each["tunes"]))
        assert titles_of(book["tunes"]) == ["Quick Steps"]
        page.send(type="open", tune="new.chart")
        page.state(tune="new.chart")


def test_the_channels_have_every_player() -> None:
    """The channels above have every player."""
    assert set(CHANNEL_OF) == set(Player)


def test_the_lead_is_a_player_of_the_page(start: Callable[..., Server]) -> None:
    """Only a chart with a melody has the lead, with notes, mix and level."""
    chart = "title: Led\nkey: C\ntempo: 240\nmelody: led.melody\n[A] 2\n| C | G |\n"
    melody = "[A]\n| C5:1/4 E5 G5 E5 | D5:1/2 B4 |\n"
    server = start(charts={"led.chart": chart, "led.melody": melody, "plain.chart": QUICK})
    with server.page() as page:
        page.send(type="open", tune="led.chart")
        state = page.state(tune="led.chart")
        assert state["band"] == ["bass", "chop", "drums", "lead"]
        assert "lead" in state["plays"]
        assert state["levels"]["lead"] == 100
        page.command("play")
        count, *bars = _bars(page, 4)
        led = [note[3] for bar in bars for note in sorted(bar["notes"]) if note[2] == "lead"]
        assert led == [72, 76, 79, 76, 74, 71]
        assert count["mix"]["lead"] == [41, 84, 44]
        page.command("mute lead")
        page.state(muted=["lead"])
        page.command("lead other")
        page.command("lead octave")
        state = page.receive("state", lambda each: "lead octave" in each["pressed"])
        assert state["values"]["lead"] == "other"
        page.command("only all")
        page.command("stop")
        page.send(type="open", tune="plain.chart")
        state = page.state(tune="plain.chart")
        assert state["band"] == ["bass", "chop", "drums"]
        page.command("lead first")
        assert "names no melody" in page.receive("fault")["text"]
