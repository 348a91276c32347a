"""A room as text, and a text changed only where the room has changed.

A general round-trip library was tried for edits: reading an example and writing it back unchanged
altered 6 to 12 lines of each (mostly lists re-wrapped), in 0.3 s and more. The reader
knows the span of every value, so an edit here replaces spans and leaves every other byte alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from wellheard.forms.fields import declared_unit
from wellheard.forms.source import Node, Source
from wellheard.forms.writing import block, entry, flow, scalar
from wellheard.room.document import Room
from wellheard.room.space import Ceiling, wall_names
from wellheard.units import Unit


def document_data(room: Room, unit: Unit | None = None) -> dict[str, Any]:
    """Plain data of a room in its own units or others, as it is written: without defaults."""
    context = {"unit": unit or room.units}
    data: dict[str, Any] = room.model_dump(by_alias=True, exclude_unset=True, context=context)
    # Two defaults follow from other fields. A room put together from parts may hold a value that
    # was the default elsewhere, and would not be the one here.
    space, written = room.space, data["space"]
    with declared_unit(room.units):
        usual = Ceiling()
    if space.ceiling.module != usual.module:
        whole = space.ceiling.model_dump(context=context)
        written.setdefault("ceiling", {}).setdefault("module", whole["module"])
    if space.walls != wall_names(len(space.outline)):
        written.setdefault("walls", space.walls)
    return data


def written(room: Room) -> str:
    """YAML of a room, without what is a default."""
    return block(document_data(room))


# Edits ---------------------------------------------------------------------------------------


def edited(source: Source, before: Room, after: Room) -> str:
    """Text of ``source``, which says ``before``, made to say ``after``."""
    old, new = document_data(before), document_data(after)
    if before.units != after.units:
        old = _of_either(old, document_data(before, after.units))
    return changed(source, old, new)


def changed(source: Source, old: dict[str, Any], new: dict[str, Any]) -> str:
    """Text of a source, which says ``old``, made to say ``new``; the rest stays to the byte."""
    assert source.root is not None
    splices: list[tuple[int, int, str]] = []
    _mapping(source.text, source.root, old, new, splices, inside_flow=False)
    text = source.text
    # From the end, so that places stay good. Of two insertions at one place the inner comes first
    # in the list and must come first in the text.
    for start, end, replacement in reversed(sorted(splices, key=lambda s: s[:2])):
        text = text[:start] + replacement + text[end:]
    return text


_OF_A_UNIT = "\0"
"""Like nothing that is written."""


def _of_either(one: Any, other: Any) -> Any:
    """Data without what says something else in other units: 9 ft is no 9, whatever is written."""
    if isinstance(one, dict) and isinstance(other, dict):
        return {key: _of_either(value, other.get(key)) for key, value in one.items()}
    return one if _same(one, other) else _OF_A_UNIT


def _same(a: Any, b: Any) -> bool:
    """Whether two values are written alike."""
    return flow(a) == flow(b)


def _mapping(
    text: str,
    node: Node,
    old: dict[str, Any],
    new: dict[str, Any],
    splices: list[tuple[int, int, str]],
    *,
    inside_flow: bool,
) -> None:
    """Splices that turn the mapping at ``node`` from ``old`` into ``new``."""
    assert node.entries is not None
    gone = [key for key, _ in node.entries if key.value in old and key.value not in new]
    added = {key: value for key, value in new.items() if node.entry(key) is None}
    if node.flow and (gone or added):
        splices.append((node.start, node.end, _flow_mapping(text, node, old, new)))
        return
    kept = [pair for pair in node.entries if pair[0] not in gone]
    if not kept:
        # Nothing left to hold on to: the mapping is written anew where it stood.
        splices.append((node.start, node.end, _fitting(text, node, new)))
        return
    for key, value in kept:
        name = key.value
        if name not in new or (name in old and _same(old[name], new[name])):
            continue
        was, now = old.get(name), new[name]
        if isinstance(was, dict) and isinstance(now, dict) and now and value.entries:
            _mapping(text, value, was, now, splices, inside_flow=inside_flow or node.flow)
        else:
            splices.append(_replacement(text, key, value, now, in_flow=inside_flow or node.flow))
    for key in gone:
        splices.append(_removal(text, node, key))
    if added:
        indent = node.entries[0][0].column - 1
        # Behind the last entry, whether or not that one is about to go.
        end = node.entries[-1][1].end
        at = end if end and text[end - 1] == "\n" else _line_end(text, end)
        lead = "" if at and text[at - 1] == "\n" else "\n"
        splices.append((at, at, lead + "".join(_added(added, indent))))


def _added(entries: dict[str, Any], indent: int) -> Iterator[str]:
    for key, value in entries.items():
        yield entry(key, value, indent=indent)


def _line_end(text: str, index: int) -> int:
    """Index behind the line break of the line that ``index`` is in."""
    found = text.find("\n", index)
    return len(text) if found < 0 else found + 1


def _line_start(text: str, index: int) -> int:
    return text.rfind("\n", 0, index) + 1


def _removal(text: str, node: Node, key: Node) -> tuple[int, int, str]:
    """Lines of an entry of a block mapping, the comment behind it included."""
    assert node.entries is not None
    value = next(v for k, v in node.entries if k is key)
    start = _line_start(text, key.start)
    end = max(value.end, key.end)
    stop = end if text[end - 1] == "\n" else _line_end(text, end)
    return start, stop, ""


def _replacement(
    text: str, key: Node, value: Node, new: Any, *, in_flow: bool
) -> tuple[int, int, str]:
    if value.start == value.end:  # "key:" with nothing behind it
        return value.start, value.end, f" {flow(new)}"
    if in_flow or value.flow or (value.entries is None and value.items is None):
        fresh, start = flow(new), value.start
        if not in_flow and isinstance(new, dict):
            lines = entry(key.value, new, indent=key.column - 1)
            if lines.count("\n") > 1 and "#" not in text[value.end : _line_end(text, value.end)]:
                fresh = "\n" + lines.partition("\n")[2].rstrip("\n")
                while text[start - 1] == " ":  # behind the colon nothing is left
                    start -= 1
        # A literal block ends behind its line breaks; what follows needs them.
        if text[value.start : value.end].endswith("\n"):
            fresh += "\n"
        return start, value.end, fresh
    return value.start, value.end, _fitting(text, value, new)


def _fitting(text: str, node: Node, new: Any) -> str:
    """New value where a block mapping or list stood, at its indentation."""
    ending = "\n" if text[node.start : node.end].endswith("\n") else ""
    if isinstance(new, dict) and new and node.entries is not None and not node.flow:
        lines = block(new, indent=node.column - 1)
        return lines.lstrip(" ").rstrip("\n") + ending
    indent = "" if node.column > 1 else " "
    return indent + flow(new) + ending


def _flow_mapping(text: str, node: Node, old: dict[str, Any], new: dict[str, Any]) -> str:
    """Mapping in braces with other entries, those that stay as they were written."""
    assert node.entries is not None
    pieces = []
    for key, value in node.entries:
        if key.value not in new:
            if key.value not in old:
                pieces.append(text[key.start : value.end])
            continue
        if key.value in old and _same(old[key.value], new[key.value]):
            pieces.append(text[key.start : max(value.end, key.end)])
        else:
            pieces.append(f"{scalar(key.value)}: {flow(new[key.value])}")
    pieces += [f"{scalar(k)}: {flow(v)}" for k, v in new.items() if node.entry(k) is None]
    return "{" + ", ".join(pieces) + "}"
