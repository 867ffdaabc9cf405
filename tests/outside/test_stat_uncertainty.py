"""Worked uncertainty examples of the GUM, QUAM, GUM Supplement 1 and NPL (secondary copies unless marked).

Data and marks: ``tests/data/checks``. Values marked R there are recalled: those tests say so and claim no
conformity with the document.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from lodestarch.precision.distribution import Distribution
from lodestarch.precision.gum import combine, coverage_factor, propagate
from lodestarch.precision.line import fit_line
from lodestarch.precision.monte_carlo import compare_with_linear, simulate

CHECKS = Path(__file__).resolve().parents[1] / "data" / "checks"
INF = math.inf


def check(name):
    return json.loads((CHECKS / f"{name}.json").read_text())


def h1_model(x):
    l_s, d1, d2, d3, alpha_s, dalpha, bed, cyclic, dtheta = x
    theta = bed + cyclic
    return l_s + (d1 + d2 + d3) - l_s * (dalpha * theta + alpha_s * dtheta)


def test_gum_h1_end_gauge_secondary_copy():
    """GUM (JCGM 100:2008) H.1. Printed 32 nm, nu 16, U99 93 nm; unrounded answers derived."""
    case = check("gum_h1_end_gauge")
    d, expected = case["data"], case["expected"]
    root3, root2 = math.sqrt(3.0), math.sqrt(2.0)
    gap = d["d_nm"]
    x = [d["l_s_nm"]["value"], gap["value"], 0.0, 0.0, 1.15e-5, 0.0, -0.1, 0.0, 0.0]
    u = [
        25.0, gap["u_repeated"], gap["u_comparator_random"], gap["u_comparator_systematic"],
        2e-6 / root3, 1e-6 / root3, 0.2, 0.5 / root2, 0.05 / root3,
    ]  # fmt: skip
    dof = [18.0, 24.0, 5.0, 8.0, INF, 50.0, INF, INF, 2.0]
    got = propagate(h1_model, x, u, dof=dof)
    unrounded = expected["derived"]
    assert got.value == pytest.approx(unrounded["l_nm"], abs=0.5)
    parts = dict(
        zip(
            ["l_s", "rep", "ran", "sys", "alpha", "dalpha", "bed", "cyc", "dtheta"],
            map(abs, got.contribution),
            strict=True,
        )
    )
    assert parts["l_s"] == pytest.approx(unrounded["u_l_s"], rel=1e-4)
    assert parts["dtheta"] == pytest.approx(unrounded["u_dtheta"], rel=1e-6)
    assert parts["dalpha"] == pytest.approx(unrounded["u_dalpha"], rel=1e-6)
    assert parts["alpha"] == pytest.approx(0.0, abs=1e-6)
    assert got.u == pytest.approx(unrounded["u_c_nm"], rel=1e-5)
    assert got.dof == pytest.approx(unrounded["nu_eff"], rel=1e-4)
    printed = expected["printed"]
    assert round(got.u) == printed["u_c_nm"]
    k99 = float(coverage_factor(got.dof, 0.99))
    assert k99 == pytest.approx(unrounded["t_0_995_16"], abs=1e-6)
    assert round(printed["u_c_nm"] * k99) == printed["U99_nm"]
    u_d = combine([5.8, 3.9, 6.7], [24.0, 5.0, 8.0])
    assert float(u_d.u) == pytest.approx(unrounded["u_d_nm"], rel=1e-9)
    assert float(u_d.dof) == pytest.approx(unrounded["nu_d"], rel=1e-9)
    assert round(got.u_second_order) == printed["u_with_second_order_nm"]
    rounded = [25.0, 5.8, 3.9, 6.7, 1.2e-6, 0.58e-6, 0.2, 0.35, 0.029]
    assert propagate(h1_model, x, rounded).u_second_order == pytest.approx(33.8, abs=0.05)


def test_gum_h3_thermometer_line_secondary_copy():
    """GUM (JCGM 100:2008) H.3; unrounded answers derived."""
    case = check("gum_h3_thermometer")
    line = fit_line(case["data"]["t_C"], case["data"]["b_C"], origin=case["data"]["t0_C"])
    unrounded, printed = case["expected"]["derived"], case["expected"]["printed"]
    got = {
        "y1": line.intercept, "u_y1": line.u_intercept, "y2": line.slope, "u_y2": line.u_slope,
        "r": line.correlation, "s": line.residual_sd,
        "b_at_30": line.at(30.0)[0], "u_b_at_30": line.at(30.0)[1],
    }  # fmt: skip
    for key, value in got.items():
        assert value == pytest.approx(unrounded[key], rel=1e-8), key
        digits = {"y1": 4, "u_y1": 4, "y2": 5, "u_y2": 5, "r": 3, "s": 4, "b_at_30": 4, "u_b_at_30": 4}[key]
        assert round(value, digits) == pytest.approx(printed[key]), key
    assert line.residual_sd**2 * line.dof == pytest.approx(unrounded["ssr"], rel=1e-8)
    assert line.dof == printed["dof"]


def test_quam_a1_cadmium_standard_secondary_copy():
    """Eurachem/CITAC CG 4, QUAM:2012, A1; u derived."""
    case = check("quam_a1_cadmium_standard")
    d, want = case["data"], case["expected"]["derived"]
    v = d["V_mL"]
    u_v = [
        v["half_width_triangular_flask"] / math.sqrt(6.0), v["u_fill"],
        v["half_width_rectangular_temperature"] / math.sqrt(3.0),
    ]  # fmt: skip
    got = propagate(
        lambda x: 1000.0 * x[0] * x[1] / (x[2] + x[3] + x[4]),
        [100.28, 0.9999, 100.0, 0.0, 0.0],
        [0.05, d["P"]["half_width_rectangular"] / math.sqrt(3.0), *u_v],
    )
    assert round(got.value, 1) == case["expected"]["printed"]["c_mg_per_L"]
    assert got.u == pytest.approx(want["u"], rel=1e-6)
    m, p, flask, fill, temperature = map(abs, got.contribution)
    assert m == pytest.approx(want["u_from_m"], rel=1e-5)
    assert p == pytest.approx(want["u_from_P"], rel=1e-6)
    assert (flask, fill, temperature) == pytest.approx(
        (want["V_flask"], want["V_fill"], want["V_temperature"]), rel=1e-6
    )


def a3_inputs(d, u_rep):
    root3, root6 = math.sqrt(3.0), math.sqrt(6.0)
    count = {"C": 8, "H": 5, "O": 4, "K": 1}
    weights = d["atomic_weights_half_width_rectangular"]
    molar = sum(n * weights[e][0] for e, n in count.items())
    u_molar = math.sqrt(sum((n * weights[e][1] / root3) ** 2 for e, n in count.items()))
    volumes = [d["V_T2_mL"], d["V_T1_mL"], d["V_HCl_mL"]]
    u_v = [
        math.hypot(v["half_width_triangular"] / root6, v["half_width_rectangular_temperature"] / root3)
        for v in volumes
    ]
    u_mass = d["m_g"]["half_width_rectangular_linearity"] / root3 * math.sqrt(d["m_g"]["count"])
    x = [
        d["m_g"]["value"],
        1.0,
        volumes[0]["value"],
        volumes[1]["value"],
        molar,
        volumes[2]["value"],
        1.0,
        0.0,
        0.0,
    ]
    u = [u_mass, d["P"]["half_width_rectangular"] / root3, u_v[0], u_v[1], u_molar, u_v[2], u_rep, 0.0, 0.0]
    return x, u


def a3_model(x):
    m, p, v_t2, v_t1, molar, v_hcl, rep, excess1, excess2 = x
    return 1000.0 * m * p * (v_t2 - excess2) / ((v_t1 - excess1) * molar * v_hcl) * rep


def test_quam_a3_hydrochloric_acid_secondary_copy():
    """Eurachem/CITAC CG 4, QUAM:2012, A3; the printed u of the indicator case needs repeatability/sqrt 3."""
    case = check("quam_a3_hydrochloric_acid")
    d, want, printed = case["data"], case["expected"]["derived"], case["expected"]["printed"]
    base = propagate(a3_model, *a3_inputs(d, 0.001))
    assert base.value == pytest.approx(want["base_case"]["c_mol_per_L"], rel=1e-8)
    assert base.u == pytest.approx(want["base_case"]["u"], rel=1e-6)
    assert (round(base.value, 5), round(base.u, 6)) == (printed["c_mol_per_L"], printed["u"])
    smaller = propagate(a3_model, *a3_inputs(d, 0.001 / math.sqrt(3.0)))
    assert smaller.u == pytest.approx(want["rep_over_sqrt3"]["u"], rel=1e-6)
    for u_rep, key in (
        (0.001 / math.sqrt(3.0), "indicator_excess_with_rep_over_sqrt3"),
        (0.001, "indicator_excess_with_rep_0.001"),
    ):
        x, u = a3_inputs(d, u_rep)
        excess = d["indicator_excess_mL"]
        x[7] = x[8] = excess["value"]
        u[7] = u[8] = excess["u"]
        got = propagate(a3_model, x, u)
        assert got.value == pytest.approx(want[key]["c_mol_per_L"], rel=1e-8)
        assert got.u == pytest.approx(want[key]["u"], rel=1e-5)


def test_gum_s1_additive_examples_secondary_copy():
    """GUM Supplement 1 (JCGM 101:2008) 9.2.2 and 9.2.3: exact half-widths beside the printed ones."""
    case = check("gums1_9_2_additive")["expected"]
    rng = np.random.default_rng(1)

    def total(x):
        return x.sum(axis=0)

    normal = simulate(total, [Distribution("normal", 0.0, 1.0)] * 4, rng)
    box = simulate(total, [Distribution("rectangular", 0.0, math.sqrt(3.0))] * 4, rng)
    for got, key in ((normal, "case_9_2_2"), (box, "case_9_2_3")):
        exact = case["derived_exact"][key]
        assert got.u == pytest.approx(exact["u"], rel=0.005)
        for end in (got.shortest_high, -got.shortest_low, got.high, -got.low):
            # End points move by about 0.3 % of the width of the interval.
            assert end == pytest.approx(exact["half_width_95"], abs=0.006 * 2 * exact["half_width_95"])
        assert exact["half_width_95"] == pytest.approx(case["printed"][key]["half_width_95"], abs=0.005)


def test_gum_s1_additive_with_one_wide_rectangle_recalled():
    """GUM Supplement 1, 9.2.4: recalled values, a regression check only."""
    case = check("gums1_9_2_additive")["expected"]
    rng = np.random.default_rng(2)
    root3 = math.sqrt(3.0)
    inputs = [Distribution("rectangular", 0.0, root3)] * 3 + [Distribution("rectangular", 0.0, 10.0 * root3)]
    got = simulate(lambda x: x.sum(axis=0), inputs, rng)
    linear = propagate(lambda x: x.sum(axis=0), [0.0] * 4, [d.u for d in inputs])
    assert linear.u == pytest.approx(case["derived_exact"]["case_9_2_4"]["u"], rel=1e-9)
    assert 1.959964 * linear.u == pytest.approx(
        case["derived_exact"]["case_9_2_4"]["gum_half_width_95"], rel=1e-6
    )
    assert got.high == pytest.approx(case["derived_monte_carlo"]["case_9_2_4"]["half_width_95"], abs=0.12)
    assert not compare_with_linear(linear, got).holds


def mass_model(x):
    m_r, dm_r, rho_a, rho_w, rho_r = x
    return (m_r + dm_r) * (1.0 + (rho_a - 1.2) * (1.0 / rho_w - 1.0 / rho_r)) - 100_000.0


def test_gum_s1_mass_calibration_recalled():
    """GUM Supplement 1, 9.3: recalled values. First order misses the buoyancy; second order and simulation
    see it."""
    case = check("gums1_9_3_mass")
    d, want = case["data"], case["expected"]["derived"]
    inputs = [
        Distribution("normal", d["m_R_mg"]["value"], d["m_R_mg"]["u"]),
        Distribution("normal", d["dm_R_mg"]["value"], d["dm_R_mg"]["u"]),
        *(
            Distribution(
                "rectangular", 0.5 * (d[k]["low"] + d[k]["high"]), 0.5 * (d[k]["high"] - d[k]["low"])
            )
            for k in ("rho_a", "rho_W", "rho_R")
        ),
    ]
    linear = propagate(mass_model, [i.centre for i in inputs], [i.u for i in inputs])
    assert linear.value == pytest.approx(1.234, abs=1e-6)
    assert linear.u == pytest.approx(want["first_order_u"], rel=1e-5)
    assert linear.u_second_order == pytest.approx(want["higher_order_u"], rel=2e-3)
    got = simulate(mass_model, inputs, np.random.default_rng(3), block=100_000)
    assert got.u == pytest.approx(want["monte_carlo"]["u"], rel=0.006)
    width = want["monte_carlo"]["shortest_95"][1] - want["monte_carlo"]["shortest_95"][0]
    ends = (got.shortest_low, got.shortest_high)
    assert ends == pytest.approx(want["monte_carlo"]["shortest_95"], abs=0.02 * width)
    assert not compare_with_linear(linear, got).holds


def test_npl_logarithm_of_a_rectangle_secondary_copy():
    """NPL report DEM-ES-011, Table 9.2; exact values derived."""
    case = check("npl_ln_rectangular")["expected"]
    exact, printed = case["derived_exact"], case["printed"]
    x = Distribution("rectangular", 0.6, 0.5)
    linear = propagate(lambda v: np.log(v[0]), [0.6], [x.u])
    assert (linear.value, linear.u) == pytest.approx(
        (exact["first_order"]["value"], exact["first_order"]["u"]), rel=1e-6
    )
    got = simulate(lambda v: np.log(v[0]), [x], np.random.default_rng(4), block=100_000)
    assert got.mean == pytest.approx(exact["mean"], abs=0.003)
    assert got.u == pytest.approx(exact["u"], abs=0.003)
    assert (got.shortest_low, got.shortest_high) == pytest.approx(exact["shortest_95"], abs=0.012)
    assert printed["monte_carlo"]["u"] == pytest.approx(exact["u"], abs=5e-4)
