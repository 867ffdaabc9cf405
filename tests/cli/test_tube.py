"""The tube by command: figures, files, codes of exit, and what every answer does not know."""

from __future__ import annotations

import csv
import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

ROOT = Path(__file__).resolve().parents[2]
RUNS = ROOT / "tests/data/tube/runs.csv"
OPEN = ROOT / "tests/data/tube/runs-open.csv"
runner = CliRunner()


def ask(*words: str, code: int = 0) -> dict:
    done = runner.invoke(app, ["tube", *words, "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout)


def say(*words: str, code: int = 0) -> str:
    done = runner.invoke(app, ["tube", *words])
    assert done.exit_code == code, done.output
    return done.output


def svg(path: Path) -> ET.Element:
    root = ET.parse(path).getroot()  # noqa: S314 - a file of our own
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "NaN" not in path.read_text("utf-8")
    return root


def texts(root: ET.Element) -> str:
    return " ".join(t for e in root.iter() if e.tag.endswith("}text") for t in e.itertext())


# --- run ---


def test_the_reference_set_reads_309_seconds_at_its_defaults():
    # Derived: the model reference's own run of set ref at 7.00 g, 14 %, 25 mL, 22 °C, 1013.25 hPa.
    body = ask("run", "--ln", "24")
    assert body["seconds"] == pytest.approx(309.3, abs=0.1)
    assert body["error_s"] < 0.01
    assert (body["activity"], body["ln"], body["set"], body["standing"]) == (9.0, 24.0, "ref", "uncalibrated")
    marks = body["landmarks"]
    # Same source, table of the time course: 78.91 °C, 92.71 % swollen and 97.06 % of the enzyme at 60 s.
    assert marks["mean_at_release_c"] == pytest.approx(78.91, abs=0.05)
    assert marks["swollen_at_release"] == pytest.approx(0.9271, abs=0.001)
    assert marks["enzyme_at_release"] == pytest.approx(0.9706, abs=0.001)
    assert marks["fall_s"] == pytest.approx(body["seconds"] - 60.0, abs=0.01)
    assert body["findings"] == []


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (["--ln", "24"], ["--activity", "9"]),
        (["--reads", "300"], ["--activity", "9.9363"]),
        (["--reads", "300", "--place", "908.12hPa"], ["--reads", "300", "--place", "3000ft"]),
        (["--share", "0"], ["--reads", "350"]),
        (["--share", "100"], ["--reads", "80"]),
        (["--share", "40", "--sound", "300", "--sprouted", "300"], ["--reads", "300"]),
        (["--ln", "24", "--origin", "germination:0.5", "--origin", "late-maturity:0.5"], ["--ln", "24"]),
    ],
)
def test_one_tube_can_be_stated_in_several_ways(one, other):
    assert ask("run", *one)["seconds"] == pytest.approx(ask("run", *other)["seconds"], abs=0.05)


def test_what_the_meal_reads_is_meant_under_standard_conditions_and_the_tube_may_differ():
    assert ask("run", "--reads", "300")["seconds"] == pytest.approx(300.0, abs=0.01)
    higher = ask("run", "--reads", "300", "--place", "3000ft")
    assert higher["seconds"] > 315.0
    assert higher["inputs"]["elevation_m"] == pytest.approx(914.4)
    assert higher["bath_c"] == pytest.approx(97.0, abs=0.1)


def test_every_input_moves_the_reading_the_way_the_budget_says():
    # Derived: signs of the model reference's table of disturbances.
    base = ask("run", "--reads", "300")["seconds"]
    for more, sign in (("--mass 7.05", 1), ("--water 25.2", -1), ("--moisture 15", -1), ("--start 27", -1),
                       ("--place 1038hPa", -1), ("--wall 1.5", 1), ("--stir-from 6", 1), ("--decay 0.02", 1),
                       ("--origin pericarp", 0), ("--set kd-plus", 0)):  # fmt: skip
        words = more.split()
        enzyme = (
            ["--activity", "9.9363"] if words[0] in {"--decay", "--origin", "--set"} else ["--reads", "300"]
        )
        change = ask("run", *enzyme, *words)["seconds"] - base
        assert abs(change) > 0.1, more
        assert change * sign >= 0.0, more


