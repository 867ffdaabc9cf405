"""The two tubes of the page, and what its script is sent."""

from __future__ import annotations

import json

import pytest

from lodestarch.words.drawing.tube_cut import stroke_share
from lodestarch.work.tube.as_json import history_as_dict
from lodestarch.work.tube.pair import fields_of, moment_of, other_ways, pair_as_dict, run_pair, shape_of
from lodestarch.work.tube.typed import typed_run


def test_missing_fields_are_those_of_the_standard_tube_and_of_a_little_sprout():
    first, second = fields_of({"b_mass_g": " 6.60 ", "a_water_ml": "", "nonsense": "1", "c_mass_g": "9"})
    assert first == {
        "enzyme": "0 %", "mass_g": "7.00", "moisture_pct": "14", "water_ml": "25", "start_temp_c": "22",
        "place": "0 m",
    }  # fmt: skip
    assert second == {**first, "enzyme": "5 %", "mass_g": "6.60"}


def test_the_standard_fields_are_the_standard_tube():
    pair = run_pair(fields_of({"a_enzyme": "LN 24"}))
    assert pair.answers[0].history.seconds == pytest.approx(309.3, abs=0.05)
    assert pair.end_s == pytest.approx(pair.answers[0].history.seconds)


def test_a_tube_that_cannot_be_leaves_the_other_alone():
    pair = run_pair(fields_of({"b_water_ml": "0", "b_moisture_pct": "40"}))
    assert pair.histories[0] is not None
    assert pair.histories[1] is None
    assert {f.where.field for f in pair.answers[1].findings} == {"water_ml", "moisture_pct"}
    assert pair_as_dict(pair)["tubes"][1]["history"] is None
    both = run_pair(fields_of({"a_water_ml": "0", "b_water_ml": "0"}))
    assert both.end_s == 0.0


@pytest.mark.parametrize("said", ["5 %", "LN 29.6727409", "259.8186 s"])
def test_the_same_enzyme_by_every_way_is_the_same_tube(said):
    ways = other_ways(typed_run({"enzyme": said, "place": "914 m"}))
    assert ways["share_pct"] == pytest.approx(5.0, abs=1e-3)
    assert ways["ln"] == pytest.approx(29.6727, abs=1e-3)
    assert ways["reads_s"] == pytest.approx(259.82, abs=0.01)
    assert ways["hpa"] == pytest.approx(908.2, abs=0.1)
    assert ways["m"] == 914.0


def test_a_pressure_has_its_elevation_and_grain_beyond_sprouted_has_no_share():
    ways = other_ways(typed_run({"enzyme": "LN 300", "place": "908.16 hPa"}))
    assert ways["m"] == pytest.approx(914.0, abs=0.5)
    assert "share_pct" not in ways
    assert other_ways(typed_run({"enzyme": "130 %"})) == {}


def test_a_moment_is_read_off_the_history():
    h = typed_run({"enzyme": "5 %"}).history
    row = 300
    at = float(h.time_s[row])
    now = moment_of(h, at)
    assert now.temp_c == h.temp_c[row].tolist()
    assert now.cuts == h.cuts[row].tolist()
    assert now.down == h.share_fallen[row]
    half = moment_of(h, 0.5 * float(h.time_s[row] + h.time_s[row + 1]))
    assert half.down == pytest.approx(0.5 * float(h.share_fallen[row] + h.share_fallen[row + 1]))
    assert half.temp_c == pytest.approx((0.5 * (h.temp_c[row] + h.temp_c[row + 1])).tolist())
    assert moment_of(h, 20.25).down == stroke_share(20.25, 2.0, 5.0, 59.0) == 0.5 * 2.0
    assert moment_of(h, -1.0).temp_c == h.temp_c[0].tolist()
    assert moment_of(h, 9e9).down == pytest.approx(1.0)
    assert shape_of(h).shells == len(h.weights)


def test_thinned_rows_are_rows_of_the_history():
    h = typed_run({"enzyme": "5 %"}).history
    whole, thin = history_as_dict(h), history_as_dict(h, every_s=2.0)
    assert len(thin["time_s"]) < 0.4 * len(whole["time_s"])
    assert max(b - a for a, b in zip(thin["time_s"], thin["time_s"][1:], strict=False)) <= 2.001
    assert (thin["time_s"][0], thin["time_s"][-1]) == (0.0, whole["time_s"][-1])
    # Where a phase begins, both rows are kept.
    assert thin["time_s"].count(60.0) == 2
    rows = {(t, p): i for i, (t, p) in enumerate(zip(whole["time_s"], whole["phase"], strict=True))}
    for i, key in enumerate(zip(thin["time_s"], thin["phase"], strict=True)):
        assert thin["temp_c"][i] == whole["temp_c"][rows[key]]
        assert thin["share_fallen"][i] == whole["share_fallen"][rows[key]]


def test_what_is_sent_is_small_and_holds_no_nan():
    text = json.dumps(pair_as_dict(run_pair(fields_of({}))), allow_nan=False)
    assert len(text) < 200_000
