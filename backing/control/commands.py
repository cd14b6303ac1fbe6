"""The table of commands, for help, keys, pedals, lines and pages.

A command is a word with or without arguments: `tempo 120`, `tempo +5`, `key +2`, `key G`, `loop A`,
`mute chop`, `last-time`. Standard input, keys, pedals and pages send the same lines. A bare tempo
counts the chart's beat (`Chart.tempo_unit`). A line may have several commands, as in
`mute chop | unmute chop`: the first that changes anything is carried out, so that one button can do
both.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from backing.control.band_commands import PLAYERS, TUNE
from backing.control.command import Command, CommandTarget, one_word
from backing.control.practice_commands import FORM, PRACTICE, TRANSPORT
from backing.control.settings import CommandError
from backing.nearest import did_you_mean, nearest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.control.command import Context, Key

_SAME_KEY = {"=": "+", "_": "-"}


def _read_help(_: Context, words: Sequence[str]) -> Command | None:
    return find_command(one_word(words)) if words else None


def _help(target: CommandTarget, command: Command | None) -> bool:
    target.notify(
        command.help if command else f"commands: {', '.join(COMMANDS)}; more with help tempo"
    )
    return True


COMMANDS: dict[str, Command] = {
    each.name: each
    for each in (
        *TRANSPORT,
        *TUNE,
        *FORM,
        *PLAYERS,
        *PRACTICE,
        Command("help", "[COMMAND]", "list the commands, or explain one", _help, _read_help),
    )
}
"""Every command, by name."""

ALIASES = {"shapes": "voicing"}
"""Other names of commands."""


def find_command(name: str) -> Command:
    """Return the command of a name or alias.

    Raises:
        CommandError: when there is none.

    """
    name = ALIASES.get(name.lower(), name.lower())
    if name in COMMANDS:
        return COMMANDS[name]
    raise CommandError(
        f"'{name}' is not a command: choose from {', '.join(COMMANDS)}"
        + did_you_mean(nearest(name, COMMANDS))
    )


def split_line(line: str) -> list[list[str]]:
    """Return the words of each command in a line, with the name in place of an alias."""
    commands = (each.split() for each in line.split("|"))
    return [[ALIASES.get(each[0].lower(), each[0]), *each[1:]] if each else [] for each in commands]


def keys() -> list[tuple[Key, Command]]:
    """Return every key with its command, in the order of the table."""
    return [(key, command) for command in COMMANDS.values() for key in command.keys]


def line_of(sign: str) -> str | None:
    """Return the line that a key sends, or None."""
    sign = _SAME_KEY.get(sign, sign.lower())
    return next((key.line for key, _ in keys() if key.sign == sign), None)


class Controls(CommandTarget):
    """Carries out command lines on a transport."""

    __slots__ = ()

    def carry_out(self, line: str, at: float | None = None) -> None:
        """Carry out one line: the first of its commands that changes anything.

        Args:
            line: commands with their arguments, separated by `|`.
            at: the moment that the player heard when giving it, in seconds; None for now.

        Raises:
            CommandError: for an unknown command and for arguments that do not fit; nothing has
                changed then.
            BackingError: when the new settings do not fit the chart.

        """
        now = self.now()
        self.heard_at = now if at is None else min(at, now)
        for words in split_line(line):
            if words and find_command(words[0]).carry_out(self, words[1:]):
                return
