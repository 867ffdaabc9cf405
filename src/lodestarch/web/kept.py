"""Days out of the records, for the pages."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from lodestarch.records.engine import Records
from lodestarch.web.source import DayLine
from lodestarch.work.bench.kept_days import find_code, kept_days, load_day
from lodestarch.work.bench.outcome import DayOutcome

__all__ = ["KeptDays"]

_DAYS_AT_HAND = 8


class KeptDays:
    """A ``DaySource`` over open records. A kept day never changes, so the last few are kept at hand."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._load = lru_cache(maxsize=_DAYS_AT_HAND)(self._from_records)

    def _from_records(self, day_id: str) -> DayOutcome:
        return load_day(self._records, day_id)

    def list_days(self) -> Sequence[DayLine]:
        """Every day, the newest first."""
        return [
            DayLine(d.day_id, d.title, d.read_at, d.counts.samples, d.counts.run_again + d.counts.no_result)
            for d in kept_days(self._records)
        ]

    def load_day(self, day_id: str) -> DayOutcome:
        """One day; raises UnknownName."""
        return self._load(day_id)

    def find(self, code: str) -> Sequence[tuple[str, str]]:
        """Days and samples that a ticket or sample code names, the newest first."""
        return find_code(self._records, code)
