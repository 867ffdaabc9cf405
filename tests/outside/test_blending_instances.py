"""Instances with a known optimum, from ``tests/data/checks/blending.json``.

Sources and marks stand in the file: the four pooling problems are published (Haverly 1978; Ben-Tal, Eiger
and Gershovitz 1994; Adhya, Tawarmalani and Sahinidis 1999), their data and optima read in a secondary copy;
the feed mix is that of Bracken and McCormick 1968, chapter 9, read in a secondary copy, its optima derived;
*Agri-Pro* is a textbook problem read in a secondary copy; the grain instances are constructed with the law of
the liquefaction number, their optima derived.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from lodestarch.plan.commingle.pieces import solve_in_pieces
from lodestarch.plan.commingle.pooling import Pooling, pooling_breaches
from lodestarch.plan.neutral import answer_neutral
from lodestarch.plan.programme.outer import Ended
from lodestarch.sheets.neutral import read_neutral

FILE = Path(__file__).resolve().parents[1] / "data" / "checks" / "blending.json"
DATA = FILE.read_bytes()
BODY = json.loads(DATA)
CASES = [(i, a) for i in BODY["instances"] for a in i["answers"]]
POOLING = [i for i in BODY["instances"] if i["type"] == "pooling"]
SOLUTION_TOL = 2e-4
"""Amounts in the file are printed to four to six digits."""


def asked(instance, variant=None):
    read = read_neutral(DATA, FILE.name, instance, variant)
    assert read.findings == ()
    return read.asked


@pytest.mark.parametrize(("instance", "answer"), CASES, ids=[f"{i['id']}-{a['variant']}" for i, a in CASES])
def test_the_known_optimum_is_met_and_proven(instance, answer):
    got = answer_neutral(asked(instance["id"], answer["variant"]))
    assert got.objective == pytest.approx(answer["objective"], abs=answer["abs_tol"], rel=0)
    assert answer.get("passes") == got.passes
    if instance["type"] == "clause":
        return
    assert got.ended is Ended.OPTIMAL
    assert got.gap is not None
    assert got.gap <= 1e-6
    solution = answer.get("solution", {})
    if solution.get("unique"):
        wanted = {}
        for row in solution.get("flows", []):
            wanted[row["from"], row["to"]] = row["flow"]
        for row in solution.get("tonnes", []):
            wanted[row["bin"], row["outlet"]] = row["tonnes"]
        for name, amount in solution.get("amount", {}).items():
            if amount:
                wanted[name, "mix"] = amount
        met = {(m.origin, m.to): m.amount for m in got.plan}
        assert set(met) == set(wanted)
        for way, amount in wanted.items():
            assert met[way] == pytest.approx(amount, abs=SOLUTION_TOL), way


def test_the_worth_of_a_tonne_and_of_a_second_is_that_of_the_file():
    instance, answer = next((i, a) for i, a in CASES if i["id"] == "grain-bins")
    got = answer_neutral(asked(instance["id"]))
    for name, money in answer["shadow_value_per_tonne"].items():
        assert got.tonne_more[name] == pytest.approx(money, abs=1e-3)
    for name, money in answer["limit_value_per_second"].items():
        assert got.second[name] == pytest.approx(money, abs=5e-3)


@pytest.mark.parametrize("instance", POOLING, ids=[i["id"] for i in POOLING])
def test_no_false_optimum_of_a_local_method_is_returned(instance):
    got = answer_neutral(asked(instance["id"]))
    for point in instance.get("local_optima", {}).get("points", []):
        assert abs(got.objective - point["objective"]) > 1.0
    problem = asked(instance["id"])
    assert isinstance(problem, Pooling)
    assert pooling_breaches(problem, {(m.origin, m.to): m.amount for m in got.plan}) == {}


@pytest.mark.parametrize("instance", POOLING, ids=[i["id"] for i in POOLING])
def test_without_the_global_solver_the_bound_is_honest(instance):
    problem, known = asked(instance["id"]), instance["answers"][0]["objective"]
    got = solve_in_pieces(problem, gap=1e-4, time_s=1.5)
    assert pooling_breaches(problem, got.flows) == {}
    # The optimum lies between the bound and the plan, and the plan is called optimal only if they meet.
    assert got.bound <= known + 1e-3
    assert got.objective >= known - 1e-3
    if got.ended is Ended.OPTIMAL:
        assert got.objective == pytest.approx(known, rel=2e-4)
    else:
        assert got.gap > 1e-4
    if len(problem.pools) == 1:
        assert got.ended is Ended.OPTIMAL


def test_fewer_ingredients_never_cost_less_and_the_count_is_kept():
    body = json.loads(DATA)
    costs = []
    for most in (4, 3, 2):
        one = next(i for i in body["instances"] if i["id"] == "chance-feed")
        one["max_ingredients"] = most
        read = read_neutral(json.dumps(body).encode(), "f.json", "chance-feed", "chance-95")
        got = answer_neutral(read.asked)
        assert got.ended is Ended.OPTIMAL
        assert len(got.plan) <= most
        costs.append(got.objective)
    assert costs == sorted(costs)
    # The best pair is found by trying all.
    assert costs[2] == pytest.approx(best_pair(), rel=1e-4)


def best_pair():
    """Cheapest pair of feeds, each pair scanned along its only degree of freedom."""
    one = next(i for i in BODY["instances"] if i["id"] == "chance-feed")
    feeds, best = one["ingredients"], float("inf")
    for i, a in enumerate(feeds):
        for b in feeds[i + 1 :]:
            for k in range(20_001):
                w = k / 20_000
                mean = w * a["mean"]["protein"] + (1 - w) * b["mean"]["protein"]
                sd = ((w**2) * a["variance"]["protein"] + ((1 - w) ** 2) * b["variance"]["protein"]) ** 0.5
                fat = w * a["mean"]["fat"] + (1 - w) * b["mean"]["fat"]
                if mean - 1.645 * sd >= 21 and fat >= 5:
                    best = min(best, w * a["cost"] + (1 - w) * b["cost"])
    # One step of the scan can miss the edge by this much of a share.
    return best


def test_whole_bins_are_the_best_of_all_ways_to_place_them():
    body = json.loads(DATA)
    one = next(i for i in body["instances"] if i["id"] == "grain-bins")
    one["whole_bins"] = True
    read = read_neutral(json.dumps(body).encode(), "f.json", "grain-bins")
    got = answer_neutral(read.asked)
    assert got.ended is Ended.OPTIMAL
    assert got.objective == pytest.approx(best_placing(one), rel=1e-9)


def best_placing(one):
    """Every bin to every outlet or nowhere, all tried."""
    best = 0.0
    bins, outlets = one["bins"], one["outlets"]
    for code in range((len(outlets) + 1) ** len(bins)):
        places, rest = [], code
        for _ in bins:
            rest, place = divmod(rest, len(outlets) + 1)
            places.append(place)
        money, kept = 0.0, True
        for o, outlet in enumerate(outlets):
            inside = [b for b, p in zip(bins, places, strict=True) if p == o]
            tonnes = sum(b["tonnes"] for b in inside)
            money += outlet["price"] * tonnes
            if inside and outlet["fn_min"] is not None:
                ln = sum(b["tonnes"] * 6000 / (b["fn"] - 50) for b in inside) / tonnes
                kept &= ln <= 6000 / (outlet["fn_min"] - 50) + 1e-12
        best = max(best, money) if kept else best
    return best
