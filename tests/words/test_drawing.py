"""Pictures: what stands where, and that nothing of the data becomes markup."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lodestarch.method.reading import Kind, State
from lodestarch.plan.bin_state import BinState
from lodestarch.words.drawing.axis import GUTTER, SecondsAxis, axis_for, limit_lines
from lodestarch.words.drawing.bins import bin_rows
from lodestarch.words.drawing.strip import MOST_DOTS, StripMark, day_strip, strip_title
from lodestarch.words.drawing.tubes import ResultMark, TubeMark, sample_tubes
from lodestarch.words.limits import NamedLimit

LIMITS = [NamedLimit("Quillmere", 300.0, None), NamedLimit("Brandt", 220.0, 340.0)]


def mark(seconds: float, kind: Kind = Kind.EXACT, u_s: float | None = 5.0, name: str = "8801") -> StripMark:
    return StripMark(name, seconds, kind, u_s if kind is Kind.EXACT else None, full=True, href="/s/1")


def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - made by ourselves


def px(value: str | None) -> float:
    return 16.0 * float((value or "").removesuffix("rem"))


def percent(value: str) -> float:
    return float(value.removesuffix("%"))


def test_the_axis_starts_at_the_floor_and_holds_limits_and_readings():
    axis = axis_for([287.0, 431.0], LIMITS, 62.0)
    assert (axis.low_s, axis.high_s) == (62.0, 450.0)
    assert axis.ticks() == (62.0, 100.0, 150.0, 200.0, 250.0, 300.0, 350.0, 400.0, 450.0)
    assert axis.share(62.0) == pytest.approx(0.02)
    assert axis.share(450.0) == pytest.approx(0.98)


def test_a_reading_out_by_ten_does_not_stretch_the_axis():
    assert axis_for([287.0, 2910.0], [], 62.0).high_s == 450.0
    assert axis_for([], [], 62.0).high_s == 450.0


@given(st.floats(0.0, 10000.0), st.floats(0.0, 10000.0))
def test_places_keep_the_order_of_seconds_and_stay_inside(a, b):
    axis = SecondsAxis(62.0, 450.0)
    low, high = sorted((axis.share(a), axis.share(b)))
    assert 0.0 <= low <= high <= 1.0
    assert (axis.share(a) <= axis.share(b)) == (a <= b) or axis.share(a) == axis.share(b)


def test_limits_stand_in_order_a_line_a_value_with_every_name():
    limits = [*LIMITS, NamedLimit("Hallam (invented)", 300.0, None), NamedLimit("Hallam", 300.0, None)]
    assert [(x.seconds, x.label) for x in limit_lines(limits)] == [
        (220.0, "Brandt 220"), (300.0, "Quillmere 300"), (300.0, "Hallam 300"), (340.0, "Brandt ≤ 340"),
    ]  # fmt: skip
    svg = day_strip([mark(300.0)], limits, 62.0).svg
    assert svg.count('class="limit"') == 3
    assert svg.count("limit-again") == 1


@settings(deadline=None, max_examples=60)
@given(st.lists(st.floats(62.0, 450.0), min_size=1, max_size=60), st.floats(0.5, 20.0))
def test_no_two_dots_of_a_strip_touch(seconds, u):
    tree = parsed(day_strip([mark(s, u_s=u) for s in seconds], [], 62.0).svg)
    by_row: dict[str, list[float]] = {}
    for dot in tree.iter("circle"):
        by_row.setdefault(dot.get("cy", ""), []).append(percent(dot.get("cx", "")))
    dots = [x for row in by_row.values() for x in row]
    assert len(dots) == len(seconds)
    for row in by_row.values():
        gaps = [b - a for a, b in zip(sorted(row), sorted(row)[1:], strict=False)]
        assert all(gap > 0.0 for gap in gaps)
    # Above the axis, below the top of the picture.
    assert all(0.0 < px(y) < px(tree.get("height")) for y in by_row)


def test_a_bar_is_as_wide_as_u_either_way():
    tree = parsed(day_strip([mark(300.0, u_s=8.0)], [], 62.0).svg)
    bar = next(r for r in tree.iter("rect"))
    axis = SecondsAxis(62.0, 450.0)
    assert percent(bar.get("x", "")) == pytest.approx(100 * axis.share(292.0), abs=0.01)
    assert percent(bar.get("width", "")) == pytest.approx(100 * axis.width(16.0), abs=0.01)


def test_stopped_tubes_have_an_arrow_and_the_floor_is_counted():
    svg = day_strip([mark(62.0, Kind.AT_OR_BELOW), mark(400.0, Kind.ABOVE), mark(300.0)], LIMITS, 62.0).svg
    assert svg.count('class="beyond"') == 1
    assert "at or below the floor: 1" in svg
    assert svg.count('class="limit"') == 3


def test_a_harvest_is_drawn_as_steps():
    marks = [mark(62.0 + 0.5 * i) for i in range(MOST_DOTS + 1)]
    tree = parsed(day_strip(marks, [], 62.0).svg)
    assert not list(tree.iter("circle"))
    tips = [t.text or "" for t in tree.iter("title")]
    assert sum(int(t.rpartition(": ")[2]) for t in tips) == len(marks)


def test_titles_count_what_is_known_to_reach_a_limit():
    marks = [mark(290.0), mark(300.0), mark(62.0, Kind.AT_OR_BELOW), mark(400.0, Kind.ABOVE)]
    assert strip_title(marks, LIMITS) == (
        "2 of 4 results read 300 s or more (Quillmere); 3 read 220 s or more (Brandt)."
    )
    assert strip_title(marks, []) == "4 results, from 62 to 400 s."
    assert strip_title([], LIMITS) == "No result to draw yet."
    assert not day_strip([], LIMITS, 62.0)


HOSTILE = "<script>alert('\"&')</script>"


def test_names_never_become_markup():
    pictures = [
        day_strip([mark(300.0, name=HOSTILE)], [NamedLimit(HOSTILE, 300.0, None)], 62.0),
        sample_tubes(
            HOSTILE,
            [TubeMark(HOSTILE, 300.0, Kind.EXACT, State.STANDS, HOSTILE)],
            ResultMark(300.0, Kind.EXACT, 5.0, HOSTILE),
            [NamedLimit(HOSTILE, 300.0, None)],
            floor_s=62.0,
        ),
        bin_rows([BinState(HOSTILE, 1.0, 0.0, 1, True, 300.0, 0, 300.0, 300.0)], {}, [], 62.0),
    ]
    for picture in pictures:
        assert "<script" not in picture.svg
        assert "<script>alert" in "".join(parsed(picture.svg).itertext())


def test_no_element_has_a_style_of_its_own():
    svg = day_strip([mark(300.0)], LIMITS, 62.0).svg
    assert not re.search(r"\bstyle=|<style|\bon\w+=", svg)


def tubes(*marks: TubeMark, **more: float) -> str:
    result = ResultMark(319.0, Kind.EXACT, None, "319")
    return sample_tubes("8815", marks, result, LIMITS, floor_s=62.0, **more).svg


def test_readings_keep_their_states_and_the_band_is_as_wide_as_the_limit():
    svg = tubes(
        TubeMark("tube 1", 287.0, Kind.EXACT, State.RUN_AGAIN, "287 s"),
        TubeMark("tube 2", 351.0, Kind.EXACT, State.STANDS, "351 s"),
        TubeMark("tube 3", 201.0, Kind.EXACT, State.SET_ASIDE, "201 s"),
        mean_s=319.0, spread_s=64.0, limit_s=31.9,
    )  # fmt: skip
    assert [svg.count(f'class="{c}"') for c in ("dot open", "dot", "cross", "band")] == [1, 1, 1, 1]
    band = next(r for r in parsed(svg).iter("rect") if r.get("class") == "band")
    assert percent(band.get("width", "")) == pytest.approx(
        100 * SecondsAxis(62, 450, GUTTER).width(31.9), abs=0.01
    )
    assert "The readings of 8815 lie 64\u00a0s apart; 31.9\u00a0s are allowed." in svg


def test_a_reading_beyond_the_axis_has_an_arrow_at_the_edge():
    svg = tubes(TubeMark("tube 1", 2910.0, Kind.EXACT, State.RUN_AGAIN, "2910 s"))
    assert svg.count('class="beyond"') == 1
    assert "2910 s" in svg


def test_bins_are_as_tall_as_their_tonnes():
    bins = [
        BinState("Bin 1", 100.0, 0.0, 4, True, 300.0, 0, 300.0, 300.0),
        BinState("Bin 2", 50.0, 20.0, 4, True, 210.0, 1, 62.0, 210.0),
        BinState("Bin 3", 0.0, 20.0, 1, True, None, None, None, None),
        BinState("Bin 4", 9.0, 0.0, 2, False, None, None, None, None),
    ]
    picture = bin_rows(bins, {"Bin 1": [290.0, 310.0]}, LIMITS, 62.0)
    bars = [px(r.get("height")) for r in parsed(picture.svg).iter("rect") if r.get("class") == "bar"]
    assert bars == [40.0, 20.0]
    words = "".join(parsed(picture.svg).itertext())
    assert "Bin 2 · ≤ 210\u00a0s · 50\u00a0t, 20\u00a0t untested" in words
    assert "Bin 3 · no result yet" in words
    assert "Bin 4 · not comparable" in words
    assert not bin_rows([], {}, LIMITS, 62.0)
