"""Large letters for chords."""

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
H #...# #...# ##### #...# #...#
I .###. ..#.. ..#.. ..#.. .###.
J ..### ...#. ...#. #..#. .##..
K #...# #..#. ###.. #..#. #...#
L #.... #.... #.... #.... #####
M #...# ##.## #.#.# #...# #...#
N #...# ##..# #.#.# #..## #...#
O .###. #...# #...# #...# .###.
P ####. #...# ####. #.... #....
Q .###. #...# #.#.# #..#. .##.#
R ####. #...# ####. #..#. #...#
S .#### #.... .###. ....# ####.
T ##### ..#.. ..#.. ..#.. ..#..
U #...# #...# #...# #...# .###.
V #...# #...# #...# .#.#. ..#..
W #...# #...# #.#.# ##.## #...#
X #...# .#.#. ..#.. .#.#. #...#
Y #...# .#.#. ..#.. ..#.. ..#..
Z ##### ...#. ..#.. .#... #####
# .#.#. ##### .#.#. ##### .#.#.
a ..... .##.. ...#. .###. .###.
b #.... #.... ###.. #..#. ###..
c ..... .###. #.... #.... .###.
d ...#. ...#. .###. #..#. .###.
e .##.. #..#. ####. #.... .###.
f ..##. .#... ###.. .#... .#...
g ..... .###. #..#. .###. .##..
h #.... #.... ###.. #..#. #..#.
i ..#.. ..... ..#.. ..#.. ..#..
j ...#. ..... ...#. .#.#. ..#..
k #.... #..#. ###.. #.#.. #..#.
l .#... .#... .#... .#... ..##.
m ..... ##.#. #.#.# #.#.# #.#.#
n ..... ###.. #..#. #..#. #..#.
o ..... .##.. #..#. #..#. .##..
p ..... ###.. #..#. ###.. #....
q ..... .###. #..#. .###. ...#.
r ..... #.##. ##... #.... #....
s ..... .###. .#... ..##. .##..
t .#... ###.. .#... .#... ..##.
u ..... #..#. #..#. #..#. .###.
v ..... #...# #...# .#.#. ..#..
w ..... #...# #.#.# #.#.# .#.#.
x ..... #..#. .##.. .##.. #..#.
y ..... #..#. .###. ...#. .##..
z ..... ####. ..#.. .#... ####.
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
- ..... ..... .###. ..... .....
. ..... ..... ..... ..... ..#..
( ..#.. .#... .#... .#... ..#..
) ..#.. ...#. ...#. ...#. ..#..
, ..... ..... ..... ..#.. .#...
"""

_LETTERS = {row[0]: row[2:].split() for row in _FONT.strip().splitlines()}
_BLANK = ["....."] * _ROWS


def large_lines(text: str, width: int, height: int) -> list[str]:
    """Return a text in the largest letters that fit a width and a height, in characters.

    Words are side by side or, when that allows larger letters, one below the other. When no size
    fits, or a character has no large form, the text comes as one ordinary line.
    """
    if not set(text) <= _LETTERS.keys() | {" "}:
        return [text]
    sizes = [*((scale, 2 * scale) for scale in range(_LARGEST, 0, -1)), (1, 1)]
    for rows, columns in sizes:
        for words in ([text], text.split()):
            wide = max((len(word) for word in words), default=0) * 6 * columns - columns
            if wide <= width and len(words) * (_ROWS * rows + 1) - 1 <= height:
                return _stacked(words, rows, columns)
    return [text]


def _stacked(words: list[str], rows: int, columns: int) -> list[str]:
    lines: list[str] = []
    for word in words:
        lines += [*([""] if lines else []), *_scaled(word, rows, columns)]
    return lines


def _scaled(text: str, rows: int, columns: int) -> list[str]:
    lines = []
    for row in range(_ROWS):
        dots = ".".join(_LETTERS.get(sign, _BLANK)[row] for sign in text)
        line = "".join(("█" if dot == "#" else " ") * columns for dot in dots)
        lines += [line.rstrip()] * rows
    return lines
