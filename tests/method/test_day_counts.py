from __future__ import annotations

import polars as pl

from bench_day import readings
from lodestarch.method.day_counts import count_day, outcome_of
from lodestarch.method.judging import judge
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile
from lodestarch.method.table import JUDGED, RESULTS, empty

ROWS = [
    {"sample": "stands", "seconds": "287"},
    {"sample": "stands", "seconds": "290"},
    {"sample": "above", "seconds": ">400"},
    {"sample": "above", "seconds": ">400"},
    {"sample": "floor", "seconds": "62"},
    {"sample": "floor", "seconds": "<=62"},
    {"sample": "screen", "seconds": "287", "position": "1"},
    {"sample": "screen at the floor", "seconds": "62", "position": "1"},
    {"sample": "disagrees", "seconds": "250"},
    {"sample": "disagrees", "seconds": "300"},
    {"sample": "half", "seconds": "287"},
    {"sample": "half", "seconds": "290", "set_aside_cause": "leak"},
    {"sample": "slip", "seconds": "28", "position": "1"},
    {"sample": "aside", "seconds": "287", "set_aside_cause": "leak"},
    {"sample": "unknown", "seconds": "287", "profile": "meal-13"},
]
EXPECTED = {
    "stands": "stand",
    "above": "stand",
    "floor": "at_floor",
    "screen": "screen",
    "screen at the floor": "screen",
    "disagrees": "run_again",
    "half": "run_again",
    "slip": "run_again",
    "aside": "no_result",
    "unknown": "run_again",
}


def test_every_sample_has_exactly_one_outcome():
    judged = judge(readings(ROWS), {}, shipped_profile("meal-14"), DEFAULT_SCATTER)
    outcomes = judged.results.select("sample", outcome_of().alias("outcome"))
    assert dict(outcomes.iter_rows()) == EXPECTED
    counts = count_day(judged.results, judged.readings)
    assert (counts.stand, counts.at_floor, counts.screen, counts.run_again, counts.no_result) == (
        2,
        1,
        2,
        4,
        1,
    )
    assert (
        counts.stand + counts.at_floor + counts.screen + counts.run_again + counts.no_result == counts.samples
    )
    assert (counts.samples, counts.readings, counts.set_aside) == (10, 15, 2)


def test_a_day_without_samples_is_all_zero():
    counts = count_day(empty(RESULTS), empty(JUDGED))
    assert (counts.stand, counts.samples, counts.readings) == (0, 0, 0)
    assert isinstance(outcome_of(), pl.Expr)
