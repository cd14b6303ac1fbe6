"""Live playing through real MIDI ports: JACK with a dummy driver, python-rtmidi at both ends."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
import time
import tomllib
import uuid
from statistics import median
from threading import Event
from typing import TYPE_CHECKING

import pytest
from charts import TWO_PARTS

from backing.control.settings import LiveSettings
from backing.live.pedal import FILE_VARIABLE, Pedal
from backing.live.session import Session
from backing.notes import without_overlaps
from backing.out.channels import CHANNELS
from backing.out.port import InputPort, OutputPort, PortError
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.timing import TICKS_PER_QUARTER

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

BPM = 240.0
PATIENCE_SECONDS = 180.0

pytestmark = pytest.mark.usefixtures("jack")


class Ear:
    """A virtual port that records messages and the keys that are down."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.received: list[tuple[float, bytes]] = []
        self._port = InputPort(name, self._hear, virtual=True)

    def _hear(self, message: bytes) -> None:
        self.received.append((time.perf_counter(), message))

    def close(self) -> None:
        """Close the port."""
        self._port.close()

    def strokes(self) -> list[tuple[float, int, int, int]]:
        """Return (seconds, channel, key, velocity) of every note-on."""
        return [
            (when, message[0] & 15, message[1], message[2])
            for when, message in list(self.received)
            if message[0] >> 4 == 9
        ]

    def down(self) -> set[tuple[int, int]]:
        """Return the keys that are down."""
        keys: set[tuple[int, int]] = set()
        for _, message in list(self.received):
            if message[0] >> 4 == 9:
                keys.add((message[0] & 15, message[1]))
            elif message[0] >> 4 == 8:
                keys.discard((message[0] & 15, message[1]))
        return keys


@pytest.fixture
def ear() -> Iterator[Ear]:
    """Return a listening port."""
    listener = Ear(f"ear-{uuid.uuid4().hex[:6]}")
    yield listener
    listener.close()


def until(wanted: Callable[[], object], what: str) -> None:
    """Wait until a condition is true; fail when it never is."""
    end = time.perf_counter() + PATIENCE_SECONDS
    while not wanted():
        if time.perf_counter() > end:
            pytest.fail(f"in vain: {what}")
        time.sleep(0.01)


def playing(ear: Ear, *arguments: str, **more: object) -> subprocess.Popen[bytes]:
    """Start the command in its own process and wait for the first note."""
    command = [sys.executable, "-m", "backing", "play", "--port", ear.name, *arguments]
    process = subprocess.Popen(command, **more)  # type: ignore[call-overload]
    until(lambda: len(ear.strokes()) > 12 or process.poll() is not None, "the band plays")
    return process  # type: ignore[no-any-return]


@pytest.fixture
def chart(tmp_path: Path) -> str:
    """Return the name of a chart file."""
    path = tmp_path / "two-parts.chart"
    path.write_text(
        "title: Two Parts\nkey: G\nstyle: swing\ntempo: 150\nform: A B\n"
        "[A] 4\n| G6 | C9 | D7 | G6 |\n[B] 4\n| Em7 | A7 | Am7 | D7 |\n",
        encoding="utf-8",
    )
    return str(path)


def test_a_take_through_a_port_equals_the_file(ear: Ear) -> None:
    """Keys, velocities, order and times at a port are those of the file."""
    once = Settings(bpm=BPM, choruses=1, looseness=0.0)
    session = Session("-", LiveSettings.of(TWO_PARTS, once, endless=False), OutputPort(ear.name))
    session.start()
    until(lambda: session.is_over, "the end")
    session.close()
    bars = Performance(TWO_PARTS, Settings(bpm=BPM, choruses=1, looseness=0.0)).bars()
    notes = without_overlaps(note for bar in bars for note in bar.notes)
    expected = sorted(
        (note.tick, CHANNELS[note.player], note.pitch, note.velocity) for note in notes
    )
    received = ear.strokes()

    assert session.broken is None
    assert sorted(each[1:] for each in expected) == sorted(each[1:] for each in received)
    assert set() == ear.down()
    seconds = sorted(tick * 60 / BPM / TICKS_PER_QUARTER for tick, *_ in expected)
    times = sorted(when for when, *_ in received)
    # A busy machine delays notes, but hardly changes the time from the median of the first quarter
    # to that of the last. The time of each note is tested on a manual clock.
    assert lasting(times) == pytest.approx(lasting(seconds), rel=0.1)


