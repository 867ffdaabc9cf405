from dataclasses import replace

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.tube.calibration.fit import fit
from lodestarch.tube.calibration.identify import identify, of_slopes
from lodestarch.tube.calibration.observations import Lot, Observation, usable
from lodestarch.tube.calibration.posterior import posterior
from lodestarch.tube.calibration.problem import Problem
from lodestarch.tube.calibration.published import published, target_keys
from lodestarch.tube.calibration.sampler import autocorrelation_time, walk
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.inputs import TubeArrays, TubeInputs
from lodestarch.tube.parameters import LUMPED, set_names, shipped_set
from lodestarch.tube.standing import Limit, Standing
from tube.tables import table

REF = shipped_set()
FREE = TubeInputs(activity=0.0)


def problem_of(params, keys=LUMPED, weights="weight", targets=None):
    pub = published(params, keys=targets, weights=weights)
    return Problem(params, keys, pub.lots, pub.observations)


@pytest.mark.parametrize("row", table("sets.csv"), ids=lambda r: r["set"])
def test_every_shipped_set_is_what_its_targets_give(row):
    names = {"F0-550": "f0-550", "F0-700": "f0-700", "film+": "film-plus", "film-": "film-minus"}
    names |= {"kd+": "kd-plus", "kd-": "kd-minus", "N5": "n5", "N3": "n3", "N2": "n2"}
    params = shipped_set(names.get(row["set"], row["set"]))
    again = fit(problem_of(params), "again")
    for one in again.estimates:
        # The set ref is rounded by hand; the others carry three or four digits.
        assert params[one.name] == pytest.approx(one.value, rel=0.015 if row["set"] == "ref" else 1.2e-3)
    assert float(row["SS"]) == pytest.approx(again.sum_of_squares, abs=8e-4)


def test_refits_at_fixed_softening_turn_the_sign_of_altitude():
    targets = tuple(key for key in target_keys() if key not in {"three-thousand-feet", "ln-law-450"})
    keys = tuple(key for key in LUMPED if key != "paste_energy_j_mol")
    for row in table("altitude_sign.csv"):
        fixed = REF.replaced(
            "fixed", {"paste_energy_j_mol": 1000.0 * float(row["H_kJ_mol"])}, Provenance.DERIVED, "by hand"
        )
        got = fit(problem_of(fixed, keys, targets=targets), "refit").params
        assert float(row["q"]) == pytest.approx(got["paste_exponent"], rel=2e-3)
        assert float(row["t_ref_s"]) == pytest.approx(got["paste_time_s"], rel=2e-3)
        assert float(row["b"]) == pytest.approx(got["cutting_rate_per_s"], rel=2e-3)
        # Rises at meals whose liquefaction number is that of the level.
        for level in (350.0, 300.0, 250.0, 200.0, 150.0):
            activity = 6000.0 / (level - 50.0) - 15.0
            pair = seconds(TubeArrays(activity=activity, pressure_hpa=np.array([908.12, 1013.25])), got)
            assert float(row[f"rise{level:.0f}"]) == pytest.approx(pair[0] - pair[1], abs=0.3)


def test_slopes_in_closed_form_are_differences_of_residuals():
    lots = (
        Lot("a"),
        Lot("b", ln=40.0),
        Lot("mix", parts=(("a", 0.3), ("b", 0.7))),
        Lot("free", activity=0.0),
    )
    runs = (
        Observation("1", "a", FREE, 300.0, 5.0),
        Observation("2", "mix", replace(FREE, mass_g=6.0), 150.0, 5.0),
        Observation("3", "free", FREE, 430.0, 5.0),
        Observation("4", "a", replace(FREE, pressure_hpa=900.0), 25.0, 5.0, less=FREE),
    )
    problem = Problem(REF, LUMPED, lots, runs)
    theta = problem.start() + 0.05
    assert problem.names == (*LUMPED, "lot a")
    closed = problem.jacobian(theta)
    h = 1e-5
    for i in range(theta.size):
        up, down = theta.copy(), theta.copy()
        up[i] += h
        down[i] -= h
        both = problem.residuals(np.array([up, down]))
        np.testing.assert_allclose((both[0] - both[1]) / (2 * h), closed[:, i], rtol=2e-5, atol=1e-6)


