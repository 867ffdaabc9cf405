"""Mixed-model equations of crossed factors, from counts alone.

The idea: everything that a restricted likelihood of crossed effects needs are counts (how many results share
a level of this factor and a level of that one) and sums of values by level. They are taken once, in one pass
over the results; after that a step costs the same for a thousand results and for a million. The factor with
most levels is eliminated by its diagonal (no two of its levels share a result), which leaves a small dense
matrix.

For residual variance 1 and ratios g_k of each factor's variance to it, C = W'W + diag(0, 1/g). With b the
eliminated factor, d its counts, lambda = 1/(d + 1/g_b): S = R + diag(1/g) - B' lambda B.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import sparse
from scipy.linalg import cho_factor, cho_solve
from scipy.linalg.lapack import dpotri

from lodestarch.common.arrays import FloatArray, as_array
from lodestarch.precision.nesting import Index

__all__ = ["MOST_REST", "Equations", "Solved", "equations"]

MOST_REST: Final = 6000
"""Most levels of all factors but the largest together (a choice of ours: their dense matrix is then 290
MB)."""

_DENSE_FROM: Final = 0.1
"""Share of filled cells from which the block beside the largest factor is kept dense."""


@dataclass(frozen=True, slots=True)
class Solved:
    """Solution at given ratios.

    Parameters
    ----------
    rest, large : ndarray
        Intercept and effects of the smaller factors; effects of the eliminated one.
    square : float
        y'Py with residual variance 1.
    log_det : float
        Logarithm of the determinant of C.
    inverse : ndarray
        Inverse of S.
    lam : ndarray
        1/(d + 1/g) of the eliminated factor.
    traces : ndarray
        Trace of the inverse of C over each factor, in the order of the factors.
    """

    rest: FloatArray
    large: FloatArray
    square: float
    log_det: float
    inverse: FloatArray
    lam: FloatArray
    traces: FloatArray


@dataclass(frozen=True, slots=True)
class Equations:
    """Counts and sums.

    Parameters
    ----------
    sizes : tuple of int
        Levels of each factor.
    large : int
        Which factor is eliminated; -1 where there is none.
    start : tuple of int
        First column of each factor in the rest (0 is the intercept); -1 for the eliminated one.
    rest, block : ndarray
        W'W of the rest; of the eliminated factor (rows) with the rest, dense or sparse.
    count : ndarray
        Results under each level of the eliminated factor.
    sum_rest, sum_large : ndarray
        W'y.
    square : float
        y'y.
    weight : float
        Sum of weights; the number of results where none are given.
    """

    sizes: tuple[int, ...]
    large: int
    start: tuple[int, ...]
    rest: FloatArray
    block: FloatArray | sparse.csr_array
    count: FloatArray
    sum_rest: FloatArray
    sum_large: FloatArray
    square: float
    weight: float

    def slice_of(self, factor: int) -> slice:
        """Columns of one of the smaller factors."""
        return slice(self.start[factor], self.start[factor] + self.sizes[factor])

    def split(self, factor: int, solved_rest: FloatArray, solved_large: FloatArray) -> FloatArray:
        """Part of a solution that belongs to one factor."""
        return solved_large if factor == self.large else solved_rest[self.slice_of(factor)]

    def ratios_on_diagonal(self, ratio: FloatArray) -> tuple[FloatArray, float]:
        """1/g along the rest, and of the eliminated factor."""
        more = np.zeros(self.rest.shape[0])
        for k in range(len(self.sizes)):
            if k != self.large:
                more[self.slice_of(k)] = 1.0 / ratio[k]
        return more, 1.0 / float(ratio[self.large]) if self.large >= 0 else 1.0

    def solve(self, ratio: FloatArray) -> Solved:
        """Solve at given ratios of variances.

        Parameters
        ----------
        ratio : ndarray
            Variance of each factor in units of the residual one; all above 0.

        Raises
        ------
        numpy.linalg.LinAlgError
            When rounding leaves no positive definite matrix.
        """
        more, of_large = self.ratios_on_diagonal(ratio)
        lam = 1.0 / (self.count + of_large)
        s = self.rest - self._gram(lam)
        s[np.diag_indices_from(s)] += more
        factor = cho_factor(s, lower=True, overwrite_a=True, check_finite=False)
        rest = cho_solve(factor, self.sum_rest - self.block.T @ (lam * self.sum_large), check_finite=False)
        large = lam * (self.sum_large - self.block @ rest)
        square = self.square - float(self.sum_rest @ rest) - float(self.sum_large @ large)
        log_det = 2.0 * float(np.log(np.diagonal(factor[0])).sum()) - float(np.log(lam).sum())
        inverse, _ = dpotri(factor[0], lower=True, overwrite_c=True)
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        diagonal = np.diagonal(inverse)
        traces = np.empty(len(self.sizes))
        for k in range(len(self.sizes)):
            if k == self.large:
                traces[k] = float(lam.sum()) + float(np.vdot(inverse, self._gram(lam**2)))
            else:
                traces[k] = float(diagonal[self.slice_of(k)].sum())
        return Solved(rest, large, square, log_det, inverse, lam, traces)

    def _gram(self, weight: FloatArray) -> FloatArray:
        """B' diag(weight) B."""
        if isinstance(self.block, np.ndarray):
            scaled = self.block * np.sqrt(weight)[:, None]
            return np.asarray(scaled.T @ scaled)
        scaled_sparse = sparse.csr_array(self.block.multiply(np.sqrt(weight)[:, None]))
        return np.asarray((scaled_sparse.T @ scaled_sparse).toarray())

    def times(self, rest: FloatArray, large: FloatArray) -> tuple[FloatArray, FloatArray]:
        """W'W times a vector (or several as columns)."""
        count = self.count if large.ndim == 1 else self.count[:, None]
        return self.rest @ rest + self.block.T @ large, self.block @ rest + count * large

    def back(self, at: Solved, rest: FloatArray, large: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Inverse of C times a vector (or several as columns)."""
        lam = at.lam if large.ndim == 1 else at.lam[:, None]
        out = at.inverse @ (rest - self.block.T @ (lam * large))
        return out, lam * (large - self.block @ out)

    def variances(self, at: Solved, factor: int) -> tuple[FloatArray, FloatArray]:
        """Diagonal of the inverse of C over a factor, and its covariance with the intercept."""
        if factor != self.large:
            at_factor = self.slice_of(factor)
            return np.diagonal(at.inverse)[at_factor].copy(), at.inverse[0, at_factor].copy()
        out, covariance = np.empty(self.count.size), np.empty(self.count.size)
        step = max(1, 4_000_000 // max(at.inverse.shape[0], 1))
        for first in range(0, self.count.size, step):
            part = slice(first, first + step)
            rows = self.block[part] if isinstance(self.block, np.ndarray) else self.block[part].toarray()
            through = rows @ at.inverse
            lam = at.lam[part]
            out[part] = lam + lam**2 * np.einsum("ij,ij->i", through, rows)
            covariance[part] = -lam * through[:, 0]
        return out, covariance


def equations(
    codes: Sequence[Index],
    sizes: Sequence[int],
    y: FloatArray,
    weight: FloatArray | None = None,
    *,
    large: int | None = None,
) -> Equations:
    """Count.

    Parameters
    ----------
    codes : sequence of ndarray of int64
        Level of each result, by factor; none missing.
    sizes : sequence of int
        Levels of each factor.
    y : ndarray
        Values, best centred.
    weight : ndarray, optional
        Weight of each; 1 where not given.
    large : int, optional
        Which factor to eliminate; the one with most levels where not given.
    """
    if large is None:
        large = int(np.argmax(sizes)) if len(sizes) else -1
    w = np.ones(y.size) if weight is None else weight
    start, width = [], 1
    for k, size in enumerate(sizes):
        start.append(-1 if k == large else width)
        width += 0 if k == large else size
    rest = np.zeros((width, width))
    sums = np.zeros(width)
    rest[0, 0], sums[0] = w.sum(), float(w @ y)
    small = [k for k in range(len(sizes)) if k != large]
    for i, k in enumerate(small):
        a = slice(start[k], start[k] + sizes[k])
        by_level = np.bincount(codes[k], weights=w, minlength=sizes[k])
        rest[0, a] = rest[a, 0] = by_level
        rest[a, a] = np.diag(by_level)
        sums[a] = np.bincount(codes[k], weights=w * y, minlength=sizes[k])
        for other in small[:i]:
            b = slice(start[other], start[other] + sizes[other])
            cells = np.bincount(
                codes[k] * sizes[other] + codes[other], weights=w, minlength=sizes[k] * sizes[other]
            )
            rest[a, b] = cells.reshape(sizes[k], sizes[other])
            rest[b, a] = rest[a, b].T
    if large < 0:
        none = np.zeros((0, width))
        return Equations(
            (), -1, (), rest, none, np.zeros(0), sums, np.zeros(0), float(w @ y**2), float(w.sum())
        )
    q = sizes[large]
    own = codes[large]
    count = as_array(np.bincount(own, weights=w, minlength=q))
    block = _block(own, q, [(codes[k], start[k]) for k in small], w, width)
    return Equations(
        tuple(sizes), large, tuple(start), rest, block, count, sums,
        as_array(np.bincount(own, weights=w * y, minlength=q)), float(w @ y**2), float(w.sum()),
    )  # fmt: skip


def _block(
    own: Index, q: int, others: Sequence[tuple[Index, int]], w: FloatArray, width: int
) -> FloatArray | sparse.csr_array:
    """Counts of the eliminated factor's levels (rows) with the intercept and every other level."""
    columns = [(np.zeros_like(own), 0), *others]
    parts = [sparse.coo_array((w, (own, code + first)), shape=(q, width)).tocsr() for code, first in columns]
    out = sparse.csr_array(sum(parts[1:], parts[0]))
    if out.nnz >= _DENSE_FROM * q * width and q * width <= 60_000_000:
        return np.asarray(out.toarray())
    return out
