"""Nested factors as numbered nodes, from the outermost to the single value."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where

__all__ = ["Index", "Nesting", "nest"]

Index = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Nesting:
    """Values under nested factors.

    Parameters
    ----------
    names : tuple of str
        Factors, outermost first.
    parent : tuple of ndarray of int64
        For each factor, the node of the next outer factor (0, the root, for the outermost) of each of its
        nodes; last, the innermost node of each value.
    value : ndarray
    findings : tuple of Finding
        Rows left out.
    """

    names: tuple[str, ...]
    parent: tuple[Index, ...]
    value: FloatArray
    findings: tuple[Finding, ...]

    @property
    def sizes(self) -> tuple[int, ...]:
        """Number of nodes of each factor."""
        return tuple(int(p.size) for p in self.parent[:-1])

    def leaves_under(self, level: int) -> FloatArray:
        """Number of values under each node of one factor."""
        count: FloatArray = np.bincount(self.parent[-1], minlength=self.sizes[-1]).astype(np.float64)
        for up in range(len(self.names) - 1, level, -1):
            count = np.asarray(
                np.bincount(self.parent[up], weights=count, minlength=self.sizes[up - 1]), dtype=np.float64
            )
        return count


def nest(
    values: npt.ArrayLike, factors: Sequence[npt.ArrayLike], names: Sequence[str] | None = None
) -> Nesting:
    """Number nested factors.

    Parameters
    ----------
    values : array_like
        One value per row; a missing or infinite one is left out with a finding.
    factors : sequence of array_like
        One column of labels per factor, outermost first; a label counts within its outer factor only.
    names : sequence of str, optional
        Names of the factors.

    Returns
    -------
    Nesting
        With findings ``component-value-missing`` for rows left out.

    Raises
    ------
    LodestarchError
        Without a factor, or when columns differ in length.
    """
    y = np.asarray(values, dtype=np.float64).ravel()
    columns = [np.asarray(f).ravel() for f in factors]
    if not columns or any(c.size != y.size for c in columns):
        raise LodestarchError(f"{y.size} values under columns of {[c.size for c in columns]} rows")
    good = np.isfinite(y)
    findings = tuple(
        Finding("component-value-missing", Where(row=int(i) + 1), Severity.STOP)
        for i in np.flatnonzero(~good)[:20]
    )
    parent: list[Index] = []
    outer = np.zeros(int(good.sum()), dtype=np.int64)
    for column in columns:
        _, label = np.unique(column[good], return_inverse=True)
        key = outer * (int(label.max(initial=0)) + 1) + label.ravel()
        _, first, node = np.unique(key, return_index=True, return_inverse=True)
        parent.append(outer[first])
        outer = node.ravel().astype(np.int64)
    parent.append(outer)
    titles = tuple(names) if names is not None else tuple(f"factor {i + 1}" for i in range(len(columns)))
    return Nesting(titles, tuple(parent), y[good], findings)
