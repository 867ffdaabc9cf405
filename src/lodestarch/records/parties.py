"""Parties: a key in the log, name and contact beside it, and erasure on request."""

from __future__ import annotations

import json
from collections.abc import Sequence

import polars as pl
from sqlalchemy import func, select, text, update

from lodestarch.common.canonical import Json
from lodestarch.common.errors import UnknownName
from lodestarch.records.day_frames import BULK, IDS_A_DAY, to_moments
from lodestarch.records.days_read import kept_frame
from lodestarch.records.kept import added
from lodestarch.records.log import Entry
from lodestarch.records.people import keep_personal, names_of
from lodestarch.records.personal import personal_hashes
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Day, Party, Personal

__all__ = ["add_party", "empty_rows", "erase", "personal_of"]


def add_party(
    scope: Scope, name: str, role: str, *, contact: Json = None, region: str | None = None
) -> tuple[str, Entry]:
    """Write a new party; return its key and what the log says."""
    count = scope.conn.execute(
        select(func.count()).select_from(Party).where(Party.site_no == scope.site_no)
    ).scalar_one()
    row = Party(key=f"c{count + 1}", role=role, region=region)
    change = added(scope, row)
    personal = keep_personal(scope, "parties", row.key, {"name": name, "contact": contact})
    return row.key, Entry("party.added", f"parties:{row.key}", {"changes": [change], "personal": [personal]})


def personal_of(scope: Scope, kind: str, key: str) -> Json:
    """Return the personal data of one person or party; ``None`` where erased.

    Raises
    ------
    UnknownName
    """
    row = scope.conn.execute(
        select(Personal.document).where(
            Personal.site_no == scope.site_no, Personal.kind == kind, Personal.key == key
        )
    ).first()
    if row is None:
        raise UnknownName(kind, key, ())
    return None if row.document is None else json.loads(row.document)


_NAMES_IN = {
    "readings": "analyst = :name",
    "relisted": "analyst = :name",
    "sheet_samples": "grower = :name",
    "refused_rows": "text LIKE :part ESCAPE '!'",
}


def _rows_naming(scope: Scope, table_name: str, name: str) -> list[int]:
    """Return the ids of rows that came by the sheet and name somebody."""
    part = "%" + name.replace("!", "!!").replace("%", "!%").replace("_", "!_") + "%"
    rows_of = f'SELECT id FROM "{table_name}" WHERE site_no = :site AND salt IS NOT NULL'  # noqa: S608 - ours
    found = scope.conn.execute(
        text(f"{rows_of} AND {_NAMES_IN[table_name]}"),
        {"site": scope.site_no, "name": name, "part": part},
    )
    return [row.id for row in found]


def empty_rows(scope: Scope, table_name: str, ids: Sequence[int]) -> list[Json]:
    """Empty the text that may name somebody in rows that came by the sheet; return which, by day.

    What remains is the salted digest that the text had, so that the day's own digest still holds.
    """
    table, wanted = BULK[table_name], pl.Series(ids, dtype=pl.Int64)
    emptied: list[Json] = []
    for day_no in (wanted // IDS_A_DAY).unique(maintain_order=True):
        kept = kept_frame(scope, table, day_no, all_columns=True).filter(
            pl.col("id").is_in(wanted.implode()), pl.col("salt").is_not_null()
        )
        if kept.height == 0:
            continue
        hashes = personal_hashes(
            to_moments(kept, table.schema), table.personal, [bytes(salt) for salt in kept["salt"]]
        )
        nothing = ", ".join(f'"{column}" = NULL' for column in table.personal)
        scope.conn.execute(
            text(f'UPDATE "{table_name}" SET {nothing}, salt = NULL, personal_sha = :sha WHERE id = :id'),  # noqa: S608 - ours
            [{"sha": sha, "id": id_} for sha, id_ in zip(hashes, kept["id"], strict=True)],
        )
        day = scope.conn.execute(select(Day.key).where(Day.day_no == day_no)).scalar_one()
        emptied.append({"table": table_name, "day": day, "numbers": kept["number"].to_list()})
    return emptied


def _documents_naming(scope: Scope, name: str) -> list[tuple[str, str]]:
    """Return the parts of issued documents on which somebody stands by name."""
    found = scope.conn.execute(
        select(Personal.key, Personal.document).where(
            Personal.site_no == scope.site_no, Personal.kind == "documents", Personal.document.is_not(None)
        )
    )
    return [("documents", row.key) for row in found if name in _texts(json.loads(row.document or "null"))]


def _texts(value: Json) -> list[Json]:
    """Return the texts in names as kept: a value, or a list of them."""
    if not isinstance(value, dict):
        return []
    return [one for v in value.values() for one in (v if isinstance(v, list) else [v])]


def erase(scope: Scope, kind: str, key: str, reason: str) -> Entry:
    """Erase the personal data of one person or party, on sheets too; that it was done is in the log.

    Parameters
    ----------
    kind : str
        ``people`` or ``parties``.
    key : str
    reason : str
        On whose request, in words without a name.

    Raises
    ------
    UnknownName
    """
    names = names_of(scope, kind)
    if key not in names:
        raise UnknownName(kind, key, sorted(names))
    emptied = [
        one for table in _NAMES_IN for one in empty_rows(scope, table, _rows_naming(scope, table, names[key]))
    ]
    gone = [(kind, key), *_documents_naming(scope, names[key])]
    for of, which in gone:
        scope.conn.execute(
            update(Personal)
            .where(Personal.site_no == scope.site_no, Personal.kind == of, Personal.key == which)
            .values(salt=None, document=None)
        )
    personal: list[Json] = [{"kind": of, "key": which, "digest": None} for of, which in gone]
    data: Json = {"personal": personal, "emptied": emptied}
    return Entry("personal.erased", f"{kind}:{key}", data, reason)
