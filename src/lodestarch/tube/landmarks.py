"""Landmarks of a run: the moments a picture of it is told by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.arrays import FloatArray
from lodestarch.tube.history import FALLING, TubeHistory

__all__ = ["TEMPERATURES_C", "Landmarks", "landmarks"]

TEMPERATURES_C: Final = (60.0, 70.0, 80.0, 90.0, 95.0)
"""Mean temperatures whose times are given. [°C]"""


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Moments and states of one run; ``None`` where the run ended before.

    Parameters
    ----------
    seconds, fall_s : float
        Falling number, and the part of it that the stirrer fell by itself. [s]
    mean_reaches_s : tuple of (float, float or None)
        Temperature [°C] and when the mean of the slurry reaches it. [s]
    mean_at_release_c, mean_at_end_c, centre_at_end_c, outer_at_end_c : float
        Temperatures. [°C]
    half_swollen_s : float or None
        When half of the starch is swollen. [s]
    swollen_at_release, enzyme_at_release, enzyme_at_end : float
        Shares. [1]
    enzyme_half_s, enzyme_tenth_s : float or None
        When a half, a tenth of the enzyme is left. [s]
    cuts_before_release : float
        Part of all the cutting of this run that is done before the stirrer is released. [1]
    stiffest_s : float
        When the paste is at its stiffest, once half swollen. [s]
    softening : float
        How many times faster the stirrer falls at the end than at release. [1]
    quarter_s, half_s, three_quarters_s : float or None
        When a quarter, a half, three quarters of the fall are done. [s]
    """

    seconds: float
    fall_s: float
    mean_reaches_s: tuple[tuple[float, float | None], ...]
    mean_at_release_c: float
    mean_at_end_c: float
    centre_at_end_c: float
    outer_at_end_c: float
    half_swollen_s: float | None
    swollen_at_release: float
    enzyme_at_release: float
    enzyme_at_end: float
    enzyme_half_s: float | None
    enzyme_tenth_s: float | None
    cuts_before_release: float
    stiffest_s: float
    softening: float
    quarter_s: float | None
    half_s: float | None
    three_quarters_s: float | None


def _crossing(time_s: FloatArray, values: FloatArray, level: float) -> float | None:
    """First time at which a rising row of values reaches a level, linear between rows."""
    at = np.flatnonzero(values >= level)
    if at.size == 0:
        return None
    i = int(at[0])
    if i == 0 or values[i] == values[i - 1]:
        return float(time_s[i])
    part = (level - values[i - 1]) / (values[i] - values[i - 1])
    return float(time_s[i - 1] + part * (time_s[i] - time_s[i - 1]))


def landmarks(history: TubeHistory) -> Landmarks:
    """Read the landmarks off a history.

    Examples
    --------
    >>> from lodestarch.tube.history import run
    >>> from lodestarch.tube.inputs import TubeInputs
    >>> marks = landmarks(run(TubeInputs(ln=24.0)).history)
    >>> round(marks.mean_at_release_c, 1), round(marks.enzyme_at_release, 2)
    (78.9, 0.97)
    """
    h = history
    t = h.time_s
    temp, swollen, left = h.mean(h.temp_c), h.mean(h.swollen), h.mean(h.enzyme_left)
    cuts = h.mean(h.cuts)
    release = int(np.flatnonzero(h.phase == FALLING)[0])
    half_swollen = _crossing(t, swollen, 0.5)
    thick = np.where((swollen >= 0.5) | (t >= t[release]), h.strength, -np.inf)
    total = float(cuts[-1])
    return Landmarks(
        seconds=h.seconds,
        fall_s=h.seconds - float(t[release]),
        mean_reaches_s=tuple((level, _crossing(t, temp, level)) for level in TEMPERATURES_C),
        mean_at_release_c=float(temp[release]),
        mean_at_end_c=float(temp[-1]),
        centre_at_end_c=float(h.temp_c[-1, 0]),
        outer_at_end_c=float(h.temp_c[-1, -1]),
        half_swollen_s=half_swollen,
        swollen_at_release=float(swollen[release]),
        enzyme_at_release=float(left[release]),
        enzyme_at_end=float(left[-1]),
        enzyme_half_s=_crossing(t, -left, -0.5),
        enzyme_tenth_s=_crossing(t, -left, -0.1),
        cuts_before_release=float(cuts[release]) / total if total > 0.0 else 0.0,
        stiffest_s=float(t[int(np.argmax(thick))]),
        softening=float(h.speed_per_s[-1] / h.speed_per_s[release]),
        quarter_s=_crossing(t, h.share_fallen, 0.25),
        half_s=_crossing(t, h.share_fallen, 0.5),
        three_quarters_s=_crossing(t, h.share_fallen, 0.75),
    )
