"""The site is whole, needs nothing from outside, and leaves nothing out."""

from __future__ import annotations

import fcntl
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest

import wellheard
from wellheard.checks.registry import rules
from wellheard.cli.app import COMMANDS
from wellheard.room.schema import json_schema

ROOT = Path(__file__).parents[2]
LOADED = {("script", "src"), ("link", "href"), ("img", "src"), ("source", "src"), ("iframe", "src")}


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site, built once for all workers of a run; a warning of the build is an error."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if base.name.startswith("popen-") else base
    folder = shared / "site"
    with (shared / "site.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not folder.exists():
            trees = str(shared / "doctrees")
            command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-b", "html"]
            done = subprocess.run(
                [*command, "-d", trees, str(ROOT / "docs"), str(folder)],
                capture_output=True,
                text=True,
                check=False,
            )
            assert done.returncode == 0, done.stderr
    return folder


@dataclass
class Page(HTMLParser):
    """What a page loads, links to, and can be linked at."""

    loads: list[str] = field(default_factory=list)
    links: list[str] = field(default_factory=list)
    anchors: set[str] = field(default_factory=set)
    styles: list[str] = field(default_factory=list)
    text: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep what an element refers to."""
        for name, value in attrs:
            if value is None:
                continue
            if (tag, name) in LOADED and dict(attrs).get("rel") not in ("next", "prev", "search"):
                self.loads.append(value)
            elif (tag, name) == ("a", "href"):
                self.links.append(value)
            elif name == "id":
                self.anchors.add(value)
            elif name in ("style", "srcset"):
                self.styles.append(value)

    def handle_data(self, data: str) -> None:
        """Keep the words."""
        self.text.append(data)


@cache
def _read(path: Path) -> Page:
    page = Page()
    page.feed(path.read_text("utf-8"))
    return page


def _pages(site: Path) -> Iterator[tuple[Path, Page]]:
    for path in sorted(site.rglob("*.html")):
        yield path, _read(path)


def _words(site: Path, name: str) -> str:
    return " ".join("".join(_read(site / name).text).split())


def _is_outside(address: str) -> bool:
    return re.match(r"[a-z][a-z+.-]*:|//", address) is not None


def test_no_page_loads_anything_from_outside(site: Path) -> None:
    pages = list(_pages(site))
    assert len(pages) > 25
    for path, page in pages:
        assert page.loads, path
        for address in page.loads:
            assert not _is_outside(address), f"{path.name}: {address}"
            assert (path.parent / address.partition("?")[0]).resolve().is_file(), address
        assert not [style for style in page.styles if "url(" in style or "//" in style]


def test_style_sheets_and_fonts_are_there_and_ask_for_nothing_else(site: Path) -> None:
    sheets = list(site.rglob("*.css"))
    asked = set()
    for sheet in sheets:
        text = sheet.read_text("utf-8")
        assert "@import" not in text.replace('@import url("basic.css")', "")
        for address in re.findall(r"url\(\s*[\"']?([^\"')]+)", text):
            if address.startswith("data:"):
                continue
            assert not _is_outside(address), f"{sheet.name}: {address}"
            if sheet.name == "sheet.css":
                assert (sheet.parent / address).is_file(), address
                asked.add(address)
    assert {name for name in asked if name.endswith(".woff2")} == {
        f"Barlow-{face}.woff2" for face in ("Regular", "Italic", "Medium", "SemiBold")
    }
    assert (site / "_static" / "OFL.txt").is_file()


def test_every_link_within_the_site_leads_to_a_page_and_a_place_on_it(site: Path) -> None:
    missing = []
    for path, page in _pages(site):
        for link in page.links:
            if _is_outside(link):
                continue
            name, _, place = link.partition("#")
            target = (path.parent / unquote(name)).resolve() if name else path
            found = target.is_file()
            if found and place and target.suffix == ".html":
                found = unquote(place) in _read(target).anchors
            if not found:
                missing.append(f"{path.relative_to(site)}: {link}")
    assert missing == []


def test_every_rule_command_and_public_name_has_its_place(site: Path) -> None:
    written = _words(site, "rules.html")
    assert [code for code in rules() if code not in written] == []
    written = _words(site, "cli.html")
    assert [name for name in COMMANDS if f"wellheard {name}" not in written] == []
    written = _words(site, "python.html")
    names = [name for name in wellheard.__all__ if not name.startswith("__")]
    assert [name for name in names if name not in written] == []
    assert " at 0x" not in written, "a page with an address in memory is never fresh"


def test_every_field_of_the_document_has_a_row_with_a_meaning() -> None:
    schema = json_schema()
    page = (ROOT / "docs" / "document.md").read_text("utf-8")
    rows = re.findall(r"^\| `(\w+)` \| (.+?) \| .+? \| .+? \|$", page, flags=re.M)
    headings = re.findall(r"^##+ .*`([\w.<>]+)`", page, flags=re.M)
    parts: list[dict[str, Any]] = [schema, *schema["$defs"].values()]
    documented = [name for name, _ in rows]
    for part in parts:
        for name in part["properties"]:
            assert name in documented or name in headings, name
    counted = sum(len(part["properties"]) for part in schema["$defs"].values())
    # The parts of the document itself have headings, its plain fields a table.
    plain = [name for name, one in schema["properties"].items() if "$ref" not in str(one)]
    assert len(rows) == counted + len(plain)
    assert all(len(meaning) > 2 for _, meaning in rows)


def test_the_search_finds_without_a_server(site: Path) -> None:
    index = (site / "searchindex.js").read_text("utf-8")
    assert index.startswith("Search.setIndex(")
    for word in ("certif", "reverber", "microphon"):
        assert word in index
    assert "fetch(" not in index


def test_formulas_are_drawn_by_the_browser_itself(site: Path) -> None:
    page = (site / "physics" / "reverberation.html").read_text("utf-8")
    assert page.count('<math xmlns="http://www.w3.org/1998/Math/MathML" display="block">') >= 3
    assert "<merror" not in page


def test_the_reading_of_pages_sees_what_they_load_and_where_they_lead() -> None:
    page = Page()
    page.feed(
        '<link rel="stylesheet" href="//cdn/x.css"><script src="https://a/b.js"></script>'
        '<img src="data:x" style="background: url(x)"><link rel="next" href="b.html">'
        '<a href="c.html#d" id="e">words</a>'
    )
    assert page.loads == ["//cdn/x.css", "https://a/b.js", "data:x"]
    assert [_is_outside(one) for one in page.loads] == [True, True, True]
    assert (page.links, page.anchors, page.styles) == (["c.html#d"], {"e"}, ["background: url(x)"])
    assert not _is_outside("../_static/sheet.css?v=1")
