"""The page of the catalogue: lists, whole sheets, and products of one's own, checked and added."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from nicegui import ui
from nicegui.testing import User

from tests.web.hands import HOSTILE, LONG, fire, press, tagged, texts, until
from wellheard.catalog.catalogue import Catalogue
from wellheard.web.workbench import Workbench
from wellheard.workflow import offered
from wellheard.workflow.products import FOLDER_VARIABLE


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for the user's own products."""
    folder = tmp_path / "own"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    return folder


@pytest.fixture
def workbench(tmp_path: Path) -> Iterator[Workbench]:
    """A workbench over a folder without rooms."""
    (tmp_path / "rooms").mkdir()
    bench = Workbench(tmp_path / "rooms", watch=False)
    yield bench
    bench.close()


def rail(name: str = "Our rail", price: str = "12") -> str:
    """A file of one accessory."""
    sheet = f'{{name: "{name}", price: {price}, currency: EUR}}'
    return f"wellheard-products: 1\naccessories:\n  our-rail: {sheet}\n"


def paste(user: User, text: str, *, called: str = "ours", form: str = "several") -> None:
    """Put a text into the field and ask for it to be checked."""
    raw = text.encode()
    sent: dict[str, Any] = {
        "called": called,
        "form": form,
        "size": len(raw),
        "piece": base64.b64encode(raw).decode(),
        "first": True,
        "last": True,
    }
    fire(user, next(e for e in tagged(user, "form") if "paste" in e.classes), "submit", sent)


