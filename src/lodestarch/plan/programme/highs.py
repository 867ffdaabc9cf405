"""A programme in HiGHS: rows and columns that can be added, columns that can be fixed, and what a run says.

The solver may hold some of the columns; the others are zero. Points always have all columns.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import highspy
import numpy as np
import scipy.sparse as sp

from lodestarch.plan.programme.programme import INF, Floats, Programme, Where
from lodestarch.plan.programme.tangents import Tangent

__all__ = ["Ran", "Solver", "Stop"]

_FEASIBILITY: Final = 1e-9
"""Primal feasibility asked of the linear solver, in the units of the rows; common practice is 1e-7."""
_OWN: Final = 1e-6
_DUAL_SIMPLEX: Final = 1
_PRIMAL_SIMPLEX: Final = 4


class Stop(StrEnum):
    """Why a run ended."""

    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    TIME = "time"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Ran:
    """One run: ``x`` is ``None`` where it found no point; ``bound`` is proven for the columns held."""

    stop: Stop
    x: Floats | None
    objective: float
    bound: float


_STOPS: Final = {
    highspy.HighsModelStatus.kOptimal: Stop.OPTIMAL,
    highspy.HighsModelStatus.kInfeasible: Stop.INFEASIBLE,
    highspy.HighsModelStatus.kUnbounded: Stop.UNBOUNDED,
    highspy.HighsModelStatus.kTimeLimit: Stop.TIME,
    highspy.HighsModelStatus.kInterrupt: Stop.TIME,
}


class _Quiet(highspy.Highs):
    """HiGHS without its line on standard output, which it would print before it can be told not to."""

    def enableCallbacks(self) -> None:  # noqa: N802  # the library's name; the first thing its constructor calls
        self.silent()
        super().enableCallbacks()  # type: ignore[no-untyped-call]  # the library leaves it untyped


class Solver:
    """One programme held by HiGHS, its cones left to the caller.

    Parameters
    ----------
    programme : Programme
    held : ndarray of int, optional
        Columns to begin with; all where not stated.
    like : Solver, optional
        A solver of the same programme: its matrix is used again.
    """

    def __init__(self, programme: Programme, held: Where | None = None, like: Solver | None = None) -> None:
        self._highs = _Quiet()  # type: ignore[no-untyped-call]  # the library leaves it untyped
        for option, value in (
            ("threads", 1),
            ("random_seed", 0),
            ("primal_feasibility_tolerance", _FEASIBILITY),
            ("mip_feasibility_tolerance", _FEASIBILITY),
        ):
            self._highs.setOptionValue(option, value)
        self.cost = _joined(programme.cost)
        self._low, self._high = _joined(programme.low), _joined(programme.high)
        self.whole: Where = np.flatnonzero(np.concatenate(programme.whole or [np.zeros(0, dtype=np.bool_)]))
        self.held: Where = np.arange(programme.columns) if held is None else np.asarray(held, dtype=np.intp)
        self._place = np.full(programme.columns, -1, dtype=np.intp)
        self._place[self.held] = np.arange(self.held.size)
        self._own_rows = len(programme.rows)
        self._constant = programme.constant
        self._matrix = _as_matrix(programme) if like is None else like.own_matrix()
        self._highs.passModel(self._as_lp(programme))
        self._marked = False

    @property
    def seconds(self) -> float:
        """Time spent in all runs. [s]"""
        return float(self._highs.getRunTime())

    @property
    def added(self) -> int:
        """Rows that were added and are still there."""
        return int(self._matrix.shape[0]) - self._own_rows

    def add_rows(self, rows: list[Tangent]) -> None:
        """Add rows ``sum(values * x) <= high``; columns that they need are taken in."""
        if not rows:
            return
        starts = np.cumsum([0] + [c.size for c, _, _ in rows])
        columns, values = np.concatenate([c for c, _, _ in rows]), np.concatenate([v for _, v, _ in rows])
        fresh = sp.csr_array((values, columns, starts), shape=(len(rows), self._place.size))
        needed = np.unique(columns)
        needed = needed[np.isinf(self._high[needed]) & (self._place[needed] < 0)]
        if needed.size:
            self.add_columns(needed)
        self._matrix = sp.vstack([self._matrix, fresh], format="csr")
        part = fresh[:, self.held]
        high = np.array([h for _, _, h in rows])
        low = np.full(high.size, -INF)
        self._highs.addRows(
            high.size,
            low,
            high,
            part.nnz,
            part.indptr[:-1].astype(np.int32),
            part.indices.astype(np.int32),
            part.data,
        )
        self._highs.setOptionValue("simplex_strategy", _DUAL_SIMPLEX)

    def drop_slack(self) -> None:
        """Take out added rows that do not hold the last point found without whole numbers."""
        info = self._highs.getBasis()
        status = np.array([int(s) for s in info.row_status])
        basic = status[self._own_rows :] == int(highspy.HighsBasisStatus.kBasic)
        gone = self._own_rows + np.flatnonzero(basic)
        if gone.size:
            self._highs.deleteRows(gone.size, gone.astype(np.int32))
            kept = np.ones(self._matrix.shape[0], dtype=np.bool_)
            kept[gone] = False
            self._matrix = self._matrix[kept]

    def reduced_costs(self) -> Floats:
        """Reduced costs of all columns at the duals of the last run without whole numbers."""
        duals = np.array(self._highs.getSolution().row_dual)
        return np.asarray(self.cost - self._matrix.T @ duals)

    def add_columns(self, columns: Where) -> None:
        """Take in columns of the programme that were left out."""
        part = self._matrix[:, columns].tocsc()
        self._highs.addCols(
            columns.size, self.cost[columns], self._low[columns], self._high[columns], part.nnz,
            part.indptr[:-1].astype(np.int32), part.indices.astype(np.int32), part.data,
        )  # fmt: skip
        self._place[columns] = self.held.size + np.arange(columns.size)
        self.held = np.concatenate([self.held, columns])
        self._highs.setOptionValue("simplex_strategy", _PRIMAL_SIMPLEX)

    def own_matrix(self) -> sp.csr_array:
        """The rows of the programme itself, with all columns."""
        return self._matrix[: self._own_rows]

    def added_rows(self) -> list[Tangent]:
        """Rows that were added, with all columns."""
        part = self._matrix[self._own_rows :]
        pairs = zip(part.indptr[:-1], part.indptr[1:], strict=True)
        return [(part.indices[a:b].astype(np.intp), part.data[a:b], 0.0) for a, b in pairs]

    def left_out(self) -> Where:
        """Columns with an end that are not held; a part of a root that no tangent needs is not missed."""
        return np.flatnonzero((self._place < 0) & np.isfinite(self._high))

    def most(self, columns: Where) -> Floats:
        """Upper ends of columns."""
        return self._high[columns]

    def set_value(self, row: int, column: int, value: float) -> None:
        """Change one coefficient."""
        self._highs.changeCoeff(row, int(self._place[column]), value)

    def relaxed(self, time_s: float, fixed: Floats | None = None) -> Ran:
        """Run with whole numbers let go, or held at their values in ``fixed``."""
        self._mark(whole=False)
        self._bound_whole(fixed)
        ran = self._run(time_s)
        self._bound_whole(None)
        return ran

    def whole_numbers(self, time_s: float, gap: float, fixed: Floats | None = None) -> Ran:
        """Run with whole numbers, to a relative gap.

        ``fixed``: whole columns are held where it is a number, free where it is not. No point is handed over
        to begin with: HiGHS 1.16 has been seen to answer with that point and an objective that is not its
        own.
        """
        self._mark(whole=True)
        self._bound_whole(fixed)
        self._highs.setOptionValue("mip_rel_gap", gap)
        self._highs.setOptionValue("mip_abs_gap", 1e-9)
        ran = self._run(time_s)
        self._bound_whole(None)
        return ran

    def _mark(self, *, whole: bool) -> None:
        if whole == self._marked or not self.whole.size:
            return
        kind = highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
        kinds = np.full(self.whole.size, int(kind), dtype=np.uint8)
        self._highs.changeColsIntegrality(self.whole.size, self._place[self.whole].astype(np.int32), kinds)
        self._marked = whole

    def _bound_whole(self, fixed: Floats | None) -> None:
        if not self.whole.size:
            return
        low, high = self._low[self.whole], self._high[self.whole]
        if fixed is not None:
            held = np.round(fixed[self.whole])
            free = np.isnan(held)
            low, high = np.where(free, low, held), np.where(free, high, held)
        self._highs.changeColsBounds(self.whole.size, self._place[self.whole].astype(np.int32), low, high)

    def _run(self, time_s: float) -> Ran:
        # The limit counts from the beginning of the run.
        self._highs.setOptionValue("time_limit", max(time_s, 1e-3) + self._highs.getRunTime())
        self._highs.run()
        stop = _STOPS.get(self._highs.getModelStatus(), Stop.OTHER)
        if self._highs.getModelStatus() == highspy.HighsModelStatus.kUnboundedOrInfeasible:
            stop = self._told_apart()
        info = self._highs.getInfo()
        feasible = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
        x = self._point() if feasible else None
        objective = float(info.objective_function_value) if feasible else INF
        if x is not None and abs(self.cost @ x + self._constant - objective) > _OWN * (1.0 + abs(objective)):
            # A run whose objective is not that of its point proves nothing.
            return Ran(Stop.OTHER, None, INF, -INF)
        proven = objective if stop is Stop.OPTIMAL else -INF
        bound = float(info.mip_dual_bound) if self._marked else proven
        return Ran(stop, x, objective, bound)

    def _point(self) -> Floats:
        x = np.zeros(self._place.size)
        x[self.held] = self._highs.getSolution().col_value
        return x

    def _told_apart(self) -> Stop:
        self._highs.setOptionValue("presolve", "off")
        self._highs.run()
        self._highs.setOptionValue("presolve", "choose")
        return _STOPS.get(self._highs.getModelStatus(), Stop.OTHER)

    def _as_lp(self, programme: Programme) -> highspy.HighsLp:
        part = self._matrix[:, self.held].tocsr() if self.held.size < self._place.size else self._matrix
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = self.held.size, len(programme.rows)
        lp.col_cost_ = self.cost[self.held]
        lp.col_lower_, lp.col_upper_ = self._low[self.held], self._high[self.held]
        lp.row_lower_, lp.row_upper_ = np.array(programme.row_low), np.array(programme.row_high)
        lp.offset_ = programme.constant
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = self.held.size, len(programme.rows)
        lp.a_matrix_.start_ = part.indptr.astype(np.int32)
        if part.nnz:
            lp.a_matrix_.index_ = part.indices.astype(np.int32)
            lp.a_matrix_.value_ = part.data
        return lp


def _joined(parts: list[Floats]) -> Floats:
    return np.concatenate(parts) if parts else np.zeros(0)


def _as_matrix(programme: Programme) -> sp.csr_array:
    starts = np.cumsum([0, *(columns.size for columns, _ in programme.rows)])
    columns = np.concatenate([c for c, _ in programme.rows]) if programme.rows else np.zeros(0, dtype=np.intp)
    values = _joined([v for _, v in programme.rows])
    matrix = sp.csr_array((values, columns, starts), shape=(len(programme.rows), programme.columns))
    matrix.sum_duplicates()  # a column that is stated twice in a row counts twice
    return matrix
