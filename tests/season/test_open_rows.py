"""Rows that leave the house: nothing stands alone, names stay behind."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.common.errors import OutOfRange
from lodestarch.season.open_rows import OPEN, open_rows

KEYS = ["season", "week", "district", "variety"]


def rows(n, seed, growers=6):
    rng = np.random.default_rng(seed)
    return pl.DataFrame(
        {
            "season": rng.integers(2029, 2031, n), "week": rng.integers(31, 35, n),
            "district": [f"d{i}" for i in rng.integers(0, 4, n)],
            "variety": [f"v{i}" for i in rng.integers(0, 3, n)],
            "falling_number_s": rng.integers(62, 400, n).astype(float),
            "kind": ["exact"] * n,
            "grower": [f"g{i}" if i else None for i in rng.integers(0, growers, n)],
        },
        schema=OPEN,
    )  # fmt: skip


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 300), st.integers(0, 50), st.integers(1, 8), st.integers(1, 4))
def test_every_row_given_has_company_and_no_name(n, seed, smallest, growers):
    made = open_rows(rows(n, seed), smallest=smallest, growers=growers)
    assert made.given + made.withheld == n
    assert made.frame["grower"].null_count() == made.given
    sizes = made.frame.group_by(KEYS).len()["len"].to_list()
    assert all(size >= smallest for size in sizes)


def test_a_cell_of_one_grower_is_coarser_or_withheld():
    one = rows(6, 1).with_columns(
        pl.lit(2030).alias("season"), pl.lit(33).alias("week"), pl.lit("d").alias("district"),
        pl.lit("v").alias("variety"), pl.lit("g1").alias("grower"),
    ).cast(OPEN)  # fmt: skip
    made = open_rows(one)
    assert (made.given, made.withheld) == (0, 6)
    assert [f.code for f in made.findings] == ["season-open-withheld"]
    many = one.with_columns(pl.Series("grower", ["g1", "g2", "g3", "g1", "g2", "g3"]))
    assert open_rows(many).given == 6


def test_order_and_names_give_nothing_away():
    frame = rows(200, 4)
    made = open_rows(frame).frame
    assert made.equals(open_rows(frame.reverse()).frame)
    named = open_rows(frame, names=True)
    assert (named.given, [f.code for f in named.findings]) == (200, ["season-open-names"])
    assert named.frame["grower"].n_unique() > 1


def test_least_numbers_have_their_span():
    for wrong in (0, 1001):
        with pytest.raises(OutOfRange):
            open_rows(rows(5, 0), smallest=wrong)
        with pytest.raises(OutOfRange):
            open_rows(rows(5, 0), growers=wrong)
