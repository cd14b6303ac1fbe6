"""What can be said to the band while it plays: one set of words for keys, pedals and lines.

A verb is a word and perhaps arguments, as on one line of standard input: `tempo 120`, `tempo +5`,
`key +2`, `key G`, `loop A`, `mute chop`, `last-time`. Keys on the terminal and pedals are other
ways to say the same lines. A bare number of a tempo counts the chart's beat (`Chart.tempo_unit`).
Several lines in one, as in `mute chop | unmute chop`, take turns: the first of them that changes
anything is carried out, so that one button can do both.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.band.lead import WHEN
from backing.chart.selection import bars_of, form_index_of, part_of
from backing.chart.sequence import every_time, part_label
from backing.chart.transpose import FARTHEST, in_key
from backing.errors import SettingsError, SymbolError
from backing.live.source import looped_bars
from backing.live.wishes import (
    LOUDEST,
    SMALLEST_STEP_BPM,
    Ladder,
    VerbError,
    check_shapes,
)
from backing.nearest import did_you_mean, nearest
from backing.notes import Player
from backing.performance import Performance, Settings
from backing.style.library import find_style
from backing.timing import (
    FASTEST_BPM,
    SLOWEST_BPM,
    TICKS_PER_QUARTER,
    UNITS,
    Tempo,
    WrittenTempo,
    tempo_range,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.model import Chart
    from backing.chart.sequence import BarName
    from backing.fretboard.fretting import FrettingWish
    from backing.live.transport import Transport
    from backing.live.wishes import Wishes

_TAP_GAP_SECONDS = 2.5
_TAPS = 6
_NO_MELODY = "the lead has nothing to play: the chart names no melody in a line 'melody:'"


@dataclass(frozen=True, slots=True)
class Verb:
    """A verb.

    Attributes:
        usage: its arguments, for help.
        about: what it does.

    """

    usage: str
    about: str


VERBS = {
    "play": Verb("", "begin, or go on where it was paused"),
    "pause": Verb("", "fall silent; play goes on at this bar"),
    "stop": Verb("", "fall silent and go back to the beginning"),
    "quit": Verb("", "leave"),
    "tempo": Verb(
        "BPM | +[N] | -[N] | own",
        "beats a minute, or so much, or one step, faster or slower; or as written",
    ),
    "tap": Verb("", "tap the tempo, once a beat"),
    "half": Verb("", "half the tempo"),
    "double": Verb("", "twice the tempo"),
    "key": Verb("KEY | +N | -N | own", "another key, or by so many semitones; own is the chart's"),
    "style": Verb("NAME | own", "another groove; own is the chart's"),
    "loop": Verb(
        "PART [TURN] | PART-PART | BAR-BAR | here | off", "go round a part, parts or bars"
    ),
    "part": Verb(
        "PART [TURN] | next",
        "go to a part at the next bar line, such as the second A: part A 2; a loop without it ends",
    ),
    "mute": Verb("bass | chop | drums | lead", "leave a player out"),
    "unmute": Verb("bass | chop | drums | lead", "let a player in, also who sits out in the style"),
    "only": Verb(
        "bass | chop | drums | lead | all | before",
        "let one player play alone, several, or all; or who played before one was alone",
    ),
    "level": Verb("[PLAYER] PERCENT | +N | -N", "loudness of one or of all, 0 to 150"),
    "ladder": Verb(
        "FROM TO [STEP [EVERY]] [back] | off",
        "a climbing tempo: by STEP, at least 0.1, or usual, after EVERY times round",
    ),
    "rest": Verb("BARS OF | BARS/OF | off", "silent for BARS of every OF bars"),
    "trade": Verb("BARS | off", "the band plays BARS, then you do"),
    "count-in": Verb("on | off", "count in every round of a loop"),
    "lead": Verb(
        f"{' | '.join(WHEN)} | octave | single",
        "play the melody every time round, the first time, every other time; doubled, or not",
    ),
    "instrument": Verb("NAME | own", "who frets the chop's chords; own is the style's instrument"),
    "shapes": Verb("easy | full | swing | own", "how hard the chop's chords are to fret"),
    "reach": Verb("MM", "how far the first finger gets from the fourth; a small hand 70"),
    "last-time": Verb("", "end after this chorus"),
}
"""Every verb with its arguments and what it does."""


class Taps:
    """Taps on a key or a pedal, and the tempo in them."""

    def __init__(self) -> None:
        self._times: list[float] = []

    def tap(self, now: float) -> float | None:
        """Take down a tap at a time in seconds; return the tempo in beats a minute, or None.

        The tempo is that of the middle gap between the last six taps; a pause begins anew.
        """
        if self._times and now - self._times[-1] > _TAP_GAP_SECONDS:
            self._times.clear()
        self._times = [*self._times, now][-_TAPS:]
        gaps = sorted(b - a for a, b in zip(self._times, self._times[1:], strict=False))
        return 60.0 / gaps[len(gaps) // 2] if gaps and gaps[len(gaps) // 2] > 0 else None


class Controls:
    """Carries out verbs on a transport.

    Attributes:
        quitting: whether the player has left.

    Args:
        transport: what is controlled.
        now: the clock of the transport, in seconds.
        tell: takes sentences for the player.

    """

    def __init__(
        self,
        transport: Transport,
        now: Callable[[], float],
        tell: Callable[[str], None] = lambda text: None,
    ) -> None:
        self._transport = transport
        self._now = now
        self._tell = tell
        self._taps = Taps()
        self.quitting = False

    def say(self, line: str, at: float | None = None) -> None:
        """Carry out one line; of several with `|` between them the first that changes anything.

        Args:
            line: a verb and its arguments.
            at: the moment that the player heard, in seconds, shortly before now; None for now.

        Raises:
            VerbError: when it is no verb or its arguments will not do; nothing has changed then.
            BackingError: when the wish does not fit the chart.

        """
        now = self._now()
        heard = now if at is None else min(at, now)
        for each in line.split("|"):
            if self._say(each.split(), heard):
                return

    def _say(self, words: list[str], now: float) -> bool:
        """Carry out the words of one line, and return whether they changed anything."""
        if not words:
            return False
        verb, arguments = words[0].lower(), words[1:]
        if verb not in VERBS:
            raise VerbError(
                f"'{verb}' is not known: choose from {', '.join(VERBS)}"
                + did_you_mean(nearest(verb, VERBS))
            )
        if arguments and not VERBS[verb].usage:
            raise VerbError(f"{verb} wants nothing behind it, not '{' '.join(arguments)}'")
        return self._carry_out(verb, arguments, now)

    def _carry_out(self, verb: str, arguments: list[str], now: float) -> bool:
        transport = self._transport
        if verb == "play":
            return transport.play(self._now())  # what begins cannot have been heard
        if verb == "pause":
            return transport.pause(now)
        if verb in ("stop", "quit"):
            transport.stop(now)
            self.quitting = verb == "quit"
        elif verb == "part":
            self._go_to(self._part(arguments))
        elif verb == "tap":
            bpm = self._taps.tap(now)
            if bpm:
                main_bpm = round(bpm, 1) * self._beat()
                transport.wish(lambda wishes: wishes.at_tempo(main_bpm), now)
        else:
            if verb == "loop" and [each.lower() for each in arguments] == ["here"]:
                arguments = [self._part_here()]
            changed = transport.wish(lambda wishes: _wished(wishes, verb, arguments), now)
            if verb == "loop" and changed:
                self._tell_of_last_loop()
            return changed
        return True

    def _tell_of_last_loop(self) -> None:
        """Tell the player of a loop that is not played any more, or once only."""
        wishes = self._transport.wishes
        if wishes.loop and self._transport.is_ending:
            self._tell(
                f"the loop {wishes.loop} comes too late: the end has begun. "
                "It holds when the band begins again"
            )
        elif wishes.loop and wishes.last_time:
            self._tell(
                f"this is the last time: the band goes round the loop {wishes.loop} once and ends"
            )

    def _part_here(self) -> str:
        """Return what to say for the part being played, or for the one that it begins with."""
        bar, order = self._transport.now_bar, self._transport.wishes.chart.order
        return bar.label if bar and bar.part in order else order[0]

    def _go_to(self, bar: BarName) -> None:
        """Go to a bar; a loop that does not have it ends."""
        wishes = self._transport.wishes
        leaves_loop = wishes.loop is not None and bar not in looped_bars(wishes)
        self._transport.jump(bar, leaves_loop=leaves_loop)
        if leaves_loop:
            label = part_label(*bar[:2])
            self._tell(f"the loop {wishes.loop} is off, since part {label} is not in it")

    def _part(self, arguments: list[str]) -> BarName:
        """Return the first bar of a part; `next` is the one behind the part being played."""
        if not arguments:
            raise _not_so("part", arguments)
        wishes = self._transport.wishes
        chart = wishes.chart
        if [each.lower() for each in arguments] != ["next"]:
            name, occurrence = part_of(chart, " ".join(arguments))
            first = (name, occurrence or 0, 0)
            is_last = form_index_of(chart, *first[:2]) >= every_time(chart).stop
            if is_last and not wishes.last_time and first not in looped_bars(wishes):
                raise VerbError(
                    f"{name} is played the last time only: say last-time first, or loop {name}"
                )
            return first
        bar = self._transport.now_bar
        return next_part(chart, bar.position.bar if bar else None, last_time=wishes.last_time)

    def _beat(self) -> float:
        """Return the quarter notes of the main tempo in a beat of the bar being played."""
        bar = self._transport.now_bar
        meter = bar.meter if bar else self._transport.wishes.chart.meter
        return meter.beat_ticks / TICKS_PER_QUARTER * (bar.main_bpm / bar.bpm if bar else 1.0)


def next_part(chart: Chart, name: BarName | None, *, last_time: bool = False) -> BarName:
    """Return the first bar of the part behind a bar; without one, behind the chart's first part.

    Behind the last part comes the first one that is no intro; tags come the last time only.
    """
    order, body = chart.order, every_time(chart)
    turns = [index for index, part in enumerate(order) if name is None or part == name[0]]
    here = turns[min(name[1] if name else 0, len(turns) - 1)] if turns else -1
    there = here + 1 if here + 1 < (len(order) if last_time else body.stop) else body.start
    return (order[there], order[:there].count(order[there]), 0)


def _wished(wishes: Wishes, verb: str, arguments: list[str]) -> Wishes:
    try:
        return _WISHES[verb](wishes, arguments)
    except (ValueError, LookupError):  # too few, too many, or no numbers
        raise _not_so(verb, arguments) from None


def _not_so(verb: str, arguments: list[str]) -> VerbError:
    """Return the fault of a line whose arguments will not do: what is wanted and what was found."""
    found = f"not '{' '.join(arguments)}'" if arguments else "and nothing stands there"
    return VerbError(f"{verb} wants {VERBS[verb].usage} ({VERBS[verb].about}), {found}")


def _tempo(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = arguments
    if text.lower() == "own":
        return wishes.at_tempo(Performance(wishes.chart, Settings(style=wishes.style)).bpm)
    if text[0] in "+-":
        step = _faster(wishes, text[1:])
        return wishes.at_tempo(wishes.bpm + (step if text[0] == "+" else -step))
    try:
        return wishes.at_tempo(Tempo.parse(text, wishes.chart.tempo_unit).quarter_bpm)
    except SymbolError as error:
        raise VerbError(str(error)) from None


def _faster(wishes: Wishes, text: str) -> float:
    """Return how much faster a text says, or one step for none, in quarter notes a minute."""
    unit = wishes.chart.tempo_unit
    if not text:
        return Tempo(UNITS[unit].step, unit).quarter_bpm
    try:
        return WrittenTempo.parse(text).quarter_bpm(unit)
    except SymbolError:
        raise ValueError from None


def _half(wishes: Wishes, _: list[str]) -> Wishes:
    return _times(wishes, 0.5, "half of")


def _double(wishes: Wishes, _: list[str]) -> Wishes:
    return _times(wishes, 2.0, "twice")


def _times(wishes: Wishes, factor: float, what: str) -> Wishes:
    """Return the wishes at a multiple of the tempo; less or more would be out of time."""
    bpm = wishes.bpm * factor
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise VerbError(
            f"{what} {wishes.chart.tempo_text(wishes.bpm)} is {wishes.chart.tempo_text(bpm)}: "
            f"{tempo_range(wishes.chart.tempo_unit)}"
        )
    return wishes.at_tempo(bpm)


def _number(text: str) -> float:
    """Read a number; what is none, and no tempo could be, is refused."""
    number = float(text)
    if not math.isfinite(number):
        raise ValueError
    return number


def _key(wishes: Wishes, arguments: list[str]) -> Wishes:
    text = " ".join(arguments)
    if text.lower() == "own":
        semitones = 0
    elif text[0] in "+-":
        semitones = wishes.semitones + int(text.replace(" ", ""))
    else:
        semitones = _semitones_to(wishes.chart, text)
    if abs(semitones) > FARTHEST:
        raise VerbError(f"{semitones} semitones: {FARTHEST} up or down is the most")
    return replace(wishes, semitones=semitones)


def _semitones_to(chart: Chart, text: str) -> int:
    """Return the shorter way from a chart's key to the key that a text names."""
    try:
        up = in_key(chart, text).key.tonic.pitch_class - chart.key.tonic.pitch_class
    except SettingsError as error:
        raise VerbError(str(error)) from None
    return up % 12 if up % 12 <= 6 else up % 12 - 12


