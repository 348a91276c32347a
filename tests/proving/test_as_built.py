"""Absorption found again from decays of rooms whose absorption is known."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics import air
from wellheard.bands import EXACT_OCTAVES, OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import DocumentError, InputError
from wellheard.measurement import averages
from wellheard.measurement.results import Decay
from wellheard.measurement.session import SessionFolder
from wellheard.measurement.taken import SessionResults
from wellheard.predict import reverberation, tolerances
from wellheard.proving.as_built import AsBuilt, calibrate
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish

pytestmark = pytest.mark.usefixtures("few_rays")

AIR = {"temperature_c": 20, "humidity": 0.5}
BOX = (6.0, 5.0, 3.0)
"""Room A of the check cases: V 90 m³, S 126 m²; α 0.2 everywhere is 0.516 s by Eyring."""


def absorbing(alpha: float) -> dict[str, Any]:
    return {"absorption": {f"{octave:g}": alpha for octave in OCTAVES}}


def a_box(floor: Any, ceiling: Any, walls: Any, **over: Any) -> Room:
    """An empty box: who may stand in it is not there while it is measured."""
    x, y, z = BOX
    corner = [[0.5, 0.5], [1.5, 0.5], [1.5, 1.5], [0.5, 1.5]]
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [x, 0], [x, y], [0, y]],
                "walls": ["south", "east", "north", "west"],
                "height": z,
                "scattering": 0.5,
                "climate": AIR,
                "finishes": {"floor": floor, "ceiling": ceiling, "walls": walls},
            },
            "people": {"occupancy": 0.5, "standing": {"p": {"outline": corner, "facing": 0}}},
            **over,
        }
    )


def eyring(alpha: float) -> list[float]:
    """24·ln 10·V/(c·(−S·ln(1 − α) + 4mV)), c of 343.2 m/s at 20 °C [Kuttruff]."""
    x, y, z = BOX
    volume, surface = x * y * z, 2 * (x * y + y * z + z * x)
    m = air.power_attenuation(np.asarray(EXACT_OCTAVES), temperature_c=20, humidity=0.5)
    area = -surface * math.log(1 - alpha)
    return [24 * math.log(10) * volume / (343.2 * (area + 4 * one * volume)) for one in m]


@pytest.fixture
def measured(session_of: Callable[..., SessionFolder]) -> Callable[..., SessionResults]:
    """Give the function that makes a session in which every place had the same decay."""

    def made(times: Sequence[float | None], *, bend: float = 1.0, **over: Any) -> SessionResults:
        sweeps = {f"r{i}": {"kind": "sweep"} for i in range(6)}
        folder = session_of(sweeps, **{"climate": AIR, **over})
        decays = tuple(
            Decay(o, t, t, None if t is None else bend * t, 60.0, 0.0, 0.0, t, 5.0, 0.7)
            for o, t in zip(OCTAVES, times, strict=True)
        )
        each = [decays] * 6
        t20, t30 = averages.spatial_mean_t20(each), averages.spatial_mean_t30(each)
        return SessionResults(folder, {}, {}, {}, t20, t30)

    return made


@pytest.fixture
def built(catalogue: Catalogue, measured: Callable[..., SessionResults]) -> Callable[..., AsBuilt]:
    """Give the function that calibrates a room to decay times."""

    def made(room: Room, times: Sequence[float | None], **over: Any) -> AsBuilt:
        return calibrate(room, catalogue, measured(times, **over), say=lambda _: None)

    return made


def as_rung(room: Room, catalogue: Catalogue, share: float = 1.0) -> list[float]:
    """Decay of a room without anybody, so much longer."""
    empty = room.people.model_copy(update={"occupancy": 0.0})
    alone = room.model_copy(update={"people": empty})
    return [share * t for t in reverberation.predict(alone, catalogue).time]


# What is found -----------------------------------------------------------------------------------


def test_scattering_stays_where_it_does_nothing_and_moves_where_it_decides(
    built: Callable[..., AsBuilt], catalogue: Catalogue
) -> None:
    """In a box that absorbs evenly it does not show in the decay; below a soft ceiling it does."""
    even = absorbing(0.1)
    assert built(a_box(even, even, even), eyring(0.2)).scattering.after == 0.5
    uneven = a_box(absorbing(0.02), absorbing(0.9), absorbing(0.03))
    smooth = uneven.space.model_copy(update={"scattering": 0.2})
    times = as_rung(uneven.model_copy(update={"space": smooth}), catalogue)
    found = built(uneven, times)
    assert found.scattering.decided > 0.5
    assert found.scattering.after == pytest.approx(0.2, abs=0.05)
    ceiling = next(one for one in found.groups if one.name == "ceiling")
    assert ceiling.after[2:6] == pytest.approx([0.9] * 4, abs=0.06)


@pytest.mark.parametrize("stated", [0.1, 0.35])
def test_the_absorption_of_a_diffuse_box_comes_back_from_eyrings_decay(
    built: Callable[..., AsBuilt], stated: float
) -> None:
    """Of 0.2 in truth; a model traced by few rays is off by a tenth [own bench of the rays]."""
    one = absorbing(stated)
    found = built(a_box(one, one, one), eyring(0.2))
    area = np.array([g.area for g in found.groups])
    mean = area @ np.array([g.after for g in found.groups]) / area.sum()
    assert area.sum() == pytest.approx(126.0, abs=0.1)
    assert mean[1:6] == pytest.approx([0.2] * 5, abs=0.03)


def test_the_model_as_built_rings_as_was_measured(
    built: Callable[..., AsBuilt], catalogue: Catalogue
) -> None:
    room = a_box("carpet-tile", "ceiling-plasterboard", "plasterboard")
    found = built(room, as_rung(room, catalogue, 0.8))
    for decay in found.decays:
        assert decay.measured is not None
        assert decay.measured == pytest.approx(0.8 * decay.before, rel=1e-6)
        own = tolerances.MEASURED_LOG_TIME_SIGMA[OCTAVES.index(decay.octave)]
        assert abs(math.log(decay.after / decay.measured)) < 1.5 * own


def test_the_deviation_of_a_measured_decay_is_that_of_the_standard(
    built: Callable[..., AsBuilt],
) -> None:
    """0.0104 s and 0.0294 s for 0.5 s at 1 kHz and 125 Hz, six places [L ISO 3382-2, clause 7]."""
    one = absorbing(0.2)
    decays = built(a_box(one, one, one), [0.5] * 7).decays
    assert decays[3].measured_sigma == pytest.approx(0.0104, abs=5e-5)
    assert decays[0].measured_sigma == pytest.approx(0.0294, abs=5e-5)


def test_finishes_that_are_alike_cannot_be_told_apart(built: Callable[..., AsBuilt]) -> None:
    found = built(a_box(absorbing(0.3), absorbing(0.3), absorbing(0.02)), eyring(0.13))
    floor, ceiling = found.groups[:2]
    assert (floor.name, ceiling.name) == ("floor", "ceiling")
    (together,) = found.together
    assert {"floor", "ceiling"} <= set(together.names)
    half = np.array([floor.decided, ceiling.decided])[:, 2:6]
    assert np.all(half < 0.55)
    # One fifth of the surface each: 30 m² of 0.3 twice before, and of their own sum after.
    assert together.before[3] == pytest.approx(18.0, abs=0.2)
    each = 30.0 * (floor.after[3] + ceiling.after[3])
    assert together.after[3] == pytest.approx(each, abs=0.2)
    # Their sum is surer than each of them says alone.
    assert together.sigma[3] < 30.0 * math.hypot(floor.sigma[3], ceiling.sigma[3])


def test_a_finish_that_alone_absorbs_is_known_by_itself(built: Callable[..., AsBuilt]) -> None:
    found = built(a_box(absorbing(0.01), absorbing(0.4), absorbing(0.01)), eyring(0.09))
    assert [g.name for g in found.groups] == ["ceiling"]
    assert found.groups[0].decided[3] > 0.5
    kept = dict(found.held)
    assert "next to nothing" in kept["floor"]


def test_an_octave_without_a_decay_follows_its_neighbours_and_is_named(
    built: Callable[..., AsBuilt],
) -> None:
    one = absorbing(0.1)
    found = built(a_box(one, one, one), [None, *eyring(0.2)[1:]])
    assert found.decays[0].measured is None
    assert found.groups[0].before[0] < found.groups[0].after[0] < found.groups[0].after[1] + 0.01
    assert any("No decay was measured at 125 Hz" in said for said in found.cautions)


def test_nothing_moves_farther_than_is_plausible(built: Callable[..., AsBuilt]) -> None:
    """−ln(1 − α) by a factor of four at most, α between 0.01 and 0.99."""
    one = absorbing(0.1)
    found = built(a_box(one, one, one), eyring(0.33))
    most = 1 - (1 - 0.1) ** 4
    for group in found.groups:
        assert max(group.after) <= most + 1e-3
        assert min(group.after) >= 0.01
    assert any("published absorption explains" in said for said in found.cautions)


def test_of_two_finishes_that_may_be_others_neither_is(built: Callable[..., AsBuilt]) -> None:
    """Floor and ceiling of one size and finish: a decay knows them no more apart than by chance."""
    one = absorbing(0.1)
    found = built(a_box(one, one, absorbing(0.02)), eyring(0.15))
    assert [each.other for each in found.accounts if each.taken] == [""]
    assert {"floor", "ceiling"} <= {each.other for each in found.accounts}
    assert any("do not settle it" in said for said in found.cautions)
    assert not any("Look what is there" in said for said in found.cautions)


def test_a_decay_that_bends_otherwise_is_said_to(built: Callable[..., AsBuilt]) -> None:
    one = absorbing(0.2)
    found = built(a_box(one, one, one), eyring(0.2), bend=1.4)
    assert found.curvature is not None
    assert found.curvature[0] == pytest.approx(1.4, abs=1e-6)
    assert any("bends otherwise" in said for said in found.cautions)


# What is refused ---------------------------------------------------------------------------------


def test_a_decay_shorter_than_all_that_may_absorb_is_refused(
    built: Callable[..., AsBuilt],
) -> None:
    one = absorbing(0.05)
    with pytest.raises(InputError, match=r"1 kHz: 0\.05 s were measured.*leak to another room"):
        built(a_box(one, one, one), [*eyring(0.05)[:3], 0.05, *eyring(0.05)[4:]])


def test_a_refusal_names_the_finishes_that_may_be_others(built: Callable[..., AsBuilt]) -> None:
    one = absorbing(0.1)
    with pytest.raises(InputError, match=r"one finish may be another.*the ceiling.*the floor"):
        built(a_box(one, one, absorbing(0.02)), eyring(0.25))


def test_a_decay_longer_than_the_least_that_absorbs_is_refused(
    built: Callable[..., AsBuilt],
) -> None:
    one = absorbing(0.5)
    with pytest.raises(InputError, match=r"500 Hz: 3\.00 s.*a finish that is not there"):
        built(a_box(one, one, one), [*eyring(0.5)[:2], 3.0, *eyring(0.5)[3:]])


def test_a_decay_that_the_air_alone_would_end_is_refused(built: Callable[..., AsBuilt]) -> None:
    """At 8 kHz, 20 °C and 50 %, about 105 dB/km: 60 dB in 0.57 km, 1.7 s [L ISO 9613-1]."""
    one = absorbing(0.1)
    with pytest.raises(InputError, match=r"8 kHz: 2\.50 s.*the air alone.*1\.[67]\d s"):
        built(a_box(one, one, one), [*eyring(0.1)[:6], 2.5])


def test_too_few_octaves_are_refused_with_what_to_record(built: Callable[..., AsBuilt]) -> None:
    one = absorbing(0.1)
    with pytest.raises(InputError, match=r"no mean decay time at 1 kHz.*two places to three"):
        built(a_box(one, one, one), [*eyring(0.1)[:3], None, *eyring(0.1)[4:]])


def test_a_room_of_glass_has_nothing_to_calibrate(built: Callable[..., AsBuilt]) -> None:
    with pytest.raises(InputError, match=r"nothing to calibrate.*measured_reverberation"):
        built(a_box("glass-front", "glass-front", "glass-front"), eyring(0.1))


def test_a_room_that_divides_needs_to_be_told_how_it_stood(
    built: Callable[..., AsBuilt],
) -> None:
    one = absorbing(0.2)
    room = a_box(
        one,
        one,
        one,
        partitions={"fold": {"from": [3, 0], "to": [3, 5]}},
        arrangements={"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
    )
    with pytest.raises(DocumentError, match="how it stood is not said"):
        built(room, eyring(0.2))
    found = built(room, eyring(0.3), arrangement="joined")
    assert found.space == "joined"
    assert found.room.partitions["fold"] == room.partitions["fold"]
    assert found.room.space.floor_finish != room.space.floor_finish


# What the document has ---------------------------------------------------------------------------


def test_glass_doors_and_what_is_bought_keep_their_names(
    built: Callable[..., AsBuilt], catalogue: Catalogue
) -> None:
    bought = next(one.id for one in catalogue.treatments if one.on == "wall")
    room = a_box("carpet-tile", "ceiling-plasterboard", "plasterboard")
    patch = {"bottom": 0, "top": 2.1}
    finishes = {
        "floor": "carpet-tile",
        "ceiling": "ceiling-plasterboard",
        "walls": {"south": "glass-front", "east": "plasterboard", "north": "plasterboard",
                  "west": "plasterboard"},
        "patches": {
            "door": {"wall": "north", "from": 1, "to": 2, "finish": "wood-door", **patch},
            "quiet": {"wall": "north", "from": 3, "to": 5, "finish": bought, **patch},
        },
    }  # fmt: skip
    room = Room.model_validate(
        {
            **room.model_dump(mode="json", by_alias=True, exclude_unset=True),
            "space": {
                **room.space.model_dump(mode="json", by_alias=True, exclude_unset=True),
                "finishes": finishes,
            },
        }
    )
    space = built(room, as_rung(room, catalogue, 1.2)).room.space
    assert space.wall_finish("south") == "glass-front"
    assert space.finishes.patches["door"].finish == "wood-door"
    assert space.finishes.patches["quiet"].finish == bought
    assert isinstance(space.wall_finish("east"), InlineFinish)
    assert space.wall_finish("east") == space.wall_finish("west")


def test_people_who_come_in_shorten_the_decay_that_was_measured_without_them(
    built: Callable[..., AsBuilt], catalogue: Catalogue
) -> None:
    seats = {f"s{i}": {"at": [1 + 0.8 * i, 2.5], "facing": 0} for i in range(6)}
    room = a_box("vinyl-floor", "ceiling-plasterboard", "plasterboard")
    people = {"occupancy": 1.0, "seats": seats}
    room = Room.model_validate(
        {**room.model_dump(mode="json", by_alias=True, exclude_unset=True), "people": people}
    )
    stated = room.model_copy(
        update={"space": room.space.model_copy(update={"measured_reverberation": (1.0,) * 7})}
    )
    times = as_rung(room, catalogue, 0.85)
    fresh = built(stated, times, occupancy=0.0).room
    assert fresh.space.measured_reverberation is None
    with_people = reverberation.predict(fresh, catalogue)
    assert with_people.unoccupied[2:6] == pytest.approx(times[2:6], rel=0.06)
    assert all(t < 0.95 * m for t, m in zip(with_people.time[2:6], times[2:6], strict=True))


def test_a_calibrated_room_is_as_sure_as_its_measurement_until_a_finish_is_told(
    built: Callable[..., AsBuilt], catalogue: Catalogue
) -> None:
    one = absorbing(0.1)
    room = a_box(one, one, one, basis={"space.finishes.floor": "told"})
    fresh = built(room, eyring(0.2)).room
    assert "space.finishes.floor" not in fresh.basis
    before, after = (reverberation.predict(r, catalogue) for r in (room, fresh))
    assert max(after.log_sigma[2:6]) < 0.5 * min(before.log_sigma[2:6])
    assert after.smooth == pytest.approx(after.time)  # other scattering, other absorption
    told = fresh.model_copy(update={"basis": {**fresh.basis, "space.finishes.floor": "told"}})
    assert tolerances.is_as_built(fresh)
    assert not tolerances.is_as_built(told)


def test_every_calibration_leaves_an_entry_in_the_history(built: Callable[..., AsBuilt]) -> None:
    one = absorbing(0.1)
    first = built(a_box(one, one, one), eyring(0.2), date="2026-11-20", by="A. Tern").room
    again = built(first, eyring(0.22)).room
    assert list(again.history) == ["as-built-measured", "as-built-measured-2"]
    entry = first.history["as-built-measured"]
    assert entry["date"] == "2026-11-20"
    assert entry["t20"]["1000"] == pytest.approx(eyring(0.2)[3], abs=1e-3)
    assert entry["finishes_before"]["space.finishes.floor"] == "written in the document"
