"""Readings that cannot be: which, and why they most likely stand there.

The program names the likely slip and says where to look; it never proposes a reading.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.method.reading import Kind

__all__ = [
    "FINE",
    "IMPOSSIBLE_CODES",
    "NEGATIVE",
    "TENFOLD",
    "TOO_LONG",
    "UNDER_STIRRING",
    "bound_above_floor",
    "impossible",
]

FINE: Final = 0
NEGATIVE: Final = 1
UNDER_STIRRING: Final = 2
TOO_LONG: Final = 3
TENFOLD: Final = 4

IMPOSSIBLE_CODES: Final = {
    NEGATIVE: "reading-negative",
    UNDER_STIRRING: "reading-below-stirring",
    TOO_LONG: "reading-too-long",
    TENFOLD: "reading-tenfold",
}

_TENFOLD_BAND: Final = (7.5, 13.5)
"""Ratio to the partner that reads as a slip of one digit: ten, widened by the scatter of a pair."""

_OTHER_FLOOR_S: Final = 10.0
"""How far above the profile's floor another lab's floor may lie [s]; 60 and 62 s are both met in print."""


def bound_above_floor(
    seconds: FloatArray, kind: npt.NDArray[np.int8], *, floor_s: float
) -> npt.NDArray[np.bool_]:
    """Whether "at or below t" is said of a t well above the floor: no tube can show that.

    Parameters
    ----------
    seconds : ndarray of n
        As typed. [s]
    kind : ndarray of n
        ``Kind`` of each.
    floor_s : float
        Of the profile. [s]
    """
    return np.asarray((kind == Kind.AT_OR_BELOW) & (seconds > floor_s + _OTHER_FLOOR_S))


def impossible(
    seconds: FloatArray,
    kind: npt.NDArray[np.int8],
    partner_s: FloatArray,
    *,
    stirring_s: float,
    longest_s: float,
) -> npt.NDArray[np.int8]:
    """Class of each reading: fine, negative, under the stirring time, too long, or tenfold its partner.

    Parameters
    ----------
    seconds : ndarray of n
        As typed. [s]
    kind : ndarray of n
        ``Kind`` of each.
    partner_s : ndarray of n
        Median of the other readings of the same sample that are possible; NaN where there is none. [s]
    stirring_s, longest_s : float
        Of the profile. [s]

    Returns
    -------
    ndarray of n, int8
        ``FINE`` to ``TENFOLD``.

    Notes
    -----
    A tube stopped at t ("> t") or at the floor ("<= f") obeys the same bounds. Tenfold is told only for a
    reading that is impossible by itself, so that two honest readings are never accused.
    """
    out = np.full(seconds.shape, FINE, dtype=np.int8)
    out[seconds < stirring_s] = UNDER_STIRRING
    out[seconds > longest_s] = TOO_LONG
    out[~(seconds >= 0.0)] = NEGATIVE
    with np.errstate(invalid="ignore", divide="ignore"):
        up, down = seconds / partner_s, partner_s / seconds
    low, high = _TENFOLD_BAND
    exact = kind == Kind.EXACT
    out[exact & (out == TOO_LONG) & (up >= low) & (up <= high)] = TENFOLD
    out[exact & (out == UNDER_STIRRING) & (down >= low) & (down <= high)] = TENFOLD
    return out
