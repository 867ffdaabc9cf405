"""Cones by tangents, whole numbers by branching, to a proven gap.

Every tangent holds for every point of its cone, so the linear programme is a relaxation and its bound a bound
of the cone programme. A plan counts only once it keeps the cones themselves.

First without whole numbers (:mod:`.root`): that bound is often all the proof that is needed. Then whole
numbers near that point, with what is whole there held; each proposal is settled with its whole numbers held
(:mod:`.settle`). Only what is left open then is branched on with everything free.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from lodestarch.plan.programme.highs import Ran, Solver, Stop
from lodestarch.plan.programme.programme import INF, Floats, Programme
from lodestarch.plan.programme.root import Root, root_of, without_parts
from lodestarch.plan.programme.settle import OVERSTEP, Settling, overstep
from lodestarch.plan.programme.tangents import Lifted, lift, tangents

__all__ = ["Ended", "Solved", "relative_gap", "solve"]

_ROUNDS: Final = 200
_MOVES: Final = 0.05
"""Part of the gap that a round before whole numbers has to move."""
_INSIDE: Final = 0.25
"""Part of the gap that runs with whole numbers may leave open: the rest is for the cones."""
_WHOLE: Final = 1e-6
"""A column this close to a whole number is whole."""
_SETTLING_S: Final = 1.0
"""What whole numbers leave open is settled anew, even out of time: it is a small programme. [s]"""


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
    >>> from lodestarch.plan.programme.programme import Cone
    >>> p = Programme()
    >>> x = p.add_columns(2, cost=np.array([2.0, 2.0]))
    >>> p.add_cone(Cone(x, np.array([-0.9, -0.9]), x, np.array([0.05, 0.05]), 2.0, -10.0))
    >>> solved = solve(p)
    >>> solved.ended.value, round(solved.objective, 4)
    ('optimal', 24.117)
    """
    size = programme.columns
    cones = lift(programme)
    way = _Way(programme, size, cones, gap, time_s)
    if not way.whole:
        return way.without_whole_numbers()
    root = root_of(programme, cones, gap=_MOVES * gap, time_s=time_s)
    return way.with_whole_numbers(root)


