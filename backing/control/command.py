"""Commands: what each one is, and what it acts on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

from backing.control.settings import CommandError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from backing.chart.sequence import BarName
    from backing.control.progress import SoundingBar
    from backing.control.settings import LiveSettings


class ArgumentError(Exception):
    """Arguments that do not fit a command's usage; the message to the player shows the usage."""


class Playback(Protocol):
    """A transport, as commands see it."""

    @property
    def settings(self) -> LiveSettings:
        """The current settings."""

    @property
    def now_bar(self) -> SoundingBar | None:
        """The bar being played, or the last one; None before the first."""

    @property
    def is_ending(self) -> bool:
        """Whether it is too late for settings to change anything before the end."""

    def play(self, now: float) -> bool:
        """Start or resume; return whether it began."""

    def pause(self, now: float) -> bool:
        """Pause; return whether it was playing."""

    def stop(self, now: float) -> None:
        """Stop and go back to the beginning."""

    def change(self, change: Callable[[LiveSettings], LiveSettings], now: float) -> bool:
        """Change the settings; return whether they differ."""

    def jump(self, bar: BarName, *, leaves_loop: bool = False) -> None:
        """Go on at another bar."""


@dataclass(frozen=True, slots=True)
class Context:
    """The state that arguments refer to.

    Attributes:
        settings: the current settings.
        bar: the bar being played, or the last one; None before the first.

    """

    settings: LiveSettings
    bar: SoundingBar | None = None


@dataclass(slots=True)
class CommandTarget:
    """The playback that commands act on, and what commands remember.

    Attributes:
        playback: the transport.
        now: the clock of the playback, in seconds.
        notify: receives messages for the player.
        heard_at: the moment that the player heard when the command was given, in seconds.
        taps: the moments of the last taps, in seconds.
        quitting: whether the player has left.

    """

    playback: Playback
    now: Callable[[], float]
    notify: Callable[[str], None] = lambda text: None
    heard_at: float = 0.0
    taps: tuple[float, ...] = ()
    quitting: bool = False

    def context(self) -> Context:
        """Return the current state."""
        return Context(self.playback.settings, self.playback.now_bar)

    def change(self, change: Callable[[LiveSettings], LiveSettings]) -> bool:
        """Change the settings, and return whether they differ."""
        return self.playback.change(change, self.heard_at)


@dataclass(frozen=True, slots=True)
class Key:
    """A key on the terminal and the page.

    Attributes:
        sign: the character typed.
        label: what it does, in a word or two.
        about: what it does, for the list of keys.
        line: the command line that it sends.

    """

    sign: str
    label: str
    about: str
    line: str

    @property
    def name(self) -> str:
        """The name of the key."""
        return "space" if self.sign == " " else self.sign


@dataclass(frozen=True, slots=True)
class Command:
    """A command.

    Attributes:
        name: its first word.
        usage: its arguments, for help; empty when it takes none.
        about: what it does, for help.
        apply: carries it out on the target with the result of `parse`; returns whether anything
            changed.
        parse: reads its arguments; raises `ArgumentError` when they do not fit the usage.
        keys: keys that send it.
        choices: the names that a page may give as its argument.
        for_pages: whether pages may use it.

    """

    name: str
    usage: str
    about: str
    apply: Callable[[Any, Any], Any]
    parse: Callable[[Context, Sequence[str]], Any] = lambda context, words: None
    keys: tuple[Key, ...] = ()
    choices: Callable[[], Iterable[str]] | None = None
    for_pages: bool = True

    @property
    def help(self) -> str:
        """Name, usage and description."""
        return f"{self.name} {self.usage}".strip() + f": {self.about}"

    def carry_out(self, target: CommandTarget, words: Sequence[str]) -> bool:
        """Read the arguments and apply them; return whether anything changed.

        Raises:
            BackingError: when it cannot be done; nothing has changed then.

        """
        changed: bool = self.apply(target, self.read(target.context(), words))
        return changed

    def read(self, context: Context, words: Sequence[str]) -> Any:
        """Return the arguments as a value.

        Raises:
            BackingError: when they do not fit.

        """
        if words and not self.usage:
            raise CommandError(f"{self.name} takes no arguments, but '{' '.join(words)}' was given")
        try:
            return self.parse(context, words)
        except ArgumentError:
            found = f"not '{' '.join(words)}'" if words else "but nothing was given"
            raise CommandError(f"{self.name} needs {self.usage} ({self.about}), {found}") from None


class SettingCommand(Command):
    """A command that only changes settings; `apply` returns the new settings."""

    __slots__ = ()

    def carry_out(self, target: CommandTarget, words: Sequence[str]) -> bool:
        """Change the settings; return whether they differ."""
        bar = target.playback.now_bar

        def changed(settings: LiveSettings) -> LiveSettings:
            new: LiveSettings = self.apply(settings, self.read(Context(settings, bar), words))
            return new

        return target.change(changed)


def text_of(words: Sequence[str]) -> str:
    """Return the arguments as one text that is not empty."""
    if not words:
        raise ArgumentError
    return " ".join(words)


def one_word(words: Sequence[str]) -> str:
    """Return the only argument."""
    if len(words) != 1 or not words[0]:
        raise ArgumentError
    return words[0]


def is_word(words: Sequence[str], word: str) -> bool:
    """Return whether a word is the only argument, in upper or lower case."""
    return [each.lower() for each in words] == [word]


def own_or(text: str) -> str | None:
    """Return the text, or None for `own`: the choice of the chart or the style."""
    return None if text.lower() == "own" else text


def whole_number(text: str) -> int:
    """Read a whole number."""
    try:
        return int(text)
    except ValueError:
        raise ArgumentError from None


def number(text: str) -> float:
    """Read a finite number."""
    try:
        found = float(text)
    except ValueError:
        raise ArgumentError from None
    if not math.isfinite(found):
        raise ArgumentError
    return found


def choice(words: Sequence[str], values: dict[str, Any]) -> Any:
    """Return the value that the only argument names."""
    text = one_word(words).lower()
    if text not in values:
        raise ArgumentError
    return values[text]
