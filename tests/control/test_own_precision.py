"""What a lab's own pairs and checks make of the u of its results."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest

from bench_day import judged, readings
from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.control.check_outcomes import CHECK_OUTCOMES, check_outcomes
from lodestarch.control.check_spread import bench_spread, check_spread
from lodestarch.control.own_laws import laws_by_profile
from lodestarch.control.own_pairs import KEPT_PAIRS, OWN_PAIRS, of_method, own_pairs
from lodestarch.control.own_precision import OwnPrecision, budget_at, with_own_u
from lodestarch.control.own_precision import own_precision as of_one_method
from lodestarch.method.judging import judge
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.shipped import shipped_profile, shipped_profiles
from lodestarch.method.table import SAMPLES, conform


def pairs(rng: np.random.Generator, n: int, cv: float) -> pl.DataFrame:
    level = rng.uniform(120.0, 420.0, n)
    a, b = (np.round(level * (1.0 + cv * rng.standard_normal(n))) for _ in range(2))
    zero = np.zeros(n, dtype=np.int8)
    return pl.DataFrame(
        {"sample": ["p"] * n, "first_s": a, "second_s": b, "first_kind": zero, "second_kind": zero},
        schema=OWN_PAIRS,
    )


def checks(
    means: list[float], material: str = "CM", outcome: str = "good", mill: str | None = None
) -> pl.DataFrame:
    rows = [(f"{material}{i}", material, mill, m, m, 0, 2, 220.0, 0.0, outcome) for i, m in enumerate(means)]
    return pl.DataFrame(rows, schema=CHECK_OUTCOMES, orient="row")


NO_PAIRS = pl.DataFrame(schema=OWN_PAIRS)
METHOD = shipped_profile("meal-14").comparable_key
"""Of the profile by which ``bench_day`` judges."""


def kept(frame: pl.DataFrame, method: str | None = METHOD) -> pl.DataFrame:
    return frame.with_columns(pl.lit(method, pl.String).alias("method"))


def own_precision(mine: pl.DataFrame, brought: pl.DataFrame, outcomes: pl.DataFrame) -> OwnPrecision:
    return of_one_method(kept(mine), brought, outcomes, method=METHOD)


NO_CHECKS = pl.DataFrame(schema=CHECK_OUTCOMES)


def test_a_pair_that_disagreed_is_a_pair_and_one_with_a_cause_is_none():
    out = judged(
        [
            {"sample": "a", "seconds": 300}, {"sample": "a", "seconds": 360},
            {"sample": "b", "seconds": 300}, {"sample": "b", "seconds": 304},
            {"sample": "c", "seconds": 250},
            {"sample": "c", "seconds": 251, "set_aside_cause": "stirrer-hung-up"},
            {"sample": "d", "seconds": 62}, {"sample": "d", "seconds": 70},
            {"sample": "e", "seconds": 281},
        ]
    )  # fmt: skip
    found = own_pairs(out.readings, out.results, floor_s=62.0)
    assert found["sample"].to_list() == ["a", "b", "d"]
    assert found.row(2)[1:] == (62.0, 70.0, 1, 0, METHOD)


def test_the_default_gives_way_to_own_pairs_and_its_weight_falls():
    rng = np.random.default_rng(3)
    none = own_precision(NO_PAIRS, NO_PAIRS, NO_CHECKS)
    assert none.law == DEFAULT_SCATTER
    assert none.prior_weight == 1.0
    whole = pairs(rng, 200, 0.012)
    few, many = (own_precision(NO_PAIRS, whole.head(n), NO_CHECKS) for n in (10, 200))
    assert 1.0 > few.prior_weight > many.prior_weight > 0.0
    assert many.law.sd_s(300.0) == pytest.approx(3.6, rel=0.2)
    assert (many.kept, many.brought) == (0, 200)


def test_checks_add_their_movement_to_u_and_to_the_budget():
    rng = np.random.default_rng(4)
    tubes = 0.012 / math.sqrt(2.0)
    means = [float(220.0 * (1.0 + math.hypot(0.02, tubes) * z)) for z in rng.standard_normal(400)]
    own = own_precision(pairs(rng, 200, 0.012), NO_PAIRS, checks(means))
    assert own.spread is not None
    assert own.spread.cv == pytest.approx(0.02, rel=0.1)  # the truth of the simulation
    budget = budget_at(own, 300.0)
    by = {line.contribution.key: line.contribution.u_s for line in budget.lines}
    assert by["bench"] == pytest.approx(300.0 * own.spread.cv)
    assert budget.u_s == pytest.approx(math.hypot(by["tube"], by["bench"]))
    assert by["moisture"] is None
    results = judged([{"sample": "a", "seconds": 298}, {"sample": "a", "seconds": 302}]).results
    with_u = with_own_u(results, own)["u_s"][0]
    assert with_u == pytest.approx(math.hypot(results["u_s"][0], 300.0 * own.spread.cv))


def test_meal_speaks_for_the_bath_and_whole_grain_for_mill_and_bath_and_the_difference_is_grinding():
    rng = np.random.default_rng(8)
    tubes = 0.02 / math.sqrt(2.0)

    def means(*parts: float) -> list[float]:
        return [float(220.0 * (1.0 + math.hypot(*parts, tubes) * z)) for z in rng.standard_normal(900)]

    meal, grain = checks(means(0.01)), checks(means(0.01, 0.02), "WG", mill="M1")
    spread = bench_spread(pl.concat([meal, grain]), DEFAULT_SCATTER)
    assert spread is not None
    assert spread.meal is not None
    assert spread.meal.cv == pytest.approx(0.01, rel=0.15)  # the truth of the simulation, here and below
    assert spread.grinding_cv == pytest.approx(0.02, rel=0.15)
    assert 0.0 < spread.grinding_dof < 900.0
    own = own_precision(NO_PAIRS, NO_PAIRS, pl.concat([meal, grain]))
    by = {x.contribution.key: x.contribution.u_s for x in budget_at(own, 300.0).lines}
    assert by["bench"] == pytest.approx(300.0 * spread.meal.cv)
    assert by["grinding"] == pytest.approx(300.0 * spread.grinding_cv)
    results = judged([{"sample": "a", "seconds": 298}, {"sample": "a", "seconds": 302}]).results
    with_u = with_own_u(results, own)["u_s"][0]
    assert with_u == pytest.approx(math.hypot(results["u_s"][0], 300.0 * math.hypot(0.01, 0.02)), rel=0.15)
    # One kind alone: meal leaves grinding open, whole grain has it in the line of the bench.
    lines = {x.contribution.key: x.contribution.u_s for x in budget_at(
        own_precision(NO_PAIRS, NO_PAIRS, meal), 300.0).lines}  # fmt: skip
    assert lines["grinding"] is None
    both = {x.contribution.key for x in budget_at(own_precision(NO_PAIRS, NO_PAIRS, grain), 300.0).lines}
    assert "grinding" not in both


def test_a_mill_that_adds_nothing_gives_a_line_of_nought():
    rng = np.random.default_rng(9)
    wide, calm = ([float(220.0 * (1 + sd * z)) for z in rng.standard_normal(60)] for sd in (0.05, 0.001))
    spread = bench_spread(pl.concat([checks(wide), checks(calm, "WG", mill="M1")]), DEFAULT_SCATTER)
    assert spread is not None
    assert spread.meal is not None
    assert spread.grinding_cv == 0.0
    assert spread.cv == spread.meal.cv


def test_pairs_of_another_method_are_left_out_and_said():
    rng = np.random.default_rng(5)
    mine, other = kept(pairs(rng, 60, 0.01)), kept(pairs(rng, 60, 0.04), "other portion")
    both = pl.concat([mine, other])
    own = of_one_method(both, NO_PAIRS, NO_CHECKS, method=METHOD)
    alone = of_one_method(mine, NO_PAIRS, NO_CHECKS, method=METHOD)
    assert own.law == alone.law
    assert (own.kept, own.others) == (60, (("other portion", 60),))
    said = next(f for f in own.findings if f.code == "pairs-of-other-methods")
    assert dict(said.values) == {"pairs": 60, "methods": "other portion"}
    unknown = of_one_method(kept(pairs(rng, 3, 0.01), None), NO_PAIRS, NO_CHECKS, method=METHOD)
    assert unknown.kept == 0
    assert [f.code for f in unknown.findings] == ["pairs-of-no-method"]
    assert of_method(both, "other portion")[0].columns == list(OWN_PAIRS)


def test_each_method_has_its_own_law_and_one_without_pairs_has_the_default():
    rng = np.random.default_rng(6)
    keys = {p.comparable_key: p for p in shipped_profiles()}
    assert len(keys) > 2
    first, second, third = list(keys.values())[:3]
    both = pl.concat([
        kept(pairs(rng, 80, 0.01), first.comparable_key), kept(pairs(rng, 80, 0.04), second.comparable_key),
    ])  # fmt: skip
    own = of_one_method(both, NO_PAIRS, NO_CHECKS, method=first.comparable_key)
    laws = laws_by_profile(both, (second, third), first, own)
    assert laws[first.name].sd_s(300.0) == pytest.approx(3.0, rel=0.25)
    assert laws[second.name].sd_s(300.0) == pytest.approx(12.0, rel=0.25)
    assert laws[third.name] == DEFAULT_SCATTER
    assert pl.DataFrame(schema=KEPT_PAIRS).columns[-1] == "method"
    # Judged under both profiles, each result carries the u of its own method.
    rows = [
        {"sample": s, "seconds": x, "profile": p.name}
        for s, p in (("a", first), ("b", second)) for x in (300, 304)
    ]  # fmt: skip
    by_name = {p.name: p for p in (first, second)}
    out = judge(readings(rows), by_name, first, own.law, laws=laws)
    u = dict(out.results.select("sample", "u_s").iter_rows())
    assert u["b"] > 2.0 * u["a"]


def test_too_few_checks_leave_the_line_open_and_calm_checks_add_nothing():
    assert check_spread(checks([220.0, 221.0, 219.0, 220.0]), DEFAULT_SCATTER) is None
    assert check_spread(checks([220.0, 240.0] * 3, outcome="unsettled"), DEFAULT_SCATTER) is None
    calm = check_spread(checks([220.0, 221.0, 219.0, 220.0, 221.0]), DEFAULT_SCATTER)
    assert calm is not None
    assert calm.cv == 0.0
    own = own_precision(NO_PAIRS, NO_PAIRS, NO_CHECKS)
    assert [x.contribution.u_s for x in budget_at(own, 300.0).lines if x.contribution.key == "bench"] == [
        None
    ]


def test_check_outcomes_are_good_off_or_unsettled():
    rows = [("in", 222, 219), ("high", 250, 247), ("apart", 200, 240), ("stray", 300, 301)]
    out = judged([{"sample": s, "seconds": x} for s, *both in rows for x in both])
    frame = pl.DataFrame(
        {
            "sample": [r[0] for r in rows],
            "kind": ["check"] * 4,
            "material": [" cm-220 ", "CM-220", "CM-220", "?"],
        }
    )
    found = check_outcomes(
        out.results, conform(frame, SAMPLES), [CheckMaterial("CM-220", "meal", 220.0, 4.0)]
    )
    assert dict(found.select("sample", "outcome").iter_rows()) == {
        "in": "good", "high": "off", "apart": "unsettled",
    }  # fmt: skip
