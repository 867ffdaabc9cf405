"""Terms entered: a file dropped in, an entry typed, an entry withdrawn; each makes a version of its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from lodestarch.common.findings import Finding, Severity, Where, in_order
from lodestarch.records.engine import Records
from lodestarch.records.unit import Unit
from lodestarch.sheets.mapping import read_mapping
from lodestarch.sheets.terms import read_terms_tables, take_terms_tables
from lodestarch.sheets.terms_document import Tables, added_to, entries_of
from lodestarch.sheets.terms_entry import Reporter
from lodestarch.sheets.terms_keys import TABLES, VERSION
from lodestarch.work.office.terms_kept import standing_terms, write_terms
from lodestarch.work.people.permissions import unit_for

__all__ = ["TYPED", "TermsEntered", "TermsFile", "enter_entry", "enter_terms_file", "withdraw_entry"]

TYPED: Final = "typed"
_LONGEST_REASON: Final = 200


@dataclass(frozen=True, slots=True)
class TermsFile:
    """A file as dropped in.

    Parameters
    ----------
    name : str
    data : bytes
        TOML, CSV or xlsx.
    whole : bool
        These are all the terms; otherwise they are added to what stands, entry by entry.
    mapping : tuple of str and bytes, optional
        Header names of another program.
    """

    name: str
    data: bytes
    whole: bool = False
    mapping: tuple[str, bytes] | None = None


@dataclass(frozen=True, slots=True)
class TermsEntered:
    """What became of it.

    Parameters
    ----------
    version : str or None
        Key of the version that stands now; ``None``: nothing was kept, and the findings say why.
    changed : bool
        A new version was made.
    findings : tuple of Finding
    """

    version: str | None
    changed: bool
    findings: tuple[Finding, ...]


def enter_terms_file(records: Records, file: TermsFile, *, person: str, at: datetime) -> TermsEntered:
    """Keep the terms of a file as a new version; nothing of it is kept where any of it cannot be taken.

    Raises
    ------
    NotAllowed
        When the person may not.
    """
    with unit_for(records, person, at, "terms.change") as unit:
        columns: Mapping[str, str] | None = None
        told: tuple[Finding, ...] = ()
        if file.mapping is not None:
            mapping = read_mapping(file.mapping[1], file.mapping[0])
            columns, told = mapping.columns, mapping.findings
        taken = take_terms_tables(file.data, file.name, mapping=columns)
        if taken.tables is None:
            return TermsEntered(None, False, (*told, *taken.report.findings))
        standing = standing_terms(unit)
        tables = taken.tables
        if standing is not None and not file.whole:
            tables = added_to(standing.tables, tables)
        return _keep(unit, tables, taken.report, file.name, at, new=taken.tables, told=told)


def enter_entry(
    records: Records, kind: str, raw: Mapping[str, object], *, person: str, at: datetime, reason: str = ""
) -> TermsEntered:
    """Keep one entry, typed field by field; ``kind`` ``file`` is what holds for all of them.

    Parameters
    ----------
    records : Records
    kind : str
        ``buyer``, ``delivery_point``, ``schedule``, ``contract``, ``bid``, ``bin``, or ``file``.
    raw : mapping
        Keys as in a terms file.
    person : str
    at : datetime
    reason : str
        Why, where the person says.
    """
    with unit_for(records, person, at, "terms.change") as unit:
        standing = standing_terms(unit)
        base: Tables = {} if standing is None else standing.tables
        more: Tables = dict(raw) if kind == "file" else {kind: [dict(raw)]}
        tables = added_to(base, more)
        if kind == "file":  # a field that was emptied says nothing any more
            tables = {**dict(raw), **{k: tables[k] for k in TABLES if k in tables}, "terms": VERSION}
        return _keep(unit, tables, Reporter(TYPED), TYPED, at, new=more, reason=reason)


def withdraw_entry(
    records: Records, kind: str, name: str, *, person: str, at: datetime, reason: str = ""
) -> TermsEntered:
    """Take an entry out of what stands from now on; what it said stays with the earlier versions."""
    with unit_for(records, person, at, "terms.change") as unit:
        standing = standing_terms(unit)
        tables: Tables = {} if standing is None else dict(standing.tables)
        left = [e for e in entries_of(tables, kind) if e.get("id") != name]
        if kind not in TABLES or len(left) == len(entries_of(tables, kind)):
            values = {"table": kind[:40], "id": name[:64]}
            return TermsEntered(
                None, False, (Finding("terms-no-entry", Where(field="id"), Severity.STOP, values),)
            )
        tables[kind] = left
        return _keep(unit, tables, Reporter(TYPED), TYPED, at, new=None, reason=reason)


def _keep(
    unit: Unit,
    tables: Tables,
    report: Reporter,
    source: str,
    at: datetime,
    *,
    new: Mapping[str, object] | None,
    told: tuple[Finding, ...] = (),
    reason: str = "",
) -> TermsEntered:
    """Read the whole as it would stand; keep it where nothing stops it."""
    read = read_terms_tables(tables, report)
    found = [*told, *(f for f in read.findings if new is None or _concerns(f, new))]
    if len(reason) > _LONGEST_REASON:
        values = {"count": len(reason), "most": _LONGEST_REASON}
        found.append(Finding("entry-too-long", Where(field="reason"), Severity.STOP, values))
    if read.terms is None or any(f.severity is Severity.STOP for f in found):
        return TermsEntered(None, False, in_order(found))
    key = write_terms(unit, tables, source, at, reason=reason.strip() or None)
    standing = standing_terms(unit)
    return TermsEntered(standing.key if standing else None, key is not None, in_order(found))


def _concerns(finding: Finding, new: Mapping[str, object]) -> bool:
    """A finding that stops anything, or that is about an entry that came in now."""
    if finding.severity is Severity.STOP or "table" not in finding.values:
        return True
    kind = str(finding.values["table"])
    return any(e.get("id") == finding.values["id"] for e in entries_of(new, kind))
