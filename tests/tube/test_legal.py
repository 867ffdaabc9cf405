import json
import math

import numpy as np
import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Severity
from lodestarch.tube.ensemble import ensemble, seconds
from lodestarch.tube.history import run
from lodestarch.tube.inputs import LEGAL, VARIED, TubeArrays, TubeInputs, activity_of
from lodestarch.tube.legal import check, check_arrays
from lodestarch.tube.parameters import shipped_set

REF = shipped_set()


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("water_ml", 0.0),
        ("moisture_pct", 0.0),
        ("moisture_pct", 40.0),
        ("pressure_hpa", 0.0),
        ("pressure_hpa", 1200.0),
        ("activity", -1.0),
        ("mass_g", 0.0),
        ("start_temp_c", 99.0),
        ("wall_mm", 0.0),
        ("stir_from_s", 60.0),
        ("decay_85_per_s", 0.0),
        ("mass_g", math.nan),
        ("water_ml", math.inf),
    ],
)
def test_what_cannot_be_is_a_finding_and_nothing_else(field, value):
    inputs = TubeInputs(**({"activity": 9.0} | {field: value}))
    outcome = run(inputs, REF)
    assert outcome.history is None
    (finding,) = outcome.findings
    assert ("tube-input-illegal", field, Severity.STOP) == (
        finding.code,
        finding.where.field,
        finding.severity,
    )
    assert "NaN" not in json.dumps(dict(finding.values))
    assert outcome.limits


@pytest.mark.parametrize("field", VARIED)
def test_both_ends_of_a_legal_range_run(field):
    for value in LEGAL[field]:
        outcome = run(TubeInputs(**({"activity": 9.0} | {field: value})), REF, step_s=5.0)
        assert outcome.history is not None
        assert math.isfinite(outcome.history.seconds)
        assert outcome.history.seconds >= 60.0


def test_activity_is_named_exactly_once():
    assert [f.code for f in check(TubeInputs(), REF)] == ["tube-activity-missing"]
    assert [f.code for f in check(TubeInputs(ln=24.0, activity=9.0), REF)] == ["tube-activity-twice"]
    with pytest.raises(ValueError, match="look for findings"):
        activity_of(TubeInputs(), REF)


def test_an_ln_below_the_enzyme_free_meal_is_told_with_the_set():
    (finding,) = check(TubeInputs(ln=14.0), REF)
    assert finding.code == "tube-above-enzyme-free"
    assert dict(finding.values) == {"ln": 14.0, "offset_ln": 15.0, "set": "ref"}
    assert check(TubeInputs(ln=14.0), shipped_set("f0-550")) == ()


def test_origins_are_looked_at():
    mixed = TubeInputs(activity=9.0, origins=(("germination", 0.5), ("somewhere", 0.6)), decay_85_per_s=0.01)
    assert [f.code for f in check(mixed, REF)] == [
        "tube-origin-unknown",
        "tube-shares-not-one",
        "tube-decay-of-which",
    ]
    assert [f.code for f in check(TubeInputs(activity=1.0, origins=()), REF)] == ["tube-shares-not-one"]
    nan = TubeInputs(activity=1.0, origins=(("germination", math.nan),))
    assert [f.code for f in check(nan, REF)] == ["tube-shares-not-one"]


def test_several_faults_are_told_at_once():
    bad = TubeInputs(ln=24.0, water_ml=0.0, moisture_pct=40.0, pressure_hpa=0.0)
    assert [f.where.field for f in check(bad, REF)] == ["moisture_pct", "water_ml", "pressure_hpa"]


def test_of_many_tubes_the_illegal_ones_are_counted_and_the_rest_run():
    tubes = TubeArrays(
        activity=np.array([9.0, -1.0, 9.0, 9.0]), moisture_pct=np.array([14.0, 14.0, 40.0, 0.0])
    )
    out = ensemble(tubes, REF)
    assert out.rows.tolist() == [0]
    assert pytest.approx(out.seconds[0], abs=0.005) == 309.28
    found = {f.where.field: f.values for f in out.findings}
    assert found["activity"]["tubes"] == 1
    assert found["moisture_pct"]["tubes"] == 2
    assert found["moisture_pct"]["value"] == 40.0
    none = ensemble(TubeArrays(activity=np.array([-1.0, -2.0])), REF)
    assert 0 == none.rows.size == none.seconds.size


def test_the_bare_call_refuses_by_name():
    with pytest.raises(OutOfRange) as caught:
        seconds(TubeArrays(activity=np.array([9.0, math.nan])), REF)
    assert caught.value.name == "activity"
    with pytest.raises(OutOfRange):
        seconds(TubeArrays(activity=9.0, water_ml=0.0), REF)
    rows, found = check_arrays(TubeArrays(activity=9.0))
    assert (rows.tolist(), found) == ([0], ())
