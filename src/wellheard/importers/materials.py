"""From an architect's word for a material to a finish whose absorption is known."""

from __future__ import annotations

import os
import unicodedata
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Literal, TypeAlias

from wellheard import files, tables
from wellheard.errors import CatalogError, Problem
from wellheard.forms.rows import read_cells

Surface: TypeAlias = Literal["floor", "ceiling", "walls"]

MOST_BYTES = 200_000
HEAD = ("material", "finish")
"""Columns of a user's own table."""


def finish_of(material: str, surface: Surface, own: Mapping[str, str]) -> str | None:
    """Return the finish that a material is taken for, or None where no word of it is known.

    Parameters
    ----------
    material : str
        As the file has it.
    surface : {"floor", "ceiling", "walls"}
        What it is on: wood underfoot is no panel.
    own : mapping of str to str
        Finishes by material as the user has them; they come first.

    Examples
    --------
    >>> finish_of("Teppich, Fliesen 50×50", "floor", {}), finish_of("Unobtainium", "walls", {})
    ('carpet-tile', None)
    >>> finish_of("Unobtainium", "walls", {"unobtainium": "wood-panel"})
    'wood-panel'
    """
    said = plain(material)
    if said in own:
        return own[said]
    for words, on, finish in _known():
        if on in (surface, "any") and any(word in said for word in words):
            return finish
    return None


def plain(material: str) -> str:
    """Return a material as it is compared: lower case, blanks single.

    Examples
    --------
    >>> plain("  Rigips\\tGKB 12,5 ")
    'rigips gkb 12,5'
    """
    return " ".join(unicodedata.normalize("NFC", material).casefold().split())


@cache
def _known() -> tuple[tuple[tuple[str, ...], str, str], ...]:
    return tuple(
        (tuple(plain(word) for word in row["words"].split("|")), row["surface"], row["finish"])
        for row in tables.load("import_materials").rows
    )


def own_table(path: str | os.PathLike[str], finishes: Iterable[str]) -> dict[str, str]:
    """Return a user's own table: finishes by material, from a CSV file with these two columns.

    Parameters
    ----------
    path : path
        With a head ``material,finish``.
    finishes : iterable of str
        Ids that there are.

    Raises
    ------
    CatalogError
        Every line that cannot be used.
    InputError
        The file cannot be read.
    """
    name = os.fspath(path)
    raw = files.read_bytes(path, most=MOST_BYTES, wanted=f"a CSV file with {' and '.join(HEAD)}")
    cells, problems = read_cells(raw, name=name, most=5000)
    if cells is None:
        raise CatalogError(_told(problems))
    known = set(finishes)
    head = tuple(plain(cell.text) for cell in cells.head)
    missing = [column for column in HEAD if column not in head]
    if missing:
        allowed = f"a first line with {' and '.join(HEAD)}"
        raise CatalogError(_told([Problem(name, 1, 1, "", f"no column {missing[0]}", allowed)]))
    of, to = (head.index(column) for column in HEAD)
    found: dict[str, str] = {}
    for row in cells.rows:
        material, finish = plain(row[of].text), row[to].text.strip()
        if not material and not finish:
            continue
        if finish not in known:
            problems.append(
                Problem(
                    name,
                    row[to].line,
                    row[to].column,
                    material,
                    f"no finish {finish!r}",
                    "an id of wellheard catalog list finishes",
                )
            )
        else:
            found[material] = finish
    if problems:
        raise CatalogError(_told(problems))
    return found


def _told(problems: Iterable[Problem]) -> str:
    return "\n".join(map(str, problems))
