"""Use of the public names as a caller writes it; type-checked, and run by its test.

``assert_type`` fails the type check when a public name loses its type.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, assert_type

import numpy as np
import numpy.typing as npt

import wellheard


def answers(document: Path, folder: Path) -> tuple[Path, ...]:
    """Everything from a document to a folder of documents."""
    loaded = wellheard.load_room(document)
    assert_type(loaded, wellheard.Loaded)
    assert_type(loaded.room, wellheard.Room)
    assert_type(loaded.catalogue, wellheard.Catalogue)

    judged = wellheard.predict_room(loaded)
    assert_type(judged, wellheard.Judged)
    assert_type(judged.evidence, wellheard.Evidence)
    assert_type(wellheard.check_room(loaded), tuple[wellheard.Finding, ...])

    placed = wellheard.place_room(loaded, time_limit=30.0)
    assert_type(placed, wellheard.Placed)
    assert_type(placed.proposal, wellheard.Proposal)
    assert_type(placed.proposal.proof, wellheard.Proof)

    designed = wellheard.design_room(loaded)
    assert_type(designed.kept, bool)
    worst = designed.judged.evidence.worst()
    if worst is not None:
        assert_type(worst.sti.value, float)
    return wellheard.publish_room(loaded, designed, folder)


def documents(text: str) -> str:
    """A document read, shown and refused."""
    try:
        room = wellheard.parse_room(text)
    except wellheard.DocumentError as error:
        assert_type(error.problems, tuple[wellheard.Problem, ...])
        return "\n".join(str(problem) for problem in error.problems)
    assert_type(room, wellheard.Room)
    assert_type(wellheard.room_schema(), dict[str, Any])
    return wellheard.dump_room(room)


def physics() -> tuple[float, str]:
    """A reverberation time and a noise rating, as they are printed."""
    time = wellheard.reverberation_time_eyring(
        volume=90.0, areas=[126.0], absorption=np.full((1, 7), 0.2)
    )
    assert_type(time, npt.NDArray[np.float64])
    criterion = wellheard.nc_rating({500.0: 40.0, 1000.0: 36.0, 2000.0: 34.0, 4000.0: 33.0})
    assert_type(criterion.value, float | None)
    assert_type(wellheard.parse_length("14 ft", unit="m"), float)
    return float(time[0]), criterion.label
