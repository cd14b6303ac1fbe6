"""Every sentence about a fault of a chart: where, what was found, and what to do."""

# ruff: noqa: E501 - a sentence stands on one line here as it does for a reader

from __future__ import annotations

import pytest

from backing.chart.read import read_chart
from backing.errors import ChartError


def sentences(text: str) -> list[str]:
    """Return the faults of a chart as sentences, without its name."""
    with pytest.raises(ChartError) as caught:
        read_chart(text, "mill.chart")
    return [line.removeprefix("mill.chart:") for line in str(caught.value).split("\n")]


HEADERS = [
    (
        "tempu: 200",
        "1:1: 'tempu' is not known here: choose from title, by, key, meter, tempo, style, form, count-in, ending, note; did you mean 'tempo'?",
    ),
    (
        "key: E\n KEY: A",
        "2:2: 'key' stands a second time: it stands in line 1 already; delete one of the two",
    ),
    (
        "title:  ",
        "1:1: 'title' has no value: write it behind the colon, or delete the line",
    ),
    (
        "key:  H",
        "1:7: 'H' is not a key: write a key such as E, Bb, F#m, A mixolydian or D dorian",
    ),
    (
        "key:  A mixolidian",
        "1:9: 'mixolidian' is not a mode: choose from major, minor, dorian, phrygian, lydian, mixolydian, locrian; did you mean 'mixolydian'?",
    ),
    (
        "meter: 4/5",
        "1:8: '4/5' is not a meter: write a count from 1 to 32, a slash, and 2, 4, 8 or 16, such as 4/4 or 6/8",
    ),
    (
        "tempo: 900",
        "1:8: tempo '900' is 900 quarter notes a minute: the band plays from 20 to 500",
    ),
    (
        "style: Two Beat",
        "1:8: 'Two Beat' is not the name of a style: write small letters, figures and hyphens, such as 'two-beat'",
    ),
    (
        "style: ??",
        "1:8: '??' is not the name of a style: write small letters, figures and hyphens",
    ),
    (
        "count-in: 9",
        "1:11: '9' is not a count-in: write a number of bars from 0 to 8",
    ),
    (
        "ending: shirt",
        "1:9: 'shirt' is not a way to end: choose from hold, short, none; did you mean 'short'?",
    ),
    (
        "form: A  a",
        "1:10: 'a' is not a part of this chart: choose from A; did you mean 'A'?",
    ),
    (
        "form: A,Q",
        "1:9: 'Q' is not a part of this chart: choose from A",
    ),
    (
        "form: " + "A " * 5000,
        "1:8199: the form has more than 4096 bars: once round the form has at most 4096 bars; shorten it",
    ),
    (
        "form: ,",
        "1:7: the form names no part: write the names of parts in playing order, such as 'form: A A B'",
    ),
    (
        "G C D",
        "1:1: 'G C D' is not understood: above the parts stand lines such as 'key: E'; then parts such as [A], and bars between bar lines, such as | C | G7 |",
    ),
    (
        "key: " + "E" * 70,
        "1:6: 'EEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEE…' is 70 characters long: at most 60 are read here",
    ),
]

PARTS = [
    (
        "[A] 4\n| C |\n|: D :|",
        "1:5: part A has 2 bars as written and 3 as played, 4 were announced: mend its bars or the number behind [A]",
    ),
    (
        "[A] 1\n| C | D |",
        "1:5: part A has 2 bars, 1 was announced: mend its bars or the number behind [A]",
    ),
    (
        "[A B]\n| C |",
        "1:1: '[A B]' is not the name of a part: write between brackets a letter and then letters, figures, ' or -, 24 at most, such as [A] or [Intro]",
    ),
    (
        "[A\n| C |",
        "1:1: '[A' is not the name of a part: write between brackets a letter and then letters, figures, ' or -, 24 at most, such as [A] or [Intro]",
    ),
    (
        "[A]\n| C |\n [A]\n| D |",
        "3:2: part A stands a second time: it stands in line 1 already; rename one, or let the form say when it returns",
    ),
    (
        "| C |\n[A]\n| D |",
        "2:1: part A stands here, and the bars above the first part are part A: write their own name above line 1, such as [Intro]",
    ),
    (
        "[A] | C |",
        "1:5: '| C |' stands behind the name of part A: only its number of bars may stand there; write its bars on the next line",
    ),
    (
        "[A]\n[B]\n| C |",
        "1: part A has no bars: write them under its name between bar lines, such as | C | G7 |",
    ),
    (
        "[A]\n| (pickup 1/4) C |",
        "1: part A has no bars: write them under its name between bar lines, such as | C | G7 |",
    ),
    (
        "[A]\n C G\n| C |",
        "2:2: 'C G' is not understood: write bars between bar lines, such as | C | G7 |",
    ),
    (
        "[A]\ntitle: x\n| C |",
        "2:1: 'title' stands in a part: write it above the first part; a part has key, meter, tempo, style of its own",
    ),
    (
        "[A]\n| C |\nkey: E",
        "3:1: 'key' stands behind bars: write it above the first bar of its part; for a change inside begin a new part",
    ),
    (
        "[A]\n#4m7b5 | C |\n| C |",
        "2:1: '#4m7b5' at the start of a line can be a comment or a chord: for a comment put a space behind the hash, for a chord a bar line before it",
    ),
    (
        "[A]\n" + "|: C :|x99\n" * 42,
        "1: part A has 4158 bars as played: at most 4096 are played",
    ),
    (
        "[A]\n" + "| C | D | E |\n" * 1366,
        "1367: more than 4096 bars are written up to here: let repeats and the form say what returns",
    ),
    (
        "[A]\n|:C:|x40\n[B]\n" + "|:C:|x99\n" * 41,
        "3: the form has more than 4096 bars: once round the form has at most 4096 bars; shorten it",
    ),
]

