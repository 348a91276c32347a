"""YAML text to plain data that remembers where everything stood.

A small, strict part of YAML: one document of mappings, lists and scalars. Aliases, anchors, tags,
merge keys and duplicate keys are refused, because an edit of such text would change more than it
shows, and a few lines of aliases can grow to gigabytes. Only ``true``, ``false``, ``null`` and
decimal numbers are anything but text: ``yes``, ``on`` and dates stay as written.

The tree is built from parser events with an explicit stack, so no nesting can exhaust Python's.
"""

from __future__ import annotations

import contextlib
import math
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, TypeAlias

import yaml

from wellheard import files
from wellheard.errors import DocumentError, Problem

Path: TypeAlias = tuple[str | int, ...]

MOST_BYTES = 2_000_000
MOST_VALUES = 100_000
"""Scalars, lists and mappings in a text; 500 seats with all their details have some 10 000."""
MOST_PROBLEMS = 200
"""More are not told: whoever sent that many sent something else than was meant."""
MEND_FIRST = "mend these first"
BEGINNINGS = {
    b"%PDF-": "a PDF",
    b"\x89PNG\r\n\x1a\n": "a picture (PNG)",
    b"\xff\xd8\xff": "a picture (JPEG)",
    b"GIF8": "a picture (GIF)",
    b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1": "an office document of the older kind (DOC, XLS)",
    b"\x1f\x8b": "a compressed file (GZIP)",
    b"AC10": "a drawing (DWG)",
}
"""First bytes of what is sent in place of a text, as their formats define them [M]."""
PACKED = {
    b"xl/": "a spreadsheet (XLSX)",
    b"word/": "a text document (DOCX)",
    b"ppt/": "slides (PPTX)",
    b"opendocument.": "an office document (ODF)",
}
"""What an archive is, by the name of a part of it (ECMA-376-2, ODF 1.2 part 3) [M]."""
DEEPEST = 20
"""Levels of nesting; a room document needs nine."""

_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_FLOAT = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)")


def plain_scalar(text: str) -> str | int | float | bool | None:
    """What an unquoted scalar is.

    Examples
    --------
    >>> [plain_scalar(t) for t in ("yes", "true", "~", "2.75", "14", "007", "2026-01-31")]
    ['yes', True, None, 2.75, 14, '007', '2026-01-31']
    """
    if text in ("true", "false"):
        return text == "true"
    if text in ("", "~", "null"):
        return None
    if _INT.fullmatch(text):
        # Past 30 digits it is a slip of the keyboard; as a float it still gets a message.
        return int(text) if len(text) <= 30 else float(text)
    if _FLOAT.fullmatch(text):
        return float(text)
    if _NOT_FINITE.fullmatch(text):
        return math.nan
    return text


@dataclass(slots=True)
class Node:
    """One value of the text: its place, and what hangs below it."""

    start: int
    end: int
    line: int
    column: int
    flow: bool = False
    value: Any = None
    entries: list[tuple[Node, Node]] | None = None
    items: list[Node] | None = None

    def entry(self, key: str) -> tuple[Node, Node] | None:
        """Key and value nodes of an entry."""
        return next((e for e in self.entries or () if e[0].value == key), None)


@dataclass(frozen=True, slots=True)
class Source:
    """Text with the tree read from it."""

    name: str
    text: str
    root: Node | None

    @property
    def data(self) -> Any:
        """The whole text as dicts with text keys, lists and scalars."""
        return plain(self.root) if self.root is not None else None

    def place(self, path: Path, *, key: bool = False) -> tuple[int, int]:
        """Line and column, from 1, of the value at ``path``, or of its key.

        A path that the text lacks has the place of its nearest ancestor that is there; the text
        as a whole is at 1, 1.
        """
        node = self.root
        here = node
        for step in path:
            if node is None:
                break
            if node.entries is not None:
                found = node.entry(str(step))
                if found is None:
                    break
                name, node = found
                # What begins on a later line, or is not there at all, is shown at its key.
                below = node.start == node.end or (not node.flow and node.value is None)
                here = name if key or below else node
            elif node.items is not None and isinstance(step, int) and step < len(node.items):
                node = here = node.items[step]
            else:
                break
        return (here.line, here.column) if here is not None else (1, 1)

    def problem(self, path: Path, what: str, allowed: str, *, key: bool = False) -> Problem:
        """Problem at a path of this text."""
        line, column = self.place(path, key=key)
        return Problem(self.name, line, column, dotted(path), what, allowed)


def dotted(path: Iterable[str | int]) -> str:
    """Path as people read it.

    Examples
    --------
    >>> dotted(("space", "outline", 2))
    'space.outline.2'
    """
    return ".".join(map(str, path))


def plain(node: Node) -> Any:
    """Data below a node; the nesting limit keeps this recursion shallow."""
    if node.entries is not None:
        return {key.value: plain(value) for key, value in node.entries}
    if node.items is not None:
        return [plain(item) for item in node.items]
    return node.value


