"""Whatever a sheet holds, the bench rules answer with findings that keep their promises."""

from __future__ import annotations

import math
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from bench_day import PROFILE, START, judged, samples
from lodestarch.control.bench_rules import CheckMaterial, bench_findings
from lodestarch.control.codes_bench import CODES
from lodestarch.method.scatter import DEFAULT_SCATTER

moments = st.none() | st.integers(-3000, 3000).map(lambda m: START + timedelta(minutes=m))
few = st.sampled_from(["1", "2", "3"])
names = st.sampled_from([f"s{i}" for i in range(8)])

tube = st.fixed_dictionaries(
    {
        "sample": names,
        "run": few,
        "seconds": st.sampled_from(["62", "<=62", ">400", "6000", "30", "300", "180", "305", "178", "95"]),
        "run_at": moments,
    },
    optional={
        "bath": few,
        "position": few,
        "stirrer_id": few,
        "tube_id": few,
        "set_aside_cause": st.sampled_from(["leak", "other"]),
        "moisture_pct": st.none() | st.floats(5, 30),
    },
)
about = st.fixed_dictionaries(
    {"sample": names},
    optional={
        "kind": st.sampled_from(["load", "check"]) | st.none(),
        "material": st.sampled_from(["CW-3", "other", " "]) | st.none(),
        "ground_mass_g": st.floats(1, 5000) | st.none(),
        "mill_id": few | st.none(),
        "ground_at": moments,
        "moisture_at": moments,
        "moisture_on": st.sampled_from(["grain", "meal"]) | st.none(),
    },
)


@settings(max_examples=60, deadline=None)
@given(
    tubes=st.lists(tube, min_size=1, max_size=60),
    sheet=st.lists(about, min_size=1, max_size=8, unique_by=lambda r: r["sample"]),
)
def test_findings_carry_their_keys_finite_numbers_and_stand_once(tubes, sheet):
    out = judged(tubes)
    found = bench_findings(
        out.readings,
        out.results,
        samples(sheet),
        profiles=[PROFILE],
        scatter=DEFAULT_SCATTER,
        materials=[CheckMaterial("CW-3", "check wheat", 300.0, 7.0)],
        bench_source="bench.csv",
        sample_source="samples.csv",
    )
    for f in found:
        assert set(f.values) == set(CODES[f.code])
        assert all(math.isfinite(v) for v in f.values.values() if isinstance(v, float))
        assert f.where.row is not None
        assert f.where.source in {"bench.csv", "samples.csv"}
    places = [(f.code, f.where.source, f.where.row, f.values.get("place")) for f in found]
    assert len(places) == len(set(places))
