"""The IFC4 export, read with the general-purpose library alone, never with our own importer.

Property sets, quantity sets and words of lists are checked against the templates that
buildingSMART publishes with IFC4 ADD2, as that library ships them.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from typing import Any

import pytest

from tests.importers.ifc.written import NAMES, equipped, identity_of, written
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Identity
from wellheard.dossier.writers.ifc.write import write_ifc
from wellheard.errors import InputError
from wellheard.room.document import Room

ifcopenshell = pytest.importorskip("ifcopenshell")
elements = pytest.importorskip("ifcopenshell.util.element")
placements = pytest.importorskip("ifcopenshell.util.placement")
published = pytest.importorskip("ifcopenshell.util.pset")
validation = pytest.importorskip("ifcopenshell.validate")

MM = 1e-3


def opened(data: bytes) -> Any:
    return ifcopenshell.file.from_string(data.decode())


def place_of(product: Any) -> tuple[float, float, float]:
    matrix = placements.get_local_placement(product.ObjectPlacement)
    x, y, z = matrix[:3, 3]
    return float(x), float(y), float(z)


def test_the_models_are_those_of_a_known_schema_without_a_fault() -> None:
    for name in NAMES:
        logger = validation.json_logger()
        validation.validate(opened(written(name)), logger)
        assert logger.statements == [], name


# The library leaves the file with its rules open.
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_the_where_rules_of_the_schema_hold_and_would_show_what_breaks_one() -> None:
    # The rules of ISO 16739, as compiled from its EXPRESS text.
    model = opened(written("huddle-four"))
    chair = next(one for one in model.by_type("IfcFurniture") if one.PredefinedType == "CHAIR")
    chair.PredefinedType, chair.ObjectType = "USERDEFINED", None
    logger = validation.json_logger()
    validation.validate(model, logger, express_rules=True)
    assert logger.statements
    assert {str(said["instance"]) for said in logger.statements} == {str(chair)}


@pytest.mark.parametrize("name", NAMES)
def test_every_device_stands_where_the_document_has_it(name: str) -> None:
    room, model = equipped(name), opened(written(name))
    appliances = {one.Name: one for one in model.by_type("IfcDistributionFlowElement")}
    for key, device in room.devices.items():
        housed = room.equipment.get(device.equipment or "")
        at = device.at or (housed.at if housed else None)
        if at is None:
            assert key not in appliances
        else:
            assert math.dist(place_of(appliances[key]), at) < MM
            assert elements.get_type(appliances[key]).Tag == device.product


@pytest.mark.parametrize("name", NAMES)
def test_the_space_has_the_plan_and_the_height_of_the_document(name: str) -> None:
    room, model = equipped(name), opened(written(name))
    (space,) = model.by_type("IfcSpace")
    (solid,) = space.Representation.Representations[0].Items
    corners = [point.Coordinates for point in solid.SweptArea.OuterCurve.Points]
    assert corners[0] == corners[-1]
    for corner, wanted in zip(corners[:-1], room.space.outline, strict=True):
        assert math.dist(corner, wanted) < MM
    assert solid.Depth == pytest.approx(room.space.height, abs=MM)
    assert place_of(space) == (0.0, 0.0, 0.0)


def test_quantities_of_a_room_can_be_worked_out_by_hand() -> None:
    # The L of the example: 8.0 × 4.2 and 4.6 × 2.8 m, 3.4 m high; its walls add up to 30 m.
    model = opened(written("l-shape"))
    (space,) = model.by_type("IfcSpace")
    found = elements.get_psets(space, qtos_only=True)["Qto_SpaceBaseQuantities"]
    area = 8.0 * 4.2 + 4.6 * 2.8
    assert found["NetFloorArea"] == pytest.approx(area)
    assert found["NetVolume"] == pytest.approx(area * 3.4)
    assert found["GrossPerimeter"] == pytest.approx(30.0)
    assert found["GrossWallArea"] == pytest.approx(30.0 * 3.4)
    assert found["Height"] == pytest.approx(3.4)


def test_a_column_takes_its_area_and_a_low_cupboard_its_volume(
    room_of: Callable[..., Room],
) -> None:
    room = room_of(
        {
            "space": {
                "obstacles": {
                    "column": {"outline": [[1, 1], [1.5, 1], [1.5, 1.4], [1, 1.4]]},
                    "low": {"outline": [[3, 0], [5, 0], [5, 0.5], [3, 0.5]], "height": 0.9},
                }
            }
        }
    )
    model = opened(write_ifc(room, Catalogue.shipped(), identity_of(room)))
    (space,) = model.by_type("IfcSpace")
    found = elements.get_psets(space, qtos_only=True)["Qto_SpaceBaseQuantities"]
    assert found["NetFloorArea"] == pytest.approx(6 * 4.5 - 0.2 - 1.0)
    assert found["NetVolume"] == pytest.approx(6 * 4.5 * 2.7 - 0.2 * 2.7 - 1.0 * 0.9)


def test_properties_are_those_that_the_standard_publishes() -> None:
    templates = published.get_template("IFC4")
    seen = set()
    for name in NAMES:
        for one in opened(written(name)).by_type("IfcPropertySetDefinition"):
            if not one.Name.startswith(("Pset_", "Qto_")):
                assert one.Name.startswith("Wellheard_")
                continue
            template = templates.get_by_name(one.Name)
            assert template is not None, one.Name
            known = {p.Name: p for p in template.HasPropertyTemplates}
            for said in getattr(one, "HasProperties", None) or one.Quantities:
                assert said.Name in known, f"{one.Name}.{said.Name}"
                seen.add(said.Name)
                if said.is_a("IfcPropertyEnumeratedValue"):
                    listed = known[said.Name].Enumerators.EnumerationValues
                    words = {value.wrappedValue for value in listed}
                    assert {value.wrappedValue for value in said.EnumerationValues} <= words
                elif said.is_a("IfcPropertySingleValue"):
                    assert said.NominalValue.is_a() == known[said.Name].PrimaryMeasureType
    assert {"NetFloorArea", "Status", "SpeakerMounting", "DisplayWidth", "ArticleNumber"} <= seen


def test_what_the_standard_names_is_named_so() -> None:
    model = opened(written("board-eighteen"))

    def of(key: str) -> tuple[str, str]:
        found = next(one for one in model.by_type("IfcElement") if one.Name == key)
        return found.is_a(), found.PredefinedType

    assert of("t1") == ("IfcAudioVisualAppliance", "MICROPHONE")
    assert of("t3") == ("IfcAudioVisualAppliance", "SPEAKER")
    assert of("picture") == ("IfcAudioVisualAppliance", "DISPLAY")
    assert of("table") == ("IfcFurniture", "TABLE")
    assert of("s1") == ("IfcFurniture", "CHAIR")
    assert of("rack") == ("IfcFurniture", "USERDEFINED")
    assert of("sprinkler-1") == ("IfcFireSuppressionTerminal", "SPRINKLER")
    (space,) = model.by_type("IfcSpace")
    inside = {one for rel in space.ContainsElements for one in rel.RelatedElements}
    assert inside == set(model.by_type("IfcElement"))


def test_a_hung_microphone_says_by_how_much() -> None:
    room, model = equipped("l-shape"), opened(written("l-shape"))
    found = next(one for one in model.by_type("IfcAudioVisualAppliance") if one.Name == "t2")
    told = elements.get_psets(found)["Wellheard_Device"]
    assert told["Drop"] == pytest.approx(room.space.height - 2.1)
    assert (told["Id"], told["Product"], told["Kind"]) == ("t2", "pendant-cardioid", "microphone")


def test_a_chair_faces_where_its_sitter_does() -> None:
    # Seats at the head of the eighteen-seat table face west by the document.
    model = opened(written("board-eighteen"))
    chair = next(one for one in model.by_type("IfcFurniture") if one.Name == "s9")
    matrix = placements.get_local_placement(chair.ObjectPlacement)
    assert matrix[:2, 0] == pytest.approx([-1.0, 0.0], abs=1e-9)


def test_equal_documents_give_equal_bytes() -> None:
    room = equipped("huddle-four")
    first, again = (write_ifc(room, Catalogue.shipped(), identity_of(room)) for _ in range(2))
    assert first == again


def test_a_device_keeps_its_identity_over_revisions_and_shares_it_with_no_other_room() -> None:
    room = equipped("huddle-four")
    renamed = room.model_copy(update={"title": "Another room"})
    made = (
        write_ifc(room, Catalogue.shipped(), identity_of(room)),
        write_ifc(room, Catalogue.shipped(), Identity("0" * 64, "1.2.3", "2026-11-25")),
        write_ifc(renamed, Catalogue.shipped(), identity_of(room)),
    )
    first, revised, other = ({o.GlobalId for o in opened(one).by_type("IfcRoot")} for one in made)
    assert first == revised
    assert not first & other


def test_identities_are_unique_and_of_the_standard_form() -> None:
    for name in NAMES:
        roots = opened(written(name)).by_type("IfcRoot")
        assert len({one.GlobalId for one in roots}) == len(roots)
        for one in roots:
            assert ifcopenshell.guid.compress(ifcopenshell.guid.expand(one.GlobalId)) == (
                one.GlobalId
            )


def test_the_head_has_the_date_of_the_document_and_no_clock() -> None:
    head = written("huddle-four").decode().partition("ENDSEC;")[0]
    assert "2026-11-25T00:00:00" in head
    assert "IfcOpenShell" not in head


def test_without_the_library_it_is_said_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "ifcopenshell", None)
    room = equipped("huddle-four")
    with pytest.raises(InputError, match=r"pip install 'wellheard\[ifc\]'"):
        write_ifc(room, Catalogue.shipped(), identity_of(room))
