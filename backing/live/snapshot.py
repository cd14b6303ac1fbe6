"""What the player wishes and where the band is, as data: `restore(save(state))` is the state.

Conventions: the data are plain JSON values. The chart is not among them: it is read from its file,
and an edit that was to come in has come in. Whoever keeps the data may send anything back, so each
field is checked by itself, with the chart, too. A field that is missing, damaged or no longer fits
keeps its usual value, and a sentence tells so. Styles and instruments are names from the lists,
never paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from backing.band.lead import WHEN, LeadWish
from backing.chart.selection import bars_of
from backing.chart.sequence import length_in_bars, part_label
from backing.chart.transpose import FARTHEST, by_semitones
from backing.errors import BackingError
from backing.fretboard.fretting import FrettingWish
from backing.fretboard.hand import LEAST_REACH_MM, MOST_REACH_MM, Hand
from backing.fretboard.instrument import MOST_FRETS, MOST_STRINGS, instrument_files
from backing.fretboard.shapes import FEWEST, LEVELS
from backing.live.codec import (
    LARGEST,
    TEXT,
    YES_OR_NO,
    Codec,
    CodecError,
    number,
    one_of,
    or_none,
    record,
    row,
    same,
    unfit,
    whole,
    written,
)
from backing.live.source import Position, every_bar
from backing.live.wishes import (
    LOUDEST,
    SMALLEST_STEP_BPM,
    Ladder,
    Wishes,
    check_shapes,
)
from backing.notes import Player
from backing.performance import MOST_CHORUSES, Performance, Settings
from backing.style.library import style_files
from backing.timing import FASTEST_BPM, SLOWEST_BPM, UNITS, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from backing.chart.model import Chart

VERSION = 1
"""Another number means that the same data say something else."""

_MOST_STEP_BPM = 1e5


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What is wished, and where the band is.

    Attributes:
        wishes: what is wished; no other chart is to come.
        position: where it plays, or would go on; at the whole tempo, without a count-in.
        playing: whether it plays.
        begun: whether any bar of the tune has begun since its beginning.

    """

    wishes: Wishes
    position: Position
    playing: bool = False
    begun: bool = False


def _read_players(value: Any) -> frozenset[Player]:
    if not isinstance(value, list) or len(value) > len(Player):
        raise unfit(value, "a list of players")
    return frozenset(Player(_PLAYER.read(each)) for each in value)


def _read_levels(value: Any) -> tuple[tuple[Player, int], ...]:
    levels = record(dict, {str(player): whole(0, LOUDEST) for player in Player}).read(value)
    return tuple((player, levels[player]) for player in Player)


def _read_rest(value: Any) -> tuple[int, int]:
    silent, of_bars = row(whole(1), whole(2)).read(value)
    if silent >= of_bars:
        raise unfit(value, "fewer silent bars than the bars they are part of")
    return silent, of_bars


def _read_loop(value: Any) -> str:
    return " ".join(TEXT.read(value).split())


def _read_strings(value: Any) -> int | tuple[int, ...]:
    if not isinstance(value, list):
        return int(whole(FEWEST, MOST_STRINGS).read(value))
    if not FEWEST <= len(value) <= MOST_STRINGS:
        raise unfit(value, f"{FEWEST} to {MOST_STRINGS} strings")
    strings = row(*[whole(1, MOST_STRINGS)] * len(value)).read(value)
    if len(set(strings)) != len(strings):
        raise unfit(value, "each string once")
    return tuple(strings)


def _ladder(**fields: Any) -> Ladder:
    ladder = Ladder(**fields)
    for bpm in (ladder.start_bpm, ladder.goal_bpm):
        quarters = round(Tempo(bpm, ladder.unit).quarter_bpm, 6)
        if not SLOWEST_BPM <= quarters <= FASTEST_BPM:
            raise unfit(bpm, f"{SLOWEST_BPM:g} to {FASTEST_BPM:g} quarter notes a minute")
    return ladder


_PLAYER = one_of(lambda: Player)
_PLAYERS = Codec(lambda these: [str(each) for each in Player if each in these], _read_players)
_ANY_BPM = number(0, 10 * FASTEST_BPM)
_BAR_NAME = row(TEXT, whole(-1), whole(-1))

