"""What can be said to the band while it plays: one set of words for keys, pedals and lines.

A verb is a word and perhaps arguments, as on one line of standard input: `tempo 120`, `tempo +5`,
`key +2`, `key G`, `loop A`, `mute chop`, `last-time`. Keys on the terminal and pedals are other
ways to say the same lines.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from backing.chart.form import once_round
from backing.chart.transpose import FARTHEST
from backing.errors import BackingError, SymbolError
from backing.harmony.key import Key
from backing.harmony.pitch import NoteName
from backing.live.source import Position
from backing.live.wishes import Ladder
from backing.notes import Player
from backing.style.library import find_style
from backing.timing import Tempo

if TYPE_CHECKING:
    from collections.abc import Callable

    from backing.chart.model import Chart
    from backing.live.transport import Transport
    from backing.live.wishes import Wishes

LOUDEST = 150
_TAP_GAP_SECONDS = 2.5
_TAPS = 6


class VerbError(BackingError):
    """A line that is no wish, or a wish that cannot be met."""


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
    "tempo": Verb("BPM | +N | -N", "quarter notes a minute, or by so much faster or slower"),
    "tap": Verb("", "tap the tempo, once a beat"),
    "half": Verb("", "half the tempo"),
    "double": Verb("", "twice the tempo"),
    "key": Verb("KEY | +N | -N", "another key, or by so many semitones"),
    "style": Verb("NAME", "another groove"),
    "loop": Verb("PART | PART-PART | BAR-BAR | off", "go round a part, parts or bars"),
    "part": Verb("PART | next", "go to a part at the next bar line"),
    "mute": Verb("PLAYER", "leave a player out, or let the player in again"),
    "only": Verb("PLAYER | all", "let one player play alone, or all"),
    "level": Verb("[PLAYER] PERCENT | +N | -N", "loudness, of one or of all"),
    "ladder": Verb("FROM TO [STEP [EVERY]] [back] | off", "a climbing tempo"),
    "rest": Verb("BARS OF | off", "silent for BARS of every OF bars"),
    "trade": Verb("BARS | off", "the band plays BARS, then you do"),
    "count-in": Verb("on | off", "count in every round of a loop"),
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

    Args:
        transport: what is controlled.
        now: the clock of the transport, in seconds.

    """

    def __init__(self, transport: Transport, now: Callable[[], float]) -> None:
        self._transport = transport
        self._now = now
        self._taps = Taps()
        self.quitting = False

    def say(self, line: str) -> None:
        """Carry out one line.

        Raises:
            VerbError: when it is no verb or its arguments will not do; nothing has changed then.
            BackingError: when the wish does not fit the chart.

        """
        words = line.split()
        if not words:
            return
        verb, arguments = words[0].lower(), words[1:]
        if verb not in VERBS:
            near = difflib.get_close_matches(verb, VERBS, n=1)
            raise VerbError(
                f"'{verb}' is not known: choose from {', '.join(VERBS)}"
                + (f"; did you mean '{near[0]}'?" if near else "")
            )
        if verb in ("play", "pause", "stop", "quit"):
            self._run(verb)
            return
        if verb == "part":
            self._transport.jump(self._part(arguments), self._now())
            return
        try:
            wished = self._wished(verb, arguments)
        except (ValueError, IndexError):
            raise VerbError(f"{verb} wants {VERBS[verb].usage or 'nothing behind it'}") from None
        self._transport.wish(wished, self._now())

    def _run(self, verb: str) -> None:
        now = self._now()
        if verb == "play":
            self._transport.play(now)
        elif verb == "pause":
            self._transport.pause(now)
        else:
            self._transport.stop(now)
            self.quitting = verb == "quit"

    def _wished(self, verb: str, arguments: list[str]) -> Wishes:
        wishes = self._transport.wishes
        if verb == "tap":
            bpm = self._taps.tap(self._now())
            return wishes.at_tempo(bpm) if bpm else wishes
        return _WISHES[verb](wishes, arguments)

    def _part(self, arguments: list[str]) -> Position:
        wishes = self._transport.wishes
        names = list(wishes.chart.order)
        bar = self._transport.now_bar
        if arguments == ["next"]:
            here = names.index(bar.part) if bar and bar.part in names else -1
            name = names[(here + 1) % len(names)]
        else:
            name = _part_name(wishes.chart, " ".join(arguments))
        chorus = bar.chorus if bar else 1
        return Position(chorus=chorus, bar=(name, 0, 0))


