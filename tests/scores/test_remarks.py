"""Check that every loss is reported as a line and as a comment at its bar in the chart."""

from __future__ import annotations

import re
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
from cases import HEAD
from playing import only_tune

from backing.chart.read import read_chart
from backing.chart.tidy import tidy_text
from backing.chart.write import Comment, write_chart
from backing.scores.musicxml import read_musicxml
from backing.scores.to_chart import to_chart

if TYPE_CHECKING:
    from pathlib import Path

    from backing.scores.to_chart import Converted


def _text(found: Converted) -> str:
    """Return a chart's text with comments; check that it reads and tidies as without them."""
    text = write_chart(found.chart, found.comments)
    assert read_chart(text) == found.chart
    assert tidy_text(text) == text
    kept = [line for line in text.splitlines() if not line.startswith("#")]
    without = [line for line in kept if line]
    assert without == [line for line in write_chart(found.chart).splitlines() if line]
    return text


def _above(text: str, bars: str) -> list[str]:
    """Return the comments directly above a row of bars."""
    lines = text.splitlines()
    at = next(n for n, line in enumerate(lines) if re.sub(r"\s+", " ", line) == bars)
    start = at
    while start and lines[start - 1].startswith("#"):
        start -= 1
    return lines[start:at]


LONG = 'K:C\n"C"C4|"F"F4|"G"C4|"Am"C4|"Dm"D2D5/2|"E"E4|"F"F2F3/2|"G"G2G5/2|]'


def test_a_loss_stands_above_the_row_of_its_bar() -> None:
    """Each row has its own comments, equal ones merged; the lines have the same sentences."""
    found = to_chart(only_tune(HEAD + LONG))
    text = _text(found)

    assert _above(text, "| C | F | G | Am |") == []
    assert _above(text, "| Dm | E | F | G |") == [
        "# bars 5, 8 (line 6): a bar of 4/4 is too long: cut",
        "# bar 7 (line 6): a bar of 4/4 is too short: filled up",
    ]
    assert found.remarks == (
        "line 6: a bar of 4/4 is too long: cut",
        "line 6: a bar of 4/4 is too short: filled up",
    )


def test_bars_are_counted_without_the_pickup() -> None:
    """A comment on the pickup names it; one on an ending is above the ending's row."""
    body = 'K:C\n|:"G"G }|"C"C4 }|"F"F4|1 "G"G4 }:|2 "C"C3 }|]'
    text = _text(to_chart(only_tune(HEAD + body)))

    expected = "the sign '}' is ignored"
    assert [line for line in text.splitlines() if line.startswith("#")] == [
        f"# pickup and bar 1 (line 6): {expected}",
        f"# bar 3 (line 6): {expected}",
        f"# bar 4 (line 6): {expected}",
    ]


def test_a_loss_without_a_place_stands_above_the_parts() -> None:
    """A loss without a bar is above the parts, one in a head field with its line."""
    text = _text(to_chart(only_tune("X:1\nT:t\nM:77/3\nP:AX\nK:C\nP:A\nC8|]\n")))

    first, *_ = text.split("[A]")
    assert "# line 3: '77/3' is not a meter that can be played: ignored" in first
    assert "# P: names parts that do not exist (X): left out" in first


def test_a_part_that_returns_tells_its_losses_once() -> None:
    """A comment on a bar that D.C. repeats is at the written bar."""
    body = 'K:C\n"C"C4|"F"D4 }!fine!|"G"E4|"C"F4!D.C.!|]'
    text = _text(to_chart(only_tune(HEAD + body)))

    assert sum("'}'" in line for line in text.splitlines()) == 1


MEASURE = (
    "<measure number='{n}'><attributes><divisions>1</divisions><time><beats>4</beats>"
    "<beat-type>4</beat-type></time></attributes>{harmony}<note><pitch><step>C</step>"
    "<octave>4</octave></pitch><duration>4</duration></note></measure>"
)
HARMONY = "<harmony><root><root-step>C</root-step></root><kind{text}>{kind}</kind></harmony>"


def test_losses_of_a_score_stand_at_their_measures() -> None:
    """A remark on a MusicXML measure is a comment at its bar."""
    strange = HARMONY.format(text="", kind="Tristan")
    plain = HARMONY.format(text="", kind="major")
    measures = "".join(
        MEASURE.format(n=n, harmony=strange if n in (2, 6) else plain) for n in range(1, 9)
    )
    score = (
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name/></score-part>"
        f"</part-list><part id='P1'>{measures}</part></score-partwise>"
    )
    found = to_chart(read_musicxml(score.encode()))
    text = _text(found)

    comments = [line for line in text.splitlines() if line.startswith("# bar")]
    assert [line.split(":")[0] for line in comments] == [
        "# bar 2 (measure 2)",
        "# bar 6 (measure 6)",
    ]
    (line,) = (each for each in found.remarks if each.startswith("measures 2, 6: "))
    assert all(each.split(": ", 1)[1] == line.split(": ", 1)[1] for each in comments)


