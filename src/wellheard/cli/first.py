"""What is asked first is answered at once: the version, and the help of the command itself.

Its text is the one that the whole command tree would print at a width of 80; ``make docs`` writes
it, and ``make check`` tells when it is stale.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from wellheard import __version__
from wellheard.cli import streams
from wellheard.cli.exits import Exit

HELP = Path(__file__).with_name("help.txt")


def answer(argv: Sequence[str]) -> int | None:
    """Answer it and return the exit code; None where the command tree is wanted."""
    if list(argv) == ["--version"]:
        text = f"wellheard {__version__}\n"
    elif list(argv) in ([], ["--help"], ["-h"]):
        text = HELP.read_text(encoding="utf-8")
    else:
        return None
    streams.speak_utf8()
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except OSError as error:
        streams.leave_stdout()
        if not isinstance(error, BrokenPipeError):
            print(
                f"standard output: {error.strerror or error}; somewhere to write to",
                file=sys.stderr,
            )
        return Exit.FAILED
    return Exit.OK
