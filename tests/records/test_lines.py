from __future__ import annotations

from datetime import date, datetime

import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from lodestarch.common.canonical import canonical_text, sha256_hex
from lodestarch.records.lines import by_column, by_row, canonical_lines, lines_digest

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
ROWS = st.lists(
    st.fixed_dictionaries(
        {
            "text": st.none() | TEXT,
            "number": st.none() | st.floats(allow_nan=False, allow_infinity=False),
            "count": st.none() | st.integers(-(2**53) + 1, 2**53 - 1),
            "truth": st.none() | st.booleans(),
        }
    ),
    min_size=1,
    max_size=8,
)
MOMENT = datetime(2026, 7, 14, 8, 31)  # noqa: DTZ001 - as a sheet has it: local, without a zone
TYPES = {"text": pl.String, "number": pl.Float64, "count": pl.Int64, "truth": pl.Boolean}


@settings(max_examples=100, deadline=None)
@example(
    [{"text": None, "number": n, "count": None, "truth": None} for n in (-0.0, 0.0, 1e-7, 1e16, -5e-324)]
)
@given(ROWS)
def test_each_line_is_what_the_standard_writes_for_the_row(rows):
    frame, said = pl.DataFrame(rows, schema=TYPES), [canonical_text(r) for r in rows]
    assert by_column(frame).to_list() == said
    assert by_row(frame).to_list() == said


@pytest.mark.parametrize("write", [by_column, by_row])
def test_moments_are_iso_text(write):
    frame = pl.DataFrame({"at": [MOMENT, MOMENT.replace(microsecond=5), None], "on": [date(2026, 7, 14)] * 3})
    assert write(frame).to_list() == [
        '{"at":"2026-07-14T08:31:00","on":"2026-07-14"}',
        '{"at":"2026-07-14T08:31:00.000005","on":"2026-07-14"}',
        '{"at":null,"on":"2026-07-14"}',
    ]


def test_few_rows_and_many_are_written_alike():
    frame = pl.DataFrame({"n": range(500), "t": [f"a{i}\x1f" for i in range(500)]})
    assert canonical_lines(frame).to_list() == by_row(frame).to_list()


@pytest.mark.parametrize("write", [by_column, by_row])
def test_a_number_that_is_none_is_refused(write):
    with pytest.raises(ValueError, match=r"seconds|nan"):
        write(pl.DataFrame({"seconds": [float("nan")]}))


def test_the_digest_is_over_lines_each_ended():
    assert lines_digest(pl.Series(["a", "ä"])) == sha256_hex("a\nä\n".encode())