def _style(wishes: Wishes, arguments: list[str]) -> Wishes:
    (name,) = arguments
    if name.lower() == "own":
        return replace(wishes, style=None)
    find_style(name)
    return replace(wishes, style=name)


def _loop(wishes: Wishes, arguments: list[str]) -> Wishes:
    text = " ".join(arguments)
    if not text:
        raise ValueError
    if text.lower() == "off":
        return replace(wishes, loop=None)
    bars_of(wishes.chart, text)
    return replace(wishes, loop=text)


def _mute(wishes: Wishes, arguments: list[str]) -> Wishes:
    (name,) = arguments
    one = {_player(wishes, name)}
    return replace(wishes, muted=wishes.muted | one, called=wishes.called - one)


def _unmute(wishes: Wishes, arguments: list[str]) -> Wishes:
    (name,) = arguments
    one = {_player(wishes, name)}
    return replace(wishes, muted=wishes.muted - one, called=wishes.called | one)


def _only(wishes: Wishes, arguments: list[str]) -> Wishes:
    if not arguments:
        raise ValueError
    if [each.lower() for each in arguments] == ["all"]:
        return wishes.with_players(frozenset(Player))
    if [each.lower() for each in arguments] == ["before"]:
        return wishes.with_those_before()
    return wishes.with_players(frozenset(_player(wishes, each) for each in arguments))


