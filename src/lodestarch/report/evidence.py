"""A bundle of evidence: one zip archive, listed, proved, and the same bytes for the same contents.

``evidence.json`` is an issued paper of its own: its statement lists every other file with its digest. Files
are stored as they are, in order, under one date, so that the archive can be made again byte for byte.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from lodestarch.common.canonical import sha256_hex
from lodestarch.common.merkle import InclusionProof, holds, leaf_hash
from lodestarch.report.issued_paper import IssuedPaper
from lodestarch.report.paper_proof import Check

__all__ = [
    "EVIDENCE",
    "LIST_NAME",
    "LOG_NAME",
    "archive",
    "evidence_of",
    "is_whole",
    "members_of",
    "other_members",
]

EVIDENCE: Final = "evidence"
LIST_NAME: Final = "evidence.json"
LOG_NAME: Final = "log.json"
_MOST_BYTES: Final = 64 * 1024 * 1024
_MOST_FILES: Final = 200
"""What a bundle may come to when unpacked. Settings of ours."""


def archive(members: Mapping[str, bytes], issued_at: str) -> bytes:
    """Pack files: stored, in order of name, every one under the moment of the issue."""
    at = datetime.fromisoformat(issued_at).timetuple()[:6]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as packed:
        for name in sorted(members):
            info = zipfile.ZipInfo(name, (at[0], at[1], at[2], at[3], at[4], at[5]))
            info.create_system, info.external_attr = 3, 0o644 << 16
            packed.writestr(info, members[name])
    return out.getvalue()


def members_of(data: bytes) -> dict[str, bytes]:
    """Return the files of an archive; empty where it is damaged, too large, or holds a name twice."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            infos = packed.infolist()
            size = sum(i.file_size for i in infos)
            if (
                size > _MOST_BYTES
                or len(infos) > _MOST_FILES
                or len({i.filename for i in infos}) < len(infos)
            ):
                return {}
            return {i.filename: packed.read(i) for i in infos}
    except (zipfile.BadZipFile, ValueError, NotImplementedError, RuntimeError, OSError, EOFError):
        return {}


def evidence_of(data: bytes) -> bytes | None:
    """Return the list that a bundle holds; ``None`` for none."""
    return members_of(data).get(LIST_NAME)


def is_whole(paper: IssuedPaper, data: bytes) -> bool:
    """Tell whether a bundle is, byte for byte, the archive that its own files make."""
    members = members_of(data)
    issued_at = paper.statement.get("issued_at")
    return isinstance(issued_at, str) and archive(members, issued_at) == data


def _log_holds(text: bytes | None) -> bool:
    """Every entry in the log's extract lies under the root that stands beside it."""
    try:
        listed: list[Mapping[str, Any]] = json.loads(text or b"")["entries"]
        for one in listed:
            root = json.loads(one["root_entry"])
            path = tuple(bytes.fromhex(node) for node in one["path"])
            proof = InclusionProof(int(one["index"]), int(one["size"]), path)
            wanted = bytes.fromhex(root["data"]["root"])
            if root["kind"] != "log.rooted" or not holds(
                leaf_hash(one["entry"].encode("utf-8")), proof, wanted
            ):
                return False
    except (ValueError, KeyError, TypeError, AttributeError):
        return False
    return True


def other_members(paper: IssuedPaper, members: Mapping[str, bytes]) -> list[Check]:
    """Check the files of a bundle against its list, and its extract of the log against the roots.

    Returns
    -------
    list of Check
        ``members``: exactly the files listed, each with its digest. ``log-extract``: each entry is under its
        root.
    """
    listed = paper.statement.get("files")
    try:
        wanted = {str(f["name"]): str(f["sha256"]) for f in listed}  # type: ignore[union-attr, index, call-overload]
    except (TypeError, KeyError):
        wanted = {}
    found = {name: sha256_hex(body) for name, body in members.items() if name != LIST_NAME}
    return [
        Check("members", bool(wanted) and found == wanted),
        Check("log-extract", _log_holds(members.get(LOG_NAME))),
    ]
