"""The page's files: declarations of its elements for the scripts, and short lines.

`static/elements.d.ts` is written from the page. After a change of its elements write it again:

    BACKING_GOLDEN=write pytest -n 0 tests/stand/test_static.py
"""

from __future__ import annotations

import os
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest

from backing.stand.app import STATIC
from backing.stand.labels import page_html

if TYPE_CHECKING:
    from pathlib import Path

FILE = STATIC / "elements.d.ts"
LONGEST_LINE = 119
WRITTEN = ("*.js", "*.css")


class _Ids(HTMLParser):
    """Collects the tag of each element with an id."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, str]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep the tag under its id."""
        self.tags += [(value, tag) for name, value in attrs if name == "id" and value]


def declared() -> str:
    """Return the declarations of the page's elements for TypeScript."""
    tags = dict(_Ids(page_html()).tags)
    return "\n".join(
        [
            "// The elements of the page by their ids: written from the page by",
            "// tests/stand/test_static.py.",
            "",
            "export interface Elements {",
            *(f'  "{name}": HTMLElementTagNameMap["{tag}"];' for name, tag in tags.items()),
            "}",
            "",
        ]
    )


def test_the_scripts_know_the_elements_of_the_page() -> None:
    """`elements.d.ts` has every id with its tag, and no other."""
    if os.environ.get("BACKING_GOLDEN") == "write":
        FILE.write_text(declared(), encoding="utf-8")
    assert FILE.read_text(encoding="utf-8") == declared()


def test_ids_are_unique() -> None:
    """An id names one element (HTML, 3.2.6)."""
    names = [name for name, _ in _Ids(page_html()).tags]
    assert len(names) == len(set(names))
    assert len(names) > 50


@pytest.mark.parametrize(
    "path",
    [path for kind in WRITTEN for path in sorted(STATIC.glob(kind))],
    ids=lambda path: path.name,
)
def test_lines_are_short(path: Path) -> None:
    """No line of a script or style sheet is over 119 characters long."""
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines
    assert {
        number: len(line) for number, line in enumerate(lines, 1) if len(line) > LONGEST_LINE
    } == {}