LADDER = {
    "start_bpm": _ANY_BPM,
    "goal_bpm": _ANY_BPM,
    "step_bpm": number(SMALLEST_STEP_BPM, _MOST_STEP_BPM),
    "every": whole(1),
    "back": YES_OR_NO,
    "unit": one_of(lambda: UNITS),
}
HAND = {
    "reach_mm": number(LEAST_REACH_MM, MOST_REACH_MM),
    "open_strings": YES_OR_NO,
    "barre": YES_OR_NO,
    "inner_muted": whole(0, MOST_STRINGS),
}
FRETTING = {
    "instrument": or_none(one_of(instrument_files)),
    "capo": whole(0, MOST_FRETS),
    "level": or_none(one_of(lambda: LEVELS)),
    "hand": record(Hand, HAND),
    "rootless": YES_OR_NO,
    "strings": or_none(
        Codec(lambda these: list(these) if isinstance(these, tuple) else these, _read_strings)
    ),
    "lowest": whole(1, MOST_FRETS),
    "highest": or_none(whole(1, MOST_FRETS)),
}
LEAD = {"when": one_of(lambda: WHEN), "octave": YES_OR_NO}
WISHES = {
    "style": or_none(one_of(style_files)),
    "semitones": whole(-FARTHEST, FARTHEST),
    "fretting": record(FrettingWish, FRETTING),
    "bpm": number(SLOWEST_BPM, FASTEST_BPM),
    "muted": _PLAYERS,
    "called": _PLAYERS,
    "before": or_none(row(_PLAYERS, _PLAYERS)),
    "levels": Codec(lambda levels: {str(each): level for each, level in levels}, _read_levels),
    "level": whole(0, LOUDEST),
    "loop": or_none(Codec(same, _read_loop)),
    "loop_since": whole(0),
    "last_time": YES_OR_NO,
    "ladder": or_none(record(_ladder, LADDER)),
    "ladder_since": whole(0),
    "rest": or_none(Codec(list, _read_rest)),
    "rest_since": whole(-LARGEST),
    "count_each": YES_OR_NO,
    "lead": record(LeadWish, LEAD),
}
"""The fields of `Wishes`; what others depend on comes first."""

POSITION = {
    "chorus": whole(1, MOST_CHORUSES),
    "bar": or_none(_BAR_NAME),
    "behind": or_none(whole(0)),
    "played": whole(0),
    "rounds": whole(0),
    "ticks": whole(0),
    "looped_from": or_none(_BAR_NAME),
    "ended_loop": or_none(row(whole(0), whole(0))),
    "circled": whole(0, MOST_CHORUSES),
}
REST = {"playing": YES_OR_NO, "begun": YES_OR_NO}

NOT_SAVED = {
    Wishes: {"chart", "coming", "coming_bpm"},
    Position: {"count", "share", "adopted"},
}
"""What is not saved: the chart is read from its file; every start is counted in, at its tempo."""


def save(state: Snapshot) -> dict[str, Any]:
    """Return a state as plain JSON values."""
    return {
        "version": VERSION,
        "wishes": written(state.wishes, WISHES),
        "position": written(state.position, POSITION),
        **written(state, REST),
    }


def restore(value: object, chart: Chart) -> tuple[Snapshot, list[str]]:
    """Return the state that was saved, and a sentence for each field that could not be restored.

    Args:
        value: what `save` returned, or anything else.
        chart: the chart that is played; it may have been edited since.

    """
    usual = Snapshot(Wishes(chart, Performance(chart, Settings()).bpm), Position())
    if not isinstance(value, dict) or value.get("version") != VERSION:
        return usual, ["the saved state cannot be read: it is damaged, or of another version"]
    told: list[str] = []
    found = replace(
        usual,
        wishes=_restored(usual.wishes, value.get("wishes"), WISHES, chart, told),
        position=_restored(usual.position, value.get("position"), POSITION, chart, told),
    )
    return _restored(found, value, REST, chart, told), told


_Value = TypeVar("_Value", Wishes, Position, Snapshot)


def _restored(
    usual: _Value, value: object, codecs: Mapping[str, Codec], chart: Chart, told: list[str]
) -> _Value:
    """Return a value with each saved field in it that will do."""
    fields = value if isinstance(value, dict) else {}
    for name, codec in codecs.items():
        try:
            if name not in fields:
                raise CodecError("it is missing")
            changed = replace(usual, **{name: codec.read(fields[name])})
            if changed != usual and name in _FITS:
                _FITS[name](changed, chart)
            usual = changed
        except BackingError as error:
            told.append(f"{name}: {error}")
    return usual


def _check_band(wishes: Wishes, _: Chart) -> None:
    chart = by_semitones(wishes.chart, wishes.semitones)
    Performance(chart, Settings(style=wishes.style, called=frozenset(Player)))


def _check_loop(wishes: Wishes, chart: Chart) -> None:
    bars_of(chart, wishes.loop or "")


def _check_bars(position: Position, chart: Chart) -> None:
    for name in (position.bar, position.looped_from):
        if name is not None and name not in every_bar(chart):
            part, occurrence, index = name
            label = part_label(part, occurrence)
            raise CodecError(f"bar {index + 1} of part {label} is not in the chart")


def _check_ended_loop(position: Position, chart: Chart) -> None:
    first, last = position.ended_loop or (0, 0)
    if not first <= last < length_in_bars(chart):
        raise CodecError(f"bars {first + 1} to {last + 1} are not in the chart")


_FITS: dict[str, Callable[[Any, Chart], None]] = {
    "style": _check_band,
    "semitones": _check_band,
    "fretting": lambda wishes, _: check_shapes(wishes),
    "loop": _check_loop,
    "bar": _check_bars,
    "looped_from": _check_bars,
    "ended_loop": _check_ended_loop,
}
"""What a field must fit in the chart."""
