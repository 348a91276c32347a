"""The command tree and how it ends: exit codes, errors in one line, no traceback."""

from __future__ import annotations

import sys
import traceback
from collections.abc import Sequence
from importlib import import_module

from cyclopts import App
from cyclopts.exceptions import CycloptsError

from wellheard import __version__
from wellheard.cli import streams
from wellheard.cli.exits import Exit
from wellheard.cli.output import say
from wellheard.errors import WellheardError

COMMANDS = (
    "new",
    "import",
    "check",
    "predict",
    "place",
    "treat",
    "wire",
    "design",
    "explain",
    "map",
    "publish",
    "sweep",
    "record",
    "measure",
    "prove",
    "calibrate",
    "session",
    "schedule",
    "survey",
    "diff",
    "quick",
    "reach",
    "replace",
    "catalog",
    "serve",
    "schema",
)
"""Modules of this package with one command each, in the order of the help. They import nothing
heavy before they run, so they are all loaded at once."""

app = App(
    name="wellheard",
    help=(
        "The sound of meeting rooms from one room document: predicted, placed with proof, "
        "explained and documented."
    ),
    help_epilogue="Exit 0: clean. 1: findings of severity error, or a promise that cannot be met. "
    "2: could not run.",
    version=f"wellheard {__version__}",
    help_format="plaintext",
    suppress_keyboard_interrupt=False,
)
for _number, _name in enumerate(COMMANDS):
    # `import` is no name in Python
    _module = "importing" if _name == "import" else _name
    _command = getattr(import_module(f"wellheard.cli.{_module}"), _module)
    if isinstance(_command, App):
        _command.sort_key = _number
        app.command(_command)
    else:
        app.command(_command, name=_name, sort_key=_number)


def run(argv: Sequence[str]) -> int:
    """Run one command line and return its exit code; nothing but the exit is left to do."""
    streams.speak_utf8()
    try:
        if sorted(argv) == ["--verbose", "--version"]:
            return _say_what_computes()
        code = app(list(argv), exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
    except CycloptsError as error:
        return _failed(f"{str(error).strip()}\nSee {_help_of(error)}.")
    except WellheardError as error:
        return _failed(str(error))
    except KeyboardInterrupt:
        return _failed("interrupted; nothing was written", Exit.INTERRUPTED)
    except OSError as error:
        # Reading and writing files says its own errors; what is left is the output stream.
        streams.leave_stdout()
        if isinstance(error, BrokenPipeError):
            return Exit.FAILED
        return _failed(f"standard output: {error.strerror or error}; somewhere to write to")
    except Exception:
        traceback.print_exc()
        return _failed(
            "This is a fault in wellheard, not in the room: please report it with the lines above."
        )
    return int(code) if isinstance(code, int) else Exit.OK


def _say_what_computes() -> int:
    """Version, and which kernels of the acoustic engine are in use, on standard output."""
    from wellheard.acoustics import compiled

    why = compiled.missing() if compiled.in_use() == "numpy" else ""
    print(f"wellheard {__version__}")
    print(f"acoustic kernels: {compiled.in_use()}{why and f' ({why})'}")
    sys.stdout.flush()
    return Exit.OK


def _help_of(error: CycloptsError) -> str:
    chain = " ".join(error.command_chain or ())
    return f"wellheard {chain} --help" if chain else "wellheard --help"


def _failed(message: str, code: Exit = Exit.FAILED) -> int:
    say(message)
    return code
