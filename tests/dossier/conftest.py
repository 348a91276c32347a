"""Rooms for the layout of the dossier: every figure here is invented and predicts nothing."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Finding
from wellheard.dossier import Identity
from wellheard.place.proposal import FewerDevices, PlacedAt, Proof, Proposal, Shortfall
from wellheard.predict.evidence import (
    AbsorbingObjects,
    Assumed,
    Evidence,
    Outbound,
    Path,
    PlacedMicrophone,
    Quantity,
    Reverberation,
    RoomNoise,
    State,
    Surface,
    Talker,
)
from wellheard.predict.tolerances import chance_of
from wellheard.room.document import Room

BAND = (0.0,) * 7
BuildEvidence = Callable[..., Evidence]


def room(**changes: Any) -> Room:
    seats = {
        f"s{i + 1}": {"at": [1.2 + 0.9 * (i % 5), 1.4 if i < 5 else 3.2], "facing": "across"}
        for i in range(10)
    }
    document: dict[str, Any] = {
        "wellheard": 1,
        "title": "Tide Room",
        "project": {
            "number": "2026-031",
            "revision": "B",
            "client": "Saltmarsh Library",
            "site": "Quay House",
            "date": "2026-02-11",
        },
        "units": "m",
        "space": {
            "outline": [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]],
            "walls": ["south", "east", "north", "west"],
            "height": 2.75,
            "ceiling": {"kind": "tiles", "module": 0.6, "origin": [0.2, 0.1]},
        },
        "people": {
            "seats": seats,
            "standing": {
                "presenter": {
                    "outline": [[0.3, 1.2], [1.0, 1.2], [1.0, 3.4], [0.3, 3.4]],
                    "facing": 0,
                    "height": 1.6,
                }
            },
        },
        "basis": {"space.outline": "measured", "space.finishes": "assumed"},
    }
    document.update(changes)
    return Room.model_validate(document)


def quantity(name: str, value: float, sigma: float, target: float | None, unit: str) -> Quantity:
    half = 1.2815515655446004 * sigma
    chance = None if target is None else chance_of(value - target, sigma)
    return Quantity(name, value, value - half, value + half, sigma, unit, target, chance)


def row(
    where: Room, talker: Talker, microphone: str, sti: float, ratio_db: float, noise_db: float
) -> Outbound:
    targets = where.targets
    each = (
        quantity("sti_outbound", sti, 0.018, targets.sti_outbound, ""),
        quantity("direct_to_reverberant_db", ratio_db, 1.3, targets.direct_to_reverberant_db, "dB"),
        quantity("speech_to_noise_db", noise_db, 2.4, targets.speech_to_noise_db, "dB"),
    )
    promised = [q for q in each if q.chance is not None]
    chance = min((q.chance or 0.0 for q in promised), default=1.0)
    binds = min(promised, key=lambda q: q.chance or 0.0).name if promised else ""
    state: State = "kept"
    if any((q.margin or 0.0) < 0 for q in promised):
        state = "broken"
    elif targets.chance is not None and chance < targets.chance:
        state = "at risk"
    path = Path(
        talker=talker.id,
        microphone=microphone,
        element=0,
        facing_deg=90.0,
        distance=1.42,
        off_axis_deg=63.0,
        pattern_db=-1.2,
        talker_pattern_db=BAND,
        direct_db=BAND,
        early_db=BAND,
        late_db=BAND,
        reverberant_db=BAND,
        screened=False,
        speech_db=BAND,
        noise_db=BAND,
        noise_parts_db={"background": BAND},
        direct_to_reverberant_bands_db=BAND,
        c50_db=BAND,
        sti=sti,
        direct_to_reverberant_db=ratio_db,
        speech_to_noise_db=noise_db,
        speech_level_dba=54.6,
        noise_level_dba=33.1,
        far_end_speech_db=BAND,
        far_end_noise_db=BAND,
        far_end_gain_db=10.4,
        modulation_transfer_index=BAND,
        room_transfer=((0.9,) * 14,) * 7,
    )
    return Outbound(talker, path, *each, chance, binds, state, "good", "C")


def reverberation() -> Reverberation:
    time = (0.62, 0.55, 0.48, 0.46, 0.45, 0.42, 0.36)
    return Reverberation(
        time=time,
        model="ray tracing",
        smooth=tuple(1.5 * t for t in time),  # type: ignore[arg-type]
        rough=tuple(0.9 * t for t in time),  # type: ignore[arg-type]
        scattering=0.3,
        level_time=tuple(0.9 * t for t in time),  # type: ignore[arg-type]
        low=tuple(0.78 * t for t in time),  # type: ignore[arg-type]
        high=tuple(1.28 * t for t in time),  # type: ignore[arg-type]
        sabine=tuple(0.93 * t for t in time),  # type: ignore[arg-type]
        eyring=tuple(0.82 * t for t in time),  # type: ignore[arg-type]
        arau_puchades=time,
        fitzroy=tuple(1.7 * t for t in time),  # type: ignore[arg-type]
        kuttruff=tuple(0.86 * t for t in time),  # type: ignore[arg-type]
        unoccupied=tuple(1.2 * t for t in time),  # type: ignore[arg-type]
        volume=80.96,
        surface=119.4,
        floor_area=29.44,
        mean_absorption=(0.16, 0.18, 0.21, 0.22, 0.22, 0.23, 0.25),
        air_power_attenuation=(0.0001, 0.0003, 0.0006, 0.001, 0.0019, 0.0058, 0.0203),
        schroeder_frequency=154.0,
        mean_free_path=2.71,
        critical_distance=0.75,
        speed_of_sound=343.8,
        surfaces=tuple(
            Surface(name, finish, area, absorption, (0.0, 0.0, 1.0), source, extra)
            for name, finish, area, absorption, source, extra in (
                (
                    "floor",
                    "carpet-tile",
                    29.44,
                    (0.02, 0.04, 0.08, 0.2, 0.35, 0.4, 0.4),
                    "published table, first lineage [L]",
                    True,
                ),
                (
                    "ceiling",
                    "ceiling-mineral-tile",
                    29.44,
                    (0.45, 0.6, 0.65, 0.75, 0.8, 0.8, 0.8),
                    "published table, second lineage, quoted by an open library [L]",
                    False,
                ),
                (
                    "walls",
                    "plasterboard",
                    52.1,
                    (0.15, 0.1, 0.06, 0.04, 0.04, 0.05, 0.05),
                    "published table [L]",
                    False,
                ),
                (
                    "window",
                    "double-glazing",
                    4.8,
                    (0.15, 0.05, 0.03, 0.03, 0.02, 0.02, 0.02),
                    "published table [M]",
                    False,
                ),
            )
        ),
        objects=(
            AbsorbingObjects(
                "people seated",
                "person",
                7.0,
                (0.15, 0.25, 0.35, 0.45, 0.5, 0.5, 0.5),
                "published list [L]",
            ),
        ),
        log_sigma=(0.5, 0.25, 0.2, 0.2, 0.2, 0.25, 0.5),
        level_log_sigma=(0.2,) * 7,
        exponent=(1.0,) * 7,
        reproduced=True,
        measured=False,
    )


def evidence_of(
    where: Room,
    *,
    sti: Sequence[float] | None = None,
    ratio_db: float = -4.2,
    noise_db: float = 19.5,
    microphones: int = 2,
) -> Evidence:
    talkers = [
        Talker(name, "seat", f"people.seats.{name}", (*seat.at, 1.2), (90.0,))
        for name, seat in where.people.seats.items()
    ]
    talkers += [
        Talker(
            f"{name}.{i}", "standing", f"people.standing.{name}", (0.6, 1.5 + 0.8 * i, 1.6), (0.0,)
        )
        for name in where.people.standing
        for i in (1, 2, 3)
    ]
    catalogue = Catalogue.shipped()
    product = next(m for m in catalogue.microphones if m.id == "ceiling-head-3")
    placed = tuple(
        PlacedMicrophone(
            f"m{i + 1}", product, (2.3 + 1.8 * i, 2.2, 2.4), 0.0, "ceiling", 0.35, locked=i > 0
        )
        for i in range(microphones)
    )
    values = sti or [0.652 + 0.003 * (i % 7) for i in range(len(talkers))]
    outbound = tuple(
        row(where, talker, f"m{1 + i % microphones}", value, ratio_db, noise_db)
        for i, (talker, value) in enumerate(zip(talkers, values, strict=False))
        if microphones
    )
    return Evidence(
        room=where,
        catalogue=catalogue,
        reverberation=reverberation(),
        noise=RoomNoise(
            {
                63: 54.0,
                125: 45.0,
                250: 39.0,
                500: 34.0,
                1000: 31.0,
                2000: 28.0,
                4000: 27.0,
                8000: 25.0,
            },
            29.0,
            "NC-29",
            250.0,
            37.2,
            "NC 28",
        ),
        talkers=tuple(talkers),
        microphones=placed,
        others=(),
        outbound=outbound,
        paths=tuple(o.path for o in outbound),
        open_microphones=1.03,
        assumptions=(
            Assumed(
                "space.finishes.ceiling",
                "Ceiling finish ceiling-mineral-tile, the usual one",
                -0.9,
                -0.017,
            ),
            Assumed("people.occupancy", "Occupancy 0.7", 0.2, 0.004),
            Assumed("site.region", "Region unknown", None, None),
        ),
        microphone_noise_dba={m.id: 33.0 + i for i, m in enumerate(placed)},
    )


@pytest.fixture
def build() -> BuildEvidence:
    """Evidence of the layout room; keywords of ``room`` under ``room``, else of the ledger."""

    def made(*, room_changes: dict[str, Any] | None = None, **ledger: Any) -> Evidence:
        return evidence_of(room(**(room_changes or {})), **ledger)

    return made


@pytest.fixture
def evidence(build: BuildEvidence) -> Evidence:
    return build()


@pytest.fixture
def at_risk(build: BuildEvidence) -> Evidence:
    """Seat s10 keeps the middle value of the STI, but not surely."""
    values = [0.652 + 0.003 * (i % 7) for i in range(13)]
    values[9] = 0.624
    return build(sti=values)


@pytest.fixture
def identity() -> Identity:
    return Identity(
        document_hash="7f3a91c2",
        tool_version="0.1.0",
        date="2026-02-11",
        revision="B",
        project="2026-031",
    )


@pytest.fixture
def proposal(evidence: Evidence) -> Proposal:
    return Proposal(
        devices=tuple(
            PlacedAt(m.id, m.product.id, m.at, m.aim_deg, m.mounting, m.drop, m.locked, 590.0)
            for m in evidence.microphones
        ),
        count=2,
        price=1180.0,
        currency="EUR",
        worst={"sti_outbound": 0.65, "direct_to_reverberant_db": -4.2},
        mean={"sti_outbound": 0.66, "direct_to_reverberant_db": -4.2},
        proof=Proof(
            status="optimal",
            scope="one product you allowed, 1204 places on the grid of ceiling tiles, every house "
            "rule, this model of the room",
            fewer_is_impossible=True,
            certificate=None,
            gap=0.0,
            binding=("direct_to_reverberant_db",),
            fewer=FewerDevices(
                1, ("s1", "s5", "s6", "s10"), "direct_to_reverberant_db", 0.63, -7.4, 17.8, 0.14
            ),
        ),
        shortfalls=(),
        would_have_to_give=(),
        candidates=1204,
        rejected={"microphone-near-outlet": 140, "microphone-near-wall": 322},
        seconds=1.2,
    )


@pytest.fixture
def impossible(proposal: Proposal) -> Proposal:
    return dataclasses.replace(
        proposal,
        proof=dataclasses.replace(
            proposal.proof,
            status="infeasible",
            fewer_is_impossible=False,
            fewer=None,
            binding=("speech_to_noise_db",),
        ),
        shortfalls=(
            Shortfall(
                "s10",
                "speech_to_noise_db",
                11.2,
                15.0,
                "dB",
                0.06,
                (5.1, 1.2, 2.4),
                "ceiling-head-3",
            ),
            Shortfall(
                "presenter.2",
                "speech_to_noise_db",
                13.9,
                15.0,
                "dB",
                0.32,
                (1.1, 2.2, 2.4),
                "ceiling-head-3",
            ),
        ),
        would_have_to_give=(
            "Bring the background from NC 38 to NC 33, or promise a speech-to-noise ratio of 11 dB",
            "Allow table microphones",
        ),
    )


@pytest.fixture
def findings() -> tuple[Finding, ...]:
    return (
        Finding(
            "region-unknown",
            "note",
            "not-assessed",
            "law",
            "site.region",
            "The region is unknown: cable jackets, mains and bracing are not assessed",
            None,
            None,
            "",
            "Say where the site is",
            "",
        ),
        Finding(
            "microphone-near-air-outlet",
            "warning",
            "fail",
            "house",
            "devices.m2",
            "m2 hangs 0.9 m from the air outlet; the house rule asks for 1.0 m",
            0.9,
            1.0,
            "m",
            "Shift it one tile north, or relax the rule and say why",
            "common practice, no source [C]",
        ),
        Finding(
            "target-missed-sti",
            "error",
            "fail",
            "product",
            "people.seats.s10",
            "s10 reaches STI 0.62 with a chance of 58 %; 80 % is wanted",
            0.58,
            0.8,
            "",
            "Move the chair 0.4 m west",
            "IEC 60268-16:2020 [L]",
        ),
    )


def drawing(width: float, height: float, words: str) -> str:
    """A stand-in for a drawing, with style variables as the real ones have."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}"><style>:root{{--ink:#16202a}}'
        "text{font-family:Barlow;fill:var(--ink)}path{stroke:var(--ink);fill:none}</style>"
        f'<path d="M10 10H{width - 10:g}V{height - 10:g}H10Z"/>'
        f'<text x="20" y="30" font-size="8">{words}</text></svg>'
    )


@pytest.fixture
def plan_sheets() -> tuple[str, ...]:
    return (drawing(420, 297, "Ceiling plan"),)


@pytest.fixture
def small_plan() -> str:
    return drawing(112, 87, "Small plan")
