"""Method comparison: Bland and Altman's peak flow, Ripley and Thompson's arsenate (secondary copies)."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from lodestarch.control.agreement import agreement, repeatability
from lodestarch.control.comparison import compare
from lodestarch.control.structural_lines import deming, known_variances, passing_bablok
from lodestarch.precision.line import fit_line

CHECKS = Path(__file__).resolve().parents[1] / "data" / "checks"


def flow():
    return json.loads((CHECKS / "bland_altman_1986_peak_flow.json").read_text())


def arsenate():
    lines = [x for x in (CHECKS / "arsenate_1987.csv").read_text().splitlines() if not x.startswith("#")]
    rows = list(csv.DictReader(lines))
    return {k: np.array([float(r[k]) for r in rows]) for k in rows[0]}


def test_peak_flow_limits_of_agreement():
    """Bland and Altman 1986, Lancet 327:307-310: data from a secondary copy, printed answers recalled."""
    case = flow()
    d, want, printed = case["data"], case["expected"]["derived_first_readings"], case["expected"]["printed"]
    two = agreement(d["large_meter_1"], d["mini_meter_1"], factor=2.0)
    usual = agreement(d["large_meter_1"], d["mini_meter_1"])
    assert (two.mean, two.sd, two.se) == pytest.approx(
        (want["mean_difference"], want["sd"], want["se"]), rel=1e-8
    )
    assert two.limits == pytest.approx(want["limits_2sd"], rel=1e-8)
    assert usual.limits == pytest.approx(want["limits_1_96sd"], rel=1e-8)
    assert (usual.low, usual.high) == pytest.approx(want["ci95_mean"], rel=1e-8)
    assert usual.se_limit == pytest.approx(want["se_of_limit"], rel=1e-8)
    # The printed intervals are those of the limits at 2 SD.
    assert two.low_limit == pytest.approx(want["ci95_lower_limit"], rel=1e-8)
    assert two.high_limit == pytest.approx(want["ci95_upper_limit"], rel=1e-8)
    assert usual.correlation == pytest.approx(want["correlation"], rel=1e-8)
    # Printed limits use the rounded SD: within 0.1.
    assert two.limits == pytest.approx((printed["lower"], printed["upper"]), abs=0.1)
    assert (round(two.mean, 1), round(two.sd, 1), round(two.se, 1)) == (
        printed["mean_difference"], printed["sd"], printed["se"],
    )  # fmt: skip


@pytest.mark.parametrize("meter", ["large_meter", "mini_meter"])
def test_peak_flow_repeatability(meter):
    """Bland and Altman 1986, secondary copy of the data; answers derived."""
    case = flow()
    got = repeatability(case["data"][f"{meter}_1"], case["data"][f"{meter}_2"])
    want = case["expected"]["derived_repeatability"][meter]
    assert (got.within_sd, got.two_rms) == pytest.approx(
        (want["within_subject_sd"], want["two_rms_difference"]), rel=1e-8
    )


def test_arsenate_lines():
    """Ripley and Thompson 1987, Analyst 112:377, secondary copy; digits beyond the printed ones derived."""
    d = arsenate()
    x, y = d["aas"], d["aes"]
    for got, intercept, slope in (
        (fit_line(x, y), 0.54415, 0.84464),
        (fit_line(y, x), -0.29872, 1.08902),
        (fit_line(x, y, weight=1 / d["se_aes"] ** 2), 0.00506, 0.88952),
        (fit_line(y, x, weight=1 / d["se_aas"] ** 2), -0.16694, 0.63095),
    ):
        assert (got.intercept, got.slope) == pytest.approx((intercept, slope), abs=6e-6)
    functional = known_variances(x, y, d["se_aas"], d["se_aes"])
    assert (functional.intercept, functional.slope) == pytest.approx((0.106448, 0.973000), abs=2e-5)
    assert (functional.intercept, functional.slope) == pytest.approx((0.10645, 0.97299), abs=6e-6)
    line = deming(x, y)
    assert (line.intercept, line.slope) == pytest.approx((0.42940, 0.87595), abs=6e-6)
    pb = passing_bablok(x, y)
    assert (pb.intercept, pb.slope) == pytest.approx((0.42958, 0.84386), abs=6e-6)
    assert (pb.slope_low, pb.slope_high) == pytest.approx((0.75795, 1.05991), abs=6e-6)


def test_the_whole_comparison_gives_the_same_lines():
    d = arsenate()
    whole = compare(d["aas"], d["aes"], u_a=d["se_aas"], u_b=d["se_aes"], margin=2.0)
    assert whole.pairs == 30
    assert whole.passing_bablok == passing_bablok(d["aas"], d["aes"])
    assert whole.deming == deming(d["aas"], d["aes"])
    assert whole.known_variances.slope == pytest.approx(0.973, abs=2e-5)
    assert whole.equivalence.verdict == "equivalent"
