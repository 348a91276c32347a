"""Treatments of whole rooms: laid out, traced, and refused where they cannot be."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from tests.treatment.rooms import BARE, random_room
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.predict import reverberation
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.room.finishes import LevelPatch, Patch
from wellheard.room.furniture import Cupboard, Display
from wellheard.treatment.bays import bays
from wellheard.treatment.laying import lay
from wellheard.treatment.solve import Site, Treated, site, treat
from wellheard.treatment.task import DecayTarget, decay_target

CATALOGUE = Catalogue.shipped()


def solved(room: Room, *, time_limit: float = 10.0) -> Treated:
    place = site(room, CATALOGUE)
    return treat(place, decay_target(room, place.decay.volume), time_limit=time_limit)


@pytest.fixture(scope="module")
def bare() -> Treated:
    return solved(codec.parse(BARE))


def test_after_treatment_the_rays_decay_within_the_target(bare: Treated) -> None:
    assert bare.status == "optimal"
    predicted = np.asarray(reverberation.predict(bare.room, CATALOGUE).time)
    # By DIN 18041 (2016), use A3, 144 m³: 0.32·lg 144 − 0.17 = 0.5207 s; at most 1.2 times that
    # at 250 to 4000 Hz and 1.45 times at 125 Hz.
    assert predicted[0] <= 1.45 * 0.5207 * 1.001
    assert np.all(predicted[1:] <= 1.2 * 0.5207 * 1.001)
    np.testing.assert_allclose(predicted, bare.after, rtol=1e-9)
    assert max(bare.before[1:4]) > 2.0


def test_counts_areas_and_prices_add_up(bare: Treated) -> None:
    products = {one.id: one for one in CATALOGUE.treatments}
    total = 0
    for one in bare.products:
        named = [k for k, p in bare.patches.items() if p.finish == one.id]
        assert sum(bare.laid.modules[k] for k in named) == one.count
        assert sum(_area(bare.patches[k]) for k in named) == pytest.approx(one.area, rel=1e-3)
        product = products[one.id]
        each = math.ceil(product.price + product.labour)
        assert one.price == one.count * each + product.fixed
        total += one.price
    assert total == bare.price


def _area(patch: Patch | LevelPatch) -> float:
    if isinstance(patch, Patch):
        return (patch.to - patch.from_) * (patch.top - patch.bottom)
    return float(shapely.Polygon(patch.outline).area)


def _on_wall(room: Room, wall: str) -> list[shapely.Polygon]:
    """What a wall bears or what hides it, along it and above the floor."""
    found = [
        shapely.box(p.from_, p.bottom, p.to, p.top)
        for p in room.space.finishes.wall_patches.values()
        if p.wall == wall
    ]
    for item in room.furniture.values():
        if isinstance(item, Display) and item.wall == wall:
            (x, z), (wide, tall) = item.centre, item.size
            found.append(shapely.box(x - wide / 2, z - tall / 2, x + wide / 2, z + tall / 2))
        elif isinstance(item, Cupboard) and wall == "east":
            # East runs along x = 8 from y = 0 up, so along it is y.
            ys = [y for _, y in item.outline]
            found.append(shapely.box(min(ys), 0.0, max(ys), item.height))
    return found


def test_nothing_overlaps_and_nothing_leaves_its_surface(bare: Treated) -> None:
    _holds(codec.parse(BARE), bare.room, list(bare.patches))


def _holds(before: Room, after: Room, fresh: list[str]) -> None:
    assert codec.parse(codec.dump(after)) == after  # the document refuses what overlaps or leaves
    walls = {w: _on_wall(before, w) for w in before.space.walls}
    plan = shapely.Polygon(before.space.outline)
    over = [shapely.Polygon(o.outline).buffer(o.clearance) for o in before.overhead.values()]
    tiles = before.space.ceiling.kind == "tiles"
    if tiles:  # a tile beside a luminaire may be changed
        over = [shapely.Polygon(o.outline) for o in before.overhead.values()]
    for name in fresh:
        patch = after.space.finishes.patches[name]
        if isinstance(patch, Patch):
            here = shapely.box(patch.from_, patch.bottom, patch.to, patch.top)
            length = math.dist(*before.space.wall_ends(patch.wall))
            assert 0 <= patch.from_ < patch.to <= length
            assert 0 <= patch.bottom < patch.top <= before.space.height
            for other in walls[patch.wall]:
                assert here.intersection(other).area < 1e-6, name
            walls[patch.wall].append(here)
        elif patch.surface == "ceiling":
            here = shapely.Polygon(patch.outline)
            assert here.difference(plan.buffer(1e-3)).area < 1e-6, name
            for other in over:
                # Corners of the document are rounded to a tenth of a millimetre.
                assert here.intersection(other).area < 2e-3, name
            over.append(here)


@pytest.mark.parametrize("seed", range(12))
def test_every_count_that_is_allowed_can_be_laid(seed: int) -> None:
    """All bays full at once, each with the product that fits it most often."""
    room = random_room(seed)
    place = site(room, CATALOGUE)
    counts = [0] * len(place.options)
    for bay in range(len(place.bays)):
        here = [i for i, o in enumerate(place.options) if o.bay == bay]
        if here:
            best = max(here, key=lambda i: place.options[i].most)
            counts[best] = place.options[best].most
    laid = lay(room, place.bays, place.options, counts)
    assert sum(laid.modules.values()) == sum(counts)
    finishes = room.space.finishes
    space = room.space.model_copy(
        update={
            "finishes": finishes.model_copy(
                update={"patches": {**finishes.patches, **laid.patches}}
            )
        }
    )
    _holds(room, room.model_copy(update={"space": space}), list(laid.patches))


def test_bays_are_disjoint_on_each_surface() -> None:
    for seed in range(12):
        found = bays(random_room(seed), CATALOGUE)
        for i, one in enumerate(found):
            for other in found[:i]:
                if (one.surface, one.name) == (other.surface, other.name):
                    assert not one.rectangle.overlaps(other.rectangle, slack=1e-6)


@pytest.mark.parametrize("seed", [0, 3, 5])
def test_random_rooms_are_brought_to_their_promise(seed: int) -> None:
    room = random_room(seed)
    found = solved(room)
    assert found.after == pytest.approx(reverberation.predict(found.room, CATALOGUE).time, rel=1e-9)
    if found.status == "infeasible":
        assert found.short
        assert any(t > limit for t, limit in zip(found.after, found.target.time, strict=True))
    else:
        assert np.all(np.asarray(found.after) <= np.asarray(found.target.time) * 1.001)


def test_what_cannot_be_met_says_which_octave_and_how_far_it_gets() -> None:
    room = codec.parse(BARE.replace("people:", "targets: {reverberation: 0.2}\npeople:"))
    found = solved(room)
    assert found.status == "infeasible"
    assert any(said.startswith("125 Hz: ") and "instead of 0.24 s" in said for said in found.short)
    assert "promise a longer decay" in found.short[-1]
    assert "deeper absorbers for 125 Hz and 250 Hz" in found.short[-1]
    assert any(said.startswith("1 kHz: ") for said in found.short)
    assert found.scope == ""
    assert found.patches  # as far as it gets


def test_no_deeper_absorber_is_asked_for_where_the_low_octaves_are_met() -> None:
    place = site(codec.parse(BARE), CATALOGUE)
    long = decay_target(place.room, place.decay.volume)
    middle = DecayTarget((9.0, 9.0, 0.1, 0.1, 0.1, 9.0, 9.0), long.because)
    found = treat(place, middle)
    assert found.status == "infeasible"
    assert "deeper" not in found.short[-1]
    assert "promise a longer decay" in found.short[-1]


@pytest.mark.practice
def test_walls_without_a_known_door_are_told(bare: Treated) -> None:
    """Every room has a door, and no panel goes on it: common practice, no source [C]."""
    lines = BARE.splitlines(keepends=True)
    unknown = solved(codec.parse("".join(one for one in lines if "wood-door" not in one)))
    (said,) = [one for one in unknown.assumed if "door" in one]
    walls = {patch.wall for patch in unknown.patches.values() if isinstance(patch, Patch)}
    assert walls
    assert all(wall in said for wall in walls)
    assert "enter doors first" in said
    assert any(isinstance(patch, Patch) for patch in bare.patches.values())
    assert not any("door" in one for one in bare.assumed)


def test_a_measured_decay_is_where_the_treatment_starts() -> None:
    """A room that rings twice as long as its finishes say needs more than by its finishes."""
    text = (
        BARE.replace("concrete-floor", "carpet-tile")
        .replace("ceiling: concrete\n", "ceiling: ceiling-plasterboard\n")
        .replace("walls: concrete\n", "walls: plasterboard\n")
    )
    plain = codec.parse(text)
    as_is = reverberation.predict(plain, CATALOGUE).time
    twice = ", ".join(
        f"{band}: {2 * t:.3f}"
        for band, t in zip((125, 250, 500, 1000, 2000, 4000, 8000), as_is, strict=True)
    )
    measured = codec.parse(
        text.replace("  finishes:", f"  measured_reverberation: {{{twice}}}\n  finishes:", 1)
    )
    found, usual = solved(measured, time_limit=2.0), solved(plain, time_limit=2.0)
    assert found.before == pytest.approx([2 * t for t in as_is], rel=1e-2)
    assert found.price > usual.price
    assert found.room.space.measured_reverberation is None
    assert any("measured" in said for said in found.assumed)


def test_glass_takes_no_panels_and_a_curtain_only_if_asked() -> None:
    glass = "walls: {south: glass-front, east: concrete, north: concrete, west: concrete}\n"
    room = codec.parse(BARE.replace("walls: concrete\n", glass))
    plain, hung = site(room, CATALOGUE), site(room, CATALOGUE, curtains=True)

    def on_south(place: Site) -> set[str]:
        return {o.product.id for o in place.options if place.bays[o.bay].name == "south"}

    assert on_south(plain) == set()
    assert on_south(hung) == {"glass-curtain"}


@pytest.mark.practice
def test_of_two_walls_that_face_one_comes_first_at_head_height() -> None:
    """One wall of each parallel pair first, at seated head height: common practice, no source."""
    found = bays(codec.parse(BARE), CATALOGUE)
    at_head = {
        name: min(b.burden for b in found if b.name == name and b.surface == "wall")
        for name in ("south", "east", "north", "west")
    }
    assert sorted((at_head["south"], at_head["north"])) == [0, 2]
    assert sorted((at_head["east"], at_head["west"])) == [0, 2]


def test_nothing_is_asked_of_rooms_that_no_standard_speaks_of() -> None:
    small = codec.parse(BARE)
    with pytest.raises(InputError, match=r"state targets\.reverberation"):
        decay_target(small, 20.0)
    promised = codec.parse(BARE.replace("people:", "targets: {reverberation: 0.5}\npeople:"))
    assert decay_target(promised, 20.0).time[3] == 0.5