@pytest.mark.parametrize("words", ["a\nb", "1 x", "| C |", "  ", "\x00", "key: G", "[A]"])
def test_a_comment_is_one_line_that_nobody_reads(words: str) -> None:
    """Any text of a comment leaves the chart unchanged."""
    chart = to_chart(only_tune(HEAD + "K:C\nC4|D4|E4|F4|G4|]")).chart
    comments = [Comment(words), Comment(words, "A", 0), Comment(words, "A", 4, "line 9")]

    text = write_chart(chart, comments)

    assert read_chart(text) == chart
    assert len(text.splitlines()) == len(write_chart(chart).splitlines()) + 4


def test_the_command_tells_both_ways(tmp_path: Path) -> None:
    """`backing convert` prints every remark and writes it into the chart."""
    (tmp_path / "t.abc").write_text(HEAD + LONG)
    done = subprocess.run(
        [sys.executable, "-m", "backing", "convert", "t.abc", "t.chart"],
        cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip

    assert done.returncode == 0
    text = (tmp_path / "t.chart").read_text()
    for sentence in ("a bar of 4/4 is too long: cut", "a bar of 4/4 is too short: filled up"):
        assert f"line 6: {sentence}" in done.stderr
        assert sentence in text


@pytest.mark.parametrize(
    "body, reported",
    [
        ("K:C\nC4&E4|D4|]", "line 6: the notes after & in this bar are left out"),
        ("K:C\nC4|D0D4|]", "line 6: a note without length is left out"),
        ("K:C\n{cdefgabcdefgabcdef}C|]",
         "line 6: more than 16 grace notes before a note: the rest is cut"),
        ("K:C\n{cde C4|\nD4|]", "line 6: a brace is not closed: the rest of its line is left out"),
        ("K:C\nC4|Z300|]", "line 6: a rest of 300 bars is shortened to 256"),
        ("K:C\nC4|(99CDE|]", "line 6: '(99' is not a tuplet: its notes keep their length"),
        ("K:C\nC4|[CE|D4|]", "line 6: the sign '[' is ignored"),
        ('K:C\nV:1\nC4|\nV:2\n"G"E4|', None),
        ('K:C\nV:1\nC4|\nV:2\nE4|', "the notes of voice 2 are left out"),
        ('K:C\nV:1\n"C"C4|\nV:2\n"G"E4|', "the notes and chord signs of voice 2 are left out"),
        ('K:C\nV:1\nC4|D4|\nV:2\n"G"E4|', "the notes and chord signs of voice 2 are left out"),
        ('K:C\nC4|"/F#"D4|]', "line 6: '/F#' has no chord before it: left out"),
        ("K:C\nC4!D.C.!|D4!D.C.!|]", "line 6: D.C. is ignored: an earlier jump is written out"),
        ("K:C\n!mf!C4|!<(!D4!<)!|+ff+E4]", "dynamics are left out"),
        ("K:C\nC4|!diminuendo(!D4!diminuendo)!|]", "dynamics are left out"),
        ("K:C\nC4|D4!D.S.!|]", "line 6: there is no segno: D.S. goes back to the start"),
        ("K:C\nC4|[Q:1/4=60]D4|]",
         "line 6: a tempo change inside a part is left out: a part has one tempo"),
        ("K:C\nC2-[CE]2|D4|]",
         "line 6: notes of one voice overlap: each ends where the next begins"),
        ('K:C\nC4|"slowly"D4|]', "line 6: 'slowly' is not a chord: read as a remark to the player"),
        ('K:C\nC4|"Solm"D4|]', "line 6: 'Solm' is not a chord: read as a remark to the player"),
        ('K:C\nC4|"*Am*"D4|]', "line 6: '*Am*' is not a chord: read as a remark to the player"),
        ('K:C\nC4|"^slowly"D4|]', "line 6: the words 'slowly' are left out"),
        ('K:C\nC4|"@-1,20 solo"D4|]', "line 6: the words 'solo' are left out"),
        ("K:C\nC4|D4|]\nw: one two", "lyrics are left out"),
        ("K:C\nC4|D4|]\nW: one two", "lyrics are left out"),
        ('K:C\nC4|D4|]\ns: "C" "G"', "the signs in lines of symbols (s:) are left out"),
        ("words | of text\nK:C\nC4|D4|]", "line 5: a line of text before K: is ignored"),
        ("C4|[r:remark]D4|]", "line 5: there is no K: before the music: read as C"),
        ("C4|+fermata+D4|]", "line 5: there is no K: before the music: read as C"),
    ],
)  # fmt: skip
def test_what_abc_says_and_a_chart_cannot(body: str, reported: str | None) -> None:
    """Everything left out of a tune is reported."""
    found = to_chart(only_tune(HEAD + body))
    text = _text(found)

    reported = reported or "the notes of voice 2 are left out"
    assert reported in found.remarks
    assert reported.split(": ", 1)[-1] in text


def test_a_bar_of_rests_may_begin_a_line() -> None:
    """`Z :|` is a rest and a bar line, not a field."""
    assert len(only_tune(HEAD + "K:C\n|:C4|\nZ :|:D4|\nz4:|E4|]").bars) == 5
