"""All rows of one database into another, between SQLite and PostgreSQL either way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any, Final

from sqlalchemy import Connection, Table, func, insert, select

from lodestarch.records.tables import OUTSIDE, Base, Day

__all__ = ["copy_all", "set_day_numbers"]

_STEP: Final = 5000


def _self_links(table: Table) -> list[str]:
    """Return the columns by which a table refers to its own key."""
    return [
        element.parent.name
        for constraint in table.foreign_key_constraints
        if constraint.referred_table is table
        for element in constraint.elements
        if element.parent.name != "site_no"
    ]


def _parents_first(rows: Sequence[dict[str, Any]], links: Sequence[str]) -> Iterator[dict[str, Any]]:
    """Yield rows so that each comes after those that it refers to."""
    waiting = list(rows)
    known: set[tuple[int, str]] = set()
    while waiting:
        later = []
        for row in waiting:
            wanted = {(row["site_no"], row[link]) for link in links if row[link] is not None}
            if wanted <= known:
                known.add((row["site_no"], row["key"]))
                yield row
            else:
                later.append(row)
        if len(later) == len(waiting):  # refers to what is not there: the database will say so
            yield from later
            return
        waiting = later


def _rows(source: Connection, table: Table) -> Iterator[dict[str, Any]]:
    found = source.execution_options(yield_per=_STEP).execute(select(table)).mappings()
    links = _self_links(table)
    plain = (dict(row) for row in found)
    return _parents_first(list(plain), links) if links else plain


def copy_all(source: Connection, target: Connection) -> int:
    """Copy every row that counts (sessions and the like apart) and return how many there were.

    Both connections are in a transaction; the target has the tables and nothing in them.
    """
    count = 0
    for table in Base.metadata.sorted_tables:
        if table.name in OUTSIDE - {"held_packages"}:
            continue
        rows = _rows(source, table)
        while part := list(islice(rows, _STEP)):
            target.execute(insert(table), part)
            count += len(part)
    set_day_numbers(target)
    return count


def set_day_numbers(conn: Connection) -> None:
    """Let the numbering of days go on after the last one (PostgreSQL counts them apart)."""
    if conn.dialect.name == "postgresql":
        last = conn.execute(select(func.max(Day.day_no))).scalar()
        if last is not None:
            conn.execute(select(func.setval("day_numbers", last)))
