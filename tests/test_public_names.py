"""The public names: which there are, that each loads, and that none costs anything before."""

from __future__ import annotations

import pkgutil
import subprocess
import sys

import pytest

import wellheard

# Outsiders build on these. To take one away is a breaking change and needs a changelog line.
PROMISED = {
    # from a document to its answers
    "load_room",
    "predict_room",
    "check_room",
    "place_room",
    "design_room",
    "explain_room",
    "publish_room",
    # the document alone
    "Room",
    "read_room",
    "parse_room",
    "dump_room",
    "room_schema",
    # products of one's own
    "read_products",
    # what is handed back
    "Loaded",
    "Judged",
    "Placed",
    "Designed",
    "Explained",
    "Catalogue",
    "Evidence",
    "Finding",
    "Proposal",
    "Proof",
    # what is raised
    "WellheardError",
    "InputError",
    "DocumentError",
    "CatalogError",
    "UsageError",
    "Problem",
    # physics and units
    "reverberation_time_sabine",
    "reverberation_time_eyring",
    "reverberation_time_arau_puchades",
    "critical_distance",
    "schroeder_frequency",
    "direct_to_reverberant_db",
    "speech_transmission_index",
    "speech_transmission_index_of_path",
    "talker_level_db",
    "speech_levels_db",
    "a_weighted_level_db",
    "nc_rating",
    "parse_length",
    "format_length",
    "__version__",
}


def _in_a_new_interpreter(code: str) -> str:
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    ).stdout.strip()


def test_the_public_names_are_the_promised_ones() -> None:
    assert set(wellheard.__all__) == PROMISED


def test_every_public_name_loads_and_is_listed() -> None:
    for name in PROMISED:
        assert getattr(wellheard, name) is not None
        assert name in dir(wellheard)


def test_a_public_name_is_what_its_module_has() -> None:
    from wellheard.acoustics.noise import nc_rating
    from wellheard.workflow.design import predict

    assert wellheard.nc_rating is nc_rating
    assert wellheard.predict_room is predict


def test_no_public_name_is_that_of_a_module() -> None:
    # Importing wellheard.x would put the module in the name's place.
    modules = {m.name for m in pkgutil.iter_modules(wellheard.__path__)}
    assert modules >= {"place", "predict", "room"}
    assert not modules & set(wellheard.__all__)


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no_such_name"):
        getattr(wellheard, "no_such_" + "name")


def test_importing_wellheard_loads_nothing_heavy() -> None:
    found = _in_a_new_interpreter(
        "import sys, wellheard; dir(wellheard);"
        "print(*sorted(m for m in sys.modules if m.split('.')[0] in "
        "('numpy', 'pydantic', 'yaml', 'shapely', 'highspy', 'typst', 'cyclopts', 'rich')))"
    )
    assert found == ""


def test_reading_a_document_needs_no_solver_and_no_typesetter() -> None:
    found = _in_a_new_interpreter(
        "import sys, wellheard; wellheard.load_room; wellheard.predict_room;"
        "print(*sorted(m for m in sys.modules if m in ('highspy', 'typst', 'shapely')))"
    )
    assert found == ""
