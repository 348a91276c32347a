"""``publish --for``, ``--logo`` and ``--house``: what is in the folder, and what is refused."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

LOGO = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 30 10"><rect width="30" height="10"/>'


def titles(folder: Path) -> list[str]:
    """Of the parts, from the outline that a reader of the PDF sees."""
    found = PdfReader(io.BytesIO((folder / "dossier.pdf").read_bytes())).outline
    return [str(entry.title) for entry in found if not isinstance(entry, list)]


def test_a_reader_gets_one_part_and_the_files_for_it(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "out"
    ended = wellheard("publish", huddle, "-o", folder, "--for", "commissioning")
    assert ended.code in (0, 1), ended.err
    assert titles(folder) == ["For commissioning"]
    assert {p.name for p in folder.iterdir()} == {
        *("dossier.pdf", "ledger.csv", "huddle-four.room.yaml", "manifest.json"),
    }
    # The manifest keeps the folder ours: another edition may take its place.
    ended = wellheard("publish", huddle, "-o", folder, "--for", "it,customer")
    assert ended.code in (0, 1), ended.err
    assert titles(folder) == ["For the customer", "For the IT department"]


@pytest.mark.parametrize("command", ["publish", "design"])
def test_an_unknown_reader_is_refused_before_any_work(
    wellheard: Wellheard, huddle: Path, tmp_path: Path, command: str
) -> None:
    ended = wellheard(command, huddle, "-o", tmp_path / "out", "--for", "customer,architect")
    assert ended.code == 2
    assert "--for: 'architect' is no reader; customer, installer, it, commissioning" in ended.err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("command", ["publish", "design"])
def test_a_hostile_logo_and_a_house_with_a_slip_are_refused_with_their_place(
    wellheard: Wellheard, huddle: Path, tmp_path: Path, command: str
) -> None:
    logo, house = tmp_path / "logo.svg", tmp_path / "house.yaml"
    logo.write_text(f"{LOGO}<script>1</script></svg>", encoding="utf-8")
    house.write_text("compani: Curlew Sound\n", encoding="utf-8")
    for option, said in (
        (("--logo", logo), "logo.svg:1:91: an element <script>; "),
        (("--house", house), "house.yaml:1:1: compani: unknown field; did you mean company?"),
        (("--logo", tmp_path / "none.png"), "none.png: "),
    ):
        ended = wellheard(command, huddle, "-o", tmp_path / "out", *option)
        assert ended.code == 2
        assert said in ended.err
        assert not (tmp_path / "out").exists()
