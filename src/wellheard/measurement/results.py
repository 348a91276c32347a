"""What recordings say: frozen values that every reader shares.

Octaves are those of `wellheard.bands.OCTAVES`, 125 Hz to 8 kHz, unless a mapping names its own.
None is a value that the recording cannot give; a fault then says why.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np

from wellheard.arrays import Array
from wellheard.errors import InputError

Severity: TypeAlias = Literal["error", "warning", "note"]

Values: TypeAlias = tuple[float | None, ...]
"""One for each octave."""


@dataclass(frozen=True)
class Fault:
    """Something that a recording suffers from.

    Attributes
    ----------
    code : str
        Such as ``clipping``, ``hum``, ``dropout``, ``drift``, ``late-start`` or ``short-tail``.
    severity : str
        After an error nothing that rests on the recording is given.
    message : str
        What was found, where and how much of it.
    remedy : str
        What to do about it.
    """

    code: str
    severity: Severity
    message: str
    remedy: str


@dataclass(frozen=True, eq=False)
class Audio:
    """Samples of a file.

    Attributes
    ----------
    name : str
        Of the file, for messages.
    samples : ndarray, shape (samples, channels)
        Re full scale.
    rate : float
        [Hz]
    encoding : str
        In words, such as "WAV, 24 bit".
    bits : int or None
        Whole-number bits; None where samples are floating.
    """

    name: str
    samples: Array
    rate: float
    encoding: str
    bits: int | None

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.samples.shape[0] / self.rate

    def channel(self, number: int) -> Array:
        """Samples of one channel, counted from 1; shape (samples,).

        Raises
        ------
        InputError
            The file has fewer channels.
        """
        count = self.samples.shape[1]
        if not 1 <= number <= count:
            there = "one channel" if count == 1 else f"{count} channels"
            raise InputError(
                f"{self.name}: channel {number} of a file with {there}; a channel from 1 to {count}"
            )
        return np.ascontiguousarray(self.samples[:, number - 1])


@dataclass(frozen=True, eq=False)
class ImpulseResponse:
    """What a click would become between two places.

    Attributes
    ----------
    samples : ndarray, shape (samples,)
        Recorded over played, both re full scale; sound before ``zero`` is noise.
    rate : float
        [Hz]
    zero : int
        Sample at which the signal left.
    absolute : bool
        Whether ``zero`` is known from a loop-back; otherwise it lies just before what came first,
        and no delay can be told.
    drift_ppm : float or None
        How much faster the recorder's clock ran than the player's, which was corrected [1e-6].
    covers : (float, float) or None
        Frequencies that were played and recorded; None where that is not known [Hz].
    faults : tuple of Fault
    """

    samples: Array
    rate: float
    zero: int
    absolute: bool
    drift_ppm: float | None = None
    covers: tuple[float, float] | None = None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Decay:
    """The decay of one octave.

    Attributes
    ----------
    octave : float
        Nominal [Hz].
    edt, t20, t30 : float or None
        [s]; None where the range is not enough.
    range_db : float
        Peak of the squared response over its noise.
    curvature_percent : float or None
        100·(T30/T20 − 1).
    nonlinearity_permille : float or None
        1000·(1 − r²) of the line of T30, else of T20.
    knee : float or None
        When the decay goes under in noise, after the direct sound [s].
    c50_db, d50 : float or None
    why_not : str
        Why a decay time is None.
    curve : tuple of (float, float)
        Time after the direct sound [s] and decay level [dB], thinned out for a chart.
    """

    octave: float
    edt: float | None
    t20: float | None
    t30: float | None
    range_db: float
    curvature_percent: float | None
    nonlinearity_permille: float | None
    knee: float | None
    c50_db: float | None
    d50: float | None
    why_not: str = ""
    curve: tuple[tuple[float, float], ...] = field(default=(), repr=False)


@dataclass(frozen=True)
class Arrival:
    """When the first sound came and with which sign.

    Attributes
    ----------
    onset : float
        After the start of the response that was given or recovered [s].
    delay : float or None
        After the signal left [s]; None without a loop-back.
    polarity : int or None
        +1 or −1, of what lies below 1 kHz; None where it cannot be told.
    """

    onset: float
    delay: float | None
    polarity: Literal[1, -1] | None

    def distance(self, speed: float) -> float | None:
        """How far it came at a speed of sound [m]."""
        return None if self.delay is None else self.delay * speed


@dataclass(frozen=True)
class ResponseResult:
    """What an impulse response says.

    Attributes
    ----------
    decays : tuple of Decay
        Of the seven octaves.
    modulation : tuple of tuple of float
        Modulation transfer without noise and hearing, seven octaves by fourteen frequencies;
        empty where the response is too short or too noisy for it.
    sti : float or None
        From ``modulation`` alone: no noise, no level.
    arrival : Arrival
    gain_db : tuple of float
        Energy of the octave, recorded over played [dB re full scale over full scale].
    direct_gain_db : tuple of float or None
        The same of the direct sound alone, by a window of 2.5 ms.
    faults : tuple of Fault
    """

    decays: tuple[Decay, ...]
    modulation: tuple[tuple[float, ...], ...]
    sti: float | None
    arrival: Arrival
    gain_db: tuple[float, ...]
    direct_gain_db: Values
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class NoiseResult:
    """What a steady recording says: noise of a room, or a steady test signal.

    Attributes
    ----------
    levels_db : dict of float to float
        Octave levels by nominal frequency, 31.5 Hz to 8 kHz as far as the recording carries them:
        sound pressure levels where calibrated, else re full scale.
    calibrated : bool
    dba, dbc : float
        Of the octaves.
    nc, nc_governing : float or None
        By tangency, and the octave that touches [Hz]; None where not calibrated or off the curves.
    nc_label, rc_label : str
        In words of the standard, '' where not rated.
    seconds : float
    spread_db : float
        A-weighted level exceeded for 10 % of the time less that for 90 %, in pieces of 125 ms.
    sigma_db : float
        Standard deviation of the level in dBA.
    faults : tuple of Fault
    """

    levels_db: dict[float, float]
    calibrated: bool
    dba: float
    dbc: float
    nc: float | None
    nc_governing: float | None
    nc_label: str
    rc_label: str
    seconds: float
    spread_db: float
    sigma_db: float
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Calibration:
    """What brings samples to pascals.

    Attributes
    ----------
    pascal_per_unit : float
        Sound pressure of a sample at full scale.
    how : str
        "calibrator", "substitution" or "stated", in words for the report.
    sigma_db : float
    drift_db : float or None
        Between before and after; None where it was not checked after.
    faults : tuple of Fault
    """

    pascal_per_unit: float
    how: str
    sigma_db: float
    drift_db: float | None = None
    faults: tuple[Fault, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether levels may rest on it: there is no error among its faults."""
        return not any(fault.severity == "error" for fault in self.faults)


