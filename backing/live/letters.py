"""Large letters for chords, to be read from two metres."""

from __future__ import annotations

_ROWS = 5
_LARGEST = 4

_FONT = """
A .###. #...# ##### #...# #...#
B ####. #...# ####. #...# ####.
C .#### #.... #.... #.... .####
D ####. #...# #...# #...# ####.
E ##### #.... ####. #.... #####
F ##### #.... ####. #.... #....
G .#### #.... #..## #...# .####
N #...# ##..# #.#.# #..## #...#
# .#.#. ##### .#.#. ##### .#.#.
b #.... #.... ###.. #..#. ###..
m ..... ##.#. #.#.# #.#.# #.#.#
a ..... .##.. ...#. .###. .###.
j ...#. ..... ...#. .#.#. ..#..
d ...#. ...#. .###. #..#. .###.
i ..#.. ..... ..#.. ..#.. ..#..
s ..... .###. .#... ..##. .##..
u ..... #..#. #..#. #..#. .###.
g ..... .###. #..#. .###. .##..
l .#... .#... .#... .#... ..##.
t .#... ###.. .#... .#... ..##.
0 .###. #..## #.#.# ##..# .###.
1 ..#.. .##.. ..#.. ..#.. .###.
2 ####. ....# .###. #.... #####
3 ####. ....# .###. ....# ####.
4 #..#. #..#. ##### ...#. ...#.
5 ##### #.... ####. ....# ####.
6 .###. #.... ####. #...# .###.
7 ##### ....# ...#. ..#.. ..#..
8 .###. #...# .###. #...# .###.
9 .###. #...# .#### ....# .###.
/ ....# ...#. ..#.. .#... #....
+ ..... ..#.. .###. ..#.. .....
. ..... ..... ..... ..... ..#..
( ..#.. .#... .#... .#... ..#..
) ..#.. ...#. ...#. ...#. ..#..
, ..... ..... ..... ..#.. .#...
"""

_LETTERS = {row[0]: row[2:].split() for row in _FONT.strip().splitlines()}
_BLANK = ["....."] * _ROWS


def large_lines(text: str, width: int, height: int) -> list[str]:
    """Return a text in the largest letters that fit a width and a height in signs.

    When none fit it comes in one line of ordinary letters.
    """
    for scale in range(_LARGEST, 0, -1):
        columns = 2 * scale
        if len(text) * 6 * columns - columns <= width and _ROWS * scale <= height:
            return _scaled(text, scale, columns)
    if len(text) * 6 - 1 <= width and height >= _ROWS:
        return _scaled(text, 1, 1)
    return [text]


def _scaled(text: str, rows: int, columns: int) -> list[str]:
    lines = []
    for row in range(_ROWS):
        dots = ".".join(_LETTERS.get(sign, _BLANK)[row] for sign in text)
        line = "".join(("█" if dot == "#" else " ") * columns for dot in dots)
        lines += [line.rstrip()] * rows
    return lines
