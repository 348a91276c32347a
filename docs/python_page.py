"""The page of the public names: what each is, in the first words of its docstring."""

from __future__ import annotations

import inspect
import re
from typing import Any

import wellheard

INTRODUCTION = """\
# Python

Every command is a function. These are the names to build on; each is loaded when it is first
used, so `import wellheard` costs nothing. The page is generated from their docstrings, which
`help(wellheard.NAME)` prints whole, with shapes, units, errors, sources and examples.

```python
>>> import wellheard
>>> loaded = wellheard.load_room("examples/huddle-four/huddle-four.room.yaml")
>>> designed = wellheard.design_room(loaded)
>>> designed.kept, designed.placed.proposal.count
(True, 1)
>>> {finding.code for finding in designed.judged.findings if finding.severity == "error"}
set()
```

A bare name is SI: metre, second, hertz, ratio 0–1. Everything else wears its unit (`level_db`,
`angle_deg`). Results are frozen dataclasses. Physics takes arrays, bands on the last axis, and
never sees a room document.
"""

SECTIONS = (
    ("Rooms, designs, documents", ("workflow", "room", "catalog")),
    ("What comes back", ("predict", "place", "checks")),
    ("Physics", ("acoustics",)),
    ("Units", ("units",)),
    ("Errors", ("errors",)),
)


def python_reference() -> str:
    """Return the page."""
    names = [name for name in wellheard.__all__ if not name.startswith("__")]
    blocks = [INTRODUCTION]
    for title, packages in SECTIONS:
        found = [n for n in names if _package(n) in packages]
        names = [n for n in names if n not in found]
        blocks.append(f"## {title}\n")
        for name in found:
            blocks += [f"### `{name}`\n", _entry(name, getattr(wellheard, name))]
    if names:
        raise LookupError(f"no section for {', '.join(names)}")
    return "\n".join(blocks).rstrip() + "\n"


def _package(name: str) -> str:
    return str(getattr(wellheard, name).__module__).split(".")[1]


def _entry(name: str, thing: Any) -> str:
    doc = inspect.getdoc(thing) or ""
    summary = doc.partition("\n\n")[0]
    summary = re.sub(r"``?([^`]+)``?", r"`\1`", " ".join(summary.split()))
    lines = [summary, ""]
    lines += [_call(name, thing), ""] if inspect.isroutine(thing) else _fields(thing)
    lines.append(f"In `{thing.__module__}`.\n")
    return "\n".join(lines)


def _call(name: str, thing: Any) -> str:
    words = []
    star = False
    for one in inspect.signature(thing).parameters.values():
        if one.kind is one.KEYWORD_ONLY and not star:
            words.append("*")
            star = True
        words.append(one.name if one.default is one.empty else f"{one.name}={_said(one.default)}")
    return f"`{name}({', '.join(words)})`"


def _said(default: object) -> str:
    """A default in words; that of a function would hold its place in memory."""
    return default.__name__ if inspect.isroutine(default) else repr(default)


def _fields(thing: Any) -> list[str]:
    names = getattr(thing, "__dataclass_fields__", None) or getattr(thing, "model_fields", None)
    if not names:
        return []
    return [f"Fields: {', '.join(f'`{name}`' for name in names)}.", ""]