def test_the_history_is_written_as_a_table_that_says_the_same(tmp_path):
    path = tmp_path / "deeper" / "h.csv"
    body = ask("run", "--ln", "24", "--history", str(path))
    rows = list(csv.DictReader(path.read_text().splitlines()))
    assert body["history"] == str(path)
    assert (rows[0]["phase"], float(rows[0]["temp_core_c"])) == ("waiting", 22.0)
    assert float(rows[-1]["time_s"]) == pytest.approx(body["seconds"], abs=0.001)
    assert float(rows[-1]["share_fallen"]) == pytest.approx(1.0, abs=1e-5)
    assert {r["phase"] for r in rows} == {"waiting", "stirring", "falling"}
    at_60 = [r for r in rows if r["time_s"] == "60"][-1]
    assert float(at_60["temp_mean_c"]) == pytest.approx(body["landmarks"]["mean_at_release_c"], abs=0.01)
    assert all(row[f"temp_c_{i}"] for row in rows for i in range(1, 11))


def test_a_run_is_drawn_with_what_it_does_not_know(tmp_path):
    path = tmp_path / "run.svg"
    say("run", "--share", "5", "--out", str(path))
    said = texts(svg(path))
    assert "Temperature, core to wall: 79 °C on average when the stirrer is let go." in said
    assert "It never corrects a result." in said


def test_the_answer_in_words_fits_100_columns_and_says_its_limits():
    said = say("run", "--ln", "24")
    assert said.startswith("309 s by the model\n")
    assert all(len(line) <= 100 for line in said.splitlines())
    assert "What this does not know:" in said
    assert len(ask("run", "--ln", "24")["limits"]) >= 6


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--ln", "24", "--water", "0"], "tube-input-illegal"),
        (["--ln", "24", "--moisture", "0"], "tube-input-illegal"),
        (["--ln", "24", "--moisture", "40"], "tube-input-illegal"),
        (["--ln", "24", "--mass", "nan"], "tube-input-illegal"),
        (["--ln", "24", "--place", "0hPa"], "pressure-illegal"),
        (["--ln", "24", "--place", "high"], "quantity-unreadable"),
        (["--activity", "-1"], "tube-input-illegal"),
        (["--ln", "inf"], "tube-input-illegal"),
        (["--ln", "8"], "tube-above-enzyme-free"),
        (["--reads", "500"], "tube-above-enzyme-free"),
        (["--reads", "61"], "tube-below-reach"),
        (["--share", "101"], "tube-share-pct"),
        (["--share", "nan"], "tube-share-pct"),
        (["--ln", "24", "--share", "5"], "tube-enzyme-twice"),
        ([], "tube-enzyme-missing"),
        (["--ln", "24", "--origin", "moon"], "tube-origin-unknown"),
        (["--ln", "24", "--origin", "rye:half"], "tube-origin-unreadable"),
        (["--ln", "24", "--origin", "rye:0.5"], "tube-shares-not-one"),
        (["--ln", "24", "--set", "none"], "tube-set-unknown"),
    ],
)
def test_what_cannot_be_is_a_finding_and_ends_with_1(words, code):
    body = ask("run", *words, code=1)
    assert body["seconds"] is None
    assert code in {f["code"] for f in body["findings"]}
    assert body["landmarks"]["fall_s"] is None


def test_all_problems_are_told_at_once():
    body = ask("run", "--ln", "24", "--water", "0", "--moisture", "40", "--place", "0hPa", code=1)
    fields = {f["where"]["field"] for f in body["findings"]}
    assert fields == {"water_ml", "moisture_pct", "pressure_hpa"}


# --- sweep ---


def test_a_sweep_of_the_portion_rises_and_meets_a_single_run():
    body = ask("sweep", "mass", "5", "9", "--steps", "5", "--ln", "24")
    assert (body["input"], body["unit"]) == ("mass_g", "g")
    values = [r["value"] for r in body["rows"]]
    seconds = [r["seconds"] for r in body["rows"]]
    assert values == [5.0, 6.0, 7.0, 8.0, 9.0]
    assert seconds == sorted(seconds)
    assert seconds[2] == pytest.approx(ask("run", "--ln", "24")["seconds"], abs=1e-3)
    assert "tube-flour-not-meal" in {limit["code"] for limit in body["limits"]}


