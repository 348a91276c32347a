"""From a room to the cheapest finishes that meet its decay, corrected by the ray model."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from wellheard.acoustics import air, field, late
from wellheard.acoustics.absorption import mean_absorption
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES, OCTAVES, spoken_octave
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.enclosures import enclosure
from wellheard.predict.propagation import Propagation, propagation
from wellheard.predict.surfaces import MOST_ABSORBED, air_volume, object_area, objects, surfaces
from wellheard.room.amend import without_value
from wellheard.room.document import Room
from wellheard.room.finishes import AnyPatch, DecayTimes, Patch
from wellheard.schedules.absorbing import absorbers
from wellheard.treatment.bays import LEAST_HEADROOM, bays, is_glass
from wellheard.treatment.laying import Laid, lay
from wellheard.treatment.program import (
    TIME_LIMIT,
    Choice,
    added,
    cheapest,
    farthest,
    most,
    price_of,
)
from wellheard.treatment.task import Bay, Decay, DecayTarget, Option, option

SCOPE = "optimal for the corrected linear model, verified by the ray model"
MOST_ROUNDS = 8
"""Of correcting and solving again."""
MET = 1e-3
"""A decay meets its target when it is no longer than that by more than this share."""
DEEP = (0, 1)
"""Octaves that only deep absorbers reach: 125 and 250 Hz."""
DOOR = "door"
"""In the id of a door or of its finish."""
MEASURED = "space.measured_reverberation"
RAFT_DROP = 0.24
"""Underside of a raft below the ceiling that it hangs from [m], as invented for it."""


@dataclass(frozen=True)
class Bought:
    """One product of a treatment: modules, area [m²] and price with its fixed cost."""

    id: str
    name: str
    count: int
    area: float
    price: int
    weight: float


@dataclass(frozen=True)
class Treated:
    """A treatment with its proof.

    Parameters
    ----------
    room : Room
        The document with its patches; a decay that was measured before is not in it any more.
    patches : mapping of str to patch
        What is new in it.
    products : tuple of Bought
    price : int
        [currency]
    area : float
        Of all new finishes [m²].
    target : DecayTarget
    before, after : tuple of 7 floats
        Decay of the ray model by octave, people as the document has them. [s]
    status : {"optimal", "gap", "infeasible"}
    rounds : int
        How often the target was corrected and the model solved again.
    correction : tuple of 7 floats
        By how much the ray model rings longer than Eyring's formula, as corrected for.
    bound : float
        No choice of the corrected model is cheaper. [currency]
    short : tuple of str
        Where it is infeasible: what is lacking, and what would have to give.
    assumed : tuple of str
    """

    room: Room
    laid: Laid
    products: tuple[Bought, ...]
    price: int
    currency: str
    target: DecayTarget
    before: tuple[float, ...]
    after: tuple[float, ...]
    status: Literal["optimal", "gap", "infeasible"]
    rounds: int
    correction: tuple[float, ...]
    bound: float
    short: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def patches(self) -> dict[str, AnyPatch]:
        """New patches by id."""
        return dict(self.laid.patches)

    @property
    def area(self) -> float:
        """Of all new finishes [m²]."""
        return sum(one.area for one in self.products)

    @property
    def scope(self) -> str:
        """What is proven."""
        return SCOPE if self.status == "optimal" else ""


@dataclass(frozen=True)
class Site:
    """A room made ready for treatments: solve it for as many targets as wanted."""

    room: Room
    bays: tuple[Bay, ...]
    options: tuple[Option, ...]
    decay: Decay
    sound: Propagation
    catalogue: Catalogue
    curtains: bool = False

    @property
    def before(self) -> Array:
        """Decay as it is, shape (7,) [s]."""
        measured = self.room.space.measured_reverberation
        return self.sound.time if measured is None else np.asarray(measured)


def site(room: Room, catalogue: Catalogue, *, curtains: bool = False) -> Site:
    """Free places, products that fit them, and the decay that they start from.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        With the products.
    curtains : bool
        Let curtains hang before walls of glass: they count only while they are drawn.
    """
    sound = _sound(room, catalogue)
    rows = surfaces(room, catalogue)
    areas = np.array([row.area for row in rows])
    own = late.scaled(np.minimum([row.absorption for row in rows], MOST_ABSORBED), sound.exponent)
    total = float(areas.sum())
    items = object_area(objects(room, catalogue, occupancy=room.people.occupancy))
    decay = Decay(
        volume=air_volume(room),
        surface=total,
        absorbing=total * mean_absorption(own, areas=areas),
        objects=items * sound.exponent,
        air=sound.air,
        constant=float(field.sabine_constant(sound.speed)),
    )
    places = tuple(
        replace(bay, absorption=tuple(_scaled(bay.absorption, sound.exponent)))
        for bay in bays(room, catalogue)
    )
    floor = next((r.area for r in rows if r.name == "floor"), 0.0)
    options = tuple(
        one
        for one in _options(room, places, catalogue, floor)
        if curtains or one.product.behind != "glass"
    )
    return Site(room, places, options, decay, sound, catalogue, curtains)


def _sound(room: Room, catalogue: Catalogue) -> Propagation:
    """How a room rings as it stands."""
    climate = room.space.climate
    stated = room.space.measured_reverberation
    return propagation(
        enclosure(room, catalogue),
        speed=float(air.speed_of_sound(climate.temperature_c)),
        air=air.power_attenuation(
            np.asarray(EXACT_OCTAVES),
            temperature_c=climate.temperature_c,
            humidity=climate.humidity,
        ),
        measured_time=None if stated is None else np.asarray(stated, dtype=np.float64),
    )


def untreated(room: Room, catalogue: Catalogue) -> Room | None:
    """The same document without the patches that a catalogue sells; None where it has none.

    What they cover shows again. A decay that was measured with them is carried over: what stays
    keeps the absorption that reproduces it, and the rays say how the rest then rings.
    """
    sold = {name for one in absorbers(room, catalogue.treatments) for name in one.patches}
    if not sold:
        return None
    left = {name: one for name, one in room.space.finishes.patches.items() if name not in sold}
    bare = _with(room, left)
    if room.space.measured_reverberation is None:
        return bare
    sound, plain = _sound(room, catalogue), enclosure(bare, catalogue)
    ringing = replace(plain, absorption=late.scaled(plain.absorption, sound.exponent))
    a, b, c, d, e, f, g = _seven(propagation(ringing, speed=sound.speed, air=sound.air).time)
    return with_decay(bare, (a, b, c, d, e, f, g))


def with_decay(room: Room, time: DecayTimes) -> Room:
    """A document that states a decay, whoever says so."""
    space = room.space.model_copy(update={"measured_reverberation": time})
    return room.model_copy(update={"space": space})


def _scaled(absorption: Sequence[float], exponent: Array) -> list[float]:
    capped = np.minimum(absorption, MOST_ABSORBED)
    return [float(a) for a in late.scaled(capped[None], exponent)[0]]


def _options(
    room: Room, places: Sequence[Bay], catalogue: Catalogue, floor: float
) -> tuple[Option, ...]:
    found: list[Option] = []
    kind = room.space.ceiling.kind
    low = room.space.height - RAFT_DROP < LEAST_HEADROOM
    for index, bay in enumerate(places):
        glass = bay.surface == "wall" and is_glass(room.space.wall_finish(bay.name))
        for product in catalogue.treatments:
            hung = product.on == "ceiling" and "open" in product.ceilings
            if product.on != bay.surface or (glass != (product.behind == "glass")):
                continue
            if bay.surface == "ceiling" and (kind not in product.ceilings or (hung and low)):
                continue
            one = option(index, bay, product, floor_area=floor)
            if one is not None and max(one.gain) > 0:
                found.append(one)
    return tuple(found)


def treat(place: Site, target: DecayTarget, *, time_limit: float = TIME_LIMIT) -> Treated:
    """Least cost that meets a target, as Eyring's formula corrected by the ray model says.

    Solved, laid out, traced; where the rays ring longer than the target, the target of each
    octave is divided by how much longer than Eyring's formula they ring, and it is solved again.
    """
    wanted = np.asarray(target.time)
    correction = np.ones(7)
    for rounds in range(MOST_ROUNDS + 1):
        lacking = place.decay.lacking(wanted / correction)
        choice = cheapest(place.bays, place.options, lacking, time_limit=time_limit)
        if choice.status == "infeasible":
            return _as_far(place, target, correction, lacking, rounds, time_limit)
        laid, room, after = realised(place, choice.counts)
        if np.all(after <= wanted * (1 + MET)):
            return _answer(place, target, choice, laid, room, after, rounds, correction)
        ratio = after / place.decay.time(added(place.options, choice.counts))
        # Octaves that still ring too long after a correction get a stricter one, never a laxer.
        correction = ratio if rounds == 0 else np.maximum(correction, ratio)
        missed = after > wanted * (1 + MET)
        correction = np.where(missed, np.maximum(correction, 1.0), correction)
    return _as_far(place, target, correction, lacking, rounds, time_limit)


def realised(place: Site, counts: Sequence[int]) -> tuple[Laid, Room, Array]:
    """Patches, document and decay of the ray model with so many modules."""
    laid = lay(place.room, place.bays, place.options, counts)
    patches = {**place.room.space.finishes.patches, **laid.patches}
    room = _with(place.room, patches) if laid.patches else place.room
    return laid, room, _traced(place, room, laid)


def _with(room: Room, patches: Mapping[str, AnyPatch]) -> Room:
    """A document with other patches; it no longer states a decay that was measured before."""
    if room.space.measured_reverberation is not None:
        room = without_value(room, MEASURED)
        if MEASURED in room.basis:
            basis = {k: v for k, v in room.basis.items() if k != MEASURED}
            room = room.model_copy(update={"basis": basis})
    finishes = room.space.finishes.model_copy(update={"patches": dict(patches)})
    space = room.space.model_copy(update={"finishes": finishes})
    return room.model_copy(update={"space": space})


def _traced(place: Site, room: Room, laid: Laid) -> Array:
    """Decay by rays; what was there before keeps the absorption that reproduced a measured one."""
    if not laid.patches:
        return place.before
    plain = enclosure(room, place.catalogue)
    absorption = late.scaled(plain.absorption, place.sound.exponent)
    on = [*(one.surface for one in plain.patches), *(one.surface for one in plain.level_patches)]
    fresh = [surface for surface in on if plain.names[surface] in laid.patches]
    absorption[fresh] = plain.absorption[fresh]
    treated = replace(plain, absorption=absorption)
    return propagation(treated, speed=place.sound.speed, air=place.sound.air).time


def _answer(
    place: Site,
    target: DecayTarget,
    choice: Choice,
    laid: Laid,
    room: Room,
    after: Array,
    rounds: int,
    correction: Array,
    short: tuple[str, ...] = (),
) -> Treated:
    bought: dict[str, Bought] = {}
    for one, count in zip(place.options, choice.counts, strict=True):
        if not count:
            continue
        before = bought.get(one.product.id)
        area = count * one.area + (before.area if before else 0.0)
        price = count * one.price + (before.price if before else round(one.product.fixed))
        bought[one.product.id] = Bought(
            one.product.id,
            one.product.name,
            count + (before.count if before else 0),
            area,
            price,
            area / one.product.area * one.product.weight,
        )
    return Treated(
        room=room,
        laid=laid,
        products=tuple(bought.values()),
        price=choice.price,
        currency=place.catalogue.treatments[0].currency if place.catalogue.treatments else "",
        target=target,
        before=_seven(place.before),
        after=_seven(after),
        status=choice.status,
        rounds=rounds,
        correction=_seven(correction),
        bound=choice.bound,
        short=short,
        assumed=(*_doors(place.room, laid), *_assumed(place)),
    )


def _seven(values: Array) -> tuple[float, ...]:
    return tuple(float(v) for v in values)


def _as_far(
    place: Site,
    target: DecayTarget,
    correction: Array,
    lacking: Array,
    rounds: int,
    time_limit: float,
) -> Treated:
    """What comes nearest to a target that cannot be met, and which octaves are in the way."""
    counts = farthest(place.options, lacking, time_limit=time_limit)
    price = price_of(place.options, counts)
    laid, room, after = realised(place, counts)
    choice = Choice(counts, price, "infeasible", math.inf)
    alone = most(place.options) < lacking - 1e-9
    missed = after > np.asarray(target.time) * (1 + MET)
    told: list[str] = []
    for octave in np.flatnonzero(alone | missed):
        reach = f"{after[octave]:.2f} s instead of {target.time[octave]:.2f} s"
        told.append(f"{spoken_octave(OCTAVES[octave])}: {reach}")
    deep = [spoken_octave(OCTAVES[k]) for k in DEEP if alone[k] or missed[k]]
    deeper = f"allow deeper absorbers for {' and '.join(deep)}, " if deep else ""
    give = (
        "no free surface takes any of the products"
        if not place.options
        else "all free wall, ceiling and floor that the products fit is not enough: free more "
        f"of it, {deeper}or promise a longer decay"
    )
    return _answer(place, target, choice, laid, room, after, rounds, correction, (*told, give))


def _doors(room: Room, laid: Laid) -> tuple[str, ...]:
    """A sentence where panels go on walls and nobody has said where the door is."""
    on = dict.fromkeys(one.wall for one in laid.patches.values() if isinstance(one, Patch))
    known = room.space.finishes.wall_patches
    if not on or any(
        DOOR in name or (isinstance(one.finish, str) and DOOR in one.finish)
        for name, one in known.items()
    ):
        return ()
    walls = " or ".join(filter(None, (", ".join([*on][:-1]), [*on][-1])))
    return (
        f"No door is known on {walls}, where panels go, nor on any other wall: enter doors first, "
        "as patches of wood-door.",
    )


def _assumed(place: Site) -> tuple[str, ...]:
    room, said = place.room, []
    if room.space.measured_reverberation is not None:
        said.append(
            "The decay that was measured is that of the room as it was: the absorption that "
            "reproduces it is kept for what stays, and the document no longer states it."
        )
    if room.arrangements:
        said.append("The decay is that of the undivided room; each space has its own findings.")
    if any(one.surface == "floor" for one in room.space.finishes.level_patches.values()):
        said.append("Something lies on the floor already: it stays as it is.")
    if any(is_glass(p.finish) for p in room.space.finishes.wall_patches.values()):
        said.append("Windows stay bare; curtains are hung before walls that are all glass.")
    return tuple(said)