def _player(wishes: Wishes, name: str) -> Player:
    if name.lower() in wishes.band:
        return Player(name.lower())
    if name.lower() == Player.LEAD:
        raise VerbError(_NO_MELODY)
    raise VerbError(f"'{name}' is not in the band: choose from {', '.join(wishes.band)}")


def _level(wishes: Wishes, arguments: list[str]) -> Wishes:
    *names, text = arguments
    if not names:
        return replace(wishes, level=_percent(wishes.level, text))
    (name,) = names
    levels = dict(wishes.levels)
    player = _player(wishes, name)
    levels[player] = _percent(levels[player], text)
    return replace(wishes, levels=tuple(levels.items()))


def _percent(old: int, text: str) -> int:
    if text[0] in "+-":
        return max(0, min(old + int(text.rstrip("%")), LOUDEST))
    level = int(text.rstrip("%"))
    if not 0 <= level <= LOUDEST:
        raise VerbError(f"a level of {level}: 0 to {LOUDEST} percent")
    return level


def _ladder(wishes: Wishes, arguments: list[str]) -> Wishes:
    if [each.lower() for each in arguments] == ["off"]:
        return replace(wishes, ladder=None)
    back = arguments[-1].lower() == "back"
    start, goal, *more = arguments[: -1 if back else None]
    size, pace = [*more, *("usual", "2")[len(more) :]]
    unit = wishes.chart.tempo_unit
    step = "" if size.lower() == "usual" else size
    every = _number(pace)
    ladder = Ladder(
        _rung(wishes, start),
        _rung(wishes, goal),
        _faster(wishes, step) / UNITS[unit].quarters,
        int(every),
        back,
        unit,
    )
    if ladder.step_bpm < SMALLEST_STEP_BPM or every < 1 or every != int(every):
        raise ValueError
    return replace(wishes.at_tempo(ladder.bpm(0)), ladder=ladder)


