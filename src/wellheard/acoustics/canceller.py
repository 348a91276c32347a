"""An echo canceller that runs on signals: what cancelling can reach on a predicted echo path.

A partitioned-block Kalman filter in the frequency domain. It removes what is a linear image of the
reference and no more; suppression of the residual is not part of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array

Spectra: TypeAlias = npt.NDArray[np.complex128]

_BLOCK = 0.016  # the nearest power of two of samples is the block unless another is asked for [s]
_OPEN = 4.0  # variance before anything is known, re the path's power spread evenly over the tail,
_WIDEST = 32.0  # and the same that steps in one direction may bring it to
_LASTING = 100.0  # how long a path is believed to stay as it is [s]
_ERROR = 0.05  # memory of the error's power in each bin [s]
_COURSE = 0.07  # memory of the steps that the path has taken,
_STEADY = 0.05  # and of how well the next ones agree with it [s]
_SIGNIFICANT = 4.0  # standard deviations of chance agreement, from which steps are too short,
_LONGER = 2.0  # and by what the variance grows with each
_LEVEL = 0.1  # memory of the broadband powers [s]
_HARMFUL = 1.6  # residual over microphone power, from which no estimate at all is better
_TINY = float(np.finfo(np.float64).tiny)


@dataclass(frozen=True, eq=False)
class Cancelled:
    """What a canceller left of a microphone signal.

    Parameters
    ----------
    residual : ndarray, shape (samples,)
        In the unit of the microphone signal.
    erle_db : ndarray, shape (samples,)
        Power of the microphone over that of the residual, sliding. The echo return loss
        enhancement while only the far end talks, and no measure of the canceller else. [dB]
    path : ndarray, shape (taps,)
        The response from reference to microphone that was believed in at the end.
    """

    residual: Array
    erle_db: Array
    path: Array


class EchoCanceller:
    """Takes the echo out of a microphone signal, block by block.

    Parameters
    ----------
    rate : float
        Samples per second. [Hz]
    tail : float
        Length of the response that is modelled, to the next whole sample. [s]
    block : int, optional
        Samples taken at a time, which is also the delay; about 16 ms if omitted.

    Raises
    ------
    ValueError
        A number is out of its range.

    Notes
    -----
    The step in each bin of each partition is the variance of the path's error over that of the
    residual, so it shrinks by itself while somebody talks in the room or noise sets in. The
    residual's own power stands for what is not echo: it overstates that before convergence, which
    costs time, and is what keeps double talk from spoiling the path. As the path settles, its
    variance falls and the filter would no longer follow a sudden change; but then one step goes
    the way of the last, which those that near speech causes do not, and the variance grows until
    steps agree no more than by chance. A residual far above the microphone starts everything
    afresh.

    In double talk from the very start it hardly learns, and may leave more than came in.

    Ignored: clocks that drift, loudspeakers that are not linear (their distortion stays in the
    residual), delay of the echo beyond the tail.

    References
    ----------
    .. [1] enzner-vary:2006, Kalman filter in the frequency domain for echo control.
    .. [2] kuech:2014, the same in partitions, with diagonal covariances.
    """

    def __init__(self, *, rate: float, tail: float, block: int | None = None) -> None:
        if not (0.0 < rate < math.inf and 0.0 < tail < math.inf):
            raise ValueError(f"rate {rate} Hz and tail {tail} s must be more than 0")
        if block is None:
            block = max(1 << round(math.log2(rate * _BLOCK)), 1)
        if block < 1:
            raise ValueError(f"block {block}: it takes one sample at least")
        self._taps = math.ceil(tail * rate - 1e-6)
        partitions = -(-self._taps // block)
        self._last = self._taps - (partitions - 1) * block  # taps in the last partition
        shape = partitions, block + 1
        self.block = block
        self._partitions = partitions
        self._heard = np.zeros(block)  # last block of the reference
        # Spectra of the reference, newest first, written twice so that a slice has them in order.
        self._spectra = np.zeros((2 * partitions, block + 1), dtype=np.complex128)
        self._conjugates = np.zeros_like(self._spectra)
        self._powers = np.zeros((2 * partitions, block + 1))  # halved: half of each frame is new
        self._newest = 0
        self._path = np.zeros(shape, dtype=np.complex128)
        self._left = np.zeros(2 * block)  # last block of the residual, behind zeros
        self._variance = np.full(shape, _OPEN)
        self._drifts = np.zeros(shape)  # what each block adds to it, brought up to date in turn
        self._error = np.zeros(block + 1)
        self._course = np.zeros(shape, dtype=np.complex128)  # sum of past steps
        self._agreement = self._agreed_over = 0.0
        spans = _ERROR, _COURSE, _STEADY, _LEVEL
        self._keep = {span: math.exp(-block / rate / span) for span in spans}
        self._drift = -math.expm1(-block / rate / _LASTING)
        self._microphone_power = self._residual_power = 0.0
        self._reference_sum = self._microphone_sum = 0.0
        self._prior = 1.0  # power of the path in each partition as levels tell it
        self._blocks = 0  # since there has been a reference

    @property
    def path(self) -> Array:
        """Response from reference to microphone as now estimated, shape (taps,)."""
        return np.fft.irfft(self._path)[:, : self.block].ravel()[: self._taps]

    def process(self, reference: npt.ArrayLike, microphone: npt.ArrayLike) -> Array:
        """What is left of the next block of a microphone signal, or of several.

        Parameters
        ----------
        reference, microphone : array_like, shape (block,) or (any number of blocks,)
            What the loudspeakers were sent and what the microphone heard at the same time. The
            units need not be the same.

        Returns
        -------
        ndarray, as long as the signals
            In the unit of the microphone signal.

        Raises
        ------
        ValueError
            The signals are not of one length, in whole blocks, or hold what is no number.

        Examples
        --------
        >>> canceller = EchoCanceller(rate=8000.0, tail=0.02, block=80)
        >>> noise = np.random.default_rng(1).standard_normal((200, 80))
        >>> for played in noise:
        ...     left = canceller.process(played, 0.5 * played)
        >>> bool(np.abs(left).max() < 0.01)
        True
        """
        x, y = (np.asarray(signal, dtype=np.float64) for signal in (reference, microphone))
        if x.ndim != 1 or x.shape != y.shape or len(x) % self.block:
            raise ValueError(
                f"signals of shape {x.shape} and {y.shape}, not ({self.block},) each or several"
            )
        if not math.isfinite(float(x @ x) + float(y @ y)):
            raise ValueError("a signal holds what is no number, or far too much of it")
        played = np.concatenate([self._heard, x]).reshape(-1, self.block)
        self._heard = played[-1].copy()
        spectra = np.fft.rfft(np.concatenate([played[:-1], played[1:]], axis=1))
        residual = np.empty_like(y)
        for n, spectrum in enumerate(spectra):
            block = slice(n * self.block, (n + 1) * self.block)
            residual[block] = self._cancel(spectrum, float(x[block] @ x[block]), y[block])
        return residual

    def _cancel(self, spectrum: Spectra, came: float, y: Array) -> Array:
        """What is left of one block."""
        rows = self._listen(spectrum)
        estimate = np.fft.irfft((self._spectra[rows] * self._path).sum(axis=0))[self.block :]
        residual = y - estimate
        heard = float(y @ y)
        self._settle_prior(came, heard)
        self._left[self.block :] = residual
        step = self._step(rows, np.fft.rfft(self._left))
        self._lengthen_if_steady(step)
        self._path += step
        self._drifts[self._newest] = self._drift * _power(self._path[self._newest])
        self._start_afresh_if_harmful(heard, float(residual @ residual))
        return residual

    def _listen(self, latest: Spectra) -> slice:
        """Where what is kept of the last blocks of the reference is, newest first."""
        self._newest = (self._newest - 1) % self._partitions
        twice = slice(self._newest, None, self._partitions)
        self._spectra[twice] = latest
        self._conjugates[twice] = latest.conj()
        self._powers[twice] = 0.5 * _power(latest)
        return slice(self._newest, self._newest + self._partitions)

    def _settle_prior(self, came: float, heard: float) -> None:
        """While the first tail is heard, what levels tell of the path scales its variance."""
        self._reference_sum += came
        if self._blocks > self._partitions or self._reference_sum == 0.0:
            return
        self._blocks += 1
        self._microphone_sum += heard
        told = self._microphone_sum / self._reference_sum / self._partitions
        if told > 0.0:
            self._variance *= told / self._prior
            self._prior = told

    def _unexplained(self, error: Spectra) -> Array:
        """Power in each bin that is taken for no echo: the lasting and the present error."""
        now = _power(error)
        self._error += (1.0 - self._keep[_ERROR]) * (now - self._error)
        smooth = now.copy()
        smooth[1:-1] += now[:-2]
        smooth[1:-1] += now[2:]
        smooth[1:-1] /= 3.0
        return np.maximum(self._error, smooth, out=smooth)

    def _step(self, rows: slice, error: Spectra) -> Spectra:
        """What the Kalman filter adds to the path."""
        uncertain = self._variance * self._powers[rows]
        per_total = 1.0 / (uncertain.sum(axis=0) + self._unexplained(error) + _TINY)
        gain = self._conjugates[rows] * (error * per_total)
        gain *= self._variance
        keep = 1.0 - self._drift
        uncertain *= -keep * per_total
        uncertain += keep
        self._variance *= uncertain
        self._variance += self._drifts
        taps = np.fft.irfft(gain)
        taps[:, self.block :] = 0.0
        taps[-1, self._last :] = 0.0
        return np.fft.rfft(taps)

    def _lengthen_if_steady(self, step: Spectra) -> None:
        """Raise the variance while steps go the same way more than chance lets them.

        Steps that have nothing to do with each other agree by none in the mean, and each bin's
        product of power p adds p/2 to the variance of the sum.
        """
        agreement = float(np.vdot(self._course, step).real)
        product = self._course * step
        spread = math.sqrt(0.5 * np.vdot(product, product).real)
        self._course *= self._keep[_COURSE]
        self._course += step
        if spread == 0.0:
            return
        keep = self._keep[_STEADY]
        self._agreement = keep * self._agreement + agreement / spread
        self._agreed_over = keep**2 * self._agreed_over + 1.0
        if self._agreement > _SIGNIFICANT * math.sqrt(self._agreed_over):
            most = np.maximum(self._variance, _WIDEST * self._prior)
            np.minimum(_LONGER * self._variance, most, out=self._variance)

    def _start_afresh_if_harmful(self, heard: float, left: float) -> None:
        keep = self._keep[_LEVEL]
        self._microphone_power = keep * self._microphone_power + heard
        self._residual_power = keep * self._residual_power + left
        if self._residual_power > _HARMFUL * self._microphone_power:
            self._path[:] = 0.0
            self._variance[:] = _OPEN * self._prior
            self._drifts[:] = 0.0
            self._error[:] = 0.0
            self._course[:] = 0.0
            self._residual_power = 0.0


def cancel_echo(
    reference: npt.ArrayLike,
    microphone: npt.ArrayLike,
    *,
    rate: float,
    tail: float,
    block: int | None = None,
    window: float = 0.25,
) -> Cancelled:
    """Run a canceller over whole signals.

    Parameters
    ----------
    reference, microphone : array_like, shape (samples,)
        What the loudspeakers were sent and what the microphone heard at the same time.
    rate : float
        Samples per second. [Hz]
    tail : float
        Length of the response that is modelled. [s]
    block : int, optional
        Samples taken at a time; about 16 ms if omitted.
    window : float
        Over which the enhancement is averaged. [s]

    Returns
    -------
    Cancelled
        The residual, its enhancement over time, and the path at the end.

    Raises
    ------
    ValueError
        The signals are not two of one length, hold what is no number, or a number is out of its
        range.

    Notes
    -----
    An exponential decay of time T leaves 10^(−6·tail/T) of its power behind the tail, so no more
    than 60·tail/T dB are reached, whatever the algorithm; noise and distortion set limits alike.

    Examples
    --------
    >>> noise = np.random.default_rng(1).standard_normal(16000)
    >>> echo = np.convolve(noise, [0.0, 0.5, 0.2])[:16000]
    >>> done = cancel_echo(noise, echo, rate=8000.0, tail=0.01)
    >>> done.path[1:3].round(2)
    array([0.5, 0.2])
    >>> bool(done.erle_db[-1] > 30.0)
    True
    """
    x, y = (np.asarray(signal, dtype=np.float64) for signal in (reference, microphone))
    if x.ndim != 1 or x.shape != y.shape:
        raise ValueError(f"signals of shape {x.shape} and {y.shape}, not two of one length")
    canceller = EchoCanceller(rate=rate, tail=tail, block=block)
    padding = 0, -len(x) % canceller.block
    residual = canceller.process(*(np.pad(signal, padding) for signal in (x, y)))[: len(x)]
    return Cancelled(
        residual=residual,
        erle_db=echo_return_loss_enhancement_db(y, residual, rate=rate, window=window),
        path=canceller.path,
    )


def echo_return_loss_enhancement_db(
    echo: npt.ArrayLike, residual: npt.ArrayLike, *, rate: float, window: float = 0.25
) -> Array:
    """Power into a canceller over power out of it, sliding.

    Parameters
    ----------
    echo, residual : array_like, shape (samples,)
        Before and after the canceller, while only the far end talks. A simulation that knows the
        near end can take it out of both.
    rate : float
        Samples per second. [Hz]
    window : float
        Over which powers are averaged, up to the present sample. [s]

    Returns
    -------
    ndarray, shape (samples,)
        Infinite where nothing is left, not a number where nothing came in. [dB]

    Raises
    ------
    ValueError
        The signals are not two of one length, or the window is shorter than a sample.

    Examples
    --------
    >>> echo_return_loss_enhancement_db([2.0, 2.0, 2.0], [2.0, 0.2, 0.2], rate=1.0, window=1.0)
    array([ 0., 20., 20.])
    """
    before, after = (np.asarray(signal, dtype=np.float64) for signal in (echo, residual))
    if before.ndim != 1 or before.shape != after.shape:
        raise ValueError(f"signals of shape {before.shape} and {after.shape}, not of one length")
    if not rate * window >= 1.0:
        raise ValueError(f"window {window} s at {rate} Hz: it takes one sample at least")
    count = round(rate * window)
    came, stayed = (_sliding_sum(np.square(signal), count) for signal in (before, after))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(came > 0.0, 10.0 * np.log10(came / stayed), np.nan)


def _sliding_sum(values: Array, count: int) -> Array:
    """Sums of the last ``count`` values, of fewer at the start; none negative, silence exact."""
    sums = np.maximum(_of_last(np.cumsum(values), count), _TINY)
    if values.all():
        return sums
    return np.where(_of_last(np.cumsum(values > 0.0, dtype=np.float64), count) > 0.0, sums, 0.0)


def _of_last(running: Array, count: int) -> Array:
    """Running sums of the last ``count`` values from those of all values."""
    return np.concatenate([running[:count], running[count:] - running[:-count]])


def _power(spectrum: Spectra) -> Array:
    return np.square(spectrum.real) + np.square(spectrum.imag)
