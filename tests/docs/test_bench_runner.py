"""The bench suite as one command: what it takes, and what it says of a bench that does not run."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def runner(tmp_path, monkeypatch):
    spec = importlib.util.spec_from_file_location("bench_runner", ROOT / "benchmarks" / "run.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    for folder in ("benchmarks", "docs"):
        (tmp_path / folder).mkdir()
    monkeypatch.setattr(made, "ROOT", tmp_path)
    monkeypatch.setattr(made, "KEPT", tmp_path / "benchmarks" / "results")
    return made


def bench(runner, name, text):
    (runner.ROOT / "benchmarks" / f"bench_{name}.py").write_text(text, encoding="utf-8")


GOOD = """import json, sys
print(json.dumps({"s": 0.5, "quick": "--quick" in sys.argv, "sizes": [{"n": 1}, {"n": 2}]}))
"""


def ran(runner, monkeypatch, *words):
    monkeypatch.setattr("sys.argv", ["run.py", *words])
    runner.main()


def test_figures_are_kept_and_the_page_made_with_the_machine(runner, monkeypatch):
    bench(runner, "one", GOOD)
    ran(runner, monkeypatch)
    kept = json.loads((runner.KEPT / "one.json").read_text("utf-8"))
    assert kept["figures"]["quick"] is False
    assert {"cores", "processor", "python", "numpy", "at"} <= set(kept["machine"])
    page = (runner.ROOT / "docs" / "performance.md").read_text("utf-8")
    assert "| s | 0.5 |" in page
    assert "| sizes 2.n | 2 |" in page
    assert kept["machine"]["python"] in page


def test_the_quick_form_runs_all_and_keeps_nothing(runner, monkeypatch, capsys):
    bench(runner, "one", GOOD)
    bench(runner, "two", "print('{\"a\": 1}')\n")
    ran(runner, monkeypatch, "--quick")
    assert not runner.KEPT.exists()
    assert "--- two" in capsys.readouterr().out
    assert runner.figures(runner.ROOT / "benchmarks" / "bench_one.py", quick=True)["quick"] is True


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("raise SystemExit(3)\n", "ended with 3"),
        ("print('fast')\n", "no JSON"),
        ("print('{}')\n", "no figures"),
    ],
)
def test_a_bench_that_does_not_run_ends_the_suite(runner, monkeypatch, text, said):
    bench(runner, "one", text)
    with pytest.raises(SystemExit, match=said):
        ran(runner, monkeypatch, "--quick")


def test_one_by_name(runner, monkeypatch):
    bench(runner, "one", GOOD)
    bench(runner, "broken", "raise SystemExit(3)\n")
    ran(runner, monkeypatch, "--only", "one")
    with pytest.raises(SystemExit, match="there are: broken, one"):
        ran(runner, monkeypatch, "--only", "three")
