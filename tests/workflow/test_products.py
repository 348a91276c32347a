"""A user's own products: found beside the room and in a folder, joined, carried along."""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.export import written
from wellheard.errors import CatalogError, DocumentError, InputError
from wellheard.workflow import products
from wellheard.workflow.design import predict
from wellheard.workflow.explaining import explain
from wellheard.workflow.load import load
from wellheard.workflow.publish import published_files

pytestmark = pytest.mark.usefixtures("few_rays")

GOOD = Path(__file__).parents[1] / "cases" / "products" / "good" / "ours.products.yaml"
TODAY = date(2026, 11, 1)
ROOM = """\
wellheard: 1
space:
  outline: [[0, 0], [5, 0], [5, 4], [0, 4]]
  height: 2.7
  finishes: {floor: our-felt}
people: {seats: {s1: {at: [2, 2]}}}
devices:
  m1: {kind: microphone, product: lamp-mic, at: [2, 2, 2.4]}
  p1: {kind: processor, product: processor-4, equipment: rack}
equipment: {rack: {kind: rack, at: [4.5, 0.5, 0.5]}}
links: {l1: {from: m1.link, to: p1.mic-1, cable: our-cord, length: 5}}
"""


@pytest.fixture
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A catalogue of one's own, empty."""
    folder = tmp_path / "mine"
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(folder))
    return folder


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """A room that names products which are not shipped."""
    folder = tmp_path / "job"
    folder.mkdir()
    path = folder / "a.room.yaml"
    path.write_text(ROOM, "utf-8")
    return path


def test_a_room_is_read_with_the_files_of_products_beside_it(mine: Path, room: Path) -> None:
    with pytest.raises(DocumentError) as caught:
        load(room)
    said = [(p.path, p.what) for p in caught.value.problems]
    assert said == [
        ("space.finishes.floor", "no finish 'our-felt'"),
        ("devices.m1.product", "no product 'lamp-mic'"),
        ("links.l1.cable", "no cable 'our-cord'"),
    ]
    shutil.copy(GOOD, room.parent)
    loaded = load(room)
    assert loaded.catalogue.microphone("lamp-mic").price == 300
    assert loaded.catalogue.hash != Catalogue.shipped().hash
    assert [m.product.id for m in predict(loaded).evidence.microphones] == ["lamp-mic"]


def test_a_room_is_read_with_the_catalogue_of_ones_own(mine: Path, room: Path) -> None:
    (added,) = products.add(products.check([GOOD], today=TODAY))
    assert added == products.Added(mine / GOOD.name, before=False)
    assert (mine / GOOD.name).read_bytes() == GOOD.read_bytes()
    assert load(room).catalogue.origin("lamp-mic") is not None
    # The same file there and beside the room is one, under whatever name.
    shutil.copy(GOOD, room.parent / "other.products.yaml")
    assert load(room).catalogue.microphone("lamp-mic").price == 300


def test_a_product_that_two_files_say_differently_is_refused_with_both(
    mine: Path, room: Path
) -> None:
    products.add(products.check([GOOD], today=TODAY))
    text = GOOD.read_text("utf-8").replace("price: 300", "price: 310")
    (room.parent / GOOD.name).write_text(text, "utf-8")
    with pytest.raises(CatalogError) as caught:
        load(room)
    first = str(caught.value).splitlines()[0]
    assert first.startswith(str(room.parent / GOOD.name) + ":5:3: microphones.lamp-mic: ")
    assert f"{mine / GOOD.name}:5 has that id; delete it, or put this file in its place: " in first
    assert first.endswith(f"wellheard catalog add --update {room.parent / GOOD.name}")


def test_a_broken_file_is_told_wherever_it_lies(mine: Path, room: Path) -> None:
    shutil.copy(GOOD, room.parent)
    (room.parent / "b.switches.csv").write_text("id,nam\nx,X\n", "utf-8")
    with pytest.raises(CatalogError, match=r"job/b\.switches\.csv:1:4: nam: unknown column"):
        load(room)
    (room.parent / "b.switches.csv").unlink()
    mine.mkdir()
    (mine / "c.products.yaml").write_text("wellheard-products: 1\n", "utf-8")
    (mine / "d.products.yaml").write_text("- 1\n", "utf-8")
    with pytest.raises(CatalogError) as caught:
        load(room)
    assert [Path(p.file).name for p in caught.value.problems] == [
        "c.products.yaml",
        "d.products.yaml",
    ]


def test_what_else_lies_beside_a_room_is_not_read(mine: Path, room: Path) -> None:
    shutil.copy(GOOD, room.parent)
    for name in ("cables.csv", ".x.cables.csv", "a.csv", "products.yaml", "a.products.yml"):
        (room.parent / name).write_text("no table", "utf-8")
    assert load(room)


