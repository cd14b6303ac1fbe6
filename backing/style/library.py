"""Finds styles: in the user's own folder first, then among the included ones."""

from __future__ import annotations

import os
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from backing.errors import SettingsError, StyleError
from backing.nearest import did_you_mean, nearest
from backing.reading import UnreadableError, read_text
from backing.style.load import read_style
from backing.timing import Meter

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backing.style.model import Style

OWN_FOLDER_VARIABLE = "BACKING_STYLES"
"""The environment variable that names the user's own folder of styles."""

SUFFIX = ".toml"


def style_files() -> dict[str, Path]:
    """Return the file of every style by name, sorted.

    Raises:
        SettingsError: if the variable names a folder that does not exist.
    """
    named = os.environ.get(OWN_FOLDER_VARIABLE)
    if named and not Path(named).is_dir():
        raise SettingsError(
            f"{OWN_FOLDER_VARIABLE} names {named}, which is not a folder: make it, or unset the "
            "variable"
        )
    found: dict[str, Path] = {}
    for folder in (own_folder(), _our_folder()):
        for path in sorted(folder.glob(f"*{SUFFIX}")):
            found.setdefault(path.stem, path)
    return dict(sorted(found.items()))


def find_style(name: str) -> Style:
    """Return the style with this name; a path is not accepted.

    Raises:
        SettingsError: if there is none, with a list of those there are.
        StyleError: if its file cannot be read.
    """
    return _load_named(style_file(name))


def requested_style(text: str) -> Style:
    """Return the style with this name or path, as options of the command line give it.

    Raises:
        SettingsError: if there is none, with a list of those there are.
        StyleError: if its file cannot be read.
    """
    path = requested_style_file(text)
    return _load(path.absolute(), text) if _is_path(text) else _load_named(path)


def requested_style_file(text: str) -> Path:
    """Return the file of the style with this name or path.

    Args:
        text: a name, or a path, which has a slash or ends in `.toml`.

    Raises:
        SettingsError: if there is no style of this name.
    """
    if _is_path(text):
        return Path(text)
    return style_file(text, f", or give a file that ends in {SUFFIX}")


def _is_path(text: str) -> bool:
    return text.endswith(SUFFIX) or "/" in text or os.sep in text


def style_file(name: str, otherwise: str = "") -> Path:
    """Return the file of the style with this name.

    Args:
        name: the name.
        otherwise: further advice for the message.

    Raises:
        SettingsError: if there is none.
    """
    files = style_files()
    if name not in files:
        raise SettingsError(
            f"'{name}' is not a style: choose from {', '.join(files)}{otherwise}"
            + did_you_mean(nearest(name, files))
        )
    return files[name]


def _load_named(path: Path) -> Style:
    return _load(path, str(path))


@cache
def _load(path: Path, source: str) -> Style:
    """Return the style in a file; messages call the file `source`."""
    try:
        text = read_text(path, "save the style as plain text in UTF-8")
    except UnreadableError as error:
        raise error.of(StyleError, source) from None
    return read_style(text, path.stem, source)


def all_styles() -> tuple[list[Style], list[StyleError]]:
    """Return every style that can be read, and the errors of the others."""
    styles, errors = [], []
    for path in style_files().values():
        try:
            styles.append(_load_named(path))
        except StyleError as error:
            errors.append(error)
    return styles, errors


class _Meters(Mapping[str, frozenset[Meter]]):
    """The meters of styles by name, read on demand."""

    def __init__(self) -> None:
        self._files = style_files()

    def __getitem__(self, name: str) -> frozenset[Meter]:
        path = self._files[name]
        try:
            return frozenset(_load_named(path).meters)
        except StyleError:
            return frozenset()

    def __iter__(self) -> Iterator[str]:
        return iter(self._files)

    def __len__(self) -> int:
        return len(self._files)

    def __contains__(self, name: object) -> bool:
        return name in self._files


def style_meters() -> Mapping[str, frozenset[Meter]]:
    """Return the meters of each style, by its name; a style that cannot be read has none."""
    return _Meters()


def own_folder() -> Path:
    """Return the user's own folder of styles, which may not exist."""
    named = os.environ.get(OWN_FOLDER_VARIABLE)
    return Path(named) if named else Path.home() / ".backing" / "styles"


def _our_folder() -> Path:
    """Return the folder of the included styles: in the installed package or in the checkout."""
    inside = Path(__file__).parent.parent / "styles"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "styles"
