"""The quality commands: published answers from plain CSV, and files that are not as they should be.

Each data set's source and mark stand in its file under ``tests/data/checks``.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

CHECKS = Path(__file__).parents[1] / "data" / "checks"
runner = CliRunner()


def check(name: str) -> dict[str, Any]:
    """A set of published data with its answers."""
    body: dict[str, Any] = json.loads((CHECKS / f"{name}.json").read_text("utf-8"))
    return body


def sheet(path: Path, header: list[str], rows: list[list[object]]) -> str:
    """Write a plain CSV and return its path."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(header)
        writer.writerows(rows)
    return str(path)


def asked(*words: str, code: int = 0) -> dict[str, Any]:
    """The JSON that a command prints."""
    done = runner.invoke(app, [*words, "--json"])
    assert done.exit_code == code, done.output
    body: dict[str, Any] = json.loads(done.stdout)
    return body


def codes(body: dict[str, Any]) -> set[str]:
    return {f["code"] for f in body["findings"]}


def test_ring_test_of_sulfur_in_coal(tmp_path: Path) -> None:
    """ISO 5725-2 example, printed figures recalled; the derived ones are recomputed from the data."""
    known = check("iso5725_sulfur_in_coal")
    rows = [
        [f"lab {i}", level, value]
        for level, labs in known["data"].items()
        for i, values in enumerate(labs, 1)
        for value in values
    ]
    body = asked("ringtest", sheet(tmp_path / "s.csv", ["lab", "material", "value"], rows))
    for material in body["materials"]:
        name, found = material["material"], material["precision"]
        derived, printed = known["expected"]["derived"][name], known["expected"]["printed"][name]
        assert found["mean"] == pytest.approx(derived["m"], rel=1e-8)
        assert found["s_r"] == pytest.approx(derived["s_r"], rel=1e-8)
        assert found["s_R"] == pytest.approx(derived["s_R"], rel=1e-7)
        assert found["s_R"] == pytest.approx(printed["s_R"], abs=6e-4)
        assert [round(c["h"], 3) for c in found["cells"]] == pytest.approx(derived["mandel_h"], abs=1.1e-3)


def test_ring_test_with_one_result_a_lab(tmp_path: Path) -> None:
    """Atrazine, ISO 13528:2022 E.3 (read in a secondary copy): Algorithm A and Q/Hampel."""
    known = check("iso13528_e03_atrazine")
    rows = [[f"{i:02d}", value] for i, value in enumerate(known["data"], 1)]
    material = asked("ringtest", sheet(tmp_path / "a.csv", ["lab", "value"], rows))["materials"][0]
    printed = known["expected"]["printed"]
    assert material["assigned_by"] == "algorithm-a"
    assert round(material["algorithm_a"]["location"], 3) == printed["algorithm_A"]["location"]
    assert round(material["algorithm_a"]["scale"], 4) == printed["algorithm_A"]["scale"]
    assert round(material["algorithm_a"]["u"], 4) == printed["algorithm_A"]["u"]
    assert round(material["q_hampel"]["location"], 3) == printed["Q_Hampel"]["location"]
    assert round(material["q_hampel"]["scale"], 4) == printed["Q_Hampel"]["scale"]
    worst = min(material["scores"], key=lambda s: s["score"]["z"])
    assert worst["lab"] == "01"
    assert worst["score"]["signal"] == "action"


def test_components_of_dyestuff(tmp_path: Path) -> None:
    """Batches of dyestuff, variance components derived from the published data."""
    known = check("dyestuff")
    rows = [[batch, value] for batch, values in known["data"].items() for value in values]
    derived = known["expected"]["derived"]
    for header in (["batch", "value"], ["batch", "yield"]):
        body = asked("components", sheet(tmp_path / "d.csv", header, rows), "batch")
        between, within = body["components"]
        assert body["mean"] == pytest.approx(derived["mean"])
        assert between["sd"] == pytest.approx(derived["s_between"], rel=1e-5)
        assert within["sd"] == pytest.approx(derived["s_within"], rel=1e-5)


def test_comparison_of_two_flow_meters(tmp_path: Path) -> None:
    """Bland and Altman's flow data (read in a secondary copy), first readings."""
    known = check("bland_altman_1986_peak_flow")
    rows = [
        [i, a, b]
        for i, (a, b) in enumerate(
            zip(known["data"]["large_meter_1"], known["data"]["mini_meter_1"], strict=True), 1
        )
    ]
    body = asked("compare", sheet(tmp_path / "b.csv", ["sample", "a", "b"], rows), "--margin", "25")
    found, derived = body["differences"], known["expected"]["derived_first_readings"]
    assert found["mean"] == pytest.approx(derived["mean_difference"], rel=1e-8)
    assert found["sd"] == pytest.approx(derived["sd"], rel=1e-8)
    assert found["limits"] == pytest.approx(derived["limits_1_96sd"], rel=1e-8)
    assert [found["low"], found["high"]] == pytest.approx(derived["ci95_mean"], rel=1e-7)
    assert body["equivalence"]["verdict"] == "equivalent"


