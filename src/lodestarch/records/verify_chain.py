"""Walking a chain: every entry against its digest, its columns and the entry before it.

On the way the entries are folded into what the tables should hold now.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from sqlalchemy import Connection, select

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.merkle import leaf_hash, root_hash
from lodestarch.records.log import FIRST_PREV
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Event, Head

__all__ = ["Fold", "Progress", "fast_digest", "walk"]

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how many are done, how many there are."""

_STEP: Final = 2000


@dataclass(slots=True)
class Fold:
    """What the log says the tables hold.

    Attributes
    ----------
    rows : dict
        (table, key) to the digest of the row as last written.
    personal : dict
        (kind, key) to the salted digest in hexadecimal, or ``None`` once erased.
    bulk : dict
        Day to table to what was said of its batches.
    revisions : dict
        (sample, run, position) to the revisions that later rows took the place of.
    emptied : dict
        (table, day) to the numbers of rows whose personal text was erased.
    """

    rows: dict[tuple[str, str], bytes] = field(default_factory=dict)
    personal: dict[tuple[str, str], str | None] = field(default_factory=dict)
    bulk: dict[str, dict[str, list[dict[str, Any]]]] = field(default_factory=dict)
    revisions: set[tuple[str, str, str, str, int]] = field(default_factory=set)
    emptied: dict[tuple[str, str], set[int]] = field(default_factory=dict)
    entries: int = 0
    head: str = FIRST_PREV
    head_at: str = ""
    rooted_seq: int = 0
    last_seq_of: dict[tuple[str, str], int] = field(default_factory=dict)


def fast_digest(row: dict[str, Any]) -> bytes:
    """Digest a row for comparing in memory; 287.0 and 287 are the same number, as in the log."""
    plain = {
        k: int(v) if isinstance(v, float) and abs(v) < 2**53 and v.is_integer() else v for k, v in row.items()
    }
    return hashlib.sha256(json.dumps(plain, sort_keys=True).encode()).digest()[:16]


def _fold_in(fold: Fold, seq: int, data: dict[str, Any]) -> None:
    for change in data.get("changes", ()):
        place = (change["table"], change["key"])
        fold.rows[place] = fast_digest(change["row"])
        fold.last_seq_of[place] = seq
    for said in data.get("personal", ()):
        fold.personal[said["kind"], said["key"]] = said.get("digest")
    for table, said in data.get("bulk", {}).items():
        fold.bulk.setdefault(data["day"], {}).setdefault(table, []).append(said)
    for sample, run, position, revision in data.get("superseded", ()):
        fold.revisions.add((data["day"], sample, run, position, revision + 1))
    for one in data.get("emptied", ()):
        fold.emptied.setdefault((one["table"], one["day"]), set()).update(one["numbers"])


def _entry_findings(scope: Scope, row: Any, body: dict[str, Any], seq: int, prev: str) -> Iterator[Finding]:
    def found(code: str, **values: str | int | None) -> Finding:
        return Finding(code, Where(source=scope.site), Severity.STOP, {"seq": seq, **values})

    if body.get("prev") != prev:
        yield found("log-entry-not-tied", kind=row.kind, subject=row.subject)
    told = {
        "site": (scope.site, body.get("site")),
        "seq": (seq, body.get("seq")),
        "at": (row.at, body.get("at")),
        "person": (row.person, body.get("person")),
        "kind": (row.kind, body.get("kind")),
        "subject": (row.subject, body.get("subject")),
    }
    for name, (column, said) in told.items():
        if column != said:
            yield found("log-column-differs", field=name, column=str(column), said=str(said))


def _root_finding(scope: Scope, seq: int, data: dict[str, Any], leaves: dict[int, bytes]) -> Finding | None:
    covered = [leaves[i] for i in range(data["from"], data["to"] + 1) if i in leaves]
    if root_hash(covered).hex() == data["root"]:
        return None
    return Finding("log-root-differs", Where(source=scope.site), Severity.STOP, {"seq": seq})


def _head_finding(scope: Scope, fold: Fold) -> Finding | None:
    head = scope.conn.execute(select(Head).where(Head.site_no == scope.site_no)).first()
    kept = None if head is None else (head.seq, bytes(head.hash).hex(), head.rooted_seq)
    if kept == (fold.entries, fold.head, fold.rooted_seq) and head is not None and head.at == fold.head_at:
        return None
    kept_seq = None if kept is None else kept[0]
    return Finding(
        "log-head-differs",
        Where(source=scope.site),
        Severity.STOP,
        {"seq": fold.entries, "kept_seq": kept_seq},
    )


def walk(
    scope: Scope, progress: Progress | None, known_head: tuple[int, str] | None
) -> tuple[Fold, list[Finding]]:
    """Walk one site's chain from its first entry.

    Parameters
    ----------
    scope : Scope
    progress : callable or None
    known_head : (int, str) or None
        Number and digest of an entry as printed on a document or kept with a backup; a chain that does not
        hold it was rewritten.
    """
    fold, findings = Fold(), []
    total = scope.conn.execute(select(Head.seq).where(Head.site_no == scope.site_no)).scalar() or 0
    prev = FIRST_PREV
    leaves: dict[int, bytes] = {}
    for row in _stream(scope.conn, scope.site_no):
        seq = fold.entries + 1
        if row.seq != seq:
            findings.append(
                Finding(
                    "log-entry-missing",
                    Where(source=scope.site),
                    Severity.STOP,
                    {"seq": seq, "next": row.seq},
                )
            )
            seq = row.seq
        raw = row.body.encode("utf-8")
        mark = hashlib.sha256(raw).digest()
        if mark != bytes(row.hash):
            findings.append(_altered(scope, row, seq, total))
        try:
            body = json.loads(row.body)
            findings += _entry_findings(scope, row, body, seq, prev)
            data = body["data"]
            if body["kind"] == "log.rooted":
                wrong = _root_finding(scope, seq, data, leaves)
                findings += [] if wrong is None else [wrong]
                fold.rooted_seq, leaves = (
                    data["to"],
                    {seq_: h for seq_, h in leaves.items() if seq_ > data["to"]},
                )
            _fold_in(fold, seq, data)
            fold.head_at = body["at"]
        except (KeyError, TypeError, ValueError, AttributeError):
            findings.append(_altered(scope, row, seq, total))
        leaves[seq] = leaf_hash(raw)
        prev, fold.entries, fold.head = mark.hex(), seq, mark.hex()
        if known_head is not None and known_head[0] == seq and known_head[1] != fold.head:
            findings.append(_other_head(scope, known_head))
        if progress is not None and seq % _STEP == 0:
            progress("log", seq, total)
    if known_head is not None and known_head[0] > fold.entries:
        findings.append(_other_head(scope, known_head))
    last = _head_finding(scope, fold)
    return fold, findings + ([] if last is None else [last])


def _altered(scope: Scope, row: Any, seq: int, total: int) -> Finding:
    return Finding(
        "log-entry-altered",
        Where(source=scope.site),
        Severity.STOP,
        {"seq": seq, "kind": row.kind, "subject": row.subject, "after": max(0, total - seq)},
    )


def _other_head(scope: Scope, known: tuple[int, str]) -> Finding:
    return Finding("log-head-elsewhere-differs", Where(source=scope.site), Severity.STOP, {"seq": known[0]})


def _stream(conn: Connection, site_no: int) -> Iterator[Any]:
    query = select(Event).where(Event.site_no == site_no).order_by(Event.seq)
    columns = select(*query.selected_columns).where(Event.site_no == site_no).order_by(Event.seq)
    yield from conn.execution_options(yield_per=_STEP).execute(columns)
