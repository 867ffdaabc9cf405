"""Files that a command is given."""

from __future__ import annotations

from pathlib import Path

from lodestarch.common.errors import LodestarchError

__all__ = ["bytes_of"]


def bytes_of(path: Path) -> bytes:
    """Return the bytes of a file.

    Raises
    ------
    LodestarchError
        When it cannot be read.
    """
    try:
        return path.read_bytes()
    except OSError as cause:
        raise LodestarchError(f"{path} cannot be read: {cause.strerror}") from None
