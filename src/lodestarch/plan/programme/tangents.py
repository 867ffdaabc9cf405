"""Cones with columns of their own, and the tangents that cut them from outside.

Every tangent holds for every point of the cone, so that what they leave is a relaxation.

The root is taken apart before it is cut: ``s >= norm(v)`` is the same as ``w_j * s >= v_j**2`` with
``sum(w) <= s``, and a tangent of a part, ``w_j >= 2 r v_j - r**2 s``, serves every mix of the other parts.
Where there are many small terms their norm q has a part as well, and gradients cut it: one row for hundreds.
Most parts are never needed: a part without tangents is zero, and its column can be left out.

Source: J. P. Vielma, I. Dunning, J. Huchette, M. Lubin, Extended formulations in mixed integer conic
quadratic programming, Mathematical Programming Computation 9 (2017) 369-418; recalled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.plan.programme.programme import Cone, Floats, Programme, Where

__all__ = ["Lifted", "Tangent", "lift", "tangents"]

Tangent = tuple[Where, Floats, float]
"""``sum(values * x[columns]) <= high``."""

_GRID: Final = (0.2, 0.5, 0.8, 1.0)
"""Shares of the root at which parts are cut before anything is known: between two of them a part is at most
0.02 of the root off. Ours, by trial."""
_MANY: Final = 16
"""Terms above which the small ones have a norm of their own. Ours, by trial."""
_NONE: Final = 1e-9
_TOLD: Final = 1e-12


@dataclass(frozen=True, slots=True)
class Lifted:
    """A cone with the columns that take its root apart.

    Parameters
    ----------
    cone : Cone
    root : int
        Column of the root.
    parts : ndarray
        Columns of the parts, in the order of the columns under the root.
    row : int
        The row that has the root in it.
    norm, norm_part : int or None
        Columns of the norm of all terms but the last ``cone.apart``, and of its part; ``None``: there are
        few.
    """

    cone: Cone
    root: int
    parts: Where
    row: int
    norm: int | None
    norm_part: int | None

    def overstep(self, x: Floats) -> float:
        """By how much the cone itself is overstepped, relative to its terms."""
        size = 1e-3 + float(np.abs(self.cone.linear) @ np.abs(x[self.cone.columns]))
        return self.cone.excess(x) / size

    def shares(self, x: Floats) -> Floats:
        """Terms over the root, all zero where nothing is."""
        v = self.cone.spread * x[self.cone.spread_columns]
        norm = float(np.linalg.norm(v))
        return v / norm if norm > 0.0 else v

    def start(self) -> list[Tangent]:
        """Tangents before anything is known: of the parts that are there wherever anything is."""
        first = self.parts.size - self.cone.apart
        rows = [self.of_part(j, r) for j in range(first, self.parts.size) for r in _GRID]
        return rows if self.norm is None else [*rows, *(self._of_norm(r) for r in _GRID)]

    def tangents(self, x: Floats, *, fine: bool) -> list[Tangent]:
        """Tangents at a point, one for each part told too small; ``fine``: small terms one by one too."""
        r = self.shares(x)
        if not r.any():
            return []
        first = 0 if fine or self.norm is None else r.size - self.cone.apart
        rows = [self.of_part(int(j), float(r[j])) for j in first + np.flatnonzero(r[first:] > _NONE)]
        rows = [row for row in rows if float(row[1] @ x[row[0]]) > _TOLD]
        if self.norm is not None:
            rows += self._of_small(x, r[: r.size - self.cone.apart])
        return rows

    def _of_small(self, x: Floats, r: Floats) -> list[Tangent]:
        """The gradient of the norm of the small terms, and the tangent of its part."""
        some = np.flatnonzero(r > _NONE)
        if self.norm is None or self.norm_part is None or not some.size:
            return []
        size = float(np.linalg.norm(r))
        columns, spread = self.cone.spread_columns[some], self.cone.spread[some]
        small = float(np.linalg.norm(spread * x[columns]))
        rows: list[Tangent] = []
        if small > max(float(x[self.norm]), 0.0) * (1.0 + _NONE):
            gradient = np.append(r[some] / size * spread, -1.0)
            rows.append((np.append(columns, self.norm), gradient, 0.0))
        row = self._of_norm(size)
        told = 2.0 * size * small - size * size * float(x[self.root]) - float(x[self.norm_part])
        return [*rows, row] if told > _TOLD else rows

    def _of_norm(self, r: float) -> Tangent:
        return np.array([self.norm, self.root, self.norm_part]), np.array([2.0 * r, -r * r, -1.0]), 0.0

    def of_part(self, j: int, r: float) -> Tangent:
        """The tangent of one part where its term is ``r`` of the root."""
        return self.chord(j, r, r)

    def chord(self, j: int, low: float, high: float) -> Tangent:
        """A part is no less than its chord between two shares of the root: more than it is, between them."""
        columns = np.array([self.cone.spread_columns[j], self.root, self.parts[j]])
        return columns, np.array([(low + high) * self.cone.spread[j], -low * high, -1.0]), 0.0


def tangents(cones: Sequence[Lifted], x: Floats, overstep: float, *, fine: bool = True) -> list[Tangent]:
    """Tangents at a point for every cone that it oversteps by more than ``overstep``."""
    return [row for c in cones if c.overstep(x) > overstep for row in c.tangents(x, fine=fine)]


def lift(programme: Programme) -> list[Lifted]:
    """Give every cone a column for its root and one for each part under it; the programme is changed."""
    return [_lifted(programme, cone) for cone in programme.cones]


def _lifted(programme: Programme, cone: Cone) -> Lifted:
    root = programme.add_column()
    parts = programme.add_columns(cone.spread_columns.size)
    row = programme.add_row(np.append(cone.columns, root), np.append(cone.linear, cone.z), high=cone.limit)
    norm = norm_part = None
    summed = parts
    if parts.size > _MANY:
        norm, norm_part = programme.add_column(), programme.add_column()
        small = parts[: parts.size - cone.apart]
        programme.add_row(np.append(small, norm_part), np.append(np.ones(small.size), -1.0), high=0.0)
        summed = np.append(parts[small.size :], norm_part)
    programme.add_row(np.append(summed, root), np.append(np.ones(summed.size), -1.0), high=0.0)
    return Lifted(cone, root, parts, row, norm, norm_part)
