"""Bytes to text: UTF-8 with or without mark, UTF-16 with mark, Windows-1252 where neither fits.

Nothing is dropped on the way. A byte that fits no character becomes U+FFFD, a control character its
picture (NUL becomes U+2400), line ends become line feeds, and letters with marks are composed (NFC) so
that one name typed on two systems stays one name. Cells that hold a replaced character are findings later.
"""

from __future__ import annotations

import unicodedata
from codecs import BOM_UTF8, BOM_UTF16_BE, BOM_UTF16_LE, BOM_UTF32_BE, BOM_UTF32_LE
from dataclasses import dataclass
from typing import Final

import numpy as np

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.codes import found

__all__ = ["LARGEST_BYTES", "UNCLEAN", "Decoded", "clean", "decode"]

LARGEST_BYTES: Final = 256 * 2**20
"""Largest sheet that is read. [B]  Common practice: a million rows of a bench sheet are 80 MB."""

UNCLEAN: Final = "[\u2400-\u241f\u2421\ufffd]"
"""Pattern of the characters that stand for something unreadable."""

_PICTURES: Final = {i: 0x2400 + i for i in range(32) if i not in (9, 10, 13)} | {127: 0x2421}
_NOT_TEXT: Final = (
    b"%PDF",
    b"\x1f\x8b",
    b"\x89PNG",
    b"\xff\xd8\xff",
    b"BZh",
    b"7z\xbc\xaf",
    BOM_UTF32_LE,
    BOM_UTF32_BE,
)
_MOST_CONTROLS: Final = 0.1  # share of control characters above which bytes are no text (common practice)


@dataclass(frozen=True, slots=True)
class Decoded:
    """Text of a sheet, or none with the reason.

    Parameters
    ----------
    text : str or None
        Lines end in a line feed; ``None`` where the bytes are no text.
    unclean : bool
        Some characters are replacements (:data:`UNCLEAN`).
    cut : bool
        The bytes end inside a character.
    findings : tuple of Finding
    """

    text: str | None
    unclean: bool
    cut: bool
    findings: tuple[Finding, ...]


def decode(data: bytes, name: str) -> Decoded:
    r"""Return the text of a sheet's bytes; never raises.

    Parameters
    ----------
    data : bytes
        The file.
    name : str
        Its name, for findings.

    Examples
    --------
    >>> decode(b"sample;grower\r\nA1;J\xf8rgensen", "s.csv").text
    'sample;grower\nA1;Jørgensen'
    """
    where = Where(source=name)
    if len(data) > LARGEST_BYTES:
        limit = LARGEST_BYTES // 2**20
        return _refused(found("sheet-too-large", where, size_mib=len(data) // 2**20, limit_mib=limit))
    if data.startswith(_NOT_TEXT):
        return _refused(found("sheet-not-text", where))
    text, assumed, damaged, cut = _characters(data)
    if not text.strip("\x00 \t\r\n"):
        return _refused(found("sheet-empty", where))
    controls = _controls(text)
    if controls > _MOST_CONTROLS * len(text):
        mostly_nul = data.count(0) > 0.3 * len(data)
        return _refused(found("sheet-utf16-no-mark" if mostly_nul else "sheet-not-text", where))
    findings = []
    if assumed:
        findings.append(found("sheet-encoding-assumed", where, encoding=assumed))
    if damaged:
        findings.append(found("sheet-bytes-damaged", where, count=damaged))
    unclean = bool(damaged or controls or cut)
    return Decoded(clean(text, controls=bool(controls)), unclean, cut, tuple(findings))


def clean(text: str, *, controls: bool = True) -> str:
    """Return ``text`` with plain line ends, composed letters, and pictures in place of control characters."""
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    if controls:
        text = text.translate(_PICTURES)
    return text if text.isascii() else unicodedata.normalize("NFC", text)


def _refused(finding: Finding) -> Decoded:
    return Decoded(None, unclean=False, cut=False, findings=(finding,))


def _characters(data: bytes) -> tuple[str, str | None, int, bool]:
    """Text, the encoding where it had to be assumed, the number of damaged bytes, and whether it is cut."""
    if data.startswith((BOM_UTF16_LE, BOM_UTF16_BE)):
        even = data[: len(data) - len(data) % 2]
        text = even.decode("utf-16", "replace")
        return text, None, text.count("\ufffd"), len(even) != len(data)
    marked = data.startswith(BOM_UTF8)
    body = data[len(BOM_UTF8) :] if marked else data
    try:
        return body.decode("utf-8"), None, 0, False
    except UnicodeDecodeError as problem:
        if problem.end == len(body) and problem.reason == "unexpected end of data":
            return body.decode("utf-8", "replace"), None, 0, True
    mixed = body.decode("utf-8", "surrogateescape")
    whole = mixed.encode("utf-8", "ignore").decode("utf-8")
    damaged, sound = len(mixed) - len(whole), len(whole) - len(whole.encode("ascii", "ignore"))
    if marked or (sound and sound >= damaged):
        return body.decode("utf-8", "replace"), None, damaged, False
    text = body.decode("cp1252", "replace")
    return text, "Windows-1252", text.count("\ufffd"), False


def _controls(text: str) -> int:
    """How many control characters other than tab and line ends there are."""
    low = int(np.count_nonzero(np.frombuffer(text.encode("utf-8"), np.uint8) < 32)) - text.count("\n")
    low -= text.count("\r") + text.count("\t") if low else 0
    return low + text.count("\x7f")
