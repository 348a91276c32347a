"""Octave bands: nominal labels, exact mid-bands, A and C weights.

Nominal frequencies are labels; formulas that depend on frequency want :func:`exact_midband`.
Numpy is imported on use, so that naming a band costs nothing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

OCTAVES: Final[tuple[float, ...]] = (125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)
"""The octaves of speech and of every room prediction, nominal. [Hz]"""

NOISE_OCTAVES: Final[tuple[float, ...]] = (31.5, 63.0, *OCTAVES)
"""The octaves of a background-noise spectrum, nominal. [Hz]"""

RATING_OCTAVES: Final[tuple[float, ...]] = (16.0, *NOISE_OCTAVES)
"""The octaves of the NC and RC curves, nominal. [Hz]"""

SPEECH_BANDS: Final = slice(2, 6)
"""The 500, 1000, 2000 and 4000 Hz octaves within :data:`OCTAVES`."""

A_WEIGHT_DB: Final[Mapping[float, float]] = MappingProxyType(
    dict(
        zip(
            (*RATING_OCTAVES, 16000.0),
            (-56.7, -39.4, -26.2, -16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1, -6.6),
            strict=True,
        )
    )
)
"""A-weighting by nominal octave, as the table of IEC 61672-1 rounds it. [dB]"""

C_WEIGHT_DB: Final[Mapping[float, float]] = MappingProxyType(
    dict(
        zip(
            (*RATING_OCTAVES, 16000.0),
            (-8.5, -3.0, -0.8, -0.2, 0.0, 0.0, 0.0, -0.2, -0.8, -3.0, -8.5),
            strict=True,
        )
    )
)
"""C-weighting by nominal octave, as the table of IEC 61672-1 rounds it. [dB]"""


_POLES = (20.6, 107.7, 737.9, 12194.0)  # [Hz]


def spoken_octave(nominal: float) -> str:
    """An octave in a sentence.

    Examples
    --------
    >>> spoken_octave(31.5), spoken_octave(250.0), spoken_octave(2000.0)
    ('31.5 Hz', '250 Hz', '2 kHz')
    """
    return f"{nominal / 1000:g} kHz" if nominal >= 1000 else f"{nominal:g} Hz"


def octave_label(nominal: float) -> str:
    """An octave at an axis, its unit written once beside it.

    Examples
    --------
    >>> octave_label(31.5), octave_label(250.0), octave_label(2000.0)
    ('31.5', '250', '2k')
    """
    return f"{nominal / 1000:g}k" if nominal >= 1000 else f"{nominal:g}"


def exact_midband(nominal: float) -> float:
    """Exact base-ten mid-band frequency behind a nominal octave or third-octave label.

    Parameters
    ----------
    nominal : float
        Label such as 125 or 31.5. [Hz]

    Returns
    -------
    float
        [Hz]

    Raises
    ------
    ValueError
        If no third-octave mid-band lies within 3 % of the label.

    References
    ----------
    .. [1] iec61260-1:2014, clause 5, computed.

    Examples
    --------
    >>> round(exact_midband(8000.0), 3)
    7943.282
    """
    if nominal > 0 and math.isfinite(nominal):
        exact = float(1000.0 * 10.0 ** (round(10.0 * math.log10(nominal / 1000.0)) / 10.0))
        if abs(exact / nominal - 1.0) <= 0.03:
            return exact
    raise ValueError(
        f"frequency {nominal!r} Hz is no nominal octave or third-octave label; "
        "give one of the labels, such as 31.5, 63, 125 or 8000"
    )


EXACT_OCTAVES: Final[tuple[float, ...]] = tuple(exact_midband(f) for f in OCTAVES)
"""Exact mid-bands of :data:`OCTAVES`. [Hz]"""


def a_weighting_db(frequency: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """A-weighting from its analytic form.

    Parameters
    ----------
    frequency : array_like
        Exact, not nominal: at the label 125 Hz the result is 0.09 dB off the table. [Hz]

    Returns
    -------
    ndarray
        Same shape. [dB]

    References
    ----------
    .. [1] iec61672-1:2013, Annex E, via python-acoustics.

    Examples
    --------
    >>> a_weighting_db([exact_midband(125.0), 1000.0]).round(2) + 0.0
    array([-16.1,   0. ])
    """
    import numpy as np

    f2 = np.square(np.asarray(frequency, dtype=np.float64))
    return 20.0 * np.log10(_a_shape(f2)) + 2.000  # 0 dB at 1 kHz


def c_weighting_db(frequency: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """C-weighting from its analytic form.

    Parameters
    ----------
    frequency : array_like
        Exact, not nominal. [Hz]

    Returns
    -------
    ndarray
        Same shape. [dB]

    References
    ----------
    .. [1] iec61672-1:2013, Annex E, via python-acoustics.

    Examples
    --------
    >>> c_weighting_db([exact_midband(8000.0), 1000.0]).round(2) + 0.0
    array([-3.01,  0.  ])
    """
    import numpy as np

    f2 = np.square(np.asarray(frequency, dtype=np.float64))
    return 20.0 * np.log10(_c_shape(f2)) + 0.062  # 0 dB at 1 kHz


def _a_shape(f2: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    import numpy as np

    return _c_shape(f2) * f2 / np.sqrt((f2 + _POLES[1] ** 2) * (f2 + _POLES[2] ** 2))


def _c_shape(f2: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return _POLES[3] ** 2 * f2 / ((f2 + _POLES[0] ** 2) * (f2 + _POLES[3] ** 2))