class _Way:
    """One programme on its way: the best point that keeps the cones, and the bound, so far."""

    def __init__(
        self, programme: Programme, size: int, cones: list[Lifted], gap: float, time_s: float
    ) -> None:
        self.programme, self.size, self.cones, self.gap, self.time_s = programme, size, cones, gap, time_s
        self.whole = any(bool(w.any()) for w in programme.whole)
        self.x: Floats | None = None
        self.objective, self.bound = INF, -INF
        self.spent_s, self.rounds, self.tangents = 0.0, 0, 0
        self.proposed: set[bytes] = set()
        self.seen = np.zeros(programme.columns, dtype=np.bool_)

    @property
    def done(self) -> bool:
        return relative_gap(self.objective, self.bound) <= self.gap

    def ended(self, how: Ended | None = None) -> Solved:
        if how is None:
            how = Ended.OPTIMAL if self.done else Ended.NOTHING if self.x is None else Ended.FEASIBLE
        own = None if self.x is None else self.x[: self.size]
        # A bound above the objective is the solver's tolerance, no proof of more.
        bound = self.bound if how is Ended.UNBOUNDED else min(self.bound, self.objective)
        objective = -INF if how is Ended.UNBOUNDED else self.objective
        gap = relative_gap(objective, bound)
        return Solved(how, own, objective, bound, gap, self.rounds, self.tangents, self.spent_s)

    def offer(self, ran: Ran) -> None:
        if ran.x is not None and ran.objective < self.objective:
            self.x, self.objective = ran.x, ran.objective

    def without_whole_numbers(self) -> Solved:
        # A degenerate point can need another cut although the last one moved nothing: cut until the cones
        # hold.
        root = root_of(self.programme, self.cones, gap=_MOVES * self.gap, time_s=self.time_s)
        self.bound, self.seen = root.bound, root.seen
        if root.ran.stop in {Stop.INFEASIBLE, Stop.UNBOUNDED}:
            return self._stopped(root.solver, root.ran)
        ran = self._settle(root.solver, None)
        if root.solver.left_out().size == 0:
            self.bound = max(self.bound, ran.bound)
        return self._counted(root.solver)

    def with_whole_numbers(self, root: Root) -> Solved:
        if root.ran.stop in {Stop.INFEASIBLE, Stop.UNBOUNDED}:
            return self._stopped(root.solver, root.ran)
        self.bound, self.seen = root.bound, root.seen
        solver = root.solver
        if root.ran.x is not None:
            self._near(solver, root.ran.x)
        if self.done or solver.seconds >= self.time_s:
            return self._counted(solver)
        if solver.left_out().size:
            rest = Solver(self.programme, np.flatnonzero(without_parts(self.programme, self.cones)))
            rest.add_rows(solver.added_rows())
            self.spent_s += solver.seconds
            solver = rest
        return self._branch(solver)

    def _near(self, solver: Solver, x: Floats) -> None:
        """Whole numbers near the point without them: rounded, then what is whole there held."""
        if self.cones:
            self._propose(solver, x)
            if self.done:
                return
        held = np.where(np.abs(x - np.round(x)) <= _WHOLE, np.round(x), np.nan)
        ran = solver.whole_numbers(self.time_s - solver.seconds, self.gap * _INSIDE, held)
        self.rounds += 1
        if ran.x is not None:
            self._propose(solver, ran.x)

    def _propose(self, solver: Solver, x: Floats) -> None:
        """Settle the whole numbers of a point, unless they have been settled."""
        key = np.round(x[solver.whole]).astype(np.int64).tobytes()
        if key not in self.proposed:
            self.proposed.add(key)
            self._settle(solver, x)

    def _settle(self, solver: Solver, whole: Floats | None) -> Ran:
        until_s = max(self.time_s - self.spent_s, solver.seconds + _SETTLING_S)
        settling = Settling(self.programme, solver, self.cones, self.gap, until_s, self.seen)
        ran = settling.of(whole, self.bound, self.objective)
        self.spent_s += settling.spent_s
        self.offer(ran)
        return ran

    def _branch(self, solver: Solver) -> Solved:
        """Run with everything free, settle what whole numbers leave open, cut, run again."""
        for _ in range(_ROUNDS):
            left_s = self.time_s - self.spent_s - solver.seconds
            inside = self.gap * _INSIDE if self.cones else self.gap
            ran = solver.whole_numbers(left_s, inside)
            self.rounds += 1
            if ran.stop is Stop.INFEASIBLE and self.x is not None:
                self.bound = self.objective
                return self._counted(solver)
            if ran.stop in {Stop.INFEASIBLE, Stop.UNBOUNDED}:
                return self._stopped(solver, ran)
            self.bound = max(self.bound, ran.bound)
            fresh = False
            if ran.x is not None:
                fresh = overstep(self.cones, ran.x) > OVERSTEP
                if fresh:
                    solver.add_rows(tangents(self.cones, ran.x, OVERSTEP))
                    self._propose(solver, ran.x)
                else:
                    self.offer(ran)
            out = self.spent_s + solver.seconds >= self.time_s
            if self.done or ran.stop is not Stop.OPTIMAL or out or (not fresh and ran.x is not None):
                break
        return self._counted(solver)

    def _stopped(self, solver: Solver, ran: Ran) -> Solved:
        self.bound = INF if ran.stop is Stop.INFEASIBLE else -INF
        self._count(solver)
        return self.ended(Ended.INFEASIBLE if ran.stop is Stop.INFEASIBLE else Ended.UNBOUNDED)

    def _counted(self, solver: Solver) -> Solved:
        self._count(solver)
        return self.ended()

    def _count(self, solver: Solver) -> None:
        self.spent_s += solver.seconds
        self.tangents = solver.added
