"""Shapes of the laws of scatter: SD over the scale, the scale being the CV at 300 s."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.provenance import Provenance
from lodestarch.method.liquefaction import LN_NUMERATOR, LN_OFFSET_S
from lodestarch.method.scatter import ScatterKind, ScatterLaw

__all__ = ["LAWS", "REFERENCE_S", "Shapes", "law_from", "shapes_between"]

REFERENCE_S: Final = 300.0
"""Level at which every law is referred to one scale [s]: the commonest contract limit (common practice)."""

LAWS: Final[tuple[ScatterKind, ...]] = (
    "constant-cv",
    "constant-plus-proportional",
    "constant-in-ln",
    "table",
)
"""The laws that compete, in the order of ``ScatterPrior.law_weights``."""


@dataclass(frozen=True, slots=True)
class Shapes:
    """The parametric shapes: constant CV, constant plus proportional at some constant shares, constant in LN.

    Parameters
    ----------
    constant_share : ndarray
        q: part of the variance at 300 s that does not depend on level. [1]  Within 0 to 1.
    node_weight : ndarray
        Weight of each q in an integral over the prior of q.
    """

    constant_share: FloatArray
    node_weight: FloatArray

    @property
    def law(self) -> npt.NDArray[np.int64]:
        """Index into ``LAWS`` of each shape."""
        return np.array([0, *([1] * self.constant_share.size), 2])

    @property
    def weight(self) -> FloatArray:
        """Weight of each shape within its law."""
        return np.concatenate([[1.0], self.node_weight, [1.0]])

    def at(self, fn_s: FloatArray) -> FloatArray:
        """SD of one reading over the scale, per shape.

        Parameters
        ----------
        fn_s : ndarray
            Levels, one axis. [s]  Legal 60 to 900.

        Returns
        -------
        ndarray
            Shape (shapes, levels). [s]  300 at 300 s for every shape.
        """
        fn = np.atleast_1d(np.asarray(fn_s, dtype=np.float64))
        q = self.constant_share[:, None]
        ln = REFERENCE_S * ((fn - LN_OFFSET_S) / (REFERENCE_S - LN_OFFSET_S)) ** 2
        mixed = np.sqrt(q * REFERENCE_S**2 + (1.0 - q) * fn**2)
        return np.concatenate([fn[None, :], mixed, ln[None, :]])


@lru_cache(maxsize=4)
def _nodes(n: int) -> tuple[FloatArray, FloatArray]:
    """Gauss-Legendre nodes and weights on -1 to 1."""
    return np.polynomial.legendre.leggauss(n)


def shapes_between(low: float, high: float, n: int = 8) -> Shapes:
    """Gauss-Legendre nodes of q between two shares, weighted by the prior density 1.5 - q.

    Parameters
    ----------
    low, high : float
        Within 0 to 1, ``low`` below ``high``.
    n : int
        Number of nodes.
    """
    x, w = _nodes(n)
    q = low + 0.5 * (high - low) * (x + 1.0)
    return Shapes(q, w * 0.5 * (high - low) * (1.5 - q))


@dataclass(frozen=True, slots=True)
class _Mix:
    scale: float
    constant_share: float


def law_from(
    law: int,
    shapes: Shapes,
    log_scale: FloatArray,
    weight: FloatArray,
    provenance: Provenance,
    note: str,
) -> ScatterLaw:
    """Freeze one parametric law from its posterior atoms.

    Parameters
    ----------
    law : int
        Index into ``LAWS``: 0, 1 or 2.
    shapes : Shapes
    log_scale, weight : ndarray
        Shape (shapes, atoms): ln of the scale, and weights that need not sum to 1; atoms of other laws
        are ignored.
    provenance : Provenance
    note : str

    Returns
    -------
    ScatterLaw
        With the geometric mean of the scale and the mean constant share.
    """
    mine = shapes.law == law
    w = weight[mine] / weight[mine].sum()
    scale = float(np.exp((w * log_scale[mine]).sum()))
    if law == 1:
        mix = _Mix(scale, float((w.sum(axis=1) * shapes.constant_share).sum()))
        a = mix.scale * REFERENCE_S * mix.constant_share**0.5
        parameters: tuple[float, ...] = (a, mix.scale * (1.0 - mix.constant_share) ** 0.5)
    elif law == 2:
        # a (FN - 50)^2/6000 equals scale * 300 at 300 s.
        parameters = (scale * REFERENCE_S * LN_NUMERATOR / (REFERENCE_S - LN_OFFSET_S) ** 2,)
    else:
        parameters = (scale,)
    return ScatterLaw(LAWS[law], parameters, provenance, note)
