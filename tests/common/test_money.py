"""Money as a function of seconds."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.common.money import MoneyBySeconds, constant_money, sum_of_money


def steps(owns: bool = True) -> MoneyBySeconds:
    return MoneyBySeconds(
        np.array([250.0, 300.0]),
        np.array([100.0, 0.0, 200.0]),
        np.array([0.0, 0.5, 0.0]),
        np.array([owns, owns]),
        "USD/t",
    )


@pytest.mark.parametrize(("owns", "at_250", "at_300"), [(True, 125.0, 200.0), (False, 100.0, 150.0)])
def test_a_break_belongs_to_the_side_that_owns_it(owns: bool, at_250: float, at_300: float) -> None:
    got = steps(owns).at(np.array([[249.0, 250.0], [300.0, 301.0]]))
    assert got.tolist() == [[100.0, at_250], [at_300, 200.0]]


def test_sum_is_the_sum_at_every_number() -> None:
    other = MoneyBySeconds(
        np.array([275.0, 300.0]),
        np.array([-3.0, 1.0, 2.0]),
        np.array([0.1, 0.0, 0.0]),
        np.array([False, True]),
        "USD/t",
    )
    x = np.linspace(60.0, 400.0, 3401)
    both = sum_of_money([steps(), other, constant_money(7.0, "USD/t")])
    np.testing.assert_allclose(both.at(x), steps().at(x) + other.at(x) + 7.0, rtol=0, atol=1e-12)


def test_times_and_plus() -> None:
    x = np.array([200.0, 260.0, 320.0])
    np.testing.assert_allclose(steps().times(2.0, "USD").plus(5.0).at(x), 2.0 * steps().at(x) + 5.0)
    assert steps().times(2.0, "USD").unit == "USD"


def test_what_does_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="rise"):
        MoneyBySeconds(np.array([2.0, 1.0]), np.zeros(3), np.zeros(3), np.ones(2, dtype=bool), "USD")
    with pytest.raises(ValueError, match="different sides"):
        sum_of_money([steps(True), steps(False)])
    with pytest.raises(ValueError, match="one unit"):
        sum_of_money([steps(), constant_money(1.0, "USD")])
    with pytest.raises(ValueError, match="finite"):
        constant_money(float("nan"), "USD")
