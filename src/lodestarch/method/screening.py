"""One tube as a screen: when it decides by itself, and when the second tube is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from lodestarch.method.reading import Kind

__all__ = ["CLEAR_BY", "second_tube_wanted"]

CLEAR_BY: Final = 2.0
"""Standard uncertainties that a screen has to lie from every step. Common practice (about 95 %); a setting of
ours, published by nobody for this use."""


def second_tube_wanted(
    seconds: float, kind: Kind, u_s: float | None, steps_s: Sequence[float], *, clear_by: float = CLEAR_BY
) -> float | None:
    """Return the step that a screen lies too close to; ``None`` where it is clear of all.

    Parameters
    ----------
    seconds : float
        Of one tube, or its bound. [s]
    kind : Kind
    u_s : float or None
        Standard uncertainty of one tube; ``None`` (not evaluated) makes any step too close. [s]
    steps_s : sequence of float
        Limits and steps of the price, in any order. [s]
    clear_by : float
        In standard uncertainties; at least 0.

    Returns
    -------
    float or None
        The nearest step within doubt. [s]

    Notes
    -----
    A tube at or below the floor is clear of every step above it; one stopped at t ("> t") says nothing of
    the steps above t, so those are within doubt.

    Examples
    --------
    >>> second_tube_wanted(287.0, Kind.EXACT, 12.0, [250.0, 300.0])
    300.0
    >>> second_tube_wanted(340.0, Kind.EXACT, 12.0, [250.0, 300.0]) is None
    True
    """
    if kind is Kind.AT_OR_BELOW:
        near = [s for s in steps_s if s <= seconds]
    elif kind is Kind.ABOVE:
        near = [s for s in steps_s if s > seconds]
    elif u_s is None:
        near = list(steps_s)
    else:
        near = [s for s in steps_s if abs(s - seconds) <= clear_by * u_s]
    return min(near, key=lambda s: abs(s - seconds), default=None)
