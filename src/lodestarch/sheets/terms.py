"""Terms: a TOML file or a sheet in, values of the trade room and findings out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from typing import Final, Literal

from lodestarch.common.findings import Finding, Where
from lodestarch.sheets.codes import found
from lodestarch.sheets.mapping import parse_toml
from lodestarch.sheets.terms_entry import Entry, Known, Reporter
from lodestarch.sheets.terms_keys import BIN, BUYER, DELIVERY_POINT, LAYER, TABLES, TOP, VERSION
from lodestarch.sheets.terms_offer import read_bid, read_contract
from lodestarch.sheets.terms_schedule import read_schedule
from lodestarch.sheets.terms_sheet import is_terms_sheet, read_terms_rows
from lodestarch.trade.factors import FACTORS
from lodestarch.trade.money_unit import BY_DISTANCE
from lodestarch.trade.terms import Bin, Buyer, DeliveryPoint, Layer, Terms

__all__ = ["ReadTerms", "TakenTables", "read_terms", "read_terms_tables", "take_terms_tables"]

_KM_PER_MILE: Final = 1.609344
"""International mile. [km]  Exact by definition."""


@dataclass(frozen=True, slots=True)
class ReadTerms:
    """A terms file as read.

    Parameters
    ----------
    terms : Terms or None
        What could be taken; ``None`` where the file could not be read at all.
    findings : tuple of Finding
        In the order of the file's kinds of table.
    """

    terms: Terms | None
    findings: tuple[Finding, ...]


def read_terms(data: bytes, name: str, *, mapping: Mapping[str, str] | None = None) -> ReadTerms:
    r"""Read a file or a sheet of terms; never raises on its content.

    Parameters
    ----------
    data : bytes
        TOML in UTF-8, or a sheet (CSV, xlsx); the schema of both is in ``docs/terms.md``.
    name : str
        File name, for findings.
    mapping : mapping of str to str, optional
        Header names of other sheets and ours that they stand for.

    Examples
    --------
    >>> read = read_terms(b'terms = 1\ncurrency = "USD"\n[[buyer]]\nid = "a"\nname = "A"\n', "t.toml")
    >>> read.terms.buyer("a").name, read.findings
    ('A', ())
    >>> rows = b"table,id,name,currency\nfile,,,USD\nbuyer,a,A,\n"
    >>> read_terms(rows, "t.csv").terms.buyer("a").name
    'A'
    """
    taken = take_terms_tables(data, name, mapping=mapping)
    if taken.tables is None:
        return ReadTerms(None, tuple(taken.report.findings))
    return read_terms_tables(taken.tables, taken.report)


@dataclass(frozen=True, slots=True)
class TakenTables:
    """The tables of a file or sheet before their keys are looked at; ``None`` where there are none."""

    tables: dict[str, object] | None
    report: Reporter


def take_terms_tables(data: bytes, name: str, *, mapping: Mapping[str, str] | None = None) -> TakenTables:
    """Take the tables of a file or a sheet of terms; see :func:`read_terms`."""
    if is_terms_sheet(data, name, mapping):
        rows = read_terms_rows(data, name, mapping)
        return TakenTables(rows.tables or None, Reporter(name, findings=rows.findings, places=rows.places))
    report = Reporter(name)
    tables = parse_toml(data)
    if isinstance(tables, int):
        report.findings.append(found("terms-unreadable", Where(source=name, row=tables), line=tables))
        return TakenTables(None, report)
    return TakenTables(tables, report)


def read_terms_tables(tables: Mapping[str, object], report: Reporter) -> ReadTerms:
    """Read tables of terms, however they came to be.

    Parameters
    ----------
    tables : mapping
        As a terms file has them.
    report : Reporter
    """
    top = Entry(report, "terms", "file").read(dict(tables), TOP)
    if top.sound and top.number("terms") != VERSION:
        top.refuse("terms-version-unknown", "terms", value=str(tables["terms"]), wanted=str(VERSION))
    currency = top.text("currency")
    if currency is not None and not (len(currency) == 3 and currency.isascii() and currency.isupper()):
        top.refuse("terms-key-type", "currency", value=currency, wanted="ISO 4217")
    if not top.sound or currency is None:
        return ReadTerms(None, tuple(report.findings))
    report.currency, report.provenance = currency, top.provenance()
    if not any(top.tables(kind) for kind in TABLES):
        report.findings.append(found("terms-nothing", Where(source=report.source)))
    return ReadTerms(_terms(top, currency, report), tuple(report.findings))


def _terms(top: Entry, currency: str, report: Reporter) -> Terms:
    named = {kind: list(_labelled(top.tables(kind), kind, report)) for kind in TABLES}
    known = Known({kind: {label for label, _ in entries} for kind, entries in named.items()})
    buyers = [b for label, raw in named["buyer"] if (b := _buyer(raw, label, report))]
    known.taken["buyer"] = {b.id for b in buyers}
    points = [p for label, raw in named["delivery_point"] if (p := _point(raw, label, report, known))]
    known.owners |= {p.id: p.buyer_id for p in points}
    known.taken["delivery_point"] = set(known.owners)
    schedules = [s for label, raw in named["schedule"] if (s := read_schedule(raw, label, report))]
    by_id = {s.id: s for s in schedules}
    contracts = [
        c for label, raw in named["contract"] if (c := read_contract(raw, label, report, known, by_id))
    ]
    bids = [d for label, raw in named["bid"] if (d := read_bid(raw, label, report, known, by_id))]
    return Terms(
        currency=currency,
        title=top.text("title"),
        as_of=top.day("as_of"),
        jurisdiction=top.text("jurisdiction"),
        buyers=tuple(buyers),
        delivery_points=tuple(points),
        schedules=tuple(schedules),
        contracts=tuple(contracts),
        bids=tuple(bids),
        bins=tuple(n for label, raw in named["bin"] if (n := _bin(raw, label, report))),
        provenance=report.provenance,
        retest_cost=top.number("retest_cost"),
        storage_cost=top.number("storage_cost"),
    )


def _labelled(
    entries: list[dict[str, object]], kind: str, report: Reporter
) -> Iterator[tuple[str, dict[str, object]]]:
    """Entries with their ids, or their number in the file; the second of an id is refused here."""
    seen: set[str] = set()
    for number, raw in zip(count(1), entries, strict=False):
        label = raw.get("id")
        if not isinstance(label, str):
            yield f"#{number}", raw
        elif label in seen:
            report.add("terms-id-twice", kind, label, "id")
        else:
            seen.add(label)
            yield label, raw


def _buyer(raw: dict[str, object], label: str, report: Reporter) -> Buyer | None:
    entry = Entry(report, "buyer", label).read(raw, BUYER)
    fee, unit = entry.number("test_fee"), entry.money("test_fee_unit")
    if fee is not None:
        entry.needs("test_fee_unit")
    if not entry.sound:
        return None
    return Buyer(
        id=label,
        name=entry.text("name") or label,
        accepts_profiles=entry.texts("accepts_profiles"),
        lab_sd_s=entry.number("lab_sd_s"),
        lab_bias_s=entry.number("lab_bias_s"),
        lab_bias_u_s=entry.number("lab_bias_u_s"),
        test_fee=fee,
        test_fee_unit=unit,
        provenance=entry.provenance(),
        use=entry.text("use"),
    )


def _point(raw: dict[str, object], label: str, report: Reporter, known: Known) -> DeliveryPoint | None:
    entry = Entry(report, "delivery_point", label).read(raw, DELIVERY_POINT)
    entry.refer("buyer", "buyer", known)
    distance = entry.one_of("distance_mi", "distance_km", required=False)
    miles = entry.number("distance_mi")
    freight, unit = entry.number("freight"), entry.money("freight_unit")
    if freight is not None:
        entry.needs("freight_unit")
    if unit is not None and unit.per in {*BY_DISTANCE, "load"}:
        entry.needs("load_t")
    if unit is not None and unit.per in BY_DISTANCE and distance is None and entry.sound:
        entry.refuse("terms-one-of", "distance_mi / distance_km", count=0)
    if not entry.sound:
        return None
    return DeliveryPoint(
        id=label,
        buyer_id=entry.text("buyer") or "",
        name=entry.text("name") or label,
        distance_km=entry.number("distance_km") if miles is None else miles * _KM_PER_MILE,
        freight=freight,
        freight_unit=unit,
        load_t=entry.number("load_t"),
        provenance=entry.provenance(),
    )


def _bin(raw: dict[str, object], label: str, report: Reporter) -> Bin | None:
    entry = Entry(report, "bin", label).read(raw, BIN)
    layers = []
    for i, part in enumerate(entry.tables("layer"), 1):
        inner = Entry(report, "bin", label, f"layer[{i}].").read(part, LAYER)
        tonnes = inner.number("tonnes")
        entry.sound &= inner.sound
        if tonnes is not None and inner.sound:
            layers.append(_layer(inner, tonnes))
    if not entry.sound:
        return None
    return Bin(
        id=label,
        name=entry.text("name") or label,
        material=entry.text("material"),
        grain_class=entry.text("class"),
        capacity_t=entry.number("capacity_t"),
        tonnes=entry.number("tonnes"),
        turned_on=entry.day("turned_on"),
        least_draw_t=entry.number("least_draw_t"),
        gate_error_t=entry.number("gate_error_t"),
        layers=tuple(layers),
        provenance=entry.provenance(),
    )


def _layer(entry: Entry, tonnes: float) -> Layer:
    return Layer(
        tonnes=tonnes,
        filled_on=entry.day("filled_on"),
        ticket=entry.text("ticket"),
        sample=entry.text("sample"),
        fn_u_s=entry.number("fn_u_s"),
        fn_says=_says(entry.text("fn_says")),
        factors={k: v for k in FACTORS if (v := entry.number(k)) is not None},
    )


def _says(text: str | None) -> Literal["exact", "at-or-below", "above"] | None:
    if text == "at-or-below":
        return "at-or-below"
    if text == "above":
        return "above"
    return None if text is None else "exact"
