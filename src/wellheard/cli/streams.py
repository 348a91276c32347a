"""Standard output and its end, whatever the locale and whoever closes it."""

from __future__ import annotations

import contextlib
import io
import os
import sys


def speak_utf8() -> None:
    """Text streams in UTF-8 whatever the locale: documents and JSON are UTF-8 by definition."""
    # A stream that was closed before the start is None to Python. Its stand-in lives as long as
    # the process, so no block closes it.
    if sys.stdout is None:
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if sys.stderr is None:
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    if isinstance(sys.stdout, io.TextIOWrapper):
        # A file name that is no UTF-8 comes out as the bytes that it went in with.
        sys.stdout.reconfigure(encoding="utf-8", errors="surrogateescape")
    if isinstance(sys.stderr, io.TextIOWrapper):
        sys.stderr.reconfigure(encoding="utf-8", errors="backslashreplace")


def leave_stdout() -> None:
    """Keep the interpreter from failing again when it flushes at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
