"""Means over places: decay times with their deviation by ISO 3382-2, levels, how even they are."""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from wellheard.acoustics.levels import mean_level_db
from wellheard.bands import OCTAVES
from wellheard.measurement.results import Decay, SpatialMean
from wellheard.units import energy

FEWEST_PLACES: Final = 2
"""Pairs of source and microphone of the survey method; fewer are no mean over a room."""

PLACES_OF_GRADES: Final = (("precision", 12), ("engineering", 6), ("survey", FEWEST_PLACES))
"""Pairs of source and microphone that each grade asks for [L ISO 3382-2:2008, Table 1]."""

REPEATED_DB: Final = 0.5
"""Standard deviation of a level when a microphone is put up again; common practice, no source."""

_BANDWIDTH = 0.71  # of an octave, re its mid-band
_DECAYS = 10.0  # that one integrated response is worth


def deviation_of_t20(mean: float, *, octave: float, places: int) -> float:
    """Standard deviation of T20 averaged over places.

    Parameters
    ----------
    mean : float
        [s]
    octave : float
        Nominal [Hz].
    places : int
        Pairs of source and microphone, each with one integrated response.

    Returns
    -------
    float
        [s]

    References
    ----------
    .. [1] iso3382-2:2008, clause 7, via an open toolbox; an integrated response is ten decays.

    Examples
    --------
    >>> round(deviation_of_t20(0.5, octave=125.0, places=6), 4)
    0.0294
    """
    return _deviation(0.88, 1.90, mean, octave, places)


def deviation_of_t30(mean: float, *, octave: float, places: int) -> float:
    """Standard deviation of T30 averaged over places; parameters as of :func:`deviation_of_t20`.

    Parameters
    ----------
    mean : float
        [s]
    octave : float
        Nominal [Hz].
    places : int
        Pairs of source and microphone.

    Returns
    -------
    float
        [s]

    References
    ----------
    .. [1] iso3382-2:2008, clause 7, via an open toolbox; an integrated response is ten decays.

    Examples
    --------
    >>> round(deviation_of_t30(1.0, octave=1000.0, places=12), 4)
    0.0064
    """
    return _deviation(0.55, 1.52, mean, octave, places)


def _deviation(factor: float, share: float, mean: float, octave: float, places: int) -> float:
    if not (mean > 0.0 and places >= 1):
        raise ValueError(f"a mean of {mean} s over {places} places: both must be more than 0")
    width = _BANDWIDTH * octave
    return factor * mean * math.sqrt((1.0 + share / _DECAYS) / (places * width * mean))


def spatial_mean_t20(places: Sequence[Sequence[Decay]]) -> SpatialMean:
    """Arithmetic mean of T20 over places, by octave.

    Parameters
    ----------
    places : sequence of sequence of Decay
        The octaves of each pair of source and microphone.

    Returns
    -------
    SpatialMean
        None where fewer than two places have a value.

    References
    ----------
    .. [1] iso3382-2:2008, clauses 4.3.1 and 7, via open texts.
    """
    return _spatial_mean("T20", places, lambda decay: decay.t20, deviation_of_t20)


def spatial_mean_t30(places: Sequence[Sequence[Decay]]) -> SpatialMean:
    """Arithmetic mean of T30 over places, by octave.

    Parameters
    ----------
    places : sequence of sequence of Decay
        The octaves of each pair of source and microphone.

    Returns
    -------
    SpatialMean
        None where fewer than two places have a value.

    References
    ----------
    .. [1] iso3382-2:2008, clauses 4.3.1 and 7, via open texts.
    """
    return _spatial_mean("T30", places, lambda decay: decay.t30, deviation_of_t30)


def _spatial_mean(
    name: str,
    places: Sequence[Sequence[Decay]],
    time: Callable[[Decay], float | None],
    deviation: Callable[..., float],
) -> SpatialMean:
    values: list[float | None] = []
    sigma: list[float | None] = []
    count = []
    for octave in OCTAVES:
        there = list(_there(places, octave, time))
        count.append(len(there))
        if len(there) < FEWEST_PLACES:
            values.append(None)
            sigma.append(None)
            continue
        mean = math.fsum(there) / len(there)
        values.append(mean)
        sigma.append(deviation(mean, octave=octave, places=len(there)))
    return SpatialMean(tuple(values), tuple(sigma), tuple(count), _how(name, count))


