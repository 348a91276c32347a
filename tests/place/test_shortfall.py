"""What an impossible promise would need is what makes it possible."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from wellheard.catalog.catalogue import Catalogue
from wellheard.place.microphones import place_microphones
from wellheard.predict import noise, scene
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.room.noise import Background

EXAMPLES = Path(__file__).parents[2] / "examples"
GLASS = EXAMPLES / "glass-fan" / "glass-fan.room.yaml"
TEN = EXAMPLES / "ten-seats" / "ten-seats.room.yaml"


def changed(room: Room, *, time: tuple[float, ...], quieter_db: float) -> Room:
    """The same room with other decay times and everything that makes noise quieter."""
    background = noise.background_db(room.noise.background)
    sources = {
        s.id: room.noise.sources[s.id].model_copy(
            update={
                "dba_at_1m": None,
                "levels_db_at_1m": {f: v - quieter_db for f, v in s.levels_db_at_1m.items()},
            }
        )
        for s in noise.located_sources(room)
    }
    quiet = room.noise.model_copy(
        update={
            "background": Background(levels_db={f: v - quieter_db for f, v in background.items()}),
            "sources": sources,
        }
    )
    return room.model_copy(
        update={
            "noise": quiet,
            "space": room.space.model_copy(update={"measured_reverberation": time}),
        }
    )


def test_the_stated_decay_and_noise_make_the_promise_possible() -> None:
    room, catalogue = codec.read(GLASS), Catalogue.shipped()
    found = place_microphones(scene.build(room, catalogue))
    assert {s.target for s in found.shortfalls} == {"sti_outbound"}
    (said,) = found.would_have_to_give
    match = re.search(r"about (\d\.\d\d) s instead of (\d\.\d\d) s with noise (\d+) dB lower", said)
    assert match
    then, now, quieter = (float(g) for g in match.groups())
    present = np.asarray(scene.build(room, catalogue).reverberation.time)
    assert round(float(present[2:4].mean()), 2) == now

    def missing(share: float, quieter_db: float) -> int:
        other = changed(room, time=tuple(float(t) for t in share * present), quieter_db=quieter_db)
        return len(place_microphones(scene.build(other, catalogue)).shortfalls)

    assert missing(then / now, quieter) == 0
    # Neither alone does it: a shorter decay in this noise, or this decay without the noise.
    assert missing(then / now, 0.0) > 0
    assert missing(1.0, quieter) > 0


def with_price(limit: float, currency: str = "EUR") -> Room:
    room = codec.read(TEN)
    return room.model_copy(
        update={
            "targets": room.targets.model_copy(update={"price": limit}),
            "project": room.project.model_copy(update={"currency": currency}),
        }
    )


def test_a_price_limit_is_part_of_the_promise() -> None:
    catalogue = Catalogue.shipped()
    over = place_microphones(scene.build(with_price(1500.0), catalogue))
    assert over.proof.status == "infeasible"
    assert over.proof.binding[-1] == "price"
    assert not over.shortfalls
    assert any("1,680.00 EUR" in said for said in over.would_have_to_give)
    within = place_microphones(scene.build(with_price(1680.0), catalogue))
    assert (within.proof.status, within.would_have_to_give) == ("optimal", ())


def test_a_price_limit_in_another_currency_is_not_compared() -> None:
    found = place_microphones(scene.build(with_price(1.0, "NOK"), Catalogue.shipped()))
    assert found.proof.status == "optimal"
