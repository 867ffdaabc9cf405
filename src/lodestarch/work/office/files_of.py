"""Files that belong to a sample: told by their bytes, kept by their digest, handed back as they came."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePath
from typing import Final

from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.records.engine import Records
from lodestarch.records.tables import Attachment
from lodestarch.records.unit import View
from lodestarch.work.bench.sample_named import no_such_ticket, sample_named
from lodestarch.work.people.permissions import unit_for

__all__ = ["MOST_BYTES", "AttachedFile", "attach_file", "file_of", "files_of", "kind_of", "plain_name"]

MOST_BYTES: Final = 8 * 1024 * 1024
"""Bytes of one file: a photograph, some pages of paper. A setting of ours."""

_KINDS: Final = (
    (b"%PDF-", "application/pdf", {"pdf"}),
    (b"\x89PNG\r\n\x1a\n", "image/png", {"png"}),
    (b"\xff\xd8\xff", "image/jpeg", {"jpg", "jpeg"}),
)
_TEXT: Final = {"txt", "csv", "tsv"}
_ODD: Final = re.compile(r"[^\w .()+-]")


@dataclass(frozen=True, slots=True)
class AttachedFile:
    """A file as it is listed."""

    key: str
    name: str
    media_type: str
    size_bytes: int


def plain_name(name: str) -> str:
    r"""A file's own name without its folders, and without signs that mean something elsewhere.

    Examples
    --------
    >>> plain_name("..\\..\\etc/pass\r\nwd"), plain_name('a"b;c.pdf'), plain_name("../")
    ('pass__wd', 'a_b_c.pdf', 'file')
    """
    last = PurePath(name.replace("\\", "/")).name
    return _ODD.sub("_", last).strip(" .")[:80] or "file"


def kind_of(name: str, content: bytes) -> str | None:
    """The media type that bytes and name both stand for; ``None`` where they do not agree on one we keep."""
    ending = name.rpartition(".")[2].casefold()
    for magic, media_type, endings in _KINDS:
        if content.startswith(magic):
            return media_type if ending in endings else None
    if ending not in _TEXT or b"\0" in content:
        return None
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return None
    return "text/plain"


def attach_file(
    records: Records, code: str, name: str, content: bytes, *, person: str, at: datetime
) -> tuple[Finding, ...]:
    """Keep a file with a sample; returns what keeps it from being done."""
    where, plain = Where(field="file"), plain_name(name)
    if not content:
        return (Finding("file-empty", where, Severity.STOP),)
    if len(content) > MOST_BYTES:
        values: dict[str, Value] = {"most_mib": MOST_BYTES // 2**20}
        return (Finding("file-large", where, Severity.STOP, values),)
    media_type = kind_of(plain, content)
    if media_type is None:
        return (Finding("file-kind", where, Severity.STOP, {"text": plain}),)
    with unit_for(records, person, at, "sample.edit") as unit:
        sample = sample_named(unit, code)
        if sample is None:
            return (no_such_ticket(code),)
        unit.attach(f"samples:{sample.key}", plain, media_type, content)
        return ()


def files_of(view: View, sample: str) -> tuple[AttachedFile, ...]:
    """Return the files of a sample, by key."""
    rows = view.all(Attachment, subject=f"samples:{sample}")
    return tuple(AttachedFile(row.key, row.name, row.media_type, row.size_bytes) for row in rows)


def file_of(records: Records, code: str, key: str) -> tuple[AttachedFile, bytes]:
    """Return a file of a sample with its bytes.

    Raises
    ------
    UnknownName
        When the sample has no such file.
    """
    with records.view() as view:
        row, sample = view.get(Attachment, key), sample_named(view, code)
        if row is None or sample is None or row.subject != f"samples:{sample.key}":
            raise UnknownName("file", key, ())
        return AttachedFile(row.key, row.name, row.media_type, row.size_bytes), view.file(row.sha256)
