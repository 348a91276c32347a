"""What a page shows is what happens: every fenced block of the documentation is run.

A paragraph that is nothing but a file name in code style, right before a block, names the file
that the block is: it is written to the folder in which the blocks of the page run. A comment
``<!-- not run: reason -->`` there excuses a block; each excuse is counted below.
"""

from __future__ import annotations

import contextlib
import doctest
import io
import json
import os
import re
import runpy
import shlex
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from wellheard.catalog.entries import parse_entries
from wellheard.cli.app import run
from wellheard.dossier.letterhead import parse_house
from wellheard.room import codec
from wellheard.room.document import Room

ROOT = Path(__file__).parents[2]

EXCUSED: dict[str, int] = {"docs/tutorials/from-a-plan.md": 1}
"""Blocks that say why they cannot be run, by page. A new excuse is a change of this table."""

SHOWN_ONLY = {
    ("README.md", "text"): "shortened output; tests/test_docs.py holds it to the real one",
    ("docs/architecture.md", ""): "drawing of the layers; import-linter holds them",
    ("docs/cli.md", "text"): "printed help; the page is generated and checked fresh",
    ("docs/pictures/README.md", "sh"): "how pictures are made, by other tools; no page of the site",
    ("docs/index.md", "{toctree}"): "contents of the site; the build refuses a wrong one",
}
"""Languages that nothing can run, and what keeps them true instead."""

PREPARED = {
    "my-finishes.csv": "id,name,unit,125,250,500,1000,2000,4000,8000,source,trust\n"
    "my-felt,Felt,coefficient,0.1,0.2,0.5,0.7,0.8,0.8,0.8,Data sheet,C\n"
}
"""Files that a page speaks of as the reader's own."""


@dataclass(frozen=True)
class Block:
    """One fenced block with what stands before it."""

    line: int
    language: str
    text: str
    file: str
    excuse: str


@cache
def _pages() -> tuple[Path, ...]:
    return (ROOT / "README.md", *sorted((ROOT / "docs").rglob("*.md")))


def _name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


@cache
def _blocks(page: Path) -> tuple[Block, ...]:
    return tuple(_found(page.read_text("utf-8").splitlines()))


def _found(lines: list[str]) -> Iterator[Block]:
    before = ""
    number = 0
    while number < len(lines):
        fence = re.fullmatch(r"(`{3,})(\S*)", lines[number].strip())
        if fence is None:
            before = lines[number].strip() or before
            number += 1
            continue
        end = next(i for i in range(number + 1, len(lines)) if lines[i].strip() == fence[1])
        inside = lines[number + 1 : end]
        file = re.fullmatch(r"`([\w.-]+\.\w+)`", before)
        excuse = re.fullmatch(r"<!-- not run: (.+) -->", before)
        yield Block(
            line=number + 1,
            language=fence[2],
            text="\n".join(inside) + "\n",
            file=file[1] if file else "",
            excuse=excuse[1] if excuse else "",
        )
        before = ""
        number = end + 1


