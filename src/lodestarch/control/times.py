"""Times as seconds: datetimes or plain numbers, one axis."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.errors import LodestarchError

__all__ = ["as_seconds"]


def as_seconds(times: npt.ArrayLike) -> FloatArray:
    """Return times as seconds since some common origin.

    Parameters
    ----------
    times : array_like of datetime, datetime64 or number
        Numbers are taken as seconds. A missing time (``NaT``, NaN) becomes NaN.

    Raises
    ------
    LodestarchError
        When the times have a time zone: a caller strips it the same way everywhere.

    Examples
    --------
    >>> from datetime import datetime
    >>> a, b = as_seconds([datetime(2026, 8, 1, 6), datetime(2026, 8, 1, 7)])
    >>> float(b - a)
    3600.0
    """
    x = np.asarray(times)
    if x.dtype == object and x.size:
        if any(getattr(t, "tzinfo", None) is not None for t in x.ravel()):
            raise LodestarchError("times carry a time zone")
        x = x.astype("datetime64[us]")
    if np.issubdtype(x.dtype, np.datetime64):
        whole = x.astype("datetime64[us]")
        out = whole.astype(np.int64).astype(np.float64) / 1e6
        return np.where(np.isnat(whole), np.nan, out)
    return np.asarray(x, dtype=np.float64)
