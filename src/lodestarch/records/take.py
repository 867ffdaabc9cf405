"""Taking packages: each entry exactly once, in any order, and what clashes as a question to a person."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, delete, insert, select

from lodestarch.common.canonical import sha256_hex
from lodestarch.common.errors import Refused
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.log import FIRST_PREV, read_head, utc_text
from lodestarch.records.package import FORM
from lodestarch.records.replay import replay
from lodestarch.records.scope import Scope
from lodestarch.records.sites import add_site
from lodestarch.records.tables import AttachmentBytes, Event, HeldPackage, Reading, Site
from lodestarch.records.verify import verify

__all__ = ["MOST_BYTES", "PackageRefused", "Taken", "take_package"]

MOST_BYTES: Final = 4 * 1024**3
"""What a package may unpack to; an archive that swells beyond it is not read."""


class PackageRefused(Refused):
    """A package that is damaged, or that does not follow from what is here; nothing of it was taken."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of a package.

    Parameters
    ----------
    taken, known, held : dict of site code to number of entries
        Written now (with those that had waited); here before; waiting for earlier ones.
    findings : tuple of Finding
        Clashes and gaps, for a person.
    """

    taken: dict[str, int]
    known: dict[str, int]
    held: dict[str, int]
    findings: tuple[Finding, ...]


def _open(content: bytes) -> dict[str, bytes]:
    """Unpack and compare every file with the manifest.

    Raises
    ------
    PackageRefused
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(one.file_size for one in archive.infolist()) > MOST_BYTES:
                raise PackageRefused("The package unpacks to more than is ever sent. Nothing was taken.")
            files = {one.filename: archive.read(one) for one in archive.infolist()}
        manifest = json.loads(files.pop("manifest.json"))
        told = dict(manifest["sha256"])
        form = manifest["form"]
    except (zipfile.BadZipFile, KeyError, ValueError, TypeError, EOFError, OSError) as problem:
        raise PackageRefused(
            f"This is no package, or a cut one ({problem}). Have it sent again."
        ) from problem
    if form != FORM:
        raise PackageRefused(
            f"The package has the form {form}; this program reads {FORM}. Update the older one."
        )
    for name in sorted(set(files) | set(told)):
        if name not in files or told.get(name) != sha256_hex(files[name]):
            raise PackageRefused(f"{name} in the package is not what its manifest says. Have it sent again.")
    return files


def _split_lines(data: bytes) -> list[str]:
    """Split at line feeds only: other separators of lines may stand in a text."""
    text = data.decode("utf-8")
    return text[:-1].split("\n") if text else []


def _require_tied(scope: Scope, bodies: Sequence[tuple[str, Mapping[str, Any]]], prev: str) -> None:
    for text, body in bodies:
        if body["prev"] != prev or body["site"] != scope.site:
            raise PackageRefused(
                f"Entry {body['seq']} of {scope.site} does not follow on the one before it. Nothing was "
                "taken; compare the heads of both places."
            )
        prev = hashlib.sha256(text.encode("utf-8")).hexdigest()


def _clash(scope: Scope, bodies: Sequence[tuple[str, Mapping[str, Any]]]) -> Finding | None:
    """Return a finding where an entry is here under the same number and says something else."""
    for text, body in bodies:
        here = scope.conn.execute(
            select(Event.body).where(Event.site_no == scope.site_no, Event.seq == body["seq"])
        ).scalar()
        if here is not None and here != text:
            values = {
                "site": scope.site,
                "seq": body["seq"],
                "kind": body["kind"],
                "subject": body["subject"],
            }
            return Finding("package-clash", Where(source=scope.site), Severity.STOP, values)
    return None


def _take_site(scope: Scope, files: Mapping[str, bytes], bodies: list[tuple[str, Mapping[str, Any]]]) -> int:
    """Take the entries of one site that are not here yet; the package's first one is not beyond the next."""
    head = read_head(scope.conn, scope.site_no, to_write=True)
    new = [one for one in bodies if one[1]["seq"] > head.seq]
    if not new:
        return 0
    _require_tied(scope, new, head.hash.hex() if head.seq else FIRST_PREV)
    spans = {
        (body["data"]["day"], table, said["first"], said["last"])
        for _, body in new
        for table, said in body["data"].get("bulk", {}).items()
    }
    rows: dict[str, list[Mapping[str, Any]]] = {}
    for name in {table for _, table, _, _ in spans}:
        listed = [
            json.loads(line) for line in _split_lines(files.get(f"{scope.site}/rows/{name}.jsonl", b""))
        ]
        mine = [(d, low, high) for d, table, low, high in spans if table == name]
        rows[name] = [
            r for r in listed if any(r["day"] == d and low <= r["number"] <= high for d, low, high in mine)
        ]
    personal = {
        (one["kind"], one["key"]): one
        for one in map(json.loads, _split_lines(files.get(f"{scope.site}/personal.jsonl", b"")))
    }
    replay(scope, new, rows, personal)
    return len(new)


