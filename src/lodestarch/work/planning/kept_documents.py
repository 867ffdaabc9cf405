"""What the pages of planning keep: documents in the table of plans, each a kept row with its versions."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.records.log import utc_text
from lodestarch.records.tables import Plan
from lodestarch.records.unit import Unit, View

__all__ = ["document_of", "documents_of", "keep_document"]


def document_of(view: View, key: str) -> Mapping[str, Any] | None:
    """Return one document; ``None`` where nothing is kept under the key."""
    row = view.get(Plan, key)
    return None if row is None else _read(row)


def documents_of(view: View, kind: str) -> dict[str, Mapping[str, Any]]:
    """Return every document of a kind by key, in order of key."""
    return {row.key: _read(row) for row in view.all(Plan, kind=kind)}


def _read(row: Plan) -> Mapping[str, Any]:
    found = json.loads(row.problem)
    return found if isinstance(found, dict) else {}


def keep_document(
    unit: Unit, key: str, kind: str, document: Mapping[str, Json], at: datetime, *, reason: str | None = None
) -> None:
    """Keep a document over what is kept under its key; the same again changes nothing.

    Parameters
    ----------
    unit : Unit
    key : str
        Its name, such as ``receive/load/8814``.
    kind : str
        What it is, for :func:`documents_of`.
    document : mapping
    at : datetime
    reason : str, optional
        Why, where it is a correction.
    """
    row, text = unit.get(Plan, key), canonical_text(dict(document))
    if row is None:
        unit.add(Plan(key=key, kind=kind, made_at=utc_text(at), problem=text, answer=""), reason=reason)
    elif row.problem != text:
        fresh = Plan(key=key, kind=kind, made_at=utc_text(at), problem=text, answer=row.answer)
        unit.edit(fresh, made_from=row.version, reason=reason)
