"""The words round a plan sheet: title block, where figures come from, revisions."""

from __future__ import annotations

from wellheard.drawings import view
from wellheard.predict.evidence import Evidence
from wellheard.predict.tolerances import basis_of
from wellheard.room.document import Room

DISPLAY_BASIS = {
    "space.outline": "room outline",
    "space.height": "ceiling height",
    "space.ceiling": "tile grid",
    "space.finishes": "finishes of floor, walls and ceiling",
    "space.measured_reverberation": "reverberation times",
    "furniture": "tables and displays",
    "people.seats": "seats",
    "people.occupancy": "occupancy",
    "noise.background": "background noise",
    "noise.sources": "located noise sources",
    "overhead": "luminaires and other overhead parts",
    "equipment": "equipment places",
}


def title_block(
    room: Room,
    sheet: str,
    of: str,
    document_hash: str,
    state: str,
    evidence: Evidence,
    arrangement: str,
) -> view.TitleBlock:
    """Who and what a sheet is for, and which of the document's it is."""
    project = room.project
    shown = "Ceiling plan over speech map" if evidence.microphones else "Room plan"
    return view.TitleBlock(
        client=project.client,
        site=project.site,
        title=room.title or "Untitled room",
        subtitle=_subtitle(room),
        sheet=sheet,
        heading=f"{shown}, {arrangement}" if arrangement else shown,
        of=of,
        revision=project.revision,
        project=project.number,
        document_hash=document_hash,
        state=state,
    )


def _subtitle(room: Room) -> str:
    seats = len(room.people.seats)
    said = f"{seats} seat{'' if seats == 1 else 's'}"
    if room.people.standing:
        said += (
            " and a standing talker" if len(room.people.standing) == 1 else " and standing talkers"
        )
    heard = any(device.kind == "loudspeaker" for device in room.devices.values())
    return f"{said} · {'speech both ways' if heard else 'outbound speech'}"


def basis_rows(room: Room) -> tuple[view.BasisRow, ...]:
    """Which figures of a sheet were measured, drawn, told or assumed."""
    grouped: dict[str, list[str]] = {}
    for path, words in DISPLAY_BASIS.items():
        if path == "space.measured_reverberation" and room.space.measured_reverberation is None:
            continue
        if path == "space.ceiling" and room.space.ceiling.kind != "tiles":
            continue
        grouped.setdefault(basis_of(room, path), []).append(words)
    return tuple(
        view.BasisRow(kind, ", ".join(grouped[kind]))
        for kind in ("measured", "drawing", "told", "assumed")
        if kind in grouped
    )


def revisions(room: Room) -> tuple[view.Revision, ...]:
    """The revision that the document states."""
    project = room.project
    return (
        view.Revision(
            revision=project.revision,
            date=str(project.date) if project.date else "",
            change="as designed",
            author=project.author,
        ),
    )
