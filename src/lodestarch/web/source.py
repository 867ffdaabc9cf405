"""What the pages ask for; whoever runs the workbench gives it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from lodestarch.work.bench.outcome import DayOutcome

__all__ = ["DayLine", "DaySource"]


@dataclass(frozen=True, slots=True)
class DayLine:
    """One day in the list of days.

    Parameters
    ----------
    day_id : str
        Its name in addresses.
    title : str
    read_at : datetime
        When its sheet was read.
    samples : int
    waiting : int
        Samples to run again or without a reading that counts.
    """

    day_id: str
    title: str
    read_at: datetime
    samples: int
    waiting: int


class DaySource(Protocol):
    """Days that are kept. Called from worker threads, several at once."""

    def list_days(self) -> Sequence[DayLine]:
        """Every day, the newest first."""
        ...

    def load_day(self, day_id: str) -> DayOutcome:
        """One day.

        Raises
        ------
        UnknownName
            When no day has this name.
        """
        ...

    def find(self, code: str) -> Sequence[tuple[str, str]]:
        """Days and samples that a ticket or sample code names: (day_id, sample), the newest first."""
        ...
