"""Personal data beside the log: salted digests, names looked up, and erasure."""

from __future__ import annotations

import hashlib
import os
from typing import Final

import polars as pl

from lodestarch.records.lines import canonical_lines

__all__ = ["SALT_BYTES", "new_salts", "personal_hashes", "salted"]

SALT_BYTES: Final = 16
"""128 bits: nobody finds a name by trying names once the salt is gone."""


def salted(salt: bytes, text: str) -> bytes:
    """Return SHA-256(salt || text)."""
    return hashlib.sha256(salt + text.encode("utf-8")).digest()


def new_salts(count: int) -> list[bytes]:
    """Return fresh random salts."""
    pool = os.urandom(SALT_BYTES * count)
    return [pool[i : i + SALT_BYTES] for i in range(0, SALT_BYTES * count, SALT_BYTES)]


def personal_hashes(frame: pl.DataFrame, columns: tuple[str, ...], salts: list[bytes]) -> list[bytes]:
    """Return for each row the salted digest of the columns that may name a person."""
    lines = canonical_lines(frame.select(columns)).to_list()
    return [salted(salt, line) for salt, line in zip(salts, lines, strict=True)]
