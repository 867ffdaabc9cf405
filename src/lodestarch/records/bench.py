"""Readings and results that come one by one from the bench, beside those that come by the sheet."""

from __future__ import annotations

import polars as pl
from sqlalchemy import func, select

from lodestarch.common.canonical import Json
from lodestarch.common.errors import UnknownName
from lodestarch.method.table import JUDGED, RESULTS, conform
from lodestarch.records.bulk import insert_frame
from lodestarch.records.day_frames import BULK, IDS_A_DAY, prepare, storable
from lodestarch.records.day_values import DayParts
from lodestarch.records.days import new_day, sort_out, superseded
from lodestarch.records.edits import require_reason
from lodestarch.records.kept import fetch
from lodestarch.records.lines import canonical_lines
from lodestarch.records.log import Entry
from lodestarch.records.scope import Scope
from lodestarch.records.tables import Day, Reading, Result

__all__ = ["open_day", "record_readings", "record_results"]


def open_day(scope: Scope, parts: DayParts) -> tuple[str, Entry]:
    """Open a day at the bench, empty as yet; return its id and what the log says."""
    day, change = new_day(scope, parts, "")
    return day.key, Entry("day.opened", f"days:{day.key}", {"changes": [change], "day": day.key})


def _day_no(scope: Scope, day_id: str) -> int:
    day = fetch(scope, Day, day_id)
    if day is None:
        raise UnknownName("day", day_id, ())
    return day.day_no


def _next_number(scope: Scope, model: type[Reading | Result], day_no: int) -> int:
    low = day_no * IDS_A_DAY
    last = scope.conn.execute(
        select(func.max(model.id)).where(model.id >= low, model.id < low + IDS_A_DAY)
    ).scalar()
    return 1 if last is None else int(last) - low + 1


def record_readings(scope: Scope, day_id: str, readings: pl.DataFrame, reason: str | None) -> list[Entry]:
    """Keep readings from the bench, or what takes the place of earlier ones.

    Parameters
    ----------
    scope : Scope
    day_id : str
        A day opened at the bench.
    readings : polars.DataFrame
        In ``method.table.JUDGED``; ``row`` is given here. A row under a known key with another text takes
        the place of what is kept, which stays as an earlier revision; with the same text it changes nothing.
    reason : str or None
        Wanted where such a sample is judged already.

    Raises
    ------
    NeedsReason
    """
    day_no = _day_no(scope, day_id)
    frame = storable(conform(readings, JUDGED))
    fates = sort_out(scope, frame, take=True)
    goes_in = fates["fate"].is_in(["new", "taken"])
    for sample in frame.filter(fates["fate"] == "taken")["sample"].unique(maintain_order=True):
        require_reason(scope, sample, reason)
    mine, place = frame.filter(goes_in), fates.filter(goes_in)
    if mine.height == 0:
        return []
    first = _next_number(scope, Reading, day_no)
    mine = mine.with_columns(row=pl.int_range(first, first + mine.height, dtype=pl.Int64))
    lines = canonical_lines(mine.select(BULK["readings"].plain))
    rows = mine.with_columns(revision=(place["revision"] + 1).fill_null(0))
    ready = prepare(BULK["readings"], rows, lines, day_no, scope.site_no, None)
    insert_frame(scope.conn, "readings", ready.rows)
    data: dict[str, Json] = {"day": day_id, "bulk": {"readings": ready.said}}
    if (place["fate"] == "taken").any():
        data["superseded"] = superseded(mine, place)
    subject = mine["sample"].unique(maintain_order=True)
    about = f"samples:{subject[0]}" if subject.len() == 1 else f"days:{day_id}"
    return [Entry("readings.recorded", about, data, reason)]


def record_results(scope: Scope, day_id: str, results: pl.DataFrame) -> list[Entry]:
    """Keep what the readings of samples say by now; earlier results stay as earlier versions."""
    day_no = _day_no(scope, day_id)
    frame = storable(conform(results, RESULTS))
    if frame.height == 0:
        return []
    ready = prepare(
        BULK["results"],
        frame,
        canonical_lines(frame),
        day_no,
        scope.site_no,
        _next_number(scope, Result, day_no),
    )
    insert_frame(scope.conn, "results", ready.rows)
    about = f"samples:{frame['sample'][0]}" if frame.height == 1 else f"days:{day_id}"
    return [Entry("results.judged", about, {"day": day_id, "bulk": {"results": ready.said}})]