def _rung(wishes: Wishes, text: str) -> float:
    """Return the first or the last tempo of a ladder, in units of the chart."""
    unit = wishes.chart.tempo_unit
    try:
        written = WrittenTempo.parse(text)
    except SymbolError:
        raise ValueError from None
    try:
        return written.counted_in(unit).quarter_bpm / UNITS[unit].quarters
    except SymbolError as error:
        raise VerbError(str(error)) from None


def rest_numbers(text: str) -> list[str]:
    """Split `2 8`, `2/8` or `2 of 8` into its numbers, which nobody has read yet."""
    return re.split(r"\s+of\s+|\s*/\s*|\s+", text.strip().lower())


def _rest(wishes: Wishes, arguments: list[str]) -> Wishes:
    if [each.lower() for each in arguments] == ["off"]:
        return replace(wishes, rest=None)
    silent, of_bars = (int(each) for each in rest_numbers(" ".join(arguments)))
    if not 0 < silent < of_bars:
        raise VerbError(
            f"rest {silent} {of_bars}: the silent bars, at least 1, must be fewer than the bars "
            "they are part of, as in rest 2 8"
        )
    return replace(wishes, rest=(silent, of_bars))


def _trade(wishes: Wishes, arguments: list[str]) -> Wishes:
    if [each.lower() for each in arguments] == ["off"]:
        return replace(wishes, rest=None)
    (text,) = arguments
    bars = int(text)
    if bars < 1:
        raise ValueError
    return _rest(wishes, [str(bars), str(2 * bars)])


