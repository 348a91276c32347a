"""The cheapest finishes that bring a room to its decay and its promise, before and after."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

from wellheard.bands import OCTAVES, spoken_octave
from wellheard.dossier.sections.treatment import CAUTIONS, Untreated
from wellheard.dossier.words import listed
from wellheard.predict import reverberation
from wellheard.predict.evidence import SEAT_TARGETS, Quantity
from wellheard.predict.parts import PartEvidence
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.treatment.program import TIME_LIMIT
from wellheard.treatment.solve import Site, Treated, site, untreated, with_decay
from wellheard.treatment.solve import treat as solve
from wellheard.treatment.task import DecayTarget, decay_target
from wellheard.workflow.judging import Judged, Progress, judge, quiet
from wellheard.workflow.load import Loaded

STEPS = (0.9, 0.8, 0.7, 0.6, 0.5)
"""Shares of the decay target that are tried in turn where the promise needs a drier room."""
DRY = 0.8
"""Share of the recommended time below which a room for speech is drier than recommended, at 250 to
2000 Hz (DIN 18041:2016, tolerance of group A, via two open programs)."""
WORDS = {
    "sti_outbound": "STI",
    "direct_to_reverberant_db": "direct to reverberant",
    "speech_to_noise_db": "speech to noise",
}
NOMINAL = 250.0
"""Up to this octave rays say little of rooms for meetings: single modes decide there. [Hz]"""


@dataclass(frozen=True)
class Kept:
    """How the promise at the talking points stands: those that keep it, and the worst of them.

    ``worst`` has the quantity with the least chance by the name of its target.
    """

    kept: int
    of: int
    worst: dict[str, Quantity]

    @property
    def whole(self) -> bool:
        """Whether all keep it."""
        return self.kept == self.of


@dataclass(frozen=True)
class Treatment:
    """A treatment with what it does to decay and promise.

    Parameters
    ----------
    treated : Treated
    target : DecayTarget
        Before it was tightened for the promise.
    scale : float
        Share of that target that the treatment was solved for.
    before, after : Kept or None
        None without microphones.
    new_findings, gone_findings : tuples of str
        Errors and warnings as code@place, as far as the treatment changes them.
    says : tuple of str
        What has to be known beside the figures.
    text : str
        The document with its patches.
    """

    treated: Treated
    target: DecayTarget
    scale: float
    before: Kept | None
    after: Kept | None
    new_findings: tuple[str, ...]
    gone_findings: tuple[str, ...]
    says: tuple[str, ...]
    text: str

    @property
    def kept(self) -> bool:
        """Whether decay and promise are kept, as far as they are assessed."""
        met = self.treated.status != "infeasible"
        return met and (self.after is None or self.after.whole)


def treat(
    loaded: Loaded,
    *,
    curtains: bool = False,
    time_limit: float = TIME_LIMIT,
    say: Progress = quiet,
) -> Treatment:
    """Find the cheapest treatment of a room, and write it into the document's text.

    Parameters
    ----------
    loaded : Loaded
        The room, with its devices where the promise at the seats shall be seen to.
    curtains : bool
        Let curtains hang before walls of glass.
    time_limit : float
        For each program. [s]
    say : function
        Told what is going on.

    Raises
    ------
    InputError
        No decay is promised, and none recommended for so small or large a room.
    """
    room, catalogue = loaded.room, loaded.catalogue
    say("looking for free walls, ceiling and floor …")
    place = site(room, catalogue, curtains=curtains)
    target = decay_target(room, place.decay.volume, reserve=_reserve(loaded))
    say("choosing panels …")
    treated = solve(place, target, time_limit=time_limit)
    was = judge(room, catalogue, say=say)
    now = _judged(loaded, treated, say)
    scale = 1.0
    if treated.status != "infeasible" and not _all_kept(now):
        found = _for_the_promise(loaded, place, target, time_limit, say)
        if found is not None:
            treated, now, scale = found
    before, after = kept(was), kept(now)
    new, gone = _changed(was, now)
    return Treatment(
        treated=treated,
        target=target,
        scale=scale,
        before=before,
        after=after,
        new_findings=new,
        gone_findings=gone,
        says=_says(loaded, treated, target, scale, after, curtains=curtains),
        text=codec.edit(loaded.document, treated.room) if treated.patches else loaded.document.text,
    )


def _reserve(loaded: Loaded) -> float:
    """Share of a promised time that is kept with the wanted chance."""
    room = loaded.room
    wanted = room.targets.chance
    if room.targets.reverberation is None or wanted is None or wanted <= 0.5:
        return 1.0
    sigma = reverberation.predict(room, loaded.catalogue).log_sigma
    return math.exp(-NormalDist().inv_cdf(wanted) * (sigma[2] + sigma[3]) / 2)


def _judged(loaded: Loaded, treated: Treated, say: Progress) -> Judged:
    """Full prediction with the treatment; a decay once measured goes on in what the rays say."""
    room = treated.room
    if loaded.room.space.measured_reverberation is not None:
        a, b, c, d, e, f, g = treated.after
        room = with_decay(room, (a, b, c, d, e, f, g))
    return judge(room, loaded.catalogue, say=say)


def before_treatment(judged: Judged, *, say: Progress = quiet) -> Untreated | None:
    """A judged room without the finishes that were bought for it; None where none were."""
    evidence = judged.evidence
    bare = untreated(evidence.room, evidence.catalogue)
    if bare is None:
        return None
    say("predicting the room without its treatment …")
    was = judge(bare, evidence.catalogue, assumptions=False)
    return Untreated(was.evidence, tuple(PartEvidence(p.part, p.evidence) for p in was.parts))


def kept(judged: Judged) -> Kept | None:
    """How the promise stands at the talking points; None without microphones."""
    rows = judged.evidence.outbound
    if not rows:
        return None
    worst: dict[str, Quantity] = {}
    by_name = zip(*(row.quantities for row in rows), strict=True)
    for name, each in zip(SEAT_TARGETS, by_name, strict=True):
        worst[name] = min(each, key=lambda q: (1.0 if q.chance is None else q.chance, q.value))
    return Kept(sum(row.state == "kept" for row in rows), len(rows), worst)


def _all_kept(judged: Judged) -> bool:
    found = kept(judged)
    return found is None or found.whole


def _for_the_promise(
    loaded: Loaded, place: Site, target: DecayTarget, time_limit: float, say: Progress
) -> tuple[Treated, Judged, float] | None:
    """The first of shorter and shorter decays at which the promise is kept at all seats.

    The driest is tried first: where it does not help, nothing of this kind does.
    """
    tried: dict[float, tuple[Treated, Judged]] = {}

    def at(scale: float) -> bool:
        treated = solve(place, target.tightened(scale), time_limit=time_limit)
        tried[scale] = treated, _judged(loaded, treated, say)
        return _all_kept(tried[scale][1])

    say("looking whether a drier room keeps the promise …")
    if not at(STEPS[-1]):
        return None
    scale = next(s for s in STEPS if (s in tried and _all_kept(tried[s][1])) or at(s))
    return (*tried[scale], scale)


def _changed(was: Judged, now: Judged) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Errors and warnings that come and go, as code@place."""

    def named(judged: Judged) -> dict[str, None]:
        serious = (f for f in judged.findings if f.severity in ("error", "warning"))
        return dict.fromkeys(f"{f.code}@{f.at}" for f in serious)

    before, after = named(was), named(now)
    return (
        tuple(one for one in after if one not in before),
        tuple(one for one in before if one not in after),
    )