@dataclass(slots=True)
class _Builder:
    """Turns parser events into nodes and problems."""

    name: str
    levels: int
    problems: list[Problem] = field(default_factory=list)
    root: Node | None = None
    stack: list[Node] = field(default_factory=list)
    keys: list[Node | None] = field(default_factory=list)
    seen: list[dict[str, int]] = field(default_factory=list)
    documents: int = 0
    values: int = 0

    def complain(self, mark: Any, what: str, allowed: str, *, key: str = "") -> None:
        path = ".".join(filter(None, (self.path(), key)))
        self.problems.append(
            Problem(self.name, mark.line + 1, mark.column + 1, path, what, allowed)
        )

    def path(self) -> str:
        steps: list[str] = []
        for depth, (node, key) in enumerate(zip(self.stack, self.keys, strict=True)):
            if node.items is not None:
                # What is open further in is in the list already; what comes next is not.
                inside = depth < len(self.stack) - 1
                steps.append(str(len(node.items) - inside))
            elif key is not None:
                steps.append(str(key.value))
        return ".".join(steps)

    def take(self, event: Any) -> bool:
        """Handle one event; false stops reading."""
        mark: Any = event.start_mark
        if len(self.problems) >= MOST_PROBLEMS:
            self.complain(mark, f"{MOST_PROBLEMS} problems so far, and more to come", MEND_FIRST)
            return False
        self.values += isinstance(event, yaml.NodeEvent)
        if self.values > MOST_VALUES:
            self.complain(mark, f"more than {MOST_VALUES:,} values", f"at most {MOST_VALUES:,}")
            return False
        end: Any = event.end_mark
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.complain(mark, "a second document begins", "one document in a file")
                return False
        elif isinstance(event, yaml.AliasEvent):
            self.complain(
                mark, f"the alias *{_short(event.anchor or '')}", "write the value out again"
            )
            self.add(Node(mark.index, end.index, mark.line + 1, mark.column + 1))
        elif isinstance(event, yaml.NodeEvent):
            if event.anchor is not None:
                self.complain(mark, f"the anchor &{_short(event.anchor)}", "leave it out")
            tag = getattr(event, "tag", None)
            if tag is not None:
                written = tag.replace("tag:yaml.org,2002:", "!!")
                self.complain(mark, f"the tag {_short(written)}", "leave it out")
            node = Node(mark.index, end.index, mark.line + 1, mark.column + 1)
            if isinstance(event, yaml.ScalarEvent):
                node.value = self.scalar(event)
                self.add(node)
            else:
                return self.open(node, event)
        elif isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent):
            self.close(event)
        return True

    def scalar(self, event: Any) -> Any:
        # A key is text whatever it looks like: 125 and x are both names of entries.
        if self.expects_key():
            if event.value == "<<" and not event.style:
                self.complain(
                    event.start_mark, "the merge key <<", "write the fields out", key="<<"
                )
            return event.value
        if event.style:
            return event.value
        value = plain_scalar(event.value)
        if isinstance(value, float) and not math.isfinite(value):
            self.complain(
                event.start_mark, f"{event.value:.30} is no usable number", "a finite number"
            )
            return None
        return value

    def expects_key(self) -> bool:
        return bool(self.stack) and self.stack[-1].entries is not None and self.keys[-1] is None

    def open(self, node: Node, event: Any) -> bool:
        if self.expects_key():
            self.complain(event.start_mark, "a mapping or list as a key", "text as keys")
            return False
        if len(self.stack) >= DEEPEST:
            self.complain(
                event.start_mark,
                f"nested more than {DEEPEST} deep",
                f"a document has {self.levels} levels",
            )
            return False
        node.flow = bool(event.flow_style)
        mapping = isinstance(event, yaml.MappingStartEvent)
        if mapping:
            node.entries = []
        else:
            node.items = []
        self.add(node, keep_key=True)
        self.stack.append(node)
        self.keys.append(None)
        self.seen.append({})
        return True

    def close(self, event: Any) -> None:
        node = self.stack.pop()
        self.keys.pop()
        self.seen.pop()
        if node.flow:
            node.end = event.end_mark.index
        else:
            # The parser ends a block where the next token begins, past blank lines and comments.
            last = node.entries[-1][1] if node.entries else node.items[-1] if node.items else None
            node.end = last.end if last is not None else node.start
        if self.stack and self.stack[-1].entries is not None:
            self.keys[-1] = None

    def add(self, node: Node, *, keep_key: bool = False) -> None:
        if not self.stack:
            self.root = node
            return
        parent = self.stack[-1]
        if parent.items is not None:
            parent.items.append(node)
            return
        assert parent.entries is not None
        key = self.keys[-1]
        if key is None:
            name = str(node.value)
            if name in self.seen[-1]:
                line = self.seen[-1][name]
                where = ".".join(filter(None, (self.path(), name)))
                self.problems.append(
                    Problem(
                        self.name,
                        node.line,
                        node.column,
                        where,
                        f"there already is one in line {line}",
                        "each key once",
                    )
                )
            self.seen[-1].setdefault(name, node.line)
            node.value = name
            self.keys[-1] = node
            return
        parent.entries.append((key, node))
        if not keep_key:
            self.keys[-1] = None


