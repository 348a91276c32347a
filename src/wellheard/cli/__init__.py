"""The ``wellheard`` command: payload on stdout, talk on stderr, four exit codes."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    try:
        from wellheard.cli.first import answer

        code = answer(sys.argv[1:])
        if code is None:
            from wellheard.cli.app import run

            code = run(sys.argv[1:])
    except KeyboardInterrupt:
        # Ctrl-C while the command itself is still loading.
        print("interrupted; nothing was written", file=sys.stderr)
        code = 130
    sys.exit(code)
