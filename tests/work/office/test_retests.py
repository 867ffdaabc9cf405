"""A retest asked for and later filled: tied to the first test, its rule applied, all of it in the history."""

from __future__ import annotations

import pytest

from lodestarch import demo
from lodestarch.decide.combine import CombineRule
from lodestarch.records.tables import RetainedSample, Retest, Sample, SampleParent
from lodestarch.work.bench.preparing import MoistureTyped, measure
from lodestarch.work.bench.reading_in import QuickLine, quick_line
from lodestarch.work.bench.receiving import Arrival, receive
from lodestarch.work.office.retests import RetestTyped, ask_retest
from lodestarch.work.office.retests_combined import retests_of
from lodestarch.work.office.terms_enter import TermsFile, enter_terms_file
from lodestarch.work.office.tickets_one import ticket_whole
from lodestarch.work.people.permissions import NotAllowed


def told(entered) -> list[str]:
    return [f.code for f in entered.findings]


def ran(lab, code: str, *seconds: str) -> None:
    assert lab.do(quick_line, QuickLine(code, "14.0", seconds)).taken


@pytest.fixture
def load(lab):
    """A load of 294 s."""
    ran(lab, "8814", "292", "296")
    return lab


def story(lab, code: str = "8814"):
    with lab.records.view() as view:
        return retests_of(view, view.get(Sample, code))


def test_a_retest_is_a_sample_of_its_own_tied_to_the_first(load):
    typed = RetestTyped("regrind", "all-count", "contract q1", "", "Quillmere", "near the limit")
    asked = load.do(ask_retest, "8814", typed)
    assert (asked.taken, asked.sample, told(asked)) == (True, "8814-2", [])
    with load.records.view() as view:
        sample, link = view.get(Sample, "8814-2"), view.get(Retest, "8814-2")
        (parent,) = view.of_samples(SampleParent, ["8814-2"])
        assert (sample.kind, sample.ticket) == ("retest", None)
        assert (parent.parent, parent.how) == ("8814", "retest")
        assert (link.parent, link.made_from, link.rule, link.rule_from) == (
            "8814",
            "regrind",
            "all-count",
            "contract q1",
        )
    waiting = story(load)
    assert [t.state for t in waiting.tests] == ["there", "waits"]
    assert (waiting.counts_s, waiting.tests[1].asked_by) == (None, "Quillmere")


def test_filled_it_counts_by_its_rule_on_both_pages(load):
    load.do(ask_retest, "8814", RetestTyped())
    ran(load, "8814-2", "305", "309")
    for code in ("8814", "8814-2"):
        whole = ticket_whole(load.records, code)
        assert [t.seconds for t in whole.retests.tests] == [294, 307]
        assert whole.retests.counts_s == 300.5
        assert [c.kind for c in whole.changes].count("retests.added") == 1


def test_asked_on_a_retest_it_goes_back_to_the_first(load):
    load.do(ask_retest, "8814", RetestTyped())
    ran(load, "8814-2", "300", "302")
    again = load.do(ask_retest, "8814-2", RetestTyped())
    assert (again.sample, told(again)) == ("8814-3", ["retest-again"])
    assert [t.code for t in story(load, "8814-3").tests] == ["8814", "8814-2", "8814-3"]


@pytest.mark.parametrize(
    ("rule", "values", "counts"),
    [
        (CombineRule.ALL_COUNT, (307, 301), pytest.approx(300.667, abs=1e-3)),
        (CombineRule.MEDIAN, (307, 301), 301.0),
        (CombineRule.TWO_NEAREST, (307, 301), 304.0),
        (CombineRule.THIRD_FINAL, (307, 301), 301.0),
    ],
)
def test_every_rule_is_applied_as_asked(load, rule, values, counts):
    for n, seconds in enumerate(values, 2):
        typed = RetestTyped(rule=rule.value, rule_from="contract q1")
        assert load.do(ask_retest, "8814", typed).taken
        ran(load, f"8814-{n}", str(seconds - 2), str(seconds + 2))
    assert story(load).counts_s == counts


@pytest.mark.parametrize(("sd", "counts", "void"), [("8", 302.0, False), ("7", 310.0, True)])
def test_an_official_appeal(load, sd, counts, void):
    """7 CFR 800.139(b): 294 and 310 lie 16 s apart; averaged within two standard deviations, else alone."""
    appeal = load.do(ask_retest, "8814", RetestTyped(rule="official-appeal", appeal_sd_s=sd))
    assert told(appeal) == ["retest-appeal-sample"], "not on what this bench ground"
    ran(load, "8814-2", "308", "312")
    assert (story(load).counts_s, story(load).void) == (counts, void)


