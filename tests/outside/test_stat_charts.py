"""Control charts against the NIST/SEMATECH e-Handbook (secondary copies) and derived tables."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from lodestarch.control.chart_constants import chart_constants, range_factor
from lodestarch.control.charts import individuals
from lodestarch.control.memory_charts import cusum, ewma
from lodestarch.control.run_length import arl_cusum, arl_ewma, arl_rules, arl_shewhart
from lodestarch.control.runs_rules import runs_rules

CHECKS = Path(__file__).resolve().parents[1] / "data" / "checks"


def check(name):
    return json.loads((CHECKS / f"{name}.json").read_text())


def test_e_handbook_individuals_secondary_copy():
    """NIST/SEMATECH e-Handbook 6.3.2.2."""
    case = check("nist_individuals")
    got, printed, want = individuals(case["data"]), case["expected"]["printed"], case["expected"]["derived"]
    assert got.baseline.centre == pytest.approx(printed["mean"], abs=1e-9)
    assert got.moving_ranges == pytest.approx(want["moving_ranges"])
    assert round(got.moving_range_mean, 4) == printed["mr_mean"]
    assert (round(got.upper, 4), round(got.lower, 4)) == (printed["UCL"], printed["LCL"])
    assert got.moving_range_upper == pytest.approx(want["MR_UCL"], abs=5e-5)
    assert got.in_control is printed["in_control"]


def test_e_handbook_ewma_secondary_copy():
    """NIST/SEMATECH e-Handbook 6.3.2.4; limits are asymptotic, s is given."""
    case = check("nist_ewma")
    d, printed, want = case["data"], case["expected"]["printed"], case["expected"]["derived"]
    got = ewma(d["x"], centre=d["start"], sd=d["s"], weight=d["lambda"])
    assert [round(v, 2) for v in got.ewma] == pytest.approx(printed["ewma"], abs=0.0051)
    assert got.ewma == pytest.approx(want["ewma"], abs=6e-5)
    assert (round(got.upper, 4), got.upper) == (printed["UCL"], pytest.approx(want["UCL"], abs=6e-9))
    assert got.lower == pytest.approx(want["LCL"], abs=6e-9)
    assert bool(got.beyond) is printed["signal"]


def test_e_handbook_cusum_secondary_copy():
    """NIST/SEMATECH e-Handbook 6.3.2.3."""
    case = check("nist_cusum")
    d, want = case["data"], case["expected"]["printed_and_derived"]
    got = cusum(d["x"], target=d["target"], allowance=d["k"], limit=d["h"])
    assert got.high == pytest.approx(want["S_hi"], abs=1e-9)
    assert got.low == pytest.approx(want["S_lo"], abs=1e-9)
    assert [i + 1 for i in got.beyond] == want["signals"]
    assert got.beyond[0] + 1 == want["first_signal"]
    assert got.began == 12  # the thirteenth value, where the printed sum leaves 0


def test_chart_constants_derived():
    """Normal integrals; symbols of ISO 7870-2."""
    lines = [
        x for x in (CHECKS / "control_chart_constants.csv").read_text().splitlines() if not x.startswith("#")
    ]
    for row in csv.DictReader(lines):
        c = chart_constants(int(row["n"]))
        for key in ("d2", "d3", "c4", "A", "A2", "A3", "D3", "D4", "B3", "B4"):
            assert getattr(c, key) == pytest.approx(float(row[key]), abs=1.2e-5), (row["n"], key)
        assert 3.0 / c.d2 == pytest.approx(float(row["three_over_d2"]), abs=1.2e-5)


def test_range_factors_derived():
    got = [range_factor(n) for n in range(2, 11)]
    assert got == pytest.approx([2.772, 3.314, 3.633, 3.858, 4.030, 4.170, 4.286, 4.387, 4.474], abs=6e-4)


SHIFTS = (0.0, 0.5, 1.0, 2.0)


@pytest.mark.parametrize(
    ("arl", "expected", "digits"),
    [
        (arl_shewhart, (370.4, 155.2, 43.9, 6.30), (1, 1, 1, 2)),
        (lambda d: arl_cusum(d, limit=4.0), (167.7, 26.6, 8.38, 3.34), (1, 1, 2, 2)),
        (lambda d: arl_cusum(d, limit=4.77), (368.6, 35.2, 9.92, 3.86), (1, 1, 2, 2)),
        (lambda d: arl_cusum(d, limit=5.0), (465.4, 38.0, 10.4, 4.01), (1, 1, 1, 2)),
        (lambda d: arl_cusum(d, allowance=0.25, limit=8.01), (370.3, 28.8, 11.4, 5.22), (1, 1, 1, 2)),
        (lambda d: arl_ewma(d, weight=0.1, width=2.814), (499.5, 31.3, 10.3, 4.4), (1, 1, 1, 1)),
        (lambda d: arl_ewma(d, weight=0.2, width=2.962), (499.7, 41.8, 10.5, 3.7), (1, 1, 1, 1)),
        (lambda d: arl_ewma(d, weight=0.4, width=3.054), (499.9, 71.2, 14.3, 3.5), (1, 1, 1, 1)),
        (lambda d: arl_ewma(d, weight=0.2, width=2.86), (371.1, 36.2, 9.8, 3.6), (1, 1, 1, 1)),
    ],
)
def test_average_run_lengths_derived(arl, expected, digits):
    """Two-sided, known SD, from zero; tolerance two in the last digit."""
    for shift, want, places in zip(SHIFTS, expected, digits, strict=True):
        assert arl(shift) == pytest.approx(want, abs=2 * 10.0**-places), shift


def test_in_control_rejection_per_run_derived():
    """One normal sequence; the reference counts the pair reaching back to the run before."""
    for n, want in ((2, 0.00539), (4, 0.01076)):
        assert 1.0 - 0.9973002039**n == pytest.approx(want, abs=6e-6)
        assert 1.0 / arl_rules(rules=["1-3s"], controls=n) == pytest.approx(want, abs=6e-6)


@pytest.mark.parametrize(("controls", "want"), [(2, 0.00205), (4, 0.00407)])
def test_in_control_rejection_by_2_2s_derived(controls, want):
    """One normal sequence, pairs reaching back to the run before counted: share of runs with a signal."""
    z = np.random.default_rng(controls).standard_normal(100_000 * controls)
    runs = {s.at // controls for s in runs_rules(z, rules=["2-2s"])}
    error = (want / 100_000) ** 0.5
    assert len(runs) / 100_000 == pytest.approx(want, abs=4 * error)
