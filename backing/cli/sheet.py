"""`backing sheet`: write charts as sheets or songbooks."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options, values
from backing.cli.charts import Charts, are_several, charts_of, is_folder, is_set, title_of
from backing.cli.fretting import Fretting, Left
from backing.cli.groups import Group, spread
from backing.cli.text import counted
from backing.errors import BackingError, OutputError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backing.fretboard.request import FrettingSettings
    from backing.out.sheet.marks import Page
    from backing.out.sheet.style import Sheet, SheetStyle
    from backing.timing import WrittenTempo

EXAMPLE = "backing sheet demos/quarry-hill.chart -o quarry-hill.pdf --key G"


@dataclass(frozen=True, slots=True)
class Layout(Group):
    """What a sheet shows, and how large."""

    numbers: options.Numbers = False
    roman: options.Roman = False
    shapes: Annotated[
        str, typer.Option(metavar="WHERE", help="Draw chord shapes below or above; or none.")
    ] = "below"
    tempi: Annotated[
        str | None,
        typer.Option(metavar="A,B,...", help="Tempi to tick off; or none. [up to the tempo]"),
    ] = None
    paper: Annotated[str, typer.Option(metavar="NAME", help="Paper: a4 or letter.")] = "a4"
    large: Annotated[bool, typer.Option("--large", help="Use large print.")] = False
    left: Left = False

    def sheet_style(self) -> SheetStyle:
        """Return paper, print and where shapes stand.

        Raises:
            SettingsError: when paper or shapes have an unknown value.
        """
        from backing.out.sheet.style import PAPERS, SHAPES, SheetStyle

        return SheetStyle(
            values.one_of("--paper", self.paper, PAPERS),
            self.large,
            values.one_of("--shapes", self.shapes, SHAPES),
        )

    def written_tempi(self) -> tuple[WrittenTempo, ...] | None:
        """Return the tempi to tick off; None for steps up to the goal.

        Raises:
            SettingsError: when one cannot be read.
        """
        if self.tempi is None:
            return None
        return () if values.is_none(self.tempi) else values.tempi("--tempi", self.tempi)

    def check(self) -> None:
        """Check the options.

        Raises:
            SettingsError: when one cannot be read, or both --numbers and --roman are given.
        """
        self.sheet_style()
        self.written_tempi()
        options.spelling(numbers=self.numbers, roman=self.roman)


@spread
def run(
    charts: Charts,
    *,
    output: Annotated[
        str | None,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="File: .pdf or .svg; or - for a pipe. [CHART.pdf]",
        ),
    ] = None,
    tempo_and_key: options.TempoAndKey,
    layout: Layout,
    fretting: Fretting,
    force: options.Force = False,
) -> None:
    """Write a chart as a sheet to read from, or several as a songbook."""
    from backing.cli.together import ended_by_signals
    from backing.out.files import write_file, write_output

    target = _target(charts, output)
    sheets = _Sheets(tempo_and_key, layout, fretting.request(), target, force=force)
    with ended_by_signals():
        data, line = sheets.book(charts) if are_several(charts) else sheets.single(charts[0])
        if target:
            write_file(target, data, force=force, inputs=sheets.inputs)
            print(f"{target}: {line}")
        else:
            write_output(data, inputs=sheets.inputs)
            print(f"standard output: {line}", file=sys.stderr)


def _target(charts: Sequence[str], output: str | None) -> Path | None:
    """Return the file to write; None for standard output."""
    if output == "-":
        if sys.stdout.isatty():
            raise OutputError(
                "a terminal cannot show a PDF file: name a file, such as -o tune.pdf, or send the "
                "output to a program"
            )
        return None
    if output is None:
        if list(charts) == ["-"]:
            raise OutputError(
                "a chart from standard input needs a name for its sheet: add -o NAME.pdf"
            )
        alone = len(charts) == 1 and not is_folder(charts[0])
        return Path(f"{Path(charts[0]).stem}.pdf" if alone else "songbook.pdf")
    target = Path(output)
    endings = (".pdf",) if are_several(charts) else (".pdf", ".svg")
    if not target.is_dir() and target.suffix.lower() not in endings:
        raise OutputError(
            f"{target}: end the name of a {'songbook' if len(endings) == 1 else 'sheet'} in "
            f"{' or '.join(endings)}"
        )
    return target


class _Sheets:
    """Makes sheets and songbooks.

    Attributes:
        inputs: the files that were read.
    """

    def __init__(
        self,
        tempo_and_key: options.TempoAndKey,
        layout: Layout,
        fretting: FrettingSettings,
        target: Path | None,
        *,
        force: bool,
    ) -> None:
        self._tempo_and_key, self._layout, self._fretting = tempo_and_key, layout, fretting
        self._target, self._force = target, force
        self._style = layout.sheet_style()
        self.inputs: tuple[Path, ...] = ()

    def single(self, source: str) -> tuple[bytes, str]:
        """Return the bytes of a chart's sheet, and a line that describes it."""
        from backing.out.sheet.pages import pages_of

        sheet = self._sheet(source)
        self._check_free()
        pages = pages_of(sheet, self._style)
        chart = sheet.chart
        line = f"{chart.title}, key {chart.key}, {counted(len(pages), 'page')}"
        return self._file_bytes(pages, chart.title, chart.by), line

    def book(self, named: Sequence[str]) -> tuple[bytes, str]:
        """Return the bytes of a songbook, and a line that describes it.

        Raises:
            BackingError: after every chart is read, when some have faults, which are printed.
        """
        from backing.cli.progress import progress_bar
        from backing.cli.report import print_error
        from backing.out.sheet.songbook import songbook

        sources = charts_of(named)
        sheets: list[Sheet] = []
        with progress_bar("laying out", 2 * len(sources)) as advance:
            for source in sources:
                try:
                    sheets.append(self._sheet(source))
                except BackingError as error:
                    print_error(error)
                advance()
            if with_faults := len(sources) - len(sheets):
                raise SettingsError(
                    f"no songbook is made: correct or leave out {counted(with_faults, 'chart')}"
                )
            self.inputs += tuple(Path(name) for name in named if is_set(name))
            self._check_free()
            if len(named) == 1 and is_folder(named[0]):
                sheets.sort(key=lambda sheet: sheet.chart.title.casefold())
            pages = songbook(sheets, self._style, advance)
        line = f"{counted(len(sheets), 'tune')}, {counted(len(pages), 'page')}"
        return self._file_bytes(pages, title_of(named, "Songbook"), ""), line

    def _sheet(self, source: str) -> Sheet:
        """Return what the sheet of a chart shows."""
        from backing.chart.read import load_chart
        from backing.cli.report import named, print_remark
        from backing.out.inputs import inputs_of
        from backing.out.sheet.compose import remarks_on, sheet_of
        from backing.performance.settings import Settings
        from backing.style.library import style_meters

        layout, key = self._layout, self._tempo_and_key
        chart = load_chart(source, style_meters())
        try:
            chart = key.applied(chart).plain() if key.moves else chart
            written = layout.written_tempi()
            settings = key.at_tempo(Settings(fretting=self._fretting), chart)
            sheet = sheet_of(
                chart,
                settings,
                self._style,
                tempi=None
                if written is None
                else [chart.counted(chart.quarter_bpm(each)).bpm for each in written],
                spell=options.spelling(numbers=layout.numbers, roman=layout.roman),
                left=layout.left,
            )
        except BackingError as error:
            raise named(source, error) from None
        self.inputs += inputs_of(source, chart, settings)
        for remark in remarks_on(chart):
            print_remark(f"{source}: {remark}")
        return sheet

    def _check_free(self) -> None:
        from backing.out.files import check_free

        if self._target:
            check_free(self._target, force=self._force, inputs=self.inputs)

    def _file_bytes(self, pages: list[Page], title: str, author: str) -> bytes:
        if self._target and self._target.suffix.lower() == ".svg":
            from backing.out.sheet.svg import svg_bytes

            return svg_bytes(pages, title)
        from backing.out.sheet.pdf import pdf_bytes

        return pdf_bytes(pages, title, author)
