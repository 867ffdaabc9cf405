"""What a clause makes of a cargo: per load, composite, average, average with a minimum, every sublot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.method.liquefaction import fn_from_ln, ln_from_fn
from lodestarch.trade.offer import Clause, Judged
from lodestarch.trade.price_curve import FN

__all__ = ["ClauseReading", "Sublot", "clauses_side_by_side", "read_clause"]

_ROUNDING: Final = 1e-9
"""Differences that only the binary form of numbers makes."""


@dataclass(frozen=True, slots=True)
class Sublot:
    """A part of a cargo: its value in the clause's factor, and its mass. [factor's unit, t]"""

    value: float
    tonnes: float


@dataclass(frozen=True, slots=True)
class ClauseReading:
    """What one clause says of a cargo.

    Parameters
    ----------
    judged : Judged
    value : float
        What is held against the limit. [factor's unit]
    within : bool
        The cargo meets the clause.
    under, over : bool
        On which side it fails.
    sublots_outside : tuple of int
        Sublots outside the limit that each of them has to meet, from 0; empty where only the whole counts.
    least_sublot : float
        [factor's unit]
    sublot_under : bool
        The average would do, and a sublot lies below its own minimum.
    """

    judged: Judged
    value: float
    within: bool
    under: bool
    over: bool
    sublots_outside: tuple[int, ...]
    least_sublot: float
    sublot_under: bool


def read_clause(clause: Clause, sublots: Sequence[Sublot]) -> ClauseReading:
    """Judge a cargo by a clause.

    Parameters
    ----------
    clause : Clause
    sublots : sequence of Sublot
        For *per load*, the loads.

    Returns
    -------
    ClauseReading
        For *per load* and *every sublot* the value is that of the one farthest outside, or nearest to the
        limit where none is.

    Raises
    ------
    NoAnswer
        ``cargo-empty``; ``clause-minimum-missing``: an average with a sublot minimum that is not stated.
    OutOfRange
        Tonnes not above 0.

    Notes
    -----
    Composite, falling number: 6000/mean(LN) + 50 with LN weighted by mass at one moisture (ICC 107/1 names
    the number for mixtures; published). Other factors are linear by mass (common practice). Weighted
    average: the mean of the results by tonnes, never below the composite, as FN is convex in LN.

    Examples
    --------
    >>> cargo = [Sublot(v, 1.0) for v in (340.0, 330.0, 320.0, 280.0, 250.0)]
    >>> for judged in (Judged.COMPOSITE, Judged.WEIGHTED_AVERAGE, Judged.EVERY_SUBLOT):
    ...     reading = read_clause(Clause("fn_s", judged, 300.0, None), cargo)
    ...     print(judged.value, round(reading.value, 3), reading.within)
    composite 299.113 False
    weighted-average 304.0 True
    every-sublot 250.0 False
    """
    if not sublots:
        raise NoAnswer("cargo-empty")
    for s in sublots:
        if not (s.tonnes > 0 and math.isfinite(s.tonnes)):
            raise OutOfRange("tonnes", s.tonnes, 0.0, math.inf, "t")
    low, high = _counting(clause)
    least = min(s.value for s in sublots)
    if clause.judged in {Judged.PER_LOAD, Judged.EVERY_SUBLOT}:
        value = min((s.value for s in sublots), key=lambda v: _inside_by(v, low, high))
        outside = tuple(i for i, s in enumerate(sublots) if _inside_by(s.value, low, high) < 0)
        return ClauseReading(
            clause.judged, value, not outside, value < low, value > high, outside, least, sublot_under=False
        )
    value = _composite(clause.factor, sublots) if clause.judged is Judged.COMPOSITE else _average(sublots)
    within = _inside_by(value, low, high) >= 0
    outside = ()
    if clause.judged is Judged.AVERAGE_WITH_SUBLOT_MINIMUM:
        if clause.sublot_at_least is None:
            raise NoAnswer("clause-minimum-missing")
        outside = tuple(i for i, s in enumerate(sublots) if s.value < clause.sublot_at_least - _ROUNDING)
    return ClauseReading(
        clause.judged,
        value,
        within and not outside,
        value < low - _ROUNDING,
        value > high + _ROUNDING,
        outside,
        least,
        sublot_under=bool(within and outside),
    )


def clauses_side_by_side(
    sublots: Sequence[Sublot],
    at_least: float | None,
    at_most: float | None = None,
    *,
    factor: str = FN,
    sublot_at_least: float | None = None,
    counts_from: float | None = None,
    counts_to: float | None = None,
) -> tuple[ClauseReading, ...]:
    """Judge one cargo by every clause with the same limit, in the order of :class:`Judged`.

    The average with a sublot minimum is among them only where that minimum is given.
    """
    kinds = [j for j in Judged if j is not Judged.AVERAGE_WITH_SUBLOT_MINIMUM or sublot_at_least is not None]
    return tuple(
        read_clause(
            Clause(factor, judged, at_least, at_most, sublot_at_least, counts_from, counts_to), sublots
        )
        for judged in kinds
    )


def _counting(clause: Clause) -> tuple[float, float]:
    low = clause.counts_from if clause.counts_from is not None else clause.at_least
    high = clause.counts_to if clause.counts_to is not None else clause.at_most
    return -math.inf if low is None else low, math.inf if high is None else high


def _inside_by(value: float, low: float, high: float) -> float:
    """How far inside both limits a value lies; negative outside."""
    by = min(value - low, high - value)
    return 0.0 if abs(by) <= _ROUNDING else by


def _average(sublots: Sequence[Sublot]) -> float:
    return math.fsum(s.value * s.tonnes for s in sublots) / math.fsum(s.tonnes for s in sublots)


def _composite(factor: str, sublots: Sequence[Sublot]) -> float:
    if factor != FN:
        return _average(sublots)
    return float(fn_from_ln(_average([Sublot(float(ln_from_fn(s.value)), s.tonnes) for s in sublots])))
