"""Settings and progress as JSON data: `restore(save(state))` is the state.

Conventions: the data are plain JSON values. The chart is not among them: it is read from its file,
and a pending edit has been applied. Whoever keeps the data may send anything back, so each
field is checked by itself, with the chart, too. A field that is missing, damaged or no longer fits
keeps its usual value, and a sentence tells so. Styles and instruments are names from the lists,
never paths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from backing.band.lead import WHEN, LeadSettings
from backing.chart.selection import bars_of
from backing.chart.sequence import length_in_bars, part_label
from backing.chart.transpose import FARTHEST, by_semitones
from backing.control.codec import (
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
)
from backing.control.progress import Position, Progress, every_bar
from backing.control.settings import (
    EVERYBODY,
    LOUDEST,
    LiveSettings,
    check_shapes,
)
from backing.errors import BackingError
from backing.fretboard.fretting import FrettingSettings
from backing.fretboard.hand import LEAST_REACH_MM, MOST_REACH_MM, Hand
from backing.fretboard.instrument import MOST_FRETS, MOST_STRINGS, instrument_files
from backing.fretboard.request import FEWEST, LEVELS
from backing.notes import Player
from backing.performance.ladder import SMALLEST_STEP_BPM, Ladder
from backing.performance.performance import Performance
from backing.performance.settings import MOST_CHORUSES, MOST_COUNT_IN, MOST_LOOSENESS, Settings
from backing.style.library import style_files
from backing.timing import FASTEST_BPM, SLOWEST_BPM, UNITS, Tempo

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from backing.chart.model import Chart

VERSION = 2
"""Another number means that the same data say something else."""

_MOST_STEP_BPM = 1e5


@dataclass(frozen=True, slots=True)
class Snapshot:
    """What is wanted, and how far the band is.

    Attributes:
        settings: what is wanted; no chart is pending.
        progress: where it plays, or would go on; at the whole tempo, without a count-in.
        playing: whether it plays.
        begun: whether any bar of the tune has begun since its beginning.

    """

    settings: LiveSettings
    progress: Progress
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
SETTINGS = {
    "style": or_none(one_of(style_files)),
    "semitones": whole(-FARTHEST, FARTHEST),
    "fretting": record(FrettingSettings, FRETTING),
    "bpm": number(SLOWEST_BPM, FASTEST_BPM),
    "choruses": whole(1, MOST_CHORUSES),
    "endless": YES_OR_NO,
    "seed": whole(-LARGEST),
    "count_in": or_none(whole(0, MOST_COUNT_IN)),
    "count_each": YES_OR_NO,
    "looseness": number(0, MOST_LOOSENESS),
    "players": _PLAYERS,
    "called": _PLAYERS,
    "before": or_none(row(_PLAYERS, _PLAYERS)),
    "levels": Codec(lambda levels: {str(each): level for each, level in levels}, _read_levels),
    "level": whole(0, LOUDEST),
    "lead": record(LeadSettings, LEAD),
    "loop": or_none(Codec(same, _read_loop)),
    "last_time": YES_OR_NO,
    "ladder": or_none(record(_ladder, LADDER)),
    "rest": or_none(Codec(list, _read_rest)),
}
"""The fields of `LiveSettings` and its `base`; what others depend on comes first."""

PROGRESS = {
    "chorus": whole(1, MOST_CHORUSES),
    "bar": or_none(_BAR_NAME),
    "behind": or_none(whole(0)),
    "played": whole(0),
    "rounds": whole(0),
    "ticks": whole(0),
    "looped_from": or_none(_BAR_NAME),
    "ended_loop": or_none(row(whole(0), whole(0))),
    "circled": whole(0, MOST_CHORUSES),
    "loop_since": whole(0),
    "ladder_since": whole(0),
    "rest_since": whole(-LARGEST),
}
"""The fields of `Progress` and its `position`."""

STATE = {"playing": YES_OR_NO, "begun": YES_OR_NO}

NOT_SAVED = {
    LiveSettings: {"chart", "pending", "pending_bpm"},
    Settings: {"loop", "live"},
    Position: {"count", "share", "applied"},
}
"""What is not saved: the chart is read from its file, `loop` and `live` are set for each
performance, and every start is counted in, at its tempo."""


_PARTS = {LiveSettings: "base", Progress: "position"}
"""Where a value has further fields, saved among its own."""


def save(state: Snapshot) -> dict[str, Any]:
    """Return a state as plain JSON values."""
    return {
        "version": VERSION,
        "settings": _saved(state.settings, SETTINGS),
        "progress": _saved(state.progress, PROGRESS),
        **_saved(state, STATE),
    }


def restore(value: object, chart: Chart) -> tuple[Snapshot, list[str]]:
    """Return the state that was saved, and a sentence for each field that could not be restored.

    Args:
        value: what `save` returned, or anything else.
        chart: the chart that is played; it may have been edited since.

    """
    usual = Snapshot(LiveSettings.of(chart), Progress())
    if not isinstance(value, dict) or value.get("version") != VERSION:
        return usual, ["the saved state cannot be read: it is damaged, or of another version"]
    told: list[str] = []
    found = replace(
        usual,
        settings=_restored(usual.settings, value.get("settings"), SETTINGS, chart, told),
        progress=_restored(usual.progress, value.get("progress"), PROGRESS, chart, told),
    )
    return _restored(found, value, STATE, chart, told), told


_Value = TypeVar("_Value", LiveSettings, Progress, Snapshot)


def _saved(value: object, codecs: Mapping[str, Codec]) -> dict[str, Any]:
    part = getattr(value, _PARTS.get(type(value), ""), value)
    return {
        name: codec.write(getattr(value if hasattr(value, name) else part, name))
        for name, codec in codecs.items()
    }


def _restored(
    usual: _Value, value: object, codecs: Mapping[str, Codec], chart: Chart, told: list[str]
) -> _Value:
    """Return a value with each saved field in it that will do."""
    fields = value if isinstance(value, dict) else {}
    for name, codec in codecs.items():
        try:
            if name not in fields:
                raise CodecError("it is missing")
            changed = _with_field(usual, name, codec.read(fields[name]))
            if changed != usual and name in _FITS:
                _FITS[name](changed, chart)
            usual = changed
        except BackingError as error:
            told.append(f"{name}: {error}")
    return usual


def _with_field(value: _Value, name: str, field: Any) -> _Value:
    """Return a value with another field, its own or one of its part."""
    part = _PARTS.get(type(value), "")
    if not part or name in type(value).__dataclass_fields__:
        return replace(value, **{name: field})
    return replace(value, **{part: replace(getattr(value, part), **{name: field})})


def _check_band(settings: LiveSettings, _: Chart) -> None:
    chart = by_semitones(settings.chart, settings.semitones)
    Performance(chart, Settings(style=settings.base.style, called=EVERYBODY))


def _check_bars(progress: Progress, chart: Chart) -> None:
    for name in (progress.position.bar, progress.position.looped_from):
        if name is not None and name not in every_bar(chart):
            part, occurrence, index = name
            label = part_label(part, occurrence)
            raise CodecError(f"bar {index + 1} of part {label} is not in the chart")


def _check_ended_loop(progress: Progress, chart: Chart) -> None:
    first, last = progress.position.ended_loop or (0, 0)
    if not first <= last < length_in_bars(chart):
        raise CodecError(f"bars {first + 1} to {last + 1} are not in the chart")


_FITS: dict[str, Callable[[Any, Chart], object]] = {
    "style": _check_band,
    "semitones": _check_band,
    "fretting": lambda settings, _: check_shapes(settings),
    "loop": lambda settings, chart: bars_of(chart, settings.loop or ""),
    "bar": _check_bars,
    "looped_from": _check_bars,
    "ended_loop": _check_ended_loop,
}
"""What a field must fit in the chart."""
