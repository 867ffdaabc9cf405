"""``allocate`` and ``dose`` as they are typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

ROOT = Path(__file__).parents[2]
BLENDING = str(ROOT / "tests/data/checks/blending.json")
INFEASIBLE = str(ROOT / "tests/data/plan/infeasible.toml")
runner = CliRunner()


def shown(*words, exit_code=0):
    done = runner.invoke(app, [str(w) for w in words])
    assert done.exit_code == exit_code, done.output
    return done.output


def as_json(*words, exit_code=0):
    return json.loads(shown(*words, "--json", exit_code=exit_code))


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "p.toml"
    shown("template", "plan", "--out", path)
    return path


def test_the_template_is_planned_shown_and_drawn(template, tmp_path):
    picture = tmp_path / "p.svg"
    text = shown("allocate", template, "--out", picture)
    assert "Proven: no plan brings more" in text
    assert "more than the rule of thumb" in text
    assert "stop if it reads" in text
    assert all(len(line) <= 100 for line in text.splitlines())
    assert picture.read_text("utf-8").startswith("<svg")


def test_json_of_a_problem_says_what_the_table_says(template):
    body = as_json("allocate", template)
    assert body["ended"] == "optimal"
    assert body["gap"] <= 1e-6
    assert body["bound"] >= body["objective"] - 1e-6
    assert body["check"] == {"objective": pytest.approx(body["objective"]), "breaches": []}
    total = sum(row["amount"] for row in body["plan"] if row["to"] == "harrow-31-4")
    assert total == pytest.approx(500.0)
    assert body["thumb"]["ahead"] == pytest.approx(body["objective"] - body["thumb"]["objective"], abs=1e-3)


def test_an_instance_prints_the_same_keys_with_null_where_they_do_not_apply(template):
    one = as_json("allocate", BLENDING, "--instance", "haverly-1")
    assert set(one) == set(as_json("allocate", template))
    assert one["objective"] == pytest.approx(-400.0, abs=1e-4)
    assert (one["odds"], one["worth"], one["passes"]) == (None, None, None)
    clause = as_json("allocate", BLENDING, "--instance", "grain-clauses", "--variant", "sublot_average")
    assert (clause["objective"], clause["passes"], clause["plan"]) == (304.0, True, None)
    assert "Proven" in shown("allocate", BLENDING, "--instance", "grain-bins")


def test_without_a_plan_the_command_ends_with_1_and_says_what_would_give_way():
    text = shown("allocate", INFEASIBLE, exit_code=1)
    assert "Any one of these would give a plan" in text
    body = as_json("allocate", INFEASIBLE, exit_code=1)
    assert body["plan"] is None
    assert {r["kind"] for r in body["relaxations"]} == {"seconds", "contract"}


def test_unbounded_empty_and_nonsense_are_findings(tmp_path):
    whole = json.loads(Path(BLENDING).read_bytes())
    one = next(i for i in whole["instances"] if i["id"] == "haverly-1")
    one["pools"][0]["capacity"] = None
    for part in (*one["inputs"], *one["products"]):
        part |= {k: None for k in ("supply_max", "demand_max") if k in part}
    path = tmp_path / "f.json"

    def codes():
        path.write_text(json.dumps(whole), "utf-8")
        return [
            f["code"] for f in as_json("allocate", path, "--instance", "haverly-1", exit_code=1)["findings"]
        ]

    assert "plan-unbounded" in codes()
    one["inputs"], one["products"] = [], []
    assert {"plan-no-bins", "plan-no-offers"} <= set(codes())
    one["inputs"] = [{"id": "O", "cost": float("nan"), "supply_max": -5, "quality": {}}]
    assert {"plan-not-a-number", "plan-negative", "plan-id-twice"} <= set(codes())


def test_wrong_usage_is_told_in_one_line(template, tmp_path):
    shown("allocate", BLENDING, exit_code=2)
    shown("allocate", template, "--variant", "x", exit_code=2)
    assert runner.invoke(app, ["allocate", str(tmp_path / "none.toml")]).exit_code != 0
    shown("allocate", BLENDING, "--instance", "none", exit_code=1)


def test_a_dose_says_its_interval_and_what_it_cannot_see():
    text = shown("dose", "250", "400", "50:300", "100:245")
    assert "g per 100 kg to reach 250" in text
    assert "Fungal amylase" in text
    body = as_json("dose", "250", "400", "50:300", "--cv", "0")
    # 12.857 LN at 0.13714 LN a gram.
    assert body["dose_g_per_100kg"] == pytest.approx(93.75)
    assert body["low_g_per_100kg"] == pytest.approx(body["high_g_per_100kg"])
    assert as_json("dose", "300", "250", "50:240", exit_code=1)["findings"][0]["code"] == "dose-target-above"
    assert as_json("dose", "250", "400", "50:410", exit_code=1)["findings"][0]["code"] == "dose-no-effect"