def _count_in(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = arguments
    return replace(wishes, count_each={"on": True, "off": False}[text.lower()])


def _lead(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = (each.lower() for each in arguments)
    if not wishes.chart.lead:
        raise VerbError(_NO_MELODY)
    if text in WHEN:
        return replace(wishes, lead=replace(wishes.lead, when=text))
    octave = {"octave": True, "single": False}[text]
    return replace(wishes, lead=replace(wishes.lead, octave=octave))


def _instrument(wishes: Wishes, arguments: list[str]) -> Wishes:
    name = _own_or(" ".join(arguments))
    return _fretted(wishes, replace(wishes.fretting, instrument=name))


def _shapes(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = arguments
    return _fretted(wishes, replace(wishes.fretting, level=_own_or(text.lower())))


def _own_or(text: str) -> str | None:
    if not text:
        raise ValueError
    return None if text.lower() == "own" else text


def _reach(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = arguments
    hand = replace(wishes.fretting.hand, reach_mm=_number(text))
    return _fretted(wishes, replace(wishes.fretting, hand=hand))


def _fretted(wishes: Wishes, fretting: FrettingWish) -> Wishes:
    """Return the wishes with other shapes, once each chord of the chart can be held so."""
    wished = replace(wishes, fretting=fretting)
    check_shapes(wished)
    return wished


_WISHES: dict[str, Callable[[Wishes, list[str]], Wishes]] = {
    "tempo": _tempo,
    "half": _half,
    "double": _double,
    "key": _key,
    "style": _style,
    "loop": _loop,
    "mute": _mute,
    "unmute": _unmute,
    "only": _only,
    "level": _level,
    "ladder": _ladder,
    "rest": _rest,
    "trade": _trade,
    "count-in": _count_in,
    "lead": _lead,
    "instrument": _instrument,
    "shapes": _shapes,
    "reach": _reach,
    "last-time": lambda wishes, _: replace(wishes, last_time=True),
}
