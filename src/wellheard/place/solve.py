"""The fewest or cheapest devices, then the best of those: every step proven.

This module knows nothing of rooms. It sees seats, candidates, how well each candidate serves
each seat when so many devices are open, and what may not stand together.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wellheard.arrays import Array
from wellheard.place.search import Search
from wellheard.place.solution import Margins, Solution, Step

__all__ = ["Margins", "Solution", "Step", "best_with_count", "fewest_then_best", "most_devices"]


def fewest_then_best(
    margins: Margins,
    *,
    values: Margins | None = None,
    prices: Sequence[float] | Array | None = None,
    forced: Iterable[int] = (),
    conflicts: Iterable[tuple[int, int]] = (),
    lines: Array | None = None,
    step: float = 0.05,
    value_step: float | None = None,
    max_devices: int | None = None,
    falling: bool = False,
    time_limit: float = 60.0,
) -> Solution:
    """Choose devices so that every seat is served: fewest, then best, then tidiest.

    In this order, each step keeping what the steps before it reached: (1) least price, if
    there are prices; fewest devices; (2) largest worst margin; (3) largest mean value; (4)
    fewest distinct x and y lines, then the smallest positions in reading order of x, then y.

    Parameters
    ----------
    margins : callable
        ``margins(n)`` → ndarray, shape (seats, candidates): by how much each candidate meets
        the targets of each seat when n devices are open; a candidate serves a seat where this
        is ≥ 0. −inf is allowed.
    values : callable, optional
        ``values(n)`` → ndarray of the same shape, whose mean step 3 raises; default
        ``margins``.
    prices : sequence, shape (candidates,), optional
        Whole numbers are taken as they are (cents), floats to the nearest hundredth.
    forced : iterable of int
        Candidates that must be chosen.
    conflicts : iterable of (int, int)
        Candidates that may not both be chosen.
    lines : ndarray, shape (candidates, 2), optional
        x and y, compared to the millimetre. Without it step 4 takes the smallest indices.
        [m]
    step : float
        Margins are rounded down to whole steps before anything is compared.
    value_step : float, optional
        The same for values; default ``step``.
    max_devices : int, optional
        Default one per seat beside the forced ones: more can help only if margins grow with n.
    falling : bool
        The caller vouches that margins never grow with n, which spares evaluating them at
        numbers that cannot matter. A breach that is noticed is an error.
    time_limit : float
        For the whole call. [s]

    Returns
    -------
    Solution

    Raises
    ------
    ValueError
        Where the input contradicts itself. Seats that cannot be served are not an error.

    Notes
    -----
    Margins depend on the number of devices, so each number is tried with its own margins. A
    program over "n or more devices" with the margins of n rules out every larger number whose
    serving pairs are a subset; that is checked, not assumed, unless ``falling``.

    Examples
    --------
    Three candidates stand along a table of three seats; the middle one serves all.

    >>> import numpy as np
    >>> table = np.array([[1.0, 0.2, -1.0], [-0.5, 0.4, -0.5], [-1.0, 0.2, 1.0]])
    >>> solution = fewest_then_best(lambda n: table - 0.1 * n)
    >>> solution.chosen, solution.status, round(solution.worst_margin, 2)
    ((1,), 'optimal', 0.1)
    """
    search = Search(
        margins,
        values=values,
        prices=prices,
        forced=forced,
        conflicts=conflicts,
        lines=lines,
        step=step,
        value_step=value_step,
        max_devices=max_devices,
        falling=falling,
        time_limit=time_limit,
    )
    return search.fewest_then_best()


def best_with_count(
    margins: Margins,
    count: int,
    *,
    values: Margins | None = None,
    prices: Sequence[float] | Array | None = None,
    forced: Iterable[int] = (),
    conflicts: Iterable[tuple[int, int]] = (),
    lines: Array | None = None,
    step: float = 0.05,
    value_step: float | None = None,
    time_limit: float = 60.0,
) -> Solution:
    """Choose exactly ``count`` devices: most seats served, least price, then as above.

    The answer to "what would one microphone fewer do?". Parameters and result as in
    `fewest_then_best`; ``infeasible`` means that ``count`` devices leave seats unserved.

    Examples
    --------
    >>> import numpy as np
    >>> table = np.array([[1.0, -0.2], [-0.5, 0.4]])
    >>> best_with_count(lambda n: table, 1).unserved
    (0,)
    """
    search = Search(
        margins,
        values=values,
        prices=prices,
        forced=forced,
        conflicts=conflicts,
        lines=lines,
        step=step,
        value_step=value_step,
        max_devices=count,
        falling=False,
        time_limit=time_limit,
    )
    if not 0 < count <= search.usable:
        raise ValueError(f"{count} devices are asked for: 1 to {search.usable} can be chosen")
    return search.compromise([count], proven=True)


def most_devices(
    margins: Margins,
    *,
    prices: Sequence[float] | Array | None = None,
    forced: Iterable[int] = (),
    conflicts: Iterable[tuple[int, int]] = (),
    step: float = 0.05,
) -> int:
    """Limit the number of devices of the best choice by greed; parameters as above.

    Examples
    --------
    Greed pays 700, for which nobody gets more than two.

    >>> import numpy as np
    >>> table = np.array([[1.0, -1.0, 1.0], [-1.0, 1.0, 1.0]])
    >>> most_devices(lambda n: table, prices=[350, 350, 700])
    2
    """
    search = Search(
        margins,
        values=None,
        prices=prices,
        forced=forced,
        conflicts=conflicts,
        lines=None,
        step=step,
        value_step=None,
        max_devices=None,
        falling=False,
        time_limit=0.0,
    )
    found = search.quick()
    return search.cap if found is None else search.most_for(found)
