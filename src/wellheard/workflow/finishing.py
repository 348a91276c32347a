"""What the surfaces of a room are made of, what else they might be, and what that does to it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.finishes import Finish as Finish
from wellheard.catalog.finishes import Octaves
from wellheard.dossier.survey.questions import wall_name
from wellheard.dossier.words import NBSP, figure, octave
from wellheard.drawings.absorptioncurve import Curve, absorption_curve
from wellheard.predict import reverberation
from wellheard.predict.alternative_finishes import kind_of_patch
from wellheard.predict.alternatives import Standing, standing_of
from wellheard.predict.surfaces import surfaces
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish, LevelPatch
from wellheard.room.operations import apply
from wellheard.units import FOOT, Unit
from wellheard.workflow.load import Loaded
from wellheard.workflow.product_answers import origin

GREATEST = 1.2
"""Absorption that a document may state: a chamber gives more than 1 at the edges of a sample."""
WRITTEN = "written in the document"
SAID: dict[Standing, str] = {
    "left out": "nobody has told",
    "assumed": "assumed",
    "told": "told",
    "drawing": "from a drawing",
    "measured": "measured",
}
BASES: tuple[Standing, ...] = ("told", "drawing", "measured", "assumed")
"""How a finish may be known, as the document writes it."""
MEASURED = (
    "The document has a measured decay: it stands, whatever the surfaces are said to be. Their "
    "absorption only shares it out among them."
)


@dataclass(frozen=True)
class SurfaceRow:
    """One surface of a room.

    Attributes
    ----------
    path : str
        Of its finish in the document.
    name : str
        As people call it.
    area : float
        [m²]; None for a partition, which counts where it is closed.
    finish : str
        Catalogue id; empty where figures are written in the document.
    words : str
        Name of the finish.
    standing : str
        How it is known.
    """

    path: str
    name: str
    area: float | None
    finish: str
    words: str
    absorption: Octaves
    standing: Standing

    @property
    def said(self) -> str:
        """How it is known, in words."""
        return SAID[self.standing]

    def area_words(self, unit: Unit) -> str:
        """The area in the reader's unit; an en dash where there is none to tell."""
        if self.area is None:
            return "–"
        if unit == "ft":
            return f"{figure(self.area / FOOT**2, 0)}{NBSP}ft²"
        return f"{figure(self.area, 1)}{NBSP}m²"


def surface_rows(loaded: Loaded) -> tuple[SurfaceRow, ...]:
    """Every surface, patch, obstacle and partition with its finish: large ones first of a kind."""
    room, catalogue = loaded.room, loaded.catalogue
    areas: dict[tuple[str, bool], float] = {}
    for one in surfaces(room, catalogue):
        key = (one.name.removesuffix(", top"), one.axis[2] == 1.0)
        areas[key] = areas.get(key, 0.0) + one.area

    def row(path: str, name: str, area: float | None, finish: str | InlineFinish) -> SurfaceRow:
        inline = isinstance(finish, InlineFinish)
        known = None if isinstance(finish, InlineFinish) else catalogue.finish(finish)
        return SurfaceRow(
            path=path,
            name=name,
            area=area,
            finish="" if inline else str(finish),
            words=WRITTEN if known is None else known.name,
            absorption=finish.absorption if isinstance(finish, InlineFinish) else _of(known),
            standing=_standing(room, path),
        )

    space = room.space
    flat = {name: areas.get((name, True), 0.0) for name in ("floor", "ceiling")}
    rows = [
        row("space.finishes.floor", "floor", flat["floor"], space.floor_finish),
        row("space.finishes.ceiling", "ceiling", flat["ceiling"], space.ceiling_finish),
    ]
    for wall in space.walls:
        path, area = f"space.finishes.walls.{wall}", areas.get((wall, False), 0.0)
        rows.append(row(path, f"{wall_name(room, wall)} wall", area, space.wall_finish(wall)))
    for name, patch in space.finishes.patches.items():
        level = isinstance(patch, LevelPatch)
        side = patch.surface if isinstance(patch, LevelPatch) else patch.wall
        area = areas.get((f"{side}: {name}", level), 0.0)
        kind = kind_of_patch(name, patch.finish)
        spoken = name.replace("-", " ")
        said = spoken if kind == "patch" or kind in spoken else f"{kind} {spoken}"
        on = f"{said}, on the {side if level else f'{wall_name(room, side)} wall'}"
        rows.append(row(f"space.finishes.patches.{name}.finish", on, area, patch.finish))
    for name, obstacle in space.obstacles.items():
        sides = sum(areas.get((f"obstacle {name}", level), 0.0) for level in (False, True))
        path = f"space.obstacles.{name}.finish"
        rows.append(row(path, name.replace("-", " "), sides, obstacle.finish))
    for name, fold in room.partitions.items():
        said = f"partition {name.replace('-', ' ')}, where it is closed"
        rows.append(row(f"partitions.{name}.finish", said, None, fold.finish))
    return tuple(rows)


def _of(finish: Finish | None) -> Octaves:
    assert finish is not None
    return finish.absorption


def _standing(room: Room, path: str) -> Standing:
    walls = "space.finishes.walls"
    if path.startswith(f"{walls}.") and not isinstance(room.space.finishes.walls, dict):
        return standing_of(room, walls)  # one finish for all of them
    return standing_of(room, path)


