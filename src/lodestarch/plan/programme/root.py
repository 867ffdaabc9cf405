"""The programme without its whole numbers: its cones cut, and only the columns held that are worth it.

A large programme begins with few of its minor columns. What the others could bring is read from their reduced
costs: what draws on one pool brings no more than the best of them would with all that is there, so that the
bound is one of all columns; those that could bring something are taken in.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.plan.programme.highs import Ran, Solver, Stop
from lodestarch.plan.programme.programme import INF, Floats, Programme, Where
from lodestarch.plan.programme.tangents import Lifted, tangents

__all__ = ["Root", "root_of", "without_parts"]

_LARGE: Final = 1500
"""Minor columns from which a programme begins with few of them. Ours, by trial."""
_EACH: Final = 10
"""It begins with one in so many, and with three times as many where those have no point."""
_GOLDEN: Final = 0.6180339887498949
_TAKEN: Final = 0.03
_AT_LEAST: Final = 4
"""Of each group this share is taken in at once, and no fewer than these. Ours, by trial."""
_BRINGS: Final = 1e-9
"""A reduced cost below this share of the largest cost is the solver's rounding."""
_SOME: Final = 1e-9
_OVERSTEP: Final = 1e-4
_ROUNDS: Final = 60
_COARSE: Final = 8
"""Rounds in which small terms are cut together; what is left then needs them one by one. Ours, by trial."""


@dataclass(frozen=True, slots=True)
class Root:
    """What is known before whole numbers.

    Parameters
    ----------
    solver : Solver
        With the columns that it holds now.
    ran : Ran
        The last run.
    bound : float
        Over all columns.
    seen : ndarray of bool
        Columns that the point of some round had above zero.
    """

    solver: Solver
    ran: Ran
    bound: float
    seen: npt.NDArray[np.bool_]


def root_of(
    programme: Programme, cones: list[Lifted], *, gap: float, time_s: float, overstep: float = _OVERSTEP
) -> Root:
    """Cut and price until neither moves the bound.

    Parameters
    ----------
    programme : Programme
        Lifted.
    cones : list of Lifted
    gap : float
        A round that moves the bound by less than this, relatively, is the last; 0: never for that. [1]
    time_s : float
        [s]
    overstep : float
        A cone is cut where it is overstepped by more than this, relative to its terms.
    """
    group = np.concatenate(programme.group or [np.zeros(0, dtype=np.intp)])
    pool = np.concatenate(programme.pool or [np.zeros(0, dtype=np.intp)])
    solver, ran = _begun(programme, group, cones, time_s)
    bound, before = -INF, INF
    seen = np.zeros(programme.columns, dtype=np.bool_)
    for round_ in range(_ROUNDS):
        if ran.x is None or ran.stop is not Stop.OPTIMAL:
            break
        seen |= ran.x > _SOME
        worth, proven = _worth_it(solver, ran, group, pool)
        bound = max(bound, proven)
        scale = gap * abs(ran.objective)
        still = abs(ran.objective - before) <= scale
        # Tangents while they move the objective, columns while they could move it: one kind at a time is
        # cheaper.
        fine = round_ >= _COARSE and not solver.left_out().size
        rows = [] if still and gap > 0.0 else tangents(cones, ran.x, overstep, fine=fine)
        if ran.objective - bound <= 4.0 * scale and gap > 0.0:
            worth = worth[:0]
        left_s = time_s - solver.seconds
        if left_s <= 0.0 or not (rows or worth.size):
            break
        before = ran.objective
        if worth.size:
            solver.add_columns(worth)
        solver.add_rows(rows)
        ran = solver.relaxed(left_s)
    return Root(solver, ran, bound, seen)


def _begun(programme: Programme, group: Where, cones: list[Lifted], time_s: float) -> tuple[Solver, Ran]:
    """The first run, with as few columns as have a point."""
    start = [row for c in cones for row in c.start()]
    minor = np.flatnonzero(group >= 0)
    each = _EACH if minor.size >= _LARGE else 1
    while True:
        held = without_parts(programme, cones)
        # Spread evenly over every group, not the same places in each: steps of the golden section.
        held[minor[np.modf(np.arange(minor.size) * _GOLDEN)[0] >= 1.0 / each]] = False
        solver = Solver(programme, np.flatnonzero(held))
        solver.add_rows(start)
        ran = solver.relaxed(time_s)
        if each == 1 or (ran.x is not None and ran.stop is Stop.OPTIMAL):
            return solver, ran
        each = max(each // 3, 1)


def without_parts(programme: Programme, cones: list[Lifted]) -> npt.NDArray[np.bool_]:
    """Columns to hold from the first: all but parts of roots, which come with their tangents."""
    held = np.ones(programme.columns, dtype=np.bool_)
    for c in cones:
        held[c.parts] = False
    return held


def _worth_it(solver: Solver, ran: Ran, group: Where, pool: Where) -> tuple[Where, float]:
    """Columns left out that could bring something, the best of every group, and the bound over all."""
    out = solver.left_out()
    if not out.size:
        return out, ran.bound
    d: Floats = solver.reduced_costs()[out]
    proven = ran.bound + _most_of_pools(d, solver.most(out), pool[out])
    brings = np.flatnonzero(d < -_BRINGS * float(np.abs(solver.cost).max()))
    order = brings[np.lexsort((d[brings], group[out[brings]]))]
    groups = group[out[order]]
    first = np.flatnonzero(np.append(True, groups[1:] != groups[:-1])) if order.size else order
    place = np.arange(order.size) - np.repeat(first, np.diff(np.append(first, order.size)))
    share = np.bincount(group[group >= 0])[groups] * _TAKEN
    return out[order[place < np.maximum(share, _AT_LEAST)]], proven


def _most_of_pools(d: Floats, most: Floats, pool: Where) -> float:
    """The least that these reduced costs can add, each pool drawn on by its best column alone."""
    best = np.zeros(int(pool.max()) + 1)
    ends = best.copy()
    np.minimum.at(best, pool, d)
    np.maximum.at(ends, pool, most)
    return float(best @ ends)
