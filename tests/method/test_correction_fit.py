from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer
from lodestarch.method.bath import STANDARD_HPA
from lodestarch.method.correction_fit import fit_pressure_effect

TRUE_PER_KPA = 0.0087


def pairs(rng, n, *, cv=0.02, c=TRUE_PER_KPA):
    """Samples read at two pressures by FN (1 - c x), each reading with its own scatter."""
    level = rng.uniform(150.0, 380.0, n)
    p1, p2 = rng.uniform(985.0, 1025.0, n), rng.uniform(880.0, 930.0, n)
    first, second = (
        level * (1.0 - c * (p - STANDARD_HPA) / 10.0) * (1.0 + cv * rng.standard_normal(n)) for p in (p1, p2)
    )
    return first, p1, second, p2


def test_without_scatter_the_effect_comes_back_to_first_order():
    fit = fit_pressure_effect(*pairs(np.random.default_rng(1), 50, cv=0.0))
    # ln((1 - c x2)/(1 - c x1)) is -c (x2 - x1) but for a second-order part of c x/2, here under 6 %.
    assert fit.per_kpa == pytest.approx(TRUE_PER_KPA, rel=0.06)
    assert fit.seconds_per_kpa_at_300 == pytest.approx(300.0 * fit.per_kpa)


def test_the_interval_holds_the_truth_about_nineteen_times_in_twenty():
    rng = np.random.default_rng(20260501)
    fits = [fit_pressure_effect(*pairs(rng, 12)) for _ in range(400)]
    held = sum(f.low_per_kpa <= TRUE_PER_KPA <= f.high_per_kpa for f in fits)
    assert 0.90 <= held / 400 <= 0.985
    assert np.mean([f.per_kpa for f in fits]) == pytest.approx(TRUE_PER_KPA, rel=0.06)
    assert np.mean([f.u_per_kpa for f in fits]) == pytest.approx(np.std([f.per_kpa for f in fits]), rel=0.15)


def test_the_interval_is_students_with_one_less_than_the_pairs():
    first, p1, second, p2 = pairs(np.random.default_rng(9), 7)
    fit = fit_pressure_effect(first, p1, second, p2)
    x, y = (p2 - p1) / 10.0, np.log(second / first)
    slope, *_ = np.linalg.lstsq(x[:, None], y, rcond=None)
    u = float(np.sqrt(np.sum((y - slope[0] * x) ** 2) / 6.0 / np.sum(x**2)))
    assert fit.per_kpa == pytest.approx(-slope[0], rel=1e-9)
    assert fit.u_per_kpa == pytest.approx(u, rel=1e-9)
    assert fit.high_per_kpa - fit.per_kpa == pytest.approx(2.4469 * u, rel=1e-4)  # t table: 97.5 %, 6


def test_no_effect_gives_an_interval_around_zero_and_more_pairs_a_narrower_one():
    few = fit_pressure_effect(*pairs(np.random.default_rng(3), 8, c=0.0))
    many = fit_pressure_effect(*pairs(np.random.default_rng(3), 200, c=0.0))
    assert few.low_per_kpa < 0.0 < few.high_per_kpa
    assert many.u_per_kpa < few.u_per_kpa / 3.0
    assert (few.pairs, many.pairs) == (8, 200)


def test_the_order_of_the_two_pressures_does_not_matter():
    first, p1, second, p2 = pairs(np.random.default_rng(4), 30)
    there, back = fit_pressure_effect(first, p1, second, p2), fit_pressure_effect(second, p2, first, p1)
    assert back.per_kpa == pytest.approx(there.per_kpa, rel=1e-12)
    assert back.u_per_kpa == pytest.approx(there.u_per_kpa, rel=1e-12)


def test_four_pairs_are_too_few():
    with pytest.raises(NoAnswer) as met:
        fit_pressure_effect(*pairs(np.random.default_rng(5), 4))
    assert (met.value.code, met.value.values) == ("fit-too-few", {"pairs": 4, "needed": 5})


def test_pressures_that_hardly_differ_show_no_effect():
    rng = np.random.default_rng(6)
    with pytest.raises(NoAnswer, match="fit-no-span"):
        fit_pressure_effect(
            rng.uniform(250, 300, 9), np.full(9, 1000.0), rng.uniform(250, 300, 9), np.full(9, 1005.0)
        )


@pytest.mark.parametrize("column", range(4))
@pytest.mark.parametrize("value", [0.0, -300.0, np.nan, np.inf])
def test_values_that_are_not_above_zero_are_refused(column, value):
    columns = [np.array(c) for c in pairs(np.random.default_rng(7), 6)]
    columns[column][2] = value
    with pytest.raises(NoAnswer, match="fit-values"):
        fit_pressure_effect(*columns)