def _says(
    loaded: Loaded,
    treated: Treated,
    target: DecayTarget,
    scale: float,
    after: Kept | None,
    *,
    curtains: bool,
) -> tuple[str, ...]:
    said: list[str] = []
    if scale < 1:
        said.append(
            f"The promise at the seats needs a drier room: solved for {scale:g} times the decay "
            "target, the first of steps of a tenth that keeps it."
        )
    elif after is not None and not after.whole and treated.status != "infeasible":
        short = [WORDS[name] for name, q in after.worst.items() if _misses(loaded.room, q)]
        said.append(
            "Even at half that decay, or as near to it as the free surfaces allow, the promise at "
            f"the seats is not kept ({listed(short)}): the treatment is that of the decay alone. "
            "Quieter sources, nearer or more microphones have to do the rest."
        )
    if after is None:
        said.append("No microphone is placed: the promise at the seats is not assessed.")
    over = [
        band
        for band, time, most in zip(OCTAVES, treated.before, treated.target.time, strict=True)
        if time > most
    ]
    if over and max(over) <= NOMINAL:
        bands = listed([spoken_octave(band) for band in over])
        said.append(
            f"Only {bands} is too long, where the decay of so small a room is predicted nominally: "
            "measure it before anything is bought."
        )
    dry = _dry(treated, target)
    if dry:
        bands = listed([spoken_octave(band) for band in dry])
        said.append(f"Drier than recommended for speech at {bands}.")
    if treated.status == "infeasible" and not curtains:
        said.append("Curtains before walls of glass are left out; --curtains lets them in.")
    currency = loaded.room.project.currency
    if treated.products and currency != treated.currency:
        said.append(f"Prices are in {treated.currency}; the document counts in {currency}.")
    return (*said, *treated.assumed)


