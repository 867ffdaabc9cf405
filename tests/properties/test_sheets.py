"""Properties of reading sheets: whatever the bytes, nothing raises and no row is lost."""

from __future__ import annotations

import csv
import io
import itertools
from datetime import datetime

from hypothesis import example, given, settings
from hypothesis import strategies as st

from lodestarch.common.nomenclature import legal_range
from lodestarch.sheets.bench_sheet import read_bench_sheet
from lodestarch.sheets.mapping import read_mapping
from lodestarch.sheets.safe_cells import csv_bytes, safe_text
from lodestarch.sheets.sample_sheet import read_sample_sheet

HEAD = b"sample,seconds,moisture_pct,run_at,position,set_aside_cause\n"

cells = st.text(st.characters(codec="utf-8"), max_size=12) | st.sampled_from(
    [
        "287",
        "<=62",
        "",
        " ",
        "13,5",
        "2031-08-14",
        "hang-up",
        "1",
        "=1",
        '"',
        "\n",
        "\x00",
        "1e5",
        "03/04/2031",
    ]
)
words = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Z"]), min_size=1, max_size=20)


def accounted(sheet) -> None:
    assert sheet.rows == sheet.frame.height + len(sheet.refused)
    named = {f.where.row for f in sheet.findings}
    assert {r.row for r in sheet.refused} <= named
    assert sheet.rows or sheet.findings


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
@example(b"\xff\xfe")
@example(b"\xef\xbb\xbf")
@example(b"PK\x03\x04")
def test_any_bytes(data):
    accounted(read_bench_sheet(data, "x"))
    accounted(read_sample_sheet(data, "x"))
    assert read_mapping(data, "x").columns is not None


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_beneath_a_header(data):
    accounted(read_bench_sheet(HEAD + data, "x"))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.lists(cells, min_size=6, max_size=6), max_size=12))
@example([["", "", "", "\x1f\x08", "\x1f\x08\x08", "\x1f\x08\x08"]])
def test_rows_written_by_another_csv_writer_are_all_met(rows):
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    sheet = read_bench_sheet(HEAD + out.getvalue().encode("utf-8"), "x")
    accounted(sheet)
    if {"sheet-not-text", "sheet-utf16-no-mark"} & {f.code for f in sheet.findings}:
        # So many control characters that the whole file is refused, in one finding, before there are rows.
        assert sheet.rows == 0
        assert any(
            c in "".join(itertools.chain(*rows)) for c in map(chr, [*range(9), 11, 12, *range(14, 32)])
        )
        return
    # A control character is something, though Python counts a few of them as white space.
    controls = dict.fromkeys([*range(9), 11, 12, *range(14, 32)], "x")
    assert sheet.rows == sum(any(c.translate(controls).strip() for c in row) for row in rows)


@settings(max_examples=100, deadline=None)
@given(words, st.decimals(0, 9999, places=1), st.datetimes(datetime(1900, 1, 1), datetime(2199, 12, 31)))  # noqa: DTZ001 - clock time
def test_what_is_written_comes_back(sample, seconds, run_at):
    data = csv_bytes(["sample", "seconds", "run_at"], [[sample, float(seconds), run_at]])
    sheet = read_bench_sheet(data, "x")
    row = sheet.frame.to_dicts()[0]
    assert row["seconds"] == float(seconds)
    assert row["run_at"] == run_at
    assert sheet.findings == ()


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=20))
def test_safe_text_never_starts_like_a_formula(text):
    safe = safe_text(text)
    assert not safe.startswith(("=", "+", "-", "@", "\t", "\r", "\n", "\x00"))
    assert safe in {text, f"'{text}"}


@settings(max_examples=100, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from([".", ","]))
def test_a_moisture_is_read_exactly_or_named(value, mark):
    text = f"{value:.3f}".replace(".", mark)
    sheet = read_bench_sheet(f"sample;seconds;moisture_pct\nS;287;{text}\nT;287;13{mark}5\n".encode(), "x")
    low, high = legal_range("moisture_pct")
    read = sheet.frame["moisture_pct"].to_list()[0]
    stated = float(f"{value:.3f}")
    assert (read is None) == (not low <= stated <= high)
    assert read is None or read == stated
    assert bool(sheet.findings) == (read is None)


@settings(max_examples=50, deadline=None)
@given(
    st.permutations(list(range(6))), st.lists(st.tuples(words, st.integers(60, 500)), min_size=1, max_size=5)
)
def test_the_order_of_columns_makes_no_difference(order, rows):
    names = ["sample", "seconds", "moisture_pct", "mass_g", "analyst", "bath"]
    cells_ = [[s, n, 13.5, 6.8, "JK", "A"] for s, n in rows]
    one = read_bench_sheet(csv_bytes(names, cells_), "x")
    two = read_bench_sheet(csv_bytes([names[i] for i in order], [[r[i] for i in order] for r in cells_]), "x")
    assert one.frame.drop("row_text").equals(two.frame.drop("row_text"))