@pytest.mark.parametrize(
    ("name", "first", "last"),
    [("ln", "20", "40"), ("activity", "5", "40"), ("share", "0", "10"), ("moisture", "12", "16"),
     ("water_ml", "24", "26"), ("start", "18", "26"), ("pressure", "900", "1013"), ("elevation", "0", "1500"),
     ("wall", "1.2", "1.6"), ("stir", "2", "8"), ("decay", "0.005", "0.03")],
)  # fmt: skip
def test_every_input_can_be_swept(name, first, last):
    enzyme = [] if name in {"ln", "activity", "share"} else ["--reads", "300"]
    body = ask("sweep", name, first, last, "--steps", "3", *enzyme)
    assert len({r["seconds"] for r in body["rows"]}) == 3


def test_pressure_and_elevation_are_two_ways_to_one_bath():
    by_height = ask("sweep", "elevation", "914.4", "0", "--steps", "2", "--reads", "300")["rows"]
    by_pressure = ask("sweep", "pressure", "908.12", "1013.25", "--steps", "2", "--reads", "300")["rows"]
    assert [r["seconds"] for r in by_height] == pytest.approx([r["seconds"] for r in by_pressure], abs=0.05)


def test_values_that_cannot_be_are_left_out_and_told_once():
    body = ask("sweep", "water", "5", "25", "--steps", "5", "--ln", "24", code=1)
    assert [r["value"] for r in body["rows"]] == [10.0, 15.0, 20.0, 25.0]
    (finding,) = [f for f in body["findings"] if f["severity"] == "stop"]
    assert (finding["code"], finding["values"]["tubes"]) == ("tube-input-illegal", 1)


def test_a_sweep_of_nothing_known_or_of_no_steps_is_a_finding():
    assert ask("sweep", "colour", "1", "2", code=1)["findings"][0]["code"] == "tube-sweep-unknown"
    one = ask("sweep", "mass", "1", "2", "--steps", "1", "--ln", "24", code=1)
    assert one["findings"][0]["code"] == "tube-sweep-steps"


def test_a_sweep_is_drawn(tmp_path):
    path = tmp_path / "s.svg"
    said = say("sweep", "mass", "5", "9", "--steps", "5", "--ln", "24", "-o", str(path))
    assert "Portion, g" in said
    assert "Portion from 5 g to 9 g: the reading goes from 199 to 436 s by the model." in texts(svg(path))


# --- budget ---


def test_a_budget_gives_the_seconds_of_every_disturbance():
    # Derived: the model reference's table of disturbances at 300 s.
    lines = ask("budget", "300", "--points", "16")["readings"][0]["disturbances"]
    more = {line["input"]: line["more_s"] for line in lines}
    assert more["mass_g"] == pytest.approx(2.8, abs=0.1)
    assert more["water_ml"] == pytest.approx(-3.1, abs=0.1)
    assert more["moisture_pct"] == pytest.approx(-5.8, abs=0.1)
    assert more["wall_mm"] == pytest.approx(3.3, abs=0.1)
    assert {line["input"] for line in lines if not line["measured"]} == {
        "water_ml", "start_temp_c", "stir_from_s", "wall_mm"
    }  # fmt: skip


def test_shares_add_up_and_the_same_seed_gives_the_same_answer():
    body = ask("budget", "300", "--points", "512")
    inputs = body["readings"][0]["shares"]["inputs"]
    assert sum(i["first"] for i in inputs) == pytest.approx(1.0, abs=0.1)
    assert body["readings"][0]["shares"]["sd_s"] == pytest.approx(body["readings"][0]["u_s"], rel=0.1)
    assert body == ask("budget", "300", "--points", "512")
    assert body != ask("budget", "300", "--points", "512", "--seed", "2")


