"""Does that product drop in for this one: each aspect by itself, at the places there are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.catalog.products import AnyProduct, Loudspeaker, Microphone
from wellheard.checks.model import Finding, Severity
from wellheard.errors import InputError
from wellheard.predict.evidence import Evidence
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.workflow import aspects
from wellheard.workflow.abilities import abilities
from wellheard.workflow.aspects import Answer, Aspect
from wellheard.workflow.design import Judged, judge
from wellheard.workflow.load import Loaded

_WORST: tuple[Answer, ...] = ("yes", "not assessed", "with changes", "no")

_WEIGHT: dict[Severity, Answer] = {
    "error": "no",
    "warning": "with changes",
    "note": "not assessed",
}
"""What a finding that only the new device brings makes of the answer."""


LESS_SURE = 0.01
"""A chance may fall by this much unsaid: what is printed does not change."""


@dataclass(frozen=True)
class Pickup:
    """Talking points that keep the promise, and the worst of them, with one product."""

    kept: int
    of: int
    worst: str
    worst_sti: float | None
    worst_chance: float | None


@dataclass(frozen=True)
class Replacement:
    """Whether one product drops in for another in a room.

    Parameters
    ----------
    devices : tuple of str
        Devices of the document that would be replaced.
    old, new : str
        Product ids.
    answer : {"yes", "with changes", "no"}
        The worst of the aspects; what is not assessed is never a yes.
    aspects : tuple of Aspect
    before, after : Pickup
        Of the whole room at the existing positions.
    new_findings : tuple of str
        Errors and warnings that only the new devices bring, as code and message.
    price : float
        Of the new devices, list price without accessories and labour.
    currency : str
    """

    devices: tuple[str, ...]
    old: str
    new: str
    answer: Answer
    aspects: tuple[Aspect, ...]
    before: Pickup
    after: Pickup
    new_findings: tuple[tuple[str, str], ...]
    price: float
    currency: str


def replacement(loaded: Loaded, old: str, new: str) -> Replacement:
    """Compare one product with another in the places that a document gives it.

    Parameters
    ----------
    loaded : Loaded
        The room with its devices.
    old : str
        A device of the document, or a product: all devices of it.
    new : str
        A product of the catalogue, of the same kind.

    Raises
    ------
    InputError
        No device of the document is meant, or the new product is of another kind.
    CatalogError
        There is no such product.
    """
    room, catalogue = loaded.room, loaded.catalogue
    devices = _meant(loaded, old)
    before = catalogue.product(room.devices[devices[0]].product)
    after = catalogue.product(new)
    if type(before) is not type(after):
        raise InputError(
            f"{new} is a {after.kind}, {before.id} a {before.kind}: name a {before.kind} (see "
            "wellheard catalog list)"
        )
    changed = room.model_copy(
        update={
            "devices": {
                name: _replaced(room, device, before, after) if name in devices else device
                for name, device in room.devices.items()
            }
        }
    )
    was, now = (judge(one, catalogue, assumptions=False) for one in (room, changed))
    compared = [
        *aspects.mounting(loaded, devices, before, after),
        *aspects.connection(loaded, devices, before, after),
        *aspects.power(before, after),
        *aspects.firmware(before, after),
        *aspects.availability(before, after),
    ]
    if isinstance(before, Microphone):
        compared.append(_pickup(was.evidence, now.evidence))
    compared += abilities(before, after, unit=room.units)
    compared += _rules(was, now)
    return Replacement(
        devices=devices,
        old=before.id,
        new=after.id,
        answer=max((a.answer for a in compared), key=_WORST.index),
        aspects=tuple(compared),
        before=_heard(was.evidence),
        after=_heard(now.evidence),
        new_findings=tuple(
            (f.code, f.message) for f in _only_new(was, now) if f.severity != "note"
        ),
        price=after.price * len(devices),
        currency=after.currency,
    )


def _meant(loaded: Loaded, old: str) -> tuple[str, ...]:
    devices = loaded.room.devices
    if old in devices:
        return (old,)
    found = tuple(name for name, device in devices.items() if device.product == old)
    if not found:
        there = ", ".join(f"{n} ({d.product})" for n, d in devices.items()) or "none"
        raise InputError(
            f"{loaded.document.name}: no device {old!r}, and none of a product of that id; the "
            f"devices are: {there}"
        )
    return found


def _replaced(room: Room, device: Device, before: AnyProduct, after: AnyProduct) -> Device:
    """The device with the new product, hung by the nearest drop that the product has."""
    change: dict[str, object] = {"product": after.id}
    now = None if device.at is None else aspects.hung(room, before, device.at)
    if (
        now is not None
        and device.at is not None
        and isinstance(after, Microphone | Loudspeaker)
        and after.drops
    ):
        drop = aspects.nearest_drop(after, now)
        change["at"] = (device.at[0], device.at[1], room.space.height - drop)
    return device.model_copy(update=change)


def _pickup(was: Evidence, now: Evidence) -> Aspect:
    before, after = _heard(was), _heard(now)

    def said(heard: Pickup) -> str:
        return f"{heard.kept} of {heard.of} kept"

    if not after.of:
        return Aspect("pickup", "not assessed", said(before), "–", "no microphone has a place")
    lost = [
        o.talker.id
        for o in now.outbound
        if o.state != "kept"
        and any(b.talker.id == o.talker.id and b.state == "kept" for b in was.outbound)
    ]
    if lost:
        why = f"no longer kept: {', '.join(lost)}"
        return Aspect("pickup", "no", said(before), said(after), why)
    answer: Answer = "yes"
    why = ""
    least, now_least = before.worst_chance or 0.0, after.worst_chance or 0.0
    if not after.kept:
        answer, why = "with changes", "no seat keeps the promise, neither before nor after"
    elif now_least < least - LESS_SURE:
        answer, why = "with changes", "every seat kept stays kept, but the worst is less sure"
    return Aspect("pickup", answer, said(before), said(after), why)


def _heard(evidence: Evidence) -> Pickup:
    worst = evidence.worst()
    return Pickup(
        kept=sum(o.state == "kept" for o in evidence.outbound),
        of=len(evidence.outbound),
        worst="" if worst is None else worst.talker.id,
        worst_sti=None if worst is None else worst.sti.value,
        worst_chance=None if worst is None else worst.chance,
    )


def _only_new(was: Judged, now: Judged) -> tuple[Finding, ...]:
    """Errors, warnings and what is not assessed that were not there before."""
    before = {(f.code, f.at) for f in was.findings}
    return tuple(
        f
        for f in now.findings
        if (f.severity != "note" or f.status == "not-assessed") and (f.code, f.at) not in before
    )


def _rules(was: Judged, now: Judged) -> Iterator[Aspect]:
    """What the checks of the room find with the new devices only, if anything."""
    found = _only_new(was, now)
    if not found:
        return
    answer: Answer = max((_WEIGHT[f.severity] for f in found), key=_WORST.index)
    codes = dict.fromkeys(f.code for f in found if _WEIGHT[f.severity] == answer)
    yield Aspect("checks", answer, "–", ", ".join(codes), "found with the new one only")
