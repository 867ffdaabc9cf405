"""The invented morning after: its files, the fit of the earlier pairs, and what a failed check holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from importlib.resources import files

import pytest

from lodestarch.demo.make_morning import PAIR_CV, morning_files
from lodestarch.demo.morning import GONE_OUT, growth, morning_order, run_morning
from lodestarch.records.engine import open_records
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.kept_days import load_day

AT = datetime(2024, 8, 22, 9, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    with open_records(tmp_path_factory.mktemp("morning") / "lab.db", clock=lambda: AT) as records:
        yield records, run_morning(records, person="test", at=AT)


def test_the_files_are_what_the_script_writes():
    for name, data in morning_files().items():
        assert files("lodestarch.demo").joinpath("morning", name).read_bytes() == data


def test_the_fit_after_twenty_and_after_all_holds_the_stated_law_and_narrows():
    few, many = (step.fit for step in growth())
    assert few.prior_weight > many.prior_weight
    for fit in (few, many):
        at_300 = next(one for one in fit.levels if one.fn_s == 300.0)
        assert at_300.low_s < 300.0 * PAIR_CV < at_300.high_s
    widths = [f.levels[1].high_s - f.levels[1].low_s for f in (few, many)]
    assert widths[1] < 0.5 * widths[0]


def test_the_failed_check_holds_that_bath_since_its_last_good_check(kept):
    _, morning = kept
    hold = morning.whole.hold
    assert morning.early.hold is None
    assert hold.failed == ("CM-220-6",)
    bath_a = morning.whole.readings.filter(
        bath="A",
    ).filter(~morning.whole.readings.filter(bath="A")["sample"].str.starts_with("C"))
    assert [h.sample for h in hold.held] == bath_a["sample"].unique(maintain_order=True).to_list()
    status = dict(morning.whole.results.select("sample", "status").iter_rows())
    assert {status[h.sample] for h in hold.held} == {"held"}
    assert sum(s == "held" for s in status.values()) == len(hold.held)


def test_what_had_gone_out_is_named_with_who_has_it_and_where_to_rerun_from(kept):
    _, morning = kept
    (gone,) = [h for h in morning.whole.hold.held if h.released]
    assert gone.sample == GONE_OUT
    assert gone.told[0][1] == "phone"
    assert gone.told[0][0] != ""
    assert gone.retained.startswith("shelf 2")
    (said,) = [f for f in morning.whole.findings if f.code == "hold-results"]
    assert said.values == {"results": 7, "released": 1}


def test_the_kept_day_says_what_was_held_and_a_cause_lifts_it_for_good(kept):
    records, morning = kept
    assert [h.sample for h in load_day(records, morning.whole.day_id).hold.held] == [
        h.sample for h in morning.whole.hold.held
    ]
    cause = {"CM-220-6": "element of bath A tripped; reset, boil watched for ten minutes"}
    order = replace(morning_order(), check_causes=cause)
    freed = run_day(order, records=records, person="test", at=AT)
    assert freed.hold.held == ()
    assert freed.counts.run_again == 0
    assert {"hold-cleared"} <= {f.code for f in freed.findings}
    # The cause is kept: another sheet, read later, holds nothing of this morning.
    later = replace(morning_order(), sheet=replace(order.sheet, data=_one_more(order.sheet.data)))
    assert run_day(later, records=records, person="test", at=AT).hold.held == ()


def _one_more(sheet: bytes) -> bytes:
    """The same checks and loads under other names would be another morning; here one load more."""
    lines = sheet.decode().splitlines()
    extra = lines[-1].replace("8915", "8999")
    return "\r\n".join([lines[0], extra]).encode() + b"\r\n"
