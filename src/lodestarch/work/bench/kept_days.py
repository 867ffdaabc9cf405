"""Days that are kept: their list, one of them, and where a ticket or sample occurs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from lodestarch.method.day_counts import DayCounts, count_day
from lodestarch.records.day_values import DayLine
from lodestarch.records.engine import Records
from lodestarch.records.unit import View
from lodestarch.work.bench.bench_day_kind import is_bench_day
from lodestarch.work.bench.bench_outcome import live_outcome
from lodestarch.work.bench.day_kept import outcome_of
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.bench.standing import judge_by
from lodestarch.work.keeping.profiles import ProfileBook, book_of

__all__ = ["KeptDayLine", "find_code", "kept_days", "load_day"]


@dataclass(frozen=True, slots=True)
class KeptDayLine:
    """One day in the list of days."""

    day_id: str
    title: str
    read_at: datetime
    counts: DayCounts


def kept_days(records: Records) -> tuple[KeptDayLine, ...]:
    """Every day, the one read last first; a day at the bench is counted as it stands."""
    with records.view() as view:
        book = book_of(view)
        return tuple(
            KeptDayLine(line.day_id, line.title, line.read_at, _counts(view, line, book))
            for line in view.list_days()
        )


def _counts(view: View, line: DayLine, book: ProfileBook) -> DayCounts:
    if is_bench_day(line.summary):
        codes = view.load_day(line.day_id).parts.readings["sample"].unique(maintain_order=True).to_list()
        judged = judge_by(view, view.standing_readings(codes), book)
        return count_day(judged.results, judged.readings)
    return DayCounts(**cast("Mapping[str, Any]", line.summary)["counts"])


def load_day(records: Records, day_id: str) -> DayOutcome:
    """One day as it was judged; raises UnknownName."""
    with records.view() as view:
        kept, book = view.load_day(day_id), book_of(view)
        if is_bench_day(kept.parts.summary):
            return live_outcome(view, kept, book)
        return outcome_of(kept, book)


def find_code(records: Records, code: str) -> tuple[tuple[str, str], ...]:
    """Days and samples that a ticket or sample code names, the newest first."""
    with records.view() as view:
        return tuple((found.day_id, found.sample) for found in view.find(code))
