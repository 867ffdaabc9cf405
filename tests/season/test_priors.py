"""Priors speak only where they help, and are calibrated; odds against outcomes; the order of fields."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.decide.prior import FlatPrior, NormalPrior
from lodestarch.season.effects import fit_effects
from lodestarch.season.harvest_order import FieldState, harvest_order
from lodestarch.season.odds_record import judge_odds
from lodestarch.season.priors import Offer, blocks_of, judge_priors, prior_for
from lodestarch.season.table import Factor, table_of


def season(seed, variety_sd=40.0, origin_sd=25.0, sd=20.0, n=900):
    rng = np.random.default_rng(seed)
    v, o = rng.integers(0, 8, n), rng.integers(0, 40, n)
    u = rng.normal(0.0, variety_sd, 8) if variety_sd else np.zeros(8)
    w = rng.normal(0.0, origin_sd, 40) if origin_sd else np.zeros(40)
    y = 290.0 + u[v] + w[o] + rng.normal(0.0, sd, n)
    fs = [
        Factor("variety", v, tuple(map(str, range(8)))),
        Factor("origin", o, tuple(f"{i:02d}" for i in range(40))),
    ]
    return table_of(y, fs, floor_s=None, day=np.sort(rng.integers(12000, 12060, n))), u, w


def test_near_priors_win_where_variety_and_place_matter_and_are_calibrated():
    table, u, w = season(1)
    record = judge_priors(table)
    assert record.offer is Offer.NEAR
    assert record.near > record.pooled > record.flat
    count = np.array(record.places)
    assert count.sum() == record.scored
    square = ((count - count.mean()) ** 2 / count.mean()).sum()
    assert square < 27.9  # chi-square with 9 degrees of freedom, one in a thousand
    prior = prior_for(record, fit_effects(table, intervals=False), {"variety": "3", "origin": "07"}, u_s=10.0)
    assert isinstance(prior, NormalPrior)
    assert prior.mean_s == pytest.approx(290.0 + u[3] + w[7], abs=15.0)
    assert 15.0 < prior.sd_s < 21.0  # 20 s within, 10 s of which the bench's


def test_a_level_not_met_leaves_its_whole_spread():
    table, *_ = season(1)
    fitted, record = fit_effects(table, intervals=False), judge_priors(table)
    known = prior_for(record, fitted, {"variety": "3", "origin": "07"})
    new = prior_for(record, fitted, {"variety": "never seen", "origin": "07"})
    assert new.sd_s > known.sd_s + 10.0


def test_where_nothing_is_near_only_the_mean_is_offered():
    offers = {judge_priors(season(seed, variety_sd=0.0, origin_sd=0.0)[0]).offer for seed in range(2, 8)}
    assert offers == {Offer.POOLED}


def test_a_spread_as_wide_as_the_flat_prior_is_silent():
    rng = np.random.default_rng(3)
    y = rng.uniform(60.0, 600.0, 600)
    table = table_of(y, [Factor("v", rng.integers(0, 6, 600), tuple("abcdef"))], floor_s=None)
    record = judge_priors(table)
    assert record.offer is Offer.SILENT
    assert isinstance(prior_for(record, fit_effects(table, intervals=False), {"v": "a"}), FlatPrior)


def test_few_results_are_silent():
    record = judge_priors(season(4, n=25)[0])
    assert (record.offer, record.near) == (Offer.SILENT, None)


def test_no_block_is_predicted_from_its_own_day():
    ordered, parts = blocks_of(season(5)[0])
    for start, stop in parts:
        assert ordered.day[start - 1] < ordered.day[start] <= ordered.day[stop - 1]
    assert parts[-1][1] == ordered.n


def test_odds_that_are_right_and_odds_that_are_not():
    rng = np.random.default_rng(6)
    p = rng.uniform(0.0, 1.0, 600)
    right = judge_odds(p, rng.uniform(size=600) < p)
    assert right.findings == ()
    assert right.brier == pytest.approx(1 / 6, abs=0.02)
    assert all(b.low <= b.said <= b.high or abs(b.came - b.said) < 0.1 for b in right.bins)
    bold = judge_odds(np.clip(p + 0.15, 0.0, 1.0), rng.uniform(size=600) < p)
    assert [f.code for f in bold.findings] == ["season-odds-off"]
    assert [f.code for f in judge_odds([0.5] * 5, [True] * 5).findings] == ["season-odds-few"]


def test_fields_are_placed_by_samples_and_never_without_one():
    fields = [
        FieldState("safe", 100.0, 5.0, 390.0, 20.0, 0.1), FieldState("lost", 100.0, 5.0, 100.0, 20.0, 0.9),
        FieldState("risky", 100.0, 5.0, 320.0, 20.0, 0.6), FieldState("slow", 100.0, 20.0, 320.0, 20.0, 0.6),
        FieldState("none", 500.0, 5.0, None, None, 0.9), FieldState("green", 50.0, 2.0, 300.0, 20.0, 0.5, ripe=False),  # noqa: E501 - a table
    ]  # fmt: skip
    order = harvest_order(fields, limit_s=250.0)
    assert [x.name for x in order.lines] == ["risky", "slow", "safe", "lost"]
    assert {f.code for f in order.findings} == {"season-field-no-sample", "season-field-not-ripe"}
