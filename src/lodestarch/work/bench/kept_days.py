"""Days that are kept: their list, one of them, and where a ticket or sample occurs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from lodestarch.method.day_counts import DayCounts
from lodestarch.records.engine import Records
from lodestarch.work.bench.day_kept import outcome_of
from lodestarch.work.bench.outcome import DayOutcome
from lodestarch.work.keeping.profiles import book_of

__all__ = ["KeptDayLine", "find_code", "kept_days", "load_day"]


@dataclass(frozen=True, slots=True)
class KeptDayLine:
    """One day in the list of days."""

    day_id: str
    title: str
    read_at: datetime
    counts: DayCounts


def kept_days(records: Records) -> tuple[KeptDayLine, ...]:
    """Every day, the one read last first."""
    with records.view() as view:
        return tuple(
            KeptDayLine(
                line.day_id,
                line.title,
                line.read_at,
                DayCounts(**cast("Mapping[str, Any]", line.summary)["counts"]),
            )
            for line in view.list_days()
        )


def load_day(records: Records, day_id: str) -> DayOutcome:
    """One day as it was judged; raises UnknownName."""
    with records.view() as view:
        return outcome_of(view.load_day(day_id), book_of(view))


def find_code(records: Records, code: str) -> tuple[tuple[str, str], ...]:
    """Days and samples that a ticket or sample code names, the newest first."""
    with records.view() as view:
        return tuple((found.day_id, found.sample) for found in view.find(code))
