"""The devices of an offer one by one: microphones, loudspeakers, and the amplifiers behind them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from wellheard.dossier.words import NBSP, NOT_ASSESSED
from wellheard.place.devices import why_no_loudspeakers
from wellheard.predict.evidence import Evidence
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.units import Unit, format_length
from wellheard.workflow import prices
from wellheard.workflow.design import Designed, Judged
from wellheard.workflow.difference import changes
from wellheard.workflow.load import Loaded

What: TypeAlias = Literal["new", "moved", "changed", "removed", "stays", "locked"]

HEARING: Final = ("microphone", "combined")
SOUNDING: Final = ("loudspeaker", "amplifier")


@dataclass(frozen=True)
class OfferedDevice:
    """One device, before and after.

    Attributes
    ----------
    id, kind : str
        Kind as the document has it.
    what : {"new", "moved", "changed", "removed", "stays", "locked"}
        What the offer does with it; the first four can be taken one by one.
    product : str
        After it; of a removed one before.
    words : str
        What changes, as a sentence without its full stop.
    mounting, east, north, height, price : str
        As they are read; of a removed one before.
    """

    id: str
    kind: str
    what: What
    product: str
    words: str
    mounting: str
    east: str
    north: str
    height: str
    price: str

    @property
    def is_housed(self) -> bool:
        """Whether it has no place of its own: it stands where it is housed."""
        return self.height == NOT_ASSESSED

    @property
    def can_be_taken(self) -> bool:
        """Whether there is anything to accept."""
        return self.what not in ("stays", "locked")


def priced_kinds(base: Loaded) -> tuple[str, ...]:
    """Kinds of the devices that placement decides on in a document."""
    if why_no_loudspeakers(base.room, base.catalogue) is None:
        return (*HEARING, *SOUNDING)
    return HEARING


def offered_devices(
    base: Loaded, was: Judged, designed: Designed, unit: Unit
) -> Iterator[OfferedDevice]:
    """Every device of the kinds that hear and sound: microphones, loudspeakers, amplifiers.

    Parameters
    ----------
    base : Loaded
        The document as it stands.
    was : Judged
        The document with what was asked, its devices as they are.
    designed : Designed
        The same with its devices placed.
    unit : {"m", "ft"}
        Of lengths that are read.
    """
    old, new = base.room, designed.placed.room
    proposal = designed.placed.proposal
    priced: dict[str, float | None] = {one.id: one.price for one in proposal.devices}
    priced |= {one.id: one.price for one in proposal.amplifiers}
    said: dict[str, list[str]] = {}
    for change in changes(old, new, base.catalogue):
        steps = change.path.split(".")
        if steps[0] == "devices":
            said.setdefault(steps[1], []).append(change.text)
    for kind in (*HEARING, *SOUNDING):
        for name, device in _of_kind(kind, new, old):
            evidence = designed.judged.evidence if name in new.devices else was.evidence
            amount = priced.get(name)
            if name not in new.devices:
                price = prices.total(_only(old, name), base.catalogue).words
            else:
                price = (
                    NOT_ASSESSED
                    if amount is None
                    else prices.Total(amount, proposal.currency).words
                )
            yield OfferedDevice(
                id=name,
                kind=kind,
                what=_what(old.devices.get(name), new.devices.get(name)),
                product=device.product,
                words="; ".join(said.get(name, ())),
                mounting=_mounting(evidence, name, device),
                price=price,
                **_where(device, unit),
            )


def _of_kind(kind: str, new: Room, old: Room) -> Iterator[tuple[str, Device]]:
    """Devices of a kind that are there after it, then those that go."""
    for name, device in new.devices.items():
        if device.kind == kind:
            yield name, device
    for name, device in old.devices.items():
        if device.kind == kind and name not in new.devices:
            yield name, device


def _only(room: Room, device: str) -> Room:
    return room.model_copy(update={"devices": {device: room.devices[device]}})


def _what(old: Device | None, new: Device | None) -> What:
    if old is None:
        return "new"
    if new is None:
        return "removed"
    if old == new:
        return "locked" if old.locked else "stays"
    return "moved" if old.product == new.product else "changed"


def _mounting(evidence: Evidence, name: str, device: Device) -> str:
    """How it is mounted, or what it is housed in."""
    if device.at is None:
        return f"in {device.equipment}" if device.equipment else NOT_ASSESSED
    playing = () if evidence.playback is None else evidence.playback.loudspeakers
    known = {one.device: one.mounting for one in playing}
    known |= {one.id: one.mounting for one in evidence.microphones}
    return known.get(name, NOT_ASSESSED)


def _where(device: Device, unit: Unit) -> dict[str, str]:
    if device.at is None:
        return dict.fromkeys(("east", "north", "height"), NOT_ASSESSED)
    words = [format_length(value, unit=unit).replace(" ", NBSP) for value in device.at]
    return dict(zip(("east", "north", "height"), words, strict=True))
