"""What a product of a building model is for us: by its class, its predefined type, its words."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.cad import Role
from wellheard.importers.found import Asked
from wellheard.importers.ifc.asking import Entity, is_any, predefined, type_of, words_of
from wellheard.importers.names import plain, role_by_name
from wellheard.importers.picks import Picked, Picks

BY_TYPE: dict[tuple[str, str], tuple[Role, str]] = {
    ("IfcAudioVisualAppliance", "MICROPHONE"): ("microphone", ""),
    ("IfcAudioVisualAppliance", "SPEAKER"): ("loudspeaker", ""),
    ("IfcAudioVisualAppliance", "DISPLAY"): ("display", ""),
    ("IfcAudioVisualAppliance", "PROJECTOR"): ("projector", ""),
    ("IfcAudioVisualAppliance", "CAMERA"): ("equipment", "camera"),
    ("IfcFurnishingElement", "CHAIR"): ("seat", ""),
    ("IfcFurnishingElement", "TABLE"): ("table", ""),
    ("IfcFurnishingElement", "DESK"): ("table", ""),
    ("IfcFurnishingElement", "SOFA"): ("soft-seating", ""),
    ("IfcFurnishingElement", "SHELF"): ("soft-seating", "cupboard"),
    ("IfcFurnishingElement", "FILECABINET"): ("soft-seating", "cupboard"),
    ("IfcFireSuppressionTerminal", "SPRINKLER"): ("sprinkler", ""),
    ("IfcCommunicationsAppliance", "COMPUTER"): ("equipment", "computer"),
    ("IfcOutlet", "AUDIOVISUALOUTLET"): ("equipment", "wall-plate"),
    ("IfcOutlet", "COMMUNICATIONSOUTLET"): ("equipment", "wall-plate"),
    ("IfcOutlet", "DATAOUTLET"): ("equipment", "wall-plate"),
}
"""Role and kind by class and predefined type (ISO 16739:2018)."""

BY_CLASS: dict[str, tuple[Role, str]] = {
    "IfcColumn": ("column", ""),
    "IfcBeam": ("keep-out", "beam"),
    "IfcLightFixture": ("luminaire", ""),
    "IfcAirTerminal": ("air-outlet", ""),
    "IfcDuctSegment": ("keep-out", "duct"),
    "IfcDuctFitting": ("keep-out", "duct"),
}
"""Role and kind of classes that are nothing else."""

BY_WORDS = (
    "IfcFurnishingElement",
    "IfcFlowTerminal",
    "IfcDistributionControlElement",
    "IfcBuildingElementProxy",
    "IfcDiscreteAccessory",
)
"""Classes that tell little: the words of their products have to."""

DETECTORS = frozenset({"SMOKESENSOR", "FIRESENSOR", "HEATSENSOR", "MOVEMENTSENSOR", "COSENSOR"})
RETURNS = ("RETURN", "EXTRACT", "EXHAUST")
"""Words for air that goes out of a room, beside those of the rules for names."""
CUPBOARDS = ("CABINET", "CUPBOARD", "SIDEBOARD", "CREDENZA", "BOOKCASE", "BOOKSHEL", "SHELV",
             "WARDROBE", "LOCKER", "SCHRANK", "REGAL", "KOMMODE", "ARMOIRE", "ETAGERE", "ARMARIO",
             "ESTANTE", "ARMADIO", "SCAFFAL", "KAAPPI", "SZAFA")  # fmt: skip
"""Words for closed pieces of furniture."""
NEITHER = ("BED", "SANG", "BETT", "TOILET", "SINK", "VANITY", "BASIN", "BATH", "COUNTER",
           "KITCHEN", "KUCHE", "TREPP", "STAIR", "LAVABO", "EVIER")  # fmt: skip
"""Words for furniture that is neither chair nor table, though it may be of that size."""
CHAIR_M, CHAIR_HIGH_M = (0.35, 0.95), (0.6, 1.35)
TABLE_HIGH_M, TABLE_LEAST_M = (0.6, 1.15), 0.5
"""Sizes of furniture that says nothing of itself (common practice, no source). [m]"""


class Roles:
    """What each product of one model is, the user's own picks of classes first."""

    def __init__(self, asked: Asked) -> None:
        self.picks = Picks(asked)
        self._named = frozenset(asked.layers)

    def picked(self, name: str) -> Picked | None:
        """Return the role that the user has picked for a class; ``ignore`` leaves it out."""
        found = self.picks.all_of(name)
        return "ignore" if "ignore" in found else next(iter(found), None)

    def picks_rooms(self) -> bool:
        """Whether the user says of which class rooms are."""
        return "room" in self._named

    def of(self, product: Entity) -> tuple[Role, str] | None:
        """Return the role and kind of a product, None of what is of no use or not recognised."""
        pick = self.picked(product.is_a())
        if pick is not None:
            return None if pick == "ignore" else (pick, "")
        found = _recognised(product)
        return None if found is None or found[0] in self._named else found


def _classes(product: Entity) -> Iterator[str]:
    """Yield the class of a product, and in IFC2X3 that of its type, which tells more."""
    yield product.is_a()
    of = type_of(product)
    if of is not None:
        yield of.is_a().removesuffix("Type").removesuffix("Style")


def _recognised(product: Entity) -> tuple[Role, str] | None:
    word = predefined(product)
    classes = tuple(_classes(product))
    for (name, type_word), found in BY_TYPE.items():
        if word == type_word and (name in classes or is_any(product, name)):
            return found
    for name in classes:
        if name in BY_CLASS:
            return _supply_or_return(product, *BY_CLASS[name])
    if word in DETECTORS:
        return "keep-out", "detector"
    if not is_any(product, *BY_WORDS):
        return None
    for said in words_of(product):
        role = role_by_name(said, "block")
        if role in ("wall", "door", "window", "room", "dimension", "note", "sheet", "grid"):
            continue
        if role is not None:
            return _supply_or_return(product, role, "")
    said = plain(" ".join(words_of(product)))
    return ("soft-seating", "cupboard") if any(word in said for word in CUPBOARDS) else None


def _supply_or_return(product: Entity, role: Role, kind: str) -> tuple[Role, str]:
    if role != "air-outlet":
        return role, kind
    for said in words_of(product):
        if role_by_name(said, "block") == "air-return" or any(w in said.upper() for w in RETURNS):
            return "air-return", kind
    return role, kind


def size_tells(product: Entity) -> bool:
    """Whether a piece of furniture may be taken for what its size says."""
    said = plain(" ".join(words_of(product)))
    return not any(word in said for word in NEITHER)


def by_size(sides: tuple[float, float], high: float) -> Role | None:
    """Return what a piece of furniture is by its sides on the plan and its height alone. [m]

    Examples
    --------
    >>> by_size((0.6, 0.6), 0.85), by_size((1.2, 2.4), 0.74), by_size((0.4, 0.5), 2.0)
    ('seat', 'table', None)
    """
    short, long = sorted(sides)
    if CHAIR_M[0] <= short <= long <= CHAIR_M[1] and CHAIR_HIGH_M[0] <= high <= CHAIR_HIGH_M[1]:
        return "seat"
    if short >= TABLE_LEAST_M and TABLE_HIGH_M[0] <= high <= TABLE_HIGH_M[1]:
        return "table"
    return None
