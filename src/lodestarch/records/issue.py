"""Letting results out: releases, what was issued from them, documents, and the roots they are proved by."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, insert, select, update

from lodestarch.common.canonical import Json, canonical_text, sha256_hex
from lodestarch.common.errors import NoAnswer, UnknownName
from lodestarch.common.merkle import InclusionProof, inclusion_proof, leaf_hash, root_hash
from lodestarch.records.conflict import NeedsReason
from lodestarch.records.kept import added, changed, fetch, fetch_all
from lodestarch.records.log import Entry, read_head, utc_text
from lodestarch.records.scope import Scope
from lodestarch.records.tables import (
    Attachment,
    AttachmentBytes,
    Day,
    Document,
    Event,
    Head,
    Kept,
    Release,
    ReleaseCopy,
    Result,
)

__all__ = [
    "Issued",
    "Proof",
    "attach",
    "attached_bytes",
    "issued_from",
    "next_key",
    "proof_of",
    "release",
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
    documents = fetch_all(scope, Document)
    return [
        Issued(
            one.key,
            tuple(fetch_all(scope, ReleaseCopy, release=one.key)),
            tuple(d for d in documents if one.key in d.releases.split()),
        )
        for one in fetch_all(scope, Release, sample=sample)
    ]


def document_entry(
    scope: Scope,
    kind: str,
    at: datetime,
    content: Json,
    releases: tuple[str, ...],
    file_sha256: str | None,
    supersedes: str | None,
) -> tuple[Document, Entry]:
    """Keep a document as issued; the log's end as it was before stands in it."""
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
    return row, Entry("document.issued", f"documents:{row.key}", {"changes": [added(scope, row)]})


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
    return Proof(seq, body, inclusion, data["root"], later.seq)


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
