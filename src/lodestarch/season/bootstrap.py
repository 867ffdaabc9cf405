"""An ensemble of seasons drawn from a fit, refitted one by one: how far its shares move by chance alone.

Draws go in chunks, each with a seed of its own spawned by its number, so that one process, two or twenty give
the same bits.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.season.effects import Effects
from lodestarch.season.equations import equations
from lodestarch.season.reml import fit_variances
from lodestarch.season.table import SeasonTable

__all__ = ["CHUNK", "chunk_seeds", "shares_of_chunk", "variances_of"]

CHUNK: Final = 20
"""Draws a chunk."""


def chunk_seeds(seed: int, chunks: int) -> tuple[np.random.SeedSequence, ...]:
    """A seed for each chunk, independent of how many there are and of who runs them."""
    return tuple(np.random.SeedSequence(seed).spawn(chunks))


def shares_of_chunk(
    table: SeasonTable, variances: tuple[float, ...], seed: np.random.SeedSequence, draws: int = CHUNK
) -> FloatArray:
    """Shares of variance of seasons drawn with given variances on the same table.

    Parameters
    ----------
    table : SeasonTable
        Rows and factors of the fit.
    variances : tuple of float
        Of each factor, the residual last.
    seed : numpy.random.SeedSequence
    draws : int

    Returns
    -------
    ndarray
        A row a draw, a column a component.
    """
    rng = np.random.default_rng(seed)
    codes, sizes = [f.codes for f in table.factors], [f.size for f in table.factors]
    sds = np.sqrt(np.asarray(variances))
    out = np.empty((draws, sds.size))
    for i in range(draws):
        y = rng.normal(0.0, sds[-1], table.n)
        for k, code in enumerate(codes):
            y += rng.normal(0.0, sds[k], sizes[k])[code]
        v = fit_variances(equations(codes, sizes, y - y.mean())).variances
        out[i] = v / v.sum()
    return out


def variances_of(fitted: Effects) -> tuple[float, ...]:
    """The variances that an ensemble is drawn with."""
    return tuple(x.variance for x in fitted.effects)
