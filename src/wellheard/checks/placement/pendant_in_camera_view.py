"""Nothing that hangs stands between a camera and a face."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.arrays import Array
from wellheard.checks.hanging import hung
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, listed
from wellheard.geometry.solids import sight_lines
from wellheard.predict.evidence import Evidence
from wellheard.predict.hanging import Hung, cameras, faces

CODE = "pendant-in-camera-view"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def pendant_in_camera_view(evidence: Evidence) -> Iterator[Draft]:
    """No hanging device hides a face from a camera.

    A camera is an `equipment` of that kind. From it to every seat and to the sample points of
    standing areas runs a line of sight, which is as wide as a face at its far end, 0.1 m about the
    mouth, and a point at the camera. The housing of nothing that hangs may reach into it; its
    rod or cable hides no face. Where the camera is aimed is not in the document: it sees
    everybody. Without a camera there is nothing to hide.
    """
    lenses = cameras(evidence.room)
    things = hung(evidence) if lenses else ()
    if not things or not evidence.talkers:
        return
    face = limit_in_force(evidence, CODE)
    for thing in things:
        for camera, lens in lenses.items():
            yield from _hidden(evidence, thing, camera, lens, face)


def _hidden(
    evidence: Evidence, thing: Hung, camera: str, lens: Array, face: float
) -> Iterator[Draft]:
    distance, wanted = sight_lines(thing.body, lens, faces(evidence.talkers), radius=face)
    short = np.where(distance < wanted - TOUCH, wanted - distance, 0.0)
    if not short.any():
        return
    worst = int(np.argmax(np.round(short, 6)))
    names = list(dict.fromkeys(evidence.talkers[i].id for i in np.flatnonzero(short).tolist()))
    yield Draft(
        at=f"devices.{thing.id}",
        message=(
            f"{thing.id} hides {listed(names)} from camera {camera}: the line of sight to "
            f"{evidence.talkers[worst].id} passes {length(evidence, float(distance[worst]))} from "
            f"its middle; {length(evidence, float(wanted[worst]))} would show the whole face."
        ),
        value=float(distance[worst]),
        limit=float(wanted[worst]),
        unit="m",
        remedy=(
            f"Shorten the drop of {thing.id}, or move it or {camera}, by "
            f"{length(evidence, float(short[worst]))} or more across that line."
        ),
    )
