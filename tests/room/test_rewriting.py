"""Operations between two rooms make the one of the other, whatever differs."""

from pathlib import Path
from typing import Any

import pytest

from wellheard.room import codec
from wellheard.room.devices import Device
from wellheard.room.edit import with_devices, with_links, without_devices
from wellheard.room.links import Link
from wellheard.room.operations import apply
from wellheard.room.rewriting import operations_between

EXAMPLES = sorted(Path("examples").glob("*/*.room.yaml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.parent.name)
def test_a_room_is_made_of_itself_by_nothing(path: Path) -> None:
    room = codec.load(path).room
    assert operations_between(room, room) == []


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.parent.name)
def test_what_comes_goes_and_moves_is_made_again_from_plain_data(path: Path) -> None:
    old = codec.load(path).room
    middle = tuple(round(sum(axis) / len(axis), 3) for axis in zip(*old.space.outline, strict=True))
    fresh: dict[str, Any] = {
        "x1": Device(
            kind="microphone", product="ceiling-head-3", at=(*middle, old.space.height - 0.5)
        )
    }
    loose = [name for name, device in old.devices.items() if not device.locked]
    new = with_devices(without_devices(old, loose[:1]), fresh)
    new = with_links(
        new, {"l9": Link.model_validate({"from": "x1.link", "to": "far.mic-1", "length": 4.5})}
    )
    new = new.model_copy(
        update={
            "space": new.space.model_copy(update={"scattering": 0.27}),
            "targets": new.targets.model_copy(update={"sti_outbound": 0.55}),
        }
    )
    made = apply(old, operations_between(old, new), unit="m").room
    assert made == new