def test_what_is_said_of_a_product_says_whose_it_is(mine: Path, room: Path) -> None:
    shutil.copy(GOOD, room.parent)
    said = str(explain(load(room), "s1").stages)
    assert "lamp-mic (from ours.products.yaml)" in said
    assert "invented" not in said
    text = ROOM.replace("lamp-mic", "ceiling-head-3").replace("cable: our-cord, ", "")
    room.write_text(text, "utf-8")
    assert "ceiling-head-3 (invented)" in str(explain(load(room), "s1").stages)


def test_the_files_that_a_room_needs_go_with_it_and_no_others(mine: Path, room: Path) -> None:
    shutil.copy(GOOD, room.parent)
    mine.mkdir()
    whole = GOOD.read_text("utf-8")
    hook = next(line for line in whole.splitlines() if "lamp-hook: {" in line)
    hooks = f"wellheard-products: 1\naccessories:\n{hook}\n"
    (room.parent / GOOD.name).write_text(
        whole.replace(hook + "\n", "").replace("accessories:\n", "x-hooks: elsewhere\n"), "utf-8"
    )
    (mine / "hooks.products.yaml").write_text(hooks, "utf-8")
    shipped = Catalogue.shipped().accessory("tile-bridge")
    (mine / "secret.products.yaml").write_text(
        written([shipped]).replace("tile-bridge", "secret"), "utf-8"
    )
    assert set(load(room).companions()) == {"ours.products.yaml", "hooks.products.yaml"}
    # With them, and with nothing of one's own, the room reads the same.
    away = room.parent.parent / "away"
    away.mkdir()
    shutil.copy(room, away)
    for name, raw in load(room).companions().items():
        (away / name).write_bytes(raw)
    before = load(room).catalogue.microphone("lamp-mic")
    shutil.rmtree(mine)
    assert load(away / room.name).catalogue.microphone("lamp-mic") == before


def test_a_published_folder_reads_without_anything_of_ones_own(mine: Path, room: Path) -> None:
    products.add(products.check([GOOD], today=TODAY))
    loaded = load(room)
    files = published_files(loaded, predict(loaded))
    assert files[GOOD.name] == GOOD.read_bytes()
    folder = room.parent.parent / "published"
    folder.mkdir()
    for name in (GOOD.name, room.name):
        (folder / name).write_bytes(files[name])
    shutil.rmtree(mine)
    again = load(folder / room.name)
    assert again.catalogue.hash == loaded.catalogue.hash


def test_a_room_of_shipped_products_needs_no_files(mine: Path, room: Path) -> None:
    products.add(products.check([GOOD], today=TODAY))
    room.write_text(
        "wellheard: 1\nspace: {outline: [[0, 0], [5, 0], [5, 4]], height: 2.7}\n"
        "people: {seats: {s1: {at: [4, 1]}}}\n"
    )
    assert load(room).companions() == {}


# Adding ------------------------------------------------------------------------------------------


def test_a_file_is_never_written_over_another(mine: Path, tmp_path: Path) -> None:
    products.add(products.check([GOOD], today=TODAY))
    before = (mine / GOOD.name).read_bytes()
    assert [a.before for a in products.add(products.check([GOOD], today=TODAY))] == [True]
    other = tmp_path / GOOD.name
    other.write_text(
        "wellheard-products: 1\naccessories: {nail: {name: Nail, price: 1, currency: EUR}}\n"
    )
    with pytest.raises(InputError, match="is another file of that name"):
        products.add(products.check([other], today=TODAY))
    assert (mine / GOOD.name).read_bytes() == before
    assert sorted(p.name for p in mine.iterdir()) == [GOOD.name]


def test_of_several_files_none_is_added_if_one_cannot_be(mine: Path, tmp_path: Path) -> None:
    nail = "wellheard-products: 1\naccessories: {nail: {name: Nail, price: 1, currency: EUR}}\n"
    (tmp_path / "x").mkdir()
    for folder, text in ((tmp_path, nail), (tmp_path / "x", nail.replace("nail:", "tack:"))):
        (folder / "n.products.yaml").write_text(text)
    both = [tmp_path / "n.products.yaml", tmp_path / "x" / "n.products.yaml"]
    with pytest.raises(InputError, match="is another file of that name"):
        products.add(products.check([GOOD, *both], today=TODAY))
    assert not mine.exists()


def test_a_price_of_tomorrow_is_implausible(mine: Path) -> None:
    late = products.check([GOOD], today=date(2026, 2, 1)).implausible
    assert [p.path.rsplit(".", 1)[-1] for p in late if "price_date" in p.what]
    assert products.check([GOOD], today=TODAY).implausible == ()


# Updating ----------------------------------------------------------------------------------------


def revised(folder: Path, **changes: str) -> Path:
    """Write the good file anew, one text for another."""
    text = GOOD.read_text("utf-8")
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    path = folder / GOOD.name
    path.write_text(text, "utf-8")
    return path


