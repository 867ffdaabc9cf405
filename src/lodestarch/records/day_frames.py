"""Frames of a day to rows of tables and back, with the digests that stand for them in the log."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import polars as pl

from lodestarch.common.canonical import Json, canonical_text
from lodestarch.common.errors import LodestarchError
from lodestarch.common.findings import Finding
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES
from lodestarch.records.day_values import RefusedLine
from lodestarch.records.lines import canonical_lines, iso_moments, lines_digest
from lodestarch.records.personal import new_salts, personal_hashes

__all__ = [
    "BULK",
    "FINDINGS",
    "IDS_A_DAY",
    "REFUSED",
    "BulkTable",
    "Prepared",
    "findings_frame",
    "prepare",
    "refused_frame",
    "storable",
    "table_digest",
    "to_moments",
    "to_text",
]

IDS_A_DAY: Final = 10**7
"""Rows of day n have ids from n * 10^7 on: one whole number says which day a row is of."""

REFUSED: Final[dict[str, pl.DataType]] = {
    "sheet": pl.String(),
    "row": pl.Int64(),
    "code": pl.String(),
    "text": pl.String(),
}
FINDINGS: Final[dict[str, pl.DataType]] = {
    "code": pl.String(),
    "severity": pl.String(),
    "source": pl.String(),
    "row": pl.Int64(),
    "field": pl.String(),
    "ticket": pl.String(),
    "sample": pl.String(),
    "run": pl.String(),
    "position": pl.String(),
    "values": pl.String(),
}
RELISTED: Final[dict[str, pl.DataType]] = {**JUDGED, "changed": pl.Boolean(), "kept_revision": pl.Int64()}


@dataclass(frozen=True, slots=True)
class BulkTable:
    """A table whose rows come by the day.

    ``schema``: the columns that the log's digest covers; ``personal``: those of them that may name a
    person and enter through a salted digest.
    """

    name: str
    schema: dict[str, pl.DataType]
    personal: tuple[str, ...] = ()

    @property
    def plain(self) -> list[str]:
        """Columns that enter the digest as they are."""
        return [name for name in self.schema if name not in self.personal]


BULK: Final = {
    table.name: table
    for table in (
        BulkTable("readings", JUDGED, ("analyst", "row_text")),
        BulkTable("relisted", RELISTED, ("analyst", "row_text")),
        BulkTable("sheet_samples", SAMPLES, ("grower", "row_text")),
        BulkTable("results", RESULTS),
        BulkTable("refused_rows", REFUSED, ("text",)),
        BulkTable("day_findings", FINDINGS),
    )
}


@dataclass(frozen=True, slots=True)
class Prepared:
    """Rows ready to be inserted, and what the log says of them."""

    rows: pl.DataFrame
    said: Json


def storable(frame: pl.DataFrame) -> pl.DataFrame:
    """Show a NUL in text as ␀ (U+2400): PostgreSQL keeps no NUL, and both keep the same."""
    texts = [name for name, kind in frame.schema.items() if kind == pl.String]
    if (
        frame.height == 0
        or not frame.select(pl.any_horizontal(pl.col(texts).str.contains("\x00", literal=True).any())).item()
    ):
        return frame
    return frame.with_columns(pl.col(texts).str.replace_all("\x00", "␀", literal=True))


def to_text(frame: pl.DataFrame) -> pl.DataFrame:
    """Turn dates and moments into the text that is kept."""
    columns = [
        iso_moments(c)
        if isinstance(c.dtype, pl.Datetime)
        else c.dt.strftime("%Y-%m-%d")
        if c.dtype == pl.Date
        else c
        for c in frame
    ]
    return pl.DataFrame([c.alias(name) for c, name in zip(columns, frame.columns, strict=True)])


def to_moments(frame: pl.DataFrame, schema: dict[str, pl.DataType]) -> pl.DataFrame:
    """Turn kept rows (moments as text, truth values as 0 and 1) into the types of ``schema``."""
    out = []
    for name, kind in schema.items():
        column = pl.col(name)
        if isinstance(kind, pl.Datetime):
            # Text with and without a fraction of a second stands in one column.
            whole = pl.when(column.str.len_bytes() == len("2026-07-14T08:31:00"))
            fine = whole.then(column + ".000000").otherwise(column)
            column = fine.str.to_datetime("%Y-%m-%dT%H:%M:%S%.6f", time_unit="us")
        elif kind == pl.Date:
            column = column.str.to_date("%Y-%m-%d")
        else:
            column = column.cast(kind)
        out.append(column.alias(name))
    return frame.select(out)


def _said(count: int, lines: pl.Series) -> dict[str, Json]:
    return {"rows": count, "sha256": lines_digest(lines)}


def _personal_digest(hashes: Sequence[bytes]) -> str:
    return hashlib.sha256(b"".join(hashes)).hexdigest()


def prepare(
    table: BulkTable, frame: pl.DataFrame, lines: pl.Series, day_no: int, site_no: int, first: int | None
) -> Prepared:
    """Make the rows of one table and day.

    Parameters
    ----------
    table : BulkTable
    frame : polars.DataFrame
        In the table's schema; further columns (``revision``) go through as they are.
    lines : polars.Series
        Canonical lines of the plain columns, row for row.
    day_no, site_no : int
    first : int or None
        Number of the first row within the day; ``None``: the rows carry their number in ``row``.
    """
    count = frame.height
    numbers = frame["row"] if first is None else pl.Series(range(first, first + count), dtype=pl.Int64)
    if first is None and (numbers.null_count() or not numbers.is_between(0, IDS_A_DAY - 1).all()):
        raise LodestarchError(f"rows of {table.name} need their line number, below {IDS_A_DAY}")
    ends = {"first": int(numbers.to_numpy().min()), "last": int(numbers.to_numpy().max())}
    said: dict[str, Json] = {**ends, **_said(count, lines)}
    rows = to_text(frame).with_columns(
        id=day_no * IDS_A_DAY + numbers, site_no=pl.lit(site_no), day_no=pl.lit(day_no, dtype=pl.Int64)
    )
    if table.personal:
        salts = new_salts(count)
        said["personal_sha256"] = _personal_digest(personal_hashes(frame, table.personal, salts))
        rows = rows.with_columns(
            pl.Series("salt", salts, dtype=pl.Binary), personal_sha=pl.lit(None, dtype=pl.Binary)
        )
    return Prepared(rows, said)


def table_digest(table: BulkTable, kept: pl.DataFrame) -> Json:
    """Compute from kept rows, in order of id, what the log should say of them.

    ``kept`` has the schema's columns as stored, ``salt`` and ``personal_sha`` where the table has them.
    """
    frame = to_moments(kept, table.schema)
    said = _said(frame.height, canonical_lines(frame.select(table.plain)))
    if table.personal:
        salts = [bytes(s) if s is not None else b"" for s in kept["salt"]]
        fresh = personal_hashes(frame, table.personal, salts)
        was = [bytes(s) if s is not None else None for s in kept["personal_sha"]]
        said["personal_sha256"] = _personal_digest([w or f for w, f in zip(was, fresh, strict=True)])
    return said


def findings_frame(findings: Sequence[Finding]) -> pl.DataFrame:
    """Return findings as rows."""
    rows = [
        (
            f.code, f.severity.value, f.where.source, f.where.row, f.where.field, f.where.ticket,
            f.where.sample, f.where.run, f.where.position, canonical_text(dict(f.values)),
        )
        for f in findings
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=FINDINGS, orient="row").pipe(storable)


def refused_frame(refused: Sequence[RefusedLine]) -> pl.DataFrame:
    """Return refused rows as rows."""
    rows = [(r.sheet, r.row, r.code, r.text) for r in refused]
    return storable(pl.DataFrame(rows, schema=REFUSED, orient="row"))
