"""What a command is, and what commands act on."""

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
    """Arguments that a command does not take; the player is told the command's usage."""


class Playback(Protocol):
    """What commands control."""

    @property
    def settings(self) -> LiveSettings:
        """The settings that hold."""

    @property
    def now_bar(self) -> SoundingBar | None:
        """The bar being played, or the last one; None before the first."""

    @property
    def is_ending(self) -> bool:
        """Whether no change of settings comes in time before the end."""

    def play(self, now: float) -> bool:
        """Begin or go on; return whether it was silent."""

    def pause(self, now: float) -> bool:
        """Fall silent; return whether it was playing."""

    def stop(self, now: float) -> None:
        """Fall silent and go back to the beginning."""

    def change(self, change: Callable[[LiveSettings], LiveSettings], now: float) -> bool:
        """Change the settings; return whether they differ."""

    def jump(self, bar: BarName, *, leaves_loop: bool = False) -> None:
        """Go on at another bar."""


@dataclass(frozen=True, slots=True)
class Context:
    """What the words of a command are read against.

    Attributes:
        settings: the settings that hold.
        bar: the bar being played, or the last one; None before the first.

    """

    settings: LiveSettings
    bar: SoundingBar | None = None


@dataclass(slots=True)
class Desk:
    """What a command acts on.

    Attributes:
        playback: what is controlled.
        now: the clock of the playback, in seconds.
        tell: takes sentences for the player.
        heard: the moment that the player heard when the command was given, in seconds.
        taps: the moments of the last taps, in seconds.
        quitting: whether the player has left.

    """

    playback: Playback
    now: Callable[[], float]
    tell: Callable[[str], None] = lambda text: None
    heard: float = 0.0
    taps: tuple[float, ...] = ()
    quitting: bool = False

    def context(self) -> Context:
        """Return what words are read against now."""
        return Context(self.playback.settings, self.playback.now_bar)

    def change(self, change: Callable[[LiveSettings], LiveSettings]) -> bool:
        """Change the settings, and return whether they differ."""
        return self.playback.change(change, self.heard)


@dataclass(frozen=True, slots=True)
class Key:
    """A key on the terminal and the page.

    Attributes:
        sign: what is typed.
        label: what it does, in a word or two.
        about: what it does, for the list of keys.
        line: the line that it says.

    """

    sign: str
    label: str
    about: str
    line: str

    @property
    def name(self) -> str:
        """What the key is called."""
        return "space" if self.sign == " " else self.sign


@dataclass(frozen=True, slots=True)
class Command:
    """A command: everything that help, keys, pedals, lines and pages need to know of it.

    Attributes:
        name: the word that it begins with.
        usage: its arguments, for help; without, it takes none.
        about: what it does, for help.
        apply: carries it out on the desk with what `parse` returned, and returns whether anything
            changed.
        parse: reads its arguments; raises `ArgumentError` where they are not those of `usage`.
        keys: keys that say a line with it.
        choices: the names of which its argument is one; a page may name nothing else.
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
        """Its name, its usage and what it does."""
        return f"{self.name} {self.usage}".strip() + f": {self.about}"

    def carry_out(self, desk: Desk, words: Sequence[str]) -> bool:
        """Read the arguments and apply them; return whether anything changed.

        Raises:
            BackingError: when that cannot be done; nothing has changed then.

        """
        changed: bool = self.apply(desk, self.read(desk.context(), words))
        return changed

    def read(self, context: Context, words: Sequence[str]) -> Any:
        """Return what the arguments say.

        Raises:
            BackingError: when they do not fit.

        """
        if words and not self.usage:
            raise CommandError(f"{self.name} wants nothing behind it, not '{' '.join(words)}'")
        try:
            return self.parse(context, words)
        except ArgumentError:
            found = f"not '{' '.join(words)}'" if words else "and nothing stands there"
            raise CommandError(f"{self.name} wants {self.usage} ({self.about}), {found}") from None


class SettingCommand(Command):
    """A command that changes settings alone; `apply` makes the new settings from the old."""

    __slots__ = ()

    def carry_out(self, desk: Desk, words: Sequence[str]) -> bool:
        """Change the settings; the arguments are read against those that are changed."""
        bar = desk.playback.now_bar

        def changed(settings: LiveSettings) -> LiveSettings:
            new: LiveSettings = self.apply(settings, self.read(Context(settings, bar), words))
            return new

        return desk.change(changed)


def text_of(words: Sequence[str]) -> str:
    """Return the arguments as one text, which is not empty."""
    if not words:
        raise ArgumentError
    return " ".join(words)


def one_word(words: Sequence[str]) -> str:
    """Return the only argument, which is not empty."""
    if len(words) != 1 or not words[0]:
        raise ArgumentError
    return words[0]


def is_word(words: Sequence[str], word: str) -> bool:
    """Return whether a word is the only argument, in capital or small letters."""
    return [each.lower() for each in words] == [word]


def own_or(text: str) -> str | None:
    """Return a text, or None for `own`, which leaves a choice to the chart or the style."""
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
    """Return the value of the only argument, which is one of the names."""
    text = one_word(words).lower()
    if text not in values:
        raise ArgumentError
    return values[text]
