"""Background noise of the room against its promised NC number."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.acoustics.noise import NoiseCriterion, nc_rating
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.predict.noise import located_sources, room_noise
from wellheard.predict.tolerances import basis_of
from wellheard.room.document import Room
from wellheard.room.noise import Background, NoiseSource
from wellheard.room.targets import NC_ROUNDING

LOWEST_CURVE = 15.0
"""NC number of the lowest curve there is."""


@rule(
    "target-missed-noise",
    "error",
    strength="house",
    cites="targets.noise_nc of this document; curves of ANSI/ASA S12.2-2019, via phonometry",
    relaxable=False,
)
def target_missed_noise(evidence: Evidence) -> Iterator[Draft]:
    """The noise of the room stays under its promised NC curve.

    Judged is the steady noise at the seats, the background and every located
    source together, by tangency: every octave at or below the curve, to half an NC
    point, since NC numbers are whole ones. The rating in the message may be one higher,
    because the speech interference level of an NC curve is one above its own number.
    Below NC-15 there is no curve to judge by: a lower target is not assessed.
    Where the target is kept without what the document calls assumed, the message says so.
    """
    target = evidence.room.targets.noise_nc
    if target is None:
        return
    rating = nc_rating(evidence.noise.levels_db)
    if rating.out_of_range != "above" and rating.tangency is None:
        if target < LOWEST_CURVE:
            yield Draft(
                at="targets.noise_nc",
                message=f"The noise is {rating.label}, where no curve tells it from NC-{target:g}.",
                limit=target,
                unit="NC",
                remedy="Promise NC-15 or more, or judge the octave levels.",
                severity="note",
                status="not-assessed",
            )
        return
    if _kept(rating, target):
        return
    rated = rating.label
    if rating.tangency is not None:
        touched = f"NC-{rating.tangency:.1f}"
        if rating.governing is None:
            rated += f", tangent to {touched} at {rating.tangent:g} Hz"
        else:
            rated = f"{touched.removesuffix('.0')} ({rating.governing:g} Hz)"
    said, ask = _rests_on(evidence, target)
    yield Draft(
        at="noise",
        message=f"The noise at the seats is {rated}; NC-{target:g} is promised.{said}",
        value=rating.tangency,
        limit=target,
        unit="NC",
        remedy=(
            f"{ask}Have ventilation and fans quietened, the "
            f"{rating.tangent or rating.governing:g} Hz octave first, or promise less."
        ),
    )


def _kept(rating: NoiseCriterion, target: float) -> bool:
    return rating.tangency is not None and rating.tangency < target + NC_ROUNDING


def _rests_on(evidence: Evidence, target: float) -> tuple[str, str]:
    """What was assumed and breaks the target, and who is to be asked; nothing if it does not."""
    room = evidence.room
    background = basis_of(room, "noise.background") == "assumed"
    sources = {
        name: source
        for name, source in room.noise.sources.items()
        if basis_of(room, f"noise.sources.{name}.{_level_of(source)}") == "assumed"
    }
    if not background and not sources:
        return "", ""
    known = _without(room, set(sources), background=background)
    rest = room_noise(known, evidence.reverberation, evidence.talkers, located_sources(known))
    rating = nc_rating(rest.levels_db)
    if rating.out_of_range != "below" and not _kept(rating, target):
        return "", ""
    parts = [f"the background, {_background(room.noise.background)}"] if background else []
    parts += _in_words(sources)
    said = f" It rests on what was assumed: {', and '.join(parts)}."
    if not background:
        said += f" Without {'it' if len(sources) == 1 else 'them'} it would be {rest.label}."
    where = ["noise.background"] if background else []
    where += [f"noise.sources.{name}" for name in sources]
    known_by = "with its basis" if len(where) == 1 else "each with its basis"
    return said, f"Find out and enter {listed(where)}, {known_by}. "


def _without(room: Room, sources: set[str], *, background: bool) -> Room:
    """The room without some sources, and with no background to speak of where none is known."""
    left = {name: one for name, one in room.noise.sources.items() if name not in sources}
    noise = room.noise.model_copy(
        update={"sources": left} | ({"background": Background(nc=0.0)} if background else {})
    )
    return room.model_copy(update={"noise": noise})


def _level_of(source: NoiseSource) -> str:
    return "dba_at_1m" if source.dba_at_1m is not None else "levels_db_at_1m"


def _in_words(sources: dict[str, NoiseSource]) -> list[str]:
    """Sources that are alike together, with what was taken for them."""
    alike: dict[str, list[str]] = {}
    for name, source in sources.items():
        level = "octave levels" if source.dba_at_1m is None else f"{source.dba_at_1m:g} dBA"
        alike.setdefault(level, []).append(name)
    return [
        f"{listed(names)} with {level} at 1 m{' each' if len(names) > 1 else ''}"
        for level, names in alike.items()
    ]


def _background(told: Background) -> str:
    if told.nc is not None:
        return f"NC-{told.nc:g}"
    return f"{told.dba:g} dBA" if told.dba is not None else "by octave"
