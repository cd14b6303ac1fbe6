"""`backing styles`: list the groove styles."""

from __future__ import annotations

EXAMPLE = "backing styles"


def run() -> None:
    """List the groove styles, their meters and tempi."""
    import sys

    from backing.cli.report import print_error
    from backing.style.library import all_styles, own_folder
    from backing.timing import Tempo

    styles, errors = all_styles()
    width = max((len(style.name) for style in styles), default=0)
    for style in styles:
        meters = " ".join(map(str, style.meters))
        slow, fast = (
            Tempo.in_beats(bpm, style.meters[0]) for bpm in (style.slowest_bpm, style.fastest_bpm)
        )
        tempi = f"{slow.unit} notes, {slow.figure} to {fast.figure} a minute"
        print(f"{style.name:<{width}}  {style.about}")
        print(f"{'':<{width}}  {meters}; {tempi}, {style.feel} feel")
    print(f"\nPut your own styles into {own_folder()}, one file each; see styles/README.md.")
    for error in errors:
        print_error(error)
    if errors:
        sys.exit(2)
