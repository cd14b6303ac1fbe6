"""Where styles are found: the user's own folder first, then ours."""

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
    """Return the file of every style by its name, in the order of names.

    Raises:
        SettingsError: when the user names a folder that there is not.
    """
    named = os.environ.get(OWN_FOLDER_VARIABLE)
    if named and not Path(named).is_dir():
        raise SettingsError(
            f"{OWN_FOLDER_VARIABLE} names {named}, which is no folder: make it, or unset the "
            "variable"
        )
    found: dict[str, Path] = {}
    for folder in (own_folder(), _our_folder()):
        for path in sorted(folder.glob(f"*{SUFFIX}")):
            found.setdefault(path.stem, path)
    return dict(sorted(found.items()))


def find_style(name: str) -> Style:
    """Return the style with this name, as charts and pages name it; never one at a path.

    Raises:
        SettingsError: when there is none; the text lists what there is.
        StyleError: when its file cannot be read.
    """
    return _load_named(style_file(name))


def requested_style(text: str) -> Style:
    """Return the style that an option of the command line names, or the one in a file.

    Raises:
        SettingsError: when there is none; the text lists what there is.
        StyleError: when its file cannot be read.
    """
    path = requested_style_file(text)
    return _load(path.absolute(), text) if _is_path(text) else _load_named(path)


def requested_style_file(text: str) -> Path:
    """Return the file of the style that an option names: by its name or its path.

    Args:
        text: a name, or a path, which has a slash or ends in `.toml`.

    Raises:
        SettingsError: when it is neither.
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
        otherwise: what else there is to choose, for the fault.

    Raises:
        SettingsError: when there is none.
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
    """Return the style in a file; `source` is its name for faults."""
    try:
        text = read_text(path, "save the style as plain text in UTF-8")
    except UnreadableError as error:
        raise error.of(StyleError, source) from None
    return read_style(text, path.stem, source)


def all_styles() -> tuple[list[Style], list[StyleError]]:
    """Return every style that can be read, and what is wrong with the others."""
    styles, errors = [], []
    for path in style_files().values():
        try:
            styles.append(_load_named(path))
        except StyleError as error:
            errors.append(error)
    return styles, errors


class _Meters(Mapping[str, frozenset[Meter]]):
    """The meters of styles by name, read when they are asked for."""

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
    """Return the meters that each style plays, by its name.

    A style that cannot be read has none: what is wrong with it is told when it is asked for.
    """
    return _Meters()


def own_folder() -> Path:
    """Return the user's own folder of styles, which need not exist."""
    named = os.environ.get(OWN_FOLDER_VARIABLE)
    return Path(named) if named else Path.home() / ".backing" / "styles"


def _our_folder() -> Path:
    """Return the folder in the installed package, or that of the checkout."""
    inside = Path(__file__).parent.parent / "styles"
    return inside if inside.is_dir() else Path(__file__).parents[2] / "styles"
