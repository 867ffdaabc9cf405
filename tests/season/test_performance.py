"""The lab's own weeks, counted."""

from __future__ import annotations

from datetime import date

import polars as pl

from lodestarch.season.performance import TESTED, performance


def bench_rows(*rows):
    names = list(TESTED)
    return pl.DataFrame([dict(zip(names, r, strict=True)) for r in rows], schema=TESTED)


def test_weeks_count_pairs_and_checks():
    first, second = date(2030, 8, 6), date(2030, 8, 13)
    frame = bench_rows(
        ("a", "d1", "load", first, "preliminary", "agrees", 0, 0, 2),
        ("b", "d1", "load", first, "held", "disagrees", 0, 2, 2),
        ("c", "d1", "check", first, "preliminary", "agrees", 0, 0, 2),
        ("c", "d2", "check", second, "preliminary", "agrees", 0, 0, 2),
        ("e", "d2", "load", None, "screen", "not judged", 1, 0, 1),
    )
    made = performance(frame, {("d2", "c")})
    assert [w.monday is None for w in made.weeks] == [False, False, True]
    week = made.weeks[0]
    assert (week.samples, week.pairs, week.disagreed, week.again, week.held) == (3, 3, 1, 2, 1)
    assert [(w.checks, w.checks_off) for w in made.weeks] == [(1, 0), (1, 1), (0, 0)]
    assert (made.whole.samples, made.whole.one_tube, made.whole.set_aside) == (5, 1, 1)
    assert made.findings == ()


def test_without_check_samples_it_says_so():
    made = performance(bench_rows(("a", "d", "load", None, "preliminary", "agrees", 0, 0, 2)), ())
    assert [f.code for f in made.findings] == ["season-lab-no-checks"]
