"""Speech transmission index of responses with a direct, an early and a late part."""

from __future__ import annotations

import ctypes

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.acoustics.intelligibility import (
    Talker,
    modulation_transfer_index,
    speech_transmission_index_from_bands,
)
from wellheard.arrays import Array

_PATHS = 1024  # whose modulation stays in the cache


def indices(
    direct: npt.ArrayLike,
    reflected: npt.ArrayLike,
    modulation: npt.ArrayLike,
    *,
    gain: npt.ArrayLike = 1.0,
    factor: npt.ArrayLike = 1.0,
    talker: Talker = "male",
) -> tuple[Array, Array]:
    """Modulation transfer indices and speech transmission indices of P paths.

    Parameters
    ----------
    direct : array_like, shape (P, 7)
        Energy at the time of the direct sound: :attr:`Response.direct` and what is joined to it.
    reflected : array_like, shape (P, 7)
        Energy of early and late together.
    modulation : array_like, complex, shape (P, 14, 7)
        Its transform re the direct sound.
    gain : array_like, broadcast to (P, 7)
        What the reflected energy counts more than the direct one, where more microphones than
        one are open.
    factor : array_like, broadcast to (P, 7)
        What noise and hearing leave of the modulation; see
        :func:`wellheard.acoustics.modulation.noise_and_hearing_factor`.
    talker : {"male", "female_2011"}
        Weights; the female set was dropped in 2020.

    Returns
    -------
    mti : ndarray, shape (P, 7)
        0–1.
    sti : ndarray, shape (P,)
        0–1; 0 where nothing arrives.

    Raises
    ------
    ValueError
        The shapes do not belong together.

    Notes
    -----
    ``m = |direct + gain·modulation| / (direct + gain·reflected) · factor``, cut at 1.

    References
    ----------
    .. [1] iec60268-16:2020, full method, via phonometry and pyrato.

    Examples
    --------
    Direct sound and one echo of the same energy 50 ms later: nothing is left of 10 Hz.

    >>> from wellheard.acoustics.modulation import MODULATION_FREQUENCIES
    >>> echo = np.exp(-2j * np.pi * np.array(MODULATION_FREQUENCIES) * 0.05)
    >>> mti, sti = indices(np.ones((1, 7)), np.ones((1, 7)), np.repeat(echo, 7).reshape(1, 14, 7))
    >>> mti[0, 0].round(3), sti.round(3)
    (np.float64(0.733), array([0.733]))
    """
    near = np.ascontiguousarray(direct, dtype=np.float64)
    far = np.ascontiguousarray(reflected, dtype=np.float64)
    transform = np.ascontiguousarray(modulation, dtype=np.complex64)
    if near.ndim != 2 or near.shape[1] != 7 or far.shape != near.shape:
        raise ValueError(f"energies of shapes {near.shape} and {far.shape} are not (paths, 7)")
    if transform.shape != (len(near), 14, 7):
        raise ValueError(f"modulation of shape {transform.shape} is not (paths, 14, 7)")
    times, left = (
        np.ascontiguousarray(np.broadcast_to(np.asarray(each, dtype=np.float64), near.shape))
        for each in (gain, factor)
    )
    mti = np.empty_like(near)
    kernel = compiled.function("indices", _ARGUMENTS)
    if kernel is not None:
        kernel(len(near), near, far, times, transform, left, mti)
    else:
        for start in range(0, len(near), _PATHS):
            part = slice(start, start + _PATHS)
            m = _transfer(near[part], far[part], times[part], transform[part])
            m *= left[part, :, None]
            mti[part] = modulation_transfer_index(m)
    return mti, speech_transmission_index_from_bands(mti, talker=talker)


def _transfer(
    direct: Array, reflected: Array, gain: Array, modulation: npt.NDArray[np.complex64]
) -> Array:
    """Modulation transfer of the room, shape (P, 7, 14)."""
    total = direct + gain * reflected
    kept = np.abs(direct[:, None, :] + gain[:, None, :] * modulation)
    m = np.divide(kept, total[:, None, :], out=np.zeros_like(kept), where=total[:, None, :] > 0.0)
    return m.transpose(0, 2, 1)


_ARGUMENTS = [
    ctypes.c_int64,
    *[compiled.array(np.float64)] * 3,
    compiled.array(np.complex64),
    *[compiled.array(np.float64)] * 2,
]
