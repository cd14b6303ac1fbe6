"""`backing pack`: what a student takes home, as a folder or one file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated

import typer

from backing.cli import options, values
from backing.cli.groups import Group, spread
from backing.errors import SettingsError

if TYPE_CHECKING:
    from backing.notes import Player
    from backing.packs.wish import PackWish

EXAMPLE = "backing pack demos/quarry-hill.chart -o quarry-hill/ --tempi 120,160,200"

MOST_PROCESSES = 64

TWICE = options.Take(choruses="2")


@dataclass(frozen=True, slots=True)
class Contents(Group):
    """Which files a pack has."""

    tempi: Annotated[
        str | None,
        typer.Option(metavar="A,B,...", help="Tempi. [60, 75, 90, 100 % of the chart's]"),
    ] = None
    keys: Annotated[str | None, typer.Option(metavar="K,L,...", help="Keys. [the chart's]")] = None
    minus: Annotated[
        str,
        typer.Option(metavar="PLAYERS", help="Record again without each of these; or none."),
    ] = "chop,lead"
    parts: Annotated[
        str | None, typer.Option(metavar="A,B,...", help="Parts to loop, or none. [all]")
    ] = None
    ending: Annotated[
        str, typer.Option("--format", metavar="NAME", help="mp3, ogg, flac or wav.")
    ] = "mp3"

    def request(
        self, take: options.Take, fretting: options.Fretting, sound: options.Sound, *, left: bool
    ) -> PackWish:
        """Return what a pack is to have.

        Raises:
            BackingError: when a text cannot be read, or a value is outside its range.
        """
        from backing.out.formats import FORMATS
        from backing.packs.wish import PackWish

        return PackWish(
            settings=take.settings(fretting.request()),
            tempi=values.tempi("--tempi", self.tempi),
            keys=self._keys(),
            parts=self._parts(),
            minus=self._minus(),
            ending=values.one_of("--format", self.ending, FORMATS),
            sound=sound.sound(),
            left=left,
        )

    def _keys(self) -> tuple[str, ...]:
        from backing.packs.wish import MOST_KEYS

        found = values.listed("--keys", self.keys)
        if len(found) > MOST_KEYS:
            raise SettingsError(f"--keys: {len(found)} keys; at most {MOST_KEYS} are allowed")
        return found

    def _parts(self) -> tuple[str, ...] | None:
        if self.parts is None:
            return None
        return () if values.is_none(self.parts) else values.listed("--parts", self.parts)

    def _minus(self) -> tuple[Player, ...]:
        if values.is_none(self.minus):
            return ()
        return tuple(sorted(values.players(",".join(values.listed("--minus", self.minus)))))


@spread
def run(
    chart: Annotated[str, typer.Argument(metavar="CHART", help="Chart file, or a folder of them.")],
    *,
    output: Annotated[
        str, typer.Option("--output", "-o", metavar="DIR", help="Folder, or a file ending in .zip.")
    ],
    contents: Contents,
    take: options.Take = TWICE,
    fretting: options.Fretting,
    left: options.Left = False,
    sound: options.Sound,
    processes: Annotated[
        str, typer.Option(metavar="N", help="How many files are made at the same time.")
    ] = "2",
    list_jobs: Annotated[
        bool, typer.Option("--list-jobs", help="Only print the command that makes each file.")
    ] = False,
    job: Annotated[
        str | None, typer.Option(metavar="FILE", help="Make only this file of the pack.")
    ] = None,
    force: options.Force = False,
) -> None:
    """Make a practice pack: sheet, MIDI, recordings at several tempi, loops, a page."""
    from backing.cli import packing

    order = packing.Order(
        chart,
        output,
        contents.request(take, fretting, sound, left=left),
        _processes(processes),
        force=force,
        words=(
            *(*contents.words(), *take.words(TWICE), *fretting.words(), *sound.words()),
            *(["--left"] if left else []),
        ),
    )
    if list_jobs:
        packing.print_jobs(order)
    elif job is not None:
        packing.make_one(order, job)
    else:
        packing.make_all(order)


def _processes(text: str) -> int:
    found = values.whole_number("--processes", text)
    if not 1 <= found <= MOST_PROCESSES:
        raise SettingsError(f"--processes {found}: choose from 1 to {MOST_PROCESSES}")
    return found
