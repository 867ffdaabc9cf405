"""What a lab's own pairs and checks make of the u of its results."""

from __future__ import annotations

import math

import numpy as np
import polars as pl
import pytest

from bench_day import judged
from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.control.check_outcomes import CHECK_OUTCOMES, check_outcomes
from lodestarch.control.check_spread import check_spread
from lodestarch.control.own_pairs import OWN_PAIRS, own_pairs
from lodestarch.control.own_precision import budget_at, own_precision, with_own_u
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.method.table import SAMPLES, conform


def pairs(rng: np.random.Generator, n: int, cv: float) -> pl.DataFrame:
    level = rng.uniform(120.0, 420.0, n)
    a, b = (np.round(level * (1.0 + cv * rng.standard_normal(n))) for _ in range(2))
    zero = np.zeros(n, dtype=np.int8)
    return pl.DataFrame(
        {"sample": ["p"] * n, "first_s": a, "second_s": b, "first_kind": zero, "second_kind": zero},
        schema=OWN_PAIRS,
    )


def checks(means: list[float], material: str = "CM", outcome: str = "good") -> pl.DataFrame:
    rows = [(f"{material}{i}", material, None, m, m, 0, 2, 220.0, 0.0, outcome) for i, m in enumerate(means)]
    return pl.DataFrame(rows, schema=CHECK_OUTCOMES, orient="row")


NO_PAIRS = pl.DataFrame(schema=OWN_PAIRS)
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
    found = own_pairs(out.readings, floor_s=62.0)
    assert found["sample"].to_list() == ["a", "b", "d"]
    assert found.row(2)[1:] == (62.0, 70.0, 1, 0)


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
