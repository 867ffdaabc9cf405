"""Districts by week: nothing filled in, bounds on the right side, one season where weeks are many."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from lodestarch.season.board import MOST_WEEKS, board_of, under_limit
from lodestarch.season.table import NO_DATE, factor_of, table_of


def days(*texts):
    return [(date.fromisoformat(t) - date(1970, 1, 1)).days if t else NO_DATE for t in texts]


def test_cells_hold_what_was_tested_and_no_more():
    day = days("2030-08-05", "2030-08-06", "2030-08-12", "2030-08-12", "")
    place = factor_of("district", ["10", "10", "9", "10", "9"])
    board = board_of(
        table_of([300.0, 240.0, 200.0, 310.0, 100.0], [place], day=day), "district", limit_s=250.0
    )
    assert board.places == ("9", "10")
    assert board.weeks == tuple(days("2030-08-05", "2030-08-12"))
    assert board.cells[0][0] is None
    assert [(c.results, c.under) for c in (board.cells[0][1], *board.cells[1])] == [(1, 1), (2, 1), (1, 0)]
    assert [t.results for t in board.totals] == [1, 3]
    assert [(f.code, f.values["count"]) for f in board.findings] == [("season-board-left-out", 1)]


def test_bounds_that_do_not_say_are_not_counted_under():
    kinds = [1, 1, 2, 2, 0]
    table = table_of([62.0, 300.0, 200.0, 400.0, 249.0], [], kind=kinds)
    under, unknown = under_limit(table, 250.0)
    assert under.tolist() == [True, False, False, False, True]
    assert unknown.tolist() == [False, True, True, False, False]


def test_many_weeks_show_the_latest_season_and_any_on_request():
    day = np.concatenate([np.arange(20) * 7 + d for d in days("2029-03-05", "2030-03-04")])
    table = table_of(np.full(40, 300.0), [], day=day)
    assert np.unique(day).size > MOST_WEEKS
    latest = board_of(table, "district", limit_s=250.0)
    assert (latest.season, len(latest.weeks), latest.factor) == (2030, 20, "")
    assert board_of(table, "district", limit_s=250.0, season=2029).season == 2029
    wrong = board_of(table, "district", limit_s=250.0, season=1999)
    assert wrong.season == 2030
    assert {f.code for f in wrong.findings} == {"season-board-season", "season-board-one-season"}


@pytest.mark.parametrize("table", [table_of([], []), table_of([300.0], [])])
def test_without_dates_there_is_no_board(table):
    board = board_of(table, "district", limit_s=250.0)
    assert board.weeks == ()
    assert [f.code for f in board.findings] == ["season-board-dates"]


def test_every_result_with_a_date_stands_in_one_cell():
    rng = np.random.default_rng(8)
    day = rng.integers(20000, 20100, 500)
    place = factor_of("district", [f"d{i}" for i in rng.integers(0, 7, 500)])
    s = rng.normal(270.0, 40.0, 500)
    board = board_of(table_of(s, [place], day=day), "district", limit_s=250.0)
    cells = [c for row in board.cells for c in row if c]
    assert sum(c.results for c in cells) == 500 == sum(t.results for t in board.totals)
    assert sum(c.under for c in cells) == int((s < 250.0).sum())
