"""What the records keep of earlier days: their pairs, their check samples, and what was lowered when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, cast

import polars as pl

from lodestarch.control.day_hold import LOWERINGS, lowerings
from lodestarch.method.table import JUDGED, RESULTS, SAMPLES, empty
from lodestarch.records.unit import View
from lodestarch.work.bench.bench_day_kind import is_bench_day
from lodestarch.work.bench.samples_entered import samples_entered
from lodestarch.work.bench.standing import judge_by
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.quality.control_records import causes_of

__all__ = ["MOST_DAYS", "MOST_READINGS", "Earlier", "earlier_days", "nothing_earlier"]

MOST_DAYS: Final = 60
"""Days looked back over at most: older pairs are of another bench, and a day is read in a moment."""
MOST_READINGS: Final = 20_000
"""Readings after which no further day is opened; pairs beyond some thousands change nothing that shows."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """Earlier days taken together; of what was kept twice the newest counts.

    ``readings``, ``results``, ``samples`` and ``lowered`` are in ``method.table.JUDGED``, ``RESULTS``,
    ``SAMPLES`` and ``control.day_hold.LOWERINGS``; ``causes`` are those recorded for failed checks.
    """

    readings: pl.DataFrame
    results: pl.DataFrame
    samples: pl.DataFrame
    lowered: pl.DataFrame
    causes: dict[str, str]


def nothing_earlier() -> Earlier:
    """Return what a bench without records knows."""
    return Earlier(empty(JUDGED), empty(RESULTS), empty(SAMPLES), empty(LOWERINGS), {})


def earlier_days(
    view: View, without: Sequence[str], *, demonstration: bool | None, in_work: str | None = None
) -> Earlier:
    """Take earlier days together.

    Parameters
    ----------
    view : View
    without : sequence of str
        Samples of the sheet that is being read: what it says of them counts, so that reading a sheet again
        gives the same answer.
    demonstration : bool or None
        Invented days know invented days only, and real ones real ones; ``None``: all of them.
    in_work : str or None
        A day that is not over and is left out.
    """
    parts: dict[str, list[pl.DataFrame]] = {"readings": [], "results": [], "samples": [], "lowered": []}
    causes, book = causes_of(view), book_of(view)
    seen = 0
    theirs = ~pl.col("sample").is_in(list(without))
    days = [
        d
        for d in view.list_days()
        if d.day_id != in_work and (demonstration is None or d.demonstration == demonstration)
    ]
    for line in days[:MOST_DAYS]:
        kept = view.load_day(line.day_id)
        day, codes = kept.parts, kept.parts.readings["sample"].unique(maintain_order=True).to_list()
        readings, results, samples = day.readings, day.results, day.samples
        if is_bench_day(day.summary):
            # A slip that was put right at the bench is another reading under the same key.
            judged = judge_by(view, view.standing_readings(codes), book)
            readings, results, samples = judged.readings, judged.results, samples_entered(view, codes)
        parts["readings"].append(readings.filter(theirs))
        parts["results"].append(results.filter(theirs))
        parts["samples"].append(samples.filter(theirs))
        parts["lowered"].append(lowerings(readings, samples, line.day_id).filter(theirs))
        said = cast("Mapping[str, Any]", day.summary)
        causes = {**dict(said.get("check_causes", {})), **causes}
        seen += readings.height
        if seen >= MOST_READINGS:
            break
    if not seen:
        return nothing_earlier()
    whole = {name: pl.concat(frames) for name, frames in parts.items()}
    return Earlier(
        whole["readings"].unique(["sample", "run", "position"], keep="first", maintain_order=True),
        whole["results"].unique("sample", keep="first", maintain_order=True),
        whole["samples"].unique("sample", keep="first", maintain_order=True),
        whole["lowered"].unique(["sample", "bath", "run_at"], keep="first", maintain_order=True),
        causes,
    )
