"""Results at the bench carry the u of the lab's own law, fitted as for a sheet, and only for new pairs."""

from __future__ import annotations

import numpy as np
import pytest

from lodestarch.method.scatter import DEFAULT_SCATTER
from lodestarch.work.bench import own_law
from lodestarch.work.bench.choices import PROFILE, choose, profile_of_bench
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.bench.kept_days import kept_days, load_day
from lodestarch.work.bench.own_law import law_of_bench
from lodestarch.work.bench.reading_in import QuickLine, quick_line
from lodestarch.work.keeping.profiles import book_of
from lodestarch.work.office.tickets_one import ticket_whole

CV = 0.01


def sheet(name: str, n: int) -> DayFile:
    rng = np.random.default_rng(n)
    rows = ["sample,seconds,moisture_pct,mass_g,run_at"]
    for i, level in enumerate(rng.uniform(120.0, 420.0, n)):
        rows += [
            f"{name}{i},{x:.0f},15.0,7.0,2031-08-13 08:00" for x in level * (1 + CV * rng.standard_normal(2))
        ]
    return DayFile(f"{name}.csv", "\n".join(rows).encode())


def read_sheet(lab, name, n, profile="meal-15"):
    return run_day(
        DayOrder(sheet(name, n), profile=profile), records=lab.records, person="Ann Example", at=lab.at()
    )


def law(lab):
    with lab.records.view() as view:
        book = book_of(view)
        return law_of_bench(view, profile_of_bench(view, book), book)


def u_of(lab, code, *seconds):
    assert lab.do(quick_line, QuickLine(code, "15.0", seconds)).taken
    return ticket_whole(lab.records, code).ticket.result["u_s"]


def test_the_bench_judges_by_the_default_until_there_are_pairs_and_then_by_the_law_of_the_sheet(lab):
    at_300 = float(DEFAULT_SCATTER.sd_s(300.0)) / np.sqrt(2.0)
    assert u_of(lab, "1", "298", "302") == pytest.approx(at_300, rel=0.01)
    read_sheet(lab, "a", 150)
    # What a further sheet would be judged by.
    sheet_law = read_sheet(lab, "b", 2).own.law
    read_sheet(lab, "c", 1)
    live = law(lab)
    assert live.own.kept >= 150
    assert live.own.law.sd_s(300.0) == pytest.approx(sheet_law.sd_s(300.0), rel=0.05)
    assert u_of(lab, "2", "298", "302") == pytest.approx(at_300 * CV / 0.02, rel=0.25)
    at_bench = next(d for d in kept_days(lab.records) if not d.title.endswith(".csv"))
    day = load_day(lab.records, at_bench.day_id)
    assert day.own is not None
    assert 0.0 < day.own.prior_weight < 0.05
    assert day.budget is not None


def test_pairs_of_the_day_in_work_count_from_the_next_day_on_and_nothing_is_fitted_twice(lab, monkeypatch):
    read_sheet(lab, "a", 30)
    first = u_of(lab, "1", "298", "302")
    fitted = []
    fit = own_law._fit
    monkeypatch.setattr(own_law, "_fit", lambda *given: fitted.append(1) or fit(*given))
    assert u_of(lab, "2", "290", "310") == first
    assert u_of(lab, "3", "298", "302") == first
    assert not fitted
    read_sheet(lab, "b", 30)
    u_of(lab, "4", "298", "302")
    assert len(fitted) == 1


def test_a_bench_of_another_profile_does_not_borrow_the_pairs_and_says_so(lab):
    read_sheet(lab, "a", 60, profile="meal-14")
    read_sheet(lab, "b", 60)
    assert (law(lab).own.kept, law(lab).own.others[0][1]) == (60, 60)
    with lab.records.unit("Ann Example", lab.at()) as unit:
        choose(unit, PROFILE, "rye-9g")
    assert law(lab).own.law == DEFAULT_SCATTER
    assert [f.code for f in law(lab).own.findings] == ["pairs-of-other-methods"]
