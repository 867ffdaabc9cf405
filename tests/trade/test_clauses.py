from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.trade.clauses import Sublot, clauses_side_by_side, read_clause
from lodestarch.trade.offer import Clause, Judged

CARGO = [Sublot(v, 1.0) for v in (340.0, 330.0, 320.0, 280.0, 250.0)]


def by_name(readings):
    return {r.judged.value: r for r in readings}


def test_one_cargo_under_each_clause_side_by_side():
    """Three wordings of a North Dakota contract page with the limit 300; values derived."""
    got = by_name(clauses_side_by_side(CARGO, 300.0, sublot_at_least=260.0))
    assert list(got) == [j.value for j in Judged]
    assert got["composite"].value == pytest.approx(299.113, abs=5e-4)
    assert got["weighted-average"].value == pytest.approx(304.0)
    assert got["every-sublot"].value == 250.0
    assert [got[k].within for k in ("composite", "weighted-average", "every-sublot")] == [False, True, False]
    minimum = got["average-with-sublot-minimum"]
    assert (minimum.within, minimum.sublot_under, minimum.sublots_outside) == (False, True, (4,))
    assert got["per-load"].sublots_outside == (3, 4)


def test_sublots_weigh_by_their_tonnes():
    two = [Sublot(400.0, 30.0), Sublot(220.0, 10.0)]
    got = by_name(clauses_side_by_side(two, 300.0))
    assert got["weighted-average"].value == pytest.approx(355.0)
    # 6000/350 and 6000/170, three to one
    assert got["composite"].value == pytest.approx(6000 / (0.75 * 6000 / 350 + 0.25 * 6000 / 170) + 50)


def test_400_and_220_half_and_half_is_279_not_310():
    """Worked example in an agronomy text quoting the federal inspection service (secondary copy)."""
    got = by_name(clauses_side_by_side([Sublot(400.0, 1.0), Sublot(220.0, 1.0)], 300.0))
    assert round(got["composite"].value) == 279
    assert got["composite"].value == pytest.approx(278.846, abs=5e-4)


def test_windows_fail_on_their_own_side():
    low, high = Sublot(210.0, 1.0), Sublot(320.0, 1.0)
    window = Clause("fn_s", Judged.EVERY_SUBLOT, 220.0, 290.0)
    assert (read_clause(window, [low]).under, read_clause(window, [low]).over) == (True, False)
    assert (read_clause(window, [high]).under, read_clause(window, [high]).over) == (False, True)
    assert read_clause(window, [Sublot(220.0, 1.0), Sublot(290.0, 1.0)]).within


def test_a_rounded_report_counts_from_where_the_contract_says():
    clause = Clause("fn_s", Judged.PER_LOAD, 300.0, None, counts_from=299.5)
    assert read_clause(clause, [Sublot(299.5, 1.0)]).within
    assert not read_clause(clause, [Sublot(299.4, 1.0)]).within


def test_other_factors_are_linear_by_mass():
    clause = Clause("protein_pct", Judged.COMPOSITE, 12.0, None)
    assert read_clause(clause, [Sublot(11.0, 1.0), Sublot(13.0, 3.0)]).value == pytest.approx(12.5)


def test_what_cannot_be_judged_says_why():
    with pytest.raises(NoAnswer, match="cargo-empty"):
        read_clause(Clause("fn_s", Judged.COMPOSITE, 300.0, None), [])
    with pytest.raises(NoAnswer, match="clause-minimum-missing"):
        read_clause(Clause("fn_s", Judged.AVERAGE_WITH_SUBLOT_MINIMUM, 300.0, None), CARGO)
    with pytest.raises(OutOfRange):
        read_clause(Clause("fn_s", Judged.COMPOSITE, 300.0, None), [Sublot(300.0, 0.0)])


@given(st.lists(st.tuples(st.floats(62.0, 500.0), st.floats(1.0, 900.0)), min_size=1, max_size=8))
def test_the_composite_lies_between_the_least_sublot_and_the_average(cargo):
    sublots = [Sublot(v, t) for v, t in cargo]
    got = by_name(clauses_side_by_side(sublots, 300.0))
    assert min(v for v, _ in cargo) - 1e-6 <= got["composite"].value <= got["weighted-average"].value + 1e-6
