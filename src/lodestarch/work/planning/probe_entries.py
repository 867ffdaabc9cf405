"""What is entered at the probe: trucks as they come, numbers, where they dumped, and how the site works."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from lodestarch.common.canonical import Json
from lodestarch.common.findings import Finding, Severity, Value, Where, in_order
from lodestarch.plan.receive.desk import Word
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Bin, Load, Sample
from lodestarch.records.unit import Unit
from lodestarch.sheets.receive_site import read_site
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.bench.receiving import Arrival, write_sample
from lodestarch.work.bench.sample_named import code_findings
from lodestarch.work.planning.bins_entries import record_in
from lodestarch.work.planning.kept_documents import document_of, keep_document
from lodestarch.work.planning.load_numbers import keep_facts, unknown_load
from lodestarch.work.planning.probe_kept import (
    COMPOSITE,
    LEFT,
    SITE,
    CompositeKept,
    ProbeMode,
    ProbeNow,
    composite_code,
    composites_kept,
    read_probe,
    site_kept,
)
from lodestarch.work.planning.typed_amounts import chosen, text_findings, typed_amount, typed_result

__all__ = ["TruckTyped", "choose_mode", "dumped", "keep_site", "number_came", "site_document", "truck_comes"]

_SITE_KIND: Final = "receive-site"
_MOST_COMPOSITE: Final = 12


@dataclass(frozen=True, slots=True)
class TruckTyped:
    """A truck at the probe, as typed; field and variety by name, or by their place in the list."""

    ticket: str
    tonnes: str
    field: str = ""
    variety: str = ""
    to_come: str = ""


def site_document(text: str, name: str, *, demonstration: bool = False) -> dict[str, str | int | bool]:
    """Return a site as it is kept."""
    return {"text": text, "name": name, "mode": "", "composite_of": 0, "demonstration": demonstration}


def add_bins(unit: Unit, bins: tuple[tuple[str, float], ...]) -> None:
    """Write the site's bins where they are not kept yet."""
    for name, capacity_t in bins:
        if unit.get(Bin, name) is None:
            unit.add(Bin(key=name, name=name, capacity_t=capacity_t))


def keep_site(records: Records, sent: Sent, text: str, name: str, *, person: str, at: datetime) -> Entered:
    """Keep the site by its file; its bins are added where they are not kept yet."""

    def write(unit: Unit) -> Entered:
        if not text.strip():
            return not_taken(None, [Finding("plan-text-empty", Where(field="site"), Severity.STOP)])
        read = read_site(text.encode(), name)
        if read.site is None:
            return not_taken(None, in_order(read.findings))
        keep_document(unit, SITE, _SITE_KIND, site_document(text, name), at)
        add_bins(unit, read.site.bins)
        return done(unit, sent, "site", "", at, read.findings)

    return enter(records, sent, "plan.make", write, person=person, at=at)


def choose_mode(
    records: Records, sent: Sent, mode: str, composite_of: str, *, person: str, at: datetime
) -> Entered:
    """Choose what happens while a test runs; words that were said stand."""

    def write(unit: Unit) -> Entered:
        kept = document_of(unit, SITE)
        if kept is None:
            return not_taken(None, [Finding("probe-no-site", Where(field="mode"), Severity.STOP)])
        found: list[Finding] = []
        wanted = chosen(mode, "mode", [m.value for m in ProbeMode], found)
        number = typed_number(composite_of) if composite_of.strip() else 0.0
        if number is None or number != int(number) or (number and not 2 <= number <= _MOST_COMPOSITE):
            values: dict[str, Value] = {"text": composite_of.strip()[:40], "most": _MOST_COMPOSITE}
            found.append(Finding("composite-odd", Where(field="composite_of"), Severity.STOP, values))
        if found or number is None:
            return not_taken(None, found)
        loads = int(number) or kept.get("composite_of") or 0
        keep_document(unit, SITE, _SITE_KIND, {**kept, "mode": wanted, "composite_of": loads}, at)
        return done(unit, sent, "probe mode", "", at)

    return enter(records, sent, "plan.make", write, person=person, at=at)


def _named(text: str, field: str, known: tuple[str, ...], found: list[Finding]) -> str | None:
    """A name as typed; a number up to the length of the list is the name at that place in it."""
    wanted = text_findings(text, field, found)
    if wanted.isascii() and wanted.isdigit() and 1 <= int(wanted) <= len(known):
        return known[int(wanted) - 1]
    same = [name for name in known if name.casefold() == wanted.casefold()]
    return same[0] if same else wanted or None


def truck_comes(records: Records, sent: Sent, typed: TruckTyped, *, person: str, at: datetime) -> Entered:
    """Enter a truck at the probe; its word is kept with it, and a tested one stands on the bench's list.

    Returns
    -------
    Entered
        Not taken: ``probe-no-site``, ``load-known``, and what is wrong at its field.
    """

    def write(unit: Unit) -> Entered:
        now = read_probe(unit)
        if now is None:
            return not_taken(None, [Finding("probe-no-site", Where(field="ticket"), Severity.STOP)])
        found: list[Finding] = []
        ticket = typed.ticket.strip()
        found += code_findings(ticket)
        tonnes = typed_amount(typed.tonnes, "tonnes", found)
        if tonnes is not None and tonnes > _heaviest(now):
            values = {"tonnes": tonnes, "most_t": _heaviest(now)}
            found.append(Finding("truck-heavy", Where(field="tonnes"), Severity.STOP, values))
        field = _named(typed.field, "field", now.fields, found)
        variety = _named(typed.variety, "variety", now.varieties, found)
        to_come = typed_number(typed.to_come) if typed.to_come.strip() else None
        if typed.to_come.strip() and (to_come is None or to_come != int(to_come)):
            values_ = {"text": typed.to_come.strip()[:40]}
            found.append(Finding("count-odd", Where(field="to_come"), Severity.STOP, values_))
        if not found and unit.get(Load, ticket) is not None:
            found.append(Finding("load-known", Where(field="ticket"), Severity.STOP, {"ticket": ticket}))
        if found or tonnes is None:
            return not_taken(None, found)
        moment = sent.moment(at)
        unit.add(Load(key=ticket, received_at=utc_text(moment), tonnes=tonnes))
        facts = {"field": field, "variety": variety, "to_come": None if to_come is None else int(to_come)}
        keep_facts(unit, ticket, at, **facts)
        _say(unit, ticket, moment)
        return done(unit, sent, "truck", ticket, at)

    return enter(records, sent, "ticket.receive", write, person=person, at=at)


