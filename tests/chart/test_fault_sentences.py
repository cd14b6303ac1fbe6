"""The sentence of every fault of a chart: its place, what was found and what to do."""

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
        "1:1: there is no header 'tempu:': write 'tempo: 200', or choose from title, by, key, meter, tempo, style, form, count-in, intro, ending, melody, note",
    ),
    (
        "key: E\n KEY: A",
        "2:2: 'key' is there twice: the first is in line 1; delete one of the two",
    ),
    (
        "title:  ",
        "1:1: 'title' has no value: write one after the colon, or delete the line",
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
        "1:8: 'Two Beat' is not the name of a style: write lower-case letters, digits and hyphens, such as 'two-beat'",
    ),
    (
        "style: ??",
        "1:8: '??' is not the name of a style: write lower-case letters, digits and hyphens",
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
        "1:9: 'shirt' is not an ending: choose from hold, short, none, tag, ritard, two-hit, fade; did you mean 'short'?",
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
        "1:8199: the form has more than 4096 bars: write at most 4096 bars once round",
    ),
    (
        "form: ,",
        "1:7: the form names no part: write the names of parts in playing order, such as 'form: A A B'",
    ),
    (
        "G C D",
        "1:1: 'G C D' is not understood: write headers such as 'key: E' first, then parts such as [A], and bars between bar lines, such as | C | G7 |",
    ),
    (
        "key: " + "E" * 70,
        "1:6: 'EEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEEE…' is 70 characters long: write at most 60",
    ),
    (
        "key: G # sharp",
        "1:8: '# sharp' comes after a value: write a comment on a line of its own that begins with #",
    ),
    (
        "form: A A # twice",
        "1:11: '# twice' comes after a value: write a comment on a line of its own that begins with #",
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
        "1:9: 'x2' is not a part of this chart: choose from A; write each part as often as it is played, such as A A",
    ),
    (
        "form: A3",
        "1:7: 'A3' is not a part of this chart: choose from A; write each part as often as it is played, such as A A A",
    ),
    (
        "form: A*2",
        "1:7: 'A*2' is not a part of this chart: choose from A; write each part as often as it is played, such as A A",
    ),
    (
        "form: A(x9)",
        "1:7: 'A(x9)' is not a part of this chart: choose from A; write each part as often as it is played, such as A A A A",
    ),
]