BARS = [
    (
        "[A]\nkey: H\n| 1 | 4 |",
        "2:6: 'H' is not a key: write a key such as E, Bb, F#m, A mixolydian or D dorian",
    ),
    (
        "| Emaj77 |",
        "1:8: 'Emaj77' is not a chord: after 'E' expected a quality such as m, 7, m7, maj7, 6, dim, sus4 or 7b9; did you mean 'Emaj7'?",
    ),
    (
        "| C | H7 |",
        "1:7: 'H7' is not a chord: a chord begins with its root, a letter from A to G",
    ),
    (
        "| C\u200b |",
        "1:4: 'C�' holds a sign that cannot be seen (U+200B): delete it, or write the chord again",
    ),
    (
        "| CCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCC |",
        "1:3: 'CCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCC…' is 41 characters long: a chord has at most 40; put a space or a bar line between chords",
    ),
    (
        "| C | x3",
        "1:7: 'x3' is not a chord: how often bars are played stands behind the sign that closes the repeat, such as :|x3",
    ),
    (
        "| 1 | 4 |\n[B]\n| 5 |",
        "1:3: numbers and Roman numerals count from the key, and the chart names none: write it above the parts, such as 'key: E'",
    ),
    (
        "| E A B |",
        "1:3: 3 chords do not share 4 beats of 4/4 evenly: show with slashes how long each lasts, one sign a beat, such as | E / A B |",
    ),
    (
        "| C D E F G |",
        "1:3: 5 chords do not share 4 beats of 4/4 evenly: a bar of 4/4 takes at most one chord a beat",
    ),
    (
        "| C / D |",
        "1:3: a bar of 4/4 has 4 beats and this one 3 signs: where a slash stands, every chord and every slash is one beat, such as | C D / / |",
    ),
    (
        "| C / / / D |",
        "1:3: a bar of 4/4 has 4 beats and this one 5 signs: where a slash stands, every chord and every slash is one beat, such as | C D / / |",
    ),
    (
        "| / C / D |",
        "1:3: a slash stands before the first chord of its bar: begin the bar with a chord, and write a slash for each beat that it lasts on",
    ),
    (
        "| C | | D |",
        "1:7: nothing stands in the bar before this bar line: write a chord, N.C. for none, or % for the bar before",
    ),
    (
        '| "stop" | C |',
        "1:3: a bar has no chord: write a chord, N.C. for none, or % for the bar before",
    ),
    (
        "| % | C |",
        "1:3: % has no bar before it: write the chords: % repeats a bar of the same part",
    ),
    (
        "| C | (2/4) % |",
        "1:7: % stands in a bar of 2/4, and the bar before has 4/4: write the chords: % repeats a bar of the same meter",
    ),
    (
        "| C | % D |",
        "1:9: % does not stand alone in its bar: % repeats the whole bar before; where only some chords return write them",
    ),
    (
        "| C | C % |",
        "1:9: % does not stand alone in its bar: % repeats the whole bar before; where only some chords return write them",
    ),
    (
        '| C "stip" |',
        "1:5: 'stip' is not a direction: choose one from stop, break, hold, push, fill, walk, soft, loud, build; did you mean 'stop'?",
    ),
    (
        '| C "stop |',
        '1:5: the quote \'"stop \' is not closed: write a direction between two quotes, such as "stop"',
    ),
    (
        "| C (2/4) |",
        "1:5: '(2/4)' stands behind a chord: write it first in its bar, such as | (2/4) D |",
    ),
    (
        "| (2/5) C |",
        "1:4: '2/5' is not a meter: write a count from 1 to 32, a slash, and 2, 4, 8 or 16, such as 4/4 or 6/8",
    ),
    (
        "| (what is this) C |",
        "1:3: '(what is this)' stands in a bar: a bracket gives its bar another meter, such as (2/4), or makes it a pickup, such as (pickup 1/4); brackets of a chord stand close behind its letter",
    ),
    (
        "| C | (pickup 1/4) D |",
        "1:7: a pickup stands inside its part: a pickup is the first bar of a part, before any repeat opens; a short bar inside is written such as (2/4)",
    ),
    (
        "|: (pickup 1/4) D | C :|",
        "1:4: a pickup stands inside its part: a pickup is the first bar of a part, before any repeat opens; a short bar inside is written such as (2/4)",
    ),
    (
        "| (pickup 4/4) D | C |",
        "1:3: a pickup of 4/4 fills a bar of 4/4: a pickup is shorter than a bar, such as (pickup 1/4); for a whole bar take the bracket away",
    ),
]

