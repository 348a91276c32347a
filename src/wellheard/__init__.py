"""Wellheard: meeting-room microphones, predicted, placed with proof and explained.

The names listed in ``__all__`` are the ones to build on; each is loaded when it is first used, so
that ``import wellheard`` costs nothing. Every command is a function: ``wellheard design`` is
`design_room`, and so on. Everything else is reached by its module path.

Examples
--------
>>> import wellheard
>>> wellheard.parse_length("14 ft 6 in", unit="m")
4.4196
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from wellheard.acoustics.directivity import talker_level_db
    from wellheard.acoustics.field import (
        critical_distance,
        direct_to_reverberant_db,
        schroeder_frequency,
    )
    from wellheard.acoustics.intelligibility import (
        speech_transmission_index,
        speech_transmission_index_of_path,
    )
    from wellheard.acoustics.levels import a_weighted_level_db
    from wellheard.acoustics.noise import nc_rating
    from wellheard.acoustics.reverberation import (
        reverberation_time_arau_puchades,
        reverberation_time_eyring,
        reverberation_time_sabine,
    )
    from wellheard.acoustics.speech import speech_levels_db
    from wellheard.catalog.catalogue import Catalogue
    from wellheard.catalog.entries import read_entries as read_products
    from wellheard.checks.model import Finding
    from wellheard.errors import (
        CatalogError,
        DocumentError,
        InputError,
        Problem,
        UsageError,
        WellheardError,
    )
    from wellheard.place.proposal import Proof, Proposal
    from wellheard.predict.evidence import Evidence
    from wellheard.room.codec import dump as dump_room
    from wellheard.room.codec import parse as parse_room
    from wellheard.room.codec import read as read_room
    from wellheard.room.document import Room
    from wellheard.room.schema import json_schema as room_schema
    from wellheard.units import format_length, parse_length
    from wellheard.workflow.design import Designed, Judged, Placed
    from wellheard.workflow.design import check as check_room
    from wellheard.workflow.design import design as design_room
    from wellheard.workflow.design import place as place_room
    from wellheard.workflow.design import predict as predict_room
    from wellheard.workflow.explaining import Explained
    from wellheard.workflow.explaining import explain as explain_room
    from wellheard.workflow.load import Loaded
    from wellheard.workflow.load import load as load_room
    from wellheard.workflow.publish import publish as publish_room

_PLACES = {
    "Catalogue": "catalog.catalogue",
    "CatalogError": "errors",
    "Designed": "workflow.design",
    "DocumentError": "errors",
    "Evidence": "predict.evidence",
    "Explained": "workflow.explaining",
    "Finding": "checks.model",
    "InputError": "errors",
    "Judged": "workflow.design",
    "Loaded": "workflow.load",
    "Placed": "workflow.design",
    "Problem": "errors",
    "Proof": "place.proposal",
    "Proposal": "place.proposal",
    "Room": "room.document",
    "UsageError": "errors",
    "WellheardError": "errors",
    "a_weighted_level_db": "acoustics.levels",
    "check_room": "workflow.design:check",
    "critical_distance": "acoustics.field",
    "design_room": "workflow.design:design",
    "direct_to_reverberant_db": "acoustics.field",
    "dump_room": "room.codec:dump",
    "explain_room": "workflow.explaining:explain",
    "format_length": "units",
    "load_room": "workflow.load:load",
    "nc_rating": "acoustics.noise",
    "parse_length": "units",
    "parse_room": "room.codec:parse",
    "place_room": "workflow.design:place",
    "predict_room": "workflow.design:predict",
    "publish_room": "workflow.publish:publish",
    "read_products": "catalog.entries:read_entries",
    "read_room": "room.codec:read",
    "reverberation_time_arau_puchades": "acoustics.reverberation",
    "reverberation_time_eyring": "acoustics.reverberation",
    "reverberation_time_sabine": "acoustics.reverberation",
    "room_schema": "room.schema:json_schema",
    "schroeder_frequency": "acoustics.field",
    "speech_levels_db": "acoustics.speech",
    "speech_transmission_index": "acoustics.intelligibility",
    "speech_transmission_index_of_path": "acoustics.intelligibility",
    "talker_level_db": "acoustics.directivity",
}
"""Public name: module, and the name there where it is another. No public name may be that of a
package (``place``, ``predict``, ``room``): importing the package would put it in its place."""

__all__ = [
    "CatalogError",
    "Catalogue",
    "Designed",
    "DocumentError",
    "Evidence",
    "Explained",
    "Finding",
    "InputError",
    "Judged",
    "Loaded",
    "Placed",
    "Problem",
    "Proof",
    "Proposal",
    "Room",
    "UsageError",
    "WellheardError",
    "__version__",
    "a_weighted_level_db",
    "check_room",
    "critical_distance",
    "design_room",
    "direct_to_reverberant_db",
    "dump_room",
    "explain_room",
    "format_length",
    "load_room",
    "nc_rating",
    "parse_length",
    "parse_room",
    "place_room",
    "predict_room",
    "publish_room",
    "read_products",
    "read_room",
    "reverberation_time_arau_puchades",
    "reverberation_time_eyring",
    "reverberation_time_sabine",
    "room_schema",
    "schroeder_frequency",
    "speech_levels_db",
    "speech_transmission_index",
    "speech_transmission_index_of_path",
    "talker_level_db",
]


def __getattr__(name: str) -> object:
    place = _PLACES.get(name)
    if place is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    module, _, inside = place.partition(":")
    found = getattr(import_module(f"{__name__}.{module}"), inside or name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
