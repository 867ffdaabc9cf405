"""Letting results out: releases, what was issued from them, documents, and the roots they are proved by."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, insert, literal, select, update

from lodestarch.common.canonical import Json, canonical_text, sha256_hex
from lodestarch.common.errors import NoAnswer, UnknownName
from lodestarch.common.merkle import InclusionProof, inclusion_proof, leaf_hash, root_hash
from lodestarch.records.conflict import NeedsReason
from lodestarch.records.kept import added, changed, fetch, fetch_all, fetch_keys, table_of
from lodestarch.records.log import Entry, read_head, utc_text
from lodestarch.records.people import keep_personal
from lodestarch.records.scope import Scope
from lodestarch.records.tables import (
    Attachment,
    AttachmentBytes,
    Day,
    Document,
    Event,
    Head,
    Kept,
    Personal,
    Release,
    ReleaseCopy,
    Result,
)

__all__ = [
    "Issued",
    "Proof",
    "attach",
    "attached_bytes",
    "document_names",
    "document_of_files",
    "document_seq",
    "documents_stating",
    "issued_from",
    "next_key",
    "printed",
    "proof_of",
    "release",
    "root_entries",
    "root_entry",
    "standing_release",
    "tell",
]


@dataclass(frozen=True, slots=True)
class Proof:
    """That one entry is in the log under a root that is itself an entry.

    ``body`` is the entry's canonical text; its leaf, the path and the root can be checked with
    :func:`lodestarch.common.merkle.holds` by anybody.
    """

    seq: int
    body: str
    inclusion: InclusionProof
    root: str
    root_seq: int
    root_body: str
    """Canonical text of the entry that holds the root."""


@dataclass(frozen=True, slots=True)
class Issued:
    """What was issued from a release: documents and answers, with whom they went to."""

    release: str
    copies: tuple[ReleaseCopy, ...]
    documents: tuple[Document, ...]


def next_key(scope: Scope, model: type[Kept], prefix: str) -> str:
    """Return the next key of a kind: the prefix and a number."""
    count = scope.conn.execute(
        select(func.count()).select_from(model).where(model.site_no == scope.site_no)
    ).scalar_one()
    return f"{prefix}{count + 1}"


def standing_release(scope: Scope, sample: str) -> Release | None:
    """Return the release of a sample that stands, if there is one."""
    found = [r for r in fetch_all(scope, Release, sample=sample) if r.status == "released"]
    return found[0] if found else None


def _latest_result(scope: Scope, sample: str) -> tuple[str, Json]:
    columns = [c for c in Result.__table__.columns if c.name not in {"id", "site_no", "day_no"}]
    row = scope.conn.execute(
        select(Day.key, *columns)
        .join(Day, Day.day_no == Result.day_no)
        .where(Result.site_no == scope.site_no, Result.sample == sample)
        .order_by(Result.id.desc())
        .limit(1)
    ).first()
    if row is None:
        raise NoAnswer("no-result-to-release", sample=sample)
    return row[0], {c.name: value for c, value in zip(columns, row[1:], strict=True)}


def release(
    scope: Scope, sample: str, at: datetime, person: str, *, by_rule: bool, reason: str | None
) -> tuple[str, Entry]:
    """Let the latest result of a sample out, in place of an earlier release where there is one.

    Raises
    ------
    NoAnswer
        When the sample has no result.
    NeedsReason
        When a release stands and no reason is given to put another in its place.
    """
    day, result = _latest_result(scope, sample)
    standing = standing_release(scope, sample)
    if standing is not None and not (reason or "").strip():
        raise NeedsReason(sample)
    changes: list[Json] = []
    if standing is not None:
        standing.status = "superseded"
        changes.append(changed(scope, standing, standing.version))
    row = Release(
        key=next_key(scope, Release, "r"),
        sample=sample,
        day=day,
        result=canonical_text(result),
        released_at=utc_text(at),
        released_by=person,
        by_rule=by_rule,
        supersedes=None if standing is None else standing.key,
        reason=reason,
    )
    changes.append(added(scope, row))
    kind = "result.released" if standing is None else "result.superseded"
    return row.key, Entry(kind, f"samples:{sample}", {"changes": changes}, reason)


def tell(
    scope: Scope,
    release_key: str,
    at: datetime,
    how: str,
    *,
    party: str | None,
    said: str | None,
    document: str | None,
) -> Entry:
    """Keep that a release went to somebody: on paper, or as an answer by phone."""
    if fetch(scope, Release, release_key) is None:
        raise UnknownName("release", release_key, ())
    row = ReleaseCopy(
        key=next_key(scope, ReleaseCopy, "w"),
        release=release_key,
        party=party,
        how=how,
        sent_at=utc_text(at),
        said=said,
        document=document,
    )
    return Entry("release.told", f"releases:{release_key}", {"changes": [added(scope, row)]})


def issued_from(scope: Scope, sample: str) -> list[Issued]:
    """Return for every release of a sample what was issued from it."""
    return [
        Issued(
            one.key,
            tuple(fetch_all(scope, ReleaseCopy, release=one.key)),
            tuple(_documents_with(scope, one.key)),
        )
        for one in fetch_all(scope, Release, sample=sample)
    ]


def _documents_with(scope: Scope, release: str) -> list[Document]:
    """Return the documents that state a release, in order of key; the others are not read."""
    table = table_of(Document)
    listed = literal(" ").concat(table.c.releases).concat(" ")
    found = scope.conn.execute(
        select(table.c.key).where(
            table.c.site_no == scope.site_no, listed.contains(f" {release} ", autoescape=True)
        )
    )
    return fetch_keys(scope, Document, [row.key for row in found])


def document_entry(
    scope: Scope,
    kind: str,
    at: datetime,
    content: Json,
    releases: tuple[str, ...],
    file_sha256: str | None,
    supersedes: str | None,
    names: Mapping[str, Json] | None = None,
) -> tuple[Document, Entry]:
    """Keep a document as issued; the log's end as it was before stands in it.

    ``names``: personal data that stand on it, by part (``customer``, ``lab``); the log holds a salted digest
    of each part, and each can be erased by itself.
    """
    head, said = read_head(scope.conn, scope.site_no, to_write=True), canonical_text(content)
    row = Document(
        key=next_key(scope, Document, "d"),
        kind=kind,
        issued_at=utc_text(at),
        releases=" ".join(releases),
        content_sha256=sha256_hex(said.encode("utf-8")),
        content=said,
        file_sha256=file_sha256,
        head_seq=head.seq,
        head_hash=head.hash.hex(),
        supersedes=supersedes,
    )
    personal = [
        keep_personal(scope, "documents", f"{row.key}/{part}", said) for part, said in (names or {}).items()
    ]
    data: dict[str, Json] = {"changes": [added(scope, row)]}
    return row, Entry(
        "document.issued", f"documents:{row.key}", {**data, "personal": personal} if personal else data
    )


def printed(document: str, files: Mapping[str, str], *, as_superseded: bool) -> Entry:
    """Say which bytes a document was handed over in: SHA-256 by the ending of the file."""
    data: Json = {"files": dict(files), "as_superseded": as_superseded}
    return Entry("document.printed", f"documents:{document}", data)


def document_seq(scope: Scope, document: str) -> int:
    """Return the number of the entry that issued a document; raises UnknownName."""
    found = scope.conn.execute(
        select(Event.seq).where(
            Event.site_no == scope.site_no,
            Event.subject == f"documents:{document}",
            Event.kind == "document.issued",
        )
    ).scalar()
    if found is None:
        raise UnknownName("document", document, ())
    return int(found)


def documents_stating(scope: Scope, kind: str, releases: Sequence[str]) -> list[Document]:
    """Return the documents of a kind that state one of some releases each, oldest first."""
    table = table_of(Document)
    found = scope.conn.execute(
        select(table.c.key).where(
            table.c.site_no == scope.site_no, table.c.kind == kind, table.c.releases.in_(list(releases))
        )
    )
    rows = fetch_keys(scope, Document, [row.key for row in found])
    return sorted(rows, key=lambda r: (r.issued_at, len(r.key), r.key))


def document_names(scope: Scope, document: str, part: str) -> tuple[str, Json] | None:
    """Return the salt (hexadecimal) and names of one part of a document; ``None`` where erased or none."""
    row = scope.conn.execute(
        select(Personal.salt, Personal.document).where(
            Personal.site_no == scope.site_no,
            Personal.kind == "documents",
            Personal.key == f"{document}/{part}",
        )
    ).first()
    if row is None or row.salt is None or row.document is None:
        return None
    return bytes(row.salt).hex(), json.loads(row.document)


def document_of_files(scope: Scope, sha256: str) -> tuple[str, str, bool] | None:
    """Return the document handed over in these bytes: key, the file's ending, whether as superseded."""
    found = scope.conn.execute(
        select(Event.subject, Event.body).where(
            Event.site_no == scope.site_no,
            Event.kind == "document.printed",
            Event.body.contains(sha256, autoescape=True),
        )
    )
    for row in found:
        data = json.loads(row.body)["data"]
        for ending, mark in data["files"].items():
            if mark == sha256:
                return str(row.subject).partition(":")[2], ending, bool(data["as_superseded"])
    return None


