"""Steered beams that serve people far aside of where the array faces.

::

        ═══════╤═══════ array in the ceiling
               │╲
     rest axis │ ╲ angle > 50°
               ▼  ╲
                    ○ talker
"""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import listed, place
from wellheard.predict.evidence import Evidence, PlacedMicrophone, Talker
from wellheard.predict.working import off_element_deg

CODE = "beam-far-aside"


@rule(CODE, "note", strength="house", cites="", thresholds=(CODE,))
def beam_far_aside(evidence: Evidence) -> Iterator[Draft]:
    """Beams serve people in front of the array, not far aside of it.

    The prediction takes gain and directivity of a beam as they are on its rest axis, up to the
    product's steering limit. A real array falls off before that: seen from 50° aside its face is
    0.64 as wide, and hears less of the voice and more of the room. Figures of a place beyond 50°
    from the rest axis flatter it. One note for each microphone, with the place farthest aside; a
    warning where that is beyond the product's steering limit, which the prediction counts as
    12 dB less.
    """
    limit = limit_in_force(evidence, CODE)
    aside: dict[str, dict[str, tuple[float, Talker]]] = {}
    for row in evidence.outbound:
        serving = _serving(evidence, row.path.microphone)
        if serving.product.beam is None:
            continue
        angle = off_element_deg(row, serving)
        owners = aside.setdefault(serving.id, {})
        before = owners.get(row.talker.owner)
        if angle > limit + 1e-6 and (before is None or angle > before[0]):
            owners[row.talker.owner] = (angle, row.talker)
    for name, owners in aside.items():
        if owners:
            yield _draft(_serving(evidence, name), list(owners.values()), limit)


def _serving(evidence: Evidence, name: str) -> PlacedMicrophone:
    return next(one for one in evidence.microphones if one.id == name)


def _draft(microphone: PlacedMicrophone, aside: list[tuple[float, Talker]], limit: float) -> Draft:
    beam = microphone.product.beam
    assert beam is not None
    worst, talker = max(aside, key=lambda one: one[0])
    beyond = worst > beam.steer_limit_deg + 1e-6
    so = f"beyond its steering limit of {beam.steer_limit_deg:g}°" if beyond else "within its limit"
    also = [place(one) for _, one in aside if one is not talker]
    are = "are" if len(also) > 1 else "is"
    others = f"; {listed(also)} {are} beyond {limit:g}° too" if also else ""
    return Draft(
        at=f"devices.{microphone.id}",
        message=(
            f"Microphone {microphone.id} serves {place(talker)} by a beam {worst:.1f}° off its "
            f"rest axis, {so}{others}. A real beam falls off beyond about "
            f"{limit:g}°; the prediction does not count that within the limit."
        ),
        value=worst,
        limit=limit,
        unit="deg",
        remedy=(
            f"Move or turn {microphone.id} so that they are less far aside, add a microphone, or "
            "ask the manufacturer what the beam does at that angle before you promise figures "
            "there."
        ),
        severity="warning" if beyond else None,
    )
