"""``wellheard catalog``: what it lists, shows, checks and adds."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.entries import parse_entries
from wellheard.workflow.product_answers import KINDS

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

CASES = Path(__file__).parents[1] / "cases" / "products"
GOOD = CASES / "good" / "ours.products.yaml"
SHIPPED = Catalogue.shipped()


@pytest.fixture
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A catalogue of one's own, empty."""
    folder = tmp_path / "mine"
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(folder))
    return folder


# list --------------------------------------------------------------------------------------------


def test_every_entry_of_every_kind_is_listed(wellheard: Wellheard) -> None:
    answer = wellheard("catalog", "list", "--format", "json").json
    assert tuple(answer) == KINDS
    for kind in KINDS:
        assert [e["id"] for e in answer[kind]] == [e.id for e in getattr(SHIPPED, kind)]
    text = wellheard("catalog", "list").out
    for kind in KINDS:
        for entry in getattr(SHIPPED, kind):
            assert any(line.startswith(entry.id + " ") for line in text.splitlines())


def test_the_fields_of_a_listed_product_stay(wellheard: Wellheard) -> None:
    answer = wellheard("catalog", "list", "--format", "json").json
    for kind in ("microphones", "processors", "loudspeakers"):
        for entry in answer[kind]:
            assert entry["invented"] is True
            assert {"id", "name", "kind", "mountings", "price", "currency"} <= set(entry)
    for entry in answer["finishes"]:
        assert {"id", "name", "absorption", "per_item", "source", "trust"} <= set(entry)


def test_a_word_is_looked_for_in_id_name_and_note(wellheard: Wellheard) -> None:
    found = wellheard("catalog", "list", "--search", "LECTERN", "--format", "json").json
    for kind in KINDS:
        ids = [e["id"] for e in found[kind]]
        assert ids == [
            e.id for e in getattr(SHIPPED, kind) if "lectern" in f"{e.id} {e.name} {e.note}".lower()
        ]
    one = wellheard("catalog", "list", "microphones", "--search", "gooseneck")
    assert "gooseneck" in one.out
    assert "ceiling-head-3" not in one.out
    none = wellheard("catalog", "list", "--search", "zither")
    assert (none.code, "Nothing has 'zither' in its id" in none.out) == (0, True)


# show --------------------------------------------------------------------------------------------


def test_a_data_sheet_has_rated_distances_ports_parts_and_prices(wellheard: Wellheard) -> None:
    text = wellheard("catalog", "show", "ceiling-head-3").out
    lines = text.splitlines()
    # 1.5 m is 59.06 in, 3 m 118.11 in, 4.6 m 181.10 in: to the eighth, as a tape has it.
    assert any(
        line.startswith("rated distances")
        and "1.50 m (4'-11\")" in line
        and "3.00 m (9'-10⅛\")" in line
        and "4.60 m (15'-1⅛\")" in line
        for line in lines
    )
    assert any("link: audio out by twisted-pair" in line for line in lines)
    for fitting in SHIPPED.microphone("ceiling-head-3").fittings:
        for part in fitting.accessories:
            assert any(line.split()[:2] == [fitting.mounting, part] for line in lines if line)
    # By hand: product 680, bridge 38, collar 15, bond 12, labour 95.
    assert any("tile" in line and "flush" in line and "840.00 EUR" in line for line in lines)
    assert max(map(len, lines)) <= 100


def test_a_product_that_is_no_longer_made_names_its_successor(wellheard: Wellheard) -> None:
    text = wellheard("catalog", "show", "processor-8").out
    assert "discontinued, last orders 2025-06-30, successor processor-12" in text


def test_a_data_sheet_says_how_much_echo_loss_a_canceller_adds(wellheard: Wellheard) -> None:
    for product in ("processor-4", "bridge-2"):
        text = wellheard("catalog", "show", product).out
        loss_db = SHIPPED.processor(product).canceller_loss_db
        assert f"echo loss it adds     {loss_db:g} dB in single talk" in text
    assert "echo loss" not in wellheard("catalog", "show", "mixer-4").out
    assert "adds 56 dB of echo loss" in " ".join(
        wellheard("catalog", "show", "front-bar").out.split()
    )