def lasting(times: list[float]) -> float:
    """Return the time from the median of the first quarter to that of the last."""
    quarter = len(times) // 4
    return median(times[-quarter:]) - median(times[:quarter])


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_a_process_that_is_ended_leaves_no_key_down(name: str, ear: Ear, chart: str) -> None:
    """Ctrl-C, SIGTERM and SIGHUP in mid-bar release every key."""
    process = playing(ear, chart, stdin=subprocess.PIPE)
    process.send_signal(getattr(signal, name))
    process.communicate(timeout=PATIENCE_SECONDS)

    assert process.returncode in (0, 129, 130, 143)
    until(lambda: ear.down() == set(), "every key is up")


def test_a_terminal_that_is_closed_leaves_no_key_down(ear: Ear, chart: str) -> None:
    """When the terminal closes, the band ends and releases every key."""
    master, slave = pty.openpty()
    process = playing(ear, chart, stdin=slave, stdout=slave, stderr=slave, start_new_session=True)
    os.close(slave)
    os.close(master)
    process.wait(PATIENCE_SECONDS)

    until(lambda: ear.down() == set(), "every key is up")


def test_a_port_that_comes_back_is_found_again(ear: Ear) -> None:
    """A receiver that goes and returns: one message each, programs sent again, music goes on."""
    name = ear.name
    session = Session("-", LiveSettings.of(TWO_PARTS, Settings(bpm=BPM)), OutputPort(name))
    session.start()
    until(lambda: len(ear.strokes()) > 12, "the band plays")
    ear.close()
    until(lambda: session.poll() or session.messages, "the loss is told")
    session.poll()
    assert session.transport.playing
    returned = Ear(name)
    try:
        until(lambda: session.poll() or len(session.messages) > 1, "it is found again")
        until(lambda: len(returned.strokes()) > 12, "the band is heard again")
    finally:
        session.close()
        until(lambda: returned.down() == set(), "every key is up")
        returned.close()

    assert [text.split()[-1] for text in session.messages] == ["it", "back"]
    programs = {message[0] for _, message in returned.received if message[0] >> 4 == 12}
    assert {0xC0, 0xC1, 0xC9} == programs


