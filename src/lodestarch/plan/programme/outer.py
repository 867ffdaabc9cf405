"""Cones by tangents: solve, cut where the point oversteps a cone, solve again, until the gap is proven.

Every tangent holds for every point of the cone, so the linear programme is a relaxation and its bound a bound
of the cone programme. A plan counts only once it keeps the cones themselves.

The root is taken apart (one share of the spread for each column) before it is cut: ``s >= norm(v)`` is the
same as ``w_j * s >= v_j**2`` with ``sum(w) <= s``, and a tangent of a part, ``w_j >= 2 r v_j - r**2 s``,
serves every mix of the other parts.

Source: J. P. Vielma, I. Dunning, J. Huchette, M. Lubin, Extended formulations in mixed integer conic
quadratic programming, Mathematical Programming Computation 9 (2017) 369-418; recalled.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from lodestarch.plan.programme.highs import Ran, Solver, Stop
from lodestarch.plan.programme.programme import INF, Cone, Floats, Programme, Where

__all__ = ["Ended", "Solved", "relative_gap", "solve"]

_OVERSTEP: Final = 1e-8
"""A cone is cut where it is overstepped by more than this, relative to the size of its terms."""
_KEPT: Final = 1e-7
"""A cone is kept when it is overstepped by no more than this."""
_RELAXED_OVERSTEP: Final = 1e-3
_RELAXED_ROUNDS: Final = 25
_POLISH_ROUNDS: Final = 60
_PLAIN_ROUNDS: Final = 6
"""Rounds of polishing after which cones that still give way are tightened, if the gap has room for it."""
_TIGHTER: Final = (10.0, 0.02)
"""By how much of themselves: this many times the gap, and no more than this."""
_ROOM: Final = 1e-5
"""A gap that has room for it. [1]"""
_ROUNDS: Final = 200


class Ended(StrEnum):
    """What is proven at the end."""

    OPTIMAL = "optimal"
    """A plan within the gap that was asked for."""
    FEASIBLE = "feasible"
    """A plan; the gap that was asked for is not proven."""
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    NOTHING = "nothing"
    """Neither a plan nor a proof that there is none."""


@dataclass(frozen=True, slots=True)
class Solved:
    """An answer: the point in the programme's own columns, its objective, and the proven bound.

    Parameters
    ----------
    ended : Ended
    x : ndarray or None
    objective, bound, gap : float
        To minimise; ``bound`` lies below. ``gap`` is relative to the objective.
    rounds, tangents : int
        Whole-number runs, and tangents at the end.
    seconds : float
        Time in the solver. [s]
    """

    ended: Ended
    x: Floats | None
    objective: float
    bound: float
    gap: float
    rounds: int
    tangents: int
    seconds: float


def relative_gap(objective: float, bound: float) -> float:
    """Distance of bound and objective over the objective.

    Examples
    --------
    >>> relative_gap(-100.0, -101.0)
    0.01
    """
    if not (math.isfinite(objective) and math.isfinite(bound)):
        return INF
    return max(objective - bound, 0.0) / max(abs(objective), 1e-9)


@dataclass(frozen=True, slots=True)
class _Lifted:
    """A cone with the columns that take its root apart."""

    cone: Cone
    root: int
    parts: Where
    row: int

    def overstep(self, x: Floats) -> float:
        """By how much the cone itself is overstepped, relative to its terms."""
        size = 1e-3 + float(np.abs(self.cone.linear) @ np.abs(x[self.cone.columns]))
        return self.cone.excess(x) / size

    def tangents(self, x: Floats) -> list[tuple[Where, Floats, float]]:
        """Tangents at a point, one for each part that is not zero and is told too small."""
        v = self.cone.spread * x[self.cone.spread_columns]
        norm = float(np.linalg.norm(v))
        if norm <= 0.0:
            return []
        r = v / norm
        rows = []
        for j in np.flatnonzero(r > 1e-9):
            columns = np.array([self.cone.spread_columns[j], self.root, self.parts[j]])
            values = np.array([2.0 * r[j] * self.cone.spread[j], -r[j] * r[j], -1.0])
            if float(values @ x[columns]) > 1e-12:
                rows.append((columns, values, 0.0))
        return rows


class _Outer:
    """One programme on its way."""

    def __init__(self, programme: Programme, time_s: float) -> None:
        self.size = programme.columns
        self.cones = _lift(programme)
        self.solver = Solver(programme)
        self.time_s = time_s
        self.tangents = 0

    @property
    def left_s(self) -> float:
        return self.time_s - self.solver.seconds

    def overstep(self, x: Floats) -> float:
        return max((c.overstep(x) for c in self.cones), default=0.0)

    def cut(self, x: Floats, tolerance: float) -> int:
        rows = [row for c in self.cones if c.overstep(x) > tolerance for row in c.tangents(x)]
        self.solver.add_rows(rows)
        self.tangents += len(rows)
        return len(rows)

    def linear(self, rounds: int, tolerance: float, enough: float = 0.0) -> Ran:
        """Cut the programme without whole numbers until its point keeps the cones.

        ``enough``: stop as well once a round moves the objective by no more than this, relatively. Without it
        a round that moves nothing is no end: a degenerate point can need another cut.
        """
        ran = self.solver.relaxed(self.left_s)
        for _ in range(rounds):
            if ran.x is None or self.left_s <= 0.0 or not self.cut(ran.x, tolerance):
                break
            before = ran.objective
            ran = self.solver.relaxed(self.left_s)
            if enough > 0.0 and abs(ran.objective - before) <= enough * abs(before):
                break
        return ran

    def settled(self, whole: Floats, gap: float) -> Ran:
        """Find the best point with whole numbers held, cones kept."""
        # What whole numbers leave open is settled anew, even out of time: it is a small programme.
        self.time_s = max(self.time_s, self.solver.seconds + 1.0)
        tightened: set[int] = set()
        ran = self.solver.relaxed(self.left_s, whole)
        for round_ in range(_POLISH_ROUNDS):
            if ran.x is None or self.left_s <= 0.0 or self.overstep(ran.x) <= _OVERSTEP:
                break
            if round_ >= _PLAIN_ROUNDS and self.overstep(ran.x) <= _KEPT:
                break
            self.cut(ran.x, _OVERSTEP)
            if round_ >= _PLAIN_ROUNDS and gap >= _ROOM:
                by = 1.0 + min(_TIGHTER[0] * gap, _TIGHTER[1])
                for i, c in enumerate(self.cones):
                    if i not in tightened and c.overstep(ran.x) > _KEPT:
                        self.solver.set_value(c.row, c.root, c.cone.z * by)
                        tightened.add(i)
            ran = self.solver.relaxed(self.left_s, whole)
        for i in tightened:
            self.solver.set_value(self.cones[i].row, self.cones[i].root, self.cones[i].cone.z)
        return ran


def solve(programme: Programme, *, gap: float = 1e-6, time_s: float = 60.0) -> Solved:
    """Minimise a programme to a proven gap.

    Parameters
    ----------
    programme : Programme
        Changed on the way: cones get columns of their own.
    gap : float
        Relative gap to prove. [1]
    time_s : float
        Time in the solver after which the best plan so far is returned. [s]

    Returns
    -------
    Solved

    Examples
    --------
    Buy at least 10 at 2 each, where what arrives is 90 % with a standard deviation of 5 %, 2 sigma sure:

    >>> import numpy as np
    >>> p = Programme()
    >>> x = p.add_columns(2, cost=np.array([2.0, 2.0]))
    >>> p.add_cone(Cone(x, np.array([-0.9, -0.9]), x, np.array([0.05, 0.05]), 2.0, -10.0))
    >>> solved = solve(p)
    >>> solved.ended.value, round(solved.objective, 6)
    ('optimal', 24.117035)
    """
    outer = _Outer(programme, time_s)
    whole = outer.solver.whole.size > 0
    if whole:
        ran = outer.linear(_RELAXED_ROUNDS, _RELAXED_OVERSTEP, gap / 10.0)
    else:
        ran = outer.linear(_ROUNDS, _OVERSTEP)
    if ran.stop is Stop.INFEASIBLE:
        return _ended(outer, Ended.INFEASIBLE, None, INF, INF, 0)
    if ran.stop is Stop.UNBOUNDED:
        return _ended(outer, Ended.UNBOUNDED, None, -INF, -INF, 0)
    if whole:
        return _branch(outer, gap, ran)
    if ran.x is None or outer.overstep(ran.x) > _KEPT:
        return _ended(outer, Ended.NOTHING, None, INF, ran.bound, 0)
    done = ran.stop is Stop.OPTIMAL
    return _ended(outer, Ended.OPTIMAL if done else Ended.FEASIBLE, ran.x, ran.objective, ran.bound, 0)


class _Best:
    """The best point that keeps the cones, so far."""

    def __init__(self) -> None:
        self.x: Floats | None = None
        self.objective = INF

    def offer(self, outer: _Outer, ran: Ran) -> None:
        kept = ran.x is not None and outer.overstep(ran.x) <= _KEPT
        if kept and ran.objective < self.objective:
            self.x, self.objective = ran.x, ran.objective


def _branch(outer: _Outer, gap: float, relaxed: Ran) -> Solved:
    """Whole numbers: try the rounded relaxation; then run, polish what they leave open, cut, run again."""
    bound, best = relaxed.bound, _Best()
    if relaxed.x is not None and outer.cones:
        best.offer(outer, outer.settled(np.round(relaxed.x), gap))
        if relative_gap(best.objective, bound) <= gap:
            return _ended(outer, Ended.OPTIMAL, best.x, best.objective, bound, 0)
    for round_ in range(1, _ROUNDS + 1):
        ran = outer.solver.whole_numbers(outer.left_s, gap / 4.0 if outer.cones else gap, best.x)
        if ran.stop is Stop.INFEASIBLE:
            found = Ended.INFEASIBLE if best.x is None else Ended.OPTIMAL
            proven = INF if best.x is None else best.objective
            return _ended(outer, found, best.x, best.objective, proven, round_)
        if ran.stop is Stop.UNBOUNDED:
            return _ended(outer, Ended.UNBOUNDED, None, -INF, -INF, round_)
        bound = max(bound, ran.bound)
        fresh = 0
        if ran.x is not None:
            fresh = outer.cut(ran.x, _OVERSTEP)
            best.offer(outer, ran if fresh == 0 else outer.settled(ran.x, gap))
        if relative_gap(best.objective, bound) <= gap:
            return _ended(outer, Ended.OPTIMAL, best.x, best.objective, bound, round_)
        if ran.stop is not Stop.OPTIMAL or outer.left_s <= 0.0 or (fresh == 0 and ran.x is not None):
            break
    ended = Ended.NOTHING if best.x is None else Ended.FEASIBLE
    return _ended(outer, ended, best.x, best.objective, bound, round_)


def _ended(
    outer: _Outer, ended: Ended, x: Floats | None, objective: float, bound: float, rounds: int
) -> Solved:
    own = None if x is None else x[: outer.size]
    # A bound above the objective is the solver's tolerance, no proof of more.
    bound = min(bound, objective)
    gap = relative_gap(objective, bound)
    return Solved(ended, own, objective, bound, gap, rounds, outer.tangents, outer.solver.seconds)


def _lift(programme: Programme) -> list[_Lifted]:
    """Give every cone a column for its root and one for each part under it."""
    lifted = []
    for cone in programme.cones:
        root = programme.add_column()
        parts = programme.add_columns(cone.spread_columns.size)
        row = programme.add_row(
            np.append(cone.columns, root), np.append(cone.linear, cone.z), high=cone.limit
        )
        programme.add_row(np.append(parts, root), np.append(np.ones(parts.size), -1.0), high=0.0)
        lifted.append(_Lifted(cone, root, parts, row))
    return lifted
