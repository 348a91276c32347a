"""Where a promise cannot be kept: who misses it, by how much, and what would have to give."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from wellheard.place.objective import UNREACHED
from wellheard.place.proposal import Shortfall
from wellheard.place.rows import Block, Rows
from wellheard.predict.ledger import least_margin
from wellheard.predict.outbound import transfer
from wellheard.predict.scene import Scene
from wellheard.predict.spread import quantities
from wellheard.predict.surfaces import bands
from wellheard.predict.tolerances import chance_of

UNITS = {"sti_outbound": "", "direct_to_reverberant_db": "dB", "speech_to_noise_db": "dB"}
REACH = "rated-distance"
LOUDSPEAKER = "loudspeaker-nearer-than-talkers"
NO_MICROPHONE = "no-microphone-in-space"
"""A talker behind a closed partition, with no microphone on the same side."""
TOGETHER = "served-together"
"""A talker whom a place would serve, but not with the microphones that the others need."""


def shortfalls(rows: Rows, unserved: Sequence[int], *, count: int) -> tuple[Shortfall, ...]:
    """Talkers of rows that are not served, with the best that any single place could do.

    The worst facing of a talker speaks for it; ``count`` is the number of microphones proposed.
    """
    worst: dict[str, Shortfall] = {}
    least: dict[str, float] = {}
    for row in unserved:
        block, here = rows.at(row)
        talker = block.talker(here)
        margin, found = _at_best(block, here, max(1, count))
        if talker in least and least[talker] <= margin:
            continue
        least[talker] = margin
        worst[talker] = found
    return tuple(sorted(worst.values(), key=lambda s: (s.best_chance, s.talker)))


def _at_best(block: Block, row: int, count: int) -> tuple[float, Shortfall]:
    """Margin and shortfall of a row at the place that suits it best.

    Judged with as many microphones open as the proposal has; where that would do, with one
    more, since the proposal has none to spare. Where even that would do, it is the others that
    are in the way.
    """
    objective = block.objective
    for opened in (count, count + 1):
        margins = objective.margins(opened)[row]
        best = int(np.argmax(margins))
        if margins[best] < 0:
            break
    margin = float(margins[best])
    each = objective.by_target(opened)
    if margin <= UNREACHED / 2 or not each:
        return margin, _out_of_reach(block, row)
    found = objective.quantities(opened)
    values = {
        "sti_outbound": (found.sti, found.sti_sigma),
        "direct_to_reverberant_db": (
            found.direct_to_reverberant_db,
            found.direct_to_reverberant_sigma_db,
        ),
        "speech_to_noise_db": (found.speech_to_noise_db, found.speech_to_noise_sigma_db),
    }
    target = min(each, key=lambda one: float(each[one][row, best]))
    value, sigma = (float(v[row, best]) for v in values[target])
    promised = float(getattr(block.space.scene.room.targets, target))
    place = objective.candidates[best]
    return margin, Shortfall(
        talker=block.talker(row),
        target=target if margin < 0 else TOGETHER,
        best_value=value,
        target_value=promised,
        unit=UNITS[target],
        best_chance=chance_of(value - promised, sigma),
        at=place.at,
        product=place.product.id,
        aim_deg=place.aim_deg,
        lacking=max(0.0, -float(each[target][row, best]) * sigma),
        seat=block.seat(row),
        part=block.space.name,
    )


def _out_of_reach(block: Block, row: int) -> Shortfall:
    """The allowed place that comes nearest to its product's usual rated distance.

    Where one lies within it, a loudspeaker is in the way of every such place.
    """
    objective = block.objective
    usual = np.array([c.product.usual_distance for c in objective.candidates])
    distance = objective.distance[row]
    best = int(np.argmin(distance - usual))
    within = bool(objective.rated[row].any())
    if within:
        best = int(np.argmin(np.where(objective.rated[row], distance, np.inf)))
    place = objective.candidates[best]
    return Shortfall(
        talker=block.talker(row),
        target=LOUDSPEAKER if within else REACH,
        best_value=float(distance[best]),
        target_value=float(usual[best]),
        unit="m",
        best_chance=0.0,
        at=place.at,
        product=place.product.id,
        lacking=0.0 if within else float(distance[best] - usual[best]),
        seat=block.seat(row),
        part=block.space.name,
    )


def would_have_to_give(
    scene: Scene, missing: Sequence[Shortfall], *, count: int = 1, part: str = ""
) -> tuple[str, ...]:
    """What would make an impossible promise possible, one sentence for each way.

    Each is computed from the largest shortfall of its kind, with ``count`` microphones; whether
    it can be built is not said. ``part`` names the space where it is but a part of the room.
    """
    sentences: list[str] = []
    where = f" ({part})" if part else ""
    ratio = [s for s in missing if s.target == "direct_to_reverberant_db"]
    if ratio:
        short = max(s.lacking for s in ratio)
        now = float(np.mean(scene.reverberation.time[2:4]))
        # The reverberant level follows the decay time, so the ratio gains what it loses.
        then = math.floor(100 * now * 10 ** (-short / 10)) / 100
        sentences.append(
            f"The room{where} would need a mid-frequency reverberation time of about "
            f"{then:.2f} s instead of {now:.2f} s (more absorption), or microphones about "
            f"{math.ceil(100 * (1 - 10 ** (-short / 20)))} % nearer to {_names(ratio)}."
        )
        lowest = min(s.target_value - s.lacking for s in ratio)
        sentences.append(
            "Or the direct-to-reverberant target would have to be "
            f"{_db(math.floor(lowest))} dB{f' for {part}' if part else ''}."
        )
    noise = [s for s in missing if s.target == "speech_to_noise_db"]
    if noise:
        short = max(s.lacking for s in noise)
        sentences.append(
            f"Noise at the microphones would have to fall by about {math.ceil(short)} dB for "
            f"{_names(noise)}, or the talkers would have to speak up by as much."
        )
    index = [s for s in missing if s.target == "sti_outbound"]
    if index:
        sentences.append(_for_intelligibility(scene, index, microphones=count, where=where))
    far = [s for s in missing if s.target == REACH]
    if far:
        sentences.append(
            f"{_names(far)} would need an allowed microphone within its rated distance: allow "
            "another mounting or product, or move the place."
        )
    played = [s for s in missing if s.target == LOUDSPEAKER]
    if played:
        sentences.append(
            f"Every allowed microphone within its rated distance of {_names(played)} is nearer to "
            "a loudspeaker: move the loudspeaker, or relax loudspeaker-nearer-than-talkers with "
            "its reason."
        )
    together = [s for s in missing if s.target == TOGETHER]
    if together:
        sentences.append(
            f"{_names(together)} could be served, but not together with the others: a further "
            "microphone has no place beside theirs, or opens the mixer too far for them."
        )
    return tuple(sentences)


SHORTEST = 0.2
"""Decay times shorter than this share of the present ones are not proposed."""
QUIETER_DB = (0.0, 6.0, 12.0, 30.0)
"""Steps by which noise is lowered until a shorter decay can do; the last is as good as none."""


def _for_intelligibility(
    scene: Scene, rows: list[Shortfall], *, microphones: int, where: str
) -> str:
    """How short the decay, and how quiet the room, would have to be for a promised STI."""
    said = f"STI at {_names(rows)} stops at {min(s.best_value for s in rows):.2f}"
    now = float(np.mean(scene.reverberation.time[2:4]))
    for quieter_db in QUIETER_DB:
        share = _longest_share(scene, rows, quieter_db, microphones=microphones)
        if share is None:
            continue
        then = math.floor(100 * now * share) / 100
        noise = "with the noise as it is"
        if quieter_db == QUIETER_DB[-1]:
            noise = "almost without noise"
        elif quieter_db:
            noise = f"with noise {quieter_db:g} dB lower at the microphones"
        return (
            f"{said}: the room{where} would need a mid-frequency reverberation time of about "
            f"{then:.2f} s instead of {now:.2f} s {noise}, or a lower target."
        )
    return f"{said}: no reverberation time or noise level mends that, only a lower target."


def _longest_share(
    scene: Scene, rows: list[Shortfall], quieter_db: float, *, microphones: int
) -> float | None:
    """Largest share of the present decay times at which every row keeps all its targets."""
    if not _all_keep(scene, rows, SHORTEST, quieter_db, microphones):
        return None
    low, high = SHORTEST, 1.0
    if _all_keep(scene, rows, high, quieter_db, microphones):
        return high
    while high - low > 0.005:
        middle = (low + high) / 2
        if _all_keep(scene, rows, middle, quieter_db, microphones):
            low = middle
        else:
            high = middle
    return low


def _all_keep(
    scene: Scene, rows: list[Shortfall], share: float, quieter_db: float, microphones: int
) -> bool:
    decay = scene.reverberation
    # More absorption, spread as it is: the decay is about as much shorter, and the level follows.
    drier = scene.propagation.absorbing(1 / share)
    changed = replace(
        scene,
        propagation=drier,
        reverberation=replace(decay, time=bands(drier.time), level_time=bands(drier.level_time)),
        background_db=scene.background_db - quieter_db,
        sources=tuple(
            replace(
                source,
                levels_db_at_1m={f: v - quieter_db for f, v in source.levels_db_at_1m.items()},
            )
            for source in scene.sources
        ),
    )
    names = [scene.talkers[i].id for i in scene.row_talker]
    for short in rows:
        paths = transfer(
            changed,
            scene.catalogue.microphone(short.product),
            np.asarray([short.at]),
            np.asarray([short.aim_deg]),
        )
        least = least_margin(changed, quantities(changed, paths, microphones=microphones))
        if (
            min(least[r, 0] for r, name in enumerate(names) if name == (short.seat or short.talker))
            < 0
        ):
            return False
    return True


def _names(rows: list[Shortfall]) -> str:
    names = [r.talker for r in rows]
    if len(names) <= 4:
        return ", ".join(names)
    return f"{', '.join(names[:3])} and {len(names) - 3} more"


def _db(value: float) -> str:
    return f"{value:g}".replace("-", "−")
