"""How a time is written: the day first, then hours and minutes on a 24 h clock."""

from __future__ import annotations

from datetime import date, datetime

__all__ = ["day_text", "when"]


def when(at: datetime) -> str:
    """Date and clock time, with the offset where the time carries one.

    Examples
    --------
    >>> when(datetime(2026, 8, 12, 18, 5))
    '2026-08-12 18:05'
    """
    offset = at.utcoffset()
    zone = "" if offset is None else at.strftime(" %z") if offset else " UTC"
    return at.strftime("%Y-%m-%d %H:%M") + zone


def day_text(day: date | None) -> str:
    """A date as ISO 8601 writes it; empty without one."""
    return "" if day is None else day.isoformat()