def _tempo(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = arguments
    if text[0] in "+-":
        return wishes.at_tempo(wishes.bpm + float(text))
    try:
        return wishes.at_tempo(Tempo.parse(text).quarter_bpm)
    except SymbolError as error:
        raise VerbError(str(error)) from None


def _key(wishes: Wishes, arguments: list[str]) -> Wishes:
    text = " ".join(arguments)
    if text[0] in "+-":
        semitones = wishes.semitones + int(text)
    else:
        semitones = _semitones_to(wishes.chart.key, text)
    if abs(semitones) > FARTHEST:
        raise VerbError(f"{semitones} semitones: {FARTHEST} up or down is the most")
    return replace(wishes, semitones=semitones)


def _semitones_to(key: Key, text: str) -> int:
    """Return the shorter way from a key to the key that a text names."""
    try:
        tonic = NoteName.parse(text)
    except SymbolError:
        try:
            tonic = Key.parse(text).tonic
        except SymbolError as error:
            raise VerbError(str(error)) from None
    up = (tonic.pitch_class - key.tonic.pitch_class) % 12
    return up if up <= 6 else up - 12


def _style(wishes: Wishes, arguments: list[str]) -> Wishes:
    (name,) = arguments
    find_style(name)
    return replace(wishes, style=name)


def _loop(wishes: Wishes, arguments: list[str]) -> Wishes:
    (text,) = arguments
    if text == "off":
        return replace(wishes, loop=None)
    return replace(wishes, loop=bars_of(wishes.chart, text))


def bars_of(chart: Chart, text: str) -> tuple[int, int]:
    """Return the bars, from 0 through the whole form, that `A`, `A-B` or `5-8` names.

    Raises:
        VerbError: when there is no such part or bar.

    """
    road = [each for each in once_round(chart) if not each.bar.pickup]
    names = [each.part for each in road]
    if text in names:
        turn = road[names.index(text)].turn
        bars = [index for index, each in enumerate(road) if each.turn == turn]
        return bars[0], bars[-1]
    first, dash, last = text.partition("-")
    if first.isdigit() and (not dash or last.isdigit()):
        start, end = int(first), int(last or first)
        if not 1 <= start <= end <= len(road):
            raise VerbError(f"bars {text}: the form has bars 1 to {len(road)}")
        return start - 1, end - 1
    _part_name(chart, first)
    _part_name(chart, last)
    start = bars_of(chart, first)[0]
    turns = [each.turn for each in road[start:] if each.part == last]
    if not turns:
        raise VerbError(f"part {last} does not come behind part {first}")
    return start, max(index for index, each in enumerate(road) if each.turn == turns[0])


def _part_name(chart: Chart, text: str) -> str:
    for name in chart.order:
        if name.lower() == text.lower():
            return name
    raise VerbError(f"'{text}' is not a part: choose from {', '.join(dict.fromkeys(chart.order))}")


def _mute(wishes: Wishes, arguments: list[str]) -> Wishes:
    (name,) = arguments
    return replace(wishes, muted=wishes.muted ^ {_player(name)})


def _only(wishes: Wishes, arguments: list[str]) -> Wishes:
    (name,) = arguments
    muted = frozenset() if name == "all" else frozenset(Player) - {_player(name)}
    return replace(wishes, muted=muted)


def _player(name: str) -> Player:
    try:
        return Player(name.lower())
    except ValueError:
        raise VerbError(f"'{name}' is not in the band: choose from {', '.join(Player)}") from None


def _level(wishes: Wishes, arguments: list[str]) -> Wishes:
    *names, text = arguments
    if not names:
        return replace(wishes, level=_percent(wishes.level, text))
    (name,) = names
    levels = dict(wishes.levels)
    player = _player(name)
    levels[player] = _percent(levels[player], text)
    return replace(wishes, levels=tuple(levels.items()))


def _percent(old: int, text: str) -> int:
    level = old + int(text) if text[0] in "+-" else int(text.rstrip("%"))
    return max(0, min(level, LOUDEST))


def _ladder(wishes: Wishes, arguments: list[str]) -> Wishes:
    if arguments == ["off"]:
        return replace(wishes, ladder=None)
    back = arguments[-1] == "back"
    numbers = [float(each) for each in arguments[: -1 if back else None]]
    start, goal = numbers[:2]
    step, every = (*numbers[2:], *(5.0, 2.0)[len(numbers) - 2 :])
    if step <= 0 or every < 1:
        raise ValueError
    ladder = Ladder(start, goal, step, int(every), back)
    return replace(wishes.at_tempo(start), ladder=ladder)


def _rest(wishes: Wishes, arguments: list[str]) -> Wishes:
    if arguments == ["off"]:
        return replace(wishes, rest=None)
    silent, of_bars = (int(each) for each in arguments)
    if not 0 < silent < of_bars:
        raise ValueError
    return replace(wishes, rest=(silent, of_bars))


def _trade(wishes: Wishes, arguments: list[str]) -> Wishes:
    if arguments == ["off"]:
        return replace(wishes, rest=None)
    bars = int(arguments[0])
    return _rest(wishes, [str(bars), str(2 * bars)])


def _count_in(wishes: Wishes, arguments: list[str]) -> Wishes:
    return replace(wishes, count_each={"on": True, "off": False}[arguments[0]])


_WISHES: dict[str, Callable[[Wishes, list[str]], Wishes]] = {
    "tempo": _tempo,
    "half": lambda wishes, _: wishes.at_tempo(wishes.bpm / 2),
    "double": lambda wishes, _: wishes.at_tempo(wishes.bpm * 2),
    "key": _key,
    "style": _style,
    "loop": _loop,
    "mute": _mute,
    "only": _only,
    "level": _level,
    "ladder": _ladder,
    "rest": _rest,
    "trade": _trade,
    "count-in": _count_in,
    "last-time": lambda wishes, _: replace(wishes, last_time=True),
}
