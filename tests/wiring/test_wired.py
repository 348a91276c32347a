"""What comes out as a document: locked links, owned devices, cancellers, words for what is not."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.wiring.systems import crowd, system
from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.registry import rules
from wellheard.predict.evidence import Evidence
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.signal.graph import graph
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import solve
from wellheard.wiring.wired import Wired, wired_room

SHIPPED = Catalogue.shipped()
ROOMS = (*(("mixed", seed) for seed in range(32)), *(("crowd", seed) for seed in range(12)))


def _room(sort: str, seed: int) -> Room:
    return (crowd if sort == "crowd" else system)(seed)


def _box(**over: Any) -> Room:
    return Room.model_validate(
        {
            "wellheard": 1,
            "space": {
                "outline": [[0, 0], [8, 0], [8, 5], [0, 5]],
                "walls": ["south", "east", "north", "west"],
                "height": 2.8,
                "ceiling": {"kind": "tiles", "module": 0.6, "void_depth": 0.4},
            },
            "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
            "equipment": {
                "rack": {"kind": "rack", "at": [7.6, 0.4, 0.5]},
                "pc": {"kind": "computer", "at": [7.2, 0.4, 0.5]},
            },
            **over,
        }
    )


def _head(x: float, product: str = "ceiling-head-3") -> dict[str, Any]:
    return {"kind": "microphone", "product": product, "at": [x, 2.5, 2.8]}


def _wire(room: Room) -> Wired:
    return solve(task_of(room, SHIPPED))


def _ends(room: Room | Wired) -> set[frozenset[str]]:
    return {frozenset((link.from_, link.to)) for link in room.links.values()}


@pytest.mark.parametrize(("sort", "seed"), ROOMS)
def test_wired_room_reads_back_and_has_no_error_of_the_signal_rules(sort: str, seed: int) -> None:
    wired = _wire(_room(sort, seed))
    room = wired_room(_room(sort, seed), wired)
    assert codec.parse(codec.dump(room)) == room
    missing = {one.port.partition(".")[0] for one in wired.unwired}
    made = graph(room, SHIPPED)
    evidence = cast("Evidence", SimpleNamespace(signal=made, room=room, catalogue=SHIPPED))
    for code, rule in rules().items():
        if rule.check.__module__.startswith("wellheard.checks.signal"):
            drafts = [
                draft
                for draft in rule.check(evidence)
                if (draft.severity or rule.severity) == "error"
                # What stays unwired is told by itself.
                and not (draft.at.startswith("devices.") and draft.at[8:] in missing)
            ]
            assert not drafts, (code, drafts)


@pytest.mark.parametrize("seed", [0, 3, 6, 9])
def test_every_way_has_one_canceller_and_its_reference_though_there_are_two_processors(
    seed: int,
) -> None:
    over = crowd(seed).devices | {
        "l1": _box(
            devices={"l1": {"kind": "loudspeaker", "product": "wall-5-active", "at": [0.1, 2, 1.5]}}
        ).devices["l1"]
    }
    room = crowd(seed).model_copy(update={"devices": over})
    wired = _wire(room)
    made = graph(wired_room(room, wired), SHIPPED)
    hubs = {end.partition(".")[0] for end in made.ends.values()}
    assert (len(hubs), len(made.microphones)) == (2, 5)
    for microphone in made.microphones:
        paths = made.paths_of(microphone)
        assert {len(path.cancellers) for path in paths} == {1}
    cancellers = made.all_cancellers()
    references = [made.reference(one) for one in cancellers]
    assert all(one.far_end and not one.microphones for one in references)
    branch = next(split for split in hubs if f"{split}.usb" not in str(wired.links))
    stated = {p.on: p.reference for p in wired.processing.values() if p.on.startswith(branch)}
    assert {*stated.values()} == {f"{branch}.line-in-1"}


@pytest.mark.parametrize(("sort", "seed"), [r for r in ROOMS if r[1] < 12])
def test_wiring_what_is_wired_changes_nothing_and_costs_nothing_new(sort: str, seed: int) -> None:
    first = wired_room(_room(sort, seed), _wire(_room(sort, seed)))
    again = _wire(first)
    assert _ends(again) == _ends(first)
    assert not again.dropped
    assert not [part for part in again.parts if part.id not in first.links]


def test_same_document_is_wired_the_same() -> None:
    assert _wire(system(8)) == _wire(system(8))


def test_locked_link_stays_to_the_letter() -> None:
    link = {
        "from": "m1.link",
        "to": "mixer.mic-2",
        "cable": "twisted-pair",
        "length": 29.9,
        "route": [[1, 2.5, 2.8], [7.6, 2.5, 2.8], [7.6, 0.4, 0.5]],
        "locked": True,
    }
    mixer = {"kind": "processor", "product": "bridge-2", "equipment": "rack"}
    room = _box(devices={"m1": _head(1), "m2": _head(3), "mixer": mixer}, links={"mine": link})
    wired = _wire(room)
    assert wired.links["mine"] == room.links["mine"]
    assert frozenset(("m2.link", "mixer.mic-1")) in _ends(wired)


def test_unlocked_link_is_a_hint_that_gives_way_and_a_programme_stays() -> None:
    devices = {
        "m1": _head(1),
        "mixer": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
    }
    equipment = {
        "rack": {"kind": "rack", "at": [7.6, 0.4, 0.5]},
        "pc": {"kind": "computer", "at": [7.2, 0.4, 0.5]},
        "film": {"kind": "other", "at": [7.4, 0.4, 0.5]},
    }
    links = {
        "film": {"from": "film.out", "to": "mixer.line-in-1"},
        "wrong": {"from": "m1.link", "to": "mixer.line-in-2"},
    }
    wired = _wire(_box(devices=devices, equipment=equipment, links=links))
    assert [name in wired.links for name in ("film", "wrong")] == [True, False]
    assert frozenset(("m1.link", "mixer.mic-1")) in _ends(wired)


def test_owned_processor_goes_before_a_better_one_that_costs() -> None:
    owned = {"kind": "processor", "product": "processor-8", "equipment": "rack", "owned": True}
    wired = _wire(_box(devices={"m1": _head(1), "old": owned}))
    assert (wired.devices, wired.electronics) == ({}, 0)
    assert {"m1.link", "old.mic-1"} in _ends(wired)


def test_owned_and_locked_electronics_that_nothing_needs_are_left_and_others_dropped() -> None:
    amplifier = {"kind": "amplifier", "product": "amplifier-2x40", "equipment": "rack"}
    devices = {
        "m1": _head(1),
        "mine": {**amplifier, "owned": True},
        "fixed": {**amplifier, "locked": True},
        "spare": amplifier,
    }
    wired = _wire(_box(devices=devices))
    assert wired.dropped == ("spare",)
    assert "spare is left out: nothing needs it." in wired.assumed


def test_rack_and_computer_are_taken_to_be_there_and_said_so() -> None:
    """The rack at the foot of the wall with the picture, the computer beside it."""
    picture = {"kind": "display", "wall": "west", "centre": [2.5, 1.5], "size": [1.6, 0.9]}
    room = _box(devices={"m1": _head(1)}, equipment={}, furniture={"picture": picture})
    wired = _wire(room)
    assert {name: item.kind for name, item in wired.equipment.items()} == {
        "rack": "rack",
        "computer": "computer",
    }
    assert wired.equipment["rack"].at == (0.3, 2.5, 0.4)
    done = wired_room(room, wired)
    assert done.basis == {"equipment.rack": "assumed", "equipment.computer": "assumed"}
    assert any("rack is taken to stand at the foot of wall west" in s for s in wired.assumed)
    assert frozenset(("computer.hdmi-out-1", "picture.hdmi-1")) in _ends(wired)


def test_extender_of_the_document_is_used_before_one_is_bought() -> None:
    """The computer is 6 m off: USB wants an extender, and one lies there, owned."""
    extender = {"kind": "other", "product": "usb-extender-50", "equipment": "rack"}
    equipment = {
        "rack": {"kind": "rack", "at": [7.6, 0.4, 0.5]},
        "pc": {"kind": "computer", "at": [1.0, 2.5, 0.74]},
    }
    devices = {"m1": _head(1), "spare": extender, "mine": {**extender, "owned": True}}
    with_it = _wire(_box(devices=devices, equipment=equipment))
    without = _wire(_box(devices={"m1": _head(1)}, equipment=equipment))
    assert frozenset(("p1.usb", "mine.near")) in _ends(with_it)
    assert with_it.dropped == ("spare",)
    bought = next(part for part in without.parts if part.what == "USB extender over twisted pair")
    assert without.price - with_it.price == pytest.approx(bought.amount)
    assert (without.electronics, with_it.electronics) == (2, 1)
    assert with_it.proof.bound == with_it.price


def test_link_ids_follow_the_schedule() -> None:
    devices = {f"m{k}": _head(0.6 * k) for k in (1, 2, 10)}
    wired = _wire(_box(devices=devices, choices={"allow": ["processor-4"]}))
    assert [(name, link.from_) for name, link in wired.links.items()] == [
        ("c01", "m1.link"),
        ("c02", "m2.link"),
        ("c03", "m10.link"),
        ("c04", "p1.usb"),
    ]


def test_pair_hangs_on_two_channels_of_what_drives_one_each() -> None:
    """6 Ω on an amplifier that drives 4 Ω at least: two side by side would be 3 Ω."""
    pair = {"kind": "loudspeaker", "product": "display-pair", "at": [0.1, 2.5, 1.5]}
    wired = _wire(_box(devices={"m1": _head(1), "l1": pair}))
    hung = [link.from_ for link in wired.links.values() if link.to == "l1.in"]
    assert hung == ["a1.out-1", "a1.out-2"]


def test_taps_keep_a_fifth_of_the_amplifier_free() -> None:
    """Σ taps / 0.8 within the channel [C]: 96 W of 120 W; loads no less than the amplifier's."""
    heads = {f"l{k}": (0.6 + 0.7 * (k % 10), 0.8 + 1.1 * (k // 10)) for k in range(20)}
    devices: dict[str, Any] = {
        name: {"kind": "loudspeaker", "product": "ceiling-6", "at": [x, y, 2.8]}
        for name, (x, y) in heads.items()
    }
    task = task_of(
        _box(devices={"m1": _head(1), **devices}, choices={"allow": ["line-amplifier-1x120"]}),
        SHIPPED,
    )
    for feed in task.feeds:
        assert feed.tap_w is not None
        assert feed.per_channel * feed.tap_w <= 0.8 * 120 < (feed.per_channel + 1) * feed.tap_w


def test_switch_has_the_power_that_its_devices_take_with_a_fifth_more() -> None:
    """Four panels of 9.5 W want 45.6 W of 65; six want six ports with power, and one has four."""
    few = {f"m{k}": _head(0.8 + k, "ceiling-array-16") for k in range(4)}
    many = {f"m{k}": _head(0.8 + k, "ceiling-array-16") for k in range(6)}
    assert [d.product for d in _wire(_box(devices=few)).devices.values()] == [
        "processor-4",
        "switch-8",
    ]
    wired = _wire(_box(devices=many))
    ports = {
        "switch-8": 4 * sum(d.product == "switch-8" for d in wired.devices.values()),
        "switch-24": 24 * sum(d.product == "switch-24" for d in wired.devices.values()),
    }
    assert sum(ports.values()) >= 6


def test_power_is_packed_switch_by_switch_and_not_summed() -> None:
    """28.8 W twice fill a switch of 65 W: four of them and 11.4 W more want three, not 126.6/65."""
    devices: dict[str, Any] = {
        f"l{k}": {"kind": "loudspeaker", "product": "ceiling-6-network", "at": [1 + k, 2, 2.8]}
        for k in range(4)
    }
    devices["m1"] = _head(5, "ceiling-array-16")
    wired = _wire(_box(devices=devices, choices={"allow": ["processor-4", "switch-8"]}))
    assert [d.product for d in wired.devices.values()].count("switch-8") == 3


def test_uplink_goes_to_the_wall_plate_where_there_is_one() -> None:
    equipment = {
        "rack": {"kind": "rack", "at": [7.6, 0.4, 0.5]},
        "pc": {"kind": "computer", "at": [7.2, 0.4, 0.5]},
        "plate": {"kind": "wall-plate", "at": [8, 3, 0.3]},
    }
    wired = _wire(_box(devices={"m1": _head(2, "ceiling-array-16")}, equipment=equipment))
    assert frozenset(("sw1.network-8", "plate.network")) in _ends(wired)


def test_what_cannot_be_wired_is_said_with_what_would_have_to_give() -> None:
    far = {
        "space": {"outline": [[0, 0], [90, 0], [90, 5], [0, 5]], "height": 2.8},
        "equipment": {
            "rack": {"kind": "rack", "at": [89.6, 0.4, 0.5]},
            "pc": {"kind": "computer", "at": [89.2, 0.4, 0.5]},
        },
    }
    wired = _wire(_box(devices={"m1": _head(1), "m2": _head(80)}, **far))
    assert wired.proof.status == "infeasible"
    assert [one.port for one in wired.unwired] == ["m1.link"]
    assert "reaches 30.00 m" in wired.unwired[0].why
    assert "nearer" in wired.unwired[0].gives
    assert any(link.from_ == "m2.link" for link in wired.links.values())


def test_more_microphones_than_processors_that_cannot_be_joined_take_stay_unwired() -> None:
    devices = {f"m{k}": _head(0.8 * k + 0.8) for k in range(4)}
    wired = _wire(_box(devices=devices, choices={"allow": ["bridge-2"]}))
    assert len(wired.unwired) == 2
    assert all("No port is left" in one.why for one in wired.unwired)


def test_document_without_anything_to_wire_keeps_its_cables() -> None:
    devices = {"mixer": {"kind": "processor", "product": "processor-4", "equipment": "rack"}}
    links = {"usb": {"from": "mixer.usb", "to": "pc.usb"}}
    room = _box(devices=devices, links=links)
    wired = _wire(room)
    assert wired_room(room, wired) == room
    assert wired_room(room, wired).model_fields_set == room.model_fields_set
    assert (wired.price, wired.proof.status) == (0.0, "optimal")


def test_price_is_the_sum_of_its_parts() -> None:
    wired = _wire(system(16))
    assert wired.price == pytest.approx(sum(part.amount for part in wired.parts), abs=0.005)
    assert {part.id for part in wired.parts} == {*wired.devices, *wired.links}
    assert wired.proof.bound == wired.price


# A microphone's digital link goes over twisted pair, a line input takes a
# balanced line: common practice, no source [C].
@pytest.mark.parametrize(
    ("link", "says"),
    [
        ({"from": "m1.link", "to": "mixer.line-in-1"}, "twisted-pair"),
        ({"from": "m1.link", "to": "mixer.line-in-9"}, "mixer has no port line-in-9"),
        ({"from": "m1.link", "to": "mixer.mic-1", "cable": "usb-cord-2"}, "usb-cord-2"),
        ({"from": "mixer.line-out-1", "to": "other.line-out-1"}, "both are outputs"),
    ],
)
def test_a_locked_link_that_joins_nothing_is_named_and_not_called_wired(
    link: dict[str, str], says: str
) -> None:
    room = _box(
        devices={
            "m1": _head(2.0),
            "mixer": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
            "other": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
        },
        links={"wrong": {**link, "locked": True}},
    )
    wired = _wire(room)
    (found,) = [one for one in wired.unwired if "Locked link wrong" in one.why]
    assert found.port == link["from"]
    assert says in found.why
    assert "Unlock it" in found.gives
    assert wired.proof.status == "infeasible"
    assert not any(stage.on == link["to"] for stage in wired.processing.values())


def test_a_locked_link_that_fits_is_no_fault() -> None:
    wired = _wire(
        _box(
            devices={
                "m1": _head(2.0),
                "mixer": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
            },
            links={"right": {"from": "m1.link", "to": "mixer.mic-1", "locked": True}},
        )
    )
    assert not wired.unwired
    assert wired.proof.status == "optimal"
