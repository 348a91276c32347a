"""Evidence made by hand, so that rules are tried without the predictor.

A case is a mapping: ``room`` is laid over a plain document, where ``absent`` takes a field away,
``mounting`` overrides how a microphone is mounted, ``figures`` gives what the prediction says of
a talker, ``reverberation``, ``noise`` and ``microphone_noise_dba`` what it says of the room.
``products`` gives products of the catalogue other fields, ``parts`` other parts by mounting;
``cables`` adds cables; ``playback`` says what ears hear, see ``playing``,
``lift`` what a lift does, see ``lifting``; ``echo``, ``levels`` and ``delays`` say what comes back
and how late, see ``echoing``.
Distances are geometry. Rooms, people and devices are invented.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.checks.echoing import delays_of, echo_of, levels_of
from tests.checks.lifting import lift_of
from tests.checks.playing import playback_of
from wellheard.acoustics.modulation import transfer_direct_plus_exponential
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Cable, Fitting, Loudspeaker, Microphone, Processor
from wellheard.predict.evidence import (
    Assumed,
    Bands,
    Evidence,
    Outbound,
    Path,
    PlacedDevice,
    PlacedMicrophone,
    Point,
    Quantity,
    Reverberation,
    RoomNoise,
    Talker,
)
from wellheard.predict.talkers import facings_deg
from wellheard.room.document import Room
from wellheard.room.people import Seat

Case = dict[str, Any]
EvidenceOf = Callable[..., Evidence]

PLAIN: Case = {
    "wellheard": 1,
    "title": "Test Room",
    "site": {"region": "Freeland", "seismic": "none"},
    "units": "m",
    "space": {
        "outline": [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.75,
        "ceiling": {"kind": "tiles", "void_depth": 0.45, "air_return": True},
        "finishes": {
            "floor": "carpet-tile",
            "walls": {
                "south": "fabric-panel",
                "east": "fabric-panel",
                "north": "plasterboard",
                "west": "plasterboard",
            },
        },
    },
    "furniture": {
        "table": {
            "kind": "table",
            "outline": [[1.6, 1.7], [4.8, 1.7], [4.8, 2.9], [1.6, 2.9]],
            "height": 0.74,
        }
    },
    "people": {"seats": {"s1": {"at": [2.0, 1.4], "facing": "across"}}},
    "equipment": {"rack": {"kind": "rack", "at": [6.0, 0.4, 0.5]}},
    "targets": {"chance": 0.8},
}
"""A document about which no rule has anything to say."""

EVEN: Bands = (0.45, 0.45, 0.45, 0.45, 0.45, 0.45, 0.45)
SURE: dict[str, tuple[float, float, str]] = {
    "sti_outbound": (0.75, 0.03, ""),
    "direct_to_reverberant_db": (0.0, 1.5, "dB"),
    "speech_to_noise_db": (25.0, 2.0, "dB"),
}
"""Value, standard deviation and unit of each promised quantity unless a case says otherwise."""


@pytest.fixture(scope="session")
def evidence_of() -> EvidenceOf:
    """Give the function that turns a case into evidence."""
    return _evidence


def _evidence(case: Case | None = None, /) -> Evidence:
    case = case or {}
    catalogue = _catalogue(case)
    room = Room.model_validate(_merged(PLAIN, case.get("room", {})))
    talkers = _talkers(room, case.get("samples", {}))
    microphones = _microphones(room, catalogue, case.get("mounting", {}))
    paths = tuple(_path(t, m, case) for t in talkers for m in microphones)
    outbound = tuple(_row(talker, paths, room, case) for talker in talkers if microphones)
    given = {key: _seven(value) for key, value in case.get("reverberation", {}).items()}
    return Evidence(
        room=room,
        catalogue=catalogue,
        reverberation=replace(_reverberation(room), **given),
        noise=RoomNoise(
            **{
                "levels_db": _noise(24.0),
                "nc": 25.0,
                "label": "NC-25",
                "governing": None,
                "dba": 30.0,
                "told_as": "NC-25",
                **case.get("noise", {}),
            }
        ),
        talkers=talkers,
        microphones=microphones,
        others=_others(room, catalogue),
        outbound=outbound,
        paths=paths,
        open_microphones=1.0,
        assumptions=tuple(Assumed(**one) for one in case.get("assumptions", [])),
        microphone_noise_dba=case.get("microphone_noise_dba", {m.id: 28.0 for m in microphones}),
        playback=playback_of(case, room, catalogue, talkers),
        echo=echo_of(case),
        levels=levels_of(case),
        delays=delays_of(case, room),
        lift=lift_of(case, room, talkers),
    )


def _catalogue(case: Case) -> Catalogue:
    shipped = Catalogue.shipped()
    changed = {name: _plain(fields) for name, fields in case.get("products", {}).items()}
    for name, ways in case.get("parts", {}).items():
        changed.setdefault(name, {})["fittings"] = tuple(
            Fitting(mounting=way, accessories=tuple(parts), labour=0.0)
            for way, parts in ways.items()
        )
    kinds = ("microphones", "processors", "loudspeakers", "amplifiers", "switches", "extenders")
    for name in changed:
        shipped.product(name)  # a case that changes nothing is a slip
    cables = tuple(_cable(one) for one in case.get("cables", []))
    return replace(
        shipped,
        cables=(*shipped.cables, *cables),
        **{
            kind: tuple(replace(one, **changed.get(one.id, {})) for one in getattr(shipped, kind))
            for kind in kinds
        },
    )


def _plain(fields: Case) -> Case:
    return {key: tuple(v) if isinstance(v, list) else v for key, v in fields.items()}


def _cable(fields: Case) -> Cable:
    usual: Case = {
        "name": "Test cable",
        "carries": ("twisted-pair",),
        "price": 6.0,
        "price_per_metre": 1.0,
        "currency": "EUR",
        "price_date": datetime.date(2026, 9, 1),
        "jackets": ("general",),
        "outer_diameter": 0.006,
        "awg": 24,
        "pairs": 4,
        "max_length": 100.0,
    }
    return Cable(**{**usual, **_plain(fields)})


def _merged(base: Case, over: Case) -> Case:
    result = deepcopy(base)
    for key, value in over.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = _merged(result[key], value) if both else deepcopy(value)
        if value == "absent":
            del result[key]
    return result


def _seven(value: Any) -> Any:
    return tuple(map(float, value)) if isinstance(value, list) else value


def _noise(level_db: float) -> dict[float, float]:
    return {f: level_db for f in (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)}


def _looks(room: Room, seat: Seat) -> tuple[float, ...]:
    return facings_deg(room, seat.at, seat.facing)


def _talkers(room: Room, samples: dict[str, list[list[float]]]) -> tuple[Talker, ...]:
    seats = [
        Talker(name, "seat", f"people.seats.{name}", (*seat.at, seat.height), _looks(room, seat))
        for name, seat in room.people.seats.items()
    ]
    standing = [
        Talker(
            f"{name}.{i}",
            "standing",
            f"people.standing.{name}",
            (at[0], at[1], area.height),
            facings_deg(room, (at[0], at[1]), area.facing),
        )
        for name, area in room.people.standing.items()
        for i, at in enumerate(samples.get(name, [list(area.outline[0])]), start=1)
    ]
    return (*seats, *standing)


def _microphones(
    room: Room, catalogue: Catalogue, mounting: dict[str, str]
) -> tuple[PlacedMicrophone, ...]:
    found = []
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if isinstance(product, Microphone) and device.at is not None:
            how = mounting.get(name, product.mountings[0])
            drop = room.space.height - device.at[2] if how == "ceiling" else None
            aim = device.rotation_deg if device.aim_deg is None else device.aim_deg
            found.append(PlacedMicrophone(name, product, device.at, aim, how, drop, device.locked))
    return tuple(found)


def _others(room: Room, catalogue: Catalogue) -> tuple[PlacedDevice, ...]:
    found = []
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if isinstance(product, Loudspeaker | Processor):
            at: Point | None = device.at
            if at is None and device.equipment:
                at = room.equipment[device.equipment].at
            found.append(PlacedDevice(name, product.kind, product, at, device.equipment))
    return tuple(found)


def _path(talker: Talker, microphone: PlacedMicrophone, case: Case) -> Path:
    figures = case.get("figures", {}).get(talker.id, {})
    parts = case.get("noise_parts_db", {}).get(microphone.id, {"background": 24.0})
    ratio_db = figures.get("direct_to_reverberant_db", SURE["direct_to_reverberant_db"][0])
    signal_db = figures.get("speech_to_noise_db", SURE["speech_to_noise_db"][0])
    flat: Bands = (0.0,) * 7
    return Path(
        talker=talker.id,
        microphone=microphone.id,
        element=0,
        facing_deg=90.0,
        distance=math.dist(talker.at, microphone.at),
        off_axis_deg=figures.get("off_axis_deg", 40.0),
        pattern_db=-1.0,
        talker_pattern_db=flat,
        direct_db=flat,
        early_db=flat,
        late_db=flat,
        reverberant_db=flat,
        screened=False,
        speech_db=flat,
        noise_db=flat,
        noise_parts_db={name: (level,) * 7 for name, level in parts.items()},
        direct_to_reverberant_bands_db=(ratio_db,) * 7,
        c50_db=flat,
        sti=figures.get("sti_outbound", SURE["sti_outbound"][0]),
        direct_to_reverberant_db=ratio_db,
        speech_to_noise_db=signal_db,
        speech_level_dba=55.0,
        noise_level_dba=30.0,
        far_end_speech_db=(60.0,) * 7,
        far_end_noise_db=(60.0 - signal_db,) * 7,
        far_end_gain_db=10.0,
        modulation_transfer_index=flat,
        room_transfer=tuple(
            map(
                tuple,
                transfer_direct_plus_exponential(
                    np.full(7, 10 ** (ratio_db / 10)), reverberation_time=EVEN
                ),
            )
        ),
    )


def _row(talker: Talker, paths: tuple[Path, ...], room: Room, case: Case) -> Outbound:
    mine = [path for path in paths if path.talker == talker.id]
    best = min(mine, key=lambda path: path.distance)
    figures = case.get("figures", {}).get(talker.id, {})
    chances = case.get("chances", {}).get(talker.id, {})
    quantities = []
    for name, (usual, sigma, unit) in SURE.items():
        value, target = figures.get(name, usual), getattr(room.targets, name)
        spread = 1.2816 * sigma
        chance = chances.get(name, float(target is not None and value >= target))
        quantities.append(
            Quantity(name, value, value - spread, value + spread, sigma, unit, target, chance)
        )
    return Outbound(
        talker=talker,
        path=best,
        sti=quantities[0],
        direct_to_reverberant=quantities[1],
        speech_to_noise=quantities[2],
        chance=min(q.chance or 0.0 for q in quantities),
        binds="sti_outbound",
        state="kept",
        rating="good",
        category="C",
    )


def _reverberation(room: Room) -> Reverberation:
    width = max(x for x, _ in room.space.outline)
    depth = max(y for _, y in room.space.outline)
    volume = width * depth * room.space.height
    return Reverberation(
        time=EVEN,
        model="ray tracing",
        low=EVEN,
        high=EVEN,
        smooth=EVEN,
        rough=EVEN,
        scattering=0.3,
        sabine=EVEN,
        eyring=EVEN,
        arau_puchades=EVEN,
        fitzroy=EVEN,
        kuttruff=EVEN,
        unoccupied=EVEN,
        level_time=EVEN,
        volume=volume,
        surface=2 * (width * depth + (width + depth) * room.space.height),
        floor_area=width * depth,
        mean_absorption=(0.25,) * 7,
        air_power_attenuation=(0.0,) * 7,
        schroeder_frequency=80.0,
        mean_free_path=2.5,
        critical_distance=0.8,
        speed_of_sound=343.0,
        surfaces=(),
        objects=(),
        log_sigma=(0.2,) * 7,
        level_log_sigma=(0.2,) * 7,
        measured=False,
        exponent=(1.0,) * 7,
        reproduced=True,
    )
