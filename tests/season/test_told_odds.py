"""Odds told against second tests: here and elsewhere apart, bounds that do not say left out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from lodestarch.method.reading import Kind
from lodestarch.season.told_odds import Outcome, judge_told, told_by_first


def test_odds_by_a_first_result_are_those_of_two_normal_errors():
    here = told_by_first(Outcome("a", 300.0, 0.0, first_s=310.0, u_s=9.0))
    assert here == pytest.approx(norm.cdf(10.0 / (9.0 * np.sqrt(2.0))), abs=1e-9)
    away = told_by_first(Outcome("a", 300.0, 0.0, lab="X", first_s=310.0, u_s=9.0, lab_sd_s=12.0))
    assert away == pytest.approx(norm.cdf(10.0 / np.hypot(9.0, 12.0)), abs=1e-9)
    assert told_by_first(Outcome("a", 300.0, 0.0, lab="X", first_s=310.0, u_s=9.0)) is None
    assert told_by_first(Outcome("a", 300.0, 0.0, first_s=310.0)) is None


def test_what_does_not_say_is_left_out_and_counted():
    made = judge_told(
        [
            Outcome("met", 250.0, 400.0, Kind.ABOVE, odds=0.9),
            Outcome("low", 250.0, 62.0, Kind.AT_OR_BELOW, odds=0.2),
            Outcome("open", 250.0, 200.0, Kind.ABOVE, odds=0.9),
            Outcome("open", 60.0, 62.0, Kind.AT_OR_BELOW, odds=0.9),
            Outcome("untold", 250.0, 300.0),
        ]
    )  # fmt: skip
    assert [(x.sample, x.met, x.noted) for x in made.lines] == [("met", True, True), ("low", False, True)]
    told = {f.code: f.values.get("count") for f in made.findings}
    assert told["season-odds-open"] == 2
    assert told["season-odds-untold"] == 1


def test_odds_of_a_simulated_bench_come_true_here_and_elsewhere():
    """Truth known: errors as large as stated, true values spread far wider than they are."""
    rng = np.random.default_rng(3)
    n = 1500
    true = rng.uniform(150.0, 450.0, n)
    first = true + rng.normal(0.0, 9.0, n)
    outcomes = [
        Outcome(
            str(i), 300.0, true[i] + rng.normal(0.0, 14.0 if i % 2 else 9.0), lab="X" if i % 2 else "here",
            first_s=first[i], u_s=9.0, lab_sd_s=14.0,
        )
        for i in range(n)
    ]  # fmt: skip
    made = judge_told(outcomes)
    for record in (made.here, made.elsewhere):
        assert record.count == n // 2
        assert record.chance > 0.01
        assert record.brier < record.brier_flat
    assert not made.findings
    # A lab that reads 20 s lower, unknown to the odds, is told.
    lower = [replace(o, lab="X", found_s=o.found_s - 20.0) for o in outcomes]
    assert "season-odds-off" in {f.code for f in judge_told(lower).findings}
