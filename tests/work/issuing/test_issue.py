"""Issuing: what stops it, what it puts into the records, and papers out of the records again."""

from __future__ import annotations

import dataclasses
import json

import pytest

from lodestarch.common.findings import Where
from lodestarch.demo.handing_over import INVENTED_PROFILE
from lodestarch.records.tables import Document
from lodestarch.report.issued import files_of
from lodestarch.words.issued.statement import StatedResult
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.issuing.agreed import Agreed, conformity
from lodestarch.work.issuing.certificate import CertificateAsked, issue_certificate
from lodestarch.work.issuing.evidence import make_bundle
from lodestarch.work.issuing.lab import LAB_TEMPLATE, read_lab
from lodestarch.work.issuing.letter import LetterAsked, issue_letter
from lodestarch.work.issuing.papers import paper_as_issued, paper_now
from lodestarch.work.people.permissions import NotAllowed

CHEMIST = "Ada Merrowby (invented)"


def issue(house, code, **more):
    return issue_certificate(house.records, CertificateAsked(code, **more), person=CHEMIST, at=house.at)


def codes(made):
    return [f.code for f in made.findings]


def test_nothing_is_issued_for_what_is_not_there(own):
    with own.records.view() as view:
        before = view.head()
    made = issue(own, "9999")
    assert (made.paper, codes(made)) == (None, ["ticket-unknown"])
    with own.records.view() as view:
        assert view.head() == before


def store(house, rows, profile):
    """A small sheet of one's own under a profile; every sample of it is released."""
    head = "sample,run,position,seconds,moisture_pct,mass_g"
    sheet = DayFile("own.csv", "\n".join([head, *rows, ""]).encode())
    run_day(DayOrder(sheet=sheet, profile=profile), records=house.records, person=CHEMIST, at=house.at)
    with house.records.unit(CHEMIST, house.at) as unit:
        for sample in {row.split(",")[0] for row in rows}:
            unit.release(sample, by_rule=False, reason="for this test")


PAIR = ["900,1,1,300,14,7.00", "900,1,2,304,14,7.00"]


def test_a_profile_that_is_not_signed_off_issues_nothing(own):
    store(own, PAIR, "meal-14")
    made = issue(own, "900")
    assert codes(made) == ["issue-not-signed-off"]
    assert made.findings[0].values["profile"] == "meal-14@1"


def test_a_sample_of_a_sheet_alone_is_certified_and_what_is_missing_is_said(own):
    store(own, PAIR, INVENTED_PROFILE)
    made = issue(own, "900")
    assert codes(made) == ["issue-not-stated"]
    assert made.files is not None
    assert b"Condition on arrival</dt><dd>not stated" in made.files.html


def test_readings_that_changed_since_the_release_stop_it(own):
    store(own, PAIR, INVENTED_PROFILE)
    more = ["900,2,1,340,14,7.00", "900,2,2,338,14,7.00"]
    head = "sample,run,position,seconds,moisture_pct,mass_g"
    sheet = DayFile("later.csv", "\n".join([head, *more, ""]).encode())
    run_day(DayOrder(sheet=sheet, profile=INVENTED_PROFILE), records=own.records, person=CHEMIST, at=own.at)
    assert codes(issue(own, "900"))[0] in {"issue-changed-since", "issue-held"}


def test_a_second_certificate_wants_a_reason_and_marks_the_first(own):
    assert codes(issue(own, "8722")) == ["issue-standing"]
    made = issue(own, "8722", reason="condition entered late")
    assert made.paper is not None
    assert made.superseded is not None
    number, files = made.superseded
    assert number == "demo-d3"
    assert b"Superseded by " + made.paper.number.encode() in files.html
    assert made.paper.statement["replaces"]["number"] == "demo-d3"


def test_papers_out_of_the_records_are_those_that_went_out(house):
    with house.records.view() as view:
        for document in view.all(Document):
            if document.kind == "evidence":
                continue
            stem = f"{document.kind}-demo-{document.key}"
            files = files_of(paper_as_issued(view, document))
            assert files.pdf == (house.out / f"{stem}.pdf").read_bytes()
            assert files.html == (house.out / f"{stem}.html").read_bytes()


def test_the_log_holds_no_name_of_a_customer(house):
    with house.records.view() as view:
        bodies = "\n".join(view.entries(1, view.head()[0]))
    for name in ("Gäldvik", "Feldwick Farm", "Dremming"):
        assert name not in bodies


def test_names_erased_on_request_are_gone_from_the_paper_and_the_rest_stays_proved(own):
    with own.records.unit(CHEMIST, own.at) as unit:
        (party,) = [k for k, n in unit.names("parties").items() if n == "Dremming"]
        unit.erase("parties", party, "asked for in writing")
    assert own.records.verify().holds
    with own.records.view() as view:
        paper = paper_now(view, view.get(Document, "d3"))
        assert paper.customer is None
        assert paper.lab is not None
        assert b"Dremming" not in files_of(paper).html
        assert b"erased on request" in files_of(paper).html