PARTS = [
    (
        "[A] 4\n| C |\n|: D :|",
        "1:5: you wrote [A] 4, but the part has 2 bars as written and 3 as played: correct its bars or the number",
    ),
    (
        "[A] 1\n| C | D |",
        "1:5: you wrote [A] 1, but the part has 2 bars: correct its bars or the number",
    ),
    (
        "[A B]\n| C |",
        "1:1: '[A B]' is not the name of a part: write a name in brackets, such as [A] or [Intro]: a letter, then letters, digits, ' or -, at most 24 characters",
    ),
    (
        "[A\n| C |",
        "1:1: '[A' is not the name of a part: write a name in brackets, such as [A] or [Intro]: a letter, then letters, digits, ' or -, at most 24 characters",
    ),
    (
        "[A]\n| C |\n [A]\n| D |",
        "3:2: part A is there twice: the first is in line 1; rename one, or use the form to repeat it",
    ),
    (
        "| C |\n[A]\n| D |",
        "2:1: part A is there twice: bars without a name are part A; write a name above line 1",
    ),
    (
        "[A] | C |",
        "1:5: '| C |' comes after the name of part A: only its number of bars is allowed there; write its bars on the next line",
    ),
    (
        "[A]\n[B]\n| C |",
        "1: part A has no bars: write them below its name between bar lines, such as | C | G7 |",
    ),
    (
        "[A]\n| (pickup 1/4) C |",
        "1: part A has no bars: write them below its name between bar lines, such as | C | G7 |",
    ),
    (
        "[A]\n C G\n| C |",
        "2:2: 'C G' is not understood: write bars between bar lines, such as | C | G7 |",
    ),
    (
        "[A]\ntitle: x\n| C |",
        "2:1: 'title' is in a part: write it above the first part; a part can only have key, meter, tempo, style",
    ),
    (
        "[A]\n| C |\nkey: E",
        "3:1: 'key' comes after bars: write it above the first bar of its part, or begin a new part for the change",
    ),
    (
        "[A]\n#4m7b5 | C |\n| C |",
        "2:1: '#4m7b5' at the start of a line can be a comment or a chord: put a space after the # of a comment, or a bar line before a chord",
    ),
    (
        "[A]\n" + "|: C :|x99\n" * 42,
        "1: part A has 4158 bars as played: at most 4096 are allowed",
    ),
    (
        "[A]\n" + "| C | D | E |\n" * 1366,
        "1367: more than 4096 bars are written up to here: use repeats and the form to repeat bars",
    ),
    (
        "[A]\n|:C:|x40\n[B]\n" + "|:C:|x99\n" * 41,
        "3: the form has more than 4096 bars: write at most 4096 bars once round",
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
        "1:1: '[A 8]' is not the name of a part: write the number of bars after the bracket: [A] 8; or write a name without a space: [A-8]",
    ),
    (
        "[A] 8 bars\n| C |",
        "1:5: '8 bars' comes after the name of part A: only its number of bars is allowed there; write [A] 8",
    ),
    (
        "[A] x2\n| C |",
        "1:5: 'x2' comes after the name of part A: only its number of bars is allowed there; to repeat the part, write above the parts a form, such as form: A A",
    ),
    (
        "[A] 8 # bars\n| C |",
        "1:5: '8 # bars' comes after the name of part A: only its number of bars is allowed there; write a comment on a line of its own that begins with #",
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
        "1:4: 'C�' has an invisible character (U+200B): delete it, or write the chord again",
    ),
    (
        "| CCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCC |",
        "1:3: 'CCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCCC…' is 41 characters long: a chord has at most 40; put a space or a bar line between chords",
    ),
    (
        "| C | x3",
        "1:7: 'x3' is not a chord: write how often bars are played after the sign that closes the repeat, such as :|x3",
    ),
    (
        "| 1 | 4 |\n[B]\n| 5 |",
        "1:3: numbers and Roman numerals need a key, but the chart has none: write one above the parts, such as 'key: E'",
    ),
    (
        "| E A B |",
        "1:3: 3 chords do not divide the 4 beats of 4/4 evenly: show how long each lasts with slashes, one for each further beat, such as | E / A B |, or with lengths, such as | E:1/2 A:1/4 B |",
    ),
    (
        "| C D E F G |",
        "1:3: 5 chords do not divide the 4 beats of 4/4 evenly: without lengths a bar of 4/4 takes one chord a beat; write lengths, such as | C:1/4 D E F:1/8 G |, move some chords to another bar, or give this bar its own meter, (5/4)",
    ),
    (
        "| C / D |",
        "1:3: a bar of 4/4 has 4 beats, but this one has 3 chords and slashes: with slashes, every chord and every slash is one beat, such as | C / D / |",
    ),
    (
        "| C / / / D |",
        "1:3: a bar of 4/4 has 4 beats, but this one has 5 chords and slashes: with slashes, every chord and every slash is one beat, such as | C / / D |",
    ),
    (
        "| / C / D |",
        "1:3: a slash comes before the first chord of its bar: begin the bar with a chord, then write a slash for each further beat",
    ),
    (
        "| C | | D |",
        "1:7: the bar before this bar line is empty: write a chord, N.C. for none, or % to repeat the bar before",
    ),
    (
        '| "stop" | C |',
        "1:3: this bar has no chord: write a chord, N.C. for none, or % to repeat the bar before",
    ),
    (
        "| % | C |",
        "1:3: there is no bar before %: write the chords: % repeats a bar of the same part",
    ),
    (
        "| C | (2/4) % |",
        "1:7: % is in a bar of 2/4, but the bar before is in 4/4: write the chords: % repeats a bar of the same meter",
    ),
    (
        "| C | % D |",
        "1:9: % is not alone in its bar: % repeats the whole bar before; to repeat only some chords, write them",
    ),
    (
        "| C | C % |",
        "1:9: % is not alone in its bar: % repeats the whole bar before; to repeat only some chords, write them",
    ),
    (
        "| C | D.C. al Fine |",
        "1:7: 'D.C.' is not a chord: a chart has no jumps; write the order of the parts above them, such as form: A B A",
    ),
    (
        "| C | To Coda |",
        "1:7: 'To' is not a chord: a chart has no jumps; write the order of the parts above them, such as form: A B A",
    ),
    (
        "| C Fine |",
        "1:5: 'Fine' is not a chord: a chart has no jumps; write the order of the parts above them, such as form: A B A",
    ),
    (
        '| C "stip" |',
        "1:5: 'stip' is not a direction: choose one from stop, break, hold, push, fill, walk, soft, loud, build; did you mean 'stop'?",
    ),
    (
        '| C "stop |',
        '1:5: the quote \'"stop \' is not closed: write a direction in straight double quotes, such as "stop"',
    ),
    (
        "| C (2/4) |",
        "1:5: '(2/4)' comes after a chord: write it first in its bar, such as | (2/4) D |",
    ),
    (
        "| (2/5) C |",
        "1:4: '2/5' is not a meter: write a count from 1 to 32, a slash, and 2, 4, 8 or 16, such as 4/4 or 6/8",
    ),
    (
        "| (what is this) C |",
        "1:3: '(what is this)' is neither a meter nor a pickup: write in brackets the meter of a bar, such as (2/4), or a pickup, such as (pickup 1/4); write no space between a chord and its bracket",
    ),
    (
        "| C | (pickup 1/4) D |",
        "1:7: this pickup is not at the start of its part: a pickup is the first bar of a part, before any repeat opens; write a short bar elsewhere with its meter, such as (2/4)",
    ),
    (
        "|: (pickup 1/4) D | C :|",
        "1:4: this pickup is not at the start of its part: a pickup is the first bar of a part, before any repeat opens; write a short bar elsewhere with its meter, such as (2/4)",
    ),
    (
        "| (pickup 4/4) D | C |",
        "1:3: a pickup of 4/4 fills a bar of 4/4: a pickup is shorter than a bar, such as (pickup 1/4); for a whole bar delete the bracket",
    ),
    (
        "| C | D | # turnaround",
        "1:11: '# turnaround' comes after bars: write a comment on a line of its own that begins with #",
    ),
    (
        "| C #slow | D | E",
        "1:5: '#slow | D | E' comes after bars: write a comment on a line of its own that begins with #",
    ),
    (
        "key: G\n| 1 | 8 |",
        "2:7: '8' is not a chord: a degree of the key is 1 to 7",
    ),
    (
        "key: G\n| 1/8 |",
        "2:5: '1/8' is not a chord: after '1' and its quality expected a bass: a degree of the key from 1 to 7, such as 3 or b7",
    ),
    (
        "| g |",
        "1:3: 'g' is not a chord: a chord begins with its root, a letter from A to G; did you mean 'G'?",
    ),
    (
        "| C - - - |",
        "1:5: '-' is not a chord: write / for one more beat of a chord, such as | E / A B7 |, and % to repeat a bar",
    ),
    (
        "| C . D . |",
        "1:5: '.' is not a chord: write / for one more beat of a chord, such as | E / A B7 |, and % to repeat a bar",
    ),
    (
        "| C / D / | C / / D E |",
        "1:13: a bar of 4/4 has 4 beats, but this one has 5 chords and slashes: with slashes, every chord and every slash is one beat, such as | C / D E |",
    ),
    (
        "meter: 6/4\n| C D / E |",
        "2:3: a bar of 6/4 has 6 beats, but this one has 4 chords and slashes: with slashes, every chord and every slash is one beat, such as | C / D / E / |",
    ),
    (
        "meter: 6/8\n| C D E |",
        "2:3: 3 chords do not divide the 2 beats of 6/8 evenly: without lengths a bar of 6/8 takes one chord a beat; write lengths, such as | C:3/8 D:3/16 E |, move some chords to another bar, or give this bar its own meter, (9/8)",
    ),
    (
        "meter: 5/8\n| C D E F G A |",
        "2:3: 6 chords do not divide the 5 beats of 5/8 evenly: without lengths a bar of 5/8 takes one chord a beat; write lengths, such as | C:1/8 D E F G:1/16 A |, or move some chords to another bar",
    ),
    (
        "| “stop” C |",
        '1:3: “stop” is not a chord: write directions in straight double quotes: "stop"',
    ),
    (
        "| 'stop' C |",
        "1:3: 'stop' is not a chord: write directions in straight double quotes: \"stop\"",
    ),
    (
        "| C ‘Hold’ |",
        '1:5: ‘Hold’ is not a chord: write directions in straight double quotes: "hold"',
    ),
    (
        "| C stop |",
        "1:5: 'stop' is not a chord: write directions in straight double quotes: \"stop\"",
    ),
    (
        "| C“stop” |",
        '1:3: C“stop” is not a chord: write directions in straight double quotes, such as "stop"',
    ),
    (
        '| C "soft push" |',
        '1:5: \'soft push\' is more than one direction: write each in its own quotes: "soft" "push"',
    ),
    (
        '| "stop" C "hold" D |',
        '1:12: "stop" and "hold" contradict each other: choose one of stop, hold and break for each chord',
    ),
    (
        '| "break" "push" C |',
        '1:11: "break" and "push" contradict each other: choose one of push and break for each chord',
    ),
    (
        '| C "stop" "stop" |',
        '1:12: "stop" is there twice: delete one of the two',
    ),
    (
        '| C | "fill" "fill" % |',
        '1:14: "fill" is there twice: delete one of the two',
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
        "1:6: a repeat opens inside the repeat that opens in line 1: close that one with :| first; a repeat cannot contain another",
    ),
    (
        "|: C | D |",
        "1:1: this repeat is not closed: write :| after its last bar, or delete this sign",
    ),
    (
        "C :| :| D |",
        "1:6: ':|' closes a repeat without bars: write it once, after the last bar of the repeat",
    ),
    (
        ":| C |",
        "1:1: ':|' closes a repeat without bars: write it once, after the last bar of the repeat",
    ),
    (
        "|: C |1 D :|2 E :| :|",
        "1:20: ':|' closes a repeat without bars: write it once, after the last bar of the repeat",
    ),
    (
        "C |:| D",
        "1:3: '|:|' is not a bar line: write |, |: to open a repeat, :| to close it, or :|: to close one and open another",
    ),
    (
        "C | D : E |",
        "1:7: ':' is not a bar line: write |, |: to open a repeat, :| to close it, or :|: to close one and open another; write a chord's length right after its colon, such as Em:1/4",
    ),
    (
        "|: C :|x1",
        "1:9: a repeat cannot be played x1: write a number from 2 to 99, such as :|x3",
    ),
    (
        "|: C :|x100",
        "1:9: a repeat cannot be played x100: write a number from 2 to 99, such as :|x3",
    ),
    (
        "|: C |1 D :|x3",
        "1:14: x3 comes after an ending: write :| alone, and number the ending for each time that it is played, such as |1,2",
    ),
    (
        "|: C |1 D :|3 E |",
        "1:7: the endings of this repeat are 1 / 3: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |2 D :|1 E |",
        "1:7: the endings of this repeat are 2 / 1: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |2,1 D :|3 E |",
        "1:7: the endings of this repeat are 2,1 / 3: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |1 D :|1 E |",
        "1:7: the endings of this repeat are 1 / 1: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |1,3 D :|2 E |",
        "1:7: the endings of this repeat are 1,3 / 2: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |1,2 D :|",
        "1:7: the endings of this repeat are 1,2: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |1 D :| E |",
        "1:7: the endings of this repeat are 1: number every time round once, from 1 up, the highest in the last ending, such as |1 ... :|2 ...; if it is a chord, put a space before it",
    ),
    (
        "|: C |1 D |2 E |",
        "1:12: ending '2' begins inside the ending before it: write :| at the end of every ending but the last; if it is a chord, put a space before it",
    ),
    (
        "|: C |1 :|2 E |",
        "1:7: ending '1' has no bars: write its chords after the number; if it is a chord, put a space before it",
    ),
    (
        "|1 C :|2 D |",
        "1:2: ending '1' has no bars before it: first write the bars that are played every time; if it is a chord, put a space before it",
    ),
    (
        "|: C [1 D :|",
        "1:6: '[1' is not a chord: write the number of an ending right after its bar line, such as |1 or |1,2",
    ),
    (
        "|: C |\n[1 D :|2 E |",
        "2:1: '[1 D :|2 E |' is not the name of a part: write the number of an ending right after its bar line, such as |1 or |1,2",
    ),
    (
        "|: C :| 3x",
        "1:9: '3x' is not a chord: write how often bars are played after the sign that closes the repeat, such as :|x3",
    ),
    (
        "|: C |1. D :|",
        "1:7: '1.' is not a chord: write the number of an ending right after its bar line, such as |1 or |1,2",
    ),
]


@pytest.mark.parametrize("text, sentence", HEADERS)
def test_headers(text: str, sentence: str) -> None:
    """Every fault of a header has its place, what was found and what to do."""
    assert [sentence] == sentences(f"{text}\n[A]\n| C |")


@pytest.mark.parametrize("text, sentence", PARTS)
def test_parts(text: str, sentence: str) -> None:
    """Every fault of a part has its place, what was found and what to do."""
    assert [sentence] == sentences(text)


@pytest.mark.parametrize("text, sentence", BARS)
def test_bars(text: str, sentence: str) -> None:
    """Every fault of a bar has its place, what was found and what to do."""
    assert [sentence] == sentences(text)


@pytest.mark.parametrize("text, sentence", REPEATS)
def test_repeats(text: str, sentence: str) -> None:
    """The first fault in the repeats of a part is reported."""
    assert [sentence] == sentences(text)
