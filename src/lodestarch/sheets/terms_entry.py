"""One table of a terms file, its keys checked one by one against a list of what they may be."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import Enum, auto
from typing import Final

from lodestarch.common.findings import Finding, Value, Where
from lodestarch.common.provenance import Provenance
from lodestarch.sheets.codes import found
from lodestarch.trade.factors import Factor
from lodestarch.trade.money_unit import PER, MoneyUnit, parse_money_unit

__all__ = ["Entry", "Key", "Kind", "Known", "Place", "Reporter", "Twice"]

_ID: Final = re.compile(r"^[a-z0-9][a-z0-9._-]{0,63}$")


class Kind(Enum):
    """What a key holds."""

    TEXT = auto()
    ID = auto()
    NUMBER = auto()
    WHOLE = auto()
    DATE = auto()
    FLAG = auto()
    CHOICE = auto()
    TEXTS = auto()
    MONEY = auto()
    """A money unit of the file's currency; ``choices`` are what it may be for."""
    TABLES = auto()


_WANTED: Final = {
    Kind.TEXT: "text",
    Kind.ID: "text",
    Kind.NUMBER: "number",
    Kind.WHOLE: "whole number",
    Kind.DATE: "date",
    Kind.FLAG: "true or false",
    Kind.CHOICE: "text",
    Kind.TEXTS: "list of texts",
    Kind.MONEY: "text",
    Kind.TABLES: "list of tables",
}


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the schema.

    Parameters
    ----------
    name : str
    kind : Kind
    required : bool
    choices : tuple of str
        For :attr:`Kind.CHOICE` and :attr:`Kind.MONEY`.
    low, high : float
        Legal range of a number, both ends included.
    above_zero : bool
        Zero and below are out of range.
    unit : str
        Of a number, for findings.
    """

    name: str
    kind: Kind
    required: bool = False
    choices: tuple[str, ...] = ()
    low: float = -math.inf
    high: float = math.inf
    above_zero: bool = False
    unit: str = ""


@dataclass(slots=True)
class Known:
    """What the other tables of a file hold.

    Parameters
    ----------
    stated : dict of set
        Ids by kind of table, readable or not.
    taken : dict of set
        Ids of the entries that were taken.
    owners : dict
        Buyer of each delivery point that was taken.
    """

    stated: dict[str, set[str]]
    taken: dict[str, set[str]] = field(default_factory=dict)
    owners: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a sheet an entry, or a table inside one, stands.

    Parameters
    ----------
    row : int
    columns : mapping of str to str
        Columns of keys that are named otherwise than their key.
    """

    row: int
    columns: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Twice:
    """A key for which two rows of a sheet say two things; ``row`` is that of the first."""

    first: str
    second: str
    row: int


@dataclass(slots=True)
class Reporter:
    """Where findings about a file go.

    Parameters
    ----------
    source : str
        File name.
    currency : str
        The file's currency, for money units.
    provenance : Provenance
        Of entries that state none of their own.
    places : dict
        For a sheet: rows by table, id and prefix within the entry. Empty for a file of tables.
    """

    source: str
    currency: str = ""
    provenance: Provenance = Provenance.ENTERED_BY_LAB
    findings: list[Finding] = field(default_factory=list)
    places: dict[tuple[str, str, str], Place] = field(default_factory=dict)

    def add(
        self, code: str, table: str, entry: str, key: str | None = None, prefix: str = "", **values: Value
    ) -> None:
        """Note a finding about an entry, or one key of it."""
        if key is None and isinstance(values.get("part"), str):
            prefix = _prefix_of(str(values["part"]))
        place = self.places.get((table, entry, prefix)) or self.places.get((table, entry, ""))
        if place is None:
            named = None if key is None else prefix + key
            field = f"{table} {entry}".rstrip() + ("" if named is None else f", {named}")
            where = Where(source=self.source, field=field)
        else:
            named = None if key is None else place.columns.get(key, key)
            where = Where(source=self.source, row=place.row, field=named)
        keyed: dict[str, Value] = {} if named is None else {"key": named}
        self.findings.append(found(code, where, table=table, id=entry, **keyed, **values))


