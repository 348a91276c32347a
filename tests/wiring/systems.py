"""Small systems drawn by seed: mixed kinds, owned devices, locked links, long rooms. Invented."""

from __future__ import annotations

import random
from typing import Any

from wellheard.room.document import Room

HEADS = ("ceiling-head-3", "pendant-cardioid", "ceiling-array-16", "gooseneck", "ceiling-head-2")
PASSIVE = ("ceiling-6", "display-pair", "ceiling-4")
ACTIVE = ("ceiling-6-network", "wall-5-active")
HUBS = ("bridge-1", "bridge-2", "processor-4", "processor-12")
AMPLIFIERS = ("amplifier-2x40", "line-amplifier-1x120", "amplifier-4x150")


def system(seed: int) -> Room:
    """A system of a few devices.

    Some rooms are so long that plain links do not reach; some have a switch, an amplifier or a
    processor already, owned or not; some name what may be bought, and then some cannot be wired.
    """
    rng = random.Random(seed)
    length = rng.choice((6.0, 9.0, 14.0, 34.0, 60.0))
    width = rng.choice((4.0, 6.0))
    data: dict[str, Any] = {
        "wellheard": 1,
        "space": {
            "outline": [[0, 0], [length, 0], [length, width], [0, width]],
            "walls": ["south", "east", "north", "west"],
            "height": 2.8,
            "ceiling": {
                "kind": "tiles",
                "module": 0.6,
                "void_depth": 0.4,
                "air_return": rng.choice((True, False)),
            },
        },
        "site": {"region": rng.choice(("us", "eu", "unknown"))},
        "people": {"seats": {"s1": {"at": [2, 2], "facing": 0}, "s2": {"at": [3, 2], "facing": 0}}},
        "furniture": {
            "table": {"kind": "table", "outline": [[1, 1], [4, 1], [4, 3], [1, 3]], "height": 0.74}
        },
        "equipment": {},
        "devices": {},
        "links": {},
    }
    _equipment(rng, data, length, width)
    _devices(rng, data, length, width)
    _electronics(rng, data)
    data["choices"] = {
        "allow": [
            *rng.sample(HUBS, rng.choice((1, 2))),
            *rng.sample(AMPLIFIERS, rng.choice((1, 1, 2))),
            rng.choice(("switch-8", "switch-24")),
        ]
    }
    return Room.model_validate(data)


def crowd(seed: int) -> Room:
    """A system with more of one sort than one device takes: branches, switches, amplifiers.

    The first third has five microphones for processors with four ports, the second five
    panels on the network for switches that power four, the last three pairs of loudspeakers for
    amplifiers that feed one.
    """
    rng = random.Random(1000 + seed)
    length = rng.choice((8.0, 20.0))
    data: dict[str, Any] = {
        "wellheard": 1,
        "space": {"outline": [[0, 0], [length, 0], [length, 6], [0, 6]], "height": 2.8},
        "people": {"seats": {"s1": {"at": [2, 2], "facing": 0}}},
        "equipment": {
            "rack": {"kind": "rack", "at": [length - 0.4, 0.4, 0.5]},
            "box": {"kind": "table-box", "at": [0.4, 5.6, 0.5]},
            "pc": {"kind": "computer", "at": [length - 0.8, 0.4, 0.5]},
        },
        "devices": {},
    }
    spots = [[1.0 + 1.1 * k, rng.choice((1.5, 3.0, 4.5)), 2.8] for k in range(6)]
    sort, allow = seed % 3, ["processor-4"]
    if sort == 0:
        networked = rng.random() < 0.4
        for k in range(5):
            product = rng.choice(("ceiling-head-3", "pendant-cardioid"))
            if k == 0 and networked:
                product = "ceiling-head-3-network"
            data["devices"][f"m{k}"] = {"kind": "microphone", "product": product, "at": spots[k]}
        allow += rng.choice(([], ["processor-12"], ["bridge-2"]))
        if rng.random() < 0.5:
            data["devices"]["mixer"] = {
                "kind": "processor",
                "product": rng.choice(("processor-4", "processor-8", "bridge-2")),
                "at": [0.4, 5.6, 0.5],
                "owned": True,
            }
    elif sort == 1:
        for k in range(5):
            data["devices"][f"m{k}"] = {
                "kind": "microphone",
                "product": rng.choice(("ceiling-array-16", "ceiling-array-48")),
                "at": spots[k],
            }
        allow = ["processor-12", *rng.choice((["switch-8"], ["switch-8", "switch-24"]))]
    else:
        data["devices"]["m1"] = {"kind": "microphone", "product": "gooseneck", "at": [2, 2, 1]}
        for k in range(3):
            data["devices"][f"l{k}"] = {
                "kind": "loudspeaker",
                "product": rng.choice(("display-pair", "display-pair", "ceiling-4")),
                "at": [0.1, 1.0 + 1.5 * k, 1.6],
            }
        allow += ["amplifier-2x40", rng.choice(("amplifier-4x150", "line-amplifier-1x120"))]
    data["choices"] = {"allow": allow}
    return Room.model_validate(data)


