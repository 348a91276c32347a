"""How far each input and the model itself may be off: named constants with their provenance.

The model's own errors were set on residuals of 32 source–receiver pairs in two measured bare
rooms (146 m³, T about 2 s, and 80 m³, T about 0.55 s; 500 Hz–4 kHz), where the 10–90 % range
covered 78–80 % of the clarity residuals. Two rooms are few: replace these when more are known.
Tolerances of what a customer tells are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import numpy as np

from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES, SPEECH_BANDS
from wellheard.room.document import Room

NORMAL_90: Final = 1.2815515655446004
"""Standard deviations from the middle to the 10 % and 90 % points of a normal spread."""

BLIND_LOG_TIME_SIGMA: Final = (0.5, 0.25, 0.2, 0.2, 0.2, 0.25, 0.5)
"""σ of ln T predicted from published absorption, 125 Hz–8 kHz (two measured rooms)."""

MEASURED_LOG_TIME_SIGMA: Final = (0.1, 0.06, 0.04, 0.04, 0.04, 0.04, 0.06)
"""σ of ln T where the decay was measured: 4 % at mid band (two measured rooms), more at the
bottom, where ISO 3382-2 clause 7 gives the larger statistical error."""

MEASURED_TIME: Final = "space.measured_reverberation"

TIME_FACTOR: Final = {"measured": 1.0, "told": 2.0, "drawing": 5.0, "assumed": 5.0}
"""Factor on ``MEASURED_LOG_TIME_SIGMA`` by the basis that the document states for
``space.measured_reverberation`` itself (common practice): a figure that somebody told lost its
octaves and its microphone positions on the way, one on a drawing was predicted, as ours is."""

AS_BUILT_FACTOR: Final = 1.5
"""Factor on ``MEASURED_LOG_TIME_SIGMA`` where finishes and scattering were calibrated to a decay
(common practice): people and chairs that come or go since absorb as published."""

LEAST_SCATTERING: Final = 0.1
MOST_SCATTERING: Final = 0.5
"""Between these the scattering of a furnished room lies, 10–90 % (two measured rooms; furnished
rooms are usually put at .2–.4). Decays at the two ends give the σ that scattering adds."""

FINISH_FACTOR: Final = {"measured": 0.8, "drawing": 1.0, "told": 1.0, "assumed": 1.5}
"""Factor on ``BLIND_LOG_TIME_SIGMA`` by the basis of ``space.finishes``, or of floor, ceiling or
a wall where that is less known (common practice)."""

LARGE_SURFACES: Final = tuple(f"space.finishes.{name}" for name in ("floor", "ceiling", "walls"))

MODEL_CLARITY_SIGMA_DB: Final = 0.6
"""σ of the model's own error in a four-octave mean of C50, decay known (two measured rooms);
carried over to the direct-to-reverberant ratio."""

MODEL_STI_SIGMA: Final = 0.015
"""σ of STI with a known decay, systematic (two measured rooms)."""

RANDOM_STI_SIGMA: Final = 0.007
"""σ of STI by chance interference from place to place (two measured rooms)."""

OCTAVE_WIDTH: Final = 0.707
"""Width of an octave band over its mid frequency."""

TALKER_TURN_SIGMA_DB: Final = 1.0
"""σ between people of the sound sent towards a microphone at a given angle, mean of
500 Hz–4 kHz (common practice)."""

EFFORT_SIGMA_DB: Final = 3.0
"""σ between people of the level at one stated vocal effort (common practice)."""

NOISE_SIGMA_DB: Final = {"measured": 1.0, "drawing": 2.0, "told": 2.0, "assumed": 4.0}
"""σ of the background noise by the basis of ``noise.background`` (common practice)."""

POSITION_SIGMA: Final = {"measured": 0.08, "drawing": 0.1, "told": 0.15, "assumed": 0.25}
"""σ of a mouth's place by the basis of ``people.seats`` [m] (common practice); nobody sits
still to better than 8 cm."""

MOUTH_HEIGHT_SIGMA: Final = {"measured": 0.03, "drawing": 0.05, "told": 0.05, "assumed": 0.1}
"""σ of a mouth's height by the basis of its own ``height`` [m] (common practice): people differ
and lean back, and where nothing is said the chairs may be stools or sofas."""

CEILING_HEIGHT_SIGMA: Final = {"measured": 0.01, "drawing": 0.02, "told": 0.08, "assumed": 0.2}
"""σ of ``space.height`` [m] (common practice): who is asked on the phone says the round figure.
It shows in what a survey asks; beside that of the finishes it is nothing in a decay time."""

WALL_SIGMA: Final = {"measured": 0.02, "drawing": 0.05, "told": 0.1, "assumed": 0.25}
"""σ of the place of one wall by the basis of ``space.outline`` [m] (common practice)."""


def basis_of(room: Room, path: str) -> str:
    """Basis of an input: the longest stated path that covers it, ``told`` when it was given.

    A value that the document leaves out is ``assumed``, whatever is said of what surrounds it: a
    drawing vouches for nothing that is not on it. Only a basis of the very path vouches for a
    default. A ``measured_reverberation`` was measured, unless a basis of its own says otherwise.
    """
    exact = room.basis.get(path)
    if exact is not None:
        return str(exact)
    if not is_given(room, path):
        return "assumed"
    if path == MEASURED_TIME:
        return "measured"
    parts = path.split(".")
    for end in range(len(parts) - 1, 0, -1):
        found = room.basis.get(".".join(parts[:end]))
        if found is not None:
            return str(found)
    return "told"


def is_given(room: Room, path: str) -> bool:
    """Whether the document itself gives the value at a dotted path, rather than a default."""
    node: object = room
    for part in path.split("."):
        if isinstance(node, dict):
            if part not in node:
                return False
            node = node[part]
            continue
        given = getattr(node, "model_fields_set", None)
        if given is None:
            return True  # inside a value that is given whole
        name = "from_" if part == "from" else part
        if name not in given:
            return False
        node = getattr(node, name)
    return True


def mouth_sigma(room: Room) -> float:
    """σ of a mouth's place along the way to a microphone [m], see :func:`least_known_mouth`."""
    return least_known_mouth(room)[0]


