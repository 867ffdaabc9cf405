"""The terms that stand, as the page of Set-up lists them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lodestarch.sheets.terms_document import entries_of
from lodestarch.words.catalogues import term
from lodestarch.words.times import when
from lodestarch.work.office.terms_kept import KeptTerms, TermsLine

__all__ = ["EntryLine", "TermsList", "VersionLine", "terms_list"]


@dataclass(frozen=True, slots=True)
class EntryLine:
    """One entry: where it is changed, what it is called, what it says in short."""

    kind: str
    id: str
    name: str
    said: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class VersionLine:
    """One version of the terms."""

    key: str
    at: str
    person: str
    source: str
    reason: str
    entries: int


@dataclass(frozen=True, slots=True)
class TermsList:
    """What stands.

    Parameters
    ----------
    said : str
        The sentence on top.
    top : tuple of str
        Currency, jurisdiction, day.
    offers, others : tuple of EntryLine
    versions : tuple of VersionLine
    """

    said: str
    top: tuple[str, ...]
    offers: tuple[EntryLine, ...]
    others: tuple[EntryLine, ...]
    versions: tuple[VersionLine, ...]


def terms_list(kept: KeptTerms | None, versions: Sequence[TermsLine]) -> TermsList:
    """Put what stands into lines."""
    lines = tuple(
        VersionLine(v.key, when(v.entered_at.astimezone()), v.person, v.source, v.reason or "", v.entries)
        for v in versions
    )
    if kept is None:
        return TermsList(term("terms-page.nothing"), (), (), (), lines)
    tables = kept.tables
    names = {str(e["id"]): str(e.get("name", e["id"])) for e in entries_of(tables, "buyer")}
    offers = [_offer(kind, e, names) for kind in ("contract", "bid") for e in entries_of(tables, kind)]
    others = [
        _other(kind, e)
        for kind in ("schedule", "buyer", "delivery_point", "bin")
        for e in entries_of(tables, kind)
    ]
    counts = {kind: len(entries_of(tables, kind)) for kind in ("contract", "bid")}
    said = term("terms-page.stands", contracts=counts["contract"], bids=counts["bid"], version=kept.key)
    top = tuple(str(tables[k]) for k in ("title", "currency", "jurisdiction", "as_of") if k in tables)
    return TermsList(said, top, tuple(offers), tuple(others), lines)


def _period(entry: Mapping[str, object]) -> str:
    first = entry.get("delivery_from", entry.get("valid_from"))
    last = entry.get("delivery_to", entry.get("valid_to"))
    if first is None and last is None:
        return ""
    return f"{first or ''} – {last or ''}".strip()


def _offer(kind: str, entry: Mapping[str, object], names: Mapping[str, str]) -> EntryLine:
    unit = entry.get("price_unit", "")
    price = f"{entry['price']} {unit}" if "price" in entry else ""
    if "basis" in entry:
        price = f"{entry['basis']} {unit} {term('terms-page.basis')}"
    clauses = entries_of(entry, "clause")
    judged = ", ".join(str(c.get("judged", "")).replace("-", " ") for c in clauses)
    schedules = entry.get("schedules")
    used = ", ".join(str(s) for s in schedules) if isinstance(schedules, list) else ""
    name = names.get(str(entry.get("buyer")), str(entry.get("buyer", "")))
    return EntryLine(kind, str(entry["id"]), name, (price, judged, used, _period(entry)))


def _other(kind: str, entry: Mapping[str, object]) -> EntryLine:
    said = str(entry.get("factor") or entry.get("use") or entry.get("buyer") or entry.get("material") or "")
    return EntryLine(kind, str(entry["id"]), str(entry.get("name", "")), (said, _period(entry)))
