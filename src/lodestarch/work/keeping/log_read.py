"""The log as somebody reads it: who did what to what, and why, the latest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from lodestarch.records.engine import Records
from lodestarch.work.people.permissions import is_allowed

__all__ = ["LogLine", "may_read_log", "read_log"]


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry."""

    seq: int
    at: datetime
    person: str
    kind: str
    subject: str | None
    reason: str | None


def may_read_log(roles: Sequence[str]) -> bool:
    """Tell whether somebody with these roles may read the log."""
    return is_allowed("log.see", roles)


def read_log(records: Records, *, before: int | None = None, most: int = 50) -> tuple[LogLine, ...]:
    """Return entries of the log, the latest first; ``before`` a number gives those before it."""
    with records.view() as view:
        names, entries = view.names("people"), view.log_before(before, most)
    return tuple(
        LogLine(
            int(str(one["seq"])),
            datetime.fromisoformat(str(one["at"])),
            names.get(str(one.get("person")), str(one.get("person"))),
            str(one["kind"]),
            None if one.get("subject") is None else str(one["subject"]),
            None if one.get("reason") is None else str(one["reason"]),
        )
        for one in entries
    )
