"""A building model opened, or a clear word on why it cannot be."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wellheard.cad import building_model_library
from wellheard.errors import InputError, visible
from wellheard.importers.kinds import kind_of

SCHEMAS = {"IFC2X3": "IFC2X3", "IFC4": "IFC4", "IFC4X3_ADD2": "IFC4X3"}
"""Schemas that are read, by the name that a file gives them; and what they are called."""
_HEAD, _TAIL = 65_536, 4_096
_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']{1,80})'", re.IGNORECASE)
_LACKING = re.compile(r"used by instance #(\d+)")
_NEXT = "save it anew as IFC4 from the program that made it"


@dataclass(frozen=True)
class Opened:
    """A model that has to be kept for as long as anything of it is in use.

    ``damaged`` are the numbers of entities that refer to what the file does not have; ``faults``
    counts everything in it that was passed over while it was read.
    """

    model: Any
    schema: str
    damaged: frozenset[int]
    faults: int


def opened(path: Path) -> Opened:
    """Return the model in a file.

    Raises
    ------
    InputError
        It is none, is cut short, or is of a schema that is not read.
    """
    library = building_model_library()
    if kind_of(path) != "ifc":
        raise InputError(f"{path}: no building model; a file in the STEP form of IFC (.ifc)")
    schema = _schema(path)
    library.get_log()  # forget what was said of anything before; asking clears it
    try:
        model = library.open(str(path))
    except (library.Error, library.SchemaError, OSError, RuntimeError, ValueError) as error:
        why = visible(str(error))[:200]
        raise InputError(f"{path}: no building model that can be read ({why}); {_NEXT}") from None
    if model is None:
        raise InputError(f"{path}: no building model that can be read; {_NEXT}")
    said = [line for line in str(library.get_log()).splitlines() if "[error]" in line]
    if any("'ENDSEC'" in line for line in said):
        raise InputError(f"{path}: its text is broken, and not all of it can be read; {_NEXT}")
    damaged = frozenset(int(n) for line in said for n in _LACKING.findall(line))
    return Opened(model, schema, damaged, len(said))


def _schema(path: Path) -> str:
    with path.open("rb") as file:
        head = file.read(_HEAD)
        file.seek(0, 2)
        file.seek(max(file.tell() - _TAIL, 0))
        tail = file.read()
    if b"END-ISO-10303-21" not in tail.upper():
        raise InputError(
            f"{path}: the file is cut short, it has no END-ISO-10303-21; get the whole of it again"
        )
    found = _SCHEMA.search(head)
    named = found.group(1).decode("ascii", "replace").strip().upper() if found else ""
    if named not in SCHEMAS:
        said = f"written for {visible(named)}" if named else "does not say its schema"
        raise InputError(f"{path}: {said}; {', '.join(SCHEMAS)} are read: {_NEXT}")
    return SCHEMAS[named]
