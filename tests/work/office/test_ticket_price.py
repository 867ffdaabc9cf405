"""Prices from the terms in the records: of a ticket, of a day, and as they were told."""

from __future__ import annotations

import pytest

from lodestarch import demo
from lodestarch.records.tables import Load, ToldPrice
from lodestarch.work.bench.choices import PROFILE, choose
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.bench.reading_in import QuickLine, quick_line
from lodestarch.work.office.retests import RetestTyped, ask_retest
from lodestarch.work.office.terms_enter import TermsFile, enter_terms_file
from lodestarch.work.office.ticket_price import tell_price
from lodestarch.work.office.tickets_one import ticket_whole
from lodestarch.work.office.told_prices import days_told, told_lines

MERCHANT = ("merchant",)


def enter_terms(lab, text: str = ""):
    data = demo.terms() if not text else text.encode()
    return enter_terms_file(lab.records, TermsFile("terms.toml", data), person="Ann Example", at=lab.at())


@pytest.fixture
def load(lab):
    """A load of 310 s, and the invented offers in the records."""
    assert enter_terms(lab).version == "t1"
    with lab.records.unit("Ann Example", lab.at()) as unit:
        choose(unit, PROFILE, demo.PROFILE_ID)
    assert lab.do(quick_line, QuickLine("8814", "14.0", ("308", "312"))).taken
    return lab


def priced(lab, roles=MERCHANT):
    return ticket_whole(lab.records, "8814", roles=roles, on=lab.at().date()).price


def test_a_ticket_is_priced_for_those_who_may_see_it(load):
    price = priced(load)
    assert price.source.version == "t1"
    assert price.answer.price.best.outlet.buyer.startswith("Quillmere")
    assert price.answer.price.lot.name == "8814"
    assert not price.tonnes_known
    for roles in ((), ("receiver",), ("analyst",), ("reader",)):
        assert priced(load, roles) is None


def test_the_load_on_record_gives_its_tonnes(load):
    with load.records.unit("Ann Example", load.at()) as unit:
        unit.add(Load(key="8814", received_at="2031-08-12", sample="8814", tonnes=31.5))
    price = priced(load)
    assert (price.answer.price.lot.tonnes, price.tonnes_known) == (31.5, True)


def test_with_retests_the_number_that_counts_is_priced(load):
    load.do(ask_retest, "8814", RetestTyped())
    load.do(quick_line, QuickLine("8814-2", "14.0", ("280", "284")))
    price = priced(load)
    assert (price.answer.price.lot.seconds, price.by_rule) == (296.0, True)


def test_what_was_told_stays_when_the_terms_change(load):
    assert load.do(tell_price, "8814", "Thornhollow Farm").taken
    dearer = demo.terms().decode().replace("price = 6.31", "price = 7.31")
    assert enter_terms(load, dearer).version == "t2"
    now = priced(load)
    (told,) = now.told
    assert (told.source.version, now.source.version) == ("t1", "t2")
    assert told.said["net_per_t"] < now.answer.price.best.net_per_t - 30.0
    assert told.said["party"] is not None
    assert load.do(tell_price, "8814", "Thornhollow Farm").taken
    assert [t.source.version for t in priced(load).told] == ["t2", "t1"]


def test_to_whom_it_is_told_is_asked_for(load):
    done = load.do(tell_price, "8814", " ")
    assert (done.taken, [f.code for f in done.findings]) == (False, ["asked-by-empty"])


def test_without_terms_nothing_is_told(lab):
    lab.do(quick_line, QuickLine("8814", "14.0", ("308", "312")))
    assert priced(lab) is None
    done = lab.do(tell_price, "8814", "Thornhollow Farm")
    assert [f.code for f in done.findings] == ["price-nothing-told"]


def sheet(terms: bytes | None = None) -> DayOrder:
    bench = b"ticket,sample,seconds,moisture_pct\n9001,9001,308,14\n9001,9001,312,14\n"
    samples = b"ticket,sample,kind,material,tonnes\n9001,9001,load,wheat,26\n"
    given = None if terms is None else DayFile("own.toml", terms)
    sheets = DayFile("bench.csv", bench), DayFile("samples.csv", samples)
    return DayOrder(sheets[0], samples=sheets[1], terms=given, profile=demo.PROFILE_ID)


def test_a_day_is_priced_by_the_terms_in_the_records_and_keeps_what_it_was_told(lab):
    enter_terms(lab)
    day = run_day(sheet(), records=lab.records, person="Ann Example", at=lab.at())
    assert day.prices.day.loads[0].price.best is not None
    (told,) = days_told(lab.records)
    assert (told.day, told.source.version) == (day.day_id, "t1")
    assert told.said["loads"][0]["net"] == pytest.approx(day.prices.day.net)
    # The same again is told once; under other terms it is told anew, and the first stays.
    run_day(sheet(), records=lab.records, person="Ann Example", at=lab.at())
    assert len(days_told(lab.records)) == 1
    enter_terms(lab, demo.terms().decode().replace("price = 6.31", "price = 7.31"))
    run_day(sheet(), records=lab.records, person="Ann Example", at=lab.at())
    assert [t.source.version for t in days_told(lab.records)] == ["t2", "t1"]


def test_a_file_with_the_day_goes_before_the_records(lab):
    enter_terms(lab)
    own = demo.terms().replace(b"price = 6.31", b"price = 9.31")
    run_day(sheet(own), records=lab.records, person="Ann Example", at=lab.at())
    with lab.records.view() as view:
        (row,) = view.all(ToldPrice)
        assert (row.terms_name, row.terms_version) == ("own.toml", None)
        assert told_lines(view, day=row.day)[0].said["loads"][0]["net_per_t"] > 300.0
