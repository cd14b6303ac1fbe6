"""Commands for the band: tempo, key, style, players, loudness, melody, instrument and voicings."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import TYPE_CHECKING

from backing.band.lead import WHEN
from backing.chart.transpose import FARTHEST, in_key
from backing.control.command import (
    ArgumentError,
    Command,
    CommandTarget,
    Context,
    Key,
    SettingCommand,
    choice,
    is_word,
    number,
    one_word,
    own_or,
    text_of,
    whole_number,
)
from backing.control.settings import EVERYBODY, LOUDEST, CommandError, check_shapes
from backing.errors import SettingsError, SymbolError
from backing.fretboard.instrument import instrument_files
from backing.notes import Player
from backing.performance.performance import Performance
from backing.performance.settings import Settings
from backing.style.library import find_style, style_files
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
    from collections.abc import Sequence

    from backing.band.lead import LeadSettings
    from backing.chart.model import Chart
    from backing.control.settings import LiveSettings
    from backing.fretboard.request import FrettingSettings


_TAP_GAP_SECONDS = 2.5
_TAPS = 6


def _read_tempo(context: Context, words: Sequence[str]) -> float:
    """Return quarter notes a minute."""
    text, settings = one_word(words), context.settings
    if text.lower() == "own":
        return Performance(settings.chart, Settings(style=settings.base.style)).bpm
    if text[0] in "+-":
        step = read_step(settings, text[1:])
        return settings.bpm + (step if text[0] == "+" else -step)
    try:
        return Tempo.parse(text, settings.chart.tempo_unit).quarter_bpm
    except SymbolError as error:
        raise CommandError(str(error)) from None


def read_step(settings: LiveSettings, text: str) -> float:
    """Return a tempo difference in quarter notes a minute; one usual step for an empty text."""
    unit = settings.chart.tempo_unit
    if not text:
        return Tempo(UNITS[unit].step, unit).quarter_bpm
    try:
        return WrittenTempo.parse(text).quarter_bpm(unit)
    except SymbolError:
        raise ArgumentError from None


def _times(settings: LiveSettings, factor: float, what: str) -> LiveSettings:
    """Return the settings at a multiple of the tempo.

    Raises:
        CommandError: when the band cannot play it; a limited tempo would be out of time.

    """
    chart, bpm = settings.chart, settings.bpm * factor
    if not SLOWEST_BPM <= bpm <= FASTEST_BPM:
        raise CommandError(
            f"{what} {chart.tempo_text(settings.bpm)} is {chart.tempo_text(bpm)}: "
            f"{tempo_range(chart.tempo_unit)}"
        )
    return settings.at_tempo(bpm)


def tapped_bpm(taps: Sequence[float]) -> float | None:
    """Return the tempo of taps in beats a minute, from their median gap; None without a gap."""
    gaps = sorted(b - a for a, b in itertools.pairwise(taps))
    return 60.0 / gaps[len(gaps) // 2] if gaps and gaps[len(gaps) // 2] > 0 else None


def after_tap(taps: tuple[float, ...], now: float) -> tuple[float, ...]:
    """Return the last six taps including a new one, in seconds; a long pause starts over."""
    if taps and now - taps[-1] > _TAP_GAP_SECONDS:
        return (now,)
    return (*taps, now)[-_TAPS:]


def _tap(target: CommandTarget, _: None) -> bool:
    target.taps = after_tap(target.taps, target.heard_at)
    bpm = tapped_bpm(target.taps)
    if bpm:
        quarters = round(bpm, 1) * _beat_quarters(target.context())
        target.change(lambda settings: settings.at_tempo(quarters))
    return True


def _beat_quarters(context: Context) -> float:
    """Return the length of a beat of the current bar, in quarter notes of the main tempo."""
    bar = context.bar
    meter = bar.meter if bar else context.settings.chart.meter
    return meter.beat_ticks / TICKS_PER_QUARTER * (bar.main_bpm / bar.bpm if bar else 1.0)


def _read_key(context: Context, words: Sequence[str]) -> int:
    """Return the transposition in semitones."""
    text, settings = text_of(words), context.settings
    if text.lower() == "own":
        semitones = 0
    elif text[0] in "+-":
        semitones = settings.semitones + whole_number(text.replace(" ", ""))
    else:
        semitones = _semitones_to(settings.chart, text)
    if abs(semitones) > FARTHEST:
        raise CommandError(f"{semitones} semitones: the limit is {FARTHEST} up or down")
    return semitones


def _semitones_to(chart: Chart, text: str) -> int:
    """Return the smaller interval from the chart's key to a key, in semitones."""
    try:
        up = in_key(chart, text).key.tonic.pitch_class - chart.key.tonic.pitch_class
    except SettingsError as error:
        raise CommandError(str(error)) from None
    return up % 12 if up % 12 <= 6 else up % 12 - 12


