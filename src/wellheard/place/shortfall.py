"""Where a promise cannot be kept: who misses it, by how much, and what would have to give."""

from __future__ import annotations

import math

import numpy as np

from wellheard.place.candidates import Options
from wellheard.place.objective import UNREACHED, Objective
from wellheard.place.proposal import Shortfall
from wellheard.place.solve import Solution
from wellheard.predict.scene import Scene
from wellheard.predict.tolerances import chance_of, deviations_for

UNITS = {"sti_outbound": "", "direct_to_reverberant_db": "dB", "speech_to_noise_db": "dB"}
REACH = "rated-distance"


def shortfalls(
    scene: Scene, options: Options, objective: Objective, solution: Solution
) -> tuple[Shortfall, ...]:
    """Talkers that the proposal does not serve, with the best that any single place could do.

    Empty where every row is served. The worst facing of a talker speaks for it.
    """
    if not solution.unserved:
        return ()
    count = max(1, len(options.locked))
    margins = objective.margins(count)
    each = objective.by_target(count)
    found = objective.quantities(count)
    values = {
        "sti_outbound": (found.sti, found.sti_sigma),
        "direct_to_reverberant_db": (
            found.direct_to_reverberant_db,
            found.direct_to_reverberant_sigma_db,
        ),
        "speech_to_noise_db": (found.speech_to_noise_db, found.speech_to_noise_sigma_db),
    }
    worst: dict[int, Shortfall] = {}
    least: dict[int, float] = {}
    for row in solution.unserved:
        talker = scene.row_talker[row]
        best = int(np.argmax(margins[row]))
        margin = float(margins[row, best])
        if talker in least and least[talker] <= margin:
            continue
        least[talker] = margin
        place = options.allowed[best]
        if margin <= UNREACHED / 2 or not each:
            worst[talker] = Shortfall(
                talker=scene.talkers[talker].id,
                target=REACH,
                best_value=float(
                    np.min(
                        np.linalg.norm(
                            np.array([c.at for c in options.allowed]) - scene.mouths[row], axis=1
                        )
                    )
                ),
                target_value=max(place.product.rated_distances, default=math.inf),
                unit="m",
                best_chance=0.0,
                at=place.at,
                product=place.product.id,
            )
            continue
        target = min(each, key=lambda name: float(each[name][row, best]))
        value, sigma = (float(v[row, best]) for v in values[target])
        promised = float(getattr(scene.room.targets, target))
        worst[talker] = Shortfall(
            talker=scene.talkers[talker].id,
            target=target,
            best_value=value,
            target_value=promised,
            unit=UNITS[target],
            best_chance=chance_of(value - promised, sigma),
            at=place.at,
            product=place.product.id,
        )
    return tuple(sorted(worst.values(), key=lambda s: (s.best_chance, s.talker)))


def would_have_to_give(scene: Scene, missing: tuple[Shortfall, ...]) -> tuple[str, ...]:
    """What would make an impossible promise possible, one sentence for each way.

    Each is computed from the largest shortfall of its kind, one change at a time; whether it
    can be built is not said.
    """
    chance = scene.room.targets.chance
    beyond = deviations_for(chance) if chance is not None else 0.0
    sentences: list[str] = []
    ratio = [s for s in missing if s.target == "direct_to_reverberant_db"]
    if ratio:
        short = max(_short_db(s, beyond) for s in ratio)
        now = float(np.mean(scene.reverberation.time[2:4]))
        # The reverberant level follows the decay time, so the ratio gains what it loses.
        then = now * 10 ** (-short / 10)
        sentences.append(
            f"The room would need a mid-frequency reverberation time of about {then:.2f} s "
            f"instead of {now:.2f} s (more absorption), or microphones about "
            f"{100 * (1 - 10 ** (-short / 20)):.0f} % nearer to {_names(ratio)}."
        )
        lowest = min(s.target_value - short for s in ratio)
        sentences.append(
            f"Or the direct-to-reverberant target would have to be {_db(math.floor(lowest))} dB."
        )
    noise = [s for s in missing if s.target == "speech_to_noise_db"]
    if noise:
        short = max(_short_db(s, beyond) for s in noise)
        sentences.append(
            f"Noise at the microphones would have to fall by about {short:.0f} dB for "
            f"{_names(noise)}, or the talkers would have to speak up by as much."
        )
    index = [s for s in missing if s.target == "sti_outbound"]
    if index:
        best = min(s.best_value for s in index)
        sentences.append(
            f"STI at {_names(index)} stops at {best:.2f}: the room needs shorter reverberation and "
            "less noise together, or a lower target."
        )
    far = [s for s in missing if s.target == REACH]
    if far:
        sentences.append(
            f"{_names(far)} would need an allowed microphone within its rated distance: allow "
            "another mounting or product, or move the place."
        )
    return tuple(sentences)


def _short_db(row: Shortfall, beyond: float) -> float:
    """How much is missing for the wanted chance, from the chance that is reached [dB]."""
    gap = row.target_value - row.best_value
    if beyond == 0 or row.best_chance in (0.0, 1.0):
        return max(gap, 0.1)
    reached = deviations_for(min(max(row.best_chance, 1e-6), 1 - 1e-6))
    sigma = abs(gap / reached) if abs(reached) > 1e-3 else 1.7
    return max(gap + beyond * sigma, 0.1)


def _names(rows: list[Shortfall]) -> str:
    names = [r.talker for r in rows]
    if len(names) <= 4:
        return ", ".join(names)
    return f"{', '.join(names[:3])} and {len(names) - 3} more"


def _db(value: float) -> str:
    return f"{value:g}".replace("-", "−")