def _equipment(rng: random.Random, data: dict[str, Any], length: float, width: float) -> None:
    equipment = data["equipment"]
    equipment["rack"] = {"kind": "rack", "at": [length - 0.4, 0.4, 0.5]}
    if rng.random() < 0.4:
        equipment["box"] = {"kind": "table-box", "at": [2.5, 2.0, 0.74]}
    if rng.random() < 0.7:
        near = rng.random() < 0.5
        at = [length - 0.6, 0.4, 0.5] if near else [2.0, 2.0, 0.74]
        equipment["pc"] = {"kind": rng.choice(("computer", "codec")), "at": at}
    if rng.random() < 0.3:
        equipment["wall"] = {"kind": "wall-plate", "at": [length / 2, width, 0.3]}
    if rng.random() < 0.3:
        equipment["eye"] = {"kind": "camera", "at": [0.1, width / 2, 1.2]}
    if rng.random() < 0.5:
        data["furniture"]["picture"] = {
            "kind": "display",
            "wall": "west",
            "centre": [width / 2, 1.4],
            "size": [1.4, 0.8],
        }


def _devices(rng: random.Random, data: dict[str, Any], length: float, width: float) -> None:
    devices = data["devices"]

    def at(height: float) -> list[float]:
        return [
            round(rng.uniform(0.6, min(length, 20.0) - 0.6), 2),
            round(rng.uniform(0.6, width - 0.6), 2),
            height,
        ]

    for k in range(rng.choice((1, 2, 2, 3))):
        product = rng.choice(HEADS)
        place = [2.0 + k / 2, 1.5, 1.1] if product == "gooseneck" else at(2.8)
        devices[f"m{k + 1}"] = {"kind": "microphone", "product": product, "at": place}
    for k in range(rng.choice((0, 1, 2))):
        product = rng.choice((*PASSIVE, *ACTIVE))
        wall = product in ("display-pair", "wall-5-active")
        place = [0.1, 1.0 + k, 1.5] if wall else at(2.8)
        devices[f"l{k + 1}"] = {"kind": "loudspeaker", "product": product, "at": place}
    if rng.random() < 0.15:
        devices["bar"] = {"kind": "combined", "product": "front-bar", "at": [0.1, width / 2, 1.0]}


def _electronics(rng: random.Random, data: dict[str, Any]) -> None:
    devices = data["devices"]
    if rng.random() < 0.5:
        product = rng.choice(HUBS)
        devices["mixer"] = {
            "kind": "processor",
            "product": product,
            "equipment": "rack" if product != "bridge-1" else None,
            "owned": rng.random() < 0.5,
        }
        first = next(name for name in devices if name.startswith("m") and name != "mixer")
        kinds = {"ceiling-head-3": True, "ceiling-head-2": True}
        if kinds.get(devices[first]["product"]) and rng.random() < 0.6:
            data["links"]["kept"] = {
                "from": f"{first}.link",
                "to": "mixer.mic-1",
                "locked": True,
                "cable": "twisted-pair",
                "length": 20,
            }
    if rng.random() < 0.25:
        devices["old-switch"] = {
            "kind": "switch",
            "product": "switch-8",
            "equipment": "rack",
            "owned": True,
        }
    if rng.random() < 0.25:
        devices["amp"] = {
            "kind": "amplifier",
            "product": rng.choice(AMPLIFIERS),
            "equipment": "rack",
            "locked": rng.random() < 0.5,
        }
