"""Backups as files: each a records file with a manifest beside it, so many of them, and when one is due."""

from __future__ import annotations

import hashlib
import json
import os
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

__all__ = [
    "Backup",
    "file_sha256",
    "is_due",
    "list_backups",
    "read_manifest",
    "thin_out",
    "to_disk",
    "write_manifest",
]

_FORM: Final = 1
_CHUNK: Final = 1 << 20


@dataclass(frozen=True, slots=True)
class Backup:
    """One backup: a records file with a manifest beside it.

    ``heads`` states where each site's chain ended: kept elsewhere, it shows a rewritten tail.
    """

    path: Path
    made_at: str
    sha256: str
    size_bytes: int
    tables: str
    heads: dict[str, tuple[int, str]]


def file_sha256(path: Path) -> str:
    """Return the SHA-256 digest of a file's bytes."""
    whole = hashlib.sha256()
    with path.open("rb") as file:
        while part := file.read(_CHUNK):
            whole.update(part)
    return whole.hexdigest()


def to_disk(path: Path) -> None:
    """Have a file and its name in the folder on the disk before anything is built on them."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def _manifest_path(path: Path) -> Path:
    return path.with_suffix(".json")


def write_manifest(done: Backup) -> None:
    """Write what a backup is beside it."""
    content = {"form": _FORM, **asdict(done), "path": done.path.name}
    beside = _manifest_path(done.path)
    beside.write_text(json.dumps(content, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    to_disk(beside)


def read_manifest(path: Path) -> Backup | None:
    """Return what the manifest beside a file says; ``None`` where there is none that can be read."""
    try:
        told = json.loads(_manifest_path(path).read_text(encoding="utf-8"))
        heads = {site: (int(seq), str(mark)) for site, (seq, mark) in told["heads"].items()}
        return Backup(path, told["made_at"], told["sha256"], told["size_bytes"], told["tables"], heads)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def list_backups(folder: Path, stem: str = "") -> list[Backup]:
    """Return the backups of a folder that have a manifest, newest first."""
    found = [read_manifest(path) for path in folder.glob(f"{stem}*.db")]
    return sorted((b for b in found if b is not None), key=lambda b: b.made_at, reverse=True)


def thin_out(folder: Path, stem: str, keep: int) -> None:
    """Take backups away, the oldest first, until so many are left (one at least)."""
    for old in list_backups(folder, f"{stem}-")[max(1, keep) :]:
        old.path.unlink()
        _manifest_path(old.path).unlink()


def is_due(folder: Path, stem: str, every: timedelta, now: datetime) -> bool:
    """Tell whether the newest backup of a folder is older than it should be, or there is none."""
    done = list_backups(folder, f"{stem}-")
    return not done or now - datetime.fromisoformat(done[0].made_at) >= every
