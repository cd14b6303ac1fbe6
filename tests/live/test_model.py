"""The invariants of live playing under any commands, stalls and lost ports."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from charts import CLOSING, IN_TWO, LONGER, SHORTER, SLOWING, TWO_PARTS, WITH_PICKUP
from hypothesis import HealthCheck
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from properties import examples
from take import Keys, Take

from backing.band.bass import Bass
from backing.band.chop import Chop
from backing.band.drums import Drums
from backing.chart.sequence import part_label
from backing.control.commands import COMMANDS
from backing.control.progress import loop_bar_names
from backing.errors import BackingError
from backing.live.source import Source
from backing.timing import ticks_to_seconds

CHARTS = (TWO_PARTS, LONGER, SHORTER, WITH_PICKUP, IN_TWO, CLOSING, SLOWING)

WORDS = st.sampled_from(
    [
        "A",
        "B",
        "C",
        "Intro",
        "Tag",
        "next",
        "here",
        "A-A",
        "lead",
        "|",
        "2/8",
        "of",
        "A-B",
        "B-A",
        "1-2",
        "5-8",
        "2-3",
        "9-99",
        "0-1",
        "off",
        "on",
        "back",
        "all",
        "bass",
        "chop",
        "drums",
        "swing",
        "two-beat",
        "shuffle",
        "polka",
        "G",
        "Bb",
        "F#m",
        "half=100",
        "+2",
        "-3",
        "+5",
        "-40",
        "100",
        "120",
        "133",
        "0",
        "1",
        "2",
        "4",
        "8",
        "19",
        "501",
        "1e9",
        "nan",
        "inf",
        "-1",
        "+nan",
        "%",
        "50%",
        "1/2",
        "²",
        "x",
    ]
)
NUMBERS = st.integers(-30, 600).map(str) | st.integers(-30, 30).map("{:+}".format)
USUAL = st.sampled_from(
    [
        "tempo 90",
        "tempo 240",
        "tempo +20",
        "tempo -15",
        "half",
        "double",
        "key +1",
        "key -3",
        "key +12",
        "key Bb",
        "style swing",
        "style two-beat",
        "style shuffle",
        "loop A",
        "loop B",
        "loop A-B",
        "loop A 2",
        "loop A-A 2",
        "loop Tag",
        "loop here",
        "loop 2-3",
        "loop 1",
        "loop off",
        "part B",
        "part A",
        "part next",
        "part A 2",
        "part Intro",
        "part Tag",
        "mute bass",
        "mute chop",
        "mute drums",
        "unmute bass",
        "mute chop | unmute chop",
        "loop off | loop here",
        "only bass",
        "only all",
        "level 50",
        "level chop +30",
        "ladder 100 220 40 1 back",
        "ladder 300 100 50 1",
        "ladder off",
        "rest 1 2",
        "rest off",
        "rest 2/4",
        "trade 2",
        "trade off",
        "count-in on",
        "count-in off",
        "last-time",
        "tap",
    ]
)


class Playing(RuleBasedStateMachine):
    """A band on a manual clock, with any commands, stalls and edits."""

    def __init__(self) -> None:
        super().__init__()
        self.patch = pytest.MonkeyPatch()
        self.keys = Keys()
        self.sent = 0
        self.checked = 0
        self.lost = 0

    @initialize(
        chart=st.sampled_from(CHARTS),
        choruses=st.sampled_from([None, None, 1, 2]),
        clock_out=st.booleans(),
    )
    def begin(self, chart: object, choruses: int | None, clock_out: bool) -> None:
        """Start to play."""
        self.take = Take(chart, choruses=choruses, clock_out=clock_out)
        self.take.command("play")

    @rule(command=st.sampled_from(sorted(COMMANDS)), words=st.lists(WORDS | NUMBERS, max_size=4))
    def say_anything(self, command: str, words: list[str]) -> None:
        """Give a command with any arguments: it is carried out, or refused without a change."""
        before = self.take.transport.settings
        try:
            self.take.command(" ".join([command, *words]))
        except BackingError as error:
            assert str(error)
            assert before == self.take.transport.settings

    @rule(line=USUAL)
    def command(self, line: str) -> None:
        """Give a usual command; it is refused only if the chart lacks what it names."""
        try:
            self.take.command(line)
        except BackingError as error:
            assert line.split()[0] in ("key", "style", "loop", "part", "half", "double"), error

    @rule(line=st.sampled_from(["play", "pause", "pause | play", "stop", "quit"]))
    def stop_and_go(self, line: str) -> None:
        """Stop or play: no key is down while time does not run."""
        self.take.command(line)
        self._listen()
        if not self.take.transport.playing:
            assert set() == self.keys.down

    @rule(seconds=st.floats(0.0, 4.0))
    def let_time_run(self, seconds: float) -> None:
        """Let time run."""
        self.take.run(seconds)

    @rule(bars=st.integers(1, 5))
    def let_bars_go_by(self, bars: int) -> None:
        """Run whole bars, so that commands come right on bar lines."""
        self.take.run_bars(bars)

    @rule(seconds=st.sampled_from([0.0003, 0.01, 0.2, 1.0, 5.0]))
    def stall(self, seconds: float) -> None:
        """Stall."""
        self.take.now += seconds

    @rule(seconds=st.floats(0.0, 2.0), line=st.none() | USUAL)
    def make_slowly(self, seconds: float, line: str | None) -> None:
        """Make bars slowly: bars are sent and commands given meanwhile."""
        make = Source.next

        def slow(source: Source, *what: Any) -> Any:
            bar = make(source, *what)
            if slowly:
                self.take.now += slowly.pop()
                self.take.transport.pump(self.take.now)
                if line:
                    self.command(line)
            return bar

        slowly = [seconds] * 3
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Source, "next", slow)
            self.take.transport.fill()

    @rule(steps=st.lists(st.floats(0.0, 0.3), max_size=4))
    def wait_for_the_maker(self, steps: list[float]) -> None:
        """Send while no bar is made."""
        for step in steps:
            self.take.now += step
            self.take.transport.pump(self.take.now)

    @rule(chart=st.sampled_from(CHARTS))
    def edit_the_chart(self, chart: object) -> None:
        """Save another chart while the band plays."""
        before = self.take.transport.settings
        try:
            self.take.transport.change(lambda settings: settings.edited(chart), self.take.now)
        except BackingError:
            assert before == self.take.transport.settings

    @rule()
    def plug_in_again(self) -> None:
        """Reconnect the port: every key is released, programs and volumes are sent."""
        at = len(self.take.sent)
        self.take.transport.resend_setup()
        resent = [message for _, message in self.take.sent[at:]]
        self._listen()

        assert set() == self.keys.down
        if self.take.bars:
            assert {0xC0, 0xC1, 0xC9} == {each[0] for each in resent if each[0] >> 4 == 12}

    @rule(player=st.sampled_from([Bass, Chop, Drums]))
    def break_a_player(self, player: type) -> None:
        """Make a player raise from now on."""

        def broken(*_: object) -> None:
            raise RuntimeError("a string has snapped")

        self.patch.setattr(player, "play", broken)

    @rule()
    def mend_the_players(self) -> None:
        """Repair all players."""
        self.patch.undo()

    @precondition(lambda self: self.take.transport.ended)
    @rule()
    def once_more(self) -> None:
        """Play again after the end."""
        assert not self.take.transport.playing
        self.take.command("play")

    def _listen(self) -> None:
        self.keys.take(self.take.sent[self.sent :])
        self.sent = len(self.take.sent)

    @invariant()
    def keys_are_struck_in_turn(self) -> None:
        """Check that times never decrease, values are valid, and no key is struck twice."""
        if hasattr(self, "take"):
            self._listen()

    @invariant()
    def the_tempo_is_that_of_the_settings(self) -> None:
        """Without tempi of parts, the band plays at the tempo of the settings.

        While an edit is pending, a bar may be from the edit before it.
        """
        if not hasattr(self, "take"):
            return
        transport = self.take.transport
        settings = transport.settings
        if not transport.playing or settings.pending is not None:
            return
        if settings.chart not in (LONGER, SLOWING):
            assert transport.settings.bpm == pytest.approx(transport.bpm)

    @invariant()
    def bars_are_complete(self) -> None:
        """Bars have the length of their meter, and tempi are in range.

        A bar starts at the share of the tempo at which the bar before ended, or at full tempo.
        """
        if hasattr(self, "take"):
            for bar in self.take.bars[self.checked :]:
                assert bar.meter.bar_ticks == bar.ticks
                assert 0 <= bar.index < bar.length
                assert all(note.tick < bar.ticks for note in bar.notes)
                assert bar.label.split()[0] == bar.part
            for one, other in pairwise(self.take.bars[max(self.checked - 1, 0) :]):
                assert other.position.share in (1.0, one.share)
            self.checked = len(self.take.bars)
            assert 20 <= self.take.transport.settings.bpm <= 500

    @invariant()
    def the_band_is_where_the_loop_is(self) -> None:
        """Bars made since the last command are in the loop, a count-in or the ending."""
        if not hasattr(self, "take"):
            return
        transport = self.take.transport
        settings = transport.settings
        looped = {part_label(*name[:2]) for name in loop_bar_names(settings)}
        for _, queued in transport.view().waiting:
            if (
                queued.generation == transport._agenda.generation
                and looped
                and not settings.pending
            ):
                assert queued.bar.label in {*looped, "count-in", "ending"}

    def teardown(self) -> None:
        """Stop: every key is released."""
        if hasattr(self, "take"):
            self.take.command("stop")
            self._listen()
            assert set() == self.keys.down
        self.patch.undo()


Playing.TestCase.settings = examples(
    60, stateful_step_count=60, suppress_health_check=list(HealthCheck)
)
TestPlaying = Playing.TestCase


class Steady(RuleBasedStateMachine):
    """A band without stalls: each bar starts where the one before ends."""

    @initialize(chart=st.sampled_from(CHARTS))
    def begin(self, chart: object) -> None:
        """Start to play."""
        self.take = Take(chart)
        self.take.command("play")
        self.bpm = self.take.transport.settings.bpm

    @rule(line=USUAL.filter(lambda line: line.split()[0] not in ("tap", "part")))
    def command(self, line: str) -> None:
        """Give a command that does not change the tempo."""
        if line.split()[0] not in ("tempo", "half", "double", "ladder", "last-time"):
            try:
                self.take.command(line)
            except BackingError as error:
                assert str(error)

    @rule(seconds=st.floats(0.0, 3.0))
    def let_time_run(self, seconds: float) -> None:
        """Let time run."""
        self.take.run(seconds)

    @rule(chart=st.sampled_from([TWO_PARTS, SHORTER]))
    def edit_the_chart(self, chart: object) -> None:
        """Save another chart while the band plays."""
        self.take.transport.change(lambda settings: settings.edited(chart), self.take.now)

    @invariant()
    def bars_follow_each_other(self) -> None:
        """Each bar starts where the one before ends."""
        if hasattr(self, "take"):
            for (one, then), (_, start) in pairwise(
                zip(self.take.bars[-8:], self.take.times[-8:], strict=True)
            ):
                assert start == pytest.approx(then + ticks_to_seconds(one.ticks, one.bpm))


Steady.TestCase.settings = examples(
    25, stateful_step_count=40, suppress_health_check=list(HealthCheck)
)
TestSteady = Steady.TestCase
