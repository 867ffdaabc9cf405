"""The data attached to a PDF of ours, taken out again without a PDF library."""

from __future__ import annotations

import re
import zlib
from typing import Final

__all__ = ["MOST_BYTES", "attached_in_pdf"]

MOST_BYTES: Final = 32 * 1024 * 1024
"""Bytes of data at most: what is larger is none of ours. A setting of ours."""

_FILE: Final = re.compile(rb"/Type\s*/EmbeddedFile\b")
_STREAM: Final = re.compile(rb"stream\r?\n")
_LENGTH: Final = re.compile(rb"/Length\s+(\d+)\b(?!\s+\d+\s+R)")


def attached_in_pdf(pdf: bytes) -> bytes | None:
    """Return the data that are attached to a PDF; ``None`` where there are none, or two, or they are damaged.

    Reads the one form that our page setter writes (ISO 32000-1, 7.11.4: an embedded file stream). A file that
    another program rewrote may hold them in another form; its bytes are not those issued in any case.
    """
    found = list(_FILE.finditer(pdf))
    if len(found) != 1:
        return None
    place = found[0].start()
    start = pdf.rfind(b" obj", 0, place)
    stream = _STREAM.search(pdf, place)
    if start < 0 or stream is None:
        return None
    head = pdf[start : stream.start()]
    length = _LENGTH.search(head)
    if length is None:
        return None
    data = pdf[stream.end() : stream.end() + int(length.group(1))]
    return _inflated(data) if b"/FlateDecode" in head else data[:MOST_BYTES]


def _inflated(data: bytes) -> bytes | None:
    unpack = zlib.decompressobj()
    try:
        out = unpack.decompress(data, MOST_BYTES)
    except zlib.error:
        return None
    return out if unpack.eof else None
