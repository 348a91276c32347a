"""Look-ups help, entries never replace each other, and the hash notices every figure."""

from __future__ import annotations

import dataclasses
import pickle

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError

SHIPPED = Catalogue.shipped()


def test_the_shipped_catalogue_is_read_once() -> None:
    assert Catalogue.shipped() is SHIPPED


@pytest.mark.parametrize(
    ("look_up", "wrong", "message"),
    [
        ("finish", "carpet-tyle", "no finish 'carpet-tyle'.*did you mean carpet-tile"),
        ("product", "gosseneck", "no product 'gosseneck'.*did you mean gooseneck"),
        ("accessory", "safty-bond", "did you mean safety-bond"),
        ("product", "zzz", "there are: ceiling-head-2, "),
        ("microphone", "bridge-2", "bridge-2 is a processor; a microphone is wanted"),
        ("processor", "gooseneck", "gooseneck is a microphone; a processor is wanted"),
        ("loudspeaker", "splitter-1", "splitter-1 is a processor; a loudspeaker is wanted"),
    ],
)
def test_a_wrong_id_is_answered_with_what_was_probably_meant(
    look_up: str, wrong: str, message: str
) -> None:
    with pytest.raises(CatalogError, match=message):
        getattr(SHIPPED, look_up)(wrong)


@pytest.mark.parametrize("kind", ["microphone", "processor", "loudspeaker"])
def test_every_product_is_found_under_its_kind(kind: str) -> None:
    for product in getattr(SHIPPED, f"{kind}s"):
        assert getattr(SHIPPED, kind)(product.id) is product
        assert SHIPPED.product(product.id) is product


def test_a_user_adds_an_entry_under_a_new_id() -> None:
    mine = dataclasses.replace(SHIPPED.finish("felt-5mm"), id="my-felt", source="data sheet")
    assert SHIPPED.with_entries(finishes=[mine]).finish("my-felt") is mine
    with pytest.raises(CatalogError):
        SHIPPED.finish("my-felt")


def test_a_user_cannot_replace_a_shipped_entry() -> None:
    other = dataclasses.replace(SHIPPED.finish("felt-5mm"), source="data sheet")
    with pytest.raises(CatalogError, match="finish felt-5mm: there twice"):
        SHIPPED.with_entries(finishes=[other])


def test_products_of_different_kinds_share_one_space_of_ids() -> None:
    clash = dataclasses.replace(SHIPPED.processor("bridge-2"), id="gooseneck")
    with pytest.raises(CatalogError, match="product gooseneck: there twice"):
        SHIPPED.with_entries(processors=[clash])


def test_the_hash_is_that_of_the_figures() -> None:
    again = dataclasses.replace(SHIPPED)
    assert again is not SHIPPED
    assert again.hash == SHIPPED.hash
    assert len(SHIPPED.hash) == 64
    first, *rest = SHIPPED.microphones
    louder = dataclasses.replace(first, self_noise_dba=first.self_noise_dba + 0.1)
    assert dataclasses.replace(SHIPPED, microphones=(louder, *rest)).hash != SHIPPED.hash


def test_a_catalogue_travels_to_another_process() -> None:
    assert pickle.loads(pickle.dumps(SHIPPED)) == SHIPPED
