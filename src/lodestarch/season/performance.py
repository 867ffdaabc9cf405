"""The lab's own season, week by week: pairs that disagreed, tubes run again, check samples that were off."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Final

import polars as pl

from lodestarch.common.findings import Finding, Severity, Where

__all__ = ["TESTED", "LabWeek", "Performance", "performance"]

TESTED: Final[dict[str, pl.DataType]] = {
    "sample": pl.String(),
    "day_id": pl.String(),
    "sample_kind": pl.String(),  # load, bin, composite, check, retest
    "run_day": pl.Date(),  # of its first tube; null where no run carries a time
    "status": pl.String(),  # method.judge.Status
    "agreement": pl.String(),  # agrees, disagrees, not judged
    "set_aside": pl.Int64(),
    "run_again": pl.Int64(),
    "tubes": pl.Int64(),
}
"""A row a sample that was tested, on each day that it was."""

_EPOCH: Final = date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class LabWeek:
    """One week at the bench.

    Parameters
    ----------
    monday : int or None
        Days since 1970-01-01; ``None``: all weeks together, or tests without a time.
    samples : int
        Tested, check samples among them.
    pairs, disagreed : int
        Samples whose tubes were held against each other, and those that did not agree.
    again, set_aside : int
        Tubes to run again, and tubes set aside.
    one_tube : int
        Samples read from one tube.
    held : int
        Samples whose result is held.
    checks, checks_off : int
        Check samples, and those outside their limits.
    """

    monday: int | None
    samples: int
    pairs: int
    disagreed: int
    again: int
    set_aside: int
    one_tube: int
    held: int
    checks: int
    checks_off: int


@dataclass(frozen=True, slots=True)
class Performance:
    """Weeks in order, tests without a time last; ``whole`` is ``None`` where nothing was tested."""

    weeks: tuple[LabWeek, ...]
    whole: LabWeek | None
    findings: tuple[Finding, ...]


def performance(tested: pl.DataFrame, checks_off: Collection[tuple[str, str]]) -> Performance:
    """Count the weeks of a bench.

    Parameters
    ----------
    tested : polars.DataFrame
        In :data:`TESTED`.
    checks_off : collection of (str, str)
        Day and sample of check samples outside their limits.

    Returns
    -------
    Performance
        With ``season-lab-no-checks`` where no check sample was run: a quiet bench is not a good one then.

    Examples
    --------
    >>> performance(pl.DataFrame(schema=TESTED), ()).whole is None
    True
    """
    if tested.is_empty():
        return Performance((), None, ())
    off = pl.DataFrame(
        {"day_id": [d for d, _ in checks_off], "sample": [s for _, s in checks_off], "off": True},
        schema={"day_id": pl.String(), "sample": pl.String(), "off": pl.Boolean()},
    ).unique()
    marked = tested.join(off, on=["day_id", "sample"], how="left").with_columns(
        pl.col("run_day").dt.truncate("1w").alias("monday")
    )
    by_week = marked.group_by("monday").agg(_counts()).sort("monday", nulls_last=True)
    weeks = tuple(_week(r) for r in by_week.to_dicts())
    whole = _week({"monday": None, **marked.select(_counts()).to_dicts()[0]})
    found: tuple[Finding, ...] = ()
    if whole.checks == 0:
        found = (Finding("season-lab-no-checks", Where(source="records"), Severity.CHECK, {}),)
    return Performance(weeks, whole, found)


def _counts() -> list[pl.Expr]:
    check = pl.col("sample_kind") == "check"
    return [
        pl.len().alias("samples"),
        pl.col("agreement").is_in(["agrees", "disagrees"]).sum().alias("pairs"),
        (pl.col("agreement") == "disagrees").sum().alias("disagreed"),
        pl.col("run_again").sum().alias("again"),
        pl.col("set_aside").sum().alias("set_aside"),
        (pl.col("tubes") == 1).sum().alias("one_tube"),
        (pl.col("status") == "held").sum().alias("held"),
        check.sum().alias("checks"),
        (check & pl.col("off").fill_null(value=False)).sum().alias("checks_off"),
    ]


def _week(row: dict[str, object]) -> LabWeek:
    monday = row.pop("monday")
    day = None if monday is None else (monday - _EPOCH).days  # type: ignore[operator]  # a date of the frame
    return LabWeek(day, **{k: int(v or 0) for k, v in row.items()})  # type: ignore[call-overload]  # counts
