"""Loads as they reach the probe, and how their falling numbers scatter about one another."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lodestarch.common.errors import OutOfRange
from lodestarch.common.provenance import Provenance

__all__ = ["Load", "Spread"]


@dataclass(frozen=True, slots=True)
class Load:
    """One delivery, as the ticket tells it before any test.

    Parameters
    ----------
    ticket : str
    tonnes : float
        [t]  Above 0.
    field, variety : str or None
        What it came from; ``None``: not stated, taken as a field or variety of its own.
    to_come : int or None
        Loads still to come from this field; ``None``: not stated.
    day : int
        Day of the harvest, from 0.
    """

    ticket: str
    tonnes: float
    field: str | None = None
    variety: str | None = None
    to_come: int | None = None
    day: int = 0

    def __post_init__(self) -> None:
        if not self.tonnes > 0:
            raise OutOfRange("tonnes", self.tonnes, 0.0, math.inf, "t")


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations on the scale log LN: between varieties, fields, loads of a field, days, and tests.

    Near FN x a relative change of LN by 0.01 is ``(x - 50)/100`` seconds: 2.5 s at 300.

    Parameters
    ----------
    mean : float
        Mean of log LN before the first load. [1]
    mean_sd : float
        How sure that is. [1]
    variety, field, load : float
        Between varieties; between fields of one variety; between loads of one field. [1]
    day : float
        Change of the mean from one day to the next (rain). [1]
    test : float
        Of one result about the load's truth: sampling, grinding and tubes together. [1]  Above 0.
    provenance : Provenance
        Where the figures come from: the season so far, or somebody's guess.

    Notes
    -----
    log LN = mean + day + variety + field + load; a result adds the test. A normal law on log LN is our model
    (derived): LN is positive and its spread grows with its level.
    """

    mean: float
    mean_sd: float
    variety: float
    field: float
    load: float
    day: float
    test: float
    provenance: Provenance

    def __post_init__(self) -> None:
        for name in ("mean_sd", "variety", "field", "load", "day"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise OutOfRange(name, value, 0.0, math.inf, "1")
        if not self.test > 0:
            raise OutOfRange("test", self.test, 0.0, math.inf, "1")