def hand_over(user: User, name: str, raw: bytes, *, pieces: int = 1) -> None:
    """Choose a file; the browser sends it in pieces."""
    sent = base64.b64encode(raw).decode()
    step = -(-len(sent) // pieces) or 1
    parts = [sent[i : i + step] for i in range(0, len(sent), step)] or [""]
    file = next(iter(tagged(user, "input", type="file")))
    for number, part in enumerate(parts):
        last = number == len(parts) - 1
        data = {"name": name, "size": len(raw), "piece": part, "first": not number, "last": last}
        fire(user, file, "change", data)


async def test_entries_are_listed_by_kind_and_found_by_a_word(user: User) -> None:
    await user.open("/catalogue")
    shipped = Catalogue.shipped()
    await user.should_see(f"{len(shipped.microphones)} of {len(shipped.microphones)}")
    kinds = next(iter(tagged(user, "select")))
    fire(user, kinds, "change", "finishes")
    await user.should_see(f"{len(shipped.finishes)} of {len(shipped.finishes)}", retries=LONG)
    word = next(iter(tagged(user, "input", type="search")))
    fire(user, word, "input", "heavy carpet on concrete")
    await user.should_see(f"1 of {len(shipped.finishes)}", retries=LONG)
    fire(user, word, "input", "no such word")
    await user.should_see("Nothing of this kind has the word", retries=LONG)


async def test_a_product_shows_its_whole_sheet_and_that_it_is_invented(user: User) -> None:
    await user.open("/catalogue?entry=ceiling-head-3")
    said = texts(user)
    assert "Invented and generic: no such product is sold." in said
    product = Catalogue.shipped().microphone("ceiling-head-3")
    for words in (product.name, f"{product.weight_kg:g} kg", "Installed price", product.note):
        assert words in said


async def test_a_finish_shows_its_curve_its_source_and_its_trust(user: User) -> None:
    await user.open("/catalogue?entry=carpet-tile")
    said = texts(user)
    assert "published" in said
    assert Catalogue.shipped().finish("carpet-tile").source in said
    assert user.client is not None
    drawn = [e.content for e in user.client.elements.values() if isinstance(e, ui.html)]
    curve = next(text for text in drawn if 'class="curve"' in text)
    # Typed by hand from the list: 1 kHz is 0.20, 8 kHz is not published and repeats 0.40.
    assert ">0.20<" in curve
    assert curve.count(">0.40<") == 2


async def test_every_problem_is_told_with_its_line_and_column(user: User, own: Path) -> None:
    await user.open("/catalogue")
    paste(user, rail(price="twelve") + "  two: {nam: x}\n")
    await user.should_see("'twelve' is no number", retries=LONG)
    said = texts(user)
    assert "line 3, column 39: " in said
    assert "unknown field; did you mean name?" in said
    assert not own.exists()


async def test_a_file_is_added_and_never_replaced_unasked(user: User, own: Path) -> None:
    await user.open("/catalogue")
    paste(user, rail())
    await user.should_see("ours.products.yaml: one accessory.", retries=LONG)
    assert not own.exists()
    press(user, "add to your catalogue")
    await user.should_see("ours.products.yaml: added.", retries=LONG)
    kept = own / "ours.products.yaml"
    assert kept.read_text() == rail()
    paste(user, rail(price="14"))
    await user.should_see("Your catalogue has ours.products.yaml already", retries=LONG)
    assert kept.read_text() == rail()
    press(user, "check it as a replacement")
    await user.should_see("gives way to this, whole", retries=LONG)
    assert kept.read_text() == rail()
    press(user, "replace it")
    await user.should_see("our-rail changed: price", retries=LONG)
    assert kept.read_text() == rail(price="14")


async def test_the_same_file_again_changes_nothing(user: User, own: Path) -> None:
    await user.open("/catalogue")
    for said in ("ours.products.yaml: added.", "ours.products.yaml: there already."):
        paste(user, rail())
        await user.should_see("ours.products.yaml: one accessory.", retries=LONG)
        press(user, "add to your catalogue")
        await user.should_see(said, retries=LONG)
    assert [path.name for path in own.iterdir()] == ["ours.products.yaml"]


async def test_the_name_of_a_file_is_only_ever_a_name(user: User, own: Path) -> None:
    await user.open("/catalogue")
    hand_over(user, "../../etc/Our Rail.products.yaml", rail().encode(), pieces=3)
    await user.should_see("our-rail.products.yaml: one accessory.", retries=LONG)
    press(user, "add to your catalogue")
    await until(lambda: own.exists() and list(own.iterdir()))
    assert [path.name for path in own.iterdir()] == ["our-rail.products.yaml"]


async def test_a_file_that_is_too_large_is_refused_here_whatever_the_browser_says(
    user: User, own: Path
) -> None:
    await user.open("/catalogue")
    hand_over(user, "large.products.yaml", b"#" * (offered.LARGEST + 1), pieces=20)
    await user.should_see("at most 2 MB", retries=LONG)
    file = next(iter(tagged(user, "input", type="file")))
    piece = base64.b64encode(b"#" * 150_000).decode()
    for number in range(20):  # a browser that lies about the size
        data = {"name": "x", "size": 9, "piece": piece, "first": not number, "last": number == 19}
        fire(user, file, "change", data)
    await user.should_see("at most 2 MB", retries=LONG)
    assert not own.exists()


@pytest.mark.parametrize(
    "sent", [None, "text", {}, {"piece": 7}, {"piece": "§§§"}, {"piece": "", "size": "many"}]
)
async def test_what_is_no_file_does_no_harm(user: User, own: Path, sent: object) -> None:
    await user.open("/catalogue")
    fire(user, next(iter(tagged(user, "input", type="file"))), "change", sent)
    await user.should_see("Add your own")
    assert not own.exists()


async def test_names_are_shown_as_text(user: User, own: Path) -> None:
    own.mkdir()
    (own / "evil.products.yaml").write_text(rail(name=HOSTILE))
    await user.open("/catalogue?entry=our-rail")
    await user.should_see(HOSTILE, retries=LONG)
    await user.should_see("yours", retries=LONG)
    assert user.client is not None
    markup = [e.content for e in user.client.elements.values() if isinstance(e, ui.html)]
    assert not [text for text in markup if "onerror" in text or "{{" in text]


async def test_own_products_that_cannot_be_read_leave_the_shipped_ones(
    user: User, own: Path
) -> None:
    own.mkdir()
    (own / "torn.products.yaml").write_text("wellheard-products: 1\nmicrophones: {x: {}}\n")
    await user.open("/catalogue")
    await user.should_see("your own products cannot be read", retries=LONG)
    await user.should_see("Ceiling head, three capsules")