def _leaves(scope: Scope, first: int, last: int) -> list[bytes]:
    found = scope.conn.execute(
        select(Event.body)
        .where(Event.site_no == scope.site_no, Event.seq >= first, Event.seq <= last)
        .order_by(Event.seq)
    )
    return [leaf_hash(row.body.encode("utf-8")) for row in found]


def root_entry(scope: Scope) -> Entry | None:
    """Return the entry that puts all entries since the last root under one; ``None`` where there are none."""
    head = read_head(scope.conn, scope.site_no, to_write=True)
    first = head.rooted_seq + 1
    if first > head.seq:
        return None
    root = root_hash(_leaves(scope, first, head.seq)).hex()
    scope.conn.execute(update(Head).where(Head.site_no == scope.site_no).values(rooted_seq=head.seq))
    return Entry("log.rooted", None, {"from": first, "to": head.seq, "root": root})


def root_entries(scope: Scope) -> list[tuple[int, str]]:
    """Return every entry that holds a root: its number and its canonical text, oldest first."""
    found = scope.conn.execute(
        select(Event.seq, Event.body)
        .where(Event.site_no == scope.site_no, Event.kind == "log.rooted")
        .order_by(Event.seq)
    )
    return [(int(row.seq), str(row.body)) for row in found]


def proof_of(scope: Scope, seq: int) -> Proof:
    """Return the proof that an entry is under a root.

    Raises
    ------
    NoAnswer
        When no root covers the entry yet.
    """
    later = scope.conn.execute(
        select(Event.seq, Event.body)
        .where(Event.site_no == scope.site_no, Event.kind == "log.rooted", Event.seq > seq)
        .order_by(Event.seq)
        .limit(1)
    ).first()
    if later is None or seq < 1:
        raise NoAnswer("no-root-yet", seq=seq)
    data = json.loads(later.body)["data"]
    body = scope.conn.execute(
        select(Event.body).where(Event.site_no == scope.site_no, Event.seq == seq)
    ).scalar_one()
    inclusion = inclusion_proof(_leaves(scope, data["from"], data["to"]), seq - data["from"])
    return Proof(seq, body, inclusion, data["root"], later.seq, later.body)


def attached_bytes(scope: Scope, sha256: str) -> bytes:
    """Return the bytes of an attachment.

    Raises
    ------
    UnknownName
        When no bytes with this digest are kept.
    """
    content = scope.conn.execute(
        select(AttachmentBytes.content).where(AttachmentBytes.sha256 == sha256)
    ).scalar()
    if content is None:
        raise UnknownName("file", sha256, ())
    return bytes(content)


def attach(scope: Scope, subject: str, name: str, media_type: str, content: bytes) -> Entry:
    """Keep a file that belongs to something; the same bytes are kept once."""
    mark = sha256_hex(content)
    known = scope.conn.execute(select(AttachmentBytes.sha256).where(AttachmentBytes.sha256 == mark)).first()
    if known is None:
        scope.conn.execute(insert(AttachmentBytes).values(sha256=mark, content=content))
    row = Attachment(
        key=next_key(scope, Attachment, "a"),
        subject=subject,
        name=name,
        media_type=media_type,
        size_bytes=len(content),
        sha256=mark,
    )
    return Entry("file.attached", subject, {"changes": [added(scope, row)]})
