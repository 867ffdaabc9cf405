from __future__ import annotations

from lodestarch.sheets.grade_sheet import read_grade_sheet


def test_factors_by_sample_with_a_decimal_comma_and_empty_cells():
    got = read_grade_sheet(b"sample;moisture_pct;protein_pct\n8814;13,2;\n8815;;11,4\n", "g.csv")
    assert got.by_sample == {"8814": {"moisture_pct": 13.2}, "8815": {"protein_pct": 11.4}}
    assert got.findings == ()


def test_a_cell_that_cannot_be_is_left_out_and_told():
    got = read_grade_sheet(b"sample,moisture_pct,don_mg_kg\n8814,132,0.4\n8815,wet,\n", "g.csv")
    assert got.by_sample == {"8814": {"don_mg_kg": 0.4}, "8815": {}}
    told = [(f.code, f.where.row, f.where.field) for f in got.findings]
    assert told == [("grade-not-taken", 2, "moisture_pct"), ("grade-not-taken", 3, "moisture_pct")]


def test_a_sheet_without_samples_is_refused_with_a_reason():
    got = read_grade_sheet(b"ticket,moisture_pct\n8814,13.2\n", "g.csv")
    assert got.by_sample == {}
    assert got.findings[0].severity.value == "stop"
