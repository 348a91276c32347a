"""The prediction as tested is that of a document which has the session's conditions written in."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.proving.given import ROOM
from wellheard.catalog.catalogue import Catalogue
from wellheard.measurement.session import SessionFolder
from wellheard.predict import ledger
from wellheard.proving.alike import Alike, AsTested
from wellheard.proving.conditions import ways
from wellheard.room.document import Room

pytestmark = pytest.mark.usefixtures("few_rays_here")

CLIMATE = {"temperature_c": 25, "humidity": 0.3}
SECOND = {
    **ROOM["devices"],
    "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.5, 1.0, 2.7]},
}


@pytest.fixture
def tested(
    catalogue: Catalogue,
    room_with: Callable[..., Room],
    session_of: Callable[..., SessionFolder],
) -> Callable[..., AsTested]:
    """Give the function that predicts one sweep as it was taken."""

    def made(room: Room, recording: dict[str, Any], *, mixed: bool = False) -> AsTested:
        session = session_of(
            {"r": {"kind": "sweep", "to": "m1", **recording}},
            source={"directivity": "omni"},
            occupancy=0.0,
            climate=CLIMATE,
        ).session
        alike = Alike(room, catalogue, session)
        where, unknown = ways(room, catalogue, alike.talkers, session)
        assert unknown == ()
        found = alike.tested(session.recordings["r"], where["r"], mixed=mixed)
        assert found is not None
        return found

    return made


def written_in(room: Room, *, at: tuple[float, float], facing: float, height: float = 1.2) -> Room:
    """The document itself with source, people and air of the session, and s1 at the source."""
    s1 = room.people.seats["s1"].model_copy(
        update={"at": at, "facing": (facing,), "height": height}
    )
    people = room.people.model_copy(
        update={
            "directivity": "omni",
            "occupancy": 0.0,
            "seats": {**room.people.seats, "s1": s1},
        }
    )
    climate = room.space.climate.model_copy(update=CLIMATE)
    space = room.space.model_copy(update={"climate": climate})
    return room.model_copy(update={"people": people, "space": space})


def test_one_microphone_is_heard_alone(
    tested: Callable[..., AsTested], room_with: Callable[..., Room], catalogue: Catalogue
) -> None:
    devices = {k: v for k, v in SECOND.items() if k != "m2"}
    alone = ledger.predict(
        written_in(room_with(devices=devices), at=(2.0, 1.5), facing=30.0), catalogue
    ).path("s1", "m1")
    found = tested(room_with(devices=SECOND), {"from": "s1", "facing_deg": 30})
    assert found.sti.value == pytest.approx(alone.sti, abs=1e-9)
    assert found.direct_to_reverberant.value == pytest.approx(alone.direct_to_reverberant_db)
    assert found.speech_to_noise.value == pytest.approx(alone.speech_to_noise_db)
    assert found.c50_db == pytest.approx(sum(alone.c50_db[2:6]) / 4)


def test_behind_a_mixer_all_are(
    tested: Callable[..., AsTested], room_with: Callable[..., Room], catalogue: Catalogue
) -> None:
    room = room_with(devices=SECOND)
    whole = ledger.predict(written_in(room, at=(2.0, 1.5), facing=30.0), catalogue)
    found = tested(room, {"from": "s1", "facing_deg": 30}, mixed=True)
    assert found.speech_to_noise.value == pytest.approx(whole.path("s1", "m1").speech_to_noise_db)


def test_a_source_beside_its_seat_is_predicted_where_it_stood(
    tested: Callable[..., AsTested], room_with: Callable[..., Room]
) -> None:
    # The microphone hangs at x = 3: a source nearer to it sends it more direct sound.
    near, far = (
        tested(room_with(), {"from": [x, 1.5, 1.2], "facing_deg": 0}) for x in (2.25, 1.75)
    )
    assert near.direct_to_reverberant.value > far.direct_to_reverberant.value + 0.2


def test_where_the_session_does_not_say_the_worst_facing_of_the_document_counts(
    tested: Callable[..., AsTested], room_with: Callable[..., Room]
) -> None:
    seats = {"s1": {"at": [2.0, 1.5], "facing": [0, 180]}}
    room = room_with(people={**ROOM["people"], "seats": seats})
    each = [tested(room, {"from": "s1", "facing_deg": angle}).sti.value for angle in (0, 180)]
    assert tested(room, {"from": "s1"}).sti.value == min(each)
