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
        "1:1: there is no line 'tempu:': write 'tempo: 200', or choose from title, by, key, meter, tempo, style, form, count-in, intro, ending, melody, note",
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
        "1:7: 'H' is not a key: write a key such as E, Bb, F#m, A mixolydian or D dorian; did you mean 'B'?",
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
        "1:8: tempo '900' is 900 quarter notes a minute: the band plays from 20 to 500 quarter notes a minute",
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
        "intro: first 4",
        "1:8: 'first 4' is not an intro: write kick-off, or last and a number of bars from 1 to "
        "16, such as last 4",
    ),
    (
        "intro: last 17",
        "1:8: 'last 17' is not an intro: write kick-off, or last and a number of bars from 1 to "
        "16, such as last 4",
    ),
    (
        "ending: shirt",
        "1:9: 'shirt' is not a way to end: choose from hold, short, none, tag, ritard, "
        "two-hit, fade; did you mean 'short'?",
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
    (
        "key: G # sharp",
        "1:8: '# sharp' stands behind a value: a comment stands on a line of its own, which begins with a hash",
    ),
    (
        "form: A A # twice",
        "1:11: '# twice' stands behind a value: a comment stands on a line of its own, which begins with a hash",
    ),
    (
        "tempo: 120 bpm",
        "1:8: '120 bpm' is not a tempo: write 120",
    ),
    (
        "tempo: 120-140",
        "1:8: '120-140' is not a tempo: write 120",
    ),
    (
        "tempo: ♩ = 96.",
        "1:8: '♩ = 96.' is not a tempo: write 96",
    ),
    (
        "tempo: Half 116",
        "1:8: 'Half 116' is not a tempo: write half=116",
    ),
    (
        "form: AAA",
        "1:7: 'AAA' is not a part of this chart: choose from A; put spaces between the parts: A A A",
    ),
    (
        "form: a-A",
        "1:7: 'a-A' is not a part of this chart: choose from A; put spaces between the parts: A A",
    ),
    (
        "form: A x2",
        "1:9: 'x2' is not a part of this chart: choose from A; write a part as often as it is played, such as A A",
    ),
    (
        "form: A3",
        "1:7: 'A3' is not a part of this chart: choose from A; write a part as often as it is played, such as A A A",
    ),
    (
        "form: A*2",
        "1:7: 'A*2' is not a part of this chart: choose from A; write a part as often as it is played, such as A A",
    ),
    (
        "form: A(x9)",
        "1:7: 'A(x9)' is not a part of this chart: choose from A; write a part as often as it is played, such as A A A A",
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
    (
        "Verse:\n| C |",
        "1:1: 'Verse:' is not the name of a part: write it in brackets on a line of its own: [Verse]",
    ),
    (
        "B: 8\n| C |",
        "1:1: 'B:' is not the name of a part: write it in brackets on a line of its own: [B]",
    ),
    (
        "form: A\nA: | C | D |",
        "2:1: 'A:' is not the name of a part: write it in brackets on a line of its own: [A]",
    ),
    (
        "[A 8]\n| C |",
        "1:1: '[A 8]' is not the name of a part: the number of bars stands behind the bracket: [A] 8; a name has no space: [A-8]",
    ),
    (
        "[A] 8 bars\n| C |",
        "1:5: '8 bars' stands behind the name of part A: only its number of bars may stand there; write [A] 8",
    ),
    (
        "[A] x2\n| C |",
        "1:5: 'x2' stands behind the name of part A: only its number of bars may stand there; a line above the parts says how often parts are played, such as form: A A",
    ),
    (
        "[A] 8 # bars\n| C |",
        "1:5: '8 # bars' stands behind the name of part A: only its number of bars may stand there; a comment stands on a line of its own, which begins with a hash",
    ),
]

BARS = [
    (
        "[A]\nkey: H\n| 1 | 4 |",
        "2:6: 'H' is not a key: write a key such as E, Bb, F#m, A mixolydian or D dorian; did you mean 'B'?",
    ),
    (
        "| Emaj77 |",
        "1:8: 'Emaj77' is not a chord: after 'E' expected a quality such as m, 7, m7, maj7, 6, dim, sus4 or 7b9; did you mean 'Emaj7'?",
    ),
    (
        "| C | H7 |",
        "1:7: 'H7' is not a chord: a chord begins with its root, a letter from A to G; did you mean 'B7'?",
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
        "1:3: 3 chords do not share 4 beats of 4/4 evenly: show with slashes how long each lasts, one sign a beat, such as | E / A B |, or with lengths, such as | E:1/2 A:1/4 B |",
    ),
    (
        "| C D E F G |",
        "1:3: 5 chords do not share 4 beats of 4/4 evenly: a bar of 4/4 takes one chord a beat where none has a length: write lengths, such as | C:1/4 D E F:1/8 G |, write the others in another bar, or give this one its own meter, (5/4)",
    ),
    (
        "| C / D |",
        "1:3: a bar of 4/4 has 4 beats and this one 3 signs: where a slash stands, every chord and every slash is one beat, such as | C / D / |",
    ),
    (
        "| C / / / D |",
        "1:3: a bar of 4/4 has 4 beats and this one 5 signs: where a slash stands, every chord and every slash is one beat, such as | C / / D |",
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
        "| C | D.C. al Fine |",
        "1:7: 'D.C.' is not a chord: a chart has no jumps; a line above the parts says what is played when, such as form: A B A",
    ),
    (
        "| C | To Coda |",
        "1:7: 'To' is not a chord: a chart has no jumps; a line above the parts says what is played when, such as form: A B A",
    ),
    (
        "| C Fine |",
        "1:5: 'Fine' is not a chord: a chart has no jumps; a line above the parts says what is played when, such as form: A B A",
    ),
    (
        '| C "stip" |',
        "1:5: 'stip' is not a direction: choose one from stop, break, hold, push, fill, walk, soft, loud, build; did you mean 'stop'?",
    ),
    (
        '| C "stop |',
        '1:5: the quote \'"stop \' is not closed: write a direction between two straight double quotes, such as "stop"',
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
    (
        "| C | D | # turnaround",
        "1:11: '# turnaround' stands behind bars: a comment stands on a line of its own, which begins with a hash",
    ),
    (
        "| C #slow | D | E",
        "1:5: '#slow | D | E' stands behind bars: a comment stands on a line of its own, which begins with a hash",
    ),
    (
        "key: G\n| 1 | 8 |",
        "2:7: '8' is not a chord: a degree of the key is 1 to 7",
    ),
    (
        "key: G\n| 1/8 |",
        "2:5: '1/8' is not a chord: after '1' and its quality expected a degree of the key from 1 to 7 behind the slash, such as 3 or b7",
    ),
    (
        "| g |",
        "1:3: 'g' is not a chord: a chord begins with its root, a letter from A to G; did you mean 'G'?",
    ),
    (
        "| C - - - |",
        "1:5: '-' is not a chord: one more beat of a chord is written /, such as | E / A B7 |; the bar before once more %",
    ),
    (
        "| C . D . |",
        "1:5: '.' is not a chord: one more beat of a chord is written /, such as | E / A B7 |; the bar before once more %",
    ),
    (
        "| C / D / | C / / D E |",
        "1:13: a bar of 4/4 has 4 beats and this one 5 signs: where a slash stands, every chord and every slash is one beat, such as | C / D E |",
    ),
    (
        "meter: 6/4\n| C D / E |",
        "2:3: a bar of 6/4 has 6 beats and this one 4 signs: where a slash stands, every chord and every slash is one beat, such as | C / D / E / |",
    ),
    (
        "meter: 6/8\n| C D E |",
        "2:3: 3 chords do not share 2 beats of 6/8 evenly: a bar of 6/8 takes one chord a beat where none has a length: write lengths, such as | C:3/8 D:3/16 E |, write the others in another bar, or give this one its own meter, (9/8)",
    ),
    (
        "meter: 5/8\n| C D E F G A |",
        "2:3: 6 chords do not share 5 beats of 5/8 evenly: a bar of 5/8 takes one chord a beat where none has a length: write lengths, such as | C:1/8 D E F G:1/16 A |, or write the others in another bar",
    ),
    (
        "| “stop” C |",
        '1:3: “stop” is not a chord: directions stand in straight double quotes: write "stop"',
    ),
    (
        "| 'stop' C |",
        "1:3: 'stop' is not a chord: directions stand in straight double quotes: write \"stop\"",
    ),
    (
        "| C ‘Hold’ |",
        '1:5: ‘Hold’ is not a chord: directions stand in straight double quotes: write "hold"',
    ),
    (
        "| C stop |",
        "1:5: 'stop' is not a chord: directions stand in straight double quotes: write \"stop\"",
    ),
    (
        "| C“stop” |",
        '1:3: C“stop” is not a chord: directions stand in straight double quotes, such as "stop"',
    ),
    (
        '| C "soft push" |',
        '1:5: \'soft push\' is more than one direction: write each between its own quotes: "soft" "push"',
    ),
    (
        '| "stop" C "hold" D |',
        '1:12: "stop" and "hold" contradict each other: choose one of stop, hold and break for a chord',
    ),
    (
        '| "break" "push" C |',
        '1:11: "break" and "push" contradict each other: choose one of push and break for a chord',
    ),
    (
        '| C "stop" "stop" |',
        '1:12: "stop" stands a second time: a direction is given once for a bar or a chord: delete one of the two',
    ),
    (
        '| C | "fill" "fill" % |',
        '1:14: "fill" stands a second time: a direction is given once for a bar or a chord: delete one of the two',
    ),
    (
        "(pickup) D | C |",
        "1:1: '(pickup)' does not say how long it is: write its length as a meter, such as (pickup 1/4) for one quarter note",
    ),
    (
        "(pickup 1) D | C |",
        "1:1: '(pickup 1)' does not say how long it is: write its length as a meter, such as (pickup 1/4) for one quarter note",
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
        "1:7: ':' is not a bar line: write |, |: to open a repeat, :| to close it, or :|: to close and open; a chord's length stands close behind its colon, such as Em:1/4",
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
    (
        "|: C [1 D :|",
        "1:6: '[1' is not a chord: the number of an ending stands close behind its bar line, such as |1 or |1,2",
    ),
    (
        "|: C |\n[1 D :|2 E |",
        "2:1: '[1 D :|2 E |' is not the name of a part: the number of an ending stands close behind its bar line, such as |1 or |1,2",
    ),
    (
        "|: C :| 3x",
        "1:9: '3x' is not a chord: how often bars are played stands behind the sign that closes the repeat, such as :|x3",
    ),
    (
        "|: C |1. D :|",
        "1:7: '1.' is not a chord: the number of an ending stands close behind its bar line, such as |1 or |1,2",
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