def read_file(path: str | os.PathLike[str], *, what: str) -> bytes:
    """Bytes of a file of at most 2 MB.

    Parameters
    ----------
    path : path
        A file, or a pipe that somebody writes to.
    what : str
        What it should have been, for messages: "a room document".

    Raises
    ------
    InputError
        The file cannot be read.
    DocumentError
        It is too large.
    """
    raw = files.read_bytes(path, most=MOST_BYTES, wanted=f"{what} that can be read")
    if len(raw) > MOST_BYTES:
        size = len(raw)
        with contextlib.suppress(OSError):
            size = max(size, os.stat(path).st_size)
        raise DocumentError([too_large(os.fspath(path), size)])
    return raw


def too_large(name: str, size: int) -> Problem:
    """Problem of a text of more bytes than are read."""
    return Problem(name, 1, 1, "", f"{size / 1e6:.1f} MB", f"at most {MOST_BYTES / 1e6:g} MB")


def foreign(raw: bytes) -> str:
    """What a file of another program is, by how it begins; '' for what may be a text.

    Examples
    --------
    >>> foreign(b"%PDF-1.7 "), foreign(b"PK\\x03\\x04 xl/workbook.xml"), foreign(b"wellheard: 1")
    ('a PDF', 'a spreadsheet (XLSX)', '')
    """
    if raw.startswith(b"PK\x03\x04"):
        inside = (said for part, said in PACKED.items() if part in raw)
        return next(inside, "a ZIP archive")
    return next((said for start, said in BEGINNINGS.items() if raw.startswith(start)), "")


def read_source(
    raw: bytes | str, *, name: str, wanted: str, levels: int
) -> tuple[Source, list[Problem]]:
    """Tree of a text, and everything wrong with its form.

    Parameters
    ----------
    raw : bytes or str
        UTF-8.
    name : str
        File name for messages.
    wanted : str
        What it should be, for messages: "a room document: wellheard: 1 …".
    levels : int
        Levels of nesting that such a text needs, for messages.

    Returns
    -------
    Source, list of Problem
        With problems, the source is empty if reading had to stop.
    """
    empty = Source(name, "", None)
    found = raw if isinstance(raw, bytes) else raw.encode("utf-8", "surrogatepass")
    other = foreign(found)
    if other:
        noun, _, begins = wanted.partition(": ")
        what, allowed = f"this is {other}, not {noun}", f"a text that begins with {begins}"
        return empty, [Problem(name, 1, 1, "", what, allowed)]
    if len(found) > MOST_BYTES:
        return empty, [too_large(name, len(found))]
    try:
        text = found.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return empty, [
            _encoding(name, found[: error.start].decode("utf-8-sig"), "the text is not UTF-8")
        ]
    if "\0" in text:
        what = "null bytes, as in UTF-16 or a damaged file"
        return empty, [_encoding(name, text.partition("\0")[0], what)]
    builder = _Builder(name, levels)
    whole = True
    try:
        for event in _events(text):
            whole = builder.take(event)
            if not whole:
                break
    except yaml.MarkedYAMLError as error:
        whole = False
        # An open quote is noticed at the end of the text; where it opened is what helps.
        unclosed = "end of stream" in str(error.problem) and error.context_mark
        mark = error.context_mark if unclosed else error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        what = " ".join(filter(None, (error.context, error.problem)))
        if "nesting depth" in what:
            what = "nested too deep"
        builder.problems.append(
            Problem(name, line, column, builder.path(), f"no valid YAML: {what}", _hint(text, line))
        )
    except yaml.YAMLError as error:
        whole = False
        position = getattr(error, "position", None)
        line = text.count("\n", 0, position) + 1 if isinstance(position, int) else 1
        builder.problems.append(
            Problem(name, line, 1, "", "a character that no text has", "printable characters")
        )
    # Half a document would only add complaints about the half that was not read.
    source = Source(name, text, builder.root if whole else None)
    if not builder.problems and (builder.root is None or builder.root.entries is None):
        empty_text = builder.root is None or builder.root.start == builder.root.end
        kind = "nothing" if empty_text else "no mapping of fields"
        builder.problems.append(Problem(name, 1, 1, "", f"there is {kind} in it", wanted))
    return source, builder.problems


def _encoding(name: str, before: str, what: str) -> Problem:
    lines = re.split("\r\n|\r|\n", before)
    return Problem(name, len(lines), len(lines[-1]) + 1, "", what, "save the file as UTF-8")


def _short(name: str) -> str:
    return name if len(name) <= 40 else f"{name[:40]}…"


def _events(text: str) -> Iterator[Any]:
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    events: Iterator[Any] = yaml.parse(text, Loader=loader)
    return events


def _hint(text: str, line: int) -> str:
    lines = text.splitlines()
    here = lines[max(line - 2, 0) : line]
    near = here[-1] if here else ""
    if "\t" in near[: len(near) - len(near.lstrip())]:
        return "indent with spaces, not tabs"
    if any(text.startswith(("<<<<<<<", "=======", ">>>>>>>")) for text in here):
        return "a merge left two versions here: keep one, and leave the marks out"
    return "check indentation, colons, quotes and brackets here and in the line before"
