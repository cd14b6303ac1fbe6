"""`backing sheet`: charts as sheets to read from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options, values
from backing.cli.groups import Group, spread

if TYPE_CHECKING:
    from backing.cli.sheets import Wishes
    from backing.timing import WrittenTempo

EXAMPLE = "backing sheet demos/quarry-hill.chart -o quarry-hill.pdf --key G"


@dataclass(frozen=True, slots=True)
class Layout(Group):
    """What a sheet shows, and how."""

    numbers: options.Numbers = False
    roman: options.Roman = False
    shapes: Annotated[
        str, typer.Option(metavar="WHERE", help="Where chord shapes stand: below, above or none.")
    ] = "below"
    tempi: Annotated[
        str | None,
        typer.Option(metavar="A,B,...", help="Tempi to tick off, or none. [up to the tempo]"),
    ] = None
    paper: Annotated[str, typer.Option(metavar="NAME", help="a4 or letter.")] = "a4"
    large: Annotated[bool, typer.Option("--large", help="Large print.")] = False
    left: options.Left = False

    def request(self, tempo_and_key: options.TempoAndKey, fretting: options.Fretting) -> Wishes:
        """Return what sheets are to show.

        Raises:
            SettingsError: when a text cannot be read, or a value is outside its range.
        """
        from backing.cli.sheets import Wishes
        from backing.out.sheet.look import PAPERS, SHAPES, Look

        return Wishes(
            look=Look(
                values.one_of("--paper", self.paper, PAPERS),
                self.large,
                values.one_of("--shapes", self.shapes, SHAPES),
            ),
            spell=options.spelling(numbers=self.numbers, roman=self.roman),
            tempo_and_key=tempo_and_key,
            tempi=self._tempi(),
            fretting=fretting.request(),
            left=self.left,
        )

    def _tempi(self) -> tuple[WrittenTempo, ...] | None:
        if self.tempi is None:
            return None
        if values.is_none(self.tempi):
            return ()
        return values.tempi("--tempi", self.tempi)


@spread
def run(
    chart: Annotated[
        str, typer.Argument(metavar="CHART", help="Chart file, or a folder of them; - is input.")
    ],
    *,
    output: Annotated[
        str | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help=".pdf or .svg; - is output. [CHART.pdf]"
        ),
    ] = None,
    tempo_and_key: options.TempoAndKey,
    layout: Layout,
    fretting: options.Fretting,
    force: options.Force = False,
) -> None:
    """Write a chart as a sheet to read from, or a folder of them as a songbook."""
    from backing.cli import sheets

    sheets.write(chart, output, layout.request(tempo_and_key, fretting), force=force)
