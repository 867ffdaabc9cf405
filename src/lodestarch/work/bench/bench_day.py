"""The day at the bench: opened with the first entry of the day, judged as its readings stand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import polars as pl

from lodestarch.common.findings import Finding
from lodestarch.control.own_precision import with_own_u
from lodestarch.method.judging import Judged
from lodestarch.method.table import JUDGED, READINGS, RESULTS, SAMPLES, empty
from lodestarch.records.day_values import DayParts
from lodestarch.records.tables import Day
from lodestarch.records.unit import Unit, View
from lodestarch.words.catalogues import term
from lodestarch.work.bench.bench_day_kind import AT_THE_BENCH
from lodestarch.work.bench.choices import profile_of_bench
from lodestarch.work.bench.own_law import law_of_bench
from lodestarch.work.bench.standing import judge_by
from lodestarch.work.keeping.profiles import ProfileBook, book_of
from lodestarch.work.quality.check_runs import note_check

__all__ = ["bench_day", "judge_standing", "record_judged"]


def bench_day(unit: Unit, at: datetime) -> str:
    """Return the id of the day at the bench, opened where there is none yet."""
    title = term("bench.day-title", date=f"{at:%Y-%m-%d}")
    kept = unit.all(Day, fingerprint="", title=title)
    if kept:
        return kept[0].key
    return unit.open_day(
        DayParts(
            title=title,
            read_at=at,
            demonstration=False,
            inputs=(),
            profiles=(),
            readings=empty(JUDGED),
            samples=empty(SAMPLES),
            results=empty(RESULTS),
            summary={"kind": AT_THE_BENCH},
        )
    )


def judge_standing(view: View, readings: pl.DataFrame, book: ProfileBook) -> Judged:
    """Judge readings as they stand, of any number of samples, by the lab's own law of scatter."""
    bench = law_of_bench(view, profile_of_bench(view, book), book)
    judged = judge_by(view, readings, book, bench.own.law, bench.laws)
    return replace(judged, results=with_own_u(judged.results, bench.own))


def record_judged(
    unit: Unit, day_id: str, rows: pl.DataFrame, *, reason: str | None, result: bool
) -> tuple[Finding, ...]:
    """Keep readings of one sample with what they are judged to be, and the result where one is due.

    Parameters
    ----------
    unit : Unit
    day_id : str
    rows : polars.DataFrame
        New readings, or other ones under a known key, in ``method.table.READINGS``.
    reason : str or None
        Wanted where the sample is judged already.
    result : bool
        Judge the sample now. Otherwise its readings are kept, and the result waits for the other tube.

    Raises
    ------
    NeedsReason
    """
    sample, key = rows["sample"][0], ["sample", "run", "position"]
    standing = unit.standing_readings([sample]).select(list(READINGS))
    others = standing.join(rows.select(key), on=key, how="anti", maintain_order="left")
    judged = judge_standing(unit, pl.concat([others, rows]), book_of(unit))
    mine = judged.readings.join(rows.select(key), on=key, how="semi", maintain_order="left")
    unit.record_readings(day_id, mine, reason)
    if result:
        unit.record_results(day_id, judged.results)
        note_check(unit, sample, judged)
    return judged.findings
