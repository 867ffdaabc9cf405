"""NIST StRD univariate and one-way sets, the e-Handbook's percentile, and Dyestuff (secondary copies)."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from lodestarch.control.ring_precision import ring_precision
from lodestarch.precision.components import fit_components
from lodestarch.precision.summary import percentile, summarise

CHECKS = Path(__file__).resolve().parents[1] / "data" / "checks"


def check(name):
    return json.loads((CHECKS / f"{name}.json").read_text())


def certified_digits(got, certified):
    """Number of agreeing digits, the log relative error of the StRD."""
    return 15.0 if got == certified else -math.log10(abs(got - certified) / abs(certified))


def test_strd_numacc1_and_numacc2_certified_secondary_copy():
    """NIST Statistical Reference Datasets, univariate."""
    case = check("strd_numacc1")
    got = summarise(case["data"])
    want = case["expected"]["certified"]
    assert (got.n, got.mean, got.sd, got.lag1) == (
        want["n"], want["mean"], want["sd"], want["lag1_autocorrelation"],
    )  # fmt: skip
    case = check("strd_numacc2")
    data = [case["data"]["first"], *(case["data"]["then_repeat_500_times"] * 500)]
    got, want = summarise(data), case["expected"]["certified"]
    assert got.n == want["n"]
    for value, truth in (
        (got.mean, want["mean"]), (got.sd, want["sd"]), (got.lag1, want["lag1_autocorrelation"]),
    ):  # fmt: skip
        assert certified_digits(value, truth) > 13.0


def test_e_handbook_percentile_by_three_definitions_secondary_copy():
    """NIST/SEMATECH e-Handbook 7.2.6.2."""
    case = check("nist_percentile")
    for kind in (6, 7, 8):
        got = percentile(case["data"], 0.9, kind)
        assert got == pytest.approx(case["expected"]["derived"][f"type{kind}"], abs=1e-8)
        assert round(got, 4) == case["expected"]["printed"][f"type{kind}"]


def test_dyestuff_components_secondary_copy_of_the_data():
    """Dyestuff data set of the R package lme4; answers derived."""
    case = check("dyestuff")
    values = [v for batch in case["data"].values() for v in batch]
    labels = [k for k, batch in case["data"].items() for _ in batch]
    got = fit_components(values, [labels], ["batch"])
    want = case["expected"]["derived"]
    batch, residual = got.components
    assert got.mean == pytest.approx(want["mean"], rel=1e-12)
    assert batch.variance == pytest.approx(want["var_between"], rel=1e-8)
    assert batch.sd == pytest.approx(want["s_between"], rel=1e-8)
    assert residual.sd == pytest.approx(want["s_within"], rel=1e-8)


def test_sirstv_residual_sd_certified_secondary_copy():
    """NIST StRD one-way analysis of variance, SiRstv: the components give back both mean squares."""
    case = check("strd_sirstv")
    values = [v for row in case["data"] for v in row]
    labels = [i for i, row in enumerate(case["data"]) for _ in row]
    batch, residual = fit_components(values, [labels], ["instrument"]).components
    want = case["expected"]["certified"]
    assert residual.sd == pytest.approx(want["residual_sd"], rel=1e-7)
    assert 5.0 * batch.variance + residual.variance == pytest.approx(want["ms_between"], rel=1e-7)


def test_sirstv_one_way_analysis_certified_secondary_copy():
    """NIST StRD one-way analysis of variance, SiRstv, by the ring-test formulas: certified digits."""
    case = check("strd_sirstv")
    values = [v for row in case["data"] for v in row]
    labels = [str(i) for i, row in enumerate(case["data"]) for _ in row]
    got, want = ring_precision(labels, values), case["expected"]["certified"]
    assert certified_digits(got.s_r, want["residual_sd"]) > 11.0
    ms_between = 5.0 * got.s_lab**2 + got.s_r**2
    assert certified_digits(ms_between, want["ms_between"]) > 11.0
    assert certified_digits(ms_between / got.s_r**2, want["F"]) > 11.0
    ss_between, ss_within = 4.0 * ms_between, 20.0 * got.s_r**2
    assert certified_digits(ss_between / (ss_between + ss_within), want["R2"]) > 11.0
