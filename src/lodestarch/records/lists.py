"""Lists to take away: all results, and what is to be charged for a month."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from itertools import groupby
from typing import Final

import polars as pl
from sqlalchemy import select

from lodestarch.method.table import RESULTS
from lodestarch.records.bulk import read_frame
from lodestarch.records.day_frames import to_moments
from lodestarch.records.days_read import as_kept
from lodestarch.records.people import names_of
from lodestarch.records.scope import Scope
from lodestarch.records.tables import FeeCode, FeeItem

__all__ = ["FEES", "all_results", "month_of_fees"]

FEES: Final[dict[str, pl.DataType]] = {
    "payer": pl.String(),
    "payer_name": pl.String(),  # null where erased
    "code": pl.String(),
    "what": pl.String(),
    "quantity": pl.Int64(),
    "price": pl.String(),  # money is decimal text, never a float
    "amount": pl.String(),
    "currency": pl.String(),
    "samples": pl.String(),
}
"""One line a payer and fee code."""


def all_results(scope: Scope) -> pl.DataFrame:
    """Return every version of every result, oldest first.

    Columns ``day_id``, ``read_at`` (ISO 8601, UTC), then ``method.table.RESULTS``.
    """
    head: dict[str, pl.DataType] = {"day_id": pl.String(), "read_at": pl.String()}
    stored = {**head, **{name: as_kept(kind) for name, kind in RESULTS.items()}}
    columns = ", ".join(f't."{name}"' for name in RESULTS)
    sql = (
        f'SELECT d."key", d.read_at, {columns} FROM results t JOIN days d ON d.day_no = t.day_no '  # noqa: S608 - our own names
        "WHERE t.site_no = ? ORDER BY t.id"
    )
    frame = read_frame(scope.conn, sql, (scope.site_no,), stored)
    return to_moments(frame, {**head, **RESULTS})


def month_of_fees(scope: Scope, month: date) -> pl.DataFrame:
    """Return what is to be charged for work done in a month, in :data:`FEES`; no accounting beyond that.

    Parameters
    ----------
    month : date
        Any day of it. Work counts by the date in ``done_at`` as entered.
    """
    found = scope.conn.execute(
        select(FeeItem.payer, FeeItem.code, FeeItem.quantity, FeeItem.sample)
        .add_columns(FeeCode.what, FeeCode.price, FeeCode.currency)
        .join(FeeCode, (FeeCode.key == FeeItem.code) & (FeeCode.site_no == FeeItem.site_no))
        .where(FeeItem.site_no == scope.site_no, FeeItem.done_at.startswith(f"{month:%Y-%m}"))
        .order_by(FeeItem.payer, FeeItem.code, FeeItem.key)
    ).all()
    names, lines = names_of(scope, "parties"), list[tuple[object, ...]]()
    for (payer, code), group in groupby(found, key=lambda item: (item.payer, item.code)):
        items = list(group)
        first, count = items[0], sum(item.quantity for item in items)
        amount = str(Decimal(first.price) * count)
        samples = " ".join(item.sample for item in items if item.sample)
        name = None if payer is None else names.get(payer)
        lines.append((payer, name, code, first.what, count, first.price, amount, first.currency, samples))
    return pl.DataFrame(lines, schema=FEES, orient="row")
