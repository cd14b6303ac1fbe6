"""The command line: one file a command, each importing what it needs when it runs."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line; a fault of the user's is a sentence and exit code 2."""
    from backing.cli.app import app
    from backing.errors import BackingError

    try:
        app()
    except BackingError as error:
        from backing.cli.report import print_error

        print_error(error)
        sys.exit(2)
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        sys.exit(130)
    except BrokenPipeError:  # the reader of our output has gone, as `head` does
        sys.stderr.close()
        sys.exit(1)
