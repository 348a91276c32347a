"""The command tree and how it ends: exit codes, errors in one line, no traceback."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Sequence

from cyclopts import App
from cyclopts.exceptions import CycloptsError

from wellheard import __version__
from wellheard.cli.exits import Exit
from wellheard.errors import WellheardError

COMMANDS = {
    "new": "Write a complete, valid starting document.",
    "check": "List what is wrong with a room as it stands.",
    "predict": "Predict every seat of a room as it stands.",
    "place": "Place the fewest or cheapest microphones, proven.",
    "design": "The main job: place, predict, check, write every document.",
    "explain": "Open one voice path stage by stage.",
    "publish": "Write the documents of a room as it stands.",
    "catalog": "List products and finishes.",
    "schema": "Print the JSON Schema of the room document.",
}
"""Modules of this package with one command each, in the order of the help, and the first line of
each, so that the help need not import them."""

app = App(
    name="wellheard",
    help=(
        "Meeting-room microphones from one room document: predicted, placed with proof, "
        "explained and documented."
    ),
    help_epilogue="Exit 0: clean. 1: findings of severity error, or a promise that cannot be met. "
    "2: could not run.",
    version=f"wellheard {__version__}",
    help_format="plaintext",
    suppress_keyboard_interrupt=False,
)
for _number, (_name, _help) in enumerate(COMMANDS.items()):
    app.command(f"wellheard.cli.{_name}:{_name}", name=_name, help=_help, sort_key=_number)


def run(argv: Sequence[str]) -> int:
    """Run one command line and return its exit code; nothing but the exit is left to do."""
    try:
        code = app(list(argv), exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
    except CycloptsError as error:
        return _failed(f"{str(error).strip()}\nSee wellheard --help, or wellheard COMMAND --help.")
    except WellheardError as error:
        return _failed(str(error))
    except KeyboardInterrupt:
        return _failed("interrupted; nothing was written", Exit.INTERRUPTED)
    except BrokenPipeError:
        # Whoever reads us has gone; keep the interpreter from saying so again at its end.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Exit.FAILED
    return int(code) if isinstance(code, int) else Exit.OK


def _failed(message: str, code: Exit = Exit.FAILED) -> int:
    print(message, file=sys.stderr)
    return code
