"""The figures of a cargo so far, sublot by sublot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.plan.loadout.cargo import Asked, Sublot

__all__ = ["CumulativeSum", "Running", "cumulative_sum", "running"]


@dataclass(frozen=True, slots=True)
class CumulativeSum:
    """A cumulative sum after each sample, and after which one it first went over its limit, from 1."""

    values: tuple[float, ...]
    failed_at: int | None


def cumulative_sum(values: Sequence[float], start: float, tolerance: float, limit: float) -> CumulativeSum:
    """Return the cumulative sum of a sampling plan.

    Parameters
    ----------
    values : sequence of float
        Deviations d_k in the order of sampling.
    start, tolerance, limit : float
        S, T and L of the plan.

    Notes
    -----
    c_0 = S; c_k = max(0, c_(k-1) + d_k - T); the plan fails when c_k > L (7 CFR 42.132-133, published, for
    processed food). Where the sum resumes after a failure is not in our copy, so it simply goes on.

    Examples
    --------
    >>> cumulative_sum([2, 0, 3, 3, 0], start=0, tolerance=1, limit=3)
    CumulativeSum(values=(1, 0, 2, 4, 3), failed_at=4)
    """
    out: list[float] = []
    sum_so_far = start
    for value in values:
        sum_so_far = max(0, sum_so_far + value - tolerance)
        out.append(sum_so_far)
    return CumulativeSum(tuple(out), next((i for i, c in enumerate(out, 1) if c > limit), None))


@dataclass(frozen=True, slots=True)
class Running:
    """Figures after one sublot, over the sublots tested so far.

    Parameters
    ----------
    number : int
    tonnes : float
        Loaded up to and with this sublot. [t]
    result_s : float or None
        [s]
    untested_t : float
        Loaded up to here and not tested. [t]
    composite_s, average_s, least_s : float or None
        Blended by LN and mass; mean of the results by mass; least result. ``None``: nothing tested. [s]
    shortfall_s : float
        Cumulative sum of what results lie under the floor, over the breakpoint. [s]
    under_breakpoint : bool
        This sublot lies further under the floor than the load order allows.
    """

    number: int
    tonnes: float
    result_s: float | None
    untested_t: float
    composite_s: float | None
    average_s: float | None
    least_s: float | None
    shortfall_s: float
    under_breakpoint: bool


def running(asked: Asked, sublots: Sequence[Sublot]) -> tuple[Running, ...]:
    """Return the figures after each sublot in loading order.

    Parameters
    ----------
    asked : Asked
    sublots : sequence of Sublot

    Notes
    -----
    The cumulative sum adds (floor - result) - breakpoint, never below 0: the form of 7 CFR 42 with the load
    order's breakpoint as tolerance. That grain inspection uses this form is recalled, not read.
    """
    out: list[Running] = []
    loaded = tested = ln_tonnes = s_tonnes = shortfall = 0.0
    least: float | None = None
    for sublot in sublots:
        loaded += sublot.tonnes
        under = False
        if sublot.result_s is not None:
            tested += sublot.tonnes
            ln_tonnes += sublot.tonnes * 6000.0 / (sublot.result_s - 50.0)
            s_tonnes += sublot.tonnes * sublot.result_s
            least = sublot.result_s if least is None else min(least, sublot.result_s)
            missing = asked.at_least_s - sublot.result_s
            shortfall = max(0.0, shortfall + missing - asked.breakpoint_s)
            under = missing > asked.breakpoint_s
        out.append(
            Running(
                sublot.number,
                loaded,
                sublot.result_s,
                loaded - tested,
                6000.0 * tested / ln_tonnes + 50.0 if tested else None,
                s_tonnes / tested if tested else None,
                least,
                shortfall,
                under,
            )
        )
    return tuple(out)