def test_the_two_ways_of_predicting_agree():
    slow = problem_of(REF, (*LUMPED, "film_inner_w_m2k"))
    quick = problem_of(REF)
    theta = quick.start() + np.array([0.1, -0.1, 0.05, 0.02])
    longer = np.append(theta, slow.start()[-1])
    np.testing.assert_allclose(slow.seconds(longer[None, :]), quick.seconds(theta[None, :]), atol=5e-3)
    np.testing.assert_allclose(slow.jacobian(longer)[:, :4], quick.jacobian(theta), rtol=2e-3, atol=2e-3)


def bench_runs(rng, truth):
    """Runs of an invented bench: a mass series, inhibitor runs, a pair of pressures, a blend."""
    lots = (Lot("inhibited", activity=0.0), Lot("known", ln=24.0), Lot("sprouted", ln=70.0), Lot("odd"),
            Lot("mix", parts=(("odd", 0.5), ("sprouted", 0.5))))  # fmt: skip
    enzyme = {"inhibited": 0.0, "known": 9.0, "sprouted": 55.0, "odd": 20.0, "mix": 37.5}
    plan = [("inhibited", {}), ("inhibited", {"mass_g": 6.0}), ("mix", {}), ("odd", {"pressure_hpa": 905.0})]
    plan += [(lot, {"mass_g": m}) for lot in ("known", "odd") for m in (7.0, 6.5, 6.0, 5.5, 5.0)]
    plan += [("known", {"pressure_hpa": p}) for p in (950.0, 905.0, 860.0)]
    plan += [("sprouted", {"mass_g": m}) for m in (7.0, 6.0)]
    runs = []
    for i, (lot, change) in enumerate(plan):
        tube = replace(FREE, **change)
        arrays = TubeArrays(activity=enzyme[lot], mass_g=tube.mass_g, pressure_hpa=tube.pressure_hpa)
        read = seconds(arrays, truth).item()
        runs.append(Observation(f"run {i}", lot, tube, read + rng.normal(0.0, 2.0), 2.0))
    return lots, tuple(runs)


def test_a_labs_own_runs_give_its_own_set():
    truth = REF.replaced(
        "truth",
        {
            "paste_exponent": 4.6,
            "paste_energy_j_mol": 92000.0,
            "paste_time_s": 610.0,
            "cutting_rate_per_s": 1e-3,
        },
        Provenance.INVENTED,
        "test",
    )
    lots, runs = bench_runs(np.random.default_rng(3), truth)
    kept, found = usable(runs, lots, REF)
    assert (len(kept), found) == (len(runs), ())
    out = fit(Problem(REF, LUMPED, lots, kept), "bench", source="runs of May")
    assert out.params.standing is Standing.FITTED_HERE
    assert Limit.UNCALIBRATED not in out.limits
    assert out.params.table["paste_time_s"].provenance is Provenance.MEASURED_HERE
    assert out.params.table["paste_time_s"].source == "runs of May"
    assert out.params.table["bore_mm"].provenance is Provenance.PUBLISHED
    assert out.identified.whole
    for one in out.estimates:
        expected = 20.0 if one.name == "lot odd" else truth[one.name]
        assert abs(np.log(one.value / expected)) < 4.0 * one.u_relative
    assert 0.4 < out.scale < 1.6
    assert out.findings == ()
    assert len(out.residuals) == len(runs)


def test_readings_of_lots_with_unknown_enzyme_do_not_tell_it_from_the_cutting_rate():
    lots = (Lot("a"), Lot("b"))
    runs = tuple(
        Observation(f"{lot}{m}", lot, replace(FREE, mass_g=m), s, 2.0)
        for lot, m, s in (("a", 7.0, 300.0), ("a", 6.0, 230.0), ("b", 7.0, 200.0), ("b", 6.0, 160.0))
    )
    out = fit(Problem(REF, ("cutting_rate_per_s",), lots, runs), "x")
    assert not out.identified.whole
    loosest = out.identified.directions[0]
    signs = dict(loosest.parts)
    assert {"cutting_rate_per_s", "lot a", "lot b"} == set(signs)
    # b rises as both enzymes fall: only the products are known.
    assert signs["cutting_rate_per_s"] * signs["lot a"] < 0.0
    assert signs["cutting_rate_per_s"] * signs["lot b"] < 0.0
    assert "tube-fit-underdetermined" in [f.code for f in out.findings]
    assert {one.u_relative for one in out.estimates if one.name in signs} == {None}


def test_readings_alone_do_not_fix_the_softening_and_a_pair_of_pressures_does():
    levels = tuple(key for key in target_keys() if key.startswith("ln-law") and key != "ln-law-450")
    without = identify(problem_of(REF, weights="u", targets=levels), problem_of(REF).start())
    assert not without.whole
    assert "paste_energy_j_mol" in dict(without.directions[0].parts)
    everything = identify(problem_of(REF, weights="u"), problem_of(REF).start())
    assert everything.directions[0].u_log < without.directions[0].u_log


