"""Load-out: running figures, odds of the end, what to draw, stopping, remedies, replay."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from lodestarch.common.errors import OutOfRange, UnknownName
from lodestarch.plan.loadout.cargo import Asked, Cargo, Judged, Lab, Source, Sublot
from lodestarch.plan.loadout.draw import next_draw, recipes
from lodestarch.plan.loadout.forecast import forecast, known, rest_of
from lodestarch.plan.loadout.remedy import Step, remedies
from lodestarch.plan.loadout.replay import Event, replay
from lodestarch.plan.loadout.running import cumulative_sum, running
from lodestarch.plan.loadout.stopping import stopping

GOOD = Source("1", 6000.0, 330.0, 4.0, 5.0, worth_t=225.0)
FAIR = Source("2", 4000.0, 285.0, 5.0, 8.0, worth_t=205.0)


def cargo(judged: Judged = "composite", *results: float | None, tonnes: float = 5000.0, **more: Any) -> Cargo:
    asked = Asked(judged, 300.0, tonnes, 500.0, sublot_at_least_s=270.0)
    sublots = tuple(Sublot(i, 500.0, {"1": 1.0}, r) for i, r in enumerate(results, 1))
    return replace(Cargo(asked, (GOOD, FAIR), sublots, Lab(8.0), Lab(10.0, -3.0)), **more)


def test_running_figures_of_the_published_sublots() -> None:
    """340, 330, 320, 280, 250: composite 299.113, average 304, least 250 (derived)."""
    rows = running(cargo().asked, cargo("composite", 340, 330, 320, 280, 250).sublots)
    assert rows[-1].composite_s == pytest.approx(299.113, abs=5e-4)
    assert rows[-1].average_s == pytest.approx(304.0)
    assert rows[-1].least_s == 250.0
    assert [r.under_breakpoint for r in rows] == [False, False, False, True, True]
    assert rows[-1].shortfall_s == pytest.approx(70.0)


def test_breakpoint_of_the_load_order_is_the_tolerance() -> None:
    asked = replace(cargo().asked, breakpoint_s=20.0)
    rows = running(asked, cargo("composite", 290, 275, 310, 270).sublots)
    assert [r.shortfall_s for r in rows] == [0.0, 5.0, 0.0, 10.0]
    assert [r.under_breakpoint for r in rows] == [False, True, False, True]


def test_cumulative_sum_as_the_rule_has_it() -> None:
    """7 CFR 42.132-133 (published): c_k = max(0, c_(k-1) + d_k - T) from S, fails above L; by hand."""
    found = cumulative_sum([1, 1, 4, 0, 0, 0, 5], start=1, tolerance=1, limit=3)
    assert list(found.values) == [1, 1, 4, 3, 2, 1, 5]
    assert found.failed_at == 3
    assert cumulative_sum([0, 1], start=0, tolerance=1, limit=2).failed_at is None


def test_untested_sublots_count_as_tonnes_only() -> None:
    rows = running(cargo().asked, cargo("composite", 340, None, None).sublots)
    assert rows[-1].untested_t == 1000.0
    assert rows[-1].composite_s == 340.0
    assert running(cargo().asked, cargo("composite", None).sublots)[0].composite_s is None


def test_odds_of_a_composite_agree_with_the_closed_form() -> None:
    """One bin, nothing tested: LN of the cargo is normal; the report adds the lab (scipy)."""
    c = cargo()
    found = forecast(c, rest_of(c, {"1": 1.0}), np.random.default_rng(1), 100_000)
    to_ln = 6000.0 / 280.0**2
    sd_ln = to_ln * math.hypot(4.0, 5.0 / math.sqrt(10))
    at = np.linspace(-6, 6, 4001)
    fn = 6000.0 / (6000.0 / 280.0 + sd_ln * at) + 50.0 - 3.0
    exact = float(np.sum(norm.pdf(at) * norm.sf((300.0 - fn) / 10.0)) / np.sum(norm.pdf(at)))
    assert found.odds == pytest.approx(exact, abs=4 * found.error)


def test_odds_of_every_sublot_agree_with_the_closed_form() -> None:
    """Uniform 310 s, SD 10, 20 sublots: one in 31 passes (derived in the reference of trade: 0.968 fails)."""
    sure = Source("1", 10_000.0, 310.0, 0.0)
    c = Cargo(Asked("every-sublot", 300.0, 10_000.0, 500.0), (sure,), (), Lab(10.0))
    found = forecast(c, rest_of(c, {"1": 1.0}), np.random.default_rng(2), 100_000)
    assert found.odds == pytest.approx(float(norm.cdf(1.0)) ** 20, abs=4 * found.error)


def test_results_of_loading_count_as_reported_where_they_are_final() -> None:
    c = cargo("weighted-average", *[320.0] * 10, deciding=None)
    found = forecast(c, (), np.random.default_rng(3))
    assert (found.odds, found.figure_s) == (1.0, (320.0, 320.0, 320.0))
    again = forecast(cargo("weighted-average", *[290.0] * 10), (), np.random.default_rng(3))
    assert 0.05 < again.odds < 0.95


def test_what_a_sublot_tells_of_its_bin() -> None:
    """The posterior of one bin from n results: the textbook normal rule, in LN."""
    c = cargo("composite", 310.0, 310.0, 310.0)
    k = known(c)
    prior = (6000 / 280**2 * 4.0) ** 2
    each = (6000 / 280**2 * 5.0) ** 2 + (6000 / 260**2 * 8.0) ** 2
    weight = prior / (prior + each / 3)
    assert k.mean[0] == pytest.approx(6000 / 280 + weight * (6000 / 260 - 6000 / 280), rel=1e-12)
    assert k.cov[0, 0] == pytest.approx(prior * (1 - weight), rel=1e-12)
    assert k.mean[1] == pytest.approx(6000 / 235)


def test_next_draw_spends_the_least_worth_that_keeps_the_odds() -> None:
    c = cargo("composite", 330, 332, 328)
    found = next_draw(c, 0.95, np.random.default_rng(4))
    reach = [r for r in found if r.odds >= 0.95]
    assert reach
    assert found[0] == min(reach, key=lambda r: (r.spends_t, r.fn_s))
    assert found[0].shares.get("2", 0.0) > 0
    assert found[0].spends_t < GOOD.worth_t
    surer = next_draw(c, 0.995, np.random.default_rng(4))[0]
    assert surer.spends_t >= found[0].spends_t


def test_recipes_keep_to_what_the_bins_hold() -> None:
    c = cargo("composite", 330, 330, tonnes=8000.0)
    assert {"1": 1.0} not in list(recipes(c))
    for shares in recipes(c):
        for name, share in shares.items():
            assert share * c.to_load_t <= c.left_t(name) + 1e-6


def test_a_bad_sublot_is_certified_apart_where_it_sinks_the_rest() -> None:
    c = cargo("every-sublot", 330, 240, 331, deciding=None)
    found = remedies(c, 2, {"1": 1.0}, 230.0, 205.0, 210.0, 190.0, 8_000.0, 500.0, np.random.default_rng(5))
    assert found[0].step is Step.CERTIFY_APART
    by = {r.step: r for r in found}
    assert by[Step.LEAVE].odds == 0.0
    assert by[Step.LEAVE].expected == pytest.approx(5000 * 205.0)
    assert by[Step.DISCHARGE].expected == pytest.approx(
        5000 * (by[Step.DISCHARGE].odds * 230 + (1 - by[Step.DISCHARGE].odds) * 205)
        - 8000
        - 500 * (225 - 190)
    )


def test_a_good_sublot_is_left() -> None:
    c = cargo("composite", 330, 329, 331)
    found = remedies(c, 2, {"1": 1.0}, 230.0, 205.0, 210.0, 190.0, 8_000.0, 500.0, np.random.default_rng(6))
    assert found[0].step is Step.LEAVE
    with pytest.raises(OutOfRange, match="number"):
        remedies(c, 9, {"1": 1.0}, 230.0, 205.0, 210.0, 190.0, 0.0, 0.0, np.random.default_rng(6))


def test_stopping_pays_only_where_the_results_can_change_the_draw() -> None:
    unsure = replace(GOOD, u_s=25.0)
    c = cargo("composite", None, None, None, sources=(unsure, replace(FAIR, fn_s=340.0, worth_t=240.0)))
    found = stopping(c, 230.0, 180.0, 1.0, 400.0, np.random.default_rng(7))
    assert found.gain > 0
    assert found.cost == 400.0
    done = stopping(cargo("composite", 330.0), 230.0, 180.0, 1.0, 400.0, np.random.default_rng(7))
    assert (done.gain, done.pays) == (0.0, False)


def test_replay_knows_only_what_was_known_then() -> None:
    c = cargo()
    events = [
        Event("loaded", 1, 500.0, {"1": 1.0}),
        Event("loaded", 2, 500.0, {"1": 1.0}),
        Event("result", 1, result_s=262.0),
        Event("result", 2, result_s=258.0),
    ]
    moments = replay(c, events, {"1": 1.0}, np.random.default_rng(8))
    assert [m.figures.untested_t for m in moments] == [500.0, 1000.0, 500.0, 0.0]
    assert moments[1].odds == pytest.approx(moments[0].odds, abs=0.03)
    assert moments[3].odds < moments[2].odds < moments[1].odds - 0.02
    assert replay(c, events[:3], {"1": 1.0}, np.random.default_rng(8)) == moments[:3]


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(UnknownName, match="clause"):
        Asked("by-eye", 300.0, 1.0, 1.0)  # type: ignore[arg-type]
    with pytest.raises(UnknownName, match="sublot_at_least_s"):
        Asked("average-with-sublot-minimum", 300.0, 1.0, 1.0)
    with pytest.raises(OutOfRange, match="shares"):
        Sublot(1, 500.0, {"1": 0.7})
    with pytest.raises(OutOfRange, match="result_s"):
        Sublot(1, 500.0, {"1": 1.0}, 40.0)
    with pytest.raises(OutOfRange, match="fn_s"):
        Source("1", 1.0, math.nan, 1.0)
    with pytest.raises(OutOfRange, match="sd_s"):
        Lab(0.0)
