"""Viewers too far from the picture to read it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN, seated
from wellheard.checks.wording import length, listed
from wellheard.predict.evidence import Evidence
from wellheard.predict.talkers import display_place

CODE = "picture-distance"


@rule(CODE, "note", strength="house", cites="", thresholds=(CODE,))
def picture_distance(evidence: Evidence) -> Iterator[Draft]:
    """Everybody can read the picture.

    From a seat to the middle of the picture is at most 6 times the picture's height, for
    reading; fine detail wants 4 times. Of several pictures the one that a seat sees largest
    counts. Whether something stands in between, and from which side a seat looks, is not
    assessed. The sound is not touched by it, so that it is a note.
    """
    people = seated(evidence)
    pictures = [
        (name, item.size[1], display_place(evidence.room, name))
        for name, item in evidence.room.furniture.items()
        if item.kind in ("display", "screen")
    ]
    if not people or not pictures:
        return
    limit = limit_in_force(evidence, CODE)
    eyes = np.array([one.at for one in people])
    away = np.stack([np.linalg.norm(eyes - np.asarray(at), axis=1) for _, _, at in pictures])
    heights = np.array([height for _, height, _ in pictures])
    over = away - limit * heights[:, None]
    best = np.argmin(away / heights[:, None], axis=0)
    beyond = over[best, np.arange(len(people))] > DRAWN
    if not beyond.any():
        return
    ratio = (away / heights[:, None])[best, np.arange(len(people))]
    worst = int(np.argmax(np.where(beyond, np.round(ratio, 6), 0.0)))
    name, height, _ = pictures[int(best[worst])]
    distance = float(away[best[worst], worst])
    far = [people[i].id for i in np.flatnonzero(beyond).tolist()]
    yield Draft(
        at=f"furniture.{name}",
        message=(
            f"{listed(far)} {'sits' if len(far) == 1 else 'sit'} too far from the picture to read "
            f"it: {people[worst].id} is {length(evidence, distance)} from {name}, "
            f"{ratio[worst]:.1f} times its height of {length(evidence, height)}; at most "
            f"{limit:g} times is wanted."
        ),
        value=float(ratio[worst]),
        limit=limit,
        remedy=(
            f"Take a picture {length(evidence, distance / limit)} high, or bring "
            f"{people[worst].id} to within {length(evidence, limit * height)}."
        ),
    )