def _heaviest(now: ProbeNow) -> float:
    """A load heavier than four usual ones is a slip. [t]  A setting of ours."""
    return max(4.0 * now.kept.site.season.load_t, 60.0)


def _say(unit: Unit, ticket: str, at: datetime) -> None:
    """Ask the desk, and keep its word with the load."""
    now = read_probe(unit)
    row = unit.get(Load, ticket)
    truck = None if now is None else next((t for t in now.trucks if t.ticket == ticket), None)
    if now is None or row is None or truck is None or truck.word is None:
        return
    word = Word.DUMP if now.kept.mode is ProbeMode.COMPOSITE else truck.word
    sample = row.sample
    if word is not Word.DUMP:
        if unit.get(Sample, ticket) is None:
            write_sample(unit, Arrival(ticket), at)
        sample = ticket
    keep_facts(unit, ticket, at, bin=truck.bin)
    if now.kept.mode is ProbeMode.COMPOSITE and truck.number is None:
        _into_composite(unit, ticket, now, at)
    _rewrite(unit, row, answer=word.value, sample=sample)


def _rewrite(unit: Unit, row: Load, **changed: str | None) -> None:
    values = {
        "received_at": row.received_at, "grower": row.grower, "sample": row.sample, "tonnes": row.tonnes,
        "bin": row.bin, "answer": row.answer,
    } | changed  # fmt: skip
    unit.edit(Load(key=row.key, **values), made_from=row.version)  # type: ignore[arg-type] # its own columns


def _into_composite(unit: Unit, ticket: str, now: ProbeNow, at: datetime) -> None:
    """Add a load's part to the composite that is being filled; a full one goes to the bench."""
    made = composites_kept(unit)
    last = made[-1] if made and not made[-1].is_full else None
    number = last.number if last is not None else len(made) + 1
    tickets = (*(last.tickets if last is not None else ()), ticket)
    wanted = last.wanted if last is not None else now.kept.composite_of
    fresh = CompositeKept(number, tickets, wanted, None)
    _keep_composite(unit, fresh, at)
    code = composite_code(number)
    if fresh.is_full and unit.get(Sample, code) is None:
        write_sample(unit, Arrival(code, kind="composite", note=", ".join(tickets)[:200]), at)


def _keep_composite(unit: Unit, one: CompositeKept, at: datetime) -> None:
    document: dict[str, Json] = {
        "number": one.number, "tickets": list(one.tickets), "wanted": one.wanted, "fn_s": one.seconds,
    }  # fmt: skip
    keep_document(unit, f"composite/{one.number}", COMPOSITE, document, at)


def number_came(
    records: Records, sent: Sent, ticket: str, text: str, *, person: str, at: datetime
) -> Entered:
    """Enter the number of a load, or of a composite, that the bench told; the page follows it by itself.

    Returns
    -------
    Entered
        Not taken: ``load-unknown``, ``seconds-unread``, ``result-outside``.
    """

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        wanted = ticket.strip()
        value = typed_result(text, "seconds", found)
        mixed = next((c for c in composites_kept(unit) if composite_code(c.number) == wanted), None)
        row = unit.get(Load, wanted)
        if row is None and mixed is None:
            found.append(unknown_load(wanted))
        if found or value is None:
            return not_taken(None, found)
        if mixed is not None:
            fresh = CompositeKept(mixed.number, mixed.tickets, mixed.wanted, value.value_s)
            _keep_composite(unit, fresh, at)
        else:
            keep_facts(unit, wanted, at, fn_s=value.value_s, says=int(value.kind))
        return done(unit, sent, "number", wanted, at)

    return enter(records, sent, "reading.record", write, person=person, at=at)


def dumped(records: Records, sent: Sent, ticket: str, bin_text: str, *, person: str, at: datetime) -> Entered:
    """Enter where a truck dumped; an empty bin: it went away again.

    Returns
    -------
    Entered
        Not taken: ``load-unknown``, ``load-lies``, ``entry-no-choice``.
    """

    def write(unit: Unit) -> Entered:
        found: list[Finding] = []
        wanted = ticket.strip()
        row = unit.get(Load, wanted)
        site = site_kept(unit)
        if row is None:
            return not_taken(None, [unknown_load(wanted)])
        if row.bin is not None:
            values = {"ticket": wanted, "bin": row.bin}
            return not_taken(None, [Finding("load-lies", Where(field="ticket"), Severity.STOP, values)])
        if not bin_text.strip():
            _rewrite(unit, row, answer=LEFT)
            return done(unit, sent, "truck left", wanted, at)
        places = [name for name, _ in site.site.bins] if site is not None else []
        into = chosen(bin_text, "bin", places, found)
        if into is None:
            return not_taken(None, found)
        _rewrite(unit, row, bin=into)
        record_in(unit, wanted, into, row.tonnes or 0.0, sent.moment(at))
        return done(unit, sent, "dumped", wanted, at)

    return enter(records, sent, "bins.change", write, person=person, at=at)
