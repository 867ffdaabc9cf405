"""Days for tests of the pages, kept in memory."""

from __future__ import annotations

from collections.abc import Sequence

from lodestarch.common.errors import UnknownName
from lodestarch.web.source import DayLine
from lodestarch.work.bench.outcome import DayOutcome
from web.example_day import empty_day, example_day


class ExampleSource:
    """A source over given days; the newest first."""

    def __init__(self, *days: DayOutcome) -> None:
        self._days = {d.day_id: d for d in days}

    def list_days(self) -> Sequence[DayLine]:
        return [
            DayLine(d.day_id, d.title, d.read_at, d.counts.samples, d.counts.run_again + d.counts.no_result)
            for d in self._days.values()
        ]

    def load_day(self, day_id: str) -> DayOutcome:
        if day_id not in self._days:
            raise UnknownName("day", day_id, tuple(self._days))
        return self._days[day_id]

    def find(self, code: str) -> Sequence[tuple[str, str]]:
        found = []
        for day in self._days.values():
            for sample, ticket in day.results.select("sample", "ticket").iter_rows():
                if code in {sample, ticket}:
                    found.append((day.day_id, sample))
        return found


def example_source() -> ExampleSource:
    return ExampleSource(example_day(), empty_day())
