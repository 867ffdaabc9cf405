"""Plan problems and instances as files: what is taken, and what is said of what cannot be."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from lodestarch.common.findings import Severity
from lodestarch.demo import harvest_plan
from lodestarch.method.reading import Kind
from lodestarch.plan.allocate.problem_check import check_problem
from lodestarch.sheets import plan_keys as keys
from lodestarch.sheets.neutral import read_neutral
from lodestarch.sheets.plan_problem import read_plan_problem
from lodestarch.sheets.templates import plan_toml

PAGE = (Path(__file__).parents[2] / "docs/plan.md").read_text("utf-8")
HEAD = 'plan = 1\ncurrency = "USD"\n'
OFFER = '[[bid]]\nid = "m"\nprice = 200\nprice_unit = "USD/t"\n'
BIN = '[[bin]]\nid = "a"\ntonnes = 100\nfn_s = 300\n'
CLAUSE = '[[bid.clause]]\nfactor = "fn_s"\njudged = "composite"\nat_least = 300\n'


def read(text):
    return read_plan_problem(text.encode(), "p.toml")


def found(text):
    got = read(text)
    more = () if got.problem is None else check_problem(got.problem)
    return {f.code: f for f in (*got.findings, *more)}


def test_the_template_and_the_invented_week_are_problems_without_anything_to_settle():
    for data in (plan_toml(), harvest_plan()):
        got = read_plan_problem(data, "p.toml")
        assert got.findings == ()
        assert all(f.severity is not Severity.STOP for f in check_problem(got.problem))


def test_what_is_stated_is_taken_in_the_plans_own_units():
    problem = read_plan_problem(plan_toml(), "p.toml").problem
    contract, bid = problem.offers
    assert contract.price_per_t == pytest.approx(6.30 / 0.0272155422 - 4.2)
    assert (contract.least_t, contract.most_t, contract.most_bins) == (300.0, 500.0, 3)
    assert contract.lab.bias_s == -2.0
    assert (bid.is_contract, bid.least_t, bid.most_t) == (False, 0.0, 600.0)
    first, second, third = problem.bins
    assert first.gate_step_t == 2.0
    assert (second.tonnes, second.turned, len(second.layers)) == (300.0, False, 2)
    assert third.fn_says is Kind.AT_OR_BELOW


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("x = [", "terms-unreadable"),
        ('currency = "USD"\n', "terms-key-missing"),
        ('plan = 2\ncurrency = "USD"\n', "terms-version-unknown"),
        (HEAD, "plan-no-bins"),
        (HEAD + BIN, "plan-no-offers"),
        (HEAD + BIN + BIN + OFFER, "plan-id-twice"),
        (HEAD + BIN.replace("100", "-100") + OFFER, "plan-negative"),
        (HEAD + BIN.replace("100", "nan") + OFFER, "terms-out-of-range"),
        (HEAD + BIN.replace("300", "inf") + OFFER, "terms-out-of-range"),
        (HEAD + BIN.replace("300", "40") + OFFER, "plan-seconds-illegal"),
        (HEAD + BIN + OFFER + CLAUSE + "at_most = 250\n", "plan-crossed"),
        (HEAD + BIN + OFFER + "least_t = 9\nquantity_t = 5\n", "plan-crossed"),
        (HEAD + BIN + OFFER + "wanted_odds = 0.2\n", "plan-odds-illegal"),
        (HEAD + BIN + OFFER + "wanted_odds = 1.0\n", "plan-odds-illegal"),
        (HEAD + BIN + OFFER + '[[draw]]\nbin = "zz"\nto = "m"\ntonnes = 5\n', "plan-pin-unknown"),
        (HEAD + BIN + OFFER + '[[draw]]\nbin = "a"\nto = "m"\ntonnes = 500\n', "plan-pins-too-much"),
        (HEAD + BIN + OFFER + 'fn_says = "exact"\n', "terms-key-unknown"),
        (HEAD + BIN + '[[bid]]\nid = "m"\n', "terms-key-missing"),
        (HEAD + BIN + OFFER.replace("USD/t", "USD/bu"), "terms-key-missing"),
        (HEAD + BIN + OFFER.replace("USD/t", "EUR/t"), "terms-units-mixed"),
        (HEAD + BIN + 'fn_says = "at-or-below"\n' + OFFER + CLAUSE, "plan-at-floor"),
        (HEAD + '[[bin]]\nid = "a"\ntonnes = 5\n' + OFFER + CLAUSE, "plan-not-tested"),
        (
            HEAD + BIN + OFFER + '[[bid.band]]\nfactor = "fn_s"\nfrom = 200\nto = 300\n'
            '[[bid.band]]\nfactor = "fn_s"\nfrom = 250\n',
            "plan-bands-overlap",
        ),
    ],
)  # fmt: skip
def test_each_slip_is_found(text, code):
    assert code in found(text)


def test_an_entry_that_cannot_be_read_stops_the_plan():
    got = read(HEAD + BIN + '[[bin]]\nid = "b"\ntonnes = "many"\n' + OFFER)
    assert got.problem is None
    assert "bin b, tonnes" in {f.where.field for f in got.findings}


@pytest.mark.parametrize(
    ("table", "schema"),
    [
        ("Top of the file", keys.PLAN_TOP),
        ("`[[contract]]` and `[[bid]]`", keys.PLAN_CONTRACT),
        ("`[[bin]]`", keys.PLAN_BIN),
    ],
)
def test_every_key_is_on_the_page(table, schema):
    section = PAGE.split(f"### {table}\n")[1].split("\n### ")[0]
    told = set(re.findall(r"`([a-z_0-9]+)`", section))
    factors = (
        set()
        if table != "`[[bin]]`"
        else {k.name for k in schema if re.search("_(pct|hl|bu|kg)(_u)?$", k.name)}
    )
    assert {k.name for k in schema} - told - factors - {"note", "source"} == set()


def body():
    path = Path(__file__).parents[1] / "data/checks/blending.json"
    return json.loads(path.read_bytes())


def neutral(changed, name, variant=None):
    return read_neutral(json.dumps(changed).encode(), "f.json", name, variant)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"{", "plan-file-unreadable"),
        (b"\xff\xfe", "plan-file-unreadable"),
        (b"[]", "plan-key-missing"),
        (b'{"instances": [{"id": "x", "type": "x"}]}', "plan-instance-type"),
        (b'{"instances": [{"id": "x", "type": "pooling"}]}', "plan-key-missing"),
        (b'{"instances": [{"id": "x", "type": "blend", "total": true}]}', "plan-key-missing"),
    ],
)
def test_a_file_that_is_no_such_file(data, code):
    assert [f.code for f in read_neutral(data, "f.json", "x").findings] == [code]


def test_unknown_names_are_told_with_what_there_is():
    none = neutral(body(), "none").findings[0]
    assert none.code == "plan-instance-unknown"
    assert "haverly-1" in none.values["choices"]
    odd = neutral(body(), "chance-feed", "none").findings[0]
    assert (odd.code, odd.values["choices"]) == ("plan-variant-unknown", "mean, chance-95")


def test_without_answers_an_instance_is_meant_plainly():
    changed = body()
    for one in changed["instances"]:
        del one["answers"]
        assert neutral(changed, one["id"]).asked is not None
