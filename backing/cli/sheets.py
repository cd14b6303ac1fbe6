"""Making sheets and songbooks from what the command line wishes."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from backing.cli.options import quarter_bpm
from backing.cli.report import named, print_error, print_remark
from backing.cli.together import ended_by_signals
from backing.errors import BackingError, OutputError, SettingsError
from backing.out.sheet.look import NONE, Look, Sheet
from backing.reading import is_folder
from backing.timing import practice_grid

if TYPE_CHECKING:
    from backing.chart.model import Chart
    from backing.chart.write import Spell
    from backing.cli.options import TempoAndKey
    from backing.fretboard.fretting import FrettingWish
    from backing.out.sheet.marks import Page
    from backing.timing import Tempo, WrittenTempo

MOST_BARS = 2_000
"""The most bars, as written, that are laid out as one sheet."""

_STEPS = 7
_START = 0.6
"""The first tempo to tick off, as a share of the goal."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the sheets are to show.

    Attributes:
        look: how they look.
        spell: how chords are written.
        tempo_and_key: the goal, and the key to write in.
        tempi: tempi to tick off; None for steps up to the goal.
        fretting: whose shapes, over what the style has.
        left: whether they are drawn for a left hand.
    """

    look: Look
    spell: Spell
    tempo_and_key: TempoAndKey
    tempi: tuple[WrittenTempo, ...] | None
    fretting: FrettingWish
    left: bool


@dataclass(frozen=True, slots=True)
class Made:
    """A sheet or a songbook as a file.

    Attributes:
        data: its bytes.
        line: what it is, in words.
        inputs: the files that it was made from.
    """

    data: bytes
    line: str
    inputs: tuple[Path, ...]


def write(source: str, output: str | None, wished: Wishes, *, force: bool) -> None:
    """Write the sheet of a chart, or the songbook of a folder, and say what it is.

    Raises:
        BackingError: when the chart, a wish or the name of the file will not do.
    """
    from backing.out.files import write_file, write_output

    target = _target(source, output)
    with ended_by_signals():
        make = _book if is_folder(source) else _single
        made = make(source, wished, target, force=force)
        if target:
            write_file(target, made.data, force=force, inputs=made.inputs)
            print(f"{target}: {made.line}")
        else:
            write_output(made.data, inputs=made.inputs)
            print(f"standard output: {made.line}", file=sys.stderr)


def _target(source: str, output: str | None) -> Path | None:
    """Return the file to write; None for standard output."""
    if output == "-":
        if sys.stdout.isatty():
            raise OutputError(
                "a terminal cannot show a PDF file: name a file, such as -o tune.pdf, or lead the "
                "output into a program"
            )
        return None
    if output is None:
        if source == "-":
            raise OutputError(
                "a chart from standard input wants a name for its sheet: add -o NAME.pdf"
            )
        folder = is_folder(source)
        return Path("songbook.pdf" if folder else f"{Path(source).stem}.pdf")
    target = Path(output)
    endings = (".pdf",) if is_folder(source) else (".pdf", ".svg")
    if not target.is_dir() and target.suffix.lower() not in endings:
        raise OutputError(
            f"{target}: a {'songbook' if len(endings) == 1 else 'sheet'} is written as "
            f"{' or '.join(endings)}: end the name so"
        )
    return target


def _single(source: str, wished: Wishes, target: Path | None, *, force: bool) -> Made:
    from backing.cli.inputs import inputs_of
    from backing.out.files import check_free
    from backing.out.sheet.pages import pages_of

    sheet = sheet_of(source, wished)
    inputs = inputs_of(source, sheet.chart, fretting=wished.fretting)
    if target:
        check_free(target, force=force, inputs=inputs)
    pages = pages_of(sheet, wished.look)
    remark_missing_signs(source, sheet.chart)
    line = f"{sheet.chart.title}, key {sheet.chart.key}, {_counted(len(pages), 'page')}"
    return Made(_painted(pages, sheet.chart.title, sheet.chart.by, target), line, inputs)


def _book(source: str, wished: Wishes, target: Path | None, *, force: bool) -> Made:
    """Make a songbook; a chart with faults is told, and then there is no book."""
    from rich.console import Console
    from rich.progress import Progress

    from backing.cli.inputs import inputs_of
    from backing.cli.targets import SUFFIX
    from backing.out.files import check_free
    from backing.out.sheet.songbook import songbook

    files = sorted(Path(source).glob(f"*{SUFFIX}"))
    if not files:
        raise SettingsError(f"{source} has no charts in it: their names end in {SUFFIX}")
    sheets: list[Sheet] = []
    inputs: list[Path] = []
    faulty = 0
    with Progress(console=Console(stderr=True), transient=True) as progress:
        bar = progress.add_task("laying out", total=2 * len(files))
        for file in files:
            try:
                sheets.append(sheet_of(str(file), wished))
                inputs += inputs_of(str(file), sheets[-1].chart, fretting=wished.fretting)
                remark_missing_signs(str(file), sheets[-1].chart)
            except BackingError as error:
                faulty += 1
                print_error(error)
            progress.advance(bar)
        if faulty:
            raise SettingsError(f"no songbook is made: mend or move {_counted(faulty, 'chart')}")
        if target:
            check_free(target, force=force, inputs=inputs)
        sheets.sort(key=lambda sheet: sheet.chart.title.casefold())
        pages = songbook(sheets, wished.look, lambda: progress.advance(bar))
    line = f"{_counted(len(sheets), 'tune')}, {_counted(len(pages), 'page')}"
    return Made(_painted(pages, Path(source).resolve().name, "", target), line, tuple(inputs))


def _counted(number: int, name: str) -> str:
    return f"{number} {name}{'s' if number != 1 else ''}"


def _painted(pages: list[Page], title: str, author: str, target: Path | None) -> bytes:
    if target and target.suffix.lower() == ".svg":
        from backing.out.sheet.svg import svg_bytes

        return svg_bytes(pages, title)
    from backing.out.sheet.pdf import pdf_bytes

    return pdf_bytes(pages, title, author)


def sheet_of(source: str, wished: Wishes) -> Sheet:
    """Return what the sheet of a chart shows.

    Raises:
        BackingError: when the chart cannot be read, or a wish does not fit it.
    """
    from backing.chart.read import load_chart
    from backing.style.library import style_meters

    chart = load_chart(source, style_meters())
    try:
        return _sheet(chart, wished)
    except BackingError as error:
        raise named(source, error) from None


def _sheet(chart: Chart, wished: Wishes) -> Sheet:
    from backing.notes import Player
    from backing.out.sheet.grips import grips_of
    from backing.performance import Performance, Settings

    bars = sum(1 for part in chart.parts for _ in part.written())
    if bars > MOST_BARS:
        raise SettingsError(
            f"{bars:,} bars are written: a sheet has at most {MOST_BARS:,}; write what comes again "
            "as repeats, or make several charts of it"
        )
    if wished.tempo_and_key.moves:
        chart = wished.tempo_and_key.applied(chart).plain()
    settings = Settings(called=frozenset(Player), fretting=wished.fretting)
    performance = Performance(chart, wished.tempo_and_key.at_tempo(settings, chart))
    goal = chart.counted(performance.bpm)
    way = () if wished.look.shapes == NONE else performance.voicings.way
    instruments = dict.fromkeys(held.fretting.instrument.name for held in way)
    return Sheet(
        chart=chart,
        tempo=goal,
        style=performance.style.name,
        tempi=steps(goal)
        if wished.tempi is None
        else tuple(chart.counted(quarter_bpm(each, chart)).bpm for each in wished.tempi),
        spell=wished.spell,
        grips=grips_of(way, left=wished.left) if way else None,
        instrument=" and ".join(instruments),
    )


def steps(goal: Tempo) -> tuple[float, ...]:
    """Return tempi from slow to the goal and one beyond it: round numbers in its unit, and it."""
    grid = practice_grid(goal)
    first = round(_START * goal.bpm / grid) * grid
    between = [
        round((first + (goal.bpm - first) * step / (_STEPS - 1)) / grid) * grid
        for step in range(_STEPS - 1)
    ]
    slower = (float(each) for each in between if each < goal.bpm)
    return tuple(dict.fromkeys([*slower, goal.bpm, (goal.bpm // grid + 2) * grid]))


def remark_missing_signs(source: str, chart: Chart) -> None:
    """Say which signs of a chart the sheet's letters do not have."""
    from backing.out.sheet.faces import missing_signs

    text = "".join((chart.title, chart.by, *chart.notes, *(part.name for part in chart.parts)))
    missing = missing_signs(" ".join(text.split()))
    if missing:
        print_remark(
            f"{source}: the sheet's letters have no {' '.join(missing)}: a box stands there"
        )
