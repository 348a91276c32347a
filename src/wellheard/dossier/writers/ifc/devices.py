"""Devices of a document as appliances, each with the type of its product."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.cad import DEVICE_PROPERTIES
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import AnyProduct, Loudspeaker, Microphone
from wellheard.dossier.writers.ifc.model import Entity, Model
from wellheard.predict.devices import placed_microphones
from wellheard.predict.evidence import PlacedMicrophone, Talker
from wellheard.predict.loudspeakers import placed_loudspeakers
from wellheard.predict.wayback import PlacedLoudspeaker
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.signal.mounted import as_mounted

UPRIGHT = 0.05
"""An axis with less than this of it level faces up or down, whichever way it is turned."""

SPEAKER_MOUNTING = {
    "ceiling": "CEILING",
    "wall": "WALL",
    "front": "WALL",
    "stand": "FREESTANDING",
    "table": "FREESTANDING",
    "lectern": "FREESTANDING",
}
"""Ways of mounting in the words of the published list; any other is OTHER."""


@dataclass(frozen=True)
class Classed:
    """What the standard calls a thing: its class, its predefined type, and our word if it has none.

    ``word`` is set where the predefined type is USERDEFINED, and only there.
    """

    name: str
    predefined: str
    word: str | None = None


MICROPHONE = Classed("IfcAudioVisualAppliance", "MICROPHONE")
LOUDSPEAKER = Classed("IfcAudioVisualAppliance", "SPEAKER")
COMBINED = Classed("IfcAudioVisualAppliance", "USERDEFINED", "MICROPHONE AND SPEAKER")
ELECTRONICS = {
    "processor": Classed("IfcAudioVisualAppliance", "USERDEFINED", "AUDIO PROCESSOR"),
    "amplifier": Classed("IfcAudioVisualAppliance", "AMPLIFIER"),
    "switch": Classed("IfcCommunicationsAppliance", "NETWORKHUB"),
    "extender": Classed("IfcCommunicationsAppliance", "USERDEFINED", "SIGNAL EXTENDER"),
}
"""By kind of product."""


def put_devices(
    model: Model,
    room: Room,
    catalogue: Catalogue,
    people: tuple[Talker, ...],
    *,
    within: Entity,
) -> list[Entity]:
    """Put every device that has a place into a model, in the document's order."""
    heard = {one.id: one for one in placed_microphones(room, catalogue, people)}
    sounding: dict[str, list[PlacedLoudspeaker]] = {}
    for one in placed_loudspeakers(room, catalogue, people):
        sounding.setdefault(one.device, []).append(one)
    put: list[Entity] = []
    of_product: dict[tuple[str, Classed], list[Entity]] = {}
    for key, device in room.devices.items():
        product = catalogue.product(device.product)
        kind = _class_of(device, product)
        appliance = _put(model, room, key, device, product, within, heard.get(key), sounding)
        if appliance is not None:
            put.append(appliance)
            of_product.setdefault((product.id, kind), []).append(appliance)
    for (product_id, kind), made in of_product.items():
        _put_type(model, catalogue.product(product_id), kind, made)
    return put


def _class_of(device: Device, product: AnyProduct) -> Classed:
    if isinstance(product, Microphone):
        return COMBINED if device.kind == "combined" or product.built_in else MICROPHONE
    return LOUDSPEAKER if isinstance(product, Loudspeaker) else ELECTRONICS[product.kind]


