"""What the pages say is so: commands, files, links, examples, generated pages."""

from __future__ import annotations

import importlib.util
import re
import subprocess
from collections.abc import Callable
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest
import yaml

from wellheard.cli import render, render_back, wire
from wellheard.cli.app import COMMANDS
from wellheard.room import codec
from wellheard.workflow.design import Designed, design
from wellheard.workflow.load import load

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")

# Taken apart here, so that this file does not hold what it looks for.
FORBIDDEN = (
    "pypi" + r"\.org",
    "python" + r"hosted\.org",
    "npm" + r"js\.(org|com)",
    r"(?<![\w./])/" + "work/",
    r"(?<![\w./])/" + "home/",
    r"(?<![\w./])/" + "root/",
    r"\bC:\\" + "Users",
    r"\btrans" + r"cripts?\b",
    r"\b" + "seed doc" + "ument",
    r"\b" + "inter" + r"view (with|of)\b",
    r"\b" + "you" + "tube",
    r"\bshared/" + r"(design|interface|style|stack|look|reference)",
    "TO" + "DO",
    "FIX" + "ME",
)


@cache
def _pages() -> tuple[Path, ...]:
    known = subprocess.run(
        ["git", "ls-files", "-z", "*.md"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if known.returncode:  # a source archive without its history
        return tuple(p for p in ROOT.rglob("*.md") if ".venv" not in p.parts)
    return tuple(ROOT / name for name in known.stdout.split("\0") if name)


@cache
def _sources() -> tuple[Path, ...]:
    known = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if known.returncode:
        pytest.skip("no list of the project's files without git")
    binary = {".ttf", ".woff2", ".png", ".pdf"}
    found = [ROOT / name for name in known.stdout.split("\0") if name]
    return tuple(p for p in found if p.suffix not in binary and p.is_file())


@cache
def _generate() -> ModuleType:
    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_generated_pages_are_fresh() -> None:
    assert [p.name for p in _generate().stale()] == [], "run make docs"


def test_a_stale_page_is_named_and_written_only_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    generate = _generate()
    docs = tmp_path / "docs"
    docs.mkdir()
    pages = {docs / "cli.md": lambda: "new\n", docs / "rules.md": lambda: "r\n"}
    monkeypatch.setattr(generate, "DOCS", docs)
    monkeypatch.setattr(generate, "PAGES", pages)
    (docs / "cli.md").write_text("old\n", "utf-8")
    (docs / "rules.md").write_text("r\n", "utf-8")
    assert generate.main(["--check"]) == 1
    assert capsys.readouterr().err == "docs/cli.md: stale; run make docs\n"
    assert (docs / "cli.md").read_text("utf-8") == "old\n"
    assert generate.main([]) == 0
    assert generate.main(["--check"]) == 0


@pytest.mark.parametrize("page", _pages(), ids=lambda p: str(p.relative_to(ROOT)))
def test_every_relative_link_leads_somewhere(page: Path) -> None:
    text = re.sub(r"```.*?```", "", page.read_text("utf-8"), flags=re.DOTALL)
    links = re.findall(r"\]\(([^)\s]+)\)", text)
    missing = [
        link
        for link in links
        if not link.startswith(("http://", "https://", "#"))
        and not (page.parent / link.partition("#")[0]).exists()
    ]
    assert missing == []


def test_no_file_says_where_the_work_was_done_or_what_is_left_to_do() -> None:
    pattern = re.compile("|".join(FORBIDDEN), re.IGNORECASE)
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
        for path in _sources()
        for number, line in enumerate(path.read_text("utf-8", "replace").splitlines(), start=1)
        if pattern.search(line)
    ]
    assert found == []


def test_the_search_for_forbidden_words_bites() -> None:
    pattern = re.compile("|".join(FORBIDDEN), re.IGNORECASE)
    for text in ("see /" + "work/main", "https://files.python" + "hosted.org/x", "# to" + "do: x"):
        assert pattern.search(text)
    assert not pattern.search("the workflow/ and a framework/home/page")


def _blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_the_readme_names_every_command_and_no_other() -> None:
    table = re.findall(r"^\| `wellheard (\w+)", README, flags=re.MULTILINE)
    assert tuple(table) == COMMANDS
    assert {c for c in re.findall(r"\bwellheard (\w+) ", "\n".join(_blocks("sh")))} <= set(COMMANDS)


def test_what_the_readme_shows_is_there_for_the_tests_of_blocks_to_run() -> None:
    """They run every block of it: two commands that end well, and Python with its answers."""
    ours = [line for line in "\n".join(_blocks("sh")).splitlines() if line.startswith("wellheard")]
    assert len(ours) == 2
    assert "\n".join(_blocks("python")).count(">>> ") > 6


def test_every_make_target_that_pages_name_exists() -> None:
    targets = re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), flags=re.MULTILINE)
    for page in _pages():
        text = page.read_text("utf-8")
        named = re.findall(r"`make ([a-z]+)`|^make ([a-z]+)(?:$| +#)", text, flags=re.MULTILINE)
        assert {a or b for a, b in named} <= set(targets), page


