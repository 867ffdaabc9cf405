from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from lodestarch.precision.mixture import half_width, matching_dof, weighted_quantiles


def test_half_width_of_one_part_is_the_normal_one():
    assert half_width(np.array([[2.0], [5.0]]), np.array([1.0]), 0.95) == pytest.approx([3.919928, 9.79982])


def test_half_width_of_an_inverse_chi_square_mixture_is_students():
    nu = 7
    p = (np.arange(20000) + 0.5) / 20000
    sd = np.sqrt(nu / stats.chi2.ppf(p, nu))
    weight = np.full(p.size, 1.0 / p.size)
    assert half_width(sd[None, :], weight, 0.95)[0] == pytest.approx(stats.t.ppf(0.975, nu), rel=1e-3)


@pytest.mark.parametrize("probability", [0.5, 0.9, 0.99, 0.999])
def test_half_width_solves_its_own_equation_from_either_side(probability):
    sd, weight = np.array([0.1, 1.0, 30.0]), np.array([0.6, 0.3, 0.1])
    h = half_width(sd, weight, probability)
    assert float((weight * (2 * stats.norm.cdf(h / sd) - 1)).sum()) == pytest.approx(probability, abs=1e-9)


def test_matching_dof_inverts_students_factor():
    dof = np.array([1.0, 4.5, 30.0, 400.0])
    assert matching_dof(stats.t.ppf(0.975, dof), 0.95) == pytest.approx(dof, rel=1e-6)
    assert matching_dof(np.array(1.5), 0.95) == pytest.approx(1e6)


def test_quantiles_of_cells_are_those_of_the_curve_they_stand_for():
    x = np.linspace(-6, 6, 97)
    w = np.exp(-0.5 * x * x)
    w /= w.sum()
    cell = np.full(x.size, x[1] - x[0])
    got = weighted_quantiles(x, cell, w, np.array([0.05, 0.5, 0.95]))
    assert got == pytest.approx(stats.norm.ppf([0.05, 0.5, 0.95]), abs=3e-3)
    # Ties, the trap of linear interpolation: two atoms at one place are one atom of their weight.
    twice = weighted_quantiles(
        np.tile(x, 3), np.tile(cell, 3), np.tile(w, 3) / 3, np.array([0.05, 0.5, 0.95])
    )
    assert twice == pytest.approx(got, abs=1e-9)
