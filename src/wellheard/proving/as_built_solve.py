"""The likeliest parameters within bounds for a few measured values, and what is then known of them.

::

    parameters  x ~ N(0, P), low ≤ x ≤ high        measured  y = A·x + e, e ~ N(0, R)

    least  x'P⁻¹x + (y − A·x)'R⁻¹(y − A·x)         gain  K = (P⁻¹ + A'R⁻¹A)⁻¹ A'R⁻¹
    known  (I − K·A) P (I − K·A)' + K (R + H) K'   H: of what is held though it is not known
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array

_SLACK = 1e-9

Mask: TypeAlias = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Linear:
    """A linear problem with Gaussian errors.

    Parameters
    ----------
    prior : ndarray, shape (n, n)
        Covariance of the parameters about 0.
    jacobian : ndarray, shape (m, n)
        Of what is measured.
    noise : ndarray, shape (m, m)
        Covariance of its errors.
    low, high : ndarray, shape (n,)
        Bounds; 0 lies between.
    """

    prior: Array
    jacobian: Array
    noise: Array
    low: Array
    high: Array

    def likeliest(self, measured: Array) -> tuple[Array, Mask]:
        """Parameters within their bounds, and which of them are free of these.

        Parameters
        ----------
        measured : ndarray, shape (m,)
            Values.

        Returns
        -------
        (ndarray of shape (n,), ndarray of bool of shape (n,))

        Notes
        -----
        Active sets: what would leave its bounds is set to them, and is let go where its gradient
        points back inside.

        Examples
        --------
        >>> low, high = np.full(2, -9.0), np.full(2, 9.0)
        >>> one = Linear(np.eye(2), np.array([[1.0, 1.0]]), np.eye(1), low, high)
        >>> one.likeliest(np.array([3.0]))[0]
        array([1., 1.])
        """
        weighted = self.jacobian.T @ np.linalg.inv(self.noise)
        hessian = np.linalg.inv(self.prior) + weighted @ self.jacobian
        pull = weighted @ measured
        value = np.zeros(len(pull))
        free = np.ones(len(pull), dtype=bool)
        for _ in range(4 * len(pull) + 4):
            value[free] = np.linalg.solve(
                hessian[np.ix_(free, free)],
                pull[free] - hessian[np.ix_(free, ~free)] @ value[~free],
            )
            outside = free & ((value < self.low - _SLACK) | (value > self.high + _SLACK))
            if outside.any():
                value = np.clip(value, self.low, self.high)
                free &= ~outside
                continue
            slope = hessian @ value - pull
            at_high = ~free & (value >= self.high - _SLACK)
            back = np.where(at_high, slope, -slope) * ~free
            worst = int(np.argmax(back))
            if back[worst] <= _SLACK:
                break
            free[worst] = True
        return value, free

    def known(self, free: Mask, held: Array) -> Array:
        """Covariance of the parameters when the measurement is in, shape (n, n).

        Parameters
        ----------
        free : ndarray of bool, shape (n,)
            What is at a bound has learnt nothing.
        held : ndarray, shape (m, m)
            Covariance that what is held adds to what is measured.

        Examples
        --------
        >>> low, high = np.full(2, -9.0), np.full(2, 9.0)
        >>> one = Linear(np.eye(2), np.array([[1.0, 1.0]]), np.eye(1), low, high)
        >>> one.known(np.array([True, True]), np.zeros((1, 1))).round(3)
        array([[ 0.667, -0.333],
               [-0.333,  0.667]])
        """
        jacobian = np.where(free, self.jacobian, 0.0)
        spread = jacobian @ self.prior @ jacobian.T + self.noise
        gain = np.where(free[:, None], self.prior @ jacobian.T @ np.linalg.inv(spread), 0.0)
        rest = np.eye(len(self.prior)) - gain @ self.jacobian
        found = rest @ self.prior @ rest.T + gain @ (self.noise + held) @ gain.T
        return np.asarray((found + found.T) / 2.0)

    def decided(self, held: Array) -> Array:
        """What the measurement alone decides of each parameter, 0–1, shape (n,).

        One less what is left of its variance, were everything looked for that is not known.

        Parameters
        ----------
        held : ndarray, shape (m, m)
            Covariance that what is held adds to what is measured.

        Examples
        --------
        >>> low, high = np.full(2, -9.0), np.full(2, 9.0)
        >>> one = Linear(np.eye(2), np.array([[1.0, 1.0]]), np.zeros((1, 1)), low, high)
        >>> one.decided(np.zeros((1, 1)))
        array([0.5, 0.5])
        """
        cross = self.prior @ self.jacobian.T
        spread = self.jacobian @ cross + self.noise + held
        gone = np.einsum("nm,mn->n", cross, np.linalg.solve(spread, cross.T))
        return np.asarray(np.clip(gone / np.diag(self.prior), 0.0, 1.0))
