"""Looking at the records, and changing them: a view, and a unit of work."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import TypeVar

import polars as pl

from lodestarch.common.canonical import Json
from lodestarch.records import (
    accounts,
    bench,
    bench_read,
    days,
    days_read,
    edits,
    issue,
    kept,
    lists,
    parties,
    people,
    profiles,
    samples_read,
)
from lodestarch.records.accounts import Who
from lodestarch.records.bench_read import InWork
from lodestarch.records.clock import check_clock
from lodestarch.records.day_values import DayLine, DayParts, Found, KeptDay, StoredDay
from lodestarch.records.issue import Issued, Proof
from lodestarch.records.log import Entry, append, entries_about, entry_bodies, read_head
from lodestarch.records.people import person_key
from lodestarch.records.profiles import KeptProfile
from lodestarch.records.samples_read import KeptSample
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Document, Kept, Person, Release

__all__ = ["Unit", "View"]

K = TypeVar("K", bound=Kept)


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

    def open_sample(self, sample: str) -> KeptSample:
        """Return everything that is kept of a sample: readings, results, releases, every version."""
        return samples_read.open_sample(self._scope, sample)

    def latest_results(self, limit: int = 50, before: int | None = None) -> pl.DataFrame:
        """Return the results kept last, newest first; ``before`` an id gives the next page."""
        return samples_read.latest_results(self._scope, limit, before)

    def all_results(self) -> pl.DataFrame:
        """Return every version of every result, oldest first, with the day it is of."""
        return lists.all_results(self._scope)

    def month_of_fees(self, month: date) -> pl.DataFrame:
        """Return what is to be charged for work done in a month, one line a payer and fee code."""
        return lists.month_of_fees(self._scope, month)

    def file(self, sha256: str) -> bytes:
        """Return the bytes of an attachment; raises UnknownName."""
        return issue.attached_bytes(self._scope, sha256)

    def search(self, beginning: str, limit: int = 20) -> list[tuple[str, str | None]]:
        """Return samples, with tickets, whose code or ticket begins so."""
        return samples_read.search(self._scope, beginning, limit)

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

    def get(self, model: type[K], key: str) -> K | None:
        """Return one kept row as a value, with the version that an edit has to state."""
        return kept.fetch(self._scope, model, key)

    def all(self, model: type[K], **equal: Json) -> list[K]:
        """Return the kept rows whose columns equal the values given, in order of key."""
        return kept.fetch_all(self._scope, model, **equal)

    def latest(self, model: type[K], by: str, most: int) -> list[K]:
        """Return the kept rows with the latest values in a column, the latest first."""
        return kept.fetch_latest(self._scope, model, by, most)

    def names(self, kind: str) -> dict[str, str]:
        """Return names by key (``people``, ``parties``); erased ones are left out."""
        return people.names_of(self._scope, kind)

    def personal(self, kind: str, key: str) -> Json:
        """Return the personal data of one person or party; ``None`` where erased. Raises UnknownName."""
        return parties.personal_of(self._scope, kind, key)

    def who_is(self, token: str, at: datetime) -> Who | None:
        """Return who a session's token stands for; ``None`` where it stands for nobody any more."""
        return accounts.who_is(self._scope, token, at)

    def roles_of(self, person: str) -> tuple[str, ...]:
        """Return the roles of a person given by key; none where there is no such person, or not any more."""
        row = kept.fetch(self._scope, Person, person)
        return tuple(row.roles.split()) if row is not None and row.active else ()

    def open_samples(self, since: str, most: int = 200) -> list[str]:
        """Return samples received since a moment that no release stands for, the latest first."""
        return bench_read.open_samples(self._scope, since, most)

    def in_work(self, samples: Sequence[str]) -> InWork:
        """Return what the bench entered of some samples."""
        return bench_read.in_work(self._scope, samples)

    def of_samples(self, model: type[K], samples: Sequence[str]) -> list[K]:
        """Return the kept rows of some samples, oldest first."""
        return bench_read.of_samples(self._scope, model, samples)

    def has_password(self, person: str) -> bool:
        """Tell whether a person (by key) signs in with a password."""
        return accounts.has_password(self._scope, person)

    def standing_release(self, sample: str) -> Release | None:
        """Return the release of a sample that stands, if there is one."""
        return issue.standing_release(self._scope, sample)

    def issued_from(self, sample: str) -> list[Issued]:
        """Return for every release of a sample what was issued from it, and who got it."""
        return issue.issued_from(self._scope, sample)

    def proof_of(self, seq: int) -> Proof:
        """Return the proof that an entry is under a root; raises NoAnswer where no root covers it yet."""
        return issue.proof_of(self._scope, seq)

    def document_proof(self, document: str) -> Proof:
        """Return the proof of the entry that issued a document; raises UnknownName, NoAnswer."""
        return issue.proof_of(self._scope, issue.document_seq(self._scope, document))

    def documents_stating(self, kind: str, releases: Sequence[str]) -> list[Document]:
        """Return the documents of a kind that state one of some releases each, oldest first."""
        return issue.documents_stating(self._scope, kind, releases)

    def document_names(self, document: str, part: str) -> tuple[str, Json] | None:
        """Return the salt and the names of one part of a document; ``None`` where erased or none."""
        return issue.document_names(self._scope, document, part)

    def document_of_files(self, sha256: str) -> tuple[str, str, bool] | None:
        """Return the document handed over in bytes of this digest: key, ending, whether as superseded."""
        return issue.document_of_files(self._scope, sha256)

    def roots(self) -> list[tuple[int, str]]:
        """Return every entry that holds a root: its number and its canonical text, oldest first."""
        return issue.root_entries(self._scope)

    def entries(self, first: int, last: int) -> list[str]:
        """Return the canonical text of entries of the log, by number."""
        return entry_bodies(self._scope, first, last)

    @property
    def site(self) -> str:
        """Code of the site."""
        return self._scope.site

    def history(self, subject: str) -> list[Json]:
        """Return every entry about a subject (``table:key``), oldest first, as it stands in the log."""
        return entries_about(self._scope, subject)

    def log_before(self, before: int | None, most: int) -> list[dict[str, Json]]:
        """Return entries of the log, the latest first; only those before a number where one is given."""
        end = read_head(self._scope.conn, self._scope.site_no).seq
        last = end if before is None else min(end, before - 1)
        found = entry_bodies(self._scope, max(1, last - most + 1), last)
        return [json.loads(body) for body in reversed(found)]

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

    def open_day(self, parts: DayParts) -> str:
        """Open a day at the bench, empty as yet, and return its id."""
        day_id, entry = bench.open_day(self._scope, parts)
        self._entries.append(entry)
        return day_id

    def record_readings(self, day_id: str, readings: pl.DataFrame, reason: str | None = None) -> None:
        """Keep readings from the bench; see :func:`lodestarch.records.bench.record_readings`."""
        self._entries += bench.record_readings(self._scope, day_id, readings, reason)

    def record_results(self, day_id: str, results: pl.DataFrame) -> None:
        """Keep what the readings of samples say by now."""
        self._entries += bench.record_results(self._scope, day_id, results)

    def add(self, row: Kept, *, reason: str | None = None) -> None:
        """Write a new kept row."""
        self._entries.append(edits.add_row(self._scope, row, reason))

    def edit(self, row: Kept, *, made_from: int, reason: str | None = None) -> None:
        """Write a row over the version that the edit was made from; see :func:`.edits.edit_row`."""
        self._entries.append(edits.edit_row(self._scope, row, made_from, reason))

    def next_key(self, model: type[Kept], prefix: str) -> str:
        """Return the next key of a kind: the prefix and a number."""
        return issue.next_key(self._scope, model, prefix)

    def add_person(self, name: str, roles: tuple[str, ...]) -> str:
        """Write a new person and return the key; raises UnknownName for a role that there is not."""
        key, entry = people.add_person(self._scope, name, roles)
        self._entries.append(entry)
        return key

    def set_password(self, person: str, password: str) -> None:
        """Give a person a password; raises PasswordRefused. Sessions under the old one end."""
        self._entries.append(accounts.set_password(self._scope, person, password))

    def add_party(self, name: str, role: str, *, contact: Json = None, region: str | None = None) -> str:
        """Write a new party and return its key."""
        key, entry = parties.add_party(self._scope, name, role, contact=contact, region=region)
        self._entries.append(entry)
        return key

    def erase(self, kind: str, key: str, reason: str) -> None:
        """Erase the personal data of a person or party, on sheets too; the log keeps that it was done."""
        self._entries.append(parties.erase(self._scope, kind, key, reason))

    def attach(self, subject: str, name: str, media_type: str, content: bytes) -> None:
        """Keep a file that belongs to something."""
        self._entries.append(issue.attach(self._scope, subject, name, media_type, content))

    def release(self, sample: str, *, by_rule: bool = False, reason: str | None = None) -> str:
        """Let the latest result of a sample out and return the release's key; see :func:`.issue.release`."""
        key, entry = issue.release(
            self._scope, sample, self._at, self._person, by_rule=by_rule, reason=reason
        )
        self._entries.append(entry)
        return key

    def tell(
        self,
        release: str,
        how: str,
        *,
        party: str | None = None,
        said: str | None = None,
        document: str | None = None,
    ) -> None:
        """Keep that a release went to somebody: on paper, or as an answer by phone."""
        entry = issue.tell(self._scope, release, self._at, how, party=party, said=said, document=document)
        self._entries.append(entry)

    def issue_document(
        self,
        kind: str,
        content: Json,
        *,
        releases: tuple[str, ...] = (),
        file_sha256: str | None = None,
        supersedes: str | None = None,
        names: Mapping[str, Json] | None = None,
    ) -> tuple[Document, Proof]:
        """Keep a document as issued and put it under a root; ``names`` as :func:`.issue.document_entry`.

        Returns
        -------
        Document, Proof
            The document states the log's end before it (``head_seq``, ``head_hash``), to be printed on it;
            the proof leads from its entry to the root.
        """
        self.flush()
        document, entry = issue.document_entry(
            self._scope, kind, self._at, content, releases, file_sha256, supersedes, names
        )
        self._entries.append(entry)
        seq = self.flush()
        self.root()
        return document, issue.proof_of(self._scope, seq)

    def printed(self, document: str, files: Mapping[str, str], *, as_superseded: bool = False) -> None:
        """Keep in which bytes a document is handed over: SHA-256 by the ending of the file."""
        self._entries.append(issue.printed(document, files, as_superseded=as_superseded))

    def root(self) -> None:
        """Put all entries since the last root under one; done at each document and at day's end."""
        self.flush()
        entry = issue.root_entry(self._scope)
        if entry is not None:
            self._entries.append(entry)
            self.flush()

    def flush(self) -> int:
        """Tie what was done so far into the log; return the number of the last entry."""
        site, entries = self._scope, self._entries
        self._entries = []
        return append(site.conn, site.site_no, site.site, self._person, self._at, entries).seq

    def finish(self) -> None:
        """Tie the rest into the log; called once, before the transaction ends."""
        self.flush()
