"""Looking at the records, and changing them: a view, and a unit of work."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import polars as pl

from lodestarch.common.canonical import Json
from lodestarch.records import days, days_read, profiles
from lodestarch.records.clock import check_clock
from lodestarch.records.day_values import DayLine, DayParts, Found, KeptDay, StoredDay
from lodestarch.records.log import Entry, append, read_head
from lodestarch.records.people import person_key
from lodestarch.records.profiles import KeptProfile
from lodestarch.records.scope import Scope

__all__ = ["Unit", "View"]


class View:
    """The records of one site as they stand; what it reads is of one moment."""

    def __init__(self, scope: Scope) -> None:
        self._scope = scope

    def list_days(self) -> list[DayLine]:
        """Return the days, the one read last first."""
        return days_read.list_days(self._scope)

    def load_day(self, day_id: str) -> KeptDay:
        """Return a day with everything that was stored; raises UnknownName."""
        return days_read.load_day(self._scope, day_id)

    def find(self, code: str) -> list[Found]:
        """Return the days on which a ticket or sample occurs, the one read last first."""
        return days_read.find(self._scope, code)

    def known_rows(self, readings: pl.DataFrame) -> pl.DataFrame:
        """Return which rows stand under a kept key: sample, run, position, row_text as kept, day_id."""
        return days_read.known_with_text(self._scope, readings)

    def standing_readings(self, samples: Sequence[str]) -> pl.DataFrame:
        """Return the readings of samples that stand, from every day, in ``method.table.JUDGED``."""
        return days_read.standing_readings(self._scope, samples)

    def profiles(self) -> list[KeptProfile]:
        """Return every version of every profile of the lab's own."""
        return profiles.profiles(self._scope)

    def signoffs(self, profile_id: str) -> list[Json]:
        """Return the sign-offs of every version of a profile, oldest first."""
        return profiles.signoffs(self._scope, profile_id)

    def head(self) -> tuple[int, str]:
        """Return the number and digest (hexadecimal) of the last entry in this site's log."""
        state = read_head(self._scope.conn, self._scope.site_no)
        return state.seq, state.hash.hex()


class Unit(View):
    """One unit of work by one person: all of it is written, with its entries in the log, or nothing."""

    def __init__(self, scope: Scope, person: str, at: datetime, clock_note: str | None) -> None:
        super().__init__(scope)
        self._at = at
        self._entries: list[Entry] = []
        note = check_clock(scope, at, clock_note)
        self._person, entry = person_key(scope, person)
        self._entries += [e for e in (note, entry) if e is not None]

    @property
    def person(self) -> str:
        """The person's key."""
        return self._person

    def store_day(self, parts: DayParts, *, take_changes: str | None = None) -> StoredDay:
        """Store one bench sheet as read and judged; see :func:`lodestarch.records.days.store_day`."""
        stored, entries = days.store_day(self._scope, parts, take_changes)
        self._entries += entries
        return stored

    def save_profile(self, profile_id: str, version: str, document: Json) -> None:
        """Keep one version of a profile; raises ProfileInUse when it is kept and says something else."""
        self._entries += profiles.save_profile(self._scope, profile_id, version, document)

    def save_signoff(self, profile_id: str, version: str, document: Json) -> None:
        """Keep a sign-off of a profile version."""
        self._entries += profiles.save_signoff(self._scope, profile_id, version, document)

    def finish(self) -> None:
        """Tie what was done into the log; called once, before the transaction ends."""
        append(self._scope.conn, self._scope.site_no, self._scope.site, self._person, self._at, self._entries)
        self._entries = []