@dataclass
class Session:
    """One reader at work: a folder, a Python session, and the last exit code."""

    room_of: Callable[..., Room]
    code: int = 0
    names: dict[str, Any] = field(default_factory=dict)
    fragments: dict[str, Any] = field(default_factory=dict)

    def try_block(self, block: Block) -> None:
        """Run a block, or read it, as its language asks."""
        reader: dict[str, Callable[[Block], None]] = {
            "console": self.try_console,
            "sh": self.try_shell,
            "python": self.try_python,
            "yaml": self.try_yaml,
            "csv": self.try_products,
            "json": self.try_json,
            "diff": self.try_edit,
        }
        reader[block.language](block)

    def try_console(self, block: Block) -> None:
        """Type each line after a dollar and compare what comes with what is shown."""
        shown = [part.split("\n", 1) for part in re.split(r"^\$ ", block.text, flags=re.M)]
        assert shown[0] == [""], "a console block begins with a command"
        for command, answer in shown[1:]:
            while command.endswith("\\"):
                more, _, answer = answer.partition("\n")
                command = command[:-1] + more.removeprefix(">")
            said = self.answer(command)
            assert _matches(answer, said), f"$ {command}\n{said}"

    def try_shell(self, block: Block) -> None:
        """Run our own commands; each must end well."""
        for line in block.text.replace("\\\n", " ").splitlines():
            words = shlex.split(line, comments=True)
            if words[:1] == ["make"]:
                continue  # tests/test_docs.py knows the targets
            if words:
                said = self.answer(shlex.join(words).replace("'>'", ">"))
                assert self.code == 0, f"$ {line}\n{said}"

    def try_python(self, block: Block) -> None:
        """Run the statements in one namespace per page; what is shown after ``>>>`` comes."""
        if ">>>" not in block.text:
            with contextlib.redirect_stdout(io.StringIO()):
                exec(compile(block.text, "block", "exec"), self.names)
            return
        case = doctest.DocTestParser().get_doctest(block.text, self.names, "page", None, block.line)
        case.globs = self.names
        out = io.StringIO()
        runner = doctest.DocTestRunner(verbose=False, optionflags=doctest.ELLIPSIS)
        with np.printoptions(legacy=False):
            runner.run(case, out=out.write, clear_globs=False)
        assert runner.failures == 0, out.getvalue()

    def try_yaml(self, block: Block) -> None:
        """Read a room, a part of one laid over what the page showed before, or products."""
        data = yaml.load(block.text, Loader=_Words)
        assert isinstance(data, dict)
        if "wellheard-products" in data:
            self.try_products(block)
        elif block.file == "house.yaml":
            parse_house(block.text)
        elif "wellheard" in data and "space" in data:
            codec.parse(block.text, name=block.file or "page")
        else:
            self.fragments = _laid(self.fragments, data)
            codec.parse(codec.dump(self.room_of(self.fragments)), name="page")
        self.write(block)

    def try_products(self, block: Block) -> None:
        """Read a file of products as `catalog check` does."""
        assert block.file, "a file of products has a name"
        parse_entries(block.text, name=block.file)
        self.write(block)

    def try_json(self, block: Block) -> None:
        """Read it."""
        json.loads(block.text)

    def try_edit(self, block: Block) -> None:
        """Make the changes to the named file; what one takes away must be there once."""
        assert block.file, "a change is one of a named file"
        path = Path(block.file)
        text = path.read_text("utf-8")
        for change in re.split(r"^…\n", block.text, flags=re.M):
            lines = change.splitlines(keepends=True)
            old = "".join(line[1:] for line in lines if line[0] in " -")
            new = "".join(line[1:] for line in lines if line[0] in " +")
            assert len(lines) == sum(line[0] in " +-" for line in lines)
            assert old
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        path.write_text(text, "utf-8")

    def write(self, block: Block) -> None:
        """Save a block that is a file."""
        if block.file:
            Path(block.file).write_text(block.text, "utf-8")

    def answer(self, command: str) -> str:
        """What a command prints, both streams as they come."""
        line, _, target = command.partition(" > ")
        words = shlex.split(line)
        if words[0] == "wellheard":
            out = io.StringIO()
            errors = io.StringIO() if target else out
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
                self.code = run(words[1:])
            assert "Traceback" not in out.getvalue() + errors.getvalue(), out.getvalue()
            if target:
                Path(target.strip()).write_text(out.getvalue(), "utf-8")
                return errors.getvalue()
            return out.getvalue()
        if words == ["echo", "$?"]:
            return f"{self.code}\n"
        if words[0] == "cat":
            return Path(words[1]).read_text("utf-8")
        if words[0] == "ls":
            return "".join(f"{name}\n" for name in sorted(os.listdir(words[1])))
        if words[0] == "python":
            return _ran(words[1:])
        assert words[0] == "cp", f"{command}: no command that pages may use"
        shutil.copyfile(words[1], words[2])
        return ""


def _ran(words: list[str]) -> str:
    """What a script of the examples prints."""
    out = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(out):
        patch.setattr(sys, "argv", words)
        runpy.run_path(words[0], run_name="__main__")
    return out.getvalue()


