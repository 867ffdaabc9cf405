"""Proving the records: chain, kept rows, sheets, personal data, files; every difference as a finding.

What this cannot show: that somebody with the rights to do so rewrote the log from some entry on, together
with everything built on it. That shows only against a head kept elsewhere: printed on a document, or kept
with a backup; give it as ``known_head``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection, inspect, select, text

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.scope import Scope
from lodestarch.records.tables import KEPT, OUTSIDE, Base, Site
from lodestarch.records.verify_chain import Fold, Progress, walk
from lodestarch.records.verify_days import check_days, check_strays
from lodestarch.records.verify_rows import check_files, check_kept, check_personal
from lodestarch.records.verify_touched import touched

__all__ = ["EVERY_TABLE", "MOST_SHOWN", "SiteProof", "VerifyReport", "verify"]

MOST_SHOWN: Final = 50
"""Differences after which looking ends; the first is what counts."""


EVERY_TABLE: Final = frozenset(Base.metadata.tables) - OUTSIDE
"""Tables that the log stands for."""


@dataclass(frozen=True, slots=True)
class SiteProof:
    """One site's chain as it was walked."""

    site: str
    entries: int
    head: str
    """Digest of the last entry, hexadecimal."""
    rows: int
    """Kept rows that the log holds."""
    sheets: int


@dataclass(frozen=True, slots=True)
class VerifyReport:
    """What verifying showed.

    ``findings`` holds the differences (severity *stop*) in the order in which they were met, and notes: what
    was let out or issued from the place of the first one, and what was erased on request.
    """

    sites: tuple[SiteProof, ...]
    findings: tuple[Finding, ...]

    @property
    def holds(self) -> bool:
        """True where nothing differs."""
        return all(f.severity is not Severity.STOP for f in self.findings)


def _orphans(conn: Connection) -> Iterator[Finding]:
    """Look for rows of a site that does not exist: another number, and nobody would look at them again."""
    tables = [m.__table__.name for m in KEPT] + ["events", "heads", "personal"]  # type: ignore[attr-defined]
    for name in tables:
        sql = f'SELECT count(*) FROM "{name}" WHERE site_no NOT IN (SELECT site_no FROM sites)'  # noqa: S608 - ours
        count = conn.execute(text(sql)).scalar_one()
        if count:
            yield Finding(
                "rows-of-no-site", Where(source=name), Severity.STOP, {"table": name, "count": count}
            )


def _guards_missing(conn: Connection) -> Iterator[Finding]:
    """Look whether the log's own guards still stand."""
    if conn.dialect.name == "sqlite":
        sql = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        sql = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    names = {row[0] for row in conn.execute(text(sql))}
    wanted = {
        f"keep_{t}_{what}"
        for t in inspect(conn).get_table_names()
        if t == "events"
        for what in ("update", "delete")
    }
    missing = sorted(wanted - names)
    if missing:
        yield Finding("guards-missing", Where(source="events"), Severity.STOP, {"names": ", ".join(missing)})


def _pages(conn: Connection) -> Iterator[Finding]:
    """Look at pages that no row of ours leads to: an empty table's, a free one."""
    if conn.dialect.name == "sqlite":
        told = str(conn.exec_driver_sql("PRAGMA quick_check(1)").scalar_one())
        if told != "ok":
            yield Finding("file-pages-damaged", Where(source="sqlite"), Severity.STOP, {"told": told})


def _founding(scope: Scope, fold: Fold) -> Iterator[Finding]:
    if fold.entries == 0:
        yield Finding("site-not-founded", Where(source="sites"), Severity.STOP, {"site": scope.site})


def _site_findings(
    scope: Scope, progress: Progress | None, known: tuple[int, str] | None, tables: Collection[str]
) -> tuple[SiteProof, Iterator[Finding]]:
    fold, chain = walk(scope, progress, known)
    proof = SiteProof(scope.site, fold.entries, fold.head, len(fold.rows), len(fold.bulk))

    def all_of_it() -> Iterator[Finding]:
        yield from chain
        yield from _founding(scope, fold)
        yield from check_kept(scope, fold, tables)
        yield from check_days(scope, fold, progress, tables)
        if "personal" in tables:
            yield from check_personal(scope, fold)

    return proof, all_of_it()


def _everything(
    conn: Connection,
    proofs: list[SiteProof],
    progress: Progress | None,
    known_heads: Mapping[str, tuple[int, str]],
    tables: Collection[str],
    only: Collection[str] | None,
) -> Iterator[Finding]:
    sites = conn.execute(select(Site.site_no, Site.code).order_by(Site.site_no)).all()
    if not sites:
        yield Finding("site-not-founded", Where(source="sites"), Severity.STOP, {"site": ""})
    for number, code in sites:
        if only is not None and code not in only:
            continue
        proof, more = _site_findings(Scope(conn, number, code), progress, known_heads.get(code), tables)
        proofs.append(proof)
        yield from more
    yield from _orphans(conn)
    yield from check_strays(Scope(conn, 0, ""))
    if "attachment_bytes" in tables:
        yield from check_files(Scope(conn, 0, ""))
    yield from _guards_missing(conn)
    if tables is EVERY_TABLE:
        yield from _pages(conn)


def verify(
    conn: Connection,
    *,
    progress: Progress | None = None,
    known_heads: Mapping[str, tuple[int, str]] | None = None,
    most: int = MOST_SHOWN,
    tables: Collection[str] = EVERY_TABLE,
    only: Collection[str] | None = None,
) -> VerifyReport:
    """Prove the records on a connection, every site of them.

    Parameters
    ----------
    conn : Connection
        In a transaction, so that all is read as of one moment.
    progress : callable or None
    known_heads : mapping of site code to (number, digest), or None
        Heads kept elsewhere.
    most : int
        Looking ends when so many differences were found.
    tables : collection of str
        Tables to compare; the chain is walked in any case.
    only : collection of site codes, or None
        Sites to prove; ``None``: every one.
    """
    proofs: list[SiteProof] = []
    findings: list[Finding] = []
    differences = 0
    for finding in _everything(conn, proofs, progress, known_heads or {}, tables, only):
        findings.append(finding)
        differences += finding.severity is Severity.STOP
        if differences >= most:
            break
    first = next((f for f in findings if f.severity is Severity.STOP), None)
    if first is not None:
        note = touched(conn, first)
        findings += [note] if note.values["touches"] else []
    return VerifyReport(tuple(proofs), tuple(findings))