@pytest.mark.parametrize("kind", KINDS)
def test_every_entry_can_be_shown_as_text_json_and_yaml(kind: str, wellheard: Wellheard) -> None:
    for entry in getattr(SHIPPED, kind):
        text = wellheard("catalog", "show", entry.id)
        assert text.code == 0
        assert text.out.startswith(f"{entry.id}: {entry.name}\n")
        assert max(map(len, text.out.splitlines())) <= 110
        answer = wellheard("catalog", "show", entry.id, "--format", "json").json
        assert entry.id in [one["id"] for one in answer["entries"]]
        yaml = wellheard("catalog", "show", entry.id, "--format", "yaml").out
        assert entry.id in [one.id for one in parse_entries(yaml, name="x.products.yaml")]


def test_an_id_that_is_not_there_is_told_with_the_nearest(wellheard: Wellheard) -> None:
    ended = wellheard("catalog", "show", "ceiling-hed-3")
    assert ended.code == 2
    assert ended.err == "no 'ceiling-hed-3' in the catalogue; did you mean ceiling-head-3?\n"


def test_a_copied_and_renamed_entry_is_a_sound_file(
    wellheard: Wellheard, mine: Path, tmp_path: Path
) -> None:
    yaml = wellheard("catalog", "show", "pendant-cardioid", "--format", "yaml").out
    path = tmp_path / "copied.products.yaml"
    path.write_text(
        yaml.replace("pendant-cardioid:", "our-pendant:").replace(
            "name: Pendant capsule", "name: Our pendant"
        ),
        "utf-8",
    )
    ended = wellheard("catalog", "check", path)
    assert (ended.code, ended.err) == (0, "")
    assert ended.out.endswith("No problems.\n")


# check -------------------------------------------------------------------------------------------


def test_a_sound_file_is_told_with_the_defaults_taken(wellheard: Wellheard, mine: Path) -> None:
    ended = wellheard("catalog", "check", GOOD)
    assert ended.code == 0
    assert "ours.products.yaml: 1 finish, 1 microphone, " in ended.out
    assert "lamp-mic taken: cutout none" in ended.out
    assert "absorption.8000 as 4000 Hz" in ended.out
    answer = wellheard("catalog", "check", GOOD, "--format", "json").json
    assert answer["problems"] == []
    (file,) = answer["files"]
    assert file["entries"]["microphones"] == ["lamp-mic"]
    taken = {one["path"]: one for one in file["taken"]}
    assert taken["microphones.lamp-mic.warranty_years"]["value"] == 0
    assert taken["microphones.lamp-mic.warranty_years"]["line"] == 5


def test_an_implausible_figure_ends_with_1_and_a_broken_file_with_2(
    wellheard: Wellheard, mine: Path, tmp_path: Path
) -> None:
    path = tmp_path / "heavy.products.yaml"
    path.write_text(GOOD.read_text("utf-8").replace("weight_kg: 0.2", "weight_kg: 200"), "utf-8")
    ended = wellheard("catalog", "check", path)
    assert ended.code == 1
    assert f"{path}:11:16: microphones.lamp-mic.weight_kg: " in ended.out
    assert ended.out.endswith("1 problem.\n")
    (found,) = wellheard("catalog", "check", path, "--format", "json").json["problems"]
    assert (found["line"], found["column"]) == (11, 16)
    broken = wellheard("catalog", "check", CASES / "numbers.products.yaml")
    assert (broken.code, broken.out) == (2, "")
    assert len(broken.err.splitlines()) == 7
    assert wellheard("catalog", "check").code == 2
    assert wellheard("catalog", "check", tmp_path / "absent.products.yaml").code == 2


# add ---------------------------------------------------------------------------------------------


