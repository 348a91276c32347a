"""Wiring diagrams and rack elevations as DXF files: on layers, and nothing lost."""

from __future__ import annotations

import io
from typing import Any

import ezdxf.filemanagement as files
import pytest

from tests.drawings.diagram.conftest import hall
from tests.drawings.diagram.test_sheets import view
from tests.schedules.rooms import NETWORK, read
from wellheard.cad import LAYERS
from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings import rack
from wellheard.drawings.backends.dxf import canvas_dxf
from wellheard.drawings.diagram.room import system_of
from wellheard.drawings.diagram.sheets import DiagramSheet, draw_sheets
from wellheard.schedules.rack import racks

DATE = "2026-11-20"


@pytest.fixture(scope="module")
def sheet(catalogue: Catalogue) -> DiagramSheet:
    (found,) = draw_sheets(system_of(hall(), catalogue), view())
    return found


@pytest.fixture(scope="module")
def document(sheet: DiagramSheet) -> Any:
    paper = sheet.paper
    data = canvas_dxf(sheet.canvas, paper.width, paper.height, title=sheet.title, date=DATE)
    return files.read(io.StringIO(data.decode("utf-8")))


def test_every_link_is_a_line_on_the_layer_of_cables(sheet: DiagramSheet, document: Any) -> None:
    layer = LAYERS["cable"]
    runs = [
        [tuple(point[:2]) for point in entity.get_points("xy")]
        for entity in document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    ]
    runs += [
        [tuple(entity.dxf.start)[:2], tuple(entity.dxf.end)[:2]]
        for entity in document.modelspace().query(f'LINE[layer=="{layer}"]')
    ]
    height = sheet.paper.height
    for link in sheet.layout.links:
        wanted = [(x, height - y) for x, y in link.points]
        assert any(
            len(run) == len(wanted)
            and all(a == pytest.approx(b) for a, b in zip(run, wanted, strict=True))
            for run in runs
        ), link.link.id


def test_every_box_is_closed_on_the_layer_of_equipment(sheet: DiagramSheet, document: Any) -> None:
    boxes = document.modelspace().query(f'LWPOLYLINE[layer=="{LAYERS["equipment"]}"]')
    assert len(boxes) == len(sheet.layout.boxes)
    assert all(box.closed for box in boxes)


def test_the_title_is_kept_and_an_audit_finds_no_fault(sheet: DiagramSheet, document: Any) -> None:
    assert document.header.custom_vars.get("Title") == sheet.title
    assert document.audit().errors == []


def test_fronts_of_a_rack_are_on_the_layer_of_equipment() -> None:
    (found,) = racks(read(NETWORK), Catalogue.shipped())
    canvas, height = rack.draw(found)
    data = canvas_dxf(canvas, rack.WIDTH, height, title="Rack", date=DATE)
    document = files.read(io.StringIO(data.decode("utf-8")))
    assert document.audit().errors == []
    shapes = document.modelspace().query(f'*[layer=="{LAYERS["equipment"]}"]')
    assert len(shapes) >= sum(slot.kind != "air" for slot in found.slots)
    assert data == canvas_dxf(canvas, rack.WIDTH, height, title="Rack", date=DATE)
