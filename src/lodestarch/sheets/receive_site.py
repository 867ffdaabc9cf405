"""A site that receives grain, from one TOML file, and its loads so far, from a sheet.

The schema is in ``docs/receive.md``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.common.money import MoneyBySeconds
from lodestarch.common.provenance import Provenance
from lodestarch.method.liquefaction import ln_from_fn
from lodestarch.plan.receive.bins import OpenBin
from lodestarch.plan.receive.desk import Mode, Season
from lodestarch.plan.receive.grades import Grades, grades_of
from lodestarch.plan.receive.loads import Load, Spread
from lodestarch.sheets.codes import found
from lodestarch.sheets.mapping import parse_toml
from lodestarch.sheets.plain_columns import read_columns
from lodestarch.sheets.terms_entry import Entry, Key, Kind, Reporter

__all__ = [
    "GRADE",
    "SITE",
    "SITE_BIN",
    "ReadLoads",
    "ReadSite",
    "Site",
    "ToldLoad",
    "read_loads",
    "read_site",
]

AT_S: Final = 300.0
"""Falling number at which spreads in seconds are stated. [s]"""


def _spread(name: str, *, needed: bool = True) -> Key:
    return Key(name, Kind.NUMBER, required=needed, low=0.0, high=150.0, unit="s")


SITE: Final = (
    Key("receive", Kind.WHOLE, required=True),
    Key("currency", Kind.TEXT, required=True),
    Key("title", Kind.TEXT),
    Key("mode", Kind.CHOICE, choices=tuple(m.value for m in Mode)),
    Key("loads", Kind.WHOLE, required=True, low=1.0, high=100_000.0),
    Key("tests", Kind.WHOLE, required=True, low=0.0, high=100_000.0),
    Key("load_t", Kind.NUMBER, required=True, low=0.0, high=100.0, above_zero=True, unit="t"),
    Key("loads_a_field", Kind.NUMBER, low=1.0, high=1000.0),
    Key("days", Kind.WHOLE, low=1.0, high=120.0),
    Key("test_cost", Kind.NUMBER, low=0.0),
    Key("expected_s", Kind.NUMBER, required=True, low=65.0, high=600.0, unit="s"),
    _spread("expected_sd_s"),
    _spread("variety_sd_s"),
    _spread("field_sd_s"),
    _spread("load_sd_s"),
    _spread("day_sd_s", needed=False),
    Key("test_sd_s", Kind.NUMBER, required=True, low=0.0, high=100.0, above_zero=True, unit="s"),
    Key("otherwise_t", Kind.NUMBER, required=True),
    Key("trucks_an_hour", Kind.NUMBER, low=0.0, high=1000.0),
    Key("test_min", Kind.NUMBER, low=0.0, high=600.0, above_zero=True, unit="min"),
    Key("lanes", Kind.WHOLE, low=1.0, high=50.0),
    Key("truck_hour_cost", Kind.NUMBER, low=0.0),
    Key("note", Kind.TEXT),
    Key("source", Kind.TEXT),
    Key("provenance", Kind.CHOICE, choices=tuple(p.value for p in Provenance)),
    Key("grade", Kind.TABLES, required=True),
    Key("bin", Kind.TABLES, required=True),
)
"""Top of the file. Spreads are standard deviations in seconds near 300 s."""

GRADE: Final = (
    Key("at_least_s", Kind.NUMBER, required=True, low=60.0, high=600.0, unit="s"),
    Key("price_t", Kind.NUMBER, required=True),
)
"""``[[grade]]``: what a tonne fetches from a falling number up, blended up to it at load-out."""

SITE_BIN: Final = (
    Key("id", Kind.ID, required=True),
    Key("name", Kind.TEXT),
    Key("capacity_t", Kind.NUMBER, required=True, low=0.0, above_zero=True, unit="t"),
)
"""``[[bin]]``."""


@dataclass(frozen=True, slots=True)
class Site:
    """A receiving site as stated.

    Parameters
    ----------
    title, currency : str
    grades : Grades
    spread : Spread
    season : Season
    mode : Mode
    days : int
    test_cost : float
        [money]
    bins : tuple of (str, float)
        Name and room. [t]
    trucks_an_hour, test_min, lanes, truck_hour_cost : float or None
        For the queue; ``None`` where not stated.
    """

    title: str
    currency: str
    grades: Grades
    spread: Spread
    season: Season
    mode: Mode
    days: int
    test_cost: float
    bins: tuple[tuple[str, float], ...]
    trucks_an_hour: float | None
    test_min: float | None
    lanes: int
    truck_hour_cost: float

    def open_bins(self) -> list[OpenBin]:
        """Return the bins, empty."""
        return [OpenBin(name, room) for name, room in self.bins]


@dataclass(frozen=True, slots=True)
class ReadSite:
    """A site as read; ``None`` where something in it stops."""

    site: Site | None
    findings: tuple[Finding, ...]


def read_site(data: bytes, name: str) -> ReadSite:
    """Read a site; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8.
    name : str
        File name, for findings.

    Returns
    -------
    ReadSite
        With the findings of a terms file, ``receive-grades-not-rising`` and ``receive-bin-twice``.
    """
    tables = parse_toml(data)
    if isinstance(tables, int):
        return ReadSite(None, (found("terms-unreadable", Where(source=name, row=tables), line=tables),))
    report = Reporter(name)
    top = Entry(report, "receive", "file").read(tables, SITE)
    grades = [Entry(report, "grade", f"#{i}").read(g, GRADE) for i, g in enumerate(top.tables("grade"), 1)]
    bins = [
        Entry(report, "bin", str(b.get("id", f"#{i}"))).read(b, SITE_BIN)
        for i, b in enumerate(top.tables("bin"), 1)
    ]
    if not all(e.sound for e in (top, *grades, *bins)):
        return ReadSite(None, tuple(report.findings))
    more = _contradictions(grades, bins, top, name)
    stopped = any(f.severity is Severity.STOP for f in (*report.findings, *more))
    site = None if stopped else _site(top, grades, bins)
    return ReadSite(site, (*report.findings, *more))


def _contradictions(grades: list[Entry], bins: list[Entry], top: Entry, name: str) -> list[Finding]:
    out = []
    if not grades or not bins:
        missing = "grade" if not grades else "bin"
        out.append(
            Finding(
                "receive-nothing-of", Where(source=name, field=missing), Severity.STOP, {"table": missing}
            )
        )
    steps = sorted((_num(g, "at_least_s"), _num(g, "price_t")) for g in grades)
    prices = [_num(top, "otherwise_t"), *(price for _, price in steps)]
    if any(b <= a for a, b in pairwise(prices)) or len({s for s, _ in steps}) < len(steps):
        out.append(Finding("receive-grades-not-rising", Where(source=name, field="grade"), Severity.STOP, {}))
    ids = [b.text("id") for b in bins]
    out += [
        Finding("receive-bin-twice", Where(source=name, field="bin"), Severity.STOP, {"bin": twice})
        for twice in sorted({i for i in ids if i and ids.count(i) > 1})
    ]
    return out


def _site(top: Entry, grades: list[Entry], bins: list[Entry]) -> Site:
    currency = top.text("currency") or ""
    steps = sorted((_num(g, "at_least_s"), _num(g, "price_t")) for g in grades)
    price = MoneyBySeconds(
        np.array([s for s, _ in steps]),
        np.array([_num(top, "otherwise_t"), *(p for _, p in steps)]),
        np.zeros(len(steps) + 1),
        np.ones(len(steps), dtype=np.bool_),
        f"{currency}/t",
    )
    relative = AT_S - 50.0
    spread = Spread(
        mean=math.log(float(ln_from_fn(_num(top, "expected_s")))),
        mean_sd=_num(top, "expected_sd_s") / relative,
        variety=_num(top, "variety_sd_s") / relative,
        field=_num(top, "field_sd_s") / relative,
        load=_num(top, "load_sd_s") / relative,
        day=_num(top, "day_sd_s") / relative,
        test=_num(top, "test_sd_s") / relative,
        provenance=top.provenance(),
    )
    season = Season(
        int(_num(top, "loads")),
        int(_num(top, "tests")),
        _num(top, "load_t"),
        _num(top, "loads_a_field") or 5.0,
    )
    return Site(
        title=top.text("title") or "",
        currency=currency,
        grades=grades_of(price),
        spread=spread,
        season=season,
        mode=Mode(top.text("mode") or Mode.HOLD.value),
        days=int(_num(top, "days") or 1),
        test_cost=_num(top, "test_cost"),
        bins=tuple((b.text("id") or "", _num(b, "capacity_t")) for b in bins),
        trucks_an_hour=top.number("trucks_an_hour"),
        test_min=top.number("test_min"),
        lanes=int(_num(top, "lanes") or 1),
        truck_hour_cost=_num(top, "truck_hour_cost"),
    )


def _num(entry: Entry, key: str) -> float:
    return entry.number(key) or 0.0


@dataclass(frozen=True, slots=True)
class ToldLoad:
    """A load of the sheet: what is known of it, its result and its bin where it has them."""

    load: Load
    row: int
    seconds: float | None
    bin: str | None


@dataclass(frozen=True, slots=True)
class ReadLoads:
    """Loads in the order of the sheet, and what could not be taken."""

    loads: tuple[ToldLoad, ...]
    findings: tuple[Finding, ...]


def read_loads(data: bytes, name: str, site: Site) -> ReadLoads:
    """Read the loads so far.

    Parameters
    ----------
    data : bytes
        CSV or xlsx; columns ``ticket``, ``tonnes``, and where known ``field``, ``variety``, ``to_come``,
        ``day``, ``seconds``, ``bin``.
    name : str
    site : Site

    Returns
    -------
    ReadLoads
        A row that cannot be used is left out with a finding: ``receive-load-unusable``,
        ``receive-bin-unknown``, ``receive-ticket-twice``, ``receive-day-back``.
    """
    columns = read_columns(
        data,
        name,
        texts=("ticket", "field", "variety", "bin"),
        numbers=("tonnes", "to_come", "day"),
        seconds=("seconds",),
        required=("ticket", "tonnes"),
    )
    findings = list(columns.findings)
    if not (columns.has("ticket") and columns.has("tonnes")):
        return ReadLoads((), tuple(findings))
    bins = {b for b, _ in site.bins}
    seen: set[str] = set()
    out: list[ToldLoad] = []
    day = 0
    for i, row in enumerate(columns.rows):
        ticket, tonnes = columns.texts["ticket"][i], columns.numbers["tonnes"][i]
        seconds = columns.numbers["seconds"][i] if columns.has("seconds") else math.nan
        into = columns.texts["bin"][i] if columns.has("bin") else None
        where = Where(source=name, row=row, ticket=ticket)
        code = _trouble(ticket, tonnes, seconds, into, seen, bins)
        if code is not None:
            findings.append(Finding(code, where, Severity.STOP, {"bin": into or ""}))
            continue
        stated = _of(columns.numbers.get("day"), i)
        if stated is not None and stated < day:
            findings.append(
                Finding("receive-day-back", where, Severity.CHECK, {"day": stated, "before": day})
            )
        day = max(day, int(stated or day))
        to_come = _of(columns.numbers.get("to_come"), i)
        seen.add(ticket or "")
        load = Load(
            ticket or "",
            tonnes,
            columns.texts["field"][i] if columns.has("field") else None,
            columns.texts["variety"][i] if columns.has("variety") else None,
            None if to_come is None else max(int(to_come), 0),
            day,
        )
        out.append(ToldLoad(load, row, None if math.isnan(seconds) else seconds, into))
    return ReadLoads(tuple(out), tuple(findings))


def _trouble(
    ticket: str | None, tonnes: float, seconds: float, into: str | None, seen: set[str], bins: set[str]
) -> str | None:
    if not ticket or not tonnes > 0 or (math.isfinite(seconds) and seconds < 60):
        return "receive-load-unusable"
    if ticket in seen:
        return "receive-ticket-twice"
    return "receive-bin-unknown" if into is not None and into not in bins else None


def _of(column: tuple[float, ...] | None, i: int) -> float | None:
    return None if column is None or math.isnan(column[i]) else column[i]