@dataclass(frozen=True)
class EchoLoss:
    """What comes back of the far end before anything cancels it.

    Attributes
    ----------
    loss_bands_db : tuple of float
        By octave; positive where less comes back than was sent.
    loss_db : float
        Weighted over 300-3400 Hz, as what is needed is: see `wellheard.acoustics.echo`.
    tail_to_noise : float
        When the echo path goes under in noise, after it begins [s].
    delay : float or None
        Until the echo begins [s].
    faults : tuple of Fault
    """

    loss_bands_db: tuple[float, ...]
    loss_db: float
    tail_to_noise: float
    delay: float | None
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class CancellerResult:
    """What an echo canceller did, from what it was given and what it sent.

    Attributes
    ----------
    before_db, after_db : float or None
        Return loss at the beginning, and when it has settled.
    added_db : float or None
        What it adds when it has settled.
    converged : float or None
        When it first stays within 3 dB of what it adds in the end, after the far end began [s].
    double_talk_kept_db : float or None
        Level of the near end while both talk over what it is alone: below 0 is lost.
    double_talk_echo_db : float or None
        Echo after both have talked, over that before.
    curve : tuple of (float, float)
        Time [s] and return loss [dB] while the far end talks.
    faults : tuple of Fault
    """

    before_db: float | None
    after_db: float | None
    added_db: float | None
    converged: float | None
    double_talk_kept_db: float | None
    double_talk_echo_db: float | None
    curve: tuple[tuple[float, float], ...] = field(default=(), repr=False)
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class SpatialMean:
    """Mean over places, by octave.

    Attributes
    ----------
    values, sigma : tuple of float or None
        Arithmetic mean and its standard deviation.
    count : tuple of int
        Places that count, by octave.
    how : str
        What it is the mean of, and by which formula its deviation was found.
    """

    values: Values
    sigma: Values
    count: tuple[int, ...]
    how: str
