"""What is in work: samples received lately that no release stands for, with what was entered of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import polars as pl
from sqlalchemy import exists, select

from lodestarch.method.table import JUDGED, RESULTS
from lodestarch.records.bulk import read_frame
from lodestarch.records.day_frames import to_moments
from lodestarch.records.days_read import as_kept, standing_readings
from lodestarch.records.kept import fetch_keys, table_of
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Kept, Lowering, Moisture, PortionWeighed, Release, Sample

__all__ = ["InWork", "in_work", "of_samples", "open_samples"]

K = TypeVar("K", bound=Kept)


@dataclass(frozen=True, slots=True)
class InWork:
    """Samples in work and everything that the bench entered of them.

    Parameters
    ----------
    samples : tuple of Sample
        In the order in which they were received.
    moistures, portions, lowerings : tuple
        Oldest first.
    readings : polars.DataFrame
        Those that stand, in ``method.table.JUDGED``.
    results : polars.DataFrame
        The latest of each sample, in ``method.table.RESULTS``.
    releases : tuple of Release
        Those that stand.
    """

    samples: tuple[Sample, ...]
    moistures: tuple[Moisture, ...]
    portions: tuple[PortionWeighed, ...]
    lowerings: tuple[Lowering, ...]
    readings: pl.DataFrame
    results: pl.DataFrame
    releases: tuple[Release, ...]


def open_samples(scope: Scope, since: str, most: int) -> list[str]:
    """Return codes of samples received since a moment [ISO 8601, UTC] that no release stands for."""
    samples, releases = table_of(Sample), table_of(Release)
    released = exists().where(
        releases.c.site_no == samples.c.site_no,
        releases.c.sample == samples.c.key,
        releases.c.status == "released",
    )
    query = (
        select(samples.c.key)
        .where(samples.c.site_no == scope.site_no, samples.c.received_at >= since, ~released)
        .order_by(samples.c.received_at.desc(), samples.c.key)
        .limit(most)
    )
    return [row.key for row in scope.conn.execute(query)]


def of_samples(scope: Scope, model: type[K], samples: Sequence[str]) -> list[K]:
    """Return the kept rows of some samples, in the order in which their keys were given out."""
    table = table_of(model)
    query = select(table.c.key).where(table.c.site_no == scope.site_no, table.c.sample.in_(list(samples)))
    rows = fetch_keys(scope, model, [row.key for row in scope.conn.execute(query)])
    return sorted(rows, key=lambda row: (len(row.key), row.key))


def _latest_results(scope: Scope, samples: Sequence[str]) -> pl.DataFrame:
    stored = {**{name: as_kept(kind) for name, kind in RESULTS.items()}}
    if not samples:
        return pl.DataFrame(schema=RESULTS)
    columns = ", ".join(f't."{name}"' for name in stored)
    marks = ", ".join("?" for _ in samples)
    sql = (
        f"SELECT {columns} FROM results t WHERE t.site_no = ? AND t.sample IN ({marks}) "  # noqa: S608 - our own names
        "AND t.id = (SELECT max(l.id) FROM results l WHERE l.sample = t.sample AND l.site_no = t.site_no)"
    )
    return to_moments(read_frame(scope.conn, sql, (scope.site_no, *samples), stored), RESULTS)


def in_work(scope: Scope, samples: Sequence[str]) -> InWork:
    """Return what is kept of some samples, as the bench needs it."""
    rows = fetch_keys(scope, Sample, samples)
    readings = standing_readings(scope, samples) if samples else pl.DataFrame(schema=JUDGED)
    return InWork(
        tuple(sorted(rows, key=lambda s: (s.received_at, s.key))),
        tuple(of_samples(scope, Moisture, samples)),
        tuple(of_samples(scope, PortionWeighed, samples)),
        tuple(of_samples(scope, Lowering, samples)),
        readings,
        _latest_results(scope, samples),
        tuple(r for r in of_samples(scope, Release, samples) if r.status == "released"),
    )