def test_lines_in_and_state_out(ear: Ear, chart: str) -> None:
    """A command for each line of standard input, a line of JSON for each bar on standard output."""
    process = playing(
        ear, chart, "--json", stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdin
    assert process.stdout
    process.stdin.write(b"tempo 300\nkey +2\nmute chop\nloop B\nhum\n")
    process.stdin.flush()
    states = []
    for line in process.stdout:
        states.append(json.loads(line))
        if states[-1]["key"] == "A" and states[-1]["part"] == "B":
            break
    process.stdin.write(b"quit\n")
    process.stdin.flush()
    _, errors = process.communicate(timeout=PATIENCE_SECONDS)

    assert process.returncode == 0
    assert (states[-1]["tempo"], states[-1]["plays"]) == (300, ["bass", "drums"])
    assert states[-1]["loop"] == [5, 8]
    assert b"'hum' is not a command" in errors
    assert set() == ear.down()


def test_an_unknown_port_is_refused(ear: Ear) -> None:
    """The message for an unknown port lists the ports."""
    with pytest.raises(PortError, match=f"no MIDI port is called nowhere; there are .*{ear.name}"):
        OutputPort("nowhere")


def test_ports_are_listed(ear: Ear, capsys: pytest.CaptureFixture[str]) -> None:
    """`backing ports` lists the listening port."""
    from backing.cli.ports import run

    run()

    assert ear.name in capsys.readouterr().out


def test_a_pedal_sends_its_lines(ear: Ear, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A button pressed on a MIDI input sends its line."""
    path = tmp_path / "pedal.toml"
    path.write_text('[buttons]\n"note 60" = "tempo 111"\n', encoding="utf-8")
    monkeypatch.setenv(FILE_VARIABLE, str(path))
    lines: list[str] = []
    board = OutputPort(f"board-{uuid.uuid4().hex[:6]}", virtual=True)
    pedal = Pedal(board.name, lines.append)
    try:
        board.send(bytes((0x90, 61, 100)))
        board.send(bytes((0x90, 60, 100)))
        board.send(bytes((0x80, 60, 0)))
        until(lambda: lines, "the pedal is heard")
    finally:
        pedal.close()
        board.close()

    assert lines == ["tempo 111"]


class Learning:
    """`backing pedal --learn` in its own process, and a board with buttons."""

    def __init__(self) -> None:
        self.board = OutputPort(f"board-{uuid.uuid4().hex[:6]}", virtual=True)
        self.lines = b""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "backing", "pedal", self.board.name, "--learn"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )
        assert self.process.stdout
        os.set_blocking(self.process.stdout.fileno(), False)

    def until_it_says(self, text: bytes) -> None:
        """Wait for a text on standard output and drop everything up to its end."""
        until(lambda: text in self._all() or self.process.poll() is not None, text.decode())
        assert text in self.lines, self.lines
        self.lines = self.lines.partition(text)[2]

    def _all(self) -> bytes:
        assert self.process.stdout
        self.lines += self.process.stdout.read() or b""
        return self.lines

    def assign(self, button: bytes, line: bytes) -> None:
        """Press a button, let it go, and type its command."""
        self.until_it_says(b"press a button")
        self.board.send(button)
        self.board.send(bytes((*button[:2], 0)))
        self.until_it_says(b"command for ")
        assert self.process.stdin
        self.process.stdin.write(line + b"\n")
        self.process.stdin.flush()

    def close(self) -> None:
        """End it."""
        self.process.kill()
        self.process.communicate()
        self.board.close()


@pytest.fixture
def learning(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Learning]:
    """Return a learning process whose mapping file has one button."""
    path = tmp_path / "pedal.toml"
    path.write_text('[buttons]\n"note 36" = "last-time"\n', encoding="utf-8")
    monkeypatch.setenv(FILE_VARIABLE, str(path))
    process = Learning()
    yield process
    process.close()


def test_buttons_are_learned(learning: Learning, tmp_path: Path) -> None:
    """The file has old and new buttons; a line that is not a command is refused."""
    learning.assign(bytes((0x90, 60, 100)), b"tap")
    learning.assign(bytes((0xB0, 64, 127)), b"dance")
    learning.until_it_says(b"'dance' of 'control 64' is not a command: choose from play")
    learning.assign(bytes((0xB0, 64, 127)), b"tempo +5")
    learning.assign(bytes((0xB0, 65, 127)), b"")

    assert learning.process.wait(PATIENCE_SECONDS) == 0
    assert tomllib.loads((tmp_path / "pedal.toml").read_text(encoding="utf-8")) == {
        "buttons": {"note 36": "last-time", "note 60": "tap", "control 64": "tempo +5"}
    }


@pytest.mark.parametrize("at", ["press", "line"])
def test_stopped_learning_keeps_the_file(at: str, learning: Learning, tmp_path: Path) -> None:
    """Ctrl-C while waiting for a press or a line keeps what was assigned before."""
    learning.assign(bytes((0x90, 60, 100)), b"tap")
    learning.until_it_says(b"press a button")
    if at == "line":
        learning.board.send(bytes((0x90, 61, 100)))
        learning.until_it_says(b"command for note 61: ")
    learning.process.send_signal(signal.SIGINT)

    assert learning.process.wait(PATIENCE_SECONDS) == 130
    learning.until_it_says(b"stopped")
    assert [path.name for path in tmp_path.iterdir()] == ["pedal.toml"]
    assert tomllib.loads((tmp_path / "pedal.toml").read_text(encoding="utf-8")) == {
        "buttons": {"note 36": "last-time", "note 60": "tap"}
    }


@pytest.mark.long
def test_ten_minutes_do_not_drift(ear: Ear) -> None:
    """After ten minutes on the real clock the band sends within 1 ms of the ideal beat.

    Medians of many notes are compared, so that a note delayed by the machine does not matter.
    """
    port = OutputPort(ear.name)
    sent: list[float] = []
    send = port.send

    def noted(message: bytes) -> None:
        if message[0] == 0x90:
            sent.append(time.perf_counter())
        send(message)

    port.send = noted  # type: ignore[method-assign]
    exact = Settings(bpm=BPM, count_in=1, looseness=0.0)
    session = Session("-", LiveSettings.of(TWO_PARTS, exact), port)
    session.start()
    end = time.perf_counter() + 600.0
    pause = Event()
    while time.perf_counter() < end and not session.is_over:
        pause.wait(1.0)
    session.close()
    beats = [(when - sent[0]) * BPM / 60 for when in sent[-400:]]
    apart = sorted(each - round(each) for each in beats if abs(each % 1 - 0.5) > 0.3)

    assert session.broken is None
    assert len(ear.strokes()) > 10 * len(apart)
    assert abs(apart[len(apart) // 2]) * 60 / BPM < 0.001
