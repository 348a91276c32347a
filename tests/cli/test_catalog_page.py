"""Every block of the page about one's own products is one that works as it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from wellheard.catalog.datasheets import SHEETS
from wellheard.catalog.flat import columns
from wellheard.cli.app import run

PAGE = (Path(__file__).parents[2] / "docs" / "own-products.md").read_text("utf-8")


def test_every_block_of_the_page_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(tmp_path / "mine"))
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.chdir(folder)
    files = re.findall(r"`([a-z.]+)`\n\n```(?:yaml|csv)\n(.*?)```", PAGE, flags=re.DOTALL)
    assert [name for name, _ in files] == [
        "lobby.products.yaml",
        "lobby.loudspeakers.csv",
        "foyer.products.yaml",
        "lobby.room.yaml",
    ]
    for name, text in files:
        Path(name).write_text(text, "utf-8")
    assert run(["catalog", "check", "foyer.products.yaml"]) == 0
    assert "sensitivity" not in capsys.readouterr().err
    lines = "".join(re.findall(r"```sh\n(.*?)```", PAGE, flags=re.DOTALL)).splitlines()
    assert len(lines) == 6
    for line in lines:
        command, _, target = line.partition(" > ")
        words = command.split()
        assert words[0] == "wellheard"
        assert run(words[1:]) == 0, line
        said = capsys.readouterr()
        assert said.out
        if target:
            Path(target).write_text(said.out, "utf-8")
    # What was started from a shipped entry still has its id, and is refused until it is renamed.
    started = Path("started.yaml").rename("started.products.yaml")
    assert run(["catalog", "check", str(started)]) == 2
    assert "a shipped product has that id" in capsys.readouterr().err
    started.unlink()
    (code,) = re.findall(r"```python\n(.*?)```", PAGE, flags=re.DOTALL)
    exec(compile(code, "docs/own-products.md", "exec"), {})
    printed = capsys.readouterr().out.splitlines()
    assert printed[0].split() == ["lobby-felt", "lobby-pendant", "lobby-hook"]
    assert printed[-1].endswith("lobby.products.yaml:4")


def test_the_page_names_every_kind_and_no_column_that_is_none() -> None:
    for kind in SHEETS:
        assert f"`{kind}`" in PAGE
    known = {name for kind in SHEETS for name in columns(kind)}
    table = PAGE.partition("| in YAML | in a table |\n|---|---|\n")[2].partition("\n\n")[0]
    cells = [row.split(" | ")[1] for row in table.splitlines()]
    named = {
        word
        for cell in cells
        for word in re.findall(r"`([a-z_0-9]+)`", cell)
        if not word.startswith("tile")
    }
    assert len(named) > 12
    assert named <= known
