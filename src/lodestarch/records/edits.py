"""Adding and changing kept rows: free until a sample is judged, with a reason afterwards."""

from __future__ import annotations

from typing import Final

from sqlalchemy import select

from lodestarch.records.conflict import NeedsReason, OnlySuperseded
from lodestarch.records.kept import added, changed, table_of
from lodestarch.records.log import Entry
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Kept, Result

__all__ = ["add_row", "edit_row", "is_judged", "require_reason"]

_NEVER_EDITED: Final = frozenset(
    {"days", "profile_versions", "sign_offs", "releases", "release_copies", "documents", "attachments"}
)


def is_judged(scope: Scope, sample: str) -> bool:
    """Tell whether a sample has a result of any status."""
    query = select(Result.id).where(Result.site_no == scope.site_no, Result.sample == sample).limit(1)
    return scope.conn.execute(query).first() is not None


def require_reason(scope: Scope, sample: str | None, reason: str | None) -> None:
    """Refuse a change without a reason where the sample is judged.

    Raises
    ------
    NeedsReason
    """
    if sample is not None and not (reason or "").strip() and is_judged(scope, sample):
        raise NeedsReason(sample)


def _sample_of(row: Kept) -> str | None:
    if table_of(type(row)).name == "samples":
        return row.key
    sample = getattr(row, "sample", None)
    return sample if isinstance(sample, str) else None


def add_row(scope: Scope, row: Kept, reason: str | None) -> Entry:
    """Write a new row and say so."""
    change, table = added(scope, row), table_of(type(row)).name
    return Entry(f"{table}.added", f"{table}:{row.key}", {"changes": [change]}, reason)


def edit_row(scope: Scope, row: Kept, made_from: int, reason: str | None) -> Entry:
    """Write a row over the version that the edit was made from and say so.

    Raises
    ------
    OnlySuperseded
        For what has left the house.
    NeedsReason
        When the sample is judged and no reason is given.
    StaleEdit
        When the row has another version by now.
    """
    table = table_of(type(row)).name
    if table in _NEVER_EDITED:
        raise OnlySuperseded(table, row.key)
    require_reason(scope, _sample_of(row), reason)
    change = changed(scope, row, made_from)
    return Entry(f"{table}.changed", f"{table}:{row.key}", {"changes": [change]}, reason)
