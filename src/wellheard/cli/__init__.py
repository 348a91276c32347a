"""The ``wellheard`` command: payload on stdout, talk on stderr, four exit codes."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    from wellheard.cli.app import run

    sys.exit(run(sys.argv[1:]))
