"""The lab's choices for its bench, as somebody types them on the Set-up page."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from lodestarch.common.canonical import Json
from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.records.engine import Records
from lodestarch.records.unit import Unit
from lodestarch.trade.limits import Limit
from lodestarch.work.bench.choices import (
    BATHS,
    LIMITS,
    PROFILE,
    baths_of,
    choose,
    limits_read_out,
    profile_of_bench,
)
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.bench.sample_named import LONGEST_CODE
from lodestarch.work.keeping.profiles import book_of

__all__ = ["BenchChoices", "ChoicesTyped", "bench_choices", "read_limits", "set_bench_choices"]

_LIMIT: Final = re.compile(r"^(?P<name>.*\S)\s+(?P<low>\d{2,4})(?:\s*(?:-|–|to)\s*(?P<high>\d{2,4}))?$")
_MOST_BATHS: Final = 12
_MOST_LIMITS: Final = 20


@dataclass(frozen=True, slots=True)
class ChoicesTyped:
    """As typed: a profile's name, baths separated by commas, one limit a line."""

    profile: str
    baths: str
    limits: str


@dataclass(frozen=True, slots=True)
class BenchChoices:
    """What is chosen now, and which profiles there are."""

    profile: str
    profiles: tuple[tuple[str, str], ...]
    baths: tuple[str, ...]
    limits: tuple[Limit, ...]


def bench_choices(records: Records) -> BenchChoices:
    """Return what is chosen now."""
    with records.view() as view:
        book = book_of(view)
        return BenchChoices(
            profile_of_bench(view, book).profile_id,
            tuple((p.profile_id, p.title) for p in book.in_force.values()),
            baths_of(view),
            limits_read_out(view),
        )


def read_limits(text: str) -> tuple[list[Json], list[Finding]]:
    """Read one limit a line: ``Quillmere 300`` is a floor, ``Aldersby 220-340`` a window. [s]"""
    limits: list[Json] = []
    found: list[Finding] = []
    for line in (one.strip() for one in text.splitlines()):
        if not line:
            continue
        match = _LIMIT.match(line)
        high = None if match is None or match["high"] is None else float(match["high"])
        if match is None or (high is not None and high <= float(match["low"])) or len(limits) >= _MOST_LIMITS:
            where = Where(field="limits")
            found.append(Finding("limit-unread", where, Severity.STOP, {"text": line[:LONGEST_CODE]}))
        else:
            limits.append({"name": match["name"], "at_least_s": float(match["low"]), "at_most_s": high})
    return limits, found


def _read(unit: Unit, typed: ChoicesTyped) -> tuple[list[Json], list[Json], list[Finding]]:
    limits, found = read_limits(typed.limits)
    baths: list[Json] = [name.strip() for name in typed.baths.split(",") if name.strip()]
    if not baths or len(baths) > _MOST_BATHS or any(len(str(b)) > LONGEST_CODE for b in baths):
        found.append(Finding("bath-empty", Where(field="baths"), Severity.STOP))
    try:
        book_of(unit).named(typed.profile)
    except UnknownName as cause:
        values = {"text": typed.profile[:LONGEST_CODE], "choices": ", ".join(cause.allowed)}
        found.append(Finding("entry-no-choice", Where(field="profile"), Severity.STOP, values))
    return baths, limits, found


def set_bench_choices(
    records: Records, sent: Sent, typed: ChoicesTyped, *, person: str, at: datetime
) -> Entered:
    """Keep the choices; each that differs is an entry in the log."""

    def write(unit: Unit) -> Entered:
        baths, limits, found = _read(unit, typed)
        if found:
            return not_taken(None, found)
        choose(unit, PROFILE, typed.profile)
        choose(unit, BATHS, baths)
        choose(unit, LIMITS, limits)
        return done(unit, sent, "bench choices", "", at)

    return enter(records, sent, "setup.change", write, person=person, at=at)