def test_only_who_may_issue_does(own):
    with own.records.unit(CHEMIST, own.at) as unit:
        unit.add_person("Bo Tarrel", ("analyst",))
    with pytest.raises(NotAllowed):
        issue_certificate(own.records, CertificateAsked("8721", reason="x"), person="Bo Tarrel", at=own.at)


def test_the_records_stay_proved_after_issuing(own):
    issue(own, "8723", reason="again")
    issue_letter(own.records, LetterAsked("8723"), person=CHEMIST, at=own.at)
    make_bundle(own.records, "8723", person=CHEMIST, at=own.at)
    assert own.records.verify().holds


def result(seconds, kind=0, u=6.0):
    u = u if kind == 0 else None
    return StatedResult(seconds, kind, "mean", 2, True, 1.0, 28.0, "agrees", u, 2.0, None, False)


@pytest.mark.parametrize(
    ("seconds", "kind", "rule", "outcome"),
    [
        (300.0, 0, "simple", "meets"), (299.0, 0, "simple", "does-not-meet"),
        (309.8, 0, "guarded", "not-stated"), (309.9, 0, "guarded", "meets"),
        (290.2, 0, "guarded", "not-stated"), (290.0, 0, "guarded", "does-not-meet"),
        (62.0, 1, "simple", "does-not-meet"), (400.0, 2, "simple", "meets"),
        (250.0, 2, "simple", "not-stated"),
    ],
)  # fmt: skip
def test_the_agreed_rule_decides_as_it_says(seconds, kind, rule, outcome):
    # Guard band 1.645 * 6 s = 9.87 s, written 9.9 s.
    agreed = Agreed("contract", 300.0, None, rule, "2024-01-01")
    stated, found = conformity(agreed, result(seconds, kind), "2024-08-21", Where())
    assert found == ()
    assert stated is not None
    assert stated.outcome == outcome
    assert stated.guard_s == (9.9 if rule == "guarded" else 0.0)


@pytest.mark.parametrize(
    ("agreed", "code"),
    [
        (Agreed("", 300.0, None, "simple", "2024-01-01"), "agreed-odd"),
        (Agreed("c", None, None, "simple", "2024-01-01"), "agreed-odd"),
        (Agreed("c", 300.0, 250.0, "simple", "2024-01-01"), "agreed-odd"),
        (Agreed("c", 300.0, None, "lenient", "2024-01-01"), "agreed-odd"),
        (Agreed("c", 300.0, None, "simple", "yesterday"), "agreed-odd"),
    ],
)
def test_half_an_agreement_is_none(agreed, code):
    stated, found = conformity(agreed, result(300.0), "2024-08-21", Where())
    assert stated is None
    assert [f.code for f in found] == [code]


def test_a_rule_agreed_after_the_sample_came_in_is_said():
    _, found = conformity(
        Agreed("c", 300.0, None, "simple", "2024-08-22"), result(300.0), "2024-08-21T07:00", Where()
    )
    assert [f.code for f in found] == ["agreed-late"]


def test_a_guard_band_without_uncertainty_is_refused():
    bare = dataclasses.replace(result(300.0), u_s=None)
    stated, found = conformity(Agreed("c", 300.0, None, "guarded", "2024-01-01"), bare, None, Where())
    assert (stated, [f.code for f in found]) == (None, ["agreed-no-u"])


def test_prices_stand_in_a_letter_only_where_the_customer_asked(own):
    from lodestarch import demo
    from lodestarch.sheets.terms import read_terms

    terms = read_terms(demo.terms(), "terms.toml")
    asked = LetterAsked("8721", terms=terms)
    made = issue_letter(own.records, asked, person=CHEMIST, at=own.at)
    assert "letter-price-not-asked" in codes(made)
    assert made.paper is not None
    assert made.paper.statement["prices"] == []
    made = issue_letter(own.records, dataclasses.replace(asked, prices_asked=True), person=CHEMIST, at=own.at)
    assert made.paper is not None
    assert len(made.paper.statement["prices"]) >= 1


def test_the_letter_names_the_certificate_and_holds_the_chance(house):
    data = json.loads((house.out / "letter-demo-d7.json").read_bytes())["statement"]
    assert data["certificate"] == "demo-d3"
    assert data["state"] == "too-close"
    assert 0.0 < data["again"]["p"] < 0.5


@pytest.mark.parametrize(
    ("line", "field"),
    [
        ('name = ""', "name"), ("k = 9", "k"), ('paper = "a3"', "paper"), ('language = "xx"', "language"),
        ("official = 1", "official"), ('colour = "red"', "colour"), ("name = [", "file"),
    ],
)  # fmt: skip
def test_an_odd_line_about_the_lab_is_named(line, field):
    body = f'address = ["Wharf 3"]\n{line}\n' + ("" if line.startswith("name") else 'name = "Gannet"\n')
    given, found = read_lab(body.encode(), "lab.toml")
    assert given is None
    assert field in {f.values["field"] for f in found}


def test_the_template_says_what_is_missing():
    given, found = read_lab(LAB_TEMPLATE.encode(), "lab.toml")
    assert given is None
    assert {f.values["field"] for f in found} == {"name", "address"}