def test_every_file_that_the_readme_names_in_a_folder_is_written(
    designed: Callable[[str], Designed],
) -> None:
    from wellheard.workflow.manifest import MANIFEST
    from wellheard.workflow.publish import design_files

    loaded = load(ROOT / "examples" / "both-ways" / "both-ways.room.yaml")
    asked_for = "room.ifc"
    names = {*design_files(loaded, designed("both-ways")), MANIFEST, asked_for}
    table = README.partition("| file | for |")[2].partition("\n\n")[0]
    cells = [line.split("|")[1] for line in table.splitlines()[2:]]
    assert {name for cell in cells for name in re.findall(r"`([^`]+)`", cell)} == names


def test_what_the_readme_says_that_the_demo_prints_is_printed(
    designed: Callable[[str], Designed],
) -> None:
    answer = designed("both-ways")
    assert answer.wired is not None
    judged = answer.judged
    printed = "\n".join(
        (
            render.verdict(judged),
            render.placement(answer.placed.proposal, judged.evidence.room),
            render.ledger(judged.evidence),
            render_back.way_back(judged.evidence),
            wire.text(answer.wired),
            render.findings(judged.findings),
        )
    ).splitlines()
    shown = [line for line in _blocks("text")[0].splitlines() if line not in ("", "…")]
    assert [line for line in shown if line not in printed] == []
    assert len(shown) > 15


def test_the_room_of_the_readme_keeps_its_promise() -> None:
    (text,) = _blocks("yaml")
    room = codec.parse(text, name="README.md")
    assert len(room.people.seats) == 5


def test_the_room_of_the_readme_is_designed(tmp_path: Path) -> None:
    path = tmp_path / "tide.room.yaml"
    path.write_text(_blocks("yaml")[0], "utf-8")
    assert design(load(path)).kept


def test_the_catalogue_page_and_the_examples_page_name_what_exists() -> None:
    page = (ROOT / "examples" / "README.md").read_text("utf-8")
    rows = set(re.findall(r"^\| `([a-z-]+)`", page, flags=re.MULTILINE))
    folders = {p.name for p in (ROOT / "examples").iterdir() if p.is_dir()}
    assert rows == folders
    for name in folders:
        assert (ROOT / "examples" / name / f"{name}.room.yaml").is_file()
        assert yaml.safe_load((ROOT / "examples" / name / "expected.yaml").read_text("utf-8"))


def test_the_decisions_page_lists_every_record_in_order() -> None:
    folder = ROOT / "docs" / "decisions"
    listed = re.findall(r"\]\((\d{4}-[a-z0-9-]+\.md)\)", (folder / "README.md").read_text("utf-8"))
    assert listed == sorted(p.name for p in folder.glob("[0-9]*.md"))
    for name in listed:
        text = (folder / name).read_text("utf-8")
        for part in ("Context", "Choice", "Rejected", "What would change our mind"):
            assert f"**{part}.**" in text


def test_the_changelog_counts_the_rules_that_there_are() -> None:
    from wellheard.checks.registry import rules

    text = (ROOT / "CHANGELOG.md").read_text("utf-8")
    assert f"{len(rules())} rules" in text
    assert "### Changed results" in text


def test_pictures_are_small_and_each_is_shown() -> None:
    pictures = sorted((ROOT / "docs" / "pictures").glob("*.[ps][nv]g"))
    assert pictures
    for picture in pictures:
        assert picture.stat().st_size < 250_000
        assert f"docs/pictures/{picture.name}" in README