def _there(
    places: Iterable[Sequence[Decay]], octave: float, time: Callable[[Decay], float | None]
) -> Iterable[float]:
    for decays in places:
        for decay in decays:
            value = time(decay)
            if decay.octave == octave and value is not None:
                yield value


def of_pairs(recorded: Iterable[tuple[Hashable, Sequence[Decay]]]) -> list[tuple[Decay, ...]]:
    """Decays of each pair of source and microphone, once.

    Parameters
    ----------
    recorded : iterable of (hashable, sequence of Decay)
        What tells one pair from another, and its octaves; as often as it was recorded.

    Returns
    -------
    list of tuple of Decay
        Of a pair that was recorded more than once the arithmetic means of its T20 and T30: a
        second recording there is no second place.

    References
    ----------
    .. [1] iso3382-2:2008, clause 4.3.1: combinations of source and microphone count.
    """
    pairs: dict[Hashable, list[Sequence[Decay]]] = {}
    for pair, decays in recorded:
        pairs.setdefault(pair, []).append(decays)
    return [
        tuple(_mean_decay(each) for each in zip(*several, strict=True))
        for several in pairs.values()
    ]


def _mean_decay(several: Sequence[Decay]) -> Decay:
    def mean(times: Iterable[float | None]) -> float | None:
        known = [time for time in times if time is not None]
        return math.fsum(known) / len(known) if known else None

    return replace(
        several[0], t20=mean(one.t20 for one in several), t30=mean(one.t30 for one in several)
    )


def _how(name: str, count: Sequence[int]) -> str:
    """Which mean it is, and for which grade there are places enough."""
    most = max(count, default=0)
    if most < FEWEST_PLACES:
        return (
            f"no mean of {name}: {most} of the {FEWEST_PLACES} places that the survey method of "
            "ISO 3382-2 asks for gave a value; record at more places"
        )
    grade = next(word for word, needed in PLACES_OF_GRADES if most >= needed)
    return (
        f"arithmetic mean of {name} over up to {most} places, as many as the {grade} method of "
        "ISO 3382-2 asks for; standard deviation by its clause 7, of chance alone"
    )


def mean_of_levels(levels_db: Sequence[float]) -> tuple[float, float | None]:
    """Energetic mean of levels at several places, and its standard deviation.

    Parameters
    ----------
    levels_db : sequence of float
        One for each place, one at least. [dB]

    Returns
    -------
    (float, float or None)
        [dB]; the deviation, by how the energies scatter, is None for a single place.

    Examples
    --------
    >>> mean, sigma = mean_of_levels([70.0, 73.0])
    >>> round(mean, 2), round(sigma, 2)
    (71.75, 1.44)
    """
    mean_db = mean_level_db(levels_db)
    count = len(levels_db)
    if count < 2:
        return mean_db, None
    over = [energy(level - mean_db) for level in levels_db]
    variance = math.fsum((e - 1.0) ** 2 for e in over) / (count - 1)
    return mean_db, 10.0 / math.log(10.0) * math.sqrt(variance / count)


def uniformity_db(
    levels_db: Mapping[str, float], sigma_db: Mapping[str, float] | None = None
) -> tuple[float, float]:
    """How far levels are apart: the loudest place less the quietest.

    Parameters
    ----------
    levels_db : mapping of str to float
        By place, two at least. [dB]
    sigma_db : mapping of str to float, optional
        Of each place, what is common to all left out, as a calibration is; else
        :data:`REPEATED_DB`. [dB]

    Returns
    -------
    (float, float)
        The difference and its standard deviation. [dB]

    Raises
    ------
    ValueError
        Fewer than two places.

    Examples
    --------
    >>> span, sigma = uniformity_db({"s1": 66.0, "s2": 64.5, "s3": 67.5})
    >>> round(span, 2), round(sigma, 2)
    (3.0, 0.71)
    """
    if len(levels_db) < FEWEST_PLACES:
        raise ValueError(f"{len(levels_db)} places: two levels at least can be apart")
    loudest, quietest = (pick(levels_db, key=lambda k: levels_db[k]) for pick in (max, min))
    of = {} if sigma_db is None else sigma_db
    sigma = math.hypot(of.get(loudest, REPEATED_DB), of.get(quietest, REPEATED_DB))
    return levels_db[loudest] - levels_db[quietest], sigma