def test_an_added_product_is_listed_as_ones_own(wellheard: Wellheard, mine: Path) -> None:
    ended = wellheard("catalog", "add", GOOD)
    assert ended.code == 0
    assert ended.out.endswith(f"{mine / GOOD.name}: added\n")
    assert wellheard("catalog", "add", GOOD).out.endswith(": there already\n")
    listed = wellheard("catalog", "list").out
    assert f"Your own, 4 entries: {mine / GOOD.name}" in listed
    row = next(line for line in listed.splitlines() if line.startswith("lamp-mic "))
    assert row.endswith("ours.products.yaml")
    answer = wellheard("catalog", "list", "microphones", "--format", "json").json
    by_id = {one["id"]: one for one in answer["microphones"]}
    assert by_id["lamp-mic"]["invented"] is False
    assert by_id["lamp-mic"]["file"] == str(mine / GOOD.name)
    assert by_id["ceiling-head-3"]["invented"] is True
    shown = wellheard("catalog", "show", "lamp-mic").out
    assert f"yours, {mine / GOOD.name}, line 5\n" in shown
    assert "invented" not in shown


def test_an_update_is_told_entry_by_entry(wellheard: Wellheard, mine: Path, tmp_path: Path) -> None:
    wellheard("catalog", "add", GOOD)
    path = tmp_path / GOOD.name
    path.write_text(GOOD.read_text("utf-8").replace("price: 300", "price: 310"), "utf-8")
    refused = wellheard("catalog", "add", path)
    assert (refused.code, f"wellheard catalog add --update {path}" in refused.err) == (2, True)
    ended = wellheard("catalog", "add", "--update", path)
    assert ended.code == 0
    assert ended.out.endswith(f"{mine / GOOD.name}: replaced\n  lamp-mic: changed (price)\n")
    answer = wellheard("catalog", "add", "--update", GOOD, "--format", "json").json
    assert answer["added"] == [
        {
            "file": str(mine / GOOD.name),
            "before": False,
            "replaced": True,
            "changes": [{"id": "lamp-mic", "what": "changed", "fields": ["price"]}],
        }
    ]


def test_implausible_figures_are_added_only_when_they_are_accepted(
    wellheard: Wellheard, mine: Path, tmp_path: Path
) -> None:
    path = tmp_path / "heavy.products.yaml"
    path.write_text(GOOD.read_text("utf-8").replace("weight_kg: 0.2", "weight_kg: 200"), "utf-8")
    ended = wellheard("catalog", "add", path)
    assert ended.code == 1
    assert "Nothing was added" in ended.out
    assert not mine.exists()
    assert wellheard("catalog", "add", path, "--accept").code == 0
    assert [p.name for p in mine.iterdir()] == [path.name]


def test_a_broken_file_is_not_added(wellheard: Wellheard, mine: Path) -> None:
    ended = wellheard("catalog", "add", GOOD, CASES / "numbers.products.yaml")
    assert ended.code == 2
    assert not mine.exists()


def test_a_shipped_id_cannot_be_taken(wellheard: Wellheard, mine: Path, tmp_path: Path) -> None:
    path = tmp_path / "taken.products.yaml"
    path.write_text(wellheard("catalog", "show", "gooseneck", "--format", "yaml").out, "utf-8")
    ended = wellheard("catalog", "add", path)
    assert ended.code == 2
    assert "gooseneck: a shipped product has that id; choose another id" in ended.err
    assert not mine.exists()


def test_a_folder_that_cannot_be_made_is_told(wellheard: Wellheard, mine: Path) -> None:
    mine.write_text("a file in its place")
    ended = wellheard("catalog", "add", GOOD)
    assert (ended.code, ended.out) == (2, "")
    assert f"{mine}: Not a directory; a folder" in ended.err


def test_a_room_with_its_products_beside_it_is_checked(
    wellheard: Wellheard, mine: Path, tmp_path: Path, placed: Path
) -> None:
    room = tmp_path / "a.room.yaml"
    text = placed.read_text("utf-8")
    assert "ceiling-head-3" in text or "ceiling-head-2" in text
    for head in ("ceiling-head-2", "ceiling-head-3"):
        text = text.replace(head, "our-head")
    room.write_text(text, "utf-8")
    ended = wellheard("check", room)
    assert (ended.code, "no product 'our-head'" in ended.err) == (2, True)
    yaml = wellheard("catalog", "show", "ceiling-head-3", "--format", "yaml").out
    (tmp_path / "heads.products.yaml").write_text(
        yaml.replace("  ceiling-head-3:", "  our-head:"), "utf-8"
    )
    ended = wellheard("check", room)
    assert ended.err == ""
    shutil.rmtree(mine, ignore_errors=True)
