"""The pocket calculations as typed: figures, codes of exit, bad input."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

runner = CliRunner()


def ask(*words: str, code: int = 0) -> dict:
    done = runner.invoke(app, [*words, "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout)


def test_portion_gives_the_mass_of_the_default_rule():
    # Derived: rule A of the method reference, k = 5.95/26.05, at 9 %; 6.40 g in print is recalled.
    body = ask("portion", "9")
    assert body["mass_g"] == 6.42
    assert body["rule"] == "dry-matter-to-total-water"
    assert body["profile"] == "meal-15@1"
    assert body["findings"] == []


def test_portion_above_the_method_gives_the_path_and_no_mass():
    body = ask("portion", "17.2", code=1)
    assert body["mass_g"] is None
    (finding,) = body["findings"]
    assert finding["code"] == "moisture-above-method"
    assert "Dry" in finding["do"]


@pytest.mark.parametrize("moisture", ["-3", "0", "99", "nan"])
def test_portion_of_no_moisture_is_a_finding(moisture):
    done = runner.invoke(app, ["portion", "--json", "--", moisture])
    assert done.exit_code == 1
    assert json.loads(done.stdout)["findings"][0]["code"] == "moisture-illegal"


def test_blend_of_the_published_example():
    # Published: agronomy article of 2020, 400 and 220 in equal parts, 279 (LN 26.2); exact value derived.
    body = ask("blend", "400:50", "220:50")
    assert body["seconds"] == pytest.approx(279, abs=0.5)
    assert body["seconds"] == pytest.approx(278.846, abs=0.0005)
    assert body["ln"] == pytest.approx(26.2185, abs=0.00005)
    assert body["kind"] == "exact"


def test_blend_shows_the_plain_law_beside_the_cap():
    body = ask("blend", "500:50", "300:50")
    assert body["seconds"] == pytest.approx(341.667, abs=0.0005)
    assert body["plain_seconds"] == pytest.approx(371.429, abs=0.0005)
    assert ask("blend", "500:50", "300:50", "--no-cap")["seconds"] == pytest.approx(371.429, abs=0.0005)


def test_blend_with_a_part_at_the_floor_is_a_bound():
    body = ask("blend", "400:95", "62:5")
    assert body["kind"] == "at or below"
    assert body["ln"] is None
    assert body["ln_high"] is None
    assert body["seconds"] == pytest.approx(195.329, abs=0.0005)
    text = runner.invoke(app, ["blend", "400:95", "62:5"]).stdout
    assert "≤" in text
    assert "inf" not in text
    assert ask("blend", "400:95", "62:5", "--no-floor")["kind"] == "exact"


def test_reach_gives_the_share_of_the_low_lot():
    assert ask("blend", "--reach", "300", "400", "220")["share_low"] == pytest.approx(0.37778, abs=5e-6)


def test_reach_that_no_mix_makes_is_an_answer():
    body = ask("blend", "--reach", "450", "400", "220", code=1)
    assert body["findings"][0]["code"] == "reach-above-both"


@pytest.mark.parametrize(
    ("lot", "code"),
    [("x", "lot-unreadable"), ("300", "lot-unreadable"), ("300:-4", "lot-mass"), ("30:5", "lot-seconds"),
     ("300:5@", "lot-unreadable"), ("300:nan", "lot-mass")],
)  # fmt: skip
def test_a_lot_that_cannot_be_read_says_what_to_type(lot, code):
    body = ask("blend", "400:50", lot, code=1)
    assert [f["code"] for f in body["findings"]] == [code]


@pytest.mark.parametrize(
    ("place", "boiling_c"),
    # Published check pairs (an elevation table read in a news-group copy) and the definition at sea level.
    [("1013.25hPa", 99.97), ("101.325 kPa", 99.97), ("760mmHg", 99.97), ("29.921inHg", 99.97), ("0m", 99.97),
     ("3000ft", 96.93), ("914,4 m", 96.93)],
)  # fmt: skip
def test_bath_takes_the_units_of_the_trade(place, boiling_c):
    assert ask("bath", place)["boiling_c"] == pytest.approx(boiling_c, abs=0.02)


def test_bath_tells_a_pressure_reduced_to_sea_level():
    assert [f["code"] for f in ask("bath", "1013hPa", "--elevation", "520m")["findings"]] == [
        "pressure-looks-reduced"
    ]
    assert [f["code"] for f in ask("bath", "1000hPa", "--elevation", "200m")["findings"]] == [
        "pressure-which"
    ]
    told = ask("bath", "1013.25hPa", "--elevation", "914.4m", "--pressure-is", "sea-level")
    assert told["pressure_hpa"] == pytest.approx(908.1, abs=0.1)
    assert told["findings"] == []


@pytest.mark.parametrize("place", ["12", "900 bar", "abc", "20hPa", "90000ft", "nanhPa"])
def test_bath_with_nonsense_is_a_finding(place):
    body = ask("bath", place, code=1)
    assert body["boiling_c"] is None
    assert body["findings"]


def test_wrong_usage_ends_with_2():
    assert runner.invoke(app, ["blend"]).exit_code == 2
    assert runner.invoke(app, ["portion", "nine"]).exit_code == 2
    assert runner.invoke(app, ["template", "cake"]).exit_code == 2
