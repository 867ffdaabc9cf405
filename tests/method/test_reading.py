from __future__ import annotations

import pytest

from lodestarch.method.reading import CAUSES, Cause, Kind, Seconds, parse_seconds


@pytest.mark.parametrize(
    ("text", "value_s", "kind"),
    [
        ("287", 287.0, Kind.EXACT),
        (" 287 s ", 287.0, Kind.EXACT),
        ("287.5", 287.5, Kind.EXACT),
        ("287,5", 287.5, Kind.EXACT),
        ("0", 0.0, Kind.EXACT),
        ("6000", 6000.0, Kind.EXACT),
        ("<=62", 62.0, Kind.AT_OR_BELOW),
        ("≤ 62", 62.0, Kind.AT_OR_BELOW),
        ("=<62", 62.0, Kind.AT_OR_BELOW),
        ("<62", 62.0, Kind.AT_OR_BELOW),
        (">400", 400.0, Kind.ABOVE),
        (">= 400", 400.0, Kind.ABOVE),
        ("≥400", 400.0, Kind.ABOVE),
        ("\u00a0287\u00a0", 287.0, Kind.EXACT),
    ],
)
def test_seconds_as_typed(text, value_s, kind):
    assert parse_seconds(text) == Seconds(value_s, kind)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "2b7",
        "-287",
        "287 287",
        "1e3",
        "nan",
        "inf",
        "< 62 >",
        "287 min",
        "28..7",
        "1,234.5",
        "1.234,5",
        "=62",
        "62<",
        "12345678",
        "0x11f",
        "287\n288",
    ],
)
def test_what_is_no_number_of_seconds_is_none(text):
    assert parse_seconds(text) is None


def test_the_pick_list_of_causes_is_the_trades():
    assert CAUSES == (
        "lumps",
        "hang-up",
        "leak",
        "boil-stopped",
        "late-start",
        "chipped-tube",
        "wrong-stirrer",
        "other",
    )
    assert Cause("hang-up") is Cause.HANG_UP