def _misses(room: Room, quantity: Quantity) -> bool:
    wanted = room.targets.chance
    if quantity.target is None or quantity.chance is None:
        return False
    return quantity.value < quantity.target or (wanted is not None and quantity.chance < wanted)


def _dry(treated: Treated, target: DecayTarget) -> tuple[float, ...]:
    """Octaves of speech that end below the tolerance, though the room was not so dry before."""
    usual = target.time[2] / 1.2
    return tuple(
        band
        for band, before, after in zip(OCTAVES, treated.before, treated.after, strict=True)
        if 250 <= band <= 2000 and after < DRY * usual <= before
    )


# JSON -------------------------------------------------------------------------------------------


def as_json(found: Treatment) -> dict[str, Any]:
    """What ``treat --format json`` prints; SI throughout."""
    treated = found.treated
    return {
        "treatment": {
            "patches": {
                key: one.model_dump(mode="json", by_alias=True)
                for key, one in treated.patches.items()
            },
            "modules": dict(treated.laid.modules),
            "products": [
                {
                    "id": one.id,
                    "name": one.name,
                    "count": one.count,
                    "area": round(one.area, 4),
                    "price": one.price,
                    "weight": round(one.weight, 1),
                }
                for one in treated.products
            ],
            "price": treated.price,
            "currency": treated.currency,
            "area": round(treated.area, 4),
            "target": {
                "time": [round(t, 4) for t in treated.target.time],
                "because": found.target.because,
                "scale": found.scale,
            },
            "before": {"time": [round(t, 4) for t in treated.before]},
            "after": {"time": [round(t, 4) for t in treated.after]},
            "proof": {
                "status": treated.status,
                "scope": treated.scope,
                "rounds": treated.rounds,
                "correction": [round(c, 4) for c in treated.correction],
                "bound": treated.bound if math.isfinite(treated.bound) else None,
                "short": list(treated.short),
            },
            "promise": {"before": _promise(found.before), "after": _promise(found.after)},
            "new_findings": list(found.new_findings),
            "gone_findings": list(found.gone_findings),
            "says": list(found.says),
            "cautions": list(CAUTIONS),
        }
    }


def _promise(found: Kept | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "kept": found.kept,
        "of": found.of,
        "worst": {
            name: {
                "value": round(q.value, 3),
                "target": q.target,
                "chance": None if q.chance is None else round(q.chance, 3),
            }
            for name, q in found.worst.items()
        },
    }