def test_a_bench_of_one_s_own_is_the_one_that_is_answered_for(tmp_path):
    bench = tmp_path / "ours.toml"
    bench.write_text('[mass_g]\neven = 0.02\nprovenance = "measured here"\n[water_ml]\nnormal = 0.1\n')
    body = ask("budget", "300", "--bench", str(bench), "--points", "0")
    assert [s["input"] for s in body["spreads"]] == ["mass_g", "water_ml"]
    parts = body["readings"][0]["contributions"]
    assert parts[0]["u_input"] == pytest.approx(0.02 / 3**0.5)
    assert body["readings"][0]["u_s"] == pytest.approx(sum(p["u_s"] ** 2 for p in parts) ** 0.5)
    assert body["readings"][0]["shares"]["inputs"] == []


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("[mass_g\n", "tube-bench-unreadable"),
        ("", "tube-bench-empty"),
        ("[colour]\neven = 1\n", "tube-bench-entry"),
        ("[mass_g]\neven = -1\n", "tube-bench-entry"),
        ("[mass_g]\neven = 1\nnormal = 1\n", "tube-bench-entry"),
        ('[mass_g]\neven = "wide"\n', "tube-bench-entry"),
        ('[mass_g]\neven = 1\nprovenance = "heard"\n', "tube-bench-entry"),
        ("mass_g = 1\n", "tube-bench-entry"),
    ],
)
def test_a_bench_that_cannot_be_read_is_never_replaced_by_another(tmp_path, text, code):
    bench = tmp_path / "b.toml"
    bench.write_text(text)
    body = ask("budget", "300", "--bench", str(bench), code=1)
    assert body["readings"] == []
    assert body["findings"][0]["code"] == code


def test_a_reading_out_of_reach_and_mixed_origins_are_findings():
    assert ask("budget", "430", code=1)["findings"][0]["code"] == "tube-above-enzyme-free"
    mixed = ask("budget", "300", "--origin", "rye:0.5", "--origin", "fungal:0.5", code=1)
    assert mixed["findings"][0]["code"] == "tube-one-origin"
    assert ask("budget", "300", "--points", "3", code=1)["findings"][0]["code"] == "tube-points"


def test_a_budget_is_drawn_and_told(tmp_path):
    path = tmp_path / "b.svg"
    said = say("budget", "200", "300", "--points", "64", "-o", str(path))
    assert re.search(r"portion \+0\.05 g +\+1\.0 +\+2\.8", said)
    assert "never measured, to our knowledge" in said
    assert "At 300 s the largest of these is moisture +1 %: −5.8 s by the model." in texts(svg(path))


# --- fit ---


def test_a_fit_to_runs_that_the_model_made_finds_its_constants_again(tmp_path):
    # Its own readings as data: the constants are known, and have to come back.
    truth = {"paste_time_s": 600.0, "cutting_rate_per_s": 9.5e-4}
    own = tmp_path / "truth.toml"
    lines = "".join(f"{key} = {value}\n" for key, value in truth.items())
    own.write_text(f'name = "truth"\nstanding = "uncalibrated"\nfitted = []\n[constants]\n{lines}')
    rows = ["lot,seconds,u_s,activity,mass_g"]
    for activity, mass in ((0, 7.0), (5, 7.0), (12, 7.0), (30, 7.0), (12, 6.0)):
        body = ask("run", "--activity", str(activity), "--mass", str(mass), "--set", str(own))
        rows.append(f"a{activity}m{mass},{body['seconds']},1,{activity},{mass}")
    runs = tmp_path / "made.csv"
    runs.write_text("\n".join(rows) + "\n")
    body = ask("fit", str(runs), "--move", "paste_time_s,cutting_rate_per_s")
    found = {e["name"]: e["value"] for e in body["estimates"]}
    assert found == pytest.approx(truth, rel=1e-3)
    assert max(abs(r["over_u"]) for r in body["calibration_residuals"]) < 0.05
    assert (body["standing"], body["runs"]) == ("fitted-here", 5)


def test_a_fit_says_what_the_runs_cannot_tell_apart():
    body = ask("fit", str(OPEN), "--move", "cutting_rate_per_s")
    assert body["u_by_law"] == 5
    assert any(not d["determined"] for d in body["not_told_apart"])
    assert {"first": "cutting_rate_per_s", "second": "lot first"} in [
        {"first": a["first"], "second": a["second"]} for a in body["alike"]
    ]
    assert all(e["u_relative"] is None for e in body["estimates"])
    assert "tube-fit-underdetermined" in {f["code"] for f in body["findings"]}


