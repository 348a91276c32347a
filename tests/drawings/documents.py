"""Examples with devices and wiring as documents, and every drawing that is made of them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from wellheard.dossier.writers import typst_pdf
from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.units import Unit
from wellheard.workflow import drawn as drawn_sheets
from wellheard.workflow import publish, sections
from wellheard.workflow.design import predict
from wellheard.workflow.judging import Judged
from wellheard.workflow.load import Loaded, load_text
from wellheard.workflow.sheets import Space

ROOT = Path(__file__).parents[2]
FITTED = Path(__file__).parent / "fitted"
NAMES = tuple(sorted(path.stem for path in FITTED.glob("*.yaml")))
_BLOCK = re.compile(r"^([a-z_]+):.*\n(?:(?![a-z_]+:).*\n)*", re.MULTILINE)


@dataclass(frozen=True)
class Drawing:
    """A recording with its size [mm] and title."""

    title: str
    canvas: Canvas
    width: float
    height: float


def text_of(name: str) -> str:
    """An example's document with the devices and wiring that are laid over it."""
    base = (ROOT / "examples" / name / f"{name}.room.yaml").read_text("utf-8")
    over = (FITTED / f"{name}.yaml").read_text("utf-8")
    mine = {found.group(1) for found in _BLOCK.finditer(over)}
    kept = _BLOCK.sub(lambda found: "" if found.group(1) in mine else found.group(), base)
    return f"{kept.rstrip()}\n{over}"


@cache
def judged(name: str) -> tuple[Loaded, Judged, dict[str, tuple[Space, ...]]]:
    """An example with its devices, predicted, and what its sheets show."""
    path = ROOT / "examples" / name / f"{name}.room.yaml"
    loaded = load_text(text_of(name), path)
    found = predict(loaded)
    return loaded, found, publish.shown_spaces(loaded.room, loaded.catalogue, found)


def drawings_of(name: str, unit: Unit) -> tuple[Drawing, ...]:
    """Every drawing that is made when an example is published, its lengths in a unit."""
    loaded, found, spaces = judged(name)
    parts = tuple(
        replace(p, scene=_scene(p.scene, unit), evidence=_evidence(p.evidence, unit))
        for p in found.parts
    )
    answer = replace(found, evidence=_evidence(found.evidence, unit), parts=parts)
    shown = {
        key: tuple(
            replace(s, scene=_scene(s.scene, unit), evidence=_evidence(s.evidence, unit))
            for s in inside
        )
        for key, inside in spaces.items()
    }
    with recorded() as drawn, pytest.MonkeyPatch.context() as patch:
        patch.setattr(publish, "shown_spaces", lambda *_: shown)
        patch.setattr(typst_pdf, "write_pdf", lambda *_: b"")
        # The same recordings once more, in other formats.
        patch.setattr(drawn_sheets.Drawn, "files", lambda *_, **how: {})
        publish.published_files(loaded, answer)
        patch.setattr(sections, "render", svg.render)
        sections.section_picture(loaded, unit=unit)
    return tuple(drawn)


@contextmanager
def recorded() -> Iterator[list[Drawing]]:
    """Keep everything that is rendered as SVG."""
    drawn: list[Drawing] = []
    render = svg.render

    def kept(canvas: Canvas, width: float, height: float, *, title: str, **how: Any) -> str:
        drawn.append(Drawing(title, canvas, width, height))
        return render(canvas, width, height, title=title, **how)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(svg, "render", kept)
        patch.setattr(drawn_sheets, "render", kept)
        yield drawn


def _room(room: Room, unit: Unit) -> Room:
    return room.model_copy(update={"units": unit})


def _evidence(evidence: Evidence, unit: Unit) -> Evidence:
    return replace(evidence, room=_room(evidence.room, unit))


def _scene(scene: Scene, unit: Unit) -> Scene:
    return replace(scene, room=_room(scene.room, unit))