def test_identification_of_slopes_by_hand():
    two = of_slopes(("a", "b"), np.array([[10.0, 10.0], [20.0, 20.0]]))
    assert two.rank == 1
    assert two.directions[0].u_log == np.inf
    assert dict(two.directions[0].parts) in ({"a": 0.707, "b": -0.707}, {"b": 0.707, "a": -0.707})
    assert two.alike[0][:2] == ("a", "b")
    assert two.alike[0][2] == pytest.approx(-1.0, abs=1e-3)
    one = of_slopes(("a", "b"), np.diag([10.0, 4.0]))
    assert one.whole
    assert [d.u_log for d in one.directions] == pytest.approx([0.25, 0.1])
    assert one.alike == ()
    few = of_slopes(("a", "b", "c"), np.array([[10.0, 0.0, 0.0]]))
    assert few.rank == 1


def test_what_cannot_be_fitted_is_refused_or_told():
    with pytest.raises(UnknownName):
        problem_of(REF, ("bore_mm",))
    with pytest.raises(UnknownName):
        published(REF, keys=("moon",))
    with pytest.raises(UnknownName):
        published(REF, weights="guess")
    with pytest.raises(NoAnswer) as none:
        Problem(REF, LUMPED, (), ())
    assert none.value.code == "tube-fit-nothing-to-fit"
    mixed = replace(FREE, origins=(("germination", 0.5), ("fungal", 0.5)))
    run = (Observation("1", "a", mixed, 300.0, 5.0),)
    assert fit(Problem(REF, ("paste_time_s",), (Lot("a", ln=24.0),), run), "x").residuals[0].over_u < 1e-6
    with pytest.raises(NoAnswer) as none:
        Problem(REF, ("film_inner_w_m2k",), (Lot("a", ln=24.0),), run)
    assert none.value.code == "tube-fit-mixed-origins"
    with pytest.raises(OutOfRange):
        fit(problem_of(REF), "x", most_steps=0)


def test_a_fit_that_misses_or_does_not_end_says_so():
    lots = (Lot("a", ln=24.0), Lot("b", ln=40.0))
    runs = (
        Observation("1", "a", FREE, 150.0, 1.0),
        Observation("2", "b", FREE, 320.0, 1.0),
        Observation("3", "a", FREE, 155.0, 1.0),
    )
    poor = fit(Problem(REF, ("paste_time_s",), lots, runs), "poor")
    assert "tube-fit-poor" in [f.code for f in poor.findings]
    cut = fit(Problem(REF, LUMPED, lots, runs), "cut", most_steps=1)
    assert "tube-fit-stopped" in [f.code for f in cut.findings]
    wild = (Observation("1", "a", FREE, 60000.0, 1.0), Observation("2", "a", FREE, 60000.0, 1.0))
    bound = fit(Problem(REF, ("paste_time_s",), lots, wild), "bound")
    assert "tube-fit-at-bound" in [f.code for f in bound.findings]


def test_runs_that_cannot_be_used_are_left_out_and_told():
    lots = (Lot("a", ln=24.0), Lot("twice", ln=24.0, activity=9.0), Lot("bad", activity=-1.0),
            Lot("half", parts=(("a", 0.5),)), Lot("strange", parts=(("z", 1.0),)))  # fmt: skip
    runs = [
        Observation("good", "a", FREE, 300.0, 5.0),
        Observation("lost", "z", FREE, 300.0, 5.0),
        Observation("sure", "a", FREE, 300.0, 0.0),
        Observation("floor", "a", FREE, 61.0, 5.0),
        Observation("dry", "a", replace(FREE, water_ml=0.0), 300.0, 5.0),
        Observation("gap", "a", FREE, float("nan"), 5.0, less=FREE),
        *(Observation(name, name, FREE, 300.0, 5.0) for name in ("twice", "bad", "half", "strange")),
    ]
    kept, found = usable(runs, lots, REF)
    assert [one.key for one in kept] == ["good"]
    by = {(f.where.sample, f.code) for f in found}
    assert by == {
        ("lost", "tube-lot-unknown"), ("sure", "tube-u-not-positive"), ("floor", "tube-run-at-floor"),
        ("dry", "tube-input-illegal"), ("gap", "tube-difference-illegal"), ("twice", "tube-lot-said-twice"),
        ("bad", "tube-lot-illegal"), ("half", "tube-shares-not-one"), ("strange", "tube-lot-unknown"),
    }  # fmt: skip


