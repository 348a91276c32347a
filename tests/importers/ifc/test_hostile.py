"""Building models that are broken or mean harm: a clear word, and no endless search."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from tests.importers.ifc.made import SQUARE, Made
from tests.importers.ifc.written import written
from wellheard.errors import InputError
from wellheard.importers.found import Asked, FoundPlan
from wellheard.importers.ifc.read import read_ifc

HEAD = (
    "ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"
    "FILE_NAME('','',(''),(''),'','','');\nFILE_SCHEMA(('{schema}'));\nENDSEC;\nDATA;\n"
)
TAIL = "ENDSEC;\nEND-ISO-10303-21;\n"
UNITS = (
    "#1=IFCSIUNIT(*,.LENGTHUNIT.,$,.METRE.);\n#2=IFCUNITASSIGNMENT((#1));\n"
    "#3=IFCPROJECT('0000000000000000000001',$,$,$,$,$,$,$,#2);\n"
)
ROOM = (
    "#10=IFCSPACE('0000000000000000000002',$,'1',$,$,#20,#30,$,.ELEMENT.,$,$);\n"
    "#30=IFCPRODUCTDEFINITIONSHAPE($,$,(#31));\n"
    "#31=IFCSHAPEREPRESENTATION($,'Body','SweptSolid',(#32));\n"
    "#32=IFCEXTRUDEDAREASOLID(#33,$,#34,{height});\n#34=IFCDIRECTION((0.,0.,1.));\n"
    "#33=IFCARBITRARYCLOSEDPROFILEDEF(.AREA.,$,#35);\n#35=IFCPOLYLINE((#41,#42,#43,#44,#41));\n"
    "#41=IFCCARTESIANPOINT((0.,0.));\n#42=IFCCARTESIANPOINT({second});\n"
    "#43=IFCCARTESIANPOINT((6.,4.));\n#44=IFCCARTESIANPOINT({fourth});\n{placement}"
)
PLACED = (
    "#20=IFCLOCALPLACEMENT($,#21);\n#21=IFCAXIS2PLACEMENT3D(#22,$,$);\n"
    "#22=IFCCARTESIANPOINT((0.,0.,0.));\n"
)


def model(
    height: str = "3.", second: str = "(6.,0.)", fourth: str = "(0.,4.)", placement: str = PLACED
) -> str:
    room = ROOM.format(height=height, second=second, fourth=fourth, placement=placement)
    return HEAD.format(schema="IFC4") + UNITS + room + TAIL


def read(text: str | bytes, folder: Path) -> FoundPlan:
    path = folder / "model.ifc"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_ifc(path, Asked())


def test_the_room_that_the_others_are_made_of_is_read(tmp_path: Path) -> None:
    (room,) = read(model(), tmp_path).rooms
    assert room.area == pytest.approx(24.0)


REFUSED: dict[str, tuple[str | bytes, str]] = {
    "empty": ("", "empty"),
    "text": ("Dear architect,\nplease find attached.\n", "neither DXF nor IFC"),
    "zip": (b"PK\x03\x04" + b"\0" * 40, "ZIP archive"),
    "xml": ("<?xml version='1.0'?><ifcXML/>", "STEP form"),
    "dxf": ("0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n", "no building model"),
    "cut short": (model()[:-60], "cut short"),
    "old schema": (HEAD.format(schema="IFC2X2_FINAL") + TAIL, "written for IFC2X2_FINAL"),
    "other schema": (HEAD.format(schema="AUTOMOTIVE_DESIGN") + TAIL, "AUTOMOTIVE_DESIGN"),
    "no schema": (model().replace("FILE_SCHEMA", "FILE_SCHEME"), "does not say its schema"),
    "no data": (HEAD.format(schema="IFC4") + TAIL, "no room"),
    "broken text": (model().replace("(6.,4.)", "(6.,,4.(("), "its text is broken"),
    "no number": (model(second="(NAN,0.)"), "no number"),
    "no number of the machine": (model(second="(-1.#IND,0.)"), "can be"),
    "far away": (model(second="(1.E300,0.)"), "further off than the Earth is wide"),
    "past all numbers": (model(second="(1.E400,0.)"), "can be"),
    "too high": (model(height="1.E200"), "drawn up by no height"),
    "no height": (model(height="0."), "drawn up by no height"),
    "text for a height": (model(height="'high'"), "can be"),
    "no place for a corner": (model(second="$"), "can be"),
    "a corner that is not there": (model().replace("#44=", "#99="), "lacks a part of it"),
    "no area": (model(second="(0.,0.)", fourth="(3.,2.)"), "no area"),
    "placement in a circle": (
        model(placement=PLACED.replace("LOCALPLACEMENT($", "LOCALPLACEMENT(#20")),
        "goes round in a circle",
    ),
    "placement in a longer circle": (
        model(
            placement=PLACED.replace("LOCALPLACEMENT($", "LOCALPLACEMENT(#23")
            + "#23=IFCLOCALPLACEMENT(#20,#21);\n"
        ),
        "goes round in a circle",
    ),
    "placement by a number": (model(placement="#20=IFCLOCALPLACEMENT(3.5,'here');\n"), "can be"),
    "shape within itself": (
        model().replace(
            "(#32));",
            "(#50));\n#50=IFCMAPPEDITEM(#51,#52);\n#51=IFCREPRESENTATIONMAP(#21,#31);\n"
            "#52=IFCCARTESIANTRANSFORMATIONOPERATOR3D($,$,#22,$,$);",
            1,
        ),
        "nested too deep",
    ),
    "points that refer to themselves": (
        model().replace("#35=IFCPOLYLINE((#41", "#35=IFCPOLYLINE((#35"),
        "can be",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_refused_in_words(name: str, tmp_path: Path) -> None:
    text, said = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read(text, tmp_path)
    message = str(caught.value)
    assert said in message
    assert "model.ifc" in message
    assert "\n" not in message
    assert "Traceback" not in message


def test_an_outline_that_crosses_itself_keeps_its_larger_part_and_says_so(tmp_path: Path) -> None:
    # (0, 0), (6, 0), (6, 4), (3, −1): the last side but one crosses the first.
    plan = read(model(fourth="(3.,-1.)"), tmp_path)
    assert any("crosses itself" in warning for warning in plan.warnings)
    assert 0 < plan.rooms[0].area < 24


def test_a_broken_thing_does_not_cost_the_room(tmp_path: Path) -> None:
    broken = (
        "#60=IFCFURNITURE('0000000000000000000003',$,5,$,(1.,2.),#20,#61,$,.TABLE.);\n"
        "#61=IFCPRODUCTDEFINITIONSHAPE($,$,(#62));\n"
        "#62=IFCSHAPEREPRESENTATION(#61,'Body','SweptSolid',(#63,#64));\n"
        "#63=IFCEXTRUDEDAREASOLID(#62,#63,#63,#63);\n"
        "#64=IFCFACETEDBREP(#64);\n"
        "#65=IFCDOOR('0000000000000000000004',$,$,$,$,#66,#61,$,'x',(1.),$,$,$);\n"
        "#66=IFCLOCALPLACEMENT(#66,$);\n"
        "#67=IFCWALL('0000000000000000000005',$,$,$,$,#20,#68,$,$);\n"
        "#68=IFCPRODUCTDEFINITIONSHAPE($,$,(#67,#62));\n"
        "#69=IFCRELSPACEBOUNDARY('0000000000000000000006',$,$,$,#69,#10,$,.PHYSICAL.,.EXTERNAL.);\n"
        "#70=IFCRELDEFINESBYPROPERTIES('0000000000000000000007',$,$,$,(#10),#71);\n"
        "#71=IFCPROPERTYSET('0000000000000000000008',$,7,$,(#72,#10));\n"
        "#72=IFCPROPERTYSINGLEVALUE('Height',$,#72,$);\n"
        "#73=IFCRELAGGREGATES('0000000000000000000009',$,$,$,#10,(#10));\n"
    )
    text = model().replace(TAIL, broken + TAIL)
    path_text = text.replace("#73=IFCRELAGGREGATES", "/* a room in itself */ #73=IFCRELAGGREGATES")
    plan_error = None
    try:
        plan = read(text.replace("(#10));\n" + TAIL, "(#60));\n" + TAIL), tmp_path)
    except InputError as error:
        plan_error = error
    assert plan_error is None
    assert plan.rooms[0].area == pytest.approx(24.0)
    assert sum(line.count for line in plan.report if not line.taken) >= 2
    with pytest.raises(InputError, match="only other spaces together"):
        read(path_text, tmp_path)


def test_an_outline_of_a_thousand_corners_is_simplified_within_5_mm(tmp_path: Path) -> None:
    import math

    made = Made()
    ring = [
        (3 + 3 * math.cos(i * math.tau / 1000), 3 + 3 * math.sin(i * math.tau / 1000))
        for i in range(1000)
    ]
    made.space(made.drawn_up(made.outline(ring), 3.0))
    plan = read_ifc(made.write(tmp_path), Asked())
    assert len(plan.rooms[0].outline) <= 200
    assert plan.rooms[0].area == pytest.approx(math.pi * 9, rel=0.005)


def test_a_quarter_of_a_million_entities_are_read_through(tmp_path: Path) -> None:
    points = "".join(f"#{i}=IFCCARTESIANPOINT(({i}.,0.,0.));\n" for i in range(100, 250_100))
    plan = read(model().replace(TAIL, points + TAIL), tmp_path)
    assert plan.rooms[0].area == pytest.approx(24.0)


def test_a_thousand_chairs_are_sorted_into_their_room(tmp_path: Path) -> None:
    made = Made()
    made.space(made.drawn_up(made.outline(SQUARE), 3.0))
    chair = made.shape(made.box((0.5, 0.5, 0.9)))
    for i in range(1_000):
        one = made.product("IfcFurniture", at=(1 + i % 40 / 10, 1 + i // 40 / 250, 0),
                           PredefinedType="CHAIR")  # fmt: skip
        one.Representation = chair
    (room,) = read_ifc(made.write(tmp_path), Asked()).rooms
    assert len(room.seats) == 1_000


def test_without_the_library_it_is_said_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "ifcopenshell", None)
    with pytest.raises(InputError, match=r"pip install 'wellheard\[ifc\]'"):
        read(written("huddle-four"), tmp_path)


@pytest.mark.parametrize("share", [i / 12 for i in range(1, 12)])
def test_a_model_cut_anywhere_is_refused(share: float, tmp_path: Path) -> None:
    data = written("huddle-four")
    with pytest.raises(InputError, match=r"cut short|neither"):
        read(data[: int(len(data) * share)], tmp_path)


def test_a_model_with_lines_missing_is_read_or_refused_never_more(tmp_path: Path) -> None:
    # Every fortieth line of data left out, from each of forty beginnings.
    lines = written("huddle-four").decode().splitlines(keepends=True)
    head = next(i for i, line in enumerate(lines) if line.startswith("DATA")) + 1
    for first in range(40):
        kept = [
            line
            for i, line in enumerate(lines)
            if i < head or not line.startswith("#") or i % 40 != first
        ]
        try:
            plan = read("".join(kept), tmp_path)
        except InputError:
            continue
        assert plan.rooms
