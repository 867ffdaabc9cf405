"""Own blends: predicted against measured, and a margin that does what it says."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.method.blend import Lot, blend
from lodestarch.method.reading import Kind
from lodestarch.season.blends import MeasuredBlend, compare_blends


def made(rng, count, bias=-8.0, sd=10.0, offset=50.0):
    out = []
    for i in range(count):
        lots = tuple(
            Lot(float(s), float(m))
            for s, m in zip(rng.uniform(120, 390, 3), rng.uniform(1, 9, 3), strict=True)
        )
        m, s = np.array([lot.mass for lot in lots]), np.array([lot.seconds_s for lot in lots])
        true = offset + m.sum() / np.sum(m / (s - offset))
        out.append(MeasuredBlend(str(i), lots, float(true + bias + rng.normal(0.0, sd))))
    return out


def test_a_blend_is_predicted_as_the_method_room_does():
    lots = (Lot(400.0, 50.0), Lot(220.0, 50.0))
    record = compare_blends([MeasuredBlend("a", lots, 270.0)])
    assert record.lines[0].predicted_s == blend(lots).seconds_s == pytest.approx(278.846, abs=1e-3)
    assert record.margin_s is None
    assert [f.code for f in record.findings] == ["season-blends-few"]


def test_bias_and_spread_are_found():
    record = compare_blends(made(np.random.default_rng(1), 80))
    assert record.bias_s == pytest.approx(-8.0, abs=4 * 10.0 / np.sqrt(80))
    assert record.sd_s == pytest.approx(10.0, rel=0.3)
    assert "season-blend-bias" in {f.code for f in record.findings}


def test_the_next_blend_reaches_its_limit_as_often_as_wanted():
    rng = np.random.default_rng(2)
    reached = []
    for _ in range(300):
        record = compare_blends(made(rng, 8), probability=0.8)
        nxt = made(rng, 1)[0]
        reached.append(nxt.measured_s >= blend(nxt.lots).seconds_s - record.margin_s)
    assert np.mean(reached) == pytest.approx(0.8, abs=0.08)  # 300 draws, 3.5 standard errors


def test_another_offset_is_found_and_used_only_where_it_wins():
    other = compare_blends(made(np.random.default_rng(3), 40, bias=0.0, sd=1.0, offset=10.0))
    assert other.offset_s == pytest.approx(10.0, abs=5.0)
    assert other.use_fitted
    usual = compare_blends(made(np.random.default_rng(4), 40, bias=0.0, sd=5.0))
    assert not usual.use_fitted


def test_bounds_are_shown_and_not_counted_and_bad_blends_are_told():
    lots = (Lot(300.0, 1.0), Lot(62.0, 1.0, Kind.AT_OR_BELOW))
    bad = MeasuredBlend("bad", (Lot(300.0, -1.0),), 300.0)
    record = compare_blends([MeasuredBlend("a", lots, 100.0), bad])
    assert (record.compared, len(record.lines)) == (0, 1)
    assert {"season-blends-bound", "season-blend-unusable"} <= {f.code for f in record.findings}