def _read_style(_: Context, words: Sequence[str]) -> str | None:
    name = own_or(one_word(words))
    if name is not None:
        find_style(name)
    return name


TUNE = (
    SettingCommand(
        "tempo",
        "BPM | +[N] | -[N] | own",
        "set the beats a minute; + and - change them by N or a step; own is the chart's",
        lambda settings, bpm: settings.at_tempo(bpm),
        _read_tempo,
        keys=(
            Key("+", "faster", "a step faster", "tempo +"),
            Key("-", "slower", "a step slower", "tempo -"),
        ),
    ),
    Command(
        "tap",
        "",
        "tap the tempo, once a beat",
        _tap,
        keys=(Key("t", "tap", "tap the tempo", "tap"),),
    ),
    SettingCommand(
        "half", "", "halve the tempo", lambda settings, _: _times(settings, 0.5, "half of")
    ),
    SettingCommand(
        "double", "", "double the tempo", lambda settings, _: _times(settings, 2.0, "twice")
    ),
    SettingCommand(
        "key",
        "KEY | +N | -N | own",
        "change the key, or transpose by N semitones; own is the chart's",
        lambda settings, semitones: replace(settings, semitones=semitones),
        _read_key,
        keys=(
            Key("k", "key up", "a half-step up", "key +1"),
            Key("j", "key down", "a half-step down", "key -1"),
        ),
    ),
    SettingCommand(
        "style",
        "NAME | own",
        "change the groove; own is the chart's",
        lambda settings, name: settings.with_base(style=name),
        _read_style,
        choices=style_files,
    ),
)


_NO_MELODY = "the lead has nothing to play: the chart names no melody in a line 'melody:'"
_BAND = "bass | chop | drums | lead"


def _player(settings: LiveSettings, name: str) -> Player:
    if name.lower() in settings.band:
        return Player(name.lower())
    if name.lower() == Player.LEAD:
        raise CommandError(_NO_MELODY)
    raise CommandError(f"'{name}' is not in the band: choose from {', '.join(settings.band)}")


def _read_player(context: Context, words: Sequence[str]) -> frozenset[Player]:
    return frozenset({_player(context.settings, one_word(words))})


def _mute(settings: LiveSettings, one: frozenset[Player]) -> LiveSettings:
    base = settings.base
    return settings.with_base(players=base.players - one, called=base.called - one)


def _unmute(settings: LiveSettings, one: frozenset[Player]) -> LiveSettings:
    base = settings.base
    return settings.with_base(players=base.players | one, called=base.called | one)


def _read_only(context: Context, words: Sequence[str]) -> frozenset[Player] | None:
    """Return who plays; None for those who played before `only`."""
    text_of(words)
    if is_word(words, "before"):
        return None
    if is_word(words, "all"):
        return EVERYBODY
    return frozenset(_player(context.settings, each) for each in words)


def _only(settings: LiveSettings, players: frozenset[Player] | None) -> LiveSettings:
    return settings.with_players_restored() if players is None else settings.with_players(players)


def _read_level(context: Context, words: Sequence[str]) -> tuple[Player | None, int]:
    """Return the player, or None for all, and the level in percent."""
    *names, text = text_of(words).split()
    if not names:
        return None, _percent(context.settings.level, text)
    player = _player(context.settings, one_word(names))
    return player, _percent(dict(context.settings.levels)[player], text)


