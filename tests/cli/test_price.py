"""``price`` as somebody would type it."""

from __future__ import annotations

import json
from statistics import NormalDist

import pytest
from typer.testing import CliRunner

from lodestarch.cli.app import app

runner = CliRunner()


def run(*words):
    return runner.invoke(app, ["price", *words])


def plain(text):
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def body(*words):
    done = run(*words, "--json")
    assert done.exit_code in {0, 1}, done.output
    return json.loads(done.stdout)


def test_a_number_in_money_for_the_terms_of_the_demonstration():
    got = body("310", "--u", "9", "--retest-cost", "12", "--tonnes", "26")
    assert (got["demonstration"], got["currency"], got["trades_per"]) == (True, "USD", "bu")
    assert got["best"] == "quillmere-24-3"
    best = got["buyers"][0]
    # 310 at a lab with sd 11, u of its bias 5 and our 9: 299.5 counts as 300.
    assert best["p_makes_it"] == pytest.approx(NormalDist(310.0, (81 + 121 + 25) ** 0.5).cdf(320.5), abs=1e-9)
    assert got["net"] == pytest.approx(26.0 * best["net_per_t"])
    assert best["net_per_t"] < best["at_mean_per_t"]
    assert got["advice"]["retest_net"] == pytest.approx(got["advice"]["retest_worth"] - 12.0)
    assert got["advice"]["opinion"] is True


def test_the_first_sentence_is_the_answer():
    done = run("310", "--u", "9")
    lines = plain(done.output).splitlines()
    assert lines[0] == "Demonstration, invented offers"
    assert lines[1].startswith("Best: Quillmere Milling, 6.15 $/bu after haul; ")
    assert all(len(line) <= 100 for line in lines)
    assert "nan" not in done.output


def test_what_law_bars_is_shown_barred_with_its_rule():
    got = body("318", "--factor", "aflatoxin_ug_kg=27", "--factor", "moisture_pct=13")
    assert got["advice"]["why"] == "law"
    barred = {b["offer"] for b in got["buyers"] if b["barred_by"]}
    assert barred == {"quillmere-24-3", "dunveth-24-11", "sallowbeck-24-1"}
    assert body("318", "--factor", "aflatoxin_ug_kg=20")["best"] == "quillmere-24-3"
    elsewhere = body("318", "--factor", "don_mg_kg=1.1", "--jurisdiction", "EU")
    assert [r["rule"] for r in elsewhere["buyers"][-1]["barred_by"]] == ["eu-don"]


def test_not_comparable_and_at_the_floor():
    got = body("310", "--profile", "meal-15")
    assert [b["comparable"] for b in got["buyers"]].count(False) == 3
    floor = body("<=62")
    assert (floor["kind"], floor["best"], floor["u_s"]) == ("at or below", "pellanor-spot", None)


def test_a_cargo_under_every_clause():
    got = body("340", "330", "320", "280", "250", "--limit", "300")
    values = {c["judged"]: (round(c["value"], 3), c["within"]) for c in got["clauses"]}
    assert values["composite"] == (299.113, False)
    assert values["weighted-average"] == (304.0, True)
    assert values["every-sublot"] == (250.0, False)
    assert "meets the limit" in run("340", "330", "320", "280", "250", "--limit", "300").output


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["3l0"], "number-unreadable"),
        (["31"], "number-range"),
        (["310", "--factor", "mould=3"], "factor-unreadable"),
        (["310", "--factor", "moisture_pct=130"], "factor-unreadable"),
        (["310", "--tonnes", "0"], "value-illegal"),
        (["310", "--on", "2030-01-01"], "price-no-offer"),
        (["340", "320"], "limits-none"),
        (["340", ">400", "--limit", "300"], "sublot-censored"),
        (["340:x", "330", "--limit", "300"], "number-unreadable"),
    ],
)
def test_what_is_typed_wrong_is_answered_with_what_to_do(words, code):
    done = run(*words, "--json")
    assert done.exit_code == 1
    assert code in [f["code"] for f in json.loads(done.stdout)["findings"]]


@pytest.mark.parametrize(
    "words", [["310", "--on", "soon"], ["310", "--terms", "no.toml"], ["310", "--jurisdiction", "XX"]]
)
def test_wrong_usage_ends_with_two(words):
    assert run(*words).exit_code == 2


