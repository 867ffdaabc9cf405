import math

import numpy as np
import pytest

from lodestarch.common.errors import NoAnswer, OutOfRange, UnknownName
from lodestarch.common.provenance import Provenance
from lodestarch.method.bath import boiling_point_c, pressure_from_elevation_hpa
from lodestarch.tube import kernels
from lodestarch.tube.bench import Bench, Spread, shipped_bench
from lodestarch.tube.budget import STANDARD, Disturbance, budget, contributions
from lodestarch.tube.curves import activity_for
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.grid import FINE
from lodestarch.tube.inputs import VARIED, TubeArrays, TubeInputs
from lodestarch.tube.parameters import shipped_set
from lodestarch.tube.reference import integrate
from lodestarch.tube.sensitivity import elasticities, sensitivities
from lodestarch.tube.standing import Limit
from tube.tables import table

REF = shipped_set()
FREE = TubeInputs(activity=0.0)
LEVELS = (150, 200, 250, 300, 350, 400)


def reads_with_bath(activity, bath_c):
    rows = TubeArrays(activity=activity).rows(REF)
    rows[:, 5] = bath_c
    got = np.empty(1)
    kernels.readings(rows, REF.vector()[None, :], FINE.row(), got)
    return got[0]


CHANGES = {
    "sample +0.05 g": {"mass_g": 7.05},
    "water +0.2 mL": {"water_ml": 25.2},
    "true moisture 1 point lower (mass kept)": {"moisture_pct": 13.0},
    "start 5 C warmer": {"start_temp_c": 27.0},
    "glass wall +0.1 mm": {"wall_mm": 1.5},
    "sample 6 g": {"mass_g": 6.0},
    "sample 5 g": {"mass_g": 5.0},
    "station pressure -25 hPa": {"pressure_hpa": 988.25},
    "station pressure +25 hPa": {"pressure_hpa": 1038.25},
}


@pytest.mark.parametrize("row", table("disturbances.csv"), ids=lambda r: r["disturbance"])
def test_every_disturbance_of_the_table(row):
    name = row["disturbance"]
    for level in LEVELS:
        activity = activity_for(float(level), FREE, REF)
        if name.startswith("bath"):
            got = reads_with_bath(activity, boiling_point_c(1013.25) + float(name.split()[1]))
        else:
            change = CHANGES.get(name)
            if change is None:
                hpa = pressure_from_elevation_hpa(0.3048 * float(name.removesuffix(" ft")))
                change = {"pressure_hpa": hpa}
            got = seconds(TubeArrays(activity=activity, **change), REF, grid=FINE).item()
        assert float(row[str(level)]) == pytest.approx(got - level, abs=0.11), level


def test_elasticities_of_the_reference_set():
    # Derived, in the project's reference on the model; the exponent q is 0 at the standard mass.
    expected = {
        "paste_time_s": 0.50, "cutting_rate_per_s": -0.30, "conductivity_w_mk": -0.14,
        "paste_energy_j_mol": -0.14, "decay_prefactor_per_s": 0.13, "film_inner_w_m2k": -0.07,
        "film_outer_w_m2k": -0.04, "cutting_energy_j_mol": -0.03, "paste_exponent": 0.0,
    }  # fmt: skip
    for one in elasticities(TubeInputs(activity=9.0), REF, tuple(expected)):
        assert expected[one.key] == pytest.approx(one.value, abs=0.006), one.key


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"swell_mid_c": 68.0}, 2.0),
        ({"swell_mid_c": 64.0}, -2.0),
        ({"swell_width_c": 2.0}, -0.3),
        ({"swell_width_c": 4.0}, -0.4),
        ({"swell_time_s": 3.0}, -2.5),
        ({"swell_time_s": 12.0}, 4.0),
        ({"shells": 5.0}, 1.8),
        ({"shells": 20.0}, -0.6),
        ({"shells": 40.0}, -0.7),
    ],
)
def test_what_the_unfixed_choices_do(values, expected):
    other = REF.replaced("other", values, Provenance.DERIVED, "choice")
    got = [seconds(TubeArrays(activity=9.0), p, grid=FINE).item() for p in (other, REF)]
    assert expected == pytest.approx(got[0] - got[1], abs=0.35 if "swell_mid_c" in values else 0.06)


def test_only_the_decay_near_85_matters():
    from lodestarch.tube.kernels import readings

    p = np.array([REF.vector()] * 2)
    p[:, 14] += [20000.0, -20000.0]  # energy of decay; the decay at 85 °C is an input and stays
    got = np.empty(2)
    readings(TubeArrays(activity=np.array([9.0, 9.0])).rows(REF), p, FINE.row(), got)
    assert abs(got[0] - 309.28) < 0.1
    assert abs(got[1] - 309.28) < 0.1


