"""A programme in HiGHS: rows that can be added, columns that can be fixed, and what a run says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import highspy
import numpy as np

from lodestarch.plan.programme.programme import INF, Floats, Programme, Where

__all__ = ["Ran", "Solver", "Stop"]

_FEASIBILITY: Final = 1e-9
"""Primal feasibility asked of the linear solver, in the units of the rows; common practice is 1e-7."""


class Stop(StrEnum):
    """Why a run ended."""

    OPTIMAL = "optimal"
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    TIME = "time"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Ran:
    """One run: ``x`` is ``None`` where it found no point; ``bound`` is proven."""

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
    """One programme held by HiGHS, its cones left to the caller."""

    def __init__(self, programme: Programme) -> None:
        self._highs = _Quiet()  # type: ignore[no-untyped-call]  # the library leaves it untyped
        for option, value in (
            ("threads", 1),
            ("random_seed", 0),
            ("primal_feasibility_tolerance", _FEASIBILITY),
            ("mip_feasibility_tolerance", _FEASIBILITY),
        ):
            self._highs.setOptionValue(option, value)
        self._low = _joined(programme.low)
        self._high = _joined(programme.high)
        self.whole: Where = np.flatnonzero(np.concatenate(programme.whole or [np.zeros(0, dtype=np.bool_)]))
        self._highs.passModel(_as_lp(programme, self._low, self._high))
        self._marked = False

    @property
    def seconds(self) -> float:
        """Time spent in all runs. [s]"""
        return float(self._highs.getRunTime())

    def add_rows(self, rows: list[tuple[Where, Floats, float]]) -> None:
        """Add rows ``sum(values * x) <= high``."""
        if not rows:
            return
        starts = np.cumsum([0] + [c.size for c, _, _ in rows[:-1]]).astype(np.int32)
        columns = np.concatenate([c for c, _, _ in rows]).astype(np.int32)
        values = np.concatenate([v for _, v, _ in rows])
        high = np.array([h for _, _, h in rows])
        low = np.full(high.size, -INF)
        self._highs.addRows(high.size, low, high, values.size, starts, columns, values)

    def set_value(self, row: int, column: int, value: float) -> None:
        """Change one coefficient."""
        self._highs.changeCoeff(row, column, value)

    def relaxed(self, time_s: float, fixed: Floats | None = None) -> Ran:
        """Run with whole numbers let go, or held at their values in ``fixed``."""
        self._mark(whole=False)
        self._bound_whole(fixed)
        ran = self._run(time_s)
        self._bound_whole(None)
        return ran

    def whole_numbers(self, time_s: float, gap: float, start: Floats | None = None) -> Ran:
        """Run with whole numbers, to a relative gap, from a point if there is one."""
        self._mark(whole=True)
        self._highs.setOptionValue("mip_rel_gap", gap)
        self._highs.setOptionValue("mip_abs_gap", 1e-9)
        if start is not None:
            given = highspy.HighsSolution()
            given.col_value = list(start)
            self._highs.setSolution(given)
        return self._run(time_s)

    def _mark(self, *, whole: bool) -> None:
        if whole == self._marked or not self.whole.size:
            return
        kind = highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
        kinds = np.full(self.whole.size, int(kind), dtype=np.uint8)
        self._highs.changeColsIntegrality(self.whole.size, self.whole.astype(np.int32), kinds)
        self._marked = whole

    def _bound_whole(self, fixed: Floats | None) -> None:
        if not self.whole.size:
            return
        low, high = self._low[self.whole], self._high[self.whole]
        if fixed is not None:
            low = high = np.round(fixed[self.whole])
        self._highs.changeColsBounds(self.whole.size, self.whole.astype(np.int32), low, high)

    def _run(self, time_s: float) -> Ran:
        # The limit counts from the beginning of the run.
        self._highs.setOptionValue("time_limit", max(time_s, 1e-3) + self._highs.getRunTime())
        self._highs.run()
        stop = _STOPS.get(self._highs.getModelStatus(), Stop.OTHER)
        if self._highs.getModelStatus() == highspy.HighsModelStatus.kUnboundedOrInfeasible:
            stop = self._told_apart()
        info = self._highs.getInfo()
        feasible = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
        x = np.array(self._highs.getSolution().col_value) if feasible else None
        objective = float(info.objective_function_value) if feasible else INF
        proven = objective if stop is Stop.OPTIMAL else -INF
        bound = float(info.mip_dual_bound) if self._marked else proven
        return Ran(stop, x, objective, bound)

    def _told_apart(self) -> Stop:
        self._highs.setOptionValue("presolve", "off")
        self._highs.run()
        self._highs.setOptionValue("presolve", "choose")
        return _STOPS.get(self._highs.getModelStatus(), Stop.OTHER)


def _joined(parts: list[Floats]) -> Floats:
    return np.concatenate(parts) if parts else np.zeros(0)


def _as_lp(programme: Programme, low: Floats, high: Floats) -> highspy.HighsLp:
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = programme.columns, len(programme.rows)
    lp.col_cost_ = _joined(programme.cost)
    lp.col_lower_, lp.col_upper_ = low, high
    lp.row_lower_, lp.row_upper_ = np.array(programme.row_low), np.array(programme.row_high)
    lp.offset_ = programme.constant
    sizes = [columns.size for columns, _ in programme.rows]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = programme.columns, len(programme.rows)
    lp.a_matrix_.start_ = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
    if sizes:
        lp.a_matrix_.index_ = np.concatenate([c for c, _ in programme.rows]).astype(np.int32)
        lp.a_matrix_.value_ = np.concatenate([v for _, v in programme.rows])
    return lp