def _take_files(conn: Connection, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        if name.startswith("files/"):
            mark = name.removeprefix("files/")
            if (
                conn.execute(select(AttachmentBytes.sha256).where(AttachmentBytes.sha256 == mark)).first()
                is None
            ):
                conn.execute(insert(AttachmentBytes).values(sha256=mark, content=content))


def _hold(
    conn: Connection, site: str, bodies: Sequence[tuple[str, Mapping[str, Any]]], content: bytes, at: datetime
) -> None:
    values = {
        "site": site,
        "first_seq": bodies[0][1]["seq"],
        "last_seq": bodies[-1][1]["seq"],
        "sha256": sha256_hex(content),
    }
    known = select(HeldPackage.site).where(*(getattr(HeldPackage, n) == v for n, v in values.items()))
    if conn.execute(known).first() is None:
        conn.execute(insert(HeldPackage).values(**values, arrived_at=utc_text(at), content=content))


def _waiting(conn: Connection, site: str, next_seq: int) -> bytes | None:
    """Return a held package of a site whose time has come, and stop holding it."""
    found = conn.execute(
        select(HeldPackage.sha256, HeldPackage.content)
        .where(HeldPackage.site == site, HeldPackage.first_seq <= next_seq)
        .limit(1)
    ).first()
    if found is None:
        return None
    conn.execute(delete(HeldPackage).where(HeldPackage.site == site, HeldPackage.sha256 == found.sha256))
    return bytes(found.content)


def _bodies(files: Mapping[str, bytes], site: str) -> list[tuple[str, Mapping[str, Any]]]:
    try:
        read = [(text, json.loads(text)) for text in _split_lines(files[f"{site}/entries.jsonl"])]
        numbers = [body["seq"] for _, body in read]
    except (ValueError, KeyError, TypeError) as problem:
        raise PackageRefused(
            f"The entries of {site} cannot be read ({problem}). Have it sent again."
        ) from problem
    if numbers != list(range(numbers[0], numbers[0] + len(numbers))) if numbers else False:
        raise PackageRefused(
            f"The entries of {site} are not in order. Nothing was taken; have it sent again."
        )
    return read


def _same_samples(conn: Connection, site_no: int) -> list[Finding]:
    """Tell of sample codes that another site uses too: kept apart here, but a person may mix them up."""
    mine, other = Reading.__table__.alias("mine"), Reading.__table__.alias("other")
    found = conn.execute(
        select(mine.c.sample)
        .join(other, mine.c.sample == other.c.sample)
        .where(mine.c.site_no == site_no, other.c.site_no != site_no)
        .distinct()
        .limit(20)
    )
    return [Finding("sample-at-two-sites", Where(sample=row.sample), Severity.CHECK) for row in found]


def take_package(conn: Connection, content: bytes, at: datetime) -> Taken:
    """Take a package in one transaction: all of it that follows from what is here, or nothing.

    Raises
    ------
    PackageRefused
        When it is damaged, or what it brings does not hold against its own digests.
    """
    files = _open(content)
    taken: dict[str, int] = {}
    known: dict[str, int] = {}
    held: dict[str, int] = {}
    findings: list[Finding] = []
    for site in sorted({name.split("/")[0] for name in files if name.endswith("/entries.jsonl")}):
        bodies = _bodies(files, site)
        if not bodies:
            continue
        number = conn.execute(select(Site.site_no).where(Site.code == site)).scalar()
        head = 0 if number is None else read_head(conn, number, to_write=True).seq
        if bodies[0][1]["seq"] > head + 1:
            _hold(conn, site, bodies, content, at)
            held[site] = len(bodies)
            values = {"site": site, "seq": head + 1, "next": bodies[0][1]["seq"]}
            findings.append(Finding("package-held", Where(source=site), Severity.NOTE, values))
            continue
        scope = Scope(conn, add_site(conn, site, bodies[0][1]["at"]) if number is None else number, site)
        clash = _clash(scope, bodies)
        if clash is not None:
            findings.append(clash)
            continue
        _take_files(conn, files)
        taken[site] = _take_site(scope, files, bodies)
        known[site] = len(bodies) - taken[site]
        while (next_one := _waiting(conn, site, head + taken[site] + 1)) is not None:
            more = _open(next_one)
            _take_files(conn, more)
            taken[site] += _take_site(scope, more, _bodies(more, site))
        findings += _same_samples(conn, scope.site_no)
    _require_holding(conn, taken)
    return Taken(taken, known, held, tuple(findings))


def _require_holding(conn: Connection, taken: Mapping[str, int]) -> None:
    if not any(taken.values()):
        return
    brought = [site for site, count in taken.items() if count]
    for finding in verify(conn, most=1, only=brought).findings:
        if finding.severity is Severity.STOP:
            told = ", ".join(f"{k} {v}" for k, v in finding.values.items())
            raise PackageRefused(
                f"What the package brings does not hold ({finding.code}: {told}). Nothing was taken."
            )