def _percent(old: int, text: str) -> int:
    level = whole_number(text.rstrip("%"))
    if text[0] in "+-":
        return max(0, min(old + level, LOUDEST))
    if not 0 <= level <= LOUDEST:
        raise CommandError(f"level {level}: a level is from 0 to {LOUDEST} percent")
    return level


def _level(settings: LiveSettings, level: tuple[Player | None, int]) -> LiveSettings:
    player, percent = level
    if player is None:
        return replace(settings, level=percent)
    levels = dict(settings.levels) | {player: percent}
    return replace(settings, levels=tuple(levels.items()))


def _read_lead(context: Context, words: Sequence[str]) -> LeadSettings:
    text, lead = one_word(words).lower(), context.settings.base.lead
    if not context.settings.chart.melody:
        raise CommandError(_NO_MELODY)
    if text in WHEN:
        return replace(lead, when=text)
    return replace(lead, octave=choice(words, {"octave": True, "single": False}))


def _read_instrument(context: Context, words: Sequence[str]) -> FrettingSettings:
    return replace(context.settings.base.fretting, instrument=own_or(text_of(words)))


def _read_voicing(context: Context, words: Sequence[str]) -> FrettingSettings:
    return replace(context.settings.base.fretting, voicing=own_or(one_word(words).lower()))


def _read_reach(context: Context, words: Sequence[str]) -> FrettingSettings:
    fretting = context.settings.base.fretting
    hand = replace(fretting.hand, reach_mm=number(one_word(words)))
    return replace(fretting, hand=hand)


def _with_fretting(settings: LiveSettings, fretting: FrettingSettings) -> LiveSettings:
    """Return the settings with another fretting.

    Raises:
        BackingError: when a chord of the chart cannot be fretted so.

    """
    changed = settings.with_base(fretting=fretting)
    check_shapes(changed)
    return changed


def _mute_key(sign: str, player: Player, who: str) -> Key:
    line = f"mute {player} | unmute {player}"
    return Key(sign, str(player), f"mute or unmute {who}", line)


PLAYERS = (
    SettingCommand(
        "mute",
        _BAND,
        "silence a player",
        _mute,
        _read_player,
        keys=(
            _mute_key("b", Player.BASS, "the bass"),
            _mute_key("c", Player.CHOP, "the chop"),
            _mute_key("d", Player.DRUMS, "the drums"),
            _mute_key("m", Player.LEAD, "the melody"),
        ),
    ),
    SettingCommand(
        "unmute",
        _BAND,
        "let a player play, even one who sits out in the style",
        _unmute,
        _read_player,
    ),
    SettingCommand(
        "only",
        f"{_BAND} | all | before",
        "play with these players alone, with all, or with those who played before",
        _only,
        _read_only,
    ),
    SettingCommand(
        "level",
        "[PLAYER] PERCENT | +N | -N",
        f"loudness of one player or of all, 0 to {LOUDEST} percent",
        _level,
        _read_level,
        keys=(Key("]", "louder", "louder", "level +10"), Key("[", "softer", "softer", "level -10")),
    ),
    SettingCommand(
        "lead",
        f"{' | '.join(WHEN)} | octave | single",
        "play the melody in every, the first or every other chorus; in octaves or single notes",
        lambda settings, lead: settings.with_base(lead=lead),
        _read_lead,
    ),
    SettingCommand(
        "instrument",
        "NAME | own",
        "the instrument of the chop; own is the style's",
        _with_fretting,
        _read_instrument,
        choices=instrument_files,
    ),
    SettingCommand(
        "voicing",
        "easy | full | swing | own",
        "how hard the chop's chords are to fret; own is the style's",
        _with_fretting,
        _read_voicing,
    ),
    SettingCommand(
        "reach",
        "MM",
        "the widest reach from first to fourth finger in mm; 70 for a small hand",
        _with_fretting,
        _read_reach,
    ),
)
