"""A room that divides: a scene for each space of each arrangement, and the ledger over all.

One set of devices must serve every arrangement. Each space mixes the microphones that hang in it;
those beyond a closed partition belong to another mix.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import ledger, sensitivity
from wellheard.predict.arranged_back import worst_way_back
from wellheard.predict.devices import other_devices, placed_microphones
from wellheard.predict.evidence import Assumed, Evidence, Outbound, Path, Talker
from wellheard.predict.scene import Scene, build
from wellheard.predict.talkers import talkers
from wellheard.room.assumptions import assumed
from wellheard.room.divide import Part, parts
from wellheard.room.document import Room


@dataclass(frozen=True)
class PartScene:
    """One space of one arrangement, made ready for sound."""

    part: Part
    scene: Scene


@dataclass(frozen=True)
class PartEvidence:
    """What was predicted for one space of one arrangement."""

    part: Part
    evidence: Evidence


def build_parts(room: Room, catalogue: Catalogue) -> tuple[PartScene, ...]:
    """Scene of every part of a room, in the order of `wellheard.room.divide.parts`.

    A room without arrangements is its only part.

    Raises
    ------
    CatalogError
        A finish or product of the document is not in the catalogue.
    """
    whole = aimed(room, catalogue, talkers(room)) if room.arrangements else room
    return tuple(PartScene(part, build(part.room, catalogue)) for part in parts(whole))


def aimed(room: Room, catalogue: Catalogue, people: tuple[Talker, ...]) -> Room:
    """The room with every microphone's usual aim written down: no partition turns a device."""
    placed = placed_microphones(room, catalogue, people)
    devices = dict(room.devices)
    for one in placed:
        if one.mounting != "ceiling" and devices[one.id].aim_deg is None:
            devices[one.id] = devices[one.id].model_copy(update={"aim_deg": one.aim_deg})
    return room.model_copy(update={"devices": devices})


def evidence_of_parts(
    scenes: Sequence[PartScene], *, assumptions: bool = True
) -> tuple[PartEvidence, ...]:
    """Evidence of every part; what the assumptions do is told of the part that leads."""
    plain = [PartEvidence(s.part, ledger.evidence(s.scene, assumptions=False)) for s in scenes]
    if not assumptions:
        return tuple(plain)
    first = leading(plain)
    return tuple(
        replace(
            one,
            evidence=replace(
                one.evidence, assumptions=sensitivity.assumed_inputs(scene.scene, one.evidence)
            ),
        )
        if one is first
        else one
        for one, scene in zip(plain, scenes, strict=True)
    )


def plain_evidence(room: Room, catalogue: Catalogue) -> Evidence:
    """Every talking point, in a room that divides as in its worst arrangement.

    What the assumptions do to it is left out: that takes several predictions more.

    Raises
    ------
    CatalogError
        A finish or product of the room is not in the catalogue.
    """
    found = [
        PartEvidence(one.part, ledger.evidence(one.scene, assumptions=False))
        for one in build_parts(room, catalogue)
    ]
    return over_all(room, catalogue, found) if room.arrangements else found[0].evidence


def leading(found: Sequence[PartEvidence]) -> PartEvidence:
    """The part whose worst talking point is the worst of all; of equals the first."""
    heard = [one for one in found if one.evidence.outbound]
    return min(heard, key=lambda one: min(map(badness, one.evidence.outbound)), default=found[0])


def badness(row: Outbound) -> tuple[float, float]:
    """What orders the rows of one talking point in several arrangements: the least is the worst."""
    return (round(row.chance, 9), round(row.sti.value, 9))


def over_all(room: Room, catalogue: Catalogue, found: Sequence[PartEvidence]) -> Evidence:
    """Evidence of the whole: each talking point as it is in its worst arrangement.

    A talking point of a space where no microphone is has no row. The points of a standing area
    that a partition crosses are counted in each space for themselves; those of one name are one
    row. Reverberation, noise, open microphones and assumptions are those of the part that leads,
    see `leading`; what is assumed of partitions is added.
    """
    first = leading(found).evidence
    deaf = {t.id for one in found if not one.evidence.outbound for t in one.evidence.talkers}
    people = _in_order(room, [t for one in found for t in one.evidence.talkers])
    rows: dict[str, tuple[Outbound, tuple[Path, ...]]] = {}
    for one in found:
        for row in one.evidence.outbound:
            name = row.talker.id
            if name not in deaf and (name not in rows or badness(row) < badness(rows[name][0])):
                paths = tuple(p for p in one.evidence.paths if p.talker == name)
                rows[name] = replace(row, arrangement=one.part.name), paths
    ordered = [rows[name] for name in people if name in rows]
    loudest: dict[str, float] = {}
    for one in found:
        for name, level in one.evidence.microphone_noise_dba.items():
            loudest[name] = max(level, loudest.get(name, level))
    back = worst_way_back({one.part.name: one.evidence for one in found})
    return replace(
        first,
        room=room,
        talkers=tuple(rows[n][0].talker if n in rows else t for n, t in people.items()),
        microphones=placed_microphones(room, catalogue, talkers(room)),
        others=other_devices(room, catalogue),
        outbound=tuple(row for row, _ in ordered),
        paths=tuple(path for _, paths in ordered for path in paths),
        assumptions=(*first.assumptions, *_of_partitions(room)),
        microphone_noise_dba=loudest,
        playback=back.playback,
        echo=back.echo,
        lift=back.lift,
        levels=back.levels,
        delays=back.delays,
    )


def _of_partitions(room: Room) -> tuple[Assumed, ...]:
    """What is assumed of the partitions themselves; how far that moves a seat is not reckoned."""
    return tuple(
        Assumed(a.path, a.sentence, None, None)
        for a in assumed(room)
        if a.path.startswith("partitions.")
    )


def _in_order(room: Room, found: Sequence[Talker]) -> dict[str, Talker]:
    """Talkers by id, each once: seats, then standing areas, in the document's order."""
    owners = [f"people.seats.{k}" for k in room.people.seats]
    owners += [f"people.standing.{k}" for k in room.people.standing]
    first: dict[str, Talker] = {}
    for talker in found:
        first.setdefault(talker.id, talker)

    def place(talker: Talker) -> tuple[int, int]:
        number = talker.id.rpartition(".")[2] if talker.kind == "standing" else "0"
        return owners.index(talker.owner), int(number)

    return {t.id: t for t in sorted(first.values(), key=place)}
