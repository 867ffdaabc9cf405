"""What is typed of samples on their way: grams, days, short texts."""

from __future__ import annotations

from typing import Final

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.sheets.typed import typed_number

__all__ = ["days_of", "grams_of", "text_of"]

MOST_G: Final = 50_000.0
"""Grams of one sample: a sack. A setting of ours. [g]"""

MOST_DAYS: Final = 3_660
"""Days that grain is kept: ten years. A setting of ours. [d]"""

Read = tuple[float | None, tuple[Finding, ...]]


def grams_of(text: str, field: str, *, wanted: bool = True) -> Read:
    """Read a mass of grain. [g]

    Examples
    --------
    >>> grams_of("250,5 g", "mass_g"), grams_of("0", "mass_g")[1][0].code
    ((250.5, ()), 'grams-range')
    """
    if not text.strip() and not wanted:
        return None, ()
    value, where = typed_number(text), Where(field=field)
    if value is None:
        values = {"text": text[:40], "name": "mass_g"}
        return None, (Finding("entry-no-number", where, Severity.STOP, values),)
    if not 0.0 < value <= MOST_G:
        return None, (Finding("grams-range", where, Severity.STOP, {"mass_g": value, "most_g": MOST_G}),)
    return value, ()


def days_of(text: str, field: str) -> tuple[int | None, tuple[Finding, ...]]:
    """Read a whole number of days. [d]"""
    stripped = text.strip()
    if stripped.isascii() and stripped.isdigit() and len(stripped) < 6 and 1 <= int(stripped) <= MOST_DAYS:
        return int(stripped), ()
    values: dict[str, str | int] = {"text": text[:40], "most": MOST_DAYS}
    return None, (Finding("days-range", Where(field=field), Severity.STOP, dict(values)),)


def text_of(text: str, field: str, most: int = 80, *, wanted: bool = True) -> tuple[Finding, ...]:
    """What is wrong with a short text."""
    if (wanted and not text.strip()) or len(text) > most:
        return (Finding("text-wanted", Where(field=field), Severity.STOP, {"most": most}),)
    return ()