def test_a_picture_of_price_against_seconds_with_fifty_dots(tmp_path):
    out = tmp_path / "deep" / "price.svg"
    assert run("310", "--u", "9", "--picture", str(out)).exit_code == 0
    svg = out.read_text("utf-8")
    assert svg.count("<circle") == 50
    assert "Quillmere Milling pays 6.15 $/bu after haul" in svg
    assert "nan" not in svg


def test_schedules_that_do_not_fit_name_their_band(tmp_path):
    from lodestarch.demo import terms

    broken = tmp_path / "terms.toml"
    broken.write_bytes(terms().replace(b"down_to = 250", b"down_to = 260", 1))
    got = body("310", "--terms", str(broken))
    found = {f["code"]: f["values"] for f in got["findings"]}
    assert found["terms-schedule-gap"]["part"] == "part 2"
    assert (found["terms-schedule-gap"]["low"], found["terms-schedule-gap"]["high"]) == (250, 260)
    assert found["price-not-evaluated"]["reason"] == "price-schedule-unread"
    assert got["best"] == "dunveth-24-11"


def test_what_was_agreed_at_the_best_buyer_is_said():
    said = " ".join(plain(run("310", "--u", "9").output).split())
    assert (
        "At Quillmere Milling the number at its destination is final; the sample is drawn by the buyer"
        in said
    )
    assert "an appeal is open for 10 days; results combine by 'all count'" in said
    best = body("310", "--u", "9")["buyers"][0]
    assert (best["final"], best["sampled_by"], best["appeal_days"]) == ("destination", "buyer", 10)
    assert (best["retest_rule"], best["test_paid_by"]) == ("all-count", "loser")


def test_a_cargo_by_the_clause_of_its_contract():
    """Dunveth: average of 300 with no sublot below its minimum; the limits need not be typed."""
    answer = body("340", "330", "320", "280", "250", "--offer", "dunveth-24-11")
    assert answer["agreed"] == "average-with-sublot-minimum"
    by = {c["judged"]: c for c in answer["clauses"]}
    assert (by["weighted-average"]["value"], by["weighted-average"]["within"]) == (304.0, True)
    assert by["average-with-sublot-minimum"]["within"] is False
    codes = {f["code"] for f in body("340", "330", "--offer", "nobody")["findings"]}
    assert "retest-offer-unknown" in codes
    codes = {f["code"] for f in body("340", "330", "--offer", "pellanor-spot")["findings"]}
    assert "retest-offer-no-limit" in codes


def test_a_basis_of_protein_is_asked_for_where_an_offer_states_its_own(tmp_path):
    from lodestarch import demo

    text = demo.terms().decode().replace("price = 6.31\n", "price = 6.31\nprotein_basis_pct = 12\n")
    file = tmp_path / "terms.toml"
    file.write_text(text, encoding="utf-8")
    asked = ("310", "--u", "9", "--terms", str(file), "--factor", "protein_pct=11")
    assert "price-protein-basis" in {f["code"] for f in body(*asked)["findings"]}
    stated = body(*asked, "--factor", "protein_basis_pct=0")
    assert "price-protein-basis" not in {f["code"] for f in stated["findings"]}


def test_terms_as_a_sheet_price_as_the_same_terms_in_toml(tmp_path):
    rows = (
        "table,id,buyer,buyer_name,place,freight,freight_unit,material,price,price_unit,factor,judged,at_least,currency\n"
        "file,,,,,,,,,,,,,USD\n"
        "bid,spot,mill,Mill,Gate,3,USD/t,wheat,220,USD/t,fn_s,per-load,300,\n"
    )
    file = tmp_path / "terms.csv"
    file.write_text(rows, encoding="utf-8")
    answer = body("330", "--u", "1", "--terms", str(file), "--turned-away", "150")
    assert answer["best"] == "spot"
    assert answer["net_per_t"] == pytest.approx(217.0, abs=1e-6)
    renamed = tmp_path / "theirs.csv"
    renamed.write_text(rows.replace("price_unit", "Per"), encoding="utf-8")
    mapping = tmp_path / "m.toml"
    mapping.write_text('[columns]\n"Per" = "price_unit"\n', encoding="utf-8")
    same = body("330", "--u", "1", "--terms", str(renamed), "--mapping", str(mapping), "--turned-away", "150")
    assert same["net_per_t"] == answer["net_per_t"]
