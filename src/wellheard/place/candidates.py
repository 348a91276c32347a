"""Where microphones may stand: places by mounting, and the rules that refuse them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.catalog.products import Microphone
from wellheard.place.places import MOST_OPEN_PLACES, Candidate, in_words, places
from wellheard.place.setting_out import first_allowed, step_in_words
from wellheard.place.spaces import Spaces
from wellheard.place.surroundings import OVERLAPS
from wellheard.place.together import CLASH, apart_otherwise, too_near
from wellheard.predict.devices import placed_microphones
from wellheard.predict.parts import PartScene
from wellheard.predict.scene import Scene

__all__ = ["CLASH", "MOST_OPEN_PLACES", "Candidate", "Options", "microphones"]


@dataclass(frozen=True)
class Options:
    """Candidates that the rules allow, locked devices first, and how many they refused."""

    allowed: tuple[Candidate, ...]
    locked: tuple[int, ...]
    refused: dict[str, int]
    places: str
    """The places tried, in words, for the proof's scope."""
    holding: Mask = field(repr=False, compare=False)
    """Which candidate stands in which space, shape (spaces, candidates)."""
    refused_in: tuple[dict[str, int], ...] = ()
    """Places refused in each space of a room that divides."""
    loudspeaker_apart: float | None = None
    """Distance that a microphone keeps from a housing that holds a loudspeaker [m]."""
    overlap: float | None = None
    """Depth that two housings may share [m]."""

    def only(self, members: Sequence[int]) -> Options:
        """These candidates alone; the locked ones are to be first among them."""
        return replace(
            self,
            allowed=tuple(self.allowed[i] for i in members),
            holding=self.holding[:, list(members)],
        )

    def positions(self) -> Array:
        """Plan positions, shape (candidates, 2) [m]."""
        return np.array([c.at[:2] for c in self.allowed]).reshape(-1, 2)

    def conflicts(self) -> list[tuple[int, int]]:
        """Pairs that may not both be chosen.

        Nearer than half a metre on the plan, too near to a combined device, which plays, or in
        one another; and whatever meets a combined device that is a computer's own. Those that
        no arrangement ever puts into one space do not meet.
        """
        clash = too_near(self.allowed)
        otherwise = self.apart_otherwise()
        if otherwise is not None:
            clash |= otherwise
        if len(self.holding) > 1:
            clash &= np.any(self.holding[:, :, None] & self.holding[:, None, :], axis=0)
        kept = list(self.locked)
        clash[np.ix_(kept, kept)] = False
        return [(a, b) for a, b in np.argwhere(np.triu(clash, k=1)).tolist()]

    def apart_otherwise(self) -> Mask | None:
        """Pairs that exclude each other for another reason than that distance; None without."""
        return apart_otherwise(
            self.allowed, loudspeaker=self.loudspeaker_apart, overlap=self.overlap
        )


def microphones(
    scene: Scene, products: tuple[Microphone, ...], parts: Sequence[PartScene] = ()
) -> Options:
    """Every allowed place of every product, and the locked microphones of the document.

    A microphone of the document that is not locked is set free: the solver may place it anew.
    In a room that divides, the places of the undivided room and of each of its parts are tried;
    a place must be one, and be allowed, in every arrangement.
    """
    room = scene.room
    spaces = Spaces.of(scene, parts)
    locked = tuple(
        Candidate(
            product=m.product,
            at=m.at,
            aim_deg=m.aim_deg,
            mounting=m.mounting,
            drop=m.drop,
            fit=None,
            id=m.id,
        )
        for m in placed_microphones(room, scene.catalogue, scene.talkers)
        if m.locked
    )
    refused: Counter[str] = Counter()
    refused_in = [Counter[str]() for _ in spaces.each] if spaces.divided else []
    allowed: list[Candidate] = list(locked)
    for candidate in _tried(spaces, products):
        placed, broken = first_allowed(set_out(spaces, candidate), spaces.refuses)
        allowed += placed
        if placed:
            continue
        refused[broken] += 1
        for space, count in zip(spaces.each, refused_in, strict=False):
            count[broken] += space.holds(candidate)
    return Options(
        allowed=tuple(allowed),
        locked=tuple(range(len(locked))),
        refused=dict(sorted(refused.items())),
        places="; ".join(_in_words(spaces, products)),
        holding=spaces.holding(allowed),
        refused_in=tuple(dict(sorted((+count).items())) for count in refused_in),
        loudspeaker_apart=room.targets.house_limit("microphone-near-loudspeaker"),
        overlap=room.targets.house_limit(OVERLAPS),
    )


def set_out(spaces: Spaces, candidate: Candidate) -> Iterator[Candidate]:
    """A place as it can be set out with a tape; where it must be rounded, every way to."""
    for at, drop in spaces.tape.around(candidate):
        yield replace(candidate, at=at, drop=drop)


def _tried(spaces: Spaces, products: tuple[Microphone, ...]) -> Iterator[Candidate]:
    """Places of every product, product by product, each once."""
    for product in products:
        for mounting in _mountings(spaces, product):
            seen: set[tuple[float, ...]] = set()
            for ground in spaces.grounds:
                for candidate in places(ground, product, mounting):
                    key = tuple(round(v, 3) for v in (*candidate.at, candidate.aim_deg))
                    if len(spaces.grounds) > 1 and (key in seen or not spaces.offer(candidate)):
                        continue
                    seen.add(key)
                    yield candidate


def _mountings(spaces: Spaces, product: Microphone) -> list[str]:
    return [m for m in spaces.whole.room.choices.mounting if m in product.mountings]


def _in_words(spaces: Spaces, products: tuple[Microphone, ...]) -> list[str]:
    words = dict.fromkeys(
        in_words(ground.room, product, mounting)
        for product in products
        for mounting in _mountings(spaces, product)
        for ground in spaces.grounds
    )
    said = [one for one in words if one]
    return [*said, step_in_words(spaces.whole.room)] if said else []
