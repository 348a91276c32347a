"""Decider and judge agree: no rule of the checks objects to what placement proposes.

The two share thresholds and nothing else, so each is a rival to the other.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.effort import rooms
from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.run import findings
from wellheard.place.microphones import place_microphones
from wellheard.predict import ledger, scene
from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.workflow.design import Designed

EXAMPLES = sorted(p.name for p in (Path(__file__).parents[2] / "examples").iterdir() if p.is_dir())
ROOMS = rooms(15, thorough=30)

PLACES = {
    "microphone-near-wall",
    "microphone-near-air-outlet",
    "microphone-near-fan",
    "microphone-in-keep-out",
    "microphone-near-loudspeaker",
    "head-height-under-pendant",
    "cable-too-long",
    "device-overlaps",
    "grid-mixed",
    "microphone-near-papers",
    "pendant-in-camera-view",
    "pendant-in-projector-beam",
}
"""Rules of place: they hold for every new device, whether the promise can be kept or not."""

NEAR_PAPERS = ("microphone-near-papers", "note")
"""Beside a working place, not in it: on a narrow table it can hardly be kept."""

SERVICE = {
    "talker-beyond-rated-distance",
    "loudspeaker-nearer-than-talkers",
    "target-missed-sti",
    "target-missed-direct-to-reverberant",
    "target-missed-speech-to-noise",
}
"""Rules of service: they hold where the promise is said to be kept."""


def sight_line_kept(room: Room, catalogue: Catalogue) -> bool:
    """Underside of what hangs at least 0.1 m above the top of the highest picture, by hand."""
    tops = [
        f.centre[1] + f.size[1] / 2
        for f in room.furniture.values()
        if f.kind in ("display", "screen")
    ]
    return all(
        device.at[2] - catalogue.product(device.product).size[2] / 2 >= max(tops) + 0.1 - 1e-9
        for device in room.devices.values()
        if device.kind == "microphone"
        and device.at is not None
        and not device.locked
        and "ceiling" in catalogue.product(device.product).mountings
        and device.at[2] < room.space.height - 1e-9
        and tops
    )


def objections(room: Room, catalogue: Catalogue, codes: set[str]) -> list[str]:
    evidence = ledger.evidence(scene.build(room, catalogue), assumptions=False)
    locked = {f"devices.{k}" for k, d in room.devices.items() if d.locked}
    return [
        f.message
        for f in findings(evidence)
        if f.code in codes
        and f.status == "fail"
        and f.at not in locked
        and (f.code, f.severity) != NEAR_PAPERS
    ]


@pytest.mark.usefixtures("few_rays_here")  # decider and judge weigh the same decay
@pytest.mark.parametrize("seed", range(ROOMS))
def test_no_rule_objects_to_a_proposal(
    seed: int, crowded_room: Callable[[int], Room], catalogue: Catalogue
) -> None:
    room = crowded_room(seed)
    built = scene.build(room, catalogue)
    proposal = place_microphones(built, time_limit=10.0)
    placed = edit.replacing_devices(
        room,
        {"microphone"},
        {
            d.id: Device(
                kind="microphone",
                product=d.product,
                at=d.at,
                aim_deg=None if d.mounting == "ceiling" else d.aim_deg,
                locked=d.locked,
            )
            for d in proposal.devices
        },
    )
    codes = PLACES | (SERVICE if proposal.proof.status != "infeasible" else set())
    assert objections(placed, catalogue, codes) == []
    assert sight_line_kept(placed, catalogue)
    rows = ledger.evidence(scene.build(placed, catalogue), assumptions=False).outbound
    assert proposal.worst["sti_outbound"] == pytest.approx(min(r.path.sti for r in rows))
    if proposal.proof.status == "infeasible":
        broken = {r.talker.id for r in rows if r.state != "kept"}
        beyond = {
            r.talker.id
            for r in rows
            if r.path.distance
            > catalogue.product(_product(placed, r.path.microphone)).usual_distance  # type: ignore[union-attr]
        }
        assert {s.talker for s in proposal.shortfalls} >= broken - beyond
    else:
        assert {r.state for r in rows} == {"kept"}


def _product(room: Room, device: str) -> str:
    return room.devices[device].product


def test_the_rooms_have_answers_and_trouble(
    crowded_room: Callable[[int], Room], catalogue: Catalogue
) -> None:
    crowded = [crowded_room(seed) for seed in range(ROOMS)]
    kinds = {o.kind for r in crowded for o in r.overhead.values()}
    assert kinds >= {"luminaire", "beam", "duct", "air-outlet", "projector"}
    assert {s.kind for r in crowded for s in r.noise.sources.values()} >= {
        "air-outlet",
        "projector",
    }
    assert sum("ls" in r.devices for r in crowded) >= ROOMS // 4


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_rule_objects_to_the_design_of_an_example(
    name: str, designed: Callable[[str], Designed], catalogue: Catalogue
) -> None:
    answer = designed(name)
    room = answer.placed.room
    kept = answer.placed.proposal.proof.status != "infeasible"
    assert objections(room, catalogue, PLACES | (SERVICE if kept else set())) == []
    assert sight_line_kept(room, catalogue)
