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

GLASS = Path(__file__).parents[2] / "examples" / "glass-fan" / "glass-fan.room.yaml"


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
