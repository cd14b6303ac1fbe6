"""Charts for the tests of live playing."""

from __future__ import annotations

from backing.chart.read import read_chart

TWO_PARTS = read_chart(
    "title: Two Parts\nkey: G\nstyle: swing\ntempo: 150\nform: A B\n"
    "[A] 4\n| G6 | C9 | D7 | G6 |\n[B] 4\n| Em7 | A7 | Am7 | D7 |\n"
)

LONGER = read_chart(
    "title: Longer\nkey: D\nstyle: two-beat\ntempo: 220\nform: Intro A A B C\n"
    "[Intro] 2\n| D | A7 |\n"
    "[A] 4\n| D | G | A7 | D |\n"
    '[B] 4\n| Bm "stop" | E7 | A | A7 "push" |\n'
    "[C] 3\ntempo: 180\n| G | (2/4) D | A7 |\n"
)

SHORTER = read_chart(
    "title: Shorter\nkey: C\nstyle: swing\ntempo: 120\ncount-in: 0\nform: A\n[A] 2\n| C6 | G7 |\n"
)

WITH_PICKUP = read_chart(
    "title: With a Pickup\nkey: F\nstyle: shuffle\ntempo: 110\nform: A B\n"
    "[A] 4\n| (pickup 1/4) C7 | F7 | Bb7 | F7 | C7 |\n[B] 2\n| Dm7 | G7 |\n"
)

IN_TWO = read_chart(
    "title: In Two\nkey: A\nmeter: 2/2\nstyle: two-beat\ntempo: quarter=200\nform: A B\n"
    "[A] 3\n| A | D | E7 |\n[B] 2\n| F#m | E7 |\n"
)

CLOSING = read_chart(
    "title: Closing\nkey: Bb\nstyle: western-swing\ntempo: 190\nending: tag\n"
    "form: Intro A A B A Tag\n[Intro] 1\n| F7 |\n[A] 2\n| Bb6 | F7 |\n"
    '[B] 3\n| Eb | (2/4) Eb | F7 "push" |\n[Tag] 2\n| Bb6 F7 | Bb6 |\n'
)

SLOWING = read_chart(
    "title: Slowing\nkey: D\nmeter: 3/4\nstyle: waltz\ntempo: 150\nending: ritard\nform: A\n"
    "[A] 1\n| A7 |\n"
)