def test_comparison_with_stated_uncertainties(tmp_path: Path) -> None:
    """Arsenate in river water (Ripley and Thompson 1987, read in a secondary copy): weights are used."""
    lines = [
        line for line in (CHECKS / "arsenate_1987.csv").read_text("utf-8").splitlines() if line[0] != "#"
    ]
    head = lines[0].split(",")
    renamed = {"aas": "a", "se_aas": "u_a", "aes": "b", "se_aes": "u_b"}
    rows: list[list[object]] = [list(line.split(",")) for line in lines[1:]]
    body = asked("compare", sheet(tmp_path / "r.csv", [renamed[h] for h in head], rows))
    assert body["pairs"] == 30
    assert body["known_variances"]["slope"] == pytest.approx(0.973, abs=0.01)
    assert body["known_variances"]["slope_low"] < 1.0 < body["known_variances"]["slope_high"]


def test_chart_of_individuals(tmp_path: Path) -> None:
    """NIST e-Handbook, individuals (read in a secondary copy)."""
    known = check("nist_individuals")
    rows = [[value] for value in known["data"]]
    chart = asked("chart", sheet(tmp_path / "i.csv", ["value"], rows))["materials"][0]["individuals"]
    printed = known["expected"]["printed"]
    assert round(chart["upper"], 4) == printed["UCL"]
    assert round(chart["lower"], 4) == printed["LCL"]
    assert round(chart["moving_range_mean"], 4) == printed["mr_mean"]
    assert chart["in_control"] is True
    assert chart["upper_widened"] > chart["upper"]


def test_chart_of_a_drift_by_time_and_material(tmp_path: Path) -> None:
    """NIST's cumulative-sum data: the shift after the twelfth value is seen; rows go by time."""
    known = check("nist_cusum")
    values = known["data"]["x"]
    rows = [[f"2031-08-{i:02d}T08:00", "meal", v, 325] for i, v in enumerate(values, 1)]
    header = ["when", "material", "value", "target"]
    body = asked(
        "chart",
        sheet(tmp_path / "c.csv", header, rows[::-1]),
        "--baseline",
        "12",
    )
    material = body["materials"][0]
    assert material["target"] == 325
    assert material["rows"] == list(range(len(values) - 1, -1, -1))
    assert material["cusum"]["beyond"][0] >= 12
    assert {s["at"] for s in material["signals"]} >= {12, 13, 14, 15}


def test_duplicates(tmp_path: Path) -> None:
    """The peak-flow duplicates hold one SD for all levels: 15.3 within subjects (derived from the data)."""
    known = check("bland_altman_1986_peak_flow")
    pairs = list(zip(known["data"]["large_meter_1"], known["data"]["large_meter_2"], strict=True))
    rows: list[list[object]] = [[i, *pair] for i, pair in enumerate(pairs, 1)]
    body = asked("duplicates", sheet(tmp_path / "p.csv", ["sample", "first", "second"], rows))
    within = known["expected"]["derived_repeatability"]["large_meter"]["within_subject_sd"]
    assert body["scatter"]["used"] == 17
    near = next(one for one in body["levels"] if one["sd"]["fn_s"] == 400.0)["sd"]
    assert near["low_s"] < within < near["high_s"]
    assert 0.02 < body["scatter"]["prior_weight"] < 0.2


def test_budget_lines_add_as_squares(tmp_path: Path) -> None:
    """287 s, two tubes at CV 2 %: 287 x 0.02/sqrt 2 = 4.06; with grinding 3: 5.05 (GUM 5.1.2)."""
    body = asked("budget", "287", "--cv", "2", "--grinding-sd", "3", "--moisture-within", "0.3", "--check")
    by = {line["contribution"]["key"]: line["contribution"]["u_s"] for line in body["lines"]}
    assert by["tube"] == pytest.approx(287 * 0.02 / 2**0.5)
    assert by["grinding"] == 3.0
    assert by["moisture"] == pytest.approx(0.3 / 3**0.5 * 1.86 * 227 / 88)
    assert by["water"] is None
    assert body["u_s"] == pytest.approx(sum(u * u for u in by.values() if u) ** 0.5)
    assert body["simulated"]["u"] == pytest.approx(body["u_s"], rel=0.03)
    assert "budget-not-evaluated" in codes(body)