def test_an_update_takes_the_place_of_the_file_and_says_what_changed(
    mine: Path, room: Path
) -> None:
    products.add(products.check([GOOD], today=TODAY))
    path = revised(room.parent, **{"price: 300": "price: 310", "our-felt:": "our-wool:"})
    (done,) = products.add(products.check([path], today=TODAY, update=True), update=True)
    assert (done.path, done.before, done.replaced) == (mine / GOOD.name, False, True)
    assert {(c.id, c.what, c.fields) for c in done.changes} == {
        ("lamp-mic", "changed", ("price",)),
        ("our-wool", "new", ()),
        ("our-felt", "gone", ()),
    }
    assert [one.name for one in mine.iterdir()] == [GOOD.name]
    assert (mine / GOOD.name).read_bytes() == path.read_bytes()
    room.write_text(ROOM.replace("our-felt", "our-wool"), "utf-8")
    assert load(room).catalogue.microphone("lamp-mic").price == 310
    again = products.add(products.check([path], today=TODAY, update=True), update=True)
    assert [(one.before, one.replaced) for one in again] == [(True, False)]


def test_an_update_that_is_wrong_leaves_what_was_there(mine: Path, tmp_path: Path) -> None:
    products.add(products.check([GOOD], today=TODAY))
    before = (mine / GOOD.name).read_bytes()
    taken = revised(tmp_path, **{"  lamp-mic:": "  gooseneck:"})
    with pytest.raises(CatalogError, match="a shipped product has that id"):
        products.check([taken], today=TODAY, update=True)
    heavy = revised(tmp_path, **{"weight_kg: 0.2": "weight_kg: 200"})
    assert products.check([heavy], today=TODAY, update=True).implausible
    assert (mine / GOOD.name).read_bytes() == before


def test_what_other_files_need_cannot_be_updated_away(mine: Path, tmp_path: Path) -> None:
    rail = tmp_path / "rail.accessories.csv"
    rail.write_text("id,name,price,currency\nrail,Mounting rail,12,EUR\n")
    products.add(products.check([rail], today=TODAY))
    needs = revised(tmp_path, **{"drop-cable, safety-bond]": "drop-cable, safety-bond, rail]"})
    products.add(products.check([needs], today=TODAY))
    rail.write_text("id,name,price,currency\nnail,Nail,1,EUR\n")
    with pytest.raises(CatalogError, match="no accessory 'rail'"):
        products.check([rail], today=TODAY, update=True)
    rail.write_text("id,name,price,currency\nrail,Mounting rail,14,EUR\n")
    (done,) = products.add(products.check([rail], today=TODAY, update=True), update=True)
    assert [(c.id, c.what) for c in done.changes] == [("rail", "changed")]


def test_an_update_mends_a_file_that_cannot_be_read(mine: Path) -> None:
    mine.mkdir()
    (mine / GOOD.name).write_text("wellheard-products: 1\nmicrophones: [\n")
    (done,) = products.add(products.check([GOOD], today=TODAY, update=True), update=True)
    assert (done.replaced, done.changes) == (True, ())
    assert (mine / GOOD.name).read_bytes() == GOOD.read_bytes()


def test_an_update_of_what_is_not_there_adds_it(mine: Path) -> None:
    (done,) = products.add(products.check([GOOD], today=TODAY, update=True), update=True)
    assert (done.before, done.replaced) == (False, False)
    assert (mine / GOOD.name).read_bytes() == GOOD.read_bytes()


# Where it lies -----------------------------------------------------------------------------------


@pytest.mark.skipif(os.name == "nt" or os.uname().sysname == "Darwin", reason="XDG platforms")
def test_ones_own_catalogue_lies_where_the_platform_keeps_data(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # XDG Base Directory Specification 0.8: unset or empty is $HOME/.local/share, and a relative
    # path is to be ignored [M].
    monkeypatch.setenv("HOME", str(tmp_path))
    usual = tmp_path / ".local" / "share" / "wellheard" / "catalogue"
    for variable in ("WELLHEARD_CATALOGUE", "XDG_DATA_HOME"):
        monkeypatch.setenv(variable, "")
    assert products.own_folder() == usual
    monkeypatch.setenv("XDG_DATA_HOME", "data")
    assert products.own_folder() == usual
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert products.own_folder() == tmp_path / "data" / "wellheard" / "catalogue"
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(tmp_path / "ours"))
    assert products.own_folder() == tmp_path / "ours"
    assert products.own_catalogue() == Catalogue.shipped()


def test_a_catalogue_that_is_no_folder_is_an_input_error(mine: Path) -> None:
    mine.write_text("not a folder")
    with pytest.raises(InputError, match="Not a directory; a folder"):
        products.own_catalogue()