def test_the_same_meal_is_ground_and_dried_already(load):
    load.do(ask_retest, "8814", RetestTyped("same-meal"))
    ticket = ticket_whole(load.records, "8814-2").ticket
    assert (ticket.station, ticket.moisture.moisture_pct) == ("weigh", 14.0)
    load.do(ask_retest, "8814", RetestTyped("regrind"))
    assert ticket_whole(load.records, "8814-3").ticket.station == "grind"


def test_a_retained_sample_is_named_or_its_absence_told(load):
    assert told(load.do(ask_retest, "8814", RetestTyped("retained-sample"))) == ["retest-none-retained"]
    kept = RetainedSample(key="1", sample="8814", mass_g=900.0, place="shelf 4", retained_at="2031-08-12")
    with load.records.unit("Ann Example", load.at()) as unit:
        unit.add(kept)
    assert told(load.do(ask_retest, "8814", RetestTyped("retained-sample"))) == ["retest-again"]
    with load.records.view() as view:
        assert [view.get(Retest, code).retained for code in ("8814-2", "8814-3")] == [None, "1"]


def test_a_result_known_from_one_side_gives_no_number(load):
    load.do(ask_retest, "8814", RetestTyped())
    ran(load, "8814-2", "<=62", "<=62")
    assert (story(load).counts_s, story(load).why_not.code) == (None, "retest-one-sided")


def test_a_third_final_waits_for_its_third(load):
    load.do(ask_retest, "8814", RetestTyped(rule="third-final"))
    ran(load, "8814-2", "300", "302")
    assert story(load).why_not.code == "retest-rule-needs-two"


WRONG = {
    "unknown ticket": ("9999", RetestTyped(), "ticket-unknown"),
    "made from what": ("8814", RetestTyped("thin air"), "entry-no-choice"),
    "by what rule": ("8814", RetestTyped(rule="best of three"), "entry-no-choice"),
    "an appeal without its spread": ("8814", RetestTyped(rule="official-appeal"), "appeal-sd-missing"),
    "a spread in words": ("8814", RetestTyped(rule="official-appeal", appeal_sd_s="x"), "appeal-sd-missing"),
    "a spread of nothing": (
        "8814",
        RetestTyped(rule="official-appeal", appeal_sd_s="0"),
        "appeal-sd-missing",
    ),
    "a spread of a year": (
        "8814",
        RetestTyped(rule="official-appeal", appeal_sd_s="900"),
        "appeal-sd-missing",
    ),
    "a reason without end": ("8814", RetestTyped(reason="x" * 201), "entry-too-long"),
    "who, without end": ("8814", RetestTyped(asked_by="x" * 201), "entry-too-long"),
    "whose rule, without end": ("8814", RetestTyped(rule_from="x" * 201), "entry-too-long"),
    "a biased rule of nobody": ("8814", RetestTyped(rule="two-nearest"), "retest-rule-whose"),
    "nothing read yet": ("8815", RetestTyped(), "retest-nothing-yet"),
}


def test_wrong_inputs_are_told_and_nothing_is_written(load):
    load.do(receive, Arrival("8815"))
    load.do(measure, "8815", MoistureTyped("13"))
    for name, (code, typed, wanted) in WRONG.items():
        asked = load.do(ask_retest, code, typed)
        assert (asked.taken, wanted in told(asked)) == (False, True), name
    with load.records.view() as view:
        assert view.all(Retest) == []


def test_one_load_has_one_rule(load):
    load.do(ask_retest, "8814", RetestTyped(rule="all-count"))
    assert told(load.do(ask_retest, "8814", RetestTyped(rule="median")))[0] == "retest-rule-differs"
    load.do(ask_retest, "8814", RetestTyped(rule="all-count"))
    assert len(story(load).tests) == 3


def test_a_reader_may_not_ask(load):
    with load.records.unit("Ann Example", load.at()) as unit:
        unit.add_person("Ria Reader", ("reader",))
    with pytest.raises(NotAllowed):
        load.do(ask_retest, "8814", RetestTyped(), person="Ria Reader")


def test_a_contract_that_is_named_says_its_own_rule_and_its_days(load):
    enter_terms_file(load.records, TermsFile("terms.toml", demo.terms()), person="Ann Example", at=load.at())
    other = RetestTyped(rule="median", rule_from="quillmere-24-3")
    assert told(load.do(ask_retest, "8814", other)) == ["retest-not-contracts"]
    load.at(minutes=60 * 24 * 11)
    late = load.do(ask_retest, "8814", RetestTyped(rule_from="quillmere-24-3"))
    assert (late.taken, told(late)) == (True, ["retest-appeal-over"])
