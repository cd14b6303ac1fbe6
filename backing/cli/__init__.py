"""The command line: one file a command, each importing what it needs when it runs."""

from __future__ import annotations

import errno
import io
import os
import sys
from contextlib import suppress

_STOPPED = 130
"""The exit code after Ctrl-C: 128 and the number of the signal, as in shells."""

_NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}
"""The error codes of a device that takes no more output."""


def main() -> None:
    """Run the command line; print a user's error as a sentence and exit with 2."""
    from backing.errors import BackingError

    try:
        _run()
    except SystemExit as ending:
        if ending.code == _STOPPED:
            print("stopped", file=sys.stderr)
        raise
    except BackingError as error:
        from backing.cli.report import print_error

        print_error(error)
        sys.exit(2)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(_STOPPED)
    except BrokenPipeError:  # the reader of the output has ended, as `head` does
        _drop_output()
        sys.exit(1)
    except OSError as error:
        if error.errno not in _NO_ROOM or error.filename is not None:
            raise
        _drop_output()
        print(f"backing: the output cannot be written: {error.strerror}", file=sys.stderr)
        sys.exit(2)


def _run() -> None:
    from backing.cli.app import app

    _show_any_sign()
    try:
        app()
    finally:
        _flush()


def _show_any_sign() -> None:
    """Print `?` for a character that the terminal cannot show, instead of failing."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def _flush() -> None:
    """Write buffered output, so that an error is raised here and not when Python exits."""
    if sys.stdout is not None:
        sys.stdout.flush()


def _drop_output() -> None:
    """Discard buffered output."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
