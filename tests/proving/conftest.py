"""A room that is held against a session, as somebody might have taken it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.proving.given import ROOM, Proved
from wellheard.catalog.catalogue import Catalogue
from wellheard.measurement import averages
from wellheard.measurement.results import Calibration
from wellheard.measurement.session import SessionFolder, parse_session
from wellheard.measurement.taken import SessionResults, Taken
from wellheard.proving.compare import compare
from wellheard.proving.verdict import Verdict
from wellheard.room.document import Room


@pytest.fixture
def room_with() -> Callable[..., Room]:
    """Give the function that makes the room, some of its parts replaced whole."""

    def made(**over: Any) -> Room:
        return Room.model_validate({**ROOM, **over})

    return made


@pytest.fixture
def session_of() -> Callable[..., SessionFolder]:
    """Give the function that makes a session of recordings."""

    def made(recordings: Mapping[str, Any], **over: Any) -> SessionFolder:
        each = {k: {"file": f"{k}.wav", **r} for k, r in recordings.items()}
        form = {"wellheard_session": 1, **over, "recordings": each}
        return parse_session(json.dumps(form), Path("/measured/session.yaml"))

    return made


@pytest.fixture
def proved(
    catalogue: Catalogue,
    room_with: Callable[..., Room],
    session_of: Callable[..., SessionFolder],
    few_rays_here: None,
) -> Proved:
    """Give the function that holds the room against recordings, each with what it says."""

    def made(
        recordings: Mapping[str, tuple[dict[str, Any], Taken]],
        *,
        room: Mapping[str, Any] | None = None,
        refused: Mapping[str, str] | None = None,
        calibrations: Mapping[str, Calibration] | None = None,
        **session: Any,
    ) -> Verdict:
        folder = session_of({k: r for k, (r, _) in recordings.items()}, **session)
        taken = {k: t for k, (_, t) in recordings.items() if k not in (refused or {})}
        decays = averages.of_pairs(
            (folder.session.pair(k), t.response.decays)
            for k, t in taken.items()
            if t.response is not None and folder.session.linear(k)
        )
        found = SessionResults(
            folder,
            taken,
            refused or {},
            calibrations or {},
            averages.spatial_mean_t20(decays) if decays else None,
            averages.spatial_mean_t30(decays) if decays else None,
        )
        return compare(
            room_with(**(room or {})), catalogue, found, document="0000-0000", say=lambda _: None
        )

    return made