REPEATS = [
    (
        "|: C |: D :|",
        "1:6: a repeat opens inside the repeat of line 1: close that one with :| first; a repeat cannot hold another",
    ),
    (
        "|: C | D |",
        "1:1: this repeat is not closed: write :| behind its last bar, or take the sign away",
    ),
    (
        "C :| :| D |",
        "1:6: ':|' closes a repeat without bars: write it once, behind the last bar to be repeated",
    ),
    (
        ":| C |",
        "1:1: ':|' closes a repeat without bars: write it once, behind the last bar to be repeated",
    ),
    (
        "|: C |1 D :|2 E :| :|",
        "1:20: ':|' closes a repeat without bars: write it once, behind the last bar to be repeated",
    ),
    (
        "C |:| D",
        "1:3: '|:|' is not a bar line: write |, |: to open a repeat, :| to close it, or :|: to close and open",
    ),
    (
        "C | D : E |",
        "1:7: ':' is not a bar line: write |, |: to open a repeat, :| to close it, or :|: to close and open",
    ),
    (
        "|: C :|x1",
        "1:9: a repeat is played x1: write a number from 2 to 99, such as :|x3",
    ),
    (
        "|: C :|x100",
        "1:9: a repeat is played x100: write a number from 2 to 99, such as :|x3",
    ),
    (
        "|: C |1 D :|x3",
        "1:14: x3 stands behind an ending: the endings say how often: write :| alone, and one more number to an ending, such as |1,2",
    ),
    (
        "|: C |1 D :|3 E |",
        "1:7: the endings of this repeat are 1 / 3: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |2 D :|1 E |",
        "1:7: the endings of this repeat are 2 / 1: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |2,1 D :|3 E |",
        "1:7: the endings of this repeat are 2,1 / 3: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |1 D :|1 E |",
        "1:7: the endings of this repeat are 1 / 1: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |1,3 D :|2 E |",
        "1:7: the endings of this repeat are 1,3 / 2: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |1,2 D :|",
        "1:7: the endings of this repeat are 1,2: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |1 D :| E |",
        "1:7: the endings of this repeat are 1: give every time round one ending, from 1 upwards and the last time in the last, such as |1 ... :|2 ...; for a chord put a space behind the bar line",
    ),
    (
        "|: C |1 D |2 E |",
        "1:12: ending '2' begins before the last ending is closed: write :| at the end of every ending but the last; for a chord put a space behind the bar line",
    ),
    (
        "|: C |1 :|2 E |",
        "1:7: ending '1' has no bars: write its chords behind the number; for a chord put a space behind the bar line",
    ),
    (
        "|1 C :|2 D |",
        "1:2: ending '1' has no bars before it: write what is played every time first; for a chord put a space behind the bar line",
    ),
]


@pytest.mark.parametrize("text, sentence", HEADERS)
def test_headers(text: str, sentence: str) -> None:
    """Every fault of the lines above the parts says where, what was found and what to do."""
    assert [sentence] == sentences(f"{text}\n[A]\n| C |")


@pytest.mark.parametrize("text, sentence", PARTS)
def test_parts(text: str, sentence: str) -> None:
    """Every fault of the parts says where, what was found and what to do."""
    assert [sentence] == sentences(text)


@pytest.mark.parametrize("text, sentence", BARS)
def test_bars(text: str, sentence: str) -> None:
    """Every fault of a bar says where, what was found and what to do."""
    assert [sentence] == sentences(text)


@pytest.mark.parametrize("text, sentence", REPEATS)
def test_repeats(text: str, sentence: str) -> None:
    """Of the faults of a part's repeats the first one is told, with what to do."""
    assert [sentence] == sentences(text)
