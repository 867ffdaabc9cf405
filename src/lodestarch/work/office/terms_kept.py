"""Terms as they stand in the records, and as they stood before."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from lodestarch.common.canonical import Json, canonical_text, digest
from lodestarch.records.engine import Records
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Terms, TermsVersion
from lodestarch.records.unit import Unit, View
from lodestarch.sheets.terms import ReadTerms, read_terms_tables
from lodestarch.sheets.terms_document import Tables, as_document, entries_of, of_document, top_of
from lodestarch.sheets.terms_entry import Reporter
from lodestarch.sheets.terms_keys import TABLES

__all__ = [
    "KeptTerms",
    "TermsLine",
    "read_kept",
    "standing_terms",
    "terms_lines",
    "terms_of_lab",
    "write_terms",
]

_PERIODS: Final = (("valid_from", "valid_to"), ("delivery_from", "delivery_to"))


@dataclass(frozen=True, slots=True)
class KeptTerms:
    """One version of the terms.

    Parameters
    ----------
    key : str
    entered_at : datetime
    source : str
        Name of the file, or ``typed``.
    sha256 : str
        Digest of the whole.
    tables : dict
        As a terms file has them.
    """

    key: str
    entered_at: datetime
    source: str
    sha256: str
    tables: Tables


@dataclass(frozen=True, slots=True)
class TermsLine:
    """One version in the list of versions."""

    key: str
    entered_at: datetime
    person: str
    source: str
    reason: str | None
    entries: int


def _row(view: View, key: str | None) -> TermsVersion | None:
    if key is not None:
        return view.get(TermsVersion, key)
    rows = view.all(TermsVersion)
    return max(rows, key=lambda r: (r.entered_at, len(r.key), r.key)) if rows else None


def standing_terms(view: View, key: str | None = None) -> KeptTerms | None:
    """Return the terms that stand, or those of a version; ``None`` where none were entered.

    Parameters
    ----------
    view : View
    key : str, optional
        Of a version.
    """
    row = _row(view, key)
    if row is None:
        return None
    top = of_document(json.loads(row.top))
    assert isinstance(top, dict)  # noqa: S101 - written so
    tables: Tables = dict(top)
    for block in json.loads(row.blocks):
        kept = view.get(Terms, block)
        assert kept is not None  # noqa: S101 - blocks are never taken out
        listed = tables.setdefault(kept.kind, [])
        assert isinstance(listed, list)  # noqa: S101 - made above
        listed.append(of_document(json.loads(kept.document)))
    return KeptTerms(row.key, datetime.fromisoformat(row.entered_at), row.source, row.sha256, tables)


def read_kept(kept: KeptTerms) -> ReadTerms:
    """Read a version of the terms into values of the trade."""
    return read_terms_tables(kept.tables, Reporter(kept.key))


def terms_of_lab(records: Records) -> KeptTerms | None:
    """Return the terms that stand in the records of a lab."""
    with records.view() as view:
        return standing_terms(view)


def terms_lines(view: View) -> tuple[TermsLine, ...]:
    """Every version, the latest first, with who entered it."""
    people, out = view.names("people"), []
    for row in sorted(view.all(TermsVersion), key=lambda r: (r.entered_at, len(r.key), r.key), reverse=True):
        said = next((e for e in view.history(f"terms_versions:{row.key}") if isinstance(e, dict)), {})
        person, reason = str(said.get("person", "")), said.get("reason")
        out.append(
            TermsLine(
                row.key,
                datetime.fromisoformat(row.entered_at),
                people.get(person, person),
                row.source,
                str(reason) if reason else None,
                len(json.loads(row.blocks)),
            )
        )
    return tuple(out)


def write_terms(
    unit: Unit, tables: Tables, source: str, at: datetime, *, reason: str | None = None
) -> str | None:
    """Write a new version beside the earlier ones; an entry that says the same keeps its row.

    Returns
    -------
    str or None
        Its key; ``None`` where it says what stands already.
    """
    whole, before = digest(as_document(tables)), _row(unit, None)
    if before is not None and before.sha256 == whole:
        return None
    blocks: list[Json] = [_block(unit, kind, e) for kind in TABLES for e in entries_of(tables, kind)]
    key = unit.next_key(TermsVersion, "t")
    unit.add(
        TermsVersion(
            key=key,
            entered_at=utc_text(at),
            source=source,
            top=canonical_text(as_document(top_of(tables))),
            blocks=canonical_text(blocks),
            sha256=whole,
        ),
        reason=reason,
    )
    return key


def _block(unit: Unit, kind: str, entry: Mapping[str, object]) -> str:
    """Key of the row that says what an entry says, written where there is none yet."""
    name, said = str(entry["id"]), canonical_text(as_document(entry))
    rows = [r for r in unit.all(Terms, terms_id=name) if r.kind == kind]
    same = next((r for r in rows if r.document == said), None)
    if same is not None:
        return same.key
    days = [_day(entry, a, b) for a, b in _PERIODS]
    first, last = next(((a, b) for a, b in days if a or b), (None, None))
    key = f"{kind}/{name}/{len(rows) + 1}"
    unit.add(Terms(key=key, kind=kind, terms_id=name, document=said, valid_from=first, valid_to=last))
    return key


def _day(entry: Mapping[str, object], first: str, last: str) -> tuple[str | None, str | None]:
    a, b = entry.get(first), entry.get(last)
    return (
        a.isoformat() if isinstance(a, date) else None,
        b.isoformat() if isinstance(b, date) else None,
    )