class _Words(yaml.SafeLoader):
    """YAML in which `on` is a word, as room documents have it."""


_Words.yaml_implicit_resolvers = {
    first: [(tag, form) for tag, form in forms if not (tag.endswith("bool") and first in "oOyYnN")]
    for first, forms in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def _laid(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    result = dict(base)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = _laid(result[key], value) if both else value
    return result


def _matches(shown: str, said: str) -> bool:
    """Whether ``shown`` is ``said`` with lines, or parts of a line, left out at dots."""
    pattern = ""
    for line in shown.rstrip("\n").splitlines():
        if line.strip() == "…":
            pattern += r"(?:.*\n)*?"
        else:
            pattern += ".*".join(re.escape(part) for part in line.rstrip().split("…")) + " *\n"
    return re.fullmatch(pattern + r"\n*", said) is not None


@pytest.fixture
def session(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, room_of: Callable[..., Room]
) -> Session:
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    for name, text in PREPARED.items():
        (tmp_path / name).write_text(text, "utf-8")
    (tmp_path / "catalogue-of-mine").mkdir()
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(tmp_path / "catalogue-of-mine"))
    monkeypatch.chdir(tmp_path)
    return Session(room_of)


RUNNABLE = {"console", "sh", "python", "yaml", "csv", "json", "diff"}
RUN = [page for page in _pages() if any(b.language in RUNNABLE for b in _blocks(page))]


@pytest.mark.parametrize("page", RUN, ids=_name)
def test_every_block_of_the_page_does_what_it_shows(page: Path, session: Session) -> None:
    for block in _blocks(page):
        if block.excuse or (_name(page), block.language) in SHOWN_ONLY:
            continue
        try:
            session.try_block(block)
        except Exception as error:
            raise AssertionError(f"{_name(page)}:{block.line}\n{error}") from error


def test_what_is_not_run_is_excused_one_by_one() -> None:
    found: dict[str, int] = {}
    for page in _pages():
        for block in _blocks(page):
            if block.excuse:
                assert len(block.excuse) > 10, f"{_name(page)}:{block.line}: no reason"
                found[_name(page)] = found.get(_name(page), 0) + 1
    assert found == EXCUSED


def test_every_language_that_is_only_shown_is_there_and_has_a_reason() -> None:
    there = {(_name(page), block.language) for page in _pages() for block in _blocks(page)}
    assert set(SHOWN_ONLY) <= there
    assert all(len(reason) > 20 for reason in SHOWN_ONLY.values())


@pytest.mark.parametrize(
    ("shown", "said", "same"),
    [
        ("one\ntwo\n", "one\ntwo\n", True),
        ("one\n…\n", "one\ntwo\nthree\n", True),
        ("at … m\n", "at 2.4 m\n", True),
        ("one\n", "one\ntwo\n", False),
        ("one\n…\nfour\n", "one\ntwo\nthree\n", False),
        ("at 2.5 m\n", "at 2.4 m\n", False),
    ],
)
def test_dots_leave_out_and_nothing_else_does(shown: str, said: str, same: bool) -> None:
    assert _matches(shown, said) == same


def test_wrong_blocks_are_noticed(session: Session) -> None:
    wrong = [
        ("console", "$ wellheard schema\nno schema\n", ""),
        ("console", "$ rm -r examples\n", ""),
        ("sh", "wellheard check nowhere.room.yaml\n", ""),
        ("python", ">>> 1 + 1\n3\n", ""),
        ("python", "raise ValueError\n", ""),
        ("yaml", "people: {seats: {s1: {at: [99, 2]}}}\n", ""),
        ("yaml", "wellheard: 1\nspace: {height: 2}\n", ""),
        ("csv", "id,name\nx,\n", "x.accessories.csv"),
        ("json", "{one: 1}\n", ""),
        ("diff", "-never there\n+new\n", "page.txt"),
    ]
    Path("page.txt").write_text("there\n", "utf-8")
    for language, text, file in wrong:
        block = Block(1, language, text, file, "")
        with pytest.raises(Exception):  # noqa: B017, PT011
            session.try_block(block)
