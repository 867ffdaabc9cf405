"""What the entries of control share: faults at their fields, choices, counts, and the frame of an entry."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from typing import Final

from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.records.engine import Records
from lodestarch.records.unit import Unit
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter

__all__ = ["CLOCK", "CODES", "OWN", "at_field", "one_of", "stopped", "take_entry", "too_long", "typed_count"]

CLOCK: Final = re.compile(r"^([01]?\d|2[0-3])[:.h]([0-5]\d)$")
"""A clock time as typed."""
OWN: Final = Provenance.ENTERED_BY_LAB.value
_LONGEST: Final = 200

CODES: Final = {
    "entry-no-choice": ("text", "choices"),
    "entry-too-long": ("count", "most"),
    "material-spread": ("text",),
    "material-spread-wide": ("u_s", "target_s"),
    "control-empty": (),
    "control-date": ("text",),
    "control-moment": ("text",),
    "control-moment-ahead": ("text",),
    "control-clock": ("text",),
    "interval-empty": (),
    "interval-number": ("text",),
    "tick-value": ("item",),
    "tick-note": ("item",),
    "hold-cause-empty": (),
    "check-not-off": ("text",),
    "material-unknown": ("text",),
}
"""Codes of faults at fields, with the keys of their values."""


def stopped(finding: str, field: str, /, **values: Value) -> Finding:
    """A fault at a field that keeps an entry from being taken."""
    return Finding(finding, Where(field=field), Severity.STOP, values)


def too_long(**texts: str) -> list[Finding]:
    """What is wrong with texts that no field holds, by the field's name."""
    return [
        stopped("entry-too-long", field, count=len(text), most=_LONGEST)
        for field, text in texts.items()
        if len(text) > _LONGEST
    ]


def one_of(field: str, text: str, choices: tuple[str, ...]) -> list[Finding]:
    """What is wrong with a choice."""
    if text in choices:
        return []
    return [stopped("entry-no-choice", field, text=text[:40], choices=", ".join(choices))]


def take_entry(
    records: Records, sent: Sent, action: str, what: str, write: Callable[[Unit], list[Finding]], person: str,
    at: datetime,
) -> Entered:  # fmt: skip
    """Take an entry that is about no sample; findings that stop it are all that ``write`` returns then."""

    def whole(unit: Unit) -> Entered:
        found = write(unit)
        if any(f.severity is Severity.STOP for f in found):
            return not_taken(None, found)
        return done(unit, sent, what, "", at, found)

    return enter(records, sent, action, whole, person=person, at=at)


def at_field(field: str, faults: tuple[Finding, ...]) -> list[Finding]:
    """Faults of reading a value, at the field that it was typed into."""
    return [Finding(f.code, Where(field=field), f.severity, dict(f.values)) for f in faults]


def typed_count(text: str, field: str, found: list[Finding]) -> float | None:
    """A number above 0; a whole one where runs are counted."""
    if not text.strip():
        return None
    value = typed_number(text)
    whole = field == "every_runs"
    if value is None or not 0.0 < value <= 100_000 or (whole and value != round(value)):
        found.append(stopped("interval-number", field, text=text[:40]))
        return None
    return value
