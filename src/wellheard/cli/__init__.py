"""The ``wellheard`` command: payload on stdout, talk on stderr, four exit codes."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    try:
        from wellheard.cli.app import run
    except KeyboardInterrupt:
        # Ctrl-C while the command itself is still loading.
        print("interrupted; nothing was written", file=sys.stderr)
        sys.exit(130)
    sys.exit(run(sys.argv[1:]))
