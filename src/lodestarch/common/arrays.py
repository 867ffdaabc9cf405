"""Scalars and arrays through one door."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
import numpy.typing as npt

__all__ = ["FloatArray", "Floats", "as_array", "like"]

FloatArray = npt.NDArray[np.float64]
Floats = TypeVar("Floats", float, FloatArray)
"""A function that takes a float returns a float; one that takes an array returns its shape."""


def as_array(value: float | npt.ArrayLike) -> FloatArray:
    """Return ``value`` as a float64 array (zero-dimensional for a scalar)."""
    return np.asarray(value, dtype=np.float64)


def like(template: Floats, result: npt.ArrayLike) -> Floats:
    """Return ``result`` as a float where ``template`` is a scalar, else as the array it is."""
    out = np.asarray(result, dtype=np.float64)
    if np.ndim(template) == 0 and out.ndim == 0:
        return float(out)  # type: ignore[return-value]
    return out  # type: ignore[return-value]
