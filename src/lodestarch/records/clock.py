"""The clock against the log: an entry is never dated before the one before it without a word."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from lodestarch.common.errors import Refused
from lodestarch.records.log import Entry, read_head, utc_text
from lodestarch.records.scope import Scope

__all__ = ["BACKWARD_ALLOWED", "ClockBehind", "check_clock"]

BACKWARD_ALLOWED: Final = timedelta(minutes=5)
"""How far a clock may step back without a word. Common practice: a network clock's correction."""


class ClockBehind(Refused):
    """The clock stands before the last entry of the log."""

    def __init__(self, now: str, last: str) -> None:
        self.now, self.last = now, last
        super().__init__(
            f"The clock says {now}, and the last entry was made at {last}. Set the clock, then do it again. "
            "If it was the earlier clock that was wrong, say so as a note on this change."
        )


def check_clock(scope: Scope, at: datetime, note: str | None) -> Entry | None:
    """Compare a moment with the last entry; return an entry when a note lets an earlier one in.

    Raises
    ------
    ClockBehind
        When the moment lies more than five minutes before the last entry and there is no note.
    """
    last, now = read_head(scope.conn, scope.site_no).at, utc_text(at)
    if datetime.fromisoformat(last) - at <= BACKWARD_ALLOWED:
        return None
    if note is None:
        raise ClockBehind(now, last)
    return Entry("clock.behind", None, {"now": now, "last": last}, note)