def least_known_mouth(room: Room) -> tuple[float, str]:
    """σ of a mouth's place along the way to a microphone [m], and the input that sets it.

    Never less than the place on the plan or the height is off, whichever is more: the way lies
    between the two directions. Of seats as of heights the least known counts, where one has a
    basis of its own.
    """
    seats = room.people.seats
    places = [f"people.seats.{name}.at" for name in seats] or ["people.seats"]
    heights = [
        f"people.{group}.{name}.height"
        for group, members in (("seats", seats), ("standing", room.people.standing))
        for name in members
    ]
    known = [(POSITION_SIGMA[basis_of(room, path)], path) for path in places]
    known += [(MOUTH_HEIGHT_SIGMA[basis_of(room, path)], path) for path in heights]
    return max(known, key=lambda one: one[0])


def decay_log_sigma(room: Room) -> tuple[float, ...]:
    """σ of ln T per octave: of a decay in the document, else of published absorption."""
    if room.space.measured_reverberation is not None:
        factor = TIME_FACTOR[basis_of(room, MEASURED_TIME)]
        return tuple(factor * sigma for sigma in MEASURED_LOG_TIME_SIGMA)
    if is_as_built(room):
        return tuple(AS_BUILT_FACTOR * sigma for sigma in MEASURED_LOG_TIME_SIGMA)
    return finishes_log_sigma(room)


def is_as_built(room: Room) -> bool:
    """Whether finishes and scattering were calibrated together to a measured decay.

    The document says so by the basis of both: a scattering alone cannot be measured in a room. A
    floor, ceiling or wall that has been told since ends it.
    """
    both = (room.basis.get("space.finishes"), room.basis.get("space.scattering"))
    return both == ("measured", "measured") and least_known_finish(room)[0] == "measured"


def finishes_log_sigma(room: Room) -> tuple[float, ...]:
    """σ of ln T per octave by published absorption, whatever else is known."""
    factor = FINISH_FACTOR[least_known_finish(room)[0]]
    return tuple(factor * sigma for sigma in BLIND_LOG_TIME_SIGMA)


def level_log_sigma(room: Room, scattered: Array) -> Array:
    """σ of ln(reverberant energy) per octave that scattering leaves.

    Parameters
    ----------
    room : Room
        The document.
    scattered : ndarray, shape (7,)
        σ of it between rooms that scatter little and much: of the same absorption, or, with a
        measured decay, of the same decay.

    Notes
    -----
    With a measured decay, in the document or in calibrated finishes, two things are known of the
    absorption: that it makes this decay at some scattering, and what the finishes say. Both
    together are surer than either, by the sum of their inverse squares.
    """
    if room.space.measured_reverberation is None and not is_as_built(room):
        return scattered
    told = np.asarray(finishes_log_sigma(room))
    return np.asarray(scattered * told / np.maximum(np.hypot(scattered, told), 1e-12))


def least_known_finish(room: Room) -> tuple[str, str]:
    """Basis of the finishes, or of floor, ceiling or a wall that is less known, and its path."""
    said = [(basis_of(room, "space.finishes"), "space.finishes"), *_of_large_surfaces(room)]
    return max(said, key=lambda one: FINISH_FACTOR[one[0]])


def random_clarity_sigma_db(time: Array) -> float:
    """σ by chance interference of a mean of C50 over 500 Hz–4 kHz, in a decay of such times.

    Parameters
    ----------
    time : ndarray, shape (7,)
        Decay time per octave. [s]

    Notes
    -----
    An octave alone: 4.34·√((12 + 6.9/T)/B) dB with its width B, from the number of independent
    values that a noise of that width takes in each part of the decay; what is measured at one
    place differs by that from the mean over places nearby. Octaves are independent.

    Examples
    --------
    >>> import numpy as np
    >>> round(random_clarity_sigma_db(np.full(7, 0.5)), 2)
    0.4
    """
    width = OCTAVE_WIDTH * np.asarray(EXACT_OCTAVES)[SPEECH_BANDS]
    each = 4.34 * np.sqrt((12.0 + 6.9 / time[SPEECH_BANDS]) / width)
    return float(np.sqrt(np.sum(np.square(each))) / len(each))


def _of_large_surfaces(room: Room) -> Iterator[tuple[str, str]]:
    """What is stated of floor, ceiling or walls alone; a patch is too small to count."""
    for path, basis in room.basis.items():
        if path.startswith(LARGE_SURFACES):
            yield str(basis), path


def chance_of(margin: float, sigma: float) -> float:
    """Chance that a normal spread of ``sigma`` round ``margin`` stays at or above zero."""
    if sigma == 0:
        return 1.0 if margin >= 0 else 0.0
    return 0.5 * math.erfc(-margin / (sigma * math.sqrt(2)))


def deviations_for(chance: float) -> float:
    """Standard deviations by which a value must clear its target for ``chance``.

    Examples
    --------
    >>> round(deviations_for(0.8), 4)
    0.8416
    """
    from statistics import NormalDist

    return NormalDist().inv_cdf(chance)