def test_walkers_sample_a_tilted_normal():
    covariance = np.array([[1.0, 0.95], [0.95, 1.0]]) * np.outer([1.0, 100.0], [1.0, 100.0])
    inverse = np.linalg.inv(covariance)
    rng = np.random.default_rng(8)
    out = walk(
        lambda x: -0.5 * np.einsum("ni,ij,nj->n", x - 3.0, inverse, x - 3.0),
        3.0 + rng.standard_normal((40, 2)), 3000, rng,
    )  # fmt: skip
    draws = out.samples[500:]
    tau = autocorrelation_time(draws).max()
    u = np.sqrt(np.diag(covariance) / (draws[..., 0].size / tau))
    assert (np.abs(draws.reshape(-1, 2).mean(axis=0) - 3.0) < 4.0 * u).all()
    np.testing.assert_allclose(np.cov(draws.reshape(-1, 2).T), covariance, rtol=0.12)
    assert 0.4 < out.accepted < 0.9
    assert out.evaluations == 40 * 3001


def test_walkers_stay_where_a_point_can_be():
    rng = np.random.default_rng(1)
    out = walk(lambda x: np.where(x[:, 0] > 0.0, -x[:, 0], -np.inf), rng.random((20, 1)), 2000, rng)
    assert out.samples.min() > 0.0
    assert out.samples[200:].mean() == pytest.approx(1.0, abs=0.08)


def test_autocorrelation_time_of_a_known_process():
    rng = np.random.default_rng(2)
    x = np.zeros((4000, 10, 1))
    for t in range(1, 4000):
        x[t] = 0.8 * x[t - 1] + rng.standard_normal((10, 1))
    assert autocorrelation_time(x)[0] == pytest.approx(1.8 / 0.2, rel=0.1)
    assert autocorrelation_time(np.ones((100, 4, 1)))[0] == 1.0


@pytest.mark.parametrize(("walkers", "stretch"), [(3, 2.0), (5, 2.0), (8, 1.0)])
def test_walkers_too_few_or_too_bold_are_refused(walkers, stretch):
    with pytest.raises(OutOfRange):
        walk(
            lambda x: -(x**2).sum(axis=1),
            np.zeros((walkers, 2)),
            1,
            np.random.default_rng(0),
            stretch=stretch,
        )


def test_a_posterior_is_the_fit_where_data_are_good():
    truth = REF
    lots, runs = bench_runs(np.random.default_rng(4), truth)
    problem = Problem(REF, LUMPED, lots, runs)
    best = fit(problem, "bench")
    out = posterior(problem, np.random.default_rng(5), centre=best.theta, walkers=20, steps=400)
    slopes = problem.jacobian(best.theta)
    spread = np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes)))
    for i, margin in enumerate(out.margins):
        assert np.log(margin.median) == pytest.approx(best.theta[i], abs=0.5 * spread[i] + 1e-3)
        width = (np.log(margin.high) - np.log(margin.low)) / 3.92
        assert width == pytest.approx(spread[i], rel=0.25)
        assert margin.told > 0.5
    assert out.evaluations == 2 * 20 * 401


def test_where_data_say_nothing_the_prior_comes_back():
    run = (Observation("1", "a", FREE, 300.0, 1e6),)
    problem = Problem(REF, ("paste_exponent",), (Lot("a", ln=24.0),), run)
    prior = {"paste_exponent": 0.3}
    out = posterior(problem, np.random.default_rng(6), prior_u=prior, walkers=20, steps=900)
    (margin,) = out.margins
    assert margin.told == pytest.approx(0.0, abs=0.08)
    assert margin.median == pytest.approx(4.08, rel=0.06)
    short, again = (posterior(problem, np.random.default_rng(6), walkers=4, steps=40) for _ in range(2))
    np.testing.assert_array_equal(short.draws, again.draws)
    assert [f.code for f in short.findings] == ["tube-walk-short"]
    with pytest.raises(OutOfRange):
        posterior(problem, np.random.default_rng(6), steps=3)
    with pytest.raises(OutOfRange):
        posterior(problem, np.random.default_rng(6), prior_u={"paste_exponent": 0.0})


def test_every_set_knows_its_own_targets():
    assert {len(published(shipped_set(name)).observations) for name in set_names()} == {10, 11}
    assert "ln-law-450" in [o.key for o in published(shipped_set("f0-550")).observations]
    assert "ln-law-450" not in [o.key for o in published(REF).observations]
