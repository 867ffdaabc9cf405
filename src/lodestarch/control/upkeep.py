"""Upkeep and check samples: what is due, as rules over values, and events to mark on charts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from lodestarch.common.errors import OutOfRange
from lodestarch.control.times import as_seconds

__all__ = ["CheckPlan", "Due", "UpkeepEvent", "UpkeepRule", "check_due", "mark_events", "upkeep_due"]

_DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class UpkeepEvent:
    """Something done to the bench.

    Parameters
    ----------
    item : str
        What it was done to: ``mill-sieve``, ``bath``, ``stirrers``, ``balance``, ``moisture-meter``, ...
    at : float
        When, seconds of the same clock as everything else.
    changes_results : bool
        True where a shift on a chart may follow (a new sieve), false for mere checks.
    """

    item: str
    at: float
    changes_results: bool = True


@dataclass(frozen=True, slots=True)
class UpkeepRule:
    """How often an item is due.

    Parameters
    ----------
    item : str
    every_days : float or None
    every_runs : int or None
        Either or both; the earlier counts. Above 0.
    """

    item: str
    every_days: float | None = None
    every_runs: int | None = None

    def __post_init__(self) -> None:
        if self.every_days is not None and not self.every_days > 0.0:
            raise OutOfRange("every_days", self.every_days, 0.0, math.inf, "d")
        if self.every_runs is not None and not self.every_runs > 0:
            raise OutOfRange("every_runs", self.every_runs, 0, math.inf, "1")


@dataclass(frozen=True, slots=True)
class Due:
    """One item and when it is due.

    Parameters
    ----------
    item : str
    due : bool
    never_done : bool
    days_left : float or None
        Negative when overdue; ``None`` without a rule in days or when never done.
    runs_left : int or None
    """

    item: str
    due: bool
    never_done: bool
    days_left: float | None
    runs_left: int | None


def upkeep_due(
    rules: Sequence[UpkeepRule], events: Sequence[UpkeepEvent], now: float, run_at: npt.ArrayLike = ()
) -> tuple[Due, ...]:
    """Say which items are due.

    Parameters
    ----------
    rules : sequence of UpkeepRule
    events : sequence of UpkeepEvent
        Those after ``now`` are ignored.
    now : float
        Seconds of the common clock.
    run_at : array_like of time
        When runs were made, for rules that count them.

    Returns
    -------
    tuple of Due
        What is due first, the longest overdue leading.

    Examples
    --------
    >>> rule, done = UpkeepRule("mill-sieve", every_days=7), UpkeepEvent("mill-sieve", 0.0)
    >>> due = upkeep_due([rule], [done], 8 * 86400.0)
    >>> due[0].due, due[0].days_left
    (True, -1.0)
    """
    runs = as_seconds(run_at)
    out = []
    for rule in rules:
        done = [e.at for e in events if e.item == rule.item and e.at <= now]
        if not done:
            out.append(Due(rule.item, due=True, never_done=True, days_left=None, runs_left=None))
            continue
        last = max(done)
        days = None if rule.every_days is None else rule.every_days - (now - last) / _DAY_S
        left = None
        if rule.every_runs is not None:
            left = rule.every_runs - int(((runs > last) & (runs <= now)).sum())
        due = (days is not None and days <= 0.0) or (left is not None and left <= 0)
        out.append(Due(rule.item, due=due, never_done=False, days_left=days, runs_left=left))
    return tuple(sorted(out, key=lambda d: (not d.due, d.days_left if d.days_left is not None else 0.0)))


def mark_events(times: npt.ArrayLike, events: Sequence[UpkeepEvent]) -> tuple[tuple[int, UpkeepEvent], ...]:
    """Place events between the points of a chart.

    Parameters
    ----------
    times : array_like of time
        Of the points, in order.
    events : sequence of UpkeepEvent

    Returns
    -------
    tuple of (int, UpkeepEvent)
        The place of the first point at or after each event (the number of points when none is), in order of
        time.
    """
    at = as_seconds(times)
    ordered = sorted(events, key=lambda e: e.at)
    return tuple((int(np.searchsorted(at, e.at, side="left")), e) for e in ordered)


@dataclass(frozen=True, slots=True)
class CheckPlan:
    """When a check sample is due.

    Parameters
    ----------
    every_runs : int or None
        Runs between checks. Above 0.
    at_start, at_end, after_changes : bool
    """

    every_runs: int | None = 20
    at_start: bool = True
    at_end: bool = True
    after_changes: bool = True


def check_due(
    plan: CheckPlan,
    *,
    shift_began: float,
    now: float,
    check_at: npt.ArrayLike,
    run_at: npt.ArrayLike,
    events: Sequence[UpkeepEvent] = (),
    shift_ends: bool = False,
) -> tuple[str, ...]:
    """Say why a check sample is due now.

    Parameters
    ----------
    plan : CheckPlan
    shift_began, now : float
        Seconds of the common clock.
    check_at, run_at : array_like of time
        Checks and runs so far, of one bath or mill.
    events : sequence of UpkeepEvent
        Those that change results call for a check.
    shift_ends : bool
        True when the last run of the shift has been made.

    Returns
    -------
    tuple of str
        Reasons: ``shift-start``, ``after-change``, ``every-n-runs``, ``shift-end``; empty when none is due.
    """
    checks, runs = as_seconds(check_at), as_seconds(run_at)
    checks = checks[checks <= now]
    last = float(checks.max()) if checks.size else -math.inf
    out = []
    if plan.at_start and last < shift_began:
        out.append("shift-start")
    if plan.after_changes and any(e.changes_results and last < e.at <= now for e in events):
        out.append("after-change")
    since = int(((runs > max(last, shift_began)) & (runs <= now)).sum())
    if plan.every_runs is not None and since >= plan.every_runs:
        out.append("every-n-runs")
    if plan.at_end and shift_ends and since > 0:
        out.append("shift-end")
    return tuple(out)
