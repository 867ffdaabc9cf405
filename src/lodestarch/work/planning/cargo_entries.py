"""What is entered at the spout: the cargo, sublots as they are loaded, results as they come, slips."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from lodestarch.common.canonical import Json, sha256_hex
from lodestarch.common.findings import Finding, Severity, Value, Where, in_order
from lodestarch.plan.loadout.cargo import Sublot
from lodestarch.records.engine import Records
from lodestarch.records.tables import Plan
from lodestarch.records.unit import Unit
from lodestarch.sheets.loadout_cargo import read_cargo, shares_of
from lodestarch.sheets.typed import typed_number
from lodestarch.work.bench.entered import Entered, Sent, done, not_taken
from lodestarch.work.bench.entry import enter
from lodestarch.work.planning.cargo_kept import CARGO, SUBLOT, CargoKept, read_cargo_kept, sublot_key
from lodestarch.work.planning.kept_documents import document_of, documents_of, keep_document
from lodestarch.work.planning.typed_amounts import text_findings, typed_amount, typed_result

__all__ = ["cargo_document", "keep_cargo", "load_sublot", "result_came", "sublot_document", "take_back"]

_KIND: Final = "cargo"
_ACTION: Final = "bins.change"


def cargo_document(text: str, name: str, cargo: str, *, demonstration: bool = False) -> dict[str, Json]:
    """Return a cargo as it is kept."""
    return {"text": text, "name": name, "cargo": cargo, "demonstration": demonstration}


def sublot_document(cargo: str, order: int, one: Sublot) -> dict[str, Json]:
    """Return a sublot as it is kept."""
    return {
        "cargo": cargo, "order": order, "number": one.number, "tonnes": one.tonnes,
        "shares": dict(one.shares), "result_s": one.result_s,
    }  # fmt: skip


def keep_cargo(records: Records, sent: Sent, text: str, name: str, *, person: str, at: datetime) -> Entered:
    """Keep another cargo; the sublots of the one before stay in the records under its own name."""

    def write(unit: Unit) -> Entered:
        if not text.strip():
            return not_taken(None, [Finding("plan-text-empty", Where(field="cargo"), Severity.STOP)])
        read = read_cargo(text.encode(), name)
        if read.cargo is None:
            return not_taken(None, in_order(read.findings))
        # The same file again goes on with its sublots; another one begins anew.
        known = document_of(unit, CARGO)
        if known is None or known["text"] != text:
            code = sha256_hex(f"{sent.entry_id}{text}".encode())[:12]
            keep_document(unit, CARGO, _KIND, cargo_document(text, name, code), at)
        return done(unit, sent, "cargo", "", at, read.findings)

    return enter(records, sent, "plan.make", write, person=person, at=at)


def _whole(text: str, field: str, found: list[Finding]) -> int | None:
    value = typed_number(text)
    if value is None or value != int(value):
        found.append(
            Finding("sublot-number-odd", Where(field=field), Severity.STOP, {"text": text.strip()[:40]})
        )
        return None
    return int(value)


def _shares(kept: CargoKept, text: str, found: list[Finding]) -> dict[str, float]:
    """Shares as typed: ``1``, or ``1:0.6 2:0.4``; parts that add up to something else are shared out."""
    where = Where(field="shares")
    shares = shares_of(text)
    total = sum(shares.values())
    names = [s.name for s in kept.cargo.sources]
    unknown = sorted(set(shares) - set(names))
    if not shares or not total > 0.0:
        found.append(Finding("shares-unread", where, Severity.STOP, {"text": text.strip()[:40]}))
    elif unknown:
        values: dict[str, Value] = {"text": ", ".join(unknown), "choices": ", ".join(names)}
        found.append(Finding("entry-no-choice", where, Severity.STOP, values))
    else:
        return {name: share / total for name, share in shares.items()}
    return {}


def load_sublot(
    records: Records,
    sent: Sent,
    typed: tuple[str, str, str],
    *,
    person: str,
    at: datetime,
) -> Entered:
    """Enter a sublot as loaded.

    Parameters
    ----------
    records : Records
    sent : Sent
    typed : tuple of str
        Number (empty: the next), tonnes, shares of the bins.
    person : str
    at : datetime
    """
    number_text, tonnes_text, shares_text = typed

    def write(unit: Unit) -> Entered:
        kept = read_cargo_kept(unit)
        if kept is None:
            return not_taken(None, [Finding("cargo-none", Where(field="tonnes"), Severity.STOP)])
        found: list[Finding] = []
        there = [s.number for s in kept.cargo.sublots]
        number = _whole(number_text, "number", found) if number_text.strip() else max(there, default=0) + 1
        tonnes = typed_amount(tonnes_text, "tonnes", found)
        shares = _shares(kept, shares_text, found)
        if number in there:
            found.append(Finding("sublot-known", Where(field="number"), Severity.STOP, {"number": number}))
        if tonnes is not None and tonnes > kept.cargo.to_load_t + 0.5 * kept.cargo.asked.sublot_t:
            values: dict[str, Value] = {"tonnes": tonnes, "left_t": kept.cargo.to_load_t}
            found.append(Finding("sublot-more-than-cargo", Where(field="tonnes"), Severity.STOP, values))
        if found or number is None or tonnes is None:
            return not_taken(None, found)
        notes = list(_overdrawn(kept, tonnes, shares))
        order = len(documents_of(unit, SUBLOT)) + 1
        key = _free_key(unit, sublot_key(kept.name, number))
        document = sublot_document(kept.name, order, Sublot(number, tonnes, shares))
        keep_document(unit, key, SUBLOT, document, at)
        return done(unit, sent, "sublot", str(number), at, notes)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def _free_key(unit: Unit, key: str) -> str:
    """A key that no sublot has, taken back ones included: what was taken back stays as it was."""
    tries = 1
    free = key
    while unit.get(Plan, free) is not None:
        tries += 1
        free = f"{key}/{tries}"
    return free


def _overdrawn(kept: CargoKept, tonnes: float, shares: dict[str, float]) -> list[Finding]:
    out = []
    for name, share in shares.items():
        left = kept.cargo.left_t(name)
        if share * tonnes > left + 1e-6:
            values: dict[str, Value] = {"bin": name, "tonnes": share * tonnes, "held_t": max(left, 0.0)}
            out.append(Finding("sublot-overdraws", Where(field="shares"), Severity.CHECK, values))
    return out


def _named(unit: Unit, kept: CargoKept, number: int) -> str | None:
    """Key of the sublot of a number that stands."""
    for key, document in documents_of(unit, SUBLOT).items():
        if document["cargo"] == kept.name and document["number"] == number and not document.get("back"):
            return key
    return None


def _change(
    records: Records,
    sent: Sent,
    number_text: str,
    change: tuple[str, str],
    *,
    person: str,
    at: datetime,
) -> Entered:
    what, text = change

    def write(unit: Unit) -> Entered:
        kept = read_cargo_kept(unit)
        if kept is None:
            return not_taken(None, [Finding("cargo-none", Where(field="number"), Severity.STOP)])
        found: list[Finding] = []
        number = _whole(number_text, "number", found)
        key = None if number is None else _named(unit, kept, number)
        if number is not None and key is None:
            found.append(Finding("sublot-unknown", Where(field="number"), Severity.STOP, {"number": number}))
        changes: dict[str, Json] = {}
        reason = None
        if what == "result":
            value = typed_result(text, "seconds", found)
            changes["result_s"] = None if value is None else value.value_s
        else:
            reason = text_findings(text, "reason", found, 200)
            if not reason:
                found.append(Finding("reason-empty", Where(field="reason"), Severity.STOP))
            changes["back"] = True
        if found or key is None:
            return not_taken(None, found)
        document = {**(document_of(unit, key) or {}), **changes}
        keep_document(unit, key, SUBLOT, document, at, reason=reason)
        return done(unit, sent, f"sublot {what}", str(number), at)

    return enter(records, sent, _ACTION, write, person=person, at=at)


def result_came(
    records: Records, sent: Sent, number: str, seconds: str, *, person: str, at: datetime
) -> Entered:
    """Enter the result of a sublot; one that stands already is put right, and the log keeps both."""
    return _change(records, sent, number, ("result", seconds), person=person, at=at)


def take_back(
    records: Records, sent: Sent, number: str, reason: str, *, person: str, at: datetime
) -> Entered:
    """Take a sublot out of the cargo again: discharged, or a slip; with the reason."""
    return _change(records, sent, number, ("back", reason), person=person, at=at)
