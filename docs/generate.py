"""Write the generated pages, or say which of them are stale.

``python docs/generate.py`` writes; ``python docs/generate.py --check`` changes nothing, names
every stale file and exits 1 if there is one.
"""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from pathlib import Path

from cyclopts import App
from rich.console import Console

from wellheard.checks import registry
from wellheard.cli.app import COMMANDS, app
from wellheard.cli.first import HELP
from wellheard.room.schema import json_schema

DOCS = Path(__file__).resolve().parent
WIDTH = 80

sys.path.insert(0, str(DOCS))  # tests load this file by its place


def document_reference() -> str:
    """Every field of the room document."""
    from document_page import document_reference

    return document_reference()


def python_reference() -> str:
    """Every public name."""
    from python_page import python_reference

    return python_reference()


def command_reference() -> str:
    """Every command's help, as it is printed at a width of 80."""
    blocks = [
        "# Commands",
        "",
        "This page is generated from `--help`. What was asked for goes to standard output,",
        "everything else to standard error. Ctrl-C ends a command with exit 130.",
        "",
        *_help([]),
    ]
    for name in COMMANDS:
        blocks += _help([name])
        for inner in _inner_commands(name):
            blocks += _help([name, inner])
    return "\n".join(blocks).rstrip() + "\n"


def _inner_commands(name: str) -> list[str]:
    inner: App = app[name]
    return [c for c in inner if not c.startswith("-")]


def first_help() -> str:
    """The help of the command itself, which is printed before anything heavy is loaded."""
    return "\n".join(_help([])[3:-2]) + "\n"


def _help(command: list[str]) -> list[str]:
    out = io.StringIO()
    console = Console(
        file=out, width=WIDTH, force_terminal=False, color_system=None, legacy_windows=False
    )
    app.help_print(command, console=console)
    lines = [line.rstrip() for line in out.getvalue().strip().splitlines()]
    title = " ".join(["wellheard", *command])
    return [f"## `{title}`", "", "```text", *lines, "```", ""]


def room_schema() -> str:
    """JSON Schema of the room document, as ``wellheard schema`` prints it."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


PAGES: dict[Path, Callable[[], str]] = {
    DOCS / "cli.md": command_reference,
    DOCS / "document.md": document_reference,
    DOCS / "python.md": python_reference,
    DOCS / "rules.md": registry.documentation,
    DOCS / "room.schema.json": room_schema,
    HELP: first_help,
}


def stale() -> list[Path]:
    """Pages that are not what would be written now."""
    return [
        path
        for path, text in PAGES.items()
        if not path.is_file() or path.read_text(encoding="utf-8") != text()
    ]


def main(arguments: list[str]) -> int:
    """Write the pages, or with ``--check`` only look at them."""
    if arguments not in ([], ["--check"]):
        print("usage: generate.py [--check]", file=sys.stderr)
        return 2
    found = stale()
    if not arguments:
        for path in found:
            path.write_text(PAGES[path](), encoding="utf-8")
            print(f"{path.relative_to(DOCS.parent)}: written")
        return 0
    for path in found:
        print(f"{path.relative_to(DOCS.parent)}: stale; run make docs", file=sys.stderr)
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
