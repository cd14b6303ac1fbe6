"""The progress bar of long work; rich is imported only for a bar that is shown."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


@contextmanager
def progress_bar(
    label: str, total: int | None = None, *, shown: bool = True
) -> Iterator[Callable[[], None]]:
    """Show a progress bar on standard error; yield a function that advances it by one step.

    Args:
        label: what is done, such as "rendering".
        total: how many steps there are; None for work of unknown length.
        shown: False shows nothing.
    """
    if not shown:
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(label, total=total)
        yield lambda: progress.advance(task)
