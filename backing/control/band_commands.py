"""Commands for players, loudness, the melody, and the chop's instrument and voicings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backing.band.lead import WHEN
from backing.control.command import (
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
from backing.fretboard.instrument import instrument_files
from backing.notes import Player

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.band.lead import LeadSettings
    from backing.control.settings import LiveSettings
    from backing.fretboard.request import FrettingSettings

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
