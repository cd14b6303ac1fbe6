"""Sets: lists of tunes to play in order, a text file each, edited in place.

Conventions: each line has the name of a chart's file; lines that begin with # are comments and keep
their places. Places of tunes are counted from 0. An edit names the tune at its place, so that it
fails where somebody else has changed the set.
"""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

from backing.chart.sets import SET
from backing.errors import BackingError
from backing.stand.songbook import CHART, ConflictError

if TYPE_CHECKING:
    from backing.stand.songbook import Songbook

MOST_TUNES = 500
"""The most tunes of a set."""

Lines = list[str]


class SetError(BackingError):
    """A change of a set that is not possible."""


def new_set(book: Songbook, name: str) -> None:
    """Make an empty set.

    Raises:
        BackingError: when the name is taken, or the file cannot be written.
    """
    _save_new(book, name, [f"# {name}"])


def _save_new(book: Songbook, name: str, lines: Lines) -> None:
    try:
        book.save(_file(name), _text(lines), SET, tag=None)
    except ConflictError:
        raise SetError(f"there is a set '{name}' already: choose another name") from None


def delete_set(book: Songbook, name: str) -> None:
    """Delete a set; its tunes stay in the songbook.

    Raises:
        BackingError: when there is no such set.
    """
    path = book.path_of(_file(name), SET)
    _read(book, name)
    with suppress(FileNotFoundError):
        path.unlink()


def rename_set(book: Songbook, name: str, new: str) -> None:
    """Rename a set, also in its first line where that is a comment with the old name.

    Raises:
        BackingError: when the new name is taken, or there is no such set.
    """
    lines = _read(book, name)[0]
    if lines[:1] == [f"# {name}"]:
        lines = [f"# {new}", *lines[1:]]
    _save_new(book, new, lines)
    delete_set(book, name)


def add_tune(book: Songbook, name: str, tune: str) -> None:
    """Append a tune of the songbook to a set.

    Raises:
        BackingError: when there is no such tune or set.
    """
    if not book.has(tune, CHART):
        raise SetError(f"there is no {tune} in the songbook")
    lines, tag = _read(book, name)
    _save(book, name, [*lines, tune], tag)


def remove_tune(book: Songbook, name: str, place: int, tune: str) -> None:
    """Remove the tune at a place from a set.

    Raises:
        BackingError: when another tune is there now.
    """
    lines, tag = _read(book, name)
    line = _line_at(lines, place, tune)
    _save(book, name, [*lines[:line], *lines[line + 1 :]], tag)


def move_tune(book: Songbook, name: str, place: int, tune: str, to: int) -> None:
    """Move the tune at a place to another place.

    Raises:
        BackingError: when another tune is there now, or there is no such place.
    """
    lines, tag = _read(book, name)
    _line_at(lines, place, tune)
    places = _places(lines)
    if not 0 <= to < len(places):
        raise SetError(f"the set has {len(places)} tunes: there is no place {to + 1}")
    order = [lines[line] for line in places]
    order.insert(to, order.pop(place))
    new = dict(zip(places, order, strict=True))
    _save(book, name, [new.get(line, text) for line, text in enumerate(lines)], tag)


def _save(book: Songbook, name: str, lines: Lines, tag: str) -> None:
    if len(_places(lines)) > MOST_TUNES:
        raise SetError(f"{name} has {MOST_TUNES} tunes already: make another set")
    book.save(_file(name), _text(lines), SET, tag=tag)


def _read(book: Songbook, name: str) -> tuple[Lines, str]:
    found = book.read(_file(name), SET)
    if found is None:
        raise SetError(f"there is no set '{name}'")
    return found[0].decode("utf-8", "replace").splitlines(), found[1]


def _text(lines: Lines) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode()


def _places(lines: Lines) -> list[int]:
    """Return the numbers of the lines that name a tune."""
    return [number for number, line in enumerate(lines) if line.strip() and line.strip()[0] != "#"]


def _line_at(lines: Lines, place: int, tune: str) -> int:
    places = _places(lines)
    if not 0 <= place < len(places) or lines[places[place]].strip() != tune:
        raise SetError("the set has changed meanwhile: try again")
    return places[place]


def _file(name: str) -> str:
    """Return the name of a set's file."""
    return f"{name}{SET}"
