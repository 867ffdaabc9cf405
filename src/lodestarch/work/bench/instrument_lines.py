"""Lines from instruments: described by the lab, kept as they came, taken as readings where they can be."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import HeardLine, Lowering, Sample, Setting
from lodestarch.records.unit import Unit, View
from lodestarch.sheets.line_pattern import LONGEST_LINE, LinePattern, read_pattern
from lodestarch.work.bench.choices import choose
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.bench.reading_in import ReadingsTyped, seconds_findings, write_readings
from lodestarch.work.bench.sample_named import LONGEST_CODE, sample_named

__all__ = ["Heard", "LineDescribed", "LineTyped", "describe_line", "hear", "heard_lately", "lines_described"]
__all__ += ["Tried", "try_pattern"]

_LINES: Final = "instrument-lines"
_MOST_LINES: Final = 12
_MOST_TRIED: Final = 50


@dataclass(frozen=True, slots=True)
class LineTyped:
    """A line as the lab describes it; an empty pattern takes it away."""

    name: str
    pattern: str


@dataclass(frozen=True, slots=True)
class LineDescribed:
    """A line that is described."""

    name: str
    pattern: str


@dataclass(frozen=True, slots=True)
class Tried:
    """A line of pasted text, with what a pattern reads in it; ``None`` where it does not fit."""

    text: str
    read: Mapping[str, str] | None


@dataclass(frozen=True, slots=True)
class Heard:
    """A line that was heard: as it came, what was read, and the sample that took it."""

    at: datetime
    source: str
    text: str
    read: Mapping[str, str] | None
    sample: str | None


def _described(view: View) -> dict[str, str]:
    row = view.get(Setting, _LINES)
    value = {} if row is None else json.loads(row.value)
    return {str(name): str(text) for name, text in value.items()} if isinstance(value, dict) else {}


def lines_described(records: Records) -> tuple[LineDescribed, ...]:
    """Return the lines that the lab has described, by name."""
    with records.view() as view:
        return tuple(LineDescribed(name, text) for name, text in sorted(_described(view).items()))


def try_pattern(pattern: str, text: str) -> tuple[tuple[Tried, ...], tuple[Finding, ...]]:
    """Try a pattern on pasted lines; nothing is kept."""
    made, found = read_pattern(pattern)
    if made is None:
        return (), found
    lines = [line for line in text.splitlines() if line.strip()][:_MOST_TRIED]
    return tuple(Tried(line[:LONGEST_LINE], made.read(line)) for line in lines), ()


def describe_line(records: Records, sent: Sent, typed: LineTyped, *, person: str, at: datetime) -> Entered:
    """Keep the pattern of a line under its name, or take it away."""

    def write(unit: Unit) -> Entered:
        name, described = typed.name.strip(), _described(unit)
        found: list[Finding] = []
        if not name or len(name) > LONGEST_CODE:
            found.append(Finding("line-name", Where(field="name"), Severity.STOP, {"most": LONGEST_CODE}))
        if typed.pattern.strip():
            made, wrong = read_pattern(typed.pattern)
            found.extend(wrong)
            described[name] = typed.pattern.strip() if made is not None else ""
        else:
            described.pop(name, None)
        if len(described) > _MOST_LINES:
            found.append(Finding("line-many", Where(field="name"), Severity.STOP, {"most": _MOST_LINES}))
        if found:
            return not_taken(None, found)
        kept: dict[str, Json] = dict(sorted(described.items()))
        choose(unit, _LINES, kept)
        return done(unit, sent, "line described", "", at)

    return enter(records, sent, "setup.change", write, person=person, at=at)


def _tube(unit: Unit, sample: Sample, read: Mapping[str, str]) -> Lowering | None:
    """The tube that a line speaks of: the one it names, otherwise the first that is still in a bath."""
    inside = [one for one in unit.of_samples(Lowering, [sample.key]) if one.ended is None]
    if "position" in read:
        inside = [one for one in inside if one.position == read["position"]]
    return inside[0] if inside else None


def _take(unit: Unit, read: Mapping[str, str], at: datetime) -> tuple[str | None, tuple[Finding, ...]]:
    """Take what a line says as a reading; otherwise say why it waits."""
    where = Where(ticket=read.get("ticket"))
    if "seconds" not in read or "ticket" not in read:
        return None, (Finding("heard-waits", where, Severity.NOTE),)
    sample = sample_named(unit, read["ticket"])
    if sample is None:
        values = {"code": read["ticket"][:LONGEST_CODE]}
        return None, (Finding("heard-no-ticket", where, Severity.CHECK, values),)
    tube = _tube(unit, sample, read)
    if tube is None:
        return None, (Finding("heard-no-tube", Where(ticket=sample.ticket), Severity.CHECK),)
    seconds, found = seconds_findings({tube.position: read["seconds"]}, sample.key)
    if found:
        checked = tuple(Finding("heard-seconds", f.where, Severity.CHECK, f.values) for f in found)
        return None, checked
    typed = ReadingsTyped({tube.position: read["seconds"]})
    return sample.key, write_readings(unit, sample, typed, seconds, at)


def hear(records: Records, sent: Sent, source: str, text: str, *, person: str, at: datetime) -> Entered:
    """Keep a line as it came, and take it as a reading of a tube in a bath where it says which.

    Parameters
    ----------
    records : Records
    sent : Sent
        Its id is made where the line is heard, one for each line, so that no line counts twice.
    source : str
        Name that the lab gave the line.
    text : str
        As received.
    person : str
        In whose name the instrument is heard.
    at : datetime

    Returns
    -------
    Entered
        Taken in any case where the source is described: the line is kept, and a finding says why it is no
        reading (``heard-unread``, ``heard-waits``, ``heard-no-ticket``, ``heard-no-tube``,
        ``heard-seconds``).
    """

    def write(unit: Unit) -> Entered:
        described, moment = _described(unit), sent.moment(at)
        if source not in described:
            values = {"text": source[:LONGEST_CODE], "choices": ", ".join(described) or "-"}
            return not_taken(None, [Finding("line-unknown", Where(field="source"), Severity.STOP, values)])
        pattern: LinePattern | None = read_pattern(described[source])[0]
        read = None if pattern is None else pattern.read(text)
        found: tuple[Finding, ...]
        if read is None:
            sample, found = None, (Finding("heard-unread", Where(), Severity.CHECK, {"text": text[:40]}),)
        else:
            sample, found = _take(unit, read, moment)
        unit.add(
            HeardLine(
                key=unit.next_key(HeardLine, "h"),
                source=source,
                pattern=described[source],
                heard_at=utc_text(moment),
                text=text[:LONGEST_LINE],
                read=None if read is None else canonical_text(dict(read)),
                sample=sample,
                used_in=sent.entry_id if sample is not None else None,
            )
        )
        return done(unit, sent, "heard", sample or "", at, found)

    return enter(records, sent, "reading.record", write, person=person, at=at)


def heard_lately(records: Records, most: int = 20) -> tuple[Heard, ...]:
    """Return the lines heard last, the latest first."""
    with records.view() as view:
        rows = view.latest(HeardLine, "heard_at", most)
    return tuple(
        Heard(
            datetime.fromisoformat(row.heard_at),
            row.source,
            row.text,
            None if row.read is None else json.loads(row.read),
            row.sample,
        )
        for row in rows
    )
