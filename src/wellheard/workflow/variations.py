"""What may be done otherwise in a room, within what its document allows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone
from wellheard.dossier.words import percent
from wellheard.place.microphones import products_left
from wellheard.room.document import Room
from wellheard.room.edit import with_targets

SURER = (0.9, 0.95)
"""Chances that are tried where the document wants less."""
DRIER = (1.0, 0.8, 0.6)
"""Shares of the decay target that treatments are tried for."""
AS_ASKED = "as the document asks"
MIDDLE = 0.5
"""What a promise of middle values comes to as a chance."""
_IN_WORDS = {
    "ceiling": "ceiling microphones",
    "table": "table microphones",
    "lectern": "lectern microphones",
    "wall": "microphones at a wall",
    "front": "microphones at the picture",
}


@dataclass(frozen=True)
class Variation:
    """One way to ask for a design.

    Parameters
    ----------
    products : frozenset of str
        Microphones that may be chosen.
    chance : float
        That is wanted at least; `MIDDLE` where the document asks for middle values.
    words : str
        What is varied; no two ways have the same.
    whole : bool
        Nothing may be cut, though the document allows it.
    drier : float or None
        Share of the decay target that the room is treated for first.
    """

    products: frozenset[str]
    chance: float
    words: str = AS_ASKED
    whole: bool = False
    drier: float | None = None

    def relaxes(self, other: Variation) -> bool:
        """Whether every design that the other may have is one that this may have."""
        return (
            self.products >= other.products
            and self.chance <= other.chance
            and (other.whole or not self.whole)
            and self.drier == other.drier
        )

    def asked(self, room: Room, catalogue: Catalogue) -> Room:
        """The room, treated already where it is to be, with choices and promise of this way."""
        out = frozenset(m.id for m in catalogue.microphones) - self.products
        given = room.choices
        choices = given.model_copy(
            update={
                "allow": tuple(name for name in given.allow if name not in out),
                "prefer": tuple(name for name in given.prefer if name not in out),
                # A product may not be both allowed and excluded.
                "exclude": given.exclude
                if given.allow
                else tuple(dict.fromkeys((*given.exclude, *sorted(out)))),
                "new_holes": given.new_holes and not self.whole,
            }
        )
        if self.chance > wanted(room):
            room = with_targets(room, chance=self.chance)
        return room.model_copy(update={"choices": choices})


def wanted(room: Room) -> float:
    """Chance that a document wants."""
    return MIDDLE if room.targets.chance is None else room.targets.chance


def variations(room: Room, catalogue: Catalogue) -> tuple[Variation, ...]:
    """Every way that is tried, the document as it is first, the plainest before the others.

    One thing at a time is done otherwise, then two.

    Raises
    ------
    InputError
        No product is left to choose from.
    """
    found = products_left(room, catalogue)
    plain = Variation(frozenset(p.id for p in found), wanted(room))
    products = tuple(_products(room, found, plain))
    wholes = (replace(plain, whole=True, words="nothing cut"),) if room.choices.new_holes else ()
    surer = tuple(
        replace(plain, chance=chance, words=f"at a chance of {percent(chance)}")
        for chance in SURER
        if chance > plain.chance
    )
    drier = tuple(replace(plain, drier=share, words=_treated(share)) for share in _shares(room))
    singles = (*wholes, *products, *surer, *drier)
    twos = [
        *(_both(a, b) for a in wholes for b in (*surer, *products, *drier)),
        *(_both(a, b) for a in surer[-1:] for b in (*products, *drier)),
    ]
    return tuple(dict.fromkeys((plain, *singles, *twos)))


def _treated(share: float) -> str:
    return "with treatment" if share == 1 else f"with treatment to {share:g} times the decay target"


def _shares(room: Room) -> tuple[float, ...]:
    """None where the decay is a measured one: what treatment makes of that is no document's."""
    return DRIER if room.space.measured_reverberation is None else ()


def _products(room: Room, found: Sequence[Microphone], plain: Variation) -> Iterator[Variation]:
    """All microphones of one mounting, then each product alone."""
    by_mounting: dict[str, list[Microphone]] = {}
    for product in found:
        mounting = next(m for m in product.mountings if m in room.choices.mounting)
        by_mounting.setdefault(mounting, []).append(product)
    seen = {plain.products}
    groups = [(_IN_WORDS[m] + " only", each) for m, each in by_mounting.items() if len(each) > 1]
    for words, each in [*groups, *((f"{p.id} only", [p]) for p in found)]:
        ids = frozenset(p.id for p in each)
        if ids not in seen:
            seen.add(ids)
            yield replace(plain, products=ids, words=words)


def _both(one: Variation, other: Variation) -> Variation:
    return Variation(
        products=one.products & other.products,
        chance=max(one.chance, other.chance),
        words=f"{one.words}, {other.words}",
        whole=one.whole or other.whole,
        drier=other.drier if one.drier is None else one.drier,
    )
