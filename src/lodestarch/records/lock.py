"""One writer a file: a lock that the operating system lets go when its holder dies."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import Final

from lodestarch.common.errors import RecordsBusy, RecordsUnusable

__all__ = ["WriterLock", "lock_path"]

_NOTE_AT: Final = 64
"""The note stands behind the locked bytes, because Windows lets nobody read locked ones."""

if sys.platform == "win32":
    import msvcrt

    def _try_lock(fd: int) -> bool:
        os.lseek(fd, 0, os.SEEK_SET)
        try:
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True
else:
    import fcntl

    def _try_lock(fd: int) -> bool:
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True


def lock_path(records: Path) -> Path:
    """Return the path of the lock file that belongs to a records file."""
    return records.with_name(records.name + "-writer")


class WriterLock:
    """The right to write one records file, for as long as the object is open.

    Parameters
    ----------
    records : Path
        The records file; the lock is a small file beside it, which stays.
    note : str
        Who holds it, shown to whoever is refused.

    Raises
    ------
    RecordsBusy
        When another process, or another opening in this one, holds it.
    RecordsUnusable
        When the folder cannot be written.
    """

    def __init__(self, records: Path, note: str) -> None:
        self._fd: int | None = None
        path = lock_path(records)
        try:
            fd = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as problem:
            raise RecordsUnusable(
                f"The folder {records.parent} cannot be written ({problem.strerror}). Open the records for "
                "reading only, or keep them in a folder that this account may write."
            ) from problem
        if not _try_lock(fd):
            holder = self._read_note(fd)
            os.close(fd)
            raise RecordsBusy(
                f"{records} is being written by {holder or 'another process'}. Close that first (the "
                "workbench, or a command that still runs), or do it there; reading is possible meanwhile."
            )
        os.ftruncate(fd, 0)
        os.lseek(fd, _NOTE_AT, os.SEEK_SET)
        os.write(fd, note.encode("utf-8"))
        self._fd = fd

    @staticmethod
    def _read_note(fd: int) -> str:
        with contextlib.suppress(OSError):
            os.lseek(fd, _NOTE_AT, os.SEEK_SET)
            return os.read(fd, 200).decode("utf-8", "replace").strip()
        return ""

    def close(self) -> None:
        """Let go. The file stays: removing it would let two writers hold two files of one name."""
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None
