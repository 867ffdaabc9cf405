"""Nothing undocumented ships: pages made from the code are up to date, JSON keys are on their page."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.control.check_spread import BenchSpread, CheckSpread
from lodestarch.control.own_precision import OwnPrecision
from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.work.bench.day_quality_json import _own

ROOT = Path(__file__).resolve().parents[2]
runner = CliRunner()
COMMON = {"code", "severity", "where", "place", "wrong", "do", "values"}


def test_pages_made_from_the_code_are_up_to_date():
    done = subprocess.run(
        [sys.executable, "tools/make_docs.py", "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def documented(section: str) -> set[str]:
    text = (ROOT / "docs/json.md").read_text("utf-8")
    body = re.split(r"^## ", text, flags=re.MULTILINE)
    part = next(p for p in body if p.splitlines()[0].strip() == section)
    return set(re.findall(r"^\| `([^`]+)` \|", part, flags=re.MULTILINE))


def keys_of(value: object, prefix: str = "") -> set[str]:
    if isinstance(value, dict):
        found = set()
        for key, inner in value.items():
            path = f"{prefix}.{key}" if prefix else key
            deeper = keys_of(inner, path)
            found |= deeper or {path}
        return found
    if isinstance(value, list):
        rows = [v for v in value if isinstance(v, dict)]
        return set().union(*(keys_of(v, f"{prefix}[]") for v in rows)) if rows else {prefix}
    return {prefix} if prefix else set()


def shown(*commands: list[str]) -> set[str]:
    found: set[str] = set()
    for words in commands:
        done = runner.invoke(app, [*words, "--json"])
        assert done.exit_code in {0, 1}, done.output
        body = json.loads(done.stdout)
        assert set(body["findings"][0]) == COMMON if body["findings"] else True
        found |= keys_of({k: v for k, v in body.items() if k != "findings"})
    return found


DEMO = "src/lodestarch/demo/harvest"
PAIRS = "src/lodestarch/demo/morning/pairs.csv"
QUALITY = "tests/data/quality"
TUBE_RUNS = "tests/data/tube/runs.csv"
BLENDING = "tests/data/checks/blending.json"


@pytest.mark.parametrize(
    ("section", "commands"),
    [
        ("portion", [["portion", "9"], ["portion", "30"]]),
        ("bath", [["bath", "520m"], ["bath", "x"]]),
        ("blend", [["blend", "400:5", "62:5"], ["blend", "--reach", "300", "400", "220"]]),
        ("day", [["day", f"{DEMO}/bench.csv", "--samples", f"{DEMO}/samples.csv", "--terms",
                  f"{DEMO}/terms.toml", "--profile", "meal-14", "--no-records"]]),
        ("price", [["price", "310"], ["price", "318", "--factor", "aflatoxin_ug_kg=27"],
                   ["price", "340", "250", "--limit", "300"]]),
        ("odds", [["odds", "310", "--u", "9", "--limit", "300"], ["odds", "310", "330", "--limit", "300",
                  "--clause", "composite"]]),
        ("aim", [["aim", "--limit", "300", "--u", "9", "--lots-mean", "330", "--lots-sd", "30", "--risk",
                  "0.01"], ["aim", "--limit", "300", "--u", "9"]]),
        ("retest", [["retest", "294", "--tube-u", "6", "--offer", "quillmere-24-3", "--tonnes", "26"],
                    ["retest", "294", "--tube-u", "6", "--limit", "220", "--at-most", "280"]]),
        ("retest --published-294", [["retest", "--published-294"]]),
        ("referee", [["referee", "320", "280", "--repeat-u", "6", "--between-u", "10"]]),
        ("duplicates", [["duplicates", PAIRS, "--after", "20"], ["duplicates", f"{QUALITY}/chart.csv"]]),
        ("components", [["components", f"{QUALITY}/nested.csv", "probe", "grind"],
                        ["components", f"{QUALITY}/nested.csv", "probe", "grind", "--target-u", "6",
                         "--expected-sd", "5", "--sound", "300"]]),
        ("budget", [["budget", "287", "--cv", "2", "--check", "--moisture-within", "0.3"],
                    ["budget", "287", "--duplicates", PAIRS]]),
        ("chart", [["chart", f"{QUALITY}/chart.csv"]]),
        ("ringtest", [["ringtest", f"{QUALITY}/ring.csv"]]),
        ("compare", [["compare", f"{QUALITY}/compare.csv", "--margin", "10"]]),
        ("tube run", [["tube", "run", "--ln", "24"], ["tube", "run", "--ln", "24", "--set", "none"]]),
        ("tube sweep", [["tube", "sweep", "mass", "6", "8", "--steps", "3", "--ln", "24"],
                        ["tube", "sweep", "none", "6", "8"]]),
        ("tube budget", [["tube", "budget", "300", "430", "--points", "64"],
                         ["tube", "budget", "300", "--set", "none"]]),
        ("tube fit", [["tube", "fit", TUBE_RUNS, "--posterior", "--steps", "60"],
                      ["tube", "fit", "tests/data/tube/runs-open.csv", "--move", "cutting_rate_per_s"],
                      ["tube", "fit", TUBE_RUNS, "--set", "none"]]),
        ("allocate", [["allocate", f"{DEMO}/plan.toml", "--gap", "0.02"],
                      ["allocate", "tests/data/plan/infeasible.toml"],
                      ["allocate", BLENDING, "--instance", "grain-bins"],
                      ["allocate", BLENDING, "--instance", "none"]]),
        ("dose", [["dose", "250", "400", "50:300"], ["dose", "250", "240", "50:300"]]),
        ("profile list", [["profile", "list"]]),
        ("profile show", [["profile", "show", "rye-9g"]]),
    ],
)  # fmt: skip
def test_every_key_is_on_the_page_and_every_key_on_the_page_is_met(section, commands, monkeypatch):
    monkeypatch.chdir(ROOT)
    met = shown(*commands)
    if section == "day":
        met = {re.sub(r"^sample_sheet\.", "sheet.", k) for k in met} | {"sample_sheet"}
        met |= {"sheet"}
    page = documented(section)
    # A sign-off is null until somebody gives one; its inner keys are tested where one is given.
    page -= {k for k in page if k.startswith("fields[].signed_off.")}
    # Check samples of one day are too few for a spread from check to check: null here, keys tested beneath.
    few = {"own.checks_meal", "own.checks_grain"} & met
    page -= {k for k in page if k.rpartition(".")[0] in few}
    assert page == met - few


def test_the_keys_of_checks_on_meal_and_grain_are_those_of_the_page():
    spread = BenchSpread(CheckSpread(0.012, 9.0, 10, 1), CheckSpread(0.02, 7.0, 8, 1))
    own = OwnPrecision(DEFAULT_SCATTER, None, spread, 40, 0)
    told = _own(own)
    page = {k for k in documented("day") if k.startswith("own.checks_")}
    assert {f"own.{kind}.{key}" for kind in ("checks_meal", "checks_grain") for key in told[kind]} == page
    # Variances add: what whole grain shows beyond meal is grinding.
    assert told["grinding_cv"] == pytest.approx((0.02**2 - 0.012**2) ** 0.5)