def _put(
    model: Model,
    room: Room,
    key: str,
    device: Device,
    product: AnyProduct,
    within: Entity,
    heard: PlacedMicrophone | None,
    sounding: dict[str, list[PlacedLoudspeaker]],
) -> Entity | None:
    housing = room.equipment.get(device.equipment or "")
    at = device.at or (housing.at if housing else None)
    if at is None:
        return None
    places = sounding.get(key, [])
    turned = heard.aim_deg if heard else _turned(device, places)
    kind = _class_of(device, product)
    made = model.rooted(
        kind.name,
        f"devices/{key}",
        Name=key,
        Description=f"{product.name}, in {device.equipment}" if device.at is None else product.name,
        ObjectType=kind.word,
        ObjectPlacement=model.placed(at, turned, within=within),
        Representation=None
        if device.at is None
        else model.shape(*_bodies(model, product, at, turned, places)),
        Tag=product.id,
        PredefinedType=kind.predefined,
    )
    mounted = as_mounted(room, product, device)
    model.say(
        made,
        f"devices/{key}",
        DEVICE_PROPERTIES,
        {
            "Id": model.measure("IfcIdentifier", key),
            "Product": model.measure("IfcIdentifier", product.id),
            "Kind": model.measure("IfcLabel", device.kind),
            "Mounting": model.measure("IfcLabel", mounted.mounting),
            "Drop": model.measure("IfcLengthMeasure", mounted.drop),
            "AimDeg": model.measure("IfcReal", device.aim_deg),
            "RotationDeg": model.measure("IfcReal", device.rotation_deg),
            "Equipment": model.measure("IfcIdentifier", device.equipment),
        },
    )
    _standard_properties(model, key, made, kind, device, mounted.mounting)
    if kind.name == "IfcAudioVisualAppliance":
        model.count(
            made,
            f"devices/{key}",
            "Qto_AudioVisualApplianceBaseQuantities",
            [model.quantity("Weight", "GrossWeight", product.weight_kg)],
        )
    return made


def _turned(device: Device, places: list[PlacedLoudspeaker]) -> float:
    """Azimuth of what is no microphone: where its axis is level that way, else as it is turned."""
    if len(places) == 1:
        x, y, _ = places[0].axis
        if math.hypot(x, y) > UPRIGHT:
            return math.degrees(math.atan2(y, x))
    return device.rotation_deg if device.aim_deg is None else device.aim_deg


def _bodies(
    model: Model,
    product: AnyProduct,
    at: tuple[float, float, float],
    turned: float,
    places: list[PlacedLoudspeaker],
) -> Iterator[Entity]:
    """Housing about the acoustic centre, its depth along where it faces; of a pair two."""
    wide, deep, high = product.size
    stem = product.stem if isinstance(product, Microphone) else 0.0
    below = max(stem, high / 2)
    size = (deep, wide, below + high / 2)
    if len(places) < 2:
        if wide == deep and not stem:
            yield model.cylinder(wide, high, low=-high / 2)
        else:
            yield model.box(size, low=-below)
        return
    turn = math.radians(turned)
    for one in places:
        x, y = one.at[0] - at[0], one.at[1] - at[1]
        middle = (
            x * math.cos(turn) + y * math.sin(turn),
            y * math.cos(turn) - x * math.sin(turn),
        )
        facing = math.degrees(math.atan2(one.axis[1], one.axis[0]))
        yield model.box(size, low=-below, middle=middle, turned_deg=facing - turned)


def _standard_properties(
    model: Model, key: str, made: Entity, kind: Classed, device: Device, mounting: str
) -> None:
    """Properties that the standard publishes for such an appliance."""
    if kind.name != "IfcAudioVisualAppliance":
        return
    status = "EXISTING" if device.owned or device.installed else "NEW"
    model.say(
        made,
        f"devices/{key}",
        "Pset_AudioVisualApplianceTypeCommon",
        {"Status": model.one_of("Status", status)},
    )
    if kind == LOUDSPEAKER:
        word = SPEAKER_MOUNTING.get(mounting, "OTHER")
        model.say(
            made,
            f"devices/{key}",
            "Pset_AudioVisualApplianceTypeSpeaker",
            {"SpeakerMounting": model.one_of("SpeakerMounting", word)},
        )


def _put_type(model: Model, product: AnyProduct, kind: Classed, made: list[Entity]) -> None:
    """Put the type of a product into a model, and say which appliances are of it."""
    key = f"products/{product.id}/{kind.predefined}"
    told = model.rooted(
        "IfcPropertySet",
        f"{key}/maker",
        Name="Pset_ManufacturerTypeInformation",
        HasProperties=[
            model.add("IfcPropertySingleValue", Name=title, NominalValue=model.measure(of, value))
            for title, of, value in (
                ("ArticleNumber", "IfcIdentifier", product.id),
                ("ModelReference", "IfcLabel", product.id),
                ("ModelLabel", "IfcLabel", product.name),
            )
        ],
    )
    of = model.rooted(
        f"{kind.name}Type",
        key,
        Name=product.name,
        HasPropertySets=[told],
        Tag=product.id,
        ElementType=kind.word,
        PredefinedType=kind.predefined,
    )
    model.rooted("IfcRelDefinesByType", f"{key}/of", RelatedObjects=made, RelatingType=of)