# What it might be ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Choice:
    """A finish of the catalogue that a surface may be given."""

    id: str
    name: str
    absorption: Octaves
    mean: str
    """Noise reduction coefficient."""
    source: str
    trust: str
    whose: str
    note: str


TRUST = {
    "L": "confirmed in open material",
    "M": "from memory of the source",
    "C": "common practice",
}


def choices(catalogue: Catalogue, word: str = "") -> tuple[Choice, ...]:
    """Finishes of surfaces with every one of these words in id, name or note."""
    wanted = word.casefold().split()
    found = []
    for one in catalogue.finishes:
        text = f"{one.id.replace('-', ' ')} {one.id} {one.name} {one.note}".casefold()
        if one.per_item or not all(part in text for part in wanted):
            continue
        nrc, own = one.noise_reduction_coefficient, origin(catalogue, one)
        found.append(
            Choice(
                id=one.id,
                name=one.name,
                absorption=one.absorption,
                mean="–" if nrc is None else f"{nrc:.2f}",
                source=one.source,
                trust=TRUST.get(one.trust, one.trust),
                whose="" if own is None else "yours",
                note=one.note,
            )
        )
    return tuple(found)


def typed_absorption(typed: Mapping[str, str]) -> tuple[tuple[float, ...], dict[str, str]]:
    """Seven figures as typed, and what is wrong with them by octave.

    Parameters
    ----------
    typed : mapping
        Text by octave, ``125`` to ``8000``.

    Examples
    --------
    >>> typed = dict.fromkeys(("125", "250", "500", "1000", "2000", "4000"), "0.4")
    >>> typed_absorption({**typed, "8000": "1.5"})[1]
    {'8000': '1.5 at 8k Hz; 0 to 1.2 is allowed'}
    """
    values: list[float] = []
    wrong: dict[str, str] = {}
    for band in OCTAVES:
        key = f"{band:g}"
        text = typed.get(key, "").strip()
        shown = text if len(text) <= 20 else text[:20] + "…"
        try:
            value = float(text.replace("−", "-"))
        except ValueError:
            said = f"{shown!r} is no number" if text else "nothing"
            wrong[key] = f"{said} at {octave(band)} Hz; 0 to {GREATEST:g} is allowed"
            continue
        if not (math.isfinite(value) and 0 <= value <= GREATEST):
            wrong[key] = f"{shown} at {octave(band)} Hz; 0 to {GREATEST:g} is allowed"
        values.append(value)
    return tuple(values), wrong


def operations(path: str, finish: str | Sequence[float], basis: str) -> tuple[dict[str, Any], ...]:
    """Change of a document that gives a surface another finish, known in this way."""
    value: Any = finish
    if not isinstance(finish, str):
        value = {"absorption": {f"{b:g}": v for b, v in zip(OCTAVES, finish, strict=True)}}
    return ({"path": path, "set": value}, {"path": f"basis.{path}", "set": basis})


# What it does ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Effect:
    """Reverberation by octave with the present finish and with another. [s]"""

    before: tuple[float, ...]
    after: tuple[float, ...]
    note: str = ""

    @property
    def words(self) -> str:
        """The mean of 500 Hz and 1 kHz, before and after."""
        old, new = (figure((t[2] + t[3]) / 2, 2) for t in (self.before, self.after))
        return f"T {old}{NBSP}s → {new}{NBSP}s, mean of 500{NBSP}Hz and 1{NBSP}kHz"

    def rows(self) -> Iterator[tuple[str, str, str]]:
        """Octave, before, after."""
        for band, old, new in zip(OCTAVES, self.before, self.after, strict=True):
            yield octave(band), figure(old, 2), figure(new, 2)


def effect(loaded: Loaded, changes: Sequence[Mapping[str, Any]], *, unit: Unit) -> Effect:
    """Predict what a change of finishes does to the reverberation of the occupied room.

    Raises
    ------
    InputError
        The change cannot be made.
    CatalogError
        It names a finish that the catalogue does not have.
    """
    fresh = apply(loaded.room, changes, unit=unit).room
    before = reverberation.predict(loaded.room, loaded.catalogue).time
    after = reverberation.predict(fresh, loaded.catalogue).time
    measured = loaded.room.space.measured_reverberation is not None
    return Effect(before, after, MEASURED if measured else "")


def curve(present: SurfaceRow, chosen: Choice | Sequence[float] | None) -> str:
    """The present finish as SVG, dashed beside another where one is chosen."""
    if chosen is None:
        words = present.words
        return absorption_curve(
            [Curve(words, present.absorption, "chosen")], title=f"Absorption of {words}"
        )
    name = chosen.name if isinstance(chosen, Choice) else "as typed"
    figures = chosen.absorption if isinstance(chosen, Choice) else tuple(chosen)
    return absorption_curve(
        [
            Curve(name, figures, "chosen"),
            Curve(f"now: {present.words}", present.absorption, "present"),
        ],
        title=f"Absorption of {name} and of {present.words}",
    )


def finish_curve(finish: Finish) -> str:
    """One finish of the catalogue as SVG."""
    return absorption_curve(
        [Curve(finish.name, finish.absorption, "chosen")],
        title=f"Absorption of {finish.name}",
        unit="m² each" if finish.per_item else "",
    )
