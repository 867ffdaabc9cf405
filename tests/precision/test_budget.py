"""The uncertainty budget of a falling number."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.provenance import Provenance
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.precision.budget import budget_of, budgets_of, simulate_budget
from lodestarch.precision.contribution import (
    Contribution,
    from_law,
    input_line,
    not_evaluated,
    other_lab_line,
    place_line,
    storage_line,
    tube_line,
    variance_line,
)
from lodestarch.precision.distribution import Distribution
from lodestarch.precision.gum import combine, coverage_factor
from lodestarch.precision.scatter_fit import fit_scatter
from lodestarch.precision.sensitivity import (
    Sensitivity,
    choose_sensitivity,
    mass_slope,
    moisture_slope,
    pressure_slope,
    water_slope,
)

MINE = Provenance.MEASURED_HERE
LAB = Provenance.ENTERED_BY_LAB


def whole_bench(fit, fn_s=287.0):
    mass = choose_sensitivity([mass_slope(fn_s), Sensitivity(55.0, "g", "tube-model", Provenance.DERIVED)])
    return [
        tube_line(fit, fn_s, 2),
        variance_line("grinding", 2.0, 1, dof=8.0, provenance=MINE),
        variance_line("sampling", math.sqrt(50.0), 7, dof=math.inf, provenance=Provenance.PUBLISHED),
        input_line(
            "moisture", Distribution("rectangular", 0.0, 0.4), choose_sensitivity([moisture_slope(fn_s)]),
            provenance=LAB, exponent=1.86, reference=88.0,
        ),
        input_line(
            "weighing", Distribution("normal", 0.0, 0.01), mass, provenance=LAB, repeats=2, exponent=1.86,
            reference=7.0,
        ),
        input_line(
            "water", Distribution("rectangular", 0.0, 0.1), choose_sensitivity([water_slope(fn_s)]),
            provenance=LAB, repeats=2,
        ),
        input_line(
            "pressure", Distribution("normal", 0.0, 1.0), choose_sensitivity([pressure_slope(fn_s)]),
            provenance=LAB,
        ),
        place_line(1.5, 2, dof=5.0, provenance=MINE),
        other_lab_line(5.0, dof=6.0, provenance=MINE, bias_s=-4.0, u_bias_s=2.0),
        storage_line(20.0, 0.15, 0.05, dof=4.0, provenance=MINE),
    ]  # fmt: skip


@pytest.fixture(scope="module")
def fit():
    rng = np.random.default_rng(1)
    mean = rng.uniform(80, 440, 120)
    return fit_scatter(*(mean + 0.025 * mean * rng.standard_normal(120) for _ in range(2)))


def test_a_whole_budget_adds_in_squares_and_its_shares_to_one(fit):
    lines = whole_bench(fit)
    budget = budget_of(287.0, lines)
    assert budget.u_s == pytest.approx(math.sqrt(sum(c.u_s**2 for c in lines)))
    assert sum(line.share for line in budget.lines) == pytest.approx(1.0)
    assert [line.share for line in budget.lines] == sorted((x.share for x in budget.lines), reverse=True)
    assert budget.expected_s == pytest.approx(287.0 - 4.0 + 3.0)
    assert budget.half_width_s == pytest.approx(budget.k * budget.u_s)
    # Welch-Satterthwaite lies between the smallest dof and their sum.
    assert 4.0 < budget.dof < sum(c.dof for c in lines if math.isfinite(c.dof))


def test_sampling_line_reproduces_the_references_variance_budget():
    # Derived example of the project's reference on statistics, 1.9: tube SD 9 s, probe variance 50 s^2.
    for probes, tubes, expected in ((7, 2, 6.90), (1, 2, 9.51)):
        lines = [
            variance_line("tube", 9.0, tubes, dof=math.inf, provenance=MINE),
            variance_line("sampling", math.sqrt(50.0), probes, dof=math.inf, provenance=MINE),
        ]
        assert budget_of(300.0, lines).u_s == pytest.approx(expected, abs=0.005)


def test_a_line_not_evaluated_stays_open_and_is_never_zero(fit):
    budget = budget_of(287.0, [tube_line(fit, 287.0), not_evaluated("sampling")])
    assert budget.lines[-1].contribution.u_s is None
    assert budget.lines[-1].share is None
    assert [f.code for f in budget.findings] == ["budget-not-evaluated"]
    assert budget.findings[0].values == {"line": "sampling"}
    with pytest.raises(NoAnswer, match="budget-empty"):
        budget_of(287.0, [not_evaluated("tube")])


def test_own_data_come_first_and_the_range_is_kept():
    own = Sensitivity(40.0, "g", "own-data", MINE)
    model = Sensitivity(70.0, "g", "tube-model", Provenance.DERIVED)
    chosen = choose_sensitivity([model, mass_slope(300.0), own])
    assert chosen.used is own
    assert (chosen.least, chosen.most) == (40.0, 70.0)
    line = input_line("weighing", Distribution("normal", 0.0, 0.1), chosen, provenance=LAB)
    assert (line.u_s, line.least_u_s, line.most_u_s) == pytest.approx((4.0, 4.0, 7.0))
    budget = budget_of(300.0, [line])
    assert (budget.least_u_s, budget.most_u_s) == pytest.approx((4.0, 7.0))
    assert [f.code for f in budget.findings] == ["budget-sources-differ"]
    with pytest.raises(OutOfRange):
        choose_sensitivity([own, moisture_slope(300.0)])


def test_simulation_agrees_with_linear_propagation_for_this_bench(fit):
    budget = budget_of(287.0, whole_bench(fit))
    drawn = simulate_budget(budget, np.random.default_rng(2), block=100_000)
    assert drawn.mean == pytest.approx(budget.expected_s, abs=0.1)
    # Lines with few degrees of freedom are drawn as Student's t: the interval comes out wider than the one
    # with effective degrees of freedom, which is why the check is worth making.
    ratio = (drawn.high - drawn.low) / (2 * budget.half_width_s)
    assert 1.0 < ratio < 1.12
    known = budget_of(287.0, [replace(c, dof=math.inf) for c in whole_bench(fit)])
    sharp = simulate_budget(known, np.random.default_rng(2), block=100_000)
    assert sharp.high - sharp.low == pytest.approx(2 * known.half_width_s, rel=0.015)
    assert sharp.u == pytest.approx(known.u_s, rel=0.01)


def test_simulation_sees_what_linear_propagation_misses():
    wide = input_line(
        "weighing", Distribution("normal", 0.0, 1.2), choose_sensitivity([mass_slope(400.0)]),
        provenance=LAB, exponent=1.86, reference=7.0,
    )  # fmt: skip
    budget = budget_of(400.0, [wide])
    drawn = simulate_budget(budget, np.random.default_rng(3))
    # Mean of (1 + d/7)^1.86: second-order term 1.86*0.86/2 (u/7)^2 of 340 s.
    assert drawn.mean - 400.0 == pytest.approx(340.0 * 1.86 * 0.86 / 2 * (1.2 / 7.0) ** 2, rel=0.05)


def test_weighing_of_two_tubes_averages_and_a_meter_does_not():
    slope = choose_sensitivity([mass_slope(300.0)])
    spread = Distribution("normal", 0.0, 0.05)
    one = input_line("weighing", spread, slope, provenance=LAB)
    two = input_line("weighing", spread, slope, provenance=LAB, repeats=2)
    assert one.u_s == pytest.approx(3.19, abs=0.005)  # 0.05 g at 300 s, derived slope of the method reference
    assert two.u_s == pytest.approx(one.u_s / math.sqrt(2.0))


def test_a_frozen_law_gives_a_line_too():
    line = from_law(DEFAULT_SCATTER, 300.0, 2)
    assert line.u_s == pytest.approx(6.0 / math.sqrt(2.0))


def test_many_budgets_at_once_agree_with_one_at_a_time(fit):
    lines = [whole_bench(fit, fn) for fn in (120.0, 287.0, 400.0)]
    table = budgets_of([[c.u_s for c in row] for row in lines], [[c.dof for c in row] for row in lines])
    for i, (row, fn) in enumerate(zip(lines, (120.0, 287.0, 400.0), strict=True)):
        one = budget_of(fn, row)
        assert table.u_s[i] == pytest.approx(one.u_s)
        assert table.dof[i] == pytest.approx(one.dof)
        assert table.half_width_s[i] == pytest.approx(one.half_width_s)
        assert table.share[i].sum() == pytest.approx(1.0)


def test_edges_of_combining():
    nothing = combine([0.0, 0.0], [5.0, 5.0])
    assert float(nothing.u) == 0.0
    assert float(nothing.dof) == math.inf
    assert list(nothing.share) == [0.0, 0.0]
    tiny = combine([1e-120, 1e-120], [4.0, 4.0])
    assert float(tiny.dof) == pytest.approx(8.0)
    assert float(coverage_factor(math.inf)) == pytest.approx(1.959964, abs=1e-6)
    with pytest.raises(OutOfRange):
        combine([-1.0], [5.0])
    with pytest.raises(OutOfRange):
        combine([1.0], [0.0])


def test_impossible_lines_are_refused():
    with pytest.raises(OutOfRange):
        Contribution("tube", math.nan, 5.0, MINE)
    with pytest.raises(OutOfRange):
        variance_line("grinding", 3.0, 0, dof=5.0, provenance=MINE)
    with pytest.raises(OutOfRange):
        storage_line(-1.0, 0.1, 0.1, dof=5.0, provenance=MINE)
    with pytest.raises(OutOfRange):
        budget_of(20.0, [Contribution("tube", 1.0, 5.0, MINE)])
    with pytest.raises(OutOfRange):
        Distribution("normal", 0.0, -1.0)
