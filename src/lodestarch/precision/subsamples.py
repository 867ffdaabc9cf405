"""One result for each subsample, from the readings made on it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray

__all__ = ["subsample_means"]


def subsample_means(values: npt.ArrayLike, labels: Sequence[str]) -> FloatArray:
    """Mean of the values of each subsample, in order of first appearance.

    Parameters
    ----------
    values : array_like
        Missing ones are left out.
    labels : sequence of str
        Subsample of each value; a value without one is left out.

    Examples
    --------
    >>> subsample_means([300, 306, 280, float("nan")], ["a", "a", "b", "b"])
    array([303., 280.])
    """
    y = np.asarray(values, dtype=np.float64)
    parts: dict[str, list[float]] = {}
    for value, label in zip(y, labels, strict=True):
        if np.isfinite(value) and label:
            parts.setdefault(label, []).append(float(value))
    return np.array([np.mean(part) for part in parts.values()])