def test_a_fitted_set_can_be_kept_and_used_and_is_never_overwritten(tmp_path):
    kept = tmp_path / "ours.toml"
    body = ask("fit", str(RUNS), "--save", str(kept), "--name", "our bench")
    paste = next(e["value"] for e in body["estimates"] if e["name"] == "paste_time_s")
    assert f"paste_time_s = {paste!r}" in kept.read_text()
    used = ask("run", "--ln", "24", "--set", str(kept))
    assert (used["set"], used["standing"]) == ("our bench", "fitted-here")
    assert "tube-uncalibrated" not in {limit["code"] for limit in used["limits"]}
    again = runner.invoke(app, ["tube", "fit", str(RUNS), "--save", str(kept)])
    assert again.exit_code == 1
    assert "is there already" in str(again.exception)


def test_a_posterior_covers_the_estimate_and_says_what_was_told():
    body = ask("fit", str(RUNS), "--posterior", "--steps", "200", "--with-published")
    margins = {m["name"]: m for m in body["posterior"]["margins"]}
    for one in body["estimates"]:
        margin = margins[one["name"]]
        assert margin["low"] < margin["median"] < margin["high"]
        assert 0.0 < margin["told"] < 1.0
    assert body["published"] > 8
    assert body["posterior"]["evaluations"] > 10_000


@pytest.mark.parametrize(
    ("row", "code", "left_out"),
    [
        ("x,6x,,,,,,", "row-seconds-unreadable", True),
        ("x,>400,,,,,,", "tube-run-stopped", True),
        ("x,<=62,,,,,,", "tube-run-at-floor", True),
        ("x,300,,,,,wide,", "tube-run-cell", True),
        ("x,300,-1,,,,,", "tube-u-not-positive", True),
        ("x,300,,,,sound,,", "tube-run-cell", True),
        ("x,300,,,,sound:0.5,,", "tube-shares-not-one", True),
        ("x,300,,,,gone:1,,", "tube-lot-unknown", True),
        ("low,300,,,99,,,", "tube-run-lot-differs", True),
        ("x,300,,,,,70,", "tube-input-illegal", True),
        ("x,300,,3,24,,,", "tube-lot-said-twice", True),
        (",300,,,,,,", "row-no-sample", True),
    ],
)
def test_a_row_that_cannot_be_used_is_left_out_with_a_finding(tmp_path, row, code, left_out):
    runs = tmp_path / "r.csv"
    runs.write_text(RUNS.read_text() + row + "\n")
    body = ask("fit", str(runs))
    assert code in {f["code"] for f in body["findings"]}
    assert (body["runs"] == 8) == left_out


def test_nothing_to_fit_and_constants_that_may_not_move_are_findings(tmp_path):
    runs = tmp_path / "none.csv"
    runs.write_text("lot,seconds\n")
    assert "tube-fit-nothing-to-fit" in {f["code"] for f in ask("fit", str(runs), code=1)["findings"]}
    moved = ask("fit", str(RUNS), "--move", "bore_mm", code=1)
    assert "tube-fit-key-unknown" in {f["code"] for f in moved["findings"]}
    walked = ask("fit", str(RUNS), "--posterior", "--steps", "3", code=1)
    assert "tube-fit-walk" in {f["code"] for f in walked["findings"]}


def test_a_fit_is_told_as_residuals_that_validate_nothing(tmp_path):
    path = tmp_path / "f.svg"
    said = say("fit", str(RUNS), "-o", str(path))
    assert "Calibration residuals: the fit has seen these runs. They validate nothing." in said
    assert "sound, row 2" in texts(svg(path))


@pytest.mark.parametrize(
    "text",
    [
        "name = ", 'name = "x"\n', 'name = "x"\nstanding = "perfect"\n[constants]\npaste_time_s = 1\n',
        'name = "x"\nstanding = "uncalibrated"\n[constants]\nmoon = 1\n',
        'name = "x"\nstanding = "uncalibrated"\n[constants]\npaste_time_s = -1\n',
        'name = "x"\nstanding = "uncalibrated"\n[constants]\npaste_time_s = "long"\n',
        'name = "x"\nstanding = "uncalibrated"\nfitted = ["moon"]\n[constants]\npaste_time_s = 1\n',
    ],
)  # fmt: skip
def test_a_set_that_cannot_be_read_is_never_replaced_by_another(tmp_path, text):
    path = tmp_path / "set.toml"
    path.write_text(text)
    body = ask("run", "--ln", "24", "--set", str(path), code=1)
    assert body["seconds"] is None
    assert body["findings"][0]["code"] in {"tube-set-entry", "tube-set-unreadable"}
