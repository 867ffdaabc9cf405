from __future__ import annotations

import pytest

from lodestarch.sheets.bench_sheet import read_bench_sheet
from lodestarch.sheets.mapping import read_mapping


def test_their_names_become_ours():
    mapping = read_mapping(b'[columns]\n"Lab no." = "Sample"\nHagberg = "seconds"\n', "map.toml")
    assert mapping.findings == ()
    sheet = read_bench_sheet(b"LAB  NO.,hagberg\nS1,287\n", "day.csv", mapping=mapping.columns)
    assert sheet.findings == ()
    assert sheet.frame["sample"].to_list() == ["S1"]


def test_theirs_go_before_ours():
    mapping = read_mapping(b'[columns]\nposition = "stirrer_id"\ntube = "position"\n', "map.toml").columns
    sheet = read_bench_sheet(b"sample,seconds,position,tube\nS1,287,R4,2\n", "day.csv", mapping=mapping)
    assert sheet.frame.select("position", "stirrer_id").row(0) == ("2", "R4")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (b"[columns\n", ("sheet-mapping-unreadable", {"line": 1})),
        (b'[columns]\na = "sample"\nb = \n', ("sheet-mapping-unreadable", {"line": 3})),
        (b'[columns]\na = "sample"\n\xff = "x"\n', ("sheet-mapping-unreadable", {"line": 3})),
        (b"a = 1\n", ("sheet-mapping-no-columns", {})),
        (b"columns = 1\n", ("sheet-mapping-no-columns", {})),
        (b'[columns]\na = "minutes"\n', ("sheet-mapping-unknown", {"theirs": "a", "ours": "minutes"})),
        (b"[columns]\na = 3\n", ("sheet-mapping-unknown", {"theirs": "a", "ours": "3"})),
        (
            b'[columns]\nA-b = "sample"\n"a b" = "ticket"\n',
            ("sheet-mapping-twice", {"theirs": "a b", "first": "sample", "second": "ticket"}),
        ),
    ],
)
def test_what_is_wrong_with_a_mapping_is_a_finding(text, expected):
    mapping = read_mapping(text, "map.toml")
    assert [(f.code, f.values) for f in mapping.findings] == [expected]
    assert all(f.where.source == "map.toml" for f in mapping.findings)
    assert set(mapping.columns.values()) <= {"sample"}


def test_deep_nesting_is_refused():
    assert [f.code for f in read_mapping(b"a = " + b"[" * 100_000, "map.toml").findings] == [
        "sheet-mapping-unreadable"
    ]
