"""What outlasts a canceller's tail where several loudspeakers bring the echo, each in its own time.

::

    near    ▟▙▖▁                    what lies beyond the tail is left, of each loudspeaker
    late         ▟▙▖▁               by its share of the echo
            ├── tail ──┤
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.echo import tail_limited_loss_db, tail_needed
from wellheard.acoustics.levels import energy, energy_level_db
from wellheard.arrays import Array

_HALVINGS = 48  # of the interval that the tail is sought in: to far below a sample


@dataclass(frozen=True, eq=False)
class Tails:
    """Echo of L loudspeakers at one microphone, in B octaves.

    Attributes
    ----------
    energy : ndarray, shape (L, B)
        Of each loudspeaker there.
    ratio : ndarray, shape (L, B)
        Direct over reflected energy of it.
    bulk : ndarray, shape (L,)
        From where the reference is picked off to its direct sound. [s]
    time : ndarray, shape (B,)
        Decay times. [s]
    """

    energy: Array
    ratio: Array
    bulk: Array
    time: Array

    def loss_db(self, tail: npt.ArrayLike) -> Array:
        """Most that a tail lets a filter take away of the sum, shape (B,) [dB].

        Parameters
        ----------
        tail : array_like, shape () or (B,)
            [s]

        Examples
        --------
        Two alike, of which one comes after the end of the tail, leave half of the echo:

        >>> alike = np.ones((2, 1))
        >>> two = Tails(alike, 0.0 * alike, np.array([0.0, 0.3]), np.array([0.5]))
        >>> two.loss_db(0.25).round(2)
        array([3.01])
        """
        each = tail_limited_loss_db(
            tail,
            reverberation_time=self.time,
            direct_to_reverberant=self.ratio,
            bulk_delay=self.bulk[:, None],
        )
        left = (self.energy * energy(-each)).sum(axis=0)
        return -energy_level_db(left / self.energy.sum(axis=0))

    def needed(self, loss_db: float) -> Array:
        """Shortest tail that allows a loss of the sum, at least until the first arrives.

        Parameters
        ----------
        loss_db : float
            [dB]

        Returns
        -------
        ndarray, shape (B,)
            [s]
        """
        alone = tail_needed(
            loss_db,
            reverberation_time=self.time,
            direct_to_reverberant=self.ratio,
            bulk_delay=self.bulk[:, None],
        )
        low = np.full(len(self.time), float(self.bulk.min()))
        # A hair more: just after the direct sound the loss is already that of its reflections.
        high = alone.max(axis=0) + 1e-9
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            enough = self.loss_db(middle) >= loss_db
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return np.asarray(high)
