"""What holds for any tube."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.tube.ensemble import seconds, seconds_with_error
from lodestarch.tube.history import FALLING, run
from lodestarch.tube.inputs import LEGAL, TubeArrays, TubeInputs
from lodestarch.tube.legal import check
from lodestarch.tube.parameters import shipped_set
from lodestarch.tube.questions.blend import blends

REF = shipped_set()


def within(key, low=None, high=None):
    ends = LEGAL[key]
    return st.floats(ends[0] if low is None else low, ends[1] if high is None else high)


LEGAL_TUBES = st.fixed_dictionaries({key: within(key) for key in LEGAL if key != "ln"})
WORKING_TUBES = st.fixed_dictionaries(
    {
        "activity": within("activity", 0.0, 300.0),
        "mass_g": within("mass_g", 4.0, 10.0),
        "moisture_pct": within("moisture_pct", 8.0, 20.0),
        "water_ml": within("water_ml", 22.0, 28.0),
        "start_temp_c": within("start_temp_c", 10.0, 35.0),
        "pressure_hpa": within("pressure_hpa", 750.0, 1050.0),
        "wall_mm": within("wall_mm", 1.0, 2.0),
        "stir_from_s": within("stir_from_s", 0.0, 20.0),
        "decay_85_per_s": within("decay_85_per_s", 0.003, 0.06),
    }
)


def read(tube, **other):
    return seconds(TubeArrays(**(tube | other)), REF).item()


@given(LEGAL_TUBES)
@settings(max_examples=150, deadline=None)
def test_any_legal_tube_reads_a_finite_number_above_the_stirring_time(tube):
    got = read(tube)
    assert np.isfinite(got)
    assert got >= 61.499


@given(LEGAL_TUBES)
@settings(max_examples=60, deadline=None)
def test_the_grid_is_fine_enough_for_any_legal_tube(tube):
    got, error = seconds_with_error(TubeArrays(**tube), REF)
    # 0.1 s is asked for in the working range; slow falls in stiff charges are held relatively.
    assert error < max(0.1, 1e-3 * got)


@given(WORKING_TUBES, st.floats(0.02, 0.5))
@settings(max_examples=80, deadline=None)
def test_more_enzyme_never_lengthens_and_more_stability_never_either(tube, more):
    base = read(tube)
    assert read(tube, activity=tube["activity"] * (1.0 + more) + more) <= base + 1e-3
    assert read(tube, decay_85_per_s=tube["decay_85_per_s"] * (1.0 + more)) >= base - 1e-3


@given(WORKING_TUBES, st.floats(0.05, 1.0))
@settings(max_examples=60, deadline=None)
def test_without_enzyme_more_meal_is_stiffer_and_more_water_thinner(tube, more):
    free = tube | {"activity": 0.0}
    base = read(free)
    assert read(free, mass_g=free["mass_g"] + more) >= base - 1e-3
    assert read(free, water_ml=free["water_ml"] + more) <= base + 1e-3


@given(WORKING_TUBES)
@settings(max_examples=25, deadline=None)
def test_a_history_keeps_its_bounds(tube):
    inputs = TubeInputs(**tube)
    assert check(inputs, REF) == ()
    h = run(inputs, REF, step_s=1.0).history
    assert h.temp_c.min() >= tube["start_temp_c"] - 1e-9
    assert h.temp_c.max() <= h.bath_c + 1e-9
    for rows in (h.swollen, h.enzyme_left):
        assert rows.min() >= 0.0
        assert rows.max() <= 1.0 + 1e-9
    falling = h.phase == FALLING
    assert (np.diff(h.enzyme_left[falling], axis=0) <= 1e-12).all()
    assert (np.diff(h.cuts, axis=0)[falling[1:] & falling[:-1]] >= -1e-12).all()
    assert abs(h.seconds - read(tube)) < 0.05 or not h.complete


@given(st.lists(WORKING_TUBES, min_size=2, max_size=20), st.randoms(use_true_random=False))
@settings(max_examples=20, deadline=None)
def test_the_order_of_tubes_changes_no_bit(tubes, random):
    order = list(range(len(tubes)))
    random.shuffle(order)
    columns = {key: np.array([tube[key] for tube in tubes]) for key in tubes[0]}
    shuffled = {key: column[order] for key, column in columns.items()}
    np.testing.assert_array_equal(
        seconds(TubeArrays(**columns), REF)[order], seconds(TubeArrays(**shuffled), REF)
    )


@given(st.floats(70.0, 420.0), st.floats(70.0, 420.0), st.floats(0.0, 1.0))
@settings(max_examples=40, deadline=None)
def test_a_blend_lies_within_its_parts(first_s, second_s, share):
    (row,) = blends(first_s, second_s, (share,), TubeInputs(activity=0.0), REF).rows
    low, high = min(first_s, second_s), max(first_s, second_s)
    assert low - 1e-6 <= row.model_s <= high + 1e-6
    assert row.model_s <= row.mean_s + 1e-6


@given(st.sampled_from(sorted(LEGAL)), st.floats(allow_nan=True, allow_infinity=True))
@settings(max_examples=200, deadline=None)
def test_any_number_at_all_gives_a_reading_or_a_finding(key, value):
    tube = TubeInputs(**({"activity": 9.0} if key not in {"activity", "ln"} else {}) | {key: value})
    outcome = run(tube, REF, step_s=5.0)
    assert (outcome.history is None) == any(f.severity == "stop" for f in outcome.findings)
    if outcome.history is not None:
        assert np.isfinite(outcome.history.seconds)
