"""Odds, aim, retest and referee as typed: figures, words, codes of exit, bad input."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from lodestarch.cli.app import app
from lodestarch.cli.decide_aim import aim
from lodestarch.cli.decide_odds import odds
from lodestarch.cli.decide_referee import referee
from lodestarch.cli.decide_retest import retest

few = typer.Typer()  # these commands alone: building all of them takes longer than most answers
for command in (odds, aim, retest, referee):
    few.command()(command)
runner = CliRunner()
TERMS = str(Path(__file__).resolve().parents[2] / "src/lodestarch/demo/harvest/terms.toml")
ODDS = ("odds", "310", "--u", "9", "--limit", "300")
RETEST = ("retest", "294", "--limit", "300", "--tube-u", "6")
PAYS = ("--pays", "0:180", "--pays", "275:205", "--pays", "300:230")


def ask(*words: str, code: int = 0) -> dict:
    done = runner.invoke(few, [*words, "--json"])
    assert done.exit_code == code, done.output
    return json.loads(done.stdout)


def told(*words: str, code: int = 0) -> str:
    done = runner.invoke(few, list(words))
    assert done.exit_code == code, done.output
    return " ".join(done.output.replace("\u00a0", " ").split())


def test_the_commands_stand_in_the_whole():
    names = {c.name or c.callback.__name__ for c in app.registered_commands}
    assert {"odds", "aim", "retest", "referee"} <= names


def codes(body: dict) -> set[str]:
    return {f["code"] for f in body["findings"]}


def test_odds_of_the_issue():
    body = ask(*ODDS)
    assert round(body["p_true"], 3) == 0.867
    assert body["p_other_lab"] is None
    assert "odds-other-missing" in codes(body)
    assert round(ask(*ODDS, "--other-u", "12")["p_other_lab"], 4) == 0.7475
    assert round(ask(*ODDS, "--other-u", "12", "--counts-from", "299.5")["p_other_lab"], 3) == 0.758


def test_odds_in_words_name_the_likelier_side_first():
    text = told(*ODDS, "--other-u", "12")
    assert "15 in 20 loads like this make it (75 %); 5 don't" in text
    assert "◐ too close" in text
    low = told("odds", "280", "--u", "9", "--limit", "300", "--other-u", "12")
    assert "loads like this don't make it" in low


def test_odds_of_a_stopped_tube():
    body = ask("odds", ">280", "--u", "9", "--limit", "300", code=1)
    assert body["p_true"] is None
    assert body["state"] == "not-evaluated"
    assert "odds-censored-open" in codes(body)
    stated = ask("odds", ">280", "--u", "9", "--limit", "300", "--prior-mean", "320", "--prior-sd", "30")
    assert 0.5 < stated["p_true"] < 1.0
    bound = ask("odds", ">400", "--u", "9", "--limit", "300", "--other-u", "12")
    assert bound["loads"][0]["says"] == "at-least"
    assert bound["state"] == "makes-it"


def test_odds_with_priors(tmp_path):
    normal = ask(*ODDS, "--prior-mean", "320", "--prior-sd", "30")
    assert normal["loads"][0]["expected_retest_s"] == pytest.approx(310.826, abs=1e-3)
    assert "an honest retest is expected at 310.8 s" in told(*ODDS, "--prior-mean", "320", "--prior-sd", "30")
    ln = ask(*ODDS, "--prior-ln-mean", "22.2", "--prior-ln-sd", "3")
    assert ln["prior"] == "ln"
    file = tmp_path / "loads.csv"
    file.write_text("seconds;weight\n" + "\n".join(f"{x};1" for x in range(250, 390)), encoding="utf-8")
    sample = ask(*ODDS, "--prior-file", str(file))
    assert sample["p_true"] == pytest.approx(0.867, abs=0.02)
    file.write_text("seconds\n300\nmany\n", encoding="utf-8")
    assert "prior-file-unreadable" in codes(ask(*ODDS, "--prior-file", str(file), code=1))
    file.write_text("seconds\n", encoding="utf-8")
    assert "prior-sample-unusable" in codes(ask(*ODDS, "--prior-file", str(file), code=1))
    file.write_text("seconds\n305\n315\n", encoding="utf-8")
    assert "odds-prior-thin" in codes(ask(*ODDS, "--prior-file", str(file)))


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("odds", "310", "--u", "x", "--limit", "300"), "odds-u-unreadable"),
        (("odds", "310", "--u", "-9", "--limit", "300"), "odds-u-unreadable"),
        (("odds", "310", "--u", "9"), "limits-none"),
        (("odds", "310", "--u", "9", "--limit", "300", "--at-most", "280"), "limits-crossed"),
        (("odds", "3x0", "--u", "9", "--limit", "300"), "result-unreadable"),
        (("odds", "310:0", "--u", "9", "--limit", "300"), "result-mass"),
        (("odds", "2910", "--u", "9", "--limit", "300"), "value-illegal"),
        (("odds", "310", "--u", "9", "--limit", "300", "--shared-u", "12"), "value-illegal"),
        (("odds", "310", "--u", "9", "--limit", "300", "--other-u", "-1"), "value-illegal"),
        (("odds", "310", "--u", "9", "--limit", "300", "--prior-mean", "320"), "prior-half"),
        (
            ("odds", "310", "--u", "9", "--limit", "300", "--clause", "average-with-sublot-minimum"),
            "odds-minimum-missing",
        ),
        (("odds", "310", "<=62", "--u", "9", "--limit", "300", "--clause", "composite"), "odds-needs-exact"),
        (("odds", "310:5", "320", "--u", "9", "--limit", "300", "--clause", "composite"), "value-illegal"),
        (("aim", "--u", "9"), "limits-none"),
        (("aim", "--u", "9", "--limit", "240", "--at-most", "260"), "aim-window-narrow"),
        (("aim", "--u", "9", "--limit", "300", "--wanted", "1.5"), "value-illegal"),
        (("aim", "--u", "9", "--limit", "300", "--lots-mean", "310"), "aim-lots-half"),
        (
            ("aim", "--u", "9", "--limit", "300", "--lots-mean", "310", "--lots-sd", "30", "--risk", "0.9"),
            "risk-out-of-reach",
        ),
        (("retest", "294", "--limit", "300", "--tube-u", "0"), "value-illegal"),
        (("retest", ">280", "--limit", "300", "--tube-u", "6"), "retest-exact-only"),
        (("retest", "294", "--tube-u", "6"), "limits-none"),
        (("retest", "294", "--limit", "300", "--tube-u", "6", "--rule", "median", "--pays", "x"),
         "retest-pays-unreadable"),
        (("retest", "294", "--limit", "300", "--tube-u", "6", "--pays", "300:230"), "retest-pays-floor"),
        ((*RETEST, "--rule", "two-nearest"), "retest-rule-needs-two"),
        ((*RETEST, "--rule", "official-appeal"), "appeal-sd-missing"),
        (("retest", "294", "--tube-u", "6", "--terms", TERMS, "--offer", "none"), "retest-offer-unknown"),
        (("referee", "320", "--repeat-u", "6", "--between-u", "10"), "referee-two-results"),
        (("referee", "320", "280", "--repeat-u", "6", "--between-u", "10", "--third", "288"),
         "referee-rule-missing"),
        (("referee", "320", "280", "--repeat-u", "12", "--between-u", "10"), "value-illegal"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_says_so(words, code):
    body = ask(*words, code=1)
    assert code in codes(body)
    assert not re.search(r"\bnan\b", json.dumps(body), re.IGNORECASE)
    told(*words, code=1)


@pytest.mark.parametrize(
    "words",
    [
        ("odds", "310", "--u", "9", "--limit", "nan"),
        ("odds", "310", "--u", "9", "--limit", "x"),
        ("odds", "310", "--u", "9", "--limit", "300", "--clause", "sometimes"),
        ("odds", "310", "--u", "9", "--limit", "300", "--prior-file", "nowhere.csv"),
        ("aim", "--u", "9", "--limit", "300", "--side", "mine"),
        ("retest", "--tube-u", "6"),
        ("retest", "294", "--tube-u", "6", "--limit", "300", "--rule", "best"),
        ("retest", "294", "--tube-u", "6", "--limit", "300", "--source", "air"),
        ("retest", "294", "--tube-u", "6", "--limit", "300", "--tonnes", "0"),
        ("referee", "320", "280", "--repeat-u", "6", "--between-u", "10", "--rule", "mine"),
        ("referee", "320", "280", "--repeat-u", "6", "--between-u", "10", "--corrected", "twice"),
    ],
)
def test_a_wrong_word_ends_at_its_option(words):
    assert runner.invoke(few, list(words)).exit_code == 2


def test_clauses_side_by_side():
    cargo = ("odds", "340", "330", "320", "280", "250", "--u", "1", "--limit", "300", "--other-u", "1")
    got = {c: ask(*cargo, "--clause", c) for c in ("composite", "weighted-average", "every-sublot")}
    assert got["composite"]["composite_s"] == pytest.approx(299.113, abs=5e-4)
    assert got["weighted-average"]["p_true"] > 0.99
    assert got["every-sublot"]["p_true"] < 1e-6
    assert {c: b["state"] for c, b in got.items()}["every-sublot"] == "under"
    average = ask(*cargo, "--clause", "average-with-sublot-minimum", "--sublot-at-least", "240")
    assert average["p_true"] == pytest.approx(got["weighted-average"]["p_true"], abs=1e-6)
    assert "computed to read 299.1 s" in told(*cargo, "--clause", "composite")
    assert "cargoes like this" in told(*cargo, "--clause", "every-sublot")


def test_many_loads_are_a_table():
    text = told("odds", "310", ">400", "280", "--u", "3%", "--limit", "300", "--other-u", "12")
    assert "● makes it" in text
    assert len(ask("odds", "310", "320", "--u", "9", "--limit", "300")["loads"]) == 2


def test_aim_of_the_issue():
    body = ask("aim", "--limit", "300", "--u", "5", "--other-u", "5")
    assert body["show_s"] == 312
    text = told("aim", "--limit", "300", "--u", "5", "--other-u", "5")
    assert "Load to 312 s here to make 300 s there 95 in 100" in text
    window = told(
        "aim", "--limit", "220", "--at-most", "280", "--u", "9", "--other-u", "5", "--wanted", "0,9"
    )
    assert "Show 234 to 266 s here" in window
    assert "Show at most 265 s here" in told("aim", "--at-most", "280", "--u", "9")


def test_aim_with_risks_and_the_rule_for_one():
    words = ("aim", "--limit", "300", "--u", "9", "--lots-mean", "330", "--lots-sd", "30", "--risk", "0.0013")
    body = ask(*words)
    assert body["risks"]["conforming"] == pytest.approx(0.8413, abs=5e-5)
    assert body["rule"]["accept_from_s"] == pytest.approx(314.8, abs=0.3)
    assert "For a consumer's risk" in told(*words)


def test_retest_of_a_near_miss():
    body = ask(
        "retest", "294", "298", "--tube-u", "9", "--tubes", "1", "--limit", "300", "--source", "same-meal"
    )
    assert body["now_s"] == 296.0
    assert body["p_changes"] == pytest.approx(0.1382, abs=5.1e-5)  # derived: two tests averaging 296, sd 9
    assert body["needed_s"] == 308.0
    assert body["seller"] is None
    text = told("retest", "278", "--tube-u", "6", "--limit", "300", "--rule", "all-count")
    assert "Don't retest: it would have to rise by 44 s" in text


def test_retest_in_money():
    words = (
        "retest", "294", "--tube-u", "9", "--limit", "300", "--counts-from", "299.5", *PAYS,
        "--tonnes", "26", "--fee", "25", "--elsewhere", "207", "--other-u", "11",
    )  # fmt: skip
    body = ask(*words)
    assert body["seller"] + body["buyer"] == pytest.approx(-25.0, abs=1e-3)
    assert body["seller"] > 0.0
    assert body["currency"] == "USD"
    nets = [t["net"] for t in body["tests"]]
    assert nets == sorted(nets, reverse=True)
    assert all(t["net"] == pytest.approx(t["worth"] - 25.0, abs=1e-3) for t in body["tests"])
    assert {"same-meal", "regrind", "new-probe"} <= {t["test"] for t in body["tests"]}
    text = told(*words)
    assert "For the seller +" in text
    assert "Knowing more before choosing" in text


def test_a_slope_is_paid_as_typed():
    words = ("retest", "290", "--tube-u", "9", "--limit", "300", "--fee", "0")
    flat = ask(*words, "--pays", "0:200")
    assert flat["seller"] == pytest.approx(0.0, abs=1e-9)
    sloped = ask(*words, "--pays", "0:100..300", "--pays", "400:300")
    # All count, honest retest: the mean stays, and the price is straight around it.
    assert sloped["seller"] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(
    ("offer", "more", "rule"),
    [
        ("quillmere-24-3", (), "all-count"),
        ("dunveth-24-11", ("--appeal-sd", "6"), "official-appeal"),
    ],
)
def test_retest_under_the_demo_terms(offer, more, rule):
    words = (
        "retest",
        "294",
        "--tube-u",
        "6",
        "--probe-u",
        "6",
        "--terms",
        TERMS,
        "--offer",
        offer,
        "--tonnes",
        "26",
    )
    body = ask(*words, *more)
    assert body["rule"] == rule
    assert body["limit_s"] == 300
    assert body["seller"] is not None
    assert len(body["tests"]) > 3
    assert body["currency"] == "USD"


def test_two_nearest_comes_with_its_bias():
    body = ask("retest", "294", "298", "--tube-u", "9", "--limit", "300", "--rule", "two-nearest")
    assert "retest-two-nearest" in codes(body)
    assert body["until_it_passes"]["kept_bias_s"] > 0.0


def test_the_published_294_comes_with_its_conditions():
    body = ask("retest", "--published-294")
    assert (body["published_s"], body["first_taken_as_true_s"]) == (294.0, 293.783)
    assert body["first_as_uncertain_s"] == pytest.approx(291.2, abs=0.05)
    text = told("retest", "--published-294")
    for said in (
        "294 s",
        "Delwiche and Vinyard 2017",
        "first result taken as the true value",
        "no part between days",
    ):
        assert said in text


def test_referee_of_two_labs():
    words = ("referee", "320", "280", "--repeat-u", "6", "--between-u", "10")
    body = ask(*words)
    assert (body["verdict"], body["needs_third"], body["final_s"]) == ("differ", True, None)
    assert codes(body) == {"referee-not-stated"}
    alike = ("--basis", "14", "--tubes", "2", "--corrected", "none")
    done = ask(*words, *alike, "--third", "288", "--rule", "mean-of-three")
    assert (done["final_s"], done["pays"]) == (296.0, "first")
    text = told(*words, *alike, "--third", "288", "--rule", "median")
    assert "The first lab's side pays" in text
    apart = ask(*words, "--basis", "14", "--basis", "as-is")
    assert apart["verdict"] == "not-comparable"
    assert "Not comparable" in told(*words, "--basis", "14", "--basis", "as-is")
    assert "both stand" in told("referee", "310", "295", "--repeat-u", "6", "--between-u", "10", *alike)
    assert "referee-option-count" in codes(ask(*words, *("--tubes", "2") * 3, code=1))


def test_without_u_the_default_scatter_is_taken_and_told():
    """2 % a tube, two tubes: 310 s stands with 4.384 s, as ``price`` takes it."""
    bare = ask("odds", "310", "--limit", "300")
    assert bare["u_from_scatter"] is True
    assert bare["loads"][0]["u_s"] == pytest.approx(310 * 0.02 / 2**0.5, abs=1e-4)
    assert bare["p_true"] == ask("odds", "310", "--u", "4.384062", "--limit", "300")["p_true"]
    told_so = next(f for f in bare["findings"] if f["code"] == "odds-u-from-scatter")
    assert "4.4 s was taken at 310 s" in told_so["wrong"].replace("\u00a0", " ")
    given = ask(*ODDS)
    assert given["u_from_scatter"] is False
    assert "odds-u-from-scatter" not in codes(given)
    # The aim solves u at the aim itself: a share of 2 %/sqrt(2).
    assert ask("aim", "--limit", "300")["from_s"] == pytest.approx(
        ask("aim", "--limit", "300", "--u", "1.41421356%")["from_s"], abs=1e-4
    )
    assert "odds-u-from-scatter" in codes(ask("aim", "--limit", "300"))
    again = ask("retest", "294", "--limit", "300")
    assert again["tube_u_from_scatter"] is True
    assert again["p_after"] == ask("retest", "294", "--limit", "300", "--tube-u", "5.88")["p_after"]
    assert "retest-u-from-scatter" in codes(again)


def test_outlets_that_a_retest_leaves_out_are_named():
    answer = ask("retest", "294", "--tube-u", "6", "--terms", TERMS, "--offer", "quillmere-24-3")
    assert {"offer": "pellanor-spot", "why": "own-number"} in answer["left_out"]
    assert "retest-outlet-left-out" in codes(answer)
    assert "pellanor-spot is left out of what another test is worth: our own number is final there" in told(
        "retest", "294", "--tube-u", "6", "--terms", TERMS, "--offer", "quillmere-24-3"
    )