def _prefix_of(part: str) -> str:
    """Prefix of a part or band from how it is named in troubles: ``part 2``, ``part 2 band 3``."""
    numbers = re.findall(r"[0-9]+", part)
    return "".join(f"{name}[{n}]." for name, n in zip(("part", "bands"), numbers, strict=False))


@dataclass(slots=True)
class Entry:
    """The cleaned keys of one table.

    Parameters
    ----------
    report : Reporter
    table, id : str
        For findings; ``id`` is a number from 1 where the entry has none.
    prefix : str
        Place within the entry, for tables inside tables (``part[2].``).
    values : dict
        By key; absent where not stated or not readable.
    sound : bool
        Nothing in it was unreadable; an unsound entry is refused.
    """

    report: Reporter
    table: str
    id: str
    prefix: str = ""
    values: dict[str, object] = field(default_factory=dict)
    sound: bool = True

    def refuse(self, code: str, key: str | None = None, **values: Value) -> None:
        """Note a finding that refuses the entry."""
        self.sound = False
        self.note(code, key, **values)

    def note(self, code: str, key: str | None = None, **values: Value) -> None:
        """Note a finding that does not."""
        self.report.add(code, self.table, self.id, key, self.prefix, **values)

    def read(self, raw: dict[str, object], keys: Iterable[Key]) -> Entry:
        """Take the keys of ``raw`` that the schema knows, and return the entry itself."""
        known = {k.name: k for k in keys}
        for name in raw:
            if name not in known:
                self.note("terms-key-unknown", name)
        for key in known.values():
            if key.name in raw:
                self._take(key, raw[key.name])
            elif key.required:
                self.refuse("terms-key-missing", key.name)
        return self

    def _take(self, key: Key, value: object) -> None:
        if isinstance(value, Twice):
            self.refuse("terms-stated-twice", key.name, value=value.second, first=value.first, row=value.row)
        elif not _FITS.get(key.kind, _is_text)(value):
            shown = _shown(value)
            self.refuse("terms-key-type", key.name, value=shown, wanted=_WANTED[key.kind])
        elif isinstance(value, (int, float)) and not isinstance(value, bool):
            self._number(key, float(value))
        elif key.kind is Kind.ID and not _ID.match(str(value)):
            self.refuse("terms-id-unusable", key.name, value=str(value))
        elif key.kind is Kind.CHOICE and value not in key.choices:
            self.refuse("terms-not-in-list", key.name, value=str(value), choices=", ".join(key.choices))
        elif key.kind is Kind.MONEY:
            self._money(key, str(value))
        else:
            self.values[key.name] = value

    def _number(self, key: Key, value: float) -> None:
        inside = key.low <= value <= key.high and not (key.above_zero and value <= 0)
        if inside and math.isfinite(value):
            self.values[key.name] = value
            return
        low = max(key.low, 0.0) if key.above_zero else key.low
        bounds = {"low": _bound(low), "high": _bound(key.high)}
        self.refuse("terms-out-of-range", key.name, value=_shown(value), unit=key.unit, **bounds)

    def _money(self, key: Key, text: str) -> None:
        unit = parse_money_unit(text, self.report.currency)
        allowed = key.choices or PER
        if unit is None or unit.per not in allowed:
            listed = ", ".join(f"{self.report.currency}/{p}" for p in allowed)
            self.refuse("terms-unit-unknown", key.name, value=text, choices=listed)
        elif unit.currency != self.report.currency:
            self.refuse("terms-units-mixed", key.name, value=text, expected=self.report.currency)
        else:
            self.values[key.name] = unit

    def one_of(self, *keys: str, required: bool = True) -> str | None:
        """Return the one key of several that is stated; more than one, or none where needed, refuses."""
        stated = [k for k in keys if k in self.values]
        if len(stated) > 1 or (required and not stated and self.sound):
            self.refuse("terms-one-of", " / ".join(keys), count=len(stated))
        return stated[0] if len(stated) == 1 else None

    def refer(self, key: str, kind: str, known: Known) -> None:
        """Check that the id under a key names an entry of another kind that was taken."""
        value = self.text(key)
        if value is None or value in known.taken[kind]:
            return
        code = "terms-id-unread" if value in known.stated[kind] else "terms-id-unknown"
        self.refuse(code, key, value=value, wanted=kind)

    def within(self, factor: Factor, keys: tuple[str, ...]) -> None:
        """Check that places on a factor's axis lie in its legal range."""
        for key in keys:
            value = self.number(key)
            if value is not None and not factor.low <= value <= factor.high:
                bounds = {"low": _bound(factor.low), "high": _bound(factor.high)}
                self.refuse("terms-out-of-range", key, value=_shown(value), unit=factor.unit, **bounds)

    def period(self, first: str, last: str) -> None:
        """Check that a period does not end before it begins."""
        begins, ends = self.day(first), self.day(last)
        if begins is not None and ends is not None and ends < begins:
            self.refuse("terms-period-reversed", last, first=begins.isoformat(), last=ends.isoformat())

    def needs(self, key: str) -> None:
        """Check that a key is stated that others make necessary."""
        if self.sound and key not in self.values:
            self.refuse("terms-key-missing", key)

    def provenance(self) -> Provenance:
        """Return the provenance of the entry, or of its file."""
        stated = self.text("provenance")
        return self.report.provenance if stated is None else Provenance(stated)

    def text(self, key: str) -> str | None:
        """Return a text."""
        value = self.values.get(key)
        return value if isinstance(value, str) else None

    def number(self, key: str) -> float | None:
        """Return a number."""
        value = self.values.get(key)
        return value if isinstance(value, float) else None

    def day(self, key: str) -> date | None:
        """Return a date."""
        value = self.values.get(key)
        return value if isinstance(value, date) else None

    def flag(self, key: str, *, default: bool) -> bool:
        """Return a flag."""
        value = self.values.get(key)
        return value if isinstance(value, bool) else default

    def money(self, key: str) -> MoneyUnit | None:
        """Return a money unit."""
        value = self.values.get(key)
        return value if isinstance(value, MoneyUnit) else None

    def texts(self, key: str) -> tuple[str, ...] | None:
        """Return a list of texts."""
        value = self.values.get(key)
        return tuple(str(v) for v in value) if isinstance(value, list) else None

    def tables(self, key: str) -> list[dict[str, object]]:
        """Return a list of tables."""
        value = self.values.get(key)
        return value if isinstance(value, list) else []


def _all_are(value: object, kind: type) -> bool:
    return isinstance(value, list) and all(isinstance(v, kind) for v in value)


_FITS: Final[dict[Kind, Callable[[object], bool]]] = {
    # A truth value is an int to Python, and a moment is a date.
    Kind.NUMBER: lambda v: isinstance(v, (int, float)) and not isinstance(v, bool),
    Kind.WHOLE: lambda v: isinstance(v, int) and not isinstance(v, bool),
    Kind.DATE: lambda v: isinstance(v, date) and not isinstance(v, datetime),
    Kind.FLAG: lambda v: isinstance(v, bool),
    Kind.TEXTS: lambda v: _all_are(v, str),
    Kind.TABLES: lambda v: _all_are(v, dict),
}


def _is_text(value: object) -> bool:
    return isinstance(value, str) and bool(value.strip())


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return format(value, "g")
    return str(value)


def _bound(value: float) -> str:
    """A bound as text; an open one is a dash."""
    return format(value, "g") if math.isfinite(value) else "–"
