"""Law before solving: what is over a limit never enters a plan, what is at it does; the answer says why."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from lodestarch.common.findings import Severity
from lodestarch.plan.allocate.answer import allocate
from lodestarch.plan.allocate.law import law_exclusions
from lodestarch.plan.allocate.problem import FactorValue, PlanBin, PlanOffer, PlanProblem
from lodestarch.trade.offer import Clause, Judged

FLOOR = Clause("fn_s", Judged.COMPOSITE, 280.0, None)


def a_problem(key, value, jurisdiction, material="wheat", use="food"):
    bins = (
        PlanBin("met", 100.0, 340.0, factors={key: FactorValue(value)}, material=material),
        PlanBin("sound", 100.0, 330.0, material=material),
    )
    offers = (PlanOffer("mill", 230.0, most_t=150.0, clauses=(FLOOR,), material=material, use=use),)
    return PlanProblem(bins, offers, jurisdiction=jurisdiction)


@pytest.mark.parametrize(
    ("key", "over", "at", "jurisdiction", "material", "rule"),
    [
        ("aflatoxin_ug_kg", 20.1, 20.0, "US", "maize", "us-aflatoxin"),
        ("don_mg_kg", 1.001, 1.0, "EU", "wheat", "eu-don"),
        ("don_mg_kg", 1.251, 1.25, "GB", "wheat", "gb-don"),
    ],
)
def test_over_the_limit_is_left_out_and_at_it_is_not(key, over, at, jurisdiction, material, rule):
    answer = allocate(
        a_problem(key, over, jurisdiction, material), np.random.default_rng(1), beside=False, trials=200
    )
    assert {d.bin_id for d in answer.plan.draws} == {"sound"}
    barred = [e for e in answer.plan.excluded if e.rule == "law"]
    assert {(e.bin_id, e.offer_id) for e in barred} == {("met", "mill")}
    assert any(e.source.startswith(rule) and (e.factor, e.value, e.limit) == (key, over, at) for e in barred)
    assert "plan-excluded-by-law" in {f.code for f in answer.findings}

    near = allocate(
        a_problem(key, at, jurisdiction, material), np.random.default_rng(1), beside=False, trials=200
    )
    assert {d.bin_id for d in near.plan.draws} == {"met", "sound"}
    assert not [e for e in near.plan.excluded if e.rule == "law"]


def test_another_jurisdiction_or_use_has_other_rules():
    assert law_exclusions(a_problem("don_mg_kg", 1.1, "EU"))
    assert not law_exclusions(a_problem("don_mg_kg", 1.1, "GB"))
    assert not law_exclusions(a_problem("don_mg_kg", 1.1, "EU", use="feed"))
    assert not law_exclusions(a_problem("don_mg_kg", 1.1, None))


def codes(problem):
    return {f.code: f for f in allocate(problem, np.random.default_rng(1), beside=False, trials=100).findings}


def test_no_law_looked_at_and_no_rule_kept_are_said():
    assert "plan-law-not-asked" in codes(a_problem("don_mg_kg", 0.5, None))
    assert "plan-law-none-kept" in codes(a_problem("don_mg_kg", 0.5, "AU"))
    found = codes(a_problem("don_mg_kg", 0.5, "EU"))
    assert not {"plan-law-not-asked", "plan-law-none-kept", "plan-law-warns", "plan-law-kinds"} & set(found)


def test_a_rule_that_warns_leaves_the_bin_in():
    met = codes(a_problem("don_mg_kg", 1.2, "US"))
    assert met["plan-law-warns"].severity is Severity.CHECK
    assert "plan-excluded-by-law" not in met


def test_kinds_are_not_mixed_where_law_forbids_it():
    problem = a_problem("don_mg_kg", 0.5, "US")
    rye = replace(problem.bins[1], material="rye")
    open_ = replace(problem, bins=(problem.bins[0], rye), offers=(replace(problem.offers[0], material=None),))
    assert codes(open_)["plan-law-kinds"].severity is Severity.STOP
    named = replace(open_, offers=problem.offers)
    assert "plan-law-kinds" not in codes(named)
    durum = replace(open_, bins=(problem.bins[0], replace(rye, material="durum")))
    assert "plan-law-kinds" not in codes(durum)