def test_budget_from_own_pairs_and_for_another_lab(tmp_path: Path) -> None:
    rows: list[list[object]] = [[300 + i, 306 + i - (i % 5) * 3] for i in range(40)]
    file = sheet(tmp_path / "p.csv", ["first", "second"], rows)
    own = asked("budget", "300", "--duplicates", file)
    assert own["lines"][0]["contribution"]["source"] == "own-data"
    assert own["prior_weight"] < 0.1
    other = asked("budget", "300", "--duplicates", file, "--other-sd", "8", "--other-bias", "-4")
    assert other["expected_s"] == 296.0
    assert other["u_s"] == pytest.approx((own["u_s"] ** 2 + 64) ** 0.5)


@pytest.mark.parametrize(
    ("command", "header", "rows", "code", "found"),
    [
        ("duplicates", ["sample", "first", "second"], [], 1, {"sheet-no-rows", "pairs-none"}),
        ("duplicates", ["first", "second"], [["<=62", "<=62"]] * 5, 1, {"pairs-all-at-floor"}),
        ("duplicates", ["first", "second"], [[300, ""], ["abc", 290], [-5, 300]], 1,
         {"column-not-a-number", "pair-value-missing", "pair-value-out-of-range"}),
        ("duplicates", ["first", "second"], [[300, 300]] * 6, 0, {"pairs-all-equal"}),
        ("duplicates", ["first"], [[300]], 1, {"sheet-column-missing"}),
        ("ringtest", ["lab", "value"], [["a", 300], ["a", 301]], 1, {"ring-consensus-too-few-labs"}),
        ("ringtest", ["lab", "value"], [[c, 300] for c in "abcdef"], 0, {"ring-all-equal"}),
        ("chart", ["value"], [[300]], 1, {"chart-values-few"}),
        ("chart", ["value"], [[300]] * 8, 1, {"chart-all-equal"}),
        ("chart", ["value"], [[300], ["x"], [-3], [301], [299]], 0,
         {"column-not-a-number", "chart-value-missing", "chart-value-negative"}),
        ("compare", ["a", "b"], [[300, 301], [290, ""]], 1, {"compare-value-missing", "compare-pairs-few"}),
        ("compare", ["a", "b"], [[300, 300]] * 5, 0, {"compare-all-equal"}),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said(
    tmp_path: Path, command: str, header: list[str], rows: list[list[object]], code: int, found: set[str]
) -> None:
    done = runner.invoke(app, [command, sheet(tmp_path / "x.csv", header, rows), "--json"])
    assert done.exit_code == code, done.output
    body = json.loads(done.stdout)
    assert found <= codes(body)
    assert "NaN" not in done.stdout
    plain = runner.invoke(app, [command, str(tmp_path / "x.csv")])
    assert plain.exit_code == code
    assert "nan" not in plain.stdout.lower().split()


@pytest.mark.parametrize(
    "rows", [[["A", 1.0], ["A", 1.0]], [["A", 1.0]], [["A", 2], ["B", 2], ["C", 2], ["C", 2]]]
)
def test_components_without_an_answer(tmp_path: Path, rows: list[list[object]]) -> None:
    body = asked("components", sheet(tmp_path / "x.csv", ["batch", "value"], rows), "batch", code=1)
    assert body["components"] == []
    assert body["findings"]


def test_rows_named_are_rows_of_the_sheet(tmp_path: Path) -> None:
    file = sheet(tmp_path / "x.csv", ["first", "second"], [[300, 302], [295, ""], [280, 283]])
    body = asked("duplicates", file)
    missing = next(f for f in body["findings"] if f["code"] == "pair-value-missing")
    assert missing["where"]["row"] == 3
    assert missing["where"]["source"] == "x.csv"


def test_pictures_are_written(tmp_path: Path) -> None:
    pairs = sheet(tmp_path / "p.csv", ["first", "second"], [[300 + i, 303 - i] for i in range(9)])
    values = sheet(tmp_path / "v.csv", ["value"], [[300 + (7 * i) % 11] for i in range(20)])
    both = sheet(tmp_path / "c.csv", ["a", "b"], [[300 + 5 * i, 303 + 4 * i] for i in range(9)])
    for command, file in (("duplicates", pairs), ("chart", values), ("compare", both)):
        out = tmp_path / f"{command}.svg"
        done = runner.invoke(app, [command, file, "--picture", str(out)])
        assert done.exit_code == 0, done.output
        assert out.read_text("utf-8").count("<circle") >= 9


def nested(tmp_path: Path) -> str:
    rows: list[list[object]] = [
        [p, f"{p}{g}", 300 + 9 * i + 3 * j + 4 * k]
        for i, p in enumerate("ABCDEF") for j, g in enumerate("xy") for k in range(2)
    ]  # fmt: skip
    return sheet(tmp_path / "n.csv", ["probe", "grind", "value"], rows)


def test_components_find_the_cheapest_plan(tmp_path: Path) -> None:
    file = nested(tmp_path)
    costs = ["--cost-probe", "1", "--cost-grind", "6", "--cost-tube", "4"]
    body = asked("components", file, "probe", "grind", "--target-u", "9", *costs)
    probe, grind, tube = (c["variance"] for c in body["components"])
    best = body["plan"]["best"]
    u2 = probe / best["probes"] + grind / best["grinds"] + tube / best["tubes"]
    assert best["u_s"] == pytest.approx(u2**0.5)
    assert body["plan"]["reached"]
    assert best["u_s"] <= 9.0
    assert best["cost"] == best["probes"] + 6 * best["grinds"] + 4 * best["tubes"]
    short = [p for p in body["plan"]["frontier"] if p["cost"] < best["cost"]]
    assert all(p["u_s"] > 9.0 for p in short)
    assert (
        "Cheapest: probes"
        in runner.invoke(app, ["components", file, "probe", "grind", "--target-u", "9", *costs]).stdout
    )
    far = asked("components", file, "probe", "grind", "--target-u", "0.01", *costs)
    assert not far["plan"]["reached"]
    assert "plan-target-out-of-reach" in codes(far)
    assert "value-illegal" in codes(asked("components", file, "probe", "grind", "--target-u", "-3", *costs))


def test_components_look_for_few_hot_kernels(tmp_path: Path) -> None:
    file = nested(tmp_path)
    body = asked("components", file, "probe", "grind", "--expected-sd", "3", "--sound", "400")
    assert body["spread"]["observed_sd_s"] == pytest.approx(9.0 * 3.5**0.5)  # sd of 0, 9, ... 45
    assert body["spread"]["verdict"] == "more-than-expected"
    assert body["spread"]["many"] > 1.0
    calm = asked("components", file, "probe", "grind", "--expected-sd", "20")
    assert (calm["spread"]["verdict"], calm["spread"]["many"], calm["plan"]) == ("as-expected", None, None)


def test_the_other_lab_from_samples_that_it_measured_too(tmp_path: Path) -> None:
    rows: list[list[object]] = [[300 + i, 306 + i + (-1) ** i * 8] for i in range(12)]
    file = sheet(tmp_path / "out.csv", ["ours", "theirs"], rows)
    body = asked("budget", "300", "--cv", "1", "--sent-out", file)
    assert body["expected_s"] == pytest.approx(306.0)
    line = next(x["contribution"] for x in body["lines"] if x["contribution"]["key"] == "other-lab")
    spread2 = 64.0 * 12 / 11  # of the differences, our two tubes' part still in it
    ours2 = sum((0.01 * (300 + i)) ** 2 / 2 for i in range(12)) / 12
    assert line["u_s"] == pytest.approx((spread2 - ours2 + spread2 / 12) ** 0.5, rel=1e-6)
    assert (line["dof"], line["provenance"]) == (11.0, "measured here")
    few = asked("budget", "300", "--sent-out", sheet(tmp_path / "few.csv", ["ours", "theirs"], rows[:2]))
    assert "compare-pairs-few" in codes(few)


def test_a_sensitivity_of_the_own_bench_comes_first_and_the_range_is_shown(tmp_path: Path) -> None:
    plain = asked("budget", "300", "--moisture-within", "0.5")
    own = asked("budget", "300", "--moisture-within", "0.5", "--slope", "moisture=9")
    lines = [
        next(x["contribution"] for x in b["lines"] if x["contribution"]["key"] == "moisture")
        for b in (plain, own)
    ]
    assert (lines[1]["sensitivity"], lines[1]["source"]) == (9.0, "own-data")
    assert lines[1]["least_u_s"] == pytest.approx(lines[0]["u_s"])
    assert lines[1]["most_u_s"] == pytest.approx(9.0 * 0.5 / 3**0.5)
    assert own["least_u_s"] < own["most_u_s"]
    wrong = runner.invoke(app, ["budget", "300", "--slope", "colour=3"])
    assert wrong.exit_code == 2
