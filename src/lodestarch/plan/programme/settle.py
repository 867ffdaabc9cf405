"""Whole numbers held: the best point that keeps the cones themselves.

Tangents leave points that overstep the cones a little, and many rounds of them do not end that. So the cones
are enclosed from the other side as well: where every term is held near the share of the root that it has, the
chord of its part lies above the part, and a point that keeps the chords keeps the cone. Both are linear
programmes; their distance is known, and it goes with the square of how near the terms are held.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.plan.programme.highs import Ran, Solver, Stop
from lodestarch.plan.programme.programme import Floats, Programme
from lodestarch.plan.programme.tangents import Lifted, Tangent, tangents

__all__ = ["OVERSTEP", "Settling", "overstep"]

Mask = npt.NDArray[np.bool_]

OVERSTEP: Final = 1e-8
"""A cone is cut where it is overstepped by more than this, relative to the size of its terms."""
_KEPT: Final = 1e-7
"""A cone is kept when it is overstepped by no more than this."""
_ROUNDS: Final = 60
_TRIES: Final = 6
"""Programmes of chords around one point of tangents."""
_NEAR: Final = 0.05
"""How near terms are held to their share of the root at first. Ours, by trial."""
_NEARER, _WIDER, _NEAREST, _WIDEST = 0.3, 3.0, 1e-4, 0.5
"""By how much nearer around a point that was found, wider where none was, and the ends."""
_PART: Final = 0.1
"""Part of the gap that may be left between the two sides."""
_SOME: Final = 1e-9


def overstep(cones: list[Lifted], x: Floats) -> float:
    """Largest overstep of the cones."""
    return max((c.overstep(x) for c in cones), default=0.0)


@dataclass(slots=True)
class Settling:
    """Settles proposals of whole numbers, one after the other.

    Parameters
    ----------
    programme : Programme
        Lifted.
    solver : Solver
        Gets the tangents that are found on the way.
    cones : list of Lifted
    gap : float
        A point this close to the best, or to ``bound``, is enough. [1]
    until_s : float
        Time in the solvers at which to end. [s]
    seen : ndarray of bool
        Columns that some point had above zero: those that are drawn on.
    spent_s : float
        Time in solvers other than ``solver``. [s]
    """

    programme: Programme
    solver: Solver
    cones: list[Lifted]
    gap: float
    until_s: float
    seen: Mask
    spent_s: float = 0.0

    @property
    def left_s(self) -> float:
        """Time that is left. [s]"""
        return self.until_s - self.spent_s - self.solver.seconds

    def of(self, whole: Floats | None, bound: float, beaten: float = math.inf) -> Ran:
        """Find the best point with whole numbers as in ``whole``, cones kept.

        Parameters
        ----------
        whole : ndarray or None
            Point with the whole numbers; ``None``: there are none.
        bound : float
            Proven for all whole numbers.
        beaten : float
            Objective of a point that is known: where these whole numbers cannot do better, they are left.

        Returns
        -------
        Ran
            ``bound`` is the last one proven for these whole numbers; ``x`` is ``None`` without a point.
        """
        best = Ran(Stop.OTHER, None, math.inf, -math.inf)
        below, near = -math.inf, _NEAR
        at: Ran | None = None if whole is None else Ran(Stop.OTHER, whole, math.inf, -math.inf)
        for _ in range(_ROUNDS):
            if at is not None and at.x is not None:
                self.seen |= at.x > _SOME
                found, near = self._around(at.x, whole, near, best.objective, max(below, bound))
                best = _better(best, found)
                if self._enough(best.objective, below, bound) or self.left_s <= 0.0:
                    break
                self.solver.add_rows(tangents(self.cones, at.x, OVERSTEP))
            at = self.solver.relaxed(self.left_s, whole)
            if at.x is None or at.stop is not Stop.OPTIMAL or at.objective >= min(beaten, best.objective):
                break
            below = at.bound
            if overstep(self.cones, at.x) <= OVERSTEP:
                best = _better(best, at)
                break
        if best.x is None and at is not None and at.x is not None and overstep(self.cones, at.x) <= _KEPT:
            best = at
        stop = Stop.OTHER if at is None else at.stop
        return Ran(stop, best.x, best.objective, min(below, best.objective))

    def _around(
        self, x: Floats, whole: Floats | None, near: float, objective: float, bound: float
    ) -> tuple[Ran, float]:
        """Best point by chords around a point, then around what was found, while that brings something."""
        best = Ran(Stop.OTHER, None, objective, -math.inf)
        for _ in range(_TRIES):
            found = self._inside(x, whole, near)
            if found.x is None:
                if best.x is not None or near >= _WIDEST or self.left_s <= 0.0:
                    break
                near = min(near * _WIDER, _WIDEST)
                continue
            brings = best.objective - found.objective
            best, x = _better(best, found), found.x
            near = max(near * _NEARER, _NEAREST)
            if self._enough(best.objective, bound, bound) or brings <= _PART * self.gap * abs(
                found.objective
            ):
                break
        return best, near

    def _enough(self, objective: float, below: float, bound: float) -> bool:
        if not math.isfinite(objective):
            return False
        size = abs(objective)
        return objective - below <= _PART * self.gap * size or objective - bound <= self.gap * size

    def _inside(self, x: Floats, whole: Floats | None, near: float) -> Ran:
        """Best point whose terms lie near those of ``x``, by chords."""
        group = np.concatenate(self.programme.group)
        held = (group < 0) | self.seen
        for c in self.cones:
            held[c.parts] = False
        inner = Solver(self.programme, np.flatnonzero(held), self.solver)
        inner.add_rows([row for c in self.cones for row in _chords(c, x, held, near)])
        ran = inner.relaxed(self.left_s, whole)
        self.spent_s += inner.seconds
        if ran.x is None or overstep(self.cones, ran.x) > _KEPT:
            return Ran(ran.stop, None, math.inf, -math.inf)
        return ran


def _better(one: Ran, other: Ran) -> Ran:
    return one if one.objective <= other.objective else other


def _chords(cone: Lifted, x: Floats, held: Mask, near: float) -> list[Tangent]:
    """Terms held near their shares, and the chords between the ends."""
    shares = cone.shares(x)
    rows: list[Tangent] = []
    for j in np.flatnonzero(held[cone.cone.spread_columns]):
        low, high = max(float(shares[j]) - near, 0.0), min(float(shares[j]) + near, 1.0)
        ends = np.array([cone.cone.spread_columns[j], cone.root])
        s = float(cone.cone.spread[j])
        rows += [(ends, np.array([s, -high]), 0.0), cone.chord(int(j), low, high)]
        if low > 0.0:
            rows.append((ends, np.array([-s, low]), 0.0))
    return rows
