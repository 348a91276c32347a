"""A thin wrapper of the HiGHS solver: small programs in, plain arrays out.

One thread, no random seed, no console output; the same program gives the same answer. HiGHS
works in floating point, so callers check what it returns in whole numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from wellheard.arrays import Array

Status = Literal["optimal", "infeasible", "limit"]
Indices = npt.NDArray[np.int64]

WHOLE = 1 - 1e-3
"""Absolute gap at which a program with whole-number values is solved to the end."""

SLACK = 0.01
"""Added to rows whose sums are whole numbers, so that tolerances cannot cut off an answer."""


@dataclass(frozen=True)
class Outcome:
    """What the solver proved.

    ``values`` is None when it found none; ``bound`` is a proven limit of the objective (lower
    when minimising, upper when maximising); ``reduced_costs`` exist for relaxations only.
    """

    status: Status
    values: Array | None
    objective: float
    bound: float
    nodes: int
    reduced_costs: Array | None = None
    row_duals: Array | None = None


class Program:
    """A linear program, some of whose columns take whole numbers, built row by row.

    Parameters
    ----------
    maximise : bool
        Sense of the objective.

    Examples
    --------
    Two of three overlapping sets suffice to cover three elements.

    >>> program = Program()
    >>> sets = program.columns(3, cost=1.0, whole=True)
    >>> for pair in ([0, 1], [1, 2], [0, 2]):
    ...     program.row(sets[pair], 1.0, lower=1.0)
    >>> program.solve(time_limit=10.0).objective
    2.0
    """

    def __init__(self, *, maximise: bool = False) -> None:
        self.maximise = maximise
        self.width = 0
        self._cost: list[Array] = []
        self._lower: list[Array] = []
        self._upper: list[Array] = []
        self._whole: list[npt.NDArray[np.bool_]] = []
        self._index: list[Indices] = []
        self._coefficient: list[Array] = []
        self._length: list[Indices] = []
        self._row_lower: list[Array] = []
        self._row_upper: list[Array] = []

    def columns(
        self,
        count: int,
        *,
        cost: float | Array = 0.0,
        lower: float | Array = 0.0,
        upper: float | Array = 1.0,
        whole: bool = False,
    ) -> Indices:
        """Add ``count`` columns and return their numbers."""
        first = self.width
        self.width += count
        self._cost.append(np.broadcast_to(np.asarray(cost, dtype=float), count))
        self._lower.append(np.broadcast_to(np.asarray(lower, dtype=float), count))
        self._upper.append(np.broadcast_to(np.asarray(upper, dtype=float), count))
        self._whole.append(np.full(count, whole))
        return np.arange(first, first + count)

    @property
    def height(self) -> int:
        """Number of rows so far."""
        return sum(len(part) for part in self._length)

    def row(
        self,
        columns: Indices,
        coefficients: float | Array,
        *,
        lower: float = -math.inf,
        upper: float = math.inf,
    ) -> None:
        """Add the row ``lower ≤ coefficients · x[columns] ≤ upper``."""
        self.rows(np.array([len(columns)]), columns, coefficients, lower=lower, upper=upper)

    def rows(
        self,
        lengths: Indices,
        columns: Indices,
        coefficients: float | Array,
        *,
        lower: float | Array = -math.inf,
        upper: float | Array = math.inf,
    ) -> None:
        """Add several rows, laid end to end in ``columns`` and ``coefficients``."""
        count = len(lengths)
        self._length.append(lengths)
        self._index.append(columns)
        self._coefficient.append(
            np.broadcast_to(np.asarray(coefficients, dtype=float), len(columns))
        )
        self._row_lower.append(np.broadcast_to(np.asarray(lower, dtype=float), count))
        self._row_upper.append(np.broadcast_to(np.asarray(upper, dtype=float), count))

    def solve(
        self,
        *,
        time_limit: float,
        gap: float = WHOLE,
        relaxed: bool = False,
        start: Array | None = None,
    ) -> Outcome:
        """Solve to the end or to the time limit.

        Parameters
        ----------
        time_limit : float
            [s]; nothing is tried when it is not positive.
        gap : float
            Absolute gap between value and bound that counts as solved; below 1 for a program
            whose values are whole numbers.
        relaxed : bool
            Let whole columns take fractions, and return reduced costs and row duals.
        start : ndarray, shape (columns,), optional
            A solution to start from.

        Returns
        -------
        Outcome
        """
        worst = math.inf if self.maximise else -math.inf
        if time_limit <= 0:
            return Outcome("limit", None, -worst, worst, 0)
        import highspy  # heavy: loaded when the first program is solved

        # The binding class below highspy.Highs: the Python class prints a banner on standard
        # output, which belongs to the payload of a command.
        highs: Any = highspy.Highs.__mro__[1]()
        # No presolve: the one of HiGHS 1.16 calls some feasible covers with a budget infeasible
        # (2 of 3,000 small random ones), which no proof could survive. Callers reduce instead.
        for option, value in (
            ("output_flag", False),
            ("threads", 1),
            ("parallel", "off"),
            ("random_seed", 0),
            ("presolve", "off"),
            ("mip_rel_gap", 0.0),
            ("mip_abs_gap", gap),
            ("time_limit", float(time_limit)),
        ):
            highs.setOptionValue(option, value)
        highs.passModel(self._lp(highspy, relaxed=relaxed))
        if start is not None:
            solution = highspy.HighsSolution()
            solution.col_value = start
            highs.setSolution(solution)
        highs.run()

        status = highs.getModelStatus()
        info = highs.getInfo()
        solved = status == highspy.HighsModelStatus.kOptimal
        # Every column is bounded, so "unbounded or infeasible" can only be the latter.
        if status in (
            highspy.HighsModelStatus.kInfeasible,
            highspy.HighsModelStatus.kUnboundedOrInfeasible,
        ):
            return Outcome("infeasible", None, -worst, -worst, max(0, info.mip_node_count))
        found = highs.getSolution()
        feasible = info.primal_solution_status == 2 and found.value_valid
        values = np.array(found.col_value, dtype=float) if feasible else None
        objective = float(info.objective_function_value) if feasible else -worst
        if relaxed:
            # The bound of an unfinished simplex run is not worth the trouble of reading.
            return Outcome(
                "optimal" if solved else "limit",
                values if solved else None,
                objective if solved else -worst,
                objective if solved else worst,
                0,
                np.array(found.col_dual, dtype=float) if solved else None,
                np.array(found.row_dual, dtype=float) if solved else None,
            )
        mixed = any(bool(part.any()) for part in self._whole)
        bound = float(info.mip_dual_bound) if mixed else objective
        if solved and not math.isfinite(bound):
            bound = objective
        return Outcome(
            "optimal" if solved else "limit",
            values,
            objective,
            bound,
            max(0, int(info.mip_node_count)),
        )

    def _lp(self, highspy: Any, *, relaxed: bool) -> Any:
        lp = highspy.HighsLp()
        lengths = _joined(self._length, np.int64)
        lp.num_col_ = self.width
        lp.num_row_ = len(lengths)
        lp.sense_ = highspy.ObjSense.kMaximize if self.maximise else highspy.ObjSense.kMinimize
        lp.col_cost_ = _joined(self._cost, np.float64)
        lp.col_lower_ = _joined(self._lower, np.float64)
        lp.col_upper_ = _joined(self._upper, np.float64)
        lp.row_lower_ = _joined(self._row_lower, np.float64)
        lp.row_upper_ = _joined(self._row_upper, np.float64)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.num_col_ = lp.num_col_
        lp.a_matrix_.num_row_ = lp.num_row_
        lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
        lp.a_matrix_.index_ = _joined(self._index, np.int32)
        lp.a_matrix_.value_ = _joined(self._coefficient, np.float64)
        if not relaxed:
            kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
            whole = _joined(self._whole, np.bool_)
            if whole.any():
                lp.integrality_ = [kinds[int(flag)] for flag in whole]
        return lp


def _joined(parts: list[Any], kind: Any) -> Any:
    return np.concatenate(parts).astype(kind) if parts else np.zeros(0, dtype=kind)
