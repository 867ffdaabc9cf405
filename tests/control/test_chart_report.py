"""Charts of several check materials read whole."""

from __future__ import annotations

import math

import numpy as np
import pytest

from lodestarch.common.errors import LodestarchError
from lodestarch.control.chart_report import read_charts


def codes(x):
    return [f.code for f in x.findings]


def test_each_material_has_its_own_charts_in_order_of_time():
    rng = np.random.default_rng(1)
    low, high = 200 + 3 * rng.standard_normal(25), 350 + 6 * rng.standard_normal(25)
    value = np.column_stack([low, high]).ravel()
    when = [f"2026-08-{1 + i // 2:02d}T06:0{i % 2}" for i in range(50)]
    shuffled = rng.permutation(50)
    report = read_charts(
        value[shuffled], when=[when[i] for i in shuffled], material=np.tile(["low", "high"], 25)[shuffled],
        target=np.tile([200.0, 350.0], 25)[shuffled],
    )  # fmt: skip
    assert [m.material for m in report.materials] == ["low", "high"]
    first = report.materials[0]
    assert first.n == 25
    assert value[shuffled][list(first.rows)] == pytest.approx(low)
    assert first.individuals.baseline.centre == 200.0
    assert first.individuals.z == pytest.approx((low - 200.0) / first.individuals.baseline.sd)
    assert len(first.ewma.ewma) == len(first.cusum.high) == 25
    assert report.run_lengths.in_control > report.run_lengths.shift_1_sd > report.run_lengths.shift_2_sd > 1.0


def test_a_shift_after_the_baseline_breaks_rules_at_its_row():
    rng = np.random.default_rng(2)
    x = 300 + 5 * rng.standard_normal(40)
    x[30:] += 20.0
    report = read_charts(
        x,
        baseline=30,
        when=[f"2026-09-{d:02d}" for d in range(1, 31)] + [f"2026-10-{d:02d}" for d in range(1, 11)],
    )
    broken = [f for f in report.findings if f.code == "chart-rule"]
    assert broken
    assert min(f.where.row for f in broken) in {31, 32, 33}
    assert broken[0].values["when"].startswith("2026-10")
    assert report.materials[0].cusum.began in range(28, 33)


@pytest.mark.parametrize(
    ("value", "code"),
    [
        ([], None),
        ([300.0], "chart-values-few"),
        ([300.0] * 9, "chart-all-equal"),
        ([300.0, math.nan, 310.0, 305.0], "chart-value-missing"),
        ([300.0, -3.0, 310.0, 305.0], "chart-value-negative"),
        ([math.nan, math.nan], "chart-values-few"),
        ([300.0, 306.0, 303.0], "chart-baseline-short"),
    ],
)
def test_awkward_values_give_findings_never_nan(value, code):
    report = read_charts(value)
    assert code is None or code in codes(report)
    for m in report.materials:
        assert m.mean is None or math.isfinite(m.mean)
        if m.individuals is not None:
            assert all(
                math.isfinite(v) for v in (m.individuals.upper, m.individuals.lower_widened, *m.individuals.z)
            )


def test_rows_without_a_time_and_targets_that_differ_are_findings():
    report = read_charts(
        [300.0, 305.0, 302.0, 299.0], when=["2026-08-01", "", "2026-08-02", None], target=[300, 300, 301, 300]
    )
    assert codes(report).count("chart-time-missing") == 2
    assert "chart-targets-differ" in codes(report)
    assert report.materials[0].n == 2
    with pytest.raises(LodestarchError):
        read_charts([1.0, 2.0], when=["2026"])


def test_values_that_hang_together_are_said_to():
    rng = np.random.default_rng(3)
    x = np.zeros(200)
    for i in range(1, 200):
        x[i] = 0.8 * x[i - 1] + rng.standard_normal()
    assert "chart-autocorrelated" in codes(read_charts(300 + 3 * x))
    assert "chart-autocorrelated" not in codes(read_charts(300 + 3 * rng.standard_normal(200)))


def test_a_known_sd_is_used():
    report = read_charts([300.0, 304.0, 320.0], target=[300.0] * 3, sd={"": 5.0})
    assert report.materials[0].individuals.beyond == (2,)
    assert [(s.rule, s.at) for s in report.materials[0].signals] == [("1-3s", 2)]
