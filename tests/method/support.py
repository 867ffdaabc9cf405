"""Tables of check values, and a lab's own profiles, for the tests of the method room."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from bench_day import readings
from lodestarch.common.provenance import Provenance
from lodestarch.method.judge import GroupResults, judge_groups
from lodestarch.method.judging import judge
from lodestarch.method.profile import Profile, ProfileField, revise
from lodestarch.method.reading import Kind, State, parse_seconds
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile

DATA = Path(__file__).parents[1] / "data"


def table(name: str) -> list[dict[str, str]]:
    """Rows of a data file; lines that begin with # carry source and provenance."""
    lines = (DATA / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def own(start: str = "meal-15", **values: Any) -> Profile:
    """A lab's own profile: a shipped one with other values."""
    fields = {
        k: ProfileField(k, v, Provenance.ENTERED_BY_LAB, "the lab's own text") for k, v in values.items()
    }
    return revise(shipped_profile(start), fields, new_id="own")


def group(
    *texts: str, profile: Profile | None = None, runs: list[int] | None = None, **kw: Any
) -> GroupResults:
    """Judge one sample's readings as typed."""
    read = [parse_seconds(t) for t in texts]
    n = len(texts)
    return judge_groups(
        np.zeros(n, dtype=np.int64),
        np.array([r.value_s for r in read], dtype=np.float64),
        np.array([r.kind for r in read], dtype=np.int8),
        np.ones(n, dtype=np.bool_),
        (profile or shipped_profile("meal-15")).constants,
        kw.get("scatter", DEFAULT_SCATTER),
        groups=1,
        run_order=None if runs is None else np.array(runs, dtype=np.int64),
    )


def said(res: GroupResults) -> str:
    """The one result of a group in short: status, sign, seconds."""
    sign = {Kind.EXACT: "", Kind.AT_OR_BELOW: "<=", Kind.ABOVE: ">"}[Kind(int(res.kind[0]))]
    return f"{res.status[0]} {sign}{res.seconds[0]:g}"


MEAL = shipped_profile("meal-14")


def day(*rows, profile=MEAL, profiles=None, **kw):
    return judge(readings(rows), profiles or {}, profile, DEFAULT_SCATTER, **kw)


def tubes(*seconds, sample="A", **common):
    """Rows of one sample: seconds as typed, with a position each."""
    return [
        {"sample": sample, "seconds": s, "position": str(i), **common} for i, s in enumerate(seconds, start=1)
    ]


def row(judged, sample="A"):
    return judged.results.filter(pl.col("sample") == sample).row(0, named=True)


def codes(judged):
    return [f.code for f in judged.findings if not f.code.endswith("not-stated")]


def states(judged):
    return [(State(s), c) for s, c in judged.readings.select("state", "state_code").iter_rows()]
