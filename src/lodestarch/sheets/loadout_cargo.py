"""A cargo that is loaded, from one TOML file, and its sublots so far, from a sheet.

The schema is in ``docs/loadout.md``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, get_args

from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding, Severity, Where
from lodestarch.plan.loadout.cargo import Asked, Cargo, Judged, Lab, Source, Sublot
from lodestarch.sheets.codes import found
from lodestarch.sheets.mapping import parse_toml
from lodestarch.sheets.plain_columns import read_columns
from lodestarch.sheets.terms_entry import Entry, Key, Kind, Reporter

__all__ = ["CARGO", "CARGO_BIN", "CargoTerms", "ReadCargo", "read_cargo", "read_sublots", "shares_of"]

_PART: Final = re.compile(r"^(?P<bin>[^:\s]+):(?P<share>\d{1,9}(?:[.,]\d{1,12})?)$")


def _seconds(name: str, *, needed: bool = False, low: float = 51.0) -> Key:
    return Key(name, Kind.NUMBER, required=needed, low=low, high=900.0, unit="s")


def _money(name: str) -> Key:
    return Key(name, Kind.NUMBER, low=0.0)


CARGO: Final = (
    Key("loadout", Kind.WHOLE, required=True),
    Key("currency", Kind.TEXT, required=True),
    Key("title", Kind.TEXT),
    Key("judged", Kind.CHOICE, required=True, choices=get_args(Judged)),
    _seconds("at_least_s", needed=True),
    _seconds("counts_from_s"),
    _seconds("sublot_at_least_s"),
    Key("breakpoint_s", Kind.NUMBER, low=0.0, high=300.0, unit="s"),
    Key("tonnes", Kind.NUMBER, required=True, low=0.0, above_zero=True, unit="t"),
    Key("sublot_t", Kind.NUMBER, required=True, low=0.0, above_zero=True, unit="t"),
    Key("test_sd_s", Kind.NUMBER, required=True, low=0.0, high=200.0, above_zero=True, unit="s"),
    Key("test_bias_s", Kind.NUMBER, low=-200.0, high=200.0, unit="s"),
    Key("final", Kind.CHOICE, required=True, choices=("loading", "destination")),
    Key("deciding_sd_s", Kind.NUMBER, low=0.0, high=200.0, above_zero=True, unit="s"),
    Key("deciding_bias_s", Kind.NUMBER, low=-200.0, high=200.0, unit="s"),
    Key("wanted_odds", Kind.NUMBER, low=0.5, high=0.9999),
    Key("made_t", Kind.NUMBER),
    Key("missed_t", Kind.NUMBER),
    Key("apart_t", Kind.NUMBER),
    Key("back_t", Kind.NUMBER),
    _money("discharge_cost"),
    _money("apart_cost"),
    Key("results_take_h", Kind.NUMBER, low=0.0, high=100.0, unit="h"),
    _money("hour_cost"),
    Key("note", Kind.TEXT),
    Key("source", Kind.TEXT),
    Key("bin", Kind.TABLES, required=True),
)
"""Top of the file."""

CARGO_BIN: Final = (
    Key("id", Kind.ID, required=True),
    Key("tonnes", Kind.NUMBER, required=True, low=0.0, above_zero=True, unit="t"),
    _seconds("fn_s", needed=True),
    Key("fn_u_s", Kind.NUMBER, required=True, low=0.0, high=200.0, unit="s"),
    Key("unmixed_s", Kind.NUMBER, low=0.0, high=200.0, unit="s"),
    Key("worth_t", Kind.NUMBER),
)
"""``[[bin]]``: what the cargo is drawn from."""


@dataclass(frozen=True, slots=True)
class CargoTerms:
    """What money hangs on the cargo; ``None``: not stated, and questions of money stay open.

    Parameters
    ----------
    title, currency : str
    wanted_odds : float
    made_t, missed_t, apart_t, back_t : float or None
        Prices of the cargo where it makes the clause and misses it, of a sublot certified apart, of grain
        taken back. [money/t]
    discharge_cost, apart_cost : float
        [money]
    results_take_h, hour_cost : float or None
        How long results take, and what an hour of waiting costs. [h], [money/h]
    """

    title: str
    currency: str
    wanted_odds: float
    made_t: float | None
    missed_t: float | None
    apart_t: float | None
    back_t: float | None
    discharge_cost: float
    apart_cost: float
    results_take_h: float | None
    hour_cost: float | None


@dataclass(frozen=True, slots=True)
class ReadCargo:
    """A cargo as read, without sublots; ``None`` where something in it stops."""

    cargo: Cargo | None
    terms: CargoTerms | None
    findings: tuple[Finding, ...]


def read_cargo(data: bytes, name: str) -> ReadCargo:
    """Read a cargo; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8.
    name : str
        File name, for findings.
    """
    tables = parse_toml(data)
    if isinstance(tables, int):
        return ReadCargo(
            None, None, (found("terms-unreadable", Where(source=name, row=tables), line=tables),)
        )
    report = Reporter(name)
    top = Entry(report, "loadout", "file").read(tables, CARGO)
    bins = [
        Entry(report, "bin", str(b.get("id", f"#{i}"))).read(b, CARGO_BIN)
        for i, b in enumerate(top.tables("bin"), 1)
    ]
    if top.text("judged") == "average-with-sublot-minimum":
        top.needs("sublot_at_least_s")
    if top.text("final") == "destination":
        top.needs("deciding_sd_s")
    ids = [b.text("id") for b in bins]
    findings = list(report.findings)
    findings += [
        Finding("receive-bin-twice", Where(source=name, field="bin"), Severity.STOP, {"bin": twice})
        for twice in sorted({i for i in ids if i and ids.count(i) > 1})
    ]
    if not bins and top.sound:
        findings.append(
            Finding("receive-nothing-of", Where(source=name, field="bin"), Severity.STOP, {"table": "bin"})
        )
    sound = top.sound and all(b.sound for b in bins)
    if not sound or any(f.severity is Severity.STOP for f in findings):
        return ReadCargo(None, None, tuple(findings))
    return ReadCargo(_cargo(top, bins), _terms(top), tuple(findings))


def _cargo(top: Entry, bins: list[Entry]) -> Cargo:
    judged: Judged = top.values["judged"]  # type: ignore[assignment]  # one of the choices, checked on reading
    asked = Asked(
        judged,
        top.number("at_least_s") or 0.0,
        top.number("tonnes") or 0.0,
        top.number("sublot_t") or 0.0,
        top.number("counts_from_s"),
        top.number("sublot_at_least_s"),
        top.number("breakpoint_s") or 0.0,
    )
    sources = tuple(
        Source(
            b.text("id") or "",
            b.number("tonnes") or 0.0,
            b.number("fn_s") or 0.0,
            b.number("fn_u_s") or 0.0,
            b.number("unmixed_s") or 0.0,
            b.number("worth_t") or 0.0,
        )
        for b in bins
    )
    deciding = None
    if top.text("final") == "destination":
        deciding = Lab(top.number("deciding_sd_s") or 0.0, top.number("deciding_bias_s") or 0.0)
    testing = Lab(top.number("test_sd_s") or 0.0, top.number("test_bias_s") or 0.0)
    return Cargo(asked, sources, (), testing, deciding)


def _terms(top: Entry) -> CargoTerms:
    return CargoTerms(
        top.text("title") or "",
        top.text("currency") or "",
        top.number("wanted_odds") or 0.95,
        top.number("made_t"),
        top.number("missed_t"),
        top.number("apart_t"),
        top.number("back_t"),
        top.number("discharge_cost") or 0.0,
        top.number("apart_cost") or 0.0,
        top.number("results_take_h"),
        top.number("hour_cost"),
    )


def read_sublots(data: bytes, name: str, cargo: Cargo) -> tuple[tuple[Sublot, ...], tuple[Finding, ...]]:
    """Read the sublots in loading order.

    Parameters
    ----------
    data : bytes
        CSV or xlsx; columns ``number``, ``tonnes``, ``shares`` (``1`` or ``1:0.6 2:0.4``) and, where there,
        ``seconds``.
    name : str
    cargo : Cargo

    Returns
    -------
    tuple of Sublot, tuple of Finding
        A row that cannot be used is left out with ``loadout-sublot-unusable``, ``loadout-source-unknown`` or
        ``loadout-sublot-twice``; ``loadout-overdrawn`` where a bin gave more than it held.
    """
    columns = read_columns(
        data, name, texts=("shares",), numbers=("number", "tonnes"), seconds=("seconds",),
        required=("number", "tonnes", "shares"),
    )  # fmt: skip
    findings = list(columns.findings)
    if not all(columns.has(c) for c in ("number", "tonnes", "shares")):
        return (), tuple(findings)
    bins = {s.name for s in cargo.sources}
    out: list[Sublot] = []
    for i, row in enumerate(columns.rows):
        where = Where(source=name, row=row)
        number, tonnes = columns.numbers["number"][i], columns.numbers["tonnes"][i]
        shares = shares_of(columns.texts["shares"][i])
        seconds = columns.numbers["seconds"][i] if columns.has("seconds") else math.nan
        unknown = sorted(set(shares) - bins)
        if unknown:
            findings.append(
                Finding("loadout-source-unknown", where, Severity.STOP, {"bin": ", ".join(unknown)})
            )
            continue
        if any(s.number == number for s in out):
            findings.append(Finding("loadout-sublot-twice", where, Severity.STOP, {"number": number}))
            continue
        try:
            one = Sublot(
                int(number) if math.isfinite(number) else -1,
                tonnes,
                shares,
                None if math.isnan(seconds) else seconds,
            )
        except LodestarchError:
            one = None
        if one is None or one.number < 0 or not math.isfinite(tonnes):
            findings.append(Finding("loadout-sublot-unusable", where, Severity.STOP, {}))
            continue
        out.append(one)
    return tuple(out), (*findings, *_overdrawn(cargo, out, name))


def _overdrawn(cargo: Cargo, sublots: list[Sublot], name: str) -> list[Finding]:
    out = []
    for source in cargo.sources:
        drawn = sum(s.tonnes * s.shares.get(source.name, 0.0) for s in sublots)
        if drawn > source.tonnes + 1e-6:
            values: dict[str, str | float | int | bool | None] = {
                "bin": source.name,
                "tonnes": drawn,
                "held": source.tonnes,
            }
            out.append(Finding("loadout-overdrawn", Where(source=name), Severity.CHECK, values))
    return out


def shares_of(text: str | None) -> dict[str, float]:
    """Bins with shares; one bin alone needs none; nothing where it cannot be read."""
    parts = (text or "").split()
    if len(parts) == 1 and ":" not in parts[0]:
        return {parts[0]: 1.0}
    out: dict[str, float] = {}
    for part in parts:
        match = _PART.match(part)
        if match is None:
            return {}
        out[match["bin"]] = out.get(match["bin"], 0.0) + float(match["share"].replace(",", "."))
    return out