def test_slopes_are_those_of_the_reference_path():
    inputs = TubeInputs(activity=12.0, mass_g=6.8, stir_from_s=4.2)
    slopes = sensitivities(inputs, REF)
    steps = {"mass_g": 0.02, "start_temp_c": 0.5, "wall_mm": 0.02, "pressure_hpa": 2.0}
    for key, step in steps.items():
        ends = []
        for sign in (1.0, -1.0):
            moved = {k: getattr(inputs, k) for k in inputs.__dataclass_fields__}
            moved[key] += sign * step
            ends.append(integrate(TubeInputs(**moved), REF, rtol=1e-11, atol=1e-13).seconds)
        assert (ends[0] - ends[1]) / (2.0 * step) == pytest.approx(slopes.of(key).slope, rel=2e-3), key
    assert set(VARIED) == {row.key for row in slopes.rows}
    assert all(row.error < 1e-3 * abs(row.slope) for row in slopes.rows)


def test_slopes_at_the_ends_of_the_legal_range():
    # Glass and slurry start equally cold: in the first instant it is all the same whether one stirs.
    edge = sensitivities(TubeInputs(activity=5.0, stir_from_s=0.0), REF)
    assert edge.of("stir_from_s").slope == pytest.approx(0.0, abs=1e-3)
    free = sensitivities(FREE, REF).of("activity").slope
    near = sensitivities(TubeInputs(activity=0.3), REF).of("activity").slope
    assert free == pytest.approx(near, rel=0.1)
    top = sensitivities(TubeInputs(activity=600.0, pressure_hpa=1080.0), REF)
    assert top.of("pressure_hpa").slope == pytest.approx(
        sensitivities(TubeInputs(activity=600.0, pressure_hpa=1070.0), REF).of("pressure_hpa").slope, rel=0.2
    )
    with pytest.raises(OutOfRange):
        sensitivities(TubeInputs(activity=9.0, water_ml=0.0), REF)


def test_a_budget_says_which_effects_nobody_has_measured():
    out = budget(300.0, FREE, REF)
    assert len(STANDARD) == len(out.lines)
    assert {"water_ml", "start_temp_c", "stir_from_s", "wall_mm"} == {
        x.key for x in out.lines if not x.measured
    }
    assert Limit.NO_MEASUREMENT in out.limits
    assert Limit.EXPLAINS_ONLY in out.limits
    assert Limit.FLOUR_NOT_MEAL in out.limits
    only = budget(300.0, FREE, REF, (Disturbance("pressure_hpa", 25.0),))
    assert Limit.NO_MEASUREMENT not in only.limits
    assert (only.lines[0].more_s, only.lines[0].less_s) == pytest.approx((-5.9, 6.1), abs=0.06)


def test_a_budget_where_the_model_has_no_answer_is_a_finding():
    assert [f.code for f in budget(450.0, FREE, REF).findings] == ["tube-above-enzyme-free"]
    assert [f.code for f in budget(55.0, FREE, REF).findings] == ["tube-below-reach"]
    assert [f.code for f in budget(300.0, TubeInputs(activity=0.0, water_ml=0.0), REF).findings] == [
        "tube-input-illegal"
    ]
    edge = budget(300.0, TubeInputs(activity=0.0, stir_from_s=0.0), REF)
    line = next(x for x in edge.lines if x.key == "stir_from_s")
    assert line.less_s is None
    assert line.more_s > 0.0


def test_contributions_add_up_in_squares():
    rows, total = contributions(300.0, FREE, REF, shipped_bench())
    assert math.fsum(row.u_s**2 for row in rows) == pytest.approx(total**2)
    by = {row.key: row for row in rows}
    assert 0.05 / math.sqrt(3.0) == pytest.approx(by["mass_g"].u_input)
    assert by["mass_g"].u_s == pytest.approx(by["mass_g"].u_input * by["mass_g"].slope)
    with pytest.raises(NoAnswer):
        contributions(450.0, FREE, REF, shipped_bench())


def test_spreads_refuse_what_they_cannot_be():
    with pytest.raises(UnknownName):
        Spread("luck", "even", 1.0, Provenance.INVENTED)
    with pytest.raises(UnknownName):
        Spread("mass_g", "skew", 1.0, Provenance.INVENTED)
    for width in (0.0, -1.0, math.nan):
        with pytest.raises(OutOfRange):
            Spread("mass_g", "even", width, Provenance.INVENTED)
    with pytest.raises(OutOfRange):
        Spread("activity", "relative_even", 0.9, Provenance.INVENTED)


def test_spreads_draw_what_they_say():
    u = (np.arange(20000) + 0.5) / 20000
    even = Spread("mass_g", "even", 0.05, Provenance.INVENTED)
    assert np.std(even.draw(7.0, u)) == pytest.approx(even.u_at(7.0), rel=1e-3)
    assert np.ptp(even.draw(7.0, u)) == pytest.approx(0.1, rel=1e-3)
    normal = Spread("activity", "relative_normal", 0.1, Provenance.INVENTED)
    assert np.std(normal.draw(20.0, u)) == pytest.approx(2.0, rel=1e-3)
    assert normal.draw(0.0, u).max() == 0.0
    assert Spread("stir_from_s", "normal", 5.0, Provenance.INVENTED).draw(1.0, u).min() == 0.0
    assert isinstance(shipped_bench(), Bench)
