from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lodestarch.sheets.line_pattern import LINE_FIELDS, read_pattern, readable


@pytest.mark.parametrize(
    ("pattern", "line", "read"),
    [
        ("{ticket} {seconds}", "8814   287", {"ticket": "8814", "seconds": "287"}),
        ("{ticket};{_};{seconds}", "8814;x;<=62", {"ticket": "8814", "seconds": "<=62"}),
        ("FN {seconds} s", "  FN 287 s \r", {"seconds": "287"}),
        ("FN {seconds} s", "FN 287", None),
        ("FN {seconds} s", "xFN 287 s", None),
        ("ST,{mass_g} g", "ST,+  6.95 g", None),
        ("ST,+ {mass_g} g", "ST,+   6.95 g", {"mass_g": "6.95"}),
        ("[{ticket}] (a+)*{seconds}", "[8814] (a+)*287", {"ticket": "8814", "seconds": "287"}),
        ("{bath}-{position}: {seconds}", "A-2: 300", {"bath": "A", "position": "2", "seconds": "300"}),
    ],
)
def test_what_a_pattern_reads(pattern, line, read):
    made, found = read_pattern(pattern)
    assert found == ()
    assert made.read(line) == read


@pytest.mark.parametrize(
    ("pattern", "code"),
    [
        ("", "pattern-empty"),
        ("FN", "pattern-empty"),
        ("{_} {_}", "pattern-empty"),
        ("{}", "pattern-field"),
        ("{time_s}", "pattern-field"),
        ("{ticket} {ticket}", "pattern-twice"),
        ("{ticket}{seconds}", "pattern-close"),
        ("{ticket}{_} {seconds}", "pattern-close"),
        ("{seconds}" + "x" * 200, "pattern-long"),
        ("{seconds} " + "{_} " * 12, "pattern-long"),
    ],
)
def test_what_no_pattern_is(pattern, code):
    made, found = read_pattern(pattern)
    assert made is None
    assert [(f.code, f.where.field) for f in found] == [(code, "pattern")]


@given(st.lists(st.sampled_from([*LINE_FIELDS, "_"]), min_size=1, max_size=6, unique=True), st.data())
def test_a_line_made_by_a_pattern_is_read_again(names, data):
    made, found = read_pattern(", ".join(f"{{{name}}}" for name in names))
    if names == ["_"]:
        assert made is None
        return
    values = {n: data.draw(st.text("0123456789.<=>-Ab", min_size=1, max_size=8)) for n in names}
    assert found == ()
    assert made.read(", ".join(values[n] for n in names)) == {n: v for n, v in values.items() if n != "_"}


def test_a_line_made_to_take_long_does_not():
    made, _ = read_pattern(" ".join(["{_}"] * 11 + ["{seconds}"]) + " end")
    started = time.perf_counter()
    assert made.read("a " * 500) is None
    assert time.perf_counter() - started < 2.0


@given(st.binary(max_size=300))
def test_any_bytes_are_text_that_can_be_kept(received):
    text = readable(received)
    assert all(c == "\t" or c.isprintable() for c in text)
    assert len(text) <= 200
